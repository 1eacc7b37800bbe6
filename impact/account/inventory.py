"""Activity amounts: one row per group of batches, one column per line.

A line is (account, activity, item, evidence class). Every amount is linear in the batches, so groups
are sums, and adding batches adds rows; what is not linear (factors, shares, lives) waits for the unit
impacts. Accounts are the life-cycle stages, ``diverted`` (what would have happened to the paper),
``mass`` (paper by weight, no emission) and ``count``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple, cast

import numpy as np

from impact.core import FloatArray, Numbers
from impact.factors.values import MissingFactorError
from impact.factors.worked import Worked
from impact.records.batchtable import concatenated
from impact.tables.texts import Coded, Codes

STAGES = ("paper", "binder", "making", "mould", "transport", "end_of_life")
"""Life-cycle stages of a moulded part, in their order."""

BY_PART = ("part", "binder")
BY_SITE = ("site", *BY_PART)
"""Columns by which batches are grouped."""

DIVERTED = "diverted"
ELECTRICITY = "electricity"
OWN_REJECTS = "own rejects"
UNRECORDED = "unrecorded"
SPLIT = "split"

Groups = Mapping[str, Coded]


class Line(NamedTuple):
    """One column of the inventory; a tuple, as lines are looked up again and again.

    Attributes
    ----------
    account : str
        Life-cycle stage, or ``diverted``, ``mass``, ``count``.
    activity, item : str
        What was done, and to or with what (a grade, a binder, ``grade|fate``).
    evidence : str
        Evidence class of the amount; blank for counts.
    unit : str
        Unit of the amount.
    """

    account: str
    activity: str
    item: str
    evidence: str
    unit: str


@dataclass(frozen=True)
class Inventory:
    """Activity amounts by group of batches.

    Attributes
    ----------
    groups : mapping of str to Coded
        Part and binder of each row of `amounts`, and the site where sums by site are wanted; rows are in their order.
    lines : tuple of Line
        The columns of `amounts`.
    amounts : ndarray, shape (groups, lines)
        Amounts in the unit of each line.
    """

    groups: Groups
    lines: tuple[Line, ...]
    amounts: FloatArray

    def where(self, **wanted: str) -> Inventory:
        """Return the inventory of the groups whose columns have the wanted values."""
        mask = np.ones(len(self.amounts), dtype=bool)
        for column, value in wanted.items():
            mask &= self.groups[column].where(value)
        groups = {column: coded.kept(mask) for column, coded in self.groups.items()}
        return Inventory(groups, self.lines, self.amounts[mask])

    def split_by(self, column: str) -> Iterator[tuple[str, Inventory]]:
        """Yield the inventory of the groups of each text of the first column, by the texts."""
        column_codes = self.groups[column]
        ends = np.searchsorted(column_codes.codes, np.arange(len(column_codes.names) + 1))
        for name, first, behind in zip(column_codes.names, ends[:-1].tolist(), ends[1:].tolist(), strict=True):
            if first < behind:
                rows = slice(first, behind)
                groups = {key: Coded(coded.names, coded.codes[rows]) for key, coded in self.groups.items()}
                yield name, Inventory(groups, self.lines, self.amounts[rows])

    def total(self) -> FloatArray:
        """Return the sum over all groups, one amount per line."""
        total: FloatArray = self.amounts.sum(axis=0)
        return total

    def by_line(self) -> dict[Line, float]:
        """Return the sum over all groups by line."""
        return dict(zip(self.lines, self.total().tolist(), strict=True))

    def lines_of(self, account: str, activity: str) -> Iterator[tuple[Line, Numbers]]:
        """Yield the lines of an activity with their amounts."""
        for line, amount in self.by_line().items():
            if line.account == account and line.activity == activity:
                yield line, amount

    def sum_of(self, account: str, activity: str, *, item: str | None = None) -> float:
        """Return the amount of an activity, over all evidence classes and, unless named, all items."""
        chosen = [
            index
            for index, line in enumerate(self.lines)
            if line.account == account and line.activity == activity and item in (None, line.item)
        ]
        return float(self.total()[chosen].sum()) if chosen else 0.0

    def items(self, account: str, activity: str) -> dict[str, float]:
        """Return the amounts of an activity by item."""
        found: dict[str, float] = {}
        for line, amount in self.lines_of(account, activity):
            found[line.item] = found.get(line.item, 0.0) + cast(float, amount)
        return found


@dataclass(frozen=True, slots=True)
class Matrix:
    """Unit impacts of the lines of an inventory.

    Attributes
    ----------
    lines : tuple of Line
        The rows.
    impacts : ndarray, shape (lines, 1 + draws)
        Emission per unit of each line, the error of the amount included; first the central value.
    factors : tuple of tuple of str
        Ids of the factor rows behind each line.
    """

    lines: tuple[Line, ...]
    impacts: FloatArray
    factors: tuple[tuple[str, ...], ...]


def matrix_of(worked: Worked, inventory: Inventory, impact: Callable[[Line], Numbers | None], name: str = "") -> Matrix:
    """Return the unit impacts of all lines for which `impact` returns a number.

    Parameters
    ----------
    worked : Worked
        What is worked out of the workshop, and with which factors.
    inventory : Inventory
        Has the lines.
    impact : callable
        Emission per unit of a line, without the error of its amount.
    name : str
        What tells `impact` from others, so that its rows can last with the steps of the workshop; blank where they cannot.

    Raises
    ------
    MissingFactorError
        When a factor is missing; the message names every line concerned.
    """
    values, missing = worked.values, dict[str, None]()
    rows: list[tuple[Line, Any, tuple[str, ...]]] = []

    def row(line: Line) -> Numbers | None:
        unit = impact(line)
        return None if unit is None else np.asarray(unit * values.spread(line.activity, line.evidence), dtype=float)

    for line in inventory.lines:
        with values.trace() as used:
            try:
                unit = worked.row((name, line), partial(row, line)) if name else row(line)
            except MissingFactorError as error:
                missing[str(error)] = None
                continue
        if unit is not None:
            rows.append((line, unit, tuple(used)))
    if missing:
        raise MissingFactorError("; ".join(missing))
    stacked = np.empty((len(rows), 1 + values.draws))
    for place, (_, unit, _) in enumerate(rows):
        stacked[place] = unit
    return Matrix(tuple(line for line, _, _ in rows), stacked, tuple(used for _, _, used in rows))


def merged(inventories: Sequence[Inventory]) -> Inventory:
    """Return the sum of inventories, added in their order: same groups are added, lines are united."""
    lines = tuple(sorted({line for inventory in inventories for line in inventory.lines}))
    position = {line: index for index, line in enumerate(lines)}
    together = {column: concatenated([one.groups[column] for one in inventories]) for column in inventories[0].groups}
    groups, codes = grouped(together)
    amounts = np.zeros((len(groups["part"]), len(lines)))
    above = 0
    for inventory in inventories:
        rows = codes[above : above + len(inventory.amounts)]
        above += len(rows)
        places = np.array([position[line] for line in inventory.lines], dtype=np.int64)
        amounts[np.ix_(rows, places)] += inventory.amounts
    return Inventory(groups, lines, amounts)


def grouped(columns: Groups) -> tuple[Groups, Codes]:
    """Return the groups of rows, in the order of their columns, and the group of each row."""
    ordered = {name: column.ordered() for name, column in columns.items()}
    ranks = np.zeros(len(next(iter(columns.values()))), dtype=np.int64)
    for column in ordered.values():
        ranks = ranks * max(len(column.names), 1) + column.codes
    first, codes = _distinct(ranks, int(np.prod([max(len(column.names), 1) for column in ordered.values()])))
    groups = {}
    for name, column in reversed(ordered.items()):
        first, place = np.divmod(first, max(len(column.names), 1))
        groups[name] = Coded(column.names, place)
    return {name: groups[name] for name in columns}, codes


def _distinct(ranks: np.ndarray, most: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the ranks that occur, in their order, and the place of each among them; all lie below `most`."""
    if most > 16 * len(ranks) + 1000:
        found, codes = np.unique(ranks, return_inverse=True)
        return found, codes
    found = np.flatnonzero(np.bincount(ranks, minlength=most))
    places = np.zeros(most, dtype=np.int64)
    places[found] = np.arange(len(found))
    return found, places[ranks]


