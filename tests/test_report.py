"""The funder report: what stands in it, that its figures are the results', and how it is made."""

from __future__ import annotations

import logging
import os
import re
import socket
import subprocess
import sys
from dataclasses import replace
from functools import cache
from html import unescape
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from impact.account.results import Results
from impact.api import load
from impact.base.printing import Printer
from impact.base.quantities import POUNDS_PER_KG
from impact.base.scales import scaled
from impact.base.spellings import shown
from impact.factors.keys import pattern_of
from impact.factors.rownames import plain_name
from impact.factors.rows import Factor
from impact.records.demonstration import DEMO
from impact.report.context import compose
from impact.report.drawing import font_faces
from impact.report.evidence import used_rows
from impact.report.funder.factors import others, place_of, printed
from impact.report.html import unparted
from impact.report.kinds import KINDS
from impact.report.layout.pdf import identifier, pdf_of
from impact.report.request import Request
from tests.folders import PARTS, TOML, swap, write_folder
from tests.reports import FEW, drawn_html_of, html_of, plain_html_of, report, the_one, web_page
from tests.sheets import texts
from tests.workshops import TINY_BATCHES, tiny

ROOT = Path(__file__).parents[1]
NASTY = "<script>alert(1)</script> & {{ 7*7 }} \"'"
LETTER, A4 = (612.0, 792.0), (595.276, 841.89)


@cache
def demo() -> Results:
    return load(DEMO).assess(**FEW.options())


def few_batches(folder: Path) -> Results:
    """Return results of three batches, whose report is sooner made than that of the demo."""
    return load(tiny(folder)).assess(**FEW.options())


def html() -> str:
    return web_page("demo")


class Page(HTMLParser):
    """The words of a page without its style, and its tables as rows of cells."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tables: list[list[list[str]]] = []
        self.skipping = self.in_cell = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.skipping = self.skipping or tag == "style"
        if tag == "table":
            self.tables.append([])
        elif tag == "tr":
            self.tables[-1].append([])
        elif tag in ("td", "th"):
            self.tables[-1][-1].append("")
            self.in_cell = True
        self.words += [value for name, value in attrs if name == "alt" and value]

    def handle_endtag(self, tag: str) -> None:
        self.skipping = self.skipping and tag != "style"
        self.in_cell = self.in_cell and tag not in ("td", "th")

    def handle_data(self, data: str) -> None:
        if not self.skipping:
            self.words.append(data)
        if self.in_cell:
            self.tables[-1][-1][-1] += data

    @property
    def text(self) -> str:
        """All words, blanks of any kind as one space."""
        return " ".join("".join(f"{word} " if word.endswith(".") else word for word in self.words).split())

    def table(self, *headers: str) -> list[dict[str, str]]:
        """Return the rows of the one table whose header has all these columns, by header."""
        (found,) = [table for table in self.tables if set(headers) <= set(table[0])]
        return [dict(zip(found[0], row, strict=True)) for row in found[1:]]


@cache
def page() -> Page:
    return Page(html())


def numbers(text: str) -> list[float]:
    """Return the numbers of a printed text."""
    plain = text.replace("\u2212", "-").replace("\u202f", "").replace("\u00a0", " ")
    plain = re.sub(r"(?<=[0-9]),(?=[0-9]{3})", "", plain)
    return [float(number) for number in re.findall(r"-?[0-9]+(?:\.[0-9]+)?", plain)]


Cells = tuple[str, str, int]
"""Value with its interval, how it is known, number of the source."""


def factor_rows() -> dict[tuple[str, str], Cells]:
    """Return the rows of the table of factors by plain name and place."""
    table = html().partition('<table class="factors"')[2].partition("</table>")[0]
    row = r'<tr><th scope="row">(.*?)</th><td>(.*?)</td><td>(.*?) \[([0-9]+)\](?:; (.*?))?</td></tr>'
    found = [tuple(map(unescape, cells)) for cells in re.findall(row, table)]
    rows = {(name, place or ""): (Page(value).text, known, int(source)) for name, value, known, source, place in found}
    assert len(rows) == len(found)
    return rows


def cells_of(factor: Factor) -> Cells:
    """Return what the table of factors has of a row."""
    names, language = demo().names, speaker().language
    place = place_of(factor, names, language).removeprefix("The world").removeprefix(", ")
    return factor_rows()[plain_name(factor, language, names), place]


def plainly(part: str) -> str:
    """Return the name of a part of the demo as the report prints it."""
    return shown(part, demo().workshop.parts)


@cache
def speaker() -> Printer:
    """Return who says the sentences of the demo's report."""
    found = compose(demo(), Request()).context({})["p"]
    assert isinstance(found, Printer)
    return found


