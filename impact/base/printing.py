"""Numbers as reports print them: unit, digits, marks, interval."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from math import floor, log10
from typing import Protocol

from impact.base.catalogue import Names
from impact.base.language import message, translate
from impact.base.locale import Marks, long_date, marks
from impact.base.quantities import OUNCES_PER_KG, POUNDS_PER_KG, QUANTITIES, Quantity, Rounding


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
    """How numbers of one kind are printed where no country's marks are used: in the terminal, and in findings.

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
STATED = Style("g")
"""A number as somebody stated it: a limit, a row of a table, a service life."""
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
HUNDREDTHS = Style(".2%")
"""A share of which hundredths of a per cent count."""

CLOSING = "An estimate for the workshop's own use, carbon only, not critically reviewed."
"""What stands under figures."""

NEUTRAL = Marks()


def _marked(text: str, written: Marks) -> str:
    """Return a number as Python writes it with other marks and a true minus sign."""
    return text.translate({ord(","): written.group, ord("."): written.decimal, ord("-"): "\u2212"})


def digits(value: float, significant: int = 3, written: Marks = NEUTRAL) -> str:
    """Return `value` to some significant digits, without an exponent."""
    if value == 0.0:
        return "0"
    decimals = min(max(significant - 1 - floor(log10(abs(value))), 0), 6)
    text = f"{value:,.{decimals}f}"
    return _marked(text, written) if text.strip("-0.,") else "0"


def _bounded(share: float) -> tuple[str, float]:
    """Return a chance as the word that it stands in, and the share to print: draws prove neither never nor always."""
    if share < 0.005:
        return message("under %(share)s"), 0.01
    return (message("over %(share)s"), 0.99) if share > 0.995 else ("%(share)s", share)


def chance(share: float | None) -> str:
    """Return a share of draws for the terminal; a dash for none."""
    if share is None:
        return PERCENT(share)
    word, shown = _bounded(share)
    return word % {"share": PERCENT(shown)}


def of_hundred(share: float) -> int:
    """Return a share of draws as how many of 100; 0 and 100 only where it is none and all of them."""
    return int(share) * 100 if share in (0.0, 1.0) else min(max(round(100.0 * share), 1), 99)


def places(smallest: float, significant: int) -> int:
    """Return the decimals that show the smallest figure of a column to some significant digits, 4 at most."""
    return 1 if smallest <= 0.0 else min(max(significant - 1 - floor(log10(smallest)), 0), 4)


