"""A report for a grant that pays for half of the work: every amount is the grant's half, or stands where the page says it is whole."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from itertools import chain
from math import isclose
from typing import NamedTuple

import pytest

from impact.api import load
from impact.base.figurenames import leaves
from impact.base.quantities import QUANTITIES
from impact.records.demonstration import DEMO
from impact.report.context import compose
from impact.report.figurekinds import quantity_of
from impact.report.request import Request
from impact.report.ties import MARK, WORDS
from impact.study import Study, counted_for
from tests.reading import names_of
from tests.reports import plain_html_of

SHARE_SAID = re.compile(r"\d+ % of (?:the emissions of )?the whole work", re.IGNORECASE)

ADDING = {
    "paper", "batch paper", "stated mass", "mass as asked", "account", "count", "energy", "distance", "volume", "time",
    "hours", "money",
}  # fmt: skip
"""Kinds of figures that a period adds up; all others are rates, or of one part, one kilogram, one kilowatt-hour."""

NO_AMOUNTS = {
    "settings.draws": "draws of the uncertainty run",
    "story.": "kinds of parts",
    "asked.money.award": "the grant's own",
    "asked.money.match": "the grant's own",
    "asked.money.planned": "the grant's own",
    "asked.money.spent": "the grant's own",
    "breakeven.": "of one part, or of what one batch takes",
}
"""Starts of the names of figures that no share of a grant changes, and what they are."""

ELSEWHERE = (
    "method",
    "factors",
    "glossary",
    "checklist",
    "evidence",
    "compost-data",
    "compost",
    "cautions",
    "lowers",
    "decisions",
)
"""Sections that speak of methods, factors and single parts."""

AMOUNT = re.compile(
    r"(?<![\w.,])([\d,]*\.?\d+)(?: to [−\d.,]+)?(?: \([^)]*\))? ?(kg CO₂e|kg|lb|short tons?|tonnes?|kWh|km|mi|L|gal|h|USD|"
    r"batch(?:es)?|good parts?|attendances)\b(?! ?(?:/|per\b))"
)
"""An amount in text, with its unit."""


class Block(NamedTuple):
    """A paragraph, an item or a row: its section, the words in whose scope it stands, its text, and ids within it."""

    section: str
    scope: str
    text: str
    ids: tuple[str, ...]


class Blocks(HTMLParser):
    """Reads a page as blocks."""

    LEAVES = ("p", "li", "tr", "caption", "figcaption", "dd", "dt", "h1", "h2", "h3", "h4")

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[Block] = []
        self.section, self.intro, self.heading, self.caption = "summary", "", "", ""
        self.tag, self.text, self.ids = "", "", list[str]()
        self.boxed = False
        self.feed(html[html.index("<body") :])

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "section":
            self.section, self.intro, self.heading, self.caption = given.get("id") or "", "", "", ""
        if tag == "table":
            self.caption = ""
        if tag in self.LEAVES:
            self.tag, self.text, self.ids = tag, "", []
        if (name := given.get("id") or "").startswith(MARK):
            self.ids.append(name)
        if tag == "img" and given.get("alt"):
            self.text += str(given["alt"])

    def handle_data(self, data: str) -> None:
        self.text += data.replace("\u00a0", " ")

    def handle_endtag(self, tag: str) -> None:
        if tag == "table":
            self.caption = ""
        if tag != self.tag:
            return
        text = " ".join(self.text.split())
        if tag in ("h3", "h4"):
            self.heading, self.intro = text, self.intro if tag == "h3" else ""
        if tag == "caption":
            self.caption = text
        if tag == "p" and not self.intro:
            self.intro = text
        scope = " | ".join((self.intro, self.heading, self.caption))
        self.found.append(Block(self.section, scope, text, tuple(self.ids)))
        self.tag = ""


@cache
def studies() -> tuple[Study, Study]:
    """Return the demo's results for its grant, and for one that pays for half of the work of the same days."""
    whole = load(DEMO).assess(draws=100, grant="Neighborhood Waste Fund")
    assert whole.grant is not None
    return whole, counted_for(replace(whole, grant=None), replace(whole.grant, share=0.5))


@cache
def figures() -> tuple[dict[str, float | None], dict[str, float | None]]:
    whole, half = (leaves(compose(study, Request()).document) for study in studies())
    return whole, half


