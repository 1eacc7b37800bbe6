"""A table of records from a workbook: its sheets, header row and end found, every problem with sheet and cell."""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from impact.base.problems import Level, Problem, choices
from impact.base.spellings import fold
from impact.base.units import split_header
from impact.tables.settings import ReadingSettings
from impact.tables.table import Column, Table, UnreadableError, read_bytes
from impact.tables.texts import Coded
from impact.tables.xlsx import FILE_LIMIT, SheetEntry, Workbook, WorkbookError, open_workbook
from impact.tables.xlsx_cells import Cell, Sheet, column_letters, read_sheet

HEADER_WITHIN = 100
"""Rows that hold something among which the header is looked for."""

HEADER_NAMES = 2
"""Known names that make a row the header."""

RUNS_LISTED = 12
"""Runs of rows that a warning names."""

KEYS = {"batches": "sheet", "parts": "parts_sheet"}
"""Key of ``[records]`` that names the sheets of a file."""

_FAULTS = {
    "error": ("error-cell", "the cell shows an error", "a value, or a blank cell"),
    "uncounted": (
        "no-cached-value",
        "the workbook holds a formula here and no result",
        "the workbook opened in a spreadsheet program and saved again, or the value in place of the formula",
    ),
}
_DAY_AS_TEXT = re.compile(r"[0-9]{1,2}[-/. ][0-9]{1,2}[-/. ][0-9]{2,4}")


@dataclass
class _Body:
    """What one sheet gives to a table: its header, the rows of its records, and its cells."""

    sheet: Sheet
    header_row: int
    columns: dict[tuple[str, int], int]
    headers: dict[tuple[str, int], str]
    rows: list[int]


@dataclass
class WorkbookTable(Table):
    """A table whose problems name sheet and cell; it knows what each sheet gave, and the sheet of each record."""

    bodies: list[_Body] = field(default_factory=list)
    sheets: list[str] = field(default_factory=list)
    _told: set[tuple[int, str]] = field(default_factory=set)

    def _placed(self, problem: Problem, index: int | None) -> list[Problem]:
        """Return a problem with its sheet and cell; a cell whose fault was told is not told of again."""
        name = fold(split_header(problem.column or "")[0])
        if index is not None and problem.column is not None and (index, name) in self._told:
            return []
        body = self._body(index, problem.column)
        row = body.header_row if index is None else problem.row
        place = None
        if problem.column is not None:
            found = [place for (folded, _), place in body.columns.items() if folded == name]
            place = found[-1 if problem.code == "duplicate-column" else 0] if found else None
        cell = None if place is None else f"{column_letters(place)}{row}"
        return [replace(problem, row=row, sheet=body.sheet.name, cell=cell)]

    def report_in(
        self,
        body: _Body,
        code: str,
        message: str,
        accepted: str,
        *,
        row: int | None = None,
        place: int | None = None,
        column: str | None = None,
        read: str | None = None,
        level: Level = "error",
    ) -> None:
        """Note a problem of a sheet, by row and place of the column, both from 1."""
        sheet, cell = body.sheet.name, None if place is None else f"{column_letters(place)}{row}"
        self.problems.append(Problem(code, self.file, message, row, column, read, accepted, sheet, level, cell))

    def row_name(self, index: int) -> str:
        """Return where a record stands, in words."""
        return (
            super().row_name(index) if len(self.bodies) == 1 else f"sheet {self.sheets[index]}, row {self.rows[index]}"
        )

    def _body(self, index: int | None, column: str | None) -> _Body:
        if index is not None:
            return next(body for body in self.bodies if body.sheet.name == self.sheets[index])
        named = (body for body in self.bodies if column is not None and column in body.headers.values())
        return next(named, self.bodies[0])

    def tell(self, index: int, column: str, cell: Cell) -> None:
        """Report a cell that holds an error or a formula without a result, once and for all."""
        code, message, accepted = _FAULTS[cell.kind]
        self.report(code, index, column, message, read=cell.text, accepted=accepted)
        self._told.add((index, fold(split_header(column)[0])))


def read_xlsx(
    path: Path, known: Iterable[str], records: ReadingSettings, *, sheets: Sequence[str], accepted: str
) -> WorkbookTable:
    """Read the records of a workbook, whose header row is found by the names of columns that are known.

    The sheets named are read and joined; where there are none, the one called as the file without ``.xlsx``. `accepted`
    says what the file should be, for the problem when it cannot be read.

    Raises
    ------
    UnreadableError
        The file is no readable workbook, or the sheet is not known.
    """
    data = read_bytes(path, accepted=accepted, limit=FILE_LIMIT)
    names = frozenset(fold(name) for name in known)
    try:
        workbook = open_workbook(data)
        chosen = _chosen(workbook, path, sheets)
        bodies = [_body(path.name, read_sheet(workbook, entry), names) for entry in chosen]
    except WorkbookError as error:
        remedy = f"{accepted}; saved without a password as .xlsx"
        raise UnreadableError(Problem(error.code, path.name, error.reason, accepted=remedy)) from None
    table = _joined(path.name, bodies, records)
    if not sheets:
        others = [entry for entry in workbook.sheets if entry is not chosen[0] and not entry.hidden]
        table.problems += _alike(path, bodies[0], [_other(workbook, entry, names) for entry in others])
    return table


