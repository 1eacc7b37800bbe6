"""Accounts by site of one workshop: they add up to the workshop's in every draw. The records are invented."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from impact.account.results import Results
from impact.account.sums import Account, account_of, added, by_site, together
from impact.api import Folder, load
from impact.base.serial import plain
from impact.cli.totals_text import as_text
from impact.records.demonstration import DEMO
from impact.records.selection import filter_batches
from impact.records.statements import Grant
from impact.study import assess

DRAWN = ("made_kgco2e", "avoided_kgco2e", "lost_recycling_kgco2e", "displaced_kgco2e", "net_kgco2e")


@cache
def folder() -> Folder:
    return load(DEMO, by_site=True)


@cache
def results() -> Results:
    return folder().assess(draws=200)


@cache
def accounts() -> tuple[Account, ...]:
    return tuple(by_site(results()))


def test_account_of_has_the_intervals_of_the_results() -> None:
    found = plain(account_of(results(), "all").emissions)
    wanted = {
        "made_kgco2e": results().made, "avoided_kgco2e": results().disposal.avoided,
        "lost_recycling_kgco2e": results().disposal.lost_recycling,
        "displaced_plastic_kgco2e": results().displaced_plastic, "net_kgco2e": results().net,
    }  # fmt: skip
    for name, interval in wanted.items():
        assert found[name] == pytest.approx(plain(interval), rel=1e-12)


def test_by_site_adds_up_to_the_workshop_in_every_draw() -> None:
    assert [account.name for account in accounts()] == ["bench", "outreach"]
    total, whole = together(accounts()), account_of(results(), "all")
    for name in DRAWN:
        np.testing.assert_allclose(getattr(total, name), getattr(whole, name), rtol=1e-12)
    assert (total.batches, total.good) == (whole.batches, whole.good)


def test_by_site_paper_adds_up_by_grade_too() -> None:
    total, whole = together(accounts()).paper, results().paper
    assert total.kept_from_landfill_kg.value == pytest.approx(whole.kept_from_landfill_kg.value, rel=1e-12)
    assert total.landfill_diversion_rate.value == pytest.approx(whole.landfill_diversion_rate.value, rel=1e-12)
    assert total.unaccounted_share == pytest.approx(whole.unaccounted_share, rel=1e-9)
    by_grade = {grade.grade: grade.collected_kg for grade in total.by_grade}
    assert by_grade == pytest.approx({grade.grade: grade.collected_kg for grade in whole.by_grade}, rel=1e-12)


def test_by_site_without_own_rejects_is_what_narrowing_to_the_site_gives() -> None:
    # own rejects take the make-up of all batches that are counted, which are fewer in a narrowed run
    shop, frame, tables = folder().workshop, folder().batches, folder().factors
    fresh = frame["paper.corrugated_kg"] + frame["own_rejects_kg"]
    frame = frame.assign(own_rejects_kg=0.0, **{"paper.corrugated_kg": fresh})
    whole = assess(shop, frame, tables, draws=200, by_site=True)
    for account in by_site(whole):
        alone = assess(shop, filter_batches(frame, site=account.name), tables, draws=200, all_batches=frame)
        assert plain(account.emissions.made_kgco2e) == pytest.approx(plain(alone.made), rel=1e-9)
        assert account.emissions.displaced_plastic_kgco2e.value == pytest.approx(
            sum(
                part.good * (shop.parts[part.part].displacement or 0.0) * whole.part(part.part).plastic.footprint.value
                for part in alone.parts
                if whole.part(part.part).plastic is not None
            ),
            rel=1e-9,
        )  # fmt: skip
        here, there = account.paper, alone.paper
        for name in ("kept_from_landfill_gross_kg", "returned_to_landfill_kg", "taken_from_recycling_kg"):
            assert plain(getattr(here, name)) == pytest.approx(plain(getattr(there, name)), rel=1e-12)


def test_by_site_counts_the_share_of_a_grant() -> None:
    grant = Grant("fund", results().start, results().end, 0.25)
    paid = replace(folder(), workshop=replace(folder().workshop, grants=(grant,))).assess(draws=200, grant="fund")
    for whole, part in zip(accounts(), by_site(paid), strict=True):
        np.testing.assert_allclose(part.net_kgco2e, 0.25 * whole.net_kgco2e, rtol=1e-9)
        assert part.paper.collected_kg.value == pytest.approx(0.25 * whole.paper.collected_kg.value)
        assert part.batches == whole.batches


def test_by_site_batches_without_a_site_come_under_a_blank_name() -> None:
    frame = folder().batches.assign(
        site=folder().batches["site"].astype(str).replace("outreach", "").astype("category")
    )
    found = list(by_site(assess(folder().workshop, frame, folder().factors, draws=100, by_site=True)))
    assert [account.name for account in found] == ["", "bench"]
    assert found[0].paper.collected_kg.value == pytest.approx(accounts()[1].paper.collected_kg.value)


def test_together_refuses_nothing_and_draws_that_differ_in_number() -> None:
    other = account_of(folder().assess(draws=100), "other")
    for several in ([], [accounts()[0], other]):
        with pytest.raises(ValueError, match="as many draws"):
            together(several)


def test_added_without_paper_has_no_rate() -> None:
    paper = accounts()[0].paper
    empty = replace(paper, drawn={**paper.drawn, "collected_kg": np.zeros(201)}, in_kg=0.0, out_kg=0.0)
    found = added([empty, empty])
    assert (found.landfill_diversion_rate, found.unaccounted_share) == (None, None)


def test_as_text_has_a_row_for_each_site_and_none_where_there_is_one_site() -> None:
    text = as_text(results())
    assert "Account by site" in text
    assert text.count("\noutreach ") == 2
    assert "2 sites; --by-site gives" in as_text(load(DEMO).assess(draws=100))
    assert "by site" not in as_text(folder().assess(draws=100, site="bench"))
