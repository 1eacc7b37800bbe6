"""Charts as SVG: words are words, stand where they were measured, and collide with nothing in a page.

Checked against, from outside:

- places of letters on a page: a reader of PDF that shares nothing with what laid it out
"""

from __future__ import annotations

import re
from contextlib import closing
from functools import cache
from xml.etree import ElementTree

import pypdfium2
import pytest

from impact.report.drawing import HATCH, INK, POINT, WIDTH, figure, text_width
from impact.report.faces import face_rule, font_faces
from impact.report.html import alone
from impact.report.layout.pdf import pdf_of
from impact.report.vector import image, inline, svg

HEIGHT = 1.5
WORDS = {"AVAVA To Wafting": "left", "fine, 1,234.5 kg CO₂e": "center", "a “name” & <b>": "right"}
TURNED = "turned upwards"


@cache
def drawn() -> str:
    """Return a drawing with a hatched patch, ticks that share a mark, and words held at each of their sides."""
    from matplotlib.patches import Rectangle

    page = figure(HEIGHT)
    axes = page.add_axes((0.1, 0.2, 0.5, 0.2))
    axes.add_patch(Rectangle((0.1, 0.1), 0.5, 0.5, facecolor=INK, hatch=HATCH))
    for row, (words, side) in enumerate(WORDS.items()):
        page.text(0.5, 0.9 - 0.15 * row, words, ha=side, fontsize=8.5)
    page.text(0.9, 0.2, TURNED, rotation=90, ha="left", va="bottom", fontsize=8.5)
    return svg(page)


def test_svg_holds_words_as_text_and_no_path_of_a_letter() -> None:
    found = {"".join(one.itertext()) for one in ElementTree.fromstring(drawn()).iterfind(".//{*}text")}
    assert {*WORDS, TURNED} <= found
    bare = figure(HEIGHT)
    bare.text(0.5, 0.5, "many letters in one word")
    assert "<path" not in svg(bare)


def test_svg_says_nothing_twice_and_keeps_no_name_but_those_referred_to() -> None:
    names = re.findall(r'id="([^"]+)"', drawn())
    referred = set(re.findall(r'url\(#([^)]+)\)|href="#([^"]+)"', drawn()))
    assert sorted(names) == sorted(one or other for one, other in referred)
    assert len(names) >= 3  # a mark of ticks, a hatch, a place to clip to
    assert not re.search(r"metadata|<style|rotate\(-?0 |\n", drawn())


def test_svg_of_two_drawings_shares_no_name_and_one_drawing_repeats() -> None:
    other = figure(HEIGHT)
    other.add_axes((0.1, 0.2, 0.5, 0.3)).plot([1.0, 2.0], [1.0, 2.0])
    first, second = (set(re.findall(r'id="([^"]+)"', one)) for one in (drawn(), svg(other)))
    assert first
    assert second
    assert not first & second
    before = drawn()
    drawn.cache_clear()
    assert drawn() == before


def test_svg_looks_are_attributes_that_a_style_sheet_can_set_again() -> None:
    assert f'fill="{INK}"' in drawn()
    assert re.findall(r'style="([^"]*)"', drawn()) == ["font-kerning:none;font-variant-ligatures:none"]


def test_svg_letters_that_no_page_can_hold_are_left_out() -> None:
    page = figure(HEIGHT)
    page.text(0.5, 0.5, "a\x01b")
    assert ">ab</text>" in svg(page)


@pytest.mark.parametrize("form", [image, inline])
def test_chart_in_a_page_carries_its_alternative_and_nothing_is_nothing(form: object) -> None:
    assert callable(form)
    assert form("", "said") == ""
    shown = form(drawn(), 'said of "a" <b>\n& c')
    assert "said of &#34;a&#34; &lt;b&gt; &amp; c" in shown


def test_chart_in_a_page_is_one_picture_whose_words_are_not_read_twice() -> None:
    root = ElementTree.fromstring(inline(drawn(), "said"))
    assert (root.get("role"), root.get("aria-label")) == ("img", "said")
    (inside,) = root
    assert inside.get("aria-hidden") == "true"
    assert inside.find(".//{*}text") is not None


def test_page_holds_the_letters_of_its_charts() -> None:
    from base64 import b64decode
    from io import BytesIO

    from fontTools.ttLib import TTFont

    page = alone(f"<style></style><p>x</p>{inline(drawn(), 'said')}")
    regular = re.findall(r"font-weight: 400; font-style: normal; src: url\('data:font/woff2;base64,([^']+)'\)", page)
    with TTFont(BytesIO(b64decode(regular[0]))) as face:
        assert {ord(letter) for letter in "".join(WORDS)} <= set(face.getBestCmap())


@cache
def letters() -> list[tuple[str, float, float, float, float]]:
    """Return the letters of the drawing laid out as a PDF in its own size: left, foot, right, head. [pt]"""
    rules = "".join(face_rule(weight, style, path.as_uri()) for weight, style, path in font_faces())
    page = f"@page {{ size: {WIDTH}in {HEIGHT}in; margin: 0 }} body, h1 {{ margin: 0; font-size: 0 }} img {{ display: block }}"
    made = pdf_of(
        f'<!DOCTYPE html><html lang="en"><head><title>x</title><style>{rules}{page}</style></head>'
        f"<body><h1>x</h1>{image(drawn(), 'said')}</body></html>"
    )
    with closing(pypdfium2.PdfDocument(made)) as document:
        text = document[0].get_textpage()
        return [
            (text.get_text_range(place, 1), *text.get_charbox(place, loose=True)) for place in range(text.count_chars())
        ]


@pytest.mark.parametrize("words", WORDS)
def test_words_stand_in_the_pdf_where_they_were_measured(words: str) -> None:
    whole = "".join(letter for letter, *_ in letters())
    start = whole.index(words)
    boxes = letters()[start : start + len(words)]
    left, right = boxes[0][1], boxes[-1][3]
    width = text_width(words) / POINT
    held = {"left": 0.0, "center": 0.5, "right": 1.0}[WORDS[words]]
    assert left == pytest.approx(0.5 * WIDTH / POINT - held * width, abs=0.15)
    assert right - left == pytest.approx(width, abs=0.15)


def test_words_turned_upwards_stand_upright_in_the_pdf() -> None:
    whole = "".join(letter for letter, *_ in letters())
    start = whole.index(TURNED[:5])
    boxes = letters()[start : start + 5]
    feet = [foot for _, _, foot, _, _ in boxes]
    assert feet == sorted(feet)
    assert feet[-1] - feet[0] > 10.0
    assert max(left for _, left, *_ in boxes) - min(left for _, left, *_ in boxes) < 3.0
