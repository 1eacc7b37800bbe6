"""Batch records: one row per batch from ``batches.csv``, ``.xlsx`` or ``.parquet`` to columns in canonical units."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from impact.base.catalogue import Names
from impact.base.problems import Problem, choices, errors
from impact.base.spellings import fold
from impact.records.batchtable import BatchTable, Days, joined
from impact.records.cells import Cells
from impact.records.columns import (
    OWN_REJECTS,
    Id,
    LogColumn,
    columns_meant,
    ids_of,
    log_columns,
    repeated_texts,
    single_texts,
)
from impact.records.files import choose_file, reading_settings
from impact.records.workshop import Workshop
from impact.tables.blocks import ChunkedFile, WholeFile
from impact.tables.csv import BLOCK, CsvFile
from impact.tables.dates import days_known, read_days
from impact.tables.fingerprints import Fingerprints, fingerprints, repeated
from impact.tables.headers import named
from impact.tables.parquet import ROWS, ParquetFile
from impact.tables.settings import ReadingSettings
from impact.tables.sheet import WorkbookTable, read_xlsx
from impact.tables.table import Table, UnreadableError, read_csv
from impact.tables.texts import Coded

if TYPE_CHECKING:
    from impact.core import FloatArray
    from impact.tables.texts import Flags

ACCEPTED = "a table with one row per batch, as batches.csv, batches.xlsx or batches.parquet"


@dataclass(frozen=True)
class Chunk:
    """Some batches that follow one another in a file.

    Attributes
    ----------
    batches : BatchTable
        One row per batch in canonical units; only to be used when no problem is an error.
    problems : tuple of Problem
        Every error, by row.
    records : int
        Rows of the file, empty ones included.
    """

    batches: BatchTable
    problems: tuple[Problem, ...]
    records: int

    @property
    def batches_read(self) -> BatchTable | None:
        """The batches without an error in their row; None where an error is of a whole column."""
        faulty = {problem.row or 1 for problem in errors(self.problems)}
        if 1 in faulty:
            return None
        return self.batches.kept(~np.isin(self.batches.rows, list(faulty))) if faulty else self.batches

    def below(self, records: int) -> Chunk:
        """Return the chunk as it stands below that many rows of the same file; the header is the first chunk's matter."""
        if not records:
            return self
        return replace(
            self,
            batches=self.batches.below(records),
            problems=tuple(lowered(problem, records) for problem in self.problems if problem.row != 1),
        )


def lowered(problem: Problem, records: int) -> Problem:
    """Return a problem as it stands below that many rows of the same file."""
    return problem if problem.row is None else problem.at(problem.file, problem.row + records)


def open_batches(folder: Path, names: Names, *, size: int | None = None) -> ChunkedFile:
    """Return the file that holds the batches of a workshop folder.

    Parquet, and CSV in UTF-8 with commas between cells and points before decimals, are read in chunks of `size` bytes of
    CSV or rows of Parquet, by default such that few of them fill no memory; other files at once, because what their
    marks mean shows only in whole columns.

    Raises
    ------
    UnreadableError
        There is no such file, or two, or it cannot be read.
    """
    return open_file(_file_of(folder), reading_settings(folder), names, size=size)


def open_file(
    path: Path,
    records: ReadingSettings,
    names: Names,
    *,
    size: int | None = None,
    extent: tuple[int, int] | None = None,
) -> ChunkedFile:
    """Return a file of batches, or an extent of it; other arguments as of `open_batches`.

    An extent is some row groups of a Parquet file, or bytes of a CSV file that is read in blocks, see `impact.tables.csv`.

    Raises
    ------
    UnreadableError
        It cannot be read.
    """
    if path.suffix == ".parquet":
        return ParquetFile(path, accepted=ACCEPTED, single=single_texts(), size=size or ROWS, extent=extent)
    if path.suffix == ".csv" and records.decimal != "," and records.encoding is None:
        file = CsvFile(
            path, accepted=ACCEPTED, single=single_texts(), repeated=repeated_texts(), size=size or BLOCK, extent=extent
        )
        if extent is not None or file.is_plain:
            return file
    return WholeFile(path, lambda: _table_of(path, records, header_words(names)))


