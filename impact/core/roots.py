"""Break-even points: where the difference of two footprints changes its sign, in every draw at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from impact.core import FloatArray, require

STEPS = 200
"""Most steps of a search for a root; a dozen are usual."""


def first_crossing(points: FloatArray, differences: FloatArray) -> FloatArray:
    """Return where each draw's difference first changes its sign, on straight lines between the points.

    Exact when the difference is affine in the variable: two points are then enough. For a curve it is
    the linear interpolation between neighbouring points, so their spacing sets the error.

    Parameters
    ----------
    points : ndarray, shape (points,)
        Values of the variable, rising or falling.
    differences : ndarray, shape (points, draws)
        First footprint less second at each point. A difference of 0 counts as "not lower". [kgCO2e]

    Returns
    -------
    ndarray, shape (draws,)
        The crossing, in the unit of `points`; NaN where the sign is the same all along.

    Raises
    ------
    ValueError
        When there are under two points, or they do not match the differences or run one way.
    """
    lower = _lower(points, differences)
    changes = lower[1:] != lower[:-1]
    index = np.argmax(changes, axis=0)
    draws = np.arange(differences.shape[1])
    start, end = differences[index, draws], differences[index + 1, draws]
    step = np.where(changes.any(axis=0), end - start, np.nan)
    roots: FloatArray = points[index] + (points[index + 1] - points[index]) * (-start / step)
    return roots


def first_bracket(points: FloatArray, difference: FloatArray) -> tuple[float, float] | None:
    """Return the neighbouring points between which one curve first changes its sign, or None.

    Parameters
    ----------
    points, difference : ndarray, shape (points,)
        As in `first_crossing`, for a single draw.

    Raises
    ------
    ValueError
        As in `first_crossing`.
    """
    lower = _lower(points, difference[:, np.newaxis])[:, 0]
    changes = np.flatnonzero(lower[1:] != lower[:-1])
    if len(changes) == 0:
        return None
    return float(points[changes[0]]), float(points[changes[0] + 1])


def root_between(curve: Callable[[float], float], low: float, high: float) -> float:
    """Return where a curve is 0 between two values at which its signs differ, to the last bits.

    Regula falsi with the halved ordinate of Illinois [1]_: the end that stays has its ordinate halved, so that both come in.

    Raises
    ------
    ValueError
        When the signs do not differ.

    References
    ----------
    .. [1] M. Dowell and P. Jarratt, A modified regula falsi method for computing the root of an equation, BIT 11 (1971) 168-174,
       from memory.
    """
    first, last = curve(low), curve(high)
    require(first * last <= 0.0, f"no root is held between {low:g} and {high:g}: read {first:g} and {last:g}")
    if first == 0.0:
        return low
    for _ in range(STEPS):
        if last == 0.0 or abs(high - low) <= 1e-14 + 1e-14 * abs(high):
            break
        between = high - last * (high - low) / (last - first)
        value = curve(between)
        if value * last < 0.0:
            low, first = high, last
        else:
            first /= 2.0
        moved, high, last = abs(between - high), between, value
        if moved <= 1e-15 + 1e-15 * abs(high):
            break
    return high


def _lower(points: FloatArray, differences: FloatArray) -> np.ndarray:
    require(len(points) >= 2, f"a crossing needs two points or more; read {len(points)}")
    require(len(points) == len(differences), f"{len(points)} points do not match {len(differences)} differences")
    steps = np.diff(points)
    require(bool(np.all(steps > 0.0) or np.all(steps < 0.0)), "the points must all rise or all fall")
    return differences < 0.0
