"""The kinds of figures that readers meet, and how each is printed: in what unit, and to what decimals in one report."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from math import floor, log10
from types import MappingProxyType
from typing import NamedTuple


class Rounding(Enum):
    """What fixes the decimals of a kind of figure."""

    REPORT = "the same for every figure of the kind in one report, from the largest of them"
    DECIMALS = "always the same"
    DIGITS = "significant digits of the figure itself; an end of an interval has the decimals of its central value"
    STATED = "as somebody stated it, to some significant digits at most"
    DRAWN = "as draws allow, which prove neither never nor always"
    HUNDRED = "a share of draws as how many of 100"


class Unit(NamedTuple):
    """A unit on a page, and by what a value in the unit of the calculation is multiplied to be in it."""

    mark: str
    scale: float = 1.0


@dataclass(frozen=True, slots=True)
class Quantity:
    """A kind of figure.

    Attributes
    ----------
    name : str
        How sentences and pages ask for it.
    rounding : Rounding
        What fixes its decimals.
    digits : int
        Decimals, or significant digits: of the figure, or of the largest of its kind in a report.
    units : tuple of Unit
        Printed behind it with an unbreakable blank; none for a bare number. With several, the first in which the figure
        is at least 1 is taken, else the last.
    us : tuple of Unit
        The same for readers of US customary units; none where they have the same.
    bound : bool
        Whether its unit stands behind every such figure, because the page around it cannot say it.
    fewest : int
        Fewest decimals; below 0 tens, hundreds, thousands may be rounded away.
    beside : str
        The kind whose unit it takes in a report, because both stand in one column.
    ends : bool
        Whether the ends of intervals fix its decimals too, because its central value may lie near nothing.
    finer : int
        Most decimals beyond its own that a figure takes where it would be nothing, or its interval without width.
    partial : bool
        Whether its interval is of those draws alone that have such a figure: it is left out where it does not hold the figure.
    """

    name: str
    rounding: Rounding
    digits: int
    units: tuple[Unit, ...] = ()
    us: tuple[Unit, ...] = ()
    bound: bool = False
    fewest: int = 0
    beside: str = ""
    ends: bool = False
    finer: int = 2
    partial: bool = False

    def choices(self, us: bool) -> tuple[Unit, ...]:
        """Return the units that readers of US customary units, or all others, know."""
        return (self.us if us else ()) or self.units or (Unit(""),)

    def unit(self, value: float, us: bool) -> Unit:
        """Return the unit that suits a value, by the three digits in which it is read."""
        choices = self.choices(us)
        return next((unit for unit in choices if float(f"{abs(value) * unit.scale:.3g}") >= 1.0), choices[-1])


POUNDS_PER_KG = 1.0 / 0.45359237
"""International pound (NIST Special Publication 811, appendix B.8)."""
POUNDS_PER_SHORT_TON = 2000.0
"""The same publication; what US grant forms call a ton."""
OUNCES_PER_KG = 16.0 * POUNDS_PER_KG
"""Avoirdupois ounce, the same publication."""
MILES_PER_KM = 1.0 / 1.609344
"""International mile, the same publication."""
GALLONS_PER_L = 1.0 / 3.785411784
"""US liquid gallon, the same publication."""

MOST_DECIMALS = 3
"""Most decimals of a figure that is rounded alike in a whole report. A choice of ours."""

_REPORT, _DECIMALS, _DIGITS, _STATED = Rounding.REPORT, Rounding.DECIMALS, Rounding.DIGITS, Rounding.STATED
_METRIC, _US = (Unit("kg"), Unit("g", 1000.0)), (Unit("lb", POUNDS_PER_KG), Unit("oz", OUNCES_PER_KG))
_EMITTED = (Unit("kg CO₂e"), Unit("g CO₂e", 1000.0))
_KILOGRAMS, _GRAMS = _EMITTED[:1], _EMITTED[1:]
_PER_CENT = (Unit("%", 100.0),)
_ENERGY, _HOURS, _VOLUME, _GALLONS = (Unit("kWh"),), (Unit("h"),), (Unit("L"),), (Unit("gal", GALLONS_PER_L),)

QUANTITIES: Mapping[str, Quantity] = MappingProxyType(
    {
        one.name: one
        for one in (
            Quantity("paper", _REPORT, 3, _METRIC, _US, fewest=-9),
            Quantity("batch paper", _REPORT, 3, _METRIC, _US, fewest=-9, beside="paper"),
            Quantity("term paper", _REPORT, 2, _METRIC, _US),
            Quantity("session paper", _DIGITS, 2, _METRIC, _US, bound=True),
            Quantity("session carbon", _DIGITS, 2, _METRIC, bound=True),
            Quantity("stated mass", _STATED, 4, _METRIC, _US, bound=True),
            Quantity("small mass", _DIGITS, 3, _METRIC, _US, bound=True),
            Quantity("carbon", _DIGITS, 3, _METRIC, bound=True),
            Quantity("account", _REPORT, 3, _EMITTED, fewest=-9),
            Quantity("term account", _REPORT, 2, _EMITTED, ends=True),
            Quantity("per part", _REPORT, 3, _GRAMS),
            Quantity("with binder", _REPORT, 3, _GRAMS),
            Quantity("per kilogram", _DECIMALS, 2, _KILOGRAMS, (Unit("kg CO₂e", 1.0 / POUNDS_PER_KG),)),
            Quantity("grid", _DIGITS, 3, _KILOGRAMS),
            Quantity("share", _DECIMALS, 0, _PER_CENT, bound=True, finer=1),
            Quantity("fine share", _DECIMALS, 1, _PER_CENT, bound=True, finer=1),
            Quantity("finest share", _DECIMALS, 2, _PER_CENT, bound=True),
            Quantity("stated share", _STATED, 6, _PER_CENT, bound=True),
            Quantity("chance", Rounding.DRAWN, 0, _PER_CENT, bound=True),
            Quantity("of hundred", Rounding.HUNDRED, 0),
            Quantity("count", _DECIMALS, 0, finer=0),
            Quantity("energy", _REPORT, 3, _ENERGY, fewest=-9),
            Quantity("little energy", _DIGITS, 2, _ENERGY),
            Quantity("power", _DECIMALS, 0, (Unit("W"),), bound=True),
            Quantity("distance", _REPORT, 3, (Unit("km"),), (Unit("mi", MILES_PER_KM),), fewest=-9),
            Quantity("volume", _REPORT, 3, _VOLUME, _GALLONS, fewest=-9),
            Quantity("little volume", _DIGITS, 2, _VOLUME, _GALLONS),
            Quantity("time", _REPORT, 3, _HOURS, fewest=-9),
            Quantity("hours", _STATED, 4, _HOURS),
            Quantity("little time", _DIGITS, 2, (*_HOURS, Unit("min", 60.0))),
            Quantity("money", _DECIMALS, 2),
            Quantity("price", _DIGITS, 3, (Unit(""),), (Unit("", 1.0 / POUNDS_PER_KG),)),
            Quantity("mass as asked", _DIGITS, 3),
            Quantity("little money", _DIGITS, 2),
            Quantity("number", _DIGITS, 3),
            Quantity("crossing", _DIGITS, 2, partial=True),
            *(
                Quantity(f"{name} of {what}", rounding, digits, (Unit(""),), (Unit("", scale),), partial=partial)
                for what, scale in (("distance", MILES_PER_KM), ("mass", POUNDS_PER_KG))
                for name, rounding, digits, partial in (
                    ("number", _DIGITS, 3, False),
                    ("crossing", _DIGITS, 2, True),
                    ("range", _STATED, 3, False),
                )
            ),
            Quantity("rough number", _DIGITS, 2),
            Quantity("factor", _STATED, 4),
            Quantity("length", _STATED, 6, (Unit("mm"),), bound=True),
            Quantity("stated", _STATED, 6),
        )
    }
)
"""Every kind, by name.