def contributions(inventory: Inventory, matrix: Matrix) -> FloatArray:
    """Return what each line of the matrix adds, amount times unit impact, shape (lines, 1 + draws). [kgCO2e]"""
    position = {line: index for index, line in enumerate(inventory.lines)}
    amounts = inventory.total()[[position[line] for line in matrix.lines]]
    added: FloatArray = amounts[:, np.newaxis] * matrix.impacts
    return added


def central_contributions(inventory: Inventory, matrix: Matrix) -> FloatArray:
    """Return what each line of the matrix adds by the central values alone. [kgCO2e]"""
    position = {line: index for index, line in enumerate(inventory.lines)}
    added: FloatArray = inventory.total()[[position[line] for line in matrix.lines]] * matrix.impacts[:, 0]
    return added


def summed(inventory: Inventory, matrix: Matrix, accounts: Sequence[str] | None = None) -> FloatArray:
    """Return the sum of all lines of the matrix, or of those of some accounts, as one product. [kgCO2e]"""
    chosen, impacts = matrix.lines, matrix.impacts
    if accounts is not None:
        rows = [index for index, line in enumerate(matrix.lines) if line.account in accounts]
        chosen, impacts = tuple(matrix.lines[index] for index in rows), matrix.impacts[rows]
    total: FloatArray = inventory.total()[_places(inventory, chosen)] @ impacts
    return total


def summed_each(inventories: Sequence[Inventory], matrix: Matrix) -> FloatArray:
    """Return the sum of all lines of the matrix for inventories of the same lines, a row for each. [kgCO2e]"""
    places = _places(inventories[0], matrix.lines)
    sums: FloatArray = np.stack([one.total()[places] for one in inventories]) @ matrix.impacts
    return sums


def _places(inventory: Inventory, lines: Sequence[Line]) -> list[int]:
    position = {line: index for index, line in enumerate(inventory.lines)}
    return [position[line] for line in lines]
