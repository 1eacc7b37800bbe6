"""Arrow arrays to columns of numbers, days and texts."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa

from impact.base.spellings import fold
from impact.tables.arrow import cast, computed, numbers_of, texts_of
from impact.tables.texts import Coded, Texts, Written


def in_one(column: Any) -> pa.Array:
    """Return a column as one array."""
    if not isinstance(column, pa.ChunkedArray):
        return column
    return column.chunk(0) if column.num_chunks == 1 else column.combine_chunks()


def is_text(array: pa.Array) -> bool:
    """Return whether an array holds texts, as such or by code."""
    return bool(pa.types.is_dictionary(array.type) or pa.types.is_string(array.type))


def is_sure(array: pa.Array, name: str) -> bool:
    """Return whether the type found for a column is what a person meant: text, finite numbers, a day under `date`."""
    if is_text(array) or pa.types.is_integer(array.type) or pa.types.is_null(array.type):
        return True
    if pa.types.is_floating(array.type):
        return bool(computed("all", computed("is_finite", array)).as_py() in (True, None))
    return bool(pa.types.is_date(array.type)) and fold(name) == "date"


def _days(array: pa.Array) -> np.ndarray[Any, Any]:
    """Return dates, or the days of times without a zone, as days."""
    unit = array.type.unit if pa.types.is_timestamp(array.type) else "D"
    since_1970 = cast(cast(cast(array, pa.date32()), pa.int32()) if unit == "D" else array, pa.int64())
    times = numbers_of(since_1970, int(np.datetime64("NaT").astype(np.int64))).view(f"datetime64[{unit}]")
    return times.astype("datetime64[D]")


def stripped(array: pa.Array) -> Texts:
    """Return an array of texts, as such or by code, as a column of stripped texts."""
    if not pa.types.is_dictionary(array.type):
        return Written(computed("utf8_trim_whitespace", texts_of(array)))
    texts = [str(text) for text in array.dictionary.to_pylist()]
    blanks = [""] if array.indices.null_count else []
    codes = numbers_of(array.indices, len(texts)).astype(np.int64)  # three times as fast to look up with
    found = Coded((*texts, *blanks), codes).used()  # the dictionary of a file may hold texts that these rows do not
    names = tuple(map(str.strip, found.names))
    return Coded(names, found.codes) if len(set(names)) == len(names) else found.renamed(str.strip)


def values_of(array: pa.Array, name: str) -> Texts | np.ndarray[Any, Any]:
    """Return numbers as they are, under `date` days, anything else as stripped text (see `impact.tables.texts`)."""
    kind = pa.types
    if kind.is_dictionary(array.type) and not kind.is_string(array.type.value_type):
        array = array.dictionary_decode()
    if kind.is_large_string(array.type) or kind.is_string_view(array.type):
        array = cast(array, pa.string())
    if is_text(array):
        return stripped(array)
    if kind.is_integer(array.type) or kind.is_floating(array.type):
        blanks_in_whole = kind.is_integer(array.type) and array.null_count > 0
        return numbers_of(cast(array, pa.float64(), safe=False) if blanks_in_whole else array, np.nan)
    if fold(name) == "date" and kind.is_date(array.type):
        return _days(array)
    if fold(name) == "date" and kind.is_timestamp(array.type):
        return _days(computed("local_timestamp", array) if array.type.tz else array)
    return Coded.of("" if value is None else str(value).strip() for value in array.to_pylist())
