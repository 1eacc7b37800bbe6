"""Pages of reports as readers have them: their words, marks of numbers, ids and keys among them, and figures by name."""

from __future__ import annotations

import re
from functools import cache
from html import unescape
from urllib.parse import unquote

from impact.base.catalogue import read_names
from impact.base.language import translate
from impact.factors.factorset import read_factors
from impact.factors.keys import pattern_of
from impact.report.kinds import LANGUAGES
from impact.report.ties import MARK, TOGETHER
from impact.report.verification import tied

NAMES = read_names()
POLYMERS = frozenset(NAMES.polymers)
"""Ids that are words of the trade already."""

PUBLISHED = frozenset({"env_waspacr"})
"""Codes of tables that citations name: this one is Eurostat's."""

PEOPLES = ("claims", "not-said", "cautions", "factors", "evidence")
"""Sections that hold sentences of the findings, citations, hashes."""


def fixed_words(html: str) -> str:
    """Return the words of a page without those of findings and of publications."""
    body = html.partition("<body")[2].partition(">")[2]
    for name in PEOPLES:
        body = re.sub(rf'<section id="{name}".*?(?=<section id="(?!not-said)|</main>)', "", body, flags=re.DOTALL)
    body = re.sub(
        r'<dl>.*?</dl>|<ol class="reasons">.*?</ol>|<ul class="(?:claims|cautions)">.*?</ul>', "", body, flags=re.DOTALL
    )
    body = re.sub(
        r"<h2>What these figures rest on</h2>.*?</ul>|<h2>How to read this</h2>.*?</section>|<p class=\"next\">.*?</p>",
        "",
        body,
        flags=re.DOTALL,
    )
    body = re.sub(r'<img[^>]* alt="([^"]*)"[^>]*>', r" \1 ", body)
    return unescape(re.sub(r"<[^>]*>", " ", body))


def decimals(html: str, mark: str) -> tuple[int, list[str]]:
    """Return how many numbers of a page have this decimal mark, and the places of those with another.

    A comma may part thousands where the mark is a point. Numbers of publications and of versions are not counted.
    """
    text = re.sub(
        r"eq\. [0-9.]+ to [0-9.]+|eq\. [0-9.]+|table [0-9.]+|pulp-impact [0-9.]+|version [0-9.]+",
        "",
        fixed_words(html),
    )
    other = r"[0-9]\.[0-9]" if mark == "," else r"[0-9],(?![0-9]{3}(?![0-9]))[0-9]"
    right = re.findall(rf"[0-9]{re.escape(mark)}[0-9]", text)
    return len(right), [text[max(0, at.start() - 30) : at.end() + 10] for at in re.finditer(other, text)]


_WORD = "|".join(re.escape(translate(language, "to")) for language in LANGUAGES)
_UNIT = re.compile(r"\u00a0[^\d()]+$")
_HELD = (
    re.compile(r"(?P<only>.*)", re.DOTALL),
    re.compile(
        rf"(?P<low>[^ ]+(?: CO₂e)?) (?:{_WORD}) (?P<high>[^ ]+(?: CO₂e)?)|(?P<middle>[^ ]+(?: CO₂e)?) \((?P<both>.*)\)"
    ),
    re.compile(rf"(?P<middle>[^(]+) \((?P<low>[^ ]+(?: CO₂e)?) (?:{_WORD}) (?P<high>.+)\)"),
)
"""What an element says of one, two and three figures."""


def names_of(mark: str) -> list[str]:
    """Return the names of the figures that the element with an id holds."""
    first, *others = map(unquote, mark.removeprefix(MARK).partition("~")[0].split(TOGETHER))
    return [first, *(f"{first.rpartition('.')[0]}.{other}" for other in others)]


def figures_on(html: str) -> list[tuple[str, str]]:
    """Return the name and the text of each tied figure of a page as often as it stands there, out of the element that holds it.

    The unit behind a figure that has its ends in brackets is left out where these have none.
    """
    return [one for mark, text in tied(html).items() for one in _figures_of(mark, text)]


def _figures_of(mark: str, text: str) -> list[tuple[str, str]]:
    names = names_of(mark)
    found = _HELD[len(names) - 1].fullmatch(text)
    assert found is not None, (mark, text)
    texts = [one for one in found.groups() if one is not None]
    if len(names) > 1 and not _UNIT.search(texts[-1]):
        texts = [_UNIT.sub("", one) for one in texts]
    return list(zip(names, texts, strict=True))


def texts_by_name(html: str) -> dict[str, set[str]]:
    """Return every text of each tied figure of a page, by its name."""
    texts: dict[str, set[str]] = {}
    for name, text in figures_on(html):
        texts.setdefault(name, set()).add(text)
    return texts


def running_text(page: str) -> str:
    """Return the running text of a page with what readers of pictures hear; code is left out."""
    body = page[page.index("<body") :]
    body = re.sub(r"<(style|script|code).*?</\1>", " ", body, flags=re.DOTALL)
    heard = " ".join(re.findall(r'\balt="([^"]*)"', body))
    return unescape(re.sub(r"<[^>]*>", " ", body) + " " + heard)


@cache
def _coded() -> frozenset[str]:
    """Ids that differ from their plain word in the tables, joined by hyphens; and every key of the shipped rows."""
    kinds = (
        NAMES.grades,
        NAMES.binders,
        NAMES.dryers,
        NAMES.processes,
        NAMES.climates,
        NAMES.landfill_sites,
        NAMES.greens,
    )
    ids = {name for kind in kinds for name in kind if "-" in name} - POLYMERS
    return frozenset(ids | {row.key for row in read_factors() if "." in row.key} | set(NAMES.regions))


def raw(text: str) -> list[str]:
    """Return the ids, keys, columns, places of cells and codes of countries that stand in a running text."""
    words = set(re.findall(r"[A-Za-z0-9]+(?:[-.][A-Za-z0-9]+)+", text))
    known = set(NAMES.countries) - {"AND"}
    return [
        *sorted(words & _coded()),
        *sorted(word for word in words if pattern_of(word) is not None),
        *(word for word in re.findall(r"\b[a-z]+_[a-z_]+", text) if word not in PUBLISHED),
        *re.findall(r"\b\w+\.(?:toml|csv)\b[^.;]{0,12}\b(?:line|row)s? \d+", text),
        *sorted(set(re.findall(r"\b[A-Z]{3}\b", text)) & known),
    ]
