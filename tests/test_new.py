from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from office import convert
from typing_log import README, type_batches

from impact.api import read_folder
from impact.base.catalogue import read_names
from impact.base.locale import Territory, territory
from impact.cli.commands import main
from impact.records.new import FILES, FOLDER, Starter, settings_text

NAMES = read_names()
FAN = '\n[equipment.fan]\npower = "45 W"\n'


def run(*arguments: object, **environment: str | None) -> Result:
    unset: dict[str, str | None] = {"LC_ALL": None, "LANG": None}
    return CliRunner().invoke(main, [str(one) for one in arguments], env=unset | environment)


def read(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.fixture
def typed(tmp_path: Path) -> Path:
    """Return a folder made and filled in as README.md says."""
    folder = tmp_path / "my-workshop"
    assert run("new", folder, "--country", "USA").exit_code == 0
    settings = (folder / "workshop.toml").read_text(encoding="utf-8")
    settings = settings.replace("# [drying]", "[drying]").replace('# dryer = "fan"', 'dryer = "fan"')
    (folder / "workshop.toml").write_text(settings + FAN, encoding="utf-8")
    type_batches(folder / "batches.xlsx")
    return folder


@pytest.mark.parametrize(
    ("environment", "country"),
    [
        ({"LANG": "de_DE.UTF-8"}, "DEU"),
        ({"LANG": "fr_CA"}, "CAN"),
        ({"LANG": "ca_ES@valencia"}, "ESP"),
        ({"LC_ALL": "", "LANG": "en_GB.UTF-8"}, "GBR"),
        ({"LC_ALL": "pt_BR.UTF-8", "LANG": "en_US.UTF-8"}, "BRA"),
        ({"LC_ALL": "C", "LANG": "en_US.UTF-8"}, None),
        ({"LANG": "C.UTF-8"}, None),
        ({"LANG": "de"}, None),
        ({"LANG": "en_001.UTF-8"}, None),
        ({"LANG": "en_AQ"}, "ATA"),
        ({"LANG": "en_QQ"}, None),
        ({"LANG": "de_DE\nname = 1"}, None),
        ({}, None),
    ],
)
def test_territory_of_settings_is_found_or_none(environment: dict[str, str], country: str | None) -> None:
    found = territory(environment, NAMES.country_codes)
    strongest = next((name for name in ("LC_ALL", "LANG") if environment.get(name)), "")
    assert found == (None if country is None else Territory(country, f"{strongest}={environment[strongest]}"))


def test_country_codes_name_every_country_once() -> None:
    # ISO 3166-1: each country has one code of two letters; the union has EU, the world none.
    assert len(NAMES.country_codes) == len(set(NAMES.country_codes.values()))
    assert set(NAMES.country_codes.values()) == set(NAMES.countries) - {"EU", "world"}


def test_new_says_which_country_was_taken_and_from_where(tmp_path: Path) -> None:
    done = run("new", tmp_path / "bench", LANG="de_AT.UTF-8")
    assert done.exit_code == 0
    assert "country: Austria (AUT), from LANG=de_AT.UTF-8" in done.output
    settings = (tmp_path / "bench" / "workshop.toml").read_text(encoding="utf-8")
    assert 'country = "AUT"  # Austria; from LANG=de_AT.UTF-8' in settings
    assert sorted(read(tmp_path / "bench")) == sorted(FILES)


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        ((), "--country DEU"),
        (("--country", "Germny"), 'did you mean "DEU"'),
        (("--country", "USA", "--name", " "), "--name"),
    ],
)
def test_new_without_a_known_country_or_name_stops_and_makes_nothing(
    arguments: tuple[str, ...], word: str, tmp_path: Path
) -> None:
    done = run("new", tmp_path / "bench", *arguments, LANG="C.UTF-8")
    assert done.exit_code == 2
    assert word in done.output
    assert not (tmp_path / "bench").exists()


