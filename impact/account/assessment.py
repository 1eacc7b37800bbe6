"""From a workshop, its batches and a factor set to one results object."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from impact.account.assumptions import assumptions
from impact.account.intensities import UnitImpacts
from impact.account.inventory import (
    BY_PART,
    BY_SITE,
    DIVERTED,
    STAGES,
    Inventory,
    Line,
    Matrix,
    central_contributions,
    summed,
)
from impact.account.linekinds import DRY_GOOD_PARTS, GOOD_PARTS, KINDS, REJECTS, in_parts
from impact.account.lines import diverted_matrix, lost_matrix, sold_matrix, stage_matrix
from impact.account.paper import Fines, paper_account, resolved
from impact.account.plastic import PlasticDraws, displaced_share, equivalent
from impact.account.plausibility import balance_problems, together_problems
from impact.account.results import DisposalAccount, Interval, PartResult, RecycledCase, Results, Settings
from impact.account.tally import Counted, pressings_made, tally_of
from impact.base.catalogue import Names, read_names
from impact.base.defaults import DEFAULT_DRAWS, DEFAULT_SEED
from impact.base.language import message
from impact.base.problems import Problem, ProblemsError, errors
from impact.base.sentences import Said
from impact.core import FloatArray, Numbers
from impact.core.footprint import net_account
from impact.core.moisture import as_weighed
from impact.core.node import first
from impact.core.sampling import chance_lower
from impact.factors.factorset import FactorSet
from impact.factors.rows import MEMORY, PRACTICE
from impact.factors.values import MissingFactorError, Values
from impact.records.batchtable import BatchTable
from impact.records.workshop import LandfillParameters, Part, Workshop

if TYPE_CHECKING:
    import pandas as pd

OTHER = "other_parameters"
"""The view of landfills by the set of parameters that the workshop did not choose."""

EVIDENCE_CLASSES = ("metered", "weighed", "nameplate", "estimated", "assumed")
NO_GOOD_PART = message("there is no good part in this period: figures per part cannot be given")
WET_USE = message("it is marked for wet use, in which a moulded paper part falls apart: it has no plastic equivalent")
NO_PLASTIC = message("no plastic part was described")
"""Why a part of which parts.csv tells nothing of a plastic part is not compared; it is no doubt."""


def regions_of(workshop: Workshop, names: Names) -> tuple[str, ...]:
    """Return where to look for factors: the country, the groups that it belongs to, the world."""
    return (workshop.country, *names.country_groups.get(workshop.country, ()), "world")


def values_for(workshop: Workshop, factors: FactorSet, names: Names, *, seed: int, draws: int) -> Values:
    """Return the factor values of one run for a workshop."""
    editions = {**workshop.editions, "gwp": workshop.gwp}
    return Values(factors, regions_of(workshop, names), editions=editions, seed=seed, draws=draws)


def assess(
    workshop: Workshop,
    batches: pd.DataFrame,
    factors: FactorSet,
    *,
    seed: int = DEFAULT_SEED,
    draws: int = DEFAULT_DRAWS,
    period: tuple[date, date] | None = None,
    all_batches: pd.DataFrame | None = None,
    names: Names | None = None,
    warnings: Sequence[Problem] = (),
    batches_file: str = "batches.csv",
    grid_kgco2e_per_kwh: float | None = None,
    by_site: bool = False,
    values: Values | None = None,
) -> Results:
    """Return the results of one workshop over some batches.

    Parameters
    ----------
    workshop : Workshop
        Settings and parts.
    batches : DataFrame
        Batches to count, in canonical columns (see `impact.records.batches`); at least one.
    factors : FactorSet
        Shipped factors, with the workshop's own rows.
    seed, draws : int
        Seed and number of draws of the uncertainty run; `draws` 1 or more.
    period : pair of dates, optional
        The period asked for; by default from the first to the last batch.
    all_batches : DataFrame, optional
        All batches of the folder, when `batches` is a selection: the life of a retired mould needs them.
    names : Names, optional
        The catalogue; by default the shipped one.
    warnings : sequence of Problem
        Warnings of the readers, passed on.
    batches_file : str
        Name of the file in problems about batches.
    grid_kgco2e_per_kwh : float, optional
        Emission of one kWh at the socket in place of the grid of the factor tables, wherever electricity is
        used, sold or credited on either side of a comparison; taken without error. [kgCO2e/kWh]
    by_site : bool
        Whether the results are summed by site as well, see `impact.account.sums.by_site`.
    values : Values, optional
        The factors of the run where they are at hand, in place of those of `seed` and `draws`.

    Raises
    ------
    ProblemsError
        When a batch gives out more than went in, or the tables lack a factor.
    ValueError
        When there are no batches or no draws.
    """
    if len(batches) == 0 or draws < 1:
        raise ValueError("an assessment needs at least one batch and one draw")
    names = names or read_names()
    values = values or values_for(workshop, factors, names, seed=seed, draws=draws)
    table, everything = BatchTable.of(batches), None if all_batches is None else BatchTable.of(all_batches)
    with missing_factors_told(workshop):
        tally, balance = tally_of(table, workshop, values.central, by=BY_SITE if by_site else BY_PART)
    counted = Counted(
        tally,
        pressings_made(table if everything is None else everything, workshop, values.central),
        balance_problems(table, balance, batches_file),
        rows=lambda: table,
        all_rows=lambda: everything,
        weigh=lambda _: balance,
    )
    return assess_counted(
        workshop, counted, values, names, period=period, warnings=warnings, grid_kgco2e_per_kwh=grid_kgco2e_per_kwh
    )


@contextmanager
def missing_factors_told(workshop: Workshop) -> Iterator[None]:
    """Turn a factor that the tables lack into a problem.

    Raises
    ------
    ProblemsError
        When a factor is missing inside the block.
    """
    try:
        yield
    except MissingFactorError as error:
        accepted = "a row in the workshop's own factors.csv"
        problem = Problem("missing-factor", "factors", str(error), read=workshop.country, accepted=accepted)
        raise ProblemsError([problem]) from None


def assess_counted(
    workshop: Workshop,
    counted: Counted,
    values: Values,
    names: Names,
    *,
    period: tuple[date, date] | None = None,
    warnings: Sequence[Problem] = (),
    grid_kgco2e_per_kwh: float | None = None,
) -> Results:
    """Return the results of one workshop from the sums of its batches; arguments and errors as of `assess`."""
    tally, inventory = counted.tally, counted.tally.inventory
    if errors(counted.doubts):
        raise ProblemsError(counted.doubts)
    with missing_factors_told(workshop):
        known = resolved(inventory)
        fines = Fines(known)
        impacts = UnitImpacts(workshop, values, counted.pressings, grid_kgco2e_per_kwh=grid_kgco2e_per_kwh, kept=fines)
        stages = stage_matrix(impacts, known)
        sold = sold_matrix(impacts, known)
        parts, missing = [], list(counted.doubts)
        for name in dict.fromkeys(known.groups["part"]):
            part, problem = _part(workshop.parts[name], known.where(part=name), stages, sold, impacts)
            parts.append(part)
            missing += problem
        made = summed(known, stages)
        diverted, recycling_lost = diverted_matrix(impacts, inventory), lost_matrix(impacts, inventory)
        disposal, avoided, lost = _disposal(inventory, impacts, diverted, recycling_lost, sold)
        displaced = np.zeros(1 + values.draws) + displaced_plastic(parts)
        net = np.asarray(net_account(made, avoided, lost, displaced))
        added = np.abs(central_contributions(known, stages)).tolist()
        resting = {"made": (stages.factors, added)}
        for name, matrix in {"avoided": diverted, "lost_recycling": recycling_lost}.items():
            resting[name] = (matrix.factors, np.abs(central_contributions(inventory, matrix)).tolist())
        solids = first(impacts.part_solids)
        start, end = period or (tally.first, tally.last)
        paper = paper_account(known, impacts, fines)
        return Results(
            workshop=workshop,
            start=start,
            end=end,
            batches=tally.batches,
            paper=paper,
            disposal=disposal,
            parts=tuple(parts),
            made=Interval.of(made),
            displaced_plastic=Interval.of(displaced),
            net=Interval.of(net),
            evidence=class_shares(stages.lines, added),
            memory_share=resting_shares(resting, values, MEMORY),
            practice_share=resting_shares(resting, values, PRACTICE),
            warnings=(*warnings, *missing, *together_problems(paper.unaccounted_share, counted.doubts)),
            assumptions=tuple(assumptions(tally, workshop, impacts, known, stages, paper, parts, names)),
            factors_used=dict(sorted(values.used.items())),
            settings=_settings(workshop, impacts),
            inventory=known,
            stage_matrix=stages,
            diverted_matrix=diverted,
            lost_matrix=recycling_lost,
            counted=counted,
            part_solids=solids,
            values=values,
            impacts=impacts,
            factors=values.factors,
            names=names,
        )


def _part(
    part: Part, inventory: Inventory, stages: Matrix, sold: Matrix, impacts: UnitImpacts
) -> tuple[PartResult, list[Problem]]:
    good = inventory.sum_of(*GOOD_PARTS)
    rejected = inventory.sum_of(*REJECTS)
    if good <= 0.0:
        none = Said(NO_GOOD_PART)
        problem = Problem("no-good-parts", "batches", f"{part.name}: {NO_GOOD_PART}", level="warning")
        return PartResult(part.name, 0.0, rejected, 0.0, 0.0, None, {}, None, 0.0, None, None, None, none), [problem]
    by_stage = {stage: summed(inventory, stages, (stage,)) / good for stage in STAGES}
    footprint = np.sum(list(by_stage.values()), axis=0)
    plastic, reason, problems = plastic_or_reason(part, impacts)
    difference = footprint - plastic.footprint if plastic else None
    displaced = displaced_share(part, impacts.values) if plastic else None
    dry = inventory.sum_of(*DRY_GOOD_PARTS) / good
    moisture = 1.0 - first(impacts.part_solids)
    result = PartResult(
        part=part.name,
        good=good,
        rejected=rejected,
        mass_kg=float(as_weighed(dry, moisture)),
        dry_mass_kg=dry,
        footprint=Interval.of(footprint),
        stages={stage: float(draws[0]) for stage, draws in by_stage.items()},
        electricity_sold=Interval.of(summed(inventory, sold, STAGES) / good),
        biogenic_carbon_kgco2=good_parts_biogenic(inventory, impacts) / good,
        plastic=plastic.result if plastic else None,
        difference=Interval.of(difference) if difference is not None else None,
        chance_lower=chance_lower(footprint[1:], plastic.footprint[1:]) if plastic else None,
        not_compared=reason,
        recycled=_recycled(footprint, plastic),
        by_line=dict(zip(stages.lines, central_contributions(inventory, stages).tolist(), strict=True)),
        draws=footprint,
        plastic_draws=plastic.footprint if plastic else None,
        displaced_draws=None if displaced is None else np.asarray(displaced),
    )
    return result, problems


def _recycled(footprint: FloatArray, plastic: PlasticDraws | None) -> RecycledCase | None:
    """Return the comparison of a footprint with recycled polymer; None where the tables hold none."""
    if plastic is None or plastic.recycled is None:
        return None
    difference = footprint - plastic.recycled
    chance = chance_lower(footprint[1:], plastic.recycled[1:])
    return RecycledCase(str(plastic.recycled_route), Interval.of(plastic.recycled), Interval.of(difference), chance)


def plastic_or_reason(part: Part, impacts: UnitImpacts) -> tuple[PlasticDraws | None, Said | None, list[Problem]]:
    """Return the plastic part, or the reason why there is none."""
    if part.wet_use:
        return None, Said(WET_USE), []
    if not part.polymer:
        return None, Said(NO_PLASTIC), []
    try:
        return equivalent(part, impacts), None, []
    except MissingFactorError as error:
        reason = Said("the factor tables do not reach: {missing}", {"missing": error.said})
        problem = Problem("no-comparison", "parts.csv", f"{part.name} is not compared: {reason}", level="warning")
        return None, reason, [problem]


def good_parts_biogenic(inventory: Inventory, impacts: UnitImpacts) -> float:
    """Return the biogenic carbon in good parts as CO2. [kgCO2]"""
    total = 0.0
    for kind in KINDS:
        for item, dry in inventory.items(*in_parts(kind)).items():
            total += dry * impacts.biogenic_co2(kind, item) if dry else 0.0
    return total


def _disposal(
    inventory: Inventory, impacts: UnitImpacts, main: Matrix, lost: Matrix, sold: Matrix
) -> tuple[DisposalAccount, FloatArray, FloatArray]:
    other = other_set(impacts.workshop)
    second = diverted_matrix(impacts.under(OTHER, parameters=other), inventory)
    avoided, lost_total = summed(inventory, main), summed(inventory, lost)
    account = DisposalAccount(
        avoided=Interval.of(avoided),
        avoided_other_set=Interval.of(summed(inventory, second)),
        other_set=other,
        lost_recycling=Interval.of(lost_total),
        electricity_sold=Interval.of(summed(inventory, sold, (DIVERTED,))),
        avoided_by_grade=_by_grade(inventory, main),
        lost_by_grade=_by_grade(inventory, lost),
    )
    return account, avoided, lost_total


def other_set(workshop: Workshop) -> LandfillParameters:
    """Return the set of landfill parameters that the workshop did not choose."""
    return "measured" if workshop.landfill_parameters == "default" else "default"


def _by_grade(inventory: Inventory, matrix: Matrix) -> dict[str, float]:
    found: dict[str, float] = {}
    for line, amount in zip(matrix.lines, central_contributions(inventory, matrix).tolist(), strict=True):
        grade = line.item.split("|")[0]
        found[grade] = found.get(grade, 0.0) + amount
    return found


def displaced_plastic(parts: Sequence[PartResult]) -> Numbers:
    """Return the plastic that the recorded share of parts really displaced, over all parts. [kgCO2e]"""
    total: Numbers = 0.0
    for part in parts:
        if part.displaced_draws is not None and part.plastic_draws is not None:
            total = total + part.good * part.displaced_draws * part.plastic_draws
    return total


def class_shares(lines: Sequence[Line], added: Sequence[float]) -> dict[str, float]:
    """Return the share of a sum by evidence class, from lines and what each adds without its sign [kgCO2e]. [-]"""
    total = sum(added)
    by_class = dict.fromkeys(EVIDENCE_CLASSES, 0.0)
    for line, amount in zip(lines, added, strict=True):
        by_class[line.evidence] += amount
    return {word: amount / total if total else 0.0 for word, amount in by_class.items()}


def resting_shares(
    sums: Mapping[str, tuple[Sequence[Collection[str]], Sequence[float]]], values: Values, word: str
) -> dict[str, float]:
    """Return the share of each sum in whose lines at least one factor (spreads apart) has an evidence word. [-]

    A sum is given by the ids of the rows behind each line, and by what each line adds, without its sign [kgCO2e].
    """
    rows = {
        factor_id
        for factor_id, choice in values.used.items()
        if choice.factor.evidence == word and not choice.factor.key.startswith("evidence.")
    }
    shares = {}
    for name, (factors, added) in sums.items():
        resting = [amount for ids, amount in zip(factors, added, strict=True) if not rows.isdisjoint(ids)]
        shares[name] = sum(resting) / sum(added) if sum(added) else 0.0
    return shares


def _settings(workshop: Workshop, impacts: UnitImpacts) -> Settings:
    from impact import __version__

    return Settings(
        seed=impacts.values.seed,
        draws=impacts.values.draws,
        version=__version__,
        gwp=workshop.gwp,
        grid=impacts.grid.basis,
        electricity_kgco2e_per_kwh=float(impacts.grid.kgco2e_per_kwh[0]),
        landfill_parameters=workshop.landfill_parameters,
        landfill_climate=impacts.climate,
        horizon_years=workshop.horizon_years,
        editions=_editions(impacts.values),
    )


def _editions(values: Values) -> dict[str, tuple[str, ...]]:
    """Return, by geography, the editions used of keys of which the tables hold several there."""
    found: dict[str, set[str]] = {}
    for choice in values.used.values():
        factor = choice.factor
        there = [row.edition for row in values.factors.by_key[factor.key] if row.geography == factor.geography]
        if len(set(there)) > 1 and factor.edition:
            found.setdefault(factor.geography, set()).add(factor.edition)
    return {place: tuple(sorted(names)) for place, names in sorted(found.items())}
