"""Contrast after WCAG 2.2, and the colours of the reports' style.

Checked against, from outside:

- contrast of colours: W3C, WCAG 2.2, published pairs
"""

from __future__ import annotations

import re

import pytest

from impact.base.places import templates_folder
from impact.report.screen import PAGES, dark_rules
from tests.contrast import LEAST_FOR_GRAPHICS, LEAST_FOR_TEXT, contrast

STYLE = "".join((templates_folder() / sheet).read_text(encoding="utf-8") for sheet in ("report.css", "screen.css"))
NAMED = dict(re.findall(r"--([a-z]+):\s*(#[0-9a-fA-F]{3,6})", STYLE))


def colours(key: str) -> set[str]:
    """Return every colour that the style gives to a property, its names resolved."""
    found = re.findall(rf"(?<![-a-z]){key}:\s*([^;}}]+?)\s*[;}}]", STYLE)
    plain = {re.sub(r"var\(--([a-z]+)\)", lambda name: NAMED[name[1]], value) for value in found}
    return {value for value in plain if value.startswith("#")}


# Published pairs: W3C, Understanding success criteria 1.4.3 and 1.4.11 (grey on white); black on white is 21 by definition.
@pytest.mark.parametrize(
    ("colour", "ratio"), [("#767676", 4.54), ("#777777", 4.48), ("#949494", 3.03), ("#000", 21.0), ("#ffffff", 1.0)]
)
def test_contrast_on_white_matches_the_published_ratio(colour: str, ratio: float) -> None:
    assert contrast(colour, "#ffffff") == pytest.approx(ratio, abs=0.0051)
    assert contrast("#fff", colour) == contrast(colour, "#ffffff")


@pytest.mark.parametrize("colour", ["white", "#12", "#12345g", "123456", "#1234567"])
def test_contrast_colour_written_otherwise_is_refused(colour: str) -> None:
    with pytest.raises(ValueError, match="accepted: a colour"):
        contrast(colour, "#000000")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_report_style_every_text_colour_is_readable_on_every_background(theme: str) -> None:
    texts, backgrounds = colours("color"), colours("background") | {"#ffffff"}
    assert len(texts) >= 3
    assert len(backgrounds) >= 2
    shown = PAGES if theme == "dark" else {colour: colour for colour in texts | backgrounds}
    pairs = {(text, back): contrast(shown[text], shown[back]) for text in texts for back in backgrounds}
    assert {pair: ratio for pair, ratio in pairs.items() if ratio < LEAST_FOR_TEXT} == {}


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_report_style_focus_and_what_says_that_something_scrolls_are_seen(theme: str) -> None:
    page, focus, edge = (NAMED[name] if theme == "light" else PAGES[NAMED[name]] for name in ("page", "focus", "edge"))
    assert contrast(focus, page) >= LEAST_FOR_GRAPHICS
    assert contrast(edge, page) >= 2.5  # ours: a shadow fades out, and only its rim has its full tone


def test_report_style_names_every_colour_and_gives_it_a_tone_in_the_dark() -> None:
    rest = re.sub(r":root \{[^}]*\}|@page \{.*?\}", "", STYLE)
    assert re.findall(r"#[0-9a-fA-F]{3,6}\b(?=[ ;])", rest) == ["#4f5f67"]  # of running titles, on paper alone
    assert set(NAMED.values()) <= set(PAGES)
    rules = dark_rules(STYLE)
    assert all(f"--{name}: {PAGES[colour]};" in rules for name, colour in NAMED.items())
    assert rules.startswith("@media screen and (prefers-color-scheme: dark)")
