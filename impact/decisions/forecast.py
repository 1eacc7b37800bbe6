"""Totals of every inventory line for a plan of pressings, and the figures that follow from them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import numpy as np

from impact.account.assessment import DEFAULT_SEED, assess
from impact.account.intensities import UnitImpacts
from impact.account.inventory import Line, Matrix
from impact.account.linekinds import COLLECTED, ESTIMATED_BINDER, GOOD_PARTS, REJECTS, RETURNED, Name, Source
from impact.account.lines import GRID, LANDFILL, MAINS, kind_of, matrix_of
from impact.account.paper import Fines
from impact.account.results import Interval, Results
from impact.base.catalogue import Names, read_names
from impact.base.problems import Problem, ProblemsError, counted
from impact.base.serial import Count, Draws, Limits, Share, document, named, shows
from impact.core import FloatArray, Numbers
from impact.core.prediction import ratio_prediction
from impact.decisions.pace import Progress, pace_of, progress_to
from impact.factors.factorset import FactorSet
from impact.factors.values import FATES
from impact.records.selection import filter_batches
from impact.records.workshop import Workshop

if TYPE_CHECKING:
    import pandas as pd

FEWEST = 5
"""Batches on record under which nothing is forecast."""


class PlannedTotals:
    """Predicted totals of the inventory lines and of the weighed binders, central value first, then draws.

    `own` are the batches of the part, each with parts pressed; `results` their assessment, with one inventory group for
    each batch in the order of `own`; `planned` the parts to press. `missing` says why a figure cannot be given.
    """

    def __init__(self, own: pd.DataFrame, results: Results, planned: float, rng: np.random.Generator) -> None:
        self.own, self.results, self.planned, self.rng = own, results, planned, rng
        self.impacts = UnitImpacts(results.workshop, results.values, {})
        self.fines = Fines(results.inventory)
        self.inventory = results.inventory
        self.missing: dict[str, str] = {}
        counts = self._columns(*GOOD_PARTS) + self._columns(*REJECTS)
        self.pressed: FloatArray = self.inventory.amounts[:, counts].sum(axis=1)
        used, binder_kg = own["binder"].astype(str).to_numpy(), own["binder_kg"].fillna(0.0).to_numpy(dtype=float)
        self.binders = [name for name in dict.fromkeys(used) if name != "none"]
        weighed = [np.where(used == name, binder_kg, 0.0) for name in self.binders]
        totals = self._predicted(np.column_stack([self.inventory.amounts, *weighed]), self.pressed)
        self.totals, self.weighed = np.split(totals, [len(self.inventory.lines)], axis=1)
        self.good = np.minimum(self.of_lines(*GOOD_PARTS), planned)

    def _predicted(self, amounts: FloatArray, pressed: FloatArray) -> FloatArray:
        return ratio_prediction(amounts, pressed, self.planned, draws=self.impacts.values.draws, rng=self.rng)

    def _columns(self, account: str, activity: str, item: str | None = None) -> list[int]:
        return [
            index
            for index, line in enumerate(self.inventory.lines)
            if line.account == account and line.activity == activity and item in (None, line.item.split("|")[0])
        ]

    def of_lines(self, account: str, activity: str, item: str | None = None) -> FloatArray:
        """Return the predicted amount of an activity, over all items or those of one grade or binder."""
        total: FloatArray = self.totals[:, self._columns(account, activity, item)].sum(axis=1)
        return total

    def through(self, matrix: Matrix) -> FloatArray:
        """Return predicted amounts times unit impacts, summed: each draw of the batches meets one draw of the factors."""
        position = {line: index for index, line in enumerate(self.inventory.lines)}
        chosen = [position[line] for line in matrix.lines]
        total: FloatArray = np.einsum("dl,ld->d", self.totals[:, chosen], matrix.impacts)
        return total

    def paper(self) -> dict[str, Interval]:
        """Return the paper by grade, as weighed. [kg]"""
        grades = sorted({item.split("|")[0] for item in self.inventory.items(*COLLECTED)})
        return {grade: Interval.of(self.of_lines(*COLLECTED, grade)) for grade in grades}

    def binder(self) -> dict[str, Interval]:
        """Return the binder as used, by binder; what was not weighed is estimated by the table's dose. [kg]"""
        found = {}
        for column, binder in enumerate(self.binders):
            used = self.weighed[:, column]
            guessed = self.of_lines(*ESTIMATED_BINDER, binder)
            if guessed.any():
                stated = self.impacts.workshop.binders.get(binder)
                own = None if stated is None else stated.solids
                solids: Numbers = self.impacts.values.get(f"binder.solids.{binder}") if own is None else own
                used = used + guessed * self.impacts.values.get(f"binder.dose.{binder}") / solids
            found[binder] = Interval.of(used)
        return found

    def water_l(self) -> FloatArray:
        """Return the water. [L]"""
        return 1000.0 * self._used(MAINS)

    def electricity_kwh(self) -> FloatArray:
        """Return the electricity of making and of preparing the binder. [kWh]"""
        return self._used(GRID)

    def _used(self, source: Source) -> FloatArray:
        """Return how much of a source is used, as recorded and as estimated. [1]"""
        impacts = self.impacts
        return self.through(
            matrix_of(impacts, self.inventory, lambda line: kind_of(line).use_of(source, impacts, line.item))
        )

    def diverted_kg(self) -> FloatArray:
        """Return the paper kept from landfill, less what returns there and the fines, at their share of the records. [kg]"""

        def kept(line: Line) -> Numbers | None:
            name, (grade, _, route) = Name(line.account, line.activity), line.item.partition("|")
            if name == COLLECTED:
                return self.fines(self.impacts, grade, route)[FATES.index(LANDFILL)]
            return -1.0 if name == RETURNED and route == LANDFILL else None

        return self.through(matrix_of(self.impacts, self.inventory, kept))

    def difference_kgco2e(self) -> FloatArray | None:
        """Return the footprint of the good parts less that of the plastic parts. [kgCO2e]"""
        (part,) = self.results.parts
        if part.plastic_draws is None:
            self.missing["difference_kgco2e"] = part.no_comparison or "no good part is on record"
            return None
        return self.through(self.results.stage_matrix) - self.good * part.plastic_draws

    def recorded(self, figure: str, values: FloatArray, what: str) -> FloatArray | None:
        """Return a total predicted from the batches that record it; None, with the reason, when they are too few."""
        known = ~np.isnan(values)
        if known.sum() < FEWEST:
            count = int(known.sum())
            verb = "records" if count == 1 else "record"
            self.missing[figure] = f"{count} of {counted(len(values), 'batch')} {verb} {what}, and {FEWEST} are needed"
            return None
        return self._predicted(values[known][:, np.newaxis], self.pressed[known])[:, 0]

    def dryer_hours(self) -> FloatArray | None:
        """Return the running time of the dryer, from rated energy over rated power; a shared run counts by its share. [h]"""
        workshop = self.impacts.workshop
        device = workshop.equipment.get(workshop.drying.dryer or "")
        if device is None:
            self.missing["dryer_hours"] = (
                "no device of [equipment] has the name of the dryer of [drying], so its hours are not known"
            )
            return None
        kwh = self.own["drying_kwh"].to_numpy(dtype=float)
        timed = (self.own["drying_kwh_evidence"].astype(str) == "nameplate").to_numpy() | (kwh == 0.0)
        hours = np.where(timed, kwh / (device.power_w * device.load / 1000.0), np.nan)
        return self.recorded("dryer_hours", hours, f"the running time of the {device.name}")


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


