"""What a period comes to in one sentence, by the side of zero on which its totals lie."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from impact.account.results import Interval
from impact.factors.factorset import read_factors
from impact.findings.claims import usual_speaker
from impact.findings.headline import headline, side
from impact.findings.net import COUNTED
from impact.records.statements import Grant
from impact.study import Study, assess, counted_for
from tests.edges import pages
from tests.frames import PLAIN, batches, part, workshop
from tests.test_claims import refused, said
from tests.test_edges import words
from tests.test_grants import day


@cache
def results(displacement: float | None = None, evidence: str = "") -> Study:
    made = part(displacement=displacement, displacement_evidence=evidence)
    return assess(workshop(made), batches([PLAIN]), read_factors(), draws=50)


def between(value: float, low: float, high: float) -> Interval:
    return Interval(value, low, high, value)


def told(found: Study) -> str:
    return headline(found, found.net_account).say(usual_speaker(found))


def with_totals(
    kept: Interval | None = None,
    deferred: float | Interval = 0.0,
    net: Interval | None = None,
    found: Study | None = None,
) -> Study:
    found = found or results()
    paper = found.paper
    changed = {"kept_from_landfill_kg": kept or paper.kept_from_landfill_kg}
    changed["deferred_kg"] = deferred if isinstance(deferred, Interval) else between(deferred, deferred, deferred)
    return replace(found, paper=replace(paper, **changed), net=net or found.net)


@pytest.mark.parametrize(
    ("figure", "expected"),
    [
        ((1.0, 0.1, 2.0), "above"),
        ((1.0, 0.0, 2.0), "undecided"),
        ((1.0, -0.1, 2.0), "undecided"),
        ((-1.0, -2.0, 0.1), "undecided"),
        ((-1.0, -2.0, -0.1), "below"),
        ((0.0, 0.0, 0.0), "none"),
    ],
)
def test_side_of_a_figure_is_that_of_its_whole_interval(figure: tuple[float, float, float], expected: str) -> None:
    assert side(between(*figure)) == expected


@pytest.mark.parametrize(
    ("kept", "deferred", "expected"),
    [
        ((0.3, 0.1, 0.5), 0.0, "0.3\u00a0kg (0.1 to 0.5) stayed out of landfill;"),
        ((0.3, 0.1, 0.5), between(0.3, 0.1, 0.5), "0.3\u00a0kg (0.1 to 0.5) stayed out of landfill, all of it only for now;"),
        ((0.3, 0.1, 0.5), 0.299, "stayed out of landfill, nearly all of it only for now: 0.3\u00a0kg;"),
        ((0.3, 0.1, 0.5), 0.2, "stayed out of landfill, 0.2\u00a0kg of that only for now;"),
        ((0.3, -0.1, 0.5), 0.3, "whether any stayed out of landfill cannot be told: 0.3\u00a0kg (−0.1 to 0.5), net;"),
        ((-0.3, -0.5, -0.1), 0.0, "rejects, trim and fines come to 0.3\u00a0kg (0.1 to 0.5) more than would have gone there"),
        ((0.0, 0.0, 0.0), 0.0, "nothing counts as kept from landfill;"),
    ],
)  # fmt: skip
def test_headline_of_paper_goes_by_the_side_of_its_interval(
    kept: tuple[float, float, float], deferred: float | Interval, expected: str
) -> None:
    assert expected in told(with_totals(between(*kept), deferred))


@pytest.mark.parametrize(
    ("net", "expected"),
    [
        ((2.0, 1.0, 3.0), "the workshop emitted 2.0\u00a0kg CO₂e (1.0 to 3.0) more than it avoided."),
        ((-2.0, -3.0, -1.0), "the workshop avoided 2.0\u00a0kg CO₂e (1.0 to 3.0) more than it emitted"),
        ((2.0, -1.0, 3.0), "whether the workshop emitted more than it avoided cannot be told: 2.0"),
    ],
)
def test_headline_of_emissions_goes_by_the_side_of_its_interval(net: tuple[float, float, float], expected: str) -> None:
    assert expected in told(with_totals(net=between(*net))).replace(".00", ".0")


def test_headline_says_where_plastic_taken_as_replaced_decides_and_how_that_is_known() -> None:
    below, above = between(-2.0, -3.0, -1.0), between(2.0, 1.0, 3.0)
    stated = with_totals(net=below, found=results(0.5))
    assert told(stated).endswith("if its parts took plastic's place as it states, which nobody followed up.")
    seen = with_totals(net=below, found=results(0.5, "asked the users"))
    assert told(seen).endswith(", by the plastic whose place its parts took.")
    assert "plastic" not in told(with_totals(net=above, found=results(0.5)))
    cases = stated.net_account.cases
    alike = {**cases, COUNTED: replace(cases[COUNTED], without_plastic_kgco2e=below)}
    decided = replace(stated, net_account=replace(stated.net_account, cases=alike))
    assert "plastic" not in told(decided)


def test_headline_for_a_grant_has_the_paper_of_the_grant() -> None:
    found = results()
    grant = counted_for(found, Grant("fund", day("2026-01-01"), day("2026-12-31"), 0.5))
    assert found.paper.weighed_kg.value == pytest.approx(2.0 * grant.paper.collected_kg.value)
    assert told(grant).startswith("Of 0.3\u00a0kg of paper counted for the grant, ")
    assert "; the work counted for the grant " in told(grant)


def test_page_for_a_grant_says_of_every_section_what_is_of_the_grant_and_what_is_whole() -> None:
    text = words(pages("two-grants")["funder"]).replace("\u00a0", " ")
    for said_of_it in (
        "counted for the grant (3.52 to 3.65); the whole work: 9.00 kg",
        "40 % of the whole work. The whole work took in 9.00 kg of paper.",
        "Every line is what counts for the grant: 40 %",
        "what went in, below, is of the whole work",
    ):
        assert said_of_it in text


def test_claims_of_paper_kept_are_made_only_where_the_interval_is_above_zero() -> None:
    sure, unsure = (with_totals(kept, kept) for kept in (between(0.3, 0.1, 0.5), between(0.3, -0.1, 0.5)))
    assert said(sure, "kept-from-landfill")
    assert said(sure, "deferred")[0].text.startswith(
        "All of the 0.3\u00a0kg (0.1 to 0.5) kept from landfill is deferred"
    )
    assert not said(unsure, "kept-from-landfill")
    assert not said(unsure, "deferred")
    assert refused(unsure, "landfill")[0].reason.endswith("whether any was kept cannot be told")
