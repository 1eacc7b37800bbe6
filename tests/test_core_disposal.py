"""Incineration, composting and recycling lost: the equations of the core.

Checked against, from outside:

- fossil CO2 of burning: Burnley, Waste Management 27 (2007); IPCC 2006 vol. 5 table 2.4; stoichiometry
- composting, dry and wet: IPCC 2006 vol. 5 table 4.1
- warming potentials: IPCC AR4, AR5, AR6 tables in an independent package
- recycling lost, primary less secondary: UK government factors 2025, material use
"""

from __future__ import annotations

import globalwarmingpotentials
import pytest

from impact.core.disposal import composting, fossil_co2, incineration, lost_recycling
from impact.factors.factorset import read_factors
from tests.elementwise import assert_elementwise

ATOMIC_MASS = {"C": 12.011, "H": 1.008, "O": 15.999, "Cl": 35.45}  # IUPAC abridged standard atomic weights, 2021
BURNING = {"oxidation": 1.0, "trace_gases_kgco2e": 0.05}


@pytest.mark.parametrize(
    ("formula", "carbon"),
    [
        ({"C": 4, "H": 6, "O": 2}, 0.5581),  # poly(vinyl acetate)
        ({"C": 3, "H": 4, "O": 2}, 0.5000),  # poly(lactic acid)
        ({"C": 6, "H": 10, "O": 5}, 0.4445),  # starch
        ({"C": 1, "H": 2}, 0.8563),  # polyethylene, polypropylene
        ({"C": 8, "H": 8}, 0.9226),  # polystyrene
        ({"C": 10, "H": 8, "O": 4}, 0.6250),  # poly(ethylene terephthalate)
        ({"C": 2, "H": 3, "Cl": 1}, 0.3844),  # poly(vinyl chloride)
    ],
)
def test_fossil_co2_all_fossil_matches_stoichiometry_of_the_repeat_unit(formula: dict[str, int], carbon: float) -> None:
    # One mol of carbon burns to one mol of CO2, 44.009 g; 0.1 % because IPCC 2006 vol. 5 eq. 5.2 rounds to 44/12.
    mass = sum(ATOMIC_MASS[element] * count for element, count in formula.items())
    assert carbon == pytest.approx(formula["C"] * ATOMIC_MASS["C"] / mass, abs=5e-5)
    assert fossil_co2(carbon, 1.0) == pytest.approx(formula["C"] * 44.009 / mass, rel=1e-3)


def test_fossil_co2_unburnt_carbon_gives_none() -> None:
    assert fossil_co2(0.6, 0.5, oxidation=0.9) == pytest.approx(0.99)


def test_fossil_co2_waste_with_340_kg_of_carbon_matches_published_figure() -> None:
    # Burnley, Waste Management 27 (2007) 327-336, seen in a secondary copy: 1,246 kg CO2 per t (1,246.7 cut off).
    assert 1000.0 * fossil_co2(0.340, 1.0) == pytest.approx(1246.0, abs=1.0)


def test_fossil_co2_ipcc_defaults_of_paper_match_the_published_parameters() -> None:
    # IPCC 2006 Guidelines, vol. 5, ch. 2, table 2.4: dry matter 0.90, carbon 0.46 of it, 1 % of that fossil;
    # multiplied by hand: 15.2 kg of fossil CO2 per t of wet paper.
    assert 1000.0 * 0.90 * fossil_co2(0.46, 0.01) == pytest.approx(15.2, abs=0.05)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((46.0, 0.01, 1.0), r"carbon content is 46\.0; accepted: 0 to 1"),
        ((0.46, -0.01, 1.0), r"fossil share is -0\.01"),
        ((0.46, 0.01, 1.1), r"oxidised share is 1\.1"),
    ],
)
def test_fossil_co2_outside_0_to_1_is_refused(arguments: tuple[float, float, float], message: str) -> None:
    carbon, fossil_share, oxidation = arguments
    with pytest.raises(ValueError, match=message):
        fossil_co2(carbon, fossil_share, oxidation=oxidation)


