"""Slips of units: which unit was likely meant where an amount is so many times what is believed; amounts and ratios in words."""

from __future__ import annotations

import math
from collections.abc import Mapping

NEAR = (math.log(1.25), math.log(4.0))
"""How near a ratio must come to that of two units, of those below ten and above. Choices of ours. [-]"""

UNUSUAL = 0.5
"""By how much nearer the others must be than the first of the units that are taken for one another. A choice of ours. [-]"""

UNITS: Mapping[str, Mapping[str, float]] = {
    "kWh": {"Wh, not kWh": 1000.0, "MJ, not kWh": 3.6},
    "run": {"minutes, not hours": 60.0},
    "L": {"mL, not L": 1000.0, "L, not gallons": 3.785},
    "h": {"minutes, not hours": 60.0},
    "km": {"m, not km": 1000.0},
    "kg": {"g, not kg": 1000.0, "g, not lb": 453.6, "g, not oz": 28.35, "oz, not kg": 35.27, "lb, not kg": 2.205},
    "W": {"W, not kW": 1000.0},
}
"""Units that are taken for one another (a run is the time of a device), and how many times too large the amount is then; the other way round below 1."""


def likely_unit(ratio: float, unit: str) -> str:
    """Return the unit that was likely meant and the one that it was taken for, or nothing; `ratio` is to what is believed."""
    return _likely(ratio, unit)[0]


def likely_size(ratio: float, unit: str) -> float:
    """Return how many times too large an amount is if the unit that was likely meant is the right one; 1 without one. [-]"""
    return _likely(ratio, unit)[1]


def _likely(ratio: float, unit: str) -> tuple[str, float]:
    """Return the same with how many times too large the amount is then."""
    found = []
    for place, (words, factor) in enumerate(UNITS.get(unit, {}).items()):
        meant, _, taken = words.partition(", not ")
        for size, said in ((factor, words), (1.0 / factor, f"{taken}, not {meant}")):
            off = abs(math.log(ratio / size))
            if off <= NEAR[factor > 10.0]:
                found.append((off + (UNUSUAL if place else 0.0), said, size))
    return min(found)[1:] if found else ("", 1.0)


def digits(number: float) -> str:
    """Return a number with three digits, large ones whole."""
    return f"{number:.3g}" if abs(number) < 999.5 else f"{number:.0f}"


def shown_in(amount: float, unit: str) -> tuple[float, str]:
    """Return an amount in the unit in which it is told: a mass below 1 kg in g."""
    return (amount * 1000.0, "g") if unit == "kg" and 0.0 < abs(amount) < 1.0 else (amount, unit)


def told(amount: float, unit: str) -> str:
    """Return an amount with its unit, as it is told: ``0.5 g``, ``12 kg``."""
    number, shown = shown_in(amount, unit)
    return f"{digits(number)} {shown}"


def told_span(low: float, high: float, unit: str) -> str:
    """Return a span with the unit of each end, once where both have the same: ``5 g to 250 kg``, ``1 to 5 kg``."""
    number, shown = shown_in(low, unit)
    alike = low == 0.0 or shown == shown_in(high, unit)[1]
    return f"{digits(number) if alike else told(low, unit)} to {told(high, unit)}"


def meant(amount: float, ratio: float, unit: str) -> str:
    """Return a question for the unit or the time that was likely meant, after a colon; a full stop where none is likely.

    A mass may be told in another unit than it was written in. So ``not g`` stands only beside grams, and where the unit
    that is meant stands there already the question names the mass.
    """
    likely, size = _likely(ratio, unit)
    if likely and unit == "kg":
        wanted, _, taken = likely.partition(", not ")
        shown = shown_in(amount, unit)[1]
        likely = likely if taken == shown else told(amount / size, unit) if wanted == shown else wanted
    if unit == "kWh" and ratio > 1.0 and amount >= 1.0 and amount == round(amount):
        time = f"a time, as a device and {amount:.0f} min or h"
        likely = f"{likely}, or {time}" if likely else time
    return f": did you mean {likely}?" if likely else "."


def times(ratio: float) -> str:
    """Return a ratio in words: 12 times, or 1/12 of."""
    return f"{digits(ratio)} times" if ratio >= 1.0 else f"1/{digits(1.0 / ratio)} of"
