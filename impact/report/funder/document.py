"""The figures of the funder report beside the totals, as JSON values."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import compress, groupby
from math import fsum
from operator import itemgetter
from typing import TYPE_CHECKING, Any

import numpy as np

from impact.account.inventory import grouped
from impact.account.ownvalues import KeyFigures
from impact.account.tally import months_of
from impact.base.language import message
from impact.base.serial import plain
from impact.core import FloatArray
from impact.records.batchtable import BatchTable
from impact.records.columns import column_named, energy_columns
from impact.tables.texts import Flags

if TYPE_CHECKING:
    from impact.account.results import PartResult
    from impact.report.funder.decisions import Decision
    from impact.study import Study

COLUMNS = 12
"""Most columns of a table by period."""


def _quarter(month: str) -> str:
    """Return the quarter of a month."""
    return f"{month[:4]}-Q{(int(month[5:]) + 2) // 3}"


def _periods(months: list[str]) -> dict[str, str]:
    """Return the period that each month is printed in: itself, its quarter or its year, to be `COLUMNS` at most."""
    by_quarter = {month: _quarter(month) for month in months}
    if len(months) <= COLUMNS:
        return {month: month for month in months}
    return by_quarter if len(set(by_quarter.values())) <= COLUMNS else {month: month[:4] for month in months}


def periods(results: Study) -> dict[str, dict[str, float]]:
    """Return the paper collected in each month, quarter or year by grade, counted for the grant if there is one. [kg]"""
    share, by_month = results.grant.share if results.grant else 1.0, results.counted.tally.by_month
    found: dict[str, dict[str, float]] = {}
    for month, period in _periods(sorted(by_month)).items():
        by_grade = found.setdefault(period, {})
        for grade, mass in by_month[month].items():
            by_grade[grade] = by_grade.get(grade, 0.0) + mass * share
    return found


PAPER = message("waste paper, as weighed")
INPUTS = {
    "binder mass": message("binder, as weighed"),
    "water": message("water"),
    "shredding": message("shredding"),
    "binder preparation": message("binder preparation"),
    "blending": message("blending"),
    "pressing": message("pressing"),
    "drying": message("drying"),
    "transport": message("transport"),
    "hours": message("hours of batches"),
    "cost": message("cost"),
}
"""Columns of the log that are summed up, and their names in the report; the unit of a cost is the workshop's currency."""


def made(results: Study) -> dict[str, Any]:
    """Return what was made, from what the batches record, and how far the target is."""
    table, workshop = results.counted.table, results.workshop
    names = table.coded("part").tolist()
    batches, unknown = Counter(names), set(compress(names, np.isnan(table.floats("rejects")).tolist()))
    pairs = sorted(set(zip(names, table.coded("binder").tolist(), strict=True)))
    binders = {part: [binder for _, binder in found] for part, found in groupby(pairs, itemgetter(0))}
    parts = [
        {
            "part": part.part,
            "stands_for": f"{workshop.parts[part.part].polymer} part" if workshop.parts[part.part].polymer else "–",
            "batches": batches[part.part],
            "good": part.good,
            "rejected": part.rejected,
            "rejects_estimated": part.part in unknown,
            "reject_rate": part.rejected / (part.good + part.rejected) if part.good + part.rejected else None,
            "binders": binders[part.part],
        }
        for part in results.parts
    ]
    inputs: list[dict[str, Any]] = [
        {
            "input": name,
            "unit": column.unit or workshop.currency,
            "amount": float(np.nansum(amounts)),
            "batches": on_record(amounts),
        }
        for name, column in ((name, column_named(header)) for header, name in INPUTS.items())
        for amounts in (table.floats(column.canonical),)
    ]
    fed = _paper_kg(table) > 0.0
    weighed = results.paper.weighed_kg.value
    inputs.insert(0, {"input": PAPER, "unit": "kg", "amount": weighed, "batches": int(fed.sum())})
    energy = [row["amount"] for row in inputs if row["unit"] == "kWh" and row["batches"]]
    electricity = sum(energy) if energy else None
    return {"parts": parts, "inputs": inputs, "electricity_kwh": electricity, "target": _target(results)}


