"""What the figures need to know of some batches, as sums: the tally of two tables is the sum of their tallies."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from impact.core import FloatArray
from impact.inventory import Balance, Central, Coded, Inventory, merged, take_stock
from impact.workshop import Workshop

if TYPE_CHECKING:
    import pandas as pd

AMOUNTS = (
    "binder_kg", "shredding_kwh", "blending_kwh", "pressing_kwh", "drying_kwh", "water_l", "rejects", "trim_kg",
    "transport_km", "moisture",
)  # fmt: skip
"""Columns whose blanks are counted."""

LOSSES = {"rejects": "rejects", "trim": "trim_kg"}
SANDING = re.compile(r"\bsand(?:ed|ing|paper)\b", re.IGNORECASE)


@dataclass(frozen=True)
class Tally:
    """What some batches come to.

    Attributes
    ----------
    batches : int
        Their number.
    first, last : datetime.date
        Their first and last day.
    inventory : Inventory
        Their amounts.
    by_month : mapping of str to mapping of str to float
        Paper collected in each month by grade. [kg]
    blank : mapping of str to int
        Batches without a record in each of `AMOUNTS`; a batch without a binder needs no mass of it.
    no_route : mapping of str to int
        Batches with rejects or trim of which nobody wrote where they went.
    open_fates : mapping of str to bool
        For each grade with a column, whether a batch does not say what would have happened to the paper.
    binders : frozenset of str
        Binders used.
    nameplate : bool
        Whether an energy entry is power times time.
    sanded : bool
        Whether the notes speak of sanding.
    """

    batches: int
    first: date
    last: date
    inventory: Inventory
    by_month: Mapping[str, Mapping[str, float]]
    blank: Mapping[str, int]
    no_route: Mapping[str, int]
    open_fates: Mapping[str, bool]
    binders: frozenset[str]
    nameplate: bool
    sanded: bool


def tally_of(frame: pd.DataFrame, workshop: Workshop, central: Central) -> tuple[Tally, Balance]:
    """Return the tally of a table of batches, of which there is at least one, and their dry mass balance.

    Parameters
    ----------
    frame, workshop, central
        As of `impact.inventory.take_stock`.
    """
    inventory, balance = take_stock(frame, workshop, central)
    blank = {column: int(np.isnan(frame[column].to_numpy(dtype=float)).sum()) for column in AMOUNTS}
    binder = Coded.of(frame, "binder")
    none = binder.where("none")
    blank["binder_kg"] = int((np.isnan(frame["binder_kg"].to_numpy(dtype=float)) & ~none).sum())
    days = frame["date"]
    tally = Tally(
        batches=len(frame),
        first=days.min().date(),
        last=days.max().date(),
        inventory=inventory,
        by_month=_by_month(frame),
        blank=blank,
        no_route={
            loss: int((Coded.of(frame, f"{loss}_to").where("") & (frame[column].to_numpy(dtype=float) != 0.0)).sum())
            for loss, column in LOSSES.items()
        },
        open_fates=_open_fates(frame),
        binders=frozenset(binder.present()),
        nameplate=any(
            bool(Coded.of(frame, f"{name}_kwh_evidence").where("nameplate").any())
            for name in ("shredding", "blending", "pressing", "drying")
        ),
        sanded=bool(frame["notes"].astype(str).str.contains(SANDING).any()),
    )
    return tally, balance


def _months(frame: pd.DataFrame) -> Coded:
    """Return the months of the batches, each day looked up once."""
    days = frame["date"].to_numpy().astype("datetime64[D]").astype(np.int64)
    if not len(days):
        return Coded((), days)
    first = days.min()
    months = np.arange(first, days.max() + 1).astype("datetime64[D]").astype("datetime64[M]").astype(np.int64)
    names = np.arange(months[0], months[-1] + 1).astype("datetime64[M]").astype(str)
    return Coded(tuple(names.tolist()), (months - months[0])[days - first])


def _by_month(frame: pd.DataFrame) -> dict[str, dict[str, float]]:
    months = _months(frame)
    found: dict[str, dict[str, float]] = {name: {} for name in months.present()}
    for grade, mass in _papers(frame):
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


def _papers(frame: pd.DataFrame) -> Iterator[tuple[str, FloatArray]]:
    """Yield each grade with a column, and its masses. [kg]"""
    for column in frame.columns:
        if column.startswith("paper."):
            yield column.removeprefix("paper.").removesuffix("_kg"), frame[column].to_numpy(dtype=float)


def _open_fates(frame: pd.DataFrame) -> dict[str, bool]:
    blank = Coded.of(frame, "fate").where("")
    return {grade: bool(((mass > 0.0) & blank).any()) for grade, mass in _papers(frame)}


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
        nameplate=any(tally.nameplate for tally in tallies),
        sanded=any(tally.sanded for tally in tallies),
    )


def _added(counts: Sequence[Mapping[str, int]]) -> dict[str, int]:
    total: Counter[str] = Counter()
    for count in counts:
        total.update(count)
    return dict(total)


def pressings_made(frame: pd.DataFrame, workshop: Workshop) -> dict[str, float]:
    """Return the pressings recorded for each mould, blank rejects counted as none."""
    part = Coded.of(frame, "part")
    pressed = frame["good_parts"].to_numpy(dtype=float) + np.nan_to_num(frame["rejects"].to_numpy(dtype=float))
    found: dict[str, float] = {}
    sums = np.bincount(part.codes, weights=pressed, minlength=len(part.names))
    for name in part.present():
        mould = workshop.parts[name].mould
        found[mould] = found.get(mould, 0.0) + float(sums[part.names.index(name)])
    return found