def cover() -> str:
    """Return the words that stand before the first section."""
    return Page(html().partition("<section")[0]).text


# -- how it is made -----------------------------------------------------------------------------------------------


def test_render_pdf_two_runs_give_the_same_bytes(tmp_path: Path) -> None:
    program = (
        "import gc; gc.disable(); import sys; from pathlib import Path; from impact.report.request import Request;"
        "from tests.reports import FEW, produce, british; here = Path.cwd();"
        "Path(sys.argv[1]).write_bytes(produce(british(here / 'shop'), Request(), FEW, suffix='.pdf'))"
    )
    clean = {name: value for name, value in os.environ.items() if name != "SOURCE_DATE_EPOCH"}
    environment = {**clean, "PYTHONPATH": str(ROOT), "PYTHONHASHSEED": "7", "TZ": "Pacific/Auckland"}
    again = tmp_path / "again.pdf"
    subprocess.run([sys.executable, "-c", program, again], cwd=tmp_path, env=environment, check=True)
    assert again.read_bytes() == report("small")


def test_page_without_its_charts_drawn_has_every_word_and_leaves_out_what_is_empty(tmp_path: Path) -> None:
    wet = swap(swap(PARTS, ",no,", ",yes,"), "6 months,,", "6 months,yes,")
    for found in (
        load(write_folder(tmp_path / "wet", parts=wet, batches=TINY_BATCHES)).assess(draws=50),
        load(tiny(tmp_path / "tiny")).assess(draws=50),
    ):
        for kind in KINDS:
            pages = [re.sub(r'src="[^"]*"', "", one(found, Request(kind))) for one in (plain_html_of, drawn_html_of)]
            assert pages[0] == pages[1]


def test_render_pdf_logs_no_warning() -> None:
    assert [*the_one("demo").log, *the_one("small").log] == []


