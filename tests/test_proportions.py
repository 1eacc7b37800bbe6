"""Proportions against published worked values, and against the formulas worked out another way.

Checked against, from outside:

- interval of a proportion: Newcombe, Statistics in Medicine 17 (1998), table I; roots of Wilson's equation
- exact test of two proportions: Fisher 1935, the tasting of tea: 17/70; hypergeometric sums (SciPy)
- permutation of whole batches: SciPy; the exact test, where every batch is one part; hand counts; false alarms where the rates are the same
- design effect: Kish 1965, clusters that are all or nothing; coverage on invented batches of known truth
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import fisher_exact, hypergeom, norm, permutation_test

from impact.core.proportions import RESAMPLES, Counts, above_exactly, can_tell, clustered, same_rate, trial_size


def batches(counts: list[float], totals: list[float]) -> Counts:
    return np.array(counts, dtype=float), np.array(totals, dtype=float)


def drawn(rng: np.random.Generator, count: int, correlation: float, rate: float = 0.1) -> Counts:
    """Return rejects and pressed parts of batches of 10 to 24, beta-binomial with a correlation within a batch."""
    pressed = rng.integers(10, 25, count)
    both = 1.0 / correlation - 1.0 if correlation else 0.0
    rates = rng.beta(rate * both, (1.0 - rate) * both, count) if correlation else np.full(count, rate)
    return rng.binomial(pressed, rates).astype(float), pressed.astype(float)


@pytest.mark.parametrize(
    ("count", "total", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_clustered_parts_one_by_one_hold_wilsons_published_interval(
    count: int, total: int, low: float, high: float
) -> None:
    # R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, score interval without continuity correction.
    # Batches of one part have no design effect; Student's t makes it wider, and never narrower.
    found = clustered(*batches([1.0] * count + [0.0] * (total - count), [1.0] * total))
    assert (found.rate, found.design_effect) == (pytest.approx(count / total), pytest.approx(1.0))
    assert found.low <= low + 0.00005
    assert found.high >= high - 0.00005
    assert (found.high - found.low) / (high - low) == pytest.approx(1.0, abs=0.1)


@given(st.lists(st.tuples(st.integers(1, 40), st.floats(0.0, 1.0)), min_size=1, max_size=12))
def test_clustered_any_counts_are_never_narrower_than_wilsons(rows: list[tuple[int, float]]) -> None:
    # Wilson 1927: the ends are the roots p of (k/n - p)^2 = z^2 p (1 - p) / n.
    totals = np.array([total for total, _ in rows], dtype=float)
    found = clustered(np.round(totals * [share for _, share in rows]), totals)
    z, middle = norm.ppf(0.975), found.count + norm.ppf(0.975) ** 2 / 2.0
    half = z * math.sqrt(found.count * (1.0 - found.rate) + z * z / 4.0)
    assert 0.0 <= found.low <= (middle - half) / (found.total + z * z) + 1e-12
    assert (middle + half) / (found.total + z * z) - 1e-12 <= found.high <= 1.0


def test_clustered_batches_all_or_nothing_count_as_one_part_each() -> None:
    # Kish 1965: 1 + (m - 1) rho with rho = 1 is m (from memory). With many batches ours is near: 10 parts each, half of 200
    # batches all rejects. Wilson's interval alone would take them as 2,000 parts.
    found = clustered(*batches([0.0, 10.0] * 100, [10.0] * 200))
    assert found.design_effect == pytest.approx(10.0, rel=0.03)
    assert found.high - found.low == pytest.approx(2.0 * 1.96 * 0.5 / math.sqrt(200), rel=0.03)


@pytest.mark.parametrize("correlation", [0.0, 0.1, 0.2])
def test_clustered_rate_of_like_parts_is_covered_as_promised(correlation: float) -> None:
    # Wilson's interval held 0.95, 0.77 and 0.65 of these. The whole table: tests/benchmarks/coverage.py.
    rng = np.random.default_rng(20261129)
    ends = [clustered(*drawn(rng, 12, correlation)) for _ in range(500)]
    assert np.mean([one.low <= 0.1 <= one.high for one in ends]) >= 0.88  # 0.90 less 1.5 standard errors of 500


@pytest.mark.parametrize(("count", "total"), [(-1.0, 3.0), (4.0, 3.0), (0.0, 0.0)])
def test_clustered_impossible_counts_are_refused(count: float, total: float) -> None:
    with pytest.raises(ValueError, match=r"read \[.*\] of \[.*\]; accepted"):
        clustered(*batches([count], [total]))
    with pytest.raises(ValueError, match="accepted"):
        same_rate(batches([count], [total]), batches([1.0], [2.0]), np.random.default_rng(0))


@given(st.integers(1, 8), st.integers(1, 8), st.data())
def test_same_rate_batches_of_one_part_is_the_exact_test_of_the_difference(
    first: int, second: int, data: st.DataObject
) -> None:
    # Fisher 1935, ch. 2: with single parts the exchanges are the tables of both margins fixed. Ours adds up those whose rates
    # lie as far apart, the usual two-sided one those no likelier: the same for samples of one size.
    a, b = data.draw(st.integers(0, first)), data.draw(st.integers(0, second))
    sides = [batches([1.0] * x + [0.0] * (n - x), [1.0] * n) for x, n in ((a, first), (b, second))]
    p = same_rate(sides[0], sides[1], np.random.default_rng(0))
    table = hypergeom(first + second, a + b, first)
    gap = abs(a / first - b / second) - 1e-9
    far = [x for x in range(first + 1) if abs(x / first - (a + b - x) / second) >= gap]
    assert p == pytest.approx(sum(table.pmf(x) for x in far), abs=0.03)  # above 4,999 exchanges some are drawn
    if first == second and first + second < 15:
        assert p == pytest.approx(fisher_exact([[a, first - a], [b, second - b]])[1])


def test_same_rate_batches_without_overlap_are_two_of_all_exchanges() -> None:
    # 4 and 4 batches: of 8!/(4! 4!) = 70 exchanges these and their mirror lie as far apart (by hand).
    low, high = batches([0.0, 1.0, 1.0, 0.0], [12.0] * 4), batches([5.0, 4.0, 6.0, 3.0], [12.0] * 4)
    assert same_rate(low, high, np.random.default_rng(0)) == pytest.approx(2.0 / 70.0)
    assert (can_tell(3, 3), can_tell(4, 4), can_tell(1, 19), can_tell(1, 20)) == (False, True, False, True)


@pytest.mark.parametrize(("first", "second"), [(2, 3), (4, 6), (6, 6), (12, 9), (40, 30)])
def test_same_rate_is_that_of_a_library(first: int, second: int) -> None:
    rng = np.random.default_rng(7)
    sides = [drawn(rng, size, 0.1) for size in (first, second)]
    counts, totals = (np.concatenate(both) for both in zip(*sides, strict=True))

    def apart(some: np.ndarray, others: np.ndarray, axis: int = -1) -> np.ndarray:
        one, other = (counts[which].sum(axis=axis) / totals[which].sum(axis=axis) for which in (some, others))
        return np.asarray(np.abs(one - other))

    places = np.arange(first + second)
    found = permutation_test(
        (places[:first], places[first:]), apart, permutation_type="independent", vectorized=True,
        alternative="greater", n_resamples=RESAMPLES, random_state=np.random.default_rng(1),
    )  # fmt: skip
    every = math.comb(first + second, first) <= RESAMPLES
    p = same_rate(sides[0], sides[1], np.random.default_rng(2))
    assert p == pytest.approx(float(found.pvalue), abs=1e-12 if every else 0.03)


def test_same_rate_one_bad_batch_is_no_difference() -> None:
    # The exact test takes these 72 parts of each for independent and finds p = 0.002.
    low, high = batches([1.0] * 6, [12.0] * 6), batches([1.0, 0.0, 1.0, 12.0, 8.0, 1.0], [12.0] * 6)
    assert fisher_exact([[6, 66], [23, 49]])[1] < 0.002
    assert same_rate(low, high, np.random.default_rng(0)) > 0.2


@pytest.mark.parametrize("correlation", [0.0, 0.1, 0.2])
def test_same_rate_equal_rates_are_told_apart_as_seldom_as_promised(correlation: float) -> None:
    # By the exact test 0.03, 0.18 and 0.30 of such pairs. The whole table: tests/benchmarks/coverage.py.
    rng = np.random.default_rng(20261129)
    found = [same_rate(drawn(rng, 6, correlation), drawn(rng, 6, correlation), rng) < 0.05 for _ in range(400)]
    assert 0.02 <= np.mean(found) <= 0.08  # 0.03 to 0.07, and a standard error of 400


def test_above_exactly_the_tasting_of_tea_gives_fishers_value() -> None:
    # R. A. Fisher, The Design of Experiments, 1935, ch. 2: all four right is 1/70, three or more 17/70.
    found = above_exactly(np.array([4.0, 3.0]), np.full(2, 4.0), np.array([0.0, 1.0]), np.full(2, 4.0))
    assert found == pytest.approx([1.0 / 70.0, 17.0 / 70.0], rel=1e-9)


@given(
    st.lists(
        st.tuples(st.integers(1, 60), st.integers(1, 400), st.floats(0.0, 1.0), st.floats(0.0, 1.0)),
        min_size=1,
        max_size=8,
    )
)
def test_above_exactly_any_counts_are_the_upper_tail_of_the_hypergeometric(
    drawn: list[tuple[int, int, float, float]],
) -> None:
    total, other_total = (np.array([row[place] for row in drawn], dtype=float) for place in (0, 1))
    count = np.round(total * [row[2] for row in drawn])
    other_count = np.round(other_total * [row[3] for row in drawn])
    expected = hypergeom.sf(count - 1.0, total + other_total, count + other_count, total)
    assert above_exactly(count, total, other_count, other_total) == pytest.approx(expected, rel=1e-8, abs=1e-12)


def test_trial_size_is_that_of_the_normal_approximation_times_the_design_effect() -> None:
    # Two proportions, both sides, 0.05, chance of four in five: n = 7.85 (p1 q1 + p2 q2)/(p1 - p2)^2 (Fleiss, Statistical Methods
    # for Rates and Proportions, 1981, ch. 3, from memory), times 1 + (m - 1) rho for clusters (Donner & Klar 2000, from memory).
    single = [clustered(*batches([1.0] * x + [0.0] * (100 - x), [1.0] * 100)) for x in (10, 30)]
    assert trial_size(*single) == 59  # 7.85 x 0.30 / 0.04 = 58.9
    alike = [clustered(*batches([10.0] * x + [0.0] * (100 - x), [10.0] * 100)) for x in (10, 30)]
    assert trial_size(*alike) == pytest.approx(589, rel=0.05)


def test_trial_size_is_at_least_four_batches_of_each() -> None:
    none, all_of_it = clustered(*batches([0.0] * 3, [20.0] * 3)), clustered(*batches([20.0] * 3, [20.0] * 3))
    assert trial_size(none, all_of_it) == 80


@pytest.mark.parametrize(("first", "second"), [((0, 3), (0, 4)), ((6, 74), (11, 140))])
def test_trial_size_rates_alike_have_none(first: tuple[int, int], second: tuple[int, int]) -> None:
    assert trial_size(*(clustered(*batches([float(x)], [float(n)])) for x, n in (first, second))) is None
