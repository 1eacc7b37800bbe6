from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner

from impact.base.problems import Problem
from impact.cli.commands import main
from impact.records.markedlog import LIST, MarkError, marked_log
from tests.folders import BATCHES, write_folder
from tests.workbooks import repack, write_xlsx

FORMULA = '=HYPERLINK("http://localhost:9","x")'
DOUBT = Problem("c", "batches.csv", "unlikely", row=3, column="good parts", accepted="less", level="warning")
FAULT = Problem("c", "batches.csv", "too much", row=2, column="good parts", read=FORMULA, accepted="less")


def book_of(content: bytes) -> Any:
    return openpyxl.load_workbook(io.BytesIO(content))


def test_marked_log_of_csv_marks_faults_and_doubts_in_their_cells(tmp_path: Path) -> None:
    folder = write_folder(tmp_path, batches=BATCHES.replace("good parts", "Good parts"))
    book = book_of(marked_log(folder, [FAULT, DOUBT, Problem("d", "parts.csv", "elsewhere")]))
    column = next(cell.column_letter for cell in book["batches"][1] if cell.value == "Good parts")
    fault, doubt = book["batches"][f"{column}2"], book["batches"][f"{column}3"]
    assert fault.comment.text.startswith("ERROR: too much")
    assert doubt.comment.text.startswith("WARNING: unlikely")
    assert fault.fill.fill_type != doubt.fill.fill_type  # told apart without colour
    assert sum(cell.comment is not None for row in book["batches"] for cell in row) == 2
    assert [cell.value for cell in book[LIST]["A"]] == ["kind", "error", "warning", "error"]
    assert "elsewhere" in book[LIST]["B4"].value


def test_marked_log_text_that_looks_like_a_formula_stays_text(tmp_path: Path) -> None:
    notes = BATCHES.replace('"wet, cold day"', f'"{FORMULA.replace(chr(34), chr(34) * 2)}"')
    book = book_of(marked_log(write_folder(tmp_path, batches=notes), [FAULT]))
    cells = [cell for page in book for row in page for cell in row if cell.value is not None]
    assert any(cell.value == FORMULA for cell in cells)
    assert {cell.data_type for cell in cells} == {"s"}


def test_marked_log_of_a_workbook_keeps_it_and_marks_the_cell(tmp_path: Path) -> None:
    def change(page: Any) -> None:
        page["A1"].comment = openpyxl.comments.Comment("mine", "me")
        page["AE3"] = "=1+1"

    folder = write_folder(tmp_path, batches=None)
    write_xlsx(folder / "batches.xlsx", BATCHES, sheet="log", more={"other": "a\n"}, change=change)
    place = {"sheet": "log", "row": 1, "cell": "A1"}
    merged = Problem("c", "batches.xlsx", "wrong", accepted="right", **place)  # type: ignore[arg-type]
    book = book_of(marked_log(folder, [merged]))
    assert book.sheetnames == ["log", "other", LIST]
    assert book["log"]["A1"].comment.text.splitlines() == ["ERROR: wrong. Accepted: right", "mine"]
    assert book["log"]["AE3"].value == "=1+1"


@pytest.mark.parametrize("content", [b"", b"PK", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"])
def test_marked_log_of_no_workbook_is_refused(tmp_path: Path, content: bytes) -> None:
    (write_folder(tmp_path, batches=None) / "batches.xlsx").write_bytes(content)
    with pytest.raises(MarkError, match=r"batches\.xlsx cannot be copied"):
        marked_log(tmp_path, [])


def test_marked_log_of_a_workbook_with_a_hostile_part_is_refused(tmp_path: Path) -> None:
    file = write_xlsx(write_folder(tmp_path, batches=None) / "batches.xlsx", BATCHES)
    declared = b'<!DOCTYPE x [<!ENTITY a "ha">]><comments/>'
    repack(file, lambda _, part: part, **{"xl/comments1.xml": declared})
    with pytest.raises(MarkError, match="document type"):
        marked_log(tmp_path, [])


def test_check_mark_writes_once_and_overwrites_with_force_only(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "bench", batches=BATCHES.replace("1.2,300", "many,300"))
    target = tmp_path / "marked.xlsx"
    command = ["check", str(folder), "--mark", str(target)]
    assert CliRunner().invoke(main, command).exit_code == 1  # the records have an error
    assert book_of(target.read_bytes())["batches"]["D2"].comment.text.startswith("ERROR")
    target.write_bytes(b"mine")
    assert "exists already" in CliRunner().invoke(main, command).output
    assert target.read_bytes() == b"mine"
    CliRunner().invoke(main, [*command, "--force"])
    assert target.read_bytes().startswith(b"PK")


@pytest.mark.parametrize("name", ["marked.csv", "batches.xlsx", "parts.xlsx"])
def test_check_mark_name_that_is_none_is_wrong_usage(tmp_path: Path, name: str) -> None:
    folder = write_folder(tmp_path)
    result = CliRunner().invoke(main, ["check", str(folder), "--mark", str(folder / name), "--force"])
    assert result.exit_code == 2
    assert not (folder / name).exists()


def test_check_mark_of_a_folder_of_workshops_or_of_parts_is_one_line(tmp_path: Path) -> None:
    write_folder(tmp_path / "programme" / "north")
    several = CliRunner().invoke(main, ["check", str(tmp_path / "programme"), "--mark", str(tmp_path / "m.xlsx")])
    assert several.exit_code == 2
    assert "--mark is for the log of one of them" in several.stderr
    folder = write_folder(tmp_path / "parts")
    (folder / "batches").mkdir()
    (folder / "batches.csv").rename(folder / "batches" / "1.csv")
    parts = CliRunner().invoke(main, ["check", str(folder), "--mark", str(tmp_path / "m.xlsx")])
    assert parts.exit_code == 1
    assert "one batches.csv or batches.xlsx can be copied and marked" in parts.stderr
    assert not (tmp_path / "m.xlsx").exists()
