"""The commands about factor tables."""

from __future__ import annotations

import csv
import json
import re
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from impact.cli.commands import main
from tests.schemas import validate

HEADER = "id,value,unit,low,high,source,locator\n"
OWN = HEADER + (
    "binder.footprint.pva-glue,1.5,kgCO2e/kg,1.2,1.9,supplier,letter of March\n"
    "electricity.life-cycle/GBR/own,50,gCO2e/kWh,,,supplier,contract\n"
)


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["factors", *arguments])


def document(*arguments: str) -> dict[str, Any]:
    done = run(*arguments, "--json")
    assert done.exit_code == 0, done.output
    loaded: dict[str, Any] = json.loads(done.stdout)
    validate(loaded["schema"].split("-")[1].split("/")[0], loaded)
    return loaded


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "factors.csv").write_text(OWN, encoding="utf-8")
    return tmp_path


def test_list_filters_keep_only_what_they_name() -> None:
    rows = document("list", "--kind", "Electricity", "--region", "gbr", "--text", "generation stack")["factors"]
    by_region = document("list", "--kind", "electricity", "--region", "GBR")["factors"]
    assumed = document("list", "--evidence", "common practice", "--kind", "binders")["factors"]
    assert {row["geography"] for row in by_region} == {"GBR"}
    assert {row["kind"] for row in by_region} == {"electricity"}
    assert [row["id"] for row in by_region] == sorted(row["id"] for row in by_region)
    assert len(rows) < len(by_region)
    assert {row["evidence"] for row in assumed} == {"common practice"}


def test_list_table_counts_what_it_shows() -> None:
    lines = run("list", "--kind", "climate").stdout.splitlines()
    assert lines[0].split()[:2] == ["id", "value"]
    assert int(lines[-1].split()[0]) == len(lines) - 3


def test_list_count_is_that_of_the_rows_in_each_file() -> None:
    header, *lines = run("list", "--count").stdout.splitlines()[:-2]
    words = re.split(r"  +", header)[1:]
    counted = {kind: dict(zip(words, map(int, cells), strict=True)) for kind, *cells in map(str.split, lines)}
    expected: dict[str, Counter[str]] = {}
    for path in (Path(__file__).parents[1] / "factors").glob("*.csv"):
        with path.open(encoding="utf-8-sig", newline="") as stream:
            found = list(csv.DictReader(stream))
        if {"value", "evidence"} <= found[0].keys():
            expected[path.stem] = Counter(row["evidence"] for row in found)
    expected["together"] = sum(expected.values(), Counter())
    assert {kind: Counter(numbers) for kind, numbers in counted.items()} == expected


def test_list_count_of_chosen_rows_counts_those_alone() -> None:
    lines = run("list", "--count", "--kind", "climate", "--evidence", "seen").stdout.splitlines()
    assert [line.split() for line in lines[1:3]] == [["climate", *"600000"], ["together", *"600000"]]


def test_list_count_as_json_is_refused() -> None:
    assert run("list", "--count", "--json").exit_code == 2


def test_list_text_that_stands_nowhere_shows_none() -> None:
    assert run("list", "--text", "xyzzy").stdout.startswith("0 of ")


@pytest.mark.parametrize(
    ("option", "wanted", "near"),
    [("--kind", "binder", "binders"), ("--region", "GBX", "GBR"), ("--evidence", "sean", "seen")],
)
def test_list_unknown_filter_names_what_is_accepted(option: str, wanted: str, near: str) -> None:
    done = run("list", option, wanted)
    assert done.exit_code == 2
    assert option in done.stderr
    assert near in done.stderr


def test_show_row_as_published_and_in_the_unit_of_the_calculation() -> None:
    # UK government conversion factors 2025: polypropylene, primary, 2577.57172 kg CO2e per tonne.
    shown = document("show", "polymer.formed.PP/GBR")
    assert shown["published"] == {"value": "2577.57172", "unit": "kgCO2e/t"}
    assert shown["value"] == pytest.approx(2.57757172)
    assert shown["unit"] == "kgCO2e/kg"
    assert shown["source"]["licence"] == "Open Government Licence v3.0"
    assert shown["source"]["page"].startswith("https://www.gov.uk/")
    assert shown["locator"] == "row 19_505_5144_15_1"
    assert shown["low"] < shown["value"] < shown["high"]
    assert "formed route" in shown["used"]
    assert all(other["key"] == "polymer.formed.PP" for other in shown["others"])
    assert shown["shipped"] is None


def test_show_other_editions_and_places_of_the_key_are_listed() -> None:
    shown = document("show", "gwp.methane-non-fossil/world/AR6")
    assert {"gwp.methane-non-fossil/world/AR4", "gwp.methane-non-fossil/world/AR5"} <= {
        row["id"] for row in shown["others"]
    }


def test_show_text_holds_the_arithmetic_and_the_other_rows() -> None:
    text = run("show", "heat.gas/GBR").stdout
    for expected in (
        "0.18296 + 0.03021",
        "computed",
        "latent heat drawn from a heated room",
        "heat.gas/world",
        "0.21317 kgCO2e/kWh",
    ):
        assert expected in text


@pytest.mark.parametrize(
    ("wanted", "near"), [("electricity.direct/US-CAMY", "electricity.direct/US-CAMX"), ("heat.gas", "heat.gas/GBR")]
)
def test_show_unknown_id_ends_with_status_2_and_the_nearest_ids(wanted: str, near: str) -> None:
    done = run("show", wanted)
    assert done.exit_code == 2
    assert near in done.stderr
    assert done.stdout == ""