@dataclass(frozen=True, slots=True)
class Printer:
    """Prints figures in a workshop's units, with the marks of its country.

    Attributes
    ----------
    us : bool
        True for US customary units of mass; emissions stay in kg and g CO2e.
    country, language : str
        For dates.
    written : Marks
        Decimal mark and mark between groups of digits.
    names : Names
        For plain names of ids; without them ids are printed.
    decimals : mapping of str to int
        Decimals of the quantities that are rounded alike in a whole report; below 0 for tens, hundreds, thousands.
    """

    us: bool
    country: str = ""
    language: str = "en"
    written: Marks = field(default=NEUTRAL)
    names: Names = field(default_factory=Names)
    decimals: Mapping[str, int] = field(default_factory=dict)

    @classmethod
    def of(cls, workshop: Printed, language: str = "en", names: Names | None = None) -> Printer:
        """Return the printer of a workshop."""
        return cls(
            workshop.units == "us", workshop.country, language, marks(workshop.country, language), names or Names()
        )

    def figure(self, value: float, quantity: str, *, unit: bool = True) -> str:
        """Return a figure of one of `impact.base.quantities.QUANTITIES`.

        Raises
        ------
        KeyError
            When there is no such quantity.
        """
        kind = QUANTITIES[quantity]
        text, mark = self._rounded(value * self._scale(kind), kind), (kind.us_unit if self.us else None) or kind.unit
        return f"{text}\u00a0{mark}" if unit and mark else text

    def whole(self, figure: Ends, quantity: str) -> str:
        """Return a figure with its interval in brackets."""
        low, high = (self.figure(end, quantity, unit=False) for end in (figure.low, figure.high))
        return f"{self.figure(figure.value, quantity)} ({low} {translate(self.language, 'to')} {high})"

    def name(self, kind: str, word: str) -> str:
        """Return the plain name of an id, or the word as it is."""
        return self.names.plain(kind, word, self.language)

    def _scale(self, kind: Quantity) -> float:
        return kind.us_scale if self.us and kind.us_scale is not None else kind.scale

    def _rounded(self, value: float, kind: Quantity) -> str:
        """Return a number in the printed unit, rounded as its kind asks."""
        if kind.rounding is Rounding.STATED:
            return self.stated(value)
        if kind.rounding is Rounding.DECIMALS:
            return self.fixed(value, kind.digits)
        decimals = self.decimals.get(kind.name) if kind.rounding is Rounding.REPORT else None
        if decimals is None:
            return self.digits(value, kind.digits)
        return self.fixed(round(value, decimals), max(decimals, 0))

    @property
    def mass_unit(self) -> str:
        """Unit of large masses."""
        return "lb" if self.us else "kg"

    def digits(self, value: float, significant: int = 3) -> str:
        """Return a number to some significant digits."""
        return digits(value, significant, self.written)

    def fixed(self, value: float, decimals: int = 1) -> str:
        """Return a number to some decimals, and no minus before nothing."""
        text = f"{value:,.{decimals}f}"
        return _marked(text if text.strip("-0.,") else text.lstrip("-"), self.written)

    def stated(self, value: float) -> str:
        """Return a number with the digits with which somebody stated it."""
        return _marked(STATED(value), self.written)

    def count(self, value: float) -> str:
        """Return a whole number."""
        return self.fixed(value, 0)

    def mass(self, kg: float, decimals: int = 1) -> str:
        """Return a mass without its unit."""
        return self.fixed(kg * (POUNDS_PER_KG if self.us else 1.0), decimals)

    def mass_with_unit(self, kg: float, decimals: int = 1) -> str:
        """Return a mass with its unit."""
        return f"{self.mass(kg, decimals)}\u00a0{self.mass_unit}"

    def small_mass(self, kg: float) -> str:
        """Return the mass of a part with its unit."""
        return f"{self.digits(kg * OUNCES_PER_KG)}\u00a0oz" if self.us else f"{self.digits(kg * 1000.0)}\u00a0g"

    def percent(self, share: float | None, decimals: int = 0) -> str:
        """Return a share in percent."""
        return "–" if share is None else f"{self.fixed(100.0 * share, decimals)}\u00a0%"

    def chance(self, share: float | None) -> str:
        """Return a share of draws; draws prove neither never nor always."""
        if share is None:
            return "–"
        word, shown = _bounded(share)
        return translate(self.language, word) % {"share": self.percent(shown)}

    def of_hundred(self, share: float) -> str:
        """Return a share of draws as how many of 100."""
        return str(of_hundred(share))

    def grams(self, kgco2e: float, decimals: int | None = None) -> str:
        """Return grams of CO2e without the unit: to three digits, or to some decimals where a column lines up."""
        grams = kgco2e * 1000.0
        return self.digits(grams) if decimals is None else self.fixed(grams, decimals)

    def day(self, day: date) -> str:
        """Return a date in words."""
        return long_date(day, self.country, self.language)

    def account(self, kgco2e: float, decimals: int = 1) -> str:
        """Return kilograms of CO2e to some decimals, for columns that add up."""
        return self.fixed(kgco2e, decimals)

    def gram_interval(self, interval: Ends) -> str:
        """Return an interval in grams of CO2e, ends only."""
        return f"{self.grams(interval.low)} to {self.grams(interval.high)}"
