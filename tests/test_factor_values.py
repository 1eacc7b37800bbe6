"""Outside checks on the values of the paper, binder, making, compost, claims and safety tables.

Checked against, from outside:

- recycling lost, primary less secondary: UK government factors 2025, material use
- latent heat, energy of drying: IAPWS R7-97 steam formulation, independent package
- carbon of polymers and binders: formulas and IUPAC atomic weights
- measured methane yields: Eleazer et al. 1997 (mL per g); carbon of Barlaz 1998 (partly from memory)
- US compost limits: half of 40 CFR 503.13 table 3
- a sample of factor rows: typed again from their sources
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import pytest
from iapws import IAPWS97

from impact.factors.factorset import NOT_FACTORS

FACTORS = Path(__file__).parent.parent / "factors"
WEIGHTS = {"C": 12.011, "H": 1.008, "O": 15.999}  # IUPAC abridged standard atomic weights
STARCH_OR_CELLULOSE = {"C": 6, "H": 10, "O": 5}
BINDERS = ("pva-glue", "corn-starch", "rice-paste", "wheat-paste", "potato-starch", "methyl-cellulose")
PUBLISHED = {"maize-paste": 0.400, "barley-starch": 1.14, "gelatin": 1.509, "agar": 6.043}
"""Footprints as printed, kg CO2e per kg as sold: AGRIBALYSE 4.0 and 3.1.1 (farm and making), a maker's page (barley)."""


@cache
def rows() -> dict[str, dict[str, str]]:
    """Return every factor row by id."""
    found: dict[str, dict[str, str]] = {}
    for path in sorted(FACTORS.glob("*.csv")):
        if path.name not in NOT_FACTORS:
            with path.open(encoding="utf-8", newline="") as stream:
                found.update((row["id"], row) for row in csv.DictReader(stream))
    return found


@cache
def catalogue(kind: str) -> tuple[dict[str, str], ...]:
    with (FACTORS / "catalogue.csv").open(encoding="utf-8", newline="") as stream:
        return tuple(row for row in csv.DictReader(stream) if row["kind"] == kind)


def value(factor_id: str) -> float:
    return float(rows()[factor_id]["value"])


def carbon_share(formula: dict[str, float]) -> float:
    return formula["C"] * WEIGHTS["C"] / sum(count * WEIGHTS[element] for element, count in formula.items())


@pytest.mark.parametrize(
    ("factor_id", "formula"),
    [
        ("binder.carbon.corn-starch", STARCH_OR_CELLULOSE),
        ("binder.carbon.potato-starch", STARCH_OR_CELLULOSE),
        ("binder.doc.corn-starch", STARCH_OR_CELLULOSE),
        ("binder.carbon.pva-glue", {"C": 4, "H": 6, "O": 2}),
        ("binder.carbon.methyl-cellulose", {"C": 7.8, "H": 13.6, "O": 5}),  # 1.8 of three OH carry a CH3
        ("polymer.carbon.PLA", {"C": 3, "H": 4, "O": 2}),
        ("compost.target.carbon-highest", STARCH_OR_CELLULOSE),
    ],
)
def test_carbon_from_atomic_weights_matches_the_row(factor_id: str, formula: dict[str, float]) -> None:
    assert value(factor_id) == pytest.approx(carbon_share(formula), abs=1e-4)


def test_pva_glue_burnt_gives_the_published_carbon_dioxide() -> None:
    # 2.045 kg of CO2 per kg of poly(vinyl acetate): mass of 4 CO2 over that of C4H6O2.
    burnt = value("binder.carbon.pva-glue") * value("binder.fossil-share.pva-glue") * 44.009 / 12.011
    assert burnt == pytest.approx(4 * 44.009 / 86.090, abs=5e-4)


def test_methyl_cellulose_fossil_and_degradable_carbon_add_up_to_all_of_it() -> None:
    total = value("binder.carbon.methyl-cellulose")
    fossil = total * value("binder.fossil-share.methyl-cellulose")
    assert fossil == pytest.approx(0.1154, abs=5e-5)  # 11.54 points of 50.00
    assert fossil + value("binder.doc.methyl-cellulose") == pytest.approx(total, abs=2e-5)


