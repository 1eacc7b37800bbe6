from __future__ import annotations

import io
import shutil
import zipfile
from datetime import date, datetime, timedelta
from datetime import time as clock
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from openpyxl.worksheet.worksheet import Worksheet

import impact
from impact.api import load
from impact.base.problems import Problem, ProblemsError, errors
from impact.records.workshop_file import read_workshop
from tests.folders import BATCHES, NAMES, PARTS, TOML, read_batches, read_valid, swap, write_folder
from tests.workbooks import cells_of, repack, write_xlsx

DEMO = Path(impact.__file__).parent / "demo"
X = "batches.xlsx"
HEADER = "batch,date,part,corrugated,binder,good parts"
SMALL = f"{HEADER}\nA1,2026-01-05,pot,2,none,30\nA2,2026-01-06,pot,3,none,31\n"


def folder_with(folder: Path, text: str = BATCHES, *, toml: str = TOML, **options: Any) -> Path:
    write_folder(folder, batches=None, workshop=toml)
    write_xlsx(folder / X, text, **options)
    return folder


def read(folder: Path) -> tuple[pd.DataFrame, list[Problem]]:
    workshop, problems = read_workshop(folder, NAMES)
    frame, more = read_batches(folder, workshop, NAMES)
    return frame, problems + more


def cells(problems: list[Problem]) -> list[tuple[str | None, str | None, str]]:
    return [(problem.sheet, problem.cell, problem.code) for problem in problems]


def setting(*places: tuple[str, Any], form: str | None = None) -> Any:
    """Return a change that writes values into cells, with a number format."""

    def change(page: Worksheet) -> None:
        for place, value in places:
            page[place] = value
            if form is not None:
                page[place].number_format = form

    return change


def test_read_xlsx_of_the_valid_file_equals_the_csv(tmp_path: Path) -> None:
    plain, _ = read(write_folder(tmp_path / "csv"))
    frame, problems = read(folder_with(tmp_path / "xlsx"))
    assert problems == []
    assert frame["sheet"].unique().tolist() == ["batches"]
    pd.testing.assert_frame_equal(frame.drop(columns="sheet"), plain)


def test_read_xlsx_text_cells_equal_the_csv(tmp_path: Path) -> None:
    plain, _ = read(write_folder(tmp_path / "csv"))
    frame, problems = read(folder_with(tmp_path / "xlsx", values=lambda text: text or None))
    assert problems == []
    pd.testing.assert_frame_equal(frame.drop(columns="sheet"), plain)


def test_read_xlsx_parts_equal_the_csv(tmp_path: Path) -> None:
    plain = read_valid(write_folder(tmp_path / "csv"))
    folder = write_folder(tmp_path / "xlsx", parts=None)
    write_xlsx(folder / "parts.xlsx", PARTS, sheet="Parts")
    assert read_valid(folder) == plain


def test_totals_of_the_demo_as_workbooks_are_those_of_the_csv(tmp_path: Path) -> None:
    shutil.copytree(DEMO, tmp_path / "demo")
    wanted = load(tmp_path / "demo").assess(draws=100).as_totals()
    for name in ("batches", "parts"):
        file = tmp_path / "demo" / f"{name}.csv"
        write_xlsx(file.with_suffix(".xlsx"), file.read_text(encoding="utf-8"), sheet=name)
        file.unlink()
    found = load(tmp_path / "demo").assess(draws=100).as_totals()
    for warning in [*found["warnings"], *wanted["warnings"]]:
        del warning["file"], warning["sheet"]
    assert found == wanted


