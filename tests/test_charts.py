"""The charts: the flow of paper balances, labels stand where things are drawn, odd records do not break them.

Checked against, from outside:

- flow of paper: one batch by hand; the account of paper
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from html import unescape
from pathlib import Path

import pytest

from impact.account.paper import massflow
from impact.account.results import Interval, PartResult, Results
from impact.api import load
from impact.base.locale import Marks
from impact.base.printing import Printer
from impact.base.quantities import fixed
from impact.base.spellings import shown
from impact.decisions.breakeven import BreakEven
from impact.decisions.levers import Relief
from impact.records.demonstration import DEMO
from impact.records.statements import Grant
from impact.report.drawing import MOULDED, PAPER, PLASTIC, apart, fitting, shortened, told_apart, widest
from impact.report.funder import charts, flow, footprints, levers
from impact.report.funder.decisions import Decision
from impact.report.ties import Ties
from impact.study import counted_for
from tests.folders import write_folder

METRIC = Printer(us=False)
ROUNDED = replace(METRIC, report=fixed([("paper", 10.0)], us=False))
"""Paper to a tenth of a kilogram, as in the report of a small workshop."""

COMMA = Printer(us=True, written=Marks(decimal=","))


@cache
def demo() -> Results:
    return load(DEMO).assess(draws=100)


def words(svg: str) -> list[str]:
    """Return the texts of a chart."""
    return [unescape(re.sub(r"<[^>]*>", "", text)) for text in re.findall(r"<text.*?</text>", svg, flags=re.DOTALL)]


def one_batch(folder: Path, row: str) -> Results:
    """Return the results of the head of the batches' columns and one row; its figures are invented."""
    head = "batch,date,part,corrugated,own rejects,moisture,binder,water,good parts,rejects,rejects to,trim,trim to\n"
    return load(write_folder(folder, batches=f"{head}{row}\n")).assess(draws=100)


# -- the flow of paper ----------------------------------------------------------------------------------------------


def test_massflow_demo_balances_with_the_account_of_paper() -> None:
    paper, found = demo().paper, massflow(demo())
    fates = ("landfill_kg", "incineration_kg", "recycling_kg", "composting_kg")
    assert sum(found["in"].values()) == pytest.approx(sum(found["out"].values()))
    assert sum(found["in"][fate] for fate in fates) == pytest.approx(paper.collected_kg.value)
    assert found["in"]["landfill_kg"] - found["out"]["landfill_kg"] == pytest.approx(
        paper.kept_from_landfill_kg.value + paper.fines_off_landfill_kg.value
    )
    assert found["out"]["unaccounted_kg"] == pytest.approx(paper.fines_kg.value)
    assert found["out"]["good_parts_kg"] == paper.put_to_use_kg.value == pytest.approx(sum(found["later"].values()))
    assert min(mass for side in found.values() for mass in side.values()) >= 0.0


# By hand, without binder: 2 kg of paper at 10 % water hold 1.8 kg dry. 20 pots of 38 g and 5 rejects at 6 % hold
# 0.7144 and 0.1786 kg dry, 40 g of trim 0.0376 kg; 0.8694 kg is missing. As weighed all is over 0.9.
def test_massflow_one_batch_matches_arithmetic_by_hand(tmp_path: Path) -> None:
    found = massflow(one_batch(tmp_path, "1,2026-01-05,pot,2,,10 %,none,9,20,5,composting,40 g,landfill"))
    assert found["out"] == pytest.approx(
        {
            "good_parts_kg": 0.7144 / 0.9, "landfill_kg": 0.0376 / 0.9, "incineration_kg": 0.0, "recycling_kg": 0.0,
            "composting_kg": 0.1786 / 0.9, "waiting_kg": 0.0, "unaccounted_kg": 0.8694 / 0.9,
        }
    )  # fmt: skip
    assert found["in"]["landfill_kg"] == pytest.approx(0.6)  # 30 % by the folder's bin audit
    assert found["later"]["landfill_kg"] == pytest.approx(0.5 * 0.7144 / 0.9)


