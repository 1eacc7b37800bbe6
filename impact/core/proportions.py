"""Proportions from counts: the interval of one, and the exact test between two.

References
----------
.. [1] E. B. Wilson, "Probable inference, the law of succession, and statistical inference", Journal of the
   American Statistical Association 22 (1927) 209-212.
.. [2] R. G. Newcombe, "Two-sided confidence intervals for the single proportion: comparison of seven methods",
   Statistics in Medicine 17 (1998) 857-872.
.. [3] R. A. Fisher, "The Design of Experiments", Oliver and Boyd, 1935, ch. 2.
.. [4] M. Abramowitz and I. A. Stegun (eds), "Handbook of Mathematical Functions", 1964, eq. 6.1.41 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from impact.core import FloatArray

Alternative = Literal["two-sided", "less", "greater"]


@dataclass(frozen=True, slots=True)
class Proportion:
    """A proportion counted in a sample.

    Attributes
    ----------
    count, total : int
        How many of how many.
    low, high : float
        Wilson interval. [-]
    """

    count: int
    total: int
    low: float
    high: float

    @property
    def rate(self) -> float:
        """Count over total. [-]"""
        return self.count / self.total


def _check(count: int, total: int) -> None:
    if not 0 <= count <= total or total < 1:
        raise ValueError(
            f"read {count!r} of {total!r}; accepted: 0 or more out of 1 or more, and no more than there are"
        )


def wilson(count: int, total: int, *, confidence: float = 0.95) -> Proportion:
    """Return a proportion with its score interval, without continuity correction [1]_ [2]_.

    Parameters
    ----------
    count, total : int
        How many of how many; `total` 1 or more.
    confidence : float, default 0.95
        Confidence of the interval, between 0 and 1. [-]

    Raises
    ------
    ValueError
        When the counts or the confidence are out of range.
    """
    from scipy.stats import binomtest

    _check(count, total)
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence is {confidence!r}; accepted: between 0 and 1")
    found = binomtest(count, total).proportion_ci(confidence_level=confidence, method="wilson")
    return Proportion(count, total, float(found.low), float(found.high))


def exact_test(first: Proportion, second: Proportion, *, alternative: Alternative = "two-sided") -> float:
    """Return the p-value of the exact test that two proportions are the same, both margins fixed [3]_. [-]

    Two-sided, it adds up the tables that are no likelier than the one seen.

    Parameters
    ----------
    first, second : Proportion
        Counts of two independent samples.
    alternative : {"two-sided", "less", "greater"}
        Whether the first proportion differs from, is below or is above the second.

    Raises
    ------
    ValueError
        When a count is out of range.
    """
    from scipy.stats import fisher_exact

    for one in (first, second):
        _check(one.count, one.total)
    table = [[one.count, one.total - one.count] for one in (first, second)]
    return float(fisher_exact(table, alternative=alternative)[1])


SURE = 0.005
"""p-value at the shares as they are with which a trial of that size finds a p below 0.05 about four times in five: by the
normal approximation 1.96 + 0.84 standard errors apart, which is a two-sided p of 0.005."""

MOST = 10_000
"""Largest trial that is looked at; our choice."""


def trial_size(first: Proportion, second: Proportion) -> int | None:
    """Return how many of each a trial needs to tell two proportions apart, if they are as counted; None above `MOST`.

    The size at which the exact test of the expected counts, rounded, comes down to `SURE`, to two digits upwards.

    Parameters
    ----------
    first, second : Proportion
        Counts so far.
    """

    def p(size: int) -> float:
        return exact_test(*(Proportion(round(one.rate * size), size, 0.0, 1.0) for one in (first, second)))

    if p(MOST) > SURE:
        return None
    low, high = 1, MOST
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if p(middle) <= SURE else (middle, high)
    step = int(10 ** max(len(str(high)) - 2, 0))
    return -(-high // step) * step


TAIL_ENDS = 1e-12
"""Share of the sum so far below which the rest of a tail is left out."""


TABLED = 1 << 12
"""Counts up to which the logarithms of factorials are tabled."""


def _log_factorial(counts: FloatArray) -> FloatArray:
    """Return the logarithm of the factorial of each count: by table, for large ones by Stirling's series [4]_."""
    table = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1.0, TABLED + 1.0)))])
    large = np.maximum(counts, float(TABLED))
    series = large * np.log(large) - large + 0.5 * np.log(2.0 * np.pi * large) + 1.0 / (12.0 * large)
    small = counts <= TABLED
    return np.where(small, table[np.where(small, counts, 0.0).astype(np.int64)], series)


def above_exactly(
    count: FloatArray, total: FloatArray, other_count: FloatArray, other_total: FloatArray, *, below: float = 1.0
) -> FloatArray:
    """Return the p-values of the exact test that each first proportion is not above the second [3]_. [-]

    The same as `exact_test` with ``greater``, for many pairs at once: the upper tail of the hypergeometric
    distribution, summed term by term.

    Parameters
    ----------
    count, total : ndarray
        First samples: how many of how many.
    other_count, other_total : ndarray
        Second samples.
    below : float
        Level of interest. A p-value whose first term is at least as large is 1 in the answer. [-]
    """
    hits, seen = count + other_count, total + other_total
    first = np.flatnonzero(_least_term(count, total, hits, seen) < math.log(below)) if below < 1.0 else slice(None)
    found = np.ones(len(count))
    found[first] = _tail(count[first], total[first], hits[first], seen[first])
    return found


def _least_term(count: FloatArray, total: FloatArray, hits: FloatArray, seen: FloatArray) -> FloatArray:
    """Return a logarithm below that of the first term: every factor of a falling product taken as its last."""
    rest = total - count
    choices = _log_factorial(total) - _log_factorial(count) - _log_factorial(rest)
    hit = count * np.log((hits - count + 1.0) / seen)
    return np.asarray(choices + hit + rest * np.log((seen - hits - rest + 1.0) / (seen - total + 1.0)))


def _tail(count: FloatArray, total: FloatArray, hits: FloatArray, seen: FloatArray) -> FloatArray:
    """Return the upper tail of the hypergeometric distribution: the chance of `count` or more hits in `total` drawn."""

    def log_ways(whole: FloatArray, part: FloatArray) -> FloatArray:
        return _log_factorial(whole) - _log_factorial(part) - _log_factorial(whole - part)

    misses = seen - hits
    term = np.exp(log_ways(hits, count) + log_ways(misses, total - count) - log_ways(seen, total))
    found, reached = term.copy(), count.copy()
    rest = np.arange(len(term))
    while len(rest):
        at, drawn, marked = reached[rest], total[rest], hits[rest]
        term[rest] *= (marked - at) * (drawn - at) / ((at + 1.0) * (misses[rest] - drawn + at + 1.0))
        found[rest] += term[rest]
        reached[rest] += 1.0
        rest = rest[term[rest] > TAIL_ENDS * found[rest]]
    return np.minimum(found, 1.0)
