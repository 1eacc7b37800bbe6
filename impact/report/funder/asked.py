"""What forms of funders ask beside the accounts: money, people, the amount by each definition, goals, how it was measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from impact.base.language import message
from impact.base.quantities import POUNDS_PER_KG, POUNDS_PER_SHORT_TON
from impact.base.serial import plain
from impact.core import FloatArray
from impact.records.statements import MASSES
from impact.report.funder.document import on_record, sum_on_record

if TYPE_CHECKING:
    from datetime import date

    from impact.account.results import Interval
    from impact.records.statements import Goal, Session
    from impact.study import Study

PER_KG: Mapping[str, float] = {
    "kg": 1.0, "tonne": 1e-3, "lb": POUNDS_PER_KG, "short ton": POUNDS_PER_KG / POUNDS_PER_SHORT_TON,
}  # fmt: skip
"""Units of mass that funders ask for, of one kilogram."""

UNITS = {
    "kg": message("kilograms"),
    "tonne": message("tonnes (1,000 kg)"),
    "lb": message("pounds"),
    "short ton": message("short tons (2,000 lb)"),
}
"""How a column of masses is headed, by its unit."""

AMOUNTS = {
    "put_to_use_kg": message("Put into good parts, whatever would have happened to it"),
    "kept_from_disposal_kg": message("Kept from disposal, landfill and incineration, net"),
    "kept_from_landfill_kg": message("Kept from landfill alone, net"),
    "taken_from_recycling_kg": message("Would have been recycled anyway, and is no gain by most forms"),
}
"""Definitions of the amount that forms of funders ask for, by the mass of the account that answers each."""

WORDS = {
    "baseline": message("How it was the year before"),
    "lessons": message("What was learned"),
    "next": message("What goes on after the grant"),
}
"""What a grant tells in its own words, by key."""

RECORDED = ("moisture", "part_mass_kg", "rejects", "trim_kg", "binder_kg", "transport_km")
"""Columns of the batches of which the report says how many batches record them."""


def figures(results: Study) -> dict[str, Any]:
    """Return the figures of the section; None stands for what is not recorded, and nothing is scaled to a grant but masses."""
    return {
        "money": _money(results),
        "people": (people := _people(results)),
        "amounts": _amounts(results),
        "goals": [_goal(results, goal, people) for goal in results.grant.goals] if results.grant else [],
        "recorded": {name: on_record(results.counted.table.floats(name)) for name in RECORDED},
    }


def unit_asked(results: Study) -> str:
    """Return the unit in which the giver of a grant wants masses: as stated, else the ton of the country's forms."""
    stated = results.grant.mass_unit if results.grant else None
    return stated or ("short ton" if results.workshop.country == "USA" else "tonne")


def own_unit(results: Study) -> str:
    """Return the unit of masses of the whole report."""
    return "lb" if results.workshop.units == "us" else "kg"


def _money(results: Study) -> dict[str, Any]:
    """Return what the grant states, and what the batches record; the price of a kilogram only where all of them do."""
    grant, cost, paper = results.grant, results.counted.table.floats("cost"), results.paper
    known_costs, costs = on_record(cost), sum_on_record(cost)
    share = grant.share if grant else 1.0
    masses = {"collected": paper.weighed_kg.value, "in_parts": paper.put_to_use_kg.value / share}
    whole = costs if known_costs == len(cost) else None
    each = {name: whole / kg if kg > 0.0 and whole is not None else None for name, kg in masses.items()}
    names = ("award", "match", "planned", "spent")
    stated: dict[str, Any] = {name: getattr(grant, name) if grant else None for name in names}
    known = stated["spent"] is not None and stated["planned"]
    return {
        **stated,
        "spent_share": stated["spent"] / stated["planned"] if known else None,
        "recorded": costs,
        "recorded_batches": known_costs,
        "per_kilogram": each,
    }


def sessions_of(results: Study) -> list[Session]:
    """Return the sessions of the days that are counted."""
    return [one for one in results.workshop.sessions if results.start <= one.day <= results.end]


def _sum(numbers: FloatArray) -> float | None:
    """Return the sum of what is recorded; None where nothing is."""
    known = numbers[~np.isnan(numbers)]
    return float(known.sum()) if len(known) else None


