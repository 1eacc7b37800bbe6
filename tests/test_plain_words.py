"""Reports in plain words: no key, no id of the catalogue and no name of a column stands in running text."""

from __future__ import annotations

import re
from functools import cache
from html import unescape

import pytest

from impact.base.catalogue import read_names
from impact.base.wording import shown
from impact.factors.factorset import read_factors
from impact.factors.keys import pattern_of
from impact.report.words import typed
from tests.reports import web_page

NAMES = read_names()
POLYMERS = frozenset(NAMES.polymers)
"""Ids that are words of the trade already."""

WORKSHOPS = ("demo", "tiny", "large")
READERS = (("funder", "en"), ("school", "en"), ("school", "es"), ("binder", "en"))


@cache
def coded() -> frozenset[str]:
    """Ids that differ from their plain word in the tables, joined by hyphens; and every key of the shipped rows."""
    kinds = (
        NAMES.grades,
        NAMES.binders,
        NAMES.dryers,
        NAMES.processes,
        NAMES.climates,
        NAMES.landfill_sites,
        NAMES.greens,
    )
    ids = {name for kind in kinds for name in kind if "-" in name} - POLYMERS
    return frozenset(ids | {row.key for row in read_factors() if "." in row.key} | set(NAMES.regions))


def text_of(page: str) -> str:
    """Return the running text of a page with what readers of pictures hear; code is left out."""
    body = page[page.index("<body") :]
    body = re.sub(r"<(style|script|code).*?</\1>", " ", body, flags=re.DOTALL)
    heard = " ".join(re.findall(r'\balt="([^"]*)"', body))
    return unescape(re.sub(r"<[^>]*>", " ", body) + " " + heard)


@pytest.mark.parametrize("workshop", WORKSHOPS)
@pytest.mark.parametrize(("reader", "language"), READERS)
def test_running_text_has_no_id_no_key_and_no_column(workshop: str, reader: str, language: str) -> None:
    text = text_of(web_page(workshop, reader, language))
    assert len(text) > 3000
    words = set(re.findall(r"[A-Za-z0-9]+(?:[-.][A-Za-z0-9]+)+", text))
    assert words & coded() == set()
    assert {word for word in words if pattern_of(word) is not None} == set()
    assert re.findall(r"\b[a-z]+_[a-z_]+", text) == []
    assert re.findall(r"\b\w+\.(?:toml|csv)\b[^.;]{0,12}\b(?:line|row)s? \d+", text) == []
    known = set(NAMES.countries) - {"AND"}
    assert set(re.findall(r"\b[A-Z]{3}\b", text)) & known == set()


@pytest.mark.parametrize("workshop", WORKSHOPS)
def test_grades_and_binders_of_a_report_stand_by_their_names(workshop: str) -> None:
    cells = {unescape(cell) for cell in re.findall(r"<t[hd][^>]*>([^<]*)</t[hd]>", web_page(workshop))}
    ids = {(kind, one) for kind, of in (("grade", NAMES.grades), ("binder", NAMES.binders)) for one in of}
    assert cells.isdisjoint({one for kind, one in ids if NAMES.short(kind, one, "en") != one})
    assert cells & {NAMES.short("grade", grade, "en") for grade in NAMES.grades}
    assert cells & {NAMES.short("binder", binder, "en") for binder in NAMES.binders}


@pytest.mark.parametrize(
    ("part", "among", "text"),
    [
        ("tool-tray", (), "tool tray"),
        ("tool_tray", ("pot",), "tool tray"),
        ("tool-tray", ("tool_tray",), "tool-tray"),
        ("tray-2", (), "tray-2"),
        ("x--y", (), "x y"),
    ],
)
def test_part_stands_as_a_reader_writes_it_unless_two_look_alike(part: str, among: tuple[str, ...], text: str) -> None:
    assert shown(part, (*among, part)) == text


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("State heated_room = true under [drying].", ["heated_room = true", "[drying]"]),
        ('state to = "next pulp", under [fines].', ['to = "next pulp"', "[fines]"]),
        ("under binder.footprint.pva-glue into factors.csv.", ["binder.footprint.pva-glue", "factors.csv"]),
        ("batches.csv, row 12: 3.5 kg < 4", ["batches.csv, row 12"]),
        ("Weigh trim, or write 0 (e.g. now).", []),
    ],
)
def test_what_a_reader_types_stands_as_code(text: str, code: list[str]) -> None:
    found = str(typed(text))
    assert re.findall(r"<code>(.*?)</code>", unescape(found)) == code
    assert unescape(re.sub("</?code>", "", found)) == text
    assert "<" not in re.sub("</?code>", "", found)
