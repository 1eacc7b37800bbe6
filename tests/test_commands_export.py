from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result

from impact.cli.commands import main
from tests.folders import CLOSED, write_folder


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return write_folder(tmp_path / "bench", batches=CLOSED)


def run(*arguments: str | Path, status: int = 0) -> Result:
    result = CliRunner().invoke(main, ["export", *[str(argument) for argument in arguments], "--draws", "100"])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exc_info
    assert result.exit_code == status, result.output
    return result


def test_export_without_a_name_writes_impact_xlsx(folder: Path) -> None:
    assert run(folder).stdout == "wrote impact.xlsx\n"
    assert "headline" in openpyxl.load_workbook("impact.xlsx").sheetnames


def test_export_file_that_exists_is_kept_unless_forced(folder: Path) -> None:
    Path("impact.xlsx").write_bytes(b"old")
    assert "--force" in run(folder, status=1).stderr
    assert Path("impact.xlsx").read_bytes() == b"old"
    run(folder, "--force")
    assert Path("impact.xlsx").read_bytes() != b"old"


def test_export_other_ending_is_wrong_usage(folder: Path) -> None:
    assert ".xlsx" in run(folder, "-o", "impact.ods", status=2).stderr


def test_export_narrowed_holds_the_batches_of_the_part_and_the_seed(folder: Path) -> None:
    run(folder, "--part", "tray", "--seed", "7", "-o", "tray.xlsx")
    book = openpyxl.load_workbook("tray.xlsx")
    assert [row[1] for row in book["records"].iter_rows(min_row=4, values_only=True)] == ["002"]
    assert ("seed", 7) in book["about"].iter_rows(max_col=2, values_only=True)


def test_export_more_batches_than_rows_is_one_line(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("impact.tables.xlsx_out.ROWS", 4)
    assert "2 batches are too many" in run(folder, status=1).stderr
    assert not Path("impact.xlsx").exists()
