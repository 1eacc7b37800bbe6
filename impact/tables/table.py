"""Tables as people keep them: CSV and Parquet files read to columns of text or numbers, with spreadsheet rows."""

from __future__ import annotations

import csv
import io
import re
from array import array
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np

from impact.base.files import SETTINGS_LIMIT, NotRegularError, read_regular
from impact.base.problems import Level, Problem, which_of
from impact.base.spellings import fold
from impact.base.units import split_header
from impact.core import FloatArray
from impact.tables.encoding import UndecodableError, decode
from impact.tables.headers import HARDLY, HEADERS, Meant, hint, named
from impact.tables.settings import ReadingSettings
from impact.tables.texts import Coded, Flags, Texts


class UnreadableError(Exception):
    """Raised when a file cannot be read at all; carries its one problem."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        super().__init__(str(problem))


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    header : str
        Header as written.
    name : str
        Header without its unit.
    unit : str or None
        Unit in the header's square brackets.
    values : Texts or ndarray
        Stripped text with "" for a blank; or numbers or days where the file has types, blank where NaN or NaT.
    numbers : ndarray or None
        The cells of a text column that the file keeps as numbers, NaN elsewhere; None where it keeps text alone.
    written : callable or None
        Reads the cells again as text, where `values` were turned into numbers from text.
    """

    header: str
    name: str
    unit: str | None
    values: Texts | np.ndarray[Any, Any]
    numbers: FloatArray | None = None
    written: Callable[[], Texts] | None = None

    def kept(self, rows: Flags) -> Column:
        """Return the column with some rows only."""
        written, values = self.written, self.values
        return replace(
            self,
            values=values[rows] if isinstance(values, np.ndarray) else values.kept(rows),
            numbers=None if self.numbers is None else self.numbers[rows],
            written=None if written is None else (lambda: written().kept(rows)),
        )

    @cached_property
    def as_written(self) -> Column:
        """The column with its cells as they stand in the file."""
        return self if self.written is None else replace(self, values=self.written(), written=None)

    @property
    def is_days(self) -> bool:
        """Whether the cells are days."""
        return isinstance(self.values, np.ndarray) and self.values.dtype.kind == "M"

    @property
    def blank(self) -> Flags:
        """Which cells hold nothing."""
        if not isinstance(self.values, np.ndarray):
            return self.values.blank
        if self.values.dtype.kind not in "fM":
            return np.zeros(len(self.values), dtype=bool)
        blank: Flags = np.isnat(self.values) if self.is_days else np.isnan(self.values)
        return blank

    @property
    def text(self) -> Texts:
        """The cells as text, whole numbers without a decimal point, blanks as ""."""
        values = self.as_written.values
        if not isinstance(values, np.ndarray):
            return values
        cells = values.astype(float) if values.dtype.kind == "f" else values  # small floats turn to powers of ten early
        texts = [re.sub(r"\.0$", "", str(value)) for value in cells]
        return Coded.of("" if blank else text for text, blank in zip(texts, self.blank.tolist(), strict=True))