@pytest.mark.parametrize(
    ("row", "positive", "nothing"),
    [
        ("1,2026-01-05,pot,1,,6 %,none,9,20,4,own rejects,0,", ("out", "waiting_kg"), ("in", "earlier_rejects_kg")),
        ("1,2026-01-05,pot,1,0.2,6 %,none,9,20,0,,0,", ("in", "earlier_rejects_kg"), ("out", "waiting_kg")),
        ("1,2026-01-05,pot,1,,6 %,none,9,27,0,,0,", ("in", "beyond_weighed_kg"), ("out", "unaccounted_kg")),
        ("1,2026-01-05,pot,,0.5,,none,9,10,1,landfill,0,", ("in", "earlier_rejects_kg"), ("in", "landfill_kg")),
    ],
)
def test_massflow_odd_batch_balances_and_is_drawn(
    tmp_path: Path, row: str, positive: tuple[str, str], nothing: tuple[str, str]
) -> None:
    found = massflow(one_batch(tmp_path, row))
    assert found[positive[0]][positive[1]] > 0.0
    assert found[nothing[0]][nothing[1]] == 0.0
    assert sum(found["in"].values()) == pytest.approx(sum(found["out"].values()))
    assert flow.flow_chart(found, METRIC).startswith("<svg")


def test_massflow_grant_scales_every_figure() -> None:
    grant = Grant("north", demo().start, demo().end, 0.25)
    whole, part = massflow(demo()), massflow(counted_for(demo(), grant))
    for side, figures in whole.items():
        assert part[side] == pytest.approx({name: 0.25 * mass for name, mass in figures.items()})


def test_flow_chart_labels_have_the_masses_and_repeat() -> None:
    found = massflow(demo())
    drawn = flow.flow_chart(found, COMMA)
    assert flow.flow_chart(found, COMMA) == drawn
    text = " ".join(words(drawn))
    for side, name in flow.rows(found):
        assert COMMA.figure(found[side][name], "paper") in text


@pytest.mark.parametrize("tall", [flow.TALL, flow.LOW])
def test_flow_chart_bands_are_in_proportion_to_mass(tall: float) -> None:
    found = massflow(demo())
    pieces = flow._pieces(found, "out", METRIC, tall)
    masses = [found[side][name] for side, name in flow.rows(found) if side == "out"]
    assert [piece.height for piece in pieces] == pytest.approx([tall * mass / flow.total_kg(found) for mass in masses])


def test_flow_alternative_says_every_mass() -> None:
    found = massflow(demo())
    said = flow.flow_alternative(found, METRIC)
    assert all(METRIC.figure(found[side][name], "paper") in said for side, name in flow.rows(found))


def test_flow_without_paper_is_neither_drawn_nor_said() -> None:
    nothing = {side: dict.fromkeys(names, 0.0) for side, names in flow.ROWS.items()}
    assert (flow.flow_chart(nothing, METRIC), flow.flow_alternative(nothing, METRIC)) == ("", "")
    assert flow.rows(nothing) == []


def test_flow_chart_paper_but_no_good_part_has_no_end_of_life() -> None:
    lost = {side: dict.fromkeys(names, 0.0) for side, names in flow.ROWS.items()}
    lost["in"]["recycling_kg"] = lost["out"]["unaccounted_kg"] = 3.0
    text = " ".join(words(flow.flow_chart(lost, METRIC)))
    assert "not found again" in text
    assert "in the end" not in text


# -- the other charts -----------------------------------------------------------------------------------------------


def copies(part: PartResult, count: int) -> list[PartResult]:
    return [replace(part, part=f"{part.part} number {index}", good=part.good + index) for index in range(count)]


