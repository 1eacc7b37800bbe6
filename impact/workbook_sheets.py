"""Sheets written to an XLSX file: text stays text, headers stay in sight, the same content gives the same bytes."""

from __future__ import annotations

import io
import re
import shutil
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties

from impact.formulas import Formula
from impact.problems import shown

LEADERS = ("=", "+", "-", "@", "\t", "\r", "\n", "#")
"""Starts of a text that a spreadsheet might take for a formula or an error."""

LONGEST = 32_000
"""Characters of a text in a cell; spreadsheets hold 32,767."""

WIDE = 20
"""Columns above which a sheet is printed over several pages and not shrunk to one."""

EPOCH = (1980, 1, 1, 0, 0, 0)
"""Time stamp of every entry of the file, the earliest that its format can hold."""

STAMP = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*(<)")


class Live(str):
    """The formula of a cell, without the sign of equality; never made from a text that somebody wrote."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Shown:
    """A cell with its number format."""

    value: Any
    number_format: str


@dataclass(frozen=True)
class Sheet:
    """One table.

    Attributes
    ----------
    name : str
        Name of the sheet.
    title, note : str
        What it holds, in the first two rows.
    header : sequence of str
        Third row.
    rows : iterable of sequences
        Cells: texts, numbers, dates, None for blank, `Formula`, `Live` or `Shown`.
    widths : mapping of int to float
        Width of columns by their number from 1; others have 14.
    wrapped : frozenset of int
        Columns whose texts run over several lines.
    """

    name: str
    title: str
    note: str
    header: Sequence[str]
    rows: Iterable[Sequence[Any]]
    widths: Mapping[int, float] = field(default_factory=dict)
    wrapped: frozenset[int] = frozenset()


def clean(text: str) -> str:
    """Return a text fit for a cell: control marks escaped, not too long."""
    return "\n".join(shown(line.replace("\u00a0", " ")) for line in text[:LONGEST].split("\n"))[:LONGEST]


class _Writer:
    def __init__(self, book: Workbook, sheet: Sheet) -> None:
        self.sheet = sheet
        self.page = book.create_sheet(sheet.name)

    def _text(self, text: str, **style: Any) -> Any:
        """Return a text as a cell, marked as text where it might be taken for more."""
        cleaned = clean(text)
        if not style and not text.startswith(LEADERS):
            return cleaned
        cell = WriteOnlyCell(self.page, value=cleaned)
        cell.data_type = "s"
        if text.startswith(LEADERS):
            cell.quotePrefix = True
        for name, value in style.items():
            setattr(cell, name, value)
        return cell

    def _cell(self, value: Any, column: int) -> Any:
        if isinstance(value, Shown):
            cell = WriteOnlyCell(self.page, value=self._cell(value.value, column))
            cell.number_format = value.number_format
            return cell
        if isinstance(value, (Live, Formula)):
            return "=" + (value.text if isinstance(value, Formula) else value)
        if isinstance(value, str):
            if value == "":
                return None
            style = {"alignment": Alignment(wrap_text=True, vertical="top")} if column in self.sheet.wrapped else {}
            return self._text(value, **style)
        if isinstance(value, float) and value != value:
            return None
        return value

    def write(self) -> None:
        page, sheet = self.page, self.sheet
        columns = max(len(sheet.header), 1)
        for column in range(1, columns + 1):
            page.column_dimensions[get_column_letter(column)].width = sheet.widths.get(column, 14)
        page.freeze_panes = "B4"
        page.print_title_rows = "3:3"
        page.page_setup.orientation = "landscape"
        page.page_setup.paperSize = "9"
        page.oddFooter.center.text = "&A, page &P of &N"
        if columns > WIDE:
            page.print_title_cols = "A:B"
        else:
            page.page_setup.fitToWidth, page.page_setup.fitToHeight = 1, 0
            page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
        page.append([self._text(sheet.title, font=Font(bold=True, size=14))])
        page.append([self._text(sheet.note)])
        bold = {"font": Font(bold=True), "alignment": Alignment(wrap_text=True, vertical="top")}
        page.append([self._text(name, **bold) for name in sheet.header])
        for row in sheet.rows:
            page.append([self._cell(value, column) for column, value in enumerate(row, 1)])


def book_bytes(sheets: Iterable[Sheet], *, title: str, creator: str, day: date | None) -> bytes:
    """Return sheets as an XLSX file.

    Parameters
    ----------
    sheets : iterable of Sheet
        In their order.
    title, creator : str
        Properties of the document.
    day : datetime.date or None
        Day of the document; None for no day of its own, which the format writes as 1980-01-01.
    """
    book = Workbook(write_only=True)
    for sheet in sheets:
        _Writer(book, sheet).write()
    book.properties.title, book.properties.creator = clean(title), creator
    book.calculation.fullCalcOnLoad = True
    written = io.BytesIO()
    book.save(written)
    moment = datetime(day.year, day.month, day.day) if day is not None else datetime(*EPOCH)
    return _repeatable(written, moment)


def _repeatable(written: io.BytesIO, moment: datetime) -> bytes:
    """Return the file with fixed time stamps."""
    stamp = rb"\g<1>" + moment.strftime("%Y-%m-%dT%H:%M:%SZ").encode() + rb"\g<2>"
    found = io.BytesIO()
    with zipfile.ZipFile(written) as source, zipfile.ZipFile(found, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            entry = zipfile.ZipInfo(name, EPOCH)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o600 << 16
            with source.open(name) as old, target.open(entry, "w") as new:
                if name == "docProps/core.xml":
                    new.write(STAMP.sub(stamp, old.read()))
                else:
                    shutil.copyfileobj(old, new, 1 << 20)
    return found.getvalue()
