"""What must hold for any workshop: linearity, additivity, shared draws, and hand-worked figures.

Checked against, from outside:

- a shared fan: published rating × eGRID2023, by hand
"""

from __future__ import annotations

import dataclasses
import itertools
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from impact.account.amounts import take_stock
from impact.account.inventory import STAGES, merged
from impact.account.results import Results
from impact.api import load
from impact.base.catalogue import Names, read_names
from impact.base.problems import ProblemsError
from impact.factors.factorset import FactorSet, read_factors
from impact.records.batchtable import BatchTable
from impact.records.demonstration import DEMO
from impact.records.workshop import Drying, FateSplit, Mould, Workshop
from impact.study import assess
from tests.frames import PLAIN, batches, part, workshop


@cache
def factors() -> FactorSet:
    return read_factors()


@cache
def names() -> Names:
    return read_names()


@cache
def demo() -> Results:
    return load(DEMO).assess(draws=2000)


def run(shop: Workshop, rows: list[dict[str, Any]], **options: Any) -> Results:
    return assess(shop, batches(rows), factors(), names=names(), **{"draws": 300, **options})


amounts = st.fixed_dictionaries(
    {
        "paper.corrugated_kg": st.floats(0.4, 3.0),
        "paper.office_kg": st.floats(0.0, 1.0),
        "moisture": st.one_of(st.just(float("nan")), st.floats(0.02, 0.12)),
        "binder": st.sampled_from(["none", "pva-glue", "corn-starch", "rice-paste"]),
        "drying_kwh": st.one_of(st.just(float("nan")), st.floats(0.0, 3.0)),
        "blending_kwh": st.one_of(st.just(float("nan")), st.floats(0.0, 0.5)),
        "water_l": st.one_of(st.just(float("nan")), st.floats(0.0, 20.0)),
        "transport_km": st.one_of(st.just(float("nan")), st.floats(0.0, 20.0)),
        "rejects": st.one_of(st.just(float("nan")), st.integers(0, 1).map(float)),
        "rejects_to": st.sampled_from(["", "landfill", "own rejects", "composting"]),
        "fate": st.sampled_from(["", "landfill", "recycling"]),
    }
)


def closed(row: dict[str, Any]) -> dict[str, Any]:
    """Return a batch whose parts weigh a little less than what went in."""
    dry = (row["paper.corrugated_kg"] + row["paper.office_kg"]) * 0.9
    return {**row, "good_parts": 10.0, "part_mass_kg": dry / 12.0, "trim_kg": 0.0}


def _centre(figure: Any) -> float:
    return float(getattr(figure, "value", figure))


@settings(max_examples=25, deadline=None)
@given(st.lists(amounts.map(closed), min_size=1, max_size=5))
def test_assess_twice_the_batches_gives_twice_the_totals(rows: list[dict[str, Any]]) -> None:
    once, twice = run(workshop(), rows), run(workshop(), rows + rows)
    for field in (
        "collected_kg",
        "dry_fibre_kg",
        "put_to_use_kg",
        "kept_from_landfill_kg",
        "returned_to_landfill_kg",
        "taken_from_recycling_kg",
    ):
        again, first = (_centre(getattr(one.paper, field)) for one in (twice, once))
        assert again == pytest.approx(2.0 * first, rel=1e-12, abs=1e-15)
    for field in ("made", "net", "displaced_plastic"):
        for end in ("value", "low", "high"):
            assert getattr(getattr(twice, field), end) == pytest.approx(
                2.0 * getattr(getattr(once, field), end), rel=1e-9, abs=1e-12
            )
    assert twice.parts[0].footprint.value == pytest.approx(once.parts[0].footprint.value, rel=1e-12)  # type: ignore[union-attr]


