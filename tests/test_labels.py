"""Labels of charts lie whole inside the drawing and over no other label, whatever the numbers."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import combinations
from xml.etree import ElementTree

import numpy as np
import pytest

from impact.account.results import Interval
from impact.api import load
from impact.base.language import translate
from impact.base.printing import Printer
from impact.decisions.breakeven import Crossing, Curve
from impact.decisions.forecast import Forecast
from impact.decisions.planned import Expected
from impact.records.demonstration import DEMO
from impact.report.binder.chart import Row, binders_chart
from impact.report.drawing import POINT, WIDTH, lettering, text_width
from impact.report.funder.charts import stages_chart
from impact.report.funder.crossings import VARIABLES, crossings_chart
from impact.report.request import Request
from impact.report.school.chart import PALE, term_chart
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
    """Return the texts of a chart drawn with letters; a digit is about 0.65 of its size high."""
    found = []
    for one in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text"):
        text, style = "".join(one.itertext()), one.attrib["style"]
        size = float(re.findall(r"font-size: ([\d.]+)px", style)[0])
        anchor = re.findall(r"text-anchor: (\w+)", style)[0]
        width = text_width(text, size) / POINT
        left = float(one.attrib["x"]) - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * width
        foot = float(one.attrib["y"])
        found.append(Label(text, left, left + width, foot - 0.65 * size, foot))
    return found


def assert_clear(svg: str) -> None:
    """Fail where a label is cut by the edge of the drawing, or touches another."""
    found = labels(svg)
    assert len(found) > 5
    assert [one for one in found if one.left < 0.0 or one.right > WIDTH / POINT] == []
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
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("gap", CARBON)
def test_term_chart_any_side_of_zero_has_room_for_both_names(
    gap: tuple[float, float, float], language: str, replaced: float
) -> None:
    plan = replace(demo_term(), difference_kgco2e=expected(*gap), displacement=replaced)
    with lettering(as_paths=False):
        drawn = term_chart(plan, Printer(us=False, language=language), partial(translate, language))
    assert_clear(drawn)
    sides = {translate(language, side) for side in SIDES[replaced]}
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
    with lettering(as_paths=False):
        assert_clear(term_chart(plan, METRIC, str))


def test_term_chart_rare_amount_is_a_dot_without_a_bar() -> None:
    plan, kinds = demo_term(), []
    for basis in ("records", "rare"):
        kept = replace(plan.diverted_kg, basis=basis)
        drawn = term_chart(replace(plan, diverted_kg=kept, difference_kgco2e=None), METRIC, str)
        kinds.append(drawn.count(f"fill: {PALE}"))
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
    with lettering(as_paths=False):
        flat = replace(crossings[0], at=None, answer="always lower", lower_side=None)  # has no panel
        drawn = crossings_chart([flat, *crossings[:count], flat], METRIC)
        assert crossings_chart([flat], METRIC) == ""
    assert sum(one.text == "now" for one in labels(drawn)) == min(count, 3)
    known = [one for one in labels(drawn) if one.text != "now"]  # "now" may lie on a line that is named beside it
    assert [one for one in known if one.left < 0.0 or one.right > WIDTH / POINT] == []
    assert [(one.text, other.text) for one, other in combinations(known, 2) if one.touches(other)] == []


def test_binders_chart_central_values_stand_at_their_dots() -> None:
    rows = [
        Row(f"binder {place}", place % 2 == 0, interval(0.06, 0.07 + 0.005 * place, 0.11), gap)
        for place, gap in enumerate([None, interval(-0.005, 0.0003, 0.02), interval(-0.004, -0.002, 0.001)])
    ]
    with lettering(as_paths=False):
        drawn = binders_chart(rows, ("left", "right"), METRIC)
    assert_clear(drawn)
    place = {one.text: (one.left + one.right) / 2.0 for one in labels(drawn)}
    step = place["75.0"] - place["70.0"]
    assert place["80.0"] - place["75.0"] == pytest.approx(
        step, abs=0.1
    )  # where the dots are, not the ends of the lines
    assert place["\u22122.0"] < place["0.3"]


def test_stages_chart_names_stand_in_the_order_of_the_pieces() -> None:
    parts = load(DEMO).assess(draws=100).parts
    with lettering(as_paths=False):
        drawn = stages_chart(parts, METRIC)
    assert_clear(drawn)
    place = {one.text: one for one in labels(drawn)}
    names = [place[name] for name in ("paper", "binder", "making and drying", "mould", "transport", "end of life")]
    assert [one.left for one in names] == sorted(one.left for one in names)
    assert max(one.bottom for one in names) < min(place[part.part].top for part in parts)
