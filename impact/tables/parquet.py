"""A Parquet file in batches of rows, each turned into columns at once."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impact.base.files import require_regular, require_unchanged
from impact.base.problems import Problem
from impact.base.spellings import fold
from impact.base.units import split_header
from impact.tables.table import Column, Table, UnreadableError, refusing, table_of

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
        with _refusing_parquet(self.path, self.accepted):
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

    def blocks(self) -> Iterator[pa.RecordBatch]:
        """Yield batches of rows; at least one, be it empty."""
        with _refusing_parquet(self.path, self.accepted):
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
        from impact.tables.arrow_columns import in_one, values_of

        with _refusing_parquet(self.path, self.accepted):
            columns = [
                Column(header.strip(), name, unit, values_of(in_one(block.column(place)), name))
                for place, header in enumerate(self.headers)
                for name, unit in (split_header(header),)
            ]
        return table_of(self.path.name, columns, block.num_rows)

    def whole(self) -> Table:
        """Return all records as one table."""
        with _refusing_parquet(self.path, self.accepted):
            records = self._open(self.repeated).read()
        return self.table(records)


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


@contextmanager
def _refusing_parquet(path: Path, accepted: str) -> Iterator[None]:
    """Turn what arrow says about a Parquet file into the problem of one that cannot be read."""
    import pyarrow as pa

    try:
        yield
    except (pa.ArrowException, OSError, OverflowError, ValueError) as error:
        said = str(error).splitlines()[0] if str(error) else type(error).__name__
        reason = f"this is no readable Parquet file: {said}"
        raise UnreadableError(Problem("bad-parquet", path.name, reason, accepted=accepted)) from None
