"""Columns of text as arrays: few texts that come again and again, or texts that differ from row to row."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from impact.core import FloatArray

if TYPE_CHECKING:
    import pyarrow as pa

Flags = np.ndarray[Any, np.dtype[np.bool_]]
Codes = np.ndarray[Any, np.dtype[Any]]


@dataclass(frozen=True)
class Coded:
    """A column of texts: the distinct ones, and the place of each row's text among them.

    Attributes
    ----------
    names : tuple of str
        Distinct texts; "" is a blank. There may be some that no row has.
    codes : ndarray of int
        Place of each row's text in `names`.
    """

    names: tuple[str, ...]
    codes: Codes

    @classmethod
    def of(cls, texts: Iterable[str]) -> Coded:
        """Return texts as a column, its names in the order in which they come."""
        places: dict[str, int] = {}
        codes = np.fromiter((places.setdefault(text, len(places)) for text in texts), dtype=np.int64)
        return cls(tuple(places), codes)

    @classmethod
    def all(cls, text: str, size: int) -> Coded:
        """Return a column that has one text in every row."""
        return cls((text,), np.zeros(size, dtype=np.int64))

    def __len__(self) -> int:
        return len(self.codes)

    def __getitem__(self, index: int) -> str:
        return self.names[int(self.codes[index])]

    @property
    def blank(self) -> Flags:
        """Which rows hold nothing."""
        return self.where("")

    def where(self, name: str) -> Flags:
        """Return which rows have a text."""
        return self.codes == self.names.index(name) if name in self.names else np.zeros(len(self), dtype=bool)

    def where_any(self, names: Iterable[str]) -> Flags:
        """Return which rows have one of some texts."""
        wanted = set(names)
        flags: Flags = np.array([name in wanted for name in self.names] or [False])[self.codes]
        return flags

    def present(self, rows: Flags | None = None) -> list[str]:
        """Return the texts of the rows, or of some of them, sorted."""
        return sorted((self if rows is None else self.kept(rows)).used().names)

    def used(self) -> Coded:
        """Return the column with the texts that occur as its names, in their order."""
        seen = np.bincount(self.codes, minlength=len(self.names)) > 0
        if seen.all():
            return self
        places = np.flatnonzero(seen).tolist()
        again = np.cumsum(seen) - 1
        return Coded(tuple(self.names[place] for place in places), again[self.codes])

    def spread(self, values: Mapping[str, float]) -> FloatArray:
        """Return the value of each row's text; NaN for texts without one."""
        listed = np.array([values.get(name, np.nan) for name in self.names] or [np.nan], dtype=float)
        spread: FloatArray = listed[self.codes]
        return spread

    def kept(self, rows: Codes) -> Coded:
        """Return some rows, by flag or by place."""
        return Coded(self.names, self.codes[rows])

    def renamed(self, change: Callable[[str], str]) -> Coded:
        """Return the column with other texts, their names sorted and each once."""
        changed = [change(name) for name in self.names]
        names = sorted(set(changed))
        places = {name: place for place, name in enumerate(names)}
        again = np.array([places[name] for name in changed], dtype=np.int64)
        return Coded(tuple(names), again[self.codes] if len(again) else self.codes)

    def ordered(self) -> Coded:
        """Return the column with the texts that occur as its names, sorted."""
        used = self.used()
        return used if list(used.names) == sorted(used.names) else used.renamed(str)

    def __iter__(self) -> Iterator[str]:
        return iter(self.tolist())

    def coded(self) -> Coded:
        """Return the column itself."""
        return self

    def written(self) -> Written:
        """Return the column as texts that differ from row to row."""
        return Written.of(self.tolist())

    def tolist(self) -> list[str]:
        """Return the text of each row."""
        return [self.names[code] for code in self.codes.tolist()]


class Written:
    """A column of texts that differ from row to row: an array of them, "" for a blank, none of them null."""

    def __init__(self, array: pa.Array) -> None:
        self.array = array

    @classmethod
    def of(cls, texts: Sequence[str]) -> Written:
        """Return texts as a column."""
        from impact.tables.arrow import strings

        return cls(strings(texts))

    def __len__(self) -> int:
        return len(self.array)

    def __getitem__(self, index: int) -> str:
        return str(self.array[int(index)].as_py())

    @property
    def blank(self) -> Flags:
        """Which rows hold nothing."""
        from impact.tables.arrow import computed, numbers_of

        flags: Flags = numbers_of(computed("binary_length", self.array), 0) == 0
        return flags

    def kept(self, rows: Codes) -> Written:
        """Return some rows, by flag or by place."""
        from impact.tables.arrow import taken

        return Written(taken(self.array, np.flatnonzero(rows) if rows.dtype == bool else rows))

    def written(self) -> Written:
        """Return the column itself."""
        return self

    def coded(self) -> Coded:
        """Return the column with each text listed once."""
        return Coded.of(self.tolist())

    def tolist(self) -> list[str]:
        """Return the text of each row."""
        texts: list[str] = self.array.to_pylist()
        return texts

    def any_matching(self, pattern: re.Pattern[str], *, holding: str) -> bool:
        """Return whether a text has a pattern in it; only texts with the letters `holding`, in any case, can."""
        from impact.tables.arrow import matching

        likely = matching(self.kept(~self.blank).array, holding)
        return any(pattern.search(text) for text in likely.to_pylist())


Texts = Coded | Written