def european(text: str) -> str:
    """Return a CSV text as a spreadsheet set to German writes it: semicolons, decimal commas, day first."""
    out = io.StringIO()
    rows = cells_of(text)
    titles = rows[0]
    for row in rows:
        cells = [cell if title == "notes" else cell.replace(".", ",") for title, cell in zip(titles, row, strict=True)]
        if "date" in titles and row is not titles:
            day = date.fromisoformat(row[titles.index("date")])
            cells[titles.index("date")] = f"{day:%d.%m.%Y}"
        out.write(";".join(f'"{cell}"' if ";" in cell else cell for cell in cells) + "\r\n")
    return out.getvalue()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_totals_of_the_demo_in_european_form_are_the_same(tmp_path: Path, encoding: str) -> None:
    shutil.copytree(DEMO, tmp_path / "demo")
    wanted = load(tmp_path / "demo").assess(draws=100).as_totals()
    for name in ("batches.csv", "parts.csv"):
        file = tmp_path / "demo" / name
        file.write_text(european(file.read_text(encoding="utf-8")), encoding=encoding, newline="")
    toml = tmp_path / "demo" / "workshop.toml"
    settings = '\n[records]\ndecimal = "comma"\ndates = "day first"\n'
    toml.write_text(toml.read_text(encoding="utf-8") + settings, encoding="utf-8")
    assert load(tmp_path / "demo").assess(draws=100).as_totals() == wanted


def test_read_xlsx_titles_above_the_header_are_passed_over(tmp_path: Path) -> None:
    def change(page: Worksheet) -> None:
        page["A1"] = "Paper Bench: log of the year"
        page.merge_cells("A1:F1")
        page["B3"] = "batch"
        page["F7"] = "many"

    frame, problems = read(folder_with(tmp_path, SMALL, titles=4, change=change))
    assert frame["row"].tolist() == [6, 7]
    assert cells(problems) == [("batches", "F7", "bad-number")]
    assert str(problems[0]).startswith('batches.xlsx, sheet "batches", cell F7 (good parts): read "many"')


def test_read_xlsx_balance_problem_names_file_sheet_and_row(tmp_path: Path) -> None:
    shutil.copytree(DEMO, tmp_path / "demo")
    file = tmp_path / "demo" / "batches.csv"
    text = file.read_text(encoding="utf-8")
    write_xlsx(file.with_suffix(".xlsx"), swap(text, ",645,275,", ",6.45,2.75,"), sheet="log")
    file.unlink()
    with pytest.raises(ProblemsError) as caught:
        load(tmp_path / "demo").assess(draws=100)
    (problem,) = [one for one in caught.value.problems if one.level == "error"]
    assert (problem.file, problem.sheet, problem.row, problem.code) == (X, "log", 2, "mass-balance")


SECOND = SMALL.replace("A1", "B1").replace("A2", "B2")


def test_read_xlsx_named_sheets_are_joined_by_column_name(tmp_path: Path) -> None:
    other = "good parts,batch,date,part,binder,corrugated,people\n12,C1,2026-02-01,pot,none,1.5,x\n"
    toml = TOML + '[records]\nsheet = ["jan", "Feb"]\n'
    folder = folder_with(tmp_path, SMALL, sheet="jan", more={"feb": other, "notes": "a,b\n"}, toml=toml)
    frame, problems = read(folder)
    assert frame["paper.corrugated_kg"].tolist() == [2.0, 3.0, 1.5]
    assert frame[["sheet", "row"]].to_numpy().tolist() == [["jan", 2], ["jan", 3], ["feb", 2]]
    assert cells(problems) == [("feb", "G2", "bad-number")]


def test_read_xlsx_batch_in_two_sheets_names_the_first(tmp_path: Path) -> None:
    toml = TOML + '[records]\nsheet = ["jan", "feb"]\n'
    _, problems = read(folder_with(tmp_path, SMALL, sheet="jan", more={"feb": SMALL}, toml=toml))
    assert cells(problems) == [("feb", "A2", "duplicate-batch"), ("feb", "A3", "duplicate-batch")]
    assert "sheet jan, row 2" in problems[0].message


