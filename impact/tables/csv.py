"""A CSV file in blocks of whole records, each parsed to columns at once where its rows are alike."""

from __future__ import annotations

import codecs
import re
from collections.abc import Collection, Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from impact.base.files import require_regular, require_unchanged
from impact.base.problems import Problem
from impact.base.spellings import fold
from impact.base.units import split_header
from impact.tables.table import (
    Column,
    Table,
    UnreadableError,
    columns_of,
    content_of,
    delimiter_of,
    header_of,
    refusing,
    table_of,
)
from impact.tables.texts import Texts

if TYPE_CHECKING:
    import pyarrow as pa

BOM = codecs.BOM_UTF8
"""Byte order mark, which some programs put before the text."""

HEAD = 1 << 20
"""Bytes in which the header is looked for; more where they are blank."""

BLOCK = 16_000_000
"""Bytes of a block of CSV."""

PARSED = 1 << 20
"""Bytes that are parsed at once: as much as a processor keeps close by. A block with a longer record is read as text."""

FEW = 1 << 20
"""Different texts of a column up to which each is kept once."""

_QUOTED = {
    mark: re.compile(rb'"(?<=[' + mark.encode() + rb'\r\n]")(?:[^"]++|"")*+(?:"|\Z)') for mark in (",", ";", "\t")
}
"""A cell in quotes, closed or not, below a line end or behind a delimiter."""


class _Torn(bytes):
    """A last block whose last cell in quotes is not closed; other blocks are cut behind whole records."""