`paper` is any mass in kilograms that adds up with others of a period; a batch, and a term at a school, have their own
decimals, so that a large workshop leaves something of them. `account` and `per part` are emissions of a period and of one
good part, `carbon` is what a part holds of it, in grams for every reader as emissions are;
`per kilogram` and `price` are per pound where readers weigh in pounds, `mass as asked` is in the unit that somebody asked for. `little` is what stands alone. `number` is all else that is worked out, `factor` a row of a factor table,
`stated` what somebody wrote.
"""


ADDEND = 50
"""Steps of the last decimal in the largest row of a table that adds up, so that a reader can add it. A choice of ours."""


def decimals_for(value: float, digits: int) -> int:
    """Return the decimals that show a number to some significant digits; below 0 where it has more before its mark."""
    return 0 if value == 0.0 else digits - 1 - floor(log10(abs(float(f"{value:.{digits - 1}e}"))))


@dataclass(frozen=True, slots=True)
class Fixed:
    """How figures of one kind are printed in the whole of one report."""

    decimals: int
    unit: Unit


def fixed(values: Iterable[tuple[str, float]], us: bool, addends: Iterable[tuple[str, float]] = ()) -> dict[str, Fixed]:
    """Return unit and decimals of every kind that is rounded alike in one report.

    Parameters
    ----------
    values : iterable of str and float
        What the report may print, each with the name of its kind, in the unit of the calculation: central values, and ends of
        intervals of those kinds that heed them.
    us : bool
        Whether the reader has US customary units.
    addends : iterable of str and float
        Rows of tables of many rows that add up: the largest of a kind keeps `ADDEND` steps of the last decimal.
    """
    largest, rows = _largest(values), _largest(addends)
    found = {}
    for name, value in largest.items():
        kind = QUANTITIES[name]
        unit = kind.unit(largest.get(kind.beside, value), us)
        wanted = decimals_for(value * unit.scale, kind.digits)
        if rows.get(name):
            wanted = max(wanted, -floor(log10(rows[name] * unit.scale / ADDEND)))
        found[name] = Fixed(min(max(wanted, kind.fewest), MOST_DECIMALS), unit)
    return found


def _largest(values: Iterable[tuple[str, float]]) -> dict[str, float]:
    """Return the largest size of each kind that is rounded alike in one report."""
    largest: dict[str, float] = {}
    for name, value in values:
        if QUANTITIES[name].rounding is Rounding.REPORT:
            largest[name] = max(largest.get(name, 0.0), abs(value))
    return largest
