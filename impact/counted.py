"""The batches behind some results: their sums, and the rows for whoever asks for them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING

from impact.balance import Balance
from impact.problems import Problem
from impact.tally import Tally

if TYPE_CHECKING:
    import pandas as pd


class Counted:
    """Batches that are counted. Rows are read when they are first asked for, and sums serve all else.

    Parameters
    ----------
    tally : Tally
        Their sums.
    pressings : mapping of str to float
        Pressings of each mould in all batches of the folder, counted or not.
    doubts : sequence of Problem
        Faults and doubts of their mass balance.
    rows, all_rows : callable
        Read the batches that are counted, and all batches of the folder (None when there is no folder).
    weigh : callable
        Returns the dry mass balance of each batch of a table.
    """

    def __init__(
        self,
        tally: Tally,
        pressings: Mapping[str, float],
        doubts: Sequence[Problem],
        *,
        rows: Callable[[], pd.DataFrame],
        all_rows: Callable[[], pd.DataFrame | None],
        weigh: Callable[[pd.DataFrame], Balance],
    ) -> None:
        self.tally = tally
        self.pressings = dict(pressings)
        self.doubts = tuple(doubts)
        self._rows = rows
        self._all_rows = all_rows
        self._weigh = weigh

    @cached_property
    def batches(self) -> pd.DataFrame:
        """The batches, in canonical columns."""
        return self._rows()

    @cached_property
    def all_batches(self) -> pd.DataFrame | None:
        """All batches of the folder."""
        return self._all_rows()

    @cached_property
    def balance(self) -> Balance:
        """Dry mass balance of each batch."""
        return self._weigh(self.batches)
