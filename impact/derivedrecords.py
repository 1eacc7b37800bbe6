"""Sums over records as leaves of a derivation: how many records, of which evidence class, read from what."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, cast

import numpy as np

from impact.batchtable import BatchTable
from impact.core.derivation import Equation, Node, constant, total
from impact.factors import Choice
from impact.inventory import OWN_REJECTS, SPLIT, Inventory, Line
from impact.stock import records_behind

if TYPE_CHECKING:
    from impact.results import Results

RECORDS = Equation("sum over records")

PULP_SHARE = "its share of the dry pulp"
WORDS = {
    ("mass", "collected"): "paper as weighed",
    ("mass", "dry fibre"): "paper × (1 − moisture), all grades",
    ("mass", "put to use"): f"good parts × part mass × (1 − part moisture) × {PULP_SHARE} / (1 − mean moisture of the paper)",
    ("mass", "returned"): f"rejects and trim, dry × {PULP_SHARE} / (1 − mean moisture of the paper)",
    ("mass", "own rejects in parts"): "dry good parts × share of own rejects in the dry pulp",
    ("mass", "recovered fibre in parts"): f"dry good parts × {PULP_SHARE} × (1 − share of own rejects)",
    ("diverted", "dry paper"): "paper × (1 − moisture), where moisture is recorded",
    ("diverted", "paper as weighed"): "paper as weighed, where no moisture is recorded",
    ("binder", "dry binder"): "binder mass × its solids, as recorded or of the workshop's recipe",
    ("binder", "binder as used"): "binder mass, where its solids come from the tables",
    ("binder", "estimated binder"): "dry fibre, where no binder mass is recorded",
    ("binder", "estimated binder preparation"): "binder as used, where no energy is recorded",
    ("paper", "estimated shredding"): "dry fibre, where no energy is recorded",
    ("making", "estimated blending"): "dry fibre and own rejects, where no energy is recorded",
    ("making", "estimated pressing"): "dry fibre and own rejects, where no energy is recorded",
    ("making", "estimated drying"): "dry parts, rejects and trim, where no energy is recorded",
    ("making", "heat from the room"): "dry parts, rejects and trim",
    ("making", "water"): "water",
    ("making", "estimated water"): "dry fibre and own rejects, where no water is recorded",
    ("mould", "pressings"): "good parts and rejects",
    ("transport", "driving"): "transport",
    ("transport", "estimated driving"): "paper as weighed, where no distance is recorded",
    ("end_of_life", "fibre in parts"): f"good parts × part mass × (1 − part moisture) × {PULP_SHARE}",
    ("end_of_life", "binder in parts"): f"good parts × part mass × (1 − part moisture) × {PULP_SHARE}",
    ("end_of_life", "fibre in losses"): f"rejects and trim, dry × {PULP_SHARE}",
    ("end_of_life", "binder in losses"): f"rejects and trim, dry × {PULP_SHARE}",
    ("count", "good parts"): "good parts",
    ("count", "rejects"): "rejects",
    ("count", "dry mass of good parts"): "good parts × part mass × (1 − part moisture)",
    ("count", "dry mass in"): "dry fibre, dry binder and dry own rejects",
    ("count", "dry mass out"): "dry good parts, rejects and trim",
    ("count", "batches"): "batches",
}  # fmt: skip
"""What one record brings to a line, in words; recorded energy is told by its activity."""

MOISTURE = ("moisture", "paper.moisture.")
SOLIDS = ("binder_solids", "binder.solids.")
DOSE = ("binder_kg", "binder.dose.")
REJECTS = ("rejects", "estimate.reject-rate")
TRIM = ("trim_kg", "estimate.trim")
PART = ("", "part.moisture")
PULP = (MOISTURE, SOLIDS, DOSE)
BLANKS = {
    "dry fibre": (MOISTURE,), "put to use": (*PULP, PART), "returned": (*PULP, PART, REJECTS, TRIM),
    "own rejects in parts": (*PULP, PART), "recovered fibre in parts": (*PULP, PART), "fibre in parts": (*PULP, PART),
    "binder in parts": (*PULP, PART), "fibre in losses": (*PULP, PART, REJECTS, TRIM),
    "binder in losses": (*PULP, PART, REJECTS, TRIM), "estimated binder": (MOISTURE,),
    "estimated binder preparation": PULP, "estimated shredding": (MOISTURE,), "estimated blending": (MOISTURE, PART),
    "estimated pressing": (MOISTURE, PART), "estimated drying": (PART, REJECTS, TRIM), "estimated water": (MOISTURE, PART),
    "heat from the room": (PART, REJECTS, TRIM), "pressings": (REJECTS,), "rejects": (REJECTS,),
    "dry mass of good parts": (PART,), "dry mass in": (*PULP, PART), "dry mass out": (PART, REJECTS, TRIM),
}  # fmt: skip
"""By activity, what the tables give where a column is blank; without a column: where the workshop states nothing."""


def records_leaf(
    value: float,
    label: str,
    unit: str,
    *,
    records: int,
    of: int,
    evidence: str,
    read: str,
    blanks: tuple[Choice, ...] = (),
) -> Node:
    """Return a sum over records as a leaf.

    Parameters
    ----------
    value : float
        The sum. [`unit`]
    label, unit : str
        What it is, and its unit.
    records, of : int
        How many records bring something to it, and how many were looked at.
    evidence : str
        Evidence class of the amounts; blank for counts.
    read : str
        What one record brings.
    blanks : tuple of Choice
        Factor rows whose central value stands in where a record is blank.
    """
    details = {"records": records, "of": of, "evidence": evidence, "read": read, "blanks": blanks}
    return Node(RECORDS, lambda drawn: value, label=label, unit=unit, details=details)


@dataclass(frozen=True)
class DerivedInventory(Inventory):
    """An inventory whose amounts are leaves.

    Attributes
    ----------
    behind : Behind
        Knows the records behind each line.
    rows : ndarray of bool
        Which records stand in the groups of this inventory.
    """

    behind: Behind
    rows: np.ndarray

    @cached_property
    def _summed(self) -> dict[Line, float]:
        return super().by_line()

    def where(self, **wanted: str) -> DerivedInventory:
        """Return the inventory of the groups of one part, binder or site."""
        chosen = super().where(**wanted)
        rows = self.rows
        for column, value in wanted.items():
            rows = rows & self.behind.having(column, value)
        return DerivedInventory(chosen.groups, chosen.lines, chosen.amounts, self.behind, rows)

    def leaf(self, line: Line) -> Node:
        """Return the amount of one line as a leaf."""
        value = self._summed[line]
        records = self.behind.records(line) & self.rows if value else np.zeros_like(self.rows)
        what = line.item.replace("|", ", ").replace(SPLIT, "no fate recorded")
        return records_leaf(
            value,
            ": ".join(filter(None, (line.activity, what))),
            line.unit,
            records=int(records.sum()),
            of=int(self.rows.sum()),
            evidence=line.evidence,
            read=WORDS.get((line.account, line.activity)) or f"{line.activity}, kWh as recorded",
            blanks=self.behind.blanks(line, records),
        )

    def _chosen(self, account: str, activity: str) -> Iterator[Line]:
        """Yield the lines of an activity to which the records of this inventory bring something."""
        for line in self.lines:
            if line.account == account and line.activity == activity and self._summed[line]:
                yield line

    def sum_of(self, account: str, activity: str, *, item: str | None = None) -> float:
        """Return the amount of an activity as a node."""
        leaves = [self.leaf(line) for line in self._chosen(account, activity) if item in (None, line.item)]
        return cast(float, summed_leaves(leaves, activity))

    def items(self, account: str, activity: str) -> dict[str, float]:
        """Return the amounts of an activity by item, as nodes."""
        found: dict[str, list[Node]] = {}
        for line in self._chosen(account, activity):
            found.setdefault(line.item, []).append(self.leaf(line))
        return {item: cast(float, summed_leaves(leaves, activity)) for item, leaves in found.items()}


def summed_leaves(leaves: list[Node], activity: str) -> Node:
    """Return the sum of the leaves of an activity, or a plain 0 where no record speaks of it."""
    if not leaves:
        return constant(0.0, f"{activity}: no record")
    return leaves[0] if len(leaves) == 1 else total(leaves, label=activity)


def derived_inventory(
    results: Results, central: Callable[[str], float], choose: Callable[[str], Choice]
) -> DerivedInventory:
    """Return the inventory of results with its amounts as leaves.

    Parameters
    ----------
    results : Results
        The results.
    central, choose : callable
        Central value and row of a factor key.
    """
    behind = Behind(results, central, choose)
    inventory = results.inventory
    every = np.ones(len(results.batch_records), dtype=bool)
    return DerivedInventory(inventory.groups, inventory.lines, inventory.amounts, behind, every)


class Behind:
    """Knows the records behind each line, and what the tables gave where those are blank.

    Parameters
    ----------
    results : Results
        The results.
    central, choose : callable
        Central value and row of a factor key.
    """

    def __init__(self, results: Results, central: Callable[[str], float], choose: Callable[[str], Choice]) -> None:
        self.workshop = results.workshop
        self.batches = BatchTable.of(results.batch_records)
        self.choose = choose
        self.marks = records_behind(self.batches, self.workshop, central)
        self.grades = {grade: mass > 0.0 for grade, mass in self.batches.papers.items()}
        self.binder = self.batches.coded("binder")
        self.blank = {kind: np.isnan(self.batches.floats(kind[0])) for kind in (*PULP, REJECTS, TRIM)}

    def having(self, column: str, value: str) -> np.ndarray:
        """Return which records have a value in a column of texts."""
        return self.batches.coded(column).where(value)

    def records(self, line: Line) -> np.ndarray:
        """Return the records behind a line; those of own rejects alone count where their make-up is taken over."""
        found = self.marks.get(line, np.zeros(len(self.batches), dtype=bool))
        if line.account == "end_of_life":
            where = line.activity.split(" ", 1)[1]
            _, stroke, fate = line.item.partition("|")
            again = Line(line.account, f"fibre {where}", f"{OWN_REJECTS}{stroke}{fate}", line.evidence, line.unit)
            found = found | self.marks.get(again, False)
        return found

    def blanks(self, line: Line, records: np.ndarray) -> tuple[Choice, ...]:
        """Return the factor rows that stand in for blanks in the records behind a line."""
        keys = [key for kind in BLANKS.get(line.activity, ()) for key in self._keys(kind, records)]
        return tuple(self.choose(key) for key in keys)

    def _keys(self, kind: tuple[str, str], records: np.ndarray) -> list[str]:
        _, key = kind
        if kind == PART:
            return [key] if self.workshop.part_moisture is None and records.any() else []
        blank = records & self.blank[kind]
        if kind == MOISTURE:
            return [key + grade for grade, used in self.grades.items() if (used & blank).any()]
        if kind in (SOLIDS, DOSE):
            stated = {name for name, one in self.workshop.binders.items() if one.solids is not None}
            skipped = {"none", ""} | (stated if kind == SOLIDS else set())
            return [key + binder for binder in sorted(set(self.binder.present(blank)) - skipped)]
        return [key] if blank.any() else []
