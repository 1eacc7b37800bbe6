"""Charts as SVG, drawn so that they survive greyscale printing; their data stands in tables beside them."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from typing import TYPE_CHECKING

from impact.fonts import font_faces, font_family
from impact.inventory import STAGES
from impact.report.figures import Printer
from impact.results import PartResult

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from impact.breakeven import Crossing

INK = "#22313a"
PALE = "#8d99a0"
STAGE_COLOURS = ("#1f3b4d", "#4f7f8f", "#a9c4cc", "#7a5a1e", "#c79a45", "#ead9b5")
PLASTIC_COLOURS = ("#55585c", "#8c8f93", "#c6c8ca")
PLASTIC_STAGES = ("material", "freight", "end_of_life")
STAGE_NAMES = {
    "paper": "paper",
    "binder": "binder",
    "making": "making and drying",
    "mould": "mould",
    "transport": "transport",
    "end_of_life": "end of life",
}
PLASTIC_NAMES = {"material": "plastic part, formed", "freight": "its freight", "end_of_life": "its end of life"}


@cache
def _prepare() -> None:
    """Register the report's typeface and make SVG output repeatable."""
    import matplotlib as mpl
    from matplotlib import font_manager

    for _, _, path in font_faces():
        font_manager.fontManager.addfont(str(path))
    mpl.rcParams.update(
        {
            "font.family": font_family(),
            "font.size": 9,
            "text.parse_math": False,  # a part's name may hold a dollar sign
            "svg.hashsalt": "impact",
            "axes.edgecolor": PALE,
            "axes.labelcolor": INK,
            "text.color": INK,
            "xtick.color": INK,
            "ytick.color": INK,
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


def _figure(height: float) -> tuple[Figure, Axes]:
    _prepare()
    from matplotlib.figure import Figure

    figure = Figure(figsize=(6.7, height), layout="constrained")
    return figure, figure.add_subplot()


def _svg(figure: Figure) -> str:
    stream = io.StringIO()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a name in a script that the typeface lacks is boxed, and stands in the table
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None}, transparent=True)
    text = stream.getvalue()
    return text[text.index("<svg") :]


def stages_chart(parts: Sequence[PartResult]) -> str:
    """Return bars of the footprint by stage for each part, its plastic part below, with 95 % intervals. [g CO2e]"""
    shown = [part for part in parts if part.footprint is not None]
    figure, axes = _figure(0.9 + 0.75 * len(shown))
    place = 0.0
    ticks, labels = [], []
    for part in shown:
        _stack(axes, place, [(STAGE_COLOURS[i], part.stages[stage]) for i, stage in enumerate(STAGES)])
        _whisker(axes, place, part)
        ticks.append(place)
        labels.append(part.part)
        if part.plastic is not None:
            _stack(
                axes, place + 0.42, [(PLASTIC_COLOURS[i], part.plastic.stages[s]) for i, s in enumerate(PLASTIC_STAGES)]
            )
            low, high = 1000.0 * part.plastic.footprint.low, 1000.0 * part.plastic.footprint.high
            axes.plot([low, high], [place + 0.42] * 2, color=INK, linewidth=1.0, marker="|", markersize=6)
            ticks.append(place + 0.42)
            labels.append(f"{part.plastic.polymer} part")
        place += 1.15
    axes.set_yticks(ticks, labels)
    axes.tick_params(axis="y", length=0)
    axes.invert_yaxis()
    axes.axvline(0.0, color=PALE, linewidth=0.8)
    axes.set_xlabel("g CO₂e per good part, over its service life; whisker: 95 % interval")
    from matplotlib.patches import Patch

    handles = [
        Patch(color=colour, label=STAGE_NAMES[stage]) for colour, stage in zip(STAGE_COLOURS, STAGES, strict=True)
    ]
    handles += [
        Patch(color=colour, label=PLASTIC_NAMES[stage])
        for colour, stage in zip(PLASTIC_COLOURS, PLASTIC_STAGES, strict=True)
    ]
    figure.legend(handles=handles, loc="outside upper left", ncols=4, frameon=False, fontsize=8, handlelength=1.0)
    return _svg(figure)


