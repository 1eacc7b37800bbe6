"""Charts of stages and of months as SVG, their names within the drawing; their data stands in tables beside them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from impact.account.paper import ROUNDING
from impact.account.results import Interval, PartResult
from impact.base.language import message, translate
from impact.base.printing import Printer
from impact.report.drawing import (
    HATCH,
    ON_DARK,
    ON_MIDDLE,
    PAPER,
    PLASTIC_COLOURS,
    RULE,
    SMALL,
    SOFT,
    STAGE_COLOURS,
    TEXT,
    WIDTH,
    apart,
    column,
    mark_numbers,
    panel,
    plain_rows,
    shortened,
    space_numbers,
    text_width,
    tick_labels,
    told_apart,
    whisker,
    widest,
)  # fmt: skip
from impact.report.vector import svg

if TYPE_CHECKING:
    from markupsafe import Markup
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from impact.report.ties import Ties

STAGE_NAMES = {
    "paper": message("paper"),
    "binder": message("binder"),
    "making": message("making and drying"),
    "mould": message("mould"),
    "transport": message("transport"),
    "end_of_life": message("end of life"),
}
PLASTIC_NAMES = {
    "material": message("material and forming"),
    "freight": message("its freight"),
    "end_of_life": message("its end of life"),
}

PARTS_SHOWN, OF_MORE = 12, 5
"""Parts that the stages chart has room for, and those that it shows of more: as many as the other charts of parts."""

LARGEST_OF_ONE = message("%(stage)s is the largest stage of the moulded part")
LARGEST_OF_ALL = message("%(stage)s is the largest stage of every moulded part")
LARGEST_OF_SOME = message("%(stage)s is the largest stage of %(n)s of %(all)s moulded parts")

UNIT = "g CO₂e"
"""Of the column of values."""

NAME_LETTERS = 24
ROW, NAMES = 0.19, 0.17
"""Height of a bar with its gap, and of a line of names. [in]"""

SQUARE = 0.085
"""Side of a square that shows a colour beside its name. [in]"""

Stack = Sequence[tuple[str, str, float]]
"""Name, colour and value of each piece of a bar."""


def shown_parts(parts: Sequence[PartResult]) -> list[PartResult]:
    """Return the parts of the stages chart: those with a footprint, all of `PARTS_SHOWN` or fewer, else `OF_MORE`, by mass made the largest."""
    known = [part for part in parts if part.footprint is not None]
    most = PARTS_SHOWN if len(known) <= PARTS_SHOWN else OF_MORE
    largest = sorted(known, key=lambda part: -part.good * part.mass_kg)[:most]
    return [part for part in known if part in largest]


@dataclass(frozen=True, slots=True)
class _Bar:
    """One bar: its name, its pieces, its footprint, and whether it is of a plastic part."""

    name: str
    stack: Stack
    footprint: Interval
    plastic: bool


def _bars(parts: Sequence[PartResult], printer: Printer) -> list[_Bar]:
    """Return the bars from the top down. [g CO2e]"""
    language = printer.language
    bars = []
    for part in parts:
        if part.footprint is not None:
            stack = _stack(part.stages, STAGE_NAMES, STAGE_COLOURS, language)
            bars.append(_Bar(printer.name("part", part.part), stack, part.footprint, False))
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
    """Return bars of the footprint by stage for each part, its plastic part below, with 95 % intervals. [g CO2e]

    Nothing where no part has a footprint. The largest stage of a moulded part is named on its bar where it has room.
    """
    shown = shown_parts(parts)
    if not shown:
        return ""
    bars = _bars(shown, printer)
    places, depth = _places(bars)
    names = told_apart([bar.name for bar in bars], NAME_LETTERS)
    values = [printer.figure(bar.footprint.value, "per part", unit=False, of=bar.footprint) for bar in bars]
    keys = _keys(bars, printer.language)
    top = NAMES * len(keys) + 0.12
    right = max(widest(values), text_width(UNIT, SMALL)) + 0.2
    drawn, axes = panel(depth + 0.45 + top, left=widest(names) + 0.15, right=right, top=top, bottom=0.45)
    _draw_keys(drawn, keys)
    axes.set_ylim(depth, 0.0)
    ends = [0.0, *(value for bar in bars for value in _reach(bar))]
    room = 0.02 * (max(ends) - min(ends) or 1.0)
    axes.set_xlim(min(ends) - room if min(ends) < 0.0 else 0.0, max(ends) + room)
    for place, bar, value in zip(places, bars, values, strict=True):
        _draw_bar(axes, place, bar)
        _name_largest(axes, place, bar, printer)
        column(axes, place, value)
    column(axes, -0.03, UNIT, size=SMALL, colour=SOFT)
    plain_rows(axes, places, names)
    space_numbers(printer, axes.xaxis, WIDTH * axes.get_position().width)
    left_out = sum(part.footprint is not None for part in parts) - len(shown)
    more = translate(printer.language, "; %(n)s more in the table") % {"n": left_out} if left_out else ""
    said = translate(printer.language, "g CO₂e per good part, over its service life; line: 95 %% interval%(more)s")
    axes.set_xlabel(said % {"more": more})
    return svg(drawn)


def title_of_stages(parts: Sequence[PartResult], language: str) -> str:
    """Return what the stages chart shows, in one sentence; nothing where no stage of a moulded part emits."""
    largest = [stage for part in parts if part.footprint is not None and (stage := _largest(part.stages))]
    if not largest:
        return ""
    first = max(STAGE_NAMES, key=largest.count)
    alike = largest.count(first)
    said = LARGEST_OF_SOME if alike < len(largest) else LARGEST_OF_ALL if alike > 1 else LARGEST_OF_ONE
    name = translate(language, STAGE_NAMES[first])
    return translate(language, said) % {"stage": name[:1].upper() + name[1:], "n": alike, "all": len(largest)}


def _largest(stages: Mapping[str, float]) -> str:
    """Return the stage that emits most; nothing where none does."""
    stage = max(stages, key=lambda name: stages[name])
    return stage if stages[stage] > 0.0 else ""


def stages_alternative(parts: Sequence[PartResult], printer: Printer) -> str:
    """Return what the stages chart shows, in words: both footprints of each part shown with their intervals."""
    said = []
    for part in shown_parts(parts):
        if part.footprint is None:
            continue
        words = f"{printer.name('part', part.part)} {printer.whole(part.footprint, 'per part')}"
        if stage := _largest(part.stages):
            figure = printer.figure(part.stages[stage], "per part")
            most = translate(printer.language, ", most of it %(stage)s %(figure)s")
            words += most % {"stage": translate(printer.language, STAGE_NAMES[stage]), "figure": figure}
        if part.plastic is not None:
            against = translate(printer.language, "%(polymer)s part") % {"polymer": part.plastic.polymer}
            words += f"; {against} {printer.whole(part.plastic.footprint, 'per part')}"
        said.append(words)
    if not said:
        return ""
    text = translate(
        printer.language,
        "Footprint of each moulded part by life-cycle stage above that of its plastic part: %(parts)s.",
    )
    return text % {"parts": ". ".join(said)}


def _reach(bar: _Bar) -> tuple[float, ...]:
    """Return the outermost values of a bar and its whisker."""
    values = [value for _, _, value in bar.stack]
    above, below = (sum(value for value in values if (value >= 0.0) is side) for side in (True, False))
    return 1000.0 * bar.footprint.low, 1000.0 * bar.footprint.high, above, below


def _draw_bar(axes: Axes, place: float, bar: _Bar) -> None:
    hatch = HATCH if bar.plastic else None
    for (_, colour, value), middle in zip(bar.stack, _middles(bar.stack), strict=True):
        start = middle - abs(value) / 2.0
        axes.barh(place, abs(value), left=start, height=0.15, color=colour, edgecolor=PAPER, linewidth=0.6, hatch=hatch)
    whisker(axes, 1000.0 * bar.footprint.low, 1000.0 * bar.footprint.high, place)


def _name_largest(axes: Axes, place: float, bar: _Bar, printer: Printer) -> None:
    """Write name and value of the largest stage of a moulded part on its piece, where no interval is in the way."""
    if bar.plastic:
        return
    (name, colour, value), middle = max(zip(bar.stack, _middles(bar.stack), strict=True), key=lambda piece: piece[0][2])
    low, high = axes.get_xlim()
    start, end = middle - value / 2.0, middle + value / 2.0
    per_inch = (high - low) / (WIDTH * axes.get_position().width)
    line = 1000.0 * bar.footprint.low, 1000.0 * bar.footprint.high
    if start < line[1] and line[0] < end:
        start, end = max(((start, line[0]), (line[1], end)), key=lambda free: free[1] - free[0])
    text = f"{name} {printer.figure(value / 1000.0, 'per part', unit=False)}"
    if end - start > (text_width(text, SMALL) + 0.1) * per_inch:
        ink = ON_DARK if STAGE_COLOURS.index(colour) % 2 == 0 else ON_MIDDLE
        axes.text((start + end) / 2.0, place, text, ha="center", va="center_baseline", fontsize=SMALL, color=ink)


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


def _keys(bars: Sequence[_Bar], language: str) -> list[tuple[str, str | None, Key]]:
    """Return for moulded and for plastic parts, where there are any, what they are, the hatch, the pieces that occur."""
    found: list[tuple[str, str | None, Key]] = []
    for plastic, heading, hatch in ((False, "moulded", None), (True, "plastic", HATCH)):
        stacks = [bar.stack for bar in bars if bar.plastic is plastic]
        there = {name for stack in stacks for name, _, value in stack if value != 0.0}
        key = [(name, colour) for name, colour, _ in stacks[0] if name in there] if stacks else []
        if key:
            found.append((translate(language, heading), hatch, key))
    return found


def _draw_keys(drawn: Figure, keys: Sequence[tuple[str, str | None, Key]]) -> None:
    """Write a line for each kind of bar above all bars: a square in the colour of each piece, and its name."""
    from matplotlib.patches import Rectangle

    height = float(drawn.get_figheight())
    start = 0.05 + widest([heading for heading, _, _ in keys], SMALL) + 0.15
    for line, (heading, hatch, key) in enumerate(keys):
        middle, across = height - NAMES * (line + 0.5), start
        drawn.text(0.05 / WIDTH, middle / height, heading, fontsize=SMALL, color=SOFT, va="center_baseline")
        for name, colour in key:
            corner = (across / WIDTH, (middle - SQUARE / 2.0) / height)
            size = SQUARE / WIDTH, SQUARE / height
            drawn.add_artist(Rectangle(corner, *size, facecolor=colour, edgecolor=PAPER, linewidth=0, hatch=hatch))
            across += SQUARE + 0.05
            drawn.text(across / WIDTH, middle / height, name, fontsize=SMALL, va="center_baseline")
            across += text_width(name, SMALL) + 0.17


GRADES_SHOWN = len(STAGE_COLOURS)
"""Grades that the months chart tells apart; the smallest beyond go together."""


def largest_grades(by_grade: Mapping[str, Sequence[float]], language: str) -> dict[str, list[float]]:
    """Return the masses by grade, the smallest grades summed where there are more than `GRADES_SHOWN`. [kg]"""
    ordered = sorted(by_grade.items(), key=lambda pair: -sum(pair[1]))
    if len(ordered) <= GRADES_SHOWN:
        return {grade: list(masses) for grade, masses in ordered}
    kept, rest = ordered[: GRADES_SHOWN - 1], ordered[GRADES_SHOWN - 1 :]
    together = [sum(masses) for masses in zip(*(masses for _, masses in rest), strict=True)]
    others = translate(language, "%(n)s other grades") % {"n": len(rest)}
    return {**{grade: list(masses) for grade, masses in kept}, others: together}


ALL_OF_GRADE = message("All of the paper was %(grade)s (%(all)s)")
MOST_OF_GRADE = message("Most of the paper was %(grade)s (%(part)s of %(all)s)")
LARGEST_GRADE = message("More of the paper was %(grade)s than any other grade (%(part)s of %(all)s)")

COLUMN, COLUMN_SHARE, TALL = 0.75, 0.7, 1.15
"""Most width of a column with its gap [in], share of it that is column, height of the columns [in]."""


def _mass(kg: float, printer: Printer) -> str:
    return printer.figure(kg, "paper", unit=False)


def months_chart(months: Sequence[str], by_grade: Mapping[str, Sequence[float]], printer: Printer) -> str:
    """Return stacked columns of the paper collected in each month by grade, labelled beside the last; masses by grade in kilograms.

    Nothing where nothing was collected. The sums stand above the columns where all have room.
    """
    shown = largest_grades(by_grade, printer.language)
    if not any(mass > 0.0 for masses in shown.values() for mass in masses):
        return ""
    names = [f"{shortened(grade, NAME_LETTERS)} {_mass(sum(masses), printer)}" for grade, masses in shown.items()]
    drawn, axes = panel(TALL + 0.5, left=0.5, right=0.5, top=0.25, bottom=0.25)
    base, middles = [0.0] * len(months), []
    for colour, kilograms in zip(STAGE_COLOURS, shown.values(), strict=False):
        masses = [printer.scaled(mass, "paper") for mass in kilograms]
        axes.bar(
            range(len(months)), masses, bottom=base, color=colour, edgecolor=PAPER, linewidth=0.6, width=COLUMN_SHARE
        )
        middles.append(base[-1] + masses[-1] / 2.0)
        base = [below + mass for below, mass in zip(base, masses, strict=True)]
    axes.set_ylim(0.0, 1.02 * max(base))
    axes.set_xlim(-0.5, len(months) - 0.5)
    axes.locator_params(axis="y", nbins=5)
    mark_numbers(printer, axes.yaxis)
    left = max(0.5, widest(tick_labels(axes.yaxis), SMALL) + 0.15)
    right = max(widest(names) + 0.4, WIDTH - left - COLUMN * len(months))
    within = axes.get_position()
    axes.set_position((left / WIDTH, within.y0, (WIDTH - left - right) / WIDTH, within.height))
    sums = [_mass(sum(masses), printer) for masses in zip(*shown.values(), strict=True)]
    if widest(sums, SMALL) + 0.04 <= (WIDTH - left - right) / len(months):
        for place, (total, text) in enumerate(zip(base, sums, strict=True)):
            _above(axes, place, total, text)
    _name_grades(axes, names, middles, [masses[-1] for masses in shown.values()])
    apart_by = -(-(widest(months, SMALL) + 0.06) * len(months) // (WIDTH - left - right))  # months from name to name
    axes.set_xticks(range(0, len(months), int(apart_by)), months[:: int(apart_by)])
    said = translate(printer.language, "collected, %(unit)s") % {"unit": printer.unit("paper")}
    drawn.text(0.005, 0.99, said, fontsize=SMALL, color=SOFT, va="top")
    axes.tick_params(axis="x", length=0)
    return svg(drawn)


def title_of_months(by_grade: Mapping[str, Sequence[float]], tie: Ties, called: Callable[[str], str]) -> str | Markup:
    """Return what the months chart shows, in one sentence; nothing where nothing was collected; `called` names a grade."""
    from markupsafe import Markup

    sums = {grade: sum(masses) for grade, masses in by_grade.items()}
    total = sum(sums.values())
    if total <= 0.0:
        return ""
    largest = max(sums, key=lambda grade: sums[grade])
    whole = sums[largest] >= total * (1.0 - ROUNDING)
    said = ALL_OF_GRADE if whole else MOST_OF_GRADE if sums[largest] > total / 2.0 else LARGEST_GRADE
    figures = {} if whole else {"part": tie(f"paper.by_grade.{largest}.collected_kg")}
    figures["all"] = tie("paper.collected_kg.value", unit=True)
    return Markup(translate(tie.printer.language, said)) % {"grade": called(largest), **figures}


def months_alternative(months: Sequence[str], by_grade: Mapping[str, Sequence[float]], printer: Printer) -> str:
    """Return what the months chart shows, in words: the sum of each grade and of each month."""
    if not any(mass > 0.0 for masses in by_grade.values() for mass in masses):
        return ""
    grades = [
        f"{grade} {_mass(sum(masses), printer)}" for grade, masses in largest_grades(by_grade, printer.language).items()
    ]
    sums = [sum(masses) for masses in zip(*by_grade.values(), strict=True)]
    by_month = [f"{month} {_mass(total, printer)}" for month, total in zip(months, sums, strict=True)]
    said = translate(printer.language, "Paper collected in %(unit)s, by grade: %(grades)s. By period: %(months)s.")
    return said % {"unit": printer.unit("paper"), "grades": ", ".join(grades), "months": ", ".join(by_month)}


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