def test_read_xlsx_sheets_with_other_units_are_refused(tmp_path: Path) -> None:
    toml = TOML + '[records]\nsheet = ["jan", "feb"]\n'
    other = SECOND.replace("corrugated", "corrugated [g]")
    _, problems = read(folder_with(tmp_path, SMALL, sheet="jan", more={"feb": other}, toml=toml))
    assert cells(problems) == [("feb", "D1", "sheets-differ")]


@pytest.mark.parametrize(
    ("sheet", "more", "records", "code"),
    [
        ("log", {"lists": "a\n"}, "", "which-sheet"),
        ("log", {}, 'sheet = "lgo"', "unknown-sheet"),
        ("log", {}, 'sheet = ["log", "feb"]', "unknown-sheet"),
    ],
)
def test_read_xlsx_sheet_that_cannot_be_told_is_one_problem(
    tmp_path: Path, sheet: str, more: dict[str, str], records: str, code: str
) -> None:
    _, problems = read(folder_with(tmp_path, SMALL, sheet=sheet, more=more, toml=f"{TOML}[records]\n{records}\n"))
    assert [problem.code for problem in problems] == [code]
    assert "log" in str(problems[0])


@pytest.mark.parametrize("state", ["hidden", "veryHidden"])
def test_read_xlsx_only_visible_sheet_is_read(tmp_path: Path, state: str) -> None:
    def change(page: Worksheet) -> None:
        page.parent["lists"].sheet_state = state

    frame, problems = read(folder_with(tmp_path, SMALL, sheet="log", more={"lists": "a\n"}, change=change))
    assert (len(frame), problems) == (2, [])


def test_read_xlsx_notes_below_the_table_are_left_out_with_a_warning(tmp_path: Path) -> None:
    change = setting(("A6", "weighed with the kitchen scale"), ("C9", "see the log book"))
    frame, problems = read(folder_with(tmp_path, SMALL, change=change))
    assert len(frame) == 2
    assert cells(problems) == [("batches", "A6", "note-row"), ("batches", "C9", "note-row")]
    assert {problem.level for problem in problems} == {"warning"}


def test_read_xlsx_only_notes_below_the_header_is_no_rows(tmp_path: Path) -> None:
    _, problems = read(folder_with(tmp_path, f"{HEADER}\nnothing yet,,,,,\n"))
    assert [problem.code for problem in problems] == ["no-rows", "note-row"]


def test_read_xlsx_hidden_rows_and_columns_are_read_with_a_warning(tmp_path: Path) -> None:
    def change(page: Worksheet) -> None:
        page.row_dimensions[2].hidden = True
        page.row_dimensions[99].hidden = True
        page.column_dimensions["D"].hidden = True

    frame, problems = read(folder_with(tmp_path, SMALL, change=change))
    assert frame["paper.corrugated_kg"].tolist() == [2.0, 3.0]
    assert [(problem.code, problem.level, problem.message.rpartition(": ")[2]) for problem in problems] == [
        ("hidden-rows", "warning", "2"),
        ("hidden-columns", "warning", "corrugated"),
    ]


def test_read_xlsx_empty_rows_between_count_but_hold_nothing(tmp_path: Path) -> None:
    change = setting(
        *zip((f"{letter}7" for letter in "ABCDEF"), ("A3", "2026-01-09", "pot", 1, "none", 9), strict=True)
    )
    frame, problems = read(folder_with(tmp_path, SMALL, change=change))
    assert problems == []
    assert frame["row"].tolist() == [2, 3, 7]


@pytest.mark.parametrize("epoch", [None, CALENDAR_MAC_1904])
@pytest.mark.parametrize(
    "value", [date(2026, 1, 31), datetime(2026, 1, 31, 14, 30), "2026-01-31", "31.01.2026", "31/1/2026", "1/31/2026"]
)
def test_read_xlsx_days_as_days_and_as_text_are_read(tmp_path: Path, value: Any, epoch: datetime | None) -> None:
    def change(page: Worksheet) -> None:
        page.parent.epoch = epoch or page.parent.epoch
        page["B2"], page["B3"] = value, value

    frame, problems = read(folder_with(tmp_path, SMALL, change=change))
    assert problems == []
    assert frame["date"].dt.strftime("%Y-%m-%d").tolist() == ["2026-01-31"] * 2


