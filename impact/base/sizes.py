"""Sizes of the units that come again and again, so that the unit registry is built only for the others.

Every size is a definition: SI, the international yard and pound of 1959, the Gregorian mean year of 365.25 days as the
registry has it. A test compares each with the registry.
"""

from __future__ import annotations

import re
from functools import cache

Dimension = tuple[int, int, int, int, int]
"""Powers of mass, length, time, emission and amount of substance."""

NONE: Dimension = (0, 0, 0, 0, 0)
MASS: Dimension = (1, 0, 0, 0, 0)
LENGTH: Dimension = (0, 1, 0, 0, 0)
VOLUME: Dimension = (0, 3, 0, 0, 0)
TIME: Dimension = (0, 0, 1, 0, 0)
ENERGY: Dimension = (1, 2, -2, 0, 0)
POWER: Dimension = (1, 2, -3, 0, 0)
FORCE: Dimension = (1, 1, -2, 0, 0)
PRESSURE: Dimension = (1, -1, -2, 0, 0)
EMISSION: Dimension = (0, 0, 0, 1, 0)
AMOUNT: Dimension = (0, 0, 0, 0, 1)

_YEAR_S, _POUND_KG = 31_557_600.0, 0.45359237

SIZES: dict[Dimension, dict[str, float]] = {
    NONE: {"dimensionless": 1.0, "percent": 0.01, "ppm": 1e-6},
    MASS: {
        "kilogram kg": 1.0, "gram g": 1e-3, "milligram mg": 1e-6, "metric_ton tonne t": 1e3, "pound lb": _POUND_KG,
        "ounce oz": _POUND_KG / 16.0, "short_ton": _POUND_KG * 2000.0, "long_ton": _POUND_KG * 2240.0,
    },
    LENGTH: {
        "meter m": 1.0, "kilometer km": 1e3, "centimeter cm": 1e-2, "millimeter mm": 1e-3, "mile mi": 1609.344,
        "foot ft": 0.3048, "yard": 0.9144, "inch": 0.0254,
    },
    VOLUME: {
        "m3": 1.0, "liter litre L l": 1e-3, "deciliter": 1e-4, "centiliter": 1e-5, "milliliter mL ml": 1e-6,
        "gallon": 3.785411784e-3, "imperial_gallon": 4.54609e-3,
    },
    TIME: {
        "second s": 1.0, "minute min": 60.0, "hour h": 3600.0, "day": 86_400.0, "week": 604_800.0,
        "month": _YEAR_S / 12.0, "year": _YEAR_S,
    },
    ENERGY: {
        "joule J": 1.0, "kilojoule kJ": 1e3, "megajoule MJ": 1e6, "gigajoule GJ": 1e9, "watt_hour Wh": 3.6e3,
        "kilowatt_hour kWh": 3.6e6, "megawatt_hour MWh": 3.6e9, "GWh": 3.6e12,
    },
    POWER: {"watt W": 1.0, "kilowatt kW": 1e3},
    FORCE: {"newton N": 1.0, "kilonewton": 1e3},
    PRESSURE: {"Pa": 1.0, "kPa": 1e3, "MPa": 1e6, "GPa": 1e9},
    EMISSION: {"kgCO2e": 1.0, "gCO2e": 1e-3, "tCO2e": 1e3, "MtCO2e": 1e9, "lbCO2e": _POUND_KG},
    AMOUNT: {"mol": 1.0},
}  # fmt: skip
"""What one of each unit is in units of SI, under the names of the registry; several names of one stand together."""

_TERM = re.compile(r"([*/]?)\s*(?:1|([A-Za-z_]\w*)(?:\s*(?:\*\*|\^)\s*(-?[1-9]))?)\s*", re.ASCII)


@cache
def _known() -> dict[str, tuple[float, Dimension]]:
    return {
        name: (size, dimension)
        for dimension, sizes in SIZES.items()
        for names, size in sizes.items()
        for name in names.split()
    }


@cache
def size_of(expression: str) -> tuple[float, Dimension] | None:
    """Return the size and the dimension of a product of units, such as ``lbCO2e/MWh``; None when one is not listed here.

    Parameters
    ----------
    expression : str
        Names joined by ``*`` and ``/``, each with a power or none.
    """
    above, below, powers = 1.0, 1.0, list(NONE)
    place = 0
    while place < len(expression):
        term = _TERM.match(expression, place)
        if term is None or bool(term[1]) != (place > 0):
            return None
        place = term.end()
        if term[2] is None:
            continue
        found = _known().get(term[2])
        if found is None:
            return None
        power = int(term[3] or 1) * (-1 if term[1] == "/" else 1)
        above, below = (above * found[0] ** power, below) if power > 0 else (above, below * found[0] ** -power)
        powers = [old + power * new for old, new in zip(powers, found[1], strict=True)]
    mass, length, time, emission, amount = powers
    return above / below, (mass, length, time, emission, amount)


@cache
def ratio(unit: str, other: str) -> float | None:
    """Return what one `unit` is in the other; None when one is not listed here, or the two differ in dimension."""
    first, second = size_of(unit), size_of(other)
    if first is None or second is None or first[1] != second[1]:
        return None
    return first[0] / second[0]
