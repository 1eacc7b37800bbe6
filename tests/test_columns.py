"""Columns that are calculated, lines that are set once and references that are found at once: the pages are those that the layout library sets by itself.

Checked against, from outside:

- the height of columns: every height tried in small steps (a search by force)
- pages: the layout library without our help
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from impact.report.layout import columns
from impact.report.layout.columns import AVOIDED, Piece, even_columns, joined, least_height
from impact.report.layout.lines import lines_broken_once, lines_set_once
from impact.report.layout.references import references_found_at_once
from impact.report.layout.styles import plain_values_at_once
from impact.report.layout.texts import Kinds, texts_set_up_once
from tests.sheets import texts

LIST = "".join(f"<li>{'word ' * (3 + 7 * number % 23)}{number}</li>" for number in range(60))
TABLE = "<table><thead><tr><th>A<th>B</thead>{}</table>".format(
    "".join(f"<tr><td>{number}<td>{'cell ' * (number % 5)}" for number in range(30))
)
MIXED = f"<h3>Head</h3><p>{'Some text. ' * 30}</p>{TABLE}<h3>Last</h3><p>{'More text. ' * 12}</p>"


def page(content: str) -> str:
    return f"""<style>@page {{ size: A5; margin: 10mm }} body {{ font: 9pt sans-serif }} h3 {{ break-after: avoid }}
        ul, div {{ columns: 2; column-gap: 12pt; margin: 0 }} tr, li {{ break-inside: avoid }} p {{ orphans: 2; widows: 2 }}
        </style><p>Before.</p>{content}<p>After.</p>"""


PAGES = {
    "a list": page(f"<ul>{LIST}</ul>"),
    "a short list": page("<ul><li>one</li><li>two</li><li>three</li></ul>"),
    "a table and text": page(f"<div>{MIXED}</div>"),
    "two of them": page(f"<div>{MIXED}</div><h3>Between</h3><ul>{LIST[:2000]}</li></ul>"),
    "over pages": page(f"<div>{MIXED * 4}</div>"),
    "one piece": page("<div><p>alone</p></div>"),
    "nothing": page("<div></div>"),
}


def words(pdf: bytes) -> list[str]:
    """Return the words of each page, sorted: a break that moves by a line between columns of a page changes none."""
    return [" ".join(sorted(text.split())) for text in texts(pdf)]


def heights(html: str) -> list[float]:
    """Return the height of every set of columns, in the order of the pages. [px]"""
    from weasyprint import HTML

    found: list[float] = []

    def look(box: Any) -> None:
        columns = [child for child in getattr(box, "children", ()) if getattr(child, "is_column", False)]
        if columns:
            found.append(max(column.height for column in columns))
        for child in getattr(box, "children", ()):
            look(child)

    for sheet in HTML(string=html).render().pages:
        look(sheet._page_box)
    return found


@pytest.mark.parametrize("name", PAGES)
def test_columns_calculated_are_those_that_the_library_finds_to_a_line(name: str) -> None:
    alone = heights(PAGES[name])
    with even_columns():
        helped = heights(PAGES[name])
    assert helped == pytest.approx(alone, abs=16.0)  # a line of 9 pt has 13 px or so
    assert sum(helped) <= sum(alone) + 4.0


@pytest.mark.parametrize("name", PAGES)
def test_pages_hold_the_same_words_where_columns_are_calculated(name: str) -> None:
    from weasyprint import HTML

    alone = HTML(string=PAGES[name]).write_pdf()
    with even_columns():
        helped = HTML(string=PAGES[name]).write_pdf()
    assert words(helped) == words(alone)


@pytest.mark.parametrize("name", PAGES)
def test_pages_are_the_same_bytes_where_lines_are_broken_and_set_once(name: str) -> None:
    from weasyprint import HTML

    alone = HTML(string=PAGES[name]).write_pdf(pdf_identifier=b"same")
    with lines_broken_once(Kinds()):
        assert HTML(string=PAGES[name]).write_pdf(pdf_identifier=b"same") == alone
    with lines_set_once():
        assert HTML(string=PAGES[name]).write_pdf(pdf_identifier=b"same") == alone


NARROW = page(
    "<style>.a td { overflow-wrap: anywhere } .b td { overflow-wrap: break-word } .c td { hyphens: auto } .d td { white-space: nowrap }"
    "</style>"
    + "".join(
        f"<table lang=en class={name}><tr><td>and/or 5 % (kg) extraordinarily long-winded words <td>– one<td>a b<td>x "
        f"<td>so\u00adfter words stand\u00ading <i>lean here</i> and there<td>word )<td>{'word ' * 9}<td>-foo bar<br>new line"
        for name in "abcde"
    )
    + "".join(f"<p style='float: left; width: {width}ch'>two words, or some</p>" for width in range(1, 12))
)


def test_least_widths_of_tables_are_those_of_the_library() -> None:
    from weasyprint import HTML

    alone = HTML(string=NARROW).write_pdf(pdf_identifier=b"same")
    with lines_broken_once(Kinds()):
        assert HTML(string=NARROW).write_pdf(pdf_identifier=b"same") == alone


STYLED = page(
    """<style>:root { --wide: 9pt; color: navy } .l { margin-inline-start: 8pt; padding-block-end: 3pt; border-inline-end: 1pt solid }
    .f { float: right; position: relative; top: 2pt } .u { text-decoration: underline } .c { width: calc(50% + 3pt); margin: var(--wide) }
    .i * { margin-left: inherit; width: inherit } .r { direction: rtl; padding-inline-start: 5pt } .n { all: initial; display: block }
    p::before { content: "· "; display: inline-block; width: 2em } .v { column-rule: 1pt solid; outline: 1pt solid red }
    .w { min-inline-size: 40pt; display: inline-block; max-block-size: 20pt; inset-inline-start: 2pt; position: relative }
    </style>"""
    + "".join(
        f"<div class={name}>One <p class=u>two <b class=l>three</b></p><i class=w>four</i> <u class={name}>five</u></div>"
        for name in "lfucirnvw"
    )
    + TABLE.replace("<tr>", "<tr class=l>")
)


@pytest.mark.parametrize("name", ["styled", *PAGES])
def test_pages_are_the_same_bytes_where_plain_values_are_given_at_once(name: str) -> None:
    from weasyprint import HTML

    html = {**PAGES, "styled": STYLED}[name]
    alone = HTML(string=html).write_pdf(pdf_identifier=b"same")
    with plain_values_at_once():
        assert HTML(string=html).write_pdf(pdf_identifier=b"same") == alone


LETTERED = page(
    """<style>.n { font-variant-numeric: tabular-nums } .c { font-variant-caps: small-caps } .k { font-kerning: none; letter-spacing: 1pt }
    .u { text-decoration: underline } .r { direction: rtl } .s { font-stretch: condensed; font-size: 7pt } .w { word-spacing: 3pt }
    .f { font-feature-settings: "liga" 0, "zero" } .o { font-language-override: "DEU" } .t { tab-size: 3; white-space: pre-wrap }</style>
    <svg width=90 height=30><text x=5 y=20 font-size=9>1 of 20</text></svg>"""
    + "".join(
        f"<p class={name} {lang}>AV office 01/20, <b>bold 0123</b> <i class=u>under\tlined</i></p>"
        for name in "ncukrswfot"
        for lang in ("", "lang=de", "lang=en")
    )
)


@pytest.mark.parametrize("html", [LETTERED, STYLED, NARROW], ids=["lettered", "styled", "narrow"])
def test_pages_are_the_same_bytes_where_texts_are_set_up_once(html: str) -> None:
    from weasyprint import HTML

    alone = HTML(string=html).write_pdf(pdf_identifier=b"same")
    with texts_set_up_once(kinds := Kinds()), lines_broken_once(kinds):
        assert HTML(string=html).write_pdf(pdf_identifier=b"same") == alone


NOTES = "@page { @footnote { border-top: 1pt solid } } b { float: footnote }"
NOTED = page(
    f"<style>{NOTES}</style><div>{'Some words that go on.<b>A note.</b> ' * 60}</div>{'<p>Plain text. </p>' * 30}"
)


def test_columns_with_footnotes_are_left_to_the_library() -> None:
    from weasyprint import HTML

    alone = HTML(string=NOTED).write_pdf(pdf_identifier=b"same")
    with even_columns():
        assert HTML(string=NOTED).write_pdf(pdf_identifier=b"same") == alone


FAR = page(
    "<style>a::after { content: ' ' target-counter(attr(href), page) }</style><p><a href='#far'>far</a>, "
    f"<a href='#next'>next</a></p><div>{MIXED}</div><h3 id='next'>Next</h3><div>{MIXED * 5}</div><h3 id='far'>Far</h3>"
    "<p><a href='#next'>back</a></p>"
)


def pages_made(html: str) -> tuple[bytes, int]:
    """Return the PDF of a page, and how often the library laid one of its pages out."""
    from weasyprint import HTML
    from weasyprint.layout import page as pages

    usual, made = pages.make_page, []

    def counted(*given: Any) -> Any:
        made.append(given)
        return usual(*given)

    pages.make_page = counted
    try:
        return HTML(string=html).write_pdf(pdf_identifier=b"same"), len(made)
    finally:
        pages.make_page = usual


def test_references_found_at_once_print_the_same_pages_after_fewer_passes() -> None:
    alone, usual = pages_made(FAR)
    with references_found_at_once():
        helped, fewer = pages_made(FAR)
    assert helped == alone
    assert fewer < usual
    said = texts(helped)
    assert f"far {len(said)}," in said[0]


def test_library_is_left_as_it_was_even_after_an_error() -> None:
    from weasyprint.css import ComputedStyle
    from weasyprint.css.targets import TargetCollector
    from weasyprint.layout import block, inline, preferred
    from weasyprint.text import line_break

    def parts() -> tuple[Any, ...]:
        return (
            block.columns_layout, block.iter_line_boxes, inline.split_first_line, preferred.split_first_line, inline.strut,
            ComputedStyle.__missing__, line_break.Layout.setup,
            TargetCollector.collect_missing_counters, TargetCollector.cache_target_page_counters,
        )  # fmt: skip

    usual = parts()
    with (
        even_columns(),
        lines_broken_once(Kinds()),
        lines_set_once(),
        references_found_at_once(),
        plain_values_at_once(),
    ):
        assert parts() != usual
    with (
        pytest.raises(ZeroDivisionError), even_columns(), lines_broken_once(Kinds()), texts_set_up_once(Kinds()), lines_set_once(), plain_values_at_once(),
        references_found_at_once(),
    ):  # fmt: skip
        raise ZeroDivisionError
    assert parts() == usual


def columns_needed(pieces: list[Piece], height: float) -> int:
    start, columns = pieces[0].top, 1
    for piece in pieces:
        if piece.needed - start > height + 1e-9:
            start, columns = piece.top - piece.lead, columns + 1
    return columns


@given(
    st.lists(st.tuples(st.integers(1, 40), st.integers(0, 5), st.integers(0, 9)), min_size=1, max_size=30),
    st.integers(1, 4),
)
@settings(max_examples=300, deadline=None)
def test_least_height_is_the_first_of_all_that_hold_the_pieces(sizes: list[tuple[int, int, int]], count: int) -> None:
    ends = [sum(size for size, _, _ in sizes[: number + 1]) for number in range(len(sizes))]
    pieces = [
        Piece(float(end - size), float(end), float(end + under), float(lead))
        for end, (size, under, lead) in zip(ends, sizes, strict=True)
    ]
    tallest = max(sum(size) for size in sizes)
    by_force = next(
        height for height in range(tallest, ends[-1] + 20) if columns_needed(pieces, float(height)) <= count
    )
    assert least_height(pieces, count) <= by_force
    assert columns_needed(pieces, least_height(pieces, count)) <= count
    assert least_height(pieces, count) > by_force - 1


def test_joined_pieces_that_are_held_are_one() -> None:
    one, two, three, four = (
        Piece(0.0, 2.0, 2.5),
        Piece(3.0, 4.0, 4.0, 1.0),
        Piece(4.0, 5.0, 5.0, 1.0),
        Piece(6.0, 7.0, 9.0),
    )
    groups = [[one], [two, three], [four]]
    assert joined(groups, [False, False, False]) == [one, two, three, four]
    assert joined(groups, [False, True, False]) == [Piece(0.0, 4.0, 4.0), three, four]
    assert joined(groups, [False, True, True]) == [Piece(0.0, 4.0, 4.0), Piece(4.0, 7.0, 9.0, 1.0)]
    assert "avoid" in AVOIDED


HELD = "".join(
    f"<table style='margin-bottom: 6pt'><thead><tr><th>Head<th>Value</thead>{'<tr><td>row<td>1' * rows}</table>"
    for rows in (4, 5, 3)
)


@pytest.mark.parametrize(
    "content",
    [
        f"<ul>{LIST[:900]}</li></ul>",
        f"<div>{TABLE}</div>",
        f"<div>{HELD}<p style='break-before: avoid'>A note.</p><p>{'More text. ' * 20}</p></div>",
        "<ul>"
        + "<li style='margin-bottom: 5pt; padding-bottom: 2pt'>Some words that take more than a line.</li>" * 8
        + "</ul>",
    ],
)
def test_calculated_height_is_right_at_once(content: str, monkeypatch: pytest.MonkeyPatch) -> None:
    from weasyprint import HTML

    usual, tried = columns._set_at, []

    def counted(*given: Any) -> Any:
        tried.append(given)
        return usual(*given)

    monkeypatch.setattr(columns, "_set_at", counted)
    with even_columns():
        HTML(string=page(content)).render()
    assert len(tried) == 1
