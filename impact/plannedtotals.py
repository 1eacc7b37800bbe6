"""Totals of every inventory line for a plan of pressings, and the figures that follow from them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from impact.core import FloatArray, Numbers
from impact.core.prediction import ratio_prediction
from impact.inventory import Line
from impact.plurals import counted
from impact.results import Interval, Results
from impact.unitimpacts import Matrix, UnitImpacts
from impact.values import FATES

if TYPE_CHECKING:
    import pandas as pd

FEWEST = 5
"""Batches on record under which nothing is forecast."""


class PlannedTotals:
    """Predicted totals, central value first, then draws.

    Parameters
    ----------
    own : DataFrame
        Batches of the part, each with parts pressed.
    results : Results
        Their assessment, with one inventory group for each batch, in the order of `own`.
    impacts : UnitImpacts
        Settings and factors of that assessment.
    planned : float
        Parts to press. [-]
    rng : numpy.random.Generator
        Draws the batches.

    Attributes
    ----------
    missing : dict of str to str
        Figures that the records do not allow, and why.
    """

    def __init__(
        self, own: pd.DataFrame, results: Results, impacts: UnitImpacts, planned: float, rng: np.random.Generator
    ) -> None:
        self.own, self.results, self.impacts = own, results, impacts
        self.planned, self.rng = planned, rng
        self.inventory = results.inventory
        self.missing: dict[str, str] = {}
        self.pressed = self._recorded_counts()
        self.binders = [name for name in dict.fromkeys(own["binder"].astype(str)) if name != "none"]
        weighed = [
            np.where(
                (own["binder"].astype(str) == name).to_numpy(), own["binder_kg"].fillna(0.0).to_numpy(dtype=float), 0.0
            )
            for name in self.binders
        ]
        together = np.column_stack([self.inventory.amounts, *weighed])
        totals = self._predicted(together, self.pressed)
        self.totals, self.weighed = np.split(totals, [len(self.inventory.lines)], axis=1)
        self.good = np.minimum(self.of_lines("count", "good parts"), planned)

    def _predicted(self, amounts: FloatArray, pressed: FloatArray) -> FloatArray:
        return ratio_prediction(amounts, pressed, self.planned, draws=self.impacts.values.draws, rng=self.rng)

    def _recorded_counts(self) -> FloatArray:
        """Return the parts pressed in each batch, blank rejects estimated. [-]"""
        columns = self._columns("count", "good parts") + self._columns("count", "rejects")
        pressed: FloatArray = self.inventory.amounts[:, columns].sum(axis=1)
        return pressed

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
        grades = sorted({line.item.split("|")[0] for line in self.inventory.lines if line.activity == "collected"})
        return {grade: Interval.of(self.of_lines("mass", "collected", grade)) for grade in grades}

    def binder(self) -> dict[str, Interval]:
        """Return the binder as used, by binder; what was not weighed is estimated by the table's dose. [kg]"""
        found = {}
        for column, binder in enumerate(self.binders):
            used = self.weighed[:, column]
            guessed = self.of_lines("binder", "estimated binder", binder)
            if guessed.any():
                stated = self.impacts.workshop.binders.get(binder)
                own = None if stated is None else stated.solids
                solids: Numbers = self.impacts.values.get(f"binder.solids.{binder}") if own is None else own
                used = used + guessed * self.impacts.values.get(f"binder.dose.{binder}") / solids
            found[binder] = Interval.of(used)
        return found

    def water_l(self) -> FloatArray:
        """Return the water. [L]"""

        def water(line: Line) -> Numbers | None:
            if line.activity == "estimated water":
                return 1000.0 * self.impacts.values.get("estimate.water")
            return 1000.0 if line.activity == "water" else None

        return self.through(self.impacts.matrix(self.inventory, water))

    def electricity_kwh(self) -> FloatArray:
        """Return the electricity of making and of preparing the binder. [kWh]"""
        return self.through(self.impacts.matrix(self.inventory, self._kwh))

    def _kwh(self, line: Line) -> Numbers | None:
        if line.item == "electricity":
            return 1.0
        if line.activity in ("estimated shredding", "estimated blending", "estimated pressing"):
            return self.impacts.values.get(line.activity.replace("estimated ", "estimate."))
        if line.activity == "estimated drying":
            return self.impacts.drying_kwh(line.item)
        return self.impacts.preparation_kwh(line.item) if line.activity == "estimated binder preparation" else None

    def diverted_kg(self) -> FloatArray:
        """Return the paper kept from landfill, less what returns there. [kg]"""

        def kept(line: Line) -> Numbers | None:
            if line.account != "mass" or line.activity not in ("collected", "returned"):
                return None
            grade, route = line.item.split("|")
            if line.activity == "collected":
                return self.impacts.counterfactual_shares(grade, route)[FATES.index("landfill")]
            return -1.0 if route == "landfill" else None

        return self.through(self.impacts.matrix(self.inventory, kept))

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