def _other(workbook: Workbook, entry: SheetEntry, known: frozenset[str]) -> _Body | None:
    """Return what a sheet that is not read would give; None where it is empty or damaged."""
    try:
        return _body("", read_sheet(workbook, entry), known)
    except (WorkbookError, UnreadableError):
        return None


def _alike(path: Path, read: _Body, others: Iterable[_Body | None]) -> list[Problem]:
    """Return an error for each sheet with records under most of the headers of the one that is read: is it meant too?"""
    found, name, here = [], read.sheet.name, {folded for folded, _ in read.columns}
    key = KEYS.get(path.stem)
    for body in others:
        if body is None or key is None or not body.rows:
            continue
        if len({folded for folded, _ in body.columns} & here) < max(HEADER_NAMES, 0.75 * len(here)):
            continue
        message = f'this sheet has the headers of the sheet "{name}" and records below them, and is not read'
        accepted = (
            f'[records] {key} = ["{name}", "{body.sheet.name}"] in workshop.toml to read both, '
            f'or {key} = "{name}" to leave it out'
        )
        found.append(Problem("further-sheet", path.name, message, sheet=body.sheet.name, accepted=accepted))
    return found


def _chosen(workbook: Workbook, path: Path, sheets: Sequence[str]) -> list[SheetEntry]:
    """Return the sheets to read."""
    by_name = {entry.name.strip().casefold(): entry for entry in workbook.sheets}
    listed = ", ".join(entry.name for entry in workbook.sheets) or "none"
    key = KEYS.get(path.stem)
    for name in sheets:
        if name.strip().casefold() not in by_name:
            message = f"workshop.toml names a sheet that is not there ([records] {key})"
            accepted = choices(name, [entry.name for entry in workbook.sheets])
            raise UnreadableError(Problem("unknown-sheet", path.name, message, read=name, accepted=accepted))
    if sheets:
        return list({name: by_name[name] for name in (name.strip().casefold() for name in sheets)}.values())
    if path.stem in by_name:
        return [by_name[path.stem]]
    visible = [entry for entry in workbook.sheets if not entry.hidden]
    if len(visible) == 1:
        return visible
    message = f"no sheet is called {path.stem}; the sheets are {listed}"
    stated = f', or [records] {key} = "…" in workshop.toml' if key else ""
    accepted = f"one sheet called {path.stem}{stated}"
    raise UnreadableError(Problem("which-sheet", path.name, message, accepted=accepted))


def _header(text: str) -> str:
    return re.sub(r"\s+", " ", text).strip()


def _body(file: str, sheet: Sheet, known: frozenset[str]) -> _Body:
    """Return header and records of a sheet; the header is the row with most known names, the first of such."""
    filled = sorted(sheet.rows)
    if not filled:
        raise UnreadableError(
            Problem("empty-sheet", file, "the sheet is empty", sheet=sheet.name, accepted="a row of column names")
        )

    def score(row: int) -> int:
        return len({fold(split_header(_header(cell.text))[0]) for cell in sheet.rows[row].values()} & known)

    scores = {row: score(row) for row in filled[:HEADER_WITHIN]}
    best = max(scores, key=lambda row: scores[row])
    header_row = best if scores[best] >= HEADER_NAMES else filled[0]
    columns: dict[tuple[str, int], int] = {}
    headers: dict[tuple[str, int], str] = {}
    for place, cell in sorted(sheet.rows[header_row].items()):
        header = _header(cell.text)
        name = fold(split_header(header)[0])
        key = (name, sum(folded == name for folded, _ in columns))
        columns[key], headers[key] = place, header
    return _Body(sheet, header_row, columns, headers, [row for row in filled if row > header_row])


def _joined(file: str, bodies: list[_Body], records: ReadingSettings) -> WorkbookTable:
    """Return one table of the records of all sheets."""
    table = WorkbookTable(file, [], np.zeros(0, dtype=np.int64), bodies=bodies)
    table.decimal, table.stated = records.decimal or "", records.decimal is not None
    for body in bodies:
        _leave_notes(table, body)
    table.rows = np.array([row for body in bodies for row in body.rows], dtype=np.int64)
    table.sheets = [body.sheet.name for body in bodies for _ in body.rows]
    for key in dict.fromkeys(key for body in bodies for key in body.columns):
        _add_column(table, key)
    for body in bodies:
        _report_strays(table, body)
        _report_merged(table, body)
        _report_hidden(table, body)
    return table


