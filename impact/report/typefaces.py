"""Letters beyond the report's typeface: the fonts of this system that hold them, how wide they run, and those that none holds.

Pango looks for a font that holds what the typeface lacks. Here it is asked the same question before a page is laid out,
so that no letter ends as an empty box: what no font holds is written by name in brackets, see `spelled`, and told, see
`told`. A glyph that is a coloured picture counts as none, because such pictures stand in a PDF as images without
letters. Fonts whose makers forbid to embed them, or to embed a part of them, are passed over (bits ``fsType`` of the
OpenType table OS/2, from memory). What is said of fonts here holds for one machine; another has others.
"""

from __future__ import annotations

import atexit
import re
import unicodedata
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, lru_cache
from io import BytesIO
from itertools import groupby
from typing import TYPE_CHECKING, Any

from impact.report.faces import face_rule, font_faces, font_family
from impact.report.layout.pango import absence

if TYPE_CHECKING:
    from fontTools.ttLib import TTFont

FAMILY = "letters beyond"
"""Family of the style sheet of a page that stands alone, for letters that the typeface lacks."""

RESTRICTED, PREVIEW, NO_PART, PICTURES = 0x0002, 0x0004, 0x0100, 0x0200
"""Bits ``fsType``: no embedding; for print and preview alone; no part of the font; nothing but bitmaps."""

UNSEEN = ("Cc", "Cf", "Cs", "Zs", "Zl", "Zp")
"""General categories of characters without a glyph: controls, joiners, blanks."""

WITH_PICTURES = ("CBDT", "sbix", "SVG ", "COLR", "EBDT")
"""Tables of fonts whose glyphs may be pictures."""

FONTS = (
    ("CJK|HIRAGANA|KATAKANA|HANGUL|IDEOGRAPHIC", "Noto Sans CJK"), ("ARABIC", "Noto Sans Arabic"),
    ("HEBREW", "Noto Sans Hebrew"), ("DEVANAGARI", "Noto Sans Devanagari"), ("THAI", "Noto Sans Thai"),
)  # fmt: skip
"""Fonts with a free licence that hold letters, by how the Unicode names of these begin."""


@dataclass(frozen=True)
class Further:
    """A font of this system that holds letters which the typeface lacks.

    Attributes
    ----------
    name : str
        Its full name.
    content : bytes
        Its file.
    index : int
        Its place in the file, which may hold several.
    characters : str
        The letters asked for that it holds.
    in_pages : bool
        Whether its maker lets a page hold it; else a document to print alone does.
    """

    name: str
    content: bytes
    index: int
    characters: str
    in_pages: bool


def lacking(text: str) -> set[str]:
    """Return the characters of a text that no font of this system holds; none where Pango cannot be asked."""
    wanted = beyond(text)
    if not wanted or absence() is not None:
        return set()
    return {character for character in wanted if _source(character) is None}


def fallback_fonts(text: str) -> list[Further]:
    """Return the fonts of this system that Pango takes for what the typeface lacks, in the order of their letters."""
    wanted = sorted(beyond(text))
    if not wanted or absence() is not None:
        return []
    found: dict[tuple[str, int], list[str]] = {}
    for character in wanted:
        source = _source(character)
        if source is not None:
            found.setdefault(source, []).append(character)
    return [_further(*source, "".join(held)) for source, held in found.items()]


def beyond(text: str) -> set[str]:
    """Return the characters of a text that have a glyph, and none in the report's typeface."""
    others = {character for character in set(text) if not character.isascii()} - _held()
    return {one for one in others if unicodedata.category(one) not in UNSEEN and not _selects(one)}


def _selects(character: str) -> bool:
    """Return whether a character chooses a form of the one before it."""
    return "VARIATION SELECTOR" in unicodedata.name(character, "")


@cache
def _held() -> frozenset[str]:
    """Return the characters of the upright typeface; a slanted letter that it lacks is taken from there."""
    from fontTools.ttLib import TTFont

    with TTFont(font_faces()[0][2], lazy=True) as font:
        return frozenset(map(chr, font.getBestCmap()))


_RUNNING = re.compile(r'(<h1 data-running=")([^"]*)')
_TEXT = re.compile(r"(<(style|title|script)\b.*?</\2>)|(?<=>)([^<>]+)(?=<)", re.DOTALL)


