"""Draws from the distributions of the factor table, and what is read off the drawn results.

References
----------
.. [1] B. P. Weidema, M. S. Wesnaes, "Data quality management for life cycle inventories", Journal of
   Cleaner Production 4 (1996) 167-174.
.. [2] R. Frischknecht et al., International Journal of Life Cycle Assessment 10 (2005) 3-9
   (uncertainty factors; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from impact.core import FloatArray, require, require_positive, require_share

Z95 = 1.959963984540054
"""Standard normal quantile of 97.5 %."""

DISTRIBUTIONS = ("fixed", "lognormal", "normal", "uniform", "triangular", "beta")
"""Names that `draw` accepts."""


def geometric_sigma(low: float, high: float) -> float:
    """Return the standard deviation of the logarithm for a 95 % interval, ln(high/low) / (2 z). [-]

    Raises
    ------
    ValueError
        When `low` is not above 0 or `high` lies below it.
    """
    require_positive("low end of a lognormal", low)
    require(high >= low, f"high end of a lognormal is {high!r}; accepted: {low!r} or above")
    return float(np.log(high / low) / (2.0 * Z95))


def pedigree_gsd2(scores: Sequence[float], basic: float) -> float:
    """Return the squared geometric standard deviation of pedigree scores [1]_ [2]_.

    exp(sqrt(sum of ln(U)^2 over the indicators and the basic uncertainty)); the 95 % interval of a
    value m is m / gsd2 to m * gsd2.

    Parameters
    ----------
    scores : sequence of float
        Uncertainty factor U of each indicator (1 or more). [-]
    basic : float
        Basic uncertainty factor. [-]

    Raises
    ------
    ValueError
        When a factor lies below 1.
    """
    factors = np.array([*scores, basic], dtype=float)
    require(factors >= 1.0, f"uncertainty factors are {factors.tolist()}; accepted: 1 or above")
    return float(np.exp(np.sqrt(np.sum(np.log(factors) ** 2))))


def beta_shape(mean: float, low: float, high: float) -> tuple[float, float]:
    """Return alpha and beta of a beta distribution with this mean and the spread of a 95 % interval.

    The standard deviation is taken as (high - low) / (2 z), capped below the largest that a beta
    distribution of this mean can have.

    Raises
    ------
    ValueError
        When the mean is not strictly between 0 and 1.
    """
    require(0.0 < mean < 1.0, f"mean of a beta distribution is {mean!r}; accepted: between 0 and 1")
    variance = min(((high - low) / (2.0 * Z95)) ** 2, 0.9 * mean * (1.0 - mean))
    require_positive("spread of a beta distribution", variance)
    common = mean * (1.0 - mean) / variance - 1.0
    return mean * common, (1.0 - mean) * common


def draw(
    distribution: str, value: float, low: float, high: float, *, size: int, rng: np.random.Generator
) -> FloatArray:
    """Return `size` draws of a factor.

    lognormal: median `value`, each side with the spread of the logarithm that puts its end of the interval
    at the 2.5 % or 97.5 % quantile; normal: centre `value`,
    truncated at 0; uniform and triangular between `low` and `high` (mode `value`); beta: mean `value`, spread from the
    interval; fixed: the value itself. A share of exactly 0 or 1, or an interval without width, is fixed.

    Parameters
    ----------
    distribution : str
        One of `DISTRIBUTIONS`.
    value, low, high : float
        Central value and 95 % interval, in one unit.
    size : int
        Number of draws.
    rng : numpy.random.Generator
        Source of randomness.

    Returns
    -------
    ndarray
        Draws, in the unit of `value`.

    Raises
    ------
    ValueError
        When the distribution is unknown or its interval unusable.
    """
    require(distribution in DISTRIBUTIONS, f"distribution is {distribution!r}; accepted: {', '.join(DISTRIBUTIONS)}")
    if distribution == "fixed" or low == high:
        return np.full(size, value)
    require(low <= value <= high, f"interval is {low!r} to {high!r} around {value!r}; accepted: low <= value <= high")
    if distribution == "lognormal":
        below = 2.0 * geometric_sigma(low, value)  # half the interval lies on each side of the median
        above = 2.0 * geometric_sigma(value, high)
        normal = rng.standard_normal(size)
        return value * np.exp(np.where(normal < 0.0, below, above) * normal)
    if distribution == "normal":
        return _truncated_normal(value, (high - low) / (2.0 * Z95), size, rng)
    if distribution == "uniform":
        return rng.uniform(low, high, size)
    if distribution == "triangular":
        return rng.triangular(low, value, high, size)
    if value in (0.0, 1.0):
        return np.full(size, value)
    return rng.beta(*beta_shape(value, low, high), size)


def dirichlet(
    shares: Sequence[float], *, concentration: float, floor: float, size: int, rng: np.random.Generator
) -> FloatArray:
    """Return draws of shares that add up to 1, around shares that somebody stated, shape (shares, `size`). [-]

    The means are the stated shares, none below `floor`, divided by their sum; the sum of the parameters is `concentration`
    times what the largest mean leaves of 1. So the boldest statement, all for one, is worth the fewest observations and
    has the widest interval, where one concentration for all would give it the narrowest.

    Parameters
    ----------
    shares : sequence of float
        Stated shares, not all 0. [-]
    concentration : float
        Observations that they are worth, above 0. [-]
    floor : float
        Least share, above 0. [-]
    size : int
        Number of draws.
    rng : numpy.random.Generator
        Source of randomness.

    Raises
    ------
    ValueError
        When a share lies outside 0 to 1, or floor or concentration is not above 0.
    """
    require_share("stated share", *shares)
    require_positive("concentration or floor of shares", concentration, floor)
    means = np.maximum(np.asarray(shares, dtype=float) / sum(shares), floor)
    means /= means.sum()
    return rng.dirichlet(concentration * (1.0 - means.max()) * means, size).T


def _truncated_normal(centre: float, sigma: float, size: int, rng: np.random.Generator) -> FloatArray:
    """Return draws of a normal distribution truncated at 0: what falls below 0 is drawn again."""
    require(centre >= 0.0, f"centre of a normal truncated at 0 is {centre!r}; accepted: 0 or above")
    draws = rng.normal(centre, sigma, size)
    while np.any(below := draws < 0.0):
        draws[below] = rng.normal(centre, sigma, np.count_nonzero(below))
    return draws


def quantiles(draws: FloatArray, *shares: float) -> FloatArray:
    """Return quantiles of draws, linear between two of them: the seventh way of Hyndman and Fan (1996), doi:10.2307/2684934.

    The draws are sorted whole, which takes a quarter of the time of searching for a few of them.

    Parameters
    ----------
    draws : ndarray, shape (..., draws)
        Draws; of what is not a number in one of them, no quantile is one.
    shares : float
        Shares of the draws below a quantile, 0 to 1. [-]

    Returns
    -------
    ndarray, shape (..., shares)
        The quantiles.

    Raises
    ------
    ValueError
        When there are no draws.
    """
    require(draws.shape[-1] > 0, "there are no draws to take a quantile of")
    ordered = np.sort(draws, axis=-1)
    places = np.array(shares) * (draws.shape[-1] - 1)
    below = np.floor(places).astype(np.int64)
    first, last = ordered[..., below], ordered[..., np.minimum(below + 1, draws.shape[-1] - 1)]
    beyond, step = places - below, last - first
    found: FloatArray = np.where(beyond >= 0.5, last - step * (1.0 - beyond), first + step * beyond)
    found[np.isnan(ordered[..., -1])] = np.nan  # which stands last
    return found


def median(values: FloatArray) -> float:
    """Return the median of values without NaN; NumPy's own loads its arrays with masks first.

    Raises
    ------
    ValueError
        When there are no values.
    """
    require(len(values) > 0, "there are no values to take a median of")
    middle = ((len(values) - 1) // 2, len(values) // 2)
    ordered = np.partition(values, middle)
    return float(ordered[middle[0]] + ordered[middle[1]]) / 2.0


def interval(draws: FloatArray, *, coverage: float = 0.95) -> tuple[float, float, float]:
    """Return low end, median and high end of the central interval of `draws`.

    Raises
    ------
    ValueError
        When there are no draws.
    """
    require(len(draws) > 0, "there are no draws to take an interval from")
    tail = (1.0 - coverage) / 2.0
    low, median, high = quantiles(draws, tail, 0.5, 1.0 - tail)
    return float(low), float(median), float(high)


def chance_lower(first: FloatArray, second: FloatArray) -> float:
    """Return the share of draws in which `first` is below `second`; a tie counts half. [-]"""
    return float(np.mean(first < second) + 0.5 * np.mean(first == second))


def variance_shares(contributions: FloatArray) -> FloatArray:
    """Return each contribution's share of the variance of their sum, cov(x_i, total) / var(total).

    Parameters
    ----------
    contributions : ndarray, shape (inputs, draws)
        What each input adds to the total in each draw.

    Returns
    -------
    ndarray, shape (inputs,)
        Shares that add up to 1, or zeros when the total varies by no more than rounding. [-]
    """
    total = contributions.sum(axis=0)
    if np.ptp(total) <= 1e-12 * np.abs(contributions).max():
        return np.zeros(len(contributions))
    centred = total - total.mean()
    variance = np.mean(centred**2)
    shares: FloatArray = (contributions - contributions.mean(axis=1, keepdims=True)) @ centred / len(total) / variance
    return shares
