"""The charts of break-even points: one panel for each variable that has one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from impact.account.sums import part_of
from impact.base.language import message, translate
from impact.base.printing import Printer
from impact.base.quantities import MILES_PER_KM, POUNDS_PER_KG
from impact.report.drawing import (
    INK,
    MOULDED,
    PLASTIC,
    RULE,
    SMALL,
    SOFT,
    TEXT,
    WIDTH,
    apart,
    figure,
    fitting,
    mark_numbers,
    text_width,
    tick_labels,
    widest,
)  # fmt: skip
from impact.report.vector import svg

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from impact.decisions.breakeven import Crossing

VARIABLES = {
    "drying": (message("drying"), message("kWh per good part")),
    "electricity": (message("electricity"), message("kg CO2e per kWh")),
    "pressings": (message("pressings"), message("pressings per mould")),
    "binder-dose": (message("binder dose"), message("dry binder per dry fibre")),
    "service-life": (message("service life"), message("years")),
    "reject-rate": (message("reject rate"), message("share of pressings")),
    "transport": (message("transport"), message("km per batch")),
    "mould-mass": (message("mould mass"), message("kg")),
    "landfill-share": (message("landfill share"), message("of parts in the end")),
    "composting-share": (message("composting share"), message("of parts in the end")),
    "recycling-share": (message("recycling share"), message("of parts in the end")),
}
"""Name and unit of each variable of `impact breakeven`, in words."""

IN_US_UNITS = {
    "transport": (message("miles per batch"), "distance", MILES_PER_KM),
    "mould-mass": (message("lb"), "mass", POUNDS_PER_KG),
}
"""Variables that readers of US customary units have in others: the unit, what is measured, and its size in one of `VARIABLES`."""

COLUMNS, MOST, PANELS = 3, 3, 6
"""Panels beside one another, of one part, and in all."""

TURNS_ON_OF_ONE = message("Whether %(part)s is lower or higher than plastic can turn on: %(variables)s")
TURNS_ON = message("Whether a part is lower or higher than plastic can turn on: %(variables)s")

TALL, ABOVE = 0.5, 0.26
"""Height of a panel [in], and the share of it that is kept free of bands at its top, for a word."""

TOP, BETWEEN, BOTTOM = 0.3, 0.53, 0.33
"""Room above the panels, between their rows, and below them, for titles, numbers and units. [in]"""

TICK, CLEAR = 0.1, 0.08
"""From an axis to its numbers, and from a name to the next panel's numbers or to the edge. [in]"""

MARK, LINE = 0.16, 0.12
"""Length of the piece of a line before its name, and from one name to the other below it. [in]"""


def variable_words(variable: str, printer: Printer) -> tuple[str, str]:
    """Return name and unit of a variable, as a page prints them."""
    name, unit = VARIABLES[variable]
    if printer.us and variable in IN_US_UNITS:
        unit = IN_US_UNITS[variable][0]
    return translate(printer.language, name), translate(printer.language, unit).replace("CO2e", "CO₂e")


def quantity_of(kind: str, variable: str) -> str:
    """Return the quantity of a value of a variable; `kind` is number, crossing or range."""
    if variable in IN_US_UNITS:
        return f"{kind} of {IN_US_UNITS[variable][1]}"
    return {"range": "stated"}.get(kind, kind)


def as_read(crossing: Crossing, printer: Printer) -> Crossing:
    """Return a crossing with its values in the unit of the reader."""
    if not printer.us or crossing.variable not in IN_US_UNITS:
        return crossing
    scale, curve = IN_US_UNITS[crossing.variable][2], crossing.curve
    at = None if crossing.at is None else part_of(crossing.at, scale)
    return replace(crossing, now=crossing.now * scale, at=at, curve=replace(curve, points=curve.points * scale))


Panel = tuple[str, "Crossing"]
"""A part and the variable of its panel."""


