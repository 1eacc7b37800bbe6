"""The binder comparison and the forecast as JSON documents and as text tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from impact.account.results import Interval
from impact.base.problems import counted
from impact.base.texttable import aligned
from impact.core.proportions import Proportion
from impact.decisions import binders, forecast
from impact.decisions.binders import BinderComparison, BinderResult
from impact.decisions.forecast import Forecast
from impact.decisions.pace import Progress
from impact.findings.compost import Finding

CLOSING = "An estimate for the workshop's own use, carbon only, not critically reviewed."

FIGURES = {
    "people_hours": "hours of people",
    "cost": "cost",
    "chance_within_budget": "chance to stay within the budget",
    "dryer_hours": "hours of the dryer",
    "difference_kgco2e": "difference to plastic",
}
"""Plain words for the figures of a forecast that may be missing, by their names in the document."""


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "outcome": finding.outcome,
        "binder_share": finding.binder_share,
        "reasons": [{"rule": reason.rule, "text": reason.text, "source": reason.source} for reason in finding.reasons],
        "not_recorded": list(finding.asked),
    }


def _rate(rejects: Proportion | None) -> dict[str, Any] | None:
    if rejects is None:
        return None
    counts = {"rejects": rejects.count, "pressed": rejects.total}
    return {**counts, "rate": rejects.rate, "low": rejects.low, "high": rejects.high}


def _binder(result: BinderResult) -> dict[str, Any]:
    strength = result.strength
    return {
        "binder": result.binder,
        "label": result.label,
        "batches": result.batches,
        "dose": result.dose,
        "dose_low": result.dose_low,
        "dose_high": result.dose_high,
        "dose_from": result.dose_from,
        "footprint_kgco2e": result.footprint.as_dict(),
        "fossil_carbon_kg": result.fossil_carbon_kg,
        "preparation_kwh": result.preparation_kwh,
        "cost": result.cost,
        "water_kg": result.water_kg,
        "compostability": {finding.route: _finding(finding) for finding in result.findings},
        "reject_rate": _rate(result.rejects),
        "strength": None
        if strength is None
        else {"tests": strength.tests, "mean_n": strength.mean_n, "sd_n": strength.sd_n, "span_mm": strength.span_mm},
    }


def binders_document(comparison: BinderComparison) -> dict[str, Any]:
    """Return a comparison in the shape of ``schemas/binders.schema.json``."""
    return {
        "schema": "impact-binders/1",
        "part": comparison.part,
        "good": comparison.good,
        "currency": comparison.currency,
        "seed": comparison.seed,
        "draws": comparison.draws,
        "binders": [_binder(result) for result in comparison.binders],
        "pairs": [
            {"a": pair.a, "b": pair.b, "chance_a_lower": pair.chance_a_lower, "reject_p": pair.reject_p}
            for pair in comparison.pairs
        ],
        "rules": list(binders.RULES),
    }


def _optional(figure: Interval | None) -> dict[str, float] | None:
    return None if figure is None else figure.as_dict()


def _progress(progress: Progress | None) -> dict[str, Any] | None:
    if progress is None:
        return None
    return {
        "diverted_kg": progress.target_kg,
        "by": progress.by.isoformat(),
        "so_far_kg": progress.so_far_kg,
        "after_kg": progress.after_kg.as_dict(),
        "chance_after": progress.chance_after,
        "spacing_days": progress.spacing_days,
        "spacing_from": "records" if progress.spacing_known else "assumed weekly",
        "last_session": None if progress.last_session is None else progress.last_session.isoformat(),
        "date_at_pace": None if progress.date_at_pace is None else progress.date_at_pace.isoformat(),
        "in_time": progress.in_time,
        "reason": progress.reason,
    }


def forecast_document(plan: Forecast) -> dict[str, Any]:
    """Return a forecast in the shape of ``schemas/forecast.schema.json``."""
    return {
        "schema": "impact-forecast/1",
        "part": plan.part,
        "sessions": plan.sessions,
        "people": plan.people,
        "parts_per_person": plan.parts_per_person,
        "planned": plan.planned,
        "batches": plan.batches,
        "seed": plan.seed,
        "draws": plan.draws,
        "currency": plan.currency,
        "good_parts": plan.good_parts.as_dict(),
        "paper": [{"grade": grade, "kg": kg.as_dict()} for grade, kg in plan.paper_kg.items()],
        "binders": [{"binder": binder, "kg": kg.as_dict()} for binder, kg in plan.binder_kg.items()],
        "water_l": plan.water_l.as_dict(),
        "electricity_kwh": plan.electricity_kwh.as_dict(),
        "dryer_hours": _optional(plan.dryer_hours),
        "rack_parts": plan.rack_parts,
        "people_hours": _optional(plan.people_hours),
        "cost": _optional(plan.cost),
        "budget": plan.budget,
        "chance_within_budget": plan.chance_within_budget,
        "diverted_kg": plan.diverted_kg.as_dict(),
        "difference_kgco2e": _optional(plan.difference_kgco2e),
        "target": _progress(plan.progress),
        "missing": [{"figure": figure, "reason": reason} for figure, reason in plan.missing.items()],
        "rules": list(forecast.RULES),
    }


def _number(value: float | None, scale: float = 1.0) -> str:
    return "-" if value is None else f"{value * scale:.4g}"


def _range(figure: Interval | None, scale: float = 1.0) -> str:
    if figure is None:
        return "-"
    return f"{_number(figure.value, scale)} ({_number(figure.low, scale)} to {_number(figure.high, scale)})"


def _matrix(comparison: BinderComparison) -> list[str]:
    """Return the chance that the binder of the row is lower than that of the column, each pair once."""
    chances = {(pair.a, pair.b): f"{pair.chance_a_lower:.0%}" for pair in comparison.pairs}
    ids = [result.binder for result in comparison.binders]
    body = [(a, *(chances.get((a, b), "") for b in ids[1:])) for a in ids[:-1]]
    return aligned([("", *ids[1:]), *body])


def _recorded(result: BinderResult) -> tuple[str, ...]:
    rejects, strength = result.rejects, result.strength
    rate = (
        "-"
        if rejects is None
        else f"{rejects.count} of {rejects.total}, {rejects.rate:.1%} ({rejects.low:.1%} to {rejects.high:.1%})"
    )
    load = "-"
    if strength is not None:
        load = f"{_number(strength.mean_n)} N, sd {_number(strength.sd_n)}, n {strength.tests}"
        load += "" if strength.span_mm is None else f", span {_number(strength.span_mm)} mm"
    routes = {finding.route: finding.outcome for finding in result.findings}
    return result.binder, rate, load, routes["industrial"], routes["home"]


def binders_text(comparison: BinderComparison) -> str:
    """Return a comparison as text; every number of it is in the document."""
    money = f"cost, {comparison.currency}" if comparison.currency else "cost"
    carried = [
        (
            result.binder,
            f"{_number(result.dose)} ({_number(result.dose_low)} to {_number(result.dose_high)})",
            f"{result.dose_from}, {counted(result.batches, 'batch')}" if result.batches else result.dose_from,
            _range(result.footprint, 1000.0),
            _number(result.fossil_carbon_kg, 1000.0),
            _number(result.preparation_kwh),
            _number(result.cost),
            _number(result.water_kg, 1000.0),
        )
        for result in comparison.binders
    ]
    tests = [
        f"{pair.a} and {pair.b}: p {_number(pair.reject_p)}" for pair in comparison.pairs if pair.reject_p is not None
    ]
    return "\n".join(
        [
            f"Binders for {comparison.part}, per good part ({_number(comparison.good)} on record)",
            "",
            *aligned(
                [
                    ("binder", "dose, dry per dry fibre", "dose from", "footprint, g CO2e (95 %)", "fossil carbon, g",
                     "preparation, kWh", money, "water brought, g"),
                    *carried,
                ]
            ),
            "",
            *aligned(
                [
                    ("binder", "rejects (95 %)", "failure load", "industrial composting", "home composting"),
                    *(_recorded(result) for result in comparison.binders),
                ]
            ),
            "",
            "Chance that the binder of the row has the lower footprint than that of the column",
            *_matrix(comparison),
            "",
            *(["Exact test that two reject rates are the same", *tests, ""] if tests else []),
            *_rules(binders.RULES),
            f"seed {comparison.seed}, {comparison.draws} draws",
            CLOSING,
        ]
    )  # fmt: skip


def _rules(rules: Sequence[str]) -> list[str]:
    """Return rules as lines of a list, with an empty line after them."""
    return [*(f"- {rule}" for rule in rules), ""]


def forecast_text(plan: Forecast) -> str:
    """Return a forecast as text; every number of it is in the document."""
    money = f", {plan.currency}" if plan.currency else ""
    within = (
        ""
        if plan.chance_within_budget is None
        else f"; chance to stay within {_number(plan.budget)}: {plan.chance_within_budget:.0%}"
    )
    figures = [
        ("good parts", _range(plan.good_parts)),
        *((f"paper, {grade}, kg", _range(kg)) for grade, kg in plan.paper_kg.items()),
        *((f"binder as used, {binder}, kg", _range(kg)) for binder, kg in plan.binder_kg.items()),
        ("water, L", _range(plan.water_l)),
        ("electricity, kWh", _range(plan.electricity_kwh)),
        ("dryer, hours", _range(plan.dryer_hours)),
        ("rack, parts at once", str(plan.rack_parts)),
        ("people, hours", _range(plan.people_hours)),
        (f"cost as recorded{money}", _range(plan.cost) + within),
        ("kept from landfill, kg", _range(plan.diverted_kg)),
        ("difference to plastic, kg CO2e", _range(plan.difference_kgco2e)),
    ]
    return "\n".join(
        [
            f"{plan.part}: {counted(plan.sessions, 'session')} of {counted(plan.people, 'person', 'people')}, "
            f"{plan.parts_per_person} a person, {counted(plan.planned, 'part')} pressed; "
            f"from {counted(plan.batches, 'batch')}",
            "",
            *aligned(figures),
            "",
            *_target_lines(plan.progress),
            *(f"not given: {FIGURES[figure]}, because {reason}" for figure, reason in plan.missing.items()),
            *_rules(forecast.RULES),
            f"seed {plan.seed}, {plan.draws} draws",
            CLOSING,
        ]
    )


def _days(days: float) -> str:
    number = _number(days)
    return "day" if number == "1" else f"{number} days"


def _target_lines(progress: Progress | None) -> list[str]:
    if progress is None:
        return []
    pace = "as on record" if progress.spacing_known else "assumed"
    if progress.date_at_pace is None:
        when = f"At the pace of the records: {progress.reason}."
    else:
        when = f"At the pace of the records it is met on {progress.date_at_pace}, {'in time' if progress.in_time else 'too late'}."
    return [
        f"Target: {_number(progress.target_kg)} kg kept from landfill by {progress.by}; so far {_number(progress.so_far_kg)} kg, all parts.",
        f"With these sessions, one every {_days(progress.spacing_days)} ({pace}) until {progress.last_session or 'a far day'}: "
        f"{_range(progress.after_kg)} kg; chance to reach it {progress.chance_after:.0%}.",
        when,
        "",
    ]