def chunk_of(
    table: Table, workshop: Workshop | None, names: Names, records: ReadingSettings, *, alone: bool = False
) -> Chunk:
    """Return the batches of a table and every error in them.

    Parts and devices are not checked where the workshop could not be read, that is None. Names that stand twice are
    found where the table stands `alone`, as all of its file.
    """

    def meant(header: str, known: Iterable[str]) -> list[str]:
        ids = list(known)
        return columns_meant(header, ids) or list(names.meant("grade", header, ids))

    cells = Cells(table, table.pick(columns_known(names), refused=names.excluded_grades, meant=meant), names)
    table.require(cells.columns, _required(names))
    untold = {"ambiguous-column", "missing-header"} & {problem.code for problem in table.problems}
    if not untold and not cells.columns.keys() & {OWN_REJECTS, *names.grades}:
        accepted = "a column for each grade, such as " + ", ".join(sorted(names.grades)[:5])
        table.report("missing-column", None, None, "no column holds paper", read=None, accepted=accepted)
    batches = _batches(cells, workshop, names, records)
    _check(cells, batches, _required(names), alone=alone)
    _check_confirmed(
        cells, batches.texts("confirmed").tolist() if "confirmed" in cells.columns else (), columns_known(names)
    )
    return Chunk(
        _without_binder(batches), tuple(sorted(table.problems, key=lambda problem: problem.row or 0)), table.records
    )


def nothing_read(name: str) -> Problem:
    """Return the problem of a table without a batch; `name` is the file's."""
    return Problem("no-rows", name, "there are no batches yet", row=1, accepted="one row per batch")


def named_twice(files: Iterable[tuple[str, ChunkedFile]], suspects: Fingerprints) -> list[Problem]:
    """Read the names of the batches once more from files and their names; return an error for each that stood before.

    Only names whose fingerprints are among the `suspects`, which more than one name has, are looked at.
    """
    problems: list[Problem] = []
    first: dict[str, tuple[str, int]] = {}
    for name, file in files:
        for header, text, row in _suspected(file, suspects):
            earlier, place = first.setdefault(text, (name, row))
            if (earlier, place) != (name, row):
                where = f"row {place}" if earlier == name else f"{earlier}, row {place},"
                problems.append(
                    Problem(
                        "duplicate-batch", name, f"this batch stands in {where} already", row=row, column=header,
                        read=text, accepted="one row per batch, each with its own name",
                    )
                )  # fmt: skip
    return problems


def _suspected(file: ChunkedFile, suspects: Fingerprints) -> Iterator[tuple[str, str, int]]:
    """Yield the header, the text and the row of each name whose fingerprint is suspected."""
    above = 0
    for block in file.blocks():
        table = file.table(block)
        column = next((one for one in table.columns if named(one.name, {"batch": "batch"}, columns_meant)), None)
        if column is not None:
            texts = column.text
            here = np.flatnonzero(~column.blank)
            for index in here[np.isin(fingerprints(texts), suspects)]:
                yield column.header, texts[int(index)], int(table.rows[index]) + above
        above += table.records


