"""Letters beyond the report's typeface, on systems whose only fonts are those that the tests build.

Checked against, from outside:

- both standards where another font is embedded: the rules of page-validation
"""

from __future__ import annotations

import base64
import os
import re
import subprocess
import sys
from io import BytesIO
from pathlib import Path

import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

from impact.report.drawing import text_width
from impact.report.typefaces import beyond, isolated, spelled
from tests import edges
from tests.letters import GIFT, PENCIL
from tests.reports import refused
from tests.sheets import texts

ROOT = Path(__file__).parents[1]

linux = pytest.mark.skipif(sys.platform != "linux", reason="fonts are offered by a file of fontconfig")


def build(path: Path, characters: str, *, embedding: int = 0, coloured: bool = False) -> None:
    """Write a font in which each of some characters is a box 600 units wide, of 1000 in an em."""
    pen = TTGlyphPen(None)
    for place in ((50, 0), (50, 700), (550, 700), (550, 0)):
        pen.lineTo(place) if pen.points else pen.moveTo(place)
    pen.closePath()
    box = pen.glyph()
    names = {ord(one): f"u{ord(one):X}" for one in characters}
    order = [".notdef", *names.values()]
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder(order)
    builder.setupCharacterMap(names)
    builder.setupGlyf(dict.fromkeys(order, box))
    builder.setupHorizontalMetrics(dict.fromkeys(order, (600, 50)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Boxes", "styleName": "Regular"})
    builder.setupOS2(sTypoAscender=800, sTypoDescender=-200, usWinAscent=800, usWinDescent=200, fsType=embedding)
    builder.setupPost()
    if coloured:
        builder.setupCOLR({name: [(".notdef", 0)] for name in names.values()})
        builder.setupCPAL([[(1.0, 0.0, 0.0, 1.0)]])
    builder.save(path)


@pytest.fixture
def fonts(tmp_path: Path) -> Path:
    """Return a folder whose fonts are all that the system has."""
    folder = tmp_path / "fonts"
    folder.mkdir()
    settings = f"<fontconfig><dir>{folder}</dir><cachedir>{tmp_path / 'cache'}</cachedir></fontconfig>"
    (tmp_path / "fonts.conf").write_text(f'<?xml version="1.0"?>{settings}', encoding="utf-8")
    return folder


def run(*arguments: str | Path, fonts: Path) -> subprocess.CompletedProcess[str]:
    """Run Python where these fonts are all."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "FONTCONFIG_FILE": str(fonts.parent / "fonts.conf"), "PYTHONIOENCODING": "utf-8", "PYTHONFAULTHANDLER": "1"}  # fmt: skip
    command = [sys.executable, *map(str, arguments)]
    done = subprocess.run(
        command, cwd=fonts.parent, env=environment, capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stderr
    return done


def asked(expression: str, fonts: Path) -> str:
    """Return what an expression over the module and the page above is, where these fonts are all."""
    program = f"import impact.report.typefaces as it; from tests.letters import PAGE, PENCIL, GIFT; print({expression})"  # fmt: skip
    return run("-c", program, fonts=fonts).stdout.removesuffix("\n")


def pdf(fonts: Path, name: str = "a.pdf") -> bytes:
    program = "import sys, pathlib; from impact.report.layout.pdf import pdf_of; from tests.letters import PAGE; pathlib.Path(sys.argv[1]).write_bytes(pdf_of(PAGE))"  # fmt: skip
    run("-c", program, name, fonts=fonts)
    return (fonts.parent / name).read_bytes()


def text(content: bytes) -> str:
    return texts(content)[0]


def test_beyond_is_what_has_a_glyph_and_is_not_in_the_typeface() -> None:
    assert beyond("Paper, Χαρτί, бумага, CO₂e\n\u00a0\u200b\u200d\ufe0f") == set()
    assert beyond(f"pen {PENCIL}{GIFT}\ufe0f") == {*PENCIL, GIFT}


def test_spelled_and_isolated_leave_a_page_of_the_typeface_as_it_is() -> None:
    page = "<p>Χάρτινο εργαστήριο – бумага</p>"
    assert spelled(page) is page
    assert isolated(page) is page


@pytest.mark.parametrize(
    ("page", "expected"),
    [
        ("<p>علبة أقلام 12</p>", "<p><bdi>علبة أقلام</bdi> 12</p>"),
        ("<p>a ורד b שמש</p>", "<p>a <bdi>ורד b שמש</bdi></p>"),
        ('<title>ورق</title><p id="ورق">x</p>', '<title>ورق</title><p id="ورق">x</p>'),
    ],
)
def test_isolated_wraps_the_run_and_nothing_else(page: str, expected: str) -> None:
    assert isolated(page) == expected


@linux
def test_without_fonts_letters_are_named_in_brackets_and_told(fonts: Path) -> None:
    written = asked("it.spelled(PAGE)", fonts)
    assert f'<h1 id="{PENCIL}">[U+925B U+7B46 U+7ACB U+3066] [wrapped present]</h1>' in written
    told = asked("it.told(PAGE)", fonts)
    assert told.startswith(f"no font of this system holds {' '.join(sorted([*PENCIL, GIFT]))} as outlines")
    assert "Noto Sans CJK" in told
    assert "Noto Emoji" in told
    content = pdf(fonts)
    assert "[U+925B U+7B46 U+7ACB U+3066]" in text(content)
    assert [refused(content, profile) for profile in ("ua1", "3a")] == [[], []]


@linux
def test_letters_of_a_font_of_the_system_are_printed_and_embedded(fonts: Path) -> None:
    build(fonts / "boxes.ttf", PENCIL[:2])
    assert asked("sorted(it.lacking(PENCIL)) == sorted(PENCIL[2:])", fonts) == "True"
    content = pdf(fonts)
    assert f"{PENCIL[:2]}[U+7ACB U+3066]" in text(content)
    assert [refused(content, profile) for profile in ("ua1", "3a")] == [[], []]
    assert pdf(fonts, "b.pdf") == content
    rules = asked("it.rules(PAGE)", fonts)
    held = base64.b64decode(re.findall(r"base64,([^']*)'", rules)[0])
    assert set(TTFont(BytesIO(held)).getBestCmap()) == set(map(ord, PENCIL[:2]))
    assert "unicode-range: U+925B, U+7B46" in rules or "unicode-range: U+7B46, U+925B" in rules


@linux
@pytest.mark.parametrize(
    ("embedding", "coloured", "held", "in_pages"),
    [
        (0x0000, False, True, True),  # may be installed
        (0x0008, False, True, True),  # may be edited
        (0x0004, False, True, False),  # for preview and print
        (0x0002, False, False, False),  # restricted
        (0x0100, False, False, False),  # no part of it alone
        (0x0000, True, False, False),  # coloured
    ],
)
def test_font_is_used_as_its_maker_allows(
    embedding: int, coloured: bool, held: bool, in_pages: bool, fonts: Path
) -> None:
    build(fonts / "boxes.ttf", PENCIL, embedding=embedding, coloured=coloured)
    found = asked("it.lacking(PENCIL) == set(), [font.in_pages for font in it.fallback_fonts(PENCIL)], bool(it.rules(PENCIL))", fonts)  # fmt: skip
    assert found == f"{held} {[in_pages] if held else []} {in_pages}"


@linux
def test_width_is_that_of_the_fonts_that_print_a_text(fonts: Path) -> None:
    build(fonts / "boxes.ttf", PENCIL)
    assert float(asked("it.width(PENCIL, 8.5)", fonts)) == pytest.approx(4 * 0.6 * 8.5, rel=1e-3)
    assert float(asked("it.width('Wide text', 8.5)", fonts)) == pytest.approx(72.0 * text_width("Wide text"), rel=0.02)


@linux
def test_report_tells_what_no_font_holds(fonts: Path) -> None:
    folder = edges.WRITERS["japanese"](fonts.parent / "records")
    for name, words in (
        ("a.pdf", "names what is lacking in brackets"),
        ("a.html", "only where its own system has one"),
    ):
        done = run("-m", "impact", "report", folder, "--for", "school", "--draws", "100", "-o", name, fonts=fonts)
        assert (
            f"no font of this system holds {' '.join(sorted(set('紙の工房鉛筆立て京都') & set(done.stderr)))}"
            in done.stderr
        )
        assert words in done.stderr
