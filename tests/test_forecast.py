"""The forecast: its refusal, its centre, its coverage on batches of known truth, its document.

Checked against, from outside:

- prediction interval: coverage on invented batches of known truth; variance of a mean to come; by hand where a rate is guessed
"""

from __future__ import annotations

import json
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import scipy.stats
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from impact.base.catalogue import Names, read_names
from impact.base.problems import ProblemsError
from impact.cli.commands import main
from impact.cli.decisions_text import forecast_text
from impact.core.prediction import Guessed, ratio_prediction
from impact.core.sampling import beta_shape
from impact.decisions.forecast import Forecast, ForecastError, forecast
from impact.decisions.pace import Pace, date_at_pace, pace_of, progress_to
from impact.decisions.planned import Foreseen
from impact.factors.factorset import FactorSet, read_factors
from impact.records.demonstration import DEMO
from impact.records.workshop import Device, Drying, Recipe, Targets, Workshop
from impact.study import assess
from tests.figures import unexplained_numbers
from tests.frames import PLAIN, batches, part, workshop

SCHEMAS = Path(__file__).parents[1] / "impact" / "schemas"
NAN = float("nan")
GLUE = {**PLAIN, "binder": "pva-glue", "binder_kg": 0.1, "binder_solids": 0.5, "hours": 2.0, "people": 3.0, "cost": 4.0}
VARIED = [
    {**GLUE, "paper.corrugated_kg": 0.6 * size, "good_parts": good, "rejects": rejects, "cost": 4.0 * size, "date": f"2026-03-{day:02d}"}
    for size, good, rejects, day in (
        (1.0, 9.0, 2.0, 2), (1.3, 12.0, 1.0, 5), (0.9, 8.0, 1.0, 9), (1.1, 10.0, 0.0, 12), (1.2, 9.0, 4.0, 16), (1.0, 10.0, 1.0, 19),
    )
]  # fmt: skip


@cache
def factors() -> FactorSet:
    return read_factors()


@cache
def names() -> Names:
    return read_names()


def plan(rows: list[dict[str, Any]], shop: Workshop | None = None, *, rng: int = 1, **options: Any) -> Forecast:
    settings = {
        "sessions": 4,
        "people": 5,
        "parts_per_person": 1,
        "draws": 400,
        "names": names(),
        "part": "pot",
        **options,
    }
    return forecast(shop or workshop(), batches(rows), factors(), rng=np.random.default_rng(rng), **settings)