def _leave_notes(table: WorkbookTable, body: _Body) -> None:
    """Take the rows below the table that hold text in one cell alone out of the records, with a warning for each."""
    while body.rows:
        cells = body.sheet.rows[body.rows[-1]]
        if len(cells) != 1 or next(iter(cells.values())).kind != "text":
            return
        ((place, cell),) = cells.items()
        row = body.rows.pop()
        message = "a row below the table with text in one cell alone is taken as a note and left out"
        accepted = "notes in a column of the table, or on another sheet"
        table.report_in(body, "note-row", message, accepted, row=row, place=place, read=cell.text, level="warning")


def _add_column(table: WorkbookTable, key: tuple[str, int]) -> None:
    """Add a column of all sheets; report its faulty cells, and units in which the sheets differ."""
    cells: list[Cell | None] = []
    holding = [body for body in table.bodies if key in body.columns]
    header = holding[0].headers[key]
    for body in table.bodies:
        place = body.columns.get(key, 0)
        cells += [body.sheet.rows[row].get(place) for row in body.rows]
    name, unit = split_header(header)
    for body in holding[1:]:
        if split_header(body.headers[key])[1] != unit:
            row, place, other = body.header_row, body.columns[key], body.headers[key]
            message = f"the sheets {holding[0].sheet.name} and {body.sheet.name} give this column different units"
            table.report_in(body, "sheets-differ", message, header, row=row, place=place, column=other, read=other)
    values = Coded.of("" if cell is None else cell.text for cell in cells)
    numbers = np.array([np.nan if cell is None else cell.number for cell in cells], dtype=float)
    table.columns.append(Column(header, name, unit, values, numbers))
    for index, one in enumerate(cells):
        if one is not None and one.kind in _FAULTS:
            table.tell(index, header, one)
    _doubt_days(table, header, cells)


def _doubt_days(table: WorkbookTable, header: str, cells: list[Cell | None]) -> None:
    """Warn of a column with days beside text that looks like days: an import may have swapped day and month."""
    swapped = any(cell is not None and cell.kind == "day" and int(cell.text[8:10]) <= 12 for cell in cells)
    as_text = next(
        (at for at, cell in enumerate(cells) if cell and cell.kind == "text" and _DAY_AS_TEXT.fullmatch(cell.text)),
        None,
    )
    if swapped and as_text is not None:
        message = (
            "text beside true dates in one column: the program that made them may have swapped day and month there"
        )
        cell = cells[as_text]
        table.report(
            "mixed-dates", as_text, header, message, read=cell.text if cell else None,
            accepted="one kind of date in the column; look at the days up to the 12th", level="warning",
        )  # fmt: skip


def _report_strays(table: WorkbookTable, body: _Body) -> None:
    """Report each cell beside a record that stands under no header."""
    places, accepted = set(body.columns.values()), f"a header in row {body.header_row}"
    for row in body.rows:
        for place in body.sheet.rows[row].keys() - places:
            read = body.sheet.rows[row][place].text
            table.report_in(body, "no-header", "a cell under no header", accepted, row=row, place=place, read=read)


def _report_merged(table: WorkbookTable, body: _Body) -> None:
    """Report merged cells among the records: all but the first of them are blank, and a blank has a meaning."""
    width = max(body.columns.values(), default=0)
    for top, left, bottom, right in body.sheet.merged:
        among = body.rows[bisect_left(body.rows, top) : bisect_right(body.rows, bottom)]
        if among and left <= width:
            name = f"{column_letters(left)}{top}:{column_letters(right)}{bottom}"
            message = f"the cells {name} are merged, so that all but the first are blank"
            accepted = "cells that are not merged, each with its value"
            table.report_in(body, "merged-cells", message, accepted, row=top, place=left)


def _runs(rows: Sequence[int]) -> str:
    """Return rows as a list of runs: 5, 7-9."""
    runs: list[tuple[int, int]] = []
    for row in rows:
        if runs and runs[-1][1] == row - 1:
            runs[-1] = (runs[-1][0], row)
        else:
            runs.append((row, row))
    listed = ", ".join(f"{first}" if first == last else f"{first}-{last}" for first, last in runs[:RUNS_LISTED])
    return f"{listed} and more" if len(runs) > RUNS_LISTED else listed


def _report_hidden(table: WorkbookTable, body: _Body) -> None:
    """Warn of records and columns that are read though the spreadsheet program hides them."""
    hidden = set(body.sheet.hidden_rows)
    rows = [row for row in body.rows if row in hidden]
    columns = [
        header
        for key, header in body.headers.items()
        if any(first <= body.columns[key] <= last for first, last in body.sheet.hidden_columns)
    ]
    for code, what, named in (
        ("hidden-rows", "rows", _runs(rows)),
        ("hidden-columns", "columns", ", ".join(columns)),
    ):
        if named:
            message = f"hidden {what} are read as well: {named}"
            table.report_in(body, code, message, f"{what} that are shown, or taken out of the sheet", level="warning")
