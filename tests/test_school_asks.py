"""What published forms and guides of schools ask of whoever comes to work with pupils, one by one: each is answered in the demo's
report for a school, or said not to be recorded.

`school_asks.csv` holds each ask in our words with its source, the heading that it stands under, and the words of the answer,
with bars between several.
"""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from functools import cache
from html import unescape
from pathlib import Path

import pytest

from impact.api import load
from impact.records.demonstration import DEMO
from impact.report.request import Request
from tests.reports import plain_html_of, web_page

with Path(__file__).with_name("school_asks.csv").open(encoding="utf-8", newline="") as table:
    ASKS = tuple(csv.DictReader(table))

NOT_RECORDED = {"background checks", "liability insurance"}
"""What the demo leaves open on purpose."""


def words_of(html: str) -> str:
    """Return the words of a piece of a page, cells parted by a blank."""
    plain = re.sub(r"</?(?:span|strong|bdi)[^>]*>", "", html)
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", plain)).replace("\u00a0", " ").split())


@cache
def sections() -> dict[str, str]:
    """Return the words under each heading of the demo's report."""
    page = web_page("demo", "school")
    pieces = re.split(r'<h2 id="(\w+)">', page[page.index("<main") :])
    return {name: words_of(piece) for name, piece in zip(pieces[1::2], pieces[2::2], strict=True)}


@pytest.mark.parametrize("ask", ASKS, ids=[one["ask"] for one in ASKS])
def test_ask_of_schools_is_answered_in_the_report_of_the_demo(ask: dict[str, str]) -> None:
    said = sections()[ask["section"]]
    assert [words for words in ask["answer"].split(" | ") if words not in said] == []
    assert ("not recorded" in ask["answer"]) is (ask["ask"] in NOT_RECORDED)


def test_asks_of_schools_each_have_a_published_source() -> None:
    assert len({ask["ask"] for ask in ASKS}) == len(ASKS) >= 30
    assert [ask["ask"] for ask in ASKS if not ask["source"] or not ask["address"].startswith("http")] == []


def test_workshop_that_states_nothing_has_no_answer_made_up() -> None:
    shop = load(DEMO).assess(draws=20)
    page = plain_html_of(replace(shop, workshop=replace(shop.workshop, visit=None)), Request("school"))
    rows = re.findall(r'<tr class="open"><th scope="row">(.*?)</th><td class="long">(.*?)</td>', page)
    assert len(rows) == 16  # all but the power of the devices that batches name
    assert {answer for _, answer in rows} == {"not recorded"}