def spelled(markup: str) -> str:
    """Return HTML or SVG in whose text each letter that no font of this system holds stands by name, in brackets.

    So it does in the title at the foot of the pages, which an attribute holds.
    """
    missing = lacking(markup)
    if not missing:
        return markup
    held = "".join(map(re.escape, sorted(missing)))
    run = re.compile(f"[{held}][{held}\u200d\ufe00-\ufe0f]*")

    def named(text: str) -> str:
        return run.sub(lambda letters: _named(letters[0]), text)

    markup = _TEXT.sub(lambda found: found[1] or named(found[3]), markup)
    return _RUNNING.sub(lambda found: found[1] + named(found[2]), markup)


def _named(letters: str) -> str:
    """Return the names of symbols, such as ``[wrapped gift]``, or the numbers of letters, such as ``[U+6728 U+5DE5]``."""
    shown = [one for one in letters if unicodedata.category(one) not in UNSEEN and not _selects(one)]
    pieces = []
    for symbol, group in groupby(shown, key=lambda one: unicodedata.category(one).startswith("S")):
        names = [(unicodedata.name(one, "").lower() if symbol else "") or f"U+{ord(one):04X}" for one in group]
        pieces.append((", " if symbol else " ").join(names))
    return f"[{', '.join(pieces)}]"


def told(text: str) -> str | None:
    """Return the line that says which letters no font of this system holds, and what to install; None where there are none."""
    missing = sorted(lacking(text))
    if not missing:
        return None
    fonts = dict.fromkeys(_font_for(one, unicodedata.name(one, "")) for one in missing)
    more = f" and {len(missing) - LISTED} more" if len(missing) > LISTED else ""
    return (
        f"no font of this system holds {' '.join(missing[:LISTED])}{more} as outlines that a document may embed. "
        f"Install one that does, such as {' or '.join(fonts)}"
    )


LISTED = 20
"""Letters that a message lists."""


def _font_for(character: str, name: str) -> str:
    if unicodedata.category(character).startswith("S"):
        return "Noto Emoji (the one in black and white)"
    return next((font for script, font in FONTS if re.match(script, name)), "Noto Sans of their script")


def rules(page: str) -> str:
    """Return the style rules by which a page holds its letters beyond the typeface; empty where it has none."""
    import base64

    found = []
    for font in fallback_fonts(page):
        if font.in_pages:
            data = base64.b64encode(subset(font.content, page, index=font.index)).decode()
            found.append(f"@font-face {{ font-family: '{FAMILY}'; src: url('data:font/woff2;base64,{data}'); unicode-range: {_ranges(font.characters)}; }}")  # fmt: skip
    return "\n".join([*found, f"html {{ font-family: '{font_family()}', '{FAMILY}'; }}"]) if found else ""


def _ranges(characters: Iterable[str]) -> str:
    return ", ".join(f"U+{ord(one):X}" for one in characters)


def subset(font: bytes, characters: str, *, index: int = 0) -> bytes:
    """Return a WOFF2 file with the glyphs of some characters; those that the font lacks are left out."""
    return _subset(font, "".join(sorted({*characters})), index)


@lru_cache(maxsize=64)
def _subset(font: bytes, characters: str, index: int) -> bytes:
    from fontTools.subset import Options, Subsetter, load_font, save_font

    options = Options(flavor="woff2", font_number=index & 0xFFFF)
    options.drop_tables = [*options.drop_tables, "FFTM"]  # when its maker last saved it
    subsetter = Subsetter(options)
    subsetter.populate(text=characters)
    file = BytesIO()
    with load_font(BytesIO(font), options) as face:
        subsetter.subset(face)
        save_font(face, file, options)
    return file.getvalue()


RIGHT_TO_LEFT = ("R", "AL")
"""Bidirectional classes of letters that run from right to left."""

_STRONG = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff"
_LEFTWARD = re.compile(f"[{_STRONG}](?:[^<>&]*[{_STRONG}])?")


def isolated(page: str) -> str:
    """Return a page in whose text each run of letters from right to left is kept apart, so that it moves nothing beside it.

    What stands between two such letters goes with them: the blanks of a name.
    """
    if not any(unicodedata.bidirectional(one) in RIGHT_TO_LEFT for one in set(page) if not one.isascii()):
        return page
    return _TEXT.sub(lambda found: found[1] or _LEFTWARD.sub(r"<bdi>\g<0></bdi>", found[3]), page)