def test_stages_chart_names_every_stage_once() -> None:
    drawn = charts.stages_chart(demo().parts, METRIC)
    assert charts.stages_chart(demo().parts, METRIC) == drawn
    text = words(drawn)
    assert "legend" not in drawn
    assert [text.count(name) for name in (*charts.STAGE_NAMES.values(), *charts.PLASTIC_NAMES.values())] == [1] * 9
    assert METRIC.figure(demo().parts[0].footprint.value, "per part", unit=False) in text  # type: ignore[union-attr]


def test_stages_chart_many_parts_shows_the_largest_and_says_so() -> None:
    many = copies(demo().parts[0], 15)
    assert [part.part[-2:].strip() for part in charts.shown_parts(many)] == [str(index) for index in range(10, 15)]
    assert len(charts.shown_parts(many[:12])) == 12
    drawn = charts.stages_chart(many, METRIC)
    assert "10 more in the table" in " ".join(words(drawn))
    points = float(re.search(r'height="([\d.]+)pt"', drawn)[1])  # type: ignore[index]
    assert points < 0.9 * 700  # a page of A4 has 729 pt between its margins


def test_stages_chart_negative_stage_lies_left_of_zero() -> None:
    part = demo().parts[0]
    less = replace(part, stages={**part.stages, "end_of_life": -0.05}, footprint=Interval(0.01, -0.02, 0.03, 0.01))
    assert any(word.startswith("\u2212") for word in words(charts.stages_chart([less], METRIC)))


def test_stages_chart_no_part_with_a_footprint_is_not_drawn() -> None:
    without = [replace(part, footprint=None) for part in demo().parts]
    for parts in (without, []):
        assert charts.stages_chart(parts, METRIC) == charts.stages_alternative(parts, METRIC) == ""
        assert charts.title_of_stages(parts, "en") == ""


def test_months_chart_many_grades_sums_the_smallest() -> None:
    by_grade = {f"grade {index}": [10.0 - index, 5.0] for index in range(9)}
    shown = charts.largest_grades(by_grade, "en")
    assert len(shown) == charts.GRADES_SHOWN
    assert shown["4 other grades"] == [5.0 + 4.0 + 3.0 + 2.0, 20.0]
    drawn = charts.months_chart(["2026-01", "2026-02"], by_grade, METRIC)
    assert "legend" not in drawn
    assert {"4 other grades 34.0", "grade 0 15.0"} <= set(words(drawn))


@pytest.mark.parametrize(
    ("by_grade", "drawn"),
    [({}, False), ({"office": [0.0]}, False), ({"office": [1.25]}, True), ({"office": [0.0], "kraft": [0.5]}, True)],
)
def test_months_chart_is_drawn_where_there_is_paper(by_grade: dict[str, list[float]], drawn: bool) -> None:
    assert bool(charts.months_chart(["2026-01"], by_grade, METRIC)) is drawn
    assert bool(charts.months_alternative(["2026-01"], by_grade, METRIC)) is drawn


def test_charts_numbers_along_axes_have_the_countrys_mark() -> None:
    text = words(charts.months_chart(["2026-01"], {"office": [1.0]}, COMMA))
    ticks = [tick for tick in text if re.fullmatch(r"\d+[.,]\d+", tick)]
    assert len(ticks) >= 3
    assert all("," in tick for tick in ticks)


def said_of(part: PartResult) -> list[str]:
    """Return both footprints of a part that is compared as an alternative says them."""
    assert part.footprint is not None
    assert part.plastic is not None
    return [METRIC.whole(side, "per part") for side in (part.footprint, part.plastic.footprint)]


def test_stages_chart_names_the_largest_stage_on_its_bar_where_it_has_room() -> None:
    (saucer,) = (part for part in demo().parts if part.part == "drip-saucer")
    label = f"making and drying {METRIC.figure(saucer.stages['making'], 'per part', unit=False)}"
    assert label in words(charts.stages_chart([saucer], METRIC))
    narrow = replace(saucer, stages={**saucer.stages, "making": 0.003, "mould": 0.4})
    assert not any(text.startswith("making and drying ") for text in words(charts.stages_chart([narrow], METRIC)))


