"""The records as they would be if one thing about a part were different.

Each `with_` function writes a value into the records, and nothing else decides what that value means; the function
`_now` of the same thing tells what is recorded. What a variable sets is taken as true, without the error of its
evidence class (`impact.decisions.variables`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from impact.account.amounts import BatchAmounts, batch_amounts, take_stock
from impact.account.assessment import missing_factors_told, plastic_or_reason, values_for
from impact.account.intensities import UnitImpacts
from impact.account.inventory import Inventory, Matrix, contributions, summed
from impact.account.linekinds import BATCHES, DRIVING, DRYING, GOOD_PARTS, REJECTS, estimated
from impact.account.lines import stage_matrix
from impact.account.paper import mean_makeup, resolved
from impact.account.plastic import PlasticDraws
from impact.account.plausibility import balance_problems
from impact.account.steps import NO_BINDER
from impact.account.tally import pressings_made
from impact.base.catalogue import Names, read_names
from impact.base.defaults import DEFAULT_DRAWS, DEFAULT_SEED
from impact.base.problems import ProblemsError, errors
from impact.core import FloatArray, Numbers
from impact.core.node import first
from impact.factors.factorset import FactorSet
from impact.factors.values import FATES, Values
from impact.records.batchtable import BatchTable
from impact.records.workshop import FateSplit, Mould, Workshop
from impact.tables.texts import Coded, Flags

if TYPE_CHECKING:
    import pandas as pd


class NoComparisonError(LookupError):
    """Raised when a part has no plastic equivalent or no good part; carries the reason as a sentence."""


@dataclass(frozen=True)
class Scenario:
    """What the comparison of one part is worked out from.

    Attributes
    ----------
    workshop : Workshop
        Settings and parts.
    batches : BatchTable
        Batches, in canonical columns.
    part : str
        Name of the part.
    values : Values
        Factors of the run.
    made_elsewhere : mapping of str to float
        Pressings of each mould in batches that are not among these, for moulds that are retired.
    grid_kgco2e_per_kwh : float or None
        Emission of one kWh at the socket in place of the grid's. [kgCO2e/kWh]
    """

    workshop: Workshop
    batches: BatchTable
    part: str
    values: Values
    made_elsewhere: Mapping[str, float]
    grid_kgco2e_per_kwh: float | None = None

    @property
    def rows(self) -> Flags:
        """Which batches are of the part, shape (batches,)."""
        return self.batches.coded("part").where(self.part)

    def column(self, name: str) -> FloatArray:
        """Return a column of the batches as numbers, shape (batches,)."""
        return self.batches.floats(name)

    @cached_property
    def amounts(self) -> BatchAmounts:
        """What goes into each batch and comes out."""
        return batch_amounts(self.batches, self.workshop, self.values.central)

    def with_batches(self, **columns: FloatArray | Coded) -> Scenario:
        """Return the scenario with other values in some columns."""
        return replace(self, batches=BatchTable({**self.batches.columns, **columns}))


@dataclass(frozen=True)
class Making:
    """One part as made, central value first, then the draws.

    Attributes
    ----------
    good : float
        Good parts. [-]
    inventory : Inventory
        Amounts of the part's batches, without the lines that are zero.
    matrix : Matrix
        Unit impacts of its life-cycle stages.
    impacts : UnitImpacts
        Where the unit impacts come from.
    """

    good: float
    inventory: Inventory
    matrix: Matrix
    impacts: UnitImpacts

    @property
    def footprint(self) -> FloatArray:
        """Footprint per good part. [kgCO2e]"""
        return summed(self.inventory, self.matrix) / self.good

    @property
    def contributions(self) -> FloatArray:
        """What each line of `matrix` adds per good part, shape (lines, 1 + draws). [kgCO2e]"""
        return contributions(self.inventory, self.matrix) / self.good


@dataclass(frozen=True)
class Comparison(Making):
    """One part against its plastic part: `plastic` is that, per good moulded part."""

    plastic: PlasticDraws

    @property
    def difference(self) -> FloatArray:
        """Moulded less plastic, per good part. [kgCO2e]"""
        return self.footprint - self.plastic.footprint


def scenario_of(
    workshop: Workshop,
    batches: pd.DataFrame,
    factors: FactorSet,
    part: str,
    *,
    seed: int = DEFAULT_SEED,
    draws: int = DEFAULT_DRAWS,
    names: Names | None = None,
    all_batches: pd.DataFrame | None = None,
) -> Scenario:
    """Return the records of one part as they are, to be asked for break-even points, levers and what to measure next.

    Other arguments as of `impact.assess`; with the same seed and draws, the draws are the same.

    Parameters
    ----------
    batches : DataFrame
        Batches to count, of all parts, in canonical columns.
    part : str
        The part, which at least one batch must have made.

    Raises
    ------
    ValueError
        When no batch made the part.
    ProblemsError
        When a batch gives out more than went in, or the tables lack a factor.
    """
    if part not in set(batches["part"].astype(str)):
        raise ValueError(f"no batch made the part {part!r}")
    values = values_for(workshop, factors, names or read_names(), seed=seed, draws=draws)
    table = BatchTable.of(batches)
    with missing_factors_told(workshop):
        _, balance = take_stock(table, workshop, values.central)
    faults = errors(balance_problems(table, balance, "batches.csv"))
    if faults:
        raise ProblemsError(faults)
    elsewhere: dict[str, float] = {}
    if all_batches is not None:
        here = pressings_made(table, workshop, values.central)
        everywhere = pressings_made(BatchTable.of(all_batches), workshop, values.central)
        elsewhere = {mould: made - here.get(mould, 0.0) for mould, made in everywhere.items()}
    return of_part(Scenario(workshop, table, part, values, elsewhere))


def stock_of(scenario: Scenario, accounts: Sequence[str] | None = None) -> Inventory:
    """Return the inventory of the part, or some accounts of it; own rejects given their make-up, zero lines left out."""
    inventory, _ = take_stock(scenario.batches, scenario.workshop, scenario.values.central)
    own = resolved(inventory).where(part=scenario.part)
    wanted = [accounts is None or line.account in accounts for line in own.lines]
    kept = np.flatnonzero(own.amounts.any(axis=0) & np.array(wanted))
    return Inventory(own.groups, tuple(own.lines[index] for index in kept), own.amounts[:, kept])


def of_part(scenario: Scenario) -> Scenario:
    """Return the scenario of the part's own batches, the pressings of the other parts counted as made elsewhere.

    All batches stay where no batch of the part has fresh paper: what is in it shows in other parts.
    """
    rows = scenario.rows
    own = replace(scenario, batches=scenario.batches.kept(rows))
    inventory, _ = take_stock(own.batches, own.workshop, own.values.central)
    if not mean_makeup(inventory, np.ones(len(inventory.amounts), dtype=bool)):
        return scenario
    others = pressings_made(scenario.batches.kept(~rows), scenario.workshop, scenario.values.central)
    return replace(own, made_elsewhere=_added(others, scenario.made_elsewhere))


def impacts_of(scenario: Scenario) -> UnitImpacts:
    """Return where the unit impacts of the records come from."""
    pressings = _added(
        pressings_made(scenario.batches, scenario.workshop, scenario.values.central), scenario.made_elsewhere
    )
    grid = scenario.grid_kgco2e_per_kwh
    return UnitImpacts(scenario.workshop, scenario.values, pressings, grid_kgco2e_per_kwh=grid)


def made(scenario: Scenario, stock: Inventory | None = None) -> Making:
    """Return the part as made; arguments and errors as of `compare`."""
    with missing_factors_told(scenario.workshop):
        inventory = stock or stock_of(scenario)
        good = inventory.sum_of(*GOOD_PARTS)
        if good <= 0.0:
            raise NoComparisonError(f"{scenario.part} has no good part in these batches")
        impacts = impacts_of(scenario)
        return Making(good, inventory, stage_matrix(impacts, inventory), impacts)


def compare(scenario: Scenario, stock: Inventory | None = None) -> Comparison:
    """Return the part compared with its plastic part.

    Parameters
    ----------
    scenario : Scenario
        The records.
    stock : Inventory, optional
        What `stock_of` gives for them, where that is known already.

    Raises
    ------
    NoComparisonError
        When there is no good part or no plastic equivalent.
    ProblemsError
        When the tables lack a factor of the moulded part.
    """
    making = made(scenario, stock)
    plastic, reason, _ = plastic_or_reason(scenario.workshop.parts[scenario.part], making.impacts)
    if plastic is None:
        raise NoComparisonError(f"{scenario.part}: {reason}")
    return Comparison(making.good, making.inventory, making.matrix, making.impacts, plastic)


def _added(made: Mapping[str, float], more: Mapping[str, float]) -> dict[str, float]:
    """Return the pressings of two sets of batches together, by mould. [-]"""
    return {mould: made.get(mould, 0.0) + more.get(mould, 0.0) for mould in {*made, *more}}


def with_drying(scenario: Scenario, kwh: float) -> Scenario:
    """Return records in which every batch of the part takes `kwh` per good part to dry. [kWh]

    The heat drawn from a heated room stays: it follows the water, not the dryer.
    """
    rows = scenario.rows
    return scenario.with_batches(
        drying_kwh=np.where(rows, kwh * scenario.column("good_parts"), scenario.column("drying_kwh")),
        drying_kwh_evidence=Coded.of(
            "metered" if mine else known
            for mine, known in zip(rows, scenario.batches.coded("drying_kwh_evidence"), strict=True)
        ),
    )


def drying_now(scenario: Scenario, found: Comparison) -> float:
    """Return the drying energy per good part, recorded or estimated. [kWh]"""
    stock, impacts = found.inventory, found.impacts
    total = stock.sum_of(*DRYING)
    for dryer, dry_kg in stock.items(*estimated(DRYING)).items():
        total += dry_kg * first(impacts.drying_kwh(dryer))
    return total / found.good


def with_grid(scenario: Scenario, kgco2e_per_kwh: float) -> Scenario:
    """Return records with another emission per kWh, for all that the workshop uses and for plastic made from resin.

    It also values the electricity that incinerators sell, on both sides. [kgCO2e/kWh]
    """
    return replace(scenario, grid_kgco2e_per_kwh=kgco2e_per_kwh)


def mould_of(scenario: Scenario) -> Mould:
    """Return the mould of the part."""
    return scenario.workshop.moulds[scenario.workshop.parts[scenario.part].mould]


def _with_mould(scenario: Scenario, mould: Mould) -> Scenario:
    moulds = {**scenario.workshop.moulds, mould.name: mould}
    return replace(scenario, workshop=replace(scenario.workshop, moulds=moulds))


def with_pressings(scenario: Scenario, pressings: float) -> Scenario:
    """Return records in which the mould of the part is not retired and lasts for `pressings`. [-]"""
    return _with_mould(scenario, replace(mould_of(scenario), pressings=pressings, retired=False))


def pressings_now(scenario: Scenario, found: Comparison) -> float:
    """Return the expected life of the part's mould; once it is retired, what it made. [-]"""
    return float(found.impacts.mould_life(mould_of(scenario)))


