"""The binder report: two pages, figures of the comparison, a workshop with little on record."""

from __future__ import annotations

import math
import re
from datetime import date
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from impact.account.results import Results
from impact.api import load
from impact.base.catalogue import read_names
from impact.base.figurenames import leaves
from impact.base.printing import Printer
from impact.base.serial import plain
from impact.decisions.binders import compare_binders
from impact.factors.factorset import read_factors
from impact.records.demonstration import DEMO
from impact.records.selection import filter_batches
from impact.records.workshop import Workshop
from impact.report.binder.chart import title_of_binders
from impact.report.context import compose
from impact.report.request import NothingToSayError, Request
from impact.report.ties import WORDS
from impact.study import assess
from tests.frames import PLAIN, batches, part, workshop
from tests.reading import figures_on
from tests.reports import FEW, pdf_of_results, plain_html_of, report, verified, web_page
from tests.sheets import count, texts

DRAWS = FEW.draws
STARCH = {**PLAIN, "binder": "corn-starch", "binder_kg": 0.5, "binder_solids": 0.1}
GLUE = {**PLAIN, "binder": "pva-glue", "binder_kg": 0.1, "binder_solids": 0.5}


@cache
def demo() -> Results:
    return load(DEMO).assess(draws=DRAWS)


def demo_page() -> str:
    return web_page("demo", "binder")


def results(rows: list[dict[str, Any]], shop: Workshop | None = None) -> Results:
    return assess(shop or workshop(), batches(rows), read_factors(), draws=DRAWS, names=read_names())


def text_of(html: str) -> str:
    """Return the words of a page, blanks of any kind as one space."""
    return " ".join(re.sub(r"<[^>]+>", "", html[html.index("<body") :]).split())


@cache
def tiny() -> str:
    """Return the page of three batches: two with glue, one with starch."""
    return plain_html_of(results([GLUE, GLUE, STARCH]), Request("binder"))


def test_produce_demo_has_two_pages_that_agree_with_its_records() -> None:
    found = verified("demo", "binder")
    assert count(report("demo", "binder")) == 2
    assert found.disagreements == ()
    assert found.pages[0] == found.pages[1] > 100


def test_produce_demo_second_page_begins_with_the_pairs() -> None:
    first, second = texts(report("demo", "binder"))
    assert "The trade-offs" in first
    assert "Pair by pair" not in first
    assert "How to read this" in second


def test_compose_demo_figures_are_those_of_the_comparison() -> None:
    shop = load(DEMO)
    expected = leaves(plain(compare_binders(shop.workshop, shop.batches, shop.factors, "crate-corner", draws=DRAWS)))
    found = leaves(compose(demo(), Request("binder")).document["choice"])
    assert {name: found[name] for name in expected} == expected


def test_compose_part_is_the_one_asked_for_however_it_is_spelt() -> None:
    assert compose(demo(), Request("binder", part="Tool Tray")).document["choice"]["part"] == "tool-tray"


def test_compose_unknown_part_is_one_line_with_the_nearest_name() -> None:
    with pytest.raises(NothingToSayError) as caught:
        compose(demo(), Request("binder", part="tool-tary"))
    assert str(caught.value).startswith('read "tool-tary": no batch makes this part; accepted: ')
    assert 'did you mean "tool-tray"' in str(caught.value)
    assert "\n" not in str(caught.value)


def test_compose_part_without_a_good_one_says_that_nothing_can_be_compared() -> None:
    with pytest.raises(NothingToSayError, match="no good part or no fresh paper of pot is on record"):
        compose(results([{**GLUE, "good_parts": 0.0, "rejects": 11.0}]), Request("binder"))


def named(binder: str) -> str:
    return read_names().short("binder", binder, "en")


def test_html_of_pairs_compare_in_the_words_of_their_chance() -> None:
    html = text_of(demo_page())
    document = compose(demo(), Request("binder")).document["choice"]
    tried = {one["binder"] for one in document["binders"] if one["dose_from"] != "literature"}
    assert len(tried) == 3
    for pair in document["pairs"]:
        if "pva-glue" not in (pair["a"], pair["b"]):
            continue
        if not {pair["a"], pair["b"]} <= tried:
            continue
        other = named(pair["b"] if pair["a"] == "pva-glue" else pair["a"])
        chance = pair["chance_a_lower"]
        lower = pair["a"] if chance >= 0.9 else pair["b"] if chance <= 0.1 else None
        said = "the footprints cannot be told apart" if lower is None else f"{named(lower)} has the lower footprint"
        assert f"PVA glue or {other}: {said}" in html


