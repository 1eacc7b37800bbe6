"""The binder comparison: what must differ, what must not, and what stands in its document.

Checked against, from outside:

- draws of a median: medians of real resamples
"""

from __future__ import annotations

import dataclasses
import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from impact.account.assessment import values_for
from impact.account.intensities import UnitImpacts
from impact.base.catalogue import Names, read_names
from impact.base.problems import ProblemsError
from impact.cli.commands import main
from impact.cli.decisions_text import binders_text
from impact.decisions.binders import BinderComparison, BinderResult, compare_binders
from impact.decisions.recipes import BinderRecords, resampled_median
from impact.factors.factorset import FactorSet, read_factors
from impact.records.demonstration import DEMO
from impact.records.workshop import Recipe, Workshop
from impact.study import assess
from tests.figures import unexplained_numbers
from tests.folders import BATCHES, NAMES, read_batches, read_valid, write_folder
from tests.frames import PLAIN, batches, part, workshop

SCHEMAS = Path(__file__).parents[1] / "impact" / "schemas"
STARCH = {**PLAIN, "binder": "corn-starch", "binder_kg": 0.5, "binder_solids": 0.1}
GLUE = {**PLAIN, "binder": "pva-glue", "binder_kg": 0.1, "binder_solids": 0.5}


@cache
def factors() -> FactorSet:
    return read_factors()


@cache
def names() -> Names:
    return read_names()


def compare(rows: list[dict[str, Any]], shop: Workshop | None = None, **options: Any) -> BinderComparison:
    settings = {"draws": 300, "names": names(), **options}
    return compare_binders(shop or workshop(), batches(rows), settings.pop("factors", factors()), "pot", **settings)


def by_id(comparison: BinderComparison) -> dict[str, BinderResult]:
    return {result.binder: result for result in comparison.binders}


def chance(comparison: BinderComparison, a: str, b: str) -> float:
    (found,) = [pair.chance_a_lower for pair in comparison.pairs if (pair.a, pair.b) == (a, b)]
    return found


def alike(first: str, second: str) -> FactorSet:
    """Return factors in which a second binder has every value of the first, without spread."""
    rows = dict(factors().by_key)
    for key in [key for key in rows if key.startswith("binder.") and key.endswith(f".{first}")]:
        fixed = [dataclasses.replace(row, distribution="fixed", low=row.value, high=row.value) for row in rows[key]]
        rows[key] = type(rows[key])(fixed)
        twin = key.removesuffix(first) + second
        rows[twin] = type(rows[key])(
            dataclasses.replace(row, key=twin, id=row.id.replace(first, second)) for row in fixed
        )
    return dataclasses.replace(factors(), by_key=rows)


@pytest.mark.parametrize(
    "row", [STARCH, GLUE, {**STARCH, "rejects_to": "own rejects"}, {**GLUE, "binder_preparation_kwh": 0.02}]
)
def test_compare_binders_only_binder_on_record_is_the_part_itself(row: dict[str, Any]) -> None:
    made = assess(workshop(), batches([row, row]), factors(), draws=300, names=names()).parts[0]
    found = by_id(compare([row, row]))[row["binder"]]
    assert made.draws is not None
    np.testing.assert_allclose(found.draws, made.draws, rtol=1e-12)


def test_compare_binders_part_without_binder_is_the_part_itself() -> None:
    made = assess(workshop(), batches([PLAIN]), factors(), draws=300, names=names()).parts[0]
    none = by_id(compare([PLAIN]))["none"]
    assert made.draws is not None
    np.testing.assert_allclose(none.draws, made.draws, rtol=1e-12)
    assert (none.dose, none.cost, none.water_kg, none.fossil_carbon_kg) == (0.0, 0.0, 0.0, 0.0)


def test_compare_binders_identical_factors_differ_by_zero_and_tie() -> None:
    found = compare([PLAIN], factors=alike("corn-starch", "potato-starch"))
    first, second = by_id(found)["corn-starch"], by_id(found)["potato-starch"]
    assert np.array_equal(first.draws, second.draws)
    assert np.ptp(first.draws) > 0.0
    assert chance(found, "corn-starch", "potato-starch") == 0.5


