"""The catalogues of the reports: up to date, whole, and alike in their placeholders."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.frontend import CommandLineInterface
from babel.messages.pofile import read_po

from impact.report.language import COMPLETE, translate, translate_count

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "report_templates" / "translations"
FILES_OF = {
    "binder": ("report_templates/binder.html", "impact/report/choice.py", "impact/report/binder_chart.py"),
    "funder": ("report_templates/funder.html", "impact/report/funder.py"),
}
"""Files whose messages belong to one report alone."""

LANGUAGES = sorted(set(COMPLETE) - {"en"})


def catalogue(name: str) -> Catalog:
    with (FOLDER / name).open("rb") as stream:
        return read_po(stream)


def texts(text: str | tuple[str, ...] | list[str]) -> list[str]:
    """Return a message as a list: one text, or singular and plural."""
    return [text] if isinstance(text, str) else list(text)


def test_messages_are_those_of_the_templates(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8").replace("\\\n", " ")
    (recipe,) = re.findall(r"^\t\$\(RUN\)/(pybabel .*)$", makefile, flags=re.MULTILINE)
    arguments = shlex.split(recipe)
    arguments[arguments.index("-o") + 1] = str(tmp_path / "messages.pot")
    monkeypatch.chdir(ROOT)
    CommandLineInterface().run(arguments)
    assert (tmp_path / "messages.pot").read_text(encoding="utf-8") == (FOLDER / "messages.pot").read_text(
        encoding="utf-8"
    ), "run `make messages`"


@pytest.mark.parametrize("language", LANGUAGES)
def test_catalogue_has_every_message_and_no_other(language: str) -> None:
    others = {file for reader, files in FILES_OF.items() if reader not in COMPLETE[language] for file in files}
    wanted = {
        message.id
        for message in catalogue("messages.pot")
        if message.id and not {file for file, _ in message.locations} <= others
    }
    found = {message.id: message for message in catalogue(f"{language}.po") if message.id}
    assert len(wanted) > 90
    assert found.keys() == wanted
    assert [message.id for message in found.values() if message.fuzzy or not all(texts(message.string))] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_catalogue_placeholders_agree(language: str) -> None:
    for message in catalogue(f"{language}.po"):
        if message.id:
            held = {
                tuple(sorted(re.findall(r"%\(\w+\)s|%%", text))) for text in texts(message.id) + texts(message.string)
            }
            assert len(held) == 1, message.id


def test_translate_unknown_message_stays_as_it_is() -> None:
    assert translate("es", "no such message") == "no such message"
    assert translate("es", "Water") == "Agua"
    assert translate("en", "Water") == "Water"


@pytest.mark.parametrize(("count", "form"), [(1, "%(n)s alumno"), (2, "%(n)s alumnos"), (0, "%(n)s alumnos")])
def test_translate_count_takes_the_form_of_the_number(count: int, form: str) -> None:
    assert translate_count("es", "%(n)s pupil", "%(n)s pupils", count) == form
