"""Contrast after WCAG 2.2, and the colours of the reports' style.

Checked against, from outside:

- contrast of colours: W3C, WCAG 2.2, published pairs
"""

from __future__ import annotations

import re

import pytest

from impact.base.places import templates_folder
from tests.contrast import LEAST_FOR_TEXT, contrast

STYLE = (templates_folder() / "report.css").read_text(encoding="utf-8")
NAMED = dict(re.findall(r"--([a-z]+):\s*(#[0-9a-fA-F]{3,6})", STYLE))


def colours(key: str) -> set[str]:
    """Return every colour that the style gives to a property, its names resolved."""
    found = re.findall(rf"(?<![-a-z]){key}:\s*([^;}}]+?)\s*[;}}]", STYLE)
    plain = {re.sub(r"var\(--([a-z]+)\)", lambda name: NAMED[name[1]], value) for value in found}
    return plain - {"inherit"}


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


def test_report_style_every_text_colour_is_readable_on_every_background() -> None:
    texts, backgrounds = colours("color"), colours("background") | {"#ffffff"}
    assert len(texts) >= 3
    assert len(backgrounds) >= 2
    pairs = {(text, back): contrast(text, back) for text in texts for back in backgrounds}
    assert {pair: ratio for pair, ratio in pairs.items() if ratio < LEAST_FOR_TEXT} == {}
