"""Sums over records as leaves of a derivation: how many records, of which evidence class, read from what."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any, TypeVar, cast

import numpy as np

from impact.account.amounts import records_behind, take_stock
from impact.account.inventory import OWN_REJECTS, SPLIT, Inventory, Line
from impact.account.linekinds import made_of
from impact.account.lines import kind_of
from impact.account.paper import resolved
from impact.core import FloatArray, Numbers, normalised
from impact.core.node import Equation, Node, centre, constant, first, total
from impact.factors.factorset import Choice
from impact.factors.values import FATES, End, Values, factor_draws, stream_draws
from impact.records.batchtable import BatchTable
from impact.records.workshop import Workshop
from impact.records.workshop_keys import numbers_of

if TYPE_CHECKING:
    from impact.study import Study

FACTOR = Equation("factor")
SPREAD = Equation("error of an amount")
ENDS = {"value": "", "low": ", low end", "high": ", high end"}


class DerivedValues(Values):
    """The values of a run, each as a node in place of an array; arguments as of `Values`."""

    def __init__(self, *args: Any, **settings: Any) -> None:
        super().__init__(*args, **settings)
        self._nodes: dict[tuple[str, str], Node] = {}
        self.ends: Mapping[str, End] = {}

    def _leaf(
        self, equation: Equation, name: str, choice: Choice, end: End, draw: Callable[[], FloatArray], label: str
    ) -> Node:
        """Return the one leaf of a row, of an end of its interval, or of a stream."""
        row = choice.factor
        if (name, end) not in self._nodes:
            fixed = float(getattr(row, end))
            self._nodes[name, end] = Node(
                equation,
                lambda drawn: draw() if drawn and end == "value" else fixed,
                label=label,
                unit=row.unit,
                details={"choice": choice, "end": end},
            )
        return self._nodes[name, end]

    def get(self, key: str, regions: Sequence[str] | None = None) -> FloatArray:
        """Return the leaf of `key`, or of the end of its interval that `ends` names by the id of its row."""
        choice = self.choose(key, regions)
        return cast(FloatArray, self.row(choice, self.ends.get(choice.factor.id, "value")))

    def row(self, choice: Choice, end: End = "value") -> Node:
        """Return the leaf of a chosen row."""
        row = choice.factor
        draw = partial(factor_draws, row, self.stream(row), seed=self.seed, draws=self.draws)
        return self._leaf(FACTOR, f"{row.file}:{row.id}", choice, end, draw, f"{row.what}{ENDS[end]}")

    def end(self, key: str, which: End) -> float:
        """Return the leaf of the central value of `key`, or of an end of its interval, without draws."""
        return cast(float, centre(self.row(self.choose(key), which)))

    def spread(self, name: str, evidence: str) -> FloatArray:
        """Return the leaf of the error of an amount."""
        choice = self.choose(f"evidence.{evidence}")
        stream = f"{name}|{evidence}"
        draw = partial(stream_draws, choice.factor, stream, seed=self.seed, draws=self.draws)
        return cast(FloatArray, self._leaf(SPREAD, stream, choice, "value", draw, f"error of {name}, {evidence}"))

    def fate_shares(self, waste: str) -> list[Numbers]:
        """Return the shares of the tables, named."""
        return named_shares(super().fate_shares(waste), waste)

    def stated_shares(
        self, name: str, shares: Sequence[float], evidence: str, of: Sequence[str] = FATES
    ) -> list[Numbers]:
        """Return the stated shares, named: as stated, and what the draws differ from that."""
        plain = [float(share) for share in normalised(shares)]
        choice = self.choose(f"evidence.concentration.{evidence}")

        def error(place: int) -> Node:
            def draw(drawn: bool) -> Numbers:
                found = self.share_draws(name, plain, evidence)[place] - plain[place] if drawn else 0.0
                return np.concatenate(([0.0], found)) if drawn else found

            label = f"error of the share of {name} to {of[place]}, {evidence}"
            return Node(SPREAD, draw, label=label, details={"choice": choice, "end": "value"})

        shares = [
            cast(float, total([named(share, "share as stated"), error(place)]))
            for place, share in enumerate(normalised(shares))
        ]
        return named_shares(shares, name, of)


def named_shares(shares: Sequence[Numbers], waste: str, of: Sequence[str] = FATES) -> list[Numbers]:
    """Return shares, each over one `of`, with names."""
    pairs = zip(of, shares, strict=True)
    return [cast(Numbers, named(share, f"share of {waste} to {fate}")) for fate, share in pairs]


def named(value: Any, label: str, unit: str | None = None) -> Node:
    """Return a number or a node under a name."""
    if isinstance(value, Node):
        return value.named(label, unit)
    fixed = first(value)
    return Node(Equation("number"), lambda drawn: fixed, label=label, unit=unit or "1")


SETTING = Equation("setting")
RECORDS = Equation("sum over records")

T = TypeVar("T")


def leaf(equation: Equation, value: float, label: str, unit: str, **details: Any) -> Node:
    """Return a setting or a sum over records as a leaf, with label and unit.

    `details` are the members of `SettingLeaf` or `RecordsLeaf` in `impact.trace.explanation`.
    """
    return Node(equation, lambda drawn: value, label=label, unit=unit, details=details)


def _with_leaves(owner: T, file: str, table: str, of: str) -> T:
    """Return settings with their numbers as leaves."""
    defaults = {one.name: one.default for one in fields(owner)}  # type: ignore[arg-type]
    evidence = str(getattr(owner, "evidence", None) or getattr(owner, "printing_evidence", None) or "")
    found = {
        name: leaf(
            SETTING, float(value), f"{word.replace('_', ' ')} of {of}", unit, file=file, place=f"{table} {word}",
            evidence=evidence, default=value == defaults[name],
        )
        for name, (word, unit) in numbers_of(type(owner)).items()
        if (value := getattr(owner, name)) is not None
    }  # fmt: skip
    changed: T = replace(owner, **found)  # type: ignore[type-var]
    return changed


def derived_workshop(workshop: Workshop) -> Workshop:
    """Return the workshop with every number that enters a calculation as a leaf."""
    toml = "workshop.toml"

    def tables(found: Mapping[str, T], kind: str, word: str) -> dict[str, T]:
        return {
            name: _with_leaves(one, toml, f"[{kind}.{name}]", f"{word} {name}".strip()) for name, one in found.items()
        }

    end = workshop.end_of_life
    changed: dict[str, Any] = {
        "moulds": tables(workshop.moulds, "moulds", "the mould"),
        "fates": tables(workshop.fates, "fates", "the fate of"),
        "binders": tables(workshop.binders, "binders", ""),
        "origins": tables(workshop.origins, "origin", ""),
        "grants": tuple(_with_leaves(one, toml, "[[grants]]", one.name) for one in workshop.grants),
        "drying": _with_leaves(workshop.drying, toml, "[drying]", "a part as pressed"),
        "end_of_life": end and _with_leaves(end, toml, "[end_of_life]", "the end of life"),
        "parts": {
            name: _with_leaves(part, "parts.csv", f"{name},", f"{name}") for name, part in workshop.parts.items()
        },
    }
    return replace(_with_leaves(workshop, toml, "[workshop]", "the workshop"), **changed)


@dataclass(frozen=True)
class DerivedInventory(Inventory):
    """An inventory whose amounts are leaves; `behind` knows the records and the factor rows behind each line."""

    behind: Behind

    @cached_property
    def _summed(self) -> dict[Line, float]:
        return super().by_line()

    def where(self, **wanted: str) -> DerivedInventory:
        """Return the inventory of the groups of one part, binder or site."""
        chosen = super().where(**wanted)
        return DerivedInventory(chosen.groups, chosen.lines, chosen.amounts, self.behind.where(**wanted))

    def leaf(self, line: Line) -> Node:
        """Return the amount of one line as a leaf."""
        value = self._summed[line]
        what = line.item.replace("|", ", ").replace(SPLIT, "no fate recorded")
        return leaf(
            RECORDS,
            value,
            ": ".join(filter(None, (line.activity, what))),
            line.unit,
            records=self.behind.count(line) if value else 0,
            of=int(self.behind.rows.sum()),
            evidence=line.evidence,
            read=kind_of(line).words,
            blanks=tuple(self.behind.choose(key) for key in self.behind.fillers(line)),
        )

    def _chosen(self, account: str, activity: str) -> Iterator[Line]:
        """Yield the lines of an activity to which the records of this inventory bring something."""
        for line in self.lines:
            if line.account == account and line.activity == activity and self._summed[line]:
                yield line

    def lines_of(self, account: str, activity: str) -> Iterator[tuple[Line, Numbers]]:
        """Yield the lines of an activity with their amounts as leaves."""
        for line in self._chosen(account, activity):
            yield line, cast(Numbers, self.leaf(line))

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
    results: Study, central: Callable[[str], float], choose: Callable[[str], Choice]
) -> DerivedInventory:
    """Return the inventory of results with its amounts as leaves.

    `central` and `choose` give central value and row of a factor key.
    """
    found = results.inventory
    behind = Behind.found(results.counted.table, results.workshop, central, choose, tuple(found.groups))
    return DerivedInventory(found.groups, found.lines, found.amounts, behind)


MOVED, ROUNDING = 0.97, 1e-12
"""By what a central value is moved to find the amounts that rest on it, and by what rounding moves them. [-]"""


@dataclass(frozen=True)
class Behind:
    """Knows the records behind each line, and the factor rows whose central value stands in where those are blank.

    The rows are found by working the inventory out again with each value moved. Only so are those left out that cancel:
    the moisture of the one grade in a batch, say, in the share of that grade in its pulp.
    """

    batches: BatchTable
    marks: Mapping[Line, np.ndarray]  # records that bring something to each line
    rows: np.ndarray  # records that are looked at
    inventory: Inventory  # what they come to
    moved: Mapping[str, Inventory]  # the same with the central value of a factor key moved
    choose: Callable[[str], Choice]  # gives the row of a factor key

    @classmethod
    def found(
        cls,
        batches: BatchTable,
        workshop: Workshop,
        central: Callable[[str], float],
        choose: Callable[[str], Choice],
        by: Sequence[str],
    ) -> Behind:
        """Return what is behind the lines of a table of batches; `choose` gives the row of a factor key.

        The other arguments are those of `impact.account.amounts.take_stock`.
        """
        asked: dict[str, float] = {}

        def stock(central: Callable[[str], float]) -> Inventory:
            return resolved(take_stock(batches, workshop, central, by=by)[0])

        inventory = stock(lambda key: asked.setdefault(key, central(key)))
        moved = {key: stock({**asked, key: MOVED * value or 1.0 - MOVED}.__getitem__) for key, value in asked.items()}
        marks = records_behind(batches, workshop, asked.__getitem__)
        return cls(batches, marks, np.ones(len(batches), dtype=bool), inventory, moved, choose)

    def where(self, **wanted: str) -> Behind:
        """Return what is behind the lines of the records of one part, binder or site."""
        flags = [self.batches.coded(column).where(value) for column, value in wanted.items()]
        moved = {key: one.where(**wanted) for key, one in self.moved.items()}
        rows = np.logical_and.reduce([self.rows, *flags])
        return replace(self, rows=rows, inventory=self.inventory.where(**wanted), moved=moved)

    def count(self, line: Line) -> int:
        """Return the number of records behind a line; those of own rejects count where their make-up is taken over."""
        found = self.marks.get(line, np.zeros_like(self.rows))
        unknown = made_of(line, "fibre", OWN_REJECTS)
        if unknown is not None:
            found = found | self.marks.get(unknown, False)
        return int((found & self.rows).sum())

    @cached_property
    def _sums(self) -> tuple[dict[Line, float], dict[str, dict[Line, float]]]:
        return self.inventory.by_line(), {key: moved.by_line() for key, moved in self.moved.items()}

    def fillers(self, line: Line) -> list[str]:
        """Return the factor keys that fill blanks behind a line."""
        sums, moved = self._sums
        amount = sums.get(line, 0.0)
        least = ROUNDING * abs(amount)
        return [key for key, found in moved.items() if abs(found.get(line, 0.0) - amount) > least]
