"""The chart of binders: dots with whiskers, each labelled where it stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from impact.account.results import Interval
from impact.base.printing import Printer, places
from impact.report.drawing import INK, PAPER, RULE, figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ROW, FRAME = 0.19, 0.56
"""Height of one binder, and what title and axis take. [in]"""


@dataclass(frozen=True, slots=True)
class Row:
    """One binder of the chart.

    Attributes
    ----------
    name : str
        As printed.
    recorded : bool
        Whether its dose is from batches of this workshop; else its dot is hollow.
    footprint : Interval
        Of one good part. [kgCO2e]
    less_reference : Interval or None
        The footprint less that of the reference, in the same draws; None for the reference. [kgCO2e]
    """

    name: str
    recorded: bool
    footprint: Interval
    less_reference: Interval | None


def binders_chart(rows: Sequence[Row], titles: tuple[str, str], printer: Printer) -> str:
    """Return footprints at the left, differences from the reference at the right, with 95 % intervals. [g CO2e]"""
    drawn = figure(FRAME + ROW * len(rows))
    drawn.set_layout_engine("constrained", wspace=0.06)
    left, right = drawn.subplots(1, 2, sharey=True)
    decimals = places(min(1000.0 * abs(row.footprint.value) for row in rows), 3)
    for place, row in enumerate(rows):
        _dot(left, place, row, row.footprint, printer, decimals)
        if row.less_reference is not None:
            _dot(right, place, row, row.less_reference, printer, decimals)
        else:
            right.plot([0.0], [place], "|", color=INK, markersize=9)
    for axes, title in zip((left, right), titles, strict=True):
        _plain(axes, title, printer)
    left.set_yticks(range(len(rows)), [row.name for row in rows])
    left.set_ylim(len(rows) - 0.6, -0.7)
    right.axvline(0.0, color=RULE, linewidth=0.8, zorder=0)
    return svg(drawn)


def _plain(axes: Axes, title: str, printer: Printer) -> None:
    """Leave the axis of numbers alone, with a title above and room for the labels of the dots."""
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    def number(value: float, _: int | None) -> str:
        return printer.fixed(value, len(f"{value:g}".partition(".")[2]))

    axes.set_title(title, fontsize=8.5, loc="left")
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0, labelsize=8.5)
    axes.tick_params(axis="x", labelsize=7.5)
    axes.margins(x=0.02)
    axes.xaxis.set_major_locator(MaxNLocator(6))
    axes.xaxis.set_major_formatter(FuncFormatter(number))


def _dot(axes: Axes, place: int, row: Row, interval: Interval, printer: Printer, decimals: int) -> None:
    low, middle, high = (1000.0 * end for end in (interval.low, interval.value, interval.high))
    face = INK if row.recorded else "white"
    axes.plot([low, high], [place, place], color=INK, linewidth=1.0, zorder=1)
    axes.plot([middle], [place], "o", color=INK, markerfacecolor=face, markersize=5.5, zorder=2)
    axes.annotate(
        printer.fixed(middle, decimals),
        (middle, place),
        xytext=(0, 2.5),
        textcoords="offset points",
        ha="center",
        va="bottom",
        fontsize=8,
        zorder=1.5,  # over the line of zero, under the dots
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.6},
    )
