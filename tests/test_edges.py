"""Every kind of report at every edge of what workshops record: it is made, and nothing in it is empty, broken or unexplained.

Checked against, from outside:

- PDF/UA-1 and PDF/A-3a at the edges: the rules of page-validation, and of outloud
- decimal marks of places: Unicode CLDR

All edges in all kinds, as PDF, are measured by `tests/benchmarks/edge_pages.py`.
"""

from __future__ import annotations

import base64
import html
import re
from pathlib import Path

import pytest

from impact.report.kinds import KINDS
from tests import edges
from tests.edges import EDGES, pages
from tests.reading import decimals, raw, running_text, texts_by_name
from tests.reports import refused
from tests.test_archive import findings


def errors(pdf: bytes, folder: Path) -> list[str]:
    """Return the rules that the second checker says a PDF breaks, but for TBL-010.

    That one counts cells: where headers outnumber data it sees headings cut into pieces, and so it does in a table of one
    part, or of two columns with a header to each row. `test_report_of_an_edge_has_one_row_of_headers_in_every_table` looks
    for what it means.
    """
    return [rule for severity, rule in findings(pdf, folder) if severity == "error" and rule != "TBL-010"]


SILENT = {
    ("no-good-part", "school"): "no good part of caddy is on record: there is nothing yet to show to a school",
    (
        "no-good-part",
        "binder",
    ): "no good part or no fresh paper of caddy is on record: nothing can be compared per part",
}
"""What is said where the records of an edge cannot fill a kind of report."""

MADE = [(edge, reader) for edge in EDGES for reader in KINDS if (edge, reader) not in SILENT]
every_report = pytest.mark.parametrize(("edge", "reader"), MADE)

ONE = r"(?<![\d.,–-])1\s(batches|parts|records|settings|sessions|people|draws|years|days|hours|grades|pressings|binders|months|factors|sentences|rows|doubts|figures|values|good parts|other grades|batch records)\b"
BROKEN = {
    "a plural of one": ONE,
    "a value that none is": r"\b(None|nan|NaN|inf|undefined)\b",
    "a power of ten": r"\d[eE][+-]\d",
    "a gap": r"\(\s*\)|,\s*,|;\s*;|:\s*\.|\s,\s",
    "a nought with a sign": r"(?<![\w.,])[−-]0(\.0*)?(?![.,\d])",
    "a template": r"[{}]|%\(|\[\]|\['",
    "nothing as a reason": r"\b0(\.0*)? % of the (dry matter|paper)",
    "a name twice": r"\b(caddy): \1\b",
}  # fmt: skip
"""Patterns that no page may hold."""


def body(page: str) -> str:
    return re.sub(r"<(style|title|script)\b.*?</\1>", "", page, flags=re.DOTALL)


def words(page: str) -> str:
    """Return the text of a page, and of what stands for its pictures; cells and paragraphs are parted by a bar."""
    said = re.sub(r'alt="([^"]*)"[^>]*>', r">\1<p>", body(page))
    inline = re.sub(r"</?(span|strong|bdi|a|em|sub|sup)\b[^>]*>", "", said)
    return html.unescape(re.sub(r"(\s*<[^>]+>\s*)+", "|", inline))


@pytest.mark.parametrize(("edge", "reader"), SILENT)
def test_report_of_an_edge_that_it_has_nothing_to_say_of_is_refused_in_one_line(edge: str, reader: str) -> None:
    assert pages(edge)[reader] == SILENT[edge, reader]


@every_report
def test_report_of_an_edge_holds_no_broken_words(edge: str, reader: str) -> None:
    text = words(pages(edge)[reader])
    assert len(text) > 3000
    found = {name: [text[max(0, at.start() - 50) : at.end() + 30] for at in re.finditer(pattern, text)] for name, pattern in BROKEN.items()}  # fmt: skip
    assert {name: places for name, places in found.items() if places} == {}


@every_report
def test_report_of_an_edge_holds_nothing_empty(edge: str, reader: str) -> None:
    page = body(pages(edge)[reader])
    tables = re.findall(r"<table.*?</table>", page, re.DOTALL)
    assert [table[:200] for table in tables if "<td" not in table] == []
    assert re.findall(r"<(ul|ol|dl|p|li|tbody|h[1-6]|caption)[^>]*>\s*</\1>", page) == []
    columns = [header for table in tables for header in empty_columns(table)]
    assert columns == []


