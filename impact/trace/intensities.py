"""The unit impacts as derivations: the calculation itself, run on leaves, with names for its steps."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from pathlib import Path
from typing import Any, cast

from impact.account.assumptions import read_texts
from impact.account.intensities import UnitImpacts
from impact.account.inventory import Line
from impact.account.lines import avoided_impact, lost_impact, sold_impact, stage_impact
from impact.core import FloatArray
from impact.core.node import Node, as_node, below, product
from impact.factors.electricity import at_plant, at_socket
from impact.trace.leaves import FACTOR, named

ACCOUNTS: dict[str, Callable[[UnitImpacts, Line], Any]] = {
    "stages": stage_impact,
    "avoided": avoided_impact,
    "lost": lost_impact,
    "sold": sold_impact,
}
"""What a line emits for one unit, by account."""

TEXTS = (Path(__file__).with_name("steps.csv"), "step", "label", "unit", "name", "cell_unit", "how")


def named_step(impacts: UnitImpacts, step: str, of: tuple[Hashable, ...]) -> dict[str, str]:
    """Return what a step of unit impacts is called, by its name and one of `of` where the table has such a row.

    `label` and `unit` are for a derivation, `name`, `cell_unit` and `how` for a workbook; blank where a step has none.
    """
    rows = read_texts(*TEXTS)
    row = next((rows[key] for one in of if (key := f"{step}.{one}") in rows), rows.get(step, {}))
    return {column: text.format(*of, climate=impacts.climate) for column, text in row.items() if column != "#"}


class DerivedImpacts(UnitImpacts):
    """Unit impacts as nodes, over settings and factors as leaves; a step asked for twice is one node."""

    def step(self, name: str, of: tuple[Hashable, ...], work_out: Callable[[], Any]) -> Any:
        """Return a step under its name, worked out once."""
        return super().step(name, of, lambda: self._named(work_out(), **named_step(self, name, of)))

    def _named(self, found: Any, label: str = "", unit: str = "", **_: str) -> Any:
        return named(found, label, unit) if label else found

    @property
    def kwh(self) -> FloatArray:
        """Emission of one kWh at the workshop's socket as a node."""
        found = self.step("kwh", (), lambda: at_socket(self.values, *self.grid_place, self.values.regions)[0])
        return cast(FloatArray, found)

    @property
    def generated_kwh(self) -> FloatArray:
        """Emission of one kWh where it is generated as a node."""
        found = self.step("generated_kwh", (), lambda: at_plant(self.values, *self.grid_place, self.values.regions))
        return cast(FloatArray, found)

    def unit_of(self, line: Line, account: str) -> Node:
        """Return the emission of one unit of a line, without the error of its amount. [kgCO2e/unit]

        `account` is ``stages``, ``avoided``, ``lost`` or ``sold``.
        """
        unit = f"kgCO2e/{line.unit}" if line.unit != "1" else "kgCO2e"
        found = as_node(ACCOUNTS[account](self, line))
        if found.label and found.unit == unit:
            return found
        return found.named(found.label or f"one {line.unit} of {line.activity}", unit)

    def line_node(self, line: Line, amount: Node, account: str) -> Node:
        """Return what a line adds to an account: amount, its error, emission of one unit. [kgCO2e]"""
        spread = cast(Node, self.values.spread(line.activity, line.evidence))
        label = ", ".join(filter(None, (amount.label, line.evidence)))
        return product([amount, spread, self.unit_of(line, account)], label=label, unit="kgCO2e")


def factors_below(node: Node) -> set[str]:
    """Return the ids of the factor rows under a node, errors of amounts apart."""
    return {inner.details["choice"].factor.id for inner in below(node) if inner.equation is FACTOR}
