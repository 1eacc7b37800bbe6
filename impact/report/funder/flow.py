"""The flow diagram: from collected paper to parts, losses and where parts go in the end; its data is `massflow`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from impact.account.paper import ROUNDING
from impact.base.language import message, translate
from impact.base.printing import Printer
from impact.report.drawing import (
    AGAIN,
    COMPOSTING,
    HATCH,
    INCINERATION,
    INK,
    KEPT,
    LANDFILL,
    PAPER,
    POINT,
    RECYCLING,
    RULE,
    SMALL,
    SOFT,
    TEXT,
    UNFOUND,
    WIDTH,
    apart,
    panel,
    text_width,
    widest,
)  # fmt: skip
from impact.report.vector import svg

if TYPE_CHECKING:
    from markupsafe import Markup
    from matplotlib.axes import Axes

    from impact.report.ties import Ties

Flow = Mapping[str, Mapping[str, float]]

COMING = {
    "landfill_kg": (message("landfill"), LANDFILL),
    "incineration_kg": (message("incineration"), INCINERATION),
    "recycling_kg": (message("recycling"), RECYCLING),
    "composting_kg": (message("composting"), COMPOSTING),
    "earlier_rejects_kg": (message("rejects of before"), AGAIN),
    "beyond_weighed_kg": (message("more found than weighed in"), UNFOUND),
}
GOING = {
    "good_parts_kg": (message("in good parts"), KEPT),
    "landfill_kg": (message("rejects and trim to landfill"), LANDFILL),
    "incineration_kg": (message("rejects and trim to incineration"), INCINERATION),
    "recycling_kg": (message("rejects and trim to recycling"), RECYCLING),
    "composting_kg": (message("rejects and trim to composting"), COMPOSTING),
    "waiting_kg": (message("waiting to be pulped again"), AGAIN),
    "unaccounted_kg": (message("not found again: fines, scales"), UNFOUND),
}
LATER = {
    "landfill_kg": (message("landfill"), LANDFILL),
    "incineration_kg": (message("incineration"), INCINERATION),
    "recycling_kg": (message("recycling"), RECYCLING),
    "composting_kg": (message("composting"), COMPOSTING),
}
ROWS = {"in": COMING, "out": GOING, "later": LATER}
"""Name and colour of each flow, from the top down; a fate has the same tone wherever it stands."""

HATCHED = ("beyond_weighed_kg", "unaccounted_kg")
"""Flows that no scale has shown."""

ALL_ANYWAY = message("All of the paper would have been recycled anyway (%(all)s)")
ALL = message("All of the paper would have gone to %(fate)s (%(all)s)")
MOST_ANYWAY = message("Most of the paper would have been recycled anyway (%(part)s of %(all)s)")
MOST = message("Most of the paper would have gone to %(fate)s (%(part)s of %(all)s)")
LARGEST = message("More of the paper would have gone to %(fate)s than anywhere else (%(part)s of %(all)s)")

GOOD = message("Of %(pulped)s pulped, %(good)s is in good parts.")
GOOD_AND_LATER = message("Of %(pulped)s pulped, %(good)s is in good parts, which go in the end to: %(later)s.")
REST = message("The rest: %(out)s.")
BEFORE = message("Where it would have gone, or came from: %(in)s.")

TOWARDS = message("would have gone to")

TALL, LOW = 1.7, 1.15
"""Height of the whole mass, and that of a diagram that shares a page with charts of parts. [in]"""

GAP, PITCH, NODE = 0.1, 0.155, 0.05
"""Room between bands, between labels, and width of a bar at which bands end. [in]"""

CLEAR = 0.06
"""From the foot of what becomes of the parts to the label below it. [in]"""

HEAD = 0.36
"""Room for the headings. [in]"""


@dataclass(frozen=True, slots=True)
class _Piece:
    """One flow on the page: its label, colour, and where it begins and ends, counted downwards. [in]"""

    name: str
    colour: str
    top: float
    height: float
    hatched: bool = False

    @property
    def middle(self) -> float:
        return self.top + self.height / 2.0


def total_kg(flow: Flow) -> float:
    """Return the mass that goes through the workshop. [kg]"""
    return sum(flow["in"].values())


def rows(flow: Flow) -> list[tuple[str, str]]:
    """Return the side and the name of every flow that is not 0, in the order of the diagram."""
    return [(side, name) for side, names in ROWS.items() for name in names if flow[side][name] > 0.0]


def _pieces(flow: Flow, side: str, printer: Printer, tall: float) -> list[_Piece]:
    scale, top = tall / total_kg(flow), HEAD
    pieces = []
    for name, (words, colour) in ROWS[side].items():
        if flow[side][name] <= 0.0:
            continue
        height = flow[side][name] * scale
        label = f"{translate(printer.language, words)} {printer.figure(flow[side][name], 'paper')}"
        pieces.append(_Piece(label, colour, top, height, name in HATCHED))
        top += height + GAP
    return pieces


def flow_chart(flow: Flow, printer: Printer, *, tall: float = TALL) -> str:
    """Return the bands from where the paper would have gone to where it is, their widths in proportion to mass.

    Returns
    -------
    str
        SVG; empty when no paper was taken in.
    """
    if total_kg(flow) <= 0.0:
        return ""
    coming = _pieces(flow, "in", printer, tall)
    going = _pieces(flow, "out", printer, tall)
    later = _pieces(flow, "later", printer, tall)
    left = max(widest([piece.name for piece in coming]) + 0.3, text_width(_said(printer, TOWARDS), SMALL) + 0.2)
    right = WIDTH - widest([piece.name for piece in later]) - 0.35
    shop = left + 0.3 * (right - left)
    labels = _losses(going, later)
    spoken = widest([piece.name for piece, _ in labels]) + NODE + 0.2
    out = max(min(left + 0.62 * (right - left) if later else WIDTH, WIDTH - spoken), shop + 0.5)
    bottom = max(piece.top + piece.height for piece in (*coming, *going, *later))
    height = max(bottom, *(spot for _, spot in labels), HEAD + PITCH * len(coming)) + 0.15
    drawn, axes = panel(height, left=0.0, right=0.0, top=0.0, bottom=0.0)
    axes.set_axis_off()
    axes.set_xlim(0.0, WIDTH)
    axes.set_ylim(height, 0.0)
    _side(axes, coming, left, shop, towards=True)
    _side(axes, going, shop + NODE, out, towards=False)
    _node(axes, shop, HEAD, tall, INK)
    for piece, spot in _spots(coming, HEAD, height - 0.05):
        _label(axes, piece, spot, left - NODE, -1)
    for piece, spot in labels:
        _label(axes, piece, spot, out + NODE, 1)
    for piece, (begin, end) in zip(later, _stacked(later, HEAD), strict=True):
        _band(axes, out + NODE, begin, end, right, piece)
        _node(axes, right, piece.top, piece.height, piece.colour)
    for piece, spot in _spots(later, HEAD, height):
        _label(axes, piece, spot, right + NODE, 1)
    _heading(axes, left - 0.13, _said(printer, TOWARDS), side="right")
    _heading(axes, shop + NODE / 2.0, translate(printer.language, "pulped"), printer.figure(total_kg(flow), "paper"))
    if later:
        name, _ = GOING["good_parts_kg"]  # apart, for some extractors take a key within the call for a message
        good = printer.figure(flow["out"]["good_parts_kg"], "paper")
        _heading(axes, out + NODE / 2.0, translate(printer.language, name), good)
        _heading(axes, right + NODE / 2.0, translate(printer.language, "parts go in the end to"))
    return svg(drawn)


def _losses(going: Sequence[_Piece], later: Sequence[_Piece]) -> list[tuple[_Piece, float]]:
    """Return what leaves the workshop other than as parts with the place of its label, clear of those of the parts."""
    losses = [piece for piece in going if piece.colour != KEPT]
    start = max([HEAD, *(piece.top + piece.height for piece in later)])
    start = max(start + CLEAR, HEAD + PITCH * (len(later) + 0.5)) if later else HEAD
    room = start + PITCH * len(losses) + max((piece.top + piece.height for piece in losses), default=0.0)
    return _spots(losses, start, room)


def _spots(pieces: Sequence[_Piece], low: float, high: float) -> list[tuple[_Piece, float]]:
    """Return pieces with the places of their labels, none over another. [in]"""
    places = apart([piece.middle for piece in pieces], [PITCH] * len(pieces), low, high)
    return list(zip(pieces, places, strict=True))


def _stacked(pieces: Sequence[_Piece], top: float) -> list[tuple[float, float]]:
    """Return top and bottom of pieces set one upon the other, without gaps."""
    ends = []
    for piece in pieces:
        ends.append((top, top + piece.height))
        top += piece.height
    return ends


def _side(axes: Axes, pieces: Sequence[_Piece], start: float, end: float, *, towards: bool) -> None:
    """Draw the bands between pieces and the workshop: towards it, or away from it."""
    for piece, (top, bottom) in zip(pieces, _stacked(pieces, HEAD), strict=True):
        if towards:
            _band(axes, end, top, bottom, start, piece)
        else:
            _band(axes, start, top, bottom, end, piece)
        _node(axes, start - NODE if towards else end, piece.top, piece.height, piece.colour)


def _band(axes: Axes, start: float, top: float, bottom: float, end: float, piece: _Piece) -> None:
    """Draw a band from a stretch of a vertical line to that of a piece."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    middle = (start + end) / 2.0
    low, high = piece.top, piece.top + piece.height
    points = [
        (start, top), (middle, top), (middle, low), (end, low),
        (end, high), (middle, high), (middle, bottom), (start, bottom), (start, top),
    ]  # fmt: skip
    codes = [Path.MOVETO, *[Path.CURVE4] * 3, Path.LINETO, *[Path.CURVE4] * 3, Path.CLOSEPOLY]
    edge = PAPER if piece.height > 3.0 * POINT else piece.colour  # a thin band would be all edge
    hatch = HATCH if piece.hatched else None
    axes.add_patch(PathPatch(Path(points, codes), facecolor=piece.colour, edgecolor=edge, linewidth=0.6, hatch=hatch))