def test_render_pdf_is_tagged_titled_and_has_its_fonts_inside() -> None:
    reader = PdfReader(BytesIO(report("demo")))
    catalogue = reader.trailer["/Root"]
    assert catalogue["/MarkInfo"]["/Marked"]
    assert catalogue["/Lang"] == "en-US"
    assert "Example Makerspace" in str(reader.metadata and reader.metadata.title)
    fonts = [font.get_object() for sheet in reader.pages for font in sheet["/Resources"].get("/Font", {}).values()]
    assert fonts
    for font in fonts:
        descriptor = font["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        assert "/FontFile2" in descriptor or "/FontFile3" in descriptor


def test_render_pdf_page_is_letter_in_the_united_states_and_a4_in_britain() -> None:
    for content, size in ((report("demo"), LETTER), (report("small"), A4)):
        boxes = {
            (float(sheet.mediabox.width), float(sheet.mediabox.height)) for sheet in PdfReader(BytesIO(content)).pages
        }
        assert list(boxes) == [pytest.approx(size, abs=0.01)]


@pytest.mark.parametrize(
    "markup",
    [
        '<img src="{}" alt="x">',
        '<link rel="stylesheet" href="{}">',
        '<style>@import url("{}");</style>',
        '<p style="background: url({})">x</p>',
        '<style>@font-face {{ font-family: x; src: url("{}"); }} p {{ font-family: x }}</style><p>x</p>',
    ],
    ids=["picture", "style", "import", "background", "font"],
)
@pytest.mark.parametrize(
    "url", ["http://example.org/x", "https://example.org/x", "file:///etc/hostname", "ftp://example.org/x"]
)
def test_pdf_of_fetches_nothing(
    url: str, markup: str, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def refuse(*_: object) -> None:
        pytest.fail("a connection was tried")

    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    monkeypatch.setattr(socket.socket, "connect", refuse)
    text = f'<!DOCTYPE html><html lang="en"><head><title>x</title></head><body>{markup.format(url)}</body></html>'
    with caplog.at_level(logging.DEBUG, logger="weasyprint"):
        pdf_of(text)
    assert f"reports fetch nothing: {url}" in caplog.text


def test_render_html_refers_to_nothing_outside_itself() -> None:
    links = re.findall(r"""(?:src|href|url)\s*[=(]\s*["']?([^"')\s>]+)""", html())
    assert links
    assert [link for link in links if not link.startswith(("#", "data:"))] == []
    assert "<script" not in html()


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("at least 90 % of them", "at least 90~% of them"),
        ('<span id="f.a">12</span> kg CO₂e', '<span id="f.a">12</span>~kg~CO₂e'),
        (
            '<span class="whole">12 (<span id="f.b">5</span>)</span> g',
            '<span class="whole">12 (<span id="f.b">5</span>)</span>~g',
        ),
        ("0.5 kWh, 20 L and 8 mm deep", "0.5~kWh, 20~L and 8~mm deep"),
        ("10 good parts, 7 h-bars, 3 grades, no kg", "10 good parts, 7 h-bars, 3 grades, no kg"),
        ('<td id="f.box 5 g.mass">1</td>', '<td id="f.box 5 g.mass">1</td>'),
    ],
)
def test_unparted_number_and_unit_stay_on_one_line_and_ids_as_they_are(text: str, kept: str) -> None:
    assert unparted(f"<p>{text}</p>") == f"<p>{kept}</p>".replace("~", "\u00a0")


@pytest.mark.parametrize("reader", KINDS)
def test_report_no_line_end_can_part_an_amount(reader: str) -> None:
    text = re.sub(r"<[^>]*>", "", web_page("demo", reader).partition("<body")[2])
    assert re.findall(r".{20}\d (?:%|kg|g|kWh|L)\b.{5}", text) == []


# -- what stands in it --------------------------------------------------------------------------------------------


def test_report_invented_mark_stands_on_the_cover() -> None:
    assert "Invented data" in cover()
    assert "Invented data" in texts(report("demo"))[0]


def test_report_of_real_records_carries_no_such_mark(tmp_path: Path) -> None:
    made_up = few_batches(tmp_path)
    real = replace(made_up, workshop=replace(made_up.workshop, invented=False))
    assert "Invented data" in Page(plain_html_of(made_up)).text
    assert "Invented data" not in Page(plain_html_of(real)).text


def test_report_cover_says_what_rows_that_nobody_saw_published_do() -> None:
    ends = demo().at_ends
    memory, practice = ends.from_memory, ends.common_practice
    put = f"put the net at {memory.net.favourable:.0f} to {memory.net.unfavourable:.0f} kg"
    assert f"Values from memory, which nobody here saw published, {put}" in cover().replace("\u00a0", " ")
    assert f"no source, at {practice.net.favourable:.0f} to {practice.net.unfavourable:.0f}." in cover()


def test_report_weightiest_assumption_stands_on_the_cover() -> None:
    first = next(assumption for assumption in demo().assumptions if assumption.weighty)
    assert " ".join(first.said.say(speaker()).split()) in cover()


def test_report_every_assumption_stands_with_its_remedy() -> None:
    text = page().text
    for assumption in demo().assumptions:
        assert " ".join(assumption.said.say(speaker()).split()) in text
        assert " ".join(assumption.instead.say(speaker()).split()) in text


