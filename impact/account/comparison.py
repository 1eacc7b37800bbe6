"""All batches of a folder side by side: what is kept of each so that it can be compared with the others, however many."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from typing import Any

import numpy as np

from impact.account.amounts import Balance
from impact.account.sizes import Sizes, sizes_of
from impact.core import FloatArray
from impact.factors.values import Values
from impact.records.batchtable import BatchTable, Days
from impact.records.workshop import Workshop
from impact.tables.fingerprints import mixed, repeated
from impact.tables.texts import Coded, Codes, Written

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


Amounts = np.ndarray[Any, np.dtype[np.floating[Any]]]
Traits = dict[str, Any]
"""What is kept of the batches of one block, by column."""


def traits_of(batches: BatchTable, balance: Balance, workshop: Workshop, values: Values) -> Traits:
    """Return what is kept of batches: some 25 bytes of each, its name, and one byte for each quantity that is recorded.

    `alike` is a fingerprint of day, good parts and dry masses: batches that are the same in all have the same.
    """
    day = batches.days.astype(np.int64)
    alike = day.view(np.uint64)
    for amounts in (batches.floats("good_parts"), balance.in_kg, balance.out_kg):
        alike = mixed(alike, np.ascontiguousarray(amounts).view(np.uint64))
    return {
        "name": batches.texts("batch").written(),
        "row": batches.rows,
        "day": day.astype(np.int32),
        "part": batches.coded("part"),
        "site": batches.coded("site"),
        "mass": batches.floats("part_mass_kg").astype(np.float32),  # seven digits, more than a scale has
        "good": _narrow(batches.floats("good_parts")),
        "rejects": _narrow(batches.floats("rejects")),
        "alike": alike,
        "sizes": sizes_of(batches, balance, workshop, values),
    }


def _narrow(counts: FloatArray) -> Amounts:
    """Return counts in as few bytes as hold them."""
    with np.errstate(over="ignore"):
        narrower: tuple[Amounts, Amounts] = (counts.astype(np.float16), counts.astype(np.float32))
        return next((narrow for narrow in narrower if np.array_equal(narrow, counts, equal_nan=True)), counts)


class Beside:
    """All batches of a folder that were added so far."""

    def __init__(self) -> None:
        self._files: list[str] = []
        self._starts = [0]
        self._names: list[Written] = []
        self._rows: list[int | Codes] = []
        self._numbers = {name: Growing() for name in ("day", "mass", "good", "rejects", "alike")}
        self._texts = {name: GrowingTexts() for name in ("part", "site")}
        self._sizes: dict[str, Growing] = {}

    def add(self, file: str, traits: Traits, above: int) -> None:
        """Add the batches of one block; `above` are the rows of the file above it."""
        self._files.append(file)
        self._names.append(traits["name"])
        self._starts.append(self._starts[-1] + len(traits["row"]))
        for name, codes in traits["sizes"].items():  # a quantity that nobody records takes no memory
            column = self._sizes.setdefault(name, Growing())
            column.extend(np.zeros(self._starts[-2] - len(column.values), dtype=np.uint8))
            column.extend(codes)
        first = int(traits["row"][0])
        in_turn = np.array_equal(traits["row"], np.arange(first, first + len(traits["row"])))
        self._rows.append(first + above if in_turn else traits["row"] + above)
        for name, numbers in self._numbers.items():
            numbers.extend(traits[name])
        for name, texts in self._texts.items():
            texts.extend(traits[name])

    def __len__(self) -> int:
        return self._starts[-1]

    @property
    def since_1970(self) -> Codes:
        """Day of each batch. [d]"""
        return self._numbers["day"].values

    @property
    def mass(self) -> Amounts:
        """Mass of a part as recorded for each batch, NaN where it is not. [kg]"""
        return self._numbers["mass"].values

    @property
    def good(self) -> Amounts:
        """Good parts of each batch. [-]"""
        return self._numbers["good"].values

    @property
    def rejects(self) -> Amounts:
        """Rejects of each batch, NaN where they are not recorded. [-]"""
        return self._numbers["rejects"].values

    @property
    def sizes(self) -> Sizes:
        """Codes of the sizes of all batches, see `impact.account.sizes`."""
        for column in self._sizes.values():
            column.extend(np.zeros(len(self) - len(column.values), dtype=np.uint8))
        return {name: column.values for name, column in self._sizes.items()}

    @cached_property
    def suspects(self) -> Codes:
        """Places of batches that may be the same as another one; once they are known, none can be added."""
        alike = self._numbers.pop("alike").values
        several = repeated([alike])
        return np.flatnonzero(np.isin(alike, several)) if len(several) else np.zeros(0, dtype=np.int64)

    def coded(self, name: str) -> Coded:
        """Return the column part or site."""
        return self._texts[name].coded

    @property
    def days(self) -> Days:
        """The day of each batch."""
        return self.since_1970.astype("datetime64[D]")

    def day(self, place: int) -> np.datetime64:
        """Return the day of a batch."""
        return np.datetime64(int(self.since_1970[place]), "D")

    def named(self, places: Codes) -> Iterator[tuple[str, int, str]]:
        """Yield file, row and name of the batches at some places."""
        pieces = (np.searchsorted(self._starts, places, side="right") - 1).tolist()
        for place, piece in zip(places.tolist(), pieces, strict=True):
            within, rows = place - self._starts[piece], self._rows[piece]
            row = rows + within if isinstance(rows, int) else int(rows[within])
            yield self._files[piece], row, self._names[piece][within]

    def where(self, place: int, beside: int) -> tuple[str, str]:
        """Return the name of a batch and its place in words, with its file where that is not the one of the other batch."""
        (file, row, name), (here, _, _) = self.named(np.array([place, beside]))
        return name, f"row {row}" if file == here else f"{file}, row {row}"