@pytest.mark.parametrize("name", ["batches.csv", ".hidden"])
def test_new_in_a_folder_that_holds_something_leaves_it_alone(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_text("mine", encoding="utf-8")
    done = run("new", tmp_path, "--country", "USA")
    assert done.exit_code == 1
    assert "holds files already" in done.output
    assert read(tmp_path) == {name: b"mine"}


def test_new_twice_gives_the_same_bytes(tmp_path: Path) -> None:
    for folder in ("one", "two"):
        assert run("new", tmp_path / folder, "--country", "gbr", "--name", "Bench").exit_code == 0
    assert read(tmp_path / "one") == read(tmp_path / "two")


def test_check_of_a_new_folder_says_in_one_line_that_there_are_no_batches(tmp_path: Path) -> None:
    run("new", tmp_path / "bench", "--country", "USA", "--units", "us")
    done = run("check", tmp_path / "bench")
    lines = done.output.splitlines()
    assert done.exit_code == 1
    assert len(lines) == 2
    assert "there are no batches yet" in lines[0]
    assert lines[0] in README
    assert lines[1] == "1 error, 0 warnings"


@pytest.mark.parametrize("name", ['say "pulp"', "back\\slash", "Papier für alle", "a # b $name"])
def test_settings_text_keeps_any_name(name: str) -> None:
    content = tomllib.loads(settings_text(Starter(name, "USA", "--country"), NAMES))
    assert content["workshop"]["name"] == name
    assert content["workshop"]["invented"] is True


@pytest.mark.parametrize("country", ["USA", "DEU"])
def test_settings_that_are_not_in_use_are_valid_once_the_mark_is_taken_away(country: str, tmp_path: Path) -> None:
    run("new", tmp_path / "bench", "--country", country)
    path = tmp_path / "bench" / "workshop.toml"
    text = re.sub(r"^# (?=\[|[a-z_]+ = )", "", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
    assert len(tomllib.loads(text)) > 10
    path.write_text(text, encoding="utf-8")
    _, problems = read_folder(path.parent)
    assert [problem.code for problem in problems] == ["no-rows"]


def test_starter_folder_is_plain_text() -> None:
    assert sorted(path.name for path in FOLDER.iterdir()) == ["parts.csv", "workshop.toml"]


def figures(folder: Path) -> dict[str, Any]:
    done = run("totals", folder, "--json", "--draws", "200")
    assert done.exit_code == 0, done.output
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_ten_typed_batches_give_a_clean_check_plausible_totals_and_a_report(typed: Path, tmp_path: Path) -> None:
    checked = run("check", typed, "--strict")
    assert (checked.exit_code, checked.output) == (0, "no problems found\n")
    totals = figures(typed)
    assert totals["paper"]["collected_kg"]["value"] == pytest.approx(7.54)  # the papers of the table of README.md
    blanks = {entry["code"] for entry in totals["assumptions"] if entry["code"].startswith("blank-")}
    assert blanks == {"blank-drying_kwh", "blank-water_l", "blank-moisture"}  # no column of the log is missing
    (part,) = totals["parts"]
    assert part["good"] == 111
    assert 0.02 < part["footprint_kgco2e"]["value"] < 1.0
    done = run("report", typed, "-o", tmp_path / "report.html", "--draws", "200")
    assert done.exit_code == 0
    assert "example-tray" in (tmp_path / "report.html").read_text(encoding="utf-8")


def test_readme_shows_what_the_commands_print(typed: Path) -> None:
    lines = run("totals", typed).output.splitlines()
    steps = README.split("## Your own workshop")[1].split("\n## ")[0]
    shown = re.findall(r"^    ((?:collected|  share of the) .*)$", steps, flags=re.MULTILINE)
    assert len(shown) == 2
    assert [line for line in shown if line not in lines] == []


def test_ten_batches_saved_by_an_office_program_give_the_same_figures(typed: Path, tmp_path: Path) -> None:
    before = figures(typed)
    saved = convert(typed / "batches.xlsx", "xlsx", tmp_path)
    (typed / "batches.xlsx").write_bytes(saved.read_bytes())
    assert run("check", typed).output == "no problems found\n"
    assert figures(typed) == before


def test_slip_in_the_log_is_named_as_readme_says(typed: Path) -> None:
    import openpyxl

    book = openpyxl.load_workbook(typed / "batches.xlsx")
    book["batches"]["N2"] = "blander 12 min"
    book.save(typed / "batches.xlsx")
    done = run("check", typed)
    assert done.exit_code == 1
    assert done.output.splitlines()[0] in README
