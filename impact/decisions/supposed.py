"""The results as they would be if several things about one part and its workshop were different at once.

Each thing is written into the records or the settings by `impact.decisions.whatif`, and all is worked out again, with the
draws of the results, so that before and after differ by nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from impact.account.assessment import assess
from impact.account.intensities import UnitImpacts
from impact.account.inventory import SPLIT
from impact.core.node import first
from impact.decisions import whatif
from impact.decisions.scenario import Making, Scenario
from impact.records.batchtable import BatchTable
from impact.records.workshop import FateSplit

if TYPE_CHECKING:
    from impact.account.results import Results
    from impact.factors.values import Values
    from impact.records.workshop import Workshop


@dataclass(frozen=True, slots=True)
class Supposed:
    """What is supposed to be different; None is as recorded.

    Attributes
    ----------
    drying : float or None
        Times the drying of every batch of the part. [-]
    pressings : float or None
        Life of its mould. [-]
    region : str or None
        Grid region, or country of its grid.
    dose : float or None
        Dry binder per dry fibre of its batches that have a binder. [kg/kg]
    ends : FateSplit or None
        Where all finished parts go.
    fates : mapping of str to FateSplit
        What would have happened to paper of a grade where no batch says it.
    displacement : float or None
        Share of the parts that really takes a plastic part's place. [-]
    """

    drying: float | None = None
    pressings: float | None = None
    region: str | None = None
    dose: float | None = None
    ends: FateSplit | None = None
    fates: Mapping[str, FateSplit] = field(default_factory=dict)
    displacement: float | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """What is recorded of a part now.

    Attributes
    ----------
    drying_kwh : float
        Drying per good part, recorded or estimated. [kWh]
    pressings, dose : float
        As of `Supposed`.
    ends : tuple of float
        Where finished parts go, in the order of `FATES`. [-]
    fates : mapping of str to tuple of float
        What would have happened to each grade, in the order of `FATES`. [-]
    displacement : float or None
        As of `Supposed`; None where nothing is said.
    """

    drying_kwh: float
    pressings: float
    dose: float
    ends: tuple[float, ...]
    fates: Mapping[str, tuple[float, ...]]
    displacement: float | None


def _scenario(results: Results, part: str) -> Scenario:
    return Scenario(
        results.workshop, BatchTable.of(results.batch_records), part, results.values.again(lasting=False), {}
    )


def standing(results: Results, part: str, grades: Sequence[str]) -> Standing:
    """Return what is recorded of a part that has a good one.

    Raises
    ------
    NoComparisonError
        It has none.
    """
    scenario = _scenario(results, part)
    made: Making = scenario.making
    impacts = UnitImpacts(results.workshop, scenario.values, dict(results.counted.pressings))
    mould = whatif.mould_of(scenario)
    return Standing(
        whatif.drying_now(scenario, made),
        impacts.mould_life(mould),
        whatif.dose_now(scenario, made),
        tuple(first(share) for share in impacts.end_of_life_shares),
        {grade: tuple(first(share) for share in impacts.counterfactual_shares(grade, SPLIT)) for grade in grades},
        results.workshop.parts[part].displacement,
    )


def split(shares: Sequence[float]) -> FateSplit:
    """Return shares in the order of `FATES` as a statement without evidence. [-]"""
    landfill, incineration, recycling, composting = shares
    return FateSplit(landfill, incineration, recycling, composting)


def suppose(results: Results, part: str, supposed: Supposed, now: Standing) -> Results:
    """Return the results by records and settings in which some things are different.

    Parameters
    ----------
    results : Results
        All the work, as recorded.
    part : str
        The part whose records differ.
    supposed : Supposed
        What differs.
    now : Standing
        What `standing` gives for the part.

    Raises
    ------
    ProblemsError
        The tables lack a factor, or a batch would give out more than went in.
    """
    scenario = _scenario(results, part)
    if supposed.drying is not None:
        scenario = whatif.with_drying(scenario, supposed.drying * now.drying_kwh)
    if supposed.pressings is not None:
        scenario = whatif.with_pressings(scenario, supposed.pressings)
    if supposed.dose is not None:
        scenario = whatif.with_dose(scenario, supposed.dose)
    workshop = _settings(scenario.workshop, part, supposed)
    values: Values = results.values.again(lasting=False)
    return assess(
        workshop, scenario.batches.frame(), results.factors, names=results.names, all_batches=results.all_batches, values=values,
        period=(results.start, results.end),
    )  # fmt: skip


def _settings(workshop: Workshop, part: str, supposed: Supposed) -> Workshop:
    if supposed.region is not None:
        workshop = replace(workshop, electricity=supposed.region)
    if supposed.ends is not None:
        workshop = replace(workshop, end_of_life=supposed.ends)
    if supposed.fates:
        workshop = replace(workshop, fates={**workshop.fates, **supposed.fates})
    if supposed.displacement is not None:
        changed = replace(workshop.parts[part], displacement=supposed.displacement)
        workshop = replace(workshop, parts={**workshop.parts, part: changed})
    return workshop
