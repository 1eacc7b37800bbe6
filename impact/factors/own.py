"""A workshop's own factor table: its rows in place of, or beside, the shipped ones, under the same checks."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path

from impact.base.problems import Problem
from impact.base.units import UnitError
from impact.factors.companions import lonely_rows
from impact.factors.factorset import FactorSet, by_key
from impact.factors.rows import (
    COLUMNS,
    EVIDENCE_WORDS,
    HEADER_FAULTS,
    UNDER_NO_HEADER,
    Factor,
    RowReader,
    header_problems,
    untold_columns,
)
from impact.factors.values import FATES
from impact.records.files import choose_file, reading_settings
from impact.tables.decimals import normalised, settle
from impact.tables.sheet import read_xlsx
from impact.tables.table import Column, Table, UnreadableError, read_csv

SHARES_AGREE = 1e-6
"""How far the shares of one waste may add up beside 1."""

REQUIRED = ("id", "value", "unit", "source", "locator")
NUMBERS = ("value", "low", "high", "pedigree")
ACCEPTED = f"a CSV file, or a workbook factors.xlsx, with one row per factor and the columns {', '.join(REQUIRED)}"


def own_factors(folder: Path, shipped: FactorSet) -> tuple[FactorSet, list[Problem]]:
    """Return the factor set of a workshop folder; see `read_own_factors`. Without an own table it is the shipped one."""
    path, problem = choose_file(folder, "factors")
    if problem is not None:
        return shipped, [problem]
    if not os.path.lexists(path):  # a link that leads nowhere is a fault, and no missing file
        return shipped, []
    return read_own_factors(path, shipped)


def read_table(path: Path) -> Table:
    """Return a workshop's own factor table as it is kept, as CSV or as a workbook.

    Raises
    ------
    UnreadableError
        The file cannot be read as a table.
    """
    records = reading_settings(path.parent)
    if path.suffix == ".xlsx":
        return read_xlsx(path, COLUMNS, records, sheets=(), accepted=ACCEPTED)
    return read_csv(path, accepted=ACCEPTED, records=records)


def read_own_factors(path: Path, shipped: FactorSet) -> tuple[FactorSet, list[Problem]]:
    """Return the factor set with the rows of a workshop's own table in place of, or beside, the shipped ones.

    A row replaces the shipped one of its id, or key and edition, in its place; any other adds a row, so that a key which
    has a row somewhere keeps it there. A row of an id without a place that is of another place gets the place into its id.
    The same checks apply; a blank `evidence` is read as `own value`, a blank `distribution` as fixed, a blank
    `geography` as the one in the id or `world`, and a source need not stand in `sources.csv`. Where the header
    has a fault, the rows are checked as far as that tells nothing untrue.

    Parameters
    ----------
    path : Path
        The table, CSV or ``.xlsx``; what the ``workshop.toml`` beside it says of the records holds for it too.
    shipped : FactorSet
        The set to start from.
    """
    try:
        table = read_table(path)
    except UnreadableError as error:
        return shipped, [error.problem]
    header = [column.header for column in table.columns]
    untold = untold_columns(header, COLUMNS, REQUIRED)
    table.problems = [
        replace(problem, message=UNDER_NO_HEADER) if problem.code == "no-header" and table.decimal == "." else problem
        for problem in table.problems
        if problem.code != "no-header" or not untold
    ]
    _tell(table, header_problems(path.name, header, COLUMNS, REQUIRED))
    if "distribution" in untold:
        untold |= {"low", "high"}  # which of them must be there hangs on the distribution
    gsd = {factor.id: factor.value for factor in shipped if factor.key.startswith("pedigree.")}
    reader = RowReader(path.name, EVIDENCE_WORDS, gsd, untold)
    known = {factor.id: factor for factor in shipped}
    rows = _rows(table, untold)
    own = _own_rows(rows, reader, known)
    faulty = {(problem.row, problem.column) for problem in table.problems}
    _tell(table, [problem for problem in reader.problems if (problem.row, problem.column) not in faulty])
    replaced = _replaced(own, shipped)
    gone = {factor.id for factor in replaced.values()}
    merged = {**{name: factor for name, factor in known.items() if name not in gone}, **own}
    factors = FactorSet(by_key(merged.values()), shipped.sources, {**replaced, **shipped.shipped})
    if not untold:
        _tell(table, [*_fate_problems(own, factors), *lonely_rows(own.values(), factors)])
    return factors, table.problems


def _place(factor: Factor) -> tuple[str, str, str]:
    return factor.key, factor.geography, factor.edition


def _replaced(own: Mapping[str, Factor], shipped: FactorSet) -> dict[str, Factor]:
    """Return the shipped rows in whose place own ones stand, by the ids of these."""
    by_id, by_place = {row.id: row for row in shipped}, {_place(row): row for row in shipped}
    found = {name: by_id.get(name) or by_place.get(_place(factor)) for name, factor in own.items()}
    return {name: factor for name, factor in found.items() if factor is not None}


def _tell(table: Table, problems: Iterable[Problem]) -> None:
    """Report problems of rows, and those of the header as of row 1, to the table, which knows their places."""
    places = {row: index for index, row in enumerate(table.rows.tolist())}
    for problem in problems:
        index = None if problem.code in HEADER_FAULTS else places[problem.row]
        table.report(problem.code, index, problem.column, problem.message, read=problem.read, accepted=problem.accepted)


def _rows(table: Table, untold: Collection[str]) -> list[dict[str, str]]:
    """Return the rows as text by column, numbers with decimal points; "#" is the row's number."""
    columns = {column.header: column for column in table.columns if column.header not in untold}
    texts = {name: _points(table, one) if name in NUMBERS else one.text.tolist() for name, one in columns.items()}
    blank = dict.fromkeys(COLUMNS, "")
    return [
        {**blank, **dict(zip(texts, cells, strict=True)), "#": str(row)}
        for row, *cells in zip(table.rows.tolist(), *texts.values(), strict=True)
    ]


