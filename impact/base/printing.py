"""Numbers as reports print them: unit, digits, marks, interval."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from math import floor, log10
from typing import Protocol

from impact.base.catalogue import Names
from impact.base.language import catalogue_of, message, spoken_in, translate
from impact.base.locale import Marks, long_date, marks
from impact.base.quantities import (
    QUANTITIES,
    Fixed,
    Quantity,
    Rounding,
    decimals_for,
)
from impact.base.spellings import shown


class Ends(Protocol):
    """A figure with the ends of its interval."""

    @property
    def value(self) -> float:
        """Computed with central inputs."""

    @property
    def low(self) -> float:
        """2.5 % quantile of the draws."""

    @property
    def high(self) -> float:
        """97.5 % quantile of the draws."""


class Printed(Protocol):
    """What says how numbers are printed: a workshop does."""

    @property
    def units(self) -> str:
        """``metric`` or ``us``."""

    @property
    def country(self) -> str:
        """ISO 3166-1 alpha-3 code."""


@dataclass(frozen=True, slots=True)
class Style:
    """How numbers of one kind are printed where no country's marks are used: in the terminal.

    Attributes
    ----------
    form : str
        As Python formats a number.
    """

    form: str

    def __call__(self, value: float | None) -> str:
        """Return a number as text, a large one with all its digits; a dash for none."""
        if value is None:
            return "-"
        text = format(value, self.form)
        return f"{value:.0f}" if "e+" in text else text

    def interval(self, figure: Ends | None, scale: float = 1.0) -> str:
        """Return a figure with its interval, `scale` times; a dash for none."""
        if figure is None:
            return "-"
        return f"{self(figure.value * scale)} ({self(figure.low * scale)} to {self(figure.high * scale)})"


FIGURE = Style(".4g")
"""A result in the terminal."""
STEP = Style(".5g")
"""A step of a derivation, and a row of a factor table."""
MASS = Style(".1f")
"""A mass in kilograms that adds up with others."""
GRID = Style(".3f")
"""Emission of a kilowatt-hour."""
WHOLE = Style(".0f")
"""A count."""
PERCENT = Style(".0%")
"""A share, or a chance."""
TENTHS = Style(".1%")
"""A share of which tenths of a per cent count."""

CLOSING = message("An estimate for the workshop's own use, carbon only, not critically reviewed.")
"""What stands under figures."""

NEUTRAL = Marks()


def _marked(text: str, written: Marks) -> str:
    """Return a number as Python writes it with other marks and a true minus sign."""
    return text.translate({ord(","): written.group, ord("."): written.decimal, ord("-"): "\u2212"})


def _bounded(share: float) -> tuple[str, float]:
    """Return a sign before a chance, and the share to print: draws prove neither never nor always."""
    if share < 0.005:
        return "<", 0.01
    return (">", 0.99) if share > 0.995 else ("", share)


def chance(share: float | None) -> str:
    """Return a share of draws for the terminal; a dash for none."""
    if share is None:
        return PERCENT(share)
    sign, printed = _bounded(share)
    return {"<": "under ", ">": "over "}.get(sign, "") + PERCENT(printed)


def of_hundred(share: float) -> int:
    """Return a share of draws as how many of 100; 0 and 100 only where it is none and all of them."""
    return int(share) * 100 if share in (0.0, 1.0) else min(max(round(100.0 * share), 1), 99)


NOTHING = 1e-9
"""What is no figure but the rest of a subtraction, in the units of the calculation."""


def _shown_decimals(number: float, decimals: int, most: int) -> int:
    """Return the decimals of a number: those of its kind; below one of their steps as many more, to the most, as its first digit takes."""
    first = min(decimals_for(number, 1), most)
    return decimals if abs(round(number, first)) >= 10.0**-decimals else max(first, decimals)


MOST_DIGITS = 4
"""Digits of a figure from which decimals of its report are left out: it is far larger than those that fix them."""


def _parted(kind: Quantity, taken: Fixed, figure: Ends) -> Fixed:
    """Return unit and decimals for a figure with its interval: decimals that part its ends, where there are such."""
    if kind.rounding not in (Rounding.REPORT, Rounding.DECIMALS, Rounding.DIGITS) or figure.high - figure.low < NOTHING:
        return taken
    low, high = (end * taken.unit.scale for end in (figure.low, figure.high))
    tried = range(taken.decimals, taken.decimals + kind.finer + 1)
    return replace(
        taken, decimals=next((most for most in tried if round(low, most) != round(high, most)), taken.decimals)
    )


@dataclass(frozen=True, slots=True)
class Printer:
    """Prints figures in a workshop's units, with the marks of its country.

    Nothing but nothing is printed as 0, and nothing is doubled: a figure below one step of its decimals is printed to its first
    digit, up to `Quantity.finer` decimals more; a smaller one is said to be under the smallest that these show, with its sign, ``<0.001``
    and ``>−0.001``. An interval takes as many more, within the same bound, as part its ends; one whose ends then still read
    alike says nothing, and is left out.

    Attributes
    ----------
    us : bool
        True for US customary units; emissions stay in kg and g CO2e.
    country : str
        For dates.
    language : str
        Of the catalogue and of the page: ``en-US`` is English as the United States spell it.
    written : Marks
        Decimal mark and mark between groups of digits.
    names : Names
        For plain names of ids; without them ids are printed.
    report : mapping of str to Fixed
        Unit and decimals of the quantities that are rounded alike in a whole report; without them each figure by itself.
    rows : callable or None
        Names factor rows by key, language and names; without it the key is printed.
    parts : tuple of str
        Names of all parts, which tell how one of them is shown.
    """

    us: bool
    country: str = ""
    language: str = "en"
    written: Marks = field(default=NEUTRAL)
    names: Names = field(default_factory=Names)
    report: Mapping[str, Fixed] = field(default_factory=dict)
    rows: Callable[[str, str, Names], str] | None = None
    parts: tuple[str, ...] = ()

    @classmethod
    def of(
        cls,
        workshop: Printed,
        language: str = "en",
        names: Names | None = None,
        report: Mapping[str, Fixed] | None = None,
    ) -> Printer:
        """Return the printer of a workshop."""
        return cls(
            workshop.units == "us",
            workshop.country,
            catalogue_of(language, workshop.country),
            marks(workshop.country, language),
            names or Names(),
            report or {},
        )

    def figure(self, value: float, quantity: str, *, unit: bool = True, of: Ends | None = None) -> str:
        """Return a figure.

        Parameters
        ----------
        value : float
            In the unit of the calculation.
        quantity : str
            One of `impact.base.quantities.QUANTITIES`.
        unit : bool
            Whether its unit stands behind it.
        of : Ends or None
            The figure with its interval that the value is the centre, or an end, of: it decides on unit and decimals.

        Raises
        ------
        KeyError
            When there is no such quantity.
        """
        kind = QUANTITIES[quantity]
        taken, most = self._decided(kind, value, of)
        text = self._text(value, kind, taken, most)
        return f"{text}\u00a0{taken.unit.mark}" if unit and taken.unit.mark else text

    def rounded(self, value: float, quantity: str, of: Ends | None = None) -> Decimal:
        """Return a figure as `figure` prints it, in its unit, as a number; 0 for one that is said to be under the smallest."""
        kind = QUANTITIES[quantity]
        taken, most = self._decided(kind, value, of)
        number = value * taken.unit.scale
        decimals = _shown_decimals(number, taken.decimals, most)
        return Decimal(f"{round(number, decimals):.{max(decimals, 0)}f}")

    def whole(self, figure: Ends, quantity: str, *, unit: bool = True) -> str:
        """Return a figure with its interval in brackets, or alone where its interval tells nothing (`tells`)."""
        said = self.figure(figure.value, quantity, unit=unit, of=figure)
        if not self.tells(figure, quantity):
            return said
        bound = QUANTITIES[quantity].bound
        low, high = (self.figure(end, quantity, unit=bound, of=figure) for end in (figure.low, figure.high))
        to = translate(self.language, "to")
        return f"{said} ({low} {to} {high})"

    def tells(self, figure: Ends, quantity: str) -> bool:
        """Return whether an interval says more than its figure as they are printed, and is one of it."""
        if QUANTITIES[quantity].partial and not figure.low <= figure.value <= figure.high:
            return False
        three = (figure.low, figure.value, figure.high)
        return len({self.figure(one, quantity, unit=False, of=figure) for one in three}) > 1

    def unit(self, quantity: str, value: float = 1.0) -> str:
        """Return the unit of a quantity in this report, for captions: where it is not fixed, the one that suits a value."""
        return self._taken(QUANTITIES[quantity], value).unit.mark

    def scaled(self, value: float, quantity: str) -> float:
        """Return a value in the unit of `unit`, for what is drawn."""
        return value * self._taken(QUANTITIES[quantity], 1.0).unit.scale

    def name(self, kind: str, word: str) -> str:
        """Return the name of an id, or the word as it is.

        Parameters
        ----------
        kind, word : str
            As ``names.csv`` has them; ``part`` for a part, ``place`` for a place of the factor tables, ``factor`` for the key
            of a factor row, ``waste`` for what has a fate.
        """
        if kind == "part":
            return shown(word, self.parts)
        if kind == "place":
            return self.names.place(word, self.language)
        if kind == "factor":
            return word if self.rows is None else self.rows(word, self.language, self.names)
        if kind == "waste" and not self.names.knows(kind, word):
            kind = "grade"
        return self.names.short(kind, word, self.language)

    @property
    def spoken(self) -> str:
        """The language without its country. [ISO 639-1]"""
        return spoken_in(self.language)

    def _decided(self, kind: Quantity, value: float, of: Ends | None) -> tuple[Fixed, int]:
        """Return unit and decimals of a figure, by the interval that it is the centre or an end of, and the most decimals."""
        taken = self._taken(kind, value if of is None else of.value or value)
        return taken if of is None else _parted(kind, taken, of), taken.decimals + kind.finer

    def _taken(self, kind: Quantity, value: float) -> Fixed:
        """Return unit and decimals for a figure of some size."""
        if kind.name in self.report:
            taken = self.report[kind.name]
            room = MOST_DIGITS - 1 - floor(log10(max(abs(value * taken.unit.scale), 1.0)))
            return replace(taken, decimals=min(taken.decimals, max(room, 0)))
        unit = kind.unit(value, self.us)
        if kind.rounding in (Rounding.REPORT, Rounding.DIGITS):
            return Fixed(min(max(decimals_for(value * unit.scale, kind.digits), 0), 6), unit)
        return Fixed(kind.digits, unit)

    def _text(self, value: float, kind: Quantity, taken: Fixed, most: int) -> str:
        """Return a number in its unit, rounded as its kind asks, with no more decimals than the most."""
        number = value * taken.unit.scale
        if kind.rounding is Rounding.HUNDRED:
            return str(of_hundred(value))
        if kind.rounding is Rounding.STATED:
            return self._stated(number, kind.digits)
        if kind.rounding is Rounding.DRAWN:
            sign, printed = _bounded(value)
            return sign + self.fixed(printed * taken.unit.scale, taken.decimals)
        if abs(value) < NOTHING:
            return "0"
        decimals = _shown_decimals(number, taken.decimals, most)
        rounded, least = round(number, decimals), 10.0**-decimals
        if rounded == 0.0:
            return f"{'<' if number > 0.0 else '>'}{self.fixed(least if number > 0.0 else -least, decimals)}"
        return self.fixed(rounded, decimals)

    def _stated(self, number: float, digits: int) -> str:
        """Return a number to some significant digits at most, none of them a zero at the end of its decimals."""
        return _marked(f"{Decimal(f'{number:.{digits}g}'):,f}", self.written)

    @property
    def mass_unit(self) -> str:
        """Unit of masses of paper."""
        return self.unit("paper")

    def fixed(self, value: float, decimals: int = 1) -> str:
        """Return a number to some decimals, as an axis has it, and no minus before nothing; below 0 it is taken as rounded."""
        text = f"{value:,.{max(decimals, 0)}f}"
        return _marked(text if text.strip("-0.,") else text.lstrip("-"), self.written)

    def day(self, day: date) -> str:
        """Return a date in words."""
        return long_date(day, self.country, self.spoken)

    def days(self, start: date, end: date) -> str:
        """Return the days from one to another in words: one day where they are the same."""
        first, last = self.day(start), self.day(end)
        return (
            first if start == end else translate(self.language, "%(start)s to %(end)s") % {"start": first, "end": last}
        )
