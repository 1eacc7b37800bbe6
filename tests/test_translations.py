"""The catalogues of the reports: up to date, whole, and alike in their placeholders."""

from __future__ import annotations

import ast
import csv
import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.frontend import CommandLineInterface
from babel.messages.pofile import read_po

from impact.api import load
from impact.base import language
from impact.base.language import translate, translate_count
from impact.decisions.variables import VARIABLES
from impact.report.funder import crossings as crossings_chart
from impact.report.html import USUAL
from impact.report.kinds import KINDS, LANGUAGES, TOGETHER_LANGUAGES
from tests.reports import british, plain_html_of

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "report_templates" / "translations"


def files_of(kind: str) -> set[str]:
    """Return the files whose messages belong to one kind of report alone."""
    parts = [ROOT / "report_templates" / f"{kind}.html", *(ROOT / "impact" / "report" / kind).glob("*.py")]
    if kind == "funder":
        parts += [*(ROOT / "report_templates" / "sections").iterdir(), ROOT / "impact" / "beside.py"]
    return {path.relative_to(ROOT).as_posix() for path in parts}


MARKS = {"message": (0,), "word": (0,), "translate": (1,), "translate_count": (1, 2), "Said": (0,), "Counted": (0, 1)}
"""Functions whose arguments are messages, and which ones, as `make messages` names them."""

LATER = ("factors/", *(f"impact/{room}/" for room in ("records", "factors", "account", "findings", "decisions")))
"""Where sentences stand that a language which has not every kind of report says in English."""

SHEET = ("title", "harm", "who", "control", "by")
"""Columns of the table of cautions that a risk sheet says, which is whole in every language that has the report for a school."""

TRANSLATED = sorted(set(LANGUAGES) - {"en"})


def of_sheet() -> set[str | tuple[str, ...]]:
    """Return the messages of the risk sheet."""
    with (ROOT / "impact" / "findings" / "cautions.csv").open(encoding="utf-8", newline="") as table:
        cells = {row[column] for row in csv.DictReader(table) for column in SHEET if row[column]}
    modules = {"impact/findings/risks.py", "impact/findings/allergens.py"}
    return cells | {text for text, files in places(catalogue("messages.pot")).items() if modules & files}


def catalogue(name: str) -> Catalog:
    with (FOLDER / name).open("rb") as stream:
        return read_po(stream)


def texts(text: str | tuple[str, ...] | list[str]) -> list[str]:
    """Return a message as a list: one text, or singular and plural."""
    return [text] if isinstance(text, str) else list(text)


def places(found: Catalog) -> dict[str | tuple[str, ...], set[str]]:
    """Return the files in which each message stands; how a version of the tool writes them down is left out."""
    return {message.id: {file for file, _ in message.locations} for message in found if message.id}


def test_messages_are_those_of_the_templates(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8").replace("\\\n", " ")
    (recipe,) = re.findall(r"^\t\$\(RUN\)/(pybabel .*)$", makefile, flags=re.MULTILINE)
    arguments = shlex.split(recipe)
    arguments[arguments.index("-o") + 1] = str(tmp_path / "messages.pot")
    monkeypatch.chdir(ROOT)
    CommandLineInterface().run(arguments)
    extracted = places(catalogue(str(tmp_path / "messages.pot")))
    assert len(extracted) > 300
    assert extracted == places(catalogue("messages.pot")), "run `make messages`"


def chosen(argument: ast.expr) -> Iterator[ast.expr]:
    """Yield an expression and what it is put together of, but no keys of mappings and no arguments of calls."""
    yield argument
    if not isinstance(argument, ast.Subscript | ast.Call):
        for child in (one for one in ast.iter_child_nodes(argument) if isinstance(one, ast.expr)):
            yield from chosen(child)


def test_texts_to_translate_are_whole_arguments() -> None:
    """A literal within an expression is taken for a message by some versions of the tool, and left out by others."""
    mistaken = [
        f"{path.name}:{call.lineno}"
        for path in (ROOT / "impact").rglob("*.py")
        for call in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name)
        for argument in [call.args[place] for place in MARKS.get(call.func.id, ()) if place < len(call.args)]
        if not isinstance(argument, ast.Constant)
        and any(isinstance(part, ast.Constant) and isinstance(part.value, str) for part in chosen(argument))
    ]
    assert mistaken == []


