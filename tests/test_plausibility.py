"""Doubts about single batches: each fires where it should and stays silent where the record is fine. Figures invented."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from impact.account.amounts import take_stock
from impact.account.assessment import values_for
from impact.account.plausibility import batch_doubts, is_heated, least_drying_kwh
from impact.api import load
from impact.base.catalogue import read_names
from impact.base.problems import Problem, listed
from impact.factors.factorset import FactorSet, read_factors
from impact.factors.own import read_own_factors
from impact.records.batchtable import BatchTable
from impact.records.demonstration import DEMO
from impact.records.workshop import Device, Drying, Workshop
from tests.edges import EDGES, write
from tests.folders import BATCHES, TOML, swap, write_folder
from tests.frames import PLAIN, batches, history_of, workshop


@cache
def factors() -> FactorSet:
    return read_factors()


def doubted(*rows: Mapping[str, Any], shop: Workshop | None = None, tables: FactorSet | None = None) -> list[Problem]:
    """Return the doubts about batches whose days differ, so that only the rule under test can fire."""
    frame = batches([{**PLAIN, "date": f"2026-03-{place + 1:02d}", **row} for place, row in enumerate(rows)])
    table = BatchTable.of(frame)
    shop = shop or workshop()
    values = values_for(shop, tables or factors(), read_names(), seed=0, draws=1)
    balance = take_stock(table, shop, values.central)[1]
    found = sorted(
        [
            *listed(batch_doubts(table, shop, values, balance, "batches.csv")),
            *history_of(table, balance),
        ],
        key=lambda problem: problem.row or 0,
    )
    assert {problem.level for problem in found} <= {"warning"}
    return found


def places(problems: list[Problem]) -> list[tuple[int | None, str | None, str]]:
    return [(problem.row, problem.column, problem.code) for problem in problems]


OVEN = workshop(drying=Drying(dryer="convection-oven"))


# -- drying ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("dryer", "heated"),
    [("convection-oven", True), ("heated-cabinet", True), ("fan", False), ("dehumidifier", False), ("room-air", False), (None, False)],
)  # fmt: skip
def test_is_heated_is_true_of_dryers_that_make_their_own_heat(dryer: str | None, heated: bool) -> None:
    assert is_heated(dryer, values_for(OVEN, factors(), read_names(), seed=0, draws=1)) is heated


def test_least_drying_kwh_by_hand() -> None:
    shop = workshop(drying=Drying(dryer="convection-oven", pressed_solids=0.4), part_moisture=0.05)
    values = values_for(shop, factors(), read_names(), seed=0, draws=1)
    water = 0.5 * (1 / 0.4 - 1 / 0.95)
    assert least_drying_kwh(shop, values, 0.5) == pytest.approx(water * 2453.55 / 3600.0, rel=1e-6)


def test_doubts_oven_below_the_latent_heat_says_why_and_when_it_is_fine() -> None:
    (found,) = doubted({"drying_kwh": 0.1}, shop=OVEN)
    assert places([found]) == [(2, "drying", "drying-below-heat")]
    assert "heat that water takes up" in found.message
    assert "fine if" in found.message


@pytest.mark.parametrize(
    ("dryer", "kwh"),
    [("fan", 0.1), ("dehumidifier", 0.1), ("room-air", 0.1), (None, 0.1), ("convection-oven", 0.5), ("convection-oven", 0.0),
     ("convection-oven", float("nan"))],
)  # fmt: skip
def test_doubts_drying_that_may_be_true_is_left_alone(dryer: str | None, kwh: float) -> None:
    assert doubted({"drying_kwh": kwh}, shop=workshop(drying=Drying(dryer=dryer))) == []


# -- power and time -------------------------------------------------------------------------------


def test_doubts_more_than_the_devices_can_draw_names_the_largest_step() -> None:
    assert places(doubted({"hours": 2.0, "blending_kwh": 0.9, "shredding_kwh": 0.05})) == [
        (2, "blending", "power-times-time")
    ]


@pytest.mark.parametrize(
    "row",
    [
        {"hours": 2.0, "blending_kwh": 0.7},
        {"hours": float("nan"), "blending_kwh": 9.0},
        {"hours": 0.0, "blending_kwh": 9.0},
        {"hours": 2.0, "blending_kwh": 0.1, "drying_kwh": 9.0},
    ],
    ids=["within", "hours unknown", "no hours", "drying runs at night"],
)
def test_doubts_power_within_reach_or_unknown_is_left_alone(row: dict[str, float]) -> None:
    assert doubted(row) == []


def test_doubts_power_without_listed_devices_is_left_alone() -> None:
    assert doubted({"hours": 2.0, "blending_kwh": 9.0}, shop=workshop(equipment={})) == []


def test_doubts_rated_power_counts_whatever_the_load() -> None:
    shop = workshop(equipment={"blender": Device("blender", 500.0, load=0.1)})
    assert doubted({"hours": 2.0, "blending_kwh": 0.9}, shop=shop) == []


@pytest.mark.parametrize(
    ("column", "hours", "fires"),
    [("blending", 24.0, False), ("blending", 25.0, True), ("drying", 720.0, False), ("drying", 721.0, True), ("pressing", 100.0, True)],
)  # fmt: skip
def test_doubts_long_runs_beyond_a_day_or_for_drying_a_month(column: str, hours: float, fires: bool) -> None:
    assert places(doubted({f"{column}_run_h": hours})) == ([(2, column, "long-run")] if fires else [])


def test_check_of_a_folder_sees_the_time_of_a_device_even_where_the_run_was_shared(tmp_path: Path) -> None:
    long = swap(swap(BATCHES, "blender 12 min", "blender 30 h / 4"), "0.5 kWh,30,2", "0.5 kWh,36,2")
    found = load(write_folder(tmp_path, batches=long)).assess(draws=100).warnings
    assert (2, "blending", "long-run") in places(list(found))
    (told,) = [problem for problem in found if problem.code == "long-run"]
    assert (told.read, told.amount) == (None, "30 h")
    assert ": 30 h: one run of over a day" in told.message


# -- masses ---------------------------------------------------------------------------------------


def test_check_of_one_small_part_tells_its_masses_in_grams(tmp_path: Path) -> None:
    found = load(write(EDGES["one-part"], tmp_path)).assess(draws=2).warnings
    told = {problem.code: problem for problem in found}
    assert "batch 0001: 47 g dry matter went in and 37.2 g came out" in told["mass-balance"].message
    assert told["mass-balance"].read == "1"
    assert (told["binder-dose"].read, told["binder-dose"].amount) == (None, "2 g")
    assert "batch 0001: 2 g: at 50% solids" in told["binder-dose"].message


# -- binder ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("binder", "dry_kg", "fires"),
    [("pva-glue", 0.01, True), ("pva-glue", 0.03, False), ("pva-glue", 0.16, False), ("pva-glue", 0.18, True),
     ("methyl-cellulose", 0.03, True), ("methyl-cellulose", 0.01, False)],
)  # fmt: skip
def test_doubts_dose_outside_the_range_of_its_binder(binder: str, dry_kg: float, fires: bool) -> None:
    row = {"binder": binder, "binder_kg": dry_kg / 0.5, "binder_solids": 0.5, "good_parts": 11.0}
    assert places(doubted(row)) == ([(2, "binder mass", "binder-dose")] if fires else [])


def test_doubts_dose_not_recorded_is_left_alone() -> None:
    assert doubted({"binder": "pva-glue"}) == []


def test_doubts_dose_over_own_rejects_counts_them_as_fibre_for_the_upper_end_only() -> None:
    rejects = {"binder": "pva-glue", "binder_solids": 0.5, "own_rejects_kg": 0.6, "good_parts": 22.0}
    assert doubted({**rejects, "binder_kg": 0.5}) == []  # 45 % of the fresh fibre, 22 % of all
    assert doubted({**rejects, "binder_kg": 0.04}) == []  # 3.6 % of the fresh fibre, 1.8 % of all


def test_doubts_dose_follows_the_workshops_own_range(tmp_path: Path) -> None:
    path = tmp_path / "factors.csv"
    path.write_text(
        "id,value,unit,low,high,source,locator\nbinder.dose.pva-glue,0.4,kg/kg,0.3,0.5,us,log\n", encoding="utf-8"
    )
    tables, problems = read_own_factors(path, factors())
    assert problems == []
    row = {"binder": "pva-glue", "binder_solids": 0.5, "good_parts": 14.0}
    assert doubted({**row, "binder_kg": 0.4}, tables=tables) == []
    assert places(doubted({**row, "binder_kg": 0.2}, tables=tables)) == [(2, "binder mass", "binder-dose")]


# -- the whole folder -----------------------------------------------------------------------------


def test_assess_of_the_demo_has_no_doubt() -> None:
    assert load(DEMO).assess(draws=100).warnings == ()


def test_assess_doubts_change_no_figure_and_no_factor_used(tmp_path: Path) -> None:
    oven = swap(swap(TOML, 'dryer = "fan"', 'dryer = "convection-oven"'), "heated_room = true", "heated_room = false")
    light = swap(swap(BATCHES, "0.5 kWh,30,2", "0.1 kWh,36,2"), "fan 8 h / 2", "2 kWh")
    folder = load(write_folder(tmp_path, workshop=oven, batches=light))
    found = folder.assess(draws=100)
    assert places(list(found.warnings)) == [(2, "drying", "drying-below-heat")]
    assert "drying.energy.convection-oven" not in found.factors_used
    assert "binder.dose.pva-glue" not in found.factors_used
