"""Shares of the spread: they add up, agree with outside libraries, and name what the workshop can do.

Checked against, from outside:

- shares of the spread: first-order Sobol' indices and linear propagation, two independent packages
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest
from SALib.analyze import sobol as analyze_sobol
from SALib.sample import sobol as sample_sobol
from uncertainties import ufloat

from impact.base.catalogue import Names, read_names
from impact.base.sentences import Said
from impact.decisions.scenario import scenario_of
from impact.decisions.sensitivity import Contribution, Input, SpreadShare, measure_next, shares_by_input
from impact.factors.factorset import FactorSet, read_factors
from impact.records.workshop import Workshop
from tests.frames import PLAIN, batches, part, workshop

SIGMAS = {"blending": 0.30, "drying": 0.20, "grid": 0.15, "mass": 0.10, "polymer": 0.12}
AMOUNTS = {"blending": 0.05, "drying": 0.25, "grid": 0.4, "mass": 0.03, "polymer": 3.0}


@cache
def factors() -> FactorSet:
    return read_factors()


@cache
def names() -> Names:
    return read_names()


def spread(shop: Workshop, rows: list[dict[str, Any]], **options: Any) -> tuple[SpreadShare, ...]:
    return measure_next(scenario_of(shop, batches(rows), factors(), "pot", names=names(), **{"draws": 2000, **options}))


def small_case(scale: float, size: int) -> dict[str, float]:
    """Return the shares of a small case: two uses of electricity on one grid, less a mass of one polymer."""
    rng = np.random.default_rng(11)
    drawn = {name: AMOUNTS[name] * np.exp(scale * sigma * rng.standard_normal(size)) for name, sigma in SIGMAS.items()}

    def term(amount: str, factor: str, sign: float) -> Contribution:
        one, other = Input(Said(amount), "amount", Said("")), Input(Said(factor), "factor", Said(""))
        return Contribution(sign * drawn[amount] * drawn[factor], ((sign * drawn[amount], one), (drawn[factor], other)))

    terms = [term("blending", "grid", 1.0), term("drying", "grid", 1.0), term("mass", "polymer", -1.0)]
    return {str(source.name): share for source, share in shares_by_input(terms).items()}


@pytest.mark.filterwarnings("ignore:unique with argument:FutureWarning")  # the library's own, with pandas 2.2
def test_shares_by_input_small_case_matches_sobol_indices_of_an_outside_library() -> None:
    problem = {
        "num_vars": len(SIGMAS), "names": list(SIGMAS), "dists": ["lognorm"] * len(SIGMAS),
        "bounds": [[np.log(AMOUNTS[name]), sigma] for name, sigma in SIGMAS.items()],
    }  # fmt: skip
    points = sample_sobol.sample(problem, 4096, calc_second_order=False, seed=3)
    blending, drying, grid, mass, polymer = points.T
    found = analyze_sobol.analyze(problem, (blending + drying) * grid - mass * polymer, calc_second_order=False, seed=3)
    # First order adds up to a little less than 1; the rest, shared between two inputs here, and the
    # sampling of both sides stay below 0.02.
    assert small_case(1.0, 40_000) == pytest.approx(dict(zip(SIGMAS, found["S1"], strict=True)), abs=0.02)


def test_shares_by_input_small_errors_match_linear_propagation() -> None:
    scale = 0.1  # errors of 1 to 3 %, where linear propagation is exact to a few parts in ten thousand
    values = {name: ufloat(AMOUNTS[name], AMOUNTS[name] * scale * sigma) for name, sigma in SIGMAS.items()}
    difference = (values["blending"] + values["drying"]) * values["grid"] - values["mass"] * values["polymer"]
    parts = {variable: error**2 / difference.s**2 for variable, error in difference.error_components().items()}
    expected = {name: parts[value] for name, value in values.items()}
    # Both sides of 40,000 draws: the standard error of a share is below 0.005.
    assert small_case(scale, 40_000) == pytest.approx(expected, abs=0.015)


def test_shares_by_input_known_inputs_give_none() -> None:
    one = Input(Said("a"), "amount", Said(""))
    assert shares_by_input([Contribution(np.ones(5), ((np.ones(5), one), (np.ones(5), one)))]) == {}


@pytest.mark.parametrize("polymer", ["PP", "ABS"])
@pytest.mark.parametrize("equivalence", ["measured", "same-volume", "equal-stiffness"])
def test_measure_next_shares_add_up_to_one_and_are_ranked(polymer: str, equivalence: str) -> None:
    blank = dict.fromkeys(("drying_kwh", "blending_kwh", "transport_km", "water_l", "rejects"), float("nan"))
    rows = [PLAIN, {**PLAIN, **blank, "binder": "rice-paste"}, {**PLAIN, "binder": "pva-glue", "binder_kg": 0.1}]
    found = spread(workshop(part(polymer=polymer, equivalence=equivalence)), rows)
    shares = [row.share for row in found]
    assert sum(shares) == pytest.approx(1.0)
    assert shares == sorted(shares, reverse=True)
    assert len({row.input for row in found}) == len(found)
    assert all(0.0 <= row.narrower <= max(row.share, 0.0) for row in found)


def test_measure_next_nameplate_fan_that_dominates_is_named_with_its_remedy() -> None:
    first = spread(workshop(), [{**PLAIN, "drying_kwh": 20.0, "drying_kwh_evidence": "nameplate"}])[0]
    assert (first.input, first.kind) == ("the electricity of drying, by nameplate", "amount")
    assert first.sentence == (
        f"The electricity of drying, by nameplate: {100.0 * first.share:.0f}\u00a0% of the spread; metering the electricity of drying, "
        "where it is now the rated power times the hours, would take it away."
    )
    assert first.narrower == pytest.approx(1.0 - (1.0 - first.share) ** 0.5)


def test_measure_next_metering_what_it_names_narrows_the_interval_as_it_says() -> None:
    rows = [{**PLAIN, "drying_kwh": 20.0, "drying_kwh_evidence": "nameplate"}]
    first = spread(workshop(), rows)[0]
    left = spread(workshop(), [{**rows[0], "drying_kwh_evidence": "metered"}])
    metered = next(row for row in left if row.input == "the electricity of drying, as metered")
    assert metered.share < 0.1 < first.share


def test_measure_next_wet_use_has_nothing_to_measure() -> None:
    assert spread(workshop(part(wet_use=True)), [PLAIN]) == ()


def test_measure_next_every_share_is_told_in_per_cent_or_as_none() -> None:
    blank = dict.fromkeys(("drying_kwh", "transport_km", "water_l"), float("nan"))
    for row in spread(workshop(), [{**PLAIN, **blank}]):
        digits = 0 if round(100.0 * row.share, 1) >= 1.0 else 1  # one more below one per cent
        share = f"{100.0 * row.share:.{digits}f}" if row.share >= 0.0005 else "<0.1"
        told = "none" if row.share <= 0.0 else f"{share}\u00a0%"
        assert f": {told} of the spread; " in row.sentence, row
