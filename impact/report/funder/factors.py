"""The factors section: the rows that the printed figures rest on, by topic, each by its plain name."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, NamedTuple

from impact.account.inventory import SPLIT, central_contributions
from impact.base.catalogue import tag
from impact.base.language import message, translate
from impact.base.scales import scaled
from impact.core.node import first
from impact.factors.keys import pattern_of
from impact.factors.rownames import TOPICS, plain_name, topic_of
from impact.factors.values import FATES

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

GREENS = ("compost.carbon-nitrogen.", "compost.nitrogen.", "compost.moisture.")
"""Keys of what goes on a compost heap."""

BY_ROUTE = {
    "incineration": ("incineration.", "handling.incineration"),
    "composting": ("composting.", "handling.composting"),
}
"""Keys that figures rest on only where something goes that way."""

BLANKS = {
    "estimate.trim": "trim_kg", "estimate.reject-rate": "rejects", "estimate.water": "water_l", "estimate.transport": "transport_km",
    "estimate.shredding": "shredding_kwh", "estimate.blending": "blending_kwh", "estimate.pressing": "pressing_kwh", "paper.moisture.": "moisture", "binder.preparation.": "",
}  # fmt: skip
"""Keys that stand in where nothing was recorded, with the column whose blanks they fill, if they are counted."""


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

    def told(end: str, number: float) -> Markup:
        return Markup('<span id="{}">{}</span>').format(tie.mark(f"{name}.{end}"), printer.digits(number, 3))

    unit = f"\u00a0{found.unit}" if found.unit else ""
    text = told(value, found.value) + unit
    if not interval or found.low == found.high:
        return text
    to = translate(printer.language, "to")
    return text + Markup(" ({} {} {})").format(told("low", found.low), to, told("high", found.high))


def place_of(row: Factor, names: Names, language: str) -> str:
    """Return the place that a row holds for and its edition, in words."""
    place = names.place(row.geography, language)
    return ", ".join(filter(None, (place[:1].upper() + place[1:], row.edition)))


def _routes(results: Study) -> set[str]:
    """Return the routes that paper, rejects, parts or plastic parts take, by central shares above 0."""
    impacts = results.impacts
    shares = [impacts.end_of_life_shares]
    split = (grade for grade, is_open in results.counted.tally.open_fates.items() if is_open)
    shares += [impacts.counterfactual_shares(grade, SPLIT) for grade in split]
    taken = {fate for of in shares for fate, share in zip(FATES, of, strict=True) if first(share) > 0.0}
    for choice in results.factors_used.values():
        _, *rest = choice.factor.key.split(".")
        if choice.factor.key.startswith("fate.") and choice.factor.value > 0.0:
            taken.add(rest[-1])
    taken.update(line.item.rpartition("|")[2] for line in results.inventory.lines)
    left = any(
        choice.factor.key == "residual.landfill" and choice.factor.value < 1.0
        for choice in results.factors_used.values()
    )
    return taken | ({"incineration"} if left else set())


def _only_without_amount(results: Study) -> set[str]:
    """Return the ids of rows that lines of the account ask for, none of which adds anything."""
    adding: set[str] = set()
    asked: set[str] = set()
    for matrix in (results.stage_matrix, results.diverted_matrix, results.lost_matrix):
        for ids, amount in zip(matrix.factors, central_contributions(results.inventory, matrix), strict=True):
            asked.update(ids)
            if amount:
                adding.update(ids)
    return asked - adding


def printed(results: Study) -> Iterator[Factor]:
    """Yield the rows that a figure on some page rests on.

    The account notes the rows behind each of its lines; other figures (plastic parts, compost blends, ways of counting)
    note only that they asked for a row. So a row is left out where it is known to bear on nothing that is printed: a green
    whose blend no page shows, a share that is fixed at nothing, a treatment that nothing is sent to, an estimate for
    blanks where there are none, and an estimate of which every line adds nothing.
    """
    greens = {name for name, tags in results.names.green_tags.items() if tag(tags, "printed") != "yes"}
    routes, blank, idle = _routes(results), results.counted.tally.blank, _only_without_amount(results)
    unused = tuple(key for route, keys in BY_ROUTE.items() if route not in routes for key in keys)
    unused += tuple(key for key, column in BLANKS.items() if not blank.get(column, 1))
    for choice in results.factors_used.values():
        row = choice.factor
        nothing = row.value == row.low == row.high == 0.0
        if row.key.startswith(GREENS) and row.key.rpartition(".")[2] in greens:
            continue
        if row.key.startswith(unused) or (nothing and row.key.startswith("fate.")):
            continue
        if nothing and row.id in idle and row.key.startswith(tuple(BLANKS)):
            continue
        yield row


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
