"""What a page needs to stand alone in a browser: its typeface inside, and a name for every table that may scroll."""

from __future__ import annotations

import base64
import re
from io import BytesIO
from itertools import count
from pathlib import Path

from impact.fonts import face_rule, font_faces

_SCROLLING = re.compile(r'<div class="scroll" tabindex="0">(<table[^>]*>\s*<caption)>')
_WITHIN = re.compile(r"data:[^\"']*")


def alone(page: str) -> str:
    """Return a page without font rules as one that needs no other file and can be used without a mouse.

    Parameters
    ----------
    page : str
        HTML with a style element in its head. A table stands in ``<div class="scroll" tabindex="0">``; without a caption it
        and its place are named by the template.
    """
    return _with_typeface(_with_named_tables(page))


def _with_named_tables(page: str) -> str:
    """Return a page whose scrolling tables with a caption are regions of that name, and whose charts take the keyboard.

    What scrolls sideways on a narrow screen must be reached, and announced by name, without a mouse (W3C, WCAG 2.2,
    2.1.1 and 4.1.2). A figure has its role and its name already.
    """
    numbers = count(1)

    def named(found: re.Match[str]) -> str:
        name = f"table-{next(numbers)}"
        return f'<div class="scroll" tabindex="0" role="region" aria-labelledby="{name}">{found[1]} id="{name}">'

    return _SCROLLING.sub(named, page).replace("<figure>", '<figure class="scroll" tabindex="0">')


def _with_typeface(page: str) -> str:
    """Return a page that holds the glyphs of its own characters, which takes a twentieth of whole font files."""
    characters = "".join(sorted(set(_WITHIN.sub("", page))))
    rules = [
        face_rule(weight, style, "data:font/woff2;base64," + base64.b64encode(_glyphs(path, characters)).decode())
        for weight, style, path in font_faces()
    ]
    return page.replace("<style>", "<style>" + "\n".join(rules), 1)


def _glyphs(font: Path, characters: str) -> bytes:
    """Return a WOFF2 file with the glyphs of some characters; those that the font lacks are left out."""
    from fontTools.subset import Options, Subsetter, load_font, save_font

    options = Options(flavor="woff2")
    subsetter = Subsetter(options)
    subsetter.populate(text=characters)
    file = BytesIO()
    with load_font(str(font), options) as face:
        subsetter.subset(face)
        save_font(face, file, options)
    return file.getvalue()
