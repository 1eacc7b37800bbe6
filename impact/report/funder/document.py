"""The figures of the funder report beside the totals, as JSON values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from impact.account.ownvalues import KeyFigures
from impact.base.language import message
from impact.base.serial import plain
from impact.records.columns import column_named, energy_columns

if TYPE_CHECKING:
    import pandas as pd

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
    frame, workshop = results.batch_records, results.workshop
    of_part = frame.groupby(frame["part"].astype(str))
    batches = of_part.size().to_dict()
    unknown = of_part["rejects"].agg(lambda column: column.isna().sum()).to_dict()
    binders = of_part["binder"].agg(lambda column: sorted(set(column.astype(str)))).to_dict()
    parts = [
        {
            "part": part.part,
            "stands_for": f"{workshop.parts[part.part].polymer} part" if workshop.parts[part.part].polymer else "–",
            "batches": batches[part.part],
            "good": part.good,
            "rejected": part.rejected,
            "rejects_estimated": bool(unknown[part.part]),
            "reject_rate": part.rejected / (part.good + part.rejected) if part.good + part.rejected else None,
            "binders": binders[part.part],
        }
        for part in results.parts
    ]
    inputs: list[dict[str, Any]] = [
        {
            "input": name,
            "unit": column.unit or workshop.currency,
            "amount": float(frame[column.canonical].astype(float).sum()),
            "batches": int(frame[column.canonical].notna().sum()),
        }
        for name, column in ((name, column_named(header)) for header, name in INPUTS.items())
    ]
    fed = frame[[name for name in frame.columns if name.startswith("paper.")]].sum(axis=1) > 0.0
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


def _register(frame: pd.DataFrame) -> pd.DataFrame:
    """Return a row for each batch: masses as weighed [kg], recorded electricity [kWh]; not a number where none is on record."""
    import pandas as pd

    return pd.DataFrame(
        {
            "batch": frame["batch"].astype(str),
            "date": frame["date"].dt.strftime("%Y-%m-%d"),
            "part": frame["part"].astype(str),
            "binder": frame["binder"].astype(str),
            "paper_kg": frame[[name for name in frame.columns if name.startswith("paper.")]].sum(axis=1),
            "recorded_kwh": frame[energy_columns()].astype(float).sum(axis=1, min_count=1),
            "partly": frame["blending_kwh"].isna() | frame["drying_kwh"].isna(),
            "good": frame["good_parts"].astype(float),
            "rejects": frame["rejects"].astype(float),
        }
    )


def register(results: Study) -> list[dict[str, Any]]:
    """Return the batches as the register has them: masses as weighed [kg], recorded electricity [kWh]."""
    table = _register(results.batch_records)
    table["unaccounted_share"] = results.balance.unaccounted
    rows = table.to_dict(orient="records")
    return [{str(name): None if cell != cell else cell for name, cell in row.items()} for row in rows]


def register_sums(results: Study) -> dict[str, float | None]:
    """Return the sums of the columns of the register: recorded electricity [kWh], good parts and rejects; None of nothing."""
    table = _register(results.batch_records)
    sums = {name: float(table[name].sum(min_count=1)) for name in ("recorded_kwh", "good", "rejects")}
    return {name: None if found != found else found for name, found in sums.items()}


REGISTER_LINES = 30
"""Lines that a register by month may have; above that it is by quarter, and then by year."""


def register_by_month(results: Study) -> list[dict[str, Any]]:
    """Return the register summed by part and month, or by quarter or year where months would be many lines.

    With what only some of its batches record; None where none does.
    """
    table, summed = _register(results.batch_records), ["paper_kg", "good", "batches"]
    months, table["batches"], table["rejects_partly"] = table["date"].str[:7], 1, table["rejects"].isna()
    for shortened in (str, _quarter, lambda month: month[:4]):
        table["month"] = months.map(shortened)
        by_month = table.groupby(["month", "part"], sort=True)
        found = by_month[summed].sum().join(by_month[["partly", "rejects_partly"]].any())
        found = found.join(by_month[["recorded_kwh", "rejects"]].sum(min_count=1))
        if len(found) <= REGISTER_LINES:
            break
    rows = found.reset_index().to_dict(orient="records")
    return [{str(name): None if cell != cell else cell for name, cell in row.items()} for row in rows]
