"""Warnings about flagged batches: a sentence for each, made from its place in a table."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from impact.batchtable import BatchTable
from impact.problems import Problem
from impact.texts import Codes, Flags

Words = Callable[[int], str]


class Batches(Protocol):
    """Batches that can be named."""

    def named(self, places: Codes) -> Iterable[tuple[str, int, str]]:
        """Return file, row and name of the batches at some places."""


@dataclass(frozen=True)
class InFile:
    """The batches of one file, or of one block of it.

    Attributes
    ----------
    batches : BatchTable
        The batches.
    file : str
        Name of the file.
    """

    batches: BatchTable
    file: str

    def named(self, places: Codes) -> Iterable[tuple[str, int, str]]:
        """Return file, row and name of the batches at some places."""
        here = self.batches.kept(places)
        return zip([self.file] * len(places), here.rows.tolist(), here.texts("batch").tolist(), strict=True)


def warnings_where(
    flags: Flags, batches: Batches, code: str, column: str | Words, message: Words, *, read: Words, accepted: Words
) -> list[Problem]:
    """Return a warning for each flagged batch, its words made from the place of the batch in the table."""
    places = np.flatnonzero(flags)
    if not len(places):
        return []
    return [
        Problem(
            code, file, f"batch {name}: {message(index)}", row=row,
            column=column if isinstance(column, str) else column(index), read=read(index), accepted=accepted(index),
            level="warning",
        )
        for index, (file, row, name) in zip(places.tolist(), batches.named(places), strict=True)
    ]  # fmt: skip