def _glued(scenario: Scenario, amounts: BatchAmounts) -> Flags:
    """Return which batches of the part have a dose: those of fresh fibre and a binder."""
    glued: Flags = scenario.rows & ~scenario.batches.coded("binder").where_any(NO_BINDER) & (amounts.dry_fibre_kg > 0.0)
    return glued


def with_dose(scenario: Scenario, dose: Numbers) -> Scenario:
    """Return records in which each batch of the part that has a binder holds `dose` dry binder per dry fibre. [kg/kg]

    One dose, or one for each batch.
    Recorded energy to prepare the binder grows with its mass; batches without binder or fresh fibre stay.
    """
    amounts = scenario.amounts
    glued = _glued(scenario, amounts)
    dry = dose * amounts.dry_fibre_kg
    before = amounts.dry_binder_kg
    scale = np.where(glued, np.divide(dry, before, out=np.ones_like(dry), where=before > 0.0), 1.0)
    return scenario.with_batches(
        binder_kg=np.where(glued, dry / amounts.binder_solids, scenario.column("binder_kg")),
        binder_solids=np.where(glued, amounts.binder_solids, scenario.column("binder_solids")),
        binder_preparation_kwh=scenario.column("binder_preparation_kwh") * scale,
    )


def dose_now(scenario: Scenario, found: Comparison) -> float:
    """Return the dry binder per dry fibre over the batches that have a binder; 0 when none has. [kg/kg]"""
    amounts = scenario.amounts
    glued = _glued(scenario, amounts)
    fibre = float(amounts.dry_fibre_kg[glued].sum())
    return float(amounts.dry_binder_kg[glued].sum()) / fibre if fibre else 0.0


