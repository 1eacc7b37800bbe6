"""Rows of the list of parts changed where they stand: other rows, headers and marks stay as they are."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from impact.base.files import read_regular
from impact.base.spellings import fold
from impact.browser.logtable import harmless
from impact.browser.setup.tomltext import NoChangeError
from impact.records.files import choose_file, reading_settings
from impact.records.parts import ACCEPTED, COLUMNS, OPTIONAL, column_meant
from impact.tables.table import UnreadableError, read_rows, read_text


@dataclass(frozen=True, slots=True)
class PartsText:
    """The list of parts as it stands: its rows of cells, the header first, the column of each known name, and how lines end."""

    rows: list[list[str]]
    places: Mapping[str, int]
    delimiter: str
    mark: str = ""
    end: str = "\n"

    @classmethod
    def of(cls, folder: Path) -> PartsText:
        """Return the list of a folder.

        Raises
        ------
        UnreadableError
            It cannot be read.
        NoChangeError
            It is a workbook, which keeps more than cells.
        """
        path, problem = choose_file(folder, "parts")
        if problem is not None:
            raise UnreadableError(problem)
        if path.suffix != ".csv":
            raise NoChangeError(f"{path.name} is a workbook: change the parts there, or save it as parts.csv")
        rows = read_rows(path, accepted=ACCEPTED, records=reading_settings(folder))
        head = rows[0] if rows else list(COLUMNS)
        places = {name: place for place, cell in enumerate(head) if (name := column_meant(cell)) is not None}
        text = read_text(path, accepted=ACCEPTED)
        raw = read_regular(path)
        mark = "\ufeff" if raw.startswith(codecs.BOM_UTF8) else ""
        end = "\r\n" if raw.partition(b"\n")[0].endswith(b"\r") else "\n"
        return cls(rows or [head], places, max(",;\t", key=(text.splitlines() or [""])[0].count), mark, end)

    def parts(self) -> dict[str, dict[str, str]]:
        """Return the cells of each part by the known name of their column, by part."""
        name = self.places.get("part", 0)
        return {
            row[name].strip(): {column: row[at].strip() for column, at in self.places.items() if at < len(row)}
            for row in self.rows[1:]
            if name < len(row) and row[name].strip()
        }

    def with_part(self, part: str, cells: Mapping[str, str] | None) -> bytes:
        """Return the file with some cells of a part changed, with a part more, or with one less where `cells` is None."""
        rows, places = [list(row) for row in self.rows], dict(self.places)
        at = next((n for n, row in enumerate(rows) if n and self._name(row) == fold(part)), None)
        if cells is None:
            rows = [row for n, row in enumerate(rows) if n != at]
            return self._bytes(rows)
        for column in (one for one, cell in cells.items() if cell and one not in places):
            places[column] = len(rows[0])
            rows[0].append(column)
        if at is None:
            at = len(rows)
            rows.append([])
            cells = {"part": part, **cells}
        rows[at] += [""] * (len(rows[0]) - len(rows[at]))
        for column, cell in cells.items():
            if column in places:
                rows[at][places[column]] = harmless(cell)
        return self._bytes([row + [""] * (len(rows[0]) - len(row)) if any(row) else row for row in rows])

    def _name(self, row: Sequence[str]) -> str:
        place = self.places.get("part", 0)
        return fold(row[place]) if place < len(row) else ""

    def _bytes(self, rows: Sequence[Sequence[str]]) -> bytes:
        stream = io.StringIO(newline="")
        csv.writer(stream, delimiter=self.delimiter, lineterminator=self.end).writerows(rows)
        return f"{self.mark}{stream.getvalue()}".encode()


def parts_file(part: Mapping[str, str]) -> bytes:
    """Return a list of one part as a file, with all usual columns."""
    stream = io.StringIO(newline="")
    columns = [name for name in COLUMNS if name not in OPTIONAL or name in ("volume", "wet use")]
    csv.writer(stream, lineterminator="\n").writerows([columns, [harmless(part.get(name, "")) for name in columns]])
    return stream.getvalue().encode()