def _by_day(days: Sequence[date], people: FloatArray) -> dict[date, float]:
    """Return how many came on each day on which that is recorded."""
    found: dict[date, float] = {}
    for day, number in zip(days, people.tolist(), strict=True):
        if number == number:
            found[day] = found.get(day, 0.0) + number
    return found


def _people(results: Study) -> dict[str, float | None]:
    """Return attendances, dates and hours of batches and of sessions with groups.

    Who comes to ten batches counts ten times: nobody knows how many different people came. A session may have made a
    batch that counts the same people, so that the larger of both numbers stands for a date where they are taken together.
    """
    table, sessions = results.counted.table, sessions_of(results)
    days, people, hours = table.days.astype(object).tolist(), table.floats("people"), table.floats("hours")
    names, days_held = ("pupils", "adults", "volunteers", "minutes"), [one.day for one in sessions]
    held = {name: np.array([getattr(one, name) for one in sessions], dtype=float) for name in names}
    unknown = np.isnan(held["pupils"]) & np.isnan(held["adults"])
    came = np.where(unknown, np.nan, np.nan_to_num(held["pupils"]) + np.nan_to_num(held["adults"]))
    in_batches, in_sessions = _by_day(days, people), _by_day(days_held, came)
    together = [max(in_batches.get(day, 0.0), in_sessions.get(day, 0.0)) for day in sorted({*in_batches, *in_sessions})]
    minutes = _sum(held["minutes"])
    return {
        "dates": len({*days, *days_held}),
        "attendances": _sum(people),
        "attendances_batches": on_record(people),
        "hours": _sum(hours),
        "hours_batches": on_record(hours),
        "person_hours": _sum(people * hours),
        "sessions": len(sessions) if results.workshop.sessions else None,
        "session_hours": None if minutes is None else minutes / 60.0,
        **{name: _sum(held[name]) for name in names[:3]},
        "together": _sum(np.array(together, dtype=float)),
    }


def _in(figure: Interval, unit: str) -> dict[str, float]:
    """Return a mass with its interval in a unit."""
    return {end: mass * PER_KG[unit] for end, mass in plain(figure).items()}


def _amounts(results: Study) -> dict[str, dict[str, float]]:
    """Return the amount under each definition in the unit that is asked for; nothing where the report has that unit."""
    unit = unit_asked(results)
    if unit == own_unit(results):
        return {}
    return {name: _in(getattr(results.paper, name), unit) for name in AMOUNTS}


MASS_OF = dict(zip(MASSES, ("collected_kg", "put_to_use_kg", "kept_from_landfill_kg"), strict=True))
"""The mass of the account that a goal is counted by."""


def goal_unit(results: Study, goal: Goal) -> str:
    """Return the unit of a goal as a page prints it; empty where it has none."""
    if goal.counts in MASS_OF:
        return goal.unit or (results.grant.mass_unit if results.grant else None) or "kg"
    return goal.unit or ""


def _goal(results: Study, goal: Goal, people: Mapping[str, float | None]) -> dict[str, Any]:
    """Return a goal and what was done: a mass with its interval, a count of the whole work, or what is stated."""
    mass = (
        _in(getattr(results.paper, MASS_OF[goal.counts]), goal_unit(results, goal)) if goal.counts in MASS_OF else None
    )
    counts = {
        "batches": results.batches,
        "good parts": sum(part.good for part in results.parts),
        "sessions": people["sessions"],
        "attendances": people["together"],
    }
    count = counts.get(goal.counts) if goal.counts else None
    done = mass["value"] if mass else count if goal.counts else goal.done
    share = done / goal.target if done is not None and goal.target else None
    return {"target": goal.target, "mass": mass, "count": count, "done": goal.done, "share": share}


@dataclass(frozen=True, slots=True)
class Row:
    """A goal as a line of its table: words, unit, and how it is known what was done."""

    words: str
    unit: str
    known: str
    told: str | None


MASS, COUNT, STATED, NOTHING = "mass", "count", "stated", "nothing"
"""How it is known what was done for a goal."""


def goals(results: Study) -> list[Row]:
    """Return the goals as lines of their table."""
    rows = []
    for goal in results.grant.goals if results.grant else ():
        known = (
            (MASS if goal.counts in MASS_OF else COUNT) if goal.counts else STATED if goal.done is not None else NOTHING
        )
        rows.append(Row(goal.words, goal_unit(results, goal), known, goal.told))
    return rows
