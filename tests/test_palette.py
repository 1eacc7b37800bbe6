"""The palette of the charts, measured in greyscale and for colour blindness.

The rule. Pieces that touch are parted by a white line. Beside that, neighbours in the order of the stages, the stages
of plastic, the grades and the bands of the flow differ by 20 in lightness and in colour, in every view. Where a piece
is 0, others may touch: any two tones of one chart differ by 15 (CIEDE2000), but in greyscale the white line and the
label alone part them. Bars of plastic, and what no scale has shown, are hatched as well. Everything that means something has a contrast of 3 with the paper and with the line, every text one of 4.5.

Checked against, from outside:

- colour blindness: Machado, Oliveira and Fernandes 2009, severity 1.0 (matrices from memory)
- difference of colours: Sharma, Wu and Dalal 2005, table 1 (test pairs from memory)
"""

from __future__ import annotations

import re
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
import pytest

from impact.report import drawing
from impact.report import drawing as palette
from impact.report.funder.flow import HATCHED, ROWS
from impact.report.screen import CHARTS, PAGES
from tests.colourvision import (
    MATRICES,
    VIEWS,
    difference,
    difference_seen,
    distance,
    lab,
    lightness_step,
    linear,
    seen,
)
from tests.contrast import LEAST_FOR_GRAPHICS, LEAST_FOR_TEXT, contrast

STEP, APART = 20.0, 15.0
NEIGHBOURS = [
    *pairwise(palette.STAGE_COLOURS),
    *pairwise(palette.PLASTIC_COLOURS),
    (palette.MOULDED, palette.PLASTIC),
    (palette.KEPT, palette.LANDFILL),
    *pairwise((palette.LANDFILL, palette.INCINERATION, palette.RECYCLING, palette.COMPOSTING)),
    (palette.COMPOSTING, palette.AGAIN),
    (palette.AGAIN, palette.UNFOUND),
]
THEMES = {"light": {colour: colour for colour in PAGES}, "dark": PAGES}
"""What each colour is on a light page, and on a dark one."""

DATA = {*palette.STAGE_COLOURS, *palette.PLASTIC_COLOURS, palette.INK, palette.RULE}
FLOW = [{tone for _, tone in names.values()} for names in ROWS.values()]
DRAWING = ("charts", "crossings", "flow", "footprints", "levers")
REPORT = Path(__file__).parents[1] / "impact" / "report"


@pytest.fixture(params=THEMES)
def shown(request: pytest.FixtureRequest) -> dict[str, str]:
    return THEMES[request.param]


@pytest.mark.parametrize("view", VIEWS)
def test_palette_neighbours_differ_in_lightness_and_colour(view: str, shown: dict[str, str]) -> None:
    for one, other in ((shown[one], shown[other]) for one, other in NEIGHBOURS):
        assert lightness_step(one, other, view) >= STEP, (one, other)
        assert distance(one, other, view) >= STEP, (one, other)


@pytest.mark.parametrize("view", [view for view in VIEWS if view != "greyscale"])
def test_palette_any_two_tones_of_one_chart_differ_in_colour(view: str, shown: dict[str, str]) -> None:
    named = {*palette.STAGE_COLOURS, *palette.PLASTIC_COLOURS, palette.MOULDED, palette.PLASTIC, *set.union(*FLOW)}
    tones = {shown[tone] for tone in named}
    close = {pair for pair in combinations(sorted(tones), 2) if difference_seen(*pair, view) < APART}
    assert close == set()
    assert len(tones) == len(palette.STAGE_COLOURS)


def test_palette_flow_has_one_tone_for_each_fate_on_every_side() -> None:
    for fate in ("landfill_kg", "incineration_kg", "recycling_kg", "composting_kg"):
        assert len({names[fate][1] for names in ROWS.values()}) == 1
    for names in ROWS.values():
        looks = [(tone, name in HATCHED) for name, (_, tone) in names.items()]
        assert len(set(looks)) == len(looks)


def test_palette_letters_on_tones_are_readable(shown: dict[str, str]) -> None:
    for place, tone in enumerate(palette.STAGE_COLOURS):
        ink = palette.ON_MIDDLE if place % 2 else palette.ON_DARK
        assert contrast(shown[ink], shown[tone]) >= LEAST_FOR_TEXT


def test_palette_data_and_lines_stand_out_from_the_paper_and_the_separating_line(shown: dict[str, str]) -> None:
    ratios = {colour: contrast(shown[colour], shown[palette.PAPER]) for colour in DATA}
    assert {colour: ratio for colour, ratio in ratios.items() if ratio < LEAST_FOR_GRAPHICS} == {}
    assert contrast(shown[palette.INK], shown[palette.PALE]) >= LEAST_FOR_GRAPHICS