@dataclass
class Table:
    """A table and the problems found in it so far.

    Attributes
    ----------
    file : str
        Name of the file.
    columns : list of Column
        Columns with a header, in the file's order.
    rows : numpy.ndarray
        Row of each record as a spreadsheet numbers it, the header being row 1.
    decimal : {".", ",", ""}
        Decimal mark of the file; "" where nothing is known.
    stated : bool
        Whether the workshop states that mark; otherwise it is only what is usual in such a file.
    problems : list of Problem
        Grows as the table is read.
    records : int
        Rows read, empty ones included.
    """

    file: str
    columns: list[Column]
    rows: np.ndarray[Any, np.dtype[np.int64]]
    decimal: str = "."
    stated: bool = False
    problems: list[Problem] = field(default_factory=list)
    records: int = 0

    def report(
        self,
        code: str,
        index: int | None,
        column: str | None,
        message: str,
        *,
        read: str | None,
        accepted: str | None,
        level: Level = "error",
    ) -> None:
        """Note a problem in the record at position `index`, or in the header when it is None."""
        row = 1 if index is None else int(self.rows[index])
        problem = Problem(code, self.file, message, row=row, column=column, read=read, accepted=accepted, level=level)
        self.problems.extend(self._placed(problem, index))

    def _placed(self, problem: Problem, index: int | None) -> list[Problem]:
        """Return a problem with all that is known of its place; nothing where it was told."""
        return [problem]

    def row_name(self, index: int) -> str:
        """Return where the record at position `index` stands, in words."""
        return f"row {self.rows[index]}"

    def pick(
        self, known: Iterable[str], *, refused: Mapping[str, str] | None = None, meant: Meant | None = None
    ) -> dict[str, Column]:
        """Return the columns by their known name; report unknown and duplicate ones, and a header that is missing.

        Headers match whatever their case, spaces, hyphens and underscores, or where `meant` gives one name alone for them.
        Names that are `refused` for a reason are known but not accepted: an error for every cell that holds something.
        """
        refused = refused or {}
        names = {fold(name): name for name in (*known, *refused)}
        found: dict[str, Column] = {}
        stands = [(column, named(column.name, names, meant)) for column in self.columns]
        if len(stands) >= HEADERS and sum(bool(ids) for _, ids in stands) <= HARDLY * len(stands):
            message = "hardly a cell here is the name of a column: the row with the names is missing"
            accepted = f"a first row with the names of the columns, such as {', '.join(list(names.values())[:4])}"
            self.problems = [problem for problem in self.problems if problem.code != "no-header"]
            self.report("missing-header", None, None, message, read=self.columns[0].header, accepted=accepted)
            return {}
        for column, ids in stands:
            if len(ids) == 1 and ids[0] not in found:
                found[ids[0]] = column
                continue
            code, message = "unknown-column", "unknown column"
            if len(ids) > 1:
                code, message, accepted = "ambiguous-column", which_of(column.name, ids, {}), " or ".join(ids)
            elif ids:
                code, message, accepted = (
                    "duplicate-column",
                    "the column stands in the table twice",
                    f"one column {ids[0]}",
                )
            else:
                accepted = hint(column.name, names, refused)
            self.report(code, None, column.header, message, read=column.header, accepted=accepted)
        for name in refused.keys() & found.keys():
            self._refuse_cells(found.pop(name), name, refused[name])
        return found

    def _refuse_cells(self, column: Column, name: str, reason: str) -> None:
        texts = column.text.coded()
        for index in (~(column.blank | texts.where_any(["0", "0.0"]))).nonzero()[0]:
            message = f"{name} cannot be pulped here: {reason}"
            self.report(
                "excluded-grade", int(index), column.header, message, read=texts[int(index)], accepted="a blank cell"
            )

    def require(self, found: Mapping[str, Column], required: Iterable[str]) -> None:
        """Report each required column that the table lacks; where the whole header is missing, that was told."""
        for name in required:
            if name not in found and all(problem.code != "missing-header" for problem in self.problems):
                self.report("missing-column", None, name, f"the column {name} is missing", read=None, accepted=name)


def read_bytes(path: Path, *, accepted: str, limit: int | None = None) -> bytes:
    """Return the content of a regular file of up to `limit` bytes.

    Raises
    ------
    UnreadableError
        There is no such file, it is a folder or a device, it is too large, or it cannot be read.
    """
    with refusing(path, accepted):
        return read_regular(path, limit=limit)


@contextmanager
def refusing(path: Path, accepted: str) -> Iterator[None]:
    """Turn what the system says about a file into the problem of one that cannot be read.

    Raises
    ------
    UnreadableError
        There is no such file, it is a folder or a device, it is too large, or it cannot be read.
    """
    try:
        yield
    except FileNotFoundError:
        raise UnreadableError(Problem("missing-file", path.name, "there is no such file", accepted=accepted)) from None
    except NotRegularError as error:
        raise UnreadableError(Problem(error.code, path.name, error.reason, accepted=accepted)) from None
    except OSError as error:
        reason = f"it cannot be read: {error.strerror}"
        raise UnreadableError(Problem("unreadable-file", path.name, reason, accepted=accepted)) from None