def test_compare_binders_fibre_and_making_are_shared_draw_by_draw() -> None:
    # What is the same for all cancels in every difference: a thirsty dryer changes both sides and no difference.
    lean, thirsty = (compare([{**GLUE, "drying_kwh": kwh}]) for kwh in (0.1, 9.0))
    gaps = [by_id(one)["pva-glue"].draws - by_id(one)["corn-starch"].draws for one in (lean, thirsty)]
    np.testing.assert_allclose(gaps[0], gaps[1], atol=1e-12)
    assert chance(lean, "pva-glue", "corn-starch") == chance(thirsty, "pva-glue", "corn-starch")


def test_compare_binders_every_binder_of_the_catalogue_stands_once_and_own_ones_first() -> None:
    shop = workshop(binders={"rice-paste": Recipe(solids=0.2)})
    found = [result.binder for result in compare([GLUE], shop).binders]
    assert sorted(found) == sorted(set(names().binders) - {"none"})
    assert found[:2] == ["pva-glue", "rice-paste"]


def test_compare_binders_dose_is_the_median_of_the_parts_batches_with_their_range() -> None:
    dry = 0.6 * 0.93
    rows = [{**GLUE, "binder_kg": 2.0 * dose * dry} for dose in (0.02, 0.1, 0.04)]
    found = by_id(compare([*rows, {**GLUE, "part": "cup", "binder_kg": 0.2}], workshop(part(), part("cup"))))[
        "pva-glue"
    ]
    assert (found.dose, found.dose_low, found.dose_high) == (
        pytest.approx(0.04),
        pytest.approx(0.02),
        pytest.approx(0.1),
    )
    assert (found.dose_from, found.batches) == ("batches of this part", 3)


def test_compare_binders_dose_of_other_parts_goes_before_the_literature() -> None:
    rows = [GLUE, {**STARCH, "part": "cup"}]
    found = by_id(compare(rows, workshop(part(), part("cup"))))
    assert found["corn-starch"].dose_from == "batches of other parts"
    assert found["corn-starch"].dose == pytest.approx(0.05 / (0.6 * 0.93))
    literature = factors().choose("binder.dose.rice-paste", ("world",)).factor
    assert found["rice-paste"].dose_from == "literature"
    assert (found["rice-paste"].dose, found["rice-paste"].dose_low) == (literature.value, literature.low)


def test_compare_binders_figures_match_hand_arithmetic() -> None:
    # One batch, ten good and one failed part of 0.558 kg dry fibre; 0.1 kg of glue at 50 % is 5 g dry a good part, and as much water.
    glue = by_id(compare([GLUE], workshop(binders={"pva-glue": Recipe(price_per_kg=5.0)})))["pva-glue"]
    assert glue.water_kg == pytest.approx(0.005)
    assert glue.cost == pytest.approx(0.01 * 5.0)
    assert glue.preparation_kwh == 0.0
    # Dry part 50 g less its water (table); the glue's share of it 0.05/0.608; C4H6O2 is 55.807 % carbon, all fossil.
    moisture = factors().choose("part.moisture", ("world",)).factor.value
    assert glue.fossil_carbon_kg == pytest.approx(0.05 * (1.0 - moisture) * 0.05 / 0.608 * 0.55807)
    starch = by_id(compare([STARCH], workshop(binders={"corn-starch": Recipe(preparation_kwh_per_kg=0.3)})))[
        "corn-starch"
    ]
    assert starch.preparation_kwh == pytest.approx(0.05 * 0.3)
    assert starch.cost is None


def test_use_of_solids_from_the_table_bring_their_spread_into_the_dose() -> None:
    shop, known = workshop(), 0.1 / (0.6 * 0.93)
    values = values_for(shop, factors(), names(), seed=1, draws=200)
    solids = values.get("binder.solids.pva-glue")
    for recorded, expected in ((float("nan"), known * solids), (0.4, np.full(201, known * 0.4))):
        frame = batches([{**GLUE, "binder_solids": recorded}])
        use = BinderRecords(frame, "pot", UnitImpacts(shop, values, {})).use_of("pva-glue")
        np.testing.assert_allclose(use.dose, expected)
        np.testing.assert_allclose(use.solids * np.ones(201), expected / known)