def test_incineration_fossil_carbon_and_trace_gases_are_added() -> None:
    # 0.6 x 0.5 x 44/12 + 0.05
    assert incineration(0.6, 0.5, **BURNING) == pytest.approx(1.1 + 0.05)


def test_incineration_carbon_above_1_is_refused() -> None:
    with pytest.raises(ValueError, match="carbon content is 2"):
        incineration(2.0, 0.5, **BURNING)


def test_composting_dry_and_wet_columns_agree_at_the_published_dry_matter() -> None:
    # IPCC 2006 Guidelines, vol. 5, ch. 4, table 4.1 as corrected: 10 g CH4 and 0.6 g N2O per kg dry, 4 g and 0.24 g
    # per kg wet, at 60 % moisture. With the AR5 potentials 28 and 265 one dry kg gives 0.28 + 0.159 kg CO2e.
    dry = composting(0.010, 0.0006, methane_gwp=28.0, nitrous_oxide_gwp=265.0)
    wet = composting(0.004, 0.00024, methane_gwp=28.0, nitrous_oxide_gwp=265.0)
    assert dry == pytest.approx(0.439)
    assert wet == pytest.approx(0.40 * dry)


@pytest.mark.parametrize("report", ["AR4", "AR5", "AR6"])
def test_composting_shipped_warming_potentials_match_published_tables(report: str) -> None:
    # IPCC: AR4 WG1 table 2.14, AR5 WG1 table 8.A.1, AR6 WG1 table 7.SM.7. The last has one methane, 27.9, between
    # the 27.0 (non-fossil) and 29.8 (fossil) of table 7.15.
    rows = {factor.id: factor.value for factor in read_factors()}
    published = globalwarmingpotentials.data[f"{report}GWP100"]
    non_fossil, fossil = (rows[f"gwp.methane-{origin}/world/{report}"] for origin in ("non-fossil", "fossil"))
    assert rows[f"gwp.nitrous-oxide/world/{report}"] == published["N2O"]
    assert non_fossil == published["CH4"] or non_fossil < published["CH4"] < fossil
    emission = composting(0.010, 0.0, methane_gwp=non_fossil, nitrous_oxide_gwp=0.0)
    assert emission == pytest.approx(0.010 * published["CH4"], rel=0.04 if report == "AR6" else 1e-12)


@pytest.mark.parametrize(
    ("primary", "secondary", "penalty"), [(1.345, 1.050, 0.295), (1.289, 1.069, 0.220), (1.200, 1.098, 0.102)]
)
def test_lost_recycling_uk_paper_mixed_and_board_is_the_difference(
    primary: float, secondary: float, penalty: float
) -> None:
    # DESNZ, "UK Government GHG conversion factors for company reporting", 2025, material use, kg CO2e per kg of
    # primary and closed-loop paper, mixed paper, board; three decimals each.
    assert lost_recycling(primary, secondary, recycling_yield=1.0) == pytest.approx(penalty, abs=0.001)


def test_lost_recycling_yield_above_1_is_refused() -> None:
    with pytest.raises(ValueError, match=r"recycling yield is 85\.0; accepted: 0 to 1"):
        lost_recycling(1.3, 1.0, recycling_yield=85.0)


def test_disposal_functions_arrays_match_scalars() -> None:
    assert_elementwise(fossil_co2, carbon=[0.46, 0.6], fossil_share=[0.01, 1.0], oxidation=[1.0, 0.98])
    burning = {name: [value, 2.0 * value] for name, value in BURNING.items() if name != "oxidation"}
    assert_elementwise(incineration, carbon=[0.46, 0.6], fossil_share=[0.0, 1.0], oxidation=[1.0, 0.9], **burning)
    gases = {"methane_kg": [0.01, 0.02], "nitrous_oxide_kg": [6e-4, 0.0]}
    assert_elementwise(composting, **gases, methane_gwp=[27.0, 28.0], nitrous_oxide_gwp=[273.0, 265.0])
    assert_elementwise(lost_recycling, primary=[1.3, 0.9], secondary=[1.0, 1.1], recycling_yield=[0.85, 1.0])
