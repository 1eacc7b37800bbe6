"""How a workshop uses each binder: dose, solids and preparation, from its batches, its recipes or the tables."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from impact.account.amounts import batch_amounts
from impact.account.intensities import UnitImpacts
from impact.account.linekinds import BINDER_AS_USED, BINDER_PREPARATION, DRY_BINDER, estimated
from impact.core import FloatArray, Numbers
from impact.factors.values import generator
from impact.records.batchtable import BatchTable

if TYPE_CHECKING:
    import pandas as pd

OWN = "batches of this part"
OTHER = "batches of other parts"
LITERATURE = "literature"
NONE = "none"
BATCHES, RECIPE, TABLE = "batches", "recipe", "table"
"""Where the dry matter and the preparation of a binder are from."""


@dataclass(frozen=True)
class BinderUse:
    """One binder as it is, or would be, used.

    Attributes
    ----------
    binder : str
        Id.
    dose_from : str
        `OWN`, `OTHER`, `LITERATURE` or `NONE`.
    dose : ndarray
        Dry binder per dry fibre, central value first, then draws. [kg/kg]
    low, high : float
        Lowest and highest of the batches, or the range of the literature. [kg/kg]
    weighing : ndarray or float
        Error of the weighed binder, around 1. [-]
    solids : float or ndarray
        Dry matter of the binder as used. [kg/kg]
    preparation : float or ndarray
        Electricity to prepare one kg of binder as used, with the error of how it is known. [kWh/kg]
    solids_from, preparation_from : str
        `RECIPE` or `TABLE`, else `BATCHES` or, of preparation, the evidence class of the batches.
    """

    binder: str
    dose_from: str
    dose: FloatArray
    low: float
    high: float
    weighing: Numbers
    solids: Numbers
    preparation: Numbers
    solids_from: str
    preparation_from: str


class BinderRecords:
    """What all batches of a workshop, in canonical columns, say of the use of binders in a part."""

    def __init__(self, batches: pd.DataFrame, part: str, impacts: UnitImpacts) -> None:
        self.impacts = impacts
        self.values = impacts.values
        self.of_part = (batches["part"].astype(str) == part).to_numpy()
        self.binders = batches["binder"].astype(str).to_numpy()
        self.binder_kg = batches["binder_kg"].to_numpy(dtype=float)
        self.solids = batches["binder_solids"].to_numpy(dtype=float)
        self.kwh = batches["binder_preparation_kwh"].to_numpy(dtype=float)
        self.kwh_evidence = batches["binder_preparation_kwh_evidence"].astype(str).to_numpy()
        amounts = batch_amounts(BatchTable.of(batches), impacts.workshop, self.values.central)
        self.fibre, self.dry_binder = amounts.dry_fibre_kg, amounts.dry_binder_kg

    def use_of(self, binder: str) -> BinderUse:
        """Return how a binder is used: this part's batches before those of other parts, before the literature.

        Raises
        ------
        MissingFactorError
            When the tables lack a factor of a binder that the records do not settle.
        """
        size = 1 + self.values.draws
        if binder == NONE:
            return BinderUse(binder, NONE, np.zeros(size), 0.0, 0.0, 1.0, 1.0, 0.0, NONE, NONE)
        known = (self.binders == binder) & ~np.isnan(self.binder_kg) & (self.fibre > 0.0)
        for origin, rows in ((OWN, known & self.of_part), (OTHER, known & ~self.of_part)):
            if rows.any():
                return self._own(binder, origin, rows)
        factor = self.values.choose(f"binder.dose.{binder}").factor
        dose = self.values.get(f"binder.dose.{binder}")
        none = np.zeros(len(known), dtype=bool)
        return self._use(binder, LITERATURE, dose, (factor.low, factor.high), 1.0, none)

    def _use(
        self, binder: str, origin: str, dose: FloatArray, ends: tuple[float, float], weighing: Numbers, rows: np.ndarray
    ) -> BinderUse:
        solids, solids_from = self._solids(binder, rows)
        preparation, preparation_from = self._preparation(binder, rows)
        return BinderUse(binder, origin, dose, *ends, weighing, solids, preparation, solids_from, preparation_from)

    def _own(self, binder: str, origin: str, rows: np.ndarray) -> BinderUse:
        """Return the median dose of some batches; its draws are medians of resampled batches."""
        by_table = np.isnan(self.solids[rows]) & (self._stated_solids(binder) is None)
        dry = self.dry_binder[rows]
        doses = dry / self.fibre[rows]
        dose = resampled_median(doses, self.values.draws, generator(self.values.seed, f"dose of {binder}"))
        weighing = self.values.spread((BINDER_AS_USED if by_table.any() else DRY_BINDER).activity, "weighed")
        if by_table.any() and dry.any():
            unsure = float(dry[by_table].sum() / dry.sum())
            table = self.values.get(f"binder.solids.{binder}")
            dose = dose * (1.0 + unsure * (table / table[0] - 1.0))
        return self._use(binder, origin, dose, (float(doses.min()), float(doses.max())), weighing, rows)

    def _solids(self, binder: str, rows: np.ndarray) -> tuple[Numbers, str]:
        own = self._stated_solids(binder)
        if own is not None:
            return own, RECIPE
        recorded = self.solids[rows & ~np.isnan(self.solids)]
        if len(recorded):
            return float(np.median(recorded)), BATCHES
        return self.values.get(f"binder.solids.{binder}"), TABLE

    def _stated_solids(self, binder: str) -> float | None:
        """Return the dry matter of a binder by its recipe. [kg/kg]"""
        stated = self.impacts.workshop.binders.get(binder)
        return None if stated is None else stated.solids

    def _preparation(self, binder: str, rows: np.ndarray) -> tuple[Numbers, str]:
        recorded = rows & ~np.isnan(self.kwh) & (self.binder_kg > 0.0)
        if not recorded.any():
            stated = self.impacts.workshop.binders.get(binder)
            origin = TABLE if stated is None or stated.preparation_kwh_per_kg is None else RECIPE
            estimate = self.impacts.preparation_kwh(binder)
            return estimate * self.values.spread(estimated(BINDER_PREPARATION).activity, "estimated"), origin
        evidence = "nameplate" if "nameplate" in self.kwh_evidence[recorded] else "metered"
        median = float(np.median(self.kwh[recorded] / self.binder_kg[recorded]))
        return median * self.values.spread(BINDER_PREPARATION.activity, evidence), evidence


def resampled_median(values: FloatArray, draws: int, rng: np.random.Generator) -> FloatArray:
    """Return the median of some values, and draws of the median of as many drawn with replacement.

    The median of n resampled values is the value at rank ceil(n B), B from a beta distribution with both
    parameters (n + 1)/2: exact for odd n, so that no resample has to be made.
    """
    count = len(values)
    middle = (count + 1) / 2.0
    ranks = np.ceil(count * rng.beta(middle, middle, draws)).astype(int)
    return np.concatenate(([float(np.median(values))], np.sort(values)[np.clip(ranks, 1, count) - 1]))
