"""What the figures need to know of some batches, as sums: the tally of two tables is the sum of their tallies."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from impact.account.amounts import Balance, Central, take_stock
from impact.account.inventory import BY_PART, Inventory, merged
from impact.account.lines import GRID, blank_columns
from impact.account.steps import LOSSES, Batch, Records
from impact.base.problems import Problem
from impact.records.batchtable import BatchTable
from impact.records.workshop import Workshop
from impact.tables.texts import Coded

if TYPE_CHECKING:
    import pandas as pd

TOGETHER = 16
"""Tallies that are added up at once."""

AMOUNTS_HELD = 20_000_000
"""Amounts in tallies that wait to be added up, at most: 160 MB. Many sites make large tallies."""

SANDING = re.compile(r"\bsand(?:ed|ing|paper)\b", re.IGNORECASE)


@dataclass(frozen=True)
class Tally:
    """What some batches come to."""

    batches: int
    first: date  # day
    last: date  # day
    inventory: Inventory
    by_month: Mapping[str, Mapping[str, float]]  # paper collected by month and grade [kg]
    blank: Mapping[str, int]  # batches without a record in a column; one without a binder needs no mass of it
    no_route: Mapping[str, int]  # batches of whose rejects or trim nobody wrote where they went
    open_fates: Mapping[str, bool]  # by grade: whether a batch does not say what would have happened to it
    binders: frozenset[str]
    sites: frozenset[str]  # "" where a batch names none
    nameplate: bool  # whether an energy entry is power times time
    sanded: bool  # whether the notes speak of sanding


def tally_of(
    batches: BatchTable, workshop: Workshop, central: Central, *, by: Sequence[str] = BY_PART
) -> tuple[Tally, Balance]:
    """Return tally and dry mass balance of one or more batches; arguments as of `impact.account.amounts.take_stock`."""
    inventory, balance = take_stock(batches, workshop, central, by=by)
    binder = batches.coded("binder")
    needed = {True: ~binder.where("none"), False: np.ones(len(batches), dtype=bool)}
    told = blank_columns()
    blank = {
        column: int((np.isnan(batches.floats(column)) & needed[kind.by == ("binder",)]).sum())
        for column, kind in told.items()
    }
    tally = Tally(
        batches=len(batches),
        first=batches.days.min().astype(date),
        last=batches.days.max().astype(date),
        inventory=inventory,
        by_month=_by_month(batches),
        blank=blank,
        no_route={
            name: int((batches.coded(loss.route).blank & (batches.floats(loss.column) != 0.0)).sum())
            for name, loss in LOSSES.items()
        },
        open_fates=_open_fates(batches),
        binders=frozenset(binder.used().names),
        sites=frozenset(batches.coded("site").used().names),
        nameplate=any(
            bool(batches.coded(f"{column}_evidence").where("nameplate").any())
            for column, kind in told.items()
            if kind.source is GRID
        ),
        sanded=batches.texts("notes").written().any_matching(SANDING, holding="sand"),
    )
    return tally, balance


def months_of(batches: BatchTable) -> Coded:
    """Return the months of the batches, each day looked up once."""
    days = batches.days.astype(np.int64)
    if not len(days):
        return Coded((), days)
    first = days.min()
    months = np.arange(first, days.max() + 1).astype("datetime64[D]").astype("datetime64[M]").astype(np.int64)
    names = np.arange(months[0], months[-1] + 1).astype("datetime64[M]").astype(str)
    return Coded(tuple(names.tolist()), (months - months[0])[days - first])


def _by_month(batches: BatchTable) -> dict[str, dict[str, float]]:
    months = months_of(batches)
    found: dict[str, dict[str, float]] = {name: {} for name in months.present()}
    for grade, mass in batches.papers.items():
        sums = np.bincount(months.codes, weights=mass, minlength=len(months.names))
        for name, kilograms in zip(months.names, sums.tolist(), strict=True):
            if kilograms:
                found[name][grade] = kilograms
    return found


def _months_added(parts: Sequence[Mapping[str, Mapping[str, float]]]) -> dict[str, dict[str, float]]:
    found: dict[str, dict[str, float]] = {}
    for month, by_grade in (item for part in parts for item in part.items()):
        there = found.setdefault(month, {})
        for grade, kilograms in by_grade.items():
            there[grade] = there.get(grade, 0.0) + kilograms
    return found


def _open_fates(batches: BatchTable) -> dict[str, bool]:
    blank = batches.coded("fate").blank
    return {grade: bool(((mass > 0.0) & blank).any()) for grade, mass in batches.papers.items()}


def summed(tallies: Sequence[Tally]) -> Tally:
    """Return the tally of all batches of some tallies, of which there is at least one; amounts are added in their order."""
    if len(tallies) == 1:
        return tallies[0]
    return Tally(
        batches=sum(tally.batches for tally in tallies),
        first=min(tally.first for tally in tallies),
        last=max(tally.last for tally in tallies),
        inventory=merged([tally.inventory for tally in tallies]),
        by_month=_months_added([tally.by_month for tally in tallies]),
        blank=_added([tally.blank for tally in tallies]),
        no_route=_added([tally.no_route for tally in tallies]),
        open_fates={
            grade: any(tally.open_fates.get(grade, False) for tally in tallies)
            for grade in {grade: None for tally in tallies for grade in tally.open_fates}
        },
        binders=frozenset().union(*(tally.binders for tally in tallies)),
        sites=frozenset().union(*(tally.sites for tally in tallies)),
        nameplate=any(tally.nameplate for tally in tallies),
        sanded=any(tally.sanded for tally in tallies),
    )


def _added(counts: Sequence[Mapping[str, int]]) -> dict[str, int]:
    total: Counter[str] = Counter()
    for count in counts:
        total.update(count)
    return dict(total)


def pressings_made(batches: BatchTable, workshop: Workshop, central: Central) -> dict[str, float]:
    """Return the pressings of each mould, blank rejects by the usual rate, as the lines of the account have them."""
    part = batches.coded("part")
    steps = Batch(Records(batches, {}), workshop, central)
    pressed = np.asarray(steps.good + steps.rejects)
    found: dict[str, float] = {}
    sums = np.bincount(part.codes, weights=pressed, minlength=len(part.names))
    for name in part.present():
        mould = workshop.parts[name].mould
        found[mould] = found.get(mould, 0.0) + float(sums[part.names.index(name)])
    return found


class TallySum:
    """Adds tallies up in their order, a few at a time, so that few are held."""

    # The order of the sums is part of the result: a float's last bits hang on it. Blocks are added up by span, and
    # spans after that, wherever each is read.

    def __init__(self) -> None:
        self.held: list[Tally] = []

    def add(self, tally: Tally) -> None:
        """Add one."""
        self.held.append(tally)
        if len(self.held) >= TOGETHER or sum(one.inventory.amounts.size for one in self.held) > AMOUNTS_HELD:
            self.held = [summed(self.held)]

    def taken(self) -> Tally | None:
        """Return the sum and begin anew."""
        held, self.held = self.held, []
        return summed(held) if held else None


class Counted:
    """Batches that are counted. Rows are read when they are first asked for, and sums serve all else.

    `pressings` of each mould are those in all batches of the folder, `doubts` faults and doubts of the mass balance.
    `rows` and `all_rows` read the batches that are counted, and all of the folder (None when there is no folder);
    `weigh` returns the dry mass balance of each batch of a table.
    """

    def __init__(
        self,
        tally: Tally,
        pressings: Mapping[str, float],
        doubts: Sequence[Problem],
        *,
        rows: Callable[[], BatchTable],
        all_rows: Callable[[], BatchTable | None],
        weigh: Callable[[BatchTable], Balance],
    ) -> None:
        self.tally = tally
        self.pressings = dict(pressings)
        self.doubts = tuple(doubts)
        self._rows = rows
        self._all_rows = all_rows
        self._weigh = weigh

    @cached_property
    def table(self) -> BatchTable:
        """The batches, in canonical columns."""
        return self._rows()

    @cached_property
    def all_table(self) -> BatchTable | None:
        """All batches of the folder."""
        return self._all_rows()

    @cached_property
    def batches(self) -> pd.DataFrame:
        """The batches, as a data frame."""
        return self.table.frame()

    @cached_property
    def all_batches(self) -> pd.DataFrame | None:
        """All batches of the folder, as a data frame."""
        return self.all_table.frame() if self.all_table is not None else None

    @cached_property
    def balance(self) -> Balance:
        """Dry mass balance of each batch."""
        return self._weigh(self.table)
