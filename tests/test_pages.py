"""The pages of the funder report: how many, how full, where the annex begins, and the first page on its own."""

from __future__ import annotations

import re
from contextlib import closing
from io import BytesIO
from math import hypot

import numpy as np
import pypdfium2
import pypdfium2.raw as raw
import pytest

from impact.report.kinds import KINDS
from impact.report.verification import verify
from tests import edges
from tests.reports import brief, brief_page, refused, report
from tests.sheets import texts

MOST = {"demo": 13, "tiny": 12, "large": 16}
"""Pages of each workshop's report. Our own choice."""

MANY = 30
"""Pages of a report of forty parts, and pages of a school's and of a binder's report of the demo. Our own choice."""
OTHERS = {"school": 3, "binder": 2}

SMALLEST = {"funder": 7.0, "school": 7.0, "binder": 7.0}
"""Least size of letters on paper, by report, in [pt]. Our own choice; a tenth is allowed for rounding."""

FOR_TABLES = 8.0
"""Least size of letters in the tables of the story. Our own choice. [pt]"""

STORY = 6
"""Pages before the annex, the first included. Our own choice."""

EMPTIEST = 0.25
"""Share of a page's height that may be empty at its foot. Our own choice."""

POINTS_PER_MM = 72.0 / 25.4
TOP, FOOT = 11.0 * POINTS_PER_MM, 12.0 * POINTS_PER_MM
"""Margins of the report, between which its text stands. [pt]"""


def sizes(pdf: bytes) -> list[dict[float, str]]:
    """Return the letters of each page by their size, from the text matrix. [pt]"""
    found = []
    with closing(pypdfium2.PdfDocument(pdf)) as document:
        for sheet in document:
            text, matrix, by_size = sheet.get_textpage(), raw.FS_MATRIX(), dict[float, str]()
            for place in range(text.count_chars()):
                raw.FPDFText_GetMatrix(text, place, matrix)
                size = round(raw.FPDFText_GetFontSize(text, place) * hypot(matrix.c, matrix.d), 1)
                by_size[size] = by_size.get(size, "") + chr(raw.FPDFText_GetUnicode(text, place))
            found.append({size: letters for size, letters in by_size.items() if letters.strip()})
    return found


every_size = pytest.mark.parametrize("size", MOST)


def emptiness(pdf: bytes) -> list[float]:
    """Return the share of each page's height, between its margins, that lies below its lowest ink."""
    found = []
    with closing(pypdfium2.PdfDocument(pdf)) as document:
        for sheet in document:
            pixels = sheet.render(scale=1.0, grayscale=True).to_numpy()
            inside = pixels[int(TOP) : int(len(pixels) - FOOT)]
            inked = np.flatnonzero((inside < 200).reshape(len(inside), -1).any(axis=1))
            found.append(1.0 - (inked[-1] + 1) / len(inside) if len(inked) else 1.0)
    return found


def test_emptiness_of_a_page_with_nothing_on_it_is_whole() -> None:
    document = pypdfium2.PdfDocument.new()
    document.new_page(612, 792)
    written = BytesIO()
    document.save(written)
    assert emptiness(written.getvalue()) == [1.0]


@every_size
def test_report_has_no_more_pages_than_it_promises(size: str) -> None:
    assert len(texts(report(size))) <= MOST[size]


@every_size
def test_report_story_comes_first_and_is_short(size: str) -> None:
    annex = [number for number, text in enumerate(texts(report(size))) if "\nTechnical annex\n" in f"\n{text}\n"]
    assert annex
    assert max(annex) <= STORY


@every_size
def test_report_no_page_but_the_last_has_a_quarter_empty(size: str) -> None:
    *pages, _ = emptiness(report(size))
    assert [number for number, share in enumerate(pages, 1) if share > EMPTIEST] == []


@pytest.mark.parametrize("edge", ["one-batch", "no-plastic", "long-names", "forty-parts"])
def test_report_of_an_edge_no_page_but_the_last_has_a_quarter_empty(edge: str) -> None:
    *pages, _ = emptiness(edges.report(edge))
    assert [number for number, share in enumerate(pages, 1) if share > EMPTIEST] == []


def test_first_page_shows_the_flow_of_paper_where_few_parts_leave_it_room() -> None:
    few, many = (texts(edges.report(edge)) for edge in ("one-batch", "forty-parts"))
    assert ["parts go in the end to" in text for text in few[:3]] == [True, False, False]
    assert ["parts go in the end to" in text for text in many[:4]] == [False, False, False, True]


def test_report_of_forty_parts_is_no_book() -> None:
    assert len(texts(edges.report("forty-parts"))) <= MANY


@pytest.mark.parametrize("reader", OTHERS)
def test_other_reports_of_the_demo_have_few_pages(reader: str) -> None:
    assert len(texts(report("demo", reader))) == OTHERS[reader]


@pytest.mark.parametrize("reader", SMALLEST)
def test_no_letter_on_paper_is_too_small_to_read(reader: str) -> None:
    small = [(page, size, letters[:20]) for page, of_size in enumerate(sizes(report("demo", reader)), 1)
             for size, letters in of_size.items() if size < SMALLEST[reader] - 0.05]  # fmt: skip
    assert small == []


def test_tables_of_the_story_are_larger_than_those_of_the_annex() -> None:
    first = sizes(report("demo"))[:4]  # cautions and annex begin behind these
    assert min(size for of_size in first for size in of_size) >= 7.45  # letters of charts
    tabled = {
        size for of_size in first for size, letters in of_size.items() if "Rejected" in letters or "Line" in letters
    }
    assert min(tabled) >= FOR_TABLES


@pytest.mark.parametrize("reader", KINDS)
def test_brief_is_one_page_that_carries_its_records(reader: str) -> None:
    pdf = brief("tiny", reader)
    (text,) = texts(pdf)
    assert "Invented data" in text
    found = verify(pdf)
    assert found.disagreements == ()
    assert found.pages.agree == found.pages.of > 5
    assert [refused(pdf, profile) for profile in ("ua1", "3a")] == [[], []]


def test_first_page_for_a_grant_ends_where_the_contents_begin() -> None:
    first, second, *_ = texts(edges.report("two-grants"))
    assert "Brackets and lines" in first
    assert second.lstrip().startswith("Contents")


def test_brief_of_the_demo_is_one_page_that_leads_nowhere_else() -> None:
    assert len(texts(brief("demo"))) == 1
    assert re.findall(r'<a [^>]*href="#(?!main")[^"]*"', brief_page("demo")) == []