def test_compare_binders_reject_rates_and_their_test_come_from_counted_batches() -> None:
    rows = [
        {**GLUE, "good_parts": 9.0, "rejects": 1.0},
        {**GLUE, "rejects": float("nan")},
        {**STARCH, "good_parts": 6.0, "rejects": 4.0},
    ]
    found = compare(rows)
    glue, starch, rice = (by_id(found)[binder].rejects for binder in ("pva-glue", "corn-starch", "rice-paste"))
    assert glue is not None
    assert starch is not None
    assert (glue.count, glue.total, starch.count, starch.total) == (1, 10, 4, 10)
    assert rice is None
    tests = {(pair.a, pair.b): (pair.reject_p, pair.reject_rates) for pair in found.pairs if pair.reject_p is not None}
    # One batch against one: both exchanges lie as far apart, whatever their parts (by hand).
    assert tests == {(found.pairs[0].a, found.pairs[0].b): (1.0, "too few batches")}


def test_compare_binders_reject_rates_are_told_apart_by_whole_batches() -> None:
    # Six batches of 10 each. Starch loses one in ten throughout, or all of its losses in one batch: the parts are the same,
    # and Fisher's exact test gives p = 0.001 for both (a permutation of batches: Pitman 1937, from memory).
    glue = [{**GLUE, "good_parts": 10.0, "rejects": 0.0} for _ in range(6)]
    even = [{**STARCH, "good_parts": 8.0, "rejects": 2.0} for _ in range(6)]
    lumpy = [{**STARCH, "good_parts": 10.0, "rejects": 0.0} for _ in range(5)]
    lumpy.append({**STARCH, "paper.corrugated_kg": 1.2, "good_parts": 8.0, "rejects": 12.0})
    pairs = [compare([*glue, *rows]).pairs[0] for rows in (even, lumpy)]
    assert [pair.reject_rates for pair in pairs] == ["apart", "alike"]
    assert [pair.reject_p for pair in pairs] == [pytest.approx(2.0 / 924.0), 1.0]  # C(12, 6) = 924 exchanges


def test_compare_binders_rejects_in_one_lump_widen_the_interval() -> None:
    even = by_id(compare([{**GLUE, "rejects": 2.0} for _ in range(6)]))["pva-glue"].reject_rate
    lumpy = by_id(compare([{**GLUE, "rejects": 0.0}] * 5 + [{**GLUE, "paper.corrugated_kg": 1.2, "rejects": 12.0}]))[
        "pva-glue"
    ].reject_rate
    assert even is not None
    assert lumpy is not None
    assert (even.rejects, even.pressed, even.batches) == (lumpy.rejects, lumpy.pressed, lumpy.batches) == (12, 72, 6)
    assert lumpy.high - lumpy.low > 1.5 * (even.high - even.low)
    assert lumpy.design_effect > even.design_effect > 1.0


def test_compare_binders_recorded_strength_is_summed_up_plainly() -> None:
    rows = [{**GLUE, "test_load_n": load, "test_span_mm": 80.0} for load in (10.0, 14.0)] + [
        {**STARCH, "test_load_n": 9.0}
    ]
    glue, starch = (by_id(compare(rows))[binder].strength for binder in ("pva-glue", "corn-starch"))
    assert glue is not None
    assert starch is not None
    assert (glue.tests, glue.mean_n, glue.sd_n, glue.span_mm) == (2, 12.0, pytest.approx(8.0**0.5), 80.0)
    assert (starch.tests, starch.mean_n, starch.sd_n, starch.span_mm) == (1, 9.0, None, None)


