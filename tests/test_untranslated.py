"""Reports in another language: no sentence of theirs is left in English, and what people wrote stays as they wrote it.

Two nets, because each has holes that the other has not. Every message that a page asks for has to be in the catalogue, be it one
word. And no run of words on a page may read as English, which also finds what never was a message. What no page here asks for is
held by `test_catalogue_has_every_message_and_no_other`. The demo's records are invented.
"""

from __future__ import annotations

import base64
import csv
import html
import re
import tomllib
from collections.abc import Callable, Iterator
from datetime import date
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from impact.api import load
from impact.base import language
from impact.programme import read_programme
from impact.records.demonstration import DEMO
from impact.report.html import page
from impact.report.kinds import KINDS, TOGETHER, TOGETHER_LANGUAGES
from impact.report.programme.content import compose_together
from impact.report.request import Request
from tests.reports import drawn_html_of
from tests.test_programme_report import roof

FUNCTION_WORDS = frozenset(re.findall(r"\w+", """
    the of and is are were to with for from by on or not this that these those which as it its at be been has have had than
    would can where when who how only each every both more less their they there into out what but if nobody
"""))  # fmt: skip
"""Words that hold English sentences together and that are no words of the other languages."""

MANY, SHARE = 2, 0.2
"""Function words from which a run reads as English, and the share of its words that they have to be more than."""

UNITS = {"km"}
"""Messages that are the same in every language, so that no catalogue holds them."""

BLOCKS = frozenset((
    "p", "li", "td", "th", "dt", "dd", "h1", "h2", "h3", "h4", "caption", "figcaption", "div", "section", "ul", "ol", "dl",
    "table", "tr", "br", "title",
))  # fmt: skip
HIDDEN = frozenset(("code", "script", "style"))
EMPTY = frozenset(("br", "img", "meta", "link", "input", "hr", "col", "path", "use"))
SAID = ("alt", "aria-label", "data-head", "title")
"""Attributes that are read out."""

TABLES = Path(__file__).parents[1] / "factors"
FINDINGS = Path(__file__).parents[1] / "impact" / "findings"


