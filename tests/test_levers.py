"""What would lower a part most: each step against an account worked out by hand, or assessed twice with the same draws.

Checked against, from outside:

- half of the drying is half of its stage, a mould that lasts twice as long half of its: allocation by use (ISO
  14044:2006 clause 4.3.4, from memory), common practice, no source
- a difference of two products is taken in shared draws (ISO 14044:2006 clause 4.5.3.3, from memory)
"""

from __future__ import annotations

import dataclasses
import json
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from impact.base.catalogue import Names, read_names
from impact.cli.commands import main
from impact.core import FloatArray
from impact.decisions.levers import LEVERS, Relief, levers
from impact.decisions.scenario import scenario_of
from impact.factors.factorset import FactorSet, by_key, read_factors
from impact.records.demonstration import DEMO
from impact.records.workshop import FateSplit, Mould, Workshop
from impact.study import assess
from tests.frames import PLAIN, batches, part, workshop

NAN = float("nan")
DRAWS = 400
GLUED = {**PLAIN, "binder": "corn-starch", "binder_kg": 0.2, "binder_preparation_kwh": 0.1}
BLANK = dict.fromkeys(("drying_kwh", "transport_km", "rejects", "trim_kg", "binder_kg", "binder_preparation_kwh"), NAN)


@cache
def factors() -> FactorSet:
    return read_factors()


@cache
def names() -> Names:
    return read_names()


def found(shop: Workshop, rows: list[dict[str, Any]] | pd.DataFrame, name: str = "pot") -> dict[str, Relief]:
    frame = rows if isinstance(rows, pd.DataFrame) else batches(rows)
    records = scenario_of(shop, frame, factors(), name, draws=DRAWS, names=names())
    return {one.lever: one for one in levers(records, names())}


def draws_of(shop: Workshop, rows: list[dict[str, Any]]) -> FloatArray:
    """Return the footprint of the pot as an assessment has it, central value first. [kgCO2e]"""
    assessed = assess(shop, batches(rows), factors(), names=names(), draws=DRAWS).part("pot").draws
    assert assessed is not None
    return assessed


def with_end(shop: Workshop, rows: list[dict[str, Any]], **shares: float) -> FloatArray:
    """Return the footprint of the pot, all of it worked out again with the shares of its end set without error. [kgCO2e]"""
    other = dataclasses.replace(shop, end_of_life=FateSplit(**shares, evidence="set"))
    records = scenario_of(other, batches(rows), factors(), "pot", draws=DRAWS, names=names())
    return dataclasses.replace(records, values=records.values.exactly("fates end of life")).making.footprint


def stages_of(shop: Workshop, rows: list[dict[str, Any]]) -> dict[str, float]:
    return dict(assess(shop, batches(rows), factors(), names=names(), draws=1).part("pot").stages)


def assert_takes_off(one: Relief, off: FloatArray) -> None:
    """Compare a step with a difference of two assessments in the same draws."""
    low, high = np.quantile(off[1:], [0.025, 0.975])
    assert [one.takes_off.value, one.takes_off.low, one.takes_off.high] == pytest.approx([off[0], low, high], rel=1e-9)
    assert one.chance_lower == np.mean(off[1:] > 0.0)


def test_levers_half_the_drying_takes_off_half_of_what_drying_emits() -> None:
    # By hand: ten good parts share 4 kWh; all else without electricity, so that drying is the difference to none.
    off = found(workshop(), [{**PLAIN, "drying_kwh": 4.0}])["half-drying"]
    dried, none = (draws_of(workshop(), [{**PLAIN, "drying_kwh": kwh}]) for kwh in (4.0, 0.0))
    assert_takes_off(off, (dried - none) / 2.0)


def test_levers_half_of_an_estimated_drying_keeps_the_error_of_the_estimate() -> None:
    rows = [{**PLAIN, "drying_kwh": NAN}]
    assert_takes_off(
        found(workshop(), rows)["half-drying"],
        (draws_of(workshop(), rows) - draws_of(workshop(), [{**PLAIN, "drying_kwh": 0.0}])) / 2.0,
    )