def test_palette_text_of_charts_is_readable(shown: dict[str, str]) -> None:
    for colour in (palette.INK, palette.SOFT):
        assert contrast(shown[colour], shown[palette.PAPER]) >= LEAST_FOR_TEXT


def test_palette_every_colour_of_the_charts_has_one_on_a_dark_page() -> None:
    code = (REPORT / "drawing.py").read_text(encoding="utf-8")
    assert set(CHARTS) == set(re.findall(r"#[0-9a-f]{6}", code))
    assert contrast(CHARTS[palette.PAPER], "#000000") < contrast(CHARTS[palette.PAPER], "#ffffff")


def test_charts_write_in_two_sizes_of_the_palettes_inks() -> None:
    code = "".join((REPORT / "funder" / f"{name}.py").read_text(encoding="utf-8") for name in DRAWING)
    assert set(re.findall(r"fontsize=([\w.]+)", code)) == {"SMALL", "TEXT"}
    assert min(drawing.SMALL, drawing.TEXT) >= 7.5
    assert re.findall(r"#[0-9a-fA-F]{6}", code) == []


# Checks of the measure itself. Machado et al.: greys stay as they are, so each row adds up to 1. CIE 15: white is
# L* 100. L* 53.24, a* 80.09, b* 67.20 of pure red under D65 is a published conversion (from memory).
def test_colourvision_white_and_red_have_their_published_coordinates() -> None:
    assert lab(linear("#ffffff")) == pytest.approx([100.0, 0.0, 0.0], abs=0.01)
    assert lab(linear("#ff0000")) == pytest.approx([53.24, 80.09, 67.20], abs=0.05)


@pytest.mark.parametrize("view", MATRICES)
def test_colourvision_greys_stay_grey_to_everyone(view: str) -> None:
    assert seen("#808080", view) == pytest.approx(seen("#808080", "as drawn"), abs=0.01)


# Sharma, Wu and Dalal 2005, table 1, from memory: pairs for each case of hue, chroma and rotation in the formula.
@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
        ((50.0, 3.1571, -77.2803), (50.0, 0.0, -82.7485), 2.8615),
        ((50.0, -1.3802, -84.2814), (50.0, 0.0, -82.7485), 1.0000),
        ((50.0, 0.0, 0.0), (50.0, -1.0, 2.0), 2.3669),
        ((50.0, 2.49, -0.001), (50.0, -2.49, 0.0010), 7.1792),
        ((50.0, 2.49, -0.001), (50.0, -2.49, 0.0011), 7.2195),
        ((50.0, -0.001, 2.49), (50.0, 0.0009, -2.49), 4.8045),
        ((50.0, -0.001, 2.49), (50.0, 0.0011, -2.49), 4.7461),
        ((50.0, 2.5, 0.0), (50.0, 0.0, -2.5), 4.3065),
        ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
        ((50.0, 2.5, 0.0), (61.0, -5.0, 29.0), 22.8977),
        ((50.0, 2.5, 0.0), (56.0, -27.0, -3.0), 31.9030),
        ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
        ((22.7233, 20.0904, -46.6940), (23.0331, 14.9730, -42.5619), 2.0373),
        ((36.4612, 47.8580, 18.3852), (36.2715, 50.5065, 21.2231), 1.4146),
        ((90.8027, -2.0831, 1.4410), (91.1528, -1.6435, 0.0447), 1.4441),
        ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
    ],
)
def test_colourvision_differences_match_the_published_pairs(
    one: tuple[float, ...], other: tuple[float, ...], expected: float
) -> None:
    for pair in ((one, other), (other, one)):
        assert difference(*map(np.array, pair)) == pytest.approx(expected, abs=5e-5)


# What the simulation must show: without one of the two long receptors the axis of red and green nearly vanishes, and
# that of blue and yellow stays.
@pytest.mark.parametrize("view", ["protan", "deutan"])
def test_colourvision_red_and_green_collapse_but_blue_and_yellow_stay(view: str) -> None:
    red, green = "#c0504d", "#6b8e23"
    assert abs(seen(red, view)[1] - seen(green, view)[1]) < 0.2 * abs(seen(red, VIEWS[0])[1] - seen(green, VIEWS[0])[1])
    assert distance("#1f4e9e", "#d9b44a", view) > 0.8 * distance("#1f4e9e", "#d9b44a")
