"""The chart of one term: what it would give, as ranges."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import floor, log10
from typing import TYPE_CHECKING

from impact.base.language import translate
from impact.base.printing import Printer
from impact.report.drawing import INK, NARROW, PALE, POINT, SMALL, TEXT, WIDTH, above, figure, text_width, tick_labels
from impact.report.vector import svg

if TYPE_CHECKING:
    from markupsafe import Markup
    from matplotlib.axes import Axes

    from impact.decisions.forecast import Forecast
    from impact.decisions.planned import Expected
    from impact.report.ties import Ties

RIGHT, CLEAR = 0.1, 6.0
"""Least room right of the axes [in], from zero to the name of a side [pt]."""


@dataclass(frozen=True, slots=True)
class Form:
    """What the chart is drawn for.

    Attributes
    ----------
    width, left : float
        Of the drawing, and room left of the axes. [in]
    row, between : float
        Height of a row, and what each pair of axes takes beside its rows. [in]
    letters, names : float
        Size of the numbers along the axes and of the names of the two sides, and of the names of rows. [pt]
    bar : float
        Height of a bar. [rows]
    over : bool
        Whether the names of rows stand over their bars, else beside them.
    """

    width: float
    left: float
    row: float
    between: float
    letters: float
    names: float
    bar: float
    over: bool


ON_PAPER = Form(WIDTH, left=1.675, row=0.27, between=0.28, letters=9.5, names=10.0, bar=0.5, over=False)
ON_PHONE = Form(NARROW, left=0.1, row=0.4, between=0.3, letters=SMALL, names=TEXT, bar=0.32, over=True)


def term_chart(plan: Forecast, printer: Printer, word: Callable[[str], str], form: Form = ON_PAPER) -> str:
    """Return the ranges of one term, a dot for the centre, that of a rare amount alone: parts, paper, the carbon gap if any.

    Parameters
    ----------
    plan : Forecast
        The term.
    printer : Printer
        Unit of mass and marks of numbers.
    word : callable
        Translates a label.
    form : Form
        Whether for paper and wide screens, or for a phone.
    """
    gap = plan.difference_kgco2e
    panels = list(zip(_scales(printer), _rows(plan, printer, word), strict=False))
    rows = [len(found) for _, found in panels]
    height = form.row * sum(rows) + form.between * len(panels) + 0.17
    drawn = figure(height, form.width)
    space = {"height_ratios": rows, "top": 0.98, "bottom": 0.43 / height, "hspace": 0.6}
    every = drawn.subplots(len(panels), gridspec_kw=space)
    for (scale, found), axes in zip(panels, every, strict=True):
        _ranges(axes, found, scale, form)
    low, high = every[1].get_xlim()
    every[0].set_xlim(low / high * 1.01 * plan.planned, 1.01 * plan.planned)  # zero of parts above that of paper
    partly = plan.displacement is not None and plan.displacement < 1.0  # the rest of the parts replaces nothing
    less, more = word("← saved"), word("added →")
    sides = (less, more) if partly else (word("← less than plastic"), word("more than plastic →"))
    if gap is not None:
        _make_room(every[-1], form, *(text_width(side, form.letters) + CLEAR * POINT for side in sides))
        _name_sides(every[-1], form.letters, *sides)
    ends = [_numbers(axes, printer, form) for axes in every[:2]]
    # The sides of the last axis have names in place of a sign.
    ends += [_numbers(axes, printer, form, signed=False) for axes in every[2:]]
    least, most = every[0].get_xlim()
    every[0].set_xticks([place for place in every[0].get_xticks() if max(least, 0.0) <= place <= most])  # none or more
    drawn.subplots_adjust(left=form.left / form.width, right=1.0 - max(RIGHT, *ends) / form.width)
    return svg(drawn)


def _rows(plan: Forecast, printer: Printer, word: Callable[[str], str]) -> list[list[tuple[str, Expected]]]:
    """Return name and size of each row, by the axis that it is drawn on: parts, paper, carbon if it is compared."""
    unit, gap = printer.unit("term paper"), plan.difference_kgco2e
    used, kept, warming = word("Paper used"), word("Kept from landfill"), word("Carbon")
    masses = [(f"{used}, {unit}", plan.all_paper_kg), (f"{kept}, {unit}", plan.diverted_kg)]
    carbon = [[(f"{warming}, {printer.unit('term account')}", gap)]] if gap is not None else []
    return [[(word("Good parts"), plan.good_parts)], masses, *carbon]


def _scales(printer: Printer) -> tuple[float, float, float]:
    """Return by what the values on each axis are multiplied before they are printed."""
    return 1.0, printer.scaled(1.0, "term paper"), printer.scaled(1.0, "term account")


def title_of_term(tie: Ties) -> Markup:
    """Return what the chart shows, in one sentence."""
    from markupsafe import Markup

    parts, paper = "school.term.good_parts.value", "school.term.paper_kg.value"
    said = translate(
        tie.printer.language, "A term would take about %(paper)s of paper and give about %(parts)s good parts"
    )
    return Markup(said) % {"paper": tie(paper, unit=True), "parts": tie(parts)}


def term_alternative(plan: Forecast, printer: Printer, word: Callable[[str], str]) -> str:
    """Return what the chart shows, in words: each row with its centre and its range."""
    said = [
        f"{name} {printer.whole(size, kind, unit=False)}"
        for kind, rows in zip(("count", "term paper", "term account"), _rows(plan, printer, word), strict=False)
        for name, size in rows
    ]
    return word("For one term, about and likely range: %(rows)s.") % {"rows": "; ".join(said)}


def _make_room(axes: Axes, form: Form, less: float, more: float) -> None:
    """Widen the view so that a text of some width fits on either side of zero. [in]"""
    low, high = axes.get_xlim()
    spare = 0.2 if form.over else 0.5  # what the last number may take beyond the axes
    inches = form.width - form.left - RIGHT - spare
    share_below, share_above = less / inches, more / inches
    if high < share_above * (high - low):
        high = -low * share_above / (1.0 - share_above)
    if -low < share_below * (high - low):
        low = -high * share_below / (1.0 - share_below)
    axes.set_xlim(low, high)


def _name_sides(axes: Axes, letters: float, less: str, more: str) -> None:
    """Write what lies left and right of zero under the numbers of the axis."""
    for text, side, offset in ((less, "right", -CLEAR), (more, "left", CLEAR)):
        axes.annotate(
            text, (0.0, 0.0), xycoords=("data", "axes fraction"), xytext=(offset, -17), textcoords="offset points",
            ha=side, va="top", fontsize=letters, annotation_clip=False,
        )  # fmt: skip


def _ranges(axes: Axes, rows: Sequence[tuple[str, Expected]], scale: float, form: Form) -> None:
    """Draw a bar from low to high and a dot at the centre of each row, with zero on the axis."""
    for place, (name, size) in enumerate(rows):
        if form.over:
            above(axes, place, name, size=form.names, lift=7.5)
        low, high = size.low * scale, size.high * scale
        if not size.rare:
            axes.barh(place, high - low, left=low, height=form.bar, color=PALE, edgecolor=INK, linewidth=0.8)
        axes.plot([size.value * scale], [place], "o", color=INK, markersize=5)
    beside = [] if form.over else [label for label, _ in rows]
    axes.set_yticks(range(len(beside)), beside, fontsize=form.names)
    axes.set_ylim(len(rows) - (0.75 if form.over else 0.5), -0.75 if form.over else -0.5)
    if form.over:  # the names stand where the line of zero would run
        for place in range(len(rows)):
            axes.plot([0.0, 0.0], [place - 0.22, place + 0.22], color=INK, linewidth=1.2)
    else:
        axes.axvline(0.0, color=INK, linewidth=1.2)
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)
    axes.tick_params(axis="x", labelsize=form.letters, pad=2)
    shown = (end for _, size in rows for end in ((size.value,) if size.rare else (size.low, size.high, size.value)))
    ends = (0.0, *(end * scale for end in shown))
    room = 0.03 * (max(ends) - min(ends)) or 1.0
    axes.set_xlim(min(ends) - room, max(ends) + room)


def _numbers(axes: Axes, printer: Printer, form: Form, *, signed: bool = True) -> float:
    """Write numbers along an axis, as many as stand apart; return half the width of the widest. [in]"""
    from matplotlib.ticker import MaxNLocator

    for most in (7, 5, 3, 2):
        axes.xaxis.set_major_locator(MaxNLocator(nbins=most, steps=[1, 2, 5, 10]))
        step = float(axes.get_xticks()[1] - axes.get_xticks()[0])
        decimals = max(0, -floor(log10(step) + 1e-9))
        axes.xaxis.set_major_formatter(_sizes(printer, decimals, signed=signed))
        widest = max(text_width(label, form.letters) for label in tick_labels(axes.xaxis))
        low, high = axes.get_xlim()
        if widest + 0.1 <= step / (high - low) * (form.width - form.left - (0.3 if form.over else 0.6)):
            break
    return widest / 2.0


def _sizes(printer: Printer, decimals: int, *, signed: bool) -> Callable[[float, float], str]:
    """Return what prints numbers, with or without their sign."""
    return lambda value, _: printer.fixed(value if signed else abs(value), decimals)