def _target(results: Study) -> dict[str, float] | None:
    """Return the target, and how much of it the whole work kept from landfill, whatever counts for a grant."""
    target = results.workshop.targets
    if target is None or not target.diverted_kg:
        return None
    kept = results.paper.kept_from_landfill_kg.value / (results.grant.share if results.grant else 1.0)
    return {"diverted_kg": target.diverted_kg, "share_of_this_period": kept / target.diverted_kg}


def part_details(results: Study) -> list[dict[str, Any]]:
    """Return of each part what the report prints beside the totals."""
    return [_details(results, part) for part in results.parts]


def _details(results: Study, part: PartResult) -> dict[str, Any]:
    recorded = results.workshop.parts[part.part]
    plastic = part.plastic
    masses = list(plastic.masses_by_rule.values()) if plastic else []
    return {
        "part": part.part,
        "median_kgco2e": part.footprint.median if part.footprint else None,
        "service_life_years": recorded.service_life_years,
        "plastic_service_life_years": recorded.plastic_service_life_years,
        "displacement": recorded.displacement,
        "plastic_stages_kgco2e": dict(plastic.stages) if plastic else None,
        "masses_ratio": max(masses) / min(masses) if len(masses) > 1 else None,
    }


def disposal_by_grade(results: Study) -> list[dict[str, Any]]:
    """Return the account of disposal by grade. [kgCO2e]"""
    account = results.disposal
    return [
        {"grade": grade, "avoided_kgco2e": avoided, "lost_recycling_kgco2e": account.lost_by_grade[grade]}
        for grade, avoided in account.avoided_by_grade.items()
    ]


def factors_used(results: Study) -> list[dict[str, Any]]:
    """Return the factor rows that the results use, in their canonical units."""
    rows = (choice.factor for choice in results.factors_used.values())
    return [{"factor": row.id, "value": row.value, "low": row.low, "high": row.high, "unit": row.unit} for row in rows]


def own_figures(results: Study) -> dict[str, Any] | None:
    """Return the headline figures with the workshop's own values; None when there is nothing to compare with."""
    if results.own_values is None or results.own_values.with_shipped is None:
        return None
    found: dict[str, Any] = plain(KeyFigures.of(results))
    return found


def breakeven(decisions: list[Decision]) -> list[dict[str, Any]]:
    """Return the break-even points of every part, what would lower it, and the inputs behind the spread of its difference."""
    return [
        {
            "part": decision.part,
            "crossings": plain(decision.found.crossings),
            "levers": plain(decision.levers),
            "spread": [{"input": share.input, "share": share.share} for share in decision.measure],
        }
        for decision in decisions
    ]


def on_record(numbers: FloatArray) -> int:
    """Return how many numbers of a column are on record."""
    return int(np.count_nonzero(~np.isnan(numbers)))


def sum_on_record(numbers: FloatArray) -> float | None:
    """Return the sum of a column; None where nothing of it is on record."""
    return float(np.nansum(numbers)) if on_record(numbers) else None


def _paper_kg(table: BatchTable) -> FloatArray:
    """Return the paper of each batch, as weighed. [kg]"""
    return _across([*table.papers.values()], len(table))


def _across(columns: Sequence[FloatArray], rows: int) -> FloatArray:
    """Return the sum of the columns in each row; what is blank adds nothing."""
    found: FloatArray = np.nansum(np.column_stack(columns), axis=1) if columns else np.zeros(rows)
    return found


