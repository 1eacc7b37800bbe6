"""Vectors over batches added up by group and line of the inventory."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from impact.core import FloatArray
from impact.inventory import Line
from impact.texts import Codes
from impact.vectors import only


class Adder:
    """Adds vectors over batches into the group rows of each line."""

    def __init__(self, codes: np.ndarray, groups: int) -> None:
        self.codes = codes
        self.groups = groups
        self.columns: dict[Line, FloatArray] = {}
        self._keys: dict[tuple[int, int], tuple[np.ndarray, np.ndarray]] = {}

    def add(self, line: Line, vector: FloatArray, where: np.ndarray | None = None) -> None:
        """Add a vector to one line, of all batches or of some."""
        if where is not None:
            vector = only(vector, where)
        self._put(line, self._summed(self.codes, vector, self.groups))

    def split(self, lines: Sequence[Line | None], codes: np.ndarray, vector: FloatArray) -> None:
        """Add a vector to several lines at once: what each batch adds goes to the line of its code, None to none."""
        key = (id(codes), len(lines))
        _, keys = self._keys.get(key, (codes, None))
        if keys is None:
            keys = codes * self.groups + self.codes
            self._keys[key] = codes, keys  # the codes are kept with their keys, so that no other takes their id
        sums = self._summed(keys, vector, self.groups * len(lines))
        for line, column in zip(lines, sums.reshape(len(lines), self.groups), strict=True):
            if line is not None:
                self._put(line, column)

    @staticmethod
    def _summed(codes: Codes, vector: FloatArray, size: int) -> FloatArray:
        return np.asarray(np.bincount(codes, weights=vector, minlength=size), dtype=np.float64)

    def _put(self, line: Line, column: FloatArray) -> None:
        if column.any():
            self.columns[line] = self.columns[line] + column if line in self.columns else column


class Marker(Adder):
    """Marks the batches that bring something to each line, in place of adding up what they bring."""

    def __init__(self, codes: np.ndarray, groups: int) -> None:
        super().__init__(codes, groups)
        self.marks: dict[Line, np.ndarray] = {}

    def add(self, line: Line, vector: FloatArray, where: np.ndarray | None = None) -> None:
        """Mark the batches, all or some, that bring something to one line."""
        some = vector != 0.0 if where is None else where & (vector != 0.0)
        if some.any():
            self.marks[line] = some | self.marks.get(line, False)

    def split(self, lines: Sequence[Line | None], codes: np.ndarray, vector: FloatArray) -> None:
        """Mark the batches that bring something to several lines, each to the line of its code."""
        for place, line in enumerate(lines):
            if line is not None:
                self.add(line, vector, codes == place)
