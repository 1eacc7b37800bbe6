"""The next sessions of one part: what they take and give, within a budget and on the way to a target."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, Annotated

import numpy as np

from impact.account.assessment import assess
from impact.account.linekinds import COLLECTED
from impact.base.catalogue import Names, read_names
from impact.base.defaults import DEFAULT_SEED, FORECAST_DRAWS
from impact.base.problems import Problem, ProblemsError, counted
from impact.base.serial import Count, Draws, Limits, Share, document, group, named, shows
from impact.decisions.pace import Progress, pace_of, progress_to
from impact.decisions.planned import FEWEST, STEADY, Expected, Foreseen, PlannedTotals
from impact.factors.factorset import FactorSet
from impact.records.selection import filter_batches
from impact.records.workshop import Workshop

if TYPE_CHECKING:
    import pandas as pd

RULES = (
    "Intervals are 95 % prediction intervals: for each session one of the part's own batches is drawn, whole; the deviations are "
    "widened by sqrt(1 + m/n) for m sessions and n recorded batches and by Student's t for the small n.",
    f"Rare is what occurs in fewer than {STEADY} batches and not in all. It gets the range of what was seen: every session as the batch "
    "with the least, or the most, of it for each part. No 95 % is promised there.",
    "What no batch records is by the tables, with their spread.",
    "The plan counts parts pressed: each person presses the same number, and the records say how many come out good.",
    "The plastic parts are those that the workshop says are replaced (displacement in parts.csv); all, where it says nothing.",
    "Binders, grades and equipment are mixed as in the records; a change of recipe is not foreseen.",
    "Rack space: every part pressed in a session, rejects included, dries at once and is off the rack before the next session.",
)
"""What a reader of the forecast has to know."""


class ForecastError(ValueError):
    """Raised when the records do not suffice for a forecast; the text says what is missing."""


@shows()
@dataclass(frozen=True, slots=True)
class OfGrade:
    """Paper of one grade, as weighed. [kg]"""

    grade: str
    kg: Expected


@shows()
@dataclass(frozen=True, slots=True)
class OfBinder:
    """One binder, as used. [kg]"""

    binder: str
    kg: Expected


@shows()
@dataclass(frozen=True, slots=True)
class Missing:
    """A figure that cannot be given, by its name in the document, and why."""

    figure: str
    reason: str


@document(
    "impact-forecast/1",
    "Forecast of the next sessions",
    "What `impact forecast --json` prints. Intervals are 95 % prediction intervals, but of rare amounts the range of what was "
    "seen; masses in kg, emissions in kg CO2e, shares and chances as fractions.",
    "part", group("period", "start", "end"), "sessions", "people", "parts_per_person", "planned", "batches", "seed", "draws", "currency", "good_parts",
    "paper", "binders", "water_l", "electricity_kwh", "dryer_hours", "rack_parts", "people_hours", "cost", "budget",
    "chance_within_budget", "diverted_kg", "displacement", "difference_kgco2e", named("target", "progress"), named("missing", "not_given"),
    "rules",
)  # fmt: skip
@dataclass(frozen=True)
class Forecast:
    """The next sessions of one part.

    Attributes
    ----------
    part, currency : str
        Part, and the currency of `cost`.
    sessions, people, parts_per_person : int
        The plan.
    start, end : datetime.date
        First and last day of the batches that it is drawn from.
    batches : int
        Batches that it is drawn from.
    seed, draws : int
        Seed of the factor draws, number of draws.
    good_parts : Expected
        Good parts of those pressed. [-]
    paper_kg : mapping of str to Expected
        Paper by grade, as weighed. [kg]
    all_paper_kg : Expected
        Paper of all grades, as weighed. [kg]
    binder_kg : mapping of str to Expected
        Binder as used, by binder. [kg]
    water_l, electricity_kwh : Expected
        Water [L]; electricity of making and of preparing the binder, moulds left out [kWh].
    dryer_hours, people_hours, cost : Expected or None
        Running time of the dryer [h], people's time [h], cost as recorded [currency]; None with the reason in `missing`.
    rack_parts : int
        Parts drying at once. [-]
    diverted_kg : Expected
        Paper kept from landfill, net. [kg]
    displacement : float or None
        Share of the good parts that take the place of a plastic one, as recorded; None stands for all of them. [-]
    difference_kgco2e : Expected or None
        Good parts less the plastic parts whose place they take; None with the reason in `missing`. [kgCO2e]
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
    start: date
    end: date
    batches: Annotated[int, Limits(minimum=FEWEST)]
    seed: Count
    draws: Draws
    good_parts: Expected
    paper_kg: dict[str, Expected]
    all_paper_kg: Expected
    binder_kg: dict[str, Expected]
    water_l: Expected
    electricity_kwh: Expected
    dryer_hours: Expected | None
    people_hours: Expected | None
    cost: Expected | None
    rack_parts: int
    diverted_kg: Expected
    displacement: Share | None
    difference_kgco2e: Expected | None
    budget: float | None
    chance_within_budget: Share | None
    progress: Progress | None
    missing: dict[str, str]

    @property
    def planned(self) -> int:
        """Parts pressed. [-]"""
        return self.sessions * self.people * self.parts_per_person

    @property
    def paper(self) -> tuple[OfGrade, ...]:
        """Paper by grade, as weighed. [kg]"""
        return tuple(OfGrade(grade, kg) for grade, kg in self.paper_kg.items())

    @property
    def binders(self) -> tuple[OfBinder, ...]:
        """Binder as used. [kg]"""
        return tuple(OfBinder(binder, kg) for binder, kg in self.binder_kg.items())

    @property
    def not_given(self) -> tuple[Missing, ...]:
        """Figures that cannot be given."""
        return tuple(Missing(figure, reason) for figure, reason in self.missing.items())

    @property
    def rules(self) -> tuple[str, ...]:
        """What a reader of the forecast has to know."""
        return RULES


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
    draws: int = FORECAST_DRAWS,
    all_batches: pd.DataFrame | None = None,
    names: Names | None = None,
) -> Forecast:
    """Return what the next sessions of one part would take and give; other arguments as of `impact.assess`.

    Parameters
    ----------
    batches : DataFrame
        The batches that sessions are drawn from, in canonical columns.
    part : str
        The part.
    sessions, people, parts_per_person : int
        Sessions, people in each, parts that each person presses; 1 or more.
    rng : numpy.random.Generator
        Draws the batches.
    budget : float, optional
        Money at hand. [currency]
    draws : int
        Number of draws of the factors and of the batches.
    all_batches : DataFrame, optional
        All batches of the workshop, where `batches` are only some: the way to the target and the pace are those of all.

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
    everything = batches if all_batches is None else all_batches
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
    run = partial(assess, workshop, factors=factors, seed=seed, all_batches=everything, names=names, by_site=True)
    results = run(alone, draws=draws)
    counts = alone.assign(rejects=alone["rejects"].fillna(0.0))
    without = run(counts, draws=1) if alone["rejects"].isna().any() else results
    totals = PlannedTotals(own, results, without, sessions, sessions * people * parts_per_person, rng)
    cost = totals.recorded("cost", own["cost"].to_numpy(dtype=float), "cost")
    people_hours = totals.recorded(
        "people_hours", (own["hours"] * own["people"]).to_numpy(dtype=float), "hours and people"
    )
    dryer_hours = totals.dryer_hours()
    diverted, difference = totals.diverted_kg(), totals.difference_kgco2e()
    within = None
    if budget is not None:
        within = _chance_within(budget, cost, totals.missing)
    return Forecast(
        part=results.parts[0].part,
        currency=workshop.currency,
        sessions=sessions,
        people=people,
        parts_per_person=parts_per_person,
        start=results.start,
        end=results.end,
        batches=len(own),
        seed=seed,
        draws=draws,
        good_parts=totals.good.expected(),
        paper_kg=totals.paper(),
        all_paper_kg=totals.of_lines(*COLLECTED).expected(),
        binder_kg=totals.binder(),
        water_l=totals.water_l(),
        electricity_kwh=totals.electricity_kwh(),
        dryer_hours=None if dryer_hours is None else dryer_hours.expected(),
        people_hours=None if people_hours is None else people_hours.expected(),
        cost=None if cost is None else cost.expected(),
        rack_parts=people * parts_per_person,
        diverted_kg=diverted.expected(),
        displacement=workshop.parts[results.parts[0].part].displacement,
        difference_kgco2e=difference,
        budget=budget,
        chance_within_budget=within,
        progress=_progress(workshop, everything, factors, names, diverted, sessions),
        missing=totals.missing,
    )


def _chance_within(budget: float, cost: Foreseen | None, missing: dict[str, str]) -> float | None:
    """Return the share of the draws whose cost stays within a budget; None, with the reason, where there are none to go by."""
    if cost is None or cost.expected().rare:
        missing["chance_within_budget"] = missing.get(
            "cost", f"costs occur in fewer than {STEADY} batches, too few for a chance"
        )
        return None
    return float(np.mean(cost.draws[1:] <= budget))


def _progress(
    workshop: Workshop, batches: pd.DataFrame, factors: FactorSet, names: Names, diverted: Foreseen, sessions: int
) -> Progress | None:
    """Return the way to the workshop's target, counting every part up to the target's day."""
    if workshop.targets is None:
        return None
    counted = batches[batches["date"] <= workshop.targets.by.isoformat()].reset_index(drop=True)
    so_far = 0.0
    if len(counted):
        so_far = assess(
            workshop, counted, factors, draws=1, all_batches=batches, names=names
        ).paper.kept_from_landfill_kg.value
    return progress_to(workshop.targets, so_far, diverted, pace_of(batches["date"]), sessions)