def _register(table: BatchTable) -> dict[str, FloatArray]:
    """Return the numbers of the register: masses as weighed [kg], recorded electricity [kWh]; NaN where none is on record."""
    energies = [table.floats(name) for name in energy_columns()]
    return {
        "paper_kg": _paper_kg(table),
        "recorded_kwh": np.where(np.isnan(energies).all(axis=0), np.nan, _across(energies, len(table))),
        "good": table.floats("good_parts"),
        "rejects": table.floats("rejects"),
    }


def _partly(table: BatchTable) -> Flags:
    """Return of which batches the energy of blending or of drying is not on record."""
    return np.isnan(table.floats("blending_kwh")) | np.isnan(table.floats("drying_kwh"))


def _known(row: Mapping[Any, Any]) -> dict[str, Any]:
    """Return a row with None in place of what is not on record."""
    return {str(name): None if cell != cell else cell for name, cell in row.items()}


def register(results: Study) -> list[dict[str, Any]]:
    """Return the batches as the register has them: masses as weighed [kg], recorded electricity [kWh]."""
    table, numbers = results.counted.table, _register(results.counted.table)
    columns: dict[str, list[Any]] = {
        "batch": table.texts("batch").tolist(),
        "date": table.days.astype(str).tolist(),
        "part": table.coded("part").tolist(),
        "binder": table.coded("binder").tolist(),
        "paper_kg": numbers["paper_kg"].tolist(),
        "recorded_kwh": numbers["recorded_kwh"].tolist(),
        "partly": _partly(table).tolist(),
        "good": numbers["good"].tolist(),
        "rejects": numbers["rejects"].tolist(),
        "unaccounted_share": results.balance.unaccounted.tolist(),
    }
    return [_known(dict(zip(columns, row, strict=True))) for row in zip(*columns.values(), strict=True)]


def register_sums(results: Study) -> dict[str, float | None]:
    """Return the sums of the columns of the register: recorded electricity [kWh], good parts and rejects; None of nothing."""
    numbers = _register(results.counted.table)
    return {name: sum_on_record(numbers[name]) for name in SUMMED}


SUMMED = ("recorded_kwh", "good", "rejects")
"""Columns of the register that have a sum."""

REGISTER_LINES = 30
"""Lines that a register by month may have; above that it is by quarter, and then by year."""


def register_by_month(results: Study) -> list[dict[str, Any]]:
    """Return the register summed by part and month, or by quarter or year where months would be many lines.

    With what only some of its batches record; None where none does.
    """
    table = results.counted.table
    months, parts = months_of(table), table.coded("part")
    for shortened in (str, _quarter, lambda month: month[:4]):
        groups, codes = grouped({"month": months.renamed(shortened), "part": parts})
        count = len(groups["part"])
        if count <= REGISTER_LINES:
            break

    order = np.argsort(codes, kind="stable")
    ends = np.cumsum(np.bincount(codes, minlength=count))[:-1]

    def summed(column: FloatArray | Flags) -> FloatArray:
        return np.array([fsum(group) for group in np.split(np.nan_to_num(column)[order], ends)])

    numbers, one = _register(table), np.ones(len(table))
    sums = {name: summed(column) for name, column in numbers.items()}
    for name in ("recorded_kwh", "rejects"):
        sums[name][summed(~np.isnan(numbers[name])) == 0.0] = np.nan
    columns: dict[str, list[Any]] = {
        "month": groups["month"].tolist(),
        "part": groups["part"].tolist(),
        "paper_kg": sums["paper_kg"].tolist(),
        "good": sums["good"].tolist(),
        "batches": summed(one).astype(int).tolist(),
        "partly": (summed(_partly(table)) > 0.0).tolist(),
        "rejects_partly": (summed(np.isnan(numbers["rejects"])) > 0.0).tolist(),
        "recorded_kwh": sums["recorded_kwh"].tolist(),
        "rejects": sums["rejects"].tolist(),
    }
    return [_known(dict(zip(columns, row, strict=True))) for row in zip(*columns.values(), strict=True)]
