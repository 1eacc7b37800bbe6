"""The moulded part: electricity, heat, drying, moulds.

Checked against, from outside:

- UK electricity, parts to total: UK government factors 2025, 2026
- latent heat, energy of drying: IAPWS R7-97 steam formulation, independent package
- a shared fan: published rating × eGRID2023, by hand
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from iapws import IAPWS97

from impact.core import normalised
from impact.core.footprint import delivered_electricity, drying_energy, mould_per_pressing, room_heat, weighted_by_fate
from impact.factors.factorset import read_factors
from tests.elementwise import assert_elementwise

AMOUNTS = st.floats(-100.0, 100.0)


def enthalpy(celsius: float, steam: float) -> float:
    """Return the enthalpy of saturated water (steam 0) or steam (1) by IAPWS R7-97. [kWh/kg]"""
    return float(IAPWS97(T=celsius + 273.15, x=steam).h) / 3600.0


def test_delivered_electricity_uk_2025_sums_to_the_published_parts() -> None:
    # DESNZ, "UK Government GHG conversion factors for company reporting", 2025: generation 0.17700, its fuel supply
    # 0.04590, losses of the network 0.01853 and their fuel supply 0.00397; added by hand 0.24540 kg CO2e per kWh.
    delivered = delivered_electricity(0.17700, upstream=0.04590, network=0.01853 + 0.00397)
    assert delivered == pytest.approx(0.24540, abs=5e-6)


def test_delivered_electricity_loss_share_divides_generation_and_upstream() -> None:
    assert delivered_electricity(0.38, upstream=0.038, loss=0.05) == pytest.approx(0.44)


def test_delivered_electricity_fan_of_eight_parts_matches_hand_calculation() -> None:
    # A box fan on low draws 56 W (published appliance rating); the US mean of the EPA's eGRID 2023 is
    # 0.349667 kg CO2e per kWh. 36 h over 8 parts: 0.252 kWh and 0.088 kg CO2e a part.
    part_kwh = 36.0 * 0.056 / 8.0
    assert part_kwh * delivered_electricity(0.349667) == pytest.approx(0.088, abs=5e-4)


@pytest.mark.parametrize(
    ("loss", "message"),
    [(-0.05, r"network loss is -0\.05; accepted: 0 to 1"), (1.0, r"delivered share is 0\.0; accepted: above 0")],
)
def test_delivered_electricity_impossible_loss_is_refused(loss: float, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        delivered_electricity(0.4, loss=loss)


@pytest.mark.parametrize(("celsius", "least"), [(20.0, 0.6815), (60.0, 0.7014), (100.0, 0.7199)])
def test_drying_energy_one_kg_of_water_matches_steam_tables(celsius: float, least: float) -> None:
    # IAPWS R7-97: kWh to turn one kg of water at 20 C into steam at 20, 60 and 100 C; four decimals, computed.
    # A part of 1 kg dry matter pressed to 50 % solids holds that kilogram.
    energy = drying_energy(1.0, solids_in=0.5, solids_out=1.0, specific_kwh=least)
    assert energy == pytest.approx(enthalpy(celsius, 1.0) - enthalpy(20.0, 0.0), abs=5e-5)


def test_drying_energy_part_dry_already_is_zero() -> None:
    assert drying_energy(0.3, solids_in=0.95, solids_out=0.92, specific_kwh=1.4) == 0.0


def test_drying_energy_solids_in_percent_are_refused() -> None:
    with pytest.raises(ValueError, match=r"solids share is 30\.0; accepted: 0 to 1"):
        drying_energy(1.0, solids_in=30.0, solids_out=0.92, specific_kwh=1.4)


def test_room_heat_heat_pump_matches_latent_heat_of_steam_tables() -> None:
    # 2453.55 kJ/kg at 20 C (IAPWS R7-97, computed), a heat pump of 3, electricity of 0.3 kg CO2e per kWh.
    heat = room_heat(2.0, latent_kwh=enthalpy(20.0, 1.0) - enthalpy(20.0, 0.0), efficiency=3.0, heat=0.3)
    assert heat == pytest.approx(2.0 * 2453.55 / 3600.0 / 3.0 * 0.3, rel=1e-5)


def test_room_heat_shipped_latent_heat_matches_steam_tables() -> None:
    # IAPWS R7-97 at 20 C; the row is rounded to 0.01 kJ/kg.
    (row,) = read_factors().by_key["drying.latent-heat"]
    heat = room_heat(1.0, latent_kwh=row.value, efficiency=1.0, heat=1.0)
    assert heat == pytest.approx(enthalpy(20.0, 1.0) - enthalpy(20.0, 0.0), abs=0.005 / 3600.0)


def test_room_heat_efficiency_of_zero_is_refused() -> None:
    with pytest.raises(ValueError, match=r"heating efficiency is 0\.0; accepted: above 0"):
        room_heat(1.0, latent_kwh=0.68, efficiency=0.0, heat=0.2)


def test_mould_per_pressing_shares_material_printing_and_disposal() -> None:
    assert mould_per_pressing(1.2, 0.7, 0.1, pressings=50.0) == pytest.approx(0.04)


@pytest.mark.parametrize("pressings", [0.0, -3.0])
def test_mould_per_pressing_no_pressing_is_refused(pressings: float) -> None:
    with pytest.raises(ValueError, match=f"pressings of a mould is {pressings!r}; accepted: above 0"):
        mould_per_pressing(1.0, 0.5, 0.1, pressings=pressings)


def test_weighted_by_fate_is_the_mean_over_routes() -> None:
    assert weighted_by_fate([0.5, 0.3, 0.2], [2.0, -1.0, 0.5]) == pytest.approx(0.8)


@settings(deadline=None, max_examples=50)
@given(
    routes=st.lists(st.tuples(st.floats(0.01, 1.0), AMOUNTS, AMOUNTS), min_size=1, max_size=4),
    first=AMOUNTS,
    second=AMOUNTS,
)
def test_weighted_by_fate_is_linear_in_the_impacts(
    routes: list[tuple[float, float, float]], first: float, second: float
) -> None:
    shares, one, other = (list(column) for column in zip(*routes, strict=True))
    mixed = [first * a + second * b for a, b in zip(one, other, strict=True)]
    expected = first * weighted_by_fate(shares, one) + second * weighted_by_fate(shares, other)
    assert weighted_by_fate(shares, mixed) == pytest.approx(expected, rel=1e-9, abs=1e-7)


def test_weighted_by_fate_missing_impact_is_refused() -> None:
    with pytest.raises(ValueError, match="shorter"):
        weighted_by_fate([0.5, 0.5], [1.0])


@settings(deadline=None, max_examples=50)
@given(shares=st.lists(st.floats(0.01, 100.0), min_size=1, max_size=4))
def test_normalised_shares_add_up_to_1_and_keep_their_ratios(shares: list[float]) -> None:
    result = normalised(shares)
    assert sum(result) == pytest.approx(1.0)
    assert [share * sum(shares) for share in result] == pytest.approx(shares)


def test_normalised_all_zero_is_refused() -> None:
    with pytest.raises(ValueError, match=r"sum of the shares is 0\.0; accepted: above 0"):
        normalised([0.0, 0.0])


def test_footprint_functions_arrays_match_scalars() -> None:
    grid = {"generation": [0.2, 0.4], "upstream": [0.05, 0.0], "network": [0.02, 0.0], "loss": [0.0, 0.05]}
    assert_elementwise(delivered_electricity, **grid)
    solids = {"solids_in": [0.3, 0.95], "solids_out": [0.92, 0.92]}
    assert_elementwise(drying_energy, dry_kg=[0.5, 2.0], **solids, specific_kwh=[0.7, 1.4])
    assert_elementwise(
        room_heat,
        evaporated_kg=[1.0, 2.0],
        from_room=[1.0, 0.5],
        latent_kwh=[0.68, 0.67],
        efficiency=[0.9, 3.0],
        heat=[0.2, 0.3],
    )
    mould = {"material_kgco2e": [1.0, 2.0], "printing_kgco2e": [0.5, 0.0], "end_of_life_kgco2e": [0.1, -0.1]}
    assert_elementwise(mould_per_pressing, **mould, pressings=[50.0, 7.0])
    assert_elementwise(
        lambda landfill, burning: weighted_by_fate([0.7, 0.3], [landfill, burning]),
        landfill=[1.0, 2.0],
        burning=[-0.5, 0.5],
    )
    assert_elementwise(lambda first, second: normalised([first, second])[0], first=[1.0, 2.0], second=[3.0, 0.0])
