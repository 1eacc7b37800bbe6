"""The chart of one term: what it would give, as ranges."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import floor, log10
from typing import TYPE_CHECKING

from impact.base.printing import Printer
from impact.base.quantities import POUNDS_PER_KG
from impact.report.drawing import INK, POINT, WIDTH, figure, svg, text_width, tick_labels

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from impact.decisions.forecast import Forecast
    from impact.decisions.planned import Expected

PALE = "#a9c4cc"
"""Fill of a range; its edge is drawn in ink, so that it needs no contrast of its own."""

LETTERS = 9.5
"""Size of the numbers along the axes and of the names of the two sides. [pt]"""

LEFT, RIGHT = 1.675, 0.1
"""Room left of the axes for the names of the rows, and least room right of them. [in]"""

CLEAR = 6.0
"""From zero to the name of a side. [pt]"""


def term_chart(plan: Forecast, printer: Printer, word: Callable[[str], str]) -> str:
    """Return the ranges of one term, a dot for the centre, that of a rare amount alone: parts, paper, the carbon gap if any.

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
    panels = [(1.0, [(word("Good parts"), plan.good_parts)]), (POUNDS_PER_KG if printer.us else 1.0, masses)]
    if gap is not None:
        panels.append((1.0, [(word("Carbon, kg CO₂e"), gap)]))
    rows = [len(found) for _, found in panels]
    height = 0.27 * sum(rows) + 0.28 * len(panels) + 0.17
    drawn = figure(height)
    space = {"height_ratios": rows, "top": 0.98, "bottom": 0.43 / height, "hspace": 0.6}
    every = drawn.subplots(len(panels), gridspec_kw=space)
    for (scale, found), axes in zip(panels, every, strict=True):
        _ranges(axes, found, scale)
    low, high = every[1].get_xlim()
    every[0].set_xlim(low / high * 1.01 * plan.planned, 1.01 * plan.planned)  # zero of parts above that of paper
    partly = plan.displacement is not None and plan.displacement < 1.0  # the rest of the parts replaces nothing
    less, more = word("← saved"), word("added →")
    sides = (less, more) if partly else (word("← less than plastic"), word("more than plastic →"))
    if gap is not None:
        _make_room(every[-1], *(text_width(side, LETTERS) + CLEAR * POINT for side in sides))
        _name_sides(every[-1], *sides)
    names = [False, False, True]  # the sides of the last axis have names in place of a sign
    ends = [_numbers(axes, printer, signed=not named) for axes, named in zip(every, names, strict=False)]
    drawn.subplots_adjust(left=LEFT / WIDTH, right=1.0 - max(RIGHT, *ends) / WIDTH)
    return svg(drawn)


def _make_room(axes: Axes, below: float, above: float) -> None:
    """Widen the view so that a text of some width fits on either side of zero. [in]"""
    low, high = axes.get_xlim()
    inches = WIDTH - LEFT - RIGHT - 0.5  # less what the last number may take beyond the axes
    share_below, share_above = below / inches, above / inches
    if high < share_above * (high - low):
        high = -low * share_above / (1.0 - share_above)
    if -low < share_below * (high - low):
        low = -high * share_below / (1.0 - share_below)
    axes.set_xlim(low, high)


def _name_sides(axes: Axes, below: str, above: str) -> None:
    """Write what lies left and right of zero under the numbers of the axis."""
    for text, side, offset in ((below, "right", -CLEAR), (above, "left", CLEAR)):
        axes.annotate(
            text, (0.0, 0.0), xycoords=("data", "axes fraction"), xytext=(offset, -17), textcoords="offset points",
            ha=side, va="top", fontsize=LETTERS, annotation_clip=False,
        )  # fmt: skip


def _ranges(axes: Axes, rows: Sequence[tuple[str, Expected]], scale: float) -> None:
    """Draw a bar from low to high and a dot at the centre of each row, with zero on the axis."""
    for place, (_, size) in enumerate(rows):
        low, high = size.low * scale, size.high * scale
        if not size.rare:
            axes.barh(place, high - low, left=low, height=0.5, color=PALE, edgecolor=INK, linewidth=0.8)
        axes.plot([size.value * scale], [place], "o", color=INK, markersize=5)
    axes.set_yticks(range(len(rows)), [label for label, _ in rows], fontsize=10)
    axes.set_ylim(len(rows) - 0.5, -0.5)
    axes.axvline(0.0, color=INK, linewidth=1.2)
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)
    axes.tick_params(axis="x", labelsize=LETTERS, pad=2)
    shown = (end for _, size in rows for end in ((size.value,) if size.rare else (size.low, size.high, size.value)))
    ends = (0.0, *(end * scale for end in shown))
    room = 0.03 * (max(ends) - min(ends)) or 1.0
    axes.set_xlim(min(ends) - room, max(ends) + room)


def _numbers(axes: Axes, printer: Printer, *, signed: bool) -> float:
    """Write numbers along an axis, as many as stand apart; return half the width of the widest. [in]"""
    from matplotlib.ticker import MaxNLocator

    for most in (7, 5, 3, 2):
        axes.xaxis.set_major_locator(MaxNLocator(nbins=most, steps=[1, 2, 5, 10]))
        step = float(axes.get_xticks()[1] - axes.get_xticks()[0])
        decimals = max(0, -floor(log10(step) + 1e-9))
        axes.xaxis.set_major_formatter(_sizes(printer, decimals, signed=signed))
        widest = max(text_width(label, LETTERS) for label in tick_labels(axes.xaxis))
        low, high = axes.get_xlim()
        if widest + 0.1 <= step / (high - low) * (WIDTH - LEFT - 0.6):
            break
    return widest / 2.0


def _sizes(printer: Printer, decimals: int, *, signed: bool) -> Callable[[float, float], str]:
    """Return what prints numbers, with or without their sign."""
    return lambda value, _: printer.fixed(value if signed else abs(value), decimals)