def test_read_xlsx_days_beside_text_are_doubted(tmp_path: Path) -> None:
    frame, problems = read(folder_with(tmp_path, SMALL, change=setting(("B3", "31/12/2026"))))
    assert frame["date"].iloc[1] == pd.Timestamp(2026, 12, 31)
    assert cells(problems) == [("batches", "B3", "mixed-dates")]
    assert problems[0].level == "warning"


NUMBERS = [
    ("D2", 2.5, None, 2.5),
    ("D2", "2,5", None, 2.5),
    ("D2", "1.234,56 g", None, 1.23456),
    ("D2", "1,234.56 g", None, 1.23456),
    ("D2", "1 234,5 g", None, 1.2345),
    ("D2", "1\u202f234,5 g", None, 1.2345),
    ("D2", "1'234.5 g", None, 1.2345),
    ("D2", "1’234 g", None, 1.234),
    ("D2", "1.234.567 g", None, 1234.567),
    ("D2", 1.234, None, 1.234),
    ("D2", 1234, "#,##0", 1234.0),
    ("D2", 500, '0" g"', 0.5),
    ("D2", 1.125, '0.000\\ "lb"', 1.125 * 0.45359237),
    ("D2", 1.5, '#,##0.00 "€"', 1.5),
    ("D2", 1.5, '0.00;[Red]-0.00" g"', 1.5),
    ("D2", "=1+1.5", None, 2.5),
]


@pytest.mark.parametrize(("place", "value", "form", "wanted"), NUMBERS)
def test_read_xlsx_number_in_any_form_is_read(
    tmp_path: Path, place: str, value: Any, form: str | None, wanted: float
) -> None:
    options = {} if form is None else {"form": form}
    folder = folder_with(tmp_path, SMALL, change=setting((place, value), **options))
    repack(folder / X, lambda _, part: part.replace(b"<f>1+1.5</f><v></v>", b"<f>1+1.5</f><v>2.5</v>"))
    repack(folder / X, lambda _, part: part.replace(b"<f>1+1.5</f><v />", b"<f>1+1.5</f><v>2.5</v>"))
    frame, problems = read(folder)
    assert problems == []
    assert frame["paper.corrugated_kg"].iloc[0] == pytest.approx(wanted, rel=1e-12)


def test_read_xlsx_shares_and_times_follow_their_format(tmp_path: Path) -> None:
    text = f"{HEADER},moisture [%],hours\nA1,2026-01-05,pot,2,none,30,,\n"
    change = setting(("G2", 0.07125), form="0.000%")

    def both(page: Worksheet) -> None:
        change(page)
        page["H2"] = clock(1, 45)

    frame, problems = read(folder_with(tmp_path, text, change=both))
    assert problems == []
    assert frame["moisture"].iloc[0] == pytest.approx(0.07125)
    assert frame["hours"].iloc[0] == pytest.approx(1.75)


def test_read_xlsx_duration_over_a_day_is_read(tmp_path: Path) -> None:
    text = f"{HEADER},hours\nA1,2026-01-05,pot,2,none,30,\n"
    frame, problems = read(folder_with(tmp_path, text, change=setting(("G2", timedelta(hours=30)))))
    assert problems == []
    assert frame["hours"].iloc[0] == pytest.approx(30.0)