def test_report_every_factor_that_moves_a_figure_stands_with_its_evidence_word_and_value() -> None:
    rows = printed(demo())
    assert len(factor_rows()) == len(rows) > 50
    for row in rows:
        value, known, _ = cells_of(row)
        size = scaled(row.value, row.low, row.high, row.unit, share=getattr(pattern_of(row.key), "share", False))
        assert known == row.evidence
        assert numbers(value)[0] == pytest.approx(size.value, rel=6e-3, abs=5e-7)
        assert ("(" in value) == (row.low < row.high)


def test_report_factors_that_move_no_figure_are_counted_and_stand_in_the_attachment() -> None:
    left = {choice.factor.key for choice in demo().factors_used.values()} - {row.key for row in printed(demo())}
    assert "compost.moisture.broiler-litter" in left  # a green that no page shows
    assert "fate.office.composting" in left  # a share fixed at nothing
    assert left.isdisjoint({"gwp.methane-biogenic", "landfill.collection", "polymer.formed.PS"})
    assert sum(count for _, count in others(demo(), "en")) == len(left)
    assert f"{len(left)} other rows move none of them so far" in page().text
    attached = used_rows(demo()).decode()
    assert all(key in attached for key in left)
    assert "Office paper: share that would have been recycled" in attached


def test_report_every_source_number_points_to_its_citation() -> None:
    listed = re.findall(r"<li>(.*?)</li>", html().partition('class="sources"')[2].partition("</ol>")[0], flags=re.S)
    for row in printed(demo()):
        citation = demo().factors.sources[row.source].citation.rstrip(".")
        assert Page(listed[cells_of(row)[2] - 1]).text.startswith(" ".join(citation.split()))


def test_report_parts_table_has_the_figures_of_the_results() -> None:
    rows = {row["Part"]: row for row in page().table("Part", "Good", "Chance lower")}
    assert list(rows) == [plainly(part.part) for part in demo().parts]
    for part in demo().parts:
        row = rows[plainly(part.part)]
        assert numbers(row["Good"]) == [part.good]
        (moulded,) = [cell for header, cell in row.items() if header.startswith("Molded")]
        (plastic,) = [cell for header, cell in row.items() if header.startswith("Plastic")]
        for cell, found in ((moulded, part.footprint), (plastic, part.plastic and part.plastic.footprint)):
            expected = [1000.0 * end for end in (found.value, found.low, found.high)] if found else []
            assert numbers(cell) == pytest.approx(expected, abs=0.51)
        if part.chance_lower is None:
            assert numbers(row["Chance lower"]) == []
        else:
            assert numbers(row["Chance lower"])[0] == pytest.approx(100.0 * part.chance_lower, abs=1.0)


def test_report_stages_table_has_the_figures_of_the_results() -> None:
    rows = {row["Part"]: row for row in page().table("Part", "all stages", "median of the draws")}
    for part in demo().parts:
        assert part.footprint is not None
        cells = list(rows[plainly(part.part)].values())[1:]
        found = part.footprint
        expected = [*part.stages.values(), found.value, found.median, part.biogenic_carbon_kgco2]
        for cell, value in zip(cells, expected, strict=True):
            assert numbers(cell)[0] == pytest.approx(1000.0 * value, abs=0.51) or (cell == "<1" and 0.0 < value < 5e-4)


def test_report_account_lines_are_the_results_and_add_up() -> None:
    result = demo()
    printed = [numbers(row["Central"])[0] for row in page().table("Line", "Central")]
    lines = (result.made, result.disposal.avoided, result.disposal.lost_recycling, result.displaced_plastic, result.net)
    assert printed == pytest.approx([line.value for line in lines], abs=0.51)
    made, avoided, lost, displaced, net = printed
    assert made - avoided + lost - displaced == pytest.approx(net, abs=2.1)


def test_report_register_lists_every_batch_of_few(tmp_path: Path) -> None:
    found = few_batches(tmp_path)
    listed = [row["Batch"] for row in Page(plain_html_of(found)).table("Batch", "kWh")]
    assert listed == [*found.batch_records["batch"].astype(str), "all"]


