"""Proportions from counts that come in clusters: the interval of one, the test between two; and the exact test of many pairs.

Parts of one batch are alike, so a batch says less than as many parts that were pressed one by one.

References
----------
.. [1] E. B. Wilson, "Probable inference, the law of succession, and statistical inference", Journal of the
   American Statistical Association 22 (1927) 209-212.
.. [2] J. N. K. Rao, A. J. Scott, "A simple method for the analysis of clustered binary data", Biometrics 48 (1992)
   577-585 (from memory).
.. [3] L. Kish, "Survey Sampling", Wiley, 1965, ch. 5: design effect 1 + (m - 1) rho (from memory).
.. [4] E. L. Korn, B. I. Graubard, "Confidence intervals for proportions with small expected number of positive counts
   estimated from survey data", Survey Methodology 24 (1998) 193-201 (effective size, Student's t; from memory).
.. [5] E. J. G. Pitman, "Significance tests which may be applied to samples from any populations", Supplement to the
   Journal of the Royal Statistical Society 4 (1937) 119-130; R. A. Fisher, "The Design of Experiments", 1935 (from memory).
.. [6] A. Donner, N. Klar, "Design and Analysis of Cluster Randomization Trials in Health Research", Arnold, 2000, ch. 5
   (from memory).
.. [7] M. Abramowitz and I. A. Stegun (eds), "Handbook of Mathematical Functions", 1964, eq. 6.1.41 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, islice

import numpy as np

from impact.core import FloatArray, require

Counts = tuple[FloatArray, FloatArray]
"""Of each cluster: how many, of how many."""

USUAL, WEIGHT = 0.1, 4
"""Correlation within a batch towards which the one estimated is drawn, and how many batches it weighs: our choice, no source.
Few batches hardly show it; with these the interval holds in `tests/benchmarks/coverage.py`."""

TELLING = 0.05
"""p-value below which two proportions are told apart."""

RESAMPLES, FEWER, MANY = 4_999, 999, 500
"""Exchanges that are tried where not all are, and how many above `MANY` batches."""

AT_ONCE = 2_000_000
"""Clusters in the exchanges that are looked at together."""

MOST = 10_000
"""Largest trial that is looked at; our choice."""


@dataclass(frozen=True, slots=True)
class Proportion:
    """A proportion counted in some clusters.

    Attributes
    ----------
    count, total : int
        How many of how many.
    low, high : float
        95 % interval. [-]
    batches : int
        Clusters.
    design_effect : float
        By how much the clusters widen the variance, 1 or more. [-]
    """

    count: int
    total: int
    low: float
    high: float
    batches: int
    design_effect: float

    @property
    def rate(self) -> float:
        """Count over total. [-]"""
        return self.count / self.total


def _check(counts: FloatArray, totals: FloatArray) -> None:
    right = len(totals) > 0 and bool(np.all((counts >= 0) & (counts <= totals) & (totals >= 1)))
    told = f"read {np.asarray(counts).tolist()} of {np.asarray(totals).tolist()}"
    require(right, f"{told}; accepted: 0 or more out of 1 or more, and no more than there are")


def _score(rate: float, size: float, z: float) -> tuple[float, float]:
    """Return the roots p of (rate - p)^2 = z^2 p (1 - p) / size [1]_."""
    middle = rate * size + z * z / 2.0
    half = z * math.sqrt(rate * (1.0 - rate) * size + z * z / 4.0)
    return max(0.0, (middle - half) / (size + z * z)), min(1.0, (middle + half) / (size + z * z))


def clustered(counts: FloatArray, totals: FloatArray) -> Proportion:
    """Return a proportion with its 95 % score interval at the effective size, never within that of independent parts [1]_.

    The variance between the clusters gives the design effect of the ratio [2]_, and that the correlation within a cluster [3]_,

        rho = (d - 1)/(m - 1),  d = k/(k - 1) sum (x - p n)^2 / (N p (1 - p)),  m = sum n^2 / N

    for k clusters with x of n, N in all. It is drawn towards `USUAL`, which weighs as much as `WEIGHT` clusters. The effective
    size is N / (1 + (m - 1) rho), and Student's t with k - 1 + `WEIGHT` degrees of freedom stands for the normal [4]_.

    Parameters
    ----------
    counts, totals : ndarray
        How many of how many, by cluster.

    Raises
    ------
    ValueError
        When there is no cluster or a count is out of range.
    """
    from scipy.special import ndtri, stdtrit  # a fifth of a second less than the distributions of that library

    _check(counts, totals)
    clusters, count, total = len(totals), float(counts.sum()), float(totals.sum())
    rate, size = count / total, float((totals**2).sum() / total)
    correlation = 0.0
    if clusters > 1 and size > 1.0 and 0.0 < rate < 1.0:
        between = clusters / (clusters - 1) * float(((counts - rate * totals) ** 2).sum())
        correlation = min(max((between / (total * rate * (1.0 - rate)) - 1.0) / (size - 1.0), 0.0), 1.0)
    correlation = (correlation * (clusters - 1) + USUAL * WEIGHT) / (clusters - 1 + WEIGHT)
    effect = 1.0 + (size - 1.0) * correlation
    low, high = _score(rate, total / effect, float(stdtrit(clusters - 1 + WEIGHT, 0.975)))
    alone = _score(rate, total, float(ndtri(0.975)))
    return Proportion(round(count), round(total), min(low, alone[0]), max(high, alone[1]), clusters, effect)


def can_tell(first: int, second: int) -> bool:
    """Return whether so many clusters of two kinds can be told apart at all: few exchanges leave no small p-value."""
    return (1 + (first == second)) / math.comb(first + second, first) < TELLING


def same_rate(first: Counts, second: Counts, rng: np.random.Generator) -> float:
    """Return the p-value of the permutation test that two proportions are the same [5]_. [-]

    Whole clusters are exchanged; the statistic is the difference of the two ratios without its sign. It holds whatever the
    correlation within a cluster, and is conservative where clusters are few or mostly without a count.

    Parameters
    ----------
    first, second : tuple of ndarray
        How many of how many, by cluster.
    rng : numpy.random.Generator
        Draws the exchanges where there are more than `RESAMPLES`.

    Raises
    ------
    ValueError
        When a sample has no cluster or a count is out of range.
    """
    for one in (first, second):
        _check(*one)
    counts, totals = (np.concatenate(both) for both in zip(first, second, strict=True))
    size, split = len(totals), len(first[1])
    observed = abs(first[0].sum() / first[1].sum() - second[0].sum() / second[1].sum())
    every = 1 in (split, size - split) or math.comb(size, split) <= RESAMPLES
    met = tried = 0
    for chosen in _exchanges(size, split, None if every else rng):
        inside, of = counts[chosen].sum(axis=1), totals[chosen].sum(axis=1)
        gaps = np.abs(inside / of - (counts.sum() - inside) / (totals.sum() - of))
        met += int(np.count_nonzero(gaps >= observed * (1.0 - 1e-12)))
        tried += len(chosen)
    return met / tried if every else (met + 1) / (tried + 1)


def _exchanges(size: int, split: int, rng: np.random.Generator | None) -> Iterator[np.ndarray]:
    """Yield which clusters stand for the first sample: in every way there is, or in ways that are drawn. [ways x split]"""
    ways: Iterable[Sequence[int] | np.ndarray]
    if rng is None:
        held = min(split, size - split)  # the others make the same difference
        ways = combinations(range(size), held)
    else:
        held = size
        ways = (rng.permutation(size)[:split] for _ in range(RESAMPLES if size <= MANY else FEWER))
    ways = iter(ways)
    while some := list(islice(ways, max(1, AT_ONCE // held))):
        yield np.array(some)


def trial_size(first: Proportion, second: Proportion) -> int | None:
    """Return how many of each a trial needs to tell two proportions apart, if they are as counted; None above `MOST`.

    (1.96 + 0.84)^2 (p q + p' q') / (p - p')^2 for 5 % and four times in five, times the design effect of clusters like those
    counted [6]_, and no less than four of them; to two digits upwards.

    Parameters
    ----------
    first, second : Proportion
        Counts so far.
    """
    gap = abs(first.rate - second.rate)
    both = (first, second)
    spread = sum(one.rate * (1.0 - one.rate) * one.design_effect for one in both)
    least = max(4.0 * one.total / one.batches for one in both)
    if gap == 0.0 or (size := max(2.8**2 * spread / gap**2, least)) > MOST:
        return None
    step: int = 10 ** max(len(str(math.ceil(size))) - 2, 0)
    return step * math.ceil(size / step)


TAIL_ENDS = 1e-12
"""Share of the sum so far below which the rest of a tail is left out."""


TABLED = 1 << 12
"""Counts up to which the logarithms of factorials are tabled."""


def _log_factorial(counts: FloatArray) -> FloatArray:
    """Return the logarithm of the factorial of each count: by table, for large ones by Stirling's series [7]_."""
    table = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1.0, TABLED + 1.0)))])
    large = np.maximum(counts, float(TABLED))
    series = large * np.log(large) - large + 0.5 * np.log(2.0 * np.pi * large) + 1.0 / (12.0 * large)
    small = counts <= TABLED
    return np.where(small, table[np.where(small, counts, 0.0).astype(np.int64)], series)


def above_exactly(
    count: FloatArray, total: FloatArray, other_count: FloatArray, other_total: FloatArray, *, below: float = 1.0
) -> FloatArray:
    """Return the p-values of the exact test that each first proportion is not above the second, both margins fixed [5]_. [-]

    For many pairs at once: the upper tail of the hypergeometric distribution, summed term by term. It takes parts as
    independent.

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
