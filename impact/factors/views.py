"""Factor rows to look at: chosen by filters, or one with its source, its use and the other rows of its key."""

from __future__ import annotations

import difflib
import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

from impact.base.texttable import aligned
from impact.factors.factorset import FactorSet, Source
from impact.factors.keys import key_of, pattern_of
from impact.factors.rows import EVIDENCE_WORDS, Factor

WIDTH = 100
LABEL = 14


def kind_of(factor: Factor) -> str:
    """Return the kind of a row: the name of its table without the ending."""
    return PurePath(factor.file).stem


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
        wanted = ((kind, kind_of(factor)), (region, factor.geography), (evidence, factor.evidence))
        if any(want is not None and want.casefold() != found.casefold() for want, found in wanted):
            return False
        prose = " ".join((factor.id, factor.what, factor.notes, factor.source)).casefold()
        return all(word in prose for word in words)

    return sorted((factor for factor in factors if passes(factor)), key=lambda factor: factor.id)


def counts(factors: Sequence[Factor]) -> list[tuple[str, dict[str, int]]]:
    """Return how many rows are known in which way: for each kind by evidence word, then of all together."""
    found = Counter((kind, factor.evidence) for factor in factors for kind in (kind_of(factor), "together"))
    kinds = [*sorted({kind_of(factor) for factor in factors}), "together"]
    return [(kind, {word: found[kind, word] for word in EVIDENCE_WORDS}) for kind in kinds]


def count_table(factors: Sequence[Factor]) -> str:
    """Return the numbers of rows by kind and evidence word as a text table."""
    lines = [f"{'rows by evidence':<16}" + "".join(f"{word:>16}" for word in EVIDENCE_WORDS)]
    lines += [
        f"{kind:<16}" + "".join(f"{number:>16}" for number in numbers.values()) for kind, numbers in counts(factors)
    ]
    return "\n".join(lines)


def near_ids(wanted: str, factors: Iterable[Factor], *, most: int = 5) -> list[str]:
    """Return the ids most like `wanted`: those of a bare key that it names, then those spelt alike."""
    names = [factor.id for factor in factors]
    same = sorted(name for name in names if key_of(name).casefold() == wanted.strip().casefold())
    return list(dict.fromkeys((*same, *near_names(wanted, names, most=most))))[:most]


def near_names(wanted: str, names: Iterable[str], *, most: int = 5) -> list[str]:
    """Return the names spelt most like `wanted`, best first; none when nothing is close."""
    folded = {name.casefold(): name for name in names}
    return [folded[name] for name in difflib.get_close_matches(wanted.strip().casefold(), folded, n=most, cutoff=0.6)]


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

    def as_dict(self) -> dict[str, Any]:
        """Return the card as plain data for JSON."""
        source = self.source
        return {
            "schema": "impact-factor/1",
            **row_dict(self.factor),
            "locator": self.factor.locator,
            "boundary": self.factor.boundary,
            "derived": self.factor.derived or None,
            "notes": self.factor.notes or None,
            "source": {
                "source": self.factor.source,
                "citation": source.citation if source else None,
                "licence": (source.licence or None) if source else None,
                "page": (source.page or None) if source else None,
            },
            "meaning": self.meaning,
            "used": self.used,
            "others": [row_dict(other) for other in self.others],
            "shipped": row_dict(self.shipped) if self.shipped else None,
        }


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


def row_dict(factor: Factor) -> dict[str, Any]:
    """Return a row as plain data for JSON, in the canonical unit and as published."""
    return {
        "id": factor.id,
        "key": factor.key,
        "kind": kind_of(factor),
        "what": factor.what,
        "value": factor.value,
        "low": factor.low,
        "high": factor.high,
        "unit": factor.unit,
        "distribution": factor.distribution,
        "published": {"value": factor.published, "unit": factor.published_unit},
        "geography": factor.geography,
        "year": factor.year or None,
        "edition": factor.edition or None,
        "gwp": factor.gwp or None,
        "evidence": factor.evidence,
        "source_id": factor.source,
        "file": factor.file,
        "row": factor.row,
    }


def amount(value: float, unit: str) -> str:
    """Return a value with its unit; a share [1] has none."""
    return f"{value:.5g}" + ("" if unit == "1" else f" {unit}")


def table(factors: Sequence[Factor]) -> str:
    """Return rows as a text table: id, value, place, evidence, what it is."""
    rows = [("id", "value", "place", "evidence", "what it is")]
    rows += [(row.id, amount(row.value, row.unit), row.geography, row.evidence, row.what) for row in factors]
    return "\n".join(aligned(rows))


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
        ends = f"{factor.low:.5g} to {amount(factor.high, factor.unit)}"
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
