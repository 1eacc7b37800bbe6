"""What sets text in the layout library, set up once for all styles that are alike in it.

Thousands of styles of a dozen pages differ in borders, margins and colours; in what bears on text, some sixty do.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple

TEXTUAL = (
    "direction", "font_family", "font_feature_settings", "font_kerning", "font_language_override", "font_size", "font_stretch",
    "font_style", "font_variant_alternates", "font_variant_caps", "font_variant_east_asian", "font_variant_ligatures",
    "font_variant_numeric", "font_variant_position", "font_variation_settings", "font_weight", "hyphenate_character",
    "hyphenate_limit_chars", "hyphenate_limit_zone", "hyphens", "lang", "letter_spacing", "overflow_wrap", "tab_size",
    "text_decoration_line", "white_space", "word_break", "word_spacing",
)  # fmt: skip
"""What of a style bears on how text is set, where its lines end and how wide they are."""


class Kind(NamedTuple):
    """What bears on the text of a style.

    Attributes
    ----------
    style : object
        The style, kept so that no other takes its place.
    name : str
        The same for all styles that set text alike.
    at_blanks : bool
        Whether lines may end at blanks, and no word is divided by rules of its language.
    plain : bool
        Whether no line is drawn with the text, and its language is told by name.
    """

    style: Any
    name: str
    at_blanks: bool
    plain: bool


class Kinds:
    """The kinds of styles of one document."""

    def __init__(self) -> None:
        self._known: dict[int, Kind] = {}

    def of(self, style: Any) -> Kind:
        """Return the kind of a style."""
        found = self._known.get(id(style))
        if found is None:
            name = str([id(style.font_config), *(style[name] for name in TEXTUAL)])
            at_blanks = style["white_space"] == "normal" and style["hyphens"] != "auto"
            plain = style["text_decoration_line"] == "none" and style["font_language_override"] == "normal"
            found = self._known[id(style)] = Kind(style, name, at_blanks, plain)
        return found


@contextmanager
def texts_set_up_once(kinds: Kinds) -> Iterator[None]:
    """Have the layout library ask once for each kind of style which fonts and features set its text."""
    from weasyprint.text import line_break
    from weasyprint.text.ffi import ffi, gobject, pango

    usual = line_break.Layout.setup
    known: dict[str, tuple[Any, Any, Any, Any]] = {}

    def set_up(self: Any, style: Any) -> None:
        kind = kinds.of(style)
        if not kind.plain:
            usual(self, style)
            return
        if kind.name not in known:
            known[kind.name] = (*_setting(style), line_break.get_font_description(style), _features(style))
        setting, self.language, description, features = known[kind.name]
        self.style, self.first_line_direction = style, 0
        self.ascent = self.underline_position = self.strikethrough_position = None
        self.layout = ffi.gc(pango.pango_layout_new(setting), gobject.g_object_unref)
        pango.pango_layout_set_auto_dir(self.layout, False)
        pango.pango_layout_set_font_description(self.layout, description)
        if features is not None:
            attributes = pango.pango_attr_list_new()
            pango.pango_attr_list_insert(attributes, features)
            pango.pango_layout_set_attributes(self.layout, attributes)

    line_break.Layout.setup = set_up
    try:
        yield
    finally:
        line_break.Layout.setup = usual


def _setting(style: Any) -> tuple[Any, Any]:
    """Return what text of a style is set in, fonts, direction and language; and the language."""
    from weasyprint.text.constants import PANGO_DIRECTION
    from weasyprint.text.ffi import ffi, gobject, pango, unicode_to_char_p

    setting = ffi.gc(pango.pango_font_map_create_context(style.font_config.font_map), gobject.g_object_unref)
    pango.pango_context_set_round_glyph_positions(setting, False)
    pango.pango_context_set_base_dir(setting, PANGO_DIRECTION[style["direction"]])
    if not style["lang"]:
        return setting, pango.pango_language_get_default()
    name, _held = unicode_to_char_p(style["lang"])
    language = pango.pango_language_from_string(name)
    pango.pango_context_set_language(setting, language)
    return setting, language


def _features(style: Any) -> Any:
    """Return the features that fonts are asked for, None where there are none; they last as long as the fonts."""
    from weasyprint.text.ffi import pango
    from weasyprint.text.fonts import font_features

    asked = font_features(
        *(style[f"font_{name}"] for name in ("kerning", "variant_ligatures", "variant_position", "variant_caps")),
        *(style[f"font_{name}"] for name in ("variant_numeric", "variant_alternates", "variant_east_asian")),
        style["font_feature_settings"],
    )
    if not asked:
        return None
    name = ",".join(f"{key} {value}" for key, value in asked.items()).encode()
    kept = style.font_config.font_features
    if name not in kept:
        kept[name] = pango.pango_attr_font_features_new(name)
    return kept[name]
