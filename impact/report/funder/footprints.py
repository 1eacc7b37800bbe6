"""The footprint of each moulded part beside that of its plastic part, drawn as dots with their intervals."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from impact.base.language import translate
from impact.base.printing import Printer
from impact.report.drawing import (
    MOULDED,
    PAPER,
    PLASTIC,
    RULE,
    SMALL,
    SOFT,
    TEXT,
    mark_numbers,
    panel,
    shortened,
    svg,
    text_width,
)

if TYPE_CHECKING:
    from impact.account.results import Interval, PartResult

NAME_LETTERS = 24
ROW = 0.27
"""Height of the two lines of a part. [in]"""


def _shown(parts: Sequence[PartResult], most: int) -> list[PartResult]:
    """Return the parts that are compared, those highest above their plastic part first, at most `most`."""
    known = [part for part in parts if part.footprint is not None and part.plastic is not None and part.difference]
    return sorted(known, key=lambda part: -(part.difference.value if part.difference else 0.0))[:most]


def footprints_chart(parts: Sequence[PartResult], printer: Printer, most: int = 5) -> str:
    """Return a dot with its 95 % interval for each moulded part and its plastic part; nothing where none is compared. [g CO2e]"""
    shown = _shown(parts, most)
    if not shown:
        return ""
    names = [shortened(part.part, NAME_LETTERS) for part in shown]
    left = max(text_width(name) for name in names) + 0.15
    drawn, axes = panel(ROW * len(shown) + 0.62, left=left, right=0.15, top=0.22, bottom=0.4)
    ends = [0.0]
    for place, part in enumerate(shown):
        sides = (
            (part.footprint, MOULDED, -0.14, "o"),
            (part.plastic.footprint if part.plastic else None, PLASTIC, 0.14, "s"),
        )
        for figure, colour, shift, sign in sides:
            if figure is not None:
                low, value, high = (1000.0 * end for end in (figure.low, figure.value, figure.high))
                axes.plot([low, high], [place + shift] * 2, color=colour, linewidth=1.4, solid_capstyle="butt")
                axes.plot([value], [place + shift], sign, color=colour, markersize=5, markeredgecolor=PAPER)
                ends += [low, high]
    axes.set_ylim(len(shown) - 0.5, -0.5)
    room = 0.02 * (max(ends) - min(ends))
    axes.set_xlim(min(ends) - room if min(ends) < 0.0 else 0.0, max(ends) + room)
    axes.set_yticks(range(len(shown)), names, fontsize=TEXT)
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.axvline(0.0, color=RULE, linewidth=0.8)
    mark_numbers(printer, axes.xaxis)
    axes.set_xlabel(
        translate(printer.language, "g CO₂e per good part, over its service life; line: 95 %% interval") % {}
    )
    height = float(drawn.get_figheight())
    across = left
    for word, colour in (("moulded", MOULDED), ("plastic", PLASTIC)):
        name = translate(printer.language, word)
        drawn.text(
            across / 6.7,
            1.0 - 0.1 / height,
            "●" if word == "moulded" else "■",
            color=colour,
            fontsize=SMALL,
            va="center",
        )
        drawn.text((across + 0.14) / 6.7, 1.0 - 0.1 / height, name, color=SOFT, fontsize=SMALL, va="center")
        across += text_width(name, SMALL) + 0.4
    return svg(drawn)


def footprints_alternative(parts: Sequence[PartResult], printer: Printer, most: int = 5) -> str:
    """Return what the chart shows, in words."""

    def told(figure: Interval) -> str:
        return f"{printer.grams(figure.value)} g ({printer.gram_interval(figure)})"

    said = translate(printer.language, "%(part)s moulded %(made)s, plastic %(plastic)s")
    words = [
        said % {"part": part.part, "made": told(part.footprint), "plastic": told(part.plastic.footprint)}
        for part in _shown(parts, most)
        if part.footprint is not None and part.plastic is not None
    ]
    return translate(printer.language, "Footprint of moulded parts and of their plastic parts: %(parts)s.") % {
        "parts": "; ".join(words)
    }
