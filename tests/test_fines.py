"""Fines that leave with the water, and the intervals of the account of paper.

Checked against
- conservation of mass, worked out by hand in kilograms. That fines go to the drain with the water of the press unless
  it is used again is common practice, no source.
- quantiles of a product of lognormal errors drawn with numpy, in place of the program's own draws.
- `tests/reference_account.py`, which shares no code with the package.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from math import log
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import impact
from impact.account.paper import massflow
from impact.account.results import Interval
from impact.account.sums import account_of, added, by_site
from impact.api import load
from impact.base.figurenames import figures
from impact.base.serial import plain
from impact.cli.totals_text import as_text
from impact.core.node import evaluate, first
from impact.factors.values import FATES
from impact.findings.claims import claims
from impact.records.statements import Grant
from impact.records.workshop import FateSplit, Part, Workshop
from impact.study import Study, assess
from impact.trace.explanation import derivations
from tests.frames import PLAIN, batches, part, workshop
from tests.reading import figures_on
from tests.reference_account import added as total_of
from tests.reference_account import fines, kept_from
from tests.reports import plain_html_of
from tests.test_assessment import factors, names
from tests.test_reference_account import accounts_of

DEMO = Path(impact.__file__).parent / "demo"
SPLIT = FateSplit(landfill=0.5, recycling=0.5, evidence="looked into")
BATCH: dict[str, Any] = {**PLAIN, "paper.corrugated_kg": 2.0, "moisture": 0.1, "good_parts": 30.0, "rejects": 4.0}
# By hand, without binder: 2 kg of paper at 10 % water hold 1.8 kg dry. 30 parts and 4 rejects of 50 g at 6 % water hold
# 1.41 and 0.188 kg dry; 0.202 kg is missing. As weighed all is over 0.9. Half would have gone to landfill.
RETURNED, FINES = 0.188 / 0.9, 0.202 / 0.9
MISSING = FINES / 2.0


def found(rows: list[dict[str, Any]] | None = None, draws: int = 200, **settings: Any) -> Study:
    """Return the results of one invented workshop."""
    shop: Workshop = workshop(**{"part_moisture": 0.06, "fates": {"corrugated": SPLIT}, **settings})
    return assess(shop, batches(rows or [BATCH]), factors(), draws=draws, names=names())


@pytest.mark.parametrize(
    ("to", "off_landfill", "off_incineration"),
    [(None, FINES / 2, 0.0), ("sewer", FINES / 2, 0.0), ("next pulp", 0.0, 0.0), ("landfill", FINES, 0.0),
     ("incineration", 0.0, FINES), ("composting", 0.0, 0.0)],
)  # fmt: skip
def test_paper_fines_come_off_what_was_kept_by_where_they_went(
    to: str | None, off_landfill: float, off_incineration: float
) -> None:
    paper = found(fines_to=to).paper
    assert paper.kept_from_landfill_gross_kg.value == pytest.approx(1.0)
    assert paper.fines_kg.value == pytest.approx(FINES)  # wherever they went
    assert paper.fines_off_landfill_kg.value == pytest.approx(off_landfill)
    assert paper.kept_from_landfill_kg.value == pytest.approx(1.0 - RETURNED - off_landfill)
    assert paper.kept_from_incineration_kg.value == pytest.approx(-off_incineration)
    assert paper.landfill_diversion_rate is not None
    assert paper.landfill_diversion_rate.value == pytest.approx((1.0 - RETURNED - off_landfill) / 2.0)
    assert paper.taken_from_recycling_kg.value == pytest.approx(1.0)
    (grade,) = paper.by_grade
    assert grade.kept_from_landfill_kg == pytest.approx(paper.kept_from_landfill_kg.value)


def test_disposal_avoided_is_lower_by_the_share_of_the_fines_and_recycling_lost_is_not() -> None:
    whole, sewer, landfill = (found(fines_to=to) for to in ("next pulp", None, "landfill"))
    fates = {"corrugated": FateSplit(landfill=0.5, incineration=0.5, evidence="asked")}
    burnt, kept = (found(fines_to=to, fates=fates).disposal.electricity_sold.value for to in (None, "next pulp"))
    assert kept > 0.0
    assert burnt == pytest.approx((1.0 - FINES / 2.0) * kept)  # nobody burns what went down the drain
    for parameters in ("avoided", "avoided_other_set"):
        full = getattr(whole.disposal, parameters).value
        assert getattr(sewer.disposal, parameters).value == pytest.approx((1.0 - MISSING) * full)
        # all fines in the landfill, where half of the paper would have gone: twice their share
        assert getattr(landfill.disposal, parameters).value == pytest.approx((1.0 - 2.0 * MISSING) * full)
    assert whole.disposal.lost_recycling == sewer.disposal.lost_recycling == landfill.disposal.lost_recycling
    assert whole.made == sewer.made
    assert sewer.net.value - whole.net.value == pytest.approx(MISSING * whole.disposal.avoided.value)


def test_paper_more_found_than_weighed_in_has_no_fines_and_no_assumption() -> None:
    result = found([{**BATCH, "good_parts": 35.0}])  # 1.833 kg dry out of 1.8 kg
    assert result.paper.fines_kg.value == 0.0
    assert result.paper.fines_off_landfill_kg.value == 0.0
    assert result.paper.fines_kg.high > 0.0  # a scale that errs by 2 % may hide them
    assert "fines" not in {one.code for one in result.assumptions}


def test_paper_shortfall_is_that_of_all_batches_together() -> None:
    # one batch gave 0.08 kg too much (moist parts), the other misses 0.202 kg: 0.122 kg is missing, not 0.202
    both = found([BATCH, {**BATCH, "good_parts": 36.0}]).paper
    assert both.fines_kg.value == pytest.approx((0.202 - 0.08) / 0.9)


def test_paper_rejects_pulped_again_are_found_again() -> None:
    # 4 rejects kept, then all pulped again (0.2 kg at 6 %) with 2 kg: what is missing is of fresh paper, 4 kg of it
    rows = [{**BATCH, "rejects_to": "own rejects"}, {**BATCH, "own_rejects_kg": 0.2}]
    paper = found(rows).paper
    assert paper.fines_kg.value == pytest.approx((0.202 + 0.202 + 0.188) / 0.9)
    assert paper.fines_kg.value == pytest.approx(massflow(found(rows))["out"]["unaccounted_kg"])


def test_assumption_of_fines_stands_until_the_workshop_says_where_they_went() -> None:
    (one,) = (one for one in found().assumptions if one.code == "fines")
    paper = found().paper
    assert re.search(r"\b11\.\d\u00a0% of the paper was", one.text)
    more = paper.fines_off_landfill_kg.value / paper.collected_kg.value
    assert f"{100.0 * more:.1f}\u00a0% more of the paper" in one.text
    assert one.weighty
    for to in ("sewer", "next pulp", "landfill"):
        assert "fines" not in {one.code for one in found(fines_to=to).assumptions}


@pytest.mark.parametrize("to", ["sewer", "next pulp", "landfill", "incineration", "composting"])
def test_paper_agrees_with_the_reference(to: str) -> None:
    fates = {"corrugated": FateSplit(landfill=0.4, incineration=0.2, recycling=0.3, composting=0.1, evidence="asked")}
    rows = [
        {**BATCH, "own_rejects_kg": 0.3, "trim_kg": 0.05, "trim_to": "composting"},
        {**BATCH, "fate": "incineration", "rejects_to": "own rejects", "binder": "corn-starch", "binder_kg": 0.3},
        {**BATCH, "rejects": float("nan"), "rejects_to": ""},
    ]
    result = found(rows, fates=fates, fines_to=to)
    account = total_of(list(accounts_of(result.inventory, "part", "binder").values()))
    shares = {"corrugated|split": dict(zip(FATES, (0.4, 0.2, 0.3, 0.1), strict=True))}
    shares |= {f"corrugated|{fate}": {fate: 1.0} for fate in FATES}
    lost, missing = fines(account)
    assert missing > 0.0
    paper = result.paper
    assert paper.fines_kg.value == pytest.approx(lost)
    for fate in ("landfill", "incineration"):
        kept = getattr(paper, f"kept_from_{fate}_kg").value
        assert kept == pytest.approx(kept_from(account, fate, shares, to))
    assert sum(grade.kept_from_composting_kg for grade in paper.by_grade) == pytest.approx(
        kept_from(account, "composting", shares, to)
    )


# -- intervals -----------------------------------------------------------------------------------------------------


def test_paper_interval_is_that_of_independent_errors_of_the_scales() -> None:
    # Errors of weighed amounts are lognormal, 95 % in 0.98 to 1.02, and one for each activity.
    paper = found(draws=20_000).paper
    rng = np.random.default_rng(31)
    scales = np.exp(rng.normal((log(0.98) + log(1.02)) / 2, log(1.02 / 0.98) / (2 * 1.959964), (3, 400_000)))
    came, used, back = scales * np.array([[2.0], [1.41 / 0.9], [RETURNED]])
    lost = np.maximum(came - used - back, 0.0)
    expected = {"fines_kg": lost, "collected_kg": came, "put_to_use_kg": used, "returned_to_landfill_kg": back}
    for name, draws in expected.items():
        interval: Interval = getattr(paper, name)
        width = float(np.quantile(draws, 0.975) - np.quantile(draws, 0.025))
        for end, share in ((interval.low, 0.025), (interval.high, 0.975)):
            assert end == pytest.approx(float(np.quantile(draws, share)), abs=0.06 * width), name


def test_paper_draws_of_what_was_kept_follow_from_those_of_its_pieces() -> None:
    paper = found(draws=500).paper
    drawn = {name: np.asarray(mass) for name, mass in paper.drawn.items()}
    off = drawn["kept_from_landfill_gross_kg"] * drawn["fines_kg"] / drawn["collected_kg"]
    kept = drawn["kept_from_landfill_gross_kg"] - drawn["returned_to_landfill_kg"] - off
    np.testing.assert_allclose(drawn["kept_from_landfill_kg"], kept, rtol=1e-9)
    rate = np.quantile(kept[1:] / drawn["collected_kg"][1:], [0.025, 0.975])
    assert paper.landfill_diversion_rate is not None
    assert (paper.landfill_diversion_rate.low, paper.landfill_diversion_rate.high) == pytest.approx(tuple(rate))


def test_paper_of_a_split_is_wider_than_of_a_recorded_fate() -> None:
    by_split, recorded = found().paper, found([{**BATCH, "fate": "landfill"}]).paper

    def width(interval: Interval) -> float:
        return (interval.high - interval.low) / interval.value

    assert width(by_split.kept_from_landfill_kg) > width(recorded.kept_from_landfill_kg) > 0.0
    assert width(by_split.taken_from_recycling_kg) > 0.05


def test_paper_estimated_losses_are_wider_than_weighed_ones() -> None:
    weighed, estimated = (found([{**BATCH, "rejects": rejects}]).paper for rejects in (4.0, float("nan")))
    for paper, least in ((weighed, 0.0), (estimated, 0.8)):
        back = paper.returned_to_landfill_kg
        assert back.high / back.low - 1.0 > least
    assert weighed.returned_to_landfill_kg.high / weighed.returned_to_landfill_kg.low < 1.06


def test_by_site_paper_adds_up_in_every_draw_with_one_share_of_fines() -> None:
    results = load(DEMO, by_site=True).assess(draws=200)
    sites, whole = list(by_site(results)), account_of(results, "all").paper
    together = added([site.paper for site in sites])
    for name, mass in whole.drawn.items():
        if name != "deferred_kg":  # of each site what it kept, if it kept any
            np.testing.assert_allclose(together.drawn[name], mass, rtol=1e-9, atol=1e-12)
    assert plain(together.landfill_diversion_rate) == pytest.approx(plain(whole.landfill_diversion_rate), rel=1e-9)
    for site in sites:
        assert site.paper.fines_kg.value / site.paper.collected_kg.value == pytest.approx(
            whole.fines_kg.value / whole.collected_kg.value
        )


@pytest.mark.parametrize("to", [None, "next pulp", "incineration"])
def test_derivation_of_every_figure_of_paper_comes_out_again(to: str | None) -> None:
    results = found(draws=100, fines_to=to)
    wanted, known = figures(results.as_totals()), derivations(results)
    names_of = [name for name in wanted if name.startswith(("paper.", "disposal."))]
    assert "paper.kept_from_landfill_kg.low" in names_of
    for name in names_of:
        assert first(evaluate(known[name])) == pytest.approx(wanted[name], rel=1e-9, abs=1e-12), name


# -- what reports say -------------------------------------------------------------------------------------------------


@cache
def granted() -> Study:
    """Return the results of the demo, counted for an invented grant that pays for a half."""
    folder = load(DEMO)
    whole = folder.assess(draws=100)
    grant = Grant("Half fund", whole.start, whole.end, 0.5)
    return replace(folder, workshop=replace(folder.workshop, grants=(grant,))).assess(draws=100, grant="Half fund")


def page(results: Study) -> str:
    """Return the first page of the funder report."""
    html = plain_html_of(results)
    return html[html.index('<div id="summary">') : html.index("<nav aria-label")]


COUNTS = re.compile(
    r"(words\..+|story\.\w+|evidence\.\w+|parts\.[^.]+\.(good|chance_lower)|settings\.draws|from_memory\.\w+|at_ends\..+|breakeven\..+\.share)$"
)
"""Counts, shares of draws or of a sum, and sentences, which have no interval of their own."""


@pytest.mark.parametrize("of_grant", [False, True])
def test_first_page_every_figure_carries_an_interval(of_grant: bool) -> None:
    found = figures_on(page(granted() if of_grant else load(DEMO).assess(draws=100)))
    shown = {name for name, _ in found if not COUNTS.match(name)}
    bases = {name.rpartition(".")[0] for name in shown}
    assert {"paper.weighed_kg", "paper.kept_from_landfill_kg", "paper.landfill_diversion_rate"} <= bases
    assert shown == {f"{base}.{end}" for base in bases for end in ("value", "low", "high")}


def test_first_page_without_fresh_paper_has_no_rate() -> None:
    # parts of old rejects alone: nothing was collected, and what was binned comes off
    rows = [{**PLAIN, "paper.corrugated_kg": 0.0, "own_rejects_kg": 0.6}]
    results = found(rows, draws=100)
    assert results.paper.landfill_diversion_rate is None
    assert results.paper.fines_kg.high == 0.0
    html = plain_html_of(results)
    assert "kept from landfill, net (" in html
    assert "f.paper.landfill_diversion_rate" not in html


def test_grant_of_a_half_prints_what_was_weighed_and_what_counts() -> None:
    results = granted()
    whole = load(DEMO).assess(draws=100).paper.collected_kg.value
    assert results.paper.weighed_kg.value == pytest.approx(whole)
    assert results.paper.collected_kg.value == pytest.approx(0.5 * whole)
    (used,) = (one for one in claims(results, results.findings, results.recycled).supported if one.code == "paper-used")
    mass = f"{whole * (2.2046226218 if results.workshop.units == 'us' else 1.0):.1f}"
    half = f"{whole * 0.5 * (2.2046226218 if results.workshop.units == 'us' else 1.0):.1f}"
    assert used.text.startswith(f"The workshop collected and pulped {mass}\u00a0")
    assert f"{half}\u00a0" in used.text
    assert "count for the grant Half fund (50\u00a0% of the work of these days)" in used.text
    assert f"weighed in all                              {whole:.1f} (" in as_text(results)


def test_grant_inputs_beside_each_other_are_whole() -> None:
    from impact.report.funder.document import made

    alone, counted = ({row["input"]: row["amount"] for row in made(one)["inputs"]} for one in (
        load(DEMO).assess(draws=100), granted(),
    ))  # fmt: skip
    assert counted == pytest.approx(alone)
    assert counted["waste paper, as weighed"] == pytest.approx(granted().paper.weighed_kg.value)


def test_workshop_part_is_as_the_hand_calculation_has_it() -> None:
    one: Part = part()
    assert (one.mass_kg, found().part_solids) == (0.05, pytest.approx(0.94))
