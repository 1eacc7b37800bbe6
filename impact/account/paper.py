"""Paper by weight: collected, kept from landfill, returned, put to use; and rejects pulped again."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, cast

import numpy as np

from impact.account import linekinds as names
from impact.account.inventory import OWN_REJECTS, SPLIT, Inventory
from impact.account.linekinds import Name
from impact.account.results import GradeAccount, PaperAccount
from impact.core.moisture import unaccounted_share
from impact.factors.values import FATES
from impact.tables.texts import Flags

if TYPE_CHECKING:
    from impact.account.results import Results


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
    kept = {line: inventory.amounts[:, index] for index, line in enumerate(inventory.lines) if index not in unknown}
    parts = inventory.groups["part"]
    for part in dict.fromkeys(parts):
        rows = parts.where(part)
        for (kind, item), share in makeup_of(inventory, rows)[0].items():
            for index in unknown:
                target = names.made_of(inventory.lines[index], kind, item)
                if target is not None:
                    amounts = np.where(rows, inventory.amounts[:, index], 0.0) * share
                    kept[target] = kept[target] + amounts if target in kept else amounts
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


def paper_account(
    inventory: Inventory, shares: Callable[[str, str], list[float]], *, landfill_at_end_of_life: float
) -> PaperAccount:
    """Return the paper by weight of an inventory.

    `shares` gives the central shares over `FATES` of what would have happened to a grade, by grade and recorded fate
    [-]; `landfill_at_end_of_life` is the share of the finished parts that goes to landfill in the end [-].
    """
    collected = inventory.items(*names.COLLECTED)
    returned = inventory.items(*names.RETURNED)
    grades = sorted({item.split("|")[0] for item in (*collected, *returned)})
    accounts = tuple(_grade_account(grade, collected, returned, shares) for grade in grades)
    total = sum(grade.collected_kg for grade in accounts)
    net = sum(grade.kept_from_landfill_kg for grade in accounts)
    back = sum(grade.returned_to_landfill_kg for grade in accounts)
    flow_in = inventory.sum_of(*names.DRY_IN)
    flow_out = inventory.sum_of(*names.DRY_OUT)
    balance = cast(float, unaccounted_share(flow_in, flow_out)) if flow_in > 0.0 else None
    return PaperAccount(
        collected_kg=total,
        dry_fibre_kg=inventory.sum_of(*names.DRY_FIBRE),
        put_to_use_kg=inventory.sum_of(*names.PUT_TO_USE),
        kept_from_landfill_gross_kg=net + back,
        kept_from_landfill_kg=net,
        kept_from_incineration_kg=sum(grade.kept_from_incineration_kg for grade in accounts),
        taken_from_recycling_kg=sum(grade.taken_from_recycling_kg for grade in accounts),
        returned_to_landfill_kg=back,
        deferred_kg=max(net, 0.0) * landfill_at_end_of_life,
        landfill_at_end_of_life=landfill_at_end_of_life,
        landfill_diversion_rate=net / total if total > 0.0 else None,
        by_grade=accounts,
        in_kg=flow_in,
        out_kg=flow_out,
        unaccounted_share=balance,
    )


def _grade_account(
    grade: str,
    collected: dict[str, float],
    returned: dict[str, float],
    shares: Callable[[str, str], list[float]],
) -> GradeAccount:
    would_have = dict.fromkeys(FATES, 0.0)
    mass = 0.0
    for item, amount in collected.items():
        name, _, route = item.partition("|")
        if name == grade:
            mass += amount
            for fate, share in zip(FATES, shares(grade, route or SPLIT), strict=True):
                would_have[fate] += amount * share
    back = {fate: returned.get(f"{grade}|{fate}", 0.0) for fate in FATES}
    return GradeAccount(
        grade=grade,
        collected_kg=mass,
        kept_from_landfill_kg=would_have["landfill"] - back["landfill"],
        kept_from_incineration_kg=would_have["incineration"] - back["incineration"],
        kept_from_composting_kg=would_have["composting"] - back["composting"],
        taken_from_recycling_kg=would_have["recycling"],
        returned_to_landfill_kg=back["landfill"],
    )


ROUNDING = 1e-9
"""Share of the whole below which a difference of sums is error of arithmetic. [-]"""


def massflow(results: Results) -> dict[str, dict[str, float]]:
    """Return the flow of paper, fibre without binder, as weighed; counted for a grant, every figure has its share. [kg]

    All figures are at least 0, and the sum of ``in`` is that of ``out``; `later` divides the good parts. Rejects
    pulped again leave nothing behind: only what more was kept than used stands under ``out`` as ``waiting_kg``, or
    what more was used than kept under ``in`` as ``earlier_rejects_kg``. What the dry mass balance misses is
    ``unaccounted_kg``; where more was found than went in, it is ``beyond_weighed_kg``.
    """
    paper, share = results.paper, results.grant.share if results.grant else 1.0
    lost = dict.fromkeys((*FATES, OWN_REJECTS), 0.0)
    for item, mass in results.inventory.items(*names.RETURNED).items():
        lost[item.rpartition("|")[2]] += mass * share
    waiting = lost[OWN_REJECTS] - results.inventory.sum_of(*names.PULPED_AGAIN) * share
    kept = {
        "landfill": paper.kept_from_landfill_gross_kg,
        "incineration": paper.kept_from_incineration_kg + lost["incineration"],
        "recycling": paper.taken_from_recycling_kg,
        "composting": sum(grade.kept_from_composting_kg for grade in paper.by_grade) + lost["composting"],
    }
    missing = sum(kept.values()) - waiting - paper.put_to_use_kg - sum(lost[fate] for fate in FATES)
    least = ROUNDING * (paper.collected_kg + paper.put_to_use_kg)
    to_landfill = paper.put_to_use_kg * paper.landfill_at_end_of_life

    def positive(mass: float) -> float:
        return mass if mass > least else 0.0

    return {
        "in": {
            **{f"{fate}_kg": positive(kept[fate]) for fate in FATES},
            "earlier_rejects_kg": positive(-waiting),
            "beyond_weighed_kg": positive(-missing),
        },
        "out": {
            "good_parts_kg": paper.put_to_use_kg,
            **{f"{fate}_kg": positive(lost[fate]) for fate in FATES},
            "waiting_kg": positive(waiting),
            "unaccounted_kg": positive(missing),
        },
        "later": {"landfill_kg": to_landfill, "elsewhere_kg": paper.put_to_use_kg - to_landfill},
    }