def read_text(path: Path, *, accepted: str, limit: int | None = SETTINGS_LIMIT) -> str:
    """Return the content of a UTF-8 text file of up to `limit` bytes, with or without a byte order mark.

    Raises
    ------
    UnreadableError
        There is no such file, it is too large, it is not text, or not UTF-8.
    """
    data = read_bytes(path, accepted=accepted, limit=limit)
    try:
        return content_of(path, data.decode("utf-8-sig"), accepted)
    except UnicodeDecodeError as error:
        raise _wrong_encoding(path, data, error.start, "the text is not UTF-8", accepted) from None


def _wrong_encoding(path: Path, data: bytes, start: int, reason: str, accepted: str) -> UnreadableError:
    row = data.count(b"\n", 0, start) + 1
    return UnreadableError(
        Problem("wrong-encoding", path.name, reason, row=row, accepted=f"{accepted}, saved as UTF-8")
    )


def content_of(path: Path, text: str, accepted: str) -> str:
    """Return a text that was read from a file; refuse one that is blank, or that no person wrote.

    Raises
    ------
    UnreadableError
        It is blank or holds NUL; the problem says what is `accepted`.
    """
    if "\x00" in text:
        row = text.count("\n", 0, text.index("\x00")) + 1
        utf8 = f"{accepted}, saved as UTF-8"
        raise UnreadableError(Problem("binary-file", path.name, "this is not a text file", row=row, accepted=utf8))
    if not text.strip():
        raise UnreadableError(Problem("empty-file", path.name, "the file is empty", accepted=accepted))
    return text


def _decoded(path: Path, accepted: str, limit: int | None, encoding: str | None) -> tuple[str, list[Problem]]:
    """Return the text of a table, which need not be UTF-8, and a warning where its encoding was only likely."""
    data = read_bytes(path, accepted=accepted, limit=limit)
    try:
        text, found = decode(data, encoding)
    except UndecodableError as error:
        raise _wrong_encoding(path, data, error.start, error.reason, accepted) from None
    text = content_of(path, text, accepted)
    if found is None:
        return text, []
    message = f"the text is not UTF-8 and was read as {found}; letters with accents may be wrong"
    remedy = f'UTF-8, or [records] encoding = "{found}" in workshop.toml'
    return text, [Problem("encoding-assumed", path.name, message, accepted=remedy, level="warning")]


def delimiter_of(text: str) -> str:
    """Return the mark that separates the cells of a CSV text, by its first line."""
    header = re.sub(r'"[^"]*"', "", text.lstrip("\r\n").splitlines()[0])
    return max(",;\t", key=header.count)