class CsvFile:
    """A CSV file: comma, semicolon or tab, UTF-8, header in row 1.

    Parameters
    ----------
    path : Path
        The file.
    accepted : str
        What the file should be, for the problem when it cannot be read.
    single, repeated : collection of str
        Columns that are text whatever stands in them: those whose texts differ from row to row, and those whose few
        texts come again and again.
    size : int
        Bytes of a block.
    extent : pair of int, optional
        Where in the file the first record starts and the last one ends, see `extents`; by default all of it. [bytes]

    Raises
    ------
    UnreadableError
        The file cannot be read as a table.
    """

    alone = False

    def __init__(
        self,
        path: Path,
        *,
        accepted: str,
        single: Collection[str],
        repeated: Collection[str],
        size: int = BLOCK,
        extent: tuple[int, int] | None = None,
    ) -> None:
        self.path = path
        self.accepted = accepted
        self.single = frozenset(single)
        self.repeated = frozenset(repeated)
        self.size = size
        self.extent = extent
        with refusing(path, accepted):
            self.before = require_regular(path)
            with path.open("rb") as stream:
                head = stream.read(min(size, HEAD))
                if not head.strip(BOM + b" \r\n"):
                    head += stream.read(size)
                mark = len(BOM) if head.startswith(BOM) else 0
                head = head[mark:]
        text = head.decode("utf-8", errors="ignore")  # a block may end inside a letter
        if not text.strip():
            raise UnreadableError(Problem("empty-file", path.name, "the file is empty", accepted=accepted))
        self.delimiter = delimiter_of(text)
        first, lines = header_of(path, text, self.delimiter, accepted=accepted)
        self.headers = [*first, ""]
        self.header = "".join(text.splitlines(keepends=True)[:lines])
        self.body = mark + len(self.header.encode())

    @property
    def is_plain(self) -> bool:
        """Whether cells are parted by commas and all of the text is UTF-8."""
        if self.delimiter != ",":
            return False
        decoder = codecs.getincrementaldecoder("utf-8")()
        with self.path.open("rb") as stream:
            try:
                while piece := stream.read(self.size):
                    if decoder.getstate()[0] or not piece.isascii():
                        decoder.decode(piece)
                decoder.decode(b"", final=True)
            except UnicodeDecodeError:
                return False
        return True

    def blocks(self) -> Iterator[bytes]:
        """Yield the blocks below the header, each of whole records; at least one, be it empty.

        Blocks end with the last record before a whole number of steps of `size`, wherever the reading starts, so that
        the blocks of several extents are those of the file.
        """
        start, end_of_all = self.extent or (0, self.before.st_size)
        start = start or self.body
        with refusing(self.path, self.accepted), self.path.open("rb") as stream:
            stream.seek(start)
            to_step, yielded = -start % self.size or self.size, False
            rest = stream.read(max(min(to_step, end_of_all - start), 0))
            more = stream.tell() < end_of_all
            while more:
                end = _record_end(rest, self.delimiter)
                if end:
                    yield rest[:end]
                    yielded = True
                    rest = rest[end:]
                piece = stream.read(min(self.size, end_of_all - stream.tell()))
                rest, more = rest + piece, bool(piece)
            if rest or not yielded:
                yield _Torn(rest) if _open_quote(rest, self.delimiter) else rest
            require_unchanged(self.path, self.before)  # the header was read before, and is of the same file

    def extents(self, least: int) -> list[tuple[int, int]]:
        """Return extents that together are the file, each of whole blocks and of `least` bytes or more, but for the last."""
        found, start, place = [], 0, self.body
        for block in self.blocks():
            place += len(block)
            if place - start >= least:
                found.append((start, place))
                start = place
        return found if found and start == place else [*found, (start, place)]

    def table(self, block: bytes) -> Table:
        """Return a block as a table: columns of plain numbers as numbers, the others as text.

        Raises
        ------
        UnreadableError
            The block is not text, or no rows of cells.
        """
        if isinstance(block, _Torn) or (block[-2:] not in (b"\n\n", b"\r\n") and block.strip(b"\r\n")):
            return self._filled(block)
        kept = block.rstrip(b"\r\n")
        below = block.count(b"\n", len(kept)) - bool(kept)
        if below <= 0:
            return self._filled(block)
        table = self._filled(kept + b"\n" if kept else kept)
        table.records += below  # empty rows count, and need no reading
        return table

    def _filled(self, block: bytes) -> Table:
        columns = self._columns(block)
        if columns is None:
            text = content_of(self.path, (self.header.encode() + block).decode(), self.accepted)
            columns = columns_of(self.path, text, self.delimiter, self.headers[:-1])
        return table_of(self.path.name, columns, len(columns[0].values))

    def _columns(self, block: bytes) -> list[Column] | None:
        """Return the columns of a block, or None when its rows are not all alike."""
        import pyarrow as pa

        from impact.tables.arrow import cast
        from impact.tables.arrow_columns import in_one, is_sure, is_text, values_of

        if not block or isinstance(block, _Torn) or b"\0" in block:
            return None
        names = [split_header(header) for header in self.headers[:-1]]
        types = {}
        for place, (name, _) in enumerate(names):
            if fold(name) in self.single:
                types[str(place)] = pa.string()
            elif fold(name) in self.repeated:
                types[str(place)] = pa.dictionary(pa.int32(), pa.string())
        try:
            read = self._parsed(block, types)
            columns = []
            for place, (header, (name, unit)) in enumerate(zip(self.headers, names, strict=False)):
                array = in_one(read.column(place))
                sure, again = is_sure(array, name), partial(self._written, block, place)
                if pa.types.is_integer(array.type) or pa.types.is_null(array.type):
                    array = cast(array, pa.float64())
                values = values_of(array, name) if sure else again()
                written = again if sure and not is_text(array) else None
                columns.append(Column(header.strip(), name, unit, values, written=written))
        except pa.ArrowInvalid:
            return None
        return columns

    def _parsed(self, block: bytes, types: dict[str, pa.DataType], only: list[str] | None = None) -> pa.Table:
        import pyarrow as pa
        from pyarrow import csv

        names = [str(place) for place in range(len(self.headers) - 1)]
        return csv.read_csv(
            pa.BufferReader(block),
            csv.ReadOptions(use_threads=False, block_size=min(PARSED, len(block) + 1), column_names=names),
            csv.ParseOptions(newlines_in_values=b'"' in block, ignore_empty_lines=False),
            csv.ConvertOptions(
                column_types=types,
                null_values=[""],
                true_values=[],
                false_values=[],
                auto_dict_encode=True,
                auto_dict_max_cardinality=FEW,
                include_columns=only or [],
            ),
        )

    def _written(self, block: bytes, place: int) -> Texts:
        """Return one column of a block as text."""
        import pyarrow as pa

        from impact.tables.arrow_columns import in_one, stripped

        name = str(place)
        return stripped(in_one(self._parsed(block, {name: pa.dictionary(pa.int32(), pa.string())}, [name]).column(0)))


def _quoted(block: bytes, delimiter: str) -> list[tuple[int, int]]:
    """Return where cells in quotes start and stop; one that is not closed stops at the end of the block."""
    if b'"' not in block:
        return []
    return [(cell.start() - 1, cell.end() - 1) for cell in _QUOTED[delimiter].finditer(b"\n" + block)]


def _open_quote(block: bytes, delimiter: str) -> bool:
    """Return whether the last cell in quotes is not closed."""
    cells = _quoted(block, delimiter)
    return bool(cells) and block[slice(*cells[-1])].count(b'"') % 2 == 1


def _record_end(block: bytes, delimiter: str) -> int:
    """Return where the last whole record of a block ends; 0 when none does."""
    end = block.rfind(b"\n") + 1
    for start, stop in reversed(_quoted(block, delimiter)):
        if start < end - 1 < stop:
            end = block.rfind(b"\n", 0, start) + 1
    return end
