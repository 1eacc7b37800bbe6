"""The kinds of figures that readers meet, and how each is printed: in what unit, and to what decimals in one report."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType


class Rounding(Enum):
    """What fixes the decimals of a kind of figure."""

    REPORT = "the same for every figure of the kind in one report, from the largest of them"
    DECIMALS = "always the same"
    DIGITS = "significant digits of the figure itself"
    STATED = "as somebody stated it"


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
    scale : float
        By what a value in the unit of the calculation is multiplied before it is printed.
    unit : str
        Printed behind it with an unbreakable blank; nothing for a bare number.
    us_scale, us_unit
        The same for readers of US customary units; None where they have the same.
    """

    name: str
    rounding: Rounding
    digits: int
    unit: str = ""
    scale: float = 1.0
    us_unit: str | None = None
    us_scale: float | None = None


POUNDS_PER_KG = 2.2046226218487757
"""The international pound is 0.45359237 kg (NIST Special Publication 811, appendix B.8)."""
OUNCES_PER_KG = 35.27396194958041
MILES_PER_KM = 1.0 / 1.609344
"""NIST Special Publication 811, appendix B.8."""
GALLONS_PER_L = 1.0 / 3.785411784
"""US liquid gallon, the same publication."""

_REPORT, _DECIMALS, _DIGITS, _STATED = Rounding.REPORT, Rounding.DECIMALS, Rounding.DIGITS, Rounding.STATED

QUANTITIES: Mapping[str, Quantity] = MappingProxyType(
    {
        one.name: one
        for one in (
            Quantity("paper", _REPORT, 3, "kg", us_unit="lb", us_scale=POUNDS_PER_KG),
            Quantity("small mass", _DIGITS, 3, "g", 1000.0, "oz", OUNCES_PER_KG),
            Quantity("account", _REPORT, 3, "kg CO₂e"),
            Quantity("per part", _REPORT, 3, "g CO₂e", 1000.0),
            Quantity("per kilogram", _DECIMALS, 2, "kg CO₂e"),
            Quantity("share", _DECIMALS, 0, "%", 100.0),
            Quantity("fine share", _DECIMALS, 1, "%", 100.0),
            Quantity("chance", _DECIMALS, 0, "%", 100.0),
            Quantity("count", _DECIMALS, 0),
            Quantity("energy", _REPORT, 3, "kWh"),
            Quantity("distance", _REPORT, 3, "km", us_unit="mi", us_scale=MILES_PER_KM),
            Quantity("volume", _REPORT, 3, "L", us_unit="gal", us_scale=GALLONS_PER_L),
            Quantity("number", _DIGITS, 3),
            Quantity("stated", _STATED, 0),
        )
    }
)
"""Every kind, by name. `paper` is any mass in kilograms that adds up with others; `account` and `per part` are emissions of
a period and of one good part; `number` is all else that is worked out, `stated` what somebody wrote."""