class Runs(HTMLParser):
    """Gathers what a page says in runs between its blocks, without code and what is marked as English."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.runs: list[str] = [""]
        self._within: list[tuple[str, bool]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        hidden = self._hidden or tag in HIDDEN or (found.get("lang") == "en" and tag != "html")
        if not hidden:
            self.runs += [found[name] or "" for name in SAID if name in found]
            if drawing := re.fullmatch(r"data:image/svg\+xml;base64,(.*)", found.get("src") or ""):
                drawn = re.findall(r"<text[^>]*>(.*?)</text>", base64.b64decode(drawing[1]).decode(), flags=re.DOTALL)
                self.runs += [re.sub("<[^>]*>", "", words) for words in drawn]
        if tag in BLOCKS:
            self.runs.append("")
        if tag not in EMPTY:
            self._within.append((tag, hidden))

    def handle_endtag(self, tag: str) -> None:
        while self._within and self._within.pop()[0] != tag:
            pass
        if tag in BLOCKS:
            self.runs.append("")

    def handle_data(self, data: str) -> None:
        self.runs[-1] += " " if self._hidden else data

    @property
    def _hidden(self) -> bool:
        return bool(self._within) and self._within[-1][1]


def texts_in(value: object) -> Iterator[str]:
    """Yield the texts of settings, however deep."""
    if isinstance(value, dict | list):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from texts_in(inner)
    elif isinstance(value, str):
        yield value


def cells_of(path: Path, *columns: str) -> Iterator[str]:
    """Yield the cells of some columns of a table, or of all."""
    with path.open(encoding="utf-8", newline="") as table:
        for row in csv.DictReader(table):
            yield from (row[column] for column in columns or row if row.get(column))


@cache
def cited() -> frozenset[str]:
    """Return what stands in the language of a publication: its citation, and places in it."""
    found = {*cells_of(TABLES / "sources.csv", "citation"), *cells_of(TABLES / "claimrules.csv", "reference")}
    found |= {*cells_of(FINDINGS / "cautions.csv", "guidance"), *cells_of(FINDINGS / "compostrules.csv", "locator")}
    return frozenset(found.union(*(cells_of(path, "locator") for path in TABLES.glob("*.csv"))))


def written_in(folder: Path) -> frozenset[str]:
    """Return the texts that a workshop wrote."""
    return frozenset(
        text
        for path in folder.rglob("*")
        if path.suffix in (".toml", ".csv")
        for text in (
            texts_in(tomllib.loads(path.read_text(encoding="utf-8"))) if path.suffix == ".toml" else cells_of(path)
        )
    )


def english_in(said: str, *, own: frozenset[str]) -> list[str]:
    """Return the runs of words of a page that read as English."""
    parser = Runs()
    parser.feed(said)
    known = sorted({text.strip(" .") for text in own | cited() if " " in text.strip()}, key=len, reverse=True)
    left_out = re.compile("|".join(map(re.escape, known)))
    runs = (left_out.sub(" ¦ ", " ".join(html.unescape(run).split())) for run in parser.runs)
    return [piece for run in runs for piece in re.split(r"[.;:()\[\]¦«»“”\"]", run) if reads_as_english(piece)]


def reads_as_english(piece: str) -> bool:
    """Return whether so many words of a piece are function words of English."""
    words = re.findall(r"[^\W\d_]+", piece.lower())
    held = sum(word in FUNCTION_WORDS for word in words)
    return held >= MANY and held > SHARE * len(words)


class Asked(dict[Any, Any]):
    """A catalogue that keeps the messages which were asked for in vain."""

    def __init__(self, messages: dict[Any, Any]) -> None:
        super().__init__(messages)
        self.missing: set[str | tuple[str, str]] = set()

    def get(self, key: Any, default: Any = None) -> Any:
        """Return a translation."""
        words = re.sub(r"%\(\w+\)s|\{\w+\}", "", key if isinstance(key, str) else key[1])
        if not super().get(key) and re.search(r"[^\W\d_]", words) and key not in UNITS:
            self.missing.add(key)
        return super().get(key, default)


@cache
def _demo() -> Any:
    return load(DEMO).assess(
        draws=100, period=(date(2026, 4, 1), date(2026, 9, 30)), beside=(date(2026, 1, 1), date(2026, 3, 31)),
        grant="Neighborhood Waste Fund",
    )  # fmt: skip


def of_demo(reader: str, tongue: str) -> str:
    """Return a report of the demo: goals, money, sessions, words of its own, and a quarter beside the later ones."""
    return drawn_html_of(_demo(), Request(reader, tongue))


@pytest.fixture(scope="module")
def network(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Callable[[str], str]]:
    folder = roof(tmp_path_factory.mktemp("roof") / "network")
    programme, _ = read_programme(folder)
    assert programme is not None
    results = programme.assess(draws=100)
    return folder, lambda tongue: page(compose_together(results, Request(TOGETHER, tongue)), {}, inline_fonts=False)


def page_asked(
    make: Callable[[str], str], tongue: str, patch: pytest.MonkeyPatch, *, without: frozenset[Any] = frozenset()
) -> tuple[str, Asked]:
    """Return a page, and the catalogue that it asked; some messages are taken out of that before."""
    real = language.catalogue
    asked = Asked({key: text for key, text in real(tongue).items() if key not in without})
    patch.setattr(language, "catalogue", lambda name: asked if name == tongue else real(name))
    return make(tongue), asked


@pytest.mark.parametrize(
    ("reader", "tongue"), [(kind.name, one) for kind in KINDS.values() for one in kind.languages if one != "en"]
)
def test_report_leaves_no_sentence_in_english(reader: str, tongue: str, monkeypatch: pytest.MonkeyPatch) -> None:
    said, asked = page_asked(lambda one: of_demo(reader, one), tongue, monkeypatch)
    assert asked.missing == set()
    assert english_in(said, own=written_in(DEMO)) == []
    presented = _demo().workshop.presentation
    for own in (presented.contact, presented.words if reader != "binder" else None):
        assert own is None or html.escape(own, quote=False) in said


@pytest.mark.parametrize("tongue", [one for one in TOGETHER_LANGUAGES if one != "en"])
def test_programme_report_leaves_no_sentence_in_english(
    tongue: str, network: tuple[Path, Callable[[str], str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, make = network
    said, asked = page_asked(make, tongue, monkeypatch)
    assert asked.missing == set()
    assert english_in(said, own=written_in(folder)) == []


def test_report_with_messages_left_out_of_its_catalogue_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    out = frozenset((
        "Beside {start} to {end}: {changes}.", "collected, %(unit)s", "making", "equal-stiffness", "from memory",
        ("{share} of {n} good part ({part})", "{share} of {n} good parts ({part})"),
        "Nobody who comes is named.", "the rest common practice, no source",
    )) & language.catalogue("es").keys()  # fmt: skip
    _, asked = page_asked(lambda one: of_demo("funder", one), "es", monkeypatch, without=out)
    assert len(out) > 5
    assert asked.missing == out


def test_sentence_that_is_no_message_is_found_by_its_function_words() -> None:
    said = of_demo("school", "es")
    added = said.replace("</h1>", "</h1><p>Papel y agua. The parts are dried by a fan (en el taller).</p>", 1)
    assert english_in(added, own=written_in(DEMO)) == [" The parts are dried by a fan "]


def test_english_page_is_found_by_its_function_words() -> None:
    assert len(english_in(of_demo("school", "en"), own=written_in(DEMO))) > 50