def with_life(scenario: Scenario, years: float) -> Scenario:
    """Return records in which one moulded part serves for `years`. [year]"""
    workshop = scenario.workshop
    changed = replace(workshop.parts[scenario.part], service_life_years=years)
    return replace(scenario, workshop=replace(workshop, parts={**workshop.parts, scenario.part: changed}))


def with_rejects(scenario: Scenario, rate: Numbers) -> Scenario:
    """Return records in which `rate` of the pressings of every batch of the part fail, their number unchanged. [-]

    One rate, or one for each batch.     Paper, binder, energy and the mass of a part stay, so that what is not a good part is a reject of its mass.
    """
    rows, good = scenario.rows, scenario.column("good_parts")
    pressed = good + scenario.amounts.rejects
    return scenario.with_batches(
        good_parts=np.where(rows, (1.0 - rate) * pressed, good),
        rejects=np.where(rows, rate * pressed, scenario.column("rejects")),
    )


def rejects_now(scenario: Scenario, found: Comparison) -> float:
    """Return the share of pressings that failed. [-]"""
    failed = found.inventory.sum_of(*REJECTS)
    return failed / (failed + found.good)


def with_half_rejects(scenario: Scenario) -> Scenario:
    """Return records in which half of the pressings that fail in each batch of the part are good instead."""
    failed, good = scenario.amounts.rejects, scenario.column("good_parts")
    pressed = failed + good
    return with_rejects(scenario, np.divide(failed / 2.0, pressed, out=np.zeros_like(failed), where=pressed > 0.0))


