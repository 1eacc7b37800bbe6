"""The chart of binders: dots with whiskers, each labelled where it stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from impact.account.results import Interval
from impact.base.language import message, translate
from impact.base.printing import Printer
from impact.report.drawing import (
    INK,
    PAPER,
    RULE,
    SMALL,
    TEXT,
    WIDTH,
    above,
    figure,
    shortened,
    space_numbers,
    tick_labels,
    widest,
    wrapped,
)
from impact.report.vector import svg

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ROW, TOP, BOTTOM = 0.18, 0.26, 0.3
"""Height of one binder, and room for the titles and for the numbers. [in]"""

BETWEEN, NAME_LETTERS, LABEL = 0.25, 28, 8.0
"""From one axis to the next [in], most letters of a name, size of the figures at the dots [pt]."""

TALL, LINE = 0.42, 0.145
"""Height of one binder whose name stands over both its dots, and of a line of a title there. [in]"""


LOWER, HIGHER, ALIKE = message("lower"), message("higher"), message("not told apart")


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


def binders_chart(rows: Sequence[Row], titles: tuple[str, str], printer: Printer, width: float = WIDTH) -> str:
    """Return footprints at the left, differences from the reference at the right, with 95 % intervals. [g CO2e]

    Nothing without binders. Below the width of paper [in] the names stand over the dots.
    """
    if not rows:
        return ""
    phone = width < WIDTH
    names = [shortened(row.name, NAME_LETTERS) for row in rows]
    start = 0.1 if phone else widest(names) + 0.15
    wide = (width - start - BETWEEN - 0.1) / 2.0
    heads = [wrapped(title, wide + 0.1) for title in titles]
    top = TOP + LINE * max(head.count("\n") for head in heads)
    height = top + (TALL * len(rows) if phone else ROW * (len(rows) + 0.3)) + BOTTOM
    drawn = figure(height, width)
    for column, head in enumerate(heads):
        left = (start + column * (wide + BETWEEN)) / width
        axes = drawn.add_axes((left, BOTTOM / height, wide / width, (height - top - BOTTOM) / height))
        shown = [row.less_reference if column else row.footprint for row in rows]
        for place, (row, interval) in enumerate(zip(rows, shown, strict=True)):
            if interval is not None:
                _dot(axes, place, row, interval, printer)
            else:
                axes.plot([0.0], [place], "|", color=INK, markersize=9)
        beside = not column and not phone
        axes.set_yticks(range(len(rows)) if beside else [], names if beside else [])
        axes.set_ylim(len(rows) - (0.75 if phone else 0.6), -0.75 if phone else -0.7)
        if phone and not column:
            for place, name in enumerate(names):
                above(axes, place, name, lift=13.0)
        _plain(axes, head, printer, wide, [interval for interval in shown if interval is not None])
        _hold(axes, left, wide, width)
    drawn.axes[1].axvline(0.0, color=RULE, linewidth=0.8, zorder=0)
    return svg(drawn)


def _hold(axes: Axes, left: float, wide: float, width: float) -> None:
    """Draw an axis in so far that its last number stays in its room. [left as a share, the rest in]"""
    low, high = axes.get_xlim()
    last = max((place for place in axes.get_xticks() if place <= high), default=low)
    over = wide * (last - low) / (high - low) + widest(tick_labels(axes.xaxis), SMALL) / 2.0 - wide - 0.1
    within = axes.get_position()
    axes.set_position((left, within.y0, (wide - max(over, 0.0)) / width, within.height))


def title_of_binders(reference: str, lower: Sequence[str], higher: Sequence[str], alike: int, language: str) -> str:
    """Return which lie on which side of the reference, in one sentence; nothing beside no other."""
    counts = [
        f"{len(names)} {translate(language, words)} ({', '.join(names)})"
        for names, words in ((lower, LOWER), (higher, HIGHER))
        if names
    ]
    listed = ", ".join([*counts, *([f"{alike} {translate(language, ALIKE)}"] if alike else [])])
    said = translate(language, "Footprint beside that of %(reference)s: %(counts)s")
    return said % {"reference": reference, "counts": listed} if listed else ""


def binders_alternative(rows: Sequence[Row], reference: str, printer: Printer) -> str:
    """Return what the chart shows, in words: each footprint and each difference, with their intervals."""
    said = []
    for row in rows:
        words = f"{row.name} {printer.whole(row.footprint, 'with binder')}"
        if row.less_reference is not None:
            gap = printer.whole(row.less_reference, "with binder")
            words += translate(printer.language, ", difference %(gap)s") % {"gap": gap}
        said.append(words)
    text = translate(
        printer.language,
        "Footprint of one good part with each binder, and the difference from %(reference)s, with 95 %% intervals: %(rows)s.",
    )
    return text % {"reference": reference, "rows": "; ".join(said)} if said else ""


def _plain(axes: Axes, title: str, printer: Printer, wide: float, shown: Sequence[Interval]) -> None:
    """Leave the axis of numbers alone, with a title above and room for the figures at the dots."""
    axes.set_title(title, fontsize=TEXT, loc="left")
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0, labelsize=TEXT)
    axes.tick_params(axis="x", labelsize=SMALL)
    ends = [1000.0 * end for one in shown for end in (one.low, one.value, one.high)] or [0.0]
    half = widest([printer.figure(end / 1000.0, "with binder", unit=False) for end in ends], LABEL) / 2.0 + 0.03
    room = (max(ends) - min(ends) or 1.0) * half / max(wide - 2.0 * half, half)
    axes.set_xlim(min(ends) - room, max(ends) + room)
    space_numbers(printer, axes.xaxis, wide)


def _dot(axes: Axes, place: int, row: Row, interval: Interval, printer: Printer) -> None:
    low, middle, high = (1000.0 * end for end in (interval.low, interval.value, interval.high))
    face = INK if row.recorded else PAPER
    axes.plot([low, high], [place, place], color=INK, linewidth=1.0, zorder=1)
    axes.plot([middle], [place], "o", color=INK, markerfacecolor=face, markersize=4.5, zorder=2)
    axes.annotate(
        printer.figure(interval.value, "with binder", unit=False, of=interval),
        (middle, place),
        xytext=(0, 1.8),
        textcoords="offset points",
        ha="center",
        va="bottom",
        fontsize=LABEL,
        zorder=1.5,  # over the line of zero, under the dots
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.6},
    )
