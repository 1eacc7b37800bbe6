"""Arrow arrays from buffers and back, and what Arrow works out of them.

The library's own ways to Python values load pandas, which takes a fifth of a second; and its functions, methods of arrays among
them, are wrapped all together when the first of them is asked for, which takes as long as reading a small folder. They are
called by their names here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa

try:
    from pyarrow import _compute
except ImportError:  # an inner part, which another version may have elsewhere
    from pyarrow import compute as _compute


def computed(function: str, *arrays: Any, options: Any = None) -> Any:
    """Return what a function of Arrow gives, by its name in the list of compute functions of Arrow."""
    return _compute.call_function(function, list(arrays), options)


def cast(array: pa.Array, kind: Any, *, safe: bool = True) -> pa.Array:
    """Return an array as one of another type; without `safe` also where that loses something.

    Raises
    ------
    pyarrow.ArrowInvalid
        When something would be lost.
    """
    options = _compute.CastOptions
    return computed("cast", array, options=options.safe(kind) if safe else options.unsafe(kind))


def taken(array: pa.Array, places: np.ndarray[Any, Any]) -> pa.Array:
    """Return the elements of an array at some places."""
    return computed("array_take", array, integers(places))


def matching(array: pa.Array, letters: str) -> pa.Array:
    """Return the texts of an array that hold some letters, in any case."""
    holds = computed("match_substring", array, options=_compute.MatchSubstringOptions(letters, ignore_case=True))
    return computed("array_filter", array, holds)


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
    return cast(pa.Array.from_buffers(pa.large_string(), len(encoded), content), pa.string())


def texts_of(array: pa.Array) -> pa.Array:
    """Return an array of texts with "" in place of its nulls."""
    return computed("coalesce", array, strings([""])[0]) if array.null_count else array


def numbers_of(array: pa.Array, blank: float | int) -> np.ndarray[Any, Any]:
    """Return an array of numbers as it lies in memory, a number of the same kind in place of its nulls."""
    kind = _kind_of(array)
    if array.null_count:
        one = pa.py_buffer(np.array([blank], dtype=kind))
        array = computed("coalesce", array, pa.Array.from_buffers(array.type, 1, [None, one])[0])
    content = array.buffers()[1]
    if content is None:
        return np.zeros(0, dtype=kind)
    numbers: np.ndarray[Any, Any] = np.frombuffer(content, dtype=kind)
    return numbers[array.offset : array.offset + len(array)]


def _kind_of(array: pa.Array) -> np.dtype[Any]:
    """Return how NumPy calls the numbers of an array."""
    known = pa.types
    letter = "f" if known.is_floating(array.type) else "u" if known.is_unsigned_integer(array.type) else "i"
    return np.dtype(f"{letter}{array.type.bit_width // 8}")