def with_half_dose(scenario: Scenario) -> Scenario:
    """Return records in which each batch of the part that has a binder holds half of it."""
    fibre, dry = scenario.amounts.dry_fibre_kg, scenario.amounts.dry_binder_kg
    return with_dose(scenario, np.divide(dry / 2.0, fibre, out=np.zeros_like(dry), where=fibre > 0.0))


def with_transport(scenario: Scenario, km: float) -> Scenario:
    """Return records in which each batch of the part takes `km` of driving. [km]"""
    return scenario.with_batches(transport_km=np.where(scenario.rows, km, scenario.column("transport_km")))


def transport_now(scenario: Scenario, found: Making) -> float:
    """Return the kilometres driven per batch, recorded or estimated. [km]"""
    stock = found.inventory
    weighed = stock.sum_of(*estimated(DRIVING))
    km = stock.sum_of(*DRIVING) + (weighed * found.impacts.values.central("estimate.transport") if weighed else 0.0)
    return km / stock.sum_of(*BATCHES)


def with_vehicle(scenario: Scenario, vehicle: str) -> Scenario:
    """Return records in which a vehicle of the catalogue fetches all paper."""
    return replace(scenario, workshop=replace(scenario.workshop, vehicle=vehicle))


def with_mould_mass(scenario: Scenario, kg: float) -> Scenario:
    """Return records in which the mould of the part weighs `kg`; a recorded printing energy stays. [kg]"""
    return _with_mould(scenario, replace(mould_of(scenario), mass_kg=kg))


def _shares(impacts: UnitImpacts) -> dict[str, float]:
    """Return the central shares of where finished parts go. [-]"""
    return {fate: first(share) for fate, share in zip(FATES, impacts.end_of_life_shares, strict=True)}


def with_share(fate: str, scenario: Scenario, share: float) -> Scenario:
    """Return records in which `share` of the finished parts takes one route in the end. [-]

    The others keep their proportions by the central values; where they have nothing now, they get equal shares.
    """
    others = {
        name: value
        for name, value in _shares(UnitImpacts(scenario.workshop, scenario.values, {})).items()
        if name != fate
    }
    total = sum(others.values())
    rest = {name: (1.0 - share) * (value / total if total else 1.0 / len(others)) for name, value in others.items()}
    split = FateSplit(**{**rest, fate: share}, evidence="what if")
    return replace(scenario, workshop=replace(scenario.workshop, end_of_life=split))


def share_now(fate: str, scenario: Scenario, found: Making) -> float:
    """Return the central share of the finished parts that takes a route. [-]"""
    return _shares(found.impacts)[fate]