def test_read_xlsx_rich_text_and_line_breaks_in_headers_are_read(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, SMALL.replace("good parts", "good¤parts"), change=setting(("F1", "Good\nparts")))
    rich = b"<si><r><t>po</t></r><r><rPr><b/></rPr><t>t</t></r><rPh sb='0' eb='1'><t>x</t></rPh></si>"
    repack(folder / X, lambda _, part: part.replace(b"<si><t>pot</t></si>", rich))
    frame, problems = read(folder)
    assert problems == []
    assert frame["part"].tolist() == ["pot", "pot"]


def broken(place: str, value: Any, code: str, *, form: str | None = None, cell: str | None = None) -> Any:
    return pytest.param(place, value, form, cell or place, code, id=f"{place}-{value}-{code}"[:60])


BROKEN_CELLS = [
    broken("D2", "#N/A", "error-cell"),
    broken("D2", "#DIV/0!", "error-cell"),
    broken("B2", "#VALUE!", "error-cell"),
    broken("C2", "#REF!", "error-cell"),
    broken("A2", "#NAME?", "error-cell"),
    broken("D2", "=SUM(G1:G9)", "no-cached-value"),
    broken("B2", "=TODAY()", "no-cached-value"),
    broken("C2", '="po"&"t"', "no-cached-value"),
    broken("E2", "=[1]other!A1", "no-cached-value"),
    broken("D2", True, "bad-number"),
    broken("F2", False, "bad-number"),
    broken("D2", date(2026, 5, 1), "date-for-number"),
    broken("F2", date(2026, 5, 1), "date-for-number"),
    broken("D2", clock(1, 30), "wrong-dimension"),
    broken("D2", 0.08, "unknown-unit", form="0%"),
    broken("D2", "1,234", "ambiguous-number"),
    broken("D2", "1.234", "ambiguous-number"),
    broken("D2", "1,234 kg", "ambiguous-number"),
    broken("D2", "1.23.4", "bad-number"),
    broken("D2", "12,34,567", "bad-number"),
    broken("D2", "1 23 456", "bad-number"),
    broken("D2", "0.123.456", "bad-number"),
    broken("D2", "1'23", "bad-number"),
    broken("D2", "two", "bad-number"),
    broken("D2", "2 lbs/kg", "unknown-unit"),
    broken("D2", -2, "negative-number"),
    broken("D2", "-2,5", "negative-number"),
    broken("D2", 1e15, "too-large"),
    broken("D2", 3, "unknown-unit", form='0" Stk"'),
    broken("F2", 30.5, "not-whole"),
    broken("F2", "30,5", "not-whole"),
    broken("F2", "1.234", "ambiguous-number"),
    broken("F2", None, "missing-value"),
    broken("A2", None, "missing-value"),
    broken("A3", "A1", "duplicate-batch"),
    broken("B2", "03/04/2026", "ambiguous-date"),
    broken("B2", "3.4.2026", "ambiguous-date"),
    broken("B2", "13/13/2026", "bad-date"),
    broken("B2", "31/12/26", "bad-date"),
    broken("B2", "2026-02-30", "bad-date"),
    broken("B2", "January", "bad-date"),
    broken("B2", 46027, "bad-date", form="General"),
    broken("B2", 46027.5, "bad-date", form="0.0"),
    broken("B2", 0.5, "bad-date", form="h:mm"),
    broken("B2", 1e9, "bad-date", form="yyyy-mm-dd"),
    broken("C2", "pott", "unknown-part"),
    broken("C2", 5, "unknown-part"),
    broken("E2", "tar", "unknown-binder"),
    broken("H2", "a remark", "no-header"),
    broken("G1", "colour", "unknown-column"),
    broken("G1", "Corrugated", "duplicate-column"),
    broken("G1", "moisture [g]", "unit-not-allowed"),
    broken("D1", "corrugated [h]", "wrong-dimension"),
    broken("G1", "#N/A", "unknown-column"),
]


