"""First-order decay in a landfill.

Checked against, from outside:

- methane potential of paper: IPCC 2006 Guidelines vol. 5 ch. 2–3 defaults, by hand
- methane from cellulose: published stoichiometry (Vigyan Ashram 2019, secondary copy)
- yearly decay of a landfill: project VCS 2567, tables 8 and 9 (secondary copy; one product inferred)
- years to 90 % of the gas: a textbook problem (secondary copy, attributed from memory)
- decay: numerical solution of the differential equation
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from impact.core.landfill import (
    carbon_staying,
    decayed_share,
    decomposable_carbon,
    emitted_by_site,
    methane_emitted,
    methane_potential,
)
from tests.elementwise import assert_elementwise


def stock_after(start: float, k_per_year: float, years: float) -> float:
    """Return what is left of a stock by solving dC/dt = -k C numerically."""
    solution = solve_ivp(lambda _, stock: -k_per_year * stock, (0.0, years), [start], rtol=1e-10, atol=1e-13)
    return float(solution.y[0, -1])


def decayed_by_year(deposits: list[float], k_per_year: float, *, delay_years: float = 0.0) -> np.ndarray:
    """Return what decays in each year of a series of yearly deposits, each deposit by the closed form."""
    share = np.diff(decayed_share(k_per_year, np.arange(len(deposits) + 1.0), delay_years=delay_years))
    return np.convolve(deposits, share)[: len(deposits)]


def test_decomposable_carbon_half_decomposing_shallow_site_is_the_product() -> None:
    assert decomposable_carbon(0.40, 0.5, mcf=0.4) == pytest.approx(0.08)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((1.2, 0.5, 1.0), r"degradable organic carbon is 1\.2; accepted: 0 to 1"),
        ((0.4, -0.1, 1.0), r"decomposing share is -0\.1"),
        ((0.4, 0.5, float("nan")), "methane correction factor is nan"),
    ],
)
def test_decomposable_carbon_outside_0_to_1_is_refused(arguments: tuple[float, float, float], message: str) -> None:
    doc, docf, mcf = arguments
    with pytest.raises(ValueError, match=message):
        decomposable_carbon(doc, docf, mcf=mcf)


def test_methane_potential_ipcc_defaults_of_paper_match_the_published_parameters() -> None:
    # IPCC 2006 Guidelines, vol. 5, ch. 2, table 2.4 (DOC of wet paper 0.40) and ch. 3 (DOC_f 0.5, MCF 1, F 0.5),
    # multiplied by hand: 0.40 x 0.5 x 1 x 0.5 x 16/12 = 0.13333 t CH4 per t.
    assert methane_potential(decomposable_carbon(0.40, 0.5), methane_fraction=0.5) == pytest.approx(0.13333, abs=5e-6)


def test_methane_potential_cellulose_matches_published_stoichiometry() -> None:
    # "Bio gas from bamboo calculations", Vigyan Ashram, 2019: 6.000 kg of cellulose give 1,778 g of methane,
    # 3 mol for each C6H10O5. Seen in a secondary copy.
    carbon = 6 * 12.011 / (6 * 12.011 + 10 * 1.008 + 5 * 15.999)
    methane_g = 6000.0 * methane_potential(decomposable_carbon(carbon, 1.0), methane_fraction=0.5)
    assert methane_g == pytest.approx(1778.0, abs=0.5)


def test_methane_potential_fraction_above_1_is_refused() -> None:
    with pytest.raises(ValueError, match=r"methane fraction is 50\.0; accepted: 0 to 1"):
        methane_potential(0.2, methane_fraction=50.0)


def test_decayed_share_one_half_life_is_half() -> None:
    assert decayed_share(np.log(2.0) / 12.0, 12.0) == pytest.approx(0.5)


def test_decayed_share_before_the_delay_is_zero() -> None:
    assert decayed_share(0.06, 0.4, delay_years=0.5) == 0.0


@pytest.mark.parametrize(("k_per_year", "years", "delay"), [(0.04, 100.0, 0.5), (0.4, 7.0, 0.0), (0.06, 20.0, 1.0)])
def test_decayed_share_matches_numerical_solution_of_the_decay_equation(
    k_per_year: float, years: float, delay: float
) -> None:
    expected = 1.0 - stock_after(1.0, k_per_year, years - delay)
    assert decayed_share(k_per_year, years, delay_years=delay) == pytest.approx(expected, abs=1e-8)


@pytest.mark.parametrize(("k_per_year", "years"), [(0.0693, 33), (0.231, 10)])
def test_decayed_share_reaches_90_percent_in_the_published_year(k_per_year: float, years: int) -> None:
    # Environmental engineering textbook, problem 13.9 (attributed from memory to Mihelcic and Zimmerman; seen in a
    # secondary copy): half-lives of 10 and 3 years give 90 % of the gas within 33 and 10 years, in whole years.
    assert decayed_share(k_per_year, years - 0.5) < 0.9 < decayed_share(k_per_year, years + 0.5)


def test_decayed_share_negative_constant_is_refused() -> None:
    with pytest.raises(ValueError, match=r"decay constant is -0\.06; accepted: 0 or above"):
        decayed_share(-0.06, 10.0)


def test_methane_emitted_oxidises_what_collection_left() -> None:
    assert methane_emitted(100.0, collection=0.5, oxidation=0.1) == pytest.approx(45.0)


@pytest.mark.parametrize(
    ("collection", "oxidation", "message"),
    [(1.5, 0.1, r"collected share is 1\.5"), (0.5, -0.1, r"oxidised share is -0\.1")],
)
def test_methane_emitted_outside_0_to_1_is_refused(collection: float, oxidation: float, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        methane_emitted(1.0, collection=collection, oxidation=oxidation)


def test_emitted_by_site_is_the_mean_of_products_and_no_product_of_means() -> None:
    # IPCC 2006 vol. 5 tables 3.1 and 3.2: managed 1 and 0.1, half the gas caught; unmanaged shallow 0.4 and 0, none caught.
    # 0.25 x 1 x 0.5 x 0.9 + 0.75 x 0.4 = 0.4125; the product of the means would be 0.55 x 0.875 x 0.975 = 0.4692.
    assert emitted_by_site([0.25, 0.75], [1.0, 0.4], [0.5, 0.0], [0.1, 0.0]) == pytest.approx(0.4125)


@pytest.mark.parametrize(("share", "correction"), [(1.1, 1.0), (0.5, -0.1)])
def test_emitted_by_site_outside_0_to_1_is_refused(share: float, correction: float) -> None:
    with pytest.raises(ValueError, match="share or methane correction factor of a site"):
        emitted_by_site([share], [correction], [0.0], [0.0])


def test_decayed_share_no_decay_in_the_deposit_year_matches_computed_table() -> None:
    # Convention of IPCC 2006 vol. 5 ch. 3: nothing decays in the year of the deposit. One tonne of wet paper,
    # L0 = 400/3 kg, k = 0.06; kg of methane by the end of years 1, 2, 5, 10, 20, 50, 100: computed, not published.
    years = np.array([1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0])
    expected = [0.0, 7.76, 28.45, 55.63, 90.69, 126.28, 132.98]
    assert 400.0 / 3.0 * decayed_share(0.06, years, delay_years=1.0) == pytest.approx(expected, abs=0.006)


def test_decayed_share_yearly_deposits_match_published_landfill_project() -> None:
    # Project description of VCS project 2567 (Soc Son, Viet Nam), tables 8 and 9, seen in a secondary copy:
    # 1,460,000 t of wet waste a year, composition, and t CO2e of years 1 to 4. DOC and k are the IPCC 2006 defaults
    # for the wet tropics. The product of model correction 0.85, oxidation, GWP 28, DOC_f and F is inferred.
    streams = {"food": (0.519, 0.15, 0.40), "paper": (0.027, 0.40, 0.07), "textiles": (0.016, 0.24, 0.07)}
    published = [277_866, 466_829, 596_016, 684_963]
    decayed = sum(
        decayed_by_year([1_460_000 * share * float(decomposable_carbon(doc, 0.5))] * 4, k)
        for share, doc, k in streams.values()
    )
    methane = methane_emitted(methane_potential(decayed, methane_fraction=0.5), collection=0.0, oxidation=0.1)
    assert 0.85 * 28.0 * methane == pytest.approx(published, abs=1.0)


def test_decayed_share_yearly_deposits_match_numerical_solution_of_the_decay_equation() -> None:
    deposits = [100.0, 0.0, 50.0, 70.0]
    stock, expected = 0.0, []
    for deposit in deposits:
        left = stock_after(stock, 0.09, 1.0)
        expected.append(stock - left)
        stock = left + deposit
    assert decayed_by_year(deposits, 0.09, delay_years=1.0).tolist() == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(("decayed", "staying"), [(0.0, 0.44), (0.75, 0.275), (1.0, 0.22)])
def test_carbon_staying_is_the_carbon_less_what_decayed(decayed: float, staying: float) -> None:
    # Conservation of carbon, by hand; at the end DOC (1 - DOCf), of dry paper 0.44 x 0.5 (IPCC 2006, vol. 5, table 2.4,
    # from memory; 2019 Refinement, table 3.0).
    assert carbon_staying(0.44, 0.5, decayed) == pytest.approx(staying)


def test_carbon_staying_matches_numerical_solution_of_the_decay_equation() -> None:
    left = stock_after(0.44 * 0.5, 0.06, 99.5)
    assert carbon_staying(0.44, 0.5, decayed_share(0.06, 100.0, delay_years=0.5)) == pytest.approx(
        0.22 + left, abs=1e-8
    )


def test_carbon_staying_share_above_1_is_refused() -> None:
    with pytest.raises(ValueError, match=r"decayed share is 1\.1"):
        carbon_staying(0.4, 0.5, 1.1)


def test_landfill_functions_arrays_match_scalars() -> None:
    assert_elementwise(decomposable_carbon, doc=[0.4, 0.44], docf=[0.5, 0.1], mcf=[1.0, 0.4])
    assert_elementwise(methane_potential, decomposable_kg=[0.2, 3.0], methane_fraction=[0.5, 0.6])
    assert_elementwise(decayed_share, k_per_year=[0.04, 0.4], years=[100.0, 0.2], delay_years=[0.5, 0.5])
    assert_elementwise(methane_emitted, generated_kg=[1.0, 2.0], collection=[0.0, 0.75], oxidation=[0.1, 0.0])
    assert_elementwise(carbon_staying, doc=[0.44, 0.4], docf=[0.5, 1.0], decayed=[0.9, 0.3])
