"""The binders side by side for one part: same fibre, same making, only the binder differs; no overall score."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Annotated

import numpy as np

from impact.account.assessment import assess, missing_factors_told, values_for
from impact.account.intensities import UnitImpacts
from impact.account.inventory import Line, contributions
from impact.account.linekinds import DRY_FIBRE, in_losses, in_parts
from impact.account.lines import stage_impact
from impact.account.results import Interval, Results
from impact.base.catalogue import Names, read_names
from impact.base.defaults import DEFAULT_DRAWS, DEFAULT_SEED
from impact.base.language import message
from impact.base.problems import Problem, ProblemsError
from impact.base.serial import Count, Draws, Positive, Share, document, group, keyed, named, one_of, shows
from impact.core import FloatArray
from impact.core.proportions import TELLING, Counts, Proportion, can_tell, clustered, same_rate
from impact.core.sampling import chance_lower
from impact.decisions.recipes import NONE, BinderRecords, BinderUse
from impact.factors.factorset import Choice, FactorSet
from impact.factors.values import generator
from impact.findings.compost import Finding, findings
from impact.findings.compost_rules import MakeUp
from impact.records.selection import filter_batches
from impact.records.workshop import Workshop

if TYPE_CHECKING:
    import pandas as pd

RULES = (
    message(
        "Every binder is put into the same part: fibre, making, mould, driving and rejects are those of all its batches; only "
        "the binder, its preparation and its end of life differ."
    ),
    message(
        "A dose from the literature is no measurement of this workshop: whether the part holds at that dose is not known."
    ),
    message(
        "The water that a binder brings is shown and not charged: its drying is within the part's recorded drying."
    ),
    message(
        "Parts of one batch are alike: reject rates are compared by exchanging whole batches, and few batches hide a difference."
    ),
)
"""What a reader of the comparison has to know."""


@shows()
@dataclass(frozen=True, slots=True)
class Strength:
    """Failure loads as recorded: number of batches tested, mean, standard deviation (None for one), span (None if mixed)."""

    tests: int
    mean_n: float
    sd_n: float | None
    span_mm: float | None


@shows()
@dataclass(frozen=True, slots=True)
class RejectRate:
    """Rejects of the parts pressed, pooled over the batches that count rejects; the 95 % interval is widened by how these scatter.

    Attributes
    ----------
    batches : int
        Batches that count rejects.
    design_effect : float
        By how much the likeness of the parts of a batch widens the variance. [-]
    """

    rejects: int
    pressed: int
    batches: Count
    design_effect: Positive
    rate: Share
    low: Share
    high: Share


@shows(
    "binder", "label", "batches", "dose", "dose_low", "dose_high", "dose_from", named("footprint_kgco2e", "footprint"),
    "fossil_carbon_kg", "preparation_kwh", "cost", "water_kg",
    named("compostability", "by_route", "outcome", "binder_share", "reasons", named("not_recorded", "asked")),
    "reject_rate", "strength",
)  # fmt: skip
@dataclass(frozen=True)
class BinderResult:
    """One binder in one good part.

    Attributes
    ----------
    binder, label : str
        Id and label.
    batches : int
        Batches of the part that used it.
    dose, dose_low, dose_high : float
        Dry binder per dry fibre: median and range of the batches, or value and range of the literature. [kg/kg]
    dose_from : str
        Where the dose is from, in words.
    solids_from, preparation_from : str
        The same of its dry matter and its preparation; see `impact.decisions.recipes.BinderUse`.
    footprint : Interval
        Of the good part. [kgCO2e]
    draws : ndarray
        The footprint, central value first. [kgCO2e]
    fossil_carbon_kg : float
        Fossil carbon of the binder in the part. [kg]
    preparation_kwh : float
        Electricity to prepare the binder. [kWh]
    cost : float or None
        Of the binder as used; None without a price. [currency]
    water_kg : float
        Water that comes with the binder. [kg]
    findings : tuple of Finding
        Compostability, industrial and home.
    rejects : Proportion or None
        Rejected of the parts pressed, where the records count them.
    rejects_by_batch : tuple of ndarray
        Rejected, and pressed, of each batch that counts rejects.
    strength : Strength or None
        Where the records hold tests.
    """

    binder: str
    label: str
    batches: Count
    dose: Positive
    dose_low: Positive
    dose_high: Positive
    dose_from: Annotated[str, one_of("batches of this part", "batches of other parts", "literature", "none")]
    solids_from: str
    preparation_from: str
    footprint: Interval
    draws: FloatArray
    fossil_carbon_kg: Positive
    preparation_kwh: Positive
    cost: Positive | None
    water_kg: Positive
    findings: tuple[Finding, ...]
    rejects: Proportion | None
    rejects_by_batch: Counts
    strength: Strength | None

    @property
    def by_route(self) -> Annotated[Mapping[str, Finding], keyed("industrial", "home")]:
        """Compostability by way of composting; a finding, never a certificate."""
        return {finding.route: finding for finding in self.findings}

    @property
    def reject_rate(self) -> RejectRate | None:
        """Rejected of the parts pressed, where the records count them."""
        known = self.rejects
        if known is None:
            return None
        counted = (known.count, known.total, known.batches, known.design_effect)
        return RejectRate(*counted, known.rate, known.low, known.high)


@shows()
@dataclass(frozen=True, slots=True)
class Pair:
    """Two binders: the chance that `a` has the lower footprint, and the permutation test of their reject rates.

    Attributes
    ----------
    reject_p : float or None
        p-value; None where the rejects of one are not counted. [-]
    reject_rates : {"apart", "alike", "too few batches", ""}
        Whether it tells the rates apart; no p-value could where there are too few batches; blank where there is none.
    """

    a: str
    b: str
    chance_a_lower: Share
    reject_p: Share | None
    reject_rates: Annotated[str, one_of("apart", "alike", "too few batches", "")]


@document(
    "impact-binders/1",
    "Binders for one part",
    "What `impact binders --json` prints. Figures are per good part, of the same fibre and making for every binder; masses in "
    "kg, doses in kg dry binder per kg dry fibre, emissions in kg CO2e, shares and chances as fractions.",
    "part", group("period", "start", "end"), "good", "currency", "seed", "draws", "binders", "pairs", "rules",
)  # fmt: skip
@dataclass(frozen=True)
class BinderComparison:
    """All binders for one part, the ones on record first; pairs in the same order; the factor rows used, by id.

    `start` and `end` are the first and the last day of the part's batches.
    """

    part: str
    start: date
    end: date
    good: float
    currency: str
    seed: Count
    draws: Draws
    binders: tuple[BinderResult, ...]
    pairs: tuple[Pair, ...]
    factors_used: Mapping[str, Choice]

    @property
    def rules(self) -> tuple[str, ...]:
        """What a reader of the comparison has to know."""
        return RULES


def compare_binders(
    workshop: Workshop,
    batches: pd.DataFrame,
    factors: FactorSet,
    part: str,
    *,
    seed: int = DEFAULT_SEED,
    draws: int = DEFAULT_DRAWS,
    all_batches: pd.DataFrame | None = None,
    names: Names | None = None,
) -> BinderComparison:
    """Return the binders for one part, per good part, in the same draws of every factor; arguments as of `impact.assess`.

    Parameters
    ----------
    batches : DataFrame
        The batches that count, in canonical columns.
    part : str
        The part.
    all_batches : DataFrame, optional
        All batches of the workshop, where `batches` are only some: a retired mould has served them all.

    Raises
    ------
    ProblemsError
        When no batch makes the part, none of them has a good part or fresh paper, a batch gives out more than
        went in, or the tables lack a factor.
    """
    names = names or read_names()
    try:
        own = filter_batches(batches, part=part)
    except ValueError as error:
        raise ProblemsError([Problem("unknown-name", "batches", str(error))]) from None
    results = assess(
        workshop,
        own,
        factors,
        seed=seed,
        draws=draws,
        all_batches=all_batches if all_batches is not None else batches,
        names=names,
    )
    name, good = results.parts[0].part, results.parts[0].good
    if not good or not results.inventory.sum_of(*DRY_FIBRE):
        message = f"no good part or no fresh paper of {name} is on record: nothing can be compared per part"
        raise ProblemsError([Problem("no-good-parts", "batches", message)])
    impacts = UnitImpacts(workshop, values_for(workshop, factors, names, seed=seed, draws=draws), {})
    comparison = _Comparison(results, impacts, own, names)
    with missing_factors_told(workshop):
        records = BinderRecords(batches, name, impacts)
        uses = [records.use_of(binder) for binder in _order(own, workshop, names)]
        found = tuple(comparison.result(use) for use in uses)
    pairs = tuple(_pair(a, b, seed) for a, b in itertools.combinations(found, 2))
    return BinderComparison(
        name, results.start, results.end, good, workshop.currency, seed, draws, found, pairs, dict(impacts.values.used)
    )


def _order(own: pd.DataFrame, workshop: Workshop, names: Names) -> list[str]:
    """Return the binders on record for the part, those with a recipe, then the rest; no binder only where it was made so."""
    used = set(own["binder"].astype(str))
    known = [binder for binder in names.binders if binder != NONE or binder in used]
    return sorted(known, key=lambda binder: (binder not in used, binder not in workshop.binders))


def _pair(a: BinderResult, b: BinderResult, seed: int) -> Pair:
    chance = chance_lower(a.draws[1:], b.draws[1:])
    if a.rejects is None or b.rejects is None:
        return Pair(a.binder, b.binder, chance, None, "")
    p = same_rate(a.rejects_by_batch, b.rejects_by_batch, generator(seed, f"rejects of {a.binder} and {b.binder}"))
    told = "alike" if can_tell(a.rejects.batches, b.rejects.batches) else "too few batches"
    return Pair(a.binder, b.binder, chance, p, "apart" if p < TELLING else told)


class _Comparison:
    """The part without its binder, and each binder put into it; everything per good part."""

    def __init__(self, results: Results, impacts: UnitImpacts, own: pd.DataFrame, names: Names) -> None:
        inventory, matrix = results.inventory, results.stage_matrix
        self.part, self.good = results.parts[0].part, results.parts[0].good
        self.impacts, self.own, self.names = impacts, own, names
        glue = (in_parts("binder"), in_losses("binder"))
        keep = [line.account != "binder" and (line.account, line.activity) not in glue for line in matrix.lines]
        self.shared = contributions(inventory, matrix)[keep].sum(axis=0) / self.good
        self.fibre_kg = inventory.sum_of(*DRY_FIBRE) / self.good
        self.fibre_by_grade_kg = {
            grade: kg / self.good for grade, kg in inventory.items(*in_parts("fibre")).items() if kg > 0.0
        }
        self.fibre_in_part_kg = sum(self.fibre_by_grade_kg.values())
        self.losses_kg: dict[tuple[str, str], float] = {}
        for line, amount in inventory.by_line().items():
            if (line.account, line.activity) == in_losses("fibre"):
                route = (line.item.split("|")[1], line.evidence)
                self.losses_kg[route] = self.losses_kg.get(route, 0.0) + amount / self.good

    def result(self, use: BinderUse) -> BinderResult:
        """Return one binder in the part."""
        dry = use.dose * self.fibre_kg
        as_used = dry / use.solids
        prepared = as_used * use.preparation
        draws = self.shared + self._added(use, dry, prepared)
        central_used = float(as_used[0])
        stated = self.impacts.workshop.binders.get(use.binder)
        price = 0.0 if use.binder == NONE else stated.price_per_kg if stated is not None else None
        rows = self.own[self.own["binder"].astype(str) == use.binder]
        counts = _rejects(rows)
        return BinderResult(
            binder=use.binder,
            label=self.names.binders[use.binder],
            batches=len(rows),
            dose=float(use.dose[0]),
            dose_low=use.low,
            dose_high=use.high,
            dose_from=use.dose_from,
            solids_from=use.solids_from,
            preparation_from=use.preparation_from,
            footprint=Interval.of(draws),
            draws=draws,
            fossil_carbon_kg=self._fossil_carbon(use),
            preparation_kwh=float(prepared[0]),
            cost=None if price is None else price * central_used,
            water_kg=central_used - float(dry[0]),
            findings=self._findings(use),
            rejects=clustered(*counts) if len(counts[0]) else None,
            rejects_by_batch=counts,
            strength=_strength(rows),
        )

    def _added(self, use: BinderUse, dry: FloatArray, prepared: FloatArray) -> FloatArray:
        """Return what the binder adds: its making, its preparation, its end of life in part and losses. [kgCO2e]"""
        if use.binder == NONE:
            return np.zeros_like(dry)
        parts, losses = in_parts("binder"), in_losses("binder")
        spread = self.impacts.values.spread
        added = dry * use.weighing * self.impacts.dry_binder(use.binder) + prepared * self.impacts.kwh
        ends = stage_impact(self.impacts, Line(*parts, use.binder, "weighed", "kg"))
        added = added + use.dose * self.fibre_in_part_kg * spread(parts.activity, "weighed") * ends
        for (route, evidence), fibre_kg in self.losses_kg.items():
            ends = stage_impact(self.impacts, Line(*losses, f"{use.binder}|{route}", evidence, "kg"))
            added = added + use.dose * fibre_kg * spread(losses.activity, evidence) * ends
        return added

    def _fossil_carbon(self, use: BinderUse) -> float:
        if use.binder == NONE:
            return 0.0
        carbon, fossil = (
            self.impacts.values.central(f"binder.{what}.{use.binder}") for what in ("carbon", "fossil-share")
        )
        return float(use.dose[0]) * self.fibre_in_part_kg * carbon * fossil

    def _findings(self, use: BinderUse) -> tuple[Finding, ...]:
        """Return the findings for a part of its own fibre and this binder."""
        dose = float(use.dose[0])
        fibre = {grade: kg / self.fibre_in_part_kg / (1.0 + dose) for grade, kg in self.fibre_by_grade_kg.items()}
        recipe = MakeUp(fibre, {use.binder: dose / (1.0 + dose)} if dose > 0.0 else {})
        values = self.impacts.values
        made = {(self.part, use.binder): recipe}
        return tuple(findings(made, self.impacts.workshop, values.factors, self.names, values.regions))


def _rejects(rows: pd.DataFrame) -> Counts:
    """Return the parts rejected, and pressed, of each batch that counts rejects and pressed some."""
    rejected = rows["rejects"].to_numpy(dtype=float)
    pressed = rejected + rows["good_parts"].to_numpy(dtype=float)
    known = pressed > 0.0
    return rejected[known], pressed[known]


def _strength(rows: pd.DataFrame) -> Strength | None:
    """Return plain statistics of the recorded failure loads."""
    tested = rows[rows["test_load_n"].notna()]
    loads = tested["test_load_n"].to_numpy(dtype=float)
    if not len(loads):
        return None
    spans = set(tested["test_span_mm"])
    span = float(spans.pop()) if len(spans) == 1 else float("nan")
    spread = float(loads.std(ddof=1)) if len(loads) > 1 else None
    return Strength(len(loads), float(loads.mean()), spread, None if np.isnan(span) else span)
