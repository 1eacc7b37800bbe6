"""Editions that stand side by side: which is used, what it changes, and that the outputs name it.

Checked against, from outside:

- methane, AR5 against AR6: 28 to 27, table 8.A.1 and table 7.15 of the reports
"""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest

from impact.account.results import Results
from impact.factors.factorset import FactorSet, read_factors
from impact.records.workshop import FateSplit
from impact.study import assess
from tests.frames import PLAIN, batches, workshop
from tests.reports import plain_html_of


@cache
def factors() -> FactorSet:
    return read_factors()


def run(**changes: Any) -> Results:
    return assess(workshop(**changes), batches([PLAIN]), factors(), draws=200)


def test_assess_ar5_against_ar6_scales_landfill_methane_by_28_to_27() -> None:
    # Warming potential over 100 years of methane of biogenic origin: 28 in the Fifth Assessment Report (WG I, table
    # 8.A.1), 27.0 in the Sixth (WG I, table 7.15).
    landfilled = {"corrugated": FateSplit(landfill=1.0, evidence="bin")}
    fifth, sixth = run(gwp="AR5", fates=landfilled), run(gwp="AR6", fates=landfilled)
    assert fifth.disposal.avoided.value / sixth.disposal.avoided.value == pytest.approx(28 / 27, rel=1e-12)
    # The draws also hold a little of the other routes, with their nitrous oxide.
    assert fifth.disposal.avoided.high / sixth.disposal.avoided.high == pytest.approx(28 / 27, rel=1e-3)
    assert fifth.settings.editions["world"] == ("AR5",)
    assert sixth.settings.editions["world"] == ("AR6",)


@pytest.mark.parametrize("edition", ["2025", "2026"])
def test_assess_named_edition_is_used_and_named(edition: str) -> None:
    results = run(country="GBR", editions={"GBR": edition})
    assert results.settings.editions["GBR"] == (edition,)
    assert results.as_totals()["settings"]["editions"]["GBR"] == [edition]
    assert f"United Kingdom ({edition})" in plain_html_of(results)


def test_assess_no_edition_named_uses_the_newest() -> None:
    assert run(country="GBR").settings.editions["GBR"] == ("2026",)


def test_assess_editions_of_keys_with_one_edition_are_not_listed() -> None:
    # Freight of the United States stands in two editions; its grid factors stand in one, which needs no naming.
    results = run(country="USA")
    used = {choice.factor.edition for choice in results.factors_used.values() if choice.factor.geography == "USA"}
    assert results.settings.editions["USA"] == ("2025",)
    assert {"2023", "2025"} <= used
