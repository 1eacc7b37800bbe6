"""Numbers of a table scaled to a size that a reader takes in at once, with their unit in words."""

from __future__ import annotations

from dataclasses import dataclass

from impact.base.language import message, translate
from impact.base.units import NONE

LEAST, MOST = 1.0, 10_000.0
"""Sizes between which a number stands in the unit that it has. A choice of ours."""

STEPS: dict[str, tuple[tuple[float, str], ...]] = {
    "kg": ((1e-3, "t"), (1.0, "kg"), (1e3, "g"), (1e6, "mg")),
    "g": ((1.0, "g"), (1e3, "mg")),
    "kgCO2e": ((1e-3, "t CO₂e"), (1.0, "kg CO₂e"), (1e3, "g CO₂e"), (1e6, "mg CO₂e")),
    "Pa": ((1e-9, "GPa"), (1e-6, "MPa"), (1e-3, "kPa"), (1.0, "Pa")),
    "J": ((1e-6, "MJ"), (1e-3, "kJ"), (1.0, "J")),
    "kWh": ((1e-3, "MWh"), (1.0, "kWh")),
    "W": ((1e-3, "kW"), (1.0, "W")),
    "m3": ((1.0, "m³"), (1e3, "L"), (1e6, "mL")),
    "km": ((1.0, "km"), (1e3, "m")),
}
"""What one unit is in others, the largest first; of any other unit the number stands as it is."""

ALWAYS = {"J": 1e-6}
"""What one unit is in the only other in which it is printed."""

WORDS = {
    "m3": "m³", "kgCO2e": "kg CO₂e", "year": message("year"), "years": message("years"), "hour": "h", "mile": message("mile"),
}  # fmt: skip
"""Units that are written otherwise than in the tables."""


@dataclass(frozen=True, slots=True)
class Scaled:
    """A number of a table as a reader takes it.

    Attributes
    ----------
    value, low, high : float
        Value and ends of its interval. [`unit`]
    unit : str
        Unit in words and symbols, blank for a plain number.
    times : float
        What the numbers of the table were multiplied by. [-]
    """

    value: float
    low: float
    high: float
    unit: str
    times: float


def scaled(value: float, low: float, high: float, unit: str, *, share: bool = False, language: str = "en") -> Scaled:
    """Return value and interval of a row scaled alike, and the unit for a reader.

    Parameters
    ----------
    value, low, high : float
        As the row has them. [`unit`]
    unit : str
        As the tables write it: ``kgCO2e/kg``, ``1/year``, ``1``.
    share : bool
        Whether a number without a unit is a share, printed as per cent; another is a ratio or a count.
    language : str
        Language of the words in the unit.
    """
    first, *others = unit.split("/")
    if first == NONE:
        times, word = (100.0, "%") if share and not others else (1.0, "")
    elif first == "kgCO2e" and others == ["kg", "km"]:
        times, word, others = 1e3, "kg CO₂e", ["t", "km"]  # as freight is told everywhere
    else:
        times, word = _step(first, max((abs(value), abs(high)), key=bool), language)
    per = translate(language, "per")
    below = translate(language, " and ").join(_word(one, language) for one in others)
    told = " ".join(filter(None, (word, f"{per} {below}" if below else "")))
    return Scaled(value * times, low * times, high * times, told, times)


def _step(unit: str, size: float, language: str) -> tuple[float, str]:
    """Return what to multiply by and the unit that a number of a size is printed in."""
    steps = STEPS.get(unit)
    if steps is None:
        return 1.0, _word("years" if unit == "year" and size != 1.0 else unit, language)
    if unit in ALWAYS:
        return next(step for step in steps if step[0] == ALWAYS[unit])
    same = next(step for step in steps if step[0] == 1.0)
    if size == 0.0 or LEAST <= size < MOST:
        return same
    return next((step for step in steps if size * step[0] >= 1.0), steps[-1])


def _word(unit: str, language: str) -> str:
    return translate(language, WORDS.get(unit, unit))
