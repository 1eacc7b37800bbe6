"""The chart of what would lower the footprint of one part most: a bar for each step that helps."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from impact.base.language import message, translate
from impact.base.printing import Printer
from impact.report.drawing import (
    MOULDED,
    WIDTH,
    above,
    column,
    panel,
    plain_rows,
    shortened,
    space_numbers,
    under,
    whisker,
    widest,
)
from impact.report.vector import svg

if TYPE_CHECKING:
    from markupsafe import Markup

    from impact.decisions.levers import Relief
    from impact.report.ties import Ties

MOST = 5
"""Steps shown."""

ROW, TOP, BOTTOM = 0.22, 0.05, 0.42
"""Height of a step, and room above and below all. [in]"""

TALL, BENEATH = 0.37, 0.48
"""Height of a step whose name stands above its bar, and room for numbers and two lines of unit below. [in]"""

STEP_LETTERS = 44

TAKES_MOST = message("%(part)s: %(step)s would take off most (%(off)s of %(all)s g CO₂e)")


def helpful(levers: Sequence[Relief]) -> list[Relief]:
    """Return the steps of the chart: those that take something off, the one that takes most first."""
    return sorted((one for one in levers if one.takes_off.value > 0.0), key=lambda one: -one.takes_off.value)[:MOST]


def levers_chart(levers: Sequence[Relief], printer: Printer, width: float = WIDTH) -> str:
    """Return what each step would take off the footprint of a good part, with 95 % intervals. [g CO2e]

    Nothing where no step helps. Figures stand at the right; zero is always on the axis. Below the width of paper [in] the
    names of the steps stand over their bars.
    """
    shown = helpful(levers)
    if not shown:
        return ""
    names = [shortened(translate(printer.language, one.step), STEP_LETTERS) for one in shown]
    values = [printer.figure(one.takes_off.value, "per part", unit=False) for one in shown]
    phone = width < WIDTH
    row, bottom, left = (TALL, BENEATH, 0.1) if phone else (ROW, BOTTOM, widest(names) + 0.15)
    height = TOP + row * len(shown) + bottom
    drawn, axes = panel(height, left=left, right=widest(values) + 0.25, top=TOP, bottom=bottom, width=width)
    axes.set_ylim(len(shown) - (0.6 if phone else 0.5), -0.6 if phone else -0.5)
    ends = [
        0.0,
        *(1000.0 * end for one in shown for end in (one.takes_off.low, one.takes_off.value, one.takes_off.high)),
    ]
    room = 0.02 * (max(ends) - min(ends))
    axes.set_xlim(min(ends) - room if min(ends) < 0.0 else 0.0, max(ends) + room)
    for place, (one, text) in enumerate(zip(shown, values, strict=True)):
        spot = place + (0.2 if phone else 0.0)
        axes.barh(spot, 1000.0 * one.takes_off.value, height=0.32 if phone else 0.62, color=MOULDED)
        whisker(axes, 1000.0 * one.takes_off.low, 1000.0 * one.takes_off.high, spot)
        column(axes, spot, text)
        if phone:
            above(axes, spot, names[place], lift=7.0)
    plain_rows(axes, [] if phone else list(range(len(shown))), [] if phone else names)
    space_numbers(printer, axes.xaxis, width * axes.get_position().width)
    unit = translate(printer.language, "g CO₂e that the step takes off a good part; line: 95 % interval")
    if phone:
        under(axes, unit)
    else:
        axes.set_xlabel(unit)
    return svg(drawn)


def title_of_levers(part: str, levers: Sequence[Relief], tie: Ties) -> str | Markup:
    """Return which step would take most off the footprint of a part, in one sentence; nothing where none helps."""
    from markupsafe import Markup

    shown = helpful(levers)
    if not shown:
        return ""
    figures = {
        "off": tie(f"breakeven.{part}.levers.{shown[0].lever}.takes_off_kgco2e.value"),
        "all": tie(f"parts.{part}.footprint_kgco2e.value"),
    }
    language = tie.printer.language
    return Markup(translate(language, TAKES_MOST)) % {
        "part": part,
        "step": translate(language, shown[0].step),
        **figures,
    }


def levers_alternative(part: str, levers: Sequence[Relief], printer: Printer) -> str:
    """Return what the chart shows, in words: what each step takes off, with its interval."""
    shown = helpful(levers)
    if not shown:
        return ""
    steps = [f"{translate(printer.language, one.step)} {printer.whole(one.takes_off, 'per part')}" for one in shown]
    said = translate(
        printer.language, "What each step would take off a good part of %(part)s, with 95 %% intervals: %(steps)s."
    )
    return said % {"part": part, "steps": "; ".join(steps)}
