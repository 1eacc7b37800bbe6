"""A break-even must hold: the records really set to the printed value leave no difference to plastic.

Checked against, from outside:

- break-even: records set to the root leave no difference; drying, draw by draw by hand
- charts: the lines meet at the dot, as two equal footprints must; a mould shared by n pressings is a + b / n (algebra)
"""

from __future__ import annotations

import dataclasses
import json
import re
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from matplotlib.figure import Figure

import impact
from impact.account.results import PartResult
from impact.api import load
from impact.base.catalogue import Names, read_names
from impact.base.printing import Printer, of_hundred
from impact.base.problems import ProblemsError
from impact.base.spellings import shown
from impact.cli.commands import main
from impact.core import FloatArray
from impact.core.roots import first_bracket, first_crossing, root_between
from impact.decisions.breakeven import BreakEven, breakeven
from impact.decisions.scenario import compare_like, scenario_of, stock_of, stocks_of
from impact.decisions.variables import VARIABLES as ALL
from impact.decisions.variables import Variable
from impact.factors.factorset import FactorSet, read_factors
from impact.records.demonstration import DEMO
from impact.records.workshop import Drying, FateSplit, Mould, Workshop
from impact.report.funder.crossings import crossings_chart, variable_words
from impact.study import assess
from tests.frames import PLAIN, batches, part, workshop

SCHEMA = json.loads((Path(impact.__file__).parent / "schemas" / "breakeven.schema.json").read_text(encoding="utf-8"))
VARIABLES = (
    "drying", "electricity", "pressings", "binder-dose", "service-life", "reject-rate", "transport", "mould-mass",
    "landfill-share", "composting-share", "recycling-share",
)  # fmt: skip
NAN = float("nan")


@cache
def factors() -> FactorSet:
    return read_factors()


@cache
def names() -> Names:
    return read_names()


def central(key: str) -> float:
    return factors().choose(key, ("USA", "North America", "world")).factor.value


def solve(shop: Workshop, frame: pd.DataFrame, **options: Any) -> BreakEven:
    return breakeven(scenario_of(shop, frame, factors(), "pot", names=names(), **{"draws": 100, **options}))