def test_html_of_differences_are_from_the_same_draws() -> None:
    document = compose(demo(), Request("binder")).document["choice"]
    footprints = {one["binder"]: one["footprint_kgco2e"] for one in document["binders"]}
    gap = document["differences_kgco2e"]["corn-starch"]
    central = footprints["corn-starch"]["value"] - footprints["pva-glue"]["value"]
    assert gap["value"] == pytest.approx(central)
    widths = [one["high"] - one["low"] for one in (gap, footprints["corn-starch"])]
    assert widths[0] < 0.5 * widths[1]


def test_html_of_every_tied_figure_is_a_result() -> None:
    names = {name for name, _ in figures_on(tiny())}
    assert {name for name in names if not name.startswith(WORDS)} <= set(
        leaves(compose(results([GLUE, GLUE, STARCH]), Request("binder")).document)
    )
    assert "choice.binders.pva-glue.reject_rate.low" in names


def test_html_of_three_batches_says_what_to_test_next() -> None:
    said = text_of(tiny())
    assert "More batches with pva" not in said
    assert "More batches with PVA glue and corn starch: fewer than 5 of this part are on record" in said
    assert "A strength test with PVA glue and corn starch" in said
    assert "A price for PVA glue and corn starch" in said
    assert (
        "A trial of rice paste, wheat paste, potato starch, corn paste, barley starch, gelatin, agar and methyl" in said
    )
    assert "Untried here, with doses from the tables: rice paste, wheat paste, potato starch" in said
    assert "PVA glue and corn starch (p 1.0), too close for a trial of a workshop's size." in said
    assert "rejects: too few batches" in said


def test_html_of_a_reference_that_nobody_used_is_among_the_untried() -> None:
    said = text_of(plain_html_of(results([PLAIN, PLAIN]), Request("binder")))
    assert "Each line puts one choice beside PVA glue." in said
    assert "Untried here, with doses from the tables: PVA glue, corn starch, rice paste" in said


def test_html_of_one_binder_on_record_announces_no_line() -> None:
    said = text_of(plain_html_of(results([GLUE, GLUE]), Request("binder")))
    assert "Each line puts" not in said
    assert "There is no overall score" in said


def test_html_of_rejects_that_nobody_recorded_are_one_estimate() -> None:
    said = text_of(plain_html_of(results([{**GLUE, "rejects": math.nan}]), Request("binder")))
    assert "No rejects are on record: all binders are charged one estimate." in said
    assert "charged the mean rejects" in text_of(tiny())


def test_html_of_days_are_those_of_the_batches_of_the_part() -> None:
    assert "Test bench, March 2, 2026. Good parts on record" in text_of(
        plain_html_of(results([GLUE]), Request("binder"))
    )
    days = sorted(filter_batches(load(DEMO).batches, part="crate-corner")["date"].astype(str))
    printer = Printer(us=False, country="USA")
    first, last = (printer.day(date.fromisoformat(day[:10])) for day in (days[0], days[-1]))
    assert f", {first} to {last}. Good parts on record" in text_of(demo_page())


def test_html_of_settings_to_record_says_where_they_stand() -> None:
    said = text_of(plain_html_of(results([GLUE]), Request("binder")))
    assert ("([materials] stands in workshop.toml)" in said) == ("in [materials]" in said)
    assert "([materials] stands in workshop.toml)" not in text_of(demo_page())


def test_evidence_of_a_binder_used_as_it_comes_needs_no_preparation() -> None:
    known = compose(results([GLUE, STARCH]), Request("binder")).document["choice"]["evidence"]
    assert known["pva-glue"]["preparation_from"] == "not needed"
    assert "binder.preparation.pva-glue" not in known["pva-glue"]["not_seen"]
    assert known["corn-starch"]["preparation_from"] == "table"
    assert "binder.preparation.corn-starch" in known["corn-starch"]["not_seen"]


def test_html_of_rows_not_seen_are_those_of_the_tables() -> None:
    document = compose(demo(), Request("binder")).document["choice"]
    factors = read_factors()
    for binder, known in document["evidence"].items():
        assert known["not_seen"] or binder not in ("pva-glue", "rice-paste")
        for name in known["not_seen"]:
            (row,) = [row for row in factors if row.id == name]
            assert row.evidence in ("from memory", "common practice")
            assert row.key.split(".")[-1] == binder


