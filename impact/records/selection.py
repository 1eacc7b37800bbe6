"""The batches of a period, a part and a site."""

from __future__ import annotations

import calendar
import re
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Protocol

import numpy as np

from impact.base.problems import choices
from impact.base.spellings import fold
from impact.records.batchtable import BatchTable, Days
from impact.tables.texts import Coded, Flags

if TYPE_CHECKING:
    import pandas as pd

ACCEPTED = "a year (2026), a quarter (2026-Q1), a month (2026-03), or two days (2026-01-01..2026-03-31)"


class PeriodError(ValueError):
    """A text that is no period."""


def parse_period(text: str) -> tuple[date, date]:
    """Return the first and the last day of a period: ``2026``, ``2026-Q1``, ``2026-03`` or ``2026-01-01..2026-03-31``.

    Raises
    ------
    PeriodError
        Not such a period, or it ends before it starts.
    """
    written = text.strip()
    try:
        if match := re.fullmatch(r"([0-9]{4})(?:-[Qq]([1-4])|-([0-9]{2}))?", written):
            year, quarter, month = int(match[1]), int(match[2] or 0), match[3]
            first, last = (3 * quarter - 2, 3 * quarter) if quarter else (int(month or 1), int(month or 12))
            return date(year, first, 1), date(year, last, calendar.monthrange(year, last)[1])
        if match := re.fullmatch(r"([0-9]{4}-[0-9]{2}-[0-9]{2})\.\.([0-9]{4}-[0-9]{2}-[0-9]{2})", written):
            start, end = date.fromisoformat(match[1]), date.fromisoformat(match[2])
            if end < start:
                raise ValueError("it ends before it starts")
            return start, end
    except ValueError as error:
        raise PeriodError(f'read "{text}": this is no period, {error}. Accepted: {ACCEPTED}.') from None
    raise PeriodError(f'read "{text}": this is no period. Accepted: {ACCEPTED}.')


class Selectable(Protocol):
    """Batches of which some can be selected."""

    def __len__(self) -> int: ...

    def coded(self, name: str) -> Coded:
        """Return the column part or site."""

    @property
    def days(self) -> Days:
        """The day of each batch."""


@dataclass(frozen=True)
class Selection:
    """The batches of a period, a part and a site; by default all.

    First and last day of the period are included. Names match whatever their case, spaces and hyphens.
    """

    period: tuple[date, date] | None = None
    part: str | None = None
    site: str | None = None

    def of(self, batches: BatchTable) -> BatchTable:
        """Return the selected rows of a table of batches."""
        kept = self.flags(batches)
        return batches if kept.all() else batches.kept(kept)

    def flags(self, batches: Selectable) -> Flags:
        """Return which rows of a table of batches are selected."""
        kept = np.ones(len(batches), dtype=bool)
        for column, wanted in (("part", self.part), ("site", self.site)):
            if wanted is not None:
                coded = batches.coded(column)
                kept &= coded.where_any(name for name in coded.names if fold(name) == fold(wanted))
        if self.period is not None:
            first, last = (np.datetime64(day, "D") for day in self.period)
            kept &= (batches.days >= first) & (batches.days <= last)
        return kept

    def require(self, parts: Collection[str], sites: Collection[str]) -> None:
        """Refuse a part or a site that no batch has.

        Raises
        ------
        ValueError
            No batch at all has it; says what is accepted.
        """
        for column, wanted, names in (("part", self.part, parts), ("site", self.site, sites)):
            known = {fold(name): name for name in sorted(names) if name}
            if wanted is not None and fold(wanted) not in known:
                accepted = choices(wanted, known.values()) or "none, as no batch names one"
                raise ValueError(f'read "{wanted}": no batch has this {column}. Accepted: {accepted}.')


def filter_batches(
    frame: pd.DataFrame, *, period: tuple[date, date] | None = None, part: str | None = None, site: str | None = None
) -> pd.DataFrame:
    """Return the batches of a period, a part and a site; see `Selection`.

    Raises
    ------
    ValueError
        No batch at all has this part or site.
    """
    wanted = Selection(period, part, site)
    wanted.require(*({str(name) for name in frame[column].unique()} for column in ("part", "site")))
    return frame[wanted.flags(BatchTable.of(frame))].reset_index(drop=True)
