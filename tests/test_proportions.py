"""Proportions against published worked values, and against the formulas worked out another way.

Checked against, from outside:

- interval of a proportion: Newcombe, Statistics in Medicine 17 (1998), table I; roots of Wilson's equation
- exact test of two proportions: Fisher 1935, the tasting of tea: 17/70 and 34/70; hypergeometric sums (SciPy)
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import hypergeom, norm

from impact.core.proportions import Proportion, above_exactly, exact_test, trial_size, wilson


@pytest.mark.parametrize(
    ("count", "total", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_published_counts_give_the_published_interval(count: int, total: int, low: float, high: float) -> None:
    # R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, score interval without continuity correction.
    found = wilson(count, total)
    assert (found.low, found.high) == (pytest.approx(low, abs=0.00005), pytest.approx(high, abs=0.00005))
    assert found.rate == count / total


@given(
    st.integers(1, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), st.sampled_from([0.8, 0.95, 0.99])
)
def test_wilson_any_counts_solve_the_score_equation(counts: tuple[int, int], confidence: float) -> None:
    # The ends are the roots p of (k/n - p)^2 = z^2 p (1 - p) / n (Wilson 1927).
    count, total = counts
    found, z = wilson(count, total, confidence=confidence), norm.ppf(0.5 + confidence / 2.0)
    middle, half = count + z * z / 2.0, z * math.sqrt(count * (total - count) / total + z * z / 4.0)
    assert found.low == pytest.approx((middle - half) / (total + z * z), abs=1e-12)
    assert found.high == pytest.approx((middle + half) / (total + z * z), abs=1e-12)
    assert found.low <= found.rate + 1e-12
    assert found.rate <= found.high + 1e-12


@pytest.mark.parametrize(("count", "total"), [(-1, 3), (4, 3), (0, 0)])
def test_wilson_impossible_counts_are_refused(count: int, total: int) -> None:
    with pytest.raises(ValueError, match=f"read {count} of {total}; accepted"):
        wilson(count, total)


def test_wilson_certainty_is_refused() -> None:
    with pytest.raises(ValueError, match=r"confidence is 1\.0"):
        wilson(1, 2, confidence=1.0)


@pytest.mark.parametrize(("alternative", "p"), [("two-sided", 0.4857), ("greater", 0.2429)])
def test_exact_test_tea_tasting_gives_the_published_p(alternative: Any, p: float) -> None:
    # R. A. Fisher, The Design of Experiments, 1935, ch. 2: three of four cups right; 17/70 one-sided, 34/70 two-sided.
    assert exact_test(wilson(3, 4), wilson(1, 4), alternative=alternative) == pytest.approx(p, abs=0.00005)


@given(st.integers(1, 25), st.integers(1, 25), st.data())
def test_exact_test_any_table_adds_up_the_tables_no_likelier(first: int, second: int, data: st.DataObject) -> None:
    a, b = data.draw(st.integers(0, first)), data.draw(st.integers(0, second))
    table = hypergeom(first + second, a + b, first)
    chances = [table.pmf(seen) for seen in range(first + 1)]
    expected = sum(chance for chance in chances if chance <= chances[a] * (1.0 + 1e-7))
    assert exact_test(wilson(a, first), wilson(b, second)) == pytest.approx(min(expected, 1.0), abs=1e-9)
    assert exact_test(wilson(a, first), wilson(b, second)) == pytest.approx(
        exact_test(wilson(b, second), wilson(a, first))
    )


def test_exact_test_impossible_count_is_refused() -> None:
    with pytest.raises(ValueError, match="read 5 of 4"):
        exact_test(Proportion(5, 4, 0.0, 1.0), wilson(1, 4))


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


def test_trial_size_is_near_the_normal_approximation() -> None:
    # Two proportions, both sides, 0.05, chance of four in five: n = 7.85 (p1 q1 + p2 q2)/(p1 - p2)^2, and somewhat more
    # for the exact test (Fleiss, Statistical Methods for Rates and Proportions, 1981, ch. 3, from memory).
    for first, second in ((wilson(10, 100), wilson(30, 100)), (wilson(23, 245), wilson(18, 141))):
        spread = sum(one.rate * (1.0 - one.rate) for one in (first, second))
        expected = 7.85 * spread / (first.rate - second.rate) ** 2
        found = trial_size(first, second)
        assert found is not None
        assert expected < found < 1.3 * expected


@pytest.mark.parametrize(("first", "second"), [((0, 3), (0, 4)), ((6, 74), (11, 140))])
def test_trial_size_rates_alike_have_none(first: tuple[int, int], second: tuple[int, int]) -> None:
    assert trial_size(wilson(*first), wilson(*second)) is None