@pytest.mark.parametrize("retired", [False, True])
def test_levers_mould_that_lasts_twice_as_long_takes_off_half_of_its_stage(retired: bool) -> None:
    shop = workshop(moulds={"shell": Mould("shell", "PLA", 0.3, 2.5, "metered", 100, retired=retired)})
    off = found(shop, [PLAIN])["mould-twice"].takes_off
    assert off.value == pytest.approx(stages_of(shop, [PLAIN])["mould"] / 2.0, rel=1e-12)
    if not retired:
        twice = workshop(moulds={"shell": Mould("shell", "PLA", 0.3, 2.5, "metered", 200)})
        assert_takes_off(found(shop, [PLAIN])["mould-twice"], draws_of(shop, [PLAIN]) - draws_of(twice, [PLAIN]))


@pytest.mark.parametrize("km", [12.0, NAN])
def test_levers_bicycle_takes_off_what_the_car_emits(km: float) -> None:
    rows = [{**PLAIN, "transport_km": km}]
    off = found(workshop(), rows)["bicycle"]
    assert_takes_off(off, draws_of(workshop(), rows) - draws_of(workshop(vehicle="bicycle"), rows))
    assert off.takes_off.value == pytest.approx(stages_of(workshop(), rows)["transport"], rel=1e-12)
    assert "bicycle" not in found(workshop(vehicle="bicycle"), rows)


def test_levers_half_the_rejects_makes_them_good_parts_of_the_same_paper() -> None:
    rows = [{**PLAIN, "good_parts": 8.0, "rejects": 2.0}, {**GLUED, "good_parts": 9.0, "rejects": 1.0}]
    half = [{**rows[0], "good_parts": 9.0, "rejects": 1.0}, {**rows[1], "good_parts": 9.5, "rejects": 0.5}]
    assert_takes_off(found(workshop(), rows)["half-rejects"], draws_of(workshop(), rows) - draws_of(workshop(), half))
    assert "half-rejects" not in found(workshop(), [{**PLAIN, "rejects": 0.0}])


def test_levers_half_of_estimated_rejects_is_half_of_the_usual_rate() -> None:
    (row,) = (one for one in factors() if one.key == "estimate.reject-rate")
    good = 9.0
    failed = good * row.value / (1.0 - row.value)
    now, half = (
        {**PLAIN, "good_parts": made, "rejects": lost}
        for made, lost in ((good, NAN), (good + failed / 2.0, failed / 2.0))
    )
    off = found(workshop(), [now])["half-rejects"].takes_off
    assert off.value == pytest.approx(draws_of(workshop(), [now])[0] - draws_of(workshop(), [half])[0], rel=1e-9)


def test_levers_half_the_dose_halves_the_binder_of_each_batch() -> None:
    rows = [GLUED, {**GLUED, "binder_kg": 0.1, "binder_solids": 0.4, "binder": "pva-glue"}, PLAIN]
    half = [
        {**row, "binder_kg": row["binder_kg"] / 2.0, "binder_preparation_kwh": 0.05} if "binder" in row else row
        for row in rows
    ]
    assert_takes_off(found(workshop(), rows)["half-dose"], draws_of(workshop(), rows) - draws_of(workshop(), half))
    assert "half-dose" not in found(workshop(), [PLAIN])


def test_levers_half_of_an_estimated_dose_has_the_error_of_the_estimate() -> None:
    rows = [{**GLUED, **BLANK}]
    key = "binder.dose.corn-starch"
    (row,) = (one for one in factors() if one.key == key)
    half = dataclasses.replace(row, value=row.value / 2.0, low=row.low / 2.0, high=row.high / 2.0)
    tables = FactorSet(by_key(half if one is row else one for one in factors()), factors().sources)
    less = assess(workshop(), batches(rows), tables, names=names(), draws=DRAWS).part("pot").draws
    assert less is not None
    assert_takes_off(found(workshop(), rows)["half-dose"], draws_of(workshop(), rows) - less)