@pytest.mark.parametrize(
    ("grade", "initial_carbon", "implied"),
    [
        # Initial organic carbon by Barlaz 1998 (from memory); half of the decomposed carbon leaves as methane.
        ("corrugated", 0.469, 0.35),
        ("newsprint", 0.492, 0.16),
        ("office", 0.403, 0.58),
        ("magazine", 0.343, 0.26),  # measured as coated paper
    ],
)
def test_measured_yield_implies_the_share_that_decomposes(grade: str, initial_carbon: float, implied: float) -> None:
    gas_carbon = 2.0 * value(f"paper.methane-yield.{grade}") * 12.0 / 16.0
    assert gas_carbon / initial_carbon == pytest.approx(implied, abs=0.0055)


@pytest.mark.parametrize(
    ("grade", "millilitres_per_gram"),
    # Eleazer and others 1997, abstract: mL of CH4 at 0 C and 1 atm per dry g.
    [("corrugated", 152.3), ("newsprint", 74.3), ("office", 217.3), ("magazine", 84.4)],
)
def test_methane_yield_by_mass_matches_the_printed_volume(grade: str, millilitres_per_gram: float) -> None:
    ideal_gas_kg_per_m3 = 16.043 / 22.414
    expected = millilitres_per_gram * ideal_gas_kg_per_m3 / 1000.0
    assert value(f"paper.methane-yield.{grade}") == pytest.approx(expected, rel=1e-3)


def test_methane_yield_of_paper_stays_below_that_of_its_carbon() -> None:
    # Buswell: cellulose gives as much CH4 as CO2, so at most half of its carbon turns into methane.
    most = carbon_share(STARCH_OR_CELLULOSE) / 2.0 * 16.043 / 12.011
    for grade in (row["id"] for row in catalogue("grade") if row["accepted"] == "yes"):
        assert float(rows()[f"paper.methane-yield.{grade}"]["high"]) < most


def test_degradable_carbon_of_dry_paper_agrees_with_the_wet_figure() -> None:
    # IPCC 2006, Vol. 5, Table 2.4: dry matter 0.90, DOC 0.40 of the wet mass, printed with two digits.
    assert value("paper.doc.corrugated") * 0.90 == pytest.approx(0.40, abs=0.005)


def test_a4_sheet_weighs_a_sixteenth_of_a_square_metre() -> None:
    # ISO 216: A0 is 1 m2 (841 mm x 1189 mm), each halving gives the next size; A4 is 210 mm x 297 mm.
    assert rows()["equivalent.a4-sheet"]["unit"] == "g"
    assert value("equivalent.a4-sheet") == pytest.approx(80.0 * 0.210 * 0.297, abs=0.011)
    assert value("equivalent.a4-sheet") == pytest.approx(80.0 / 2**4)


def test_latent_heat_matches_the_steam_formulation_and_a_published_table() -> None:
    assert rows()["drying.latent-heat"]["unit"] == "kJ/kg"
    at_20_c = IAPWS97(T=293.15, x=1).h - IAPWS97(T=293.15, x=0).h
    assert value("drying.latent-heat") == pytest.approx(at_20_c, abs=0.05)
    # A printed table gives 2467.7 at 14 C and 2458.3 at 18 C; carried on along the same line to 20 C.
    assert value("drying.latent-heat") == pytest.approx(2458.3 + (2458.3 - 2467.7) / 4 * 2, abs=0.2)


@pytest.mark.parametrize("dryer", ["convection-oven", "heated-cabinet"])
def test_heated_dryer_never_beats_the_latent_heat(dryer: str) -> None:
    assert float(rows()[f"drying.energy.{dryer}"]["low"]) > value("drying.latent-heat") / 3600.0


