"""What may be said and what not: figures, qualifiers, the rules of each place, and words that no report says."""

from __future__ import annotations

import dataclasses
import re
import shutil
from collections.abc import Callable, Mapping
from functools import cache, partial
from html import escape
from pathlib import Path
from typing import Any

import pytest

from impact.account.results import Results
from impact.api import load
from impact.base.printing import Printer
from impact.base.sentences import said as in_words
from impact.factors.claimrules import read_claim_rules
from impact.factors.factorset import read_factors
from impact.findings.claims import Supported
from impact.findings.refusals import Unsupported, rules_for, thresholds
from impact.findings.verdicts import verdict
from impact.records.demonstration import DEMO
from impact.records.statements import Grant
from impact.records.workshop import FateSplit, Targets
from impact.study import assess
from tests.frames import PLAIN, batches, part, workshop
from tests.reports import plain_html_of
from tests.test_grants import SPRING, SUMMER, day

FORBIDDEN = re.compile(
    r"compostable|biodegradable|plastic[- ]free|eco-friendly|\bgreen\b|carbon[- ]neutral|zero[- ]waste|saved from landfill",
    re.IGNORECASE,
)
STARCH = {**PLAIN, "binder": "corn-starch", "binder_kg": 0.3, "binder_solids": 0.12}
GLUE = {**PLAIN, "binder": "pva-glue", "binder_kg": 0.1, "binder_solids": 0.5}
PLACES = {"USA": "16 CFR", "DEU": "(EU) 2024/825", "GBR": "CMA Green Claims Code"}


def results(row: Mapping[str, Any] = PLAIN, **changes: Any) -> Results:
    parts = changes.pop("parts", (part(),))
    return assess(workshop(*parts, **changes), batches([row]), read_factors(), draws=100)


def said(found: Results, code: str) -> list[Supported]:
    return [claim for claim in found.claims.supported if claim.code == code]


def refused(found: Results, code: str) -> list[Unsupported]:
    return [claim for claim in found.claims.unsupported if claim.code == code]


# -- rules of places ------------------------------------------------------------------------------


@pytest.mark.parametrize("country", PLACES)
def test_claims_cite_the_rules_of_their_place_and_of_the_world_alone(country: str) -> None:
    references = " ".join(
        rule.reference for claim in results(GLUE, country=country).claims.unsupported for rule in claim.rules
    )
    assert "ISO 14021" in references
    for place, name in PLACES.items():
        assert (name in references) == (place == country)


def test_claims_elsewhere_cite_the_world_alone() -> None:
    assert results(country="KEN").claims.places == ("world",)


@pytest.mark.parametrize("country", PLACES)
def test_claims_refuse_the_same_wordings_in_every_place(country: str) -> None:
    wordings = {claim.code for claim in results(GLUE, country=country).claims.unsupported}
    assert wordings == {claim.code for claim in results(GLUE, country="KEN").claims.unsupported}


@pytest.mark.parametrize("kind", read_claim_rules())
@pytest.mark.parametrize("places", [("USA",), ("DEU", "EU"), ("GBR",)], ids=lambda places: places[0])
def test_rules_for_every_kind_have_a_rule_of_the_world_and_no_open_place(kind: str, places: tuple[str, ...]) -> None:
    found = rules_for(kind, places, thresholds(read_factors()), Printer(us=False))
    assert found[0].place == "world"
    assert {rule.place for rule in found} <= {"world", *places}
    assert not any("{" in rule.text for rule in found)


