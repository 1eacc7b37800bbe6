"""Columns that grow block by block in one piece of memory, in as few bytes as their values take."""

from __future__ import annotations

from typing import Any

import numpy as np

from impact.texts import Coded, Codes

STEP = 1 << 20
"""Values by which the memory grows at a time."""


class Growing:
    """A column of numbers."""

    def __init__(self) -> None:
        self._content: np.ndarray[Any, Any] = np.zeros(0, dtype=np.uint8)
        self._size = 0

    def extend(self, values: np.ndarray[Any, Any]) -> None:
        """Add values below the others; all of them get the kind of number that holds all."""
        kind = np.promote_types(self._content.dtype, values.dtype)
        if kind != self._content.dtype:
            self._content = self._content.astype(kind)
        size = self._size + len(values)
        if size > len(self._content):
            self._content.resize(-(-size // STEP) * STEP, refcheck=False)
        self._content[self._size : size] = values
        self._size = size

    @property
    def values(self) -> np.ndarray[Any, Any]:
        """The values so far; not to be kept while more are added."""
        return self._content[: self._size]


class GrowingTexts:
    """A column of few texts that come again and again."""

    def __init__(self) -> None:
        self._places: dict[str, int] = {}
        self._codes = Growing()

    def extend(self, column: Coded) -> None:
        """Add texts below the others."""
        places = [self._places.setdefault(name, len(self._places)) for name in column.names]
        kind = np.min_scalar_type(max(len(self._places) - 1, 0))
        self._codes.extend(np.array(places or [0], dtype=kind)[column.codes])

    @property
    def coded(self) -> Coded:
        """The column so far."""
        codes: Codes = self._codes.values
        return Coded(tuple(self._places), codes)