def header_of(path: Path, text: str, delimiter: str, *, accepted: str) -> tuple[list[str], int]:
    """Return the cells of the header of a CSV text, and how many of its lines they take.

    Raises
    ------
    UnreadableError
        The header is no row of cells, or an empty one.
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        first = next(reader)
    except csv.Error as error:
        raise UnreadableError(Problem("bad-csv", path.name, str(error), row=1, accepted=accepted)) from None
    if not any(cell.strip() for cell in first):
        reason = "the header row is empty"
        raise UnreadableError(Problem("missing-header", path.name, reason, row=1, accepted="column names in row 1"))
    return first, reader.line_num


def columns_of(path: Path, text: str, delimiter: str, headers: list[str]) -> list[Column]:
    """Return the records of a CSV text below its header as columns of text; the last is what stands under no header.

    Raises
    ------
    UnreadableError
        A cell in quotes is not closed, or holds more than a cell can.
    """
    width = len(headers)
    places: list[dict[str, int]] = [{} for _ in range(width + 1)]
    codes = [array("i") for _ in range(width + 1)]
    for row in _rows_of(path, text, delimiter):
        if len(row) != width:
            beyond = next((cell for cell in row[width:] if cell.strip()), "")
            row = [*row[:width], *[""] * (width - len(row)), beyond]
        else:
            row.append("")
        for known, column, cell in zip(places, codes, row, strict=True):
            column.append(known.setdefault(cell, len(known)))
    return [
        Column(
            header.strip(),
            *split_header(header),
            Coded(tuple(known), np.frombuffer(column, dtype=np.intc)).renamed(str.strip),
        )
        for header, known, column in zip([*headers, ""], places, codes, strict=True)
    ]


def _rows_of(path: Path, text: str, delimiter: str) -> Iterator[list[str]]:
    """Yield the rows of a CSV text below its header; a quote within a cell is a letter, one that is not closed an error."""
    reader = csv.reader(chain(io.StringIO(text, newline=""), ["\n"]), delimiter=delimiter)
    rows, held = 0, None
    try:
        for row in reader:
            if rows > 1 and held is not None:
                yield held
            rows, held = rows + 1, row
    except csv.Error as error:
        raise _bad_csv(path, str(error), rows + 1) from None
    if held:  # the blank line at the end became part of a cell
        raise _unclosed(path, text, delimiter)


def _unclosed(path: Path, text: str, delimiter: str) -> UnreadableError:
    """Return the problem of a quote that is not closed, at the first one that a strict reader takes amiss."""
    rows = 0
    try:
        for _ in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True):
            rows += 1
    except csv.Error as error:
        return _bad_csv(path, str(error), rows + 1)
    return _bad_csv(path, "unexpected end of data", rows)


def _bad_csv(path: Path, reason: str, row: int) -> UnreadableError:
    return UnreadableError(Problem("bad-csv", path.name, reason, row=row, accepted="rows of cells, with quotes closed"))


def read_csv(
    path: Path, *, accepted: str, records: ReadingSettings | None = None, limit: int | None = SETTINGS_LIMIT
) -> Table:
    """Read a CSV file: comma, semicolon or tab, header in row 1.

    Empty rows are left out but still count. Between commas a decimal point is usual; between semicolons or tabs
    nothing is, and a number that can be read in two ways is asked about. `accepted` says what the file should be, for the
    problem when it cannot be read; `limit` is the most that it may hold [bytes], None for whatever fits in memory.

    Raises
    ------
    UnreadableError
        The file cannot be read as a table.
    """
    records = records or ReadingSettings()
    text, doubts = _decoded(path, accepted, limit, records.encoding)
    delimiter = delimiter_of(text)
    first, _ = header_of(path, text, delimiter, accepted=accepted)
    columns = columns_of(path, text, delimiter, first)
    table = table_of(path.name, columns, len(columns[0].values))
    table.decimal = records.decimal or ("." if delimiter == "," else "")
    table.stated = records.decimal is not None and delimiter != records.decimal
    table.problems.extend(doubts)
    return table


def read_rows(path: Path, *, accepted: str, records: ReadingSettings) -> list[list[str]]:
    """Return the cells of a CSV file as they stand, header and empty rows included.

    Raises
    ------
    UnreadableError
        The file cannot be read as rows of cells.
    """
    text, _ = _decoded(path, accepted, None, records.encoding)
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter_of(text)))
    except csv.Error as error:
        raise UnreadableError(Problem("bad-csv", path.name, str(error), accepted=accepted)) from None


def table_of(file: str, columns: list[Column], size: int) -> Table:
    """Return columns of `size` cells as a table without its empty rows; report cells under no header."""
    filled = np.zeros(size, dtype=bool)
    for column in columns:
        filled |= ~column.blank
        if filled.all():
            break
    else:
        columns = [column.kept(filled) for column in columns]
    table = Table(file, [column for column in columns if column.header], np.flatnonzero(filled) + 2, records=size)
    for column in (column for column in columns if not column.header):
        for index in (~column.blank).nonzero()[0]:
            read = str(column.values[int(index)])
            table.report(
                "no-header", int(index), None, "a cell under no header", read=read, accepted="a header in row 1"
            )
    return table
