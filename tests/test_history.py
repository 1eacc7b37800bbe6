"""Doubts that show only beside the other batches. All figures are invented."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np
import pytest

from impact.account import comparison, plausibility
from impact.account.amounts import take_stock
from impact.account.comparison import latest_believed, robust_limits
from impact.base.problems import Problem
from impact.records.batchtable import BatchTable
from tests.frames import PLAIN, batches, history_of, part, workshop

CENTRAL = {
    "part.moisture": 0.06,
    "paper.moisture.corrugated": 0.08,
    "binder.solids.rice-paste": 0.2,
    "binder.dose.rice-paste": 0.1,
    "estimate.reject-rate": 0.1,
    "estimate.trim": 0.02,
}.__getitem__
"""Central values for what a batch leaves blank; invented."""


def doubted(
    rows: Sequence[dict[str, Any]], latest: date | None = None, only: Sequence[int] | None = None
) -> list[Problem]:
    frame = batches([{**PLAIN, "date": f"2026-03-{place + 1:02d}", **row} for place, row in enumerate(rows)])
    table = BatchTable.of(frame)
    parts = {name: part(name) for name in table.coded("part").names}
    balance = take_stock(table, workshop(*parts.values()), CENTRAL)[1]
    chosen = None if only is None else np.isin(table.rows, only)
    found = history_of(table, balance, chosen, latest)
    assert {problem.level for problem in found} <= {"warning"}
    return found


def places(problems: list[Problem]) -> list[tuple[int | None, str | None, str]]:
    return [(problem.row, problem.column, problem.code) for problem in problems]


def weighed(*grams: float, part: str = "pot") -> list[dict[str, Any]]:
    return [{"part_mass_kg": one / 1000.0, "part": part} for one in grams]


# -- weight ---------------------------------------------------------------------------------------


def test_robust_limits_by_hand() -> None:
    median, limit = robust_limits(np.array([40.0, 44.0, 50.0, 53.0, 58.0]))
    assert median == 50.0
    assert limit == pytest.approx(50.0 + 4.0 * 6.0 / 0.6745)  # deviations 10, 6, 0, 3, 8: their middle is 6


def test_robust_limits_of_equal_values_leave_room_for_a_scale_that_rounds() -> None:
    assert robust_limits(np.full(6, 50.0)) == (50.0, pytest.approx(54.0))


def test_doubts_part_heavier_than_its_own_weights() -> None:
    assert places(doubted(weighed(50, 51, 49, 50, 52, 75))) == [(7, "part mass", "heavy-part")]


@pytest.mark.parametrize("grams", [(50, 51, 49, 50, 52, 54), (50, 51, 49, 50, 52, 30), (50, 51, 49, 75)])
def test_doubts_weight_within_reach_or_lighter_or_with_little_history_is_left_alone(grams: tuple[float, ...]) -> None:
    assert doubted(weighed(*grams)) == []


def test_doubts_weight_of_another_part_is_no_history() -> None:
    assert doubted([*weighed(50, 51, 49, 50, 52), *weighed(90, 91, 92, 90, 93, part="tray")]) == []


# -- rejects --------------------------------------------------------------------------------------


def pressed(*pairs: tuple[float, float]) -> list[dict[str, Any]]:
    return [{"rejects": rejects, "good_parts": good} for rejects, good in pairs]


def test_doubts_rejects_that_jump_over_the_earlier_batches() -> None:
    (found,) = doubted(pressed((1, 19), (2, 18), (1, 19), (12, 8)))
    assert places([found]) == [(5, "rejects", "more-rejects")]
    assert "12 of 20 parts failed, and 4 of 60 before" in found.message


@pytest.mark.parametrize(
    "pairs",
    [((12, 8), (1, 19), (2, 18)), ((1, 19), (2, 18), (4, 16)), ((12, 8),), ((1, 19), (float("nan"), 20), (2, 18))],
    ids=["falling", "by chance", "first batch", "not recorded"],
)
def test_doubts_rejects_that_do_not_jump_are_left_alone(pairs: tuple[tuple[float, float], ...]) -> None:
    assert doubted(pressed(*pairs)) == []


def test_doubts_rejects_go_by_date_not_by_row() -> None:
    rows = pressed((12, 8), (1, 19), (2, 18), (1, 19))
    rows[0]["date"] = "2026-03-31"
    assert ("more-rejects", 2) in {(problem.code, problem.row) for problem in doubted(rows)}


# -- dates ----------------------------------------------------------------------------------------


def test_doubts_row_before_the_one_above_names_it() -> None:
    (found,) = doubted([{}, {}, {"date": "2026-02-03"}, {}])
    assert places([found]) == [(4, "date", "date-order")]
    assert "row 3, 2026-03-02" in found.message


def test_doubts_order_is_that_of_each_site() -> None:
    rows = [
        {"site": "a", "date": "2026-03-05"},
        {"site": "b", "date": "2026-03-01"},
        {"site": "a", "date": "2026-03-06"},
    ]
    assert doubted(rows) == []


@pytest.mark.parametrize(
    ("day", "latest", "fires"),
    [("1999-12-31", None, True), ("2000-01-01", None, False), ("2126-03-03", None, False),
     ("2026-03-03", date(2026, 3, 2), True), ("2026-03-02", date(2026, 3, 2), False)],
)  # fmt: skip
def test_doubts_day_far_out(day: str, latest: date | None, fires: bool) -> None:
    assert places(doubted([{"date": day}], latest)) == ([(2, "date", "far-date")] if fires else [])


@pytest.mark.parametrize(
    ("report", "today", "latest"),
    [(None, None, None), (date(2026, 4, 1), date(2030, 1, 1), date(2026, 4, 1)), (None, date(2026, 4, 1), date(2027, 12, 31))],
)  # fmt: skip
def test_latest_believed_is_the_reports_day_else_the_end_of_next_year(
    report: date | None, today: date | None, latest: date | None
) -> None:
    assert latest_believed(report, today) == latest


# -- twice ----------------------------------------------------------------------------------------


def test_doubts_batch_kept_twice_under_two_ids() -> None:
    same = {"date": "2026-03-01", "notes": "first"}
    (found,) = doubted([same, {**same, "notes": "second"}])
    assert places([found]) == [(3, "batch", "batch-twice")]
    assert "batch B00000 in row 2" in found.message


@pytest.mark.parametrize(
    "change", [{"date": "2026-03-02"}, {"water_l": 5.1}, {"binder": "rice-paste"}, {"moisture": float("nan")}]
)
def test_doubts_batch_that_differs_in_one_thing_is_left_alone(change: dict[str, Any]) -> None:
    assert doubted([{"date": "2026-03-01"}, {"date": "2026-03-01", **change}]) == []


def test_doubts_batches_of_equal_sums_but_other_columns_are_left_alone() -> None:
    same = {"date": "2026-03-01"}
    assert doubted([{**same, "water_l": 6.0, "transport_km": 1.0}, {**same, "water_l": 1.0, "transport_km": 6.0}]) == []


# -- narrowed -------------------------------------------------------------------------------------


def test_doubts_are_about_the_chosen_batches_with_all_as_history() -> None:
    rows = weighed(50, 51, 49, 50, 52, 75)
    assert places(doubted(rows, only=[7])) == [(7, "part mass", "heavy-part")]
    assert doubted(rows, only=[2, 3, 4]) == []


# -- many -----------------------------------------------------------------------------------------


def test_doubts_of_each_kind_are_listed_up_to_a_ceiling_and_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    rows: list[dict[str, Any]] = [{"date": "1999-02-03" if n % 2 else "1999-05-03", "site": "a"} for n in range(20)]
    rows[0]["part_mass_kg"] = 0.9
    rows[1:] = [{**row, "part_mass_kg": 0.04} for row in rows[1:]]
    whole = [problem for problem in doubted(rows) if problem.code != "batch-twice"]
    for module in (comparison, plausibility):
        monkeypatch.setattr(module, "LISTED", 4)
    found = [problem for problem in doubted(rows) if problem.code != "batch-twice"]
    for code, number in (("far-date", 20), ("date-order", 10), ("heavy-part", 1)):
        alike, before = ([one for one in some if one.code == code] for some in (found, whole))
        assert sum(one.count for one in alike) == len(before) == number
        assert [one for one in alike if one.count == 1] == before[:4]
    assert [one.row for one in found if one.count > 1] == [None, None]


def test_doubts_sites_logged_one_after_the_other_are_in_order() -> None:
    rows = [{"site": site, "date": f"2026-03-0{day}"} for site in "abc" for day in (1, 2, 3)]
    assert doubted(rows) == []