@settings(max_examples=25, deadline=None)
@given(st.lists(amounts.map(closed), min_size=1, max_size=5))
def test_assess_stages_add_up_to_the_footprint(rows: list[dict[str, Any]]) -> None:
    result = run(workshop(), rows)
    for made in result.parts:
        assert made.footprint is not None
        assert sum(made.stages.values()) == pytest.approx(made.footprint.value, rel=1e-12)
        assert sum(made.by_line.values()) == pytest.approx(made.footprint.value * made.good, rel=1e-9, abs=1e-12)
    assert sum(result.evidence.values()) == pytest.approx(1.0)
    assert sum(grade.collected_kg for grade in result.paper.by_grade) == pytest.approx(result.paper.collected_kg.value)


@settings(max_examples=10, deadline=None)
@given(amounts.map(closed))
def test_assess_two_equal_parts_differ_by_nothing_in_every_draw(row: dict[str, Any]) -> None:
    shop = workshop(part("first"), part("second"))
    result = run(shop, [{**row, "part": "first"}, {**row, "part": "second"}])
    first, second = result.parts
    assert first.draws is not None
    assert second.draws is not None
    assert np.array_equal(first.draws, second.draws)
    assert first.chance_lower == second.chance_lower


@settings(max_examples=15, deadline=None)
@given(st.lists(amounts.map(closed), min_size=2, max_size=6), st.integers(1, 5))
def test_merged_partial_inventories_equal_the_whole(rows: list[dict[str, Any]], cut: int) -> None:
    frame, shop = batches(rows), workshop()
    values = {key: found[0].value for key, found in factors().by_key.items()}
    central = values.__getitem__
    table = BatchTable.of(frame)
    whole, _ = take_stock(table, shop, central)
    cut = min(cut, len(rows) - 1)
    places = np.arange(len(rows))
    pieces = [take_stock(table.kept(some), shop, central)[0] for some in (places < cut, places >= cut)]
    together = merged(pieces).by_line()
    for line, amount in whole.by_line().items():
        assert together[line] == pytest.approx(amount, rel=1e-12, abs=1e-15)


def test_assess_same_seed_repeats_and_another_differs() -> None:
    one, again, other = (run(workshop(), [PLAIN], seed=seed) for seed in (0, 0, 1))
    assert one.as_totals() == again.as_totals()
    assert one.net.low != other.net.low
    assert one.net.value == other.net.value


def test_assess_shared_fan_matches_hand_arithmetic() -> None:
    # 36 h of a 56 W fan shared by eight parts is 0.252 kWh a part, and 0.088 kg CO2e at the direct US average of
    # 0.349667 kg/kWh (eGRID2023): more than 25 g of polypropylene at 2.58 kg/kg (UK government factors 2025).
    kwh = 36 * 56 / 1000 / 8
    assert kwh * 0.349667 == pytest.approx(0.088, abs=0.0005)
    dry = run(workshop(), [{**PLAIN, "drying_kwh": 0.0}])
    wet = run(workshop(), [{**PLAIN, "drying_kwh": 10 * kwh}])
    added = wet.parts[0].stages["making"] - dry.parts[0].stages["making"]
    assert added == pytest.approx(kwh * wet.settings.electricity_kgco2e_per_kwh, rel=1e-9)
    assert added > 0.025 * 2.58


def test_assess_mould_share_matches_hand_arithmetic() -> None:
    shop = workshop()
    once = run(shop, [PLAIN]).parts[0].stages["mould"]
    half = (
        run(workshop(moulds={"shell": dataclasses.replace(shop.moulds["shell"], pressings=200)}), [PLAIN])
        .parts[0]
        .stages["mould"]
    )
    assert once == pytest.approx(2.0 * half)


def test_assess_retired_mould_bears_on_what_it_made() -> None:
    shop = workshop(moulds={"shell": Mould("shell", "PLA", 0.3, 2.5, "metered", 100, retired=True)})
    expected = run(workshop(), [PLAIN]).parts[0].stages["mould"] * 100 / 11
    assert run(shop, [PLAIN]).parts[0].stages["mould"] == pytest.approx(expected)