def test_stages_chart_plastic_alone_is_hatched() -> None:
    part = demo().parts[0]
    alone = replace(part, plastic=None)
    assert charts.stages_chart([alone], METRIC).count("<pattern") == 0
    assert charts.stages_chart([part], METRIC).count("<pattern") == len(charts.PLASTIC_NAMES)


def test_stages_alternative_says_both_footprints_with_their_intervals() -> None:
    said = charts.stages_alternative(demo().parts, METRIC)
    assert all(figure in said for part in demo().parts if part.plastic for figure in said_of(part))


def test_stages_title_counts_the_parts_of_the_commonest_largest_stage() -> None:
    parts = list(demo().parts[:2])
    assert charts.title_of_stages(parts, "en") == "Making and drying is the largest stage of every moulded part"
    parts.append(replace(parts[0], stages={**parts[0].stages, "mould": 9.0}))
    said = "Making and drying is the largest stage of 2 of 3 moulded parts"
    assert charts.title_of_stages(parts, "en") == said
    assert charts.title_of_stages([replace(parts[0], stages=dict.fromkeys(parts[0].stages, 0.0))], "en") == ""


def tie(**figures: float) -> Ties:
    """Return what prints figures by name; two underscores stand for a full stop."""
    return Ties({name.replace("__", "."): value for name, value in figures.items()}, METRIC)


@pytest.mark.parametrize(
    ("fates", "said"),
    [
        (
            {"recycling_kg": 6.0, "landfill_kg": 4.0},
            "Most of the paper would have been recycled anyway (6.0 of 10.0\xa0kg)",
        ),
        (
            {"landfill_kg": 6.0, "recycling_kg": 4.0},
            "Most of the paper would have gone to landfill (6.0 of 10.0\xa0kg)",
        ),
        (
            {"landfill_kg": 4.0, "recycling_kg": 3.0, "incineration_kg": 3.0},
            "More of the paper would have gone to landfill than anywhere else (4.0 of 10.0\xa0kg)",
        ),
        ({}, ""),
    ],
)
def test_flow_title_says_where_most_would_have_gone(fates: dict[str, float], said: str) -> None:
    found = {side: dict.fromkeys(names, 0.0) for side, names in flow.ROWS.items()}
    found["in"] |= fates
    values = {f"flow.in.{name}": mass for name, mass in fates.items()}
    title = flow.title_of_flow(found, Ties({**values, "paper.collected_kg.value": 10.0}, ROUNDED))
    assert re.sub(r"<[^>]*>", "", title) == said


@pytest.mark.parametrize(
    ("office", "said"), [(4.0, "Most of the paper was office"), (2.0, "More of the paper was office than")]
)
def test_months_title_names_the_largest_grade(office: float, said: str) -> None:
    figures = tie(paper__by_grade__office__collected_kg=office, paper__collected_kg__value=office + 3.0)
    assert charts.title_of_months({"office": [office], "kraft": [1.5], "box": [1.5]}, figures, str).startswith(said)
    assert charts.title_of_months({"office": [0.0]}, figures, str) == ""


def test_months_alternative_says_the_sum_of_every_grade_and_month() -> None:
    said = charts.months_alternative(["2026-01", "2026-02"], {"office": [1.0, 2.0], "kraft": [0.5, 0.0]}, ROUNDED)
    assert all(text in said for text in ("office 3.0", "kraft 0.5", "2026-01 1.5", "2026-02 2.0"))


# -- each part beside plastic ---------------------------------------------------------------------------------------


