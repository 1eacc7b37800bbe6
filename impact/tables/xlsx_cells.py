"""The cells of one sheet: read from its XML to text, numbers and faults, with what is hidden or merged."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

from impact.tables.numberformats import NumberFormat, amount_text, day_of, number_text
from impact.tables.xlsx import Attributes, SheetEntry, TextCollector, Workbook, WorkbookError, local, plain_text

COLUMNS_LIMIT = 1_000
"""Last column that may hold something."""

ROWS_LIMIT = 1_048_576
"""Last row of a sheet, as spreadsheet programs have it."""

CELLS_LIMIT = 5_000_000
"""Most cells of a sheet that hold something."""

CHARACTERS_LIMIT = 200_000_000
"""Most characters in the cells of a sheet together."""

_PLACE = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}(?![0-9])", re.ASCII)
_NUMBER_FORMAT = NumberFormat()


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell that holds something.

    Attributes
    ----------
    text : str
        What it shows, as text: numbers with a decimal point, days as year-month-day.
    number : float
        The number, where it is one and nothing else is shown; else NaN.
    kind : str
        ``text``, ``number``, ``day``, ``time``, ``share``, ``truth``, ``error`` or ``uncounted`` (a formula
        without a result).
    """

    text: str
    number: float = math.nan
    kind: str = "text"


@dataclass
class Sheet:
    """The cells of a sheet.

    Attributes
    ----------
    name : str
        Name of the sheet.
    rows : dict of int to dict of int to Cell
        Cells by row and column, both from 1; only those that hold something.
    hidden_rows : list of int
        Rows that are hidden or filtered away.
    hidden_columns : list of (int, int)
        First and last of each run of hidden columns.
    merged : list of (int, int, int, int)
        First row and column, last row and column of each merged range.
    """

    name: str
    rows: dict[int, dict[int, Cell]] = field(default_factory=dict)
    hidden_rows: list[int] = field(default_factory=list)
    hidden_columns: list[tuple[int, int]] = field(default_factory=list)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)


def column_letters(column: int) -> str:
    """Return a column as spreadsheet programs name it: 1 is A, 27 is AA."""
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _column_number(letters: str) -> int:
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - ord("A") + 1
    return number


def read_sheet(workbook: Workbook, entry: SheetEntry) -> Sheet:
    """Return the cells of a sheet.

    Raises
    ------
    WorkbookError
        The sheet is damaged, or larger than a table of records may be.
    """
    reading = _Reading(workbook, Sheet(entry.name))
    workbook.parse(entry.part, reading.start, reading.end, reading.text)
    return reading.sheet


