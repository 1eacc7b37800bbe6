from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from impact.core.plastic import equal_stiffness_mass, formed_route, per_service, resin_route, same_volume_mass
from tests.elementwise import assert_elementwise

PP = {"fibre_modulus": 1.4e9, "fibre_density": 905.0}
STIFFNESS = {"fibre_density": 600.0, "plastic_density": 905.0, "fibre_modulus": 1.0e9, "plastic_modulus": 1.4e9}


def test_same_volume_mass_is_volume_times_density() -> None:
    assert same_volume_mass(1.0e-4, 905.0) == pytest.approx(0.0905)


@pytest.mark.parametrize(
    ("volume", "density", "message"),
    [(0.0, 905.0, r"volume is 0\.0; accepted: above 0"), (1e-4, -1.0, r"density is -1\.0; accepted: above 0")],
)
def test_same_volume_mass_not_above_0_is_refused(volume: float, density: float, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        same_volume_mass(volume, density)


@pytest.mark.parametrize(
    ("modulus_gpa", "density", "tie", "beam", "panel"),
    [
        (1.1, 960.0, 1.350, 1.197, 1.150),  # HDPE
        (2.0, 1050.0, 0.812, 0.971, 1.030),  # ABS
        (3.5, 1240.0, 0.548, 0.867, 1.010),  # PLA
        (3.6, 750.0, 0.322, 0.517, 0.605),  # dense fibreboard
        (1.0, 600.0, 0.928, 0.784, 0.742),  # pressed pulp
        (0.3, 300.0, 1.547, 0.716, 0.554),  # moulded pulp
    ],
)
def test_equal_stiffness_mass_against_polypropylene_matches_indices(
    modulus_gpa: float, density: float, tie: float, beam: float, panel: float
) -> None:
    # M. F. Ashby, "Materials Selection in Mechanical Design": least mass at given stiffness goes with the indices
    # E/rho (tie), E^(1/2)/rho (beam), E^(1/3)/rho (panel). Ratios to polypropylene of 1.4 GPa and 905 kg/m3 worked
    # out apart from this code on illustrative properties, three decimals: computed, not published.
    for exponent, ratio in ((1.0, tie), (1.0 / 2.0, beam), (1.0 / 3.0, panel)):
        mass = equal_stiffness_mass(
            1.0, **PP, plastic_modulus=modulus_gpa * 1e9, plastic_density=density, exponent=exponent
        )
        assert mass == pytest.approx(ratio, abs=5e-4)


def test_equal_stiffness_mass_default_is_the_flat_panel() -> None:
    by_thickness = 0.2 / 600.0 * (1.0 / 1.4) ** (1.0 / 3.0) * 905.0  # area x thickness ratio x density
    assert equal_stiffness_mass(0.2, **STIFFNESS) == pytest.approx(by_thickness)


@pytest.mark.parametrize(
    ("name", "message"),
    [("plastic_density", "density is 0"), ("fibre_modulus", "modulus is 0"), ("plastic_modulus", "modulus is 0")],
)
def test_equal_stiffness_mass_property_of_zero_is_refused(name: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        equal_stiffness_mass(1.0, **{**STIFFNESS, name: 0.0})


def test_resin_route_scrap_and_conversion_are_added() -> None:
    # 0.5 x (1.9 / 0.95 + 1.5 x 0.4)
    assert resin_route(0.5, resin=1.9, scrap=0.05, conversion_kwh=1.5, grid=0.4) == pytest.approx(1.3)


@pytest.mark.parametrize(
    ("scrap", "message"), [(1.0, r"yield of forming is 0\.0; accepted: above 0"), (-0.1, r"scrap share is -0\.1")]
)
def test_resin_route_impossible_scrap_is_refused(scrap: float, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        resin_route(1.0, resin=1.9, scrap=scrap, conversion_kwh=1.5, grid=0.4)


def test_formed_route_adds_no_conversion() -> None:
    assert formed_route(0.5, formed=2.578) == pytest.approx(1.289)


def test_per_service_part_of_one_year_bears_a_fifth_of_five_years() -> None:
    assert per_service(2.0, fibre_life_years=1.0, plastic_life_years=5.0) == pytest.approx(0.4)


@settings(deadline=None, max_examples=50)
@given(footprint=st.floats(-10.0, 10.0), fibre=st.floats(0.1, 50.0), plastic=st.floats(0.1, 50.0))
def test_per_service_swapped_lives_undo_it(footprint: float, fibre: float, plastic: float) -> None:
    there = per_service(footprint, fibre_life_years=fibre, plastic_life_years=plastic)
    assert per_service(there, fibre_life_years=plastic, plastic_life_years=fibre) == pytest.approx(footprint)


@pytest.mark.parametrize("lives", [(0.0, 5.0), (1.0, 0.0)])
def test_per_service_life_of_zero_is_refused(lives: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match=r"service life is 0\.0; accepted: above 0"):
        per_service(1.0, fibre_life_years=lives[0], plastic_life_years=lives[1])


def test_plastic_functions_arrays_match_scalars() -> None:
    assert_elementwise(same_volume_mass, volume_m3=[1e-4, 2e-4], density=[905.0, 1050.0])
    stiffness = {name: [value, 1.3 * value] for name, value in STIFFNESS.items() if name != "plastic_modulus"}
    assert_elementwise(equal_stiffness_mass, fibre_mass_kg=[0.1, 0.2], **stiffness, plastic_modulus=[1.4e9, 2.0e9])
    forming = {"scrap": [0.0, 0.05], "conversion_kwh": [1.5, 0.6], "grid": [0.4, 0.2]}
    assert_elementwise(resin_route, mass_kg=[0.1, 0.2], resin=[1.9, 3.1], **forming)
    assert_elementwise(formed_route, mass_kg=[0.1, 0.2], formed=[2.6, 3.1])
    lives = {"fibre_life_years": [1.0, 2.0], "plastic_life_years": [5.0, 1.0]}
    assert_elementwise(per_service, footprint=[1.0, 2.0], **lives)