def _stack(axes: Axes, place: float, pieces: Sequence[tuple[str, float]]) -> None:
    right = left = 0.0
    for colour, value in pieces:
        grams = 1000.0 * value
        start = right if grams >= 0.0 else left
        axes.barh(place, grams, left=start, height=0.36, color=colour, edgecolor="white", linewidth=0.5)
        if grams >= 0.0:
            right += grams
        else:
            left += grams


def _whisker(axes: Axes, place: float, part: PartResult) -> None:
    if part.footprint is None:
        return
    ends = [1000.0 * part.footprint.low, 1000.0 * part.footprint.high]
    axes.plot(ends, [place, place], color=INK, linewidth=1.0, marker="|", markersize=6)


def months_chart(months: Sequence[str], by_grade: dict[str, list[float]], printer: Printer) -> str:
    """Return stacked columns of the paper collected in each month by grade, labelled directly."""
    figure, axes = _figure(2.5)
    base = [0.0] * len(months)
    for index, (grade, masses) in enumerate(by_grade.items()):
        colour = STAGE_COLOURS[index % len(STAGE_COLOURS)]
        axes.bar(
            range(len(months)),
            masses,
            bottom=base,
            color=colour,
            edgecolor="white",
            linewidth=0.5,
            width=0.7,
            label=grade,
        )
        base = [below + mass for below, mass in zip(base, masses, strict=True)]
    for place, total in enumerate(base):
        axes.annotate(
            printer.digits(total),
            (place, total),
            ha="center",
            va="bottom",
            fontsize=8,
            xytext=(0, 1),
            textcoords="offset points",
        )
    axes.set_xticks(range(len(months)), months)
    axes.set_ylabel(f"collected, {printer.mass_unit}")
    axes.tick_params(axis="x", length=0)
    figure.legend(loc="outside upper left", ncols=6, frameon=False, fontsize=8, handlelength=1.0)
    return _svg(figure)


def crossings_chart(crossings: Sequence[Crossing], printer: Printer) -> str:
    """Return a panel for each variable: both footprints with their bands, today's point, the break-even. [g CO2e]"""
    _prepare()
    from matplotlib.figure import Figure

    figure = Figure(figsize=(6.7, 2.7))
    panels = figure.subplots(
        2, 3, gridspec_kw={"left": 0.075, "right": 0.99, "top": 0.94, "bottom": 0.15, "hspace": 0.75, "wspace": 0.24}
    )
    for axes, crossing in zip(panels.flat, crossings, strict=True):
        _crossing(axes, crossing)
    panels[0, 0].set_ylabel("g CO₂e")
    panels[1, 0].set_ylabel("g CO₂e")
    return _svg(figure)


def _crossing(axes: Axes, crossing: Crossing) -> None:
    curve = crossing.curve
    for band, colour, style in ((curve.moulded, STAGE_COLOURS[1], "-"), (curve.plastic, PLASTIC_COLOURS[0], "--")):
        centre, low, high = 1000.0 * band
        axes.fill_between(curve.points, low, high, color=colour, alpha=0.18, linewidth=0)
        axes.plot(curve.points, centre, style, color=colour, linewidth=1.3)
    axes.axvline(crossing.now, color=PALE, linewidth=0.8, linestyle=":")
    axes.annotate(
        "now",
        (crossing.now, 0.98),
        xycoords=("data", "axes fraction"),
        fontsize=7,
        va="top",
        xytext=(2, 0),
        textcoords="offset points",
    )
    if crossing.at is not None and curve.points[0] <= crossing.at.value <= curve.points[-1]:
        import numpy as np

        height = 1000.0 * float(np.interp(crossing.at.value, curve.points, curve.moulded[0]))
        axes.plot([crossing.at.value], [height], "o", color=INK, markersize=4)
    axes.set_title(crossing.variable.replace("-", " "), fontsize=8.5, loc="left")
    axes.set_xlabel(crossing.unit, fontsize=7.5)
    axes.tick_params(labelsize=7)
    axes.set_ylim(bottom=0)