@shows()
@dataclass(frozen=True, slots=True)
class OfGrade:
    """Paper of one grade, as weighed. [kg]"""

    grade: str
    kg: Interval


@shows()
@dataclass(frozen=True, slots=True)
class OfBinder:
    """One binder, as used. [kg]"""

    binder: str
    kg: Interval


@shows()
@dataclass(frozen=True, slots=True)
class Missing:
    """A figure that cannot be given, by its name in the document, and why."""

    figure: str
    reason: str


@document(
    "impact-forecast/1",
    "Forecast of the next sessions",
    "What `impact forecast --json` prints. Intervals are 95 % prediction intervals; masses in kg, emissions in kg CO2e, "
    "shares and chances as fractions.",
    "part", "sessions", "people", "parts_per_person", "planned", "batches", "seed", "draws", "currency", "good_parts",
    "paper", "binders", "water_l", "electricity_kwh", "dryer_hours", "rack_parts", "people_hours", "cost", "budget",
    "chance_within_budget", "diverted_kg", "difference_kgco2e", named("target", "progress"), named("missing", "not_given"),
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
    batches: Annotated[int, Limits(minimum=FEWEST)]
    seed: Count
    draws: Draws
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
    draws: int = DRAWS,
    names: Names | None = None,
) -> Forecast:
    """Return what the next sessions of one part would take and give; other arguments as of `impact.assess`.

    Parameters
    ----------
    batches : DataFrame
        All batches of the workshop, in canonical columns.
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
    totals = PlannedTotals(own, results, float(sessions * people * parts_per_person), rng)
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
        all_paper_kg=Interval.of(totals.of_lines(*COLLECTED)),
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
        ).paper.kept_from_landfill_kg.value
    return progress_to(workshop.targets, so_far, diverted, pace_of(batches["date"]), sessions)
