"""Units of products and ratios, as texts such as ``kgCO2e/kWh``; no conversion, only cancelling."""

from __future__ import annotations

from collections import Counter
from functools import cache

NONE = "1"
"""The unit of a share, a count, a plain number."""


@cache
def _powers(unit: str) -> tuple[tuple[str, int], ...]:
    """Return the powers of the names in a unit; what follows the first stroke is divided by."""
    found: Counter[str] = Counter()
    above, *below = unit.split("/")
    for name in above.split():
        found[name] += 1
    for name in " ".join(below).split():
        found[name] -= 1
    return tuple((name, power) for name, power in found.items() if name != NONE and power)


@cache
def product_unit(first: str, second: str, *, sign: int = 1) -> str:
    """Return the unit of a product, or with `sign` -1 that of a ratio.

    Parameters
    ----------
    first, second : str
        Units as names with strokes: ``kgCO2e/kg/km`` is kg CO2e per kg and km; ``1`` is none.
    sign : int, default 1
        1 to multiply, -1 to divide.
    """
    powers = Counter(dict(_powers(first)))
    for name, power in _powers(second):
        powers[name] += sign * power
    above = [name for name, power in powers.items() for _ in range(power)]
    below = [name for name, power in powers.items() for _ in range(-power)]
    return "/".join([" ".join(above) or NONE, *below])
