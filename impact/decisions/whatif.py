"""The records as they would be if one thing about a part were different: the variables of a break-even.

Each variable has a range in which a break-even is looked for. The ranges are choices of this program, wide
enough for any workshop and narrow enough that a point outside would be no advice:

- drying 0 to 20 kWh per good part: an oven for hours; electricity 0 to 2 kg CO2e per kWh: above any grid;
- pressings 1 to 100,000: from a mould that breaks at once to a metal one;
- binder dose 0 to 1: as much dry binder as dry fibre; service life 0.01 to 100 years;
- reject rate 0 to 0.99.

`set_records` of a variable writes its value into the records, and nothing else decides what the variable
means. The amount that a variable sets is taken as true, without the error of its evidence class.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from impact.account.amounts import BatchAmounts, batch_amounts, take_stock
from impact.account.assessment import missing_factors_told, plastic_or_reason, values_for
from impact.account.intensities import UnitImpacts
from impact.account.inventory import Inventory, Matrix, contributions, summed
from impact.account.linekinds import DRY_BINDER, DRYING, GOOD_PARTS, PRESSINGS, REJECTS, estimated
from impact.account.lines import stage_matrix
from impact.account.paper import mean_makeup, resolved
from impact.account.plastic import LIFE, PlasticDraws
from impact.account.plausibility import balance_problems
from impact.account.tally import pressings_made
from impact.base.catalogue import Names, read_names
from impact.base.problems import ProblemsError, errors
from impact.core import FloatArray
from impact.core.node import first
from impact.factors.factorset import FactorSet
from impact.factors.values import Values
from impact.records.batchtable import BatchTable
from impact.records.workshop import Workshop

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
    batches : DataFrame
        Batches of all parts, in canonical columns.
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
    batches: pd.DataFrame
    part: str
    values: Values
    made_elsewhere: Mapping[str, float]
    grid_kgco2e_per_kwh: float | None = None

    @property
    def rows(self) -> np.ndarray:
        """Which batches are of the part, shape (batches,)."""
        rows: np.ndarray = (self.batches["part"].astype(str) == self.part).to_numpy()
        return rows

    def column(self, name: str) -> FloatArray:
        """Return a column of the batches as numbers, shape (batches,)."""
        return self.batches[name].to_numpy(dtype=float)

    @property
    def amounts(self) -> BatchAmounts:
        """What goes into each batch and comes out."""
        return batch_amounts(BatchTable.of(self.batches), self.workshop, self.values.central)

    def with_batches(self, **columns: np.ndarray) -> Scenario:
        """Return the scenario with other values in some columns."""
        return replace(self, batches=self.batches.assign(**columns))


@dataclass(frozen=True)
class Comparison:
    """One part against its plastic part, central value first, then the draws.

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
    plastic : PlasticDraws
        The plastic part, per good moulded part.
    """

    good: float
    inventory: Inventory
    matrix: Matrix
    impacts: UnitImpacts
    plastic: PlasticDraws

    @property
    def footprint(self) -> FloatArray:
        """Footprint per good part. [kgCO2e]"""
        return summed(self.inventory, self.matrix) / self.good

    @property
    def contributions(self) -> FloatArray:
        """What each line of `matrix` adds per good part, shape (lines, 1 + draws). [kgCO2e]"""
        return contributions(self.inventory, self.matrix) / self.good

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
    seed: int,
    draws: int,
    names: Names | None,
    all_batches: pd.DataFrame | None,
) -> Scenario:
    """Return the records as they are; arguments as of `impact.decisions.breakeven.breakeven`.

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
    return Scenario(workshop, batches, part, values, elsewhere)


def stock_of(scenario: Scenario) -> Inventory:
    """Return the inventory of the part, own rejects given their make-up, zero lines left out."""
    inventory, _ = take_stock(BatchTable.of(scenario.batches), scenario.workshop, scenario.values.central)
    own = resolved(inventory).where(part=scenario.part)
    kept = np.flatnonzero(own.amounts.any(axis=0))
    return Inventory(own.groups, tuple(own.lines[index] for index in kept), own.amounts[:, kept])


def of_part(scenario: Scenario) -> Scenario:
    """Return the scenario of the part's own batches, the pressings of the other parts counted as made elsewhere.

    All batches stay where no batch of the part has fresh paper: what is in it shows in other parts.
    """
    rows = scenario.rows
    own = replace(scenario, batches=scenario.batches[rows].reset_index(drop=True))
    inventory, _ = take_stock(BatchTable.of(own.batches), own.workshop, own.values.central)
    if not mean_makeup(inventory, np.ones(len(inventory.amounts), dtype=bool)):
        return scenario
    others = pressings_made(BatchTable.of(scenario.batches[~rows]), scenario.workshop, scenario.values.central)
    return replace(own, made_elsewhere=_added(others, scenario.made_elsewhere))


