"""Formulas: text, brackets, value, and that none is lost on its way through the functions of the calculation."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from impact.core.footprint import delivered_electricity, room_heat
from impact.core.formula import Formula, as_formula
from impact.core.landfill import decayed_share
from impact.core.moisture import water_to_evaporate
from impact.core.plastic import equal_stiffness_mass


def cell(name: str, value: float) -> Any:
    return Formula(name, f"[{name.lower()}]", value)


A, B, C = cell("A", 2.0), cell("B", 3.0), cell("C", 5.0)


@pytest.mark.parametrize(
    ("formula", "text", "value"),
    [
        (A + B * C, "A+B*C", 17.0),
        ((A + B) * C, "(A+B)*C", 25.0),
        (A - (B - C), "A-(B-C)", 4.0),
        (A / (B * C), "A/(B*C)", 2.0 / 15.0),
        (A / B / C, "A/B/C", 2.0 / 15.0),
        (-(A + B), "-(A+B)", -5.0),
        (A - -B, "A-(-B)", 5.0),
        ((-A) ** 2, "(-A)^2", 4.0),
        ((A * B) ** 0.5, "(A*B)^0.5", math.sqrt(6.0)),
        (1.0 - A, "1-A", -1.0),
        (A * -1.5, "A*(-1.5)", -3.0),
        (1e-7 * A, "1e-07*A", 2e-7),
        (np.float64(4.0) / A, "4/A", 2.0),
        (np.asarray(A) + 1.0, "A+1", 3.0),
        (np.maximum(A - B, 0.0), "MAX(A-B,0)", 0.0),
    ],
)
def test_formula_operations_have_text_and_value(formula: Formula, text: str, value: float) -> None:
    assert formula.text == text
    assert formula.value == pytest.approx(value, rel=1e-15)


def test_formula_words_follow_the_text() -> None:
    assert ((A + B) * C).words == "([a] + [b]) * [c]"


def test_formula_constants_that_change_nothing_are_left_out() -> None:
    assert [(0.0 + A).text, (A - 0.0).text, (1.0 * A).text, (A / 1.0).text] == ["A", "A", "A", "A"]
    assert [0.0 * A, A * 0.0] == [0.0, 0.0]
    assert (0.0 - A).text == "0-A"


def test_formula_zero_in_a_cell_stays_in_the_formula() -> None:
    assert (cell("Z", 0.0) * A).text == "Z*A"


def test_formula_turned_into_a_float_is_refused() -> None:
    with pytest.raises(TypeError):
        float(A)
    with pytest.raises(TypeError):
        np.asarray(A, dtype=float)
    with pytest.raises(TypeError):
        np.sqrt(A)


def test_formula_through_the_core_keeps_every_cell_and_gives_its_value() -> None:
    names = {"K": 0.07, "H": 100.0, "D": 0.5}
    decayed = as_formula(decayed_share(cell("K", 0.07), cell("H", 100.0), delay_years=cell("D", 0.5)))
    assert set(names) <= set(decayed.text)
    assert decayed.value == pytest.approx(decayed_share(0.07, 100.0, delay_years=0.5), rel=1e-12)
    water = water_to_evaporate(1.0, solids_in=cell("S", 0.35), solids_out=cell("T", 0.94))
    heat = as_formula(room_heat(water, latent_kwh=A, efficiency=cell("E", 0.9), heat=B))
    assert heat.text == "MAX(1/S-1/T,0)*A/E*B"
    grid = as_formula(delivered_electricity(A, upstream=B, loss=cell("L", 0.05)))
    assert grid.text == "(A+B)/(1-L)"
    stiff = as_formula(
        equal_stiffness_mass(A, fibre_density=B, plastic_density=C, fibre_modulus=cell("F", 1e9), plastic_modulus=A)
    )
    assert stiff.text == "A*(C/B)*((F/A)^0.3333333333333333)"


def test_formula_checks_of_the_core_still_hold() -> None:
    with pytest.raises(ValueError, match="network loss"):
        delivered_electricity(A, loss=cell("L", 1.5))