def test_show_in_folder_gives_the_own_value_and_the_shipped_one(folder: Path) -> None:
    shown = document("show", "binder.footprint.pva-glue", "--in", str(folder))
    shipped = document("show", "binder.footprint.pva-glue")
    assert (shown["value"], shown["evidence"], shown["source"]["citation"]) == (1.5, "own value", None)
    assert shown["shipped"]["value"] == shipped["value"]
    assert "shipped" in run("show", "binder.footprint.pva-glue", "--in", str(folder)).stdout
    own = document("list", "--evidence", "own value", "--in", str(folder))["factors"]
    assert {row["id"] for row in own} == {"binder.footprint.pva-glue", "electricity.life-cycle/GBR/own"}


def test_show_in_folder_with_a_faulty_table_ends_with_status_1(folder: Path) -> None:
    (folder / "factors.csv").write_text(OWN.replace("1.5", "much"), encoding="utf-8")
    done = run("show", "binder.footprint.pva-glue", "--in", str(folder))
    assert done.exit_code == 1
    assert "row 2" in done.stderr


@pytest.mark.parametrize("command", [("list",), ("show", "heat.gas/GBR")], ids=" ".join)
def test_in_file_or_nothing_in_place_of_a_folder_is_told_so(folder: Path, command: tuple[str, ...]) -> None:
    (folder / "workshop.toml").write_text("", encoding="utf-8")
    for name, words in (("factors.csv", f'the folder that holds it, "{folder}"'), ("none", "there is no such folder")):
        done = run(*command, "--in", str(folder / name))
        assert done.exit_code == 1
        assert words in done.stderr


def test_check_valid_table_counts_what_is_replaced_and_added(folder: Path) -> None:
    done = run("check", str(folder / "factors.csv"))
    assert done.exit_code == 0
    assert "1 row replaces a shipped factor, 1 adds one" in done.stdout
    assert document("check", str(folder / "factors.csv"))["problems"] == []


def test_check_faulty_table_gives_every_problem_with_its_place(folder: Path) -> None:
    rows = "".join(f"heat.gas/GBR/{number},x,kgCO2e/kWh,,,bill,page 1\n" for number in range(25))
    (folder / "own.csv").write_text(HEADER + rows + "heat.ges/GBR,1,kWh,,,,page 1\n", encoding="utf-8")
    done = run("check", str(folder / "own.csv"))
    assert done.exit_code == 1
    assert done.stderr.count('column "value"') == 25
    assert 'own.csv, row 27, column "id"' in done.stderr
    assert 'own.csv, row 27, column "source"' in done.stderr
    again = run("check", str(folder / "own.csv"), "--json")
    assert again.exit_code == 1
    found = {(problem["row"], problem["column"]) for problem in json.loads(again.stdout)["problems"]}
    assert {(2, "value"), (26, "value"), (27, "id"), (27, "source")} <= found


def faults(path: Path, text: str) -> list[tuple[int | None, str, str]]:
    path.write_text(text, encoding="utf-8")
    checked = json.loads(run("check", str(path), "--json").stdout)
    validate("check", checked)
    return [(problem["row"], problem["column"], problem["code"]) for problem in checked["problems"]]


def test_check_missing_columns_and_faults_of_rows_come_together(tmp_path: Path) -> None:
    text = (
        "id,value,unit,low,high\nwater.supply/world,x,kgCO2e/m3,,\nheat.ges/GBR,1,kgCO2e/kWh,,\n"
        "water.supply/world,1,kgCO2e/m3,2,3\npart.moisture,1.4,1,,\nheat.gas/GBR,0.2,kg,,\n"
    )
    assert faults(tmp_path / "own.csv", text) == [
        (1, "source", "missing-column"), (1, "locator", "missing-column"), (2, "value", "not-a-number"),
        (3, "id", "unknown-key"), (4, "value", "out-of-order"), (5, "value", "out-of-range"), (6, "unit", "wrong-unit"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("value,unit,source,locator\n1,kg,s,p,more\n", [(1, "id", "missing-column")]),
        ("id,unit,source,locator\nheat.gas/GBR,kg,s,p\n", [(1, "value", "missing-column")]),
        ("id,value,source,locator\nheat.gas/GBR,1,s,p\n", [(1, "unit", "missing-column")]),
        (
            "id,value,unit,low,high,source,locator,distribtion\nbinder.footprint.pva-glue,1,kgCO2e/kg,0,3,s,p,triangular\n",
            [(1, "distribtion", "unknown-column")],
        ),
        (
            "id,value,unit,low,low,source,locator\nbinder.footprint.pva-glue,1,kgCO2e/kg,0,3,s,p\n",
            [(1, "low", "duplicate-column")],
        ),
        ("id,value,unit,locator\nfate.corrugated.landfill,0.9,1,p\n", [(1, "source", "missing-column")]),
    ],
    ids=["no id", "no value", "no unit", "a misspelt column", "a column twice", "no source"],
)
def test_check_fault_of_the_header_brings_no_faults_of_its_own_making(
    tmp_path: Path, text: str, wanted: list[tuple[int, str, str]]
) -> None:
    assert faults(tmp_path / "own.csv", text) == wanted


def test_check_help_calls_its_argument_a_file() -> None:
    assert "FILE" in run("check", "--help").stdout
    assert "TABLE" not in run("check", "--help").stdout


def test_check_file_that_is_not_there_is_wrong_usage(folder: Path) -> None:
    assert run("check", str(folder / "none.csv")).exit_code == 2


@pytest.mark.parametrize("command", ["list", "show", "check"])
def test_help_of_every_command_has_an_example(command: str) -> None:
    assert f"Example: impact factors {command}" in " ".join(run(command, "--help").stdout.split())
