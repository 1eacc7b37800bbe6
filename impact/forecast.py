"""What the next sessions would take and give, with prediction intervals from the workshop's own batches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from impact.assessment import DEFAULT_SEED, assess, values_for
from impact.core import FloatArray
from impact.factors import FactorSet
from impact.names import Names, read_names
from impact.pace import Progress, pace_of, progress_to
from impact.plannedtotals import FEWEST, PlannedTotals
from impact.plurals import counted
from impact.problems import Problem, ProblemsError
from impact.results import Interval
from impact.selection import filter_batches
from impact.unitimpacts import UnitImpacts
from impact.workshop import Workshop

if TYPE_CHECKING:
    import pandas as pd

DRAWS = 4_000
RULES = (
    "Intervals are 95 % prediction intervals: the part's own batches are drawn again, whole and as many as the plan needs, and "
    "the deviations are widened by sqrt(1 + m/n) for m future and n recorded batches and by Student's t for the small n.",
    "The plan counts parts pressed: each person presses the same number, and the records say how many come out good.",
    "Binders, grades and equipment are mixed as in the records; a change of recipe is not foreseen.",
    "Rack space: every part pressed in a session, rejects included, dries at once and is off the rack before the next session.",
)
"""What a reader of the forecast has to know."""


class ForecastError(ValueError):
    """Raised when the records do not suffice for a forecast; the text says what is missing."""


@dataclass(frozen=True)
class Forecast:
    """The next sessions of one part.

    Attributes
    ----------
    part, currency : str
        Part, and the currency of `cost`.
    sessions, people, parts_per_person : int
        The plan.
    batches : int
        Batches that it is drawn from.
    seed, draws : int
        Seed of the factor draws, number of draws.
    good_parts : Interval
        Good parts of those pressed. [-]
    paper_kg : mapping of str to Interval
        Paper by grade, as weighed. [kg]
    all_paper_kg : Interval
        Paper of all grades, as weighed. [kg]
    binder_kg : mapping of str to Interval
        Binder as used, by binder. [kg]
    water_l, electricity_kwh : Interval
        Water [L]; electricity of making and of preparing the binder, moulds left out [kWh].
    dryer_hours, people_hours, cost : Interval or None
        Running time of the dryer [h], people's time [h], cost as recorded [currency]; None with the reason in `missing`.
    rack_parts : int
        Parts drying at once. [-]
    diverted_kg : Interval
        Paper kept from landfill, net. [kg]
    difference_kgco2e : Interval or None
        Good parts less the plastic parts that they stand in for; None with the reason in `missing`. [kgCO2e]
    budget, chance_within_budget : float or None
        Budget given, and share of the draws whose cost stays within it.
    progress : Progress or None
        The way to the workshop's target; None without one.
    missing : mapping of str to str
        Figures that cannot be given, and why.
    """

    part: str
    currency: str
    sessions: int
    people: int
    parts_per_person: int
    batches: int
    seed: int
    draws: int
    good_parts: Interval
    paper_kg: dict[str, Interval]
    all_paper_kg: Interval
    binder_kg: dict[str, Interval]
    water_l: Interval
    electricity_kwh: Interval
    dryer_hours: Interval | None
    people_hours: Interval | None
    cost: Interval | None
    rack_parts: int
    diverted_kg: Interval
    difference_kgco2e: Interval | None
    budget: float | None
    chance_within_budget: float | None
    progress: Progress | None
    missing: dict[str, str]

    @property
    def planned(self) -> int:
        """Parts pressed. [-]"""
        return self.sessions * self.people * self.parts_per_person


def forecast(
    workshop: Workshop,
    batches: pd.DataFrame,
    factors: FactorSet,
    *,
    part: str,
    sessions: int,
    people: int,
    parts_per_person: int,
    rng: np.random.Generator,
    budget: float | None = None,
    seed: int = DEFAULT_SEED,
    draws: int = DRAWS,
    names: Names | None = None,
) -> Forecast:
    """Return what the next sessions of one part would take and give.

    Parameters
    ----------
    workshop : Workshop
        Settings and target.
    batches : DataFrame
        All batches of the workshop, in canonical columns.
    factors : FactorSet
        Shipped factors, with the workshop's own rows.
    part : str
        The part.
    sessions, people, parts_per_person : int
        Sessions, people in each, parts that each person presses; 1 or more.
    rng : numpy.random.Generator
        Draws the batches.
    budget : float, optional
        Money at hand. [currency]
    seed, draws : int
        Seed of the factor draws, and number of draws of both.
    names : Names, optional
        The catalogue; by default the shipped one.

    Raises
    ------
    ForecastError
        When the part has fewer than five batches with parts pressed, or the plan is empty.
    ProblemsError
        When no batch makes the part, a batch gives out more than went in, or the tables lack a factor.
    """
    if min(sessions, people, parts_per_person) < 1:
        raise ForecastError("sessions, people and parts per person have to be 1 or more")
    names = names or read_names()
    try:
        own = filter_batches(batches, part=part)
    except ValueError as error:
        raise ProblemsError([Problem("unknown-name", "batches", str(error))]) from None
    own = own[own["good_parts"].fillna(0.0) + own["rejects"].fillna(0.0) > 0.0].reset_index(drop=True)
    if len(own) < FEWEST:
        raise ForecastError(
            f"{part} has {counted(len(own), 'batch')} in which parts were pressed; a forecast needs {FEWEST}: "
            f"record {FEWEST - len(own)} more"
        )
    alone = own.assign(site=[f"{place:09d}" for place in range(len(own))])  # one site a batch: amounts in their order
    results = assess(workshop, alone, factors, seed=seed, draws=draws, all_batches=batches, names=names, by_site=True)
    impacts = UnitImpacts(workshop, values_for(workshop, factors, names, seed=seed, draws=draws), {})
    planned = float(sessions * people * parts_per_person)
    totals = PlannedTotals(own, results, impacts, planned, rng)
    cost = totals.recorded("cost", own["cost"].to_numpy(dtype=float), "cost")
    people_hours = totals.recorded(
        "people_hours", (own["hours"] * own["people"]).to_numpy(dtype=float), "hours and people"
    )
    dryer_hours = totals.dryer_hours()
    diverted, difference = totals.diverted_kg(), totals.difference_kgco2e()
    if budget is not None and cost is None:
        totals.missing["chance_within_budget"] = totals.missing["cost"]
    return Forecast(
        part=results.parts[0].part,
        currency=workshop.currency,
        sessions=sessions,
        people=people,
        parts_per_person=parts_per_person,
        batches=len(own),
        seed=seed,
        draws=draws,
        good_parts=Interval.of(totals.good),
        paper_kg=totals.paper(),
        all_paper_kg=Interval.of(totals.of_lines("mass", "collected")),
        binder_kg=totals.binder(),
        water_l=Interval.of(totals.water_l()),
        electricity_kwh=Interval.of(totals.electricity_kwh()),
        dryer_hours=_interval(dryer_hours),
        people_hours=_interval(people_hours),
        cost=_interval(cost),
        rack_parts=people * parts_per_person,
        diverted_kg=Interval.of(diverted),
        difference_kgco2e=_interval(difference),
        budget=budget,
        chance_within_budget=None if budget is None or cost is None else float(np.mean(cost[1:] <= budget)),
        progress=_progress(workshop, batches, factors, names, diverted, sessions),
        missing=totals.missing,
    )


def _interval(values: FloatArray | None) -> Interval | None:
    return None if values is None else Interval.of(values)


def _progress(
    workshop: Workshop, batches: pd.DataFrame, factors: FactorSet, names: Names, diverted: FloatArray, sessions: int
) -> Progress | None:
    """Return the way to the workshop's target, counting every part up to the target's day."""
    if workshop.targets is None:
        return None
    counted = batches[batches["date"] <= workshop.targets.by.isoformat()].reset_index(drop=True)
    so_far = 0.0
    if len(counted):
        so_far = assess(
            workshop, counted, factors, draws=1, all_batches=batches, names=names
        ).paper.kept_from_landfill_kg
    return progress_to(workshop.targets, so_far, diverted, pace_of(batches["date"]), sessions)
