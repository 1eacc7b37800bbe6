"""Numbers of the factor tables at a size for a reader."""

from __future__ import annotations

import re

import pytest

from impact.base.scales import scaled
from impact.factors.factorset import read_factors
from impact.factors.keys import pattern_of


@pytest.mark.parametrize(
    ("number", "unit", "share", "size", "said"),
    [
        (1e9, "Pa", False, 1.0, "GPa"),
        (0.0029, "kg", False, 2.9, "g"),
        (0.9, "1", True, 90.0, "%"),
        (30.0, "1", False, 30.0, ""),
        (2.5e6, "J", False, 2.5, "MJ"),
        (2e3, "J", False, 0.002, "MJ"),
        (0.2, "kWh/kg", False, 0.2, "kWh per kg"),
        (2.59, "kgCO2e/kg", False, 2.59, "kg CO₂e per kg"),
        (0.4445, "kg/kg", False, 444.5, "g per kg"),
        (0.025, "m3/kg", False, 25.0, "L per kg"),
        (0.000127, "kgCO2e/kg/km", False, 0.127, "kg CO₂e per t and km"),
        (0.06, "1/year", False, 0.06, "per year"),
        (0.5, "year", False, 0.5, "years"),
        (0.0, "kWh/kg", False, 0.0, "kWh per kg"),
        (905.0, "kg/m3", False, 905.0, "kg per m³"),
    ],
)
def test_number_stands_at_a_size_for_a_reader(number: float, unit: str, share: bool, size: float, said: str) -> None:
    found = scaled(number, number / 2, number * 2, unit, share=share)
    assert (found.value, found.unit) == (pytest.approx(size), said)
    assert (found.low, found.high) == (pytest.approx(size / 2), pytest.approx(size * 2))


def test_units_of_every_row_are_words_and_symbols() -> None:
    for row in read_factors():
        pattern = pattern_of(row.key)
        found = scaled(row.value, row.low, row.high, row.unit, share=pattern is not None and pattern.share)
        assert not re.search(r"CO2|m3|/|\b1\b", found.unit), (row.id, found.unit)
        assert abs(found.value) < 1e5 or row.kind == "claims", (row.id, found)  # two days as numbers


def test_unit_is_in_the_language_of_the_page() -> None:
    assert scaled(2.0, 1.0, 3.0, "kgCO2e/kg", language="es").unit == "kg CO₂e por kg"
