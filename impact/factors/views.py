"""Factor rows to look at: chosen by filters, or one with its source, its use and the other rows of its key."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from impact.base.printing import STEP
from impact.base.problems import near_names
from impact.base.serial import document, inlined, named, shows
from impact.base.texttable import aligned
from impact.factors.factorset import FactorSet, Source
from impact.factors.keys import key_of, pattern_of
from impact.factors.rows import EVIDENCE_WORDS, Factor

WIDTH = 100
LABEL = 14


def selected(
    factors: Iterable[Factor],
    *,
    kind: str | None = None,
    region: str | None = None,
    evidence: str | None = None,
    text: str | None = None,
) -> list[Factor]:
    """Return the rows that pass every filter given, in the order of their ids.

    Parameters
    ----------
    factors : iterable of Factor
        Rows to choose from.
    kind, region, evidence : str, optional
        Table, geography and evidence word, as they stand in the rows; case does not matter.
    text : str, optional
        Words that all stand in the id, the description, the notes or the source.
    """
    words = (text or "").casefold().split()

    def passes(factor: Factor) -> bool:
        wanted = ((kind, factor.kind), (region, factor.geography), (evidence, factor.evidence))
        if any(want is not None and want.casefold() != found.casefold() for want, found in wanted):
            return False
        prose = " ".join((factor.id, factor.what, factor.notes, factor.source)).casefold()
        return all(word in prose for word in words)

    return sorted((factor for factor in factors if passes(factor)), key=lambda factor: factor.id)


def count_table(factors: Sequence[Factor]) -> str:
    """Return how many rows are known in which way as a text table: each kind by evidence word, then all together."""
    found = Counter((kind, factor.evidence) for factor in factors for kind in (factor.kind, "together"))
    rows: list[tuple[str, ...]] = [("rows by evidence", *EVIDENCE_WORDS)]
    for kind in (*sorted({factor.kind for factor in factors}), "together"):
        rows.append((kind, *(str(found[kind, word]) for word in EVIDENCE_WORDS)))
    return "\n".join(f"{kind:<16}" + "".join(f"{number:>17}" for number in numbers) for kind, *numbers in rows)


def near_ids(wanted: str, factors: Iterable[Factor], *, most: int = 5) -> list[str]:
    """Return the ids most like `wanted`: those of a bare key that it names, then those spelt alike."""
    names = [factor.id for factor in factors]
    same = sorted(name for name in names if key_of(name).casefold() == wanted.strip().casefold())
    return list(dict.fromkeys((*same, *near_names(wanted, names, most=most))))[:most]


@shows()
@dataclass(frozen=True, slots=True)
class Cited:
    """The source of a row: publication, licence and page are null where only a workshop's own table names it.

    Attributes
    ----------
    source : str
        Its id.
    citation, licence, page : str or None
        Publication, terms of use, where to read it.
    """

    source: str
    citation: str | None
    licence: str | None
    page: str | None


@document(
    "impact-factor/1",
    "One factor row",
    "What `impact factors show --json` prints.",
    inlined("factor"), named("locator", "factor.locator"), named("boundary", "factor.boundary"),
    named("derived", "factor.derived", blank=True), named("notes", "factor.notes", blank=True),
    named("source", "cited"), "meaning", "used", "others", "shipped",
)  # fmt: skip
@dataclass(frozen=True, slots=True)
class Card:
    """One factor row with everything that helps to judge it.

    Attributes
    ----------
    factor : Factor
        The row.
    source : Source or None
        Its publication; None for a source that only the workshop's own table names.
    meaning, used : str
        What the number is and where the calculation uses it.
    others : tuple of Factor
        Other editions and geographies of the same key.
    shipped : Factor or None
        The shipped row that an own row replaces.
    """

    factor: Factor
    source: Source | None
    meaning: str
    used: str
    others: tuple[Factor, ...]
    shipped: Factor | None

    @property
    def cited(self) -> Cited:
        """Its publication; null where only a workshop's own table names it."""
        source = self.source
        if source is None:
            return Cited(self.factor.source, None, None, None)
        return Cited(self.factor.source, source.citation, source.licence or None, source.page or None)