def test_report_register_of_many_sums_them_by_period_and_part() -> None:
    *rows, every = page().table("Period", "kWh", "Rejects")
    assert every["Period"] == "all"
    assert numbers(every["Batches"]) == [len(demo().batch_records)]
    assert sum(numbers(row["Batches"])[0] for row in rows) == len(demo().batch_records)
    assert {(row["Period"], row["Part"]) for row in rows} == {
        (f"{str(day)[:4]}-Q{(int(str(day)[5:7]) + 2) // 3}", plainly(part))
        for day, part in zip(demo().batch_records["date"], demo().batch_records["part"], strict=True)
    }


def test_report_losing_part_says_that_plastic_would_have_caused_less() -> None:
    losers = [part.part for part in demo().parts if part.chance_lower is not None and part.chance_lower <= 0.1]
    assert losers
    (named,) = re.findall(r"<li><span [^>]*>([^<:]*): [^<]*here plastic would have caused less", html())
    assert named.split(", ") == [plainly(name) for name in losers]


def test_report_part_without_comparison_gives_the_reason() -> None:
    for part in demo().parts:
        if part.not_compared:
            assert " ".join(part.not_compared.say(speaker()).split()) in page().text


def test_report_makes_no_forbidden_claim() -> None:
    titles = r'|<span class="note">\[.*?</span>|<ol class="sources">.*?</ol>'  # of publications cited
    said = re.sub(r'<section id="not-said".*?</section>' + titles, "", html(), flags=re.DOTALL)
    text = Page(said).text.casefold()
    for words in (
        "eco-friendly",
        "carbon neutral",
        "carbon-neutral",
        "zero waste",
        "biodegradable",
        "climate positive",
    ):
        assert words not in text


def test_report_in_us_units_prints_pounds(tmp_path: Path) -> None:
    found = few_batches(tmp_path)
    us = Page(plain_html_of(replace(found, workshop=replace(found.workshop, units="us"))))
    rows = us.table("Grade", "Collected")
    assert numbers(rows[-1]["Collected"]) == pytest.approx([found.paper.collected_kg.value * POUNDS_PER_KG], abs=0.051)


# -- what people write into it ------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Return a report whose names and notes try to be markup, a template or a formula."""
    folder = tmp_path_factory.mktemp("hostile")
    quoted = NASTY.replace('"', '\\"')
    write_folder(
        folder,
        workshop=swap(swap(TOML, "Paper Bench", quoted), "bin audit, two weeks", quoted),
        parts=swap(PARTS, "tray,pot", "<b>tray</b>,pot"),
    )
    text = (folder / "batches.csv").read_text(encoding="utf-8")
    text = swap(swap(text, '"wet, cold day"', '"' + NASTY.replace('"', '""') + '"'), ",tray,", ",<b>tray</b>,")
    (folder / "batches.csv").write_text(text.replace("001,", "<i>001</i>,", 1), encoding="utf-8")
    return html_of(load(folder).assess(draws=100))


def test_report_name_that_is_markup_or_a_template_stays_text(hostile: str) -> None:
    assert "<script>" not in hostile
    assert "<b>tray" not in hostile
    assert "<i>001" not in hostile
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; {{ 7*7 }}" in hostile
    assert NASTY in Page(hostile).text


def test_report_part_named_like_a_formula_is_printed_as_written(tmp_path: Path) -> None:
    formula = r"$\frac{ _^ $"
    write_folder(tmp_path, parts=swap(PARTS, "tray,pot", f"{formula},pot"))
    text = (tmp_path / "batches.csv").read_text(encoding="utf-8")
    (tmp_path / "batches.csv").write_text(text.replace(",tray,", f",{formula},"), encoding="utf-8")
    rows = Page(plain_html_of(load(tmp_path).assess(draws=100))).table("Part", "Good", "Chance lower")
    assert formula in [row["Part"] for row in rows]


def test_identifier_does_not_depend_on_where_the_fonts_are_installed() -> None:
    uri = font_faces()[0][2].as_uri()
    here, moved = f"<style>src: url('{uri}')</style>one", f"<style>src: url('{font_faces()[0][2].name}')</style>one"
    assert identifier(here) == identifier(moved)
    assert identifier(here) != identifier(here.replace("one", "two"))
