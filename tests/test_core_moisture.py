"""Wet and dry basis, binder solids, water to evaporate.

Checked against, from outside:

- water in a pressed mat: a trade description of moulded pulp (secondary copy)
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from impact.core.moisture import as_weighed, dry_mass, unaccounted_share, water_to_evaporate
from tests.elementwise import assert_elementwise


def test_dry_mass_is_on_the_wet_basis() -> None:
    assert dry_mass(2.0, 0.08) == pytest.approx(1.84)


@pytest.mark.parametrize("moisture", [-0.01, 8.0, float("nan")])
def test_dry_mass_moisture_outside_0_to_1_is_refused(moisture: float) -> None:
    with pytest.raises(ValueError, match=f"moisture is {moisture!r}; accepted: 0 to 1"):
        dry_mass(1.0, moisture)


def test_as_weighed_adds_the_water() -> None:
    assert as_weighed(0.9, 0.1) == pytest.approx(1.0)


@pytest.mark.parametrize("moisture", [-0.1, 1.0])
def test_as_weighed_moisture_of_1_or_below_0_is_refused(moisture: float) -> None:
    with pytest.raises(ValueError, match=f"moisture is {moisture!r}; accepted: 0 up to, not including, 1"):
        as_weighed(1.0, moisture)


@settings(deadline=None, max_examples=50)
@given(mass=st.floats(0.0, 1e4), moisture=st.floats(0.0, 0.99))
def test_as_weighed_undoes_dry_mass(mass: float, moisture: float) -> None:
    assert as_weighed(dry_mass(mass, moisture), moisture) == pytest.approx(mass, rel=1e-12)


def test_water_to_evaporate_moulded_pulp_matches_published_figure() -> None:
    # Trade description of moulded pulp, seen in a secondary copy: a mat of 40 % solids has about 1.5 kg of water
    # to remove per kg of dry fibre.
    assert water_to_evaporate(1.0, solids_in=0.40, solids_out=1.0) == pytest.approx(1.5)


def test_water_to_evaporate_drier_than_wanted_is_zero() -> None:
    assert water_to_evaporate(1.0, solids_in=0.95, solids_out=0.92) == 0.0


@settings(deadline=None, max_examples=50)
@given(dry=st.floats(0.01, 100.0), solids_in=st.floats(0.05, 0.9), gain=st.floats(0.0, 0.1))
def test_water_to_evaporate_is_what_the_mass_loses(dry: float, solids_in: float, gain: float) -> None:
    lost = as_weighed(dry, 1.0 - solids_in) - as_weighed(dry, 1.0 - solids_in - gain)
    assert water_to_evaporate(dry, solids_in=solids_in, solids_out=solids_in + gain) == pytest.approx(lost, abs=1e-9)


@pytest.mark.parametrize(
    ("solids_in", "solids_out", "message"),
    [(0.0, 0.9, r"solids share is 0\.0; accepted: above 0"), (0.4, 92.0, r"solids share is 92\.0; accepted: 0 to 1")],
)
def test_water_to_evaporate_impossible_solids_are_refused(solids_in: float, solids_out: float, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        water_to_evaporate(1.0, solids_in=solids_in, solids_out=solids_out)


@pytest.mark.parametrize(("out_kg", "share"), [(1.8, 0.1), (2.0, 0.0), (2.5, -0.25)])
def test_unaccounted_share_is_positive_for_a_loss(out_kg: float, share: float) -> None:
    assert unaccounted_share(2.0, out_kg) == pytest.approx(share)


def test_unaccounted_share_nothing_in_is_zero() -> None:
    assert unaccounted_share(0.0, 1.0) == 0.0


def test_moisture_functions_arrays_match_scalars() -> None:
    assert_elementwise(dry_mass, mass_kg=[2.0, 3.0], moisture=[0.08, 0.5])
    assert_elementwise(as_weighed, dry_kg=[2.0, 3.0], moisture=[0.08, 0.5])
    assert_elementwise(water_to_evaporate, dry_kg=[1.0, 2.0], solids_in=[0.3, 0.95], solids_out=[0.92, 0.92])
    assert_elementwise(unaccounted_share, in_kg=[2.0, 0.0, 1.0], out_kg=[1.8, 1.0, 1.5])