def width(text: str, size: float) -> float:
    """Return how wide a text runs as Pango lays it out in the report's typeface and those beside it. [pt]

    The text is measured as it is printed, that is `spelled`.
    """
    from weasyprint.text.ffi import ffi, pango

    printed = spelled(f"<p>{text}</p>")[3:-4] if lacking(text) else text
    with _laid_out(printed, _LARGE) as layout:
        extents = ffi.new("PangoRectangle *")
        pango.pango_layout_line_get_extents(pango.pango_layout_get_line_readonly(layout, 0), ffi.NULL, extents)
        return float(extents.width) / _UNITS * size / _LARGE


_UNITS = 1024
"""Pango's units in a point."""

_LARGE = 1000.0
"""Size at which texts are measured, because widths are rounded to whole points. [pt]"""


@cache
def _configuration() -> Any:
    """Return the fonts of this system with the report's typeface, as the layout library has them."""
    from weasyprint import CSS
    from weasyprint.text.fonts import FontConfiguration

    fonts = FontConfiguration()
    atexit.register(_configuration.cache_clear)  # its folder goes with it
    faces = "".join(face_rule(weight, style, path.as_uri()) for weight, style, path in font_faces())
    CSS(string=faces, font_config=fonts)
    return fonts


@contextmanager
def _laid_out(text: str, size: float = _LARGE) -> Iterator[Any]:
    """Give a text as Pango lays it out in one line. [pt]"""
    from weasyprint.text.ffi import ffi, gobject, pango

    context = ffi.gc(pango.pango_font_map_create_context(_configuration().font_map), gobject.g_object_unref)
    layout = ffi.gc(pango.pango_layout_new(context), gobject.g_object_unref)
    description = ffi.gc(pango.pango_font_description_new(), pango.pango_font_description_free)
    pango.pango_font_description_set_family(description, family := ffi.new("char[]", font_family().encode()))
    pango.pango_font_description_set_absolute_size(description, round(size * _UNITS))
    pango.pango_layout_set_font_description(layout, description)
    letters = ffi.new("char[]", text.encode())
    pango.pango_layout_set_text(layout, letters, -1)
    yield layout
    del family, letters


@cache
def _source(character: str) -> tuple[str, int] | None:
    """Return the font by which Pango prints a character, as a key of `_FILES`; None where it may not be used or there is none."""
    from weasyprint.text.ffi import ffi, harfbuzz, pango
    from weasyprint.text.fonts import get_hb_object_data, get_pango_font_hb_face

    with _laid_out(character) as layout:
        run = pango.pango_layout_get_line_readonly(layout, 0).runs
        while run != ffi.NULL:
            glyphs = run.data.glyphs
            codes = [glyphs.glyphs[place].glyph for place in range(glyphs.num_glyphs)]
            if any(code & pango.PANGO_GLYPH_UNKNOWN_FLAG and code != pango.PANGO_GLYPH_EMPTY for code in codes):
                return None
            face = get_pango_font_hb_face(run.data.item.analysis.font)
            content, index = get_hb_object_data(face), int(harfbuzz.hb_face_get_index(face))
            if content is None or (key := _known(content, index)) is None:
                return None
            return key
    return None


_FILES: dict[tuple[str, int], bytes] = {}


def _known(content: bytes, index: int) -> tuple[str, int] | None:
    """Keep a font that may be used, and return its key."""
    import hashlib

    key = hashlib.sha256(content).hexdigest(), index & 0xFFFF
    if key not in _FILES:
        with _opened(content, index) as font:
            level = _level(font)
            if level & (RESTRICTED | NO_PART | PICTURES) or any(table in font for table in WITH_PICTURES):
                return None
        _FILES[key] = content
    return key


def _opened(content: bytes, index: int) -> TTFont:
    from fontTools.ttLib import TTFont

    return TTFont(BytesIO(content), fontNumber=index & 0xFFFF, lazy=True)


def _level(font: TTFont) -> int:
    return int(font["OS/2"].fsType) if "OS/2" in font else 0


def _further(digest: str, index: int, characters: str) -> Further:
    content = _FILES[digest, index]
    with _opened(content, index) as font:
        name = str(font["name"].getDebugName(4) or "")
        return Further(name, content, index, characters, not _level(font) & PREVIEW)