def test_dehumidifier_covers_the_three_classes_of_the_rule() -> None:
    # US DOE 2016: at least 1.30, 1.60 and 2.80 L/kWh; one litre of water is one kg.
    row = rows()["drying.energy.dehumidifier"]
    assert float(row["value"]) == pytest.approx(0.769, abs=5e-4)
    assert all(float(row["low"]) <= round(1 / factor, 2) <= float(row["high"]) for factor in (1.30, 1.60, 2.80))


@pytest.mark.parametrize("binder", ["corn-starch", "rice-paste", "wheat-paste", "potato-starch"])
def test_cooking_paste_takes_more_than_the_heat_to_warm_water(binder: str) -> None:
    water_kwh = (IAPWS97(T=368.15, P=0.101325).h - IAPWS97(T=293.15, P=0.101325).h) / 3600.0
    row = rows()[f"binder.preparation.{binder}"]
    assert water_kwh < float(row["low"])
    assert float(row["value"]) > water_kwh / 0.7  # hob efficiency of at most 0.7


@pytest.mark.parametrize(("grade", "difference"), [("office", 0.29500), ("mixed", 0.21973), ("corrugated", 0.10161)])
@pytest.mark.parametrize("geography", ["GBR", "world"])
def test_primary_minus_secondary_fibre_is_the_published_difference(
    grade: str, difference: float, geography: str
) -> None:
    # UK factors 2025, Material use: paper, mixed and board, primary minus closed loop.
    primary = value(f"paper.primary.{grade}/{geography}/2025")
    secondary = value(f"paper.secondary.{grade}/{geography}/2025")
    assert primary - secondary == pytest.approx(difference, abs=5e-6)


@pytest.mark.parametrize(
    ("element", "sludge"),
    # 40 CFR 503.13, Table 3, mg/kg.
    [("As", 41), ("Cd", 39), ("Cu", 1500), ("Pb", 300), ("Hg", 17), ("Ni", 420), ("Se", 100), ("Zn", 2800)],
)
def test_us_compost_limit_is_half_of_the_sludge_limit(element: str, sludge: float) -> None:
    expected = value("compost.criterion.astm-metals-share") * sludge
    assert value(f"compost.limit.ASTM.{element}") == pytest.approx(expected)


def test_european_metal_limits_are_never_laxer_than_the_american() -> None:
    # A published comparison of the standards: apart from Co and Pb the European limits are the lowest.
    for element in ("As", "Cd", "Cu", "Pb", "Hg", "Ni", "Se", "Zn"):
        assert value(f"compost.limit.EN13432.{element}") < value(f"compost.limit.ASTM.{element}")


@pytest.mark.parametrize(
    "ingredient", ["grass-clippings", "leaves", "food-waste", "cattle-manure", "horse-manure", "straw"]
)
def test_ingredient_carbon_from_nitrogen_is_that_of_plant_matter(ingredient: str) -> None:
    carbon = value(f"compost.carbon-nitrogen.{ingredient}") * value(f"compost.nitrogen.{ingredient}")
    assert 0.35 < carbon < 0.60


@pytest.mark.parametrize(("ingredient", "carbon"), [("corrugated", 0.563), ("newsprint", 0.625)])
def test_handbook_carbon_of_paper_above_the_cap_is_said_so(ingredient: str, carbon: float) -> None:
    row = rows()[f"compost.nitrogen.{ingredient}"]
    assert value(f"compost.carbon-nitrogen.{ingredient}") * float(row["value"]) == pytest.approx(carbon)
    assert carbon > value("compost.target.carbon-highest")
    assert "cap the carbon" in row["notes"]


def test_excluded_grades_give_a_reason_and_have_no_factors() -> None:
    excluded = [row for row in catalogue("grade") if row["accepted"] == "no"]
    assert {row["id"] for row in excluded} == {"coated", "laminated", "thermal"}
    for row in excluded:
        assert len(row["reason"]) > 40
        assert not [factor_id for factor_id in rows() if factor_id.split("/")[0].endswith(f".{row['id']}")]