def test_footprints_chart_most_favourable_part_comes_first_and_five_are_shown() -> None:
    compared = [part for part in demo().parts if part.difference]
    ordered = sorted(compared, key=lambda part: part.difference.value if part.difference else 0.0)
    text = words(footprints.footprints_chart(demo().parts, METRIC))
    assert [name for name in text if name in {shown(part.part) for part in ordered}] == [
        shown(part.part) for part in ordered
    ]
    assert {"moulded", "plastic", "g CO₂e"} <= set(text)
    many = copies(compared[0], 40)
    assert sum("number" in name for name in words(footprints.footprints_chart(many, METRIC))) == footprints.MOST


def test_footprints_chart_and_alternative_have_both_values_and_intervals() -> None:
    compared = [part for part in demo().parts if part.difference]
    drawn = " ".join(words(footprints.footprints_chart(demo().parts, METRIC)))
    said = footprints.footprints_alternative(demo().parts, METRIC)
    for figure in (figure for part in compared for figure in said_of(part)):
        assert figure in said
        assert figure.replace("\xa0g CO₂e", "") in drawn


def test_footprints_chart_tells_the_sides_apart_by_form_and_tone() -> None:
    drawn = footprints.footprints_chart(demo().parts[:1], METRIC)
    forms = {name: path for path, name in re.findall(r'<path d="([^"]*)"[^>]*id="([^"]*)"', drawn)}
    dot, diamond = (
        {forms[name] for name in re.findall(rf'href="#([^"]*)" fill="{fill}" stroke="{tone}"', drawn)}
        for fill, tone in ((MOULDED, MOULDED), (PAPER, PLASTIC))
    )
    assert [" C " in form for form in (*dot, *diamond)] == [True, False]


def test_footprints_title_counts_the_verdicts() -> None:
    part = next(part for part in demo().parts if part.difference)
    lower, higher, undecided = (replace(part, chance_lower=chance) for chance in (0.95, 0.05, 0.5))
    counted = {"story.compared": 4.0, "story.lower": 2.0, "story.higher": 1.0, "story.undecided": 1.0}
    said = footprints.title_of_footprints([lower, lower, undecided, higher], Ties(counted, METRIC))
    plain = re.sub(r"<[^>]*>", "", said).replace("\xa0", " ")
    assert plain == "Footprints of the 4 parts compared: 2 lower than plastic, 1 higher than plastic, 1 not told apart"
    for parts, words_of_all in (
        ([lower, lower], "Every part compared has a lower footprint than plastic"),
        ([higher], "The part compared has a higher footprint than plastic"),
        ([undecided, undecided], "No part compared has a footprint that can be told apart from plastic's"),
    ):
        assert footprints.title_of_footprints(parts, tie()) == words_of_all


def test_footprints_of_parts_without_plastic_are_neither_drawn_nor_said() -> None:
    without = [replace(part, plastic=None, difference=None, chance_lower=None) for part in demo().parts]
    assert footprints.footprints_chart(without, METRIC) == footprints.footprints_alternative(without, METRIC) == ""
    assert footprints.title_of_footprints(without, tie()) == ""


# -- what would lower it --------------------------------------------------------------------------------------------


def relief(step: str, off: float) -> Relief:
    return Relief(step, "drying", step, "", Interval(off, off - 0.004, off + 0.01, off), 0.9)


def decided(part: str, steps: Sequence[Relief], good: float = 10.0) -> Decision:
    return Decision(part, good, BreakEven(part, None, None, None, ()), tuple(steps), ())


def test_levers_chart_shows_the_six_largest_steps_that_help_once_for_all_parts() -> None:
    steps = [relief(f"step {place}", 0.01 * place) for place in range(-2, 9)]
    parts = [decided("pot-stand", steps), decided("tray", steps[:6], good=1.0)]
    text = words(levers.levers_chart(parts, METRIC))
    assert [name for name in text if name.startswith("step")] == [f"step {place}" for place in (8, 7, 6, 5, 4, 3)]
    assert [name for name in text if name in ("pot stand", "tray")] == ["pot stand", "tray"]
    assert {"80.0", "30.0"} <= set(text)
    said = levers.levers_alternative(parts, METRIC)
    assert "pot stand: step 8 80.0\xa0g CO₂e (76.0 to 90.0); step 7" in said
    assert said.count("step 3 30.0\xa0g CO₂e (26.0 to 40.0)") == 2
    assert "step 2" not in said