class _Reading:
    def __init__(self, workbook: Workbook, sheet: Sheet) -> None:
        self.workbook = workbook
        self.sheet = sheet
        self.row = 0
        self.column = 0
        self.cell: Attributes = {}
        self.skipped = ""
        self.kind = ""
        self.format = _NUMBER_FORMAT
        self.value: list[str] = []
        self.formula: list[str] | None = None
        self.target: list[str] | None = None
        self.inline = TextCollector()
        self.count = 0
        self.characters = 0
        self.columns: dict[str, int] = {}

    def start(self, element: str, attributes: Attributes) -> None:
        name = local(element) if ":" in element else element
        if name == "c":
            self.cell = attributes
        elif name == "v":
            self.target = self.value
        elif name == "f":
            self.formula = self.target = []
        elif name == "row":
            self._start_row(attributes)
        elif name == "col":
            if attributes.get("hidden") in ("1", "true"):
                self.sheet.hidden_columns.append((int(attributes["min"]), int(attributes["max"])))
        elif name == "mergeCell":
            self._merge(attributes.get("ref", ""))
        elif name in ("t", "rPh"):
            self.inline.start(name)

    def text(self, data: str) -> None:
        if self.target is not None:
            self.target.append(data)
        elif self.inline.inside:
            self.inline.text(data)

    def end(self, element: str) -> None:
        name = local(element) if ":" in element else element
        if name in ("v", "f"):
            self.target = None
        elif name == "c":
            self._end_cell()
        elif name in ("t", "rPh"):
            self.inline.end(name)

    def _start_row(self, attributes: Attributes) -> None:
        row = int(attributes["r"]) if "r" in attributes else self.row + 1
        if not self.row < row <= ROWS_LIMIT:
            raise WorkbookError("bad-workbook", f"the rows of its sheet {self.sheet.name} are out of order")
        self.row, self.column, self.skipped = row, 0, ""
        if attributes.get("hidden") in ("1", "true"):
            self.sheet.hidden_rows.append(row)

    def _place(self) -> None:
        """Note the column of the cell and how it is kept."""
        attributes = self.cell
        if place := attributes.get("r"):
            column = self._column(place)
        else:
            column = max(self.column, self._column(self.skipped) if self.skipped else 0) + 1
        if column <= self.column or not self.row:
            raise WorkbookError("bad-workbook", f"the cells of its sheet {self.sheet.name} are out of order")
        self.column = column
        self.kind = attributes.get("t", "n")
        style = int(attributes.get("s", "0"))
        formats = self.workbook.formats
        self.format = formats[style] if 0 <= style < len(formats) else _NUMBER_FORMAT

    def _column(self, place: str) -> int:
        letters = place.rstrip("0123456789")
        if letters not in self.columns:
            match = _PLACE.fullmatch(place)
            if match is None:
                raise WorkbookError("bad-workbook", f"a cell of its sheet {self.sheet.name} has no place")
            self.columns[letters] = _column_number(match[1])
        return self.columns[letters]

    def _merge(self, reference: str) -> None:
        match = re.fullmatch(r"\$?([A-Z]{1,3})\$?([0-9]{1,7}):\$?([A-Z]{1,3})\$?([0-9]{1,7})", reference)
        if match is not None:
            left, right = _column_number(match[1]), _column_number(match[3])
            self.sheet.merged.append((int(match[2]), left, int(match[4]), right))

    def _end_cell(self) -> None:
        if not self.value and self.formula is None and not self.inline.parts:
            if "r" in self.cell:
                self.skipped = self.cell["r"]
            else:
                self._place()
            return
        self._place()
        cell = self._cell()
        self.value.clear()
        self.formula = None
        if cell is None or not cell.text:
            return
        if self.column > COLUMNS_LIMIT:
            reason = f"its sheet {self.sheet.name} holds something beyond column {column_letters(COLUMNS_LIMIT)}"
            raise WorkbookError("too-wide", reason)
        self.count += 1
        self.characters += len(cell.text)
        if self.count > CELLS_LIMIT or self.characters > CHARACTERS_LIMIT:
            raise WorkbookError("too-large", f"its sheet {self.sheet.name} holds more than a table of records may")
        self.sheet.rows.setdefault(self.row, {})[self.column] = cell

    def _cell(self) -> Cell | None:
        value = "".join(self.value)
        if self.kind == "inlineStr":
            return Cell(self.inline.take())
        if self.formula is not None and not value and self.kind != "str":
            return Cell(f"={plain_text(''.join(self.formula))}", kind="uncounted")
        if not value:
            return None
        if self.kind == "s":
            index = int(value)
            if not 0 <= index < len(self.workbook.strings):
                raise WorkbookError("bad-workbook", f"a cell of its sheet {self.sheet.name} refers to no text")
            return Cell(self.workbook.strings[index])
        if self.kind == "str":
            return Cell(plain_text(value))
        if self.kind == "b":
            return Cell("true" if value.strip() == "1" else "false", kind="truth")
        if self.kind == "e":
            return Cell(plain_text(value), kind="error")
        if self.kind == "d":
            text = plain_text(value)
            return Cell(text[:10], kind="day") if _DAY.match(text) else Cell(text)
        return self._number(float(value))

    def _number(self, number: float) -> Cell:
        kind, unit = self.format.kind, self.format.unit
        if not math.isfinite(number):
            return Cell(str(number))
        if kind == "share":
            return Cell(amount_text(round(number * 100.0, 10), "%"), kind="share")
        if kind == "time" or (kind == "day" and 0.0 <= number < 1.0 and not self.workbook.from_1904):
            return Cell(amount_text(round(number * 1440.0, 6), "min"), kind="time")
        day = day_of(number, from_1904=self.workbook.from_1904) if kind == "day" else None
        if day is not None:
            return Cell(day.isoformat(), kind="day")
        return Cell(amount_text(number, unit)) if unit else Cell(number_text(number), number, "number")
