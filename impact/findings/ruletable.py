"""Rules as rows of the tables beside this module: their texts, the factor rows that these name, and where they stand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from operator import itemgetter
from pathlib import Path

from impact.base.language import message
from impact.base.sentences import Fact, Figure, Said, joined
from impact.factors.factorset import FactorSet
from impact.factors.rows import Factor, shipped_rows

OWN_CITATIONS = (
    message("Common practice, no source: working assumption of this project"),
    message(
        "Arithmetic on chemical formulas with the standard atomic weights C 12.011, H 1.008, N 14.007, O 15.999, Cl 35.45"
    ),
    message("Arithmetic on physical constants"),
)
"""Citations of the table of sources that name no publication."""

OWN_PLACES = (
    message("the records"), message("working assumption"), message("working list of this project"), message("table of grades"),
    message("names of the two polymers"), message("inks by grade, table of grades"),
    message("tape and staples by grade, table of grades"), message("coatings by grade, table of grades"),
    message("(C4H6O2)n holds no nitrogen"), message("C6H10O5 with CH2 groups holds no nitrogen"),
    message("cellulose and starch, (C6H10O5)n"),
)  # fmt: skip
"""Locators of the tables that are no place in a publication."""


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


def place_cited(source: str, locator: str, evidence: str, factors: FactorSet) -> Said:
    """Return citation, locator and evidence; what is cited stays in its language, what is no publication is said in the reader's."""
    known = factors.sources.get(source)
    citation, within = known.citation if known else source, Said(locator) if locator in OWN_PLACES else locator
    pieces: list[Fact] = [Said(citation) if citation in OWN_CITATIONS else citation] if citation else []
    if locator and not citation.endswith(locator):
        pieces.append(within)
    place = joined(pieces, ", ")
    return Said("{place} ({evidence})", {"place": place, "evidence": Said(evidence)}) if evidence else place


def cited(rows: Iterable[Factor], factors: FactorSet) -> list[Said]:
    """Return citation, locator and evidence of factor rows, each place once."""
    places = dict.fromkeys((row.source, row.locator, row.evidence) for row in rows)
    return [place_cited(*place, factors) for place in places]
