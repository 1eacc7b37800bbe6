"""Sums over records as leaves of a derivation: how many records, of which evidence class, read from what."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, cast

import numpy as np

from impact.core.derivation import Equation, Node, constant, total
from impact.factors import Choice
from impact.inventory import OWN_REJECTS, Inventory, Line, count_records

if TYPE_CHECKING:
    import pandas as pd

    from impact.results import Results

RECORDS = Equation("sum over records")
BATCHES = Line("count", "batches", "", "", "1")

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
    counts : Inventory
        Records behind each line, in place of amounts.
    blanks : callable
        Factor rows that stand in for blanks of a line in the groups of this inventory.
    """

    counts: Inventory
    blanks: Callable[[Line, Inventory], tuple[Choice, ...]]

    @cached_property
    def _counted(self) -> dict[Line, float]:
        return self.counts.by_line()

    @cached_property
    def _summed(self) -> dict[Line, float]:
        return super().by_line()

    def where(self, **wanted: str) -> DerivedInventory:
        """Return the inventory of the groups whose columns have the wanted values."""
        chosen = super().where(**wanted)
        return DerivedInventory(chosen.groups, chosen.lines, chosen.amounts, self.counts.where(**wanted), self.blanks)

    def leaf(self, line: Line) -> Node:
        """Return the amount of one line as a leaf."""
        value = self._summed[line]
        read = WORDS.get((line.account, line.activity)) or f"{line.activity}, kWh as recorded"
        what = line.item.replace("|", ", ").replace("split", "no fate recorded")
        return records_leaf(
            value,
            ": ".join(filter(None, (line.activity, what))),
            line.unit,
            records=self._records(line, value),
            of=round(self._counted.get(BATCHES, 0.0)),
            evidence=line.evidence,
            read=read,
            blanks=self.blanks(line, self),
        )

    def _records(self, line: Line, value: float) -> int:
        """Return the records behind a line; those of own rejects alone count where their make-up brings something."""
        counted = self._counted
        found = counted.get(line, 0.0)
        if line.account == "end_of_life" and value:
            where = line.activity.split(" ", 1)[1]
            _, stroke, fate = line.item.partition("|")
            pulped_again = Line(
                line.account, f"fibre {where}", f"{OWN_REJECTS}{stroke}{fate}", line.evidence, line.unit
            )
            found += counted.get(pulped_again, 0.0)
        return round(found)

    def _chosen(self, account: str, activity: str) -> Iterator[Line]:
        return (line for line in self.lines if line.account == account and line.activity == activity)

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
    counts = count_records(results.batch_records, results.workshop, central)
    blanks = Blanks(results, choose)
    inventory = results.inventory
    return DerivedInventory(inventory.groups, inventory.lines, inventory.amounts, counts, blanks)


class Blanks:
    """Finds the factor rows that stand in for blank cells."""

    def __init__(self, results: Results, choose: Callable[[str], Choice]) -> None:
        self.workshop = results.workshop
        self.frame: pd.DataFrame = results.batch_records
        self.choose = choose
        self.known: dict[tuple[str, str], tuple[Choice, ...]] = {}

    def __call__(self, line: Line, inventory: Inventory) -> tuple[Choice, ...]:
        """Return the rows behind one line of the groups of an inventory."""
        kinds = BLANKS.get(line.activity, ())
        parts = sorted(set(inventory.groups["part"]))
        return tuple(dict.fromkeys(choice for kind in kinds for part in parts for choice in self._of(kind, part)))

    def _of(self, kind: tuple[str, str], part: str) -> tuple[Choice, ...]:
        if (kind[1], part) not in self.known:
            self.known[kind[1], part] = tuple(self.choose(key) for key in self._keys(kind, part))
        return self.known[kind[1], part]

    def _keys(self, kind: tuple[str, str], part: str) -> list[str]:
        column, key = kind
        here = (self.frame["part"].astype(str) == part).to_numpy()
        if not column:
            return [key] if self.workshop.part_moisture is None else []
        blank = here & np.isnan(self.frame[column].to_numpy(dtype=float))
        if kind == MOISTURE:
            grades = [name for name in self.frame.columns if name.startswith("paper.")]
            used = [name for name in grades if (self.frame[name].to_numpy(dtype=float)[blank] > 0.0).any()]
            return [key + name.removeprefix("paper.").removesuffix("_kg") for name in used]
        if kind in (SOLIDS, DOSE):
            binders = sorted(set(self.frame["binder"].astype(str).to_numpy()[blank]) - {"none", ""})
            stated = {name for name, one in self.workshop.binders.items() if kind == SOLIDS and one.solids is not None}
            return [key + binder for binder in binders if binder not in stated]
        return [key] if blank.any() else []
