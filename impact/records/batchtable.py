"""Batches in canonical columns, as arrays: what is read of the records, and what everything is worked out from."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from impact.base.spellings import fold
from impact.core import FloatArray
from impact.records.columns import single_texts
from impact.tables.dates import Days as Days
from impact.tables.texts import Coded, Codes, Flags, Texts, Written

if TYPE_CHECKING:
    import pandas as pd

EVIDENCE = ("metered", "nameplate", "estimated")
"""How an amount of energy is known; the names of every column of evidence classes, in their order."""


@dataclass(frozen=True)
class BatchTable:
    """Batches, one per row, in canonical columns (see `impact.records.columns`).

    Attributes
    ----------
    columns : mapping of str to column
        Numbers and days as arrays, texts as `impact.tables.texts` has them. [units in the names]
    """

    columns: Mapping[str, Any]

    @classmethod
    def of(cls, frame: pd.DataFrame) -> BatchTable:
        """Return a data frame of batches in canonical columns as a table, whose columns are turned when they are asked for."""
        return cls(_Columns(frame))

    def __len__(self) -> int:
        return len(next(iter(self.columns.values()))) if self.columns else 0

    def __contains__(self, name: str) -> bool:
        return name in self.columns

    def floats(self, name: str) -> FloatArray:
        """Return a column of numbers, NaN where nothing was recorded and where there is no such column."""
        if name not in self.columns:
            return np.full(len(self), np.nan)
        return np.asarray(self.columns[name], dtype=float)

    def texts(self, name: str) -> Texts:
        """Return a column of texts."""
        texts: Texts = self.columns[name]
        return texts

    def coded(self, name: str) -> Coded:
        """Return a column of texts with each of them listed once."""
        return self.texts(name).coded()

    @property
    def days(self) -> Days:
        """The day of each batch."""
        return np.asarray(self.columns["date"])

    @property
    def rows(self) -> np.ndarray[Any, np.dtype[np.int64]]:
        """The row of each batch in its file, as a spreadsheet numbers it."""
        return np.asarray(self.columns["row"])

    @property
    def papers(self) -> dict[str, FloatArray]:
        """Paper by grade, for each grade that has a column. [kg]"""
        return {
            name.removeprefix("paper.").removesuffix("_kg"): self.floats(name)
            for name in self.columns
            if name.startswith("paper.")
        }

    @property
    def confirmed(self) -> Coded:
        """The cells of the column ``confirmed``, see `confirmed_in`."""
        return self.coded("confirmed") if "confirmed" in self else Coded.all("", len(self))

    def confirms(self, column: str) -> Flags:
        """Return which batches confirm a column."""
        cells = self.confirmed
        return cells.where_any(text for text in cells.names if fold(column) in confirmed_in(text))

    def kept(self, rows: Codes) -> BatchTable:
        """Return some batches, by flag or by place."""
        return BatchTable(
            {
                name: column.kept(rows) if isinstance(column, Coded | Written) else column[rows]
                for name, column in self.columns.items()
            }
        )

    def fingerprint(self) -> bytes:
        """Return what is the same only for the same batches, whatever their names, notes and rows."""
        digest = hashlib.blake2b(digest_size=16)
        for name, column in self.columns.items():
            if isinstance(column, Written) or name == "row":
                continue
            listed = column.used().ordered() if isinstance(column, Coded) else None
            values = column if listed is None else listed.codes
            digest.update(repr((name, None if listed is None else listed.names, len(values))).encode())
            digest.update(np.ascontiguousarray(values).tobytes())
        return digest.digest()

    def below(self, records: int) -> BatchTable:
        """Return the batches as they stand below that many rows of the same file."""
        return BatchTable({**self.columns, "row": self.rows + records}) if records else self

    def frame(self) -> pd.DataFrame:
        """Return the batches as a data frame: days, floats, texts, and categories where texts come again and again."""
        import pandas as pd

        if isinstance(self.columns, _Columns):
            return self.columns.frame
        return pd.DataFrame({name: _series(column) for name, column in self.ordered().columns.items()})

    def ordered(self) -> BatchTable:
        """Return the batches with the texts of each column listed in their order, grades of evidence in that of the grades."""
        return BatchTable({name: _ordered(column) for name, column in self.columns.items()})


def confirmed_in(text: str) -> set[str]:
    """Return the columns that a cell of the column ``confirmed`` names, folded."""
    return {fold(word) for word in text.replace(",", ";").split(";") if word.strip()}


class _Columns(Mapping[str, Any]):
    """The columns of a data frame as those of a table, each turned once."""

    def __init__(self, frame: pd.DataFrame) -> None:
        self.frame = frame
        self._turned: dict[str, Any] = {}

    def __getitem__(self, name: str) -> Any:
        if name not in self._turned:
            self._turned[name] = _turned_column(name, self.frame[name])
        return self._turned[name]

    def __iter__(self) -> Iterator[str]:
        return map(str, self.frame.columns)

    def __len__(self) -> int:
        return len(self.frame.columns)


def _turned_column(name: str, series: pd.Series[Any]) -> Any:
    import pandas as pd

    if isinstance(series.dtype, pd.CategoricalDtype):
        return Coded(tuple(series.cat.categories.astype(str)), series.cat.codes.to_numpy().astype(np.int64))
    if pd.api.types.is_datetime64_any_dtype(series):
        return series.to_numpy().astype("datetime64[D]")
    if pd.api.types.is_numeric_dtype(series):
        return series.to_numpy()
    if name in single_texts():
        return Written.of(series.astype(str).tolist())
    places, distinct = pd.factorize(series)
    return Coded(tuple(str(text) for text in distinct), places.astype(np.int64))


def _series(column: Any) -> Any:
    import pandas as pd

    if isinstance(column, Written):
        return pd.Series(column.tolist(), dtype="str")
    if isinstance(column, Coded):
        return pd.Categorical.from_codes(column.codes, categories=pd.Index(column.names, dtype="str"), validate=False)
    return column.astype("datetime64[us]") if column.dtype.kind == "M" else column


def _ordered(column: Any) -> Any:
    return column.ordered() if isinstance(column, Coded) and column.names != EVIDENCE else column


def joined(tables: Sequence[BatchTable]) -> BatchTable:
    """Return the batches of some tables, of which there is at least one, as one table.

    The tables have the same columns but for grades of paper: of a grade that one has no column for, it has none.
    """
    filled = [table for table in tables if len(table)] or list(tables[:1])
    if len(filled) == 1:
        return filled[0]
    names = dict.fromkeys(name for table in filled for name in table.columns)
    columns = ((name, [one.columns[name] if name in one else np.zeros(len(one)) for one in filled]) for name in names)
    return BatchTable({name: _joined(pieces) for name, pieces in columns})


def _joined(columns: Sequence[Any]) -> Any:
    if isinstance(columns[0], Written):
        import pyarrow as pa

        from impact.tables.arrow import cast

        return Written(pa.concat_arrays([cast(column.array, pa.large_string()) for column in columns]))
    return concatenated(columns) if isinstance(columns[0], Coded) else np.concatenate(columns)


def concatenated(columns: Sequence[Coded]) -> Coded:
    """Return columns of texts one below the other."""
    names = tuple(dict.fromkeys(name for column in columns for name in column.names))
    places = {name: place for place, name in enumerate(names)}
    codes = [np.array([places[name] for name in column.names] or [0])[column.codes] for column in columns]
    return Coded(names, np.concatenate(codes))
