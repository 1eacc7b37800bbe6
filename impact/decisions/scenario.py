"""The records of one part, and what they come to: its stock, the part as made, and beside its plastic part.

What is asked of a scenario again and again is worked out once: `Scenario.making` and `Scenario.comparison`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from impact.account.amounts import BatchAmounts, batch_amounts, take_stock
from impact.account.assessment import missing_factors_told, plastic_or_reason, values_for
from impact.account.intensities import UnitImpacts
from impact.account.inventory import BY_PART, Inventory, Matrix, contributions, summed
from impact.account.linekinds import GOOD_PARTS
from impact.account.lines import stage_matrix
from impact.account.paper import mean_makeup, resolved
from impact.account.plastic import PlasticDraws
from impact.account.plausibility import balance_problems
from impact.account.tally import pressings_made
from impact.base.catalogue import Names, read_names
from impact.base.defaults import DEFAULT_DRAWS, DEFAULT_SEED
from impact.base.problems import ProblemsError, errors
from impact.core import FloatArray, Numbers
from impact.factors.factorset import FactorSet
from impact.factors.values import Values
from impact.records.batchtable import BatchTable
from impact.records.workshop import Workshop
from impact.tables.texts import Coded, Flags, Written

if TYPE_CHECKING:
    import pandas as pd

PLASTIC = "plastic"
"""Name of the plastic part beside those of the life-cycle stages."""

CASE = "case"
"""Column that tells apart the values for which the batches stand in a table again and again."""

ROWS_AT_ONCE = 200_000
"""Rows of such a table at most, unless the batches alone are more: some 200 MB."""


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

    @cached_property
    def making(self) -> Making:
        """The part as made by these records.

        Raises
        ------
        NoComparisonError
            When there is no good part.
        ProblemsError
            When the tables lack a factor.
        """
        with missing_factors_told(self.workshop):
            inventory, impacts = stock_of(self), impacts_of(self)
            return Making(_good_parts(self, inventory), inventory, stage_matrix(impacts, inventory), impacts)

    @cached_property
    def comparison(self) -> Comparison:
        """The part as made beside its plastic part; errors as of `making`, and where there is no plastic equivalent."""
        return _beside(self, self.making)

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
    everything = all_batches if all_batches is None else BatchTable.of(all_batches)
    return scenarios_of(
        workshop, BatchTable.of(batches), factors, [part], seed=seed, draws=draws, names=names, all_batches=everything
    )[part]


def scenarios_of(
    workshop: Workshop,
    batches: BatchTable,
    factors: FactorSet,
    parts: Iterable[str],
    *,
    seed: int,
    draws: int,
    names: Names | None,
    all_batches: BatchTable | None,
    values: Values | None = None,
) -> dict[str, Scenario]:
    """Return the records of each of some parts, as `scenario_of` does of one; the parts share the draws.

    Parameters
    ----------
    parts : iterable of str
        Parts, each of which at least one batch must have made.
    values : Values, optional
        The factors of the run where they are at hand, in place of those of `seed` and `draws`.

    Raises
    ------
    ProblemsError
        When a batch gives out more than went in, or the tables lack a factor.
    """
    values = values or values_for(workshop, factors, names or read_names(), seed=seed, draws=draws)
    with missing_factors_told(workshop):
        _, balance = take_stock(batches, workshop, values.central)
    faults = errors(balance_problems(batches, balance, "batches.csv"))
    if faults:
        raise ProblemsError(faults)
    elsewhere: dict[str, float] = {}
    if all_batches is not None:
        here = pressings_made(batches, workshop, values.central)
        everywhere = pressings_made(all_batches, workshop, values.central)
        elsewhere = {mould: made - here.get(mould, 0.0) for mould, made in everywhere.items()}
    return {part: of_part(Scenario(workshop, batches, part, values, elsewhere)) for part in parts}


def stock_of(scenario: Scenario, accounts: Sequence[str] | None = None) -> Inventory:
    """Return the inventory of the part, or some accounts of it; own rejects given their make-up, zero lines left out."""
    inventory, _ = take_stock(scenario.batches, scenario.workshop, scenario.values.central)
    return _own(inventory, scenario.part, accounts)


def _own(inventory: Inventory, part: str, accounts: Sequence[str] | None = None) -> Inventory:
    own = resolved(inventory).where(part=part)
    wanted = [accounts is None or line.account in accounts for line in own.lines]
    kept = np.flatnonzero(own.amounts.any(axis=0) & np.array(wanted))
    return Inventory(own.groups, tuple(own.lines[index] for index in kept), own.amounts[:, kept])


def stocks_of(
    scenario: Scenario, change: Callable[[Scenario, Numbers], Scenario], values: FloatArray
) -> list[Inventory]:
    """Return what `stock_of` gives for each value of something that changes the batches alone.

    The batches stand there once for each value, told apart by a column, and stock is taken of all of them at once.
    """
    count = len(scenario.batches)
    columns = {name: column for name, column in scenario.batches.columns.items() if not isinstance(column, Written)}
    plain, found = BatchTable(columns), []
    most = max(1, ROWS_AT_ONCE // max(count, 1))
    for some in (values[first : first + most] for first in range(0, len(values), most)):
        case = Coded(tuple(f"{number:06d}" for number in range(len(some))), np.repeat(np.arange(len(some)), count))
        rows = plain.kept(np.tile(np.arange(count), len(some)))
        repeated = replace(scenario, batches=BatchTable({**rows.columns, CASE: case}))
        changed = change(repeated, np.repeat(some, count))
        every, _ = take_stock(changed.batches, changed.workshop, changed.values.central, by=(CASE, *BY_PART))
        found += [_own(inventory, scenario.part) for _, inventory in every.split_by(CASE)]
    return found


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


def _good_parts(scenario: Scenario, inventory: Inventory) -> float:
    good = inventory.sum_of(*GOOD_PARTS)
    if good <= 0.0:
        raise NoComparisonError(f"{scenario.part} has no good part in these batches")
    return good


def compare_like(known: Comparison, changed: Collection[str], scenario: Scenario, stock: Inventory) -> Comparison:
    """Return the comparison by records that differ from those of a known one; errors as of `Scenario.comparison`.

    Parameters
    ----------
    known : Comparison
        What all else is taken from.
    changed : collection of str
        Life-cycle stages, and `PLASTIC`, of which a unit may emit something else.
    scenario, stock : Scenario, Inventory
        The records, and what `stock_of` gives for them.
    """
    with missing_factors_told(scenario.workshop):
        good, impacts = _good_parts(scenario, stock), impacts_of(scenario)
        making = Making(good, stock, _matrix_like(known.matrix, changed, impacts, stock), impacts)
    if PLASTIC in changed:
        return _beside(scenario, making)
    return Comparison(good, stock, making.matrix, impacts, known.plastic)


def _matrix_like(known: Matrix, changed: Collection[str], impacts: UnitImpacts, stock: Inventory) -> Matrix:
    """Return the unit impacts of the life-cycle stages, those of other stages than the changed ones as they are known."""
    rows = {line: row for row, line in enumerate(known.lines) if line.account not in changed}
    places = [place for place, line in enumerate(stock.lines) if line not in rows]
    new = stage_matrix(
        impacts, Inventory(stock.groups, tuple(map(stock.lines.__getitem__, places)), stock.amounts[:, places])
    )
    found = {line: (known, row) for line, row in rows.items()} | {
        line: (new, row) for row, line in enumerate(new.lines)
    }
    lines = tuple(line for line in stock.lines if line in found)
    taken = [found[line] for line in lines]
    return Matrix(
        lines,
        np.array([matrix.impacts[row] for matrix, row in taken]),
        tuple(matrix.factors[row] for matrix, row in taken),
    )


def _beside(scenario: Scenario, making: Making) -> Comparison:
    """Return the part as made beside its plastic part."""
    plastic, reason, _ = plastic_or_reason(scenario.workshop.parts[scenario.part], making.impacts)
    if plastic is None:
        raise NoComparisonError(f"{scenario.part}: {reason}")
    return Comparison(making.good, making.inventory, making.matrix, making.impacts, plastic)


def _added(made: Mapping[str, float], more: Mapping[str, float]) -> dict[str, float]:
    """Return the pressings of two sets of batches together, by mould. [-]"""
    return {mould: made.get(mould, 0.0) + more.get(mould, 0.0) for mould in {*made, *more}}