def test_texts_to_translate_stand_outside_of_f_strings() -> None:
    """Within one the tool does not see them before Python 3.12."""
    hidden = [
        f"{path.name}:{call.lineno}"
        for path in (ROOT / "impact").rglob("*.py")
        for string in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(string, ast.JoinedStr)
        for call in ast.walk(string)
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name)
        for argument in [call.args[place] for place in MARKS.get(call.func.id, ()) if place < len(call.args)]
        if isinstance(argument, ast.Constant)
    ]
    assert hidden == []


@pytest.mark.parametrize("language", TRANSLATED)
def test_catalogue_has_every_message_and_no_other(language: str) -> None:
    others = {file for kind in KINDS.values() if language not in kind.languages for file in files_of(kind.name)}
    if language not in TOGETHER_LANGUAGES:
        others |= files_of("programme")
    later = LATER if others else ()
    wanted = {
        message.id
        for message in catalogue("messages.pot")
        if message.id and not {file for file, _ in message.locations if not file.startswith(later)} <= others
    }
    found = {message.id: message for message in catalogue(f"{language}.po") if message.id}
    wanted |= of_sheet()
    assert len(wanted) > 150
    assert found.keys() == wanted
    assert [message.id for message in found.values() if message.fuzzy or not all(texts(message.string))] == []


@pytest.mark.parametrize("language", TRANSLATED)
def test_catalogue_placeholders_agree(language: str) -> None:
    for message in catalogue(f"{language}.po"):
        if message.id:
            held = {
                tuple(sorted(re.findall(r"%\(\w+\)s|%%|\{\w+\}", text)))
                for text in texts(message.id) + texts(message.string)
            }
            assert len(held) == 1, message.id


@pytest.mark.parametrize("file", ["messages.pot", *(f"{language}.po" for language in TRANSLATED)])
def test_letters_of_all_messages_are_among_the_usual_ones(file: str) -> None:
    """So pages that hold nothing else share one subset of their typeface."""
    held = {
        letter for message in catalogue(file) for text in texts(message.id) + texts(message.string) for letter in text
    }
    assert held - set(USUAL) == set()


def test_translate_unknown_message_stays_as_it_is() -> None:
    assert translate("es", "no such message") == "no such message"
    assert translate("es", "Water") == "Agua"
    assert translate("en", "Water") == "Water"


@pytest.mark.parametrize(("count", "form"), [(1, "%(n)s alumno"), (2, "%(n)s alumnos"), (0, "%(n)s alumnos")])
def test_translate_count_takes_the_form_of_the_number(count: int, form: str) -> None:
    assert translate_count("es", "%(n)s pupil", "%(n)s pupils", count) == form


def test_german_of_switzerland_is_german_without_sharp_s() -> None:
    assert translate("de", "Slips and falls") == translate("de-CH", "Slips and falls") == "Ausrutschen und Stürze"
    assert "äußer" not in translate("de-CH", "No one from outside has checked these figures.")
    assert translate_count("de-CH", "%(n)s session", "%(n)s sessions", 1) == "%(n)s Termin"


def marked(text: str | tuple[str, ...]) -> str | tuple[str, ...]:
    """Return a message, or its singular and plural, in brackets that no report has."""
    return f"‹{text}›" if isinstance(text, str) else tuple(f"‹{form}›" for form in text)


def test_funder_report_every_fixed_text_is_translated_and_no_figure_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    results = load(british(tmp_path)).assess(draws=100)
    english = plain_html_of(results)
    monkeypatch.setattr(language, "catalogue", {"en": every_message_marked()}.__getitem__)
    translated = plain_html_of(results)
    figures = r'<span id="f\.[^"]*">[^<]*</span>'
    plain = re.sub("[‹›]|%E2%80%B9|%E2%80%BA", "", translated)  # figures of a list have words of it in their names
    assert re.findall(figures, plain.casefold()) == re.findall(figures, english.casefold())  # a bracket has no capital
    fixed = re.findall(r"<(?:h1|h2|caption|figcaption)>(.*?)</", translated, flags=re.DOTALL)
    fixed += re.findall(r'(?:alt|data-head|aria-label)="([^"]*)"', translated)
    assert len(fixed) > 40
    assert [text for text in fixed if not text.removeprefix("<span>").startswith("‹")] == []
    assert plain.count("%(") == 0


def every_message_marked() -> dict[str | tuple[str, ...], str | tuple[str, ...]]:
    return {message.id: marked(message.id) for message in catalogue("messages.pot") if message.id}


def test_variables_of_the_charts_are_those_of_the_calculation() -> None:
    assert {one.name: (one.name.replace("-", " "), one.unit) for one in VARIABLES} == crossings_chart.VARIABLES
