"""Labels of charts lie whole inside the drawing and over no other label, whatever the numbers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import combinations
from xml.etree import ElementTree

import numpy as np
import pytest

from impact.account.results import Interval, PartResult, Results
from impact.api import load
from impact.base.language import translate
from impact.base.printing import Printer
from impact.base.quantities import fixed
from impact.base.spellings import shown
from impact.decisions.breakeven import BreakEven, Crossing, Curve
from impact.decisions.forecast import Forecast
from impact.decisions.levers import Relief
from impact.decisions.planned import Expected
from impact.records.demonstration import DEMO
from impact.report.binder.chart import Row, binders_chart
from impact.report.drawing import NARROW, PALE, POINT, WIDTH, text_width
from impact.report.funder.charts import months_chart, stages_chart
from impact.report.funder.crossings import VARIABLES, crossings_chart
from impact.report.funder.decisions import Decision
from impact.report.funder.flow import ROWS, flow_chart
from impact.report.funder.footprints import footprints_chart
from impact.report.funder.levers import levers_chart
from impact.report.kinds import KINDS
from impact.report.request import Request
from impact.report.school.chart import ON_PAPER, ON_PHONE, term_chart
from impact.report.school.content import term_of

METRIC = Printer(us=False)


@dataclass(frozen=True)
class Label:
    """A text of a drawing and the room that it takes. [pt]"""

    text: str
    left: float
    right: float
    top: float
    bottom: float

    def touches(self, other: Label) -> bool:
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )


def labels(svg: str) -> list[Label]:
    """Return the texts of a chart; a digit is about 0.65 of its size high."""
    found = []
    for one in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text"):
        text, size, anchor = "".join(one.itertext()), float(one.attrib["font-size"]), one.get("text-anchor", "start")
        width = text_width(text, size) / POINT
        moved = one.get("transform", "").partition("translate(")[2].rstrip(")").split()  # a line of several
        x, foot = (float(place) for place in moved or (one.attrib["x"], one.attrib["y"]))
        left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * width
        found.append(Label(text, left, left + width, foot - 0.65 * size, foot))
    return found


def assert_clear(svg: str, width: float = WIDTH) -> None:
    """Fail where a label is cut by the edge of the drawing [in], or touches another."""
    found = labels(svg)
    assert len(found) > 5
    assert [one for one in found if one.left < 0.0 or one.right > width / POINT or one.top < 0.0] == []
    assert [(one.text, other.text) for one, other in combinations(found, 2) if one.touches(other)] == []


@cache
def demo_term() -> Forecast:
    results = load(DEMO).assess(draws=100)
    found = term_of(results, Request("school"), "tool-tray")
    assert found is not None
    return found


def interval(low: float, middle: float, high: float) -> Interval:
    return Interval(middle, low, high, middle)


def expected(low: float, middle: float, high: float, basis: str = "records") -> Expected:
    return Expected(middle, low, high, middle, basis, 9, 9)


CARBON = [(-27.0, -19.0, -11.0), (11.0, 19.0, 27.0), (-4.6, -1.3, 2.6), (-9e6, -8e6, -0.1), (0.0, 0.0, 0.0), (-1e-4, 0.0, 3.0)]  # fmt: skip


SIDES = {1.0: ("← less than plastic", "more than plastic →"), 0.6: ("← saved", "added →")}
"""By the share of the parts that replace a plastic one."""


@pytest.mark.parametrize("replaced", SIDES)
@pytest.mark.parametrize("language", KINDS["school"].languages)
@pytest.mark.parametrize("gap", CARBON)
def test_term_chart_any_side_of_zero_has_room_for_both_names(
    gap: tuple[float, float, float], language: str, replaced: float
) -> None:
    plan = replace(demo_term(), difference_kgco2e=expected(*gap), displacement=replaced)
    sides = {translate(language, side) for side in SIDES[replaced]}
    for form in (ON_PAPER, ON_PHONE):
        drawn = term_chart(plan, Printer(us=False, language=language), partial(translate, language), form)
        assert_clear(drawn, form.width)
        assert sides <= {one.text for one in labels(drawn)}


@pytest.mark.parametrize("people", [1, 10_000_000])
@pytest.mark.parametrize("kept", [(-300.0, -200.0, -100.0), (0.0, 0.0, 0.0), (1e9, 2e9, 3e9)])
def test_term_chart_large_and_negative_masses_stay_inside(people: int, kept: tuple[float, float, float]) -> None:
    pressed = 10.0 * people
    plan = replace(
        demo_term(),
        people=people,
        parts_per_person=1,
        good_parts=expected(0.8 * pressed, 0.9 * pressed, pressed),
        diverted_kg=expected(*kept),
    )
    for form in (ON_PAPER, ON_PHONE):
        assert_clear(term_chart(plan, METRIC, str, form), form.width)


def test_term_chart_rare_amount_is_a_dot_without_a_bar() -> None:
    plan, kinds = demo_term(), []
    for basis in ("records", "rare"):
        kept = replace(plan.diverted_kg, basis=basis)
        drawn = term_chart(replace(plan, diverted_kg=kept, difference_kgco2e=None), METRIC, str)
        kinds.append(drawn.count(f'fill="{PALE}"'))
    assert kinds == [kinds[1] + 1, kinds[1]]


@pytest.mark.parametrize("count", [1, 4, 11])
@pytest.mark.parametrize("top", [0.02, 160.0, 31_000.0, 4_200_000.0])
def test_crossings_chart_names_and_numbers_of_neighbours_stay_apart(top: float, count: int) -> None:
    points = np.linspace(0.0, 1.0, 20)
    rising, level = (np.array([line, 0.9 * line, 1.1 * line]) for line in (points * top, np.full(20, 0.4 * top)))
    curve = Curve(points, rising / 1000.0, level / 1000.0)
    at = interval(0.3, 0.4, 0.5)
    crossings = [
        Crossing(name, unit, 0.5, at, "crosses", "below", 1.0, 1.0, 0.0, 1.0, curve)
        for name, (_, unit) in VARIABLES.items()
    ]
    flat = replace(crossings[0], at=None, answer="always lower", lower_side=None)  # has no panel
    drawn = crossings_chart([("part", [flat, *crossings[:count], flat])], METRIC)
    assert crossings_chart([("part", [flat])], METRIC) == ""
    assert sum(one.text == "now" for one in labels(drawn)) == min(count, 3)
    known = [one for one in labels(drawn) if one.text != "now"]  # "now" may lie on a line that is named beside it
    assert [one for one in known if one.left < 0.0 or one.right > WIDTH / POINT] == []
    assert [(one.text, other.text) for one, other in combinations(known, 2) if one.touches(other)] == []


def test_binders_chart_central_values_stand_at_their_dots() -> None:
    rows = [
        Row(f"binder {place}", place % 2 == 0, interval(0.06, 0.07 + 0.005 * place, 0.11), gap)
        for place, gap in enumerate([None, interval(-0.005, 0.0003, 0.02), interval(-0.004, -0.002, 0.001)])
    ]
    printer = replace(METRIC, report=fixed([("with binder", 0.08)], us=False))
    drawn = binders_chart(rows, ("left", "right"), printer)
    assert_clear(drawn)
    place = {one.text: (one.left + one.right) / 2.0 for one in labels(drawn)}
    step = place["75.0"] - place["70.0"]
    assert place["80.0"] - place["75.0"] == pytest.approx(
        step, abs=0.1
    )  # where the dots are, not the ends of the lines
    assert place["\u22122.0"] < place["0.3"]


def test_stages_chart_names_stand_in_the_order_of_the_pieces() -> None:
    parts = load(DEMO).assess(draws=100).parts
    drawn = stages_chart(parts, METRIC)
    assert_clear(drawn)
    place = {one.text: one for one in labels(drawn)}
    names = [place[name] for name in ("paper", "binder", "making and drying", "mould", "transport", "end of life")]
    assert [one.left for one in names] == sorted(one.left for one in names)
    assert max(one.bottom for one in names) < min(place[shown(part.part)].top for part in parts)


# -- whatever the numbers and names: every chart of the funder report -----------------------------------------------

LONG = "a part with a name of sixty letters, which nobody would use"
SIZES = {"tiny": 1e-9, "small": 1e-3, "usual": 1.0, "large": 1e7}
"""Scales of a footprint of 0.1 kgCO2e: a millionth of a gram is the least that is printed."""


def part_of(index: int, scale: float, name: str, below: float) -> PartResult:
    """Return a part of invented figures; `below` is taken off all of them, in the same unit as the footprint."""
    known = load_demo().parts[index % 2]
    assert known.plastic is not None

    def sized(middle: float) -> Interval:
        return interval(scale * (0.7 * middle - below), scale * (middle - below), scale * (1.4 * middle - below))

    stages = {stage: scale * (mass - below / 6.0) for stage, mass in known.stages.items()}
    plastic = replace(known.plastic, footprint=sized(0.2), stages=dict.fromkeys(known.plastic.stages, scale * 0.07))
    return replace(
        known, part=name, good=10.0 + index, footprint=sized(0.1 + 0.01 * index), stages=stages, plastic=plastic,
        difference=sized(0.01 * index),
    )  # fmt: skip


@cache
def load_demo() -> Results:
    return load(DEMO).assess(draws=100)


@pytest.mark.parametrize("below", [0.0, 0.15, 0.5])
@pytest.mark.parametrize("scale", SIZES.values(), ids=SIZES)
@pytest.mark.parametrize(("count", "name"), [(1, "pot"), (40, "pot"), (3, LONG)])
def test_charts_of_parts_any_number_name_and_size_keep_their_labels_clear(
    count: int, name: str, scale: float, below: float
) -> None:
    parts = [part_of(index, scale, f"{name} {index}", below) for index in range(count)]
    for chart in (footprints_chart(parts, METRIC), stages_chart(parts, METRIC)):
        assert_clear(chart)
    assert_clear(footprints_chart(parts, METRIC, width=NARROW), NARROW)


def decision(part: str, steps: list[Relief]) -> Decision:
    return Decision(part, 10.0, BreakEven(part, None, None, None, ()), tuple(steps), ())


@pytest.mark.parametrize("parts", [1, 2, 5])
@pytest.mark.parametrize("scale", SIZES.values(), ids=SIZES)
@pytest.mark.parametrize("low", [-0.5, 0.0, 0.5])
def test_levers_chart_any_size_and_sign_keeps_its_labels_clear(scale: float, low: float, parts: int) -> None:
    steps = [
        Relief(name, "drying", f"{LONG} {name}", "", interval(scale * low, scale / place, 2.0 * scale / place), 0.9)
        for place, name in enumerate("abcdefg", start=1)
    ]
    drawn = levers_chart([decision(f"{LONG} {part}", steps[part:]) for part in range(parts)], METRIC)
    assert_clear(drawn)
    ends = [one.text[-1] for one in labels(drawn) if one.text[-1] in "abcdefg" and one.text.startswith("a part with")]
    assert sorted(set(ends)) == list("abcdef")  # the six largest, named at the left of each row of panels


@pytest.mark.parametrize("scale", [1e-6, 1.0, 1e7])
@pytest.mark.parametrize("printer", [METRIC, Printer(us=True)])
def test_flow_and_months_charts_any_mass_keep_their_labels_clear(scale: float, printer: Printer) -> None:
    sides = {side: {name: scale * (2.0 + place) for place, name in enumerate(names)} for side, names in ROWS.items()}
    assert_clear(flow_chart(sides, printer))
    months = [f"2026-{month:02d}" for month in range(1, 13)]
    by_grade = {f"{LONG} {grade}": [scale * (grade + month) for month in range(12)] for grade in range(8)}
    assert_clear(months_chart(months, by_grade, printer))


@pytest.mark.parametrize("scale", SIZES.values(), ids=SIZES)
def test_binders_chart_any_size_and_name_keeps_its_labels_inside(scale: float) -> None:
    rows = [
        Row(f"{LONG} {place}", True, interval(0.06 * scale, 0.07 * scale, 0.11 * scale), gap)
        for place, gap in enumerate([None, interval(-0.05 * scale, -0.01 * scale, 0.02 * scale)])
    ]
    long = "difference: binder minus methyl cellulose, in the same draws"
    for width, title in ((WIDTH, "right"), (NARROW, long)):
        found = labels(binders_chart(rows, ("left", title), METRIC, width))
        assert [one for one in found if one.left < 0.0 or one.right > width / POINT or one.top < 0.0] == []
    assert binders_chart([], ("left", "right"), METRIC) == ""
