"""The annex of the funder report at the edges of what workshops record: it explains what is there, and leaves out what is not."""

from __future__ import annotations

import html
import re

import pytest

from impact.report.words import typed
from tests import edges
from tests.edges import EDGES, pages
from tests.reports import web_page
from tests.sheets import texts
from tests.test_edges import body, words

SOME = ("no-good-part", "no-plastic", "nothing-recorded", "one-batch", "forty-parts", "in-IND")
"""Edges whose annex differs most."""

some_edges = pytest.mark.parametrize("edge", SOME)


def annex(edge: str) -> str:
    return body(pages(edge)["funder"]).partition('<section id="annex"')[2]


def section(edge: str, name: str) -> str:
    """Return a section of the annex; nothing where there is none."""
    return annex(edge).partition(f'<section id="{name}"')[2].partition("</section>")[0]


def headers(part: str) -> list[str]:
    return [html.unescape(re.sub("<[^>]+>", "", one)) for one in re.findall(r'<th scope="col"[^>]*>(.*?)</th>', part)]


def columns(edge: str, name: str) -> dict[str, list[str]]:
    """Return the cells of the first table of a section, by column."""
    table = section(edge, name).partition("<table")[2].partition("</table>")[0]
    rows = [
        [re.sub("<[^>]+>", "", cell).strip() for cell in re.findall(r"<t[hd]\b[^>]*>(.*?)</t[hd]>", row, re.DOTALL)]
        for row in re.findall(r"<tr\b.*?</tr>", table, re.DOTALL)
    ]
    return {header: [row[place] for row in rows[1:]] for place, header in enumerate(rows[0])}


@pytest.mark.parametrize("edge", EDGES)
def test_every_heading_of_a_funder_report_has_something_under_it(edge: str) -> None:
    page = body(pages(edge)["funder"])
    assert len(re.findall(r"<h[234]", page)) > 20
    assert re.findall(r"<h([34])[^>]*>[^<]*</h\1>\s*(?:</section>|</main>|<h[23])", page) == []


@pytest.mark.parametrize("edge", EDGES)
def test_every_link_within_a_funder_report_leads_somewhere(edge: str) -> None:
    page = pages(edge)["funder"]
    targets = set(re.findall(r'href="#([^"]+)"', page))
    assert len(targets) > 15
    assert targets - set(re.findall(r'\bid="([^"]+)"', page)) == set()


def test_sections_of_parts_are_left_out_where_no_part_is_good() -> None:
    sections = {"parts-data", "decisions", "compost-data"}
    made, none = (set(re.findall(r'<section id="([\w-]+)"', annex(edge))) for edge in ("one-batch", "no-good-part"))
    assert made - none == sections
    listed = re.findall(r"<li>Not answered: (.*?)</li>", annex("no-good-part"), re.DOTALL)
    assert ["Share of each stage" in one for one in listed] == [False, True]


@some_edges
def test_text_speaks_of_charts_and_of_crossing_lines_only_where_they_are(edge: str) -> None:
    text = section(edge, "decisions")
    for said, there in (("The charts show", "<figure"), ("the lines cross", ">Plastic<"), ("In the table of break-even points", 'class="small long crossings"')):  # fmt: skip
        assert (said in text) is (there in (body(pages(edge)["funder"]) if there == ">Plastic<" else text))
    led = "All steps, and where parts break even" in body(pages(edge)["funder"])
    assert led is ('id="crossings-title"' in text)


def test_net_without_the_plastic_has_a_column_only_where_there_is_plastic() -> None:
    assert "Without the plastic" in headers(section("one-batch", "account-data"))
    assert "Without the plastic" not in headers(section("no-plastic", "account-data"))
    assert "plastic displaced" not in section("no-plastic", "account-data")


def test_findings_have_a_column_of_reasons_only_where_parts_differ_in_them() -> None:
    assert [edge for edge in SOME if "Reasons" in headers(section(edge, "compost-data"))] == []
    assert "Wall" not in headers(section("one-batch", "compost-data"))


def test_register_has_no_nought_for_what_nobody_recorded() -> None:
    found = columns("nothing-recorded", "register")
    assert set(found["kWh"]) == set(found["Rejects"]) == {"–"}
    assert found["Good"][-1] == "216"
    assert "electricity in all" not in section("nothing-recorded", "paper-data")
    known = columns("one-batch", "register")
    assert [float(cell) for cell in known["kWh"]] == [0.6, 0.6]
    assert known["Rejects"] == ["2", "2"]
    assert "electricity in all" in section("one-batch", "paper-data")


def test_credit_for_electricity_sold_is_said_only_where_some_is_sold() -> None:
    for edge, sold in (("one-batch", True), ("in-IND", False)):
        assert ("Credit for electricity sold" in section(edge, "parts-data")) is sold
        assert ("<li>A credit" in section(edge, "account-data")) is sold
        assert ("electricity that the plant sells" in section(edge, "parts-data")) is sold


@pytest.mark.parametrize(
    ("edge", "row"), [("one-batch", r"caddy\s+1\.50\s+PVA glue\s+0\.60*\s+36\s+2\s+3"), ("long-names", "holder for")]
)
def test_dates_and_short_names_of_the_register_stand_on_one_line(edge: str, row: str) -> None:
    lines = [line for text in texts(edges.report(edge)) for line in text.splitlines()]
    (found,) = (line for line in lines if line.startswith("0001"))
    assert re.match(r"0001\s+2026-01-05\s+" + row, found)


@pytest.mark.parametrize(("as_printed", "kept"), [("[U+925B U+7B46]", False), ("A", True)])
def test_name_of_the_register_that_is_long_as_printed_may_break(
    as_printed: str, kept: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("impact.report.html.spelled", lambda markup: re.sub("[鉛筆立]", as_printed, markup))
    cells = re.findall(r"<td( class=\"whole\")?>鉛筆立て</td>", edges.page_of("japanese", "funder"))
    assert len(cells) >= 6
    assert {bool(cell) for cell in cells} == {kept}


def test_checklist_says_where_no_contact_is_given() -> None:
    missing = "Contact, and who made the inventory (the workshop gives no contact)"
    assert missing in words(pages("one-batch")["funder"])
    assert missing not in words(web_page("demo"))


def test_every_entry_of_the_contents_has_one_line() -> None:
    titles = re.findall(r"<h3[^>]*>([^<]+)</h3>", annex("one-batch"))
    lines = [line for text in texts(edges.report("one-batch"))[:3] for line in text.splitlines()]
    leaders = [line for line in lines if re.search(r"(\.\s+){2}", line)]
    assert len(titles) == 13
    assert [title for title in titles if not any(html.unescape(title) in line for line in leaders)] == []


def test_columns_that_a_reader_types_stand_as_code() -> None:
    text = 'Write it in batches.csv, column "trim to", or columns "one" and "two"; not "this"'
    assert re.findall("<code>(.*?)</code>", html.unescape(str(typed(text)))) == ["batches.csv", '"trim to"', '"one"', '"two"']  # fmt: skip
    assert "column <code>&#34;trim to&#34;</code>" in section("one-batch", "quality")


@some_edges
def test_places_and_editions_are_listed_in_grammatical_words(edge: str) -> None:
    text = words(pages(edge)["funder"])
    assert re.findall(r"(?:for|of|and) United States|clause [\d.]+ and|the world [A-Z]{2}", text) == []
    assert re.search(r"these are used: .*?the world \(AR6\)\.", text)