@cache
def blocks() -> tuple[list[Block], list[Block]]:
    whole, half = (Blocks(plain_html_of(study)).found for study in studies())
    return whole, half


def is_said_whole(block: Block) -> bool:
    """Return whether a block, or what stands above it, speaks of the whole work other than to say the share of the grant."""
    return "whole work" in SHARE_SAID.sub("", f"{block.text} | {block.scope}")


def test_blocks_of_the_pages_hold_many_amounts() -> None:
    whole, half = blocks()
    assert len(half) > 200
    assert sum(len(names_of(mark)) for block in half for mark in block.ids) > 1000
    assert sum(len(AMOUNT.findall(block.text)) for block in half) > 50
    assert not any(is_said_whole(block) for block in whole)


def test_kinds_that_add_up_are_kinds() -> None:
    assert set(QUANTITIES) >= ADDING


def unsaid(found: list[Block]) -> set[tuple[str, str]]:
    """Return the figures of a page for a half grant that are neither halved nor said to be whole, each with its section."""
    whole, half = figures()
    wrong = set()
    for block in found:
        for name in chain.from_iterable(map(names_of, block.ids)):
            if name not in half or name.startswith(tuple(NO_AMOUNTS)) or quantity_of(name) not in ADDING:
                continue
            before, after = whole[name], half[name]
            if before and after and isclose(after, before / 2.0, rel_tol=1e-9):
                continue
            if before and not (before == after and is_said_whole(block)):
                wrong.add((block.section, name))
    return wrong


def test_every_figure_of_a_half_grant_is_halved_or_said_to_be_of_the_whole_work() -> None:
    assert unsaid(blocks()[1]) == set()


def test_figures_that_are_not_said_to_be_whole_are_found() -> None:
    found = {section for section, _ in unsaid(blocks()[0])}
    assert found >= {"summary", "asked", "made", "paper-data", "register"}


def amounts(text: str) -> list[tuple[float, float, str]]:
    """Return the amounts of a text: number, half a step of its last digit, unit."""
    found = []
    for number, unit in AMOUNT.findall(text):
        _, _, decimals = number.partition(".")
        found.append((float(number.replace(",", "")), 0.5 * 10.0 ** -len(decimals), unit))
    return found


def words_of(block: Block) -> str:
    return block.text.replace("(2,000 lb)", "").replace("(1,000 kg)", "")


def is_half_of(one: tuple[float, float, str], whole: tuple[float, float, str]) -> bool:
    """Return whether an amount may be the half of another as both are rounded."""
    return one[2].rstrip("s") == whole[2].rstrip("s") and abs(2.0 * one[0] - whole[0]) <= 2.0 * one[1] + whole[1] + 1e-9


def test_every_amount_in_the_words_of_a_half_grant_is_halved_or_said_to_be_of_the_whole_work() -> None:
    of_whole = [one for block in blocks()[0] for one in amounts(words_of(block))]
    by_shape: dict[str, list[tuple[float, float, str]]] = {}
    for block in blocks()[0]:
        by_shape.setdefault(re.sub(r"[\d.,]+", "#", block.text), []).extend(amounts(words_of(block)))
    wrong = []
    for block in blocks()[1]:
        if block.section in ELSEWHERE or is_said_whole(block):
            continue
        beside = by_shape.get(re.sub(r"[\d.,]+", "#", block.text), of_whole)
        wrong += [
            (block.section, one[0], one[2], block.text[:120])
            for one in amounts(words_of(block))
            if one[0] and not any(is_half_of(one, other) for other in beside)
        ]
    assert wrong == []


@pytest.mark.parametrize("name", ["headline", "claims.supported.1", "net.note"])
def test_sentences_are_among_what_is_read(name: str) -> None:
    assert any(f"{MARK}{WORDS}{name}" in block.ids for block in blocks()[1])


def test_target_of_the_workshop_is_set_against_the_whole_work() -> None:
    whole, half = figures()
    name = "made.target.share_of_this_period"
    assert half[name] == pytest.approx(whole[name])
    (said,) = [block for block in blocks()[1] if f"{MARK}{name}" in block.ids]
    assert is_said_whole(said)