# Points of Annex I of Directive 2005/29/EC and sections of 16 CFR 260 by the wording that each bars.
@pytest.mark.parametrize(
    ("kind", "country", "clause"),
    [
        ("composts", "USA", "260.7"), ("degrades", "USA", "260.8"), ("plastic-free", "USA", "260.9"),
        ("recyclable", "USA", "260.12"), ("all-recycled", "USA", "260.13"), ("general", "USA", "260.4"),
        ("neutral", "USA", "260.5"), ("logo", "USA", "260.6"), ("general", "DEU", "point 4a"),
        ("all-recycled", "DEU", "point 4b"), ("neutral", "DEU", "point 4c"), ("logo", "DEU", "point 2a"),
        ("all-recycled", "GBR", "7.8"), ("composts", "GBR", "7.2"), ("recyclable", "GBR", "7.7"),
    ],
)  # fmt: skip
def test_claims_wording_is_refused_by_its_clause(kind: str, country: str, clause: str) -> None:
    (claim,) = refused(results(GLUE, country=country), kind)
    assert any(rule.reference.endswith(clause) for rule in claim.rules)


def test_thresholds_are_those_of_the_table() -> None:
    printed = {name: in_words(fact, Printer(us=False)) for name, fact in thresholds(read_factors()).items()}
    assert printed == {"access": "60\u00a0%", "degradable_years": "1", "panel": "3", "eu_day": "2026-09-27"}


# -- wordings that are refused here and not there -------------------------------------------------

TARGET = Targets(20.0, day("2026-12-31"))
TWICE = (Grant("a", day("2026-01-01"), day("2026-12-31")), Grant("b", day("2026-03-01"), day("2026-03-31"), 0.5))
ALL_LANDFILL = {"corrugated": FateSplit(landfill=1.0, evidence="looked into")}