def empty_columns(table: str) -> list[str]:
    """Return the headers of columns of a table in which no row has anything but a dash."""
    header, _, rest = table.partition("</thead>")
    names = [re.sub("<[^>]+>", "", cell).strip() for cell in re.findall(r"<th\b.*?</th>", header, re.DOTALL)]
    rows = [re.findall(r"<t[hd]\b[^>]*>(.*?)</t[hd]>", row, re.DOTALL) for row in re.findall(r"<tr.*?</tr>", rest, re.DOTALL)]  # fmt: skip
    whole = [row for row in rows if len(row) == len(names)]
    return [name for place, name in enumerate(names) if whole and name in OF_PLASTIC and all(row[place].strip() == "–" for row in whole)]  # fmt: skip


OF_PLASTIC = ("Plastic", "Chance lower", "In place of", "Stands in for")
"""Columns that are there only where some part stands in for a plastic one."""


@every_report
def test_report_of_an_edge_has_no_empty_chart(edge: str, reader: str) -> None:
    for picture in re.findall(r'src="data:image/svg\+xml;base64,([^"]*)"', pages(edge)[reader]):
        drawing = base64.b64decode(picture).decode()
        assert drawing.count("<path") + drawing.count("<use") + drawing.count("<text") > 8
        assert re.search(r'<(path|rect|circle|use|polygon)\b[^>]*\b(fill|stroke)="#', drawing)


@every_report
def test_report_of_an_edge_has_one_row_of_headers_in_every_table(edge: str, reader: str) -> None:
    for table in re.findall(r"<table.*?</table>", body(pages(edge)[reader]), re.DOTALL):
        rows = re.findall(r"<tr.*?</tr>", table, re.DOTALL)
        assert [row for row in rows if "<td" not in row] == rows[:1]


COMMA = ("in-DEU", "in-ESP", "in-BRA")
"""Edges whose place has a decimal comma, by Unicode CLDR; the others have a point."""


@every_report
def test_report_of_an_edge_has_one_decimal_mark(edge: str, reader: str) -> None:
    right, others = decimals(pages(edge)[reader], "," if edge in COMMA else ".")
    assert right > 0
    assert others == []


@every_report
def test_report_of_an_edge_says_the_same_figure_in_the_same_words_everywhere(edge: str, reader: str) -> None:
    texts = texts_by_name(pages(edge)[reader])
    assert len(texts) > 10
    assert {name: found for name, found in texts.items() if len(found) > 1} == {}


@every_report
def test_report_of_an_edge_has_no_id_no_key_and_no_column(edge: str, reader: str) -> None:
    assert raw(running_text(pages(edge)[reader])) == []


# -- what single edges ask for --------------------------------------------------------------------------------------------


def test_report_of_parts_without_plastic_says_so_and_has_no_plastic_column() -> None:
    text = words(pages("no-plastic")["funder"])
    assert "no plastic part was described" in text
    assert "doubted" not in text
    assert "The workshop names no plastic part" in words(pages("no-plastic")["school"])


def test_report_of_some_parts_without_plastic_compares_the_others() -> None:
    text = words(pages("some-without-plastic")["funder"])
    assert re.search(r"marker: [^|]*not compared, because no plastic part was described\.", text)
    assert re.search(r"caddy: the molded part [^|]*; here plastic would have caused less\.", text)


def test_report_marks_rejects_that_are_estimated_and_no_others() -> None:
    marked = re.compile(r"\d[\d.,]*\s(?:%\s)?est\.\|")
    assert marked.search(words(pages("nothing-recorded")["funder"]))
    assert not marked.search(words(pages("one-batch")["funder"]))


def test_report_says_where_more_was_found_than_weighed_in_and_doubts_it() -> None:
    text = words(pages("nothing-recorded")["funder"]).replace("\u00a0", " ")
    assert "with rejects and trim, 1.2 kg more was found than weighed in" in text
    assert "with rejects and trim 1.2 kg more was found than weighed in, by estimates" in text
    assert "the rest left as rejects, trim or fines, or was not found again" not in text
    assert "13 % more than went in" in text
    assert "12.8 % more out than in: parts, rejects and trim of all batches" in text
    assert "“12.8 % more" not in text  # told, not quoted: no cell holds it
    assert "the rest left as rejects, trim or fines, or was not found again" in words(pages("two-grants")["funder"])
    assert "not accounted for 3.1\u00a0%" in words(pages("two-grants")["funder"])


def test_report_without_a_good_part_says_nothing_of_the_mass_of_one() -> None:
    text = words(pages("no-good-part")["funder"]).replace("\u00a0", " ")
    assert "–, 1 y" in text
    assert "not compared, because there is no good part in this period" in text
    assert "No fiber is in good parts." in text
    assert "kept apart from the parts' footprint" not in text