def _node(axes: Axes, left: float, top: float, height: float, colour: str) -> None:
    from matplotlib.patches import Rectangle

    axes.add_patch(Rectangle((left, top), NODE, height, facecolor=colour, edgecolor=colour, linewidth=0.3))


def _label(axes: Axes, piece: _Piece, spot: float, edge: float, side: int) -> None:
    """Write the label of a piece to the left (-1) or right (1) of its end, with a line where it had to move."""
    start = edge + side * 0.13
    axes.plot([edge + side * 0.02, start - side * 0.02], [piece.middle, spot], color=RULE, linewidth=0.6)
    axes.text(start, spot, piece.name, ha="left" if side > 0 else "right", va="center_baseline", fontsize=TEXT)


def _heading(axes: Axes, place: float, words: str, mass: str = "", *, side: str = "center") -> None:
    """Write what a column is, and its mass, above it."""
    axes.text(place, 0.1, words, ha=side, va="center", fontsize=SMALL, color=SOFT)
    axes.text(place, 0.25, mass, ha=side, va="center", fontsize=TEXT)


def title_of_flow(flow: Flow, tie: Ties) -> str | Markup:
    """Return what the flow diagram shows, in one sentence; nothing where no paper was collected."""
    from markupsafe import Markup

    fates = {name: flow["in"][name] for name in LATER}
    total = sum(fates.values())
    if total <= 0.0:
        return ""
    largest = max(fates, key=lambda name: fates[name])
    anyway, whole = largest == "recycling_kg", fates[largest] >= total * (1.0 - ROUNDING)
    if whole:
        said = ALL_ANYWAY if anyway else ALL
    else:
        said = LARGEST if fates[largest] <= total / 2.0 else MOST_ANYWAY if anyway else MOST
    name, _ = COMING[largest]
    figures = {} if whole else {"part": tie(f"flow.in.{largest}")}
    figures["all"] = tie("paper.collected_kg.value", unit=True)
    return Markup(translate(tie.printer.language, said)) % {"fate": translate(tie.printer.language, name), **figures}


def _said(printer: Printer, words: str) -> str:
    return translate(printer.language, words)


def flow_alternative(flow: Flow, printer: Printer) -> str:
    """Return what the flow diagram shows, in words."""
    if total_kg(flow) <= 0.0:
        return ""

    said = partial(translate, printer.language)
    words = {
        side: ", ".join(
            f"{said(names[name][0])} {printer.figure(flow[side][name], 'paper')}"
            for where, name in rows(flow)
            if where == side and name != "good_parts_kg"
        )
        for side, names in ROWS.items()
    }
    masses = {"pulped": total_kg(flow), "good": flow["out"]["good_parts_kg"]}
    figures = {**words, **{name: printer.figure(kg, "paper") for name, kg in masses.items()}}
    parts = GOOD_AND_LATER if words["later"] else GOOD
    sentences = [parts, *([REST] if words["out"] else []), BEFORE]
    return " ".join(said(sentence) % figures for sentence in sentences)
