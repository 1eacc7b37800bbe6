"""What is no regular file, what the system refuses, and what is echoed of it: one line each, never a wait."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from impact.base.catalogue import read_names
from impact.base.files import NotRegularError, read_regular
from impact.base.problems import Problem, choices
from impact.cli.commands import main
from impact.factors.factorset import read_factors
from impact.factors.keys import nearest_pattern
from impact.factors.own import read_own_factors
from tests.folders import BATCHES, write_folder

TABLES = ("workshop.toml", "parts.csv", "batches.csv", "batches.parquet", "factors.csv")
FULL = Path("/dev/full")
WAITING_S = 1800.0
"""Seconds after which a reader waits for what never comes; a busy machine does not take as long. [s]"""


def pipe(path: Path) -> None:
    os.mkfifo(path)


def device(path: Path) -> None:
    path.symlink_to("/dev/zero")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no pipes with a name here")
@pytest.mark.parametrize("make", [pipe, device])
@pytest.mark.parametrize("name", TABLES)
def test_check_no_regular_file_in_place_of_a_table_is_refused(tmp_path: Path, name: str, make: object) -> None:
    folder = write_folder(tmp_path / "bench")
    (folder / name).unlink(missing_ok=True)
    if name == "batches.parquet":
        (folder / "batches.csv").unlink()
    (pipe if make is pipe else device)(folder / name)
    # in a process of its own, so that a reader which waits fails the test in place of stopping all of them
    command = [sys.executable, "-m", "impact", "check", str(folder), "--json"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=WAITING_S, check=False)
    assert done.returncode == 1, done.stderr
    assert f'"code": "not-a-file", "file": "{name}"' in done.stdout


def test_read_regular_socket_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)  # the name of a socket is short
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind("parts.csv")
        with pytest.raises(NotRegularError, match="a socket"):
            read_regular(tmp_path / "parts.csv")


def test_read_regular_link_to_a_file_is_followed(tmp_path: Path) -> None:
    (tmp_path / "there.csv").write_bytes(b"a,b")
    (tmp_path / "here.csv").symlink_to("there.csv")
    assert read_regular(tmp_path / "here.csv", limit=3) == b"a,b"


def test_read_regular_larger_than_the_limit_is_refused(tmp_path: Path) -> None:
    (tmp_path / "parts.csv").write_bytes(b"a,b")
    with pytest.raises(NotRegularError) as caught:
        read_regular(tmp_path / "parts.csv", limit=2)
    assert caught.value.code == "too-large"


@pytest.mark.parametrize("name", ["workshop.toml", "parts.csv", "factors.csv"])
def test_check_settings_over_20_megabytes_are_refused(tmp_path: Path, name: str) -> None:
    folder = write_folder(tmp_path / "bench")
    with (folder / name).open("wb") as stream:
        stream.truncate(20_000_001)
    result = CliRunner().invoke(main, ["check", str(folder)])
    assert f"{name}: the file is larger than 20 MB" in result.output


def test_check_batches_over_20_megabytes_are_read(tmp_path: Path) -> None:
    padding = (" " * 9_999 + "\n") * 2_001
    folder = write_folder(tmp_path / "bench", batches=BATCHES.rstrip("\n") + padding)
    assert "larger than" not in CliRunner().invoke(main, ["check", str(folder)]).output


@pytest.mark.parametrize("command", ["check", "totals", "report", "demo"])
def test_main_folder_name_too_long_is_one_line(command: str) -> None:
    result = CliRunner().invoke(main, [command, "x" * 5000])
    assert isinstance(result.exception, SystemExit)
    assert result.exit_code == 1
    assert "name too long" in result.output


@pytest.mark.parametrize("length", [247, 400])
def test_report_long_output_name_is_written_or_refused_in_one_line(tmp_path: Path, length: int) -> None:
    folder = write_folder(tmp_path / "bench")
    target = tmp_path / ("x" * length + ".html")
    result = CliRunner().invoke(main, ["report", str(folder), "--for", "school", "-o", str(target)])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    written = length == 247
    assert written == ("name too long" not in result.output)
    assert result.exit_code == (0 if written else 1), result.output


def test_main_refused_by_the_system_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_: Path, **__: object) -> None:
        raise PermissionError(13, "Permission denied", "bench\x1b[2J")

    monkeypatch.setattr("impact.api.read_folder", refuse)
    result = CliRunner().invoke(main, ["totals", "bench"])
    assert (result.exit_code, result.output) == (1, "impact: bench\\x1b[2J: Permission denied\n")


@pytest.mark.skipif(not FULL.exists(), reason="there is no device that is always full here")
def test_main_full_disk_behind_standard_output_is_one_line() -> None:
    with FULL.open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "impact", "--help"], stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
    assert (done.returncode, done.stderr) == (1, "impact: No space left on device\n")


def test_problem_text_control_and_direction_marks_are_escaped() -> None:
    text = str(Problem("c", "parts.csv", "is\tno\nname", column="a\u202eb", read="\x1b[31mred\u2066", accepted="x\x07"))
    assert text == ('parts.csv, column "a\\u202eb": read "\\x1b[31mred\\u2066": is\\tno\\nname. Accepted: x\\x07.')


def test_problem_text_long_reading_is_cut_at_80_characters() -> None:
    assert f'read "{"y" * 80}…": ' in str(Problem("c", "parts.csv", "is no name", read="y" * 81))
    assert f'read "{"y" * 80}": ' in str(Problem("c", "parts.csv", "is no name", read="y" * 80))


@pytest.mark.parametrize(
    ("wanted", "country"),
    [("UK", "GBR"), ("GB", "GBR"), ("US", "USA"), ("U.S.A.", "USA"), ("Germany", "DEU"), ("Germny", "DEU")],
)
def test_choices_country_in_other_words_is_suggested(wanted: str, country: str) -> None:
    countries = read_names().countries
    assert f'(did you mean "{country}"?)' in choices(wanted, countries, countries)


def test_choices_long_list_shows_the_nearest_and_the_count() -> None:
    names = [f"name-{number:02}" for number in range(16)]
    assert choices("name-15", names[:15]).count("name-") == 16  # all of them, and the nearest again
    listed = choices("name-15", names)
    assert listed.startswith("name-15, ")
    assert listed.endswith(' … and 11 more (did you mean "name-15"?)')
    assert choices("?", names) == "name-00, name-01, name-02, name-03, name-04 … and 11 more"


@pytest.mark.parametrize(
    ("key", "near"),
    [
        ("fibre.modulos", "fibre.modulus"),
        ("paper.moistur.corrugated", "paper.moisture.corrugated"),
        ("paper.moistur.card board", "paper.moisture.{grade}"),
        ("zz", None),
    ],
)
def test_nearest_pattern_misspelt_key_is_recognised(key: str, near: str | None) -> None:
    assert nearest_pattern(key) == near


def test_report_help_names_the_file_that_is_written_by_default() -> None:
    assert "by default funder.pdf, school.pdf or binder.pdf here" in " ".join(
        CliRunner().invoke(main, ["report", "--help"]).output.split()
    )


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("paper.moisture.corrugated,1,1,,,s,l", "value"),
        ("electricity.loss/USA,1.0,1,,,s,l", "value"),
        ("compost.moisture.food-waste,1,1,,,s,l", "value"),
        ("compost.target.moisture,1,1,,,s,l", "value"),
        ("compost.carbon-nitrogen.office,0,kg/kg,,,s,l", "value"),
        ("compost.carbon-nitrogen.office,5,kg/kg,-1,9,s,l", "low"),
    ],
)
def test_read_own_factors_value_that_divides_by_nothing_is_refused(tmp_path: Path, row: str, column: str) -> None:
    (tmp_path / "factors.csv").write_text(f"id,value,unit,low,high,source,locator\n{row}\n", encoding="utf-8")
    _, problems = read_own_factors(tmp_path / "factors.csv", read_factors())
    assert (2, column, "out-of-range") in [(problem.row, problem.column, problem.code) for problem in problems]
