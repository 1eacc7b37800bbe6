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

import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from impact.account.amounts import BatchAmounts, batch_amounts, take_stock
from impact.account.assessment import plastic_or_reason
from impact.account.intensities import UnitImpacts
from impact.account.inventory import Inventory, Matrix, contributions, summed
from impact.account.linekinds import DRY_BINDER, DRYING, GOOD_PARTS, PRESSINGS, REJECTS, estimated
from impact.account.lines import stage_matrix
from impact.account.paper import mean_makeup, resolved
from impact.account.plastic import PlasticDraws
from impact.account.tally import pressings_made
from impact.core import FloatArray
from impact.factors.values import Values
from impact.records.batchtable import BatchTable
from impact.records.workshop import Workshop

if TYPE_CHECKING:
    import pandas as pd


class NoComparisonError(LookupError):
    """Raised when a part has no plastic equivalent or no good part; carries the reason as a sentence."""


@dataclass(frozen=True)
class Scenario:
    """What a comparison is worked out from.

    Attributes
    ----------
    workshop : Workshop
        Settings and parts.
    batches : DataFrame
        Batches of all parts, in canonical columns.
    grid_kgco2e_per_kwh : float or None
        Emission of one kWh at the socket in place of the grid's. [kgCO2e/kWh]
    """

    workshop: Workshop
    batches: pd.DataFrame
    grid_kgco2e_per_kwh: float | None = None


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


def stock_of(records: Scenario, part: str, values: Values) -> Inventory:
    """Return the inventory of one part, parts of mere own rejects given their make-up, zero lines left out."""
    inventory, _ = take_stock(BatchTable.of(records.batches), records.workshop, values.central)
    own = resolved(inventory).where(part=part)
    kept = np.flatnonzero(own.amounts.any(axis=0))
    return Inventory(own.groups, tuple(own.lines[index] for index in kept), own.amounts[:, kept])


def of_part(
    records: Scenario, part: str, values: Values, made_elsewhere: Mapping[str, float]
) -> tuple[Scenario, dict[str, float]]:
    """Return the records of one part, and the pressings made elsewhere with those of the other parts.

    All records come back where the part is made of nothing but own rejects: what is in it shows in other parts.
    Arguments as of `compare`.
    """
    rows = (records.batches["part"] == part).to_numpy(dtype=bool)
    own = replace(records, batches=records.batches[rows].reset_index(drop=True))
    inventory, _ = take_stock(BatchTable.of(own.batches), own.workshop, values.central)
    if not mean_makeup(inventory, np.ones(len(inventory.amounts), dtype=bool)):
        return records, dict(made_elsewhere)
    others = pressings_made(BatchTable.of(records.batches[~rows]), records.workshop)
    names = {*others, *made_elsewhere}
    return own, {mould: others.get(mould, 0.0) + made_elsewhere.get(mould, 0.0) for mould in names}


def compare(records: Scenario, part: str, values: Values, *, made_elsewhere: Mapping[str, float]) -> Comparison:
    """Return one part compared with its plastic part.

    Parameters
    ----------
    records : Scenario
        What to work it out from.
    part : str
        Name of the part.
    values : Values
        Factors of the run.
    made_elsewhere : mapping of str to float
        Pressings of each mould in batches that are not among the records, for moulds that are retired.

    Raises
    ------
    NoComparisonError
        When there is no good part or no plastic equivalent.
    MissingFactorError
        When the tables lack a factor of the moulded part.
    """
    inventory = stock_of(records, part, values)
    good = inventory.sum_of(*GOOD_PARTS)
    if good <= 0.0:
        raise NoComparisonError(f"{part} has no good part in these batches")
    made = pressings_made(BatchTable.of(records.batches), records.workshop)
    pressings = {mould: made.get(mould, 0.0) + made_elsewhere.get(mould, 0.0) for mould in {*made, *made_elsewhere}}
    impacts = UnitImpacts(records.workshop, values, pressings, grid_kgco2e_per_kwh=records.grid_kgco2e_per_kwh)
    plastic, reason, _ = plastic_or_reason(records.workshop.parts[part], impacts)
    if plastic is None:
        raise NoComparisonError(f"{part}: {reason}")
    return Comparison(good, inventory, stage_matrix(impacts, inventory), impacts, plastic)


