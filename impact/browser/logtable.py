"""The table of batches as a file: rows are changed, all else stays as it was, byte by byte.

Columns that the program does not know, their order, headers with units, empty rows, delimiter, encoding and line ends
stay. A row that is not touched is written as it was read.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from impact.base.catalogue import Names
from impact.base.files import read_regular
from impact.base.spellings import fold
from impact.base.units import split_header
from impact.records.columns import LogColumn, columns_meant, log_columns, usual_columns
from impact.tables.encoding import UndecodableError, decode
from impact.tables.headers import named
from impact.tables.table import delimiter_of

FILE = "batches.csv"
LIMIT = 60_000_000
"""Most that a table may hold that is mended through pages. [bytes]"""

_FORMULA = re.compile(r"[=+@\-\t\r]")
_NUMBER = re.compile(r"[+\-]?[\d.,]+\s*(?:[^\W\d_]*|%)")

Cells = dict[str, str]
"""The filled cells of a row, by the name of a known column, or by the header of another."""


class TableError(Exception):
    """Raised for a table that cannot be changed through pages; the text is a sentence that says why."""


@dataclass
class Record:
    """A row of the file.

    Attributes
    ----------
    raw : str
        As it stands in the file, with its line end.
    cells : list of str
        Its cells, stripped.
    """

    raw: str
    cells: list[str]

    @property
    def is_empty(self) -> bool:
        """Whether no cell holds anything."""
        return not any(self.cells)


@dataclass
class LogTable:
    """A table of batches.

    Attributes
    ----------
    records : list of Record
        The header, then all rows; a row's place plus one is its number in a spreadsheet.
    columns : list of (str, str, str or None)
        For each column its name here, its header as written, and the unit of that.
    """

    records: list[Record]
    columns: list[tuple[str, str, str | None]]
    _known: Mapping[str, LogColumn]
    _codec: str = "utf-8"
    _delimiter: str = ","
    _end: str = "\n"

    @property
    def names(self) -> list[str]:
        """The names of the columns, from left to right."""
        return [name for name, _, _ in self.columns]

    def unit(self, name: str) -> str | None:
        """Return the unit in the header of a column; None without one, or without that column."""
        return next((unit for one, _, unit in self.columns if one == name), None)

    def row_of(self, batch: str) -> int | None:
        """Return the place of the row of a batch among the records, None where there is none."""
        if "batch" not in self.names:
            return None
        at = self.names.index("batch")
        rows = enumerate(self.records[1:], 1)
        return next((n for n, one in rows if one.cells[at : at + 1] == [batch] and not one.is_empty), None)

    def cells(self, place: int) -> Cells:
        """Return the filled cells of the row at a place among the records."""
        found = self.records[place].cells
        return {name: cell for name, cell in zip(self.names, found, strict=False) if cell}

    def cells_of(self, batch: str) -> Cells | None:
        """Return the filled cells of a batch, None where it has no row."""
        place = self.row_of(batch)
        return None if place is None else self.cells(place)

    def batches(self) -> list[str]:
        """Return the names of all batches, from the top."""
        at = self.names.index("batch") if "batch" in self.names else len(self.names)
        return [one.cells[at] for one in self.records[1:] if one.cells[at : at + 1] not in ([], [""])]

    def put(self, batch: str, cells: Cells | None, *, place: int | None = None) -> None:
        """Give a batch these cells and no others: its row is changed, added at a place or at the end, or taken out for None.

        Raises
        ------
        TableError
            A cell cannot stand in the file's encoding.
        """
        found = self.row_of(batch)
        if cells is None:
            if found is not None:
                del self.records[found]
            return
        self._widen(cells)
        row = ["" for _ in self.columns]
        for name, cell in cells.items():
            row[self.names.index(name)] = cell
        while len(row) > len(self.records[0].cells) and not row[-1]:
            row.pop()  # what stands beyond the header in another row is no column of this one
        if found is not None and self.cells(found) == cells:
            return
        record = self._record(row)
        if found is not None:
            self.records[found] = record
        else:
            self._close_last()
            self.records.insert(len(self.records) if place is None else min(place, len(self.records)), record)

    def text(self) -> str:
        """Return the text of the file."""
        return "".join(record.raw for record in self.records)

    def content(self) -> bytes:
        """Return the file.

        Raises
        ------
        TableError
            A letter cannot stand in the file's encoding.
        """
        text = self.text()
        try:
            return text.encode(self._codec)
        except UnicodeEncodeError as error:
            letter = text[error.start : error.start + 1]
            raise TableError(
                f'"{letter}" cannot stand in {FILE}, which is kept as {self._codec}. Save it as UTF-8 in your spreadsheet first.'
            ) from None

    def _record(self, cells: Sequence[str]) -> Record:
        stream = io.StringIO(newline="")
        written = [harmless(cell) for cell in cells]
        csv.writer(stream, delimiter=self._delimiter, lineterminator=self._end).writerow(written)
        return Record(stream.getvalue(), list(cells))

    def _close_last(self) -> None:
        """Let the last row end its line, so that another can follow; rows that hold nothing are no place to stop at."""
        last = self.records[-1]
        if not last.raw.endswith(("\n", "\r")):
            last.raw += self._end

    def _widen(self, cells: Cells) -> None:
        """Add a column at the right for each cell that has none yet."""
        new = [name for name in cells if name not in self.names]
        if not new:
            return
        for name in new:
            self.columns.append((name, name, None))
        header = self.records[0]
        self.records[0] = self._record([one for _, one, _ in self.columns])
        if header.raw.startswith("\ufeff"):
            self.records[0].raw = f"\ufeff{self.records[0].raw}"
        for record in self.records[1:]:
            if not record.is_empty:
                body = record.raw.rstrip("\r\n")
                short = len(self.columns) - max(len(record.cells), 1)
                record.raw = f"{body}{self._delimiter * short}{record.raw[len(body) :]}"
                record.cells += [""] * short


def harmless(cell: str) -> str:
    """Return a text that no spreadsheet takes for a formula: a blank before it, which reading drops."""
    return f" {cell}" if _FORMULA.match(cell) and not _NUMBER.fullmatch(cell) else cell


def read_table(path: Path, names: Names, encoding: str | None) -> LogTable:
    """Return the table in a CSV file.

    Parameters
    ----------
    path : Path
        The file.
    names : Names
        The catalogue with the workshop's own names.
    encoding : str or None
        Encoding that the workshop names.

    Raises
    ------
    TableError
        It is no table of text with a header.
    OSError
        It cannot be read.
    """
    data = read_regular(path, limit=LIMIT)
    try:
        text, likely = decode(data, encoding)
    except UndecodableError as error:
        raise TableError(f"{path.name} cannot be changed here: {error.reason}. Save it as UTF-8 first.") from None
    if not text.strip():
        raise TableError(f"{path.name} is empty. Accepted: a header in row 1, or no such file.")
    marked = data.startswith(codecs.BOM_UTF8)
    codec = (
        "utf-16" if data[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE) else likely or _codec(text, data, encoding)
    )
    return parsed(text, names, codec="utf-8-sig" if marked else codec, name=path.name)


def _codec(text: str, data: bytes, encoding: str | None) -> str:
    """Return the codec in which a text without a mark was read."""
    if encoding is None or text.encode("utf-8") == data:
        return "utf-8"
    return {"macintosh": "mac_roman"}.get(encoding, encoding)


def parsed(text: str, names: Names, *, codec: str = "utf-8", name: str = FILE) -> LogTable:
    """Return the table that a text holds; arguments as of `read_table`.

    Raises
    ------
    TableError
        The text is no table with a header.
    """
    delimiter = delimiter_of(text)
    try:
        records = list(_records(text, delimiter))
    except csv.Error as error:
        raise TableError(f"{name} cannot be changed here: {error}") from None
    header = next((n for n, one in enumerate(records) if one.cells), None)
    if header != 0:
        raise TableError(f"{name} cannot be changed here: its row 1 holds no names of columns.")
    known = {column.name: column for column in log_columns(names)}
    beyond = max(len(one.cells) for one in records) - len(records[0].cells)
    columns = _distinct([_column(one, names, known) for one in (*records[0].cells, *[""] * beyond)])
    end = "\r\n" if records[0].raw.endswith("\r\n") else "\n"
    return LogTable(records, columns, known, codec, delimiter, end)


def _records(text: str, delimiter: str) -> Iterable[Record]:
    lines = list(io.StringIO(text, newline=""))
    reader = csv.reader(iter(lines), delimiter=delimiter)
    start = 0
    for row in reader:
        yield Record("".join(lines[start : reader.line_num]), [cell.strip() for cell in row])
        start = reader.line_num


def _distinct(columns: Sequence[tuple[str, str, str | None]]) -> list[tuple[str, str, str | None]]:
    """Return columns each with a name of its own, so that no cell takes another's place; one without a header has a number."""
    taken: set[str] = {one for one, _, _ in columns} | {header for _, header, _ in columns}
    found: list[tuple[str, str, str | None]] = []
    for number, (name, header, unit) in enumerate(columns, 1):
        names = {one for one, _, _ in found}
        own = next((one for one in (name, header) if one and one not in names), "")
        while not own:
            made = f"{header or 'column'} {number}"
            own, number = ("" if made in taken | names else made), number + len(columns)
        found.append((own, header, unit))
    return found


def _column(header: str, names: Names, known: Mapping[str, LogColumn]) -> tuple[str, str, str | None]:
    name, unit = split_header(header)
    found = named(name, {fold(one): one for one in known}, lambda word, ids: _meant(word, ids, names))
    return (found[0] if len(found) == 1 else header), header, unit


def _meant(header: str, known: Iterable[str], names: Names) -> list[str]:
    ids = list(known)
    return columns_meant(header, ids) or list(names.meant("grade", header, ids))


def new_table(names: Names, units: str) -> LogTable:
    """Return an empty table with the columns of a new log; `units` as of the workshop: metric or us."""
    stream = io.StringIO(newline="")
    csv.writer(stream, lineterminator="\n").writerow([column.header(units) for column in usual_columns(names)])
    return parsed(stream.getvalue(), names)