def test_assess_paper_that_would_be_recycled_claims_no_diversion() -> None:
    shop = workshop(fates={"corrugated": FateSplit(recycling=1.0, evidence="mill collects")})
    result = run(shop, [{**PLAIN, "rejects": 0.0}])
    assert result.paper.kept_from_landfill_kg.value == 0.0
    assert result.paper.taken_from_recycling_kg.value == pytest.approx(0.6)
    assert result.disposal.avoided.value == 0.0
    assert result.disposal.lost_recycling.value > 0.0


def test_assess_rejects_binned_can_make_diversion_negative() -> None:
    shop = workshop(fates={"corrugated": FateSplit(recycling=1.0, evidence="mill collects")})
    result = run(shop, [{**PLAIN, "good_parts": 5.0, "rejects": 6.0}])
    # Returned as fibre on the as-weighed basis: 6 rejects of 50 g, 6 % (table) water out, 7 % water in.
    moisture = factors().choose("part.moisture", ("world",)).factor.value
    returned = 6 * 0.05 * (1 - moisture) / (1 - 0.07)
    assert result.paper.kept_from_landfill_kg.value == pytest.approx(-returned)
    assert result.paper.landfill_diversion_rate.value == pytest.approx(-returned / 0.6)


def test_assess_landfill_methane_matches_guideline_arithmetic() -> None:
    # IPCC 2006 Guidelines vol. 5: 0.44 (DOC, dry) x 0.5 x 1 x 0.5 x 16/12 = 0.14667 kg CH4 per dry kg; the rest is (1 - R)(1 - OX) and the GWP.
    shop = workshop(gas_collection=0.5, fates={"corrugated": FateSplit(landfill=1.0, evidence="bin")})
    result = run(shop, [PLAIN])
    decayed = 1 - np.exp(-factors().choose("landfill.k.paper.temperate-wet", ("world",)).factor.value * (100 - 0.5))
    found = 11 * 0.05 * result.part_solids / (0.6 * 0.93)  # of the dry paper, in ten good parts and a reject
    expected = 0.6 * 0.93 * found * 0.44 * 0.5 * 0.5 * 16 / 12 * decayed * 0.5 * 0.9 * 27.0
    assert result.disposal.avoided.value == pytest.approx(expected, rel=1e-6)


def test_assess_own_rejects_bring_no_new_paper() -> None:
    result = run(workshop(), [PLAIN, {**PLAIN, "paper.corrugated_kg": 0.0, "own_rejects_kg": 0.6}])
    assert result.paper.collected_kg.value == pytest.approx(0.6)
    assert result.inventory.sum_of("end_of_life", "fibre in parts") > 0.9


def test_assess_wet_use_refuses_the_comparison_with_its_reason() -> None:
    result = run(workshop(part(wet_use=True)), [PLAIN]).parts[0]
    assert result.plastic is None
    assert result.chance_lower is None
    assert "wet" in str(result.no_comparison)


def test_assess_heated_room_counts_latent_heat() -> None:
    cold = run(workshop(), [PLAIN]).parts[0].stages["making"]
    warm = run(workshop(drying=Drying(dryer="fan", heated_room=True)), [PLAIN]).parts[0].stages["making"]
    assert warm > cold


def test_assess_room_heated_by_electricity_counts_its_latent_heat() -> None:
    solids = {"pressed_solids": 0.35}
    shop = workshop(part_moisture=0.06, drying=Drying(dryer="fan", heated_room=True, heating="electricity", **solids))
    cold = run(workshop(part_moisture=0.06, drying=Drying(dryer="fan", **solids)), [PLAIN]).parts[0].stages["making"]
    warm = run(shop, [PLAIN])
    (latent,) = factors().by_key["drying.latent-heat"]
    dried = 11.0 * 0.05 * 0.94  # good parts and rejects of PLAIN, no trim
    heat = dried * (1.0 / 0.35 - 1.0 / 0.94) * latent.value * warm.settings.electricity_kgco2e_per_kwh / 10.0
    assert warm.parts[0].stages["making"] - cold == pytest.approx(heat, rel=1e-9)