def pressings_elsewhere(
    workshop: Workshop, batches: pd.DataFrame, all_batches: pd.DataFrame | None
) -> dict[str, float]:
    """Return the pressings of each mould in the batches of `all_batches` that are not among `batches`."""
    if all_batches is None:
        return {}
    here = pressings_made(BatchTable.of(batches), workshop)
    return {
        mould: made - here.get(mould, 0.0)
        for mould, made in pressings_made(BatchTable.of(all_batches), workshop).items()
    }


Setter = Callable[[Scenario, str, float, Values], Scenario]
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
        Scenario, part, value and factor values to the scenario with that value.
    now : callable
        Scenario, part, comparison to the value as recorded.
    straight, back : callable or None
        Transform in which the difference is affine, and its inverse; None where there is none.
    exact : tuple of str
        Activities whose amount the variable sets, and which therefore have no error.
    """

    name: str
    unit: str
    low: float
    high: float
    set_records: Setter
    now: Callable[[Scenario, str, Comparison], float]
    straight: Transform | None
    back: Transform | None
    exact: tuple[str, ...] = ()


def _rows(batches: pd.DataFrame, part: str) -> np.ndarray:
    rows: np.ndarray = (batches["part"].astype(str) == part).to_numpy()
    return rows


def _amounts(records: Scenario, values: Values) -> BatchAmounts:
    return batch_amounts(BatchTable.of(records.batches), records.workshop, values.central)


def with_drying(records: Scenario, part: str, kwh: float, values: Values) -> Scenario:
    """Return records in which every batch of a part takes `kwh` per good part to dry. [kWh]

    The heat drawn from a heated room stays: it follows the water, not the dryer.
    """
    rows, batches = _rows(records.batches, part), records.batches
    drying = np.where(rows, kwh * batches["good_parts"].to_numpy(dtype=float), batches["drying_kwh"].to_numpy(float))
    evidence = np.where(rows, "metered", batches["drying_kwh_evidence"].astype(str))
    return dataclasses.replace(records, batches=batches.assign(drying_kwh=drying, drying_kwh_evidence=evidence))


def drying_now(records: Scenario, part: str, found: Comparison) -> float:
    """Return the drying energy per good part, recorded or estimated. [kWh]"""
    stock, impacts = found.inventory, found.impacts
    total = stock.sum_of(*DRYING)
    for dryer, dry_kg in stock.items(*estimated(DRYING)).items():
        total += dry_kg * float(np.ravel(np.asarray(impacts.drying_kwh(dryer)))[0])
    return total / found.good


def with_grid(records: Scenario, part: str, kgco2e_per_kwh: float, values: Values) -> Scenario:
    """Return records with another emission per kWh, for all that the workshop uses and for plastic made from resin.

    It also values the electricity that incinerators sell, on both sides. [kgCO2e/kWh]
    """
    return dataclasses.replace(records, grid_kgco2e_per_kwh=kgco2e_per_kwh)


def with_pressings(records: Scenario, part: str, pressings: float, values: Values) -> Scenario:
    """Return records in which the mould of a part is not retired and lasts for `pressings`. [-]"""
    workshop = records.workshop
    name = workshop.parts[part].mould
    mould = dataclasses.replace(workshop.moulds[name], pressings=pressings, retired=False)
    return dataclasses.replace(records, workshop=dataclasses.replace(workshop, moulds={**workshop.moulds, name: mould}))


def pressings_now(records: Scenario, part: str, found: Comparison) -> float:
    """Return the expected life of a part's mould; once it is retired, what it made. [-]"""
    mould = records.workshop.moulds[records.workshop.parts[part].mould]
    return float(found.impacts.mould_life(mould))


