from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest
from office import convert
from pypdf import PdfReader

from impact.base.catalogue import Names, read_names
from impact.base.problems import Problem
from impact.records import batches, columns
from impact.records.columns import UNITS, LogColumn, further_columns, usual_columns
from impact.records.logsheet import AMOUNTS, LAST_ROW, log_sheet
from tests.folders import read_batches

NAMES = read_names()
PROMPT_LIMIT, ERROR_LIMIT, TITLE_LIMIT = 255, 255, 32
"""Most characters of the texts of a check in an XLSX file (from memory)."""


def opened(units: Any = "metric", parts: tuple[str, ...] = ("tray",)) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(log_sheet(NAMES, parts=parts, units=units, paper="A4")))


def checks_of(book: openpyxl.Workbook) -> dict[str, Any]:
    """Return the check of each column by its header without unit."""
    page = book["batches"]
    headers = {cell.column_letter: str(cell.value).split(" [")[0] for cell in page[1]}
    return {
        headers[str(check.sqref)[0]]: check
        for check in page.data_validations.dataValidation
        if str(check.sqref) == f"{str(check.sqref)[0]}2:{str(check.sqref)[0]}{LAST_ROW}"
    }


def read_with(path: Path, header: str, row: str) -> tuple[pd.DataFrame, list[Problem]]:
    path.mkdir()
    (path / "batches.csv").write_text(f"{header}\n{row}\n", encoding="utf-8")
    return read_batches(path, None, NAMES)


def test_columns_together_are_all_that_batches_may_have() -> None:
    listed = [column.name for column in (*usual_columns(NAMES), *further_columns(NAMES))]
    assert len(listed) == len(set(listed))
    assert set(listed) == set(batches.columns_known(NAMES))


def test_columns_become_each_another_column() -> None:
    become = [name for column in columns.log_columns(NAMES) for name in column.canonicals]
    assert len(become) == len(set(become))


def test_columns_of_estimates_say_what_is_missing_and_what_to_do() -> None:
    for column in columns.COLUMNS:
        assert (
            bool(column.missing)
            == bool(column.remedy)
            == (column.blank in (columns.BLANKS["estimated"], columns.BLANKS["usual"]))
        )


