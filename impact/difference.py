"""How much more one part emits than its plastic part, from records as they are or as they might be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from impact.accounts import mean_makeup, resolved
from impact.assessment import plastic_or_reason
from impact.batchtable import BatchTable
from impact.core import FloatArray
from impact.inventory import Inventory
from impact.plastics import PlasticDraws
from impact.stock import take_stock
from impact.tally import pressings_made
from impact.unitimpacts import Matrix, UnitImpacts, contributions, summed
from impact.values import Values
from impact.workshop import Workshop

if TYPE_CHECKING:
    import pandas as pd


class NoComparisonError(LookupError):
    """Raised when a part has no plastic equivalent or no good part; carries the reason as a sentence."""


@dataclass(frozen=True)
class Records:
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


def stock_of(records: Records, part: str, values: Values) -> Inventory:
    """Return the inventory of one part, parts of mere own rejects given their make-up, zero lines left out."""
    inventory, _ = take_stock(BatchTable.of(records.batches), records.workshop, values.central)
    own = resolved(inventory).where(part=part)
    kept = np.flatnonzero(own.amounts.any(axis=0))
    return Inventory(own.groups, tuple(own.lines[index] for index in kept), own.amounts[:, kept])


def of_part(
    records: Records, part: str, values: Values, made_elsewhere: Mapping[str, float]
) -> tuple[Records, dict[str, float]]:
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


def compare(records: Records, part: str, values: Values, *, made_elsewhere: Mapping[str, float]) -> Comparison:
    """Return one part compared with its plastic part.

    Parameters
    ----------
    records : Records
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
    good = inventory.sum_of("count", "good parts")
    if good <= 0.0:
        raise NoComparisonError(f"{part} has no good part in these batches")
    made = pressings_made(BatchTable.of(records.batches), records.workshop)
    pressings = {mould: made.get(mould, 0.0) + made_elsewhere.get(mould, 0.0) for mould in {*made, *made_elsewhere}}
    impacts = UnitImpacts(records.workshop, values, pressings, grid_kgco2e_per_kwh=records.grid_kgco2e_per_kwh)
    plastic, reason, _ = plastic_or_reason(records.workshop.parts[part], impacts)
    if plastic is None:
        raise NoComparisonError(f"{part}: {reason}")
    return Comparison(good, inventory, impacts.stages(inventory), impacts, plastic)


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
