"""Break-even points: where the difference of two footprints changes its sign, in every draw at once."""

from __future__ import annotations

import numpy as np

from impact.core import FloatArray, require


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


def _lower(points: FloatArray, differences: FloatArray) -> np.ndarray:
    require(len(points) >= 2, f"a crossing needs two points or more; read {len(points)}")
    require(len(points) == len(differences), f"{len(points)} points do not match {len(differences)} differences")
    steps = np.diff(points)
    require(bool(np.all(steps > 0.0) or np.all(steps < 0.0)), "the points must all rise or all fall")
    return differences < 0.0