@pytest.mark.parametrize(
    ("code", "fires", "rests"),
    [
        ("plastic-free", partial(results, GLUE), partial(results, STARCH)),
        ("all-recycled", partial(results, STARCH), results),
        ("future", partial(results, targets=TARGET), results),
        ("twice", partial(results, grants=TWICE), partial(results, grants=TWICE[:1])),
        ("landfill", results, partial(results, fates=ALL_LANDFILL)),
        ("better", results, partial(results, parts=(part(wet_use=True),))),
        ("all-displaced", results, partial(results, parts=(part(displacement=1.0),))),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_claims_wording_is_refused_only_where_its_reason_holds(
    code: str, fires: Callable[[], Results], rests: Callable[[], Results]
) -> None:
    assert len(refused(fires(), code)) == 1
    assert refused(rests(), code) == []


def test_claims_post_consumer_is_refused_until_the_origin_is_recorded() -> None:
    from impact.records.workshop import Origin

    known = results(origins={"corrugated": Origin(0.9, "asked the shop")})
    assert refused(results(), "post-consumer")
    assert not refused(known, "post-consumer")
    assert "pre- or post-consumer not recorded" in said(results(), "recycled-content")[0].text
    assert "90.0\u00a0% post-consumer, 10.0\u00a0% pre-consumer" in said(known, "recycled-content")[0].text


@pytest.mark.parametrize("code", ["composts", "degrades", "general", "neutral", "zero-waste", "logo", "recyclable"])
def test_claims_some_wordings_are_always_refused(code: str) -> None:
    assert refused(results(STARCH), code)


def test_claims_composting_blocker_of_synthetic_glue_is_named_and_starch_has_none() -> None:
    assert "blocker for pot" in refused(results(GLUE), "composts")[0].reason
    assert "blocker" not in refused(results(), "composts")[0].reason


# -- sentences ------------------------------------------------------------------------------------


def test_claims_every_sentence_carries_its_qualifier() -> None:
    for claim in results(GLUE).claims.supported:
        assert "2026-03-02 to 2026-03-02" in claim.text
        for piece in (claim.what, claim.amount, claim.against, claim.basis):
            assert piece.strip()
        assert claim.against in claim.text
        assert claim.basis in claim.text


def test_claims_kept_from_landfill_states_both_masses_and_an_audit() -> None:
    found = results()
    (claim,) = said(found, "kept-from-landfill")
    net = found.paper.kept_from_landfill_kg
    told = f"{net.value:.1f}\u00a0kg ({net.low:.1f} to {net.high:.1f})"
    assert claim.text.startswith(f"{told} of waste paper was kept from landfill, net, out of 0.6\u00a0kg")
    assert "by record or audit for 0.6\u00a0kg" in claim.text
    assert "assumption" not in claim.text


def test_claims_kept_from_landfill_by_national_shares_says_assumption() -> None:
    kept = {**PLAIN, "rejects_to": "own rejects"}
    (claim,) = said(results(kept, fates={}), "kept-from-landfill")
    assert "by assumption for 0.6\u00a0kg" in claim.text
    assert "audit" not in claim.text


def test_claims_fate_of_the_batch_is_a_record() -> None:
    (claim,) = said(results({**PLAIN, "fate": "landfill"}, fates={}), "kept-from-landfill")
    assert "by record or audit for 0.6\u00a0kg" in claim.text


def test_claims_nothing_kept_from_landfill_makes_no_such_sentence() -> None:
    lost = results({**PLAIN, "fate": "recycling"})
    assert lost.paper.kept_from_landfill_kg.value < 0.0
    assert not said(lost, "kept-from-landfill")
    assert not said(lost, "deferred")
    assert refused(lost, "landfill")
    assert said(lost, "paper-used")


def test_claims_deferred_landfill_is_stated_only_where_parts_go_there() -> None:
    there = results(end_of_life=FateSplit(landfill=1.0, evidence="asked"))
    assert "looked into" in said(there, "deferred")[0].text
    assert not said(results(end_of_life=FateSplit(composting=1.0)), "deferred")


def test_claims_binder_share_is_of_dry_solids_and_says_what_it_is() -> None:
    (claim,) = said(results(GLUE), "binder-share")
    assert "8.2\u00a0% PVA glue, a synthetic polymer" in claim.text  # 0.05 / 0.608
    assert claim.basis == "binder weighed"
    blank = results({**PLAIN, "binder": "corn-starch"})
    assert "estimated" in said(blank, "binder-share")[0].basis


@pytest.mark.parametrize(
    ("plastic_kg", "outcome", "words"),
    [
        (3.0, "lower than plastic", "molded part is the lower"),
        (0.001, "higher than plastic", "it loses"),
        (None, "undecided", "it is undecided"),
    ],
)
def test_claims_comparison_is_worded_by_the_chance(plastic_kg: float | None, outcome: str, words: str) -> None:
    if plastic_kg is None:
        first = results().parts[0]
        assert first.plastic is not None
        assert first.footprint is not None
        plastic_kg = 0.03 * first.footprint.value / first.plastic.footprint.value
    found = results(
        parts=(part(plastic_mass_kg=plastic_kg, plastic_service_life_years=4.0),)
        if plastic_kg == 3.0
        else (part(plastic_mass_kg=plastic_kg),)
    )
    assert verdict(found.parts[0]) == outcome
    (claim,) = said(found, "comparison")
    assert claim.text.startswith("Estimate for our own use, carbon only, not reviewed: ")
    assert words in claim.text
    assert "50.0\u00a0g that lasts 2\u00a0years" in claim.text
    assert found.parts[0].chance_lower is not None
    chance = Printer(us=False).figure(found.parts[0].chance_lower, "chance")
    assert f"chance that the molded part is lower {chance}" in claim.text


def test_claims_for_own_use_stand_apart_on_the_page_under_their_names() -> None:
    html = plain_html_of(results(GLUE, parts=(part(displacement=0.5),)))
    passed_on, own = html[html.index("Pass each on whole") : html.index('<section id="cautions"')].split(
        "For our own use, not to be passed on"
    )
    assert "our own use" not in passed_on
    assert "took plastic" in passed_on
    assert own.count("an estimate for our own use, carbon only, not reviewed") == 1
    assert 'href="#comparison"' in own
    assert html.count('id="comparison"') == 1


def test_claims_that_differ_by_part_alone_stand_in_one_table_with_their_qualifiers() -> None:
    found = results(GLUE)
    html = plain_html_of(found)
    for code in ("recycled-content", "binder-share"):
        (claim,) = said(found, code)
        assert claim.text.startswith("pot: ")
        for piece in (claim.text.partition(": ")[2].partition(" (against")[0], claim.against, claim.basis):
            assert escape(piece) in html


def test_claims_name_every_part_that_holds_a_binder_no_reader_takes_for_paper() -> None:
    parts = (part(), dataclasses.replace(part(), name="lid"))
    found = assess(workshop(*parts), batches([GLUE, {**GLUE, "part": "lid"}]), read_factors(), draws=20)
    (claim,) = refused(found, "plastic-free")
    assert claim.reason.startswith("lid, pot hold PVA glue")


def test_claims_part_for_wet_use_is_not_compared() -> None:
    assert not said(results(parts=(part(wet_use=True),)), "comparison")


def test_claims_plastic_displaced_counts_the_recorded_share_alone() -> None:
    (claim,) = said(results(parts=(part(displacement=0.5),)), "plastic-displaced")
    assert claim.amount.startswith("0.1\u00a0kg")  # 10 parts x 0.5 x 30 g, rounded from 0.15
    assert "50\u00a0% of 10 good parts (pot)" in claim.text
    assert claim.text.startswith("If parts took plastic's place as the workshop states (nobody followed it up), about ")
    assert "share stated by the workshop" in claim.basis
    (seen,) = said(
        results(parts=(part(displacement=0.5, displacement_evidence="asked the users"),)), "plastic-displaced"
    )
    assert seen.text.startswith("By the share followed up, about ")
    assert "share followed up by the workshop" in seen.basis
    for none in (None, 0.0):
        assert not said(results(parts=(part(displacement=none),)), "plastic-displaced")


def test_claims_of_invented_records_say_so() -> None:
    assert all("invented records" in claim.text for claim in results(invented=True).claims.supported)
    assert not any("invented" in claim.text for claim in results().claims.supported)


# -- words that no report says --------------------------------------------------------------------


@cache
def variant(folder: Path, country: str) -> Path:
    copy = folder / country
    shutil.copytree(DEMO, copy)
    path = copy / "workshop.toml"
    text = path.read_text(encoding="utf-8")
    if country != "USA":
        text = text.replace('country = "USA"', f'country = "{country}"').replace('electricity = "US-RFCM"\n', "")
    path.write_text(f"{text}\n{SPRING}\n{SUMMER}", encoding="utf-8")
    return copy


@pytest.fixture(scope="module")
def shops(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("variants")


def words_of(html: str) -> str:
    """Return the text of a page without its style, the section of what is not said, and titles of publications cited."""
    cut, count = re.subn(r'<section id="not-said".*?</section>', " ", html, flags=re.DOTALL)
    assert count == 1
    cut = re.sub(r'<span class="note">\[.*?</span>|<ol class="sources">.*?</ol>', " ", cut, flags=re.DOTALL)
    return re.sub(r"<[^>]+>", " ", re.sub(r"<style>.*?</style>", " ", cut, flags=re.DOTALL))


@pytest.mark.parametrize("grant", [None, "City fund", "Bank"])
@pytest.mark.parametrize("country", ["USA", "GBR", "DEU"])
def test_report_says_no_forbidden_word_outside_the_list(shops: Path, country: str, grant: str | None) -> None:
    found = load(variant(shops, country)).assess(draws=100, grant=grant)
    html = plain_html_of(found)
    assert FORBIDDEN.findall(words_of(html)) == []
    assert FORBIDDEN.search(html[html.index('id="not-said"') :])
    assert ("Counted for the grant" in words_of(html)) == (grant is not None)
    if grant is not None:
        assert re.search(rf"of these count for the grant {grant} \(\d+\s% of the work of these days\)", words_of(html))


def test_claims_supported_sentences_hold_no_forbidden_word() -> None:
    for row in (PLAIN, GLUE, STARCH):
        assert not FORBIDDEN.search(" ".join(claim.text for claim in results(row).claims.supported))
