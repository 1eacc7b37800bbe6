"""Break-even points of a part: the value of one record at which it emits as much as its plastic part.

Every variable is solved on the real model: its value is written into the records (`impact.decisions.whatif`), and the
difference is worked out as `impact.assess` does. Where the difference is affine in the variable (most of them), in
its inverse (pressings) or in 1 / (1 - rate) (rejects), two runs give the exact root of every draw. The binder dose changes the binder stage and the make-up of the part at its end of
life, which is a curve: the central root is searched on the real model, the roots of the draws
from linear interpolation between 17 doses, which is off by less than 0.001.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Annotated, Literal

import numpy as np

from impact.account.inventory import Inventory
from impact.account.results import Interval
from impact.base.serial import Share, group, named, one_of, shows
from impact.core import FloatArray
from impact.core.roots import first_bracket, first_crossing, root_between
from impact.core.sampling import chance_lower, interval, quantiles
from impact.decisions.scenario import Comparison, NoComparisonError, Scenario, compare_like, stock_of, stocks_of
from impact.decisions.variables import VARIABLES, Transform, Variable, inverse, same

Answer = Literal["crosses", "always lower", "never lower", "lower", "not lower"]
"""Of the central value, over a range; `always` and `never` only where every draw answers like it."""

POINTS = 33
"""Points of a curve, beside its break-even."""

DOSES = 17
"""Doses at which the draws of the binder dose are worked out."""


@dataclass(frozen=True, slots=True)
class Curve:
    """Both footprints over a stretch of a variable, for a chart.

    Attributes
    ----------
    points : ndarray
        Values of the variable.
    moulded, plastic : ndarray, shape (3, points)
        Central value, 2.5 % and 97.5 % quantile at each point. [kgCO2e]
    """

    points: FloatArray
    moulded: FloatArray
    plastic: FloatArray


@shows("variable", "unit", "now", "at", "answer", "lower_side", "share_crossing", "share_alike",
       group("range", "low", "high"))  # fmt: skip
@dataclass(frozen=True, slots=True)
class Crossing:
    """Where one variable brings the difference to nothing.

    Attributes
    ----------
    variable, unit : str
        Name and unit of the variable.
    now : float
        Its value as recorded or estimated.
    at : Interval or None
        The break-even: central value, and the interval of the draws that have one; None when the central
        value has none in the range.
    answer : {"crosses", "always lower", "never lower", "lower", "not lower"}
        Of the central value, over the range: the moulded part crosses, or lies on one side; `always` and `never` only
        where every draw lies on that side all over the range.
    lower_side : {"below", "above"} or None
        On which side of the break-even the moulded part is the lower.
    share_crossing : float
        Share of the draws with a break-even in the range. [-]
    share_alike : float
        Share of the draws that answer as the central value does: cross, or lie on its side all over the range. [-]
    low, high : float
        The range.
    curve : Curve
        Both footprints around today's value and the break-even.
    """

    variable: Annotated[str, one_of(*(one.name for one in VARIABLES))]
    unit: str
    now: float
    at: Interval | None
    answer: Answer
    lower_side: Literal["below", "above"] | None
    share_crossing: Share
    share_alike: Share
    low: float
    high: float
    curve: Curve


@shows(
    "part", named("difference_kgco2e", "difference"), "chance_lower", "no_comparison", named("breakeven", "crossings")
)
@dataclass(frozen=True, slots=True)
class BreakEven:
    """Break-even points of one part.

    Attributes
    ----------
    part : str
        Name.
    difference : Interval or None
        Moulded less plastic as recorded, per good part. [kgCO2e]
    chance_lower : float or None
        Share of draws in which the moulded part is the lower. [-]
    no_comparison : str or None
        Why there is no break-even at all.
    crossings : tuple of Crossing
        One per variable; none when there is no comparison.
    """

    part: str
    difference: Interval | None
    chance_lower: Share | None
    no_comparison: str | None
    crossings: tuple[Crossing, ...]


def breakeven(records: Scenario) -> BreakEven:
    """Return at which value of each variable (`impact.decisions.variables`) a part breaks even.

    Raises
    ------
    ProblemsError
        When the tables lack a factor.
    """
    try:
        now = records.comparison
        crossings = tuple(_crossing(variable, records, now) for variable in VARIABLES)
    except NoComparisonError as error:
        return BreakEven(records.part, None, None, str(error), ())
    chance = chance_lower(now.footprint[1:], now.plastic.footprint[1:])
    return BreakEven(records.part, Interval.of(now.difference), chance, None, crossings)


def _crossing(variable: Variable, records: Scenario, now: Comparison) -> Crossing:
    """Return the break-even of one variable."""
    sure = replace(records, values=records.values.exactly(*variable.exact))
    present = variable.now(records, now)
    if variable.straight is None or variable.back is None:
        differences, roots, both = _on_curve(variable, sure, now)
    else:
        differences, roots, both = _on_line(variable, variable.straight, variable.back, sure, now)
    at = _interval(roots)
    lower = bool(differences[0, 0] < 0.0)
    crossing = ~np.isnan(roots[1:])
    alike = float(np.mean(crossing if at else ~crossing & ((differences[0, 1:] < 0.0) == lower)))
    sides: tuple[Answer, Answer] = ("always lower", "never lower") if alike == 1.0 else ("lower", "not lower")
    return Crossing(
        variable=variable.name,
        unit=variable.unit,
        now=present,
        at=at,
        answer="crosses" if at else sides[0] if lower else sides[1],
        lower_side=None if at is None else "below" if lower else "above",
        share_crossing=float(np.mean(crossing)),
        share_alike=alike,
        low=variable.low,
        high=variable.high,
        curve=_curve(variable, present, at, both),
    )


Both = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
"""From points to both footprints, each of shape (points, 1 + draws)."""


def _curve(variable: Variable, now: float, at: Interval | None, both: Both) -> Curve:
    """Return the footprints over a stretch that holds today's value and the break-even, which is one of its points.

    A difference that is affine in the inverse of the variable, or of 1 - rate, bends most where that is small: the
    points rise by equal ratios of it.
    """
    held = [now, at.value] if at else [now]
    low = max(variable.low, 0.3 * min(held) if variable.straight is inverse else 0.0)
    high = min(variable.high, max(1.35 * now, 1.15 * max(held)) or variable.high)
    if variable.straight is None or variable.back is None or variable.straight is same:
        points = np.linspace(low, high, POINTS)
    else:
        first, last = variable.straight(np.array([low, high])).tolist()
        points = variable.back(np.geomspace(first, last, POINTS))
    points = np.array(sorted({low, high, *points[1:-1].tolist(), *held[1:]}))
    moulded, plastic = (np.vstack([drawn[:, 0], *quantiles(drawn[:, 1:], 0.025, 0.975).T]) for drawn in both(points))
    return Curve(points, moulded, plastic)


def _on_line(
    variable: Variable, straight: Transform, back: Transform, records: Scenario, now: Comparison
) -> tuple[FloatArray, FloatArray, Both]:
    """Return the differences at the ends of the range, the exact roots, and both footprints between the ends."""
    ends = np.array([variable.low, variable.high])
    found = [
        compare_like(now, variable.changed, variable.set_records(records, end), stock)
        for end, stock in zip(ends.tolist(), _stocks(variable, records, ends, now.inventory), strict=True)
    ]
    differences = np.stack([comparison.difference for comparison in found])
    first, last = straight(ends)

    def both(points: FloatArray) -> tuple[FloatArray, FloatArray]:
        weight = ((straight(points) - first) / (last - first))[:, np.newaxis]
        moulded = found[0].footprint * (1.0 - weight) + found[1].footprint * weight
        return moulded, found[0].plastic.footprint * (1.0 - weight) + found[1].plastic.footprint * weight

    return differences, back(first_crossing(straight(ends), differences)), both


def _stocks(variable: Variable, records: Scenario, ends: FloatArray, recorded: Inventory) -> list[Inventory]:
    """Return the inventory at each end of a range; `recorded` is that of the records as they are."""
    if variable.changes == "batches":
        return stocks_of(records, variable.set_records, ends)
    if variable.changes == "lines":
        recorded = stock_of(variable.set_records(records, variable.low))
    return [recorded] * len(ends)


def _on_curve(variable: Variable, records: Scenario, now: Comparison) -> tuple[FloatArray, FloatArray, Both]:
    """Return the differences over a grid of values, the roots (searched for the centre, interpolated for the draws), and both footprints.

    The unit impacts do not depend on the value, so that one product with the amounts serves every point.
    """
    (stock,) = stocks_of(records, variable.set_records, np.array([variable.high]))
    highest = compare_like(now, variable.changed, variable.set_records(records, variable.high), stock)
    matrix, plastic = highest.matrix, highest.plastic.footprint

    def amounts(values: FloatArray) -> FloatArray:
        stocks = (stock.by_line() for stock in stocks_of(records, variable.set_records, values))
        found = np.array([[by_line.get(line, 0.0) for line in matrix.lines] for by_line in stocks])
        return found / highest.good

    def footprints(values: FloatArray) -> FloatArray:
        drawn: FloatArray = amounts(values) @ matrix.impacts
        return drawn

    def central(value: float) -> float:
        return float(amounts(np.array([value]))[0] @ matrix.impacts[:, 0] - plastic[0])

    points = np.linspace(variable.low, variable.high, DOSES)
    differences = footprints(points) - plastic
    roots = first_crossing(points, differences)
    bracket = first_bracket(points, differences[:, 0])
    if bracket is not None:
        roots[0] = root_between(central, *bracket)

    def both(wanted: FloatArray) -> tuple[FloatArray, FloatArray]:
        drawn = footprints(wanted)
        return drawn, np.broadcast_to(plastic, drawn.shape)

    return differences, roots, both


def _interval(roots: FloatArray) -> Interval | None:
    """Return the central root with the interval of the draws that have one; None without a central root."""
    if np.isnan(roots[0]):
        return None
    found = roots[1:][~np.isnan(roots[1:])]
    low, median, high = interval(found if len(found) else roots[:1])
    return Interval(float(roots[0]), low, high, median)
