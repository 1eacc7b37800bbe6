"""Reports in plain words: no key, no id of the catalogue and no name of a column stands in running text."""

from __future__ import annotations

import re
from html import unescape

import pytest

from impact.base.spellings import shown
from impact.report.words import typed
from tests.reading import NAMES, raw, running_text
from tests.reports import web_page

WORKSHOPS = ("demo", "tiny", "large")
READERS = (("funder", "en"), ("school", "en"), ("school", "es"), ("school", "de"), ("binder", "en"))


@pytest.mark.parametrize("workshop", WORKSHOPS)
@pytest.mark.parametrize(("reader", "language"), READERS)
def test_running_text_has_no_id_no_key_and_no_column(workshop: str, reader: str, language: str) -> None:
    text = running_text(web_page(workshop, reader, language))
    assert len(text) > 3000
    assert raw(text) == []


def test_raw_finds_ids_keys_columns_cells_and_countries_and_no_words() -> None:
    found = raw("pva-glue by binder.footprint.pva-glue, see good_parts in batches.csv, row 12 of USA")
    assert found == [
        "binder.footprint.pva-glue",
        "pva-glue",
        "binder.footprint.pva-glue",
        "good_parts",
        "batches.csv, row 12",
        "USA",
    ]
    assert raw("PVA glue on a low-density tray, 3.5 kg AND more") == []


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
