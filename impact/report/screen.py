"""What a page gets for a screen: names for what scrolls, rows that become cards on a phone, and tones for the dark."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import chain, count, repeat

from impact.report.drawing import INK, ON_MIDDLE, PALE, PAPER, RULE, SOFT, STAGE_COLOURS

DARK_STAGES = ("#cac0f5", "#528594", "#ffb899", "#b67124", "#d4fcf0", "#827e6d")
"""The tones of all data on a dark page, light and middle in turn, in the order of `drawing.STAGE_COLOURS`; they differ
as those do, and `tests/test_palette.py` measures both."""

CHARTS = {
    PAPER: "#12191d",
    INK: "#dfe6e9",
    SOFT: "#b0bcc2",
    RULE: "#7f8c93",
    ON_MIDDLE: "#000000",
    PALE: "#35525e",
    **dict(zip(STAGE_COLOURS, DARK_STAGES, strict=True)),
}
"""Every colour of the charts, and that on a dark page."""

PAGES = {
    **CHARTS,
    "#c9d1d5": "#3b474e",
    "#f1f4f5": "#1c262b",
    "#7a5a1e": "#c9a45c",
    "#5f4511": "#e8cb94",
    "#1f5f8b": "#7fbfe8",
    "#8c999f": "#5f6d75",
}
"""The same of every colour that the style sheet names."""

PICTURES = ".sign, .shown img { background: #ffffff; padding: 0.25rem; }"
"""What is drawn for white paper keeps it."""

_NAMED = re.compile(r"--([a-z]+): (#[0-9a-f]{6});")
_SCROLLING = re.compile(r'<div class="scroll" tabindex="0">(<table[^>]*>\s*<caption)>')
_FIGURE = re.compile(r'<figure(?: class="([^"]*)")?>')
_CARDS = re.compile(r'<table class="[^"]*\bcards\b.*?</table>', re.DOTALL)
_HEADER = re.compile(r"<th\b[^>]*>(.*?)</th>", re.DOTALL)
_PART = re.compile(r"<(table|thead|tbody|tr|th|td)\b")
_MARKUP = re.compile(r"<[^>]*>")
ROLES = {"table": "table", "thead": "rowgroup", "tbody": "rowgroup", "tr": "row", "td": "cell"}
"""What the parts of a table are to what reads aloud, said because a part that is shown as a block is no part of a table."""


def fitted(page: str) -> str:
    """Return a page that can be read on a phone and in the dark, and used without a mouse.

    Its scrolling tables with a caption become regions of that name, and its charts take the keyboard: what scrolls
    sideways on a narrow screen must be reached, and announced by name, without a mouse (W3C, WCAG 2.2, 2.1.1 and 4.1.2).

    Parameters
    ----------
    page : str
        HTML with a style element in its head. A table stands in ``<div class="scroll" tabindex="0">``; without a caption it
        and its place are named by the template. A table of class ``cards`` has one row of headers and no cell that
        spans columns. A figure has its role and its name already.
    """
    numbers = count(1)

    def named(found: re.Match[str]) -> str:
        name = f"table-{next(numbers)}"
        return f'<div class="scroll" tabindex="0" role="region" aria-labelledby="{name}">{found[1]} id="{name}">'

    reached = _FIGURE.sub(_reached, _SCROLLING.sub(named, page))
    carded = _CARDS.sub(lambda found: _labelled(found[0]), reached)
    return carded.replace("</style>", "\n" + dark_rules(page[: page.find("</style>")]) + "</style>", 1)


def _reached(figure: re.Match[str]) -> str:
    """Return the start of a figure that may scroll, with the classes that it has."""
    return f'<figure class="{" ".join(filter(None, ("scroll", figure[1])))}" tabindex="0">'


def _labelled(table: str) -> str:
    """Return a table whose parts say what they are, and whose cells carry the name of their column."""
    head, mark, body = table.partition("<tbody>")
    labels = [" ".join(_MARKUP.sub("", words).split()).replace('"', "&#34;") for words in _HEADER.findall(head)]
    head = _PART.sub(lambda found: f'{found[0]} role="{ROLES.get(found[1], "columnheader")}"', head)
    return head + "".join(_told(mark + body, labels))


def _told(body: str, labels: Iterable[str]) -> Iterator[str]:
    """Yield the rows of a table, piece by piece."""
    end, columns = 0, iter(labels)
    for found in _PART.finditer(body):
        yield body[end : found.end()]
        end = found.end()
        if found[1] == "tr":
            columns = chain(labels, repeat(""))
        yield f' role="{ROLES.get(found[1], "rowheader")}"'
        if found[1] in ("th", "td"):
            label = next(columns)
            yield f' data-label="{label}"' if found[1] == "td" and label else ""
    yield body[end:]


def dark_rules(style: str) -> str:
    """Return the rules for who prefers dark: the colours that a style sheet names, and those of the charts by their value.

    A print is light in any case. No rule names what its element stands in: marks are drawn by reference, and what is
    referred to stands in nothing.
    """
    names = "".join(f" --{name}: {PAGES[colour]};" for name, colour in _NAMED.findall(style) if colour in PAGES)
    tones = [
        f'  [{look}="{colour}"] {{ {look}: {dark}; }}' for colour, dark in CHARTS.items() for look in ("fill", "stroke")
    ]
    return "\n".join(
        ["@media screen and (prefers-color-scheme: dark) {", f"  :root {{{names} }}", f"  {PICTURES}", *tones, "}\n"]
    )
