"""What a plan of sessions takes and gives: totals of the inventory lines, and how far each rests on the records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import numpy as np

from impact.account.intensities import UnitImpacts
from impact.account.inventory import Line, Matrix, matrix_of
from impact.account.linekinds import COLLECTED, ESTIMATED_BINDER, GOOD_PARTS, REJECTS, RETURNED, Name, Source
from impact.account.lines import GRID, LANDFILL, MAINS, kind_of
from impact.account.paper import Fines
from impact.account.results import Results
from impact.base.problems import counted
from impact.base.serial import Count, one_of, shows
from impact.core import FloatArray, Numbers
from impact.core.prediction import Guessed, ratio_prediction
from impact.core.sampling import interval
from impact.factors.values import FATES

if TYPE_CHECKING:
    import pandas as pd

FEWEST = 5
"""Batches on record under which nothing is forecast."""

STEADY = 8
"""Batches that an amount has to occur in for a 95 % interval, unless it occurs in every one of fewer. In rarer ones such
intervals held 0.54 to 0.87 of the totals, by simulation."""

SOME = 0.25
"""Share of the mean per part from which an amount counts as occurring in a batch. A choice of ours."""

RECORDS, RARE, TABLES = "records", "rare", "tables"


@shows("value", "low", "high", "basis", "occurs_in", "batches")
@dataclass(frozen=True, slots=True)
class Expected:
    """A figure of the plan.

    Attributes
    ----------
    value : float
        Computed with central inputs and the mean of the records.
    low, high : float
        Ends of the 95 % prediction interval; of a rare amount the least and the most, if every session went as the batch with the
        least or the most of it for each part pressed.
    median : float
        Median of the draws.
    basis : {"records", "rare", "tables"}
        Batches that record it; too few in which it occurs, so that no 95 % is given; the factor tables, with their spread, since no
        batch records it.
    occurs_in, batches : int
        Batches in which it occurs to speak of, and all that were looked at.
    """

    value: float
    low: float
    high: float
    median: float
    basis: Annotated[str, one_of(RECORDS, RARE, TABLES)]
    occurs_in: Count
    batches: Count

    @property
    def rare(self) -> bool:
        """Whether it occurs in too few batches for a 95 % interval."""
        return self.basis == RARE


@dataclass(frozen=True)
class Foreseen:
    """A total of the plan with where it comes from.

    Attributes
    ----------
    draws : ndarray
        The total, central value first.
    batches : ndarray
        The same of each batch on record, by central inputs.
    pressed : ndarray
        Parts pressed in each. [-]
    planned : float
        Parts to press. [-]
    occurring : ndarray
        What decides whether it occurs in a batch: itself, or the part of it that comes and goes.
    by_table : bool
        Whether no batch records it.
    """

    draws: FloatArray
    batches: FloatArray
    pressed: FloatArray
    planned: float
    occurring: FloatArray
    by_table: bool = False

    def expected(self) -> Expected:
        """Return the figure with its interval, or with the range of what was seen where it is rare."""
        rates = np.abs(self.occurring) / self.pressed
        mean = float(np.abs(self.occurring).sum() / self.pressed.sum())
        occurs = int(np.count_nonzero(rates >= SOME * mean)) if mean > 0.0 else 0
        low, median, high = interval(self.draws[1:])
        if self.by_table:
            return Expected(float(self.draws[0]), low, high, median, TABLES, 0, len(rates))
        if STEADY > occurs < len(rates):
            seen = self.planned * self.batches / self.pressed
            return Expected(
                float(self.draws[0]), float(seen.min()), float(seen.max()), median, RARE, occurs, len(rates)
            )
        return Expected(float(self.draws[0]), low, high, median, RECORDS, occurs, len(rates))


class PlannedTotals:
    """Predicted totals of the inventory lines and of the weighed binders, central value first, then draws.

    `own` are the batches of the part, each with parts pressed; `results` their assessment, with one inventory group for
    each batch in the order of `own`; `without` the same with no reject where none is recorded. `missing` says why a figure
    cannot be given.
    """

    def __init__(
        self,
        own: pd.DataFrame,
        results: Results,
        without: Results,
        sessions: int,
        planned: int,
        rng: np.random.Generator,
    ) -> None:
        self.own, self.results, self.rng = own, results, rng
        self.sessions, self.planned = sessions, float(planned)
        self.impacts = UnitImpacts(results.workshop, results.values, {})
        self.inventory = results.inventory
        self.fines = Fines(results.inventory)
        self.missing: dict[str, str] = {}
        counts = self._columns(*GOOD_PARTS) + self._columns(*REJECTS)
        used, binder_kg = own["binder"].astype(str).to_numpy(), own["binder_kg"].fillna(0.0).to_numpy(dtype=float)
        self.binders = [name for name in dict.fromkeys(used) if name != "none"]
        self.weighed_by_batch = np.zeros((len(own), len(self.binders)))
        for column, name in enumerate(self.binders):
            self.weighed_by_batch[:, column] = np.where(used == name, binder_kg, 0.0)
        amounts = np.column_stack([self.inventory.amounts, self.weighed_by_batch])
        known = {line: without.inventory.amounts[:, at] for at, line in enumerate(without.inventory.lines)}
        sure = [known.get(line, np.zeros(len(own))) for line in self.inventory.lines]
        guessed = amounts - np.column_stack([*sure, self.weighed_by_batch])
        self.pressed: FloatArray = self.inventory.amounts[:, counts].sum(axis=1)
        rate = results.values.get("estimate.reject-rate") if own["rejects"].isna().any() else np.full(1, 0.5)
        odds = rate / (1.0 - rate)
        self.guessed = Guessed(guessed, guessed[:, counts].sum(axis=1), odds / odds[0]) if len(odds) > 1 else None
        totals = self._predicted(amounts, self.pressed, self.guessed)
        self.totals, self.weighed = np.split(totals, [len(self.inventory.lines)], axis=1)
        self.good = self._good()

    def _predicted(self, amounts: FloatArray, pressed: FloatArray, guessed: Guessed | None) -> FloatArray:
        draws = self.impacts.values.draws
        return ratio_prediction(
            amounts, pressed, self.planned, self.sessions, draws=draws, rng=self.rng, guessed=guessed
        )

    def _columns(self, account: str, activity: str, item: str | None = None) -> list[int]:
        return [
            index
            for index, line in enumerate(self.inventory.lines)
            if line.account == account and line.activity == activity and item in (None, line.item.split("|")[0])
        ]

    def _foreseen(
        self, draws: FloatArray, batches: FloatArray, *, occurring: FloatArray | None = None, by_table: bool = False
    ) -> Foreseen:
        return Foreseen(
            draws, batches, self.pressed, self.planned, batches if occurring is None else occurring, by_table
        )

    def of_lines(self, account: str, activity: str, item: str | None = None) -> Foreseen:
        """Return the predicted amount of an activity, over all items or those of one grade or binder."""
        columns = self._columns(account, activity, item)
        return self._foreseen(self.totals[:, columns].sum(axis=1), self.inventory.amounts[:, columns].sum(axis=1))

    def _good(self) -> Foreseen:
        """Return the good parts, which are as rare as rejects are; sessions smaller than the batches add the chance of each part.

        That is planned p (1 - p) (1 - s/n) for a reject rate p and s of n parts in a session and in a mean batch.
        """
        good, rejects = self.of_lines(*GOOD_PARTS), self.of_lines(*REJECTS).batches
        share = float(np.clip(good.draws[0] / self.planned, 0.0, 1.0))
        smaller = max(0.0, 1.0 - self.planned / self.sessions / float(self.pressed.mean()))
        spread = np.sqrt(self.planned * share * (1.0 - share) * smaller)
        noise = np.append(0.0, self.rng.normal(0.0, spread, len(good.draws) - 1))
        draws = np.clip(good.draws + noise, 0.0, self.planned)
        return self._foreseen(draws, good.batches, occurring=rejects, by_table=bool(self.own["rejects"].isna().all()))

    def through(self, matrix: Matrix) -> Foreseen:
        """Return predicted amounts times unit impacts, summed: each draw of the batches meets one draw of the factors."""
        position = {line: index for index, line in enumerate(self.inventory.lines)}
        chosen = [position[line] for line in matrix.lines]
        amounts = self.inventory.amounts[:, chosen]
        by_table = bool(chosen) and all(line.evidence == "estimated" for line in matrix.lines)
        total: FloatArray = np.einsum("dl,ld->d", self.totals[:, chosen], matrix.impacts)
        return self._foreseen(total, amounts @ matrix.impacts[:, 0], by_table=by_table)

    def paper(self) -> dict[str, Expected]:
        """Return the paper by grade, as weighed. [kg]"""
        grades = sorted({item.split("|")[0] for item in self.inventory.items(*COLLECTED)})
        return {grade: self.of_lines(*COLLECTED, grade).expected() for grade in grades}

    def binder(self) -> dict[str, Expected]:
        """Return the binder as used, by binder; what was not weighed is estimated by the table's dose. [kg]"""
        found = {}
        for column, binder in enumerate(self.binders):
            used, batches = self.weighed[:, column], self.weighed_by_batch[:, column]
            by_table = not batches.any()
            guessed = self.of_lines(*ESTIMATED_BINDER, binder)
            if guessed.draws.any():
                stated = self.impacts.workshop.binders.get(binder)
                own = None if stated is None else stated.solids
                solids: Numbers = self.impacts.values.get(f"binder.solids.{binder}") if own is None else own
                each = self.impacts.values.get(f"binder.dose.{binder}") / solids
                used, batches = used + guessed.draws * each, batches + guessed.batches * each[0]
            found[binder] = self._foreseen(used, batches, by_table=by_table).expected()
        return found

    def water_l(self) -> Expected:
        """Return the water. [L]"""
        return self._used(MAINS, 1000.0)

    def electricity_kwh(self) -> Expected:
        """Return the electricity of making and of preparing the binder. [kWh]"""
        return self._used(GRID)

    def _used(self, source: Source, scale: float = 1.0) -> Expected:
        """Return how much of a source is used, as recorded and as estimated. [1]"""
        impacts = self.impacts

        def use(line: Line) -> Numbers | None:
            used = kind_of(line).use_of(source, impacts, line.item)
            return None if used is None else scale * used

        return self.through(matrix_of(impacts.worked, self.inventory, use)).expected()

    def diverted_kg(self) -> Foreseen:
        """Return the paper kept from landfill, less what returns there and the fines, at their share of the records. [kg]"""

        def kept(line: Line) -> Numbers | None:
            name, (grade, _, route) = Name(line.account, line.activity), line.item.partition("|")
            if name == COLLECTED:
                return self.fines(self.impacts, grade, route)[FATES.index(LANDFILL)]
            return -1.0 if name == RETURNED and route == LANDFILL else None

        return self.through(matrix_of(self.impacts.worked, self.inventory, kept))

    def difference_kgco2e(self) -> Expected | None:
        """Return the footprint of the good parts less that of the plastic parts whose place they take. [kgCO2e]"""
        (part,) = self.results.parts
        if part.plastic_draws is None:
            self.missing["difference_kgco2e"] = part.no_comparison or "no good part is on record"
            return None
        taken = self.results.workshop.parts[part.part].displacement
        share: Numbers = (1.0 if taken is None else taken) if part.displaced_draws is None else part.displaced_draws
        plastic = part.plastic_draws * share
        made = self.through(self.results.stage_matrix)
        batches = made.batches - self.good.batches * plastic[0]
        return self._foreseen(made.draws - self.good.draws * plastic, batches, occurring=made.batches).expected()

    def recorded(self, figure: str, values: FloatArray, what: str) -> Foreseen | None:
        """Return a total predicted from the batches that record it; None, with the reason, when they are too few."""
        known = ~np.isnan(values)
        if known.sum() < FEWEST:
            count = int(known.sum())
            verb = "records" if count == 1 else "record"
            self.missing[figure] = f"{count} of {counted(len(values), 'batch')} {verb} {what}, and {FEWEST} are needed"
            return None
        amounts, pressed, guessed = values[known][:, np.newaxis], self.pressed[known], None
        if self.guessed is not None:
            guessed = Guessed(np.zeros_like(amounts), self.guessed.pressed[known], self.guessed.odds)
        draws = self._predicted(amounts, pressed, guessed)[:, 0]
        return Foreseen(draws, values[known], pressed, self.planned, values[known])

    def dryer_hours(self) -> Foreseen | None:
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
