"""From batches to the inventory: the amounts of all lines as vectors over the batches, added up by group and line.

Every amount is linear in the batches, so groups are sums, and adding batches adds rows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby, product
from typing import TYPE_CHECKING, cast

import numpy as np

from impact.account.inventory import BY_PART, OWN_REJECTS, Inventory, Line, grouped
from impact.account.linekinds import LineKind
from impact.account.lines import LINES
from impact.account.steps import LOSSES, Batch, Records
from impact.core import FloatArray
from impact.core.moisture import unaccounted_share
from impact.records.batchtable import BatchTable
from impact.tables.texts import Codes, Flags
from impact.tables.vectors import only

if TYPE_CHECKING:
    from impact.records.workshop import Workshop


@dataclass(frozen=True)
class BatchAmounts:
    """What the records of each batch come to, blanks filled by the central estimates."""

    dry_fibre_kg: FloatArray  # of fresh paper [kg]
    dry_binder_kg: FloatArray  # [kg]
    binder_solids: FloatArray  # dry matter per kg of binder as used; 1 where none is used [-]
    rejects: FloatArray  # failed parts [-]


@dataclass(frozen=True)
class Balance:
    """Dry mass balance of each batch."""

    in_kg: FloatArray  # dry matter that went in [kg]
    out_kg: FloatArray  # dry matter that was found again [kg]
    unaccounted: FloatArray  # share of the inflow not found again [-]
    amounts: BatchAmounts  # what the inflow is made of

    @property
    def dried_kg(self) -> FloatArray:
        """Dry matter that was dried: what came out, else what went in. [kg]"""
        return self.out_kg + only(self.in_kg, self.out_kg == 0.0)


class Adder:
    """Adds vectors over batches into the group rows of each line."""

    def __init__(self, codes: np.ndarray, groups: int) -> None:
        self.codes = codes
        self.groups = groups
        self.columns: dict[Line, FloatArray] = {}
        self._keys: dict[tuple[int, int], tuple[np.ndarray, np.ndarray]] = {}

    def add(self, line: Line, vector: FloatArray) -> None:
        """Add a vector of all batches to one line."""
        column = self._summed(self.codes, vector, self.groups)
        if column.any():
            self._put(line, column)

    def split(self, lines: Sequence[Line | None], codes: np.ndarray, vector: FloatArray) -> None:
        """Add a vector to several lines at once: what each batch adds goes to the line of its code, None to none."""
        key = (id(codes), len(lines))
        _, keys = self._keys.get(key, (codes, None))
        if keys is None:
            keys = codes * self.groups + self.codes
            self._keys[key] = codes, keys  # the codes are kept with their keys, so that no other takes their id
        sums = self._summed(keys, vector, self.groups * len(lines)).reshape(len(lines), self.groups)
        for line, column, some in zip(lines, sums, np.any(sums, axis=1).tolist(), strict=True):
            if line is not None and some:
                self._put(line, column)

    @staticmethod
    def _summed(codes: Codes, vector: FloatArray, size: int) -> FloatArray:
        return np.asarray(np.bincount(codes, weights=vector, minlength=size), dtype=np.float64)

    def _put(self, line: Line, column: FloatArray) -> None:
        self.columns[line] = self.columns[line] + column if line in self.columns else column


class Marker(Adder):
    """Marks the batches that bring something to each line, in place of adding up what they bring."""

    def __init__(self, codes: np.ndarray, groups: int) -> None:
        super().__init__(codes, groups)
        self.marks: dict[Line, np.ndarray] = {}

    def add(self, line: Line, vector: FloatArray) -> None:
        """Mark the batches that bring something to one line."""
        self._mark(line, vector != 0.0)

    def _mark(self, line: Line, some: Flags) -> None:
        if some.any():
            self.marks[line] = some | self.marks.get(line, False)

    def split(self, lines: Sequence[Line | None], codes: np.ndarray, vector: FloatArray) -> None:
        """Mark the batches that bring something to several lines, each to the line of its code."""
        some = vector != 0.0
        for place, line in enumerate(lines):
            if line is not None:
                self._mark(line, some & (codes == place))


Central = Callable[[str], float]
"""Central value of a factor key."""


class _Stock:
    """Works out the amounts of one table of batches and adds them up."""

    def __init__(
        self,
        batches: BatchTable,
        workshop: Workshop,
        central: Central,
        *,
        by: Sequence[str] = BY_PART,
        adder: type[Adder] = Adder,
    ) -> None:
        self.workshop = workshop
        self.records = Records(batches, {name: part.mould for name, part in workshop.parts.items()})
        self.batch = Batch(self.records, workshop, central)
        self.groups, codes = grouped({column: batches.coded(column) for column in by})
        self.adder = adder(codes, len(self.groups["part"]))
        self._ways: dict[tuple[str, ...], tuple[list[tuple[str | bool, ...]], Codes]] = {}

    def batch_amounts(self) -> BatchAmounts:
        """Return what the records of each batch come to."""
        batch = self.batch
        amounts = (batch.dry_fibre, batch.dry_binder, batch.solids, batch.rejects)
        return BatchAmounts(*cast("tuple[FloatArray, ...]", amounts))

    def balance(self) -> Balance:
        """Return the dry mass balance of each batch."""
        flow_in, flow_out = cast(FloatArray, self.batch.dry_in), cast(FloatArray, self.batch.dry_out)
        return Balance(flow_in, flow_out, np.asarray(unaccounted_share(flow_in, flow_out)), self.batch_amounts())

    def inventory(self) -> Inventory:
        """Return all of it by group and line."""
        self.fill()
        lines = tuple(sorted(self.adder.columns))
        amounts = np.column_stack([self.adder.columns[line] for line in lines]) if lines else np.zeros((0, 0))
        return Inventory(self.groups, lines, amounts)

    def fill(self) -> None:
        """Add every line; all that a grade brings together, so that few vectors are held."""
        values = {"grade": self.records.grades, "fibre": self._fibres(), "loss": list(LOSSES)}
        for first, kinds in groupby(sorted(LINES, key=lambda kind: kind.each[:1]), lambda kind: kind.each[:1]):
            listed = list(kinds)
            for outer in product(*(values[name] for name in first)):
                for kind in listed:
                    for inner in product(*(values[name] for name in kind.each[1:])):
                        self._add(kind, *outer, *inner)

    def _fibres(self) -> list[str]:
        pulped = np.any(self.batch.fibre_share(OWN_REJECTS))
        return [*self.records.grades, *([OWN_REJECTS] if pulped else [])]

    def _add(self, kind: LineKind, *each: str) -> None:
        """Add what a kind of line holds for some values of what its amount differs by."""
        if not kind.by:
            line = kind.line(self.workshop, *each)
            if line is not None:
                self.adder.add(line, cast(FloatArray, kind.amount(self.batch, *each)))
            return
        ways, codes = self._ways_of(kind.columns(*each))
        lines = [kind.line(self.workshop, *each, *way) for way in ways]
        self.adder.split(lines, codes, cast(FloatArray, kind.amount(self.batch, *each)))

    def _ways_of(self, columns: tuple[str, ...]) -> tuple[list[tuple[str | bool, ...]], Codes]:
        """Return the ways that batches can go by some columns, and the way of each batch."""
        if columns not in self._ways:
            together: Codes | None = None
            options: list[Sequence[str | bool]] = []
            for column in columns:
                names, codes = self._options(column)
                together = codes if together is None else together * len(names) + codes
                options.append(names)
            self._ways[columns] = list(product(*options)), cast(Codes, together)
        return self._ways[columns]

    def _options(self, column: str) -> tuple[Sequence[str | bool], Codes]:
        if column.endswith("?"):
            return (False, True), ~self.records.blank(column.removesuffix("?"))
        texts = self.records.texts(column)
        return texts.names, texts.codes


def batch_amounts(batches: BatchTable, workshop: Workshop, central: Central) -> BatchAmounts:
    """Return dry fibre, binder and rejects of each batch; arguments as of `take_stock`."""
    return _Stock(batches, workshop, central).batch_amounts()


def take_stock(
    batches: BatchTable, workshop: Workshop, central: Central, *, by: Sequence[str] = BY_PART
) -> tuple[Inventory, Balance]:
    """Return the inventory of a table of batches and the dry mass balance of each batch.

    Parameters
    ----------
    batches : BatchTable
        Batches in canonical columns, see `impact.records.batches`.
    workshop : Workshop
        The folder's settings: parts, moulds, recipes, drying.
    central : callable
        Central value of a factor key, for what a batch leaves blank.
    by : sequence of str
        Columns by which the batches are grouped: `BY_PART` or `BY_SITE`.
    """
    stock = _Stock(batches, workshop, central, by=by)
    return stock.inventory(), stock.balance()


def records_behind(batches: BatchTable, workshop: Workshop, central: Central) -> dict[Line, np.ndarray]:
    """Return, for each line, which batches bring something to it; arguments as of `take_stock`."""
    stock = _Stock(batches, workshop, central, adder=Marker)
    stock.fill()
    return cast(Marker, stock.adder).marks