@pytest.mark.parametrize(("place", "value", "form", "cell", "code"), BROKEN_CELLS)
def test_read_xlsx_broken_cell_is_one_problem_with_its_place(
    tmp_path: Path, place: str, value: Any, form: str | None, cell: str, code: str
) -> None:
    options = {} if form is None else {"form": form}
    _, problems = read(folder_with(tmp_path, SMALL, change=setting((place, value), **options)))
    problems = errors(problems)  # a day as text beside true ones is doubted as well
    assert cells(problems) == [("batches", cell, code)]
    assert problems[0].accepted
    assert f'batches.xlsx, sheet "batches", cell {cell}' in str(problems[0])


@pytest.mark.parametrize(("merged", "cell"), [("B2:B3", "B2"), ("D3:E3", "D3"), ("A2:A3", "A2")])
def test_read_xlsx_merged_records_are_refused(tmp_path: Path, merged: str, cell: str) -> None:
    _, problems = read(folder_with(tmp_path, SMALL, change=lambda page: page.merge_cells(merged)))
    assert ("batches", cell, "merged-cells") in cells(problems)


def test_read_xlsx_merged_note_below_is_no_problem_of_the_records(tmp_path: Path) -> None:
    def change(page: Worksheet) -> None:
        page["A5"] = "a note"
        page.merge_cells("A5:F6")

    _, problems = read(folder_with(tmp_path, SMALL, change=change))
    assert [problem.code for problem in problems] == ["note-row"]


def test_read_xlsx_error_cell_in_notes_is_told_as_well(tmp_path: Path) -> None:
    _, problems = read(folder_with(tmp_path, SMALL, change=setting(("G1", "notes"), ("G2", "#N/A"))))
    assert cells(problems) == [("batches", "G2", "error-cell")]


def test_read_xlsx_missing_columns_are_named_with_the_header_row(tmp_path: Path) -> None:
    _, problems = read(folder_with(tmp_path, "cart,date,part,corrugated,binder\nA,2026-01-05,pot,1,none\n", titles=3))
    assert [(problem.row, problem.column, problem.code) for problem in problems] == [
        (4, "cart", "unknown-column"),
        (4, "batch", "missing-column"),
        (4, "good parts", "missing-column"),
    ]


def empty_sheet(page: Worksheet) -> None:
    page.delete_rows(1, 9)


@pytest.mark.parametrize(("text", "change", "code"), [(SMALL, empty_sheet, "empty-sheet"), (HEADER, None, "no-rows")])
def test_read_xlsx_without_records_is_one_problem(tmp_path: Path, text: str, change: Any, code: str) -> None:
    _, problems = read(folder_with(tmp_path, text, change=change))
    assert [problem.code for problem in problems] == [code]


# hostile files


def hostile(folder: Path, content: bytes) -> list[Problem]:
    write_folder(folder, batches=None)
    (folder / X).write_bytes(content)
    return read(folder)[1]


OLD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\x00" * 600


def archive(**parts: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as stream:
        for name, content in parts.items():
            stream.writestr(name, content)
    return out.getvalue()


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "empty-file"),
        (b"   \n", "empty-file"),
        (SMALL.encode(), "bad-workbook"),
        (b"<html><table></table></html>", "bad-workbook"),
        (b"PK\x03\x04", "bad-workbook"),
        (b"PK\x03\x04" + b"\xff" * 500, "bad-workbook"),
        (OLD, "old-workbook"),
        (OLD + "EncryptedPackage".encode("utf-16-le"), "encrypted-file"),
        (archive(**{"readme.txt": b"x"}), "bad-workbook"),
        (archive(mimetype=b"application/vnd.oasis.opendocument.spreadsheet"), "other-workbook"),
        (archive(**{"_rels/.rels": b"<Relationships/>"}), "bad-workbook"),
        (archive(**{"_rels/.rels": b"<Relationships"}), "bad-workbook"),
        (
            archive(
                **{"_rels/.rels": b"<R><Relationship Id='a' Type='x/officeDocument' Target='xl/workbook.bin'/></R>"}
            ),
            "other-workbook",
        ),
        (
            archive(
                **{"_rels/.rels": b"<R><Relationship Id='a' Type='x/officeDocument' Target='../../etc/passwd'/></R>"}
            ),
            "bad-workbook",
        ),
        (
            archive(
                **{
                    "_rels/.rels": b"<R><Relationship Id='a' Type='x/officeDocument' TargetMode='External' Target='w'/></R>"
                }
            ),
            "bad-workbook",
        ),
        (archive(**{f"part{number}": b"" for number in range(2001)}), "too-large"),
    ],
    ids=range(16),
)
def test_read_xlsx_what_is_no_workbook_is_one_problem(tmp_path: Path, content: bytes, code: str) -> None:
    problems = hostile(tmp_path, content)
    assert [(problem.file, problem.code) for problem in problems] == [(X, code)]