def assessed(shop: Workshop, frame: pd.DataFrame, **options: Any) -> PartResult:
    return assess(shop, frame, factors(), names=names(), draws=1, **options).part("pot")


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Read the shipped tables once."""
    monkeypatch.setattr("impact.api.read_factors", lambda _: factors())


# -- the records set by hand, apart from the code under test ---------------------------------------------


def pots(frame: pd.DataFrame) -> pd.Series[bool]:
    return frame["part"].astype(str) == "pot"


def set_drying(shop: Workshop, frame: pd.DataFrame, value: float) -> PartResult:
    changed = frame.copy()
    changed.loc[pots(frame), "drying_kwh"] = value * frame["good_parts"]
    changed.loc[pots(frame), "drying_kwh_evidence"] = "metered"
    return assessed(shop, changed)


def set_electricity(shop: Workshop, frame: pd.DataFrame, value: float) -> PartResult:
    return assessed(shop, frame, grid_kgco2e_per_kwh=value)


def set_pressings(shop: Workshop, frame: pd.DataFrame, value: float) -> PartResult:
    mould = dataclasses.replace(shop.moulds["shell"], pressings=value, retired=False)
    return assessed(dataclasses.replace(shop, moulds={**shop.moulds, "shell": mould}), frame)


def set_dose(shop: Workshop, frame: pd.DataFrame, value: float) -> PartResult:
    changed = frame.copy()
    for index, row in frame.iterrows():
        binder = str(row["binder"])
        fibre = sum(
            row[f"paper.{grade}_kg"]
            * (1 - (central(f"paper.moisture.{grade}") if np.isnan(row["moisture"]) else row["moisture"]))
            for grade in ("corrugated", "office")
        )
        if row["part"] != "pot" or binder == "none" or fibre == 0.0:
            continue
        solids = central(f"binder.solids.{binder}") if np.isnan(row["binder_solids"]) else row["binder_solids"]
        before = central(f"binder.dose.{binder}") * fibre if np.isnan(row["binder_kg"]) else row["binder_kg"] * solids
        changed.loc[index, "binder_kg"] = value * fibre / solids
        changed.loc[index, "binder_preparation_kwh"] = row["binder_preparation_kwh"] * value * fibre / before
    return assessed(shop, changed)


def set_life(shop: Workshop, frame: pd.DataFrame, value: float) -> PartResult:
    pot = dataclasses.replace(shop.parts["pot"], service_life_years=value)
    return assessed(dataclasses.replace(shop, parts={**shop.parts, "pot": pot}), frame)


def set_rejects(shop: Workshop, frame: pd.DataFrame, value: float) -> PartResult:
    rate = central("estimate.reject-rate")
    pressed = frame["good_parts"] + frame["rejects"].fillna(frame["good_parts"] * rate / (1 - rate))
    changed = frame.copy()
    changed.loc[pots(frame), "good_parts"] = (1 - value) * pressed
    changed.loc[pots(frame), "rejects"] = value * pressed
    return assessed(shop, changed)


def set_transport(shop: Workshop, frame: pd.DataFrame, value: float) -> PartResult:
    changed = frame.copy()
    changed.loc[pots(frame), "transport_km"] = value
    return assessed(shop, changed)


def set_mould_mass(shop: Workshop, frame: pd.DataFrame, value: float) -> PartResult:
    mould = dataclasses.replace(shop.moulds["shell"], mass_kg=value)
    return assessed(dataclasses.replace(shop, moulds={**shop.moulds, "shell": mould}), frame)


def set_share(fate: str) -> Callable[[Workshop, pd.DataFrame, float], PartResult]:
    def put(shop: Workshop, frame: pd.DataFrame, value: float) -> PartResult:
        fates = ("landfill", "incineration", "recycling", "composting")
        now = shop.end_of_life or FateSplit(**{one: central(f"fate.part.{one}") for one in fates})
        others = {one: getattr(now, one) for one in fates if one != fate}
        rest = {one: (1.0 - value) * share / sum(others.values()) for one, share in others.items()}
        split = FateSplit(**{**rest, fate: value}, evidence="set by hand")
        return assessed(dataclasses.replace(shop, end_of_life=split), frame)

    return put


SETTERS = dict(
    zip(
        VARIABLES,
        (
            set_drying, set_electricity, set_pressings, set_dose, set_life, set_rejects, set_transport, set_mould_mass,
            set_share("landfill"), set_share("composting"), set_share("recycling"),
        ),
        strict=True,
    )
)  # fmt: skip


def relative(found: PartResult) -> float:
    """Return the difference over the plastic footprint."""
    assert found.difference is not None
    assert found.plastic is not None
    return found.difference.value / found.plastic.footprint.value


# -- random workshops ---------------------------------------------------------------------------------------

blank = st.just(NAN)
rows = st.fixed_dictionaries(
    {
        "part": st.sampled_from(["pot", "pot", "pot", "lid"]),
        "paper.corrugated_kg": st.floats(0.4, 3.0),
        "paper.office_kg": st.floats(0.0, 1.0),
        "own_rejects_kg": st.sampled_from([0.0, 0.3]),
        "moisture": st.one_of(blank, st.floats(0.02, 0.12)),
        "binder": st.sampled_from(["none", "pva-glue", "corn-starch", "rice-paste"]),
        "binder_share": st.one_of(blank, st.floats(0.05, 1.0)),
        "binder_solids": st.one_of(blank, st.floats(0.1, 0.5)),
        "binder_preparation_kwh": st.one_of(blank, st.floats(0.0, 0.3)),
        "drying_kwh": st.one_of(blank, st.floats(0.0, 3.0)),
        "blending_kwh": st.one_of(blank, st.floats(0.0, 0.5)),
        "transport_km": st.one_of(blank, st.floats(0.0, 5.0)),
        "rejects": st.one_of(blank, st.integers(0, 1).map(float)),
        "rejects_to": st.sampled_from(["", "landfill", "own rejects", "incineration"]),
        "trim_kg": st.sampled_from([NAN, 0.0]),
    }
)
shops = st.fixed_dictionaries(
    {
        "plastic_mass_kg": st.floats(0.02, 0.4),
        "service_life_years": st.floats(0.2, 5.0),
        "polymer": st.sampled_from(["PP", "ABS"]),  # formed, and resin with its own electricity
        "retired": st.booleans(),
        "heated_room": st.booleans(),
        "heating": st.sampled_from(["gas", "electricity"]),
        "pressings": st.integers(5, 500),
    }
)


def closed(row: dict[str, Any]) -> dict[str, Any]:
    """Return a batch whose parts weigh less than the paper that went in, whatever its binder."""
    paper = row["paper.corrugated_kg"] + row["paper.office_kg"]
    mass = NAN if row["binder"] == "none" else row.pop("binder_share") * paper
    row.pop("binder_share", None)
    return {**row, "binder_kg": mass, "good_parts": 10.0, "part_mass_kg": paper * 0.9 / 13.0, "confirmed": "good parts"}


def built(shop: dict[str, Any]) -> Workshop:
    pot = part(**{key: shop[key] for key in ("plastic_mass_kg", "service_life_years", "polymer")})
    return workshop(
        pot,
        part("lid"),
        moulds={"shell": Mould("shell", "PLA", 0.3, 2.5, "metered", shop["pressings"], retired=shop["retired"])},
        drying=Drying(dryer="fan", heated_room=shop["heated_room"], heating=shop["heating"]),
        end_of_life=FateSplit(landfill=0.4, incineration=0.3, composting=0.3),
    )


@settings(
    max_examples=5, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate)
)  # shrinking takes minutes
@given(shops, st.lists(rows.map(closed), min_size=1, max_size=4))
def test_breakeven_records_set_to_the_root_leave_no_difference(
    shop: dict[str, Any], made: list[dict[str, Any]]
) -> None:
    made[0]["part"] = "pot"
    bench, frame = built(shop), batches(made)
    found = solve(bench, frame)
    assert tuple(crossing.variable for crossing in found.crossings) == VARIABLES
    for crossing in found.crossings:
        put = SETTERS[crossing.variable]
        span = crossing.high - crossing.low
        if crossing.at is not None:
            assert crossing.low <= crossing.at.value <= crossing.high
            assert relative(put(bench, frame, crossing.at.value)) == pytest.approx(0.0, abs=1e-6), crossing
            inside = crossing.low + 1e-3 * (crossing.at.value - crossing.low)
            assert (relative(put(bench, frame, inside)) < 0.0) == (crossing.lower_side == "below"), crossing
        else:
            for share in (0.001, 0.999):
                sign = relative(put(bench, frame, crossing.low + share * span)) < 0.0
                assert sign == (crossing.answer in ("always lower", "lower")), crossing


@cache
def close_call() -> tuple[Workshop, pd.DataFrame, BreakEven]:
    """Return a workshop near its plastic part in everything."""
    shop = workshop(part(plastic_mass_kg=0.06))
    frame = batches(
        [{**PLAIN, "binder": "pva-glue", "binder_kg": 0.1}, {**PLAIN, "binder": "rice-paste", "good_parts": 9.0}]
    )
    return shop, frame, solve(shop, frame, draws=1000)


@pytest.mark.parametrize("variable", VARIABLES[:8])
def test_breakeven_of_one_workshop_crosses_in_every_variable(variable: str) -> None:
    shop, frame, solved = close_call()
    (crossing,) = (found for found in solved.crossings if found.variable == variable)
    assert crossing.answer == "crosses"
    assert crossing.at is not None
    assert relative(SETTERS[variable](shop, frame, crossing.at.value)) == pytest.approx(0.0, abs=1e-6)
    # What is recorded now leaves the difference as it is, or, for doses that differ by batch, near it.
    now = relative(SETTERS[variable](shop, frame, crossing.now))
    assert now == pytest.approx(
        relative(assessed(shop, frame)), abs=0.02 if variable in ("binder-dose", "reject-rate") else 1e-9
    )
    assert crossing.at.low <= crossing.at.median <= crossing.at.high
    assert 0.5 < crossing.share_crossing <= 1.0


@cache
def demo_points() -> dict[str, BreakEven]:
    """Return the break-even points of every part of the demo, few draws."""
    study = load(DEMO).assess(draws=100)
    shared: dict[str, Any] = {"draws": 100, "names": study.names, "all_batches": study.all_batches}
    return {
        made.part: breakeven(scenario_of(study.workshop, study.batch_records, study.factors, made.part, **shared))
        for made in study.parts
        if made.footprint is not None
    }


@pytest.mark.parametrize("name", ["crate-corner", "drawer-divider", "sorting-cup", "tool-tray"])
def test_breakeven_panels_of_the_demo_have_their_dot_on_both_lines(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[Figure] = []
    monkeypatch.setattr("impact.report.funder.crossings.svg", lambda figure: str(drawn.append(figure)))
    crossings_chart([(name, demo_points()[name].crossings)], Printer(us=False))
    (figure,) = drawn
    crossing = [found for found in demo_points()[name].crossings if found.at is not None]
    assert len(figure.axes) == min(3, len(crossing))  # every variable that crosses is drawn, up to three
    titles = [axes.get_title(loc="left") for axes in figure.axes]
    for found in crossing:
        if (title := f"{shown(name)}: {variable_words(found.variable, Printer(us=False))[0]}") in titles:
            axes = figure.axes[titles.index(title)]
            (dot,) = (line for line in axes.lines if line.get_marker() == "o")
            ((across, up),) = np.asarray(dot.get_xydata()).tolist()
            assert found.at is not None
            assert across == pytest.approx(found.at.value)
            assert axes.get_xlim()[0] <= across <= axes.get_xlim()[1]
            low, high = axes.get_ylim()
            moulded, plastic = axes.lines[:2]
            for line in (moulded, plastic):
                assert np.interp(across, *np.asarray(line.get_xydata()).T) == pytest.approx(
                    up, abs=0.01 * (high - low)
                ), title


@pytest.mark.parametrize(
    ("variable", "bends"), [("pressings", lambda value: 1 / value), ("reject-rate", lambda value: 1 / (1 - value))]
)
def test_breakeven_curves_of_the_demo_bend_as_their_variable_does(
    variable: str, bends: Callable[[FloatArray], FloatArray]
) -> None:
    """Between its points a drawn line lies within 1 % of its height of the curve through its ends: a + b / value."""
    for found in demo_points().values():
        for crossing in found.crossings:
            if crossing.variable == variable:
                points, line = crossing.curve.points, crossing.curve.moulded[0]
                fine = np.linspace(points[0], points[-1], 2001)
                weight = (bends(fine) - bends(points[0])) / (bends(points[-1]) - bends(points[0]))
                expected = line[0] + weight * (line[-1] - line[0])
                assert np.interp(fine, points, line) == pytest.approx(expected, abs=0.01 * max(line)), found.part


@pytest.mark.parametrize(("mass", "answer"), [(50.0, "always lower"), (1e-5, "never lower")])
def test_breakeven_plastic_far_off_is_answered_without_a_value(mass: float, answer: str) -> None:
    found = solve(workshop(part(plastic_mass_kg=mass)), batches([{**PLAIN, "binder": "pva-glue", "binder_kg": 0.1}]))
    for crossing in found.crossings:
        if crossing.variable != "service-life":  # a life of minutes or of a century always turns it
            assert (crossing.answer, crossing.at, crossing.share_crossing) == (answer, None, 0.0), crossing
            assert crossing.share_alike == 1.0


def test_breakeven_always_and_never_are_said_only_where_every_draw_answers_alike() -> None:
    words = set()
    for mass in (0.02, 0.03, 0.045, 0.055, 0.065, 50.0):
        shop = workshop(part(plastic_mass_kg=mass))
        for crossing in solve(shop, batches([{**PLAIN, "binder": "pva-glue", "binder_kg": 0.1}])).crossings:
            words.add(crossing.answer)
            every = crossing.share_crossing == 0.0 and crossing.share_alike == 1.0
            assert crossing.answer.startswith(("always", "never")) == (every and crossing.at is None), crossing
            most = crossing.share_crossing if crossing.at else 1.0 - crossing.share_crossing
            assert crossing.share_alike <= most + 1e-12
    assert words >= {"crosses", "always lower", "lower", "not lower"}


def set_exactly(shop: Workshop, frame: pd.DataFrame, fate: str) -> FloatArray:
    """Return the difference of the pot to plastic where all parts take one route in the end, known without error."""
    other = dataclasses.replace(shop, end_of_life=FateSplit(**{fate: 1.0}, evidence="set"))
    records = scenario_of(other, frame, factors(), "pot", draws=200, names=names())
    sure = dataclasses.replace(records, values=records.values.exactly("fates end of life"))
    return sure.comparison.difference


@pytest.mark.parametrize("fate", ["landfill", "composting", "recycling"])
def test_breakeven_share_in_the_end_interval_matches_each_draw_by_hand(fate: str) -> None:
    now = {"landfill": 0.5, "recycling": 0.3, "composting": 0.2}
    split, frame, part_of = FateSplit(**now, evidence="asked"), batches([PLAIN]), part(plastic_mass_kg=0.033)
    total = sum(share for one, share in now.items() if one != fate)
    alone = {one: set_exactly(workshop(part_of), frame, one) for one in now}  # all parts by one route
    rest = sum(share / total * alone[one] for one, share in now.items() if one != fate)
    ends = (rest, alone[fate])
    roots = (ends[0] / (ends[0] - ends[1]))[1:]
    inside = roots[(roots >= 0.0) & (roots <= 1.0)]
    found = solve(workshop(part_of, end_of_life=split), frame, draws=200)
    (crossing,) = (one for one in found.crossings if one.variable == f"{fate}-share")
    assert crossing.now == pytest.approx(getattr(split, fate))
    assert crossing.share_crossing == pytest.approx(np.mean((roots >= 0.0) & (roots <= 1.0)))
    assert crossing.at is not None
    assert [crossing.at.low, crossing.at.high] == pytest.approx(np.quantile(inside, [0.025, 0.975]), rel=1e-6)


def test_breakeven_no_binder_makes_the_dose_change_nothing() -> None:
    dose = solve(workshop(part(plastic_mass_kg=1.0)), batches([PLAIN])).crossings[3]
    assert (dose.variable, dose.now, dose.at, dose.answer, dose.share_crossing) == (
        "binder-dose",
        0.0,
        None,
        "always lower",
        0.0,
    )


def test_breakeven_wet_use_gives_the_reason_and_no_points() -> None:
    found = solve(workshop(part(wet_use=True)), batches([PLAIN]))
    assert found.crossings == ()
    assert "wet" in str(found.no_comparison)


def test_breakeven_drying_interval_matches_each_draw_by_hand() -> None:
    shop, options = workshop(part(plastic_mass_kg=0.06)), {"names": names(), "draws": 500}
    none, one = (
        assess(shop, batches([{**PLAIN, "drying_kwh": kwh}]), factors(), **options).part("pot") for kwh in (0.0, 10.0)
    )  # 10 parts: 0 and 1 kWh per good part
    assert none.draws is not None
    assert none.plastic_draws is not None
    assert one.draws is not None
    roots = ((none.plastic_draws - none.draws) / (one.draws - none.draws))[1:]
    expected = np.quantile(roots[(roots >= 0.0) & (roots <= 20.0)], [0.025, 0.975])
    drying = solve(shop, batches([PLAIN]), draws=500).crossings[0]
    assert drying.at is not None
    # The run by hand carries the 2 % error of the meter, the break-even does not.
    assert [drying.at.low, drying.at.high] == pytest.approx(expected, rel=0.04)
    assert drying.share_crossing == pytest.approx(np.mean(roots >= 0.0))


def test_breakeven_retired_mould_counts_pressings_of_other_periods() -> None:
    shop = workshop(moulds={"shell": Mould("shell", "PLA", 0.3, 2.5, "metered", 100, retired=True)})
    frame = batches([PLAIN, PLAIN])
    pressings = solve(shop, frame.iloc[:1].reset_index(drop=True), all_batches=frame).crossings[2]
    assert pressings.now == 22.0


def test_breakeven_unknown_part_and_faulty_balance_are_refused() -> None:
    with pytest.raises(ValueError, match="no batch made the part 'lid'"):
        scenario_of(workshop(), batches([PLAIN]), factors(), "lid", names=names())
    with pytest.raises(ProblemsError):
        solve(workshop(), batches([{**PLAIN, "good_parts": 20.0}]))


# -- core ---------------------------------------------------------------------------------------------------


def test_first_crossing_straight_lines_are_exact_and_flat_ones_have_none() -> None:
    slopes, starts = np.array([2.0, -4.0, 0.0, 1.0]), np.array([-1.0, 1.0, -1.0, 5.0])
    differences = starts + np.array([[0.0], [3.0]]) * slopes
    assert first_crossing(np.array([0.0, 3.0]), differences) == pytest.approx([0.5, 0.25, NAN, NAN], nan_ok=True)
    assert first_crossing(np.array([3.0, 0.0]), differences[::-1]) == pytest.approx([0.5, 0.25, NAN, NAN], nan_ok=True)


def test_first_crossing_curve_takes_the_first_of_two() -> None:
    points = np.linspace(0.0, 4.0, 4001)
    curve = (points - 1.0) * (points - 3.0)
    assert first_crossing(points, curve[:, np.newaxis]) == pytest.approx([1.0], abs=1e-3)
    bracket = first_bracket(points, curve)
    assert bracket is not None
    assert bracket[0] <= 1.0 <= bracket[1]
    assert first_bracket(points, curve + 2.0) is None


@pytest.mark.parametrize("points", [[1.0], [0.0, 0.0], [0.0, 2.0, 1.0]])
def test_first_crossing_points_that_do_not_run_one_way_are_refused(points: list[float]) -> None:
    with pytest.raises(ValueError, match="point"):
        first_crossing(np.array(points), np.ones((len(points), 1)))


# -- the command ----------------------------------------------------------------------------------------------


def run(*arguments: str, status: int = 0) -> str:
    done = CliRunner().invoke(main, ["breakeven", str(DEMO), "--draws", "200", *arguments])
    assert done.exit_code == status, done.output
    return done.stdout if status == 0 else done.output


def figures(value: Any) -> set[str]:
    """Return every number of a JSON document as the text may write it, and the numbers in its strings."""
    if isinstance(value, dict):
        return set().union(*(figures(item) for item in value.values()))
    if isinstance(value, list):
        return set().union(*(figures(item) for item in value)) if value else set()
    if isinstance(value, str):
        return set(NUMBER.findall(value))
    return (
        {
            f"{value:.4g}",
            f"{1000.0 * value:.4g}",
            f"{value:.0%}",
            str(value),
            str(of_hundred(value)) if 0.0 <= value <= 1.0 else "",
        }
        if isinstance(value, (int, float))
        else set()
    )


NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?:e[-+]\d+)?%?")


@pytest.mark.parametrize("name", ["drawer-divider", "drip-saucer"])
def test_breakeven_command_json_fits_its_schema_and_holds_every_number_of_the_text(name: str) -> None:
    document = json.loads(run("--part", name, "--json"))
    Draft202012Validator(SCHEMA).validate(document)
    text = run("--part", name)
    assert set(NUMBER.findall(re.sub("less than 1%|of 100", "", text))) <= figures(document)
    for row in document["breakeven"]:
        assert row["variable"] in text
    assert (document["breakeven"] == []) == (name == "drip-saucer")
    if document["measure_next"]:
        assert sum(row["share"] for row in document["measure_next"]) == pytest.approx(1.0)


def test_breakeven_command_narrows_and_refuses_as_the_others_do() -> None:
    whole, narrow = (json.loads(run("--part", "Tool Tray", "--json", *more)) for more in ((), ("--period", "2026-Q1")))
    assert whole["part"] == narrow["part"] == "tool-tray"
    assert narrow["period"] == {"start": "2026-01-01", "end": "2026-03-31"}
    assert whole["difference_kgco2e"] != narrow["difference_kgco2e"]
    assert "tool-tray" in run("--part", "tool-tary", status=1)
    asked = run(status=2)
    assert "--part: the records hold 5 parts" in asked
    assert "Accepted: crate-corner, drawer-divider, drip-saucer, sorting-cup, tool-tray." in asked
    assert "2026-Q1" in run("--part", "tool-tray", "--period", "Q1", status=2)


def test_breakeven_text_has_one_line_for_all_inputs_that_bring_less_than_a_hundredth() -> None:
    document = json.loads(run("--part", "sorting-cup", "--json"))
    lines = run("--part", "sorting-cup").partition("What to measure next")[2].splitlines()[1:]
    told = [row["sentence"] for row in document["measure_next"] if abs(row["share"]) >= 0.01]
    assert 0 < len(told) < len(document["measure_next"]) - 1
    assert [line.strip().partition(" (the interval")[0] for line in lines[:-1]] == told
    assert lines[-1].startswith("  All other inputs: less than 1% of the spread each")


def test_breakeven_command_and_totals_give_the_same_difference() -> None:
    totals = json.loads(CliRunner().invoke(main, ["totals", str(DEMO), "--draws", "200", "--json"]).stdout)
    (made,) = (row for row in totals["parts"] if row["part"] == "crate-corner")
    document = json.loads(run("--part", "crate-corner", "--json"))
    assert document["difference_kgco2e"] == pytest.approx(made["difference_kgco2e"], rel=1e-12)
    assert document["chance_lower"] == made["chance_lower"]


# -- worked out once ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("variable", ALL, ids=lambda one: one.name)
@pytest.mark.parametrize("name", ["tool-tray", "crate-corner", "drawer-divider"])
def test_compare_like_takes_from_the_records_as_they_are_what_the_whole_account_gives(
    name: str, variable: Variable
) -> None:
    opened = load(DEMO)
    options: dict[str, Any] = {"draws": 20, "names": names()}
    records = scenario_of(opened.workshop, opened.batches, factors(), name, **options)
    sure = dataclasses.replace(records, values=records.values.exactly(*variable.exact))
    for value in (variable.low, variable.high):
        changed = variable.set_records(sure, value)
        quick = compare_like(records.comparison, variable.changed, changed, stock_of(changed))
        whole = changed.comparison
        assert (quick.good, quick.matrix.lines, quick.matrix.factors) == (
            whole.good,
            whole.matrix.lines,
            whole.matrix.factors,
        )
        assert np.array_equal(quick.matrix.impacts, whole.matrix.impacts)
        assert np.array_equal(quick.plastic.footprint, whole.plastic.footprint)


@pytest.mark.parametrize("variable", [one for one in ALL if one.changes == "batches"], ids=lambda one: one.name)
@pytest.mark.parametrize("most", [200_000, 1])
def test_stocks_of_many_values_are_those_of_each_alone(
    variable: Variable, most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("impact.decisions.scenario.ROWS_AT_ONCE", most)
    opened = load(DEMO)
    for name in ("tool-tray", "crate-corner"):
        records = scenario_of(opened.workshop, opened.batches, factors(), name, draws=1, names=names())
        values = np.linspace(variable.low, variable.high, 5)
        found = stocks_of(records, variable.set_records, values)
        alone = [stock_of(variable.set_records(records, value)) for value in values.tolist()]
        assert [one.by_line() for one in found] == [one.by_line() for one in alone]


@pytest.mark.parametrize(
    ("curve", "low", "high"),
    [
        (lambda x: x**3 - 2.0, 0.0, 5.0),
        (lambda x: 1.0 / (x + 0.1) - 3.0, 0.0, 90.0),
        (lambda x: 2.0 - 7.0 * x, 0.0, 1.0),
        (lambda x: np.expm1(x) - 1e-6, -1.0, 8.0),
        (lambda x: x - 1e-9, 0.0, 1e6),
        (lambda x: x, 0.0, 2.0),
    ],
)
def test_root_between_is_that_of_brent(curve: Callable[[float], float], low: float, high: float) -> None:
    """Against `scipy.optimize.brentq` (R. P. Brent, Algorithms for Minimization without Derivatives, 1973, chapter 4)."""
    from scipy.optimize import brentq

    assert root_between(curve, low, high) == pytest.approx(brentq(curve, low, high, xtol=1e-15), rel=1e-10, abs=1e-13)


def test_root_between_without_a_change_of_sign_is_refused() -> None:
    with pytest.raises(ValueError, match="no root is held between 0 and 1"):
        root_between(lambda x: x + 1.0, 0.0, 1.0)
