"""The forecast: its refusal, its centre, its coverage on batches of known truth, its document.

Checked against, from outside:

- prediction interval: coverage on invented batches of known truth; variance of a mean to come
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
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from impact.base.catalogue import Names, read_names
from impact.base.problems import ProblemsError
from impact.cli.commands import main
from impact.cli.decisions_text import forecast_text
from impact.core.prediction import ratio_prediction
from impact.decisions.forecast import Forecast, ForecastError, forecast
from impact.decisions.pace import Pace, date_at_pace, pace_of, progress_to
from impact.factors.factorset import FactorSet, read_factors
from impact.records.demonstration import DEMO
from impact.records.workshop import Drying, Recipe, Targets, Workshop
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


@pytest.mark.parametrize(("count", "future"), [(30, 10), (30, 30), (8, 10)])
def test_ratio_prediction_lognormal_batches_are_covered_as_promised(count: int, future: int) -> None:
    rng = np.random.default_rng(20260401)
    covered = 0
    for _ in range(300):
        pressed, amounts = simulated(rng, count)
        next_pressed, next_amounts = simulated(rng, future)
        drawn = ratio_prediction(amounts[:, np.newaxis], pressed, float(next_pressed.sum()), draws=400, rng=rng)[1:, 0]
        low, high = np.quantile(drawn, [0.025, 0.975])
        covered += low <= next_amounts.sum() <= high
    assert 0.90 <= covered / 300 <= 0.99


def test_ratio_prediction_centre_is_the_ratio_of_the_records() -> None:
    drawn = ratio_prediction(
        np.array([[1.0], [3.0]]), np.array([10.0, 10.0]), 50.0, draws=10, rng=np.random.default_rng(0)
    )
    assert drawn.shape == (11, 1)
    assert drawn[0, 0] == pytest.approx(10.0)


def test_ratio_prediction_equal_batches_leave_nothing_open_and_stay_in_step() -> None:
    amounts, pressed = np.array([[1.0, 4.0], [2.0, 8.0], [3.0, 12.0]]), np.array([10.0, 20.0, 30.0])
    drawn = ratio_prediction(amounts, pressed, 45.0, draws=50, rng=np.random.default_rng(0))
    np.testing.assert_allclose(drawn, np.tile([4.5, 18.0], (51, 1)))
    uneven = ratio_prediction(amounts * [[1.5], [1.0], [1.0]], pressed, 45.0, draws=50, rng=np.random.default_rng(0))
    np.testing.assert_allclose(uneven[:, 1], 4.0 * uneven[:, 0])
    assert np.ptp(uneven[:, 0]) > 0.0


def test_ratio_prediction_more_sessions_narrow_the_share_but_not_below_the_records() -> None:
    rng = np.random.default_rng(3)
    pressed, amounts = simulated(rng, 30)

    def spread(planned: float) -> float:
        drawn = ratio_prediction(amounts[:, np.newaxis], pressed, planned, draws=4000, rng=rng)[1:, 0]
        return float(np.std(drawn) / np.mean(drawn))

    rate = amounts / pressed
    # Variance of the mean of m future batches about the mean of n recorded ones: (1/m + 1/n) s^2 (elementary; any text on prediction).
    assert spread(12.0) > spread(120.0) > spread(12_000.0) > 0.5 * np.std(rate) / np.mean(rate) / 30**0.5


@pytest.mark.parametrize(("pressed", "planned"), [([10.0], 5.0), ([10.0, 0.0], 5.0), ([10.0, 9.0], 0.0)])
def test_ratio_prediction_nothing_to_go_by_is_refused(pressed: list[float], planned: float) -> None:
    with pytest.raises(ValueError, match="accepted"):
        ratio_prediction(np.ones((len(pressed), 1)), np.array(pressed), planned, draws=5, rng=np.random.default_rng(0))


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
    assert found.difference_kgco2e.value == pytest.approx(made.difference.value * made.good)
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
    assert plan(VARIED).good_parts.low != plan(VARIED, rng=2).good_parts.low
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
    # A 390 W blender named as the dryer: 0.78 kWh by nameplate are 2 h a batch.
    rows = [{**row, "drying_kwh": 0.78, "drying_kwh_evidence": "nameplate"} for row in VARIED]
    pressed = sum(row["good_parts"] + row["rejects"] for row in VARIED)
    found = plan(rows, workshop(drying=Drying(dryer="blender")))
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
    pace, diverted = Pace(date(2026, 1, 1), date(2026, 1, 19), 2.0, True), np.array([1.0, 0.5, 4.0])
    near, far = (
        progress_to(Targets(5.0, date(2026, 6, 30)), 2.0, diverted, pace, sessions) for sessions in (8, 10_000_000)
    )
    assert near.last_session == date(2026, 2, 4)
    assert far.last_session is None
    assert (near.chance_after, near.after_kg.value) == (0.5, 3.0)


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