def read_batch_table(
    folder: Path, workshop: Workshop | None, names: Names, *, size: int | None = None
) -> tuple[BatchTable, list[Problem]]:
    """Read the batch records of a workshop folder as one table; arguments as of `open_batches` and `chunk_of`.

    Returns
    -------
    BatchTable
        One row per batch in canonical units; only to be used when no problem is an error.
    list of Problem
        Every error, by row.
    """
    chunks: list[Chunk] = []
    above = 0
    records = reading_settings(folder)
    try:
        file = open_batches(folder, names, size=size)
        for block in file.blocks():
            chunk = chunk_of(file.table(block), workshop, names, records, alone=file.alone)
            chunks.append(chunk.below(above))
            above += chunk.records
    except UnreadableError as error:
        nothing = Cells(Table("", [], np.zeros(0, dtype=np.int64)), {})
        return _batches(nothing, workshop, names, records), [lowered(error.problem, above)]
    table = joined([chunk.batches for chunk in chunks])
    problems = [problem for chunk in chunks for problem in chunk.problems]
    if not errors(problems) and not len(table):
        problems.append(nothing_read(file.path.name))
    suspects = repeated([] if file.alone else [fingerprints(chunk.batches.texts("batch")) for chunk in chunks])
    problems += named_twice([(file.path.name, file)], suspects) if len(suspects) else []
    return table, sorted(problems, key=lambda problem: problem.row or 0)


def columns_known(names: Names) -> list[str]:
    """Return the names of the columns that batches may have."""
    return [column.name for column in log_columns(names)]


def header_words(names: Names) -> list[str]:
    """Return every word by which the header of a workbook is known."""
    also = (word for column in log_columns(names) for word in column.also.split(";"))
    grades = (word for kind, word in names.others if kind == "grade")
    return [*columns_known(names), *names.excluded_grades, *filter(None, map(str.strip, also)), *grades]


def _required(names: Names) -> list[str]:
    return [column.name for column in log_columns(names) if column.required]


def read_table(folder: Path, records: ReadingSettings, known: Sequence[str]) -> Table:
    """Return the batches of a workshop folder as they are kept, all at once; `known` columns tell a workbook's header.

    Raises
    ------
    UnreadableError
        When there are two files, or the one cannot be read.
    """
    return _table_of(_file_of(folder), records, known)


def _table_of(path: Path, records: ReadingSettings, known: Sequence[str]) -> Table:
    if path.suffix == ".parquet":
        return ParquetFile(path, accepted=ACCEPTED, single=single_texts()).whole()
    if path.suffix == ".xlsx":
        return read_xlsx(path, known, records, sheets=records.sheet, accepted=ACCEPTED)
    return read_csv(path, accepted=ACCEPTED, records=records, limit=None)


def _file_of(folder: Path) -> Path:
    path, problem = choose_file(folder, "batches")
    if problem is not None:
        raise UnreadableError(problem)
    return path


def _batches(cells: Cells, workshop: Workshop | None, names: Names, records: ReadingSettings) -> BatchTable:
    """Return the batches in canonical columns; report every cell that cannot be read."""
    equipment = None if workshop is None else workshop.equipment
    ids = ids_of(names, None if workshop is None else workshop.parts)
    currency = "" if workshop is None else workshop.currency
    data: dict[str, Any] = {"row": cells.table.rows}
    for column in log_columns(names):
        if column.kind == "energy":
            data |= zip(column.canonicals, cells.energy(column.name, equipment), strict=True)
        elif column.name not in names.grades or column.name in cells.columns:
            data[column.canonical] = _values(cells, column, ids, currency, records.dates)
    if isinstance(cells.table, WorkbookTable):
        data["sheet"] = Coded.of(cells.table.sheets)
    return BatchTable(data)


def _values(
    cells: Cells, column: LogColumn, ids: Mapping[Id, Mapping[str, object] | None], currency: str, days: str | None
) -> Any:
    """Return a column of the log as its kind is read; report every cell that cannot be."""
    name = column.name
    match column.kind:
        case "name" | "note":
            return cells.text(name).written()
        case "code":
            return cells.text(name).coded()
        case "day":
            return _dates(cells, days)
        case "part" | "binder" | "fate" | "loss" as kind:
            return cells.ids(name, ids[kind], "fate" if kind == "loss" else kind)
        case "paper":
            return _none_where_blank(cells, name)
        case "share":
            return cells.share(name)
        case "count":
            return cells.count(name)
        case "money":
            return cells.money(name, currency)
        case dimension:
            return cells.quantity(name, dimension)