@document(
    "impact-factors/1", "Factor rows", "What `impact factors list --json` prints: the rows that pass the filters."
)
@dataclass(frozen=True, slots=True)
class Rows:
    """Some factor rows."""

    factors: Sequence[Factor]


def card(factors: FactorSet, factor_id: str) -> Card | None:
    """Return the card of a factor id, or None when no row has it."""
    rows = factors.by_key.get(key_of(factor_id), ())
    factor = next((row for row in rows if row.id == factor_id), None)
    pattern = pattern_of(key_of(factor_id))
    if factor is None or pattern is None:
        return None
    others = tuple(sorted((row for row in rows if row is not factor), key=lambda row: row.id))
    source = factors.sources.get(factor.source)
    return Card(factor, source, pattern.meaning, pattern.used, others, factors.shipped.get(factor_id))


def amount(value: float, unit: str) -> str:
    """Return a value with its unit; a share [1] has none."""
    return STEP(value) + ("" if unit == "1" else f" {unit}")


def table(factors: Sequence[Factor]) -> str:
    """Return rows as a text table: id, value, place, evidence, what it is."""
    rows = [(row.id, amount(row.value, row.unit), row.geography, row.evidence, row.what) for row in factors]
    return "\n".join(aligned([("id", "value", "place", "evidence", "what it is"), *rows]))


def _line(label: str, text: str) -> str:
    indent = " " * LABEL
    return textwrap.fill(
        text, WIDTH, initial_indent=label.ljust(LABEL), subsequent_indent=indent, break_long_words=False,
        break_on_hyphens=False,
    )  # fmt: skip


def _value_lines(factor: Factor) -> list[tuple[str, str]]:
    if factor.low == factor.high:
        spread = "none; the value is taken as fixed"
    else:
        ends = f"{STEP(factor.low)} to {amount(factor.high, factor.unit)}"
        held = "held fixed in the draws" if factor.distribution == "fixed" else factor.distribution
        spread = f"{ends} (95 %), {held}"
    return [
        ("value", f"{amount(factor.value, factor.unit)}, in the unit of the calculation"),
        ("published", f"{factor.published} {factor.published_unit}".removesuffix(" 1")),
        ("interval", spread),
    ]


def as_text(shown: Card) -> str:
    """Return a card as text for a terminal."""
    factor, source = shown.factor, shown.source
    place = ", ".join(filter(None, (factor.geography, factor.edition and f"edition {factor.edition}", factor.year)))
    lines: list[tuple[str, str]] = [
        ("meaning", shown.meaning),
        ("used in", shown.used),
        *_value_lines(factor),
        ("place, year", place),
        ("boundary", factor.boundary),
        ("GWP set", factor.gwp),
        ("evidence", factor.evidence),
        ("arithmetic", factor.derived),
        ("source", source.citation if source else f"{factor.source} (the workshop's own source)"),
        ("locator", factor.locator),
        ("licence", source.licence if source else ""),
        ("page", source.page if source else ""),
        ("notes", factor.notes),
        ("stands in", f"{factor.file}, row {factor.row}"),
    ]
    if shown.shipped is not None:
        shipped = shown.shipped
        place = f"{shipped.evidence}, {shipped.file}, row {shipped.row}"
        lines.append(("shipped", f"{amount(shipped.value, shipped.unit)} ({place}), replaced by the value above"))
    text = [factor.id, factor.what, "", *(_line(label, value) for label, value in lines if value)]
    if shown.others:
        text += ["", "Other rows of the same key:", *("  " + line for line in table(shown.others).splitlines())]
    return "\n".join(line.rstrip() for line in text)
