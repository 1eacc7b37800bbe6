"""The commands, run in process: exit status, what goes to which stream, and that nobody ever sees a traceback."""

from __future__ import annotations

import json
import pickle
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

import impact
from impact.api import load
from impact.base import processes
from impact.cli.commands import main
from impact.factors.factorset import FactorSet, read_factors
from impact.records.demonstration import DEMO
from impact.report.context import compose
from impact.report.kinds import KINDS
from impact.report.request import Request
from tests.folders import CLOSED, PARTS, TOML, swap, write_folder
from tests.schemas import SCHEMAS, made, schema, validate

SCHEMA = json.loads((Path(impact.__file__).parent / "schemas" / "totals.schema.json").read_text(encoding="utf-8"))
HEADER = "id,value,unit,source,locator\n"


@cache
def factors() -> FactorSet:
    return read_factors()


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Read the shipped tables once, and draw little."""
    monkeypatch.setattr("impact.api.read_factors", lambda tables: read_factors(tables) if tables else factors())
    monkeypatch.setattr("impact.api.DEFAULT_DRAWS", 300)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_folder(tmp_path / "bench", batches=CLOSED)


def run(*arguments: str | Path, status: int = 0) -> Result:
    """Run a command, hold it to its exit status, and see to it that no exception came out."""
    result = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exc_info
    assert result.exit_code == status, result.output
    assert "Traceback" not in result.output
    return result


def commands(group: click.Group, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    for name, command in group.commands.items():
        yield (*path, name), command
        if isinstance(command, click.Group):
            yield from commands(command, (*path, name))


COMMANDS = dict(commands(main))


# -- help ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", COMMANDS, ids=" ".join)
def test_help_of_every_command_says_what_it_does_with_an_example(path: tuple[str, ...]) -> None:
    text = " ".join(run(*path, "--help").stdout.split())
    assert COMMANDS[path].get_short_help_str()
    if not isinstance(COMMANDS[path], click.Group):
        assert f"impact {' '.join(path)}" in text.partition("Example")[2]


@pytest.mark.parametrize("path", COMMANDS, ids=" ".join)
def test_help_of_every_option_is_there(path: tuple[str, ...]) -> None:
    options = [parameter for parameter in COMMANDS[path].params if isinstance(parameter, click.Option)]
    assert [option.name for option in options if not option.help] == []


def test_help_short_form_is_the_same() -> None:
    assert run("-h").stdout == run("--help").stdout


# -- totals -------------------------------------------------------------------------------------------------------


def test_totals_json_is_one_valid_document_and_nothing_else(folder: Path) -> None:
    document = json.loads(run("totals", folder, "--json").stdout)
    Draft202012Validator.check_schema(SCHEMA)
    Draft202012Validator(SCHEMA).validate(document)
    assert document["settings"]["draws"] == 300


def test_totals_json_without_a_good_part_or_paper_is_valid(tmp_path: Path) -> None:
    rejected = swap(CLOSED, "0.5 kWh,36,2", "0.5 kWh,0,38")
    document = json.loads(run("totals", write_folder(tmp_path, batches=rejected), "--part", "pot", "--json").stdout)
    Draft202012Validator(SCHEMA).validate(document)
    assert document["parts"][0]["footprint_kgco2e"] is None
    assert [problem["code"] for problem in document["warnings"]] == ["no-good-parts"]


def test_totals_json_by_site_is_valid_and_has_each_site(folder: Path) -> None:
    document = json.loads(run("totals", folder, "--by-site", "--json").stdout)
    Draft202012Validator(SCHEMA).validate(document)
    assert [site["site"] for site in document["sites"]] == ["", "school"]
    assert "sites" not in json.loads(run("totals", folder, "--json").stdout)


def test_totals_text_counts_one_batch_in_the_singular(folder: Path) -> None:
    assert ", 1 batch (invented records)" in run("totals", folder, "--part", "pot").stdout


def test_schemas_are_those_of_the_types() -> None:
    assert {path.name: path.read_text(encoding="utf-8") for path in SCHEMAS.glob("*.json")} == made()


def test_schemas_of_all_documents_are_there() -> None:
    named = {schema(path.name.split(".")[0])["$id"] for path in SCHEMAS.glob("*.json")}
    sources = "".join(path.read_text(encoding="utf-8") for path in SCHEMAS.parent.rglob("*.py"))
    carried = {"impact-report/1", "impact-settings/1"}  # inside a PDF report; no command prints them
    assert set(re.findall(r'"(impact-[a-z]+/\d+)"', sources)) - carried == named


def test_totals_json_keeps_letters_beyond_ascii(tmp_path: Path) -> None:
    named = write_folder(tmp_path, workshop=swap(TOML, "Paper Bench", "Papierbänkchen 紙"), batches=CLOSED)
    assert json.loads(run("totals", named, "--json").stdout)["workshop"]["name"] == "Papierbänkchen 紙"


def test_totals_seed_and_draws_are_used_and_printed(folder: Path) -> None:
    first, again, other = (
        json.loads(run("totals", folder, "--json", "--draws", "200", "--seed", seed).stdout) for seed in ("1", "1", "2")
    )
    assert first == again
    assert (other["settings"]["seed"], other["settings"]["draws"]) == (2, 200)
    assert first["net_kgco2e"]["low"] != other["net_kgco2e"]["low"]
    assert "seed 7, 200 draws" in run("totals", folder, "--draws", "200", "--seed", "7").stdout


@pytest.mark.parametrize(
    ("narrowing", "parts"),
    [
        ((), {"pot", "tray"}),
        (("--period", "2026"), {"pot", "tray"}),
        (("--period", "2026-Q1"), {"pot", "tray"}),
        (("--period", "2026-01"), {"pot", "tray"}),
        (("--period", "2026-01-05..2026-01-11"), {"pot"}),
        (("--period", "2026-01-12..2026-01-12"), {"tray"}),
        (("--part", "tray"), {"tray"}),
        (("--part", "POT"), {"pot"}),
        (("--site", "school"), {"pot"}),
        (("--site", "school", "--part", "pot", "--period", "2026-01"), {"pot"}),
    ],
    ids=lambda value: " ".join(value) or "all" if isinstance(value, tuple) else "",
)
def test_totals_narrowed_counts_only_those_batches(folder: Path, narrowing: tuple[str, ...], parts: set[str]) -> None:
    document = json.loads(run("totals", folder, "--json", *narrowing).stdout)
    assert {part["part"] for part in document["parts"]} == parts
    assert document["batches"] == len(parts)
    paper = {"pot": 1.5, "tray": 0.9}
    assert document["paper"]["collected_kg"]["value"] == pytest.approx(sum(paper[part] for part in parts))


def test_totals_of_the_parts_add_up_to_the_whole(folder: Path) -> None:
    whole, *pieces = (
        json.loads(run("totals", folder, "--json", *more).stdout)
        for more in ((), ("--part", "pot"), ("--part", "tray"))
    )
    for key in ("made_kgco2e", "displaced_plastic_kgco2e"):
        assert sum(piece[key]["value"] for piece in pieces) == pytest.approx(whole[key]["value"], rel=1e-9)
    # the disposal avoided does not: fines are the shortfall of what is assessed, and one part may miss what another has
    for key in ("collected_kg", "kept_from_landfill_gross_kg", "returned_to_landfill_kg", "put_to_use_kg"):
        masses = [document["paper"][key]["value"] for document in (whole, *pieces)]
        assert sum(masses[1:]) == pytest.approx(masses[0], rel=1e-9)


@pytest.mark.parametrize(
    ("narrowing", "word"),
    [(("--part", "pots"), '"pot"'), (("--site", "shcool"), '"school"'), (("--period", "2031"), "2026-01-12")],
)
def test_totals_nothing_left_is_one_line_with_what_there_is(
    folder: Path, narrowing: tuple[str, ...], word: str
) -> None:
    result = run("totals", folder, *narrowing, status=1)
    assert word in result.stderr
    assert result.stdout == ""


# -- exit statuses ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("period", ["2026-Q5", "2026-13", "march", "2026-02-30..2026-03-01", "2026-03-01..2026-01-01"])
@pytest.mark.parametrize("command", ["totals", "report"])
def test_period_that_is_none_is_wrong_usage(
    folder: Path, command: str, period: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder.parent)
    result = run(command, folder, "--period", period, status=2)
    assert period in result.stderr
    assert "2026-Q1" in result.stderr


@pytest.mark.parametrize(
    "arguments",
    [("totals",), ("total", "x"), ("totals", "x", "--draws", "0"), ("totals", "x", "--seed", "-1"),
     ("totals", "x", "--colour"), ("report", "x", "-o", "x.docx"), ("report", "x", "--for", "nobody")],
    ids=" ".join,
)  # fmt: skip
def test_wrong_usage_is_status_two(arguments: tuple[str, ...]) -> None:
    assert "Usage:" in run(*arguments, status=2).stderr


@pytest.mark.parametrize("command", [("check",), ("totals",), ("totals", "--json"), ("report", "-o", "new.html")])
def test_unknown_folder_is_status_one_and_named(
    tmp_path: Path, command: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run(command[0], "no-such-bench", *command[1:], status=1)
    assert "no-such-bench: there is no such folder" in result.stderr
    assert result.stdout == ""
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "command",
    [
        ("check",), ("check", "--mark", "marked.xlsx"), ("totals",), ("totals", "--json"), ("report", "-o", "new.html"),
        ("export", "-o", "new.xlsx"), ("explain",), ("breakeven",), ("binders",), ("forecast", "--sessions", "2", "--people", "3"),
    ],
    ids=" ".join,
)  # fmt: skip
def test_file_in_place_of_a_folder_names_the_folder_that_holds_it(
    folder: Path, command: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder.parent)
    text = run(command[0], Path("bench", "batches.csv"), *command[1:], status=1).stderr
    assert "batches.csv: is a file, and a folder is asked for" in text
    assert 'Accepted: the folder that holds it, "bench".' in text
    assert list(folder.parent.iterdir()) == [folder]


def test_file_beside_no_records_in_place_of_a_folder_is_told_what_a_folder_holds(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("Dear", encoding="utf-8")
    text = run("check", tmp_path / "letter.txt", status=1).stderr
    assert "letter.txt: is a file, and a folder is asked for. Accepted: a folder that holds workshop.toml" in text


# -- the part that a command is about -----------------------------------------------------------------------------

ABOUT_ONE_PART = [("breakeven",), ("binders",), ("forecast", "--sessions", "2", "--people", "3")]


@pytest.mark.parametrize("command", ABOUT_ONE_PART, ids=" ".join)
def test_part_left_out_with_several_on_record_is_refused_with_their_names(
    folder: Path, command: tuple[str, ...]
) -> None:
    text = run(command[0], folder, *command[1:], status=2).stderr
    assert "--part: the records hold 2 parts" in text
    assert "Accepted: pot, tray." in text


@pytest.mark.parametrize("command", ABOUT_ONE_PART, ids=" ".join)
def test_part_left_out_with_one_on_record_is_that_part(tmp_path: Path, command: tuple[str, ...]) -> None:
    header, first, _ = CLOSED.splitlines()
    rows = "\n".join(f"{place}{first.removeprefix('001')}" for place in range(6))
    one = write_folder(tmp_path, batches=f"{header}\n{rows}\n")
    document = json.loads(run(command[0], one, *command[1:], "--draws", "100", "--json").stdout)
    assert document["part"] == "pot"


# what is broken, the file named, row, column
BROKEN = [
    ({"workshop": swap(TOML, 'mass = "310 g"', 'mass = "310 gal"')}, "workshop.toml", 27, "moulds.pot.mass"),
    ({"parts": swap(PARTS, "pot,pot,", "pot,pots,")}, "parts.csv", 2, "mould"),
    ({"batches": swap(CLOSED, "pva-glue", "pva-gleu")}, "batches.csv", 2, "binder"),
    ({"batches": swap(CLOSED, "900 g", "900 gr8")}, "batches.csv", 3, "corrugated"),
    ({"batches": swap(CLOSED, "0.5 kWh,36,2", "0.5 kWh,90,2")}, "batches.csv", 2, "good parts"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "file", "row", "column"), BROKEN)
@pytest.mark.parametrize("command", [("check",), ("totals",), ("report", "-o", "new.html")], ids=lambda words: words[0])
def test_broken_folder_is_status_one_with_file_row_and_column(
    tmp_path: Path, command: tuple[str, ...], changes: dict[str, str], file: str, row: int, column: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    result = run(command[0], write_folder(tmp_path / "bench", **{"batches": CLOSED, **changes}), *command[1:], status=1)
    assert f'error: {file}, row {row}, column "{column}": read "' in result.stderr
    assert "Accepted: " in result.stderr
    assert result.stdout == ""
    assert not (tmp_path / "new.html").exists()


def test_faults_in_all_four_files_are_reported_at_once(tmp_path: Path) -> None:
    changes = {file.split(".")[0]: content[file.split(".")[0]] for content, file, _, _ in BROKEN[:3]}
    broken = write_folder(tmp_path, **changes)
    (broken / "factors.csv").write_text(HEADER + "water.suply,0.3,kgCO2e/m3,bill,page 1\n", encoding="utf-8")
    document = json.loads(run("check", broken, "--json", status=1).stdout)
    assert {(problem["file"], problem["row"]) for problem in document["problems"] if problem["level"] == "error"} >= {
        ("workshop.toml", 27), ("parts.csv", 2), ("batches.csv", 2), ("factors.csv", 2),
    }  # fmt: skip


# -- check --------------------------------------------------------------------------------------------------------


def test_check_good_folder_says_so(folder: Path) -> None:
    assert run("check", folder, "--strict").stdout == "no problems found\n"


def test_check_warning_changes_the_status_only_when_strict(tmp_path: Path) -> None:
    doubtful = write_folder(tmp_path)
    relaxed, strict = run("check", doubtful), run("check", doubtful, "--strict", status=1)
    assert relaxed.stderr == strict.stderr
    assert 'warning: batches.csv, row 2, column "good parts"' in relaxed.stderr


def many_faults(tmp_path: Path) -> Path:
    header, first, _ = CLOSED.splitlines()
    rows = [swap(first, "pva-glue", f"glue{place}").replace("001", f"{place:03d}", 1) for place in range(25)]
    return write_folder(tmp_path, batches="\n".join([header, *rows]) + "\n")


def test_check_what_repeats_in_a_column_is_one_line(tmp_path: Path) -> None:
    text = run("check", many_faults(tmp_path), status=1).stderr
    assert 'rows 2–26, column "binder": read "glue0", "glue1", "glue2" and 22 others: unknown binder.' in text
    assert text.count('column "binder"') == 1
    assert "25 errors" in text


def test_check_shows_twenty_lines_and_counts_the_rest(tmp_path: Path) -> None:
    header, first, _ = CLOSED.splitlines()
    wider = header + "".join(f",odd{place}" for place in range(25)), first + "," * 25
    broken = write_folder(tmp_path, batches="\n".join(wider) + "\n")
    text = run("check", broken, status=1).stderr
    assert text.count('column "odd') == 20
    assert "and 5 more lines;" in text
    assert "25 errors" in text


def test_check_all_shows_every_problem(tmp_path: Path) -> None:
    text = run("check", many_faults(tmp_path), "--all", status=1).stderr
    assert text.count('column "binder"') == 25
    assert "more;" not in text


def test_check_json_holds_every_problem_as_data(tmp_path: Path) -> None:
    result = run("check", many_faults(tmp_path), "--json", status=1)
    problems = json.loads(result.stdout)["problems"]
    validate("check", json.loads(result.stdout))
    assert [(problem["row"], problem["column"], problem["code"]) for problem in problems] == [
        (row, "binder", "unknown-binder") for row in range(2, 27)
    ]
    assert result.stderr == ""


def test_check_own_factor_that_nothing_uses_is_a_warning(folder: Path) -> None:
    (folder / "factors.csv").write_text(
        HEADER + "water.supply/USA,0.3,kgCO2e/m3,bill,page 1\nwater.supply/AUS,0.3,kgCO2e/m3,bill,page 1\n",
        encoding="utf-8",
    )
    text = run("check", folder).stderr
    assert 'warning: factors.csv, row 3, column "id": read "water.supply/AUS"' in text
    assert "0 errors, 1 warning" in text


# -- report -------------------------------------------------------------------------------------------------------


def test_report_writes_the_page_named(folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "year.html"
    assert run("report", folder, "-o", target).stdout == f"wrote {target}\n"
    assert "Paper Bench" in target.read_text(encoding="utf-8")


def test_report_overwrites_nothing_without_force(folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "year.html"
    target.write_text("mine", encoding="utf-8")
    assert "--force" in run("report", folder, "-o", target, status=1).stderr
    assert target.read_text(encoding="utf-8") == "mine"
    run("report", folder, "--for", "school", "-o", target, "--force")
    assert target.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_report_into_no_folder_is_one_line(folder: Path, tmp_path: Path) -> None:
    lines = run("report", folder, "-o", tmp_path / "away" / "year.html", status=1).stderr.splitlines()
    assert len(lines) == 1
    assert "there is no folder" in lines[0]


# -- demo ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def _plain_pdf(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the layout of the demo's report out: tests of the report and of the package do it."""
    monkeypatch.setattr(
        "impact.cli.report._made", lambda folder, request, *_, **__: (b"%PDF-" + request.reader.encode(), [])
    )


