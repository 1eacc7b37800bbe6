"""Templates of a workshop's own: run in a sandbox, never by the verification, each fault one line."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from impact.cli.commands import main
from impact.report.evidence import TEMPLATE
from impact.report.proof.carried import read_report
from impact.report.verification import verify
from tests.workshops import tiny

PLAIN = """{% extends "base.html" %}{% block title %}Ours{% endblock %}
{% block body %}<h1>Ours</h1><p>Paper: {{ f("paper.collected_kg.value") }} kg, by <img src="http://example.org/x.png" alt="x"> us.</p>{% endblock %}"""


def run(folder: Path, template: str, target: str, *more: str) -> tuple[int, str]:
    path = folder.parent / "own.html"
    path.write_text(template, encoding="utf-8")
    arguments = ["report", str(folder), "--template", str(path), "-o", str(folder.parent / target), "--draws", "100"]
    done = CliRunner().invoke(main, [*arguments, *more])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exc_info
    return done.exit_code, done.output


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "bench"
    place.mkdir()
    return tiny(place)


def test_report_by_an_own_template_has_its_words_and_the_figures(folder: Path) -> None:
    assert run(folder, PLAIN, "own-out.html")[0] == 0
    page = (folder.parent / "own-out.html").read_text(encoding="utf-8")
    assert "<h1>Ours</h1>" in page
    assert 'id="f.paper.collected_kg.value"' in page


def test_report_by_an_own_template_carries_it_and_is_compared_without_pages(folder: Path) -> None:
    assert run(folder, PLAIN, "own.pdf")[0] == 0
    content = (folder.parent / "own.pdf").read_bytes()
    assert read_report(content).files[TEMPLATE] == PLAIN.encode()
    found = verify(content)
    assert (found.proved, found.disagreements) == ("figures", ())
    assert found.pages == (0, 0)
    assert found.results[0] == found.results[1] > 100
    done = CliRunner().invoke(main, ["verify", str(folder.parent / "own.pdf")])
    assert done.exit_code == 1
    assert "the pages were not proved, because they were laid out by a template of the workshop's own" in done.output


@pytest.mark.parametrize(
    ("template", "words"),
    [
        ("a\n{% if %}", "line 2"),
        ("a\n{{ nothing }}", "line 2: 'nothing'"),
        ('{{ f("no.such.figure") }}', "no.such.figure"),
        ("a\n{{ ''.__class__.__mro__ }}", "line 2: "),
        ("a\n{{ results.__init__.__globals__ }}", "line 2: "),
        ("{% include '/etc/passwd' %}", "/etc/passwd"),
        ("{% include '../pyproject.toml' %}", "pyproject"),
        ("a\n{{ 1 / 0 }}", "line 2: "),
        ("a\n{% for i in range(10000000) %}{% endfor %}", "line 2: "),
        ("a\n{{ document.update({'net': 1}) }}", "line 2: "),
        ("a\n{{ document['assumptions'].append(1) }}", "line 2: "),
        ("a\n{{ results.warnings.__class__ }}", "line 2: "),
        ("a\n{{ results.stage_matrix.units.fill(0.0) }}", "line 2: "),
        ("a\n{{ results.values.exactly('paper') }}", "line 2: "),
        ("a\n{{ results.counted.rows().to_csv('stolen.csv') }}", "line 2: "),
        ("a\n{{ results.values.used.clear() }}", "line 2: "),
    ],
    ids=[
        "syntax",
        "undefined",
        "figure",
        "class",
        "globals",
        "absolute",
        "outside",
        "arithmetic",
        "long",
        "mapping",
        "list",
        "kind",
        "array",
        "values",
        "file",
        "factors",
    ],
)
def test_report_by_a_faulty_template_is_one_line(folder: Path, template: str, words: str) -> None:
    status, output = run(folder, template, "own-out.html", "--for", "school")  # which has least to calculate
    assert status == 1
    assert words in output
    assert len(output.strip().splitlines()) == 1
    assert not (folder.parent / "own-out.html").exists()


@pytest.mark.parametrize("reader", ["funder", "school", "binder"])
def test_report_by_an_own_template_may_build_on_each_of_ours(folder: Path, reader: str) -> None:
    template = f'{{% extends "{reader}.html" %}}'
    status, output = run(folder, template, "own-out.html", "--for", reader)
    assert status == 0 or "safely" not in output, output


def test_report_by_a_template_that_changes_what_is_carried_is_refused(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("impact.report.html._is_for_templates", lambda _: True)
    wild = PLAIN.replace("<h1>", "{{ results.factors_used.clear() }}<h1>")
    monkeypatch.setattr("jinja2.sandbox.modifies_known_mutable", lambda *_: False)
    status, output = run(folder, wild, "own.pdf")
    assert (status, "a template may only read" in output) == (1, True)
    assert not (folder.parent / "own.pdf").exists()


def test_report_by_a_template_that_is_no_file_or_no_text_is_one_line(folder: Path) -> None:
    for path in (folder, folder / "none.html"):
        done = CliRunner().invoke(main, ["report", str(folder), "--template", str(path), "-o", "x.html"])
        assert done.exit_code == 1
        assert len(done.output.strip().splitlines()) == 1
    (folder / "raw.html").write_bytes(b"\xff\xfe\xfa")
    done = CliRunner().invoke(main, ["report", str(folder), "--template", str(folder / "raw.html"), "-o", "x.html"])
    assert "UTF-8" in done.output
