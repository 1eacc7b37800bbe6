"""Sheets written to an XLSX file: text stays text, headers stay in sight, the same content gives the same bytes."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from xml.sax.saxutils import escape

from openpyxl import Workbook
from openpyxl.cell import Cell, WriteOnlyCell
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties

from impact.base.problems import shown
from impact.core.formula import Formula

LEADERS = ("=", "+", "-", "@", "\t", "\r", "\n", "#")
"""Starts of a text that a spreadsheet might take for a formula or an error."""

LONGEST = 32_000
"""Characters of a text in a cell; spreadsheets hold 32,767."""

ROWS = 1_048_576
"""Rows that a sheet of the format holds."""

WIDTH, FILL = 14.0, 1.0
"""Usual width of a column in characters, and the share of it that words fill before a line breaks."""

LINE_HEIGHT, TALLEST = 13.5, 400.0
"""Height of a line and the highest row that the format allows, about. [points]"""

TOP = Alignment(vertical="top")
RUNNING = Alignment(wrap_text=True, vertical="top", horizontal="left")

WIDE = 20
"""Columns above which a sheet is printed over several pages and not shrunk to one."""

EPOCH = (1980, 1, 1, 0, 0, 0)
"""Time stamp of every entry of the file, the earliest that its format can hold."""

SHEET_END = b"</sheetData>"
TAG = re.compile(rb"<[^<>]*>")
ROOT = re.compile(rb"<[\w:]+")
SPACE = re.compile(rb' xmlns(?::\w+)?="[^"]*"')
EMPTY = re.compile(rb"<([\w:]+)([^<>]*?) ?/>|<([\w:]+)([^<>]*)></\3>")
NUMBERED = re.compile(rb"&#(\d+);")
STAMP = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*(<)")


class TooLongError(Exception):
    """Raised when a sheet would have more rows than the format holds; the text is the one line to print."""


class Live(str):
    """The formula of a cell, without the sign of equality; never made from a text that somebody wrote."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Shown:
    """A cell with its number format."""

    value: Any
    number_format: str


ROW = "{r}"
"""Stands for the number of the row in a pattern."""