@pytest.mark.usefixtures("_plain_pdf")
def test_demo_renews_the_folder_that_it_made(tmp_path: Path) -> None:
    place = tmp_path / "try"
    assert "invented" in run("demo", place).stdout
    records = (place / "batches.csv").read_bytes()
    (place / "batches.csv").write_text("spoilt", encoding="utf-8")
    (place / "reports" / "funder.pdf").write_text("old", encoding="utf-8")
    run("demo", place)
    assert (place / "batches.csv").read_bytes() == records
    assert (place / "reports" / "funder.pdf").read_bytes() == b"%PDF-funder"


def test_report_drawn_by_a_helper_has_the_same_bytes(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = ("report", folder, "--for", "binder", "--draws", "100", "-o")
    run(*asked, tmp_path / "alone.pdf")
    monkeypatch.setattr(processes, "processors", lambda: 2)
    monkeypatch.setattr(processes, "_program", [True])
    monkeypatch.setattr(processes, "here", None)  # nothing is drawn in this process
    run(*asked, tmp_path / "helped.pdf")
    assert (tmp_path / "alone.pdf").read_bytes() == (tmp_path / "helped.pdf").read_bytes()
    assert "byte for byte" in run("verify", tmp_path / "helped.pdf").stdout


@pytest.mark.parametrize("kind", KINDS)
def test_charts_of_every_kind_of_report_can_be_drawn_elsewhere(kind: str) -> None:
    charts = compose(load(DEMO).assess(draws=100), Request(kind)).charts()
    assert charts
    for name, job in charts.items():
        assert pickle.loads(pickle.dumps(job))() == job(), name


@pytest.mark.usefixtures("_plain_pdf")
def test_demo_without_a_name_goes_to_impact_demo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    run("demo")
    assert {path.name for path in (tmp_path / "impact-demo").iterdir()} >= {
        "workshop.toml", "parts.csv", "batches.csv", "reports",
    }  # fmt: skip


def test_demo_refuses_a_folder_with_other_files(folder: Path) -> None:
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert f"{folder} holds other files" in run("demo", folder, status=1).stderr
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


@pytest.mark.parametrize("below", ["", "deeper"])
def test_demo_refuses_a_file_in_the_way(tmp_path: Path, below: str) -> None:
    (tmp_path / "notes").write_text("mine", encoding="utf-8")
    run("demo", tmp_path / "notes" / below, status=1)
    assert (tmp_path / "notes").read_text(encoding="utf-8") == "mine"


def test_demo_file_in_place_of_its_reports_is_one_line(tmp_path: Path) -> None:
    (tmp_path / ".impact-demo").write_text("", encoding="utf-8")
    (tmp_path / "reports").write_text("", encoding="utf-8")
    assert len(run("demo", tmp_path, status=1).stderr.splitlines()) == 1