def _glued(records: Scenario, part: str, amounts: BatchAmounts) -> np.ndarray:
    """Return which batches of a part have a dose: those of fresh fibre and a binder."""
    uses = ~records.batches["binder"].astype(str).isin(["none", ""]).to_numpy()
    glued: np.ndarray = _rows(records.batches, part) & uses & (amounts.dry_fibre_kg > 0.0)
    return glued


def with_dose(records: Scenario, part: str, dose: float, values: Values) -> Scenario:
    """Return records in which each batch of a part that has a binder holds `dose` dry binder per dry fibre. [kg/kg]

    Recorded energy to prepare the binder grows with its mass; batches without binder or fresh fibre stay.
    """
    batches, amounts = records.batches, _amounts(records, values)
    glued = _glued(records, part, amounts)
    dry = dose * amounts.dry_fibre_kg
    before = amounts.dry_binder_kg
    scale = np.where(glued, np.divide(dry, before, out=np.ones_like(dry), where=before > 0.0), 1.0)
    changed = batches.assign(
        binder_kg=np.where(glued, dry / amounts.binder_solids, batches["binder_kg"].to_numpy(float)),
        binder_solids=np.where(glued, amounts.binder_solids, batches["binder_solids"].to_numpy(float)),
        binder_preparation_kwh=batches["binder_preparation_kwh"].to_numpy(float) * scale,
    )
    return dataclasses.replace(records, batches=changed)


def dose_now(records: Scenario, part: str, found: Comparison) -> float:
    """Return the dry binder per dry fibre over the batches that have a binder; 0 when none has. [kg/kg]"""
    amounts = _amounts(records, found.impacts.values)
    glued = _glued(records, part, amounts)
    fibre = float(amounts.dry_fibre_kg[glued].sum())
    return float(amounts.dry_binder_kg[glued].sum()) / fibre if fibre else 0.0


def with_life(records: Scenario, part: str, years: float, values: Values) -> Scenario:
    """Return records in which one moulded part serves for `years`. [year]"""
    workshop = records.workshop
    changed = dataclasses.replace(workshop.parts[part], service_life_years=years)
    return dataclasses.replace(records, workshop=dataclasses.replace(workshop, parts={**workshop.parts, part: changed}))


def with_rejects(records: Scenario, part: str, rate: float, values: Values) -> Scenario:
    """Return records in which `rate` of the pressings of every batch of a part fail, their number unchanged. [-]

    Paper, binder, energy and the mass of a part stay, so that what is not a good part is a reject of its mass.
    """
    rows, batches = _rows(records.batches, part), records.batches
    good = batches["good_parts"].to_numpy(dtype=float)
    pressed = good + _amounts(records, values).rejects
    changed = batches.assign(
        good_parts=np.where(rows, (1.0 - rate) * pressed, good),
        rejects=np.where(rows, rate * pressed, batches["rejects"].to_numpy(dtype=float)),
    )
    return dataclasses.replace(records, batches=changed)


def rejects_now(records: Scenario, part: str, found: Comparison) -> float:
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
        lambda records, part, found: float(found.impacts.grid.kgco2e_per_kwh[0]), _same, _same,
    ),
    Variable(
        "pressings", "pressings per mould", 1.0, 100_000.0, with_pressings, pressings_now, inverse, inverse,
        (PRESSINGS.activity,),
    ),
    Variable("binder-dose", "dry binder per dry fibre", 0.0, 1.0, with_dose, dose_now, None, None, (DRY_BINDER.activity,)),
    Variable(
        "service-life", "years", 0.01, 100.0, with_life,
        lambda records, part, found: records.workshop.parts[part].service_life_years, _same, _same,
    ),
    Variable(
        "reject-rate", "share of pressings", 0.0, 0.99, with_rejects, rejects_now,
        lambda rate: 1.0 / (1.0 - rate), lambda ratio: 1.0 - 1.0 / ratio,
    ),
)  # fmt: skip
"""The variables of a break-even, in the order of the outputs."""
