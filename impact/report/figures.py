"""Numbers as reports print them: unit, digits, interval."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from impact.results import Interval

POUNDS = 2.2046226218487757
OUNCES = 35.27396194958041


def digits(value: float, significant: int = 3) -> str:
    """Return `value` to some significant digits, without an exponent, with a true minus sign."""
    if value == 0.0:
        return "0"
    from math import floor, log10

    decimals = max(significant - 1 - floor(log10(abs(value))), 0)
    text = f"{value:,.{min(decimals, 6)}f}".replace(",", "\u202f")
    if float(text.replace("\u202f", "")) == 0.0:
        return "0"
    return text.replace("-", "\u2212")


def _fixed(value: float, decimals: int) -> str:
    """Return `value` with some decimals, a true minus sign, and no minus before nothing."""
    text = f"{value:,.{decimals}f}"
    if not text.strip("-0.,"):
        text = text.lstrip("-")
    return text.replace(",", "\u202f").replace("-", "\u2212")


@dataclass(frozen=True, slots=True)
class Printer:
    """Prints figures in a workshop's units.

    Attributes
    ----------
    us : bool
        True for US customary units of mass; emissions stay in kg and g CO2e.
    """

    us: bool

    @property
    def mass_unit(self) -> str:
        """Unit of large masses."""
        return "lb" if self.us else "kg"

    def mass(self, kg: float) -> str:
        """Return a mass without its unit, one decimal."""
        value = kg * (POUNDS if self.us else 1.0)
        return _fixed(value, 1)

    def mass_with_unit(self, kg: float) -> str:
        """Return a mass with its unit."""
        return f"{self.mass(kg)}\u00a0{self.mass_unit}"

    def small_mass(self, kg: float) -> str:
        """Return the mass of a part with its unit."""
        return f"{digits(kg * OUNCES)}\u00a0oz" if self.us else f"{digits(kg * 1000.0)}\u00a0g"

    @staticmethod
    def percent(share: float | None, decimals: int = 0) -> str:
        """Return a share in percent."""
        return "–" if share is None else f"{_fixed(100.0 * share, decimals)}\u00a0%"

    @staticmethod
    def chance(share: float | None) -> str:
        """Return a share of draws; draws prove neither never nor always."""
        if share is None:
            return "–"
        return "under 1\u00a0%" if share < 0.005 else "over 99\u00a0%" if share > 0.995 else Printer.percent(share)

    @staticmethod
    def grams(kgco2e: float) -> str:
        """Return grams of CO2e without the unit."""
        return digits(kgco2e * 1000.0)

    @staticmethod
    def day(day: date) -> str:
        """Return a date in words."""
        return f"{day.day} {day:%B %Y}"

    @staticmethod
    def account(kgco2e: float) -> str:
        """Return kilograms of CO2e with one decimal, for columns that add up."""
        return _fixed(kgco2e, 1)

    def gram_interval(self, interval: Interval) -> str:
        """Return an interval in grams of CO2e, ends only."""
        return f"{self.grams(interval.low)} to {self.grams(interval.high)}"

    def kilogram_interval(self, interval: Interval) -> str:
        """Return an interval in kilograms of CO2e, ends only, one decimal."""
        return f"{self.account(interval.low)} to {self.account(interval.high)}"
