"""A figure as SVG for a page: words as text, no mark that is not seen, no name that another chart could have."""

from __future__ import annotations

import base64
import hashlib
import io
import re
import warnings
from collections.abc import Iterator
from typing import TYPE_CHECKING
from xml.etree import ElementTree

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SPACES = {"xmlns": "http://www.w3.org/2000/svg", "href": "{http://www.w3.org/1999/xlink}href"}
UNSPACED = "font-kerning:none;font-variant-ligatures:none"
"""Letters stand as wide as `drawing.text_width` adds them up; the layout library sets them one by one in any case."""

HIDDEN = ("metadata", "style")
_NUMBER = re.compile(r"-?\d+\.\d+(?:e-?\d+)?")
_REFERENCE = re.compile(r"url\(#([^)]+)\)")
_UNWRITABLE = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_GEOMETRY = ("d", "x", "y", "width", "height", "viewBox", "transform")


def svg(drawn: Figure) -> str:
    """Return a figure as SVG without date.

    Looks are attributes, so that a style sheet can set any colour again by its value. Places are rounded to 0.01 pt.
    """
    stream = io.StringIO()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a name in a script that the typeface lacks is boxed, and stands in the table
        drawn.savefig(stream, format="svg", metadata={"Date": None, "Creator": None}, transparent=True)
    text = stream.getvalue()
    root = ElementTree.fromstring(_UNWRITABLE.sub("", text[text.index("<svg") :]))
    for element in root.iter():
        _plain(element)
    used = {name for element in root.iter() for name in _references(element)}
    names = {
        name: f"c{hashlib.sha256(text.encode()).hexdigest()[:8]}-{place}" for place, name in enumerate(sorted(used))
    }
    for element in root.iter():
        _rename(element, names)
    inside = list(_seen(root))
    root[:] = inside
    root.attrib = {
        "xmlns": SPACES["xmlns"], **root.attrib, "font-family": _family(), "stroke-linejoin": "round", "style": UNSPACED,
    }  # fmt: skip
    return ElementTree.tostring(root, encoding="unicode")


def _family() -> str:
    from impact.report.faces import font_family

    return f"{font_family()},sans-serif"


def _plain(element: ElementTree.Element) -> None:
    """Strip an element of name spaces, of white space that means nothing, and of what its looks need not say."""
    element.tag = element.tag.rpartition("}")[2]
    element.tail = None
    if element.tag != "text":
        element.text = None
    rules = [rule.partition(":") for rule in element.attrib.pop("style", "").split(";") if rule]
    looks = {name.strip(): value.strip() for name, _, value in rules}
    for name in ("font-family", "version", "type"):
        looks.pop(name, None)
        element.attrib.pop(name, None)
    if looks.get("text-anchor") == "start":
        del looks["text-anchor"]
    if element.get("transform", "").startswith(("rotate(-0 ", "rotate(0 ")):
        del element.attrib["transform"]
    if SPACES["href"] in element.attrib:
        element.attrib["href"] = element.attrib.pop(SPACES["href"])
    element.attrib.update({name: value.removesuffix("px") for name, value in looks.items()})
    for name in _GEOMETRY:
        if name in element.attrib:
            element.attrib[name] = " ".join(_NUMBER.sub(_rounded, element.attrib[name]).split())


def _rounded(number: re.Match[str]) -> str:
    text = f"{float(number[0]):.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _references(element: ElementTree.Element) -> Iterator[str]:
    for name, value in element.attrib.items():
        yield from _REFERENCE.findall(value)
        if name == "href":
            yield value.removeprefix("#")


def _rename(element: ElementTree.Element, names: dict[str, str]) -> None:
    """Give what is referred to a name of this chart, and take that of everything else away."""
    for name, value in element.attrib.items():
        element.attrib[name] = _REFERENCE.sub(lambda found: f"url(#{names[found[1]]})", value)
    if "href" in element.attrib:
        element.attrib["href"] = "#" + names[element.attrib["href"].removeprefix("#")]
    own = element.attrib.pop("id", "")
    if own in names:
        element.attrib["id"] = names[own]


def _seen(parent: ElementTree.Element) -> Iterator[ElementTree.Element]:
    """Yield what is seen of the children of an element, out of groups that say nothing."""
    for child in parent:
        if child.tag == "g" and not child.attrib:
            yield from _seen(child)
            continue
        child[:] = list(_seen(child))
        empty = child.tag in ("g", "defs") and len(child) == 0
        unseen = child.tag == "path" and child.get("fill") == "none" and child.get("stroke", "none") == "none"
        if not empty and not unseen and child.tag not in HIDDEN:
            yield child


def image(chart: str, said: str) -> str:
    """Return a chart as the picture that the layout library takes, with its alternative in words; nothing for none."""
    if not chart:
        return ""
    return f'<img src="data:image/svg+xml;base64,{base64.b64encode(chart.encode()).decode()}" alt="{_attribute(said)}">'


def inline(chart: str, said: str, narrow: str = "") -> str:
    """Return a chart as an element of a page for a browser, where its words take the typeface of the page.

    The alternative is read in place of the words within, which are hidden from what reads aloud. A chart drawn again for
    a phone stands beside the first, under the one alternative; the style sheet shows either.
    """
    if not chart:
        return ""
    head, _, inside = chart.partition(">")
    if not narrow:
        inside = inside.removesuffix("</svg>")
        return f'{head} role="img" aria-label="{_attribute(said)}"><g aria-hidden="true">{inside}</g></svg>'
    both = "".join(
        shown.replace("<svg", f'<svg class="{place}" aria-hidden="true"', 1)
        for shown, place in ((chart, "for-paper"), (narrow, "for-phone"))
    )
    return f'<div role="img" aria-label="{_attribute(said)}">{both}</div>'


def _attribute(said: str) -> str:
    from markupsafe import escape

    return " ".join(str(escape(said)).split())