def test_read_batches_strength_tests_are_read_in_their_units(tmp_path: Path) -> None:
    header, first, second = BATCHES.replace("\\\n", "").splitlines()
    text = "\n".join([f"{header},test load,test span [cm]", f"{first},12.5,8", f"{second},2 lbf,\n"])
    write_folder(tmp_path, batches=text)
    frame, problems = read_batches(tmp_path, read_valid(tmp_path), NAMES)
    assert problems == []
    assert frame["test_load_n"].tolist() == [
        12.5,
        pytest.approx(8.896443),
    ]  # 1 lbf = 4.4482216 N (NIST SP 811, app. B.8)
    assert frame["test_span_mm"].tolist() == [pytest.approx(80.0), pytest.approx(float("nan"), nan_ok=True)]


def test_compare_binders_synthetic_binder_is_blocked_and_starch_is_not() -> None:
    found = by_id(compare([GLUE]))
    assert {finding.route: finding.outcome for finding in found["pva-glue"].findings} == {
        "industrial": "blocked",
        "home": "blocked",
    }
    assert "blocked" not in {finding.outcome for finding in found["corn-starch"].findings}
    share = found["pva-glue"].dose / (1.0 + found["pva-glue"].dose)
    assert [finding.binder_share for finding in found["pva-glue"].findings] == [pytest.approx(share)] * 2


@pytest.mark.parametrize(
    ("name", "rows", "code"),
    [
        ("pott", [GLUE], "unknown-name"),
        ("pot", [{**GLUE, "good_parts": 0.0, "rejects": 11.0}], "no-good-parts"),
        ("pot", [{**GLUE, "good_parts": 20.0}], "mass-balance"),
    ],
)
def test_compare_binders_unusable_records_are_refused(name: str, rows: list[dict[str, Any]], code: str) -> None:
    with pytest.raises(ProblemsError) as caught:
        compare_binders(workshop(), batches(rows), factors(), name, draws=100, names=names())
    assert [problem.code for problem in caught.value.problems] == [code]


def test_compare_binders_missing_factor_is_named() -> None:
    rows = {key: found for key, found in factors().by_key.items() if key != "binder.dose.wheat-paste"}
    with pytest.raises(ProblemsError, match=r"binder\.dose\.wheat-paste"):
        compare([GLUE], factors=dataclasses.replace(factors(), by_key=rows))


def test_resampled_median_draws_match_medians_of_resamples() -> None:
    values = np.array([0.03, 0.05, 0.06, 0.1, 0.2])
    rng = np.random.default_rng(5)
    made = np.median(rng.choice(values, (40_000, 5)), axis=1)
    short = resampled_median(values, 40_000, rng)[1:]
    for value in values:
        assert np.mean(short == value) == pytest.approx(np.mean(made == value), abs=0.01)


@pytest.fixture(scope="module")
def demo_outputs() -> tuple[dict[str, Any], str]:
    arguments = ["binders", str(DEMO), "--part", "tool-tray", "--draws", "500", "--seed", "0"]
    done = [CliRunner().invoke(main, [*arguments, *more]) for more in (["--json"], [])]
    assert [one.exit_code for one in done] == [0, 0], [one.output for one in done]
    return json.loads(done[0].stdout), done[1].stdout


def test_binders_document_fits_its_schema(demo_outputs: tuple[dict[str, Any], str]) -> None:
    schema = json.loads((SCHEMAS / "binders.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(demo_outputs[0])
    assert (demo_outputs[0]["seed"], demo_outputs[0]["draws"]) == (0, 500)


def test_binders_text_shows_no_number_that_the_document_lacks(demo_outputs: tuple[dict[str, Any], str]) -> None:
    document, text = demo_outputs
    assert unexplained_numbers(text, document) == []
    assert len(re.findall(r"\d", text)) > 200


def test_binders_command_unknown_part_ends_with_status_1_and_the_nearest_name() -> None:
    done = CliRunner().invoke(main, ["binders", str(DEMO), "--part", "tool-try"])
    assert done.exit_code == 1
    assert 'did you mean "tool-tray"?' in done.stderr


def test_binders_text_counts_one_batch_in_the_singular() -> None:
    text = binders_text(compare([GLUE, {**GLUE, "binder": "rice-paste"}, GLUE]))
    assert re.search(r"^rice-paste .*, 1 batch  ", text, flags=re.M)
    assert re.search(r"^pva-glue .*, 2 batches  ", text, flags=re.M)
