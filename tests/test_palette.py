"""The palette of the charts, measured in greyscale and for colour blindness.

The rule. Pieces that touch are parted by a white line. Beside that, neighbours in the order of the stages, the stages
of plastic, the grades and the bands of the flow differ by 20 in lightness and in colour, in every view. Where a piece
is 0, others may touch: any two differ by 10 in colour, but in greyscale the white line and the label alone part
them. Everything that means something has a contrast of 3 with the paper and with the line, every text one of 4.5.

Checked against, from outside:

- colour blindness: Machado, Oliveira and Fernandes 2009, severity 1.0 (matrices from memory)
"""

from __future__ import annotations

import re
from itertools import combinations, pairwise
from pathlib import Path

import pytest

from impact.report import drawing
from impact.report import drawing as palette
from tests.colourvision import MATRICES, VIEWS, distance, lab, lightness_step, linear, seen
from tests.contrast import LEAST_FOR_GRAPHICS, LEAST_FOR_TEXT, contrast

STEP, APART = 20.0, 10.0
NEIGHBOURS = [
    *pairwise(palette.STAGE_COLOURS),
    *pairwise(palette.PLASTIC_COLOURS),
    (palette.MOULDED, palette.PLASTIC),
    (palette.LANDFILL, palette.KEPT),
    (palette.LANDFILL, palette.OTHER),
]
DATA = {*palette.STAGE_COLOURS, *palette.PLASTIC_COLOURS, palette.INK, palette.RULE}
REPORT = Path(__file__).parents[1] / "impact" / "report"


@pytest.mark.parametrize("view", VIEWS)
def test_palette_neighbours_differ_in_lightness_and_colour(view: str) -> None:
    for one, other in NEIGHBOURS:
        assert lightness_step(one, other, view) >= STEP, (one, other)
        assert distance(one, other, view) >= STEP, (one, other)


@pytest.mark.parametrize("view", [view for view in VIEWS if view != "greyscale"])
@pytest.mark.parametrize("colours", [palette.STAGE_COLOURS, palette.PLASTIC_COLOURS])
def test_palette_any_two_of_one_bar_differ_in_colour(colours: tuple[str, ...], view: str) -> None:
    close = {pair for pair in combinations(colours, 2) if distance(*pair, view) < APART}
    assert close == set()


def test_palette_data_and_lines_stand_out_from_the_paper_and_the_separating_line() -> None:
    assert {c: contrast(c, palette.PAPER) for c in DATA if contrast(c, palette.PAPER) < LEAST_FOR_GRAPHICS} == {}


def test_palette_text_of_charts_is_readable() -> None:
    for colour in (palette.INK, palette.SOFT):
        assert contrast(colour, palette.PAPER) >= LEAST_FOR_TEXT


def test_charts_write_in_two_sizes_of_the_palettes_inks() -> None:
    code = "".join((REPORT / f"{name}.py").read_text(encoding="utf-8") for name in ("funder/charts", "funder/flow"))
    assert set(re.findall(r"fontsize=([\w.]+)", code)) == {"SMALL", "TEXT", "size"}
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


# What the simulation must show: without one of the two long receptors the axis of red and green nearly vanishes, and
# that of blue and yellow stays.
@pytest.mark.parametrize("view", ["protan", "deutan"])
def test_colourvision_red_and_green_collapse_but_blue_and_yellow_stay(view: str) -> None:
    red, green = "#c0504d", "#6b8e23"
    assert abs(seen(red, view)[1] - seen(green, view)[1]) < 0.2 * abs(seen(red, VIEWS[0])[1] - seen(green, VIEWS[0])[1])
    assert distance("#1f4e9e", "#d9b44a", view) > 0.8 * distance("#1f4e9e", "#d9b44a")