@pytest.mark.parametrize(("lever", "fate"), [("composted", "composting"), ("recycled", "recycling")])
@pytest.mark.parametrize("now", [None, FateSplit(landfill=0.9, incineration=0.1)])
def test_levers_another_end_of_life_is_that_end_stated(lever: str, fate: str, now: FateSplit | None) -> None:
    shop, rows = workshop(end_of_life=now), [GLUED]
    off = found(shop, rows)[lever]
    assert_takes_off(off, draws_of(shop, rows) - with_end(shop, rows, **{fate: 1.0}))


def test_levers_ends_that_add_are_left_out() -> None:
    shop = workshop(end_of_life=FateSplit(incineration=1.0))  # of which electricity is sold
    assert (
        min(with_end(shop, [GLUED], recycling=1.0)[0], with_end(shop, [GLUED], composting=1.0)[0])
        > draws_of(shop, [GLUED])[0]
    )
    assert {"composted", "recycled"}.isdisjoint(found(shop, [GLUED]))


def test_levers_composting_is_no_step_where_every_binder_of_the_part_blocks_it() -> None:
    shop, glue = workshop(end_of_life=FateSplit(landfill=1.0)), {**PLAIN, "binder": "pva-glue", "binder_kg": 0.2}
    assert "composted" in found(shop, [PLAIN])
    assert "composted" not in found(shop, [glue])
    assert "composted" in found(shop, [PLAIN, glue])


def test_levers_stand_with_the_largest_first_and_name_a_variable_of_their_own() -> None:
    given = list(found(workshop(), [GLUED, {**GLUED, **BLANK}]).values())
    offs = [one.takes_off.value for one in given]
    assert offs == sorted(offs, reverse=True)
    assert min(offs) > 0.0
    assert {one.lever for one in given} == {one.name for one in LEVERS}
    assert len({one.variable for one in LEVERS}) == len(LEVERS)


def test_levers_part_without_a_plastic_part_has_steps_and_one_without_good_parts_has_none() -> None:
    assert "half-drying" in found(workshop(part(wet_use=True)), [PLAIN])
    assert found(workshop(), [{**PLAIN, "good_parts": 0.0, "rejects": 11.0}]) == {}


def test_levers_batches_of_other_parts_change_nothing() -> None:
    shop = workshop(part(), part("lid", mould="other"), moulds={
        name: Mould(name, "PLA", 0.3, 2.5, "metered", 100) for name in ("shell", "other")
    })  # fmt: skip
    both = [GLUED, {**GLUED, "part": "lid", "rejects": 0.5, "drying_kwh": 9.0}]
    alone, beside = found(shop, [GLUED]), found(shop, both)
    assert alone.keys() == beside.keys()
    for name, one in alone.items():
        assert beside[name].takes_off.value == pytest.approx(one.takes_off.value, rel=1e-12)


def test_breakeven_command_prints_the_steps_in_grams_with_what_they_take() -> None:
    arguments = ["breakeven", str(DEMO), "--draws", "200", "--part", "drip-saucer"]  # has no plastic part
    text = CliRunner().invoke(main, arguments).stdout
    document = json.loads(CliRunner().invoke(main, [*arguments, "--json"]).stdout)
    assert document["levers"]
    lines = text.partition("What would lower it most")[2].splitlines()[1:]
    for one, line in zip(document["levers"], lines, strict=False):
        off = one["takes_off_kgco2e"]
        told = f"  {one['step']}: {1000 * off['value']:.4g} ({1000 * off['low']:.4g} to {1000 * off['high']:.4g}) g CO2e less"
        assert line.startswith(told)
        assert line.endswith(f"it takes {one['takes']}")
        assert ("of 100 draws" in line) == (one["chance_lower"] < 1.0)
    assert lines[len(document["levers"])].startswith("  A tariff of renewable electricity is left out")
