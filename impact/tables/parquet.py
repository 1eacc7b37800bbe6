"""A Parquet file in batches of rows, each turned into columns at once."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from impact.base.files import require_regular, require_unchanged
from impact.base.problems import Problem
from impact.base.spellings import fold
from impact.base.units import split_header
from impact.tables.table import Column, Table, UnreadableError, refusing, table_of
from impact.tables.texts import Coded, Texts, Written

if TYPE_CHECKING:
    import pyarrow as pa


def in_one(column: Any) -> pa.Array:
    """Return a column as one array."""
    import pyarrow as pa

    if not isinstance(column, pa.ChunkedArray):
        return column
    return column.chunk(0) if column.num_chunks == 1 else column.combine_chunks()


def is_text(array: pa.Array) -> bool:
    """Return whether an array holds texts, as such or by code."""
    import pyarrow as pa

    return bool(pa.types.is_dictionary(array.type) or pa.types.is_string(array.type))


def is_sure(array: pa.Array, name: str) -> bool:
    """Return whether the type found for a column is what a person meant: text, finite numbers, a day under `date`."""
    import pyarrow as pa
    from pyarrow import compute

    if is_text(array) or pa.types.is_integer(array.type) or pa.types.is_null(array.type):
        return True
    if pa.types.is_floating(array.type):
        return bool(compute.all(compute.is_finite(array)).as_py() in (True, None))
    return bool(pa.types.is_date(array.type)) and fold(name) == "date"


def values_of(array: pa.Array) -> Texts | np.ndarray[Any, Any]:
    """Return text as `impact.tables.texts` has it, stripped; numbers as floats, days as days."""
    import pyarrow as pa

    from impact.tables.arrow import numbers_of

    if is_text(array):
        return _stripped(array)
    if pa.types.is_date(array.type):
        return _days(array)
    return numbers_of(array.cast(pa.float64()), np.nan)


def _days(array: pa.Array) -> np.ndarray[Any, Any]:
    """Return dates, or the days of times without a zone, as days."""
    import pyarrow as pa

    from impact.tables.arrow import numbers_of

    unit = array.type.unit if pa.types.is_timestamp(array.type) else "D"
    since_1970 = (array.cast(pa.date32()).cast(pa.int32()) if unit == "D" else array).cast(pa.int64())
    times = numbers_of(since_1970, int(np.datetime64("NaT").astype(np.int64))).view(f"datetime64[{unit}]")
    return times.astype("datetime64[D]")


def _stripped(array: pa.Array) -> Texts:
    import pyarrow as pa
    from pyarrow import compute

    from impact.tables.arrow import numbers_of, texts_of

    if not pa.types.is_dictionary(array.type):
        return Written(compute.utf8_trim_whitespace(texts_of(array)))
    texts = [str(text) for text in array.dictionary.to_pylist()]
    blanks = [""] if array.indices.null_count else []
    codes = numbers_of(array.indices, len(texts)).astype(np.int64)  # three times as fast to look up with
    found = Coded((*texts, *blanks), codes).used()  # the dictionary of a file may hold texts that these rows do not
    names = tuple(map(str.strip, found.names))
    return Coded(names, found.codes) if len(set(names)) == len(names) else found.renamed(str.strip)


def typed_values_of(array: pa.Array, name: str) -> Texts | np.ndarray[Any, Any]:
    """Return numbers and dates as they are, anything else as stripped text."""
    import pyarrow as pa
    from pyarrow import compute

    from impact.tables.arrow import numbers_of

    kind = pa.types
    if kind.is_dictionary(array.type) and not kind.is_string(array.type.value_type):
        array = array.dictionary_decode()
    if kind.is_large_string(array.type) or kind.is_string_view(array.type):
        array = array.cast(pa.string())
    if is_text(array):
        return _stripped(array)
    if kind.is_integer(array.type) or kind.is_floating(array.type):
        blanks_in_whole = kind.is_integer(array.type) and array.null_count > 0
        return numbers_of(array.cast(pa.float64(), safe=False) if blanks_in_whole else array, np.nan)
    if fold(name) == "date" and kind.is_date(array.type):
        return _days(array)
    if fold(name) == "date" and kind.is_timestamp(array.type):
        return _days(compute.local_timestamp(array) if array.type.tz else array)
    return Coded.of("" if value is None else str(value).strip() for value in array.to_pylist())


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
