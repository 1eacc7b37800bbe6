"""The chart of one term: what it would give, as ranges."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import floor, log10
from typing import TYPE_CHECKING

from impact.report.drawing import figure, svg
from impact.report.figures import POUNDS, Printer
from impact.report.palette import INK

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from impact.forecast import Forecast
    from impact.results import Interval

PALE = "#a9c4cc"
"""Fill of a range; its edge is drawn in ink, so that it needs no contrast of its own."""


def term_chart(plan: Forecast, printer: Printer, word: Callable[[str], str]) -> str:
    """Return the ranges of one term, a dot for the centre: parts, paper, and the carbon gap where there is one.

    Parameters
    ----------
    plan : Forecast
        The term.
    printer : Printer
        Unit of mass and marks of numbers.
    word : callable
        Translates a label.
    """
    unit, gap = printer.mass_unit, plan.difference_kgco2e
    used, kept = word("Paper used"), word("Kept from landfill")
    masses = [(f"{used}, {unit}", plan.all_paper_kg), (f"{kept}, {unit}", plan.diverted_kg)]
    panels = [(1.0, [(word("Good parts"), plan.good_parts)]), (POUNDS if printer.us else 1.0, masses)]
    if gap is not None:
        panels.append((1.0, [(word("Carbon, kg CO₂e"), gap)]))
    rows = [len(found) for _, found in panels]
    height = 0.27 * sum(rows) + 0.28 * len(panels) + 0.17
    drawn = figure(height)
    space = {"height_ratios": rows, "left": 0.25, "right": 0.985, "top": 0.98, "bottom": 0.43 / height, "hspace": 0.6}
    every = drawn.subplots(len(panels), gridspec_kw=space)
    for (scale, found), axes in zip(panels, every, strict=True):
        _ranges(axes, found, scale, printer)
    every[0].set_xlim(0.0, plan.planned * 1.01)
    if gap is not None:
        for text, side, offset in (
            (word("← less than plastic"), "right", -6),
            (word("more than plastic →"), "left", 6),
        ):
            every[-1].annotate(
                text, (0.0, 0.0), xycoords=("data", "axes fraction"), xytext=(offset, -17), textcoords="offset points",
                ha=side, va="top", fontsize=9.5, annotation_clip=False,
            )  # fmt: skip
    return svg(drawn)


def _ranges(axes: Axes, rows: Sequence[tuple[str, Interval]], scale: float, printer: Printer) -> None:
    """Draw a bar from low to high and a dot at the centre of each row, with zero on the axis; sizes go without sign."""
    from matplotlib.ticker import MaxNLocator

    for place, (_, size) in enumerate(rows):
        low, high = size.low * scale, size.high * scale
        axes.barh(place, high - low, left=low, height=0.5, color=PALE, edgecolor=INK, linewidth=0.8)
        axes.plot([size.value * scale], [place], "o", color=INK, markersize=5)
    axes.set_yticks(range(len(rows)), [label for label, _ in rows], fontsize=10)
    axes.set_ylim(len(rows) - 0.5, -0.5)
    axes.axvline(0.0, color=INK, linewidth=1.2)
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)
    axes.tick_params(axis="x", labelsize=9.5, pad=2)
    ends = (0.0, *(end * scale for _, size in rows for end in (size.low, size.high, size.value)))
    room = 0.03 * (max(ends) - min(ends)) or 1.0
    axes.set_xlim(min(ends) - room, max(ends) + room)
    axes.xaxis.set_major_locator(MaxNLocator(nbins=7, steps=[1, 2, 5, 10]))
    step = float(axes.get_xticks()[1] - axes.get_xticks()[0])
    decimals = max(0, -floor(log10(step) + 1e-9))
    axes.xaxis.set_major_formatter(lambda value, _: printer.fixed(abs(value), decimals))
