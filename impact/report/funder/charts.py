"""Charts as SVG, their names within the drawing; their data stands in tables beside them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from impact.account.results import Interval, PartResult
from impact.base.language import message, translate
from impact.base.printing import Printer
from impact.base.wording import shown
from impact.report.drawing import (
    INK,
    PAPER,
    PLASTIC_COLOURS,
    RULE,
    SMALL,
    SOFT,
    STAGE_COLOURS,
    TEXT,
    WIDTH,
    apart,
    mark_numbers,
    panel,
    shortened,
    svg,
    text_width,
)  # fmt: skip

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

STAGE_NAMES = {
    "paper": message("paper"),
    "binder": message("binder"),
    "making": message("making and drying"),
    "mould": message("mould"),
    "transport": message("transport"),
    "end_of_life": message("end of life"),
}
PLASTIC_NAMES = {
    "material": message("plastic part, formed"),
    "freight": message("its freight"),
    "end_of_life": message("its end of life"),
}

PARTS_SHOWN = 12
"""Parts that the stages chart has room for."""

NAME_LETTERS = 24
ROW, NAMES = 0.19, 0.17
"""Height of a bar with its gap, and of a line of names. [in]"""

SQUARE = 0.085
"""Side of a square that shows a colour beside its name. [in]"""

Stack = Sequence[tuple[str, str, float]]
"""Name, colour and value of each piece of a bar."""


def shown_parts(parts: Sequence[PartResult]) -> list[PartResult]:
    """Return the parts of the stages chart: those with a footprint, at most `PARTS_SHOWN`, by mass made the largest."""
    known = [part for part in parts if part.footprint is not None]
    largest = sorted(known, key=lambda part: -part.good * part.mass_kg)[:PARTS_SHOWN]
    return [part for part in known if part in largest]


@dataclass(frozen=True, slots=True)
class _Bar:
    """One bar: its name, its pieces, its footprint, and whether it is of a plastic part."""

    name: str
    stack: Stack
    footprint: Interval
    plastic: bool


def _bars(parts: Sequence[PartResult], language: str) -> list[_Bar]:
    """Return the bars from the top down. [g CO2e]"""
    bars = []
    for part in parts:
        if part.footprint is not None:
            stack = _stack(part.stages, STAGE_NAMES, STAGE_COLOURS, language)
            bars.append(_Bar(shown(part.part, [one.part for one in parts]), stack, part.footprint, False))
        if part.footprint is not None and part.plastic is not None:
            stack = _stack(part.plastic.stages, PLASTIC_NAMES, PLASTIC_COLOURS, language)
            name = translate(language, "%(polymer)s part") % {"polymer": part.plastic.polymer}
            bars.append(_Bar(name, stack, part.plastic.footprint, True))
    return bars


def _stack(stages: Mapping[str, float], names: Mapping[str, str], colours: Sequence[str], language: str) -> Stack:
    return [
        (translate(language, name), colour, 1000.0 * stages[stage])
        for (stage, name), colour in zip(names.items(), colours, strict=True)
    ]


def _places(bars: Sequence[_Bar]) -> tuple[list[float], float]:
    """Return how far down each bar is, and the end. [in]"""
    depth, places = 0.0, []
    for bar in bars:
        depth += 0.0 if bar.plastic else 0.08
        places.append(depth + ROW / 2.0)
        depth += ROW
    return places, max(depth, ROW)


def stages_chart(parts: Sequence[PartResult], printer: Printer) -> str:
    """Return bars of the footprint by stage for each part, its plastic part below, with 95 % intervals. [g CO2e]"""
    shown = shown_parts(parts)
    bars = _bars(shown, printer.language)
    places, depth = _places(bars)
    names = [shortened(bar.name, NAME_LETTERS) for bar in bars]
    left = max((text_width(name) for name in names), default=0.5) + 0.15
    keys = _keys(bars, printer.language)
    top = NAMES * len(keys) + 0.12
    drawn, axes = panel(depth + 0.45 + top, left=left, right=0.6, top=top, bottom=0.45)
    _draw_keys(drawn, keys)
    axes.set_ylim(depth, 0.0)
    ends = [0.0, *(value for bar in bars for value in _reach(bar))]
    room = 0.02 * (max(ends) - min(ends) or 1.0)
    axes.set_xlim(min(ends) - room if min(ends) < 0.0 else 0.0, max(ends) + room)
    for place, bar in zip(places, bars, strict=True):
        _draw_bar(axes, place, bar)
        _value(axes, place, printer.digits(1000.0 * bar.footprint.value), size=TEXT, colour=INK)
    _value(axes, -0.03, "g CO₂e", size=SMALL, colour=SOFT)
    axes.set_yticks(places, names, fontsize=TEXT)
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.axvline(0.0, color=RULE, linewidth=0.8)
    mark_numbers(printer, axes.xaxis)
    left_out = sum(part.footprint is not None for part in parts) - len(shown)
    more = translate(printer.language, "; %(n)s more in the table") % {"n": left_out} if left_out else ""
    said = translate(printer.language, "g CO₂e per good part, over its service life; line: 95 %% interval%(more)s")
    axes.set_xlabel(said % {"more": more})
    return svg(drawn)


def _value(axes: Axes, place: float, text: str, *, size: float, colour: str) -> None:
    """Write into the column at the right edge."""
    across = axes.get_yaxis_transform()
    axes.text(1.1, place, text, transform=across, ha="right", va="center", fontsize=size, color=colour)


def _reach(bar: _Bar) -> tuple[float, ...]:
    """Return the outermost values of a bar and its whisker."""
    values = [value for _, _, value in bar.stack]
    above, below = (sum(value for value in values if (value >= 0.0) is side) for side in (True, False))
    return 1000.0 * bar.footprint.low, 1000.0 * bar.footprint.high, above, below


def _draw_bar(axes: Axes, place: float, bar: _Bar) -> None:
    for (_, colour, value), middle in zip(bar.stack, _middles(bar.stack), strict=True):
        start = middle - abs(value) / 2.0
        axes.barh(place, abs(value), left=start, height=0.15, color=colour, edgecolor=PAPER, linewidth=0.6)
    ends = [1000.0 * bar.footprint.low, 1000.0 * bar.footprint.high]
    axes.plot(ends, [place, place], color=PAPER, linewidth=2.2, solid_capstyle="butt")
    axes.plot(ends, [place, place], color=INK, linewidth=1.0, marker="|", markersize=6)


def _middles(stack: Stack) -> list[float]:
    """Return the middle of each piece, the negative ones stacked to the left of 0."""
    right = left = 0.0
    middles = []
    for _, _, value in stack:
        if value >= 0.0:
            middles.append(right + value / 2.0)
            right += value
        else:
            middles.append(left + value / 2.0)
            left += value
    return middles


Key = Sequence[tuple[str, str]]
"""Name and colour of each piece that a line above the bars names, in the order of the pieces."""


def _keys(bars: Sequence[_Bar], language: str) -> list[tuple[str, Key]]:
    """Return for moulded and for plastic parts, where there are any, what they are and the pieces that occur."""
    found: list[tuple[str, Key]] = []
    for plastic, heading in ((False, "moulded"), (True, "plastic")):
        stacks = [bar.stack for bar in bars if bar.plastic is plastic]
        there = {name for stack in stacks for name, _, value in stack if value != 0.0}
        key = [(name, colour) for name, colour, _ in stacks[0] if name in there] if stacks else []
        if key:
            found.append((translate(language, heading), key))
    return found


def _draw_keys(drawn: Figure, keys: Sequence[tuple[str, Key]]) -> None:
    """Write a line for each kind of bar above all bars: a square in the colour of each piece, and its name."""
    from matplotlib.patches import Rectangle

    height = float(drawn.get_figheight())
    start = 0.05 + max((text_width(heading, SMALL) for heading, _ in keys), default=0.0) + 0.15
    for line, (heading, key) in enumerate(keys):
        middle, across = height - NAMES * (line + 0.5), start
        drawn.text(0.05 / WIDTH, middle / height, heading, fontsize=SMALL, color=SOFT, va="center_baseline")
        for name, colour in key:
            corner = (across / WIDTH, (middle - SQUARE / 2.0) / height)
            drawn.add_artist(Rectangle(corner, SQUARE / WIDTH, SQUARE / height, facecolor=colour, linewidth=0))
            across += SQUARE + 0.05
            drawn.text(across / WIDTH, middle / height, name, fontsize=SMALL, va="center_baseline")
            across += text_width(name, SMALL) + 0.17


GRADES_SHOWN = len(STAGE_COLOURS)
"""Grades that the months chart tells apart; the smallest beyond go together."""


def largest_grades(by_grade: Mapping[str, Sequence[float]], language: str) -> dict[str, list[float]]:
    """Return the masses by grade, the smallest grades summed where there are more than `GRADES_SHOWN`. [kg or lb]"""
    ordered = sorted(by_grade.items(), key=lambda pair: -sum(pair[1]))
    if len(ordered) <= GRADES_SHOWN:
        return {grade: list(masses) for grade, masses in ordered}
    kept, rest = ordered[: GRADES_SHOWN - 1], ordered[GRADES_SHOWN - 1 :]
    together = [sum(masses) for masses in zip(*(masses for _, masses in rest), strict=True)]
    others = translate(language, "%(n)s other grades") % {"n": len(rest)}
    return {**{grade: list(masses) for grade, masses in kept}, others: together}


COLUMN, COLUMN_SHARE, TALL = 0.75, 0.7, 1.4
"""Most width of a column with its gap [in], share of it that is column, height of the columns [in]."""


def months_chart(months: Sequence[str], by_grade: Mapping[str, Sequence[float]], printer: Printer) -> str:
    """Return stacked columns of the paper collected in each month by grade, labelled beside the last. [kg or lb]"""
    shown = largest_grades(by_grade, printer.language)
    names = [f"{shortened(grade, NAME_LETTERS)} {printer.digits(sum(masses))}" for grade, masses in shown.items()]
    left, beside = 0.5, max((text_width(name) for name in names), default=0.5) + 0.4
    right = max(beside, WIDTH - left - COLUMN * len(months))
    drawn, axes = panel(TALL + 0.5, left=left, right=right, top=0.25, bottom=0.25)
    base, middles = [0.0] * len(months), []
    for colour, masses in zip(STAGE_COLOURS, shown.values(), strict=False):
        axes.bar(
            range(len(months)), masses, bottom=base, color=colour, edgecolor=PAPER, linewidth=0.6, width=COLUMN_SHARE
        )
        middles.append(base[-1] + masses[-1] / 2.0)
        base = [below + mass for below, mass in zip(base, masses, strict=True)]
    axes.set_ylim(0.0, 1.02 * max(*base, 0.0) or 1.0)
    axes.set_xlim(-0.5, len(months) - 0.5)
    for place, total in enumerate(base):
        _above(axes, place, total, printer.digits(total))
    _name_grades(axes, names, middles, [masses[-1] for masses in shown.values()])
    axes.set_xticks(range(len(months)), months)
    unit = f"{translate(printer.language, 'collected')}, {printer.mass_unit}"
    drawn.text(0.005, 0.99, unit, fontsize=SMALL, color=SOFT, va="top")
    axes.tick_params(axis="x", length=0)
    axes.locator_params(axis="y", nbins=5)
    mark_numbers(printer, axes.yaxis)
    return svg(drawn)


def _above(axes: Axes, place: float, height: float, text: str) -> None:
    axes.annotate(
        text, (place, height), ha="center", va="bottom", fontsize=SMALL, xytext=(0, 1), textcoords="offset points",
        annotation_clip=False,
    )  # fmt: skip


def _name_grades(axes: Axes, names: Sequence[str], middles: Sequence[float], last: Sequence[float]) -> None:
    """Write grades with their sums beside the last column, each with its colour and a line to its piece there."""
    (low, high), (first, edge) = axes.get_ylim(), axes.get_xlim()
    per_inch = (edge - first) / (WIDTH * axes.get_position().width)
    column, start = edge - (1.0 - COLUMN_SHARE) / 2.0, edge + 0.1 * per_inch
    spots = apart(middles, [0.16 / TALL * (high - low)] * len(names), low, high)
    for name, middle, spot, mass, colour in zip(names, middles, spots, last, STAGE_COLOURS, strict=False):
        if mass > 0.0:
            axes.plot([column, start], [middle, spot], color=RULE, linewidth=0.6, clip_on=False)
        axes.plot([start], [spot], "s", color=colour, markersize=5, clip_on=False)
        axes.text(start + 0.08 * per_inch, spot, name, fontsize=TEXT, va="center")