@pytest.mark.parametrize(("width", "listed"), [(8.0, usual_columns), (0.0, further_columns)])
def test_column_added_by_one_entry_is_read_and_stands_in_the_log_and_its_help(
    width: float, listed: Callable[[Names], list[LogColumn]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    header, row = "batch,date,part,corrugated,binder,good parts,soaking", "1,2026-01-05,pot,2,none,30,500 mL"
    _, problems = read_with(tmp_path / "before", header, row)
    assert [problem.code for problem in problems] == ["unknown-column"]
    soaking = LogColumn("soaking", "volume", "soaking_l", "water for soaking", "not soaked", "dry", 175, width)
    monkeypatch.setattr(columns, "COLUMNS", (*columns.COLUMNS, soaking))
    frame, problems = read_with(tmp_path / "after", header, row)
    assert problems == []
    assert frame["soaking_l"].tolist() == [0.5]
    assert soaking in listed(NAMES)
    book = opened("us")
    assert ("soaking [US qt]" in [cell.value for cell in book["batches"][1]]) == bool(width)
    assert ("soaking [US qt]", "water for soaking", "not soaked", "dry") in book["help"].iter_rows(values_only=True)


@pytest.mark.parametrize("units", UNITS)
def test_log_sheet_headers_are_read_without_a_problem_but_that_batches_lack(units: str, tmp_path: Path) -> None:
    (tmp_path / "batches.xlsx").write_bytes(log_sheet(NAMES, parts=["tray"], units=units, paper="A4"))  # type: ignore[arg-type]
    _, problems = read_batches(tmp_path, None, NAMES)
    assert [problem.code for problem in problems] == ["no-rows"]


def test_log_sheet_carries_no_time_of_day() -> None:
    with zipfile.ZipFile(io.BytesIO(log_sheet(NAMES, parts=["tray"], units="metric", paper="A4"))) as archive:
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        stamps = re.findall(rb">([0-9-]+T[0-9:]+Z)<", archive.read("docProps/core.xml"))
    assert stamps == [b"1980-01-01T00:00:00Z"] * 2


def test_log_sheet_twice_is_the_same_bytes() -> None:
    assert log_sheet(NAMES, parts=["tray"], units="metric", paper="A4") == log_sheet(
        NAMES, parts=["tray"], units="metric", paper="A4"
    )


def test_log_sheet_lists_pick_from_the_sheet_of_lists() -> None:
    book = opened(parts=("tray", "cup"))
    checks, lists = checks_of(book), book["lists"]
    assert {name for name, check in checks.items() if check.type == "list"} == {"part", "binder", "rejects to"}
    assert checks["part"].formula1 == "OFFSET('lists'!$A$2,0,0,MAX(1,COUNTA('lists'!$A$2:$A$201)),1)"
    assert [cell.value for cell in lists["A"][1:3]] == ["tray", "cup"]
    for name, column, ids in (("binder", "B", NAMES.binders), ("rejects to", "C", NAMES.fates)):
        place = re.fullmatch(rf"'lists'!\$({column})\$2:\${column}\$(\d+)", checks[name].formula1)
        assert place is not None
        listed = [lists[f"{column}{row}"].value for row in range(2, int(place[2]) + 1)]
        assert set(listed) >= set(ids)
        assert None not in listed


def test_log_sheet_checks_refuse_numbers_below_0_and_old_days() -> None:
    checks = checks_of(opened())
    amounts = [column for column in usual_columns(NAMES) if column.kind in AMOUNTS]
    assert amounts
    for column in amounts:
        letter = str(checks[column.name].sqref)[0]
        assert checks[column.name].formula1 == f"OR(ISTEXT({letter}2),{letter}2>=0)"
    for name in ("good parts", "rejects"):
        assert (checks[name].type, checks[name].operator, checks[name].formula1) == ("whole", "greaterThanOrEqual", "0")
    assert (checks["date"].type, checks["date"].operator) == ("date", "greaterThanOrEqual")


def test_log_sheet_check_texts_fit_the_format() -> None:
    for check in opened("us")["batches"].data_validations.dataValidation:
        assert len(check.prompt) <= PROMPT_LIMIT
        assert len(check.error) <= ERROR_LIMIT
        assert max(len(check.promptTitle), len(check.errorTitle)) <= TITLE_LIMIT


def test_log_sheet_is_set_up_for_the_clipboard() -> None:
    page = opened()["batches"]
    assert page.freeze_panes == "D2"
    assert page.page_setup.orientation == "landscape"
    assert page.print_title_rows == "$1:$1"
    assert page.print_options.gridLines
    assert page.sheet_properties.pageSetUpPr.fitToPage
    assert (page.page_setup.fitToWidth, page.page_setup.fitToHeight) == (1, 0)


@pytest.mark.parametrize("units", UNITS)
def test_help_sheet_tells_every_column_with_its_unit(units: str) -> None:
    told = {cell.value for cell in opened(units)["help"]["A"]}
    for column in (*usual_columns(NAMES), *further_columns(NAMES)):
        assert column.header(units) in told


def test_log_sheet_opens_in_an_office_program_and_prints_landscape_with_its_header_on_each_page(tmp_path: Path) -> None:
    source = tmp_path / "batches.xlsx"
    source.write_bytes(log_sheet(NAMES, parts=["tray"], units="metric", paper="A4"))
    pages = PdfReader(convert(source, "pdf", tmp_path)).pages
    log = [page for page in pages if "batches, page" in page.extract_text()]
    assert len(log) == 2
    for page in log:
        assert page.mediabox.width > page.mediabox.height
        assert "corrugated" in page.extract_text()
    saved = openpyxl.load_workbook(convert(source, "xlsx", tmp_path))["batches"]
    assert [cell.value for cell in saved[1]] == [column.header("metric") for column in usual_columns(NAMES)]
    kinds = [check.type for check in saved.data_validations.dataValidation]
    assert (kinds.count("list"), kinds.count("date"), kinds.count("whole")) == (3, 1, 3)
    assert any("OFFSET" in check.formula1 for check in saved.data_validations.dataValidation if check.type == "list")
