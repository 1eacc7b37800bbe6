"""The unit impacts as derivations: the calculation itself, run on leaves, with names for its steps."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import cached_property
from typing import Any, cast

from impact.account.intensities import LandfillSet, UnitImpacts, at_socket
from impact.account.inventory import Line
from impact.account.lines import avoided_impact, lost_impact, stage_impact
from impact.core import FloatArray, Numbers
from impact.core.node import Node, as_node, below, product
from impact.records.workshop import Mould, Workshop
from impact.trace.leaves import FACTOR, DerivedValues, named

PER_KG = "kgCO2e/kg"


class DerivedImpacts(UnitImpacts):
    """Unit impacts as nodes; a step asked for twice is one node.

    Parameters
    ----------
    workshop : Workshop
        Settings as leaves, see `impact.trace.leaves`.
    values : DerivedValues
        Factors as leaves.
    pressings_made : mapping of str to Node
        Pressings recorded for each mould.
    """

    def __init__(self, workshop: Workshop, values: DerivedValues, pressings_made: dict[str, Any]) -> None:
        super().__init__(workshop, values, pressings_made)
        self._steps: dict[Hashable, Node] = {}
        self._shares: dict[Hashable, list[Any]] = {}

    def _step(self, key: Hashable, make: Callable[[], Any], label: str, unit: str) -> Any:
        """Return a step under its name, worked out once."""
        if key not in self._steps:
            self._steps[key] = named(make(), label, unit)
        return self._steps[key]

    @cached_property
    def socket(self) -> Node:
        """One kWh at the workshop's socket."""
        place = self.workshop.electricity or self.workshop.country
        grid, _ = at_socket(self.values, place, self.workshop.country, self.values.regions)
        return named(grid, "electricity at the socket", "kgCO2e/kWh")

    @property
    def kwh(self) -> FloatArray:
        """Emission per kWh as a node."""
        return cast(FloatArray, self.socket)

    @property
    def part_solids(self) -> Numbers:
        """Solids of a finished part as a node."""
        solids = super().part_solids
        return cast(Numbers, self._step("solids", lambda: solids, "solids of a part", "1"))

    @property
    def end_of_life_shares(self) -> list[Numbers]:
        """Shares of where finished parts go, as nodes."""
        if "end of life" not in self._shares:
            self._shares["end of life"] = list(super().end_of_life_shares)
        return self._shares["end of life"]

    def counterfactual_shares(self, grade: str, route: str) -> list[Numbers]:
        """Return the shares of what would have happened to a grade, as nodes."""
        key = (grade, route)
        if key not in self._shares:
            shares: list[Any] = list(super().counterfactual_shares(grade, route))
            label = f"recorded fate of the batch: {route}"
            self._shares[key] = [share if isinstance(share, Node) else named(share, label) for share in shares]
        return self._shares[key]

    def methane_leak(self, decay: str) -> Numbers:
        """Return the emission per kg of methane potential as a node."""
        label = f"emission per kg of methane potential, {decay}, {self.climate}"
        make = super().methane_leak
        return cast(Numbers, self._step(("leak", decay), lambda: make(decay), label, PER_KG))

    def methane_yield(self, kind: str, item: str, parameters: LandfillSet) -> Numbers:
        """Return the methane potential of one dry kg as a node."""
        key, label = ("yield", kind, item, parameters), f"methane potential of one dry kg of {item}"
        make = super().methane_yield
        return cast(Numbers, self._step(key, lambda: make(kind, item, parameters), label, "kg/kg"))

    def disposal(self, kind: str, item: str, fate: str, parameters: LandfillSet | None = None) -> Numbers:
        """Return one dry kg by one route as a node."""
        make = super().disposal
        label = f"{fate} of one dry kg of {item}"
        if fate not in ("landfill", "incineration", "composting"):
            label = f"{fate} of {item}: nothing is charged here"
        return cast(
            Numbers,
            self._step((kind, item, fate, parameters), lambda: make(kind, item, fate, parameters), label, PER_KG),
        )

    def avoided(self, grade: str, route: str, parameters: LandfillSet | None = None) -> Numbers:
        """Return what one dry kg of paper would have emitted as a node."""
        make, label = super().avoided, f"one dry kg of {grade} elsewhere"
        return cast(
            Numbers,
            self._step(("avoided", grade, route, parameters), lambda: make(grade, route, parameters), label, PER_KG),
        )

    def lost_recycling(self, grade: str, route: str) -> Numbers:
        """Return what one kg of paper as weighed takes from recycling as a node."""
        make, label = super().lost_recycling, f"one kg of {grade} taken from recycling"
        return cast(Numbers, self._step(("lost", grade, route), lambda: make(grade, route), label, PER_KG))

    def plastic_disposal(self, polymer: str) -> Numbers:
        """Return the end of life of one kg of a polymer as a node."""
        make, label = super().plastic_disposal, f"end of life of one kg of {polymer}"
        return cast(Numbers, self._step(("end", polymer), lambda: make(polymer), label, PER_KG))

    def mould(self, mould: Mould) -> Numbers:
        """Return the share of a mould that one pressing bears as a node."""
        make, label = super().mould, f"one pressing's share of the mould {mould.name}"
        return cast(Numbers, self._step(("mould", mould.name), lambda: make(mould), label, "kgCO2e"))

    def dry_binder(self, binder: str) -> Numbers:
        """Return the making of one dry kg of binder as a node."""
        make, label = super().dry_binder, f"making one dry kg of {binder}"
        return cast(Numbers, self._step(("binder", binder), lambda: make(binder), label, PER_KG))

    def driving(self, vehicle: str) -> Numbers:
        """Return one vehicle-kilometre as a node."""
        make, label = super().driving, f"one km by {vehicle}"
        return cast(Numbers, self._step(("driving", vehicle), lambda: make(vehicle), label, "kgCO2e/km"))

    def drying_kwh(self, dryer: str) -> Numbers:
        """Return the estimated drying of one dry kg as a node."""
        make, label = super().drying_kwh, f"drying one dry kg with {dryer}"
        return cast(Numbers, self._step(("drying", dryer), lambda: make(dryer), label, "kWh/kg"))

    def biogenic_co2(self, kind: str, item: str) -> float:
        """Return the biogenic carbon of one dry kg as a node."""
        make, label = super().biogenic_co2, f"biogenic carbon of one dry kg of {item}, as CO2"
        return cast(float, self._step(("biogenic", kind, item), lambda: make(kind, item), label, "kgCO2/kg"))

    # -- lines --------------------------------------------------------------------------------------------------

    def unit_of(self, line: Line, account: str) -> Node:
        """Return the emission of one unit of a line, without the error of its amount.

        Parameters
        ----------
        line : Line
            The line.
        account : str
            ``stages``, ``default`` or ``measured`` (disposal avoided, by landfill parameters), or ``lost``.
        """
        unit = f"kgCO2e/{line.unit}" if line.unit != "1" else "kgCO2e"
        make: Callable[[], Any]
        if account == "stages":
            make = lambda: stage_impact(self, line)  # noqa: E731
        elif account == "lost":
            make = lambda: lost_impact(self, line)  # noqa: E731
        else:
            make = lambda: avoided_impact(self, line, cast(LandfillSet, account))  # noqa: E731
        key = ("unit", account, line.activity, line.item)
        if key not in self._steps:
            found = as_node(make())
            self._steps[key] = (
                found
                if found.label and found.unit == unit
                else found.named(found.label or f"one {line.unit} of {line.activity}", unit)
            )
        return self._steps[key]

    def line_node(self, line: Line, amount: Node, account: str) -> Node:
        """Return what a line adds to an account: amount, its error, emission of one unit. [kgCO2e]"""
        spread = cast(Node, self.values.spread(line.activity, line.evidence))
        label = ", ".join(filter(None, (amount.label, line.evidence)))
        return product([amount, spread, self.unit_of(line, account)], label=label, unit="kgCO2e")


def factors_below(node: Node) -> set[str]:
    """Return the ids of the factor rows under a node, errors of amounts apart."""
    return {inner.details["choice"].factor.id for inner in below(node) if inner.equation is FACTOR}