LAUGHS = (
    b'<!DOCTYPE x [<!ENTITY a "ha">'
    + b"".join(b'<!ENTITY %c "%s">' % (98 + n, b"&%c;" % (97 + n) * 10) for n in range(9))
    + b"]>"
)


def with_type(declaration: bytes) -> Any:
    def change(name: str, part: bytes) -> bytes:
        return declaration + part[part.index(b"<sst") :] if name.endswith("sharedStrings.xml") else part

    return change


def edit(end: str, old: bytes, new: bytes) -> Any:
    def change(name: str, part: bytes) -> bytes:
        return part.replace(old, new) if name.endswith(end) else part

    return change


def without(end: str) -> Any:
    return lambda name, part: None if name.endswith(end) else part


HOSTILE_PARTS = [
    (with_type(LAUGHS), "document-type"),
    (with_type(b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>'), "document-type"),
    (with_type(b'<!DOCTYPE sst SYSTEM "http://localhost:9/x.dtd">'), "document-type"),
    (edit("sheet1.xml", b"</sheetData>", b""), "bad-workbook"),
    (edit("sheet1.xml", b"<sheetData>", b"<sheetData>&x;"), "bad-workbook"),
    (edit("sheet1.xml", b'<row r="2"', b'<row r="1"'), "bad-workbook"),
    (edit("sheet1.xml", b'<row r="2"', b'<row r="-2"'), "bad-workbook"),
    (edit("sheet1.xml", b'<row r="3"', b'<row r="99999999"'), "bad-workbook"),
    (edit("sheet1.xml", b'<row r="3"', b'<row r="three"'), "bad-workbook"),
    (edit("sheet1.xml", b'r="B2"', b'r="A2"'), "bad-workbook"),
    (edit("sheet1.xml", b'r="B2"', b'r="2"'), "bad-workbook"),
    (edit("sheet1.xml", b'r="F2"', b'r="ZZZ2"'), "too-wide"),
    (edit("sheet1.xml", b'r="F2"', b'r="AMM2"'), "too-wide"),
    (edit("sheet1.xml", b"<v>0</v>", b"<v>99999</v>"), "bad-workbook"),
    (edit("sheet1.xml", b"<v>0</v>", b"<v>-1</v>"), "bad-workbook"),
    (edit("sheet1.xml", b"<v>30</v>", b"<v>thirty</v>"), "bad-workbook"),
    (edit("sheet1.xml", b"<sheetData>", b'<sheetData xmlns:a="b" a:c="d"><a:c><a:v>1</a:v></a:c>'), "bad-workbook"),
    (edit("sharedStrings.xml", b"<t>pot</t>", b"<t>" + b"p" * 40_000 + b"</t>"), "too-large"),
    (edit("sharedStrings.xml", b"<t>pot</t>", b"<t>" + b"p" * 6_000_000 + b"</t>"), "too-large"),
    (without("sharedStrings.xml"), "bad-workbook"),
    (without("sheet1.xml"), "bad-workbook"),
    (without("workbook.xml"), "bad-workbook"),
    (without("workbook.xml.rels"), "which-sheet"),
    (edit("styles.xml", b"<styleSheet", b"<styleSheet a"), "bad-workbook"),
]


@pytest.mark.parametrize(("change", "code"), HOSTILE_PARTS, ids=range(len(HOSTILE_PARTS)))
def test_read_xlsx_hostile_part_is_one_problem(tmp_path: Path, change: Any, code: str) -> None:
    folder = folder_with(tmp_path, SMALL)
    repack(folder / X, change)
    problems = read(folder)[1]
    assert [(problem.file, problem.code) for problem in problems] == [(X, code)]


def test_read_xlsx_zip_bomb_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, SMALL)
    repack(folder / X, edit("sheet1.xml", b"<sheetData>", b"<sheetData>" + b" " * 60_000_000))
    assert (folder / X).stat().st_size < 200_000
    problems = read(folder)[1]
    assert [problem.code for problem in problems] == ["too-large"]


def test_read_xlsx_file_over_its_limit_is_refused(tmp_path: Path) -> None:
    write_folder(tmp_path, batches=None)
    with (tmp_path / X).open("wb") as stream:
        stream.truncate(50_000_001)
    assert [problem.code for problem in read(tmp_path)[1]] == ["too-large"]


def test_read_xlsx_part_with_a_password_is_refused(tmp_path: Path) -> None:
    content = bytearray((folder_with(tmp_path, SMALL) / X).read_bytes())
    at = 0
    while (at := content.find(b"PK\x01\x02", at)) >= 0:
        content[at + 8] |= 1  # bit 0 of the flags in the central directory: encrypted
        at += 4
    assert [problem.code for problem in hostile(tmp_path, bytes(content))] == ["encrypted-file"]


def test_read_xlsx_damaged_content_is_refused(tmp_path: Path) -> None:
    content = bytearray((folder_with(tmp_path, SMALL) / X).read_bytes())
    for at in range(40, len(content), 97):
        content[at] ^= 0xFF
    (problem,) = hostile(tmp_path, bytes(content))
    assert problem.code == "bad-workbook"


def test_read_xlsx_macros_and_links_are_never_opened(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, SMALL)
    junk = {"xl/vbaProject.bin": b"\x00junk", "xl/externalLinks/externalLink1.xml": LAUGHS, "xl/comments1.xml": b"<"}
    repack(folder / X, lambda _, part: part, **junk)
    frame, problems = read(folder)
    assert (len(frame), problems) == (2, [])


def test_read_xlsx_a_million_empty_formatted_rows_hold_nothing(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, SMALL)
    empty = b"".join(b'<row r="%d" s="1"><c r="A%d" s="1"/></row>' % (row, row) for row in range(4, 1_000_004))
    repack(folder / X, edit("sheet1.xml", b"</sheetData>", empty + b"</sheetData>"))
    frame, problems = read(folder)
    assert (len(frame), problems) == (2, [])


# which file


@pytest.mark.parametrize(
    ("names", "code"),
    [
        ([X, "batches.csv"], "two-files"),
        ([X, "batches.parquet"], "two-files"),
        ([X, "batches.csv", "batches.parquet"], "two-files"),
        (["batches.ods"], "unread-kind"),
        (["batches.xls"], "unread-kind"),
        (["batches.xlsm"], "unread-kind"),
        (["parts.xlsx", "parts.csv"], "two-files"),
        (["parts.ods"], "unread-kind"),
    ],
)
def test_read_folder_file_that_cannot_be_chosen_is_named(tmp_path: Path, names: list[str], code: str) -> None:
    stem = names[0].split(".")[0]
    write_folder(tmp_path, **{stem: None})
    for name in names:
        (tmp_path / name).write_bytes(b"x")
    problems = read(tmp_path)[1]
    assert [problem.code for problem in problems] == [code]
    assert all(name in problems[0].file for name in names)
