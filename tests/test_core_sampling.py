"""Draws of the distributions, and what is read off them.

Checked against, from outside:

- interval of a sum of products: linear propagation, GUM 2008 eq. 10, independent package
- quantiles and medians: NumPy, to the last bit
- draws, chances, variance shares: analytic values of the distributions (SciPy)
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats
from uncertainties import ufloat

from impact.core.sampling import (
    DISTRIBUTIONS,
    Z95,
    beta_shape,
    chance_lower,
    dirichlet,
    draw,
    geometric_sigma,
    interval,
    median,
    pedigree_gsd2,
    quantiles,
    variance_shares,
)

SIZE = 20_000
# Factors U by score 1 to 5; Frischknecht et al., Int. J. Life Cycle Assess. 10 (2005) 3-9, from memory.
# 0 stands where that table defines no score.
RELIABILITY = (1.00, 1.05, 1.10, 1.20, 1.50)
COMPLETENESS = (1.00, 1.02, 1.05, 1.10, 1.20)
TEMPORAL = (1.00, 1.03, 1.10, 1.20, 1.50)
GEOGRAPHICAL = (1.00, 1.01, 1.02, 0.0, 1.10)
TECHNOLOGICAL = (1.00, 0.0, 1.20, 1.50, 2.00)


def draws_of(distribution: str, value: float, low: float, high: float, *, seed: int = 7) -> Any:
    return draw(distribution, value, low, high, size=SIZE, rng=np.random.default_rng(seed))


def normals(*columns: tuple[float, float]) -> Any:
    """Return independent normal draws, one row for each mean and standard deviation."""
    rng = np.random.default_rng(11)
    return np.array([rng.normal(mean, deviation, SIZE) for mean, deviation in columns])


def test_geometric_sigma_interval_of_a_lognormal_is_found_again() -> None:
    low, high = stats.lognorm(0.3, scale=2.0).ppf([0.025, 0.975])
    assert geometric_sigma(low, high) == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("low", "high", "message"),
    [(0.0, 2.0, r"low end of a lognormal is 0\.0; accepted: above 0"), (2.0, 1.0, r"high end of a lognormal is 1\.0")],
)
def test_geometric_sigma_impossible_interval_is_refused(low: float, high: float, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        geometric_sigma(low, high)


@pytest.mark.parametrize(
    ("scores", "basic", "expected"),
    [
        ((3, 3, 3, 3, 3), 1.05, 1.2685),
        ((4, 5, 4, 3, 4), 1.05, 1.6764),
        ((5, 5, 5, 5, 5), 1.05, 2.5196),
        ((2, 3, 1, 1, 1), 2.00, 2.0069),
    ],
)
def test_pedigree_gsd2_matches_separate_calculation(scores: tuple[int, ...], basic: float, expected: float) -> None:
    # Formula of Frischknecht et al. 2005 worked out apart from this code; no published example is known.
    tables = (RELIABILITY, COMPLETENESS, TEMPORAL, GEOGRAPHICAL, TECHNOLOGICAL)
    factors = [table[score - 1] for table, score in zip(tables, scores, strict=True)]
    assert pedigree_gsd2(factors, basic) == pytest.approx(expected, abs=5e-5)


def test_pedigree_gsd2_factor_below_1_is_refused() -> None:
    with pytest.raises(ValueError, match=r"uncertainty factors are \[1\.0, 0\.9, 1\.05\]; accepted: 1 or above"):
        pedigree_gsd2([1.0, 0.9], 1.05)


def test_beta_shape_mean_and_spread_are_found_again() -> None:
    mean, variance = stats.beta(*beta_shape(0.7, 0.5, 0.9)).stats("mv")
    assert mean == pytest.approx(0.7)
    assert np.sqrt(variance) == pytest.approx(0.4 / (2.0 * Z95))


def test_beta_shape_interval_wider_than_possible_is_capped() -> None:
    alpha, beta = beta_shape(0.01, 0.0, 1.0)
    assert stats.beta(alpha, beta).var() == pytest.approx(0.9 * 0.01 * 0.99)


@pytest.mark.parametrize(
    ("mean", "high", "message"),
    [(1.0, 1.0, r"mean of a beta distribution is 1\.0; accepted: between 0 and 1"), (0.5, 0.5, "spread of a beta")],
)
def test_beta_shape_impossible_mean_or_spread_is_refused(mean: float, high: float, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        beta_shape(mean, 0.5, high)


@pytest.mark.parametrize(
    ("distribution", "value", "low", "high", "analytic"),
    [
        ("lognormal", 1.0, 0.5, 2.0, stats.lognorm(np.log(4.0) / (2 * Z95), scale=1.0)),
        ("normal", 10.0, 8.0, 12.0, stats.norm(10.0, 2.0 / Z95)),
        ("normal", 1.0, -1.0, 3.0, stats.truncnorm(-Z95 / 2, np.inf, loc=1.0, scale=2.0 / Z95)),
        ("uniform", 2.0, 1.0, 4.0, stats.uniform(1.0, 3.0)),
        ("triangular", 2.0, 1.0, 4.0, stats.triang(1.0 / 3.0, loc=1.0, scale=3.0)),
        ("beta", 0.7, 0.5, 0.9, stats.beta(*beta_shape(0.7, 0.5, 0.9))),
    ],
)
def test_draw_mean_and_quantiles_are_near_the_analytic_ones(
    distribution: str, value: float, low: float, high: float, analytic: Any
) -> None:
    draws = draws_of(distribution, value, low, high)
    assert draws.mean() == pytest.approx(analytic.mean(), abs=4.0 * analytic.std() / np.sqrt(SIZE))
    for share in (0.025, 0.25, 0.5, 0.75, 0.975):
        error = np.sqrt(share * (1.0 - share) / SIZE)
        assert np.mean(draws < analytic.ppf(share)) == pytest.approx(share, abs=4.0 * error)


@pytest.mark.parametrize("distribution", DISTRIBUTIONS)
def test_draw_same_seed_repeats_and_interval_without_width_is_fixed(distribution: str) -> None:
    first = draws_of(distribution, 0.6, 0.4, 0.8)
    assert first.tolist() == draws_of(distribution, 0.6, 0.4, 0.8).tolist()
    assert set(draws_of(distribution, 0.6, 0.6, 0.6)) == {0.6}
    assert (np.ptp(first) == 0.0) == (distribution == "fixed")


@pytest.mark.parametrize("value", [0.0, 1.0])
def test_draw_beta_share_of_exactly_0_or_1_is_fixed(value: float) -> None:
    assert set(draws_of("beta", value, 0.0, 1.0)) == {value}


@pytest.mark.parametrize(
    ("distribution", "numbers", "message"),
    [
        ("gamma", (1.0, 0.5, 2.0), "distribution is 'gamma'; accepted: fixed, lognormal, normal"),
        ("uniform", (3.0, 0.5, 2.0), r"interval is 0\.5 to 2\.0 around 3\.0; accepted: low <= value <= high"),
        ("lognormal", (1.0, -0.5, 2.0), r"low end of a lognormal is -0\.5"),
        ("normal", (-1.0, -2.0, 0.0), r"centre of a normal truncated at 0 is -1\.0; accepted: 0 or above"),
        ("beta", (1.5, 1.0, 2.0), r"mean of a beta distribution is 1\.5"),
    ],
)
def test_draw_unusable_distribution_is_refused(
    distribution: str, numbers: tuple[float, float, float], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        draws_of(distribution, *numbers)


def test_interval_hundred_steps_are_cut_at_both_ends() -> None:
    assert interval(np.arange(101.0)) == pytest.approx((2.5, 50.0, 97.5))
    assert interval(np.arange(101.0), coverage=0.8) == pytest.approx((10.0, 50.0, 90.0))


def test_interval_no_draws_is_refused() -> None:
    with pytest.raises(ValueError, match="there are no draws"):
        interval(np.array([]))


def test_interval_of_a_sum_of_products_matches_linear_propagation() -> None:
    # Linear error propagation of independent inputs, as in the ISO/IEC Guide 98-3 (GUM), 2008, eq. 10.
    inputs = [(0.5, 0.05), (2.0, 0.3), (1.2, 0.1)]
    weights = np.array([3.0, 0.4, -1.0])
    exact = sum(float(w) * ufloat(*pair) for w, pair in zip(weights, inputs, strict=True))
    total = weights @ normals(*inputs)
    low, median, high = interval(total)
    assert total.std() == pytest.approx(exact.std_dev, rel=4.0 / np.sqrt(2.0 * SIZE))
    assert median == pytest.approx(exact.nominal_value, abs=4.0 * 1.2533 * exact.std_dev / np.sqrt(SIZE))
    end_error = np.sqrt(0.025 * 0.975 / SIZE) / stats.norm.pdf(Z95) * exact.std_dev
    expected = (exact.nominal_value - Z95 * exact.std_dev, exact.nominal_value + Z95 * exact.std_dev)
    assert (low, high) == pytest.approx(expected, abs=4.0 * end_error)


def test_chance_lower_tie_counts_half() -> None:
    assert chance_lower(np.array([1.0, 2.0, 3.0, 5.0]), np.array([2.0, 2.0, 2.0, 6.0])) == pytest.approx(0.625)


def test_chance_lower_two_normals_matches_analytic_chance() -> None:
    first, second = normals((1.0, 0.3), (1.4, 0.4))
    expected = stats.norm.cdf(0.4 / 0.5)
    assert chance_lower(first, second) == pytest.approx(expected, abs=4.0 * np.sqrt(0.25 / SIZE))


def test_variance_shares_linear_case_matches_analytic_shares() -> None:
    shares = variance_shares(normals((5.0, 3.0), (-1.0, 2.0), (0.0, 1.0)))
    assert shares.tolist() == pytest.approx([9 / 14, 4 / 14, 1 / 14], abs=4.0 * np.sqrt(2.0 / SIZE))


def test_variance_shares_dependent_inputs_still_add_up_to_1() -> None:
    first, second = normals((1.0, 0.2), (2.0, 0.5))
    shares = variance_shares(np.array([first, -0.5 * first, first * second]))
    assert shares.sum() == pytest.approx(1.0)
    assert shares[1] < 0.0


def test_variance_shares_total_that_varies_by_rounding_only_is_zero() -> None:
    first = np.random.default_rng(3).random(1000)
    contributions = np.array([3.0 * first, 0.1 - first, 0.7 - 2.0 * first])
    assert variance_shares(contributions).tolist() == [0.0, 0.0, 0.0]
    assert variance_shares(np.full((2, 1000), 0.1)).tolist() == [0.0, 0.0]


def test_draw_lopsided_lognormal_keeps_median_and_both_ends() -> None:
    # The table states the ends of the 95 % interval; the draws must give them back on each side.
    drawn = draw("lognormal", 1.0, 0.6, 1.15, size=200_000, rng=np.random.default_rng(5))
    assert np.quantile(drawn, [0.025, 0.5, 0.975]) == pytest.approx([0.6, 1.0, 1.15], rel=0.01)


@pytest.mark.parametrize("stated", [(0.35, 0.45, 0.2, 0.0), (1.0, 0.0, 0.0, 0.0)])
def test_dirichlet_means_and_spreads_match_the_reference_library(stated: tuple[float, ...]) -> None:
    means = np.maximum(np.array(stated) / sum(stated), 0.02)
    means /= means.sum()
    expected = stats.dirichlet(80.0 * (1.0 - means.max()) * means)
    drawn = dirichlet(stated, concentration=80.0, floor=0.02, size=SIZE, rng=np.random.default_rng(1))
    assert drawn.sum(axis=0) == pytest.approx(1.0)
    assert drawn.mean(axis=1) == pytest.approx(expected.mean(), abs=4e-3)
    assert drawn.var(axis=1) == pytest.approx(expected.var(), rel=0.06)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"shares": (35.0, 65.0)}, r"stated share is 35\.0"),
        ({"floor": 0.0}, "floor"),
        ({"concentration": 0.0}, "floor"),
    ],
)
def test_dirichlet_unusable_arguments_are_refused(change: dict[str, Any], message: str) -> None:
    arguments: dict[str, Any] = {"shares": (0.5, 0.5), "concentration": 80.0, "floor": 0.02, **change}
    with pytest.raises(ValueError, match=message):
        dirichlet(**arguments, size=10, rng=np.random.default_rng(1))


@pytest.mark.parametrize("size", [1, 2, 3, 40, 41, 1999, 10_000])
def test_quantiles_and_median_are_those_of_numpy_to_the_last_bit(size: int) -> None:
    rng = np.random.default_rng(size)
    shares = (0.0, 0.025, 0.31, 0.5, 0.975, 1.0)
    for values in (rng.lognormal(size=size), -rng.lognormal(size=size), np.round(rng.normal(size=size), 1)):
        assert quantiles(values, *shares).tolist() == np.quantile(values, shares).tolist()
        assert median(values) == np.median(values)
    several = rng.normal(size=(3, 2, size))
    assert (quantiles(several, *shares) == np.moveaxis(np.quantile(several, shares, axis=-1), 0, -1)).all()


def test_quantiles_of_what_is_no_number_are_none() -> None:
    found = quantiles(np.array([[1.0, np.nan, 3.0], [1.0, 2.0, 3.0]]), 0.0, 0.5)
    assert np.isnan(found[0]).all()
    assert found[1].tolist() == [1.0, 2.0]


@pytest.mark.parametrize("of", [lambda values: quantiles(values, 0.5), median], ids=["quantiles", "median"])
def test_quantiles_and_median_of_nothing_are_refused(of: Any) -> None:
    with pytest.raises(ValueError, match="there are no"):
        of(np.array([]))