def simulated(rng: np.random.Generator, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return parts pressed, and an amount per part that scatters lognormally, of some batches."""
    pressed = rng.integers(8, 17, count).astype(float)
    return pressed, pressed * 0.06 * rng.lognormal(0.0, 0.5, count)


@pytest.mark.parametrize(("count", "future"), [(30, 10), (30, 30), (8, 8), (6, 20)])
def test_ratio_prediction_lognormal_batches_are_covered_as_promised(count: int, future: int) -> None:
    rng = np.random.default_rng(20260401)
    covered = 0
    for _ in range(300):
        pressed, amounts = simulated(rng, count)
        next_pressed, next_amounts = simulated(rng, future)
        drawn = ratio_prediction(
            amounts[:, np.newaxis], pressed, float(next_pressed.sum()), future, draws=400, rng=rng
        )[1:, 0]
        low, high = np.quantile(drawn, [0.025, 0.975])
        covered += low <= next_amounts.sum() <= high
    assert 0.90 <= covered / 300 <= 0.99


def test_ratio_prediction_centre_is_the_ratio_of_the_records() -> None:
    drawn = ratio_prediction(
        np.array([[1.0], [2.0], [3.0]]), np.array([10.0, 10.0, 10.0]), 50.0, 5, draws=10, rng=np.random.default_rng(0)
    )
    assert drawn.shape == (11, 1)
    assert drawn[0, 0] == pytest.approx(10.0)


def test_ratio_prediction_equal_batches_leave_nothing_open_and_stay_in_step() -> None:
    amounts, pressed = np.array([[1.0, 4.0], [2.0, 8.0], [3.0, 12.0]]), np.array([10.0, 20.0, 30.0])
    drawn = ratio_prediction(amounts, pressed, 45.0, 3, draws=50, rng=np.random.default_rng(0))
    np.testing.assert_allclose(drawn, np.tile([4.5, 18.0], (51, 1)))
    uneven = ratio_prediction(amounts * [[1.5], [1.0], [1.0]], pressed, 45.0, 3, draws=50, rng=np.random.default_rng(0))
    np.testing.assert_allclose(uneven[:, 1], 4.0 * uneven[:, 0])
    assert np.ptp(uneven[:, 0]) > 0.0


def test_ratio_prediction_more_sessions_narrow_the_share_but_not_below_the_records() -> None:
    rng = np.random.default_rng(3)
    pressed, amounts = simulated(rng, 30)

    def spread(sessions: int, each: float = 12.0) -> float:
        drawn = ratio_prediction(amounts[:, np.newaxis], pressed, sessions * each, sessions, draws=4000, rng=rng)[1:, 0]
        return float(np.std(drawn) / np.mean(drawn))

    rate = amounts / pressed
    # Variance of the mean of m future batches about the mean of n recorded ones: (1/m + 1/n) s^2 (elementary; any text on prediction).
    assert spread(1) > spread(10) > spread(1000) > 0.5 * np.std(rate) / np.mean(rate) / 30**0.5
    # A large session is one session: it scatters like a batch, and not like the batches that its parts would fill.
    assert spread(10, each=40.0) == pytest.approx(spread(10), rel=0.1)


def test_ratio_prediction_large_sessions_are_covered_as_promised() -> None:
    # Twelve sessions of 40 parts from batches of 8 to 16, each with its own level: as 40 batch equivalents the interval held 0.88 of 600.
    rng = np.random.default_rng(20261129)
    covered = 0
    for _ in range(300):
        pressed, amounts = simulated(rng, 12)
        truth = 40.0 * 0.06 * rng.lognormal(0.0, 0.5, 12).sum()
        drawn = ratio_prediction(amounts[:, np.newaxis], pressed, 480.0, 12, draws=400, rng=rng)[1:, 0]
        covered += np.quantile(drawn, 0.025) <= truth <= np.quantile(drawn, 0.975)
    assert 0.90 <= covered / 300 <= 0.99


def test_ratio_prediction_guessed_rate_is_drawn() -> None:
    # Three batches of 9 good parts and 1 reject by a rate of 0.1, which is 0.25 in another draw: then 3 rejects, 9 of 12 are good.
    amounts, pressed = np.array([[9.0, 1.0]] * 3), np.full(3, 10.0)
    guessed = Guessed(np.array([[0.0, 1.0]] * 3), np.ones(3), np.array([1.0, 3.0]))
    drawn = ratio_prediction(amounts, pressed, 100.0, 4, draws=1, rng=np.random.default_rng(0), guessed=guessed)
    np.testing.assert_allclose(drawn, [[90.0, 10.0], [75.0, 25.0]])


@pytest.mark.parametrize(
    ("pressed", "planned", "sessions"),
    [([10.0], 5.0, 1), ([10.0, 0.0, 9.0], 5.0, 1), ([9.0] * 3, 0.0, 1), ([9.0] * 3, 5.0, 0)],
)
def test_ratio_prediction_nothing_to_go_by_is_refused(pressed: list[float], planned: float, sessions: int) -> None:
    with pytest.raises(ValueError, match="accepted"):
        ratio_prediction(
            np.ones((len(pressed), 1)), np.array(pressed), planned, sessions, draws=5, rng=np.random.default_rng(0)
        )


def test_forecast_four_batches_are_refused_with_what_is_missing() -> None:
    with pytest.raises(
        ForecastError, match="pot has 4 batches in which parts were pressed; a forecast needs 5: record 1 more"
    ):
        plan([*VARIED[:4], {**GLUE, "good_parts": 0.0, "rejects": 0.0}])
    assert plan(VARIED[:5]).batches == 5


def test_forecast_unknown_part_and_empty_plan_are_refused() -> None:
    with pytest.raises(ProblemsError, match="no batch has this part"):
        plan(VARIED, part="pott")
    with pytest.raises(ValueError, match="1 or more"):
        plan(VARIED, people=0)


def test_forecast_centre_follows_the_records_in_proportion() -> None:
    # As many parts as are on record: every central figure is that of the records.
    pressed = sum(int(row["good_parts"] + row["rejects"]) for row in VARIED)
    found = plan(VARIED, sessions=pressed, people=1)
    known = assess(workshop(), batches(VARIED), factors(), draws=400, names=names())
    (made,) = known.parts
    assert found.planned == pressed
    assert found.good_parts.value == pytest.approx(made.good)
    assert found.paper_kg["corrugated"].value == pytest.approx(known.paper.collected_kg.value)
    assert found.diverted_kg.value == pytest.approx(known.paper.kept_from_landfill_kg.value)
    assert made.difference is not None
    assert found.difference_kgco2e is not None
    assert made.plastic is not None  # half of the parts take its place
    by_part = made.footprint.value - 0.5 * made.plastic.footprint.value  # type: ignore[union-attr]
    assert found.difference_kgco2e.value == pytest.approx(by_part * made.good)
    assert found.electricity_kwh.value == pytest.approx(6 * 0.6)
    assert found.water_l.value == pytest.approx(6 * 5.0)
    assert found.binder_kg["pva-glue"].value == pytest.approx(0.6)
    assert (found.people_hours.value, found.cost.value) == (pytest.approx(36.0), pytest.approx(26.0))  # type: ignore[union-attr]
    assert found.rack_parts == 1


def test_forecast_blanks_are_filled_by_the_tables_estimates() -> None:
    rows = [{**row, "binder_kg": NAN, "water_l": NAN, "blending_kwh": NAN, "drying_kwh": NAN} for row in VARIED]
    pressed = sum(row["good_parts"] + row["rejects"] for row in VARIED)
    fibre = sum(row["paper.corrugated_kg"] for row in VARIED) * 0.93 * 20 / pressed
    found = plan(rows, workshop(binders={"pva-glue": Recipe(solids=0.4)}, drying=Drying(dryer="room-air")))
    value = {key: rows[0].value for key, rows in factors().by_key.items()}
    assert found.binder_kg["pva-glue"].value == pytest.approx(fibre * value["binder.dose.pva-glue"] / 0.4)
    assert found.water_l.value == pytest.approx(fibre * 1000.0 * value["estimate.water"])
    assert found.electricity_kwh.value == pytest.approx(fibre * value["estimate.blending"])


def test_forecast_room_heated_by_electricity_takes_latent_heat() -> None:
    pressed = sum(int(row["good_parts"] + row["rejects"]) for row in VARIED)
    found = {}
    for heating in ("gas", "electricity"):
        drying = Drying(dryer="fan", heated_room=True, heating=heating, pressed_solids=0.35)  # type: ignore[arg-type]
        found[heating] = plan(VARIED, workshop(part_moisture=0.06, drying=drying), sessions=pressed, people=1)
    (latent,) = factors().by_key["drying.latent-heat"]
    dried = pressed * 0.05 * 0.94  # good parts and rejects, no trim
    heat = dried * (1.0 / 0.35 - 1.0 / 0.94) * latent.value
    assert found["gas"].electricity_kwh.value == pytest.approx(6 * 0.6)
    assert found["electricity"].electricity_kwh.value == pytest.approx(6 * 0.6 + heat)


def test_forecast_good_parts_never_exceed_those_pressed() -> None:
    found = plan(VARIED)
    assert found.good_parts.low < found.good_parts.value < found.good_parts.high <= found.planned == 20


def test_forecast_same_generator_repeats_and_another_differs() -> None:
    assert plan(VARIED) == plan(VARIED)
    assert plan(VARIED).all_paper_kg.low != plan(VARIED, rng=2).all_paper_kg.low
    assert plan(VARIED).good_parts.value == plan(VARIED, rng=2).good_parts.value


def test_forecast_figures_without_records_are_none_with_the_reason() -> None:
    rows = [{**row, "cost": NAN if place else 4.0, "people": NAN} for place, row in enumerate(VARIED)]
    found = plan(rows, workshop(part(wet_use=True)), budget=10.0)
    assert (found.cost, found.people_hours, found.dryer_hours, found.difference_kgco2e, found.chance_within_budget) == (
        None,
    ) * 5
    assert set(found.missing) == {"cost", "people_hours", "dryer_hours", "difference_kgco2e", "chance_within_budget"}
    assert found.missing["cost"] == "1 of 6 batches records cost, and 5 are needed"
    assert "wet" in found.missing["difference_kgco2e"]
    told = [line for line in forecast_text(found).splitlines() if line.startswith("not given: ")]
    assert len(told) == 5
    assert not any("_" in line for line in told)
    assert "not given: chance to stay within the budget, because 1 of 6 batches records cost, and 5 are needed" in told


def test_forecast_dryer_hours_are_rated_energy_over_rated_power() -> None:
    # A 390 W device with the name of the dryer: 0.78 kWh by nameplate are 2 h a batch.
    rows = [{**row, "drying_kwh": 0.78, "drying_kwh_evidence": "nameplate"} for row in VARIED]
    pressed = sum(row["good_parts"] + row["rejects"] for row in VARIED)
    found = plan(rows, workshop(equipment={"fan": Device("fan", 390.0)}, drying=Drying(dryer="fan")))
    assert found.dryer_hours is not None
    assert found.dryer_hours.value == pytest.approx(12.0 * 20 / pressed)


def test_forecast_budget_gives_the_share_of_draws_within_it() -> None:
    chances = [plan(VARIED, budget=money).chance_within_budget for money in (0.0, 8.0, 1000.0)]
    assert chances[0] == 0.0
    assert chances[1] is not None
    assert 0.0 < chances[1] < 1.0
    assert chances[2] == 1.0


def test_forecast_target_counts_every_part_up_to_its_day() -> None:
    shop = workshop(part(), part("cup"), targets=Targets(3.0, date(2026, 6, 30)))
    other = [{**GLUE, "part": "cup", "date": "2026-03-20"}, {**GLUE, "part": "cup", "date": "2026-07-20"}]
    found = plan([*VARIED, *other], shop).progress
    known = assess(
        shop, batches([*VARIED, other[0]]), factors(), draws=1, names=names()
    ).paper.kept_from_landfill_kg.value
    assert found is not None
    assert found.so_far_kg == pytest.approx(known)
    assert found.after_kg.value == pytest.approx(known + plan(VARIED).diverted_kg.value)
    assert plan(VARIED).progress is None


def test_pace_of_spacing_is_the_median_gap_else_a_week() -> None:
    days = pd.Series(pd.to_datetime(["2026-03-12", "2026-03-02", "2026-03-05", "2026-03-05", "2026-04-20"]))
    assert pace_of(days) == Pace(date(2026, 3, 2), date(2026, 4, 20), 7.0, True)
    assert pace_of(days[:1]) == Pace(date(2026, 3, 12), date(2026, 3, 12), 7.0, False)


def test_date_at_pace_goes_on_as_before() -> None:
    # 10 kg in 20 days, from 1 to 18 January with two days a session: 5 kg more take ten days after the 18th.
    pace = Pace(date(2026, 1, 1), date(2026, 1, 19), 2.0, True)
    assert date_at_pace(5.0, 10.0, pace) == (date(2026, 1, 29), None)


@pytest.mark.parametrize(
    ("remaining", "so_far", "reason"), [(0.0, 9.0, "met already"), (9.0, -1.0, "no pace"), (1e9, 1.0, "hundred years")]
)
def test_date_at_pace_no_date_comes_with_its_reason(remaining: float, so_far: float, reason: str) -> None:
    day, why = date_at_pace(remaining, so_far, Pace(date(2026, 1, 1), date(2026, 1, 19), 2.0, True))
    assert day is None
    assert reason in str(why)


def test_progress_to_sessions_beyond_a_century_have_no_last_day() -> None:
    pace, draws = Pace(date(2026, 1, 1), date(2026, 1, 19), 2.0, True), np.array([1.0, 0.5, 4.0])
    diverted = Foreseen(draws, np.ones(8), np.full(8, 9.0), 9.0, np.ones(8))
    near, far = (
        progress_to(Targets(5.0, date(2026, 6, 30)), 2.0, diverted, pace, sessions) for sessions in (8, 10_000_000)
    )
    assert near.last_session == date(2026, 2, 4)
    assert far.last_session is None
    assert (near.chance_after, near.after_kg.value) == (0.5, 3.0)


def foreseen(batches: list[float], occurring: list[float] | None = None, **more: Any) -> Foreseen:
    """Return a total of 40 planned parts from batches of 10, with draws of 0 to 100."""
    seen = np.array(batches)
    draws = np.append(4.0 * seen.mean(), np.linspace(0.0, 100.0, 101))
    return Foreseen(
        draws, seen, np.full(len(seen), 10.0), 40.0, seen if occurring is None else np.array(occurring), **more
    )


def test_expected_amount_of_now_and_then_gets_the_range_seen() -> None:
    # Common practice, no source: under eight batches an interval held 0.54 to 0.87 of what came (tests/benchmarks/coverage.py).
    rare = foreseen([0.0] * 5 + [3.0] * 7).expected()
    assert (rare.basis, rare.occurs_in, rare.batches, rare.low, rare.high) == ("rare", 7, 12, 0.0, 12.0)
    steady = foreseen([0.0] * 5 + [3.0] * 8).expected()
    assert (steady.basis, steady.occurs_in, steady.low, steady.high) == (
        "records",
        8,
        pytest.approx(2.5),
        pytest.approx(97.5),
    )
    assert foreseen([3.0] * 6).expected().basis == "records"  # few batches, but in every one
    lumps = foreseen([1.0] * 8 + [20.0] * 2).expected()  # a base everywhere, and what decides in two
    assert (lumps.basis, lumps.occurs_in) == ("rare", 2)
    assert foreseen([0.0] * 9).expected().basis == "rare"
    assert foreseen([-3.0] * 9).expected().basis == "records"
    assert foreseen([9.0] * 9, occurring=[0.0] * 8 + [1.0]).expected().basis == "rare"
    assert foreseen([9.0] * 9, by_table=True).expected().basis == "tables"


def test_forecast_rejects_never_recorded_keep_the_spread_of_the_table() -> None:
    # Beta with mean 0.1 and the interval of the row; nothing else in these equal batches is open.
    rows = [{**GLUE, "rejects": NAN} for _ in range(6)]
    found = plan(rows, sessions=10, people=12, draws=4000)
    (row,) = factors().by_key["estimate.reject-rate"]
    assert (found.good_parts.basis, found.good_parts.value) == ("tables", pytest.approx(120.0 * (1.0 - row.value)))
    alpha, beta = beta_shape(row.value, row.low, row.high)
    ends = [120.0 * (1.0 - scipy.stats.beta.ppf(share, alpha, beta)) for share in (0.975, 0.025)]
    assert (found.good_parts.low, found.good_parts.high) == (
        pytest.approx(ends[0], abs=1.5),
        pytest.approx(ends[1], abs=1.5),
    )
    # The more fail, the less paper stands behind each part that is pressed: 0.6 kg for 10 good ones.
    assert found.paper_kg["corrugated"].value == pytest.approx(0.06 * found.good_parts.value)
    assert found.paper_kg["corrugated"].low == pytest.approx(0.06 * found.good_parts.low, rel=1e-6)
    assert "parts failed never recorded: by the tables" in forecast_text(found)


def test_forecast_rejects_recorded_as_none_promise_no_95_percent() -> None:
    found = plan([{**GLUE, "rejects": 0.0} for _ in range(9)])
    assert (found.good_parts.basis, found.good_parts.occurs_in, found.good_parts.value) == ("rare", 0, 20.0)
    assert "good parts" in forecast_text(found)
    assert "(rare, parts failed in 0 of 9 batches; seen 20 to 20)" in forecast_text(found)


def test_forecast_small_sessions_widen_the_good_parts_by_the_chance_of_each() -> None:
    # One part in each of 20 sessions: variance 20 p (1 - p)(1 - 1/11) at least (binomial), though all batches are alike.
    found = plan([GLUE] * 8, sessions=20, people=1, draws=4000)
    wide = 2.0 * 1.96 * (20.0 * 10.0 / 121.0 * (1.0 - 1.0 / 11.0)) ** 0.5
    assert found.good_parts.basis == "records"
    assert found.good_parts.high - found.good_parts.low == pytest.approx(
        min(wide, 20.0 - found.good_parts.low), rel=0.15
    )
    same = plan([GLUE] * 8, sessions=4, people=11)
    assert same.good_parts.low == pytest.approx(same.good_parts.high)


def test_forecast_rare_costs_give_no_chance_to_stay_within_a_budget() -> None:
    rows = [{**GLUE, "cost": 9.0 if place < 2 else 0.0} for place in range(10)]
    found = plan(rows, budget=5.0)
    assert found.cost is not None
    assert (found.cost.basis, found.chance_within_budget) == ("rare", None)
    assert "fewer than 8 batches" in found.missing["chance_within_budget"]


@pytest.mark.parametrize(("displacement", "of_plastic"), [(None, 1.0), (0.5, 0.5), (0.0, 0.0)])
def test_forecast_difference_follows_the_displacement_on_record(displacement: float | None, of_plastic: float) -> None:
    shop = workshop(part(displacement=displacement))
    found = plan(VARIED, shop)
    (made,) = assess(shop, batches(VARIED), factors(), draws=400, names=names()).parts
    assert made.footprint is not None
    assert made.plastic is not None
    expected = found.good_parts.value * (made.footprint.value - of_plastic * made.plastic.footprint.value)
    assert found.displacement == displacement
    assert found.difference_kgco2e is not None
    assert found.difference_kgco2e.value == pytest.approx(expected)


@pytest.fixture(scope="module")
def demo_outputs() -> tuple[dict[str, Any], str]:
    asked = {
        "part": "drawer-divider",
        "sessions": 8,
        "people": 30,
        "parts-per-person": 1,
        "budget": 35,
        "draws": 500,
        "seed": 0,
    }
    options = [f"--{name}={value}" for name, value in asked.items()]
    done = [CliRunner().invoke(main, ["forecast", str(DEMO), *options, *more]) for more in (["--json"], [])]
    assert [one.exit_code for one in done] == [0, 0], [one.output for one in done]
    return json.loads(done[0].stdout), done[1].stdout


def test_forecast_document_fits_its_schema(demo_outputs: tuple[dict[str, Any], str]) -> None:
    schema = json.loads((SCHEMAS / "forecast.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(demo_outputs[0])
    assert (demo_outputs[0]["seed"], demo_outputs[0]["draws"], demo_outputs[0]["planned"]) == (0, 500, 240)


def test_forecast_text_shows_no_number_that_the_document_lacks(demo_outputs: tuple[dict[str, Any], str]) -> None:
    document, text = demo_outputs
    assert unexplained_numbers(text, document) == []
    assert "Target: 20 kg" in text
    assert unexplained_numbers(text.replace("Target: 20 kg", "Target: 21.7 kg"), document) == ["21.7"]


def test_forecast_command_too_few_batches_ends_with_status_1_and_one_line() -> None:
    done = CliRunner().invoke(
        main, ["forecast", str(DEMO), "--part", "drip-saucer", "--sessions", "2", "--people", "3"]
    )
    assert done.exit_code == 1
    assert done.stdout == ""
    assert "drip-saucer has 3 batches" in done.stderr


def test_forecast_text_counts_one_in_the_singular() -> None:
    text = forecast_text(plan(VARIED, sessions=1, people=1))
    assert text.startswith("pot: 1 session of 1 person, 1 a person, 1 part pressed; from 6 batches")
