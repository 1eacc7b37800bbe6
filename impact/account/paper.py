"""Paper by weight: collected, kept from landfill, returned, put to use, lost as fines; and rejects pulped again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from impact.account import linekinds as names
from impact.account.inventory import OWN_REJECTS, SPLIT, Inventory
from impact.account.linekinds import Name
from impact.account.results import GradeAccount, Interval, PaperAccount
from impact.core import FloatArray, Numbers
from impact.core.moisture import deferred, missing_share, unaccounted_share
from impact.core.node import first
from impact.factors.values import FATES
from impact.tables.texts import Flags

if TYPE_CHECKING:
    from impact.account.intensities import UnitImpacts
    from impact.account.results import Results
    from impact.records.workshop import Workshop

LANDFILL, RECYCLING, SEWER = FATES.index("landfill"), "recycling", "sewer"


FRESH = {names.DRY_FIBRE: "fibre", names.FRESH_BINDER: "binder"}
"""Lines of the fresh pulp, and what each is."""


def resolved(inventory: Inventory) -> Inventory:
    """Return the inventory with own rejects in pulp, parts and losses given the make-up of their part.

    They take the mean make-up of the fresh pulp of their part, else of the whole workshop, else of mixed paper. Where
    fibre alone counts, their binder is left out.
    """
    unknown = [index for index, line in enumerate(inventory.lines) if line.item.split("|")[0] == OWN_REJECTS]
    if not unknown:
        return inventory
    columns = inventory.amounts.T
    kept = dict(zip(inventory.lines, columns, strict=True))
    for index in unknown:
        del kept[inventory.lines[index]]
    parts = inventory.groups["part"]
    for part in dict.fromkeys(parts):
        rows = parts.where(part)
        of_part = [(inventory.lines[index], np.where(rows, columns[index], 0.0)) for index in unknown]
        for (kind, item), share in makeup_of(inventory, rows)[0].items():
            for line, amounts in of_part:
                target = names.made_of(line, kind, item)
                if target is not None:
                    kept[target] = kept[target] + amounts * share if target in kept else amounts * share
    lines = tuple(sorted(kept))
    return Inventory(inventory.groups, lines, np.column_stack([kept[line] for line in lines]))


def makeup_of(inventory: Inventory, rows: Flags) -> tuple[dict[tuple[str, str], float], Flags]:
    """Return what own rejects of the part in some rows are made of, and the rows that tell it, none for mixed paper."""
    for told in (rows, np.ones(len(rows), dtype=bool)):
        found = mean_makeup(inventory, told)
        if found:
            return found, told
    return {("fibre", "mixed"): 1.0}, np.zeros(len(rows), dtype=bool)


def mean_makeup(inventory: Inventory, rows: Flags) -> dict[tuple[str, str], float]:
    """Return the shares of fibre grades and binders in the fresh dry pulp of some groups; empty when there is none. [-]"""
    amounts = inventory.amounts[rows].sum(axis=0)
    found: dict[tuple[str, str], float] = {}
    for line, amount in zip(inventory.lines, amounts.tolist(), strict=True):
        kind = FRESH.get(Name(line.account, line.activity))
        if kind is not None and amount > 0.0:
            found[kind, line.item] = found.get((kind, line.item), 0.0) + amount
    total = sum(found.values())
    return {key: amount / total for key, amount in found.items()}


NEXT_PULP = "next pulp"


def moved(inventory: Inventory, impacts: UnitImpacts, name: Name) -> dict[str, Numbers]:
    """Return the masses of an activity by item, with their errors. [kg]"""
    found: dict[str, Numbers] = {}
    for line, amount in inventory.lines_of(*name):
        found[line.item] = found.get(line.item, 0.0) + amount * impacts.values.spread(line.activity, line.evidence)
    return found


def is_settled(workshop: Workshop) -> bool:
    """Return whether the workshop says that its fines settle and go by a route of waste."""
    return workshop.fines_to not in (None, SEWER, NEXT_PULP)


@dataclass(frozen=True)
class Fines:
    """The fibre that is not found again, and what it takes off; `flow` is all that is assessed.

    One share for all of it: a single batch is blurred by the moisture of its parts.
    """

    flow: Inventory

    def share(self, impacts: UnitImpacts) -> Numbers:
        """Return the share of the paper that was not found again. [-]"""

        def work_out() -> Numbers:
            impacts.worked.passes()
            names_of = (names.COLLECTED, names.PULPED_AGAIN, names.PUT_TO_USE, names.RETURNED)
            sums = [sum(moved(self.flow, impacts, name).values(), start=0.0) for name in names_of]
            return missing_share(*sums) if np.all(sums[0] > 0.0) else 0.0

        found: Numbers = impacts.step("fines_share", (), work_out)
        return found

    def off(self, impacts: UnitImpacts, grade: str, route: str) -> list[Numbers]:
        """Return what the fines take off each kg of paper kept from `FATES`, by grade and recorded fate. [kg/kg]

        Gone to the sewer, which is assumed unless the workshop says otherwise, they are kept from nothing: they come
        off every route of disposal in its share. Settled and sent by one, they come off that one. Paper that was taken
        from recycling was taken, whatever became of its fines.
        """
        to = impacts.workshop.fines_to
        if to == NEXT_PULP:
            return [0.0] * len(FATES)
        share = self.share(impacts)
        if is_settled(impacts.workshop):
            return [share if fate == to else 0.0 for fate in FATES]
        shares = impacts.counterfactual_shares(grade, route)
        return [0.0 if fate == RECYCLING else one * share for fate, one in zip(FATES, shares, strict=True)]

    def __call__(self, impacts: UnitImpacts, grade: str, route: str) -> list[Numbers]:
        """Return the shares over `FATES` of a grade that were kept from there: those of its paper, less its fines. [-]"""
        pairs = zip(impacts.counterfactual_shares(grade, route), self.off(impacts, grade, route), strict=True)
        return [one if isinstance(off, float) and off == 0.0 else one - off for one, off in pairs]


def paper_account(
    inventory: Inventory,
    impacts: UnitImpacts,
    fines: Fines,
    interval: Callable[[str, Numbers], Interval] | None = None,
    central: Callable[[Numbers], float] = first,
) -> PaperAccount:
    """Return the paper by weight of an inventory.

    Parameters
    ----------
    inventory : Inventory
        Of all that is assessed, or of a part of it.
    impacts : UnitImpacts
        Gives the shares of what would have happened to the paper, and where finished parts go.
    fines : Fines
        Of all that is assessed.
    interval : callable, optional
        Makes an interval of a number, by its name; by default of an array with its draws.
    central : callable
        Takes the central value of a number.
    """
    collected, returned = (moved(inventory, impacts, name) for name in (names.COLLECTED, names.RETURNED))
    grades: dict[str, dict[str, Numbers]] = {}
    items = sorted((*collected, *returned))
    for grade in dict.fromkeys(item.partition("|")[0] for item in items):
        grades[grade] = _grade(grade, collected, returned, impacts, fines)
    drawn: dict[str, Numbers] = {
        name: sum((masses[name] for masses in grades.values()), start=0.0) for name in GRADE_DRAWN
    }
    landfilled = impacts.end_of_life_shares[LANDFILL]
    drawn["weighed_kg"] = drawn["collected_kg"]
    drawn["put_to_use_kg"] = sum(moved(inventory, impacts, names.PUT_TO_USE).values(), start=0.0)
    drawn["fines_kg"] = drawn["collected_kg"] * fines.share(impacts)
    drawn["kept_from_disposal_kg"] = drawn["kept_from_landfill_kg"] + drawn["kept_from_incineration_kg"]
    drawn["deferred_kg"] = deferred(drawn["kept_from_landfill_kg"], landfilled)
    if interval is None:
        size = 1 + impacts.values.draws
        drawn = {name: np.broadcast_to(np.asarray(mass, dtype=float), size) for name, mass in drawn.items()}
    flow_in, flow_out = (inventory.sum_of(*name) for name in (names.DRY_IN, names.DRY_OUT))
    return account_of_draws(
        drawn,
        interval or (lambda _, mass: Interval.of(cast("FloatArray", mass))),
        dry_fibre_kg=inventory.sum_of(*names.DRY_FIBRE),
        landfill_at_end_of_life=central(landfilled),
        by_grade=tuple(
            GradeAccount(grade, **{name: central(masses[name]) for name in GRADE_SHOWN})
            for grade, masses in grades.items()
        ),
        in_kg=flow_in,
        out_kg=flow_out,
    )


def account_of_draws(
    drawn: Mapping[str, Numbers], interval: Callable[[str, Numbers], Interval], **known: Any
) -> PaperAccount:
    """Return the account of masses with their draws, by `DRAWN`; `known` are the attributes that have none."""
    total, flow_in = drawn["collected_kg"], known["in_kg"]
    rate = drawn["kept_from_landfill_kg"] / total if first(total) > 0.0 else None
    intervals: dict[str, Any] = {name: interval(name, drawn[name]) for name in DRAWN}
    return PaperAccount(
        **intervals,
        landfill_diversion_rate=None if rate is None else interval("landfill_diversion_rate", rate),
        unaccounted_share=cast(float, unaccounted_share(flow_in, known["out_kg"])) if flow_in > 0.0 else None,
        drawn=drawn,
        **known,
    )


def _grade(
    grade: str,
    collected: Mapping[str, Numbers],
    returned: Mapping[str, Numbers],
    impacts: UnitImpacts,
    fines: Fines,
) -> dict[str, Numbers]:
    """Return the masses of one grade, by `GRADE_DRAWN`. [kg]"""
    would_have, off = dict.fromkeys(FATES, cast(Numbers, 0.0)), dict.fromkeys(FATES, cast(Numbers, 0.0))
    total: Numbers = 0.0
    for item, mass in collected.items():
        name, _, route = item.partition("|")
        if name == grade:
            total = total + mass
            shares, lost = (
                impacts.counterfactual_shares(grade, route or SPLIT),
                fines.off(impacts, grade, route or SPLIT),
            )
            for fate, one, less in zip(FATES, shares, lost, strict=True):
                would_have[fate] = would_have[fate] + mass * one
                off[fate] = off[fate] + mass * less
    back = {fate: returned.get(f"{grade}|{fate}", 0.0) for fate in FATES}
    net = {fate: would_have[fate] - back[fate] - off[fate] for fate in FATES}
    return {
        "collected_kg": total,
        "kept_from_landfill_gross_kg": would_have["landfill"],
        "kept_from_landfill_kg": net["landfill"],
        "kept_from_incineration_kg": net["incineration"],
        "kept_from_composting_kg": net["composting"],
        "taken_from_recycling_kg": would_have["recycling"],
        "returned_to_landfill_kg": back["landfill"],
        "fines_off_landfill_kg": off["landfill"],
        "would_have_been_burnt_kg": would_have["incineration"],
        "would_have_been_composted_kg": would_have["composting"],
    }


GRADE_SHOWN = (
    "collected_kg", "kept_from_landfill_kg", "kept_from_incineration_kg", "kept_from_composting_kg",
    "taken_from_recycling_kg", "returned_to_landfill_kg", "fines_off_landfill_kg",
)  # fmt: skip
BY_FATE = {
    "landfill": "kept_from_landfill_gross_kg", "incineration": "would_have_been_burnt_kg",
    "recycling": "taken_from_recycling_kg", "composting": "would_have_been_composted_kg",
}  # fmt: skip
"""Where the paper would have gone, before anything is taken off."""
GRADE_DRAWN = tuple(dict.fromkeys((*GRADE_SHOWN, *BY_FATE.values())))
DRAWN = (
    "weighed_kg", "collected_kg", "put_to_use_kg", "kept_from_landfill_gross_kg", "kept_from_landfill_kg",
    "kept_from_incineration_kg", "kept_from_disposal_kg", "taken_from_recycling_kg", "returned_to_landfill_kg", "fines_kg",
    "fines_off_landfill_kg", "deferred_kg",
)  # fmt: skip
"""Masses of the account that carry an interval."""

ROUNDING = 1e-9
"""Share of the whole below which a difference of sums is error of arithmetic. [-]"""


def massflow(results: Results) -> dict[str, dict[str, float]]:
    """Return the flow of paper, fibre without binder, as weighed; counted for a grant, every figure has its share. [kg]

    All figures are at least 0, and the sum of ``in`` is that of ``out``; `later` divides the good parts by where they
    go in the end. Rejects pulped again leave nothing behind: only what more was kept than used stands under ``out`` as
    ``waiting_kg``, or what more was used than kept under ``in`` as ``earlier_rejects_kg``. What the dry mass balance
    misses is ``unaccounted_kg``; where more was found than went in, it is ``beyond_weighed_kg``.
    """
    paper, share = results.paper, results.grant.share if results.grant else 1.0
    lost = dict.fromkeys((*FATES, OWN_REJECTS), 0.0)
    for item, mass in results.inventory.items(*names.RETURNED).items():
        lost[item.rpartition("|")[2]] += mass * share
    waiting = lost[OWN_REJECTS] - results.inventory.sum_of(*names.PULPED_AGAIN) * share
    came = {fate: first(paper.drawn[name]) for fate, name in BY_FATE.items()}
    used = paper.put_to_use_kg.value
    missing = sum(came.values()) - waiting - used - sum(lost[fate] for fate in FATES)
    least = ROUNDING * (paper.collected_kg.value + used)
    ending = results.impacts.end_of_life_shares

    def positive(mass: float) -> float:
        return mass if mass > least else 0.0

    return {
        "in": {
            **{f"{fate}_kg": positive(came[fate]) for fate in FATES},
            "earlier_rejects_kg": positive(-waiting),
            "beyond_weighed_kg": positive(-missing),
        },
        "out": {
            "good_parts_kg": used,
            **{f"{fate}_kg": positive(lost[fate]) for fate in FATES},
            "waiting_kg": positive(waiting),
            "unaccounted_kg": positive(missing),
        },
        "later": {f"{fate}_kg": used * first(share) for fate, share in zip(FATES, ending, strict=True)},
    }
