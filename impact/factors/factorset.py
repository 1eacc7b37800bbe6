"""The factor set: sourced numbers read from CSV tables, checked once, chosen by region and edition."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path

from impact.base.catalogue import CATALOGUE, CURRENCIES, NAMES
from impact.base.places import factors_folder
from impact.base.problems import Problem, ProblemsError, choices, errors
from impact.factors.rows import COLUMNS, EVIDENCE_WORDS, Factor, RowReader, content_of, rows_of

SHIPPED_WORDS = EVIDENCE_WORDS[:-1]
CLAIM_RULES = "claimrules.csv"
"""Name of the table of rules on claims."""

SOURCES, PEDIGREE = "sources.csv", "pedigree.csv"
"""Names of the tables of publications and of pedigree scores."""

NOT_FACTORS = (SOURCES, CATALOGUE, NAMES, CURRENCIES, CLAIM_RULES)
"""Tables that hold no factors."""

Content = bytes | Problem
"""The content of a table, or why it cannot be read."""


@dataclass(frozen=True, slots=True)
class Source:
    """A publication behind factor rows: citation, licence and page."""

    source: str
    citation: str
    publisher: str
    year: str
    edition: str
    licence: str
    page: str
    notes: str


@dataclass(frozen=True, slots=True)
class Choice:
    """A chosen factor and how far the choice had to fall back.

    Attributes
    ----------
    factor : Factor
        The row.
    wanted : str
        The geography asked for first.
    edition_missing : str or None
        The edition that was named but has no row for this key.
    """

    factor: Factor
    wanted: str
    edition_missing: str | None = None


@dataclass(frozen=True)
class FactorSet:
    """All factors at hand, by key.

    Attributes
    ----------
    by_key : mapping of str to tuple of Factor
        Rows of each key.
    sources : mapping of str to Source
        Publications by id.
    shipped : mapping of str to Factor
        Shipped rows that a workshop's own table replaced, by id.
    """

    by_key: Mapping[str, tuple[Factor, ...]]
    sources: Mapping[str, Source]
    shipped: Mapping[str, Factor] = field(default_factory=dict)

    def __iter__(self) -> Iterator[Factor]:
        """Iterate over all rows."""
        return iter(factor for rows in self.by_key.values() for factor in rows)

    def has(self, key: str, regions: Sequence[str]) -> bool:
        """Return whether a row for `key` exists in one of the regions."""
        return any(factor.geography in regions for factor in self.by_key.get(key, ()))

    def is_regional(self, key: str) -> bool:
        """Return whether the rows of `key` differ by geography."""
        return len({factor.geography for factor in self.by_key.get(key, ())}) > 1

    def choose(self, key: str, regions: Sequence[str], editions: Mapping[str, str] | None = None) -> Choice:
        """Return the row for `key`: first region that has one, then the workshop's own, the named edition, the newest.

        Parameters
        ----------
        key : str
            Factor key.
        regions : sequence of str
            Geographies from the nearest to the widest.
        editions : mapping of str to str, optional
            Edition wanted for a geography.

        Raises
        ------
        KeyError
            When no row fits; the message lists the geographies that have one.
        """
        rows = self.by_key.get(key, ())
        for region in regions:
            here = [factor for factor in rows if factor.geography == region]
            if not here:
                continue
            wanted = (editions or {}).get(region)
            own = [factor for factor in here if factor.is_own and factor.edition in ("", wanted)]
            named = [factor for factor in here if factor.edition == wanted] if wanted else []
            if own or named:
                return Choice((own or named)[0], regions[0])
            missing = wanted if wanted and any(factor.edition for factor in here) else None
            return Choice(max(here, key=lambda factor: factor.edition), regions[0], missing)
        known = ", ".join(sorted({factor.geography for factor in rows})) or "nowhere"
        raise KeyError(f"no factor {key} for {', '.join(regions)}; there are rows for: {known}")


def _sources(content: Content) -> tuple[dict[str, Source], list[Problem]]:
    """Return the publications of the table of sources by id, and what is wrong with it."""
    columns = tuple(Source.__dataclass_fields__)
    rows, problems = rows_of(SOURCES, content, columns)
    sources = {row["source"]: Source(**{name: row[name] for name in columns}) for row in rows}
    return sources, problems


def _table(file: str, content: Content, gsd: Mapping[str, float]) -> tuple[list[Factor], list[Problem]]:
    rows, problems = rows_of(file, content, COLUMNS)
    reader = RowReader(file, SHIPPED_WORDS, gsd)
    factors = [factor for cells in rows if (factor := reader.read(cells)) is not None]
    seen: dict[str, str] = {}
    for cells in rows:
        first = seen.setdefault(cells["id"], cells["#"])
        if first != cells["#"]:
            reader.fault(cells, "id", "duplicate-id", f"stands in row {first} already", "an id once")
    return factors, problems + reader.problems


def read_factors(folder: Path | None = None) -> FactorSet:
    """Return the shipped factor set, checked row by row.

    Parameters
    ----------
    folder : Path, optional
        Folder of the tables; by default the one that ships with the package.

    Raises
    ------
    ProblemsError
        With every fault in every table.
    """
    folder = folder or factors_folder()
    names = {path.name for path in folder.glob("*.csv")} - {*NOT_FACTORS}
    return _factor_set(tuple((name, content_of(folder / name)) for name in sorted({*names, SOURCES, PEDIGREE})))


@lru_cache(maxsize=2)
def _factor_set(tables: tuple[tuple[str, Content], ...]) -> FactorSet:
    """Return the factors of tables by name and content; a report has the shipped ones once more, under another folder."""
    contents = dict(tables)
    sources, problems = _sources(contents.pop(SOURCES))
    factors, faults = _table(PEDIGREE, contents.pop(PEDIGREE), {})
    problems += faults
    gsd = {factor.id: factor.value for factor in factors}
    for name, content in contents.items():
        rows, faults = _table(name, content, gsd)
        factors += rows
        problems += faults
    problems += _cross_checks(factors, sources)
    if errors(problems):
        raise ProblemsError(problems)
    return FactorSet(by_key(factors), sources)


def _cross_checks(factors: Sequence[Factor], sources: Mapping[str, Source]) -> list[Problem]:
    seen: dict[str, Factor] = {}
    problems = []
    for factor in factors:
        other = seen.setdefault(factor.id, factor)
        if other is not factor and other.file != factor.file:
            message = f"stands in {other.file}, row {other.row} already"
            problems.append(Problem("duplicate-id", factor.file, message, row=factor.row, column="id", read=factor.id))
        if factor.source not in sources:
            problem = Problem("unknown-source", factor.file, "is not in sources.csv", row=factor.row, column="source")
            problems.append(replace(problem, read=factor.source, accepted=choices(factor.source, sources)))
    return problems


def by_key(factors: Iterable[Factor]) -> dict[str, tuple[Factor, ...]]:
    """Return the rows of each key."""
    found: dict[str, list[Factor]] = {}
    for factor in factors:
        found.setdefault(factor.key, []).append(factor)
    return {key: tuple(rows) for key, rows in found.items()}
