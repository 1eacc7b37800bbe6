"""The log sheet of a new workshop folder: a workbook to type batches into, or to print for the clipboard."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter, quote_sheetname
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.page import PageMargins
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from impact.base.catalogue import Names
from impact.records.columns import LogColumn, further_columns, ids_of, usual_columns
from impact.records.workshop import Units
from impact.tables.xlsx_out import repeatable

LAST_ROW = 2_000
"""Last row in which the log checks what is typed; `impact check` looks at all."""

LINED_ROWS = 40
"""Rows with lines around their cells, to be printed and filled in by hand."""

LINE_HEIGHT = 30.0
"""Height of a lined row, enough for handwriting. [points]"""

LISTED_PARTS = 200
"""Parts that the list has room for."""

LISTED = {"part": "parts (add yours below)", "binder": "binders", "loss": "where rejects and trim go"}
"""Kinds of columns whose ids are picked from a list, and the title of the list."""

LOG, LISTS, HELP = "batches", "lists", "help"
THIN = Side(style="thin", color="808080")
LINES = Border(left=THIN, right=THIN, top=THIN, bottom=THIN)
BOLD, SMALL = Font(bold=True), Font(bold=True, size=9)
SHADE = PatternFill("solid", fgColor="E7EEF4")
RUNNING = Alignment(wrap_text=True, vertical="top")
AMOUNTS = ("paper", "mass", "volume", "length", "energy")

CHECKS: dict[str, tuple[str, str | None, str, str]] = {
    "day": ("date", "greaterThanOrEqual", "DATE(2000,1,1)", "A day from the year 2000 on, such as 2026-01-31."),
    "count": ("whole", "greaterThanOrEqual", "0", "A whole number, 0 or more."),
    **dict.fromkeys(AMOUNTS, ("custom", None, "OR(ISTEXT({first}),{first}>=0)", "A number, 0 or more.")),
}
"""Check of what is typed, by the kind of a column; a text passes as an amount: it may carry a unit, or name a device."""

HELP_WIDTHS = (22.0, 46.0, 32.0, 24.0)
"""Widths of the columns of the sheet help. [characters]"""

READING = Path(__file__).with_name("logsheet_help.csv")
"""How to fill in the log: what a row is about, and what to do."""


def log_sheet(names: Names, *, parts: Sequence[str], units: Units, paper: str) -> bytes:
    """Return a workbook with the sheets `batches` (empty, headers in `units`), `lists` (of `parts`) and `help`.

    They are set up for `paper`, as `impact.base.locale.paper_size` names it.
    """
    book = Workbook()
    book.remove(book.active)
    columns = usual_columns(names)
    _write_log(book.create_sheet(LOG), columns, units)
    lists: dict[str, list[str]] = {
        kind: list(ids or ()) for kind, ids in ids_of(names, parts).items() if kind in LISTED
    }
    ranges = _write_lists(book.create_sheet(LISTS), lists)
    _write_help(book.create_sheet(HELP), columns, further_columns(names), units)
    for name, orientation, pages in ((LOG, "landscape", 0), (LISTS, "portrait", 0), (HELP, "portrait", 1)):
        _set_up(book[name], orientation, paper, pages)
    for place, column in enumerate(columns, 1):
        _check_typing(book[LOG], place, column, ranges)
    book.properties.title, book.properties.creator = "Log of batches", "pulp-impact"
    return repeatable(book)


def _write_log(page: Worksheet, columns: Sequence[LogColumn], units: Units) -> None:
    for place, column in enumerate(columns, 1):
        letter = get_column_letter(place)
        page.column_dimensions[letter].width = column.width
        page.column_dimensions[letter].number_format = _format(column)
        head = page.cell(1, place, column.header(units))
        head.font, head.fill, head.border = SMALL, SHADE, LINES
        head.alignment = Alignment(wrap_text=True, vertical="center", horizontal="center")
        for row in range(2, LINED_ROWS + 2):
            cell = page.cell(row, place)
            cell.border, cell.number_format = LINES, _format(column)
    page.row_dimensions[1].height = 1.6 * LINE_HEIGHT
    for row in range(2, LINED_ROWS + 2):
        page.row_dimensions[row].height = LINE_HEIGHT
    page.freeze_panes = "D2"
    page.print_title_rows = "1:1"
    page.print_options.gridLines = True


def _format(column: LogColumn) -> str:
    """Return the number format of a column; names stay as typed, so that 001 is not turned into 1."""
    return {"day": "yyyy-mm-dd", "name": "@", "part": "@"}.get(column.kind, "General")


def _set_up(page: Worksheet, orientation: str, paper: str, pages: int) -> None:
    """Set a sheet up for printing: as wide as the paper, on so many pages, or on as many as it needs where 0."""
    page.page_setup.orientation = orientation
    page.page_setup.paperSize = page.PAPERSIZE_LETTER if paper == "letter" else page.PAPERSIZE_A4
    page.page_setup.fitToWidth, page.page_setup.fitToHeight = 1, pages
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    page.page_margins = PageMargins(left=0.4, right=0.4, top=0.4, bottom=0.8, header=0.3, footer=0.3)
    page.oddFooter.center.text = "&A, page &P of &N"


def _write_lists(page: Worksheet, lists: Mapping[str, Sequence[str]]) -> dict[str, str]:
    """Write what can be picked; return the range of each list, that of the parts as long as its names."""
    ranges = {}
    sheet = quote_sheetname(LISTS)
    for place, (kind, entries) in enumerate(lists.items(), 1):
        letter = get_column_letter(place)
        page.column_dimensions[letter].width = 28.0
        page.cell(1, place, LISTED[kind]).font = BOLD
        for row, entry in enumerate(entries, 2):
            page.cell(row, place, entry)
        if kind == "part":
            page.column_dimensions[letter].number_format = "@"
            names = f"{sheet}!${letter}$2:${letter}${LISTED_PARTS + 1}"
            ranges[kind] = f"OFFSET({sheet}!${letter}$2,0,0,MAX(1,COUNTA({names})),1)"
        else:
            ranges[kind] = f"{sheet}!${letter}$2:${letter}${len(entries) + 1}"
    page.freeze_panes = "A2"
    return ranges


def _check_typing(page: Worksheet, place: int, column: LogColumn, ranges: dict[str, str]) -> None:
    """Add the check of what is typed into a column."""
    letter = get_column_letter(place)
    check = _check(column, f"{letter}2", ranges)
    if check is None:
        return
    check.errorTitle, check.showErrorMessage = column.name, True
    check.promptTitle, check.prompt, check.showInputMessage = column.name, _prompt(column), True
    check.add(f"{letter}2:{letter}{LAST_ROW}")
    page.add_data_validation(check)


def _check(column: LogColumn, first: str, ranges: dict[str, str]) -> DataValidation | None:
    if column.kind in ranges:
        check = DataValidation(type="list", formula1=ranges[column.kind], allow_blank=True)
        if column.kind == "part":
            check.errorStyle = "warning"
            check.error = "This part is not in the sheet lists. Add it there and to parts.csv."
        else:
            check.error = "Please pick one from the list."
        return check
    if column.kind not in CHECKS:
        return None
    type_, operator, formula, error = CHECKS[column.kind]
    return DataValidation(
        type=type_, operator=operator, formula1=formula.format(first=first), allow_blank=True, error=error
    )


def _prompt(column: LogColumn) -> str:
    """Return what a program shows while the cell is filled in."""
    lines = [column.meaning[0].upper() + column.meaning[1:]]
    if column.kind == "energy":
        lines.append("kWh of a meter, or: blender 12 min")
    lines += [f"Blank: {column.blank}"] if column.blank else []
    lines += [f"0: {column.zero}"] if column.zero else []
    return ".\n".join(lines) + "."


def _write_help(page: Worksheet, usual: Sequence[LogColumn], further: Sequence[LogColumn], units: Units) -> None:
    for place, width in enumerate(HELP_WIDTHS, 1):
        page.column_dimensions[get_column_letter(place)].width = width
    page.cell(1, 1, "How to fill in the sheet batches: one row for each batch").font = BOLD
    reading = csv.reader(io.StringIO(READING.read_text(encoding="utf-8")))
    next(reading)
    for row, (title, text) in enumerate(reading, 3):
        _help_row(page, row, [title, text], (HELP_WIDTHS[0], sum(HELP_WIDTHS[1:])))
        page.merge_cells(start_row=row, start_column=2, end_row=row, end_column=len(HELP_WIDTHS))
        page.cell(row, 1).font = BOLD
    row += 1
    for title, columns in (("in the log", usual), ("may be added", further)):
        row += 1
        for place, head in enumerate((title, "what to write", "a blank means", "0 means"), 1):
            page.cell(row, place, head).font = BOLD
            page.cell(row, place).fill, page.cell(row, place).alignment = SHADE, RUNNING
        for one in columns:
            row += 1
            _help_row(page, row, [one.header(units), one.meaning, one.blank, one.zero], HELP_WIDTHS)
        row += 1


def _help_row(page: Worksheet, row: int, texts: Sequence[str], widths: Sequence[float]) -> None:
    """Write a row of texts over as many lines as they need; programs differ in whether they fit the height themselves."""
    for place, text in enumerate(texts, 1):
        page.cell(row, place, text or None).alignment = RUNNING
    lines = max(-(-len(text) // int(width * 0.9)) for text, width in zip(texts, widths, strict=True))
    page.row_dimensions[row].height = 15.0 * max(lines, 1)
