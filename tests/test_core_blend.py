"""Compost arithmetic against worked examples of the Cornell Waste Management Institute (Richard and Trautmann 1996).

Checked against, from outside:

- compost mixes: Richard and Trautmann 1996, worked examples (one ingredient from memory)
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from impact.core.blend import (
    Ingredient,
    dry_content,
    mass_for_carbon_nitrogen,
    mass_for_moisture,
    mix_carbon_nitrogen,
    mix_moisture,
)

GRASS = Ingredient(10.0, 0.82, 17 * 0.034, 0.034)
"""Grass clippings, 17:1, 3.4 % N, 82 % water: NRAES-54, Appendix A, Table A.1 (from memory)."""
CARDBOARD = Ingredient(1.0, 0.08, 563 * 0.001, 0.001)
"""Corrugated cardboard, 563:1, 0.10 % N, 8 % water: the same table (from memory)."""


def as_received(mass: float, carbon: float, nitrogen: float) -> Ingredient:
    """Return an ingredient whose contents are shares of the mass as it is, as some published examples have them."""
    return Ingredient(mass, 0.0, carbon, nitrogen)


def test_mass_for_moisture_published_example_of_grass_and_leaves() -> None:
    # Same page: 10 kg of grass at 77 % need 6.8 kg of leaves at 35 % for 60 %.
    leaves = mass_for_moisture(10.0, 0.77, 0.60, second_moisture=0.35)
    assert leaves == pytest.approx(6.8)
    mix = mix_moisture([Ingredient(10.0, 0.77, 0.4, 0.02), Ingredient(leaves, 0.35, 0.4, 0.01)])
    assert mix == pytest.approx(0.60)


def test_mass_for_carbon_nitrogen_published_example_of_scraps_and_hay() -> None:
    # Richard and Trautmann, page on the C/N ratio: 100 g of scraps (15 % C, 1.5 % N as received) and hay (40 % C, 1 % N) to 30:1.
    hay = mass_for_carbon_nitrogen(as_received(0.100, 0.15, 0.015), as_received(0.0, 0.40, 0.01), 30.0)
    assert hay == pytest.approx(0.300)


def test_mass_for_carbon_nitrogen_cardboard_for_grass_by_the_formula() -> None:
    # By hand from Q2 = Q1 N1 (R - C1/N1)(1 - M1) / (N2 (C2/N2 - R)(1 - M2)): 10 x 0.034 x 13 x 0.18 / (0.001 x 533 x 0.92).
    cardboard = mass_for_carbon_nitrogen(GRASS, CARDBOARD, 30.0)
    assert cardboard == pytest.approx(0.7956 / 0.49036)
    mix = [GRASS, Ingredient(cardboard, 0.08, CARDBOARD.carbon, CARDBOARD.nitrogen)]
    assert mix_carbon_nitrogen(mix) == pytest.approx(30.0)
    assert mix_moisture(mix) == pytest.approx(0.717, abs=5e-4)


def test_mass_for_moisture_water_for_cardboard_by_the_formula() -> None:
    # W = Q (G - M) / (1 - G): 10 x 0.47 / 0.45
    assert mass_for_moisture(10.0, 0.08, 0.55) == pytest.approx(10.444, abs=5e-4)


@pytest.mark.parametrize(
    ("green", "brown", "averaged"),
    [
        # New Mexico State University: 4 parts of manure 20:1 and 1 of leaves 80:1 "are" 32:1.
        (Ingredient(4.0, 0.0, 20 * 0.02, 0.02), Ingredient(1.0, 0.0, 80 * 0.005, 0.005), 32.0),
        # Same page: 7 parts of horse manure 25:1 with 1 of leaves 80:1, "just under 32".
        (Ingredient(7.0, 0.0, 25 * 0.016, 0.016), Ingredient(1.0, 0.0, 80 * 0.005, 0.005), 31.875),
        # A worksheet: 2 lb of manure 15:1 and 1 lb of stalks 65:1, "about 30" (31.67).
        (Ingredient(2.0, 0.0, 15 * 0.025, 0.025), Ingredient(1.0, 0.0, 65 * 0.006, 0.006), 31.667),
    ],
)
def test_mix_carbon_nitrogen_is_not_the_average_of_ratios(
    green: Ingredient, brown: Ingredient, averaged: float
) -> None:
    ratios = [one.carbon / one.nitrogen for one in (green, brown)]
    mean = (green.mass_kg * ratios[0] + brown.mass_kg * ratios[1]) / (green.mass_kg + brown.mass_kg)
    assert mean == pytest.approx(averaged, abs=5e-3)
    assert mix_carbon_nitrogen([green, brown]) < averaged - 4.0


def test_mass_for_carbon_nitrogen_averaged_ratios_ask_for_far_too_little_cardboard() -> None:
    # Averaging 17:1 and 563:1 by mass puts 30:1 at 10 x 13 / 533 = 0.24 kg; summing carbon and nitrogen needs 6.7 times that.
    averaged = 10.0 * (30.0 - 17.0) / (563.0 - 30.0)
    assert averaged == pytest.approx(0.244, abs=5e-4)
    assert mass_for_carbon_nitrogen(GRASS, CARDBOARD, 30.0) / averaged == pytest.approx(6.65, abs=0.01)


def test_dry_content_rounded_nitrogen_is_capped_and_keeps_the_ratio() -> None:
    # 0.10 % N x 563 = 56.3 % C, more than the 44.4 % of cellulose.
    carbon, nitrogen = dry_content(0.001, 563.0, 0.4445)
    assert carbon == 0.4445
    assert carbon / nitrogen == pytest.approx(563.0)
    assert dry_content(0.024, 15.0, 0.4445) == pytest.approx((0.36, 0.024))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: Ingredient(-1.0, 0.1, 0.4, 0.01), "mass"),
        (lambda: Ingredient(1.0, 1.2, 0.4, 0.01), "moisture"),
        (lambda: Ingredient(1.0, 0.1, 0.9, 0.2), "carbon and nitrogen"),
        (lambda: mix_moisture([]), "mass of the mix"),
        (lambda: mix_carbon_nitrogen([Ingredient(1.0, 0.1, 0.4, 0.0)]), "nitrogen of the mix"),
        (lambda: mass_for_carbon_nitrogen(CARDBOARD, CARDBOARD, 30.0), "one side"),
        (lambda: mass_for_carbon_nitrogen(GRASS, CARDBOARD, 0.0), "goal"),
        (lambda: mass_for_moisture(1.0, 0.7, 0.55), "one side"),
        (lambda: mass_for_moisture(1.0, 0.7, 55.0), "moisture"),
        (lambda: dry_content(0.001, 0.0, 0.44), "carbon to nitrogen"),
    ],
)
def test_blend_impossible_input_is_refused(call: object, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()  # type: ignore[operator]


@given(
    brown=st.builds(Ingredient, st.floats(0.1, 100.0), st.floats(0.0, 0.5), st.just(0.44), st.floats(0.0005, 0.004)),
    green=st.builds(Ingredient, st.just(0.0), st.floats(0.3, 0.9), st.floats(0.2, 0.4), st.floats(0.02, 0.06)),
)
def test_mass_for_carbon_nitrogen_mix_meets_the_goal(brown: Ingredient, green: Ingredient) -> None:
    mass = mass_for_carbon_nitrogen(brown, green, 30.0)
    mix = [brown, Ingredient(mass, green.moisture, green.carbon, green.nitrogen)]
    assert mix_carbon_nitrogen(mix) == pytest.approx(30.0)
    water = Ingredient(1.0, 1.0, 0.0, 0.0)
    assert mix_carbon_nitrogen([*mix, water]) == pytest.approx(30.0)  # water leaves the ratio alone
