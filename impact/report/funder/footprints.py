"""The first chart of a funder's report: each part beside its plastic part, as marks with intervals."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from impact.account.results import Interval, PartResult
from impact.base.language import message, translate
from impact.base.printing import Printer
from impact.findings.verdicts import verdict
from impact.report.drawing import (
    INK,
    MOULDED,
    PAPER,
    PLASTIC,
    SMALL,
    SOFT,
    TEXT,
    WIDTH,
    above,
    column,
    panel,
    plain_rows,
    space_numbers,
    text_width,
    told_apart,
    under,
    widest,
)
from impact.report.funder.story import OUTCOMES
from impact.report.vector import svg

if TYPE_CHECKING:
    from markupsafe import Markup
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from impact.report.ties import Ties

MOST = 5
"""Parts shown."""

ROW, BESIDE = 0.38, 0.085
"""Height of a part [in]; from its middle to either of its two lines [share of a row, times 2]."""

TOP, BOTTOM = 0.25, 0.4
"""Room for the names of the marks, and for numbers and unit. [in]"""

TALL, BENEATH = 0.9, 0.48
"""Height of a part where all words stand above its lines, and room for numbers and two lines of unit below. [in]"""

NAME_LETTERS = 28

SIDES = ((message("moulded"), "o", MOULDED), (message("plastic"), "D", PLASTIC))
"""Name, form and tone of the two sides; the second is hollow."""

LOWER = message("lower than plastic")
HIGHER = message("higher than plastic")
UNDECIDED = message("not told apart")
WORDS = {"lower than plastic": LOWER, "higher than plastic": HIGHER, "undecided": UNDECIDED}
"""By the verdict of a part, in the order of a title."""

ALIKE = {
    "lower than plastic": (message("The part compared has a lower footprint than plastic"), message("Every part compared has a lower footprint than plastic")),
    "higher than plastic": (message("The part compared has a higher footprint than plastic"), message("Every part compared has a higher footprint than plastic")),
    "undecided": (message("The footprint of the part compared cannot be told apart from plastic's"), message("No part compared has a footprint that can be told apart from plastic's")),
}  # fmt: skip
"""What is said of one part, and of several, where the verdict is the same for all."""

COUNTED = message("Footprints of the %(all)s parts compared: %(verdicts)s")


def _compared(parts: Sequence[PartResult]) -> list[PartResult]:
    """Return the parts that have a plastic part beside them, the most favourable difference first."""
    known = [part for part in parts if part.footprint is not None and part.plastic and part.difference is not None]
    return sorted(known, key=lambda part: part.difference.value if part.difference else 0.0)


def _sides(part: PartResult) -> list[Interval]:
    """Return both footprints of a part that is compared. [kgCO2e]"""
    return [footprint for footprint in (part.footprint, part.plastic and part.plastic.footprint) if footprint]


def footprints_chart(parts: Sequence[PartResult], printer: Printer, most: int = MOST, width: float = WIDTH) -> str:
    """Return both footprints of each part as marks with 95 % intervals, the most favourable part first. [g CO2e]

    Nothing where no part is compared. Zero is always on the axis. Below the width of paper [in] all words stand over lines.
    """
    shown = _compared(parts)[:most]
    if not shown:
        return ""
    names = told_apart([printer.name("part", part.part) for part in shown], NAME_LETTERS)
    values = [[printer.whole(side, "per part", unit=False) for side in _sides(part)] for part in shown]
    unit = translate(printer.language, "g CO₂e per good part, over its service life; line: 95 % interval")
    if width < WIDTH:
        return svg(_over_lines(shown, names, values, unit, printer, width))
    right = widest([text for pair in values for text in pair]) + 0.25
    height = TOP + ROW * len(shown) + BOTTOM
    drawn, axes = panel(height, left=widest(names) + 0.15, right=right, top=TOP, bottom=BOTTOM)
    _name_marks(drawn, axes, printer)
    axes.set_ylim(len(shown) - 0.5, -0.5)
    _reach(axes, shown)
    for place, (part, texts) in enumerate(zip(shown, values, strict=True)):
        for side, text, kind, (_, form, tone) in zip(_sides(part), texts, (-1, 1), SIDES, strict=True):
            spot = place + kind * 2.3 * BESIDE
            _mark(axes, side, spot, form, tone)
            column(axes, spot, text)
    plain_rows(axes, list(range(len(shown))), names)
    space_numbers(printer, axes.xaxis, WIDTH * axes.get_position().width)
    axes.set_xlabel(unit)
    return svg(drawn)


def _over_lines(
    shown: Sequence[PartResult],
    names: Sequence[str],
    values: Sequence[Sequence[str]],
    unit: str,
    printer: Printer,
    width: float,
) -> Figure:
    """Return the chart for a phone: the name of a part, and each side with its figures, stand over what they name. [in]"""
    height = TALL * len(shown) + BENEATH
    drawn, axes = panel(height, left=0.1, right=0.15, top=0.0, bottom=BENEATH, width=width)
    axes.set_ylim(len(shown), 0.0)
    _reach(axes, shown)
    plain_rows(axes, [], [])
    for place, (part, name, texts) in enumerate(zip(shown, names, values, strict=True)):
        above(axes, place + 0.28, name, lift=0.0)
        for side, text, spot, (word, form, tone) in zip(_sides(part), texts, (0.58, 0.9), SIDES, strict=True):
            _mark(axes, side, place + spot, form, tone)
            above(axes, place + spot, f"{translate(printer.language, word)} {text}", size=SMALL, colour=SOFT)
    space_numbers(printer, axes.xaxis, width * axes.get_position().width)
    under(axes, unit)
    return drawn


def _reach(axes: Axes, shown: Sequence[PartResult]) -> None:
    """Let the axis of numbers hold zero and every interval. [g CO2e]"""
    ends = [
        0.0,
        *(1000.0 * end for part in shown for side in _sides(part) for end in (side.low, side.value, side.high)),
    ]
    room = 0.02 * (max(ends) - min(ends) or 1.0)
    axes.set_xlim(min(ends) - room if min(ends) < 0.0 else 0.0, max(ends) + room)


def _mark(axes: Axes, side: Interval, spot: float, form: str, tone: str) -> None:
    """Draw an interval as a line and its central value as a mark upon it, the diamond hollow."""
    low, middle, high = (1000.0 * end for end in (side.low, side.value, side.high))
    face = PAPER if form == "D" else tone
    axes.plot([low, high], [spot, spot], color=tone, linewidth=1.6, solid_capstyle="butt", clip_on=False)
    axes.plot(
        [middle], [spot], form, color=tone, markerfacecolor=face, markersize=6, markeredgewidth=1.4, clip_on=False
    )


def _name_marks(drawn: Figure, axes: Axes, printer: Printer) -> None:
    """Write above the rows what the two marks stand for."""
    from matplotlib.lines import Line2D

    height, across = float(drawn.get_figheight()), float(axes.get_position().x0) * WIDTH + 0.1
    middle = 1.0 - 0.5 * TOP / height
    for name, form, tone in SIDES:
        face = PAPER if form == "D" else tone
        drawn.add_artist(
            Line2D(
                [across / WIDTH],
                [middle],
                marker=form,
                color=tone,
                markerfacecolor=face,
                markersize=6,
                markeredgewidth=1.4,
            )
        )
        word = translate(printer.language, name)
        drawn.text((across + 0.1) / WIDTH, middle, word, fontsize=TEXT, color=INK, va="center_baseline")
        across += text_width(word) + 0.4
    drawn.text(1.0 - 0.05 / WIDTH, middle, "g CO₂e", fontsize=SMALL, color=SOFT, va="center_baseline", ha="right")


def title_of_footprints(parts: Sequence[PartResult], tie: Ties) -> str | Markup:
    """Return how many of the parts compared lie on which side of plastic, in one sentence; nothing where none is."""
    from markupsafe import Markup

    language, verdicts = tie.printer.language, [verdict(part) for part in _compared(parts)]
    found = {name: translate(language, words) for name, words in WORDS.items() if name in verdicts}
    if not found:
        return ""
    if len(found) == 1:
        return translate(language, ALIKE[verdicts[0]][len(verdicts) > 1])
    every = tie("story.compared")
    listed = Markup(", ").join(tie(f"story.{OUTCOMES[name]}") + f"\u00a0{words}" for name, words in found.items())
    return Markup(translate(language, COUNTED)) % {"all": every, "verdicts": listed}


def footprints_alternative(parts: Sequence[PartResult], printer: Printer, most: int = MOST) -> str:
    """Return what the chart shows, in words: both footprints of each part shown, with their intervals."""
    shown = _compared(parts)[:most]
    if not shown:
        return ""
    said = [
        ", ".join(
            [printer.name("part", part.part), *(f"{translate(printer.language, name)} {printer.whole(side, 'per part')}"
                          for side, (name, _, _) in zip(_sides(part), SIDES, strict=True))]
        )
        for part in shown
    ]  # fmt: skip
    text = translate(
        printer.language, "Footprint of each good part and of its plastic part, with 95 %% intervals: %(parts)s."
    )
    return text % {"parts": "; ".join(said)}