def test_report_of_parts_without_a_batch_counts_them() -> None:
    assert "1 more part of parts.csv has no batch here." in words(pages("some-no-good-part")["funder"])
    assert "no batch here" not in words(pages("one-batch")["funder"])


def test_report_of_the_first_page_says_what_helps_as_a_condition_and_who_has_to_take_the_parts() -> None:
    text = words(pages("some-without-plastic")["funder"])
    assert re.search(
        r"What would help most: [^.]* would take [\d.,]+[^|]* off each \w+, and most off 1 other part too\.", text
    )
    assert re.search(r"The comparison with plastic is least sure for [^:|]*: \d+\s% of the spread \(caddy\)\.", text)
    assert re.search(
        r"off each caddy; it takes a collection that accepts them; none is known\.",
        words(pages("nothing-recorded")["funder"]),
    )
    assert "it takes" not in text


def test_report_of_the_first_page_leaves_out_how_no_amount_is_known() -> None:
    text = words(pages("nothing-recorded")["funder"])
    assert re.search(r"by how the amounts are known: \d+\s% weighed, \d+\s% estimated, <0\.1\s% assumed\.", text)


def test_report_of_more_parts_than_a_chart_shows_counts_the_rest_under_each_chart() -> None:
    text = words(pages("forty-parts")["funder"])
    assert re.findall(r"(\d+) more (?:parts )?in the table", text) == ["35", "35", "34"]
    assert not re.search(r"\d more (parts )?in the table", words(pages("one-batch")["funder"]))


def test_report_of_one_day_has_one_date() -> None:
    text = words(pages("one-batch")["funder"])
    assert "January 5, 2026 to" not in text
    assert "Dated January 1, 2100" in text


@pytest.mark.parametrize("script", edges.SCRIPTS)
def test_report_of_names_in_a_script_holds_them_as_written(script: str) -> None:
    for reader in KINDS:
        text = words(pages(script)[reader])
        for name in edges.SCRIPTS[script][:2]:
            assert name.replace("-", " ") in text


def test_report_keeps_names_from_right_to_left_apart() -> None:
    name = edges.SCRIPTS["arabic"][1]
    page = body(pages("arabic")["funder"])
    assert f"<bdi>{name}</bdi>" in page
    assert page.count(name) > page.count(f"<bdi>{name}</bdi>") > 10  # in attributes it stands as it is
    assert "<bdi>" not in pages("greek")["funder"]


@pytest.mark.parametrize(
    ("country", "number", "size", "unit"),
    [("USA", r"\d\.\d", "letter", "lb"), ("DEU", r"\d,\d", "A4", "kg"), ("BRA", r"\d,\d", "A4", "kg"), ("JPN", r"\d\.\d", "A4", "kg")],
)  # fmt: skip
def test_report_of_a_place_has_its_marks_paper_and_units(country: str, number: str, size: str, unit: str) -> None:
    page = pages(f"in-{country}")["funder"]
    assert re.search(rf"\d[.,]?\d*\s{unit}\|?waste paper collected", words(page).replace("|", ""))
    assert re.search(rf"@page \{{ size: {size}", page)
    assert re.search(rf"{number}\d*\s{unit}", words(page))


@pytest.mark.parametrize(
    ("edge", "reader"),
    [
        ("no-plastic", "school"), ("one-batch", "school"), ("nothing-recorded", "school"), ("arabic", "school"), ("japanese", "school"),
        ("emoji", "school"), ("greek", "binder"), ("in-DEU", "binder"), ("japanese", "binder"), ("long-names", "binder"),
        ("no-good-part", "funder"),
    ],
)  # fmt: skip
def test_pdf_of_an_edge_fulfils_both_standards(edge: str, reader: str, tmp_path: Path) -> None:
    pdf = edges.report(edge, reader)
    assert [refused(pdf, profile) for profile in ("ua1", "3a")] == [[], []]
    assert errors(pdf, tmp_path) == []


@pytest.mark.parametrize("reader", KINDS)
def test_report_says_once_what_letters_in_brackets_are_where_no_font_holds_them(
    reader: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    note = "Letters and signs in brackets stand by their number or name: no font"
    for held in (True, False):
        monkeypatch.setattr("impact.report.html.lacking", lambda text, held=held: set() if held else {"紙"} & set(text))
        for edge, count in (("japanese", int(not held)), ("greek", 0)):
            head, _, rest = edges.page_of(edge, reader).partition("</header>")
            assert (head.count(note), rest.count(note)) == (count, 0)