def test_binders_and_dryers_of_the_catalogue_have_every_factor() -> None:
    binders = {row["id"] for row in catalogue("binder")}
    assert binders == {*BINDERS, *PUBLISHED, "none"}
    keys = ("solids", "carbon", "fossil-share", "doc", "docf", "footprint", "preparation", "dose")
    wanted = {f"binder.{key}.{binder}" for key in keys for binder in (*BINDERS, *PUBLISHED)}
    wanted |= {f"drying.energy.{row['id']}" for row in catalogue("dryer")} | {"drying.energy.unrecorded"}
    assert not wanted - rows().keys()


@pytest.mark.parametrize(
    ("binder", "least", "most"),
    [
        # EPiC 2019, wood glue (PVA): 5.4 hybrid, of which process 0.48.
        ("pva-glue", 5.4 * 0.48, 5.4),
        # AGRIBALYSE 3.1.1 and 4.0, at the mill, per kg as sold; dry matter 0.88, 0.86 and 0.87.
        ("corn-starch", 0.846 / 0.88, 1.2449667 / 0.88),
        ("wheat-paste", (0.54040859 + 0.03872126) / 0.86, (0.551 + 0.036) / 0.86),
        ("rice-paste", 2.156 / 0.87, 2.576 / 0.87),
        # A Swedish maker 2022, and the high end of the Finnish study, per kg as sold; dry matter 0.82.
        ("potato-starch", 0.35 / 0.82, 1.5 / 0.82),
        # One maker of methyl cellulose, after and before its change of caustic soda.
        ("methyl-cellulose", 2.7, 3.0),
    ],
)
def test_binder_footprint_spans_what_was_seen_of_it(binder: str, least: float, most: float) -> None:
    row = rows()[f"binder.footprint.{binder}"]
    assert row["evidence"] in ("seen", "computed")
    assert float(row["low"]) <= least <= float(row["value"]) + 1e-6
    assert float(row["value"]) <= most + 1e-6 <= float(row["high"]) + 2e-6


def test_binder_with_a_published_footprint_has_it_per_dry_kg() -> None:
    for binder, as_sold in PUBLISHED.items():
        row = rows()[f"binder.footprint.{binder}"]
        assert row["source"] != "practice"
        water = 1.0 - as_sold / float(row["value"])
        assert row["derived"].endswith(f"/ (1 - {water:.2f})")
        assert 0.1 <= water <= 0.16


def test_proxies_are_named_as_assumptions() -> None:
    for grade in ("boxboard", "kraft", "moulded-fibre", "magazine", "tissue", "mixed"):
        for key in ("methane-yield", "carbon-storage"):
            row = rows()[f"paper.{key}.{grade}"]
            assert row["notes"].startswith("Proxy: assumption")
            assert row["evidence"] == "computed"