def test_levers_chart_orders_steps_by_what_all_good_parts_would_save() -> None:
    few, many = decided("few", [relief("a", 0.09), relief("b", 0.01)], 1.0), decided("many", [relief("b", 0.02)], 100.0)
    assert [one.lever for one in levers.helpful([few, many])] == ["b", "a"]  # 2.01 kg against 0.09 kg


def test_levers_title_of_one_part_names_the_largest_step_with_tied_figures() -> None:
    figures = {"breakeven.pot.levers.half.takes_off_kgco2e.value": 0.02, "parts.pot.footprint_kgco2e.value": 0.1}
    one = decided("pot", [relief("other", 0.01), relief("half", 0.02)])
    title = levers.title_of_levers([one], Ties(figures, METRIC))
    assert re.sub(r"<[^>]*>", "", title) == "pot: half would take off most (20.0 of 100 g CO₂e)"


def test_levers_title_of_several_parts_counts_those_where_one_step_takes_most() -> None:
    one, two = decided("one", [relief("half", 0.02)]), decided("two", [relief("half", 0.03), relief("less", 0.01)])
    other = decided("other", [relief("half", 0.01), relief("less", 0.04)])
    assert levers.title_of_levers([one, two], tie()) == "Half would take most off every part"
    assert levers.title_of_levers([one, other, two], tie()) == "Half would take most off 2 of 3 parts"


@pytest.mark.parametrize("steps", [[], [relief("harm", -0.01)]])
def test_levers_that_do_not_help_are_neither_drawn_nor_said(steps: list[Relief]) -> None:
    none = [decided("pot", steps)]
    assert levers.levers_chart(none, METRIC) == levers.levers_alternative(none, METRIC) == ""
    assert levers.title_of_levers(none, tie()) == ""


@pytest.mark.parametrize(
    ("name", "short"),
    [("tray", "tray"), ("a" * 12, "a" * 12), ("seedling pot, round, 7 cm", "seedlin…7 cm"), ("b" * 13, "bbbbbbb…bbbb")],
)
def test_shortened_long_name_keeps_both_ends(name: str, short: str) -> None:
    assert shortened(name, 12) == short


def test_told_apart_long_names_keep_what_they_differ_in() -> None:
    names = [f"holder for the small things of bench number {place} by the window" for place in range(7)]
    short = told_apart(["caddy", *names], 20)
    assert short[0] == "caddy"
    assert len(set(short)) == 8
    assert all(str(place) in text and len(text) <= 20 for place, text in enumerate(short[1:]))
    assert told_apart([names[0], names[0]], 20) == [shortened(names[0], 20)] * 2


@pytest.mark.parametrize("room", [0.5, 1.0, 3.0])
def test_fitting_names_have_room_and_differ(room: float) -> None:
    names = [f"holder for the small things of bench number {place} by the window" for place in range(5)]
    short = fitting(names, room)
    assert len(set(short)) == 5
    assert widest(short) <= room


@pytest.mark.parametrize("wished", [[1.0, 1.0, 1.0], [0.0, 0.1, 5.0], [9.8, 9.9, 10.0], [-3.0, 4.0, 20.0]])
def test_apart_labels_keep_their_order_and_distance_inside_the_room(wished: list[float]) -> None:
    places = apart(wished, [1.0, 2.0, 1.0], 0.0, 10.0)
    assert places[1] - places[0] >= 1.5 - 1e-12
    assert places[2] - places[1] >= 1.5 - 1e-12
    assert places[0] >= 0.5
    assert places[2] <= 9.5 + 1e-12
