"""A copy of the log with its faulty cells marked: a fill, a note with the problem in words, and a list of all problems."""

from __future__ import annotations

import io
from collections import defaultdict
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from impact.base.files import read_regular
from impact.base.problems import Problem, shown
from impact.base.spellings import fold
from impact.base.units import split_header
from impact.records.files import choose_file, reading_settings
from impact.tables.table import UnreadableError, read_rows
from impact.tables.xlsx import FILE_LIMIT, WorkbookError, open_workbook
from impact.tables.xlsx_cells import column_letters

LIST = "problems found"
"""Name of the sheet that lists every problem."""

MARKS_LIMIT = 2_000
"""Most cells that are marked; the list names the others as well."""

TEXT_LIMIT = 32_767
"""Most characters of a cell in a workbook."""

_FILLS = {"error": ("solid", "F4B183"), "warning": ("lightUp", "FFD966")}
"""Pattern and colour; the patterns differ, so that the meaning does not hang on the colour."""


class MarkError(Exception):
    """Raised when there is no log that could be copied; the text is the one line to print."""


def marked_log(folder: Path, problems: Sequence[Problem]) -> bytes:
    """Return a workbook: the log of a folder as it was, or converted from CSV, with every problem in its place and in a list.

    Text stays text even where it starts like a formula; formulas of a workbook stay formulas, without their saved results.
    Macros and links to other files are left out.

    Raises
    ------
    MarkError
        There is no CSV file or workbook of batches that can be read.
    """
    path, problem = choose_file(folder, "batches")
    if problem is not None or path.suffix not in (".csv", ".xlsx"):
        raise MarkError(f"{path.name}: one batches.csv or batches.xlsx can be copied and marked, and nothing else")
    try:
        book = _from_workbook(path) if path.suffix == ".xlsx" else _from_csv(path, folder)
    except (OSError, WorkbookError, UnreadableError) as error:
        reason = error.problem.message if isinstance(error, UnreadableError) else error
        raise MarkError(f"{path.name} cannot be copied and marked: {reason}") from None
    _list(book, problems)
    _mark(book, [problem for problem in problems if problem.file == path.name])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _from_workbook(path: Path) -> Any:
    """Return the workbook, every part of which was looked at for hostile content first."""
    import openpyxl

    data = read_regular(path, limit=FILE_LIMIT)
    workbook = open_workbook(data)
    workbook.check_all()
    try:
        return openpyxl.load_workbook(io.BytesIO(data), keep_links=False)
    except Exception as error:  # the library raises whatever a damaged part makes it trip over
        raise WorkbookError("bad-workbook", f"a part of it is damaged ({type(error).__name__})") from None


def _from_csv(path: Path, folder: Path) -> Any:
    import openpyxl

    book = openpyxl.Workbook()
    for number, row in enumerate(read_rows(path, accepted="batches.csv", records=reading_settings(folder)), start=1):
        for place, text in enumerate(row, start=1):
            if text:
                _write(book.active, number, place, text)
    book.active.title = "batches"
    return book


def _write(page: Any, row: int, column: int, text: str) -> Any:
    """Write text as text, whatever it starts with."""
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    cell = page.cell(row, column, "")
    cell.value = ILLEGAL_CHARACTERS_RE.sub("�", text)[:TEXT_LIMIT]
    cell.data_type = "s"
    cell.quotePrefix = True
    return cell


def _list(book: Any, problems: Iterable[Problem]) -> None:
    """Add the list of all problems as the last sheet."""
    page = book.create_sheet(LIST)
    for number, row in enumerate([("kind", "problem"), *((one.level, str(one)) for one in problems)], start=1):
        for place, text in enumerate(row, start=1):
            _write(page, number, place, text)
    page.column_dimensions["B"].width = 120


def _mark(book: Any, problems: Iterable[Problem]) -> None:
    places: dict[tuple[str, str], list[Problem]] = defaultdict(list)
    for problem in problems:
        place = _place(book, problem)
        if place is not None:
            places[place].append(problem)
    for (sheet, cell), found in list(places.items())[:MARKS_LIMIT]:
        _mark_cell(_first_of_merged(book[sheet], cell), found)


def _place(book: Any, problem: Problem) -> tuple[str, str] | None:
    """Return sheet and cell of a problem; None where it is about a whole row or file."""
    sheet = problem.sheet or book.sheetnames[0]
    if sheet not in book.sheetnames or problem.row is None:
        return None
    if problem.cell is not None:
        return sheet, problem.cell
    wanted = fold(split_header(problem.column or "")[0])
    last = 1 if problem.sheet is None else problem.row
    for row in book[sheet].iter_rows(min_row=1, max_row=last, values_only=True):
        for place, value in enumerate(row, start=1):
            if wanted and isinstance(value, str) and fold(split_header(value)[0]) == wanted:
                return sheet, f"{column_letters(place)}{problem.row}"
    return None


def _first_of_merged(page: Any, cell: str) -> Any:
    """Return the cell, or the first of the merged cells that it is one of."""
    for merged in page.merged_cells.ranges:
        if cell in merged:
            return page.cell(merged.min_row, merged.min_col)
    return page[cell]


def _mark_cell(cell: Any, problems: Sequence[Problem]) -> None:
    from openpyxl.comments import Comment
    from openpyxl.styles import PatternFill

    level = min(problem.level for problem in problems)
    pattern, colour = _FILLS[level]
    cell.fill = PatternFill(pattern, fgColor=colour, bgColor="FFFFFF")
    lines = [
        f"{problem.level.upper()}: {shown(problem.message)}. Accepted: {shown(problem.accepted or '-')}"
        for problem in problems
    ]
    if cell.comment is not None:
        lines.append(cell.comment.text)
    cell.comment = Comment("\n".join(lines)[:TEXT_LIMIT], "impact check", height=120, width=320)