@pytest.mark.parametrize(
    ("factor_id", "number", "unit", "source", "locator", "evidence"),
    [
        # UK Government conversion factors 2025, flat file, Material use.
        (
            "paper.primary.boxboard/GBR/2025",
            "1.19972542",
            "kgCO2e/kg",
            "DESNZ2025",
            "19_506_5156_15_1",
            "secondary copy",
        ),
        (
            "paper.secondary.kraft/GBR/2025",
            "1.09811442",
            "kgCO2e/kg",
            "DESNZ2025",
            "19_506_5159_15_1",
            "secondary copy",
        ),
        ("paper.primary.mixed/GBR/2025", "1.28850358", "kgCO2e/kg", "DESNZ2025", "19_506_5160_15_1", "secondary copy"),
        (
            "paper.secondary.mixed/GBR/2025",
            "1.06877475",
            "kgCO2e/kg",
            "DESNZ2025",
            "19_506_5163_15_1",
            "secondary copy",
        ),
        (
            "paper.primary.newsprint/GBR/2025",
            "1.3450779",
            "kgCO2e/kg",
            "DESNZ2025",
            "19_506_5164_15_1",
            "secondary copy",
        ),
        (
            "paper.secondary.tissue/GBR/2025",
            "1.0500779",
            "kgCO2e/kg",
            "DESNZ2025",
            "19_506_5167_15_1",
            "secondary copy",
        ),
        # IPCC 2006 Guidelines, Vol. 5, Table 2.4; 2019 Refinement, Table 3.0.
        ("paper.carbon.office", "0.46", "kg/kg", "IPCC2006V5", "Table 2.4", "secondary copy"),
        ("paper.fossil-share.mixed", "0.01", "1", "IPCC2006V5", "Table 2.4", "secondary copy"),
        ("paper.doc.newsprint", "0.44", "kg/kg", "IPCC2006V5", "Table 2.4", "secondary copy"),
        ("paper.docf.corrugated", "0.5", "1", "IPCC2019V5", "Table 3.0", "secondary copy"),
        ("binder.docf.corn-starch", "0.7", "1", "IPCC2019V5", "Table 3.0", "secondary copy"),
        # Barlaz 1998, abstract.
        ("paper.carbon-storage.newsprint", "0.42", "kg/kg", "BARLAZ1998", "newsprint", "secondary copy"),
        ("paper.carbon-storage.office", "0.05", "kg/kg", "BARLAZ1998", "office", "secondary copy"),
        # Ferrandez-Garcia and others 2012: 10 % binder.
        ("binder.dose.wheat-paste", "0.1", "kg/kg", "FERRANDEZ2012", "5904", "secondary copy"),
        # IAPWS-97 at 20 C.
        ("drying.latent-heat", "2453.55", "kJ/kg", "IAPWS97", "20 C", "computed"),
        # EN 13432, Table A.1.
        ("compost.limit.EN13432.Zn", "150", "mg/kg", "EN13432", "A.1", "secondary copy"),
        ("compost.limit.EN13432.Cd", "0.5", "mg/kg", "EN13432", "A.1", "secondary copy"),
        ("compost.limit.EN13432.F", "100", "mg/kg", "EN13432", "A.1", "from memory"),
        # Constituents without a test of their own: 1 % each, 5 % together.
        ("compost.criterion.constituent-single", "0.01", "1", "EN13432", "4.2.2", "from memory"),
        ("compost.criterion.constituent-total", "0.05", "1", "EN13432", "constituent-single", "from memory"),
        # NRAES-54, Table A.1.
        ("compost.carbon-nitrogen.corrugated", "563", "kg/kg", "NRAES54", "Table A.1", "from memory"),
        ("compost.nitrogen.food-waste", "0.024", "kg/kg", "NRAES54", "Table A.1", "from memory"),
        ("compost.moisture.grass-clippings", "0.82", "1", "NRAES54", "Table A.1", "from memory"),
        # Regulation (EU) 2025/40: 25 ppb; Regulation (EU) 2016/2235: 0.02 % by mass.
        ("compost.restriction.pfas-single", "0.025", "mg/kg", "EU2025-40", "5(5)(a)", "computed"),
        ("compost.restriction.bisphenol-a", "200", "mg/kg", "EU2016-2235", "66", "computed"),
        # 16 CFR 260.12(b)(1); PAS 2050:2008, Annex B.1.1; HSE page on paper dust.
        ("claim.threshold.recyclable-access", "0.6", "1", "16CFR260", "260.12(b)(1)", "seen"),
        ("claim.threshold.delayed-release-per-year", "0.0076", "1", "PAS2050-2008", "B.1.1", "from memory"),
        ("safety.paper-dust.inhalable/GBR", "10", "mg/m3", "HSEPAPER", "exposure", "seen"),
    ],
)
def test_sample_of_rows_retyped_from_the_sources_agrees(
    factor_id: str, number: str, unit: str, source: str, locator: str, evidence: str
) -> None:
    row = rows()[factor_id]
    assert (row["value"], row["unit"], row["source"], row["evidence"]) == (number, unit, source, evidence)
    assert locator in row["locator"]