def test_html_of_batches_behind_each_binder_are_those_on_record() -> None:
    document = compose(demo(), Request("binder")).document["choice"]
    frame = load(DEMO).batches
    for binder, known in document["evidence"].items():
        own = filter_batches(frame, part="crate-corner")["binder"].eq(binder).sum()
        assert (known["batches"], known["batches"] + known["other_batches"]) == (own, frame["binder"].eq(binder).sum())


def test_html_of_recorded_prices_and_loads_have_a_column_of_their_own() -> None:
    tested = [{**GLUE, "test_load_n": newtons, "test_span_mm": 80.0} for newtons in (10.0, 14.0)]
    said = text_of(plain_html_of(results([*tested, STARCH]), Request("binder")))
    assert "Failure load, N" in said
    assert "12.0 ± 2.8" in said
    assert "span 80 mm" in said
    assert "A strength test with corn starch" in said
    assert "Failure load, N" not in text_of(tiny())


def test_html_of_chart_says_its_finding_and_every_figure_in_words() -> None:
    (words,) = re.findall(r'role="img" aria-label="([^"]+)"', demo_page())
    assert re.search(r"corn starch \S+\sg CO₂e \(\S+ to \S+\), difference \S+\sg CO₂e \(\S+ to \S+\);", words)
    assert re.search(r"PVA glue \S+\sg CO₂e \(\S+ to \S+\);", words)
    title = re.findall(r'<p class="finding">([^<]+)</p>', demo_page())
    told = (
        r"Footprint beside that of PVA glue: 1 lower \(methyl cellulose\), 1 higher \(rice paste\), \d not told apart"
    )
    assert re.fullmatch(told, *title)


def test_title_names_the_binders_of_each_side_and_says_nothing_beside_none() -> None:
    said = title_of_binders("glue", ["agar", "starch"], [], 3, "en")
    assert said == "Footprint beside that of glue: 2 lower (agar, starch), 3 not told apart"
    assert title_of_binders("glue", [], [], 0, "en") == ""


def test_html_of_a_binder_that_lowers_the_footprint_shows_the_sign() -> None:
    html = text_of(plain_html_of(results([GLUE, PLAIN]), Request("binder")))
    found = re.search(r"no binder minus PVA glue: (\S+) g CO₂e, (\S+) to (\S+)\)", html)
    assert found is not None
    assert found[1].startswith("\N{MINUS SIGN}")
    assert found[2].startswith("\N{MINUS SIGN}")


def crowded(number: int | None, **changes: Any) -> Results:
    """Return a workshop that tried a number of binders, or all, with a test of each and rejects that differ little."""
    rows = []
    for place, binder in enumerate(list(read_names().binders)[:number]):
        used = {} if binder == "none" else {"binder_kg": 0.2, "binder_solids": 0.2}
        for newtons in (10.0, 14.0):
            rows.append({**PLAIN, **used, "binder": binder, "rejects": place % 4 + 1.0, "test_load_n": newtons})
    pot = part("pot", polymer="", process="", plastic_mass_kg=None, equivalence="")
    return results(rows, workshop(pot, **changes))


@pytest.mark.parametrize("changes", [{"units": "us", "country": "USA"}, {"country": "GBR", "invented": True}])
def test_pdf_of_many_binders_tried_takes_two_pages_at_most_and_of_every_one_three(changes: dict[str, Any]) -> None:
    assert count(pdf_of_results(crowded(3, **changes), Request("binder"))) <= 2
    assert count(pdf_of_results(crowded(None, **changes), Request("binder"))) <= 3


def test_pdf_of_three_batches_takes_two_pages_at_most() -> None:
    assert count(pdf_of_results(results([GLUE, GLUE, STARCH]), Request("binder"))) <= 2


def test_page_headings_skip_no_level() -> None:
    levels = [int(level) for level in re.findall(r"<h([1-6])", tiny())]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_template_text_is_marked_for_translation() -> None:
    template = (Path(__file__).parents[1] / "report_templates" / "binder.html").read_text(encoding="utf-8")
    plain = re.sub(r"{#.*?#}|{% trans.*?endtrans.*?%}|{{.*?}}|{%.*?%}|<[^>]+>", " ", template, flags=re.DOTALL)
    assert re.findall(r"[A-Za-z]{3,}", plain) == []
