from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from impact.report.faces import font_faces, font_family

ROOT = Path(__file__).parents[1]
# What reports print beyond ASCII: CO₂e, m² and m³, C×N, ±, ranges, minus, half, degrees, quotes, no-break spaces.
GLYPHS = "₂²³×±–—−½·°≤≥≈→…‘’“”µ€£•\u00a0"
FACES = {(weight, style): path for weight, style, path in font_faces()}


def glyphs_of(path: Path) -> set[str]:
    with TTFont(path) as font:
        return {chr(code) for code in font.getBestCmap()}


def names_of(path: Path) -> tuple[str, int, bool]:
    with TTFont(path) as font:
        family = font["name"].getDebugName(16) or font["name"].getDebugName(1)
        return family, font["OS/2"].usWeightClass, bool(font["OS/2"].fsSelection & 1)


def test_font_faces_offer_regular_italic_semibold_and_bold() -> None:
    assert set(FACES) == {(400, "normal"), (400, "italic"), (600, "normal"), (700, "normal")}


@pytest.mark.parametrize(("weight", "style"), FACES)
def test_font_faces_file_is_the_face_it_is_listed_as(weight: int, style: str) -> None:
    assert names_of(FACES[weight, style]) == (font_family(), weight, style == "italic")


@pytest.mark.parametrize(("weight", "style"), FACES)
def test_font_faces_file_has_every_glyph_of_the_reports(weight: int, style: str) -> None:
    printable = {chr(code) for code in range(0x20, 0x7F)}
    assert (printable | set(GLYPHS)) - glyphs_of(FACES[weight, style]) == set()


@pytest.mark.parametrize("pattern", ["report_templates/**/*.html", "report_templates/**/*.css", "factors/*.csv"])
def test_font_faces_regular_has_every_character_of_templates_and_factors(pattern: str) -> None:
    glyphs = glyphs_of(FACES[400, "normal"]) | {"\n"}
    missing = {
        path.relative_to(ROOT).as_posix(): sorted(unknown)
        for path in ROOT.glob(pattern)
        if (unknown := set(path.read_text(encoding="utf-8-sig")) - glyphs)
    }
    assert missing == {}


def test_font_faces_package_comes_with_the_open_font_licence() -> None:
    text = (FACES[400, "normal"].parent / "LICENSE.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in text


def test_fonts_module_import_does_not_load_the_font_package() -> None:
    code = "import sys, impact.report.drawing; print('font_source_sans_pro' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"
