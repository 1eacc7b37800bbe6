"""The factors section: the rows that move the figures, by topic, each by its plain name; the rest counted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

from impact.base.language import message, translate
from impact.base.scales import scaled
from impact.decisions.unseen import largest_moves
from impact.factors.keys import pattern_of
from impact.factors.rownames import TOPICS, plain_name, topic_of
from impact.factors.rows import MEMORY, PRACTICE

if TYPE_CHECKING:
    from markupsafe import Markup

    from impact.base.catalogue import Names
    from impact.factors.rows import Factor
    from impact.report.ties import Ties
    from impact.study import Study

TITLES = {
    "fates": message("Where paper, parts and plastic go"),
    "paper": message("Paper"),
    "recycling": message("Recycling"),
    "landfill": message("Landfill"),
    "incineration": message("Incineration"),
    "composting": message("Composting"),
    "electricity": message("Electricity and heat"),
    "binders": message("Binders"),
    "making": message("Making, moulds and water"),
    "plastics": message("Plastics"),
    "transport": message("Transport"),
    "warming": message("Warming potentials"),
    "other": message("How sure amounts are, and the rest"),
}
"""Title of each of the `TOPICS`."""

KNOWN = {
    "seen": message("seen"),
    "secondary copy": message("secondary copy"),
    "computed": message("computed"),
    "common practice": message("common practice"),
    "from memory": message("from memory"),
    "own value": message("own value"),
}
"""How a value is known."""

LEAST, LEAST_UNSEEN = 0.01, 0.001
"""Least move, of a figure's size, for which a row is printed, and for which one from memory or of common practice is. Ours."""


class Row(NamedTuple):
    """A factor as the table prints it.

    Attributes
    ----------
    name : str
        Its plain name.
    value : Markup
        Value with unit and interval, tied.
    place : str
        Place and edition.
    known : str
        How it is known.
    source : int
        Number of its source.
    """

    name: str
    value: Markup
    place: str
    known: str
    source: int


def quantity(row: Factor, name: str, tie: Ties, *, value: str = "value", interval: bool = True) -> Markup:
    """Return the value of a row at a size for a reader, with its unit and interval: "90 % (82 to 97)".

    Parameters
    ----------
    row : Factor
        A row.
    name : str
        Name of the figures of the row; `value` is that of its value among them.
    tie : Ties
        Ties them.
    interval : bool
        Whether the ends are printed, where there are two.
    """
    from markupsafe import Markup

    pattern, printer = pattern_of(row.key), tie.printer
    share = pattern is not None and pattern.share
    found = scaled(row.value, row.low, row.high, row.unit, share=share, language=printer.language)

    middle, low, high = (printer.figure(number, "number") for number in (found.value, found.low, found.high))
    held, text = [f"{name}.{value}"], f"{middle}\u00a0{found.unit}" if found.unit else middle
    if interval and found.low != found.high:
        held += [f"{name}.low", f"{name}.high"]
        to = translate(printer.language, "to")
        text += f" ({low} {to} {high})"
    return Markup('<span id="{}">{}</span>').format(tie.mark(*held), text)


def place_of(row: Factor, names: Names, language: str) -> str:
    """Return the place that a row holds for and its edition, in words."""
    place = names.place(row.geography, language)
    return ", ".join(filter(None, (place[:1].upper() + place[1:], row.edition)))


def printed(results: Study) -> list[Factor]:
    """Return the rows that the table prints: those that move a figure, and the spreads of recorded amounts.

    A row moves a figure where `impact.decisions.unseen.largest_moves` says that an end of its interval changes making all parts,
    the disposal avoided, the recycling lost or the plastic beside the parts by `LEAST` or `LEAST_UNSEEN`. Own values of the
    workshop are always printed.
    """
    moves = largest_moves(results)
    return [row for row in (choice.factor for choice in results.factors_used.values()) if _matters(row, moves)]


def _matters(row: Factor, moves: Mapping[str, float]) -> bool:
    least = LEAST_UNSEEN if row.evidence in (MEMORY, PRACTICE) else LEAST
    return row.is_own or (row.key.startswith("evidence.") and row.low < row.high) or moves.get(row.id, 0.0) >= least


def others(results: Study, language: str) -> list[tuple[str, int]]:
    """Return the titles of topics, each with how many rows of it are used and not printed."""
    shown = {row.id for row in printed(results)}
    found = [topic_of(choice.factor) for choice in results.factors_used.values() if choice.factor.id not in shown]
    return [(translate(language, TITLES[topic]), found.count(topic)) for topic in TOPICS if topic in found]


def by_topic(results: Study, sources: list[str], tie: Ties) -> Mapping[str, list[Row]]:
    """Return the rows of the table under the titles of their topics, by name."""
    language, names = tie.printer.language, results.names
    found: dict[str, list[Row]] = {}
    rows = {row.id: (plain_name(row, language, names), row) for row in printed(results)}
    for topic in TOPICS:
        of_topic = sorted((name, row.id) for name, row in rows.values() if topic_of(row) == topic)
        if of_topic:
            found[translate(language, TITLES[topic])] = [
                Row(
                    name,
                    quantity(rows[row_id][1], f"factors.{row_id}", tie),
                    place_of(rows[row_id][1], names, language),
                    translate(language, KNOWN.get(rows[row_id][1].evidence, rows[row_id][1].evidence)),
                    sources.index(rows[row_id][1].source) + 1,
                )
                for name, row_id in of_topic
            ]
    return found
