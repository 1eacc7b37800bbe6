"""The chart of what would lower the footprint of the parts most: a bar for each step, a panel for each part."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from impact.base.language import message, translate
from impact.base.printing import Printer
from impact.report.drawing import (
    INK,
    MOULDED,
    RULE,
    SMALL,
    SOFT,
    TEXT,
    WIDTH,
    figure,
    fitting,
    shortened,
    space_numbers,
    whisker,
    widest,
)
from impact.report.vector import svg

if TYPE_CHECKING:
    from markupsafe import Markup
    from matplotlib.axes import Axes

    from impact.decisions.levers import Relief
    from impact.report.funder.decisions import Decision
    from impact.report.ties import Ties

MOST = 6
"""Steps shown."""

ROW, TOP, BOTTOM, FOOT = 0.21, 0.22, 0.2, 0.2
"""Height of a step, room for the names above and the numbers below each row of panels, and for the unit under all. [in]"""

LEAST, GAP = 0.5, 0.14
"""Least width of the bars of a panel, and room between panels. [in]"""

STEP_LETTERS = 40

ONE_PART = message("%(part)s: %(step)s would take off most (%(off)s of %(all)s g CO₂e)")
EVERY_PART = message("%(step)s would take most off every part")
SOME_PARTS = message("%(step)s would take most off %(n)s of %(all)s parts")


def helpful(decisions: Sequence[Decision]) -> list[Relief]:
    """Return the steps of the chart, each as of one part: those that help, the one that takes most off all good parts first."""
    found: dict[str, tuple[float, Relief]] = {}
    for decision in decisions:
        for one in decision.levers:
            if one.takes_off.value > 0.0:
                sum_before = found.get(one.lever, (0.0, one))[0]
                found[one.lever] = sum_before + decision.good * one.takes_off.value, one
    return [one for _, one in sorted(found.values(), key=lambda pair: (-pair[0], pair[1].lever))][:MOST]


def _of(decision: Decision, steps: Sequence[Relief]) -> list[Relief | None]:
    """Return what each of the steps takes off a part; None where it takes nothing off."""
    known = {one.lever: one for one in decision.levers if one.takes_off.value > 0.0}
    return [known.get(step.lever) for step in steps]


def _helped(decisions: Sequence[Decision]) -> list[tuple[Decision, list[Relief | None]]]:
    """Return the parts that a step of the chart helps, and what the steps take off."""
    steps = helpful(decisions)
    return [(decision, reliefs) for decision in decisions if any(reliefs := _of(decision, steps))]


def levers_chart(decisions: Sequence[Decision], printer: Printer) -> str:
    """Return what each step would take off a good part of each kind, with 95 % intervals. [g CO2e]

    The steps are named once at the left, and each part has a panel with a scale of its own, as many side by side as have
    room. Nothing where no step helps. Figures stand at the right of each panel; zero is always on its axis.
    """
    steps, parts = helpful(decisions), _helped(decisions)
    if not parts:
        return ""
    names = [shortened(translate(printer.language, one.step), STEP_LETTERS) for one in steps]
    left = widest(names) + 0.15
    values = [[_value(one, printer) for one in reliefs] for _, reliefs in parts]
    right = max(widest(texts) for texts in values) + 0.1
    least = max(LEAST, 3.0 * right - LEAST)  # long numbers need room along the axis too
    beside = min(max(int((WIDTH - left - 0.05 + GAP) / (least + right + GAP)), 1), len(parts))
    lines = -(-len(parts) // beside)
    tall = TOP + ROW * len(steps) + BOTTOM
    height, wide = lines * tall + FOOT, (WIDTH - left - 0.05 + GAP) / beside
    drawn = figure(height)
    titles = fitting([printer.name("part", decision.part) for decision, _ in parts], wide - GAP)
    for place, ((_, reliefs), texts, title) in enumerate(zip(parts, values, titles, strict=True)):
        line, across = divmod(place, beside)
        foot = height - (line + 1) * tall + BOTTOM
        start, room = left + across * wide, wide - GAP - right
        axes = drawn.add_axes((start / WIDTH, foot / height, room / WIDTH, ROW * len(steps) / height))
        _draw_panel(axes, reliefs, texts, room + right, printer)
        axes.set_yticks(range(len(steps)), names if across == 0 else [""] * len(steps), fontsize=TEXT)
        space_numbers(printer, axes.xaxis, room)
        above = (foot + ROW * len(steps) + 0.04) / height
        drawn.text(start / WIDTH, above, title, fontsize=TEXT, color=INK, va="bottom")
    unit = translate(
        printer.language,
        "g CO₂e that the step takes off a good part, each part at its own scale; line: 95 % interval; no bar: nothing",
    )
    drawn.text(1.0 - 0.05 / WIDTH, 0.04 / height, unit, fontsize=SMALL, color=SOFT, ha="right", va="bottom")
    return svg(drawn)


def _value(one: Relief | None, printer: Printer) -> str:
    return "" if one is None else printer.figure(one.takes_off.value, "per part", unit=False, of=one.takes_off)


def _draw_panel(
    axes: Axes, reliefs: Sequence[Relief | None], texts: Sequence[str], room: float, printer: Printer
) -> None:
    """Draw the bars of a part with their intervals, and write their values at its right edge. [in]"""
    known = [(place, one) for place, one in enumerate(reliefs) if one is not None]
    ends = [0.0, *(1000.0 * end for _, one in known for end in _ends(one))]
    slack = 0.03 * (max(ends) - min(ends))
    axes.set_ylim(len(reliefs) - 0.5, -0.5)
    axes.set_xlim(min(ends) - slack if min(ends) < 0.0 else 0.0, max(ends) + slack)
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.axvline(0.0, color=RULE, linewidth=0.8, zorder=0.5)
    for place, one in known:
        axes.barh(place, 1000.0 * one.takes_off.value, height=0.6, color=MOULDED)
        whisker(axes, 1000.0 * one.takes_off.low, 1000.0 * one.takes_off.high, place)
    across = room / (WIDTH * axes.get_position().width)
    for place, text in enumerate(texts):
        axes.text(across, place, text, transform=axes.get_yaxis_transform(), ha="right", va="center", fontsize=TEXT)


def _ends(one: Relief) -> tuple[float, float, float]:
    return one.takes_off.low, one.takes_off.value, one.takes_off.high


def title_of_levers(decisions: Sequence[Decision], tie: Ties) -> str | Markup:
    """Return which step would take most off the footprint of the parts, in one sentence; nothing where none helps."""
    from markupsafe import Markup

    steps, parts, language = helpful(decisions), _helped(decisions), tie.printer.language
    if not parts:
        return ""
    largest = [max(filter(None, reliefs), key=lambda one: one.takes_off.value) for _, reliefs in parts]
    if len(parts) == 1:
        part = parts[0][0].part
        figures = {
            "off": tie(f"breakeven.{part}.levers.{largest[0].lever}.takes_off_kgco2e.value"),
            "all": tie(f"parts.{part}.footprint_kgco2e.value"),
        }
        step = translate(language, largest[0].step)
        return Markup(translate(language, ONE_PART)) % {
            "part": tie.printer.name("part", part),
            "step": step,
            **figures,
        }
    firsts = [one.lever for one in largest]
    first = max(steps, key=lambda step: firsts.count(step.lever))
    alike, step = firsts.count(first.lever), translate(language, first.step)
    said = EVERY_PART if alike == len(parts) else SOME_PARTS
    return translate(language, said) % {"step": step[:1].upper() + step[1:], "n": alike, "all": len(parts)}


def levers_alternative(decisions: Sequence[Decision], printer: Printer) -> str:
    """Return what the chart shows, in words: what each step takes off each part, with its interval."""
    parts = _helped(decisions)
    if not parts:
        return ""
    said = []
    for decision, reliefs in parts:
        steps = [
            f"{translate(printer.language, one.step)} {printer.whole(one.takes_off, 'per part')}"
            for one in reliefs
            if one is not None
        ]
        said.append(f"{printer.name('part', decision.part)}: {'; '.join(steps)}")
    text = translate(printer.language, "What each step would take off a good part, with 95 %% intervals. %(parts)s.")
    return text % {"parts": ". ".join(said)}
