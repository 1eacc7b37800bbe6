"""Tables as people keep them: CSV and Parquet files read to columns of text or numbers, with spreadsheet rows."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impact.problems import Problem, choices
from impact.regular import SETTINGS_LIMIT, NotRegularError, read_regular
from impact.spellings import fold
from impact.units import split_header

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

BOM = b"\xef\xbb\xbf"
"""Byte order mark of UTF-8, which some programs put before the text."""

_COMMA_NUMBER = r"(?:^|[^0-9,.])(?:[0-9]*,(?:[0-9]{1,2}|[0-9]{4,})|0,[0-9]+)(?:[^0-9,.]|$)"
"""A number that only a decimal comma explains: no group of three digits follows."""


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
    values : pandas.Series
        Stripped text with "" for a blank, categories where few texts come again and again; or numbers, booleans or
        dates where the file has types.
    written : callable or None
        Reads the cells again as text, where `values` were turned into numbers from text.
    """

    header: str
    name: str
    unit: str | None
    values: pd.Series[Any]
    written: Callable[[], pd.Series[Any]] | None = None

    def kept(self, rows: np.ndarray[Any, np.dtype[np.bool_]]) -> Column:
        """Return the column with some rows only."""
        written = self.written
        values = self.values[rows].reset_index(drop=True)
        again = None if written is None else (lambda: written()[rows].reset_index(drop=True))
        return replace(self, values=values, written=again)

    @cached_property
    def as_written(self) -> Column:
        """The column with its cells as they stand in the file."""
        return self if self.written is None else replace(self, values=self.written(), written=None)

    @property
    def is_text(self) -> bool:
        """Whether the cells are text."""
        import pandas as pd

        return not (pd.api.types.is_numeric_dtype(self.values) or pd.api.types.is_datetime64_any_dtype(self.values))

    @property
    def blank(self) -> np.ndarray[Any, np.dtype[np.bool_]]:
        """Which cells hold nothing."""
        empty = self.values.eq("") if self.is_text else self.values.isna()
        return empty.to_numpy(dtype=bool)

    @property
    def text(self) -> pd.Series[Any]:
        """The cells as text, whole numbers without a decimal point, blanks as ""."""
        import pandas as pd

        if self.is_text or self.written is not None:
            return self.as_written.values
        texts = [re.sub(r"\.0$", "", str(value)) for value in self.values]
        return pd.Series(texts, index=self.values.index, dtype="str").mask(self.blank, "")


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
    decimal : str
        Decimal mark of the file.
    problems : list of Problem
        Grows as the table is read.
    records : int
        Records read, empty ones included.
    """

    file: str
    columns: list[Column]
    rows: np.ndarray[Any, np.dtype[np.int64]]
    decimal: str = "."
    problems: list[Problem] = field(default_factory=list)
    records: int = 0

    def report(
        self, code: str, index: int | None, column: str | None, message: str, *, read: str | None, accepted: str | None
    ) -> None:
        """Note an error in the record at position `index`, or in the header when it is None."""
        row = 1 if index is None else int(self.rows[index])
        problem = Problem(code, self.file, message, row=row, column=column, read=read, accepted=accepted)
        self.problems.append(problem)

    def pick(self, known: Iterable[str], *, refused: Mapping[str, str] | None = None) -> dict[str, Column]:
        """Return the columns by their known name; report unknown and duplicate ones.

        Parameters
        ----------
        known : iterable of str
            Accepted names; headers match whatever their case, spaces, hyphens and underscores.
        refused : mapping of str to str, optional
            Names that are known but not accepted, with the reason: an error for every cell that holds something.
        """
        refused = refused or {}
        names = {fold(name): name for name in (*known, *refused)}
        found: dict[str, Column] = {}
        for column in self.columns:
            name = names.get(fold(column.name))
            if name is None:
                accepted = choices(column.name, [known for known in names.values() if known not in refused])
                self.report(
                    "unknown-column", None, column.header, "unknown column", read=column.header, accepted=accepted
                )
            elif name in found:
                message = "the column stands in the table twice"
                accepted = f"one column {name}"
                self.report("duplicate-column", None, column.header, message, read=column.header, accepted=accepted)
            else:
                found[name] = column
        for name in refused.keys() & found.keys():
            self._refuse_cells(found.pop(name), name, refused[name])
        return found

    def _refuse_cells(self, column: Column, name: str, reason: str) -> None:
        texts = column.text
        for index in (~(column.blank | texts.isin(["0", "0.0"]).to_numpy())).nonzero()[0]:
            message = f"{name} cannot be pulped here: {reason}"
            self.report(
                "excluded-grade", int(index), column.header, message, read=texts.iloc[index], accepted="a blank cell"
            )

    def require(self, found: Mapping[str, Column], required: Iterable[str]) -> None:
        """Report each required column that the table lacks."""
        for name in required:
            if name not in found:
                self.report("missing-column", None, name, f"the column {name} is missing", read=None, accepted=name)


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


def decoded(data: bytes, path: Path, *, accepted: str, line: int = 1) -> str:
    """Return the text of some lines of a UTF-8 file, of which the first is its `line`.

    Raises
    ------
    UnreadableError
        It is not text, or not UTF-8.
    """
    utf8 = f"{accepted}, saved as UTF-8"
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        row = data.count(b"\n", 0, error.start) + line
        reason = "the text is not UTF-8"
        raise UnreadableError(Problem("wrong-encoding", path.name, reason, row=row, accepted=utf8)) from None
    if "\x00" in text:
        row = text.count("\n", 0, text.index("\x00")) + line
        raise UnreadableError(Problem("binary-file", path.name, "this is not a text file", row=row, accepted=utf8))
    return text


def read_text(path: Path, *, accepted: str, limit: int | None = SETTINGS_LIMIT) -> str:
    """Return the content of a UTF-8 text file of up to `limit` bytes, with or without a byte order mark.

    Raises
    ------
    UnreadableError
        There is no such file, it is too large, it is not text, or not UTF-8; or there is nothing in it.
    """
    with refusing(path, accepted):
        data = read_regular(path, limit=limit)
    text = decoded(data.removeprefix(BOM), path, accepted=accepted)
    if not text.strip():
        raise UnreadableError(Problem("empty-file", path.name, "the file is empty", accepted=accepted))
    return text


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


def records_of(path: Path, text: str, delimiter: str, width: int) -> pd.DataFrame:
    """Return the cells of a CSV text, header included, rows that are too long cut to `width` and one cell."""
    import pandas as pd

    options: dict[str, Any] = {"names": list(range(width + 1)), "header": None, "index_col": False, "na_filter": False}
    try:
        cells: pd.DataFrame = pd.read_csv(
            io.StringIO(text), sep=delimiter, dtype=str, skip_blank_lines=False, engine="c", **options
        )
    except pd.errors.ParserError:
        return _ragged(path, text, delimiter, width)
    return cells


def _ragged(path: Path, text: str, delimiter: str, width: int) -> pd.DataFrame:
    """Return the cells of a CSV text whose rows differ in length: slower, and the place of a fault is known."""
    import pandas as pd

    rows: list[list[str]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        for row in reader:
            extra = next((cell for cell in row[width:] if cell.strip()), "")
            rows.append([*row[:width], *[""] * (width - len(row)), extra])
    except csv.Error as error:
        accepted = "rows of cells, with quotes closed"
        place = len(rows) + 1
        raise UnreadableError(Problem("bad-csv", path.name, f"{error}", row=place, accepted=accepted)) from None
    return pd.DataFrame(rows, columns=range(width + 1), dtype=str)


def decimal_of(columns: Iterable[Column], prose: Iterable[str]) -> str:
    """Return the decimal mark of cells that are not separated by commas."""
    amounts = (column for column in columns if fold(column.name) not in prose)
    return "," if any(column.values.str.contains(_COMMA_NUMBER).any() for column in amounts) else "."


def read_csv(path: Path, *, accepted: str, prose: Iterable[str] = (), limit: int | None = SETTINGS_LIMIT) -> Table:
    """Read a CSV file: comma, semicolon or tab, UTF-8, header in row 1.

    Empty rows are left out but still count; a decimal comma is understood where the cells are not separated by commas.

    Parameters
    ----------
    path : Path
        The file.
    accepted : str
        What the file should be, for the problem when it cannot be read.
    prose : iterable of str
        Columns of free text, which say nothing about the decimal mark.
    limit : int or None
        Most that the file may hold [bytes]; None for whatever fits in memory.

    Raises
    ------
    UnreadableError
        The file cannot be read as a table.
    """
    text = read_text(path, accepted=accepted, limit=limit)
    delimiter = delimiter_of(text)
    first, _ = header_of(path, text, delimiter, accepted=accepted)
    cells = records_of(path, text, delimiter, len(first)).fillna("")
    body = cells.iloc[1:].apply(lambda column: column.str.strip())
    table = _table(path.name, [*first, ""], body)
    if delimiter != ",":
        table.decimal = decimal_of(table.columns, prose)
    return table


def _table(file: str, headers: list[str], body: pd.DataFrame) -> Table:
    """Return the table without its empty rows; report cells under no header."""
    columns = [
        Column(header.strip(), *split_header(header), body[label])
        for label, header in zip(body.columns, headers, strict=True)
    ]
    return table_of(file, columns, len(body))


def table_of(file: str, columns: list[Column], size: int) -> Table:
    """Return columns of `size` cells as a table without its empty rows; report cells under no header."""
    import numpy as np

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
            read = str(column.values.iloc[index])
            table.report(
                "no-header", int(index), None, "a cell under no header", read=read, accepted="a header in row 1"
            )
    return table
