"""Arrow arrays from buffers and back: the library's own ways to Python values load pandas, which takes a fifth of a second."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa
from pyarrow import compute


def integers(values: np.ndarray[Any, Any]) -> pa.Array:
    """Return whole numbers as an array of 64 bits each."""
    content = pa.py_buffer(np.ascontiguousarray(values, dtype=np.int64))
    return pa.Array.from_buffers(pa.int64(), len(values), [None, content])


def strings(texts: Sequence[str]) -> pa.Array:
    """Return texts as an array."""
    encoded = [text.encode() for text in texts]
    ends = np.zeros(len(encoded) + 1, dtype=np.int64)
    np.cumsum([len(text) for text in encoded], out=ends[1:])
    content = [None, pa.py_buffer(ends), pa.py_buffer(b"".join(encoded))]
    return pa.Array.from_buffers(pa.large_string(), len(encoded), content).cast(pa.string())


def texts_of(array: pa.Array) -> pa.Array:
    """Return an array of texts with "" in place of its nulls."""
    return compute.fill_null(array, strings([""])[0]) if array.null_count else array


def numbers_of(array: pa.Array, blank: float | int) -> np.ndarray[Any, Any]:
    """Return an array of numbers as it lies in memory, a number of the same kind in place of its nulls."""
    if array.null_count:
        one = pa.py_buffer(np.array([blank], dtype=array.type.to_pandas_dtype()))
        array = compute.fill_null(array, pa.Array.from_buffers(array.type, 1, [None, one])[0])
    content = array.buffers()[1]
    if content is None:
        return np.zeros(0, dtype=array.type.to_pandas_dtype())
    numbers: np.ndarray[Any, Any] = np.frombuffer(content, dtype=array.type.to_pandas_dtype())
    return numbers[array.offset : array.offset + len(array)]
