"""What all charts share: typeface, sizes, figure, SVG, labels that keep apart, numbers along an axis."""

from __future__ import annotations

import io
import logging
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING

from impact.base.printing import Printer
from impact.report.faces import font_faces, font_family
from impact.report.pango import absence
from impact.report.typefaces import beyond, spelled, width

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis
    from matplotlib.figure import Figure

PAPER = "#ffffff"
INK = "#22313a"
SOFT = "#4f5f67"
RULE = "#7b878e"
"""Axes and leader lines; they carry no data."""

STAGE_COLOURS = ("#14304a", "#6b95ab", "#54370a", "#b3893f", "#215463", "#86988a")
PLASTIC_COLOURS = ("#3b4044", "#8b9094", "#55595c")
MOULDED, PLASTIC = STAGE_COLOURS[4], STAGE_COLOURS[3]
"""Lines and bands of the two sides of a comparison."""

LANDFILL, KEPT, OTHER = STAGE_COLOURS[2], STAGE_COLOURS[1], STAGE_COLOURS[5]
"""Bands of the flow diagram: to and from landfill, in use, all others."""


WIDTH = 6.7
"""Width of every chart; a page of either size prints it at 100 to 105 %. [in]"""

SMALL, TEXT = 7.5, 8.5
"""The two sizes of letters. [pt]"""

POINT = 1.0 / 72.0


@cache
def _prepare() -> None:
    """Register the report's typeface and make SVG output repeatable."""
    logging.getLogger("matplotlib").setLevel(logging.ERROR)  # a home without room for its cache does not matter
    import matplotlib as mpl
    from matplotlib import font_manager

    for _, _, path in font_faces():
        font_manager.fontManager.addfont(str(path))
    mpl.rcParams.update(
        {
            "font.family": font_family(),
            "font.size": TEXT,
            "text.parse_math": False,  # a part's name may hold a dollar sign
            "svg.hashsalt": "impact",
            "axes.edgecolor": RULE,
            "axes.linewidth": 0.6,
            "axes.labelcolor": SOFT,
            "axes.labelsize": SMALL,
            "text.color": INK,
            "xtick.color": RULE,
            "ytick.color": RULE,
            "xtick.labelcolor": INK,
            "ytick.labelcolor": INK,
            "xtick.labelsize": SMALL,
            "ytick.labelsize": SMALL,
            "axes.spines.top": False,
            "axes.spines.right": False,
        }
    )


@contextmanager
def lettering(*, as_paths: bool) -> Iterator[None]:
    """Draw the letters of charts as outlines, for pages whose reader lacks the typeface, or as text."""
    _prepare()
    import matplotlib as mpl

    with mpl.rc_context({"svg.fonttype": "path" if as_paths else "none"}):
        yield


def figure(height: float) -> Figure:
    """Return an empty figure of the report's width. [in]"""
    _prepare()
    from matplotlib.figure import Figure

    return Figure(figsize=(WIDTH, height))


def panel(height: float, *, left: float, right: float, top: float, bottom: float) -> tuple[Figure, Axes]:
    """Return a figure with one pair of axes inside margins. [in]"""
    drawn = figure(height)
    place = (left / WIDTH, bottom / height, (WIDTH - left - right) / WIDTH, (height - top - bottom) / height)
    return drawn, drawn.add_axes(place)


def svg(drawn: Figure) -> str:
    """Return a figure as SVG without date."""
    stream = io.StringIO()
    with warnings.catch_warnings():
        warnings.simplefilter(
            "ignore"
        )  # a letter that the typeface lacks is boxed as an outline, and stands in the table
        drawn.savefig(stream, format="svg", metadata={"Date": None, "Creator": None}, transparent=True)
    text = stream.getvalue()
    return spelled(text[text.index("<svg") :])


def shortened(name: str, letters: int) -> str:
    """Return a name of some letters at most, with … for what is left out; the end, which often tells names apart, stays."""
    if len(name) <= letters:
        return name
    end = letters // 3
    return f"{name[: letters - end - 1].rstrip()}…{name[-end:].lstrip()}"


@cache
def text_width(text: str, size: float = TEXT) -> float:
    """Return how wide a text is in the report's typeface, and in those beside it where that lacks letters. [in]"""
    if beyond(text) and absence() is None:
        return width(text, size) * POINT
    _prepare()
    from matplotlib import rcParams
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    if not text.strip():
        return 0.0
    typeface = FontProperties(family=rcParams["font.family"])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # as in `svg`
        return float(TextPath((0.0, 0.0), text, size=size, prop=typeface).get_extents().x1) * POINT


def tick_labels(axis: Axis) -> list[str]:
    """Return the labels of an axis that stand inside its view."""
    low, high = sorted(axis.get_view_interval())
    slack = 1e-9 * (high - low)
    places, labels = axis.get_majorticklocs(), axis.get_majorticklabels()
    return [
        label.get_text() for place, label in zip(places, labels, strict=True) if low - slack <= place <= high + slack
    ]


def apart(wished: Sequence[float], sizes: Sequence[float], low: float, high: float) -> list[float]:
    """Return places for labels near where they are wished, none over another. [as given]

    Parameters
    ----------
    wished : sequence of float
        Middles, in rising order.
    sizes : sequence of float
        Width, or height, of each label with the gap that it needs.
    low, high : float
        Ends of the room; where the labels need more than it, they run over the high end.
    """
    places: list[float] = []
    edge = low
    for middle, size in zip(wished, sizes, strict=True):
        places.append(max(middle, edge + size / 2.0))
        edge = places[-1] + size / 2.0
    edge = max(high, low + sum(sizes))
    for index in reversed(range(len(places))):
        places[index] = min(places[index], edge - sizes[index] / 2.0)
        edge = places[index] - sizes[index] / 2.0
    return places


def mark_numbers(printer: Printer, *axes: Axis) -> None:
    """Write the numbers along axes with the decimals of their step and the marks of the country."""
    from matplotlib.ticker import Formatter

    class Numbers(Formatter):
        def format_ticks(self, values: Sequence[float]) -> list[str]:
            step = min((after - before for before, after in pairwise(sorted(values))), default=abs(sum(values)))
            decimals = len(f"{step:.4g}".partition(".")[2]) if 1e-4 <= step < 1e4 else 0
            return [printer.fixed(value, decimals) for value in values]

    for axis in axes:
        axis.set_major_formatter(Numbers())
