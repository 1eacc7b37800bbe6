"""The heap for one kg of parts: ranges of the sources, what is not counted, what is out of reach."""

from __future__ import annotations

from functools import cache

import pytest

from impact.base.catalogue import read_names
from impact.base.serial import plain
from impact.factors.factorset import FactorSet, read_factors
from impact.factors.values import Values
from impact.findings.blend import Blend, Greens, blends
from impact.findings.compost_rules import MakeUp

GREENS = tuple(read_names().greens)


@cache
def factors() -> FactorSet:
    return read_factors()


def values() -> Values:
    return Values(factors(), ("USA", "world"), editions={"gwp": "AR6"}, seed=1, draws=1)


def blend(fibre: dict[str, float], binders: dict[str, float] | None = None, moisture: float = 0.08) -> Blend:
    (found,) = blends({("pot", "any"): MakeUp(fibre, binders or {})}, moisture, values(), GREENS)
    return found


def of(found: Blend, green: str) -> Greens:
    return next(one for one in found.greens if one.green == green)


def test_blends_food_waste_for_cardboard_is_that_of_the_summed_contents() -> None:
    # NRAES-54 rows (from memory): cardboard 563:1, 44.45 % C by the cap, 8 % water; food waste 15:1, 2.4 % N, 69 % water.
    carbon = 0.4445
    wanted = 0.92 * (carbon - 30 * carbon / 563) / (0.31 * (30 * 0.024 - 15 * 0.024))
    food = of(blend({"corrugated": 1.0}), "food-waste")
    assert food.mass.value == pytest.approx(wanted, rel=1e-3)
    assert food.moisture.value == pytest.approx((0.08 + wanted * 0.69) / (1 + wanted), rel=1e-3)


@pytest.mark.parametrize("green", GREENS)
def test_blends_range_holds_the_central_figure(green: str) -> None:
    one = of(blend({"newsprint": 0.6, "office": 0.4}), green)
    assert one.mass.low is not None
    assert one.mass.value is not None
    assert 0.0 < one.mass.low < one.mass.value
    assert one.mass.high is None or one.mass.high > one.mass.value
    if one.water.low is not None and one.water.high is not None:
        assert one.water.low <= (one.water.value or 0.0) <= one.water.high


def test_blends_poorest_green_above_the_goal_is_out_of_reach() -> None:
    # Cattle manure runs from 11:1 to 30:1, and 30:1 cannot bring paper to 30:1.
    manure = of(blend({"corrugated": 1.0}), "cattle-manure")
    assert (manure.mass.high, manure.moisture.high) == (None, None)
    assert manure.mass.value is not None


def test_blends_glue_counts_by_its_mass_and_not_by_its_carbon() -> None:
    plain, glued = blend({"corrugated": 1.0}), blend({"corrugated": 0.9}, {"pva-glue": 0.1})
    assert (plain.not_counted, glued.not_counted) == ((), ("pva-glue",))
    assert glued.carbon_nitrogen.value == pytest.approx(plain.carbon_nitrogen.value)
    for one, other in zip(glued.greens, plain.greens, strict=True):
        assert one.mass.value == pytest.approx(0.9 * (other.mass.value or 0.0))


def test_blends_rice_paste_needs_less_green_than_starch() -> None:
    starch, rice = (blend({"corrugated": 0.9}, {binder: 0.1}) for binder in ("corn-starch", "rice-paste"))
    assert (rice.carbon_nitrogen.value or 0.0) < 0.5 * (starch.carbon_nitrogen.value or 0.0)
    for one, other in zip(rice.greens, starch.greens, strict=True):
        assert (one.mass.value or 0.0) < (other.mass.value or 0.0)


def test_blends_carbon_above_that_of_cellulose_is_capped_and_named() -> None:
    found = blend({"corrugated": 0.5, "office": 0.5})
    assert "corrugated" in found.capped  # 0.10 % N x 563
    assert "office" not in found.capped  # 0.16 % N x 250 = 40 %


def test_blends_wet_mix_gets_no_water_and_dry_mix_gets_some() -> None:
    found = blend({"corrugated": 1.0})
    grass, litter = of(found, "grass-clippings"), of(found, "broiler-litter")
    assert (grass.moisture.value or 0.0) > found.moisture_goal
    assert grass.water.value == 0.0
    mass, moisture = litter.mass.value or 0.0, litter.moisture.value or 0.0
    # W = Q (G - M) / (1 - G)
    assert litter.water.value == pytest.approx((1.0 + mass) * (0.55 - moisture) / 0.45)


def test_blends_pulp_that_needs_no_green_gets_none() -> None:
    found = blend({"unknown": 0.99}, {"wheat-paste": 0.01})
    assert found.not_counted == ("unknown",)
    assert found.carbon_nitrogen.value == pytest.approx(21.165)
    assert {one.mass.value for one in found.greens} == {0.0}


def test_blends_part_without_any_nitrogen_has_no_ratio() -> None:
    assert blend({"unknown": 1.0}).carbon_nitrogen.value is None


def test_blends_factor_rows_are_noted_as_used() -> None:
    run = values()
    blends({("pot", "none"): MakeUp({"office": 1.0}, {})}, 0.06, run, GREENS)
    assert {"compost.nitrogen.office", "compost.target.moisture", "compost.moisture.food-waste"} <= {
        choice.factor.key for choice in run.used.values()
    }


def test_blend_as_plain_data_names_every_green_once() -> None:
    content = plain(blend({"office": 1.0}))
    assert [one["green"] for one in content["per_kg_of_parts"]] == list(GREENS)
    assert content["goal_carbon_nitrogen"] == 30.0
