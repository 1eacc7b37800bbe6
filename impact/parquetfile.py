"""A Parquet file in batches of rows, each turned into columns at once."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impact.filecolumns import in_one, typed_values_of
from impact.problems import Problem
from impact.regular import require_regular, require_unchanged
from impact.spellings import fold
from impact.tables import Column, Table, UnreadableError, refusing, table_of
from impact.units import split_header

if TYPE_CHECKING:
    import pyarrow as pa

ROWS = 3 << 15
"""Rows of a batch of Parquet."""


class ParquetFile:
    """A Parquet file; its first record counts as row 2, as in a spreadsheet.

    Parameters
    ----------
    path, accepted, single
        As of `CsvFile`.
    size : int
        Rows of a block.
    extent : pair of int, optional
        First row group and the one behind the last; by default all.

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
        size: int = ROWS,
        extent: tuple[int, int] | None = None,
    ) -> None:
        self.path = path
        self.accepted = accepted
        self.size = size
        self.extent = extent
        with refusing(path, accepted):
            self.before = require_regular(path)
        with self._refusing():
            schema = self._open([]).schema_arrow
        self.headers: list[str] = schema.names
        self.repeated = [
            field.name
            for field in schema
            if str(field.type) in ("string", "large_string") and fold(split_header(field.name)[0]) not in single
        ]

    def _open(self, repeated: Iterable[str]) -> Any:
        from pyarrow import parquet

        return parquet.ParquetFile(self.path, read_dictionary=list(repeated))

    def _refusing(self) -> Any:
        return _refusing_parquet(self.path, self.accepted)

    def blocks(self) -> Iterator[pa.RecordBatch]:
        """Yield batches of rows; at least one, be it empty."""
        with self._refusing():
            file = self._open(self.repeated)
            yielded = False
            groups = None if self.extent is None else list(range(*self.extent))
            for batch in file.iter_batches(self.size, row_groups=groups):
                yield batch
                yielded = True
            if not yielded:
                yield file.schema_arrow.empty_table().combine_chunks()
        with refusing(self.path, self.accepted):
            require_unchanged(self.path, self.before)

    def table(self, block: pa.RecordBatch) -> Table:
        """Return a block as a table."""
        with self._refusing():
            columns = [
                Column(header.strip(), name, unit, typed_values_of(in_one(block.column(place)), name))
                for place, header in enumerate(self.headers)
                for name, unit in (split_header(header),)
            ]
        return table_of(self.path.name, columns, block.num_rows)

    def read(self) -> Any:
        """Return all records as one arrow table."""
        with self._refusing():
            return self._open(self.repeated).read()


def row_groups(path: Path) -> list[int]:
    """Return the rows of each row group of a Parquet file; empty for one that cannot be read."""
    import pyarrow as pa
    from pyarrow import parquet

    try:
        require_regular(path)
        found = parquet.read_metadata(path)
    except (pa.ArrowException, OSError, ValueError):
        return []
    return [found.row_group(place).num_rows for place in range(found.num_row_groups)]


def whole_parquet(path: Path, *, accepted: str, single: Collection[str]) -> Table:
    """Return all records of a Parquet file as one table; arguments as of `ParquetFile`."""
    file = ParquetFile(path, accepted=accepted, single=single)
    return file.table(file.read())


class _refusing_parquet:
    """Turns what arrow says about a Parquet file into the problem of one that cannot be read."""

    def __init__(self, path: Path, accepted: str) -> None:
        self.path = path
        self.accepted = accepted

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: object) -> None:
        import pyarrow as pa

        if isinstance(error, (pa.ArrowException, OSError, OverflowError, ValueError)):
            said = str(error).splitlines()[0] if str(error) else type(error).__name__
            reason = f"this is no readable Parquet file: {said}"
            problem = Problem("bad-parquet", self.path.name, reason, accepted=self.accepted)
            raise UnreadableError(problem) from None
