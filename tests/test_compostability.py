"""Compostability findings: thresholds, the dry basis, and what is never said."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from impact.account.inventory import OWN_REJECTS
from impact.base.catalogue import Names, read_names
from impact.base.sentences import Said
from impact.factors.factorset import FactorSet, read_factors
from impact.findings.compost import ROUTES, Finding, asked_of, binder_share, findings
from impact.findings.compost_rules import BLOCKED, OPEN, UNKNOWN, MakeUp, Reason
from impact.records.workshop import Materials
from impact.study import assess
from tests.frames import PLAIN, batches, part, workshop


@cache
def factors() -> FactorSet:
    return read_factors()


@cache
def names() -> Names:
    return read_names()


CLEAN = Materials(inks="printed", tape_removed=True, greaseproof=False)
"""All that can be asked about the paper is recorded."""


def found(binder: str, dose: float, route: str = "industrial", tables: FactorSet | None = None) -> Finding:
    """Return the finding for 1 kg of dry fibre with `dose` kg of dry binder, recorded at 40 % solids."""
    row = {
        **PLAIN, "paper.corrugated_kg": 1.0, "moisture": 0.0, "binder": binder, "binder_kg": dose / 0.4,
        "binder_solids": 0.4, "good_parts": 19.0,
    }  # fmt: skip
    result = assess(workshop(materials=CLEAN), batches([row]), tables or factors(), names=names(), draws=20)
    (finding,) = [finding for finding in result.findings if finding.route == route]
    return finding


def rules(finding: Finding) -> list[str]:
    return [reason.rule for reason in finding.reasons]


@pytest.mark.parametrize("route", ROUTES)
def test_findings_glue_at_nine_per_cent_is_blocked(route: str) -> None:
    # 1 part dry glue on 10 parts dry fibre: 1 / 11 = 9.09 %, above the 1 % of EN 13432:2000, A.2.1 (from memory).
    finding = found("pva-glue", 0.1, route)
    assert finding.binder_share == pytest.approx(0.0909, abs=5e-5)
    assert finding.outcome == BLOCKED
    assert "untested-polymer" in rules(finding)


def test_findings_glue_below_the_threshold_waives_one_test_only() -> None:
    # 0.009 / 1.009 = 0.892 %
    finding = found("pva-glue", 0.009)
    assert finding.binder_share == pytest.approx(0.00892, abs=5e-6)
    assert finding.outcome == OPEN
    assert "below-threshold" in rules(finding)
    assert "untested-polymer" not in rules(finding)
    text = " ".join(reason.text for reason in finding.reasons)
    assert "0.89\u00a0%" in text
    assert "waives that one test and nothing else" in text


@pytest.mark.parametrize("binder", ["corn-starch", "potato-starch", "rice-paste", "wheat-paste", "none"])
def test_findings_natural_binder_is_open_and_untested(binder: str) -> None:
    finding = found(binder, 0.0 if binder == "none" else 0.1)
    assert finding.outcome == OPEN == "no blocker found, untested"
    assert found(binder, 0.0 if binder == "none" else 0.1, "home").outcome == UNKNOWN


def test_findings_modified_polymer_is_not_called_natural() -> None:
    finding = found("methyl-cellulose", 0.05)
    assert finding.outcome == UNKNOWN
    assert rules(finding)[0] == "modified-polymer"
    assert rules(found("methyl-cellulose", 0.005))[0] == "below-threshold"


def test_findings_home_heap_is_never_open() -> None:
    assert {found(binder, 0.005, "home").outcome for binder in ("pva-glue", "corn-starch", "methyl-cellulose")} == {
        UNKNOWN
    }


def test_binder_share_wet_glue_counts_by_its_solids() -> None:
    # 20 g of glue at 45 % solids on 100 g of dry paper: 9 / 109 = 8.26 %, not 20 / 120 = 16.7 %.
    row = {
        **PLAIN,
        "paper.corrugated_kg": 0.1,
        "moisture": 0.0,
        "binder": "pva-glue",
        "binder_kg": 0.02,
        "binder_solids": 0.45,
    }
    result = assess(
        workshop(), batches([{**row, "good_parts": 2.0, "rejects": 0.0}]), factors(), names=names(), draws=20
    )
    assert [finding.binder_share for finding in result.findings] == pytest.approx([0.0826, 0.0826], abs=5e-5)
    assert binder_share(0.009, 0.1) == pytest.approx(9 / 109)


def test_binder_share_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="neither fibre nor binder"):
        binder_share(0.0, 0.0)


@given(st.floats(0.0, 1e3), st.floats(1e-6, 1e3), st.floats(1e-3, 1e3))
def test_binder_share_depends_on_the_ratio_alone_and_grows(binder: float, fibre: float, scale: float) -> None:
    share = binder_share(binder, fibre)
    assert 0.0 <= share < 1.0 + 1e-12
    assert binder_share(binder * scale, fibre * scale) == pytest.approx(share)
    assert binder_share(2.0 * binder, fibre) >= share


def test_findings_two_batches_of_one_recipe_are_one_finding_by_their_mean() -> None:
    rows = [
        {**PLAIN, "paper.corrugated_kg": 1.0, "moisture": 0.0, "binder": "pva-glue", "binder_kg": mass, "binder_solids": 0.5,
         "good_parts": 18.0, "rejects": 0.0}
        for mass in (0.0, 0.04)
    ]  # fmt: skip
    result = assess(workshop(), batches(rows), factors(), names=names(), draws=20)
    assert len(result.findings) == len(ROUTES)
    # 0.02 kg dry on 2 kg, less the share that each batch's parts leave behind: near 0.02 / 2.02.
    assert result.findings[0].binder_share == pytest.approx(0.0099, abs=2e-4)


@pytest.mark.parametrize("binder", ["pva-glue", "corn-starch", "methyl-cellulose", "none"])
@pytest.mark.parametrize("route", ROUTES)
def test_findings_every_reason_has_a_source_and_makes_no_claim(binder: str, route: str) -> None:
    finding = found(binder, 0.0 if binder == "none" else 0.1, route)
    assert finding.reasons
    assert [reason.rule for reason in finding.reasons if not (reason.text and reason.source)] == []
    assert finding.asked
    words = " ".join([finding.outcome, *(reason.text for reason in finding.reasons)]).casefold()
    for claim in ("is compostable", "biodegradable", "certified", "eco-friendly"):
        assert claim not in words


def test_findings_threshold_of_the_workshops_own_table_is_used_with_its_source() -> None:
    key = "compost.criterion.constituent-single"
    (shipped,) = factors().by_key[key]
    own = replace(
        shipped, value=0.04, source="works letter", locator="page 2", evidence="own value", file="factors.csv"
    )
    finding = found("pva-glue", 0.03, tables=FactorSet({**factors().by_key, key: (own,)}, factors().sources))
    assert finding.outcome == OPEN
    assert finding.reasons[0].source == "works letter, page 2 (own value)"


def rule_found(
    recipe: MakeUp,
    *,
    country: str = "DEU",
    route: str = "industrial",
    wall: float | None = None,
    catalogue: Names | None = None,
    **materials: Any,
) -> Finding:
    """Return the finding for a recipe as it stands."""
    shop = workshop(part(wall_mm=wall), country=country, materials=Materials(**materials))
    regions = (country, *names().country_groups[country], "world")
    made = findings({("pot", "any"): recipe}, shop, factors(), catalogue or names(), regions)
    return next(finding for finding in made if finding.route == route)


def text_of(finding: Finding, rule: str) -> str:
    (reason,) = [reason for reason in finding.reasons if reason.rule == rule]
    assert reason.source
    return reason.text


BOARD = MakeUp({"corrugated": 1.0}, {})
NEWS = MakeUp({"newsprint": 1.0}, {})
EGG_BOX = MakeUp({"moulded-fibre": 1.0}, {})
TISSUE = MakeUp({"tissue": 1.0}, {})


def glued(binder: str, share: float) -> MakeUp:
    return MakeUp({"tissue": 1.0 - share}, {binder: share})


# rule, where it speaks, where it does not
SPEAKS: list[tuple[str, dict[str, Any], dict[str, Any]]] = [
    ("no-binder", {"recipe": TISSUE}, {"recipe": glued("corn-starch", 0.05)}),
    ("natural-binder", {"recipe": glued("potato-starch", 0.05)}, {"recipe": glued("methyl-cellulose", 0.05)}),
    ("modified-polymer", {"recipe": glued("methyl-cellulose", 0.01)}, {"recipe": glued("methyl-cellulose", 0.0099)}),
    ("untested-polymer", {"recipe": glued("pva-glue", 0.01)}, {"recipe": glued("pva-glue", 0.0099)}),
    ("below-threshold", {"recipe": glued("pva-glue", 0.0099)}, {"recipe": glued("corn-starch", 0.0099)}),
    ("constituent-separate", {"recipe": glued("rice-paste", 0.11)}, {"recipe": glued("rice-paste", 0.1)}),
    ("acetate-not-alcohol", {"recipe": glued("pva-glue", 0.005)}, {"recipe": glued("methyl-cellulose", 0.05)}),
    ("protein-binder", {"recipe": glued("wheat-paste", 0.05)}, {"recipe": glued("corn-starch", 0.05)}),
    ("carbon-binder", {"recipe": glued("corn-starch", 0.05)}, {"recipe": glued("rice-paste", 0.05)}),
    ("excluded-grade", {"recipe": MakeUp({"laminated": 0.1, "office": 0.9}, {})}, {"recipe": BOARD}),
    ("thermal-paper", {"recipe": MakeUp({"thermal": 1.0}, {})}, {"recipe": MakeUp({"coated": 1.0}, {})}),
    ("rejects-unknown", {"recipe": MakeUp({OWN_REJECTS: 1.0}, {})}, {"recipe": BOARD}),
    ("inks-not-recorded", {"recipe": BOARD}, {"recipe": BOARD, "inks": "printed"}),
    ("inks-not-recorded", {"recipe": BOARD, "inks": "unknown"}, {"recipe": TISSUE}),
    ("inks-untested", {"recipe": BOARD, "inks": "printed"}, {"recipe": BOARD, "inks": "none"}),
    ("mineral-oil", {"recipe": NEWS}, {"recipe": NEWS, "inks": "none"}),
    ("mineral-oil", {"recipe": NEWS, "inks": "printed"}, {"recipe": BOARD, "inks": "printed"}),
    ("tape-not-recorded", {"recipe": BOARD}, {"recipe": BOARD, "tape_removed": True}),
    ("tape-not-recorded", {"recipe": BOARD}, {"recipe": NEWS}),
    ("tape-left-on", {"recipe": BOARD, "tape_removed": False}, {"recipe": NEWS, "tape_removed": False}),
    ("grease-proof-not-recorded", {"recipe": EGG_BOX}, {"recipe": EGG_BOX, "greaseproof": False}),
    ("grease-proof-not-recorded", {"recipe": EGG_BOX}, {"recipe": BOARD}),
    ("grease-proof", {"recipe": EGG_BOX, "greaseproof": True}, {"recipe": EGG_BOX}),
    ("coating-possible", {"recipe": MakeUp({"boxboard": 1.0}, {})}, {"recipe": BOARD}),
    ("wall-thickness", {"recipe": BOARD, "wall": 4.0}, {"recipe": BOARD}),
    ("wall-not-recorded", {"recipe": BOARD}, {"recipe": BOARD, "wall": 4.0}),
    ("untested", {"recipe": BOARD}, {"recipe": BOARD, "route": "home"}),
    ("home-not-covered", {"recipe": BOARD, "route": "home"}, {"recipe": BOARD}),
    ("untested-home", {"recipe": BOARD, "route": "home"}, {"recipe": BOARD}),
]


@pytest.mark.parametrize(("rule", "where", "where_not"), SPEAKS, ids=[rule for rule, _, _ in SPEAKS])
def test_findings_rule_speaks_where_it_should_and_nowhere_else(
    rule: str, where: dict[str, Any], where_not: dict[str, Any]
) -> None:
    assert rule in rules(rule_found(**where))
    assert rule not in rules(rule_found(**where_not))


@pytest.mark.parametrize(
    ("changes", "outcome"),
    [
        ({"tape_removed": False}, BLOCKED),
        ({"greaseproof": True}, BLOCKED),
        ({"inks": "unknown"}, UNKNOWN),
        ({"inks": None}, UNKNOWN),
        ({"tape_removed": None}, UNKNOWN),
        ({"greaseproof": None}, OPEN),
        ({"inks": "none"}, OPEN),
        ({}, OPEN),
    ],
)
def test_findings_recorded_facts_settle_the_outcome(changes: dict[str, Any], outcome: str) -> None:
    recorded = {"inks": "printed", "tape_removed": True, "greaseproof": False, **changes}
    assert rule_found(BOARD, **recorded).outcome == outcome


def test_findings_workshop_that_records_nothing_is_told_what_is_missing_by_name() -> None:
    finding = rule_found(MakeUp({"corrugated": 0.5, "moulded-fibre": 0.5}, {}))
    assert finding.outcome == UNKNOWN
    asked = " ".join(finding.asked)
    for key in (
        "inks in [materials]",
        "tape_removed in [materials]",
        "greaseproof in [materials]",
        "wall of parts.csv",
    ):
        assert key in asked
    settled = rule_found(BOARD, wall=3.0, inks="none", tape_removed=True)
    assert settled.asked == ()


@pytest.mark.parametrize(("last", "blocked"), [(0.006, True), (0.004, False)])
def test_findings_many_small_constituents_are_added_up(last: float, blocked: bool) -> None:
    # Five untested additives at 0.9 % and one at 0.6 %: 5.1 % together, above the 5 % of EN 13432 (from memory).
    shares = {f"additive-{number}": 0.009 for number in range(5)} | {"additive-5": last}
    finding = rule_found(MakeUp({"tissue": 1.0 - sum(shares.values())}, shares))
    assert ("constituent-total" in rules(finding)) is blocked
    assert (finding.outcome == BLOCKED) is blocked
    if blocked:
        assert "5.1\u00a0%" in text_of(finding, "constituent-total")


def test_findings_glue_carried_in_by_own_rejects_still_blocks() -> None:
    finding = rule_found(MakeUp({"tissue": 0.9}, {"corn-starch": 0.08, "pva-glue": 0.02}))
    assert finding.outcome == BLOCKED
    assert finding.binder_share == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("country", "has", "lacks"),
    [
        # EN 13432:2000, Table A.1: zinc 150, copper 50. Half of 40 CFR 503.13, Table 3: zinc 1400, copper 750.
        ("DEU", ("Zn 150", "Cu 50", "F 100"), "Zn 1\u202f400"),
        ("GBR", ("Zn 150", "Cd 0.5"), "Zn 1\u202f400"),
        ("USA", ("Zn 1\u202f400", "Cu 750", "Cd 19.5"), "Zn 150,"),
        ("CAN", ("Zn 1\u202f400", "withdrawn"), "Zn 463"),
        ("JPN", ("Zn 150", "of the country itself: Pb 10"), "Zn 1\u202f400"),
    ],
)
def test_findings_metals_are_those_of_the_place_and_never_the_withdrawn_ones(
    country: str, has: tuple[str, ...], lacks: str
) -> None:
    text = text_of(rule_found(BOARD, country=country), "metals-untested")
    assert [words for words in has if words not in text] == []
    assert lacks not in text


@pytest.mark.parametrize(("country", "figure"), [("USA", "100 mg/kg"), ("DEU", "50 mg/kg")])
def test_findings_fluorine_limit_is_that_of_the_place(country: str, figure: str) -> None:
    assert figure in text_of(rule_found(EGG_BOX, country=country, greaseproof=True), "grease-proof")


@pytest.mark.parametrize(("country", "words"), [("USA", "180 days"), ("DEU", "6 months")])
def test_findings_tests_needed_are_those_of_the_place(country: str, words: str) -> None:
    assert words in text_of(rule_found(BOARD, country=country), "untested")


def test_findings_starch_rice_and_glue_differ_by_what_they_are() -> None:
    starch, rice, glue = (rule_found(glued(binder, 0.09)) for binder in ("corn-starch", "rice-paste", "pva-glue"))
    assert len({tuple(rules(finding)) for finding in (starch, rice, glue)}) == 3
    assert "1.20\u00a0% nitrogen" in text_of(rice, "protein-binder")
    assert "mould sooner" in text_of(rice, "protein-binder")
    assert "0.05\u00a0% nitrogen" in text_of(starch, "carbon-binder")


def test_findings_recorded_wall_is_named_with_its_figure() -> None:
    text = text_of(rule_found(BOARD, wall=3.0), "wall-thickness")
    assert "3 mm" in text
    assert "sheet of paper says nothing" in text


def test_findings_limit_that_nobody_saw_published_is_said_to_be_from_memory() -> None:
    said = {reason.rule: reason.statement for reason in found("pva-glue", 0.1).reasons}
    assert said["untested-polymer"].endswith(" Limit from memory.")
    # Disintegration, EN 13432: 90 % through 2 mm after 12 weeks, seen in a sheet of a certifier.
    assert "memory" not in said["wall-not-recorded"]
    seen = FactorSet(
        {key: tuple(replace(row, evidence="seen") for row in rows) for key, rows in factors().by_key.items()},
        factors().sources,
    )
    assert all("memory" not in reason.statement for reason in found("pva-glue", 0.1, tables=seen).reasons)


def test_what_is_not_recorded_names_its_parts_where_of_others_it_is() -> None:
    def of(part: str, *asks: str) -> Finding:
        reasons = tuple(Reason("rule", Said("said"), "seen", asks=asked) for asked in asks)
        return Finding(part, "none", "industrial", 0.0, "unknown", reasons)

    asked = asked_of([of("cup", "wall", "inks"), of("lid", "inks"), of("tray", "inks", "wall")])
    assert [str(one) for one in asked] == [
        "wall of cup, tray",
        "inks",
    ]
