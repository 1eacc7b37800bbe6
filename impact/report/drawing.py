"""What all charts share: colours, typeface, sizes, figure, labels that keep apart, numbers along an axis."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Sequence
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING

from impact.base.printing import Printer
from impact.report.faces import font_faces, font_family
from impact.report.layout.pango import absence
from impact.report.typefaces import beyond, width

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis
    from matplotlib.figure import Figure

PAPER = "#ffffff"
INK = "#22313a"
SOFT = "#4f5f67"
RULE = "#7b878e"
"""Axes and leader lines; they carry no data."""

STAGE_COLOURS = ("#2b1546", "#5f8b98", "#54000e", "#c0893b", "#0f584c", "#888d7b")
"""The tones of all data, dark and middle in turn. Any two differ by 15 (CIEDE2000) to everyone, neighbours by 20 in
lightness, and all have a contrast of 3 with the page; `tests/test_palette.py` measures it."""

PLASTIC_COLOURS = STAGE_COLOURS[3:]
"""Tones of the stages of plastic, whose bars are hatched."""

MOULDED, PLASTIC = STAGE_COLOURS[4], STAGE_COLOURS[3]
"""Lines, bands and marks of the two sides of a comparison."""

LANDFILL, INCINERATION, RECYCLING, COMPOSTING = STAGE_COLOURS[2], STAGE_COLOURS[3], STAGE_COLOURS[0], STAGE_COLOURS[5]
"""Bands of the flow diagram by fate."""
KEPT, AGAIN, UNFOUND = STAGE_COLOURS[1], STAGE_COLOURS[4], COMPOSTING
"""Its other bands: in good parts, rejects to be pulped again, what the scales do not find again, which is hatched."""

ON_DARK, ON_MIDDLE = PAPER, "#0b1114"
"""Letters on dark tones, and on middle ones; their contrast is 4.5 at least."""

PALE = "#a9c4cc"
"""Fill of a range; its edge is drawn in ink, so that it needs no contrast of its own."""

HATCH = "/////"
"""Lines in the colour of the page over a tone."""


WIDTH = 6.7
"""Width of every chart on paper and on a wide screen; a page of either size prints it at 100 to 105 %. [in]"""

NARROW = 2.84
"""Width of a chart drawn again for a phone, where it is shown 20.5 rem wide: the smaller letters have 12 pixels. [in]"""

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
            "svg.fonttype": "none",  # words stay words
            "hatch.color": PAPER,
            "hatch.linewidth": 0.7,
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


def figure(height: float, width: float = WIDTH) -> Figure:
    """Return an empty figure. [in]"""
    _prepare()
    from matplotlib.figure import Figure

    return Figure(figsize=(width, height))


def panel(
    height: float, *, left: float, right: float, top: float, bottom: float, width: float = WIDTH
) -> tuple[Figure, Axes]:
    """Return a figure with one pair of axes inside margins. [in]"""
    drawn = figure(height, width)
    place = (left / width, bottom / height, (width - left - right) / width, (height - top - bottom) / height)
    return drawn, drawn.add_axes(place)


def whisker(axes: Axes, low: float, high: float, place: float) -> None:
    """Draw an interval as a horizontal line with ends, clear of what it lies on."""
    axes.plot([low, high], [place, place], color=PAPER, linewidth=2.2, solid_capstyle="butt")
    axes.plot([low, high], [place, place], color=INK, linewidth=1.0, marker="|", markersize=6)


def column(axes: Axes, place: float, text: str, *, size: float = TEXT, colour: str = INK) -> None:
    """Write into the column at the right edge of a drawing."""
    from matplotlib.transforms import blended_transform_factory

    whole = axes.get_figure(root=True)
    if whole is not None:
        across = blended_transform_factory(whole.transFigure, axes.transData)
        edge = 1.0 - 0.05 / whole.get_size_inches()[0]
        axes.text(edge, place, text, transform=across, ha="right", va="center", fontsize=size, color=colour)


def above(axes: Axes, place: float, text: str, *, size: float = TEXT, colour: str = INK, lift: float = 6.0) -> None:
    """Write over a row, from the left edge of axes too narrow for names beside them, clear of what it lies on. [lift in pt]"""
    axes.annotate(
        text,
        (0.0, place),
        xycoords=("axes fraction", "data"),
        xytext=(0, lift),
        textcoords="offset points",
        va="baseline",
        fontsize=size,
        color=colour,
        annotation_clip=False,
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.6},
    )


def under(axes: Axes, unit: str) -> None:
    """Name the unit of a narrow chart in lines from the left, and keep half of the outer numbers within the drawing."""
    drawn = axes.get_figure(root=True)
    if drawn is None:
        return
    width, within = drawn.get_size_inches()[0], axes.get_position()
    half = (widest(tick_labels(axes.xaxis), SMALL) / 2.0 + 0.02) / width
    left, right = max(within.x0, half), min(within.x1, 1.0 - half)
    axes.set_position((left, within.y0, right - left, within.height))
    axes.set_xlabel(wrapped(unit, width * (1.0 - left) - 0.1, SMALL), loc="left")


def wrapped(text: str, room: float, size: float = TEXT) -> str:
    """Return a text in lines that fit some room, where its words do. [in]"""
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return "\n".join(lines)


def plain_rows(axes: Axes, places: Sequence[float], names: Sequence[str]) -> None:
    """Name rows at the left of axes that have no line there but one at zero."""
    axes.set_yticks(places, names, fontsize=TEXT)
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.axvline(0.0, color=RULE, linewidth=0.8, zorder=0.5)


def widest(texts: Sequence[str], size: float = TEXT) -> float:
    """Return the width of the widest of some texts. [in]"""
    return max((text_width(text, size) for text in texts), default=0.0)


def shortened(name: str, letters: int) -> str:
    """Return a name of some letters at most, with … for what is left out; the end, which often tells names apart, stays."""
    if len(name) <= letters:
        return name
    end = letters // 3
    return f"{name[: letters - end - 1].rstrip()}…{name[-end:].lstrip()}"


def told_apart(names: Sequence[str], letters: int) -> list[str]:
    """Return names of some letters at most as `shortened`; those that would read alike keep what they differ in instead."""
    short = [shortened(name, letters) for name in names]
    alike: dict[str, set[str]] = {}
    for name, text in zip(names, short, strict=True):
        alike.setdefault(text, set()).add(name)
    return [
        text if len(alike[text]) == 1 else _from(name, _first_difference(alike[text]), letters)
        for name, text in zip(names, short, strict=True)
    ]


def _first_difference(names: Iterable[str]) -> int:
    """Return the place of the first letter in which names differ, counted from 0."""
    columns = list(zip(*names, strict=False))
    return next((place for place, letters in enumerate(columns) if len(set(letters)) > 1), len(columns))


def _from(name: str, differs: int, letters: int) -> str:
    """Return the begin of a name and what stands around the letter from which it differs, with … for what is left out."""
    lead = letters // 3
    room = max(letters - lead - 2, 1)
    start = max(differs - room // 2, lead)
    end = "" if start + room >= len(name) else "…"
    return f"{name[:lead].rstrip()}…{name[start : start + room].strip()}{end}"


FEWEST = 4
"""Letters that a shortened name has at least, the sign of what is left out among them."""


def fitting(names: Sequence[str], room: float, size: float = TEXT) -> list[str]:
    """Return names shortened until each has room. [in, pt]"""
    longest = max([FEWEST, *map(len, names)])
    shorter = (told_apart(names, letters) for letters in range(longest, FEWEST - 1, -1))
    return next((texts for texts in shorter if widest(texts, size) <= room), [f"{name[:1]}…" for name in names])


@cache
def _advances() -> tuple[dict[int, float], float]:
    """Return how far each letter of the typeface moves the next, by its code, and one that it lacks. [of its size]"""
    from fontTools.ttLib import TTFont

    with TTFont(font_faces()[0][2]) as face:
        units, widths = face["head"].unitsPerEm, face["hmtx"]
        return {code: widths[name][0] / units for code, name in face.getBestCmap().items()}, 1.0


def text_width(text: str, size: float = TEXT) -> float:
    """Return how wide a text is in the report's typeface, letter beside letter as charts are set, and in those beside it. [in]"""
    if beyond(text) and absence() is None:
        return width(text, size) * POINT
    known, unknown = _advances()
    return sum(known.get(ord(letter), unknown) for letter in text) * size * POINT


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
            return [printer.fixed(value, decimals_of(step)) for value in values]

    for axis in axes:
        axis.set_major_formatter(Numbers())


def decimals_of(step: float) -> int:
    """Return the decimals that show a step between numbers, 12 at most."""
    return next((count for count in range(12) if abs(round(step, count) - step) <= 1e-4 * abs(step)), 12)


def space_numbers(printer: Printer, axis: Axis, room: float, size: float = SMALL) -> None:
    """Write as many numbers along a horizontal axis as stand apart in some room. [in]"""
    from matplotlib.ticker import MaxNLocator

    mark_numbers(printer, axis)
    for most in (7, 5, 4, 3, 2, 1):
        axis.set_major_locator(MaxNLocator(nbins=most, steps=[1, 2, 2.5, 5, 10]))
        labels = tick_labels(axis)
        widest = max((text_width(label, size) for label in labels), default=0.0)
        if (widest + 0.1) * (len(labels) - 1) <= room * _share_between(axis):
            break


def _share_between(axis: Axis) -> float:
    """Return which share of the view of an axis lies between its first and its last number. [-]"""
    low, high = sorted(axis.get_view_interval())
    inside = [place for place in axis.get_majorticklocs() if low <= place <= high] or [low]
    return float(inside[-1] - inside[0]) / float(high - low)