def test_assess_more_out_than_in_is_refused_with_row_and_column() -> None:
    with pytest.raises(ProblemsError) as caught:
        run(workshop(), [{**PLAIN, "good_parts": 20.0}])
    (problem,) = caught.value.problems
    assert (problem.row, problem.column, problem.code, problem.level) == (2, "good parts", "mass-balance", "error")


def test_assess_no_good_part_gives_null_and_a_warning() -> None:
    result = run(workshop(), [{**PLAIN, "good_parts": 0.0, "rejects": 11.0}])
    assert result.parts[0].footprint is None
    assert [problem.code for problem in result.warnings] == ["no-good-parts"]


def test_assess_equal_lives_cancel_and_shorter_life_costs() -> None:
    equal = run(workshop(part(service_life_years=3.0, plastic_service_life_years=3.0)), [PLAIN]).parts[0].plastic
    short = run(workshop(part(service_life_years=1.0, plastic_service_life_years=3.0)), [PLAIN]).parts[0].plastic
    assert equal is not None
    assert short is not None
    assert short.footprint.value == pytest.approx(equal.footprint.value / 3.0)


def test_assess_demo_has_a_winner_a_loser_and_an_undecided_part() -> None:
    chances = [made.chance_lower for made in demo().parts if made.chance_lower is not None]
    assert max(chances) >= 0.9
    assert min(chances) <= 0.1
    assert any(0.2 <= chance <= 0.8 for chance in chances)


def test_assess_demo_covers_what_it_is_meant_to_show() -> None:
    frame = load(DEMO).batches
    assert 70 <= len(frame) <= 95
    assert len(set(frame["part"])) >= 4
    assert len([name for name in frame.columns if name.startswith("paper.")]) >= 5
    assert {"pva-glue", "corn-starch", "rice-paste"} <= set(frame["binder"])
    assert {"metered", "nameplate", "estimated"} <= set(frame["drying_kwh_evidence"])
    assert {"own rejects", "landfill"} <= set(frame["rejects_to"])
    assert demo().workshop.invented


def test_stages_cover_every_line_of_the_demo() -> None:
    accounts = {line.account for line in demo().inventory.lines}
    assert accounts - {"mass", "count", "diverted"} == set(STAGES)
    assert {line.account for line in demo().stage_matrix.lines} == set(STAGES)
    for first, second in itertools.pairwise(demo().stage_matrix.lines):
        assert first < second


def test_assess_measured_mass_and_volume_show_all_three_rules() -> None:
    plastic = run(workshop(), [PLAIN]).parts[0].plastic
    assert plastic is not None
    assert set(plastic.masses_by_rule) == {"measured", "same-volume", "equal-stiffness"}
    density = factors().choose("polymer.density.PP", ("world",)).factor.value
    assert plastic.masses_by_rule["same-volume"] == pytest.approx(0.08e-3 * density)


def test_assess_paper_that_vanished_is_refused() -> None:
    # Grams typed as kilograms would otherwise count as paper kept from landfill.
    with pytest.raises(ProblemsError) as caught:
        run(workshop(), [{**PLAIN, "paper.corrugated_kg": 600.0}])
    (problem,) = caught.value.problems
    assert (problem.row, problem.code, problem.level) == (2, "mass-balance", "error")
    assert "grams" in problem.message


def test_assess_batch_that_lost_a_third_is_a_warning() -> None:
    result = run(workshop(), [{**PLAIN, "good_parts": 6.5, "rejects": 0.0}])
    assert [(problem.code, problem.level) for problem in result.warnings] == [("mass-balance", "warning")]