def _none_where_blank(cells: Cells, name: str) -> FloatArray:
    """Return a column of masses in which a blank means that there was none. [kg]"""
    if name not in cells.columns:
        return np.zeros(cells.size)
    values, blank = cells.quantity(name, "mass"), cells.columns[name].blank
    return np.where(blank, 0.0, values) if blank.any() else values


def _dates(cells: Cells, order: str | None) -> Days:
    column = cells.columns.get("date")
    if column is not None and column.is_days:
        days, faults = days_known(cast("Days", column.values))
    else:
        days, faults = read_days(cells.text("date").coded(), order)
    for index, (code, message, accepted) in faults:
        cells.fault("date", index, code, message, accepted)
    return days


def _check(cells: Cells, batches: BatchTable, required: Sequence[str], *, alone: bool) -> None:
    """Report what only shows when the cells of a batch are put together."""
    for name in required:
        hint = "a binder, or none where none was used" if name == "binder" else f"a value for {name}"
        cells.demand(name, np.ones(cells.size, dtype=bool), hint)
    if alone:
        _named_twice_here(cells, batches)
    for index in np.flatnonzero(_without_paper(cells, batches)).tolist():
        accepted = "the paper of this batch, or its own rejects"
        cells.fault("good parts", index, "no-paper", "parts were made of no paper", accepted)
    for index in np.flatnonzero(batches.floats("moisture") >= 1.0).tolist():
        cells.fault("moisture", index, "bad-share", "paper cannot be all water", "less than 100 %")
    binder = batches.coded("binder")
    cells.refuse_zero("binder solids", ~binder.where_any(("none", "")) & (batches.floats("binder_solids") == 0.0))
    for index in np.flatnonzero(binder.where("none") & (batches.floats("binder_kg") > 0.0)).tolist():
        message = "a mass is given although the binder is none"
        cells.fault("binder mass", index, "binder-none", message, "0 or blank, or the binder's name")


def _check_confirmed(cells: Cells, texts: Sequence[str], names: Sequence[str]) -> None:
    """Report what the column confirmed names and is no column."""
    known = {fold(name) for name in names}
    for index, text in enumerate(texts):
        for word in filter(None, map(str.strip, re.split("[,;]", text))):
            if fold(word) not in known:
                accepted = f"names of columns such as water; drying: {choices(word, names)}"
                cells.fault("confirmed", index, "unknown-confirmed", "this confirms no column", accepted)


def _without_binder(batches: BatchTable) -> BatchTable:
    """Return the batches, those without a binder with a mass of 0 of it."""
    mass = batches.floats("binder_kg")
    none = batches.coded("binder").where("none") & np.isnan(mass)
    if not none.any():
        return batches
    return replace(batches, columns={**batches.columns, "binder_kg": np.where(none, 0.0, mass)})


def _named_twice_here(cells: Cells, batches: BatchTable) -> None:
    if not len(repeated([fingerprints(batches.texts("batch"))])):
        return
    first: dict[str, int] = {}
    for index, name in enumerate(batches.texts("batch").tolist()):
        if name and first.setdefault(name, index) != index:
            message = f"this batch stands in {cells.table.row_name(first[name])} already"
            cells.fault("batch", index, "duplicate-batch", message, "one row per batch, each with its own name")


def _without_paper(cells: Cells, batches: BatchTable) -> Flags:
    """Return which batches made parts of nothing; none of them where paper may stand in a column that is not known."""
    found = (batches.floats("good_parts") > 0.0) | (batches.floats("rejects") > 0.0)
    for mass in (*batches.papers.values(), batches.floats("own_rejects_kg")):
        found = found & (mass == 0.0)
    doubt = {"unknown-column", "missing-column", "ambiguous-column", "missing-header", "excluded-grade"} & {
        problem.code for problem in cells.table.problems
    }
    return np.zeros(cells.size, dtype=bool) if doubt else found