@dataclass(frozen=True, slots=True)
class PatternRows:
    """Rows of formulas that differ by the number of their row alone.

    They are put into the finished sheet as text, which takes a tenth of the time of single cells.

    Attributes
    ----------
    patterns : sequence of str
        Formula of each column, with `ROW` for the row; made of our own names alone.
    first, last : int
        First and last row.
    """

    patterns: Sequence[str]
    first: int
    last: int

    def xml(self) -> Iterator[bytes]:
        """Yield the rows as a sheet of the format writes them."""
        cells = "".join(
            f'<c r="{get_column_letter(place)}{ROW}"><f>{escape(pattern)}</f></c>'
            for place, pattern in enumerate(self.patterns, 1)
        )
        whole = f'<row r="{ROW}">{cells}</row>'
        for row in range(self.first, self.last + 1):
            yield whole.replace(ROW, str(row)).encode()


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
        Width of columns by their number from 1; others have `WIDTH`.
    wrapped : frozenset of int
        Columns whose texts run over several lines.
    further : PatternRows or None
        Rows that follow.
    """

    name: str
    title: str
    note: str
    header: Sequence[str]
    rows: Iterable[Sequence[Any]]
    widths: Mapping[int, float] = field(default_factory=dict)
    wrapped: frozenset[int] = frozenset()
    further: PatternRows | None = None

    def width(self, column: int) -> float:
        """Return the width of a column. [characters]"""
        return self.widths.get(column, WIDTH)


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

    def _cell(self, value: Any) -> Any:
        if isinstance(value, Shown):
            cell = WriteOnlyCell(self.page, value=self._cell(value.value))
            cell.number_format = value.number_format
            return cell
        if isinstance(value, (Live, Formula)):
            return "=" + (value.text if isinstance(value, Formula) else value)
        if value == "" or value != value:
            return None
        return self._text(value) if isinstance(value, str) else value

    def _aligned(self, value: Any, column: int) -> Any:
        """Return a cell at the top of its row; those of wrapped columns run over several lines from the left."""
        found = self._cell(value)
        if found is None:
            return None
        cell = found if isinstance(found, Cell) else WriteOnlyCell(self.page, value=found)
        cell.alignment = RUNNING if column in self.sheet.wrapped else TOP
        return cell

    def _fit(self, row: int, texts: Iterable[tuple[int, Any]]) -> None:
        """Set the height of a row to that of its longest text; programs differ in whether they do so by themselves."""
        lines = [
            sum(-(-max(len(line), 1) // int(self.sheet.width(column) * FILL)) for line in text.split("\n"))
            for column, text in texts
            if isinstance(text, str)
        ]
        if max(lines, default=1) > 1:
            self.page.row_dimensions[row].height = min(LINE_HEIGHT * max(lines), TALLEST)

    def write(self) -> None:
        page, sheet = self.page, self.sheet
        columns = max(len(sheet.header), 1)
        for column in range(1, columns + 1):
            page.column_dimensions[get_column_letter(column)].width = sheet.width(column)
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
        self._fit(3, enumerate(sheet.header, 1))
        page.append([self._text(name, font=Font(bold=True), alignment=RUNNING) for name in sheet.header])
        for number, row in enumerate(sheet.rows, 4):
            if sheet.wrapped:
                self._fit(number, ((column, row[column - 1]) for column in sheet.wrapped))
                page.append([self._aligned(value, column) for column, value in enumerate(row, 1)])
            else:
                page.append([self._cell(value) for value in row])


def book_bytes(sheets: Iterable[Sheet], *, title: str, creator: str, day: date | None, packed: bool = True) -> bytes:
    """Return sheets as an XLSX file with some properties; `day` and `packed` as of `repeatable`.

    Raises
    ------
    TooLongError
        When there are more batches than rows in a sheet.
    """
    sheets = list(sheets)
    further = {
        f"xl/worksheets/sheet{number}.xml": sheet.further
        for number, sheet in enumerate(sheets, 1)
        if sheet.further is not None
    }
    for rows in further.values():
        if rows.last > ROWS:
            raise TooLongError(
                f"{rows.last - rows.first + 1:,} batches are too many for a sheet, which holds {ROWS:,} rows; "
                "narrow them with --period, --part or --site"
            )
    book = Workbook(write_only=True)
    for sheet in sheets:
        _Writer(book, sheet).write()
    book.properties.title, book.properties.creator = clean(title), creator
    book.calculation.fullCalcOnLoad = True
    return repeatable(book, day, further, packed=packed)


def repeatable(
    book: Workbook,
    day: date | None = None,
    further: Mapping[str, PatternRows] | None = None,
    *,
    packed: bool = True,
) -> bytes:
    """Return a workbook as a file whose bytes do not depend on when it was written, nor on which library of XML is there.

    Without a `day` of its own the format writes 1980-01-01. `further` rows follow those of a sheet, by its name in the
    archive. One that is not `packed` does not hang on the version of what packs either.
    """
    kind = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
    written = io.BytesIO()
    book.save(written)
    further = further or {}
    moment = datetime(day.year, day.month, day.day) if day is not None else datetime(*EPOCH)
    stamp = rb"\g<1>" + moment.strftime("%Y-%m-%dT%H:%M:%SZ").encode() + rb"\g<2>"
    found = io.BytesIO()
    with zipfile.ZipFile(written) as source, zipfile.ZipFile(found, "w", kind) as target:
        for name in source.namelist():
            entry = zipfile.ZipInfo(name, EPOCH)
            entry.compress_type = kind
            entry.external_attr = 0o600 << 16
            with source.open(name) as old, target.open(entry, "w") as new:
                content = old.read()
                if name == "docProps/core.xml":
                    content = STAMP.sub(stamp, content)
                if name.endswith((".xml", ".rels")):
                    content = written_alike(content)
                before, end, after = content.partition(SHEET_END)
                new.write(before)
                for row in further[name].xml() if name in further else ():
                    new.write(row)
                new.write(end + after)
    return found.getvalue()


def written_alike(content: bytes) -> bytes:
    """Return a part of a workbook in one way of writing, whichever library of XML wrote it.

    The workbook library takes another one where it is installed, which writes empty elements, letters beyond ASCII and names
    of namespaces otherwise. Canonical XML of the standard library takes ten times as long, and hangs on names that others
    registered.
    """
    found = NUMBERED.sub(_letter, EMPTY.sub(rb"<\1\3\2\4/>", content))
    if found.count(b" xmlns") < 2:
        return found
    spaces = sorted({space for tag in TAG.findall(found) for space in SPACE.findall(tag)})
    if len({space.partition(b"=")[0] for space in spaces}) < len(
        spaces
    ):  # one name for two, which the root cannot hold
        return found
    bare = TAG.sub(lambda tag: SPACE.sub(b"", tag[0]), found)
    return ROOT.sub(lambda root: root[0] + b"".join(spaces), bare, count=1)


def _letter(number: re.Match[bytes]) -> bytes:
    """Return a letter beyond ASCII in place of its number; marks of control stay."""
    code = int(number[1])
    return chr(code).encode() if code > 127 else number[0]
