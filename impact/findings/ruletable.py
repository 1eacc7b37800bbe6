"""Rules as rows of the tables beside this module: their texts, the factor rows that these name, and where they stand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from operator import itemgetter
from pathlib import Path

from impact.base.sentences import Fact, Figure
from impact.factors.factorset import FactorSet
from impact.factors.rows import Factor, shipped_rows


def read_rules(file: str, columns: tuple[str, ...]) -> tuple[dict[str, str], ...]:
    """Return the rows of a table in this folder."""
    return shipped_rows(Path(__file__).with_name(file), *columns)


def rules_told(
    file: str, columns: tuple[str, ...], facts: Mapping[str, Fact]
) -> Iterator[tuple[str, list[dict[str, str]]]]:
    """Yield what each rule of a table says, by the first column: its rows whose `when` names a fact that is not blank.

    Rules of which no row speaks are left out.
    """
    for rule, rows in groupby(read_rules(file, columns), key=itemgetter(columns[0])):
        told = [row for row in rows if facts.get(row["when"])]
        if told:
            yield rule, told


def figures_of(cell: str, factors: FactorSet, places: Sequence[str]) -> dict[str, Factor]:
    """Return the factor rows that a rule names, as in ``limit=compost.restriction.bisphenol-a; ...``.

    Parameters
    ----------
    cell : str
        Names for the texts of the rule, each with the key of its row.
    factors : FactorSet
        Where the rows are.
    places : sequence of str
        Geographies from the nearest on; the first that has a row gives it.
    """
    pairs = (pair.split("=") for pair in cell.split("; ") if cell)
    return {name: factors.choose(key, places).factor for name, key in pairs}


def facts_of(rows: Mapping[str, Factor]) -> dict[str, Fact]:
    """Return the numbers of factor rows for texts: ``{name}``, ``{name_low}``, ``{name_high}``, in per cent ``{name_share}``."""
    found: dict[str, Fact] = {}
    for name, row in rows.items():
        for end, value in (("", row.value), ("_low", row.low), ("_high", row.high)):
            found[f"{name}{end}"] = Figure(value, "stated")
        found[f"{name}_share"] = Figure(row.value, "stated share")
    return found


def cited(rows: Iterable[Factor], factors: FactorSet) -> list[str]:
    """Return citation, locator and evidence of factor rows, each place once."""
    found: dict[str, None] = {}
    for row in rows:
        source = factors.sources.get(row.source)
        citation = source.citation if source else row.source
        place = "" if citation.endswith(row.locator) else f", {row.locator}"
        found[f"{citation}{place} ({row.evidence})"] = None
    return list(found)