def _points(table: Table, column: Column) -> list[str]:
    """Return a column with its numbers written with decimal points; a number that can be read in two ways is asked about."""
    texts = column.text.tolist()
    typed = [False] * len(texts) if column.numbers is None else (column.numbers == column.numbers).tolist()
    untyped = [index for index, is_number in enumerate(typed) if not is_number]
    marks, _ = settle(list({texts[index]: "" for index in untyped}), table.decimal, stated=table.stated)
    for index in untyped:
        try:
            texts[index] = normalised(texts[index], marks)
        except UnitError as error:
            table.report(error.code, index, column.header, error.reason, read=texts[index], accepted=error.accepted)
    return texts


def _own_rows(rows: Iterable[Mapping[str, str]], reader: RowReader, known: Mapping[str, Factor]) -> dict[str, Factor]:
    own: dict[str, Factor] = {}
    seen: dict[object, int] = {}
    for cells in rows:
        shipped = known.get(cells["id"])
        factor = None if cells["id"] in seen else reader.read(_completed(cells, shipped))
        names = [cells["id"], *([_place(factor)] if factor is not None else [])]
        first = next((seen[name] for name in names if name in seen), None)
        if first is not None:
            reader.fault(cells, "id", "duplicate-id", f"stands in row {first} already", "an id once")
        elif factor is not None:
            seen |= dict.fromkeys(names, factor.row)
            placed = _placed(factor, shipped)
            own[placed.id] = placed
    return own


def _placed(factor: Factor, shipped: Factor | None) -> Factor:
    """Return an own row with its place in its id where the shipped row of this id is of another place."""
    if shipped is None or shipped.geography == factor.geography:
        return factor
    tail = f"/{factor.geography}" + (f"/{factor.edition}" if factor.edition else "")
    return replace(factor, id=factor.key + tail)


def _fate_problems(own: Mapping[str, Factor], factors: FactorSet) -> Iterator[Problem]:
    """Yield a problem for each waste and place whose shares, own and shipped together, do not add up to 1.

    Where no row says what is landfilled or burnt, residual waste takes what the others leave.
    """
    first: dict[tuple[str, str], Factor] = {}
    for factor in own.values():
        if factor.key.startswith("fate."):
            first.setdefault((factor.key.rpartition(".")[0], factor.geography), factor)
    for (waste, place), factor in first.items():
        keys = [f"{waste}.{fate}" for fate in FATES]
        found = {key: factors.choose(key, (place,)).factor.value for key in keys if factors.has(key, (place,))}
        total = sum(found.values())
        whole = not found.keys().isdisjoint(keys[:2])
        if total > 1.0 + SHARES_AGREE or (whole and total < 1.0 - SHARES_AGREE):
            yield Problem(
                "shares-total", factor.file, f"the shares of {waste} for {place} add up to {total:.4g}", row=factor.row,
                column="value", read=factor.published, accepted=f"rows for {', '.join(FATES)} that add up to 1",
            )  # fmt: skip


def _completed(cells: Mapping[str, str], shipped: Factor | None) -> dict[str, str]:
    """Return an own row with its blanks filled: from the row that it replaces, else with plain defaults."""
    given = {
        "what": cells["id"] or "a row without id",
        "geography": "world",
        "evidence": "own value",
        "distribution": "lognormal" if cells["low"] and cells["high"] else "fixed",
    }
    if shipped is not None:
        given |= {"what": shipped.what, "geography": shipped.geography, "edition": shipped.edition}
    given |= dict(zip(("geography", "edition"), cells["id"].split("/")[1:], strict=False))
    return {name: text or given.get(name, "") for name, text in cells.items()}