def crossings_chart(parts: Sequence[tuple[str, Sequence[Crossing]]], printer: Printer) -> str:
    """Return panels of the variables that cross: both footprints with their bands, today's point, the break-even.

    Emissions in g CO2e. Nothing where none crosses. A panel always holds its break-even.

    Parameters
    ----------
    parts : sequence of tuple
        Name and crossings of each part.
    """
    shown = shown_panels(parts)
    if not shown:
        return ""
    rows = -(-len(shown) // COLUMNS)
    drawn = figure(TOP + rows * TALL + (rows - 1) * BETWEEN + BOTTOM)
    height = drawn.get_figheight()
    space = {"top": 1.0 - TOP / height, "bottom": BOTTOM / height, "hspace": BETWEEN / TALL}
    panels = drawn.subplots(rows, COLUMNS, gridspec_kw=space, squeeze=False)
    ends = [_crossing(axes, crossing, printer) for axes, (_, crossing) in zip(panels.flat, shown, strict=False)]
    for axes in panels.flat[len(shown) :]:
        axes.remove()
    named = MARK + widest([translate(printer.language, name) for name in ("moulded", "plastic")], SMALL)
    _set_apart(drawn, panels, named)
    for axes, lines, title in zip(panels.flat, ends, _titles(shown, panels.flat[0], named, printer), strict=False):
        _name_lines(axes, lines)
        axes.set_title(title, fontsize=TEXT, loc="left", pad=4)
    unit = translate(printer.language, "g CO₂e per good part")
    drawn.text(0.005, 0.995, unit, fontsize=SMALL, color=SOFT, va="top")
    return svg(drawn)


def shown_panels(parts: Sequence[tuple[str, Sequence[Crossing]]]) -> list[Panel]:
    """Return the panels, by part: of each part the variable that crosses in most draws, then the second of each, and so on.

    `MOST` of a part and `PANELS` in all.
    """
    with_dot = [(part, [one for one in crossings if _dot(one) is not None]) for part, crossings in parts]
    surest = {part: sorted(known, key=lambda one: -one.share_crossing)[:MOST] for part, known in with_dot}
    turns = [(part, known[turn]) for turn in range(MOST) for part, known in surest.items() if turn < len(known)]
    taken = turns[:PANELS]
    return [(part, one) for part, known in with_dot for one in known if any(one is two for _, two in taken)]


def parts_left(parts: Sequence[tuple[str, Sequence[Crossing]]]) -> int:
    """Return of how many parts a variable crosses and none has a panel."""
    crossing = {part for part, crossings in parts if any(_dot(one) is not None for one in crossings)}
    return len(crossing - {part for part, _ in shown_panels(parts)})


def title_of_crossings(parts: Sequence[tuple[str, Sequence[Crossing]]], printer: Printer) -> str:
    """Return what the charts of break-even points show, in one sentence; nothing where there is none."""
    shown = shown_panels(parts)
    names = dict.fromkeys(variable_words(crossing.variable, printer)[0] for _, crossing in shown)
    of_one = len({part for part, _ in shown}) == 1
    said = translate(printer.language, TURNS_ON_OF_ONE if of_one else TURNS_ON)
    return said % {"part": printer.name("part", shown[0][0]), "variables": ", ".join(names)} if names else ""


def _dot(crossing: Crossing) -> tuple[float, float] | None:
    """Return the break-even and the moulded footprint there [g CO2e]; None where the curve does not hold it."""
    import numpy as np

    points = crossing.curve.points
    if crossing.at is None or not points[0] <= crossing.at.value <= points[-1]:
        return None
    return crossing.at.value, 1000.0 * float(np.interp(crossing.at.value, points, crossing.curve.moulded[0]))


class _End(NamedTuple):
    """The right end of a line: how high it is [g CO2e], its name, colour and style."""

    height: float
    name: str
    colour: str
    style: str


def _titles(shown: Sequence[Panel], panel: Axes, named: float, printer: Printer) -> list[str]:
    """Return part and variable of each panel, the parts shortened until all have room above a panel and its names. [in]"""
    variables = [f": {variable_words(crossing.variable, printer)[0]}" for _, crossing in shown]
    room = WIDTH * panel.get_position().width + named - widest(variables)
    names = fitting([printer.name("part", part) for part, _ in shown], room)
    return [name + variable for name, variable in zip(names, variables, strict=True)]


def _crossing(axes: Axes, crossing: Crossing, printer: Printer) -> list[_End]:
    """Draw a panel; return where its lines end."""
    crossing = as_read(crossing, printer)
    curve = crossing.curve
    ends = []
    for name, band, colour, style in (
        (translate(printer.language, "moulded"), curve.moulded, MOULDED, "-"),
        (translate(printer.language, "plastic"), curve.plastic, PLASTIC, "--"),
    ):
        centre, low, high = 1000.0 * band
        axes.fill_between(curve.points, low, high, color=colour, alpha=0.18, linewidth=0)
        axes.plot(curve.points, centre, style, color=colour, linewidth=1.4)
        ends.append(_End(float(centre[-1]), name, colour, style))
    bottom, top = axes.get_ylim()
    bottom = min(0.0, bottom)
    axes.set_ylim(bottom, bottom + (top - bottom) / (1.0 - ABOVE))
    axes.set_xlim(curve.points[0], curve.points[-1])
    axes.axvline(crossing.now, color=RULE, linewidth=0.8, linestyle=":")
    near_end = crossing.now > (curve.points[0] + 3.0 * curve.points[-1]) / 4.0
    axes.annotate(
        translate(printer.language, "now"), (crossing.now, 0.99), xycoords=("data", "axes fraction"), fontsize=SMALL, va="top",
        ha="right" if near_end else "left", xytext=(-2 if near_end else 2, 0), textcoords="offset points",
    )  # fmt: skip
    if (dot := _dot(crossing)) is not None:
        axes.plot(*dot, "o", color=INK, markersize=4)
    axes.set_xlabel(variable_words(crossing.variable, printer)[1], labelpad=1)
    axes.locator_params(axis="x", nbins=4)
    axes.locator_params(axis="y", nbins=4)
    mark_numbers(printer, axes.xaxis, axes.yaxis)
    return sorted(ends)


def _set_apart(drawn: Figure, panels: Any, named: float) -> None:
    """Leave room between panels for the names of the lines at the left and the widest number at the right. [in]"""
    drawn_in = [axes for axes in panels.flat if axes.figure is not None]
    numbers = max(text_width(label, SMALL) for axes in drawn_in for label in tick_labels(axes.yaxis))
    left, right = numbers + TICK, named + CLEAR
    panel = (WIDTH - 3.0 * (left + right + CLEAR)) / 3.0
    drawn.subplots_adjust(left=(left + CLEAR) / WIDTH, right=1.0 - right / WIDTH, wspace=(left + right + CLEAR) / panel)


def _name_lines(axes: Axes, ends: Sequence[_End]) -> None:
    """Write the names of two lines at their right ends, one above the other, each behind a piece of its line."""
    low, high = axes.get_ylim()
    size = LINE * (high - low) / TALL
    inch = 1.0 / (WIDTH * axes.get_position().width)
    for end, spot in zip(ends, apart([end.height for end in ends], [size, size], low, high), strict=True):
        piece, across = [1.0 + 0.03 * inch, 1.0 + (MARK - 0.02) * inch], axes.get_yaxis_transform()
        axes.plot(piece, [spot, spot], end.style, color=end.colour, linewidth=1.4, transform=across, clip_on=False)
        axes.text(1.0 + MARK * inch, spot, end.name, transform=across, fontsize=SMALL, va="center")