def compare(scenario: Scenario) -> Comparison:
    """Return the part compared with its plastic part.

    Raises
    ------
    NoComparisonError
        When there is no good part or no plastic equivalent.
    ProblemsError
        When the tables lack a factor of the moulded part.
    """
    workshop, part = scenario.workshop, scenario.part
    with missing_factors_told(workshop):
        inventory = stock_of(scenario)
        good = inventory.sum_of(*GOOD_PARTS)
        if good <= 0.0:
            raise NoComparisonError(f"{part} has no good part in these batches")
        made = pressings_made(BatchTable.of(scenario.batches), workshop, scenario.values.central)
        pressings = _added(made, scenario.made_elsewhere)
        impacts = UnitImpacts(workshop, scenario.values, pressings, grid_kgco2e_per_kwh=scenario.grid_kgco2e_per_kwh)
        plastic, reason, _ = plastic_or_reason(workshop.parts[part], impacts)
        if plastic is None:
            raise NoComparisonError(f"{part}: {reason}")
        return Comparison(good, inventory, stage_matrix(impacts, inventory), impacts, plastic)


def _added(made: Mapping[str, float], more: Mapping[str, float]) -> dict[str, float]:
    """Return the pressings of two sets of batches together, by mould. [-]"""
    return {mould: made.get(mould, 0.0) + more.get(mould, 0.0) for mould in {*made, *more}}


Transform = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class Variable:
    """One thing that could be different about a part.

    Attributes
    ----------
    name, unit : str
        Name in commands and outputs; unit in words.
    low, high : float
        Ends of the range in which a break-even is looked for.
    set_records : callable
        Scenario and value to the scenario with that value.
    now : callable
        Scenario and comparison to the value as recorded.
    straight, back : callable or None
        Transform in which the difference is affine, and its inverse; None where there is none.
    exact : tuple of str
        Activities whose amount the variable sets, and which therefore have no error.
    """

    name: str
    unit: str
    low: float
    high: float
    set_records: Callable[[Scenario, float], Scenario]
    now: Callable[[Scenario, Comparison], float]
    straight: Transform | None
    back: Transform | None
    exact: tuple[str, ...] = ()


def with_drying(scenario: Scenario, kwh: float) -> Scenario:
    """Return records in which every batch of the part takes `kwh` per good part to dry. [kWh]

    The heat drawn from a heated room stays: it follows the water, not the dryer.
    """
    rows = scenario.rows
    return scenario.with_batches(
        drying_kwh=np.where(rows, kwh * scenario.column("good_parts"), scenario.column("drying_kwh")),
        drying_kwh_evidence=np.where(rows, "metered", scenario.batches["drying_kwh_evidence"].astype(str)),
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


def with_pressings(scenario: Scenario, pressings: float) -> Scenario:
    """Return records in which the mould of the part is not retired and lasts for `pressings`. [-]"""
    workshop = scenario.workshop
    name = workshop.parts[scenario.part].mould
    mould = replace(workshop.moulds[name], pressings=pressings, retired=False)
    return replace(scenario, workshop=replace(workshop, moulds={**workshop.moulds, name: mould}))


def pressings_now(scenario: Scenario, found: Comparison) -> float:
    """Return the expected life of the part's mould; once it is retired, what it made. [-]"""
    mould = scenario.workshop.moulds[scenario.workshop.parts[scenario.part].mould]
    return float(found.impacts.mould_life(mould))


def _glued(scenario: Scenario, amounts: BatchAmounts) -> np.ndarray:
    """Return which batches of the part have a dose: those of fresh fibre and a binder."""
    uses = ~scenario.batches["binder"].astype(str).isin(["none", ""]).to_numpy()
    glued: np.ndarray = scenario.rows & uses & (amounts.dry_fibre_kg > 0.0)
    return glued


def with_dose(scenario: Scenario, dose: float) -> Scenario:
    """Return records in which each batch of the part that has a binder holds `dose` dry binder per dry fibre. [kg/kg]

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


def with_rejects(scenario: Scenario, rate: float) -> Scenario:
    """Return records in which `rate` of the pressings of every batch of the part fail, their number unchanged. [-]

    Paper, binder, energy and the mass of a part stay, so that what is not a good part is a reject of its mass.
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


def _same(value: FloatArray) -> FloatArray:
    return value


def inverse(value: FloatArray) -> FloatArray:
    """Return 1 / value, in which a mould's share of a pressing is affine."""
    return 1.0 / value


VARIABLES = (
    Variable("drying", "kWh per good part", 0.0, 20.0, with_drying, drying_now, _same, _same, (DRYING.activity,)),
    Variable(
        "electricity", "kg CO2e per kWh", 0.0, 2.0, with_grid,
        lambda scenario, found: float(found.impacts.grid.kgco2e_per_kwh[0]), _same, _same,
    ),
    Variable(
        "pressings", "pressings per mould", 1.0, 100_000.0, with_pressings, pressings_now, inverse, inverse,
        (PRESSINGS.activity,),
    ),
    Variable("binder-dose", "dry binder per dry fibre", 0.0, 1.0, with_dose, dose_now, None, None, (DRY_BINDER.activity,)),
    Variable(
        "service-life", "years", 0.01, 100.0, with_life,
        lambda scenario, found: scenario.workshop.parts[scenario.part].service_life_years, _same, _same, (LIFE,),
    ),
    Variable(
        "reject-rate", "share of pressings", 0.0, 0.99, with_rejects, rejects_now,
        lambda rate: 1.0 / (1.0 - rate), lambda ratio: 1.0 - 1.0 / ratio,
    ),
)  # fmt: skip
"""The variables of a break-even, in the order of the outputs."""
