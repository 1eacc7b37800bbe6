"""How numbers, days and letters are written: read where certain, asked about where not."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from impact.base.problems import Problem
from impact.records.amounts import quantities
from impact.records.workshop_file import read_workshop
from impact.tables.decimals import Marks, normalised
from impact.tables.encoding import Encoding, UndecodableError, decode
from impact.tables.numberformats import NumberFormat, day_of, format_of
from impact.tables.table import Column
from impact.tables.texts import Coded
from tests.folders import BATCHES, NAMES, TOML, read_batches, read_valid, swap, triples, write_folder

B, W = "batches.csv", "workshop.toml"
HEADER = "batch;date;part;corrugated [g];drying;binder;good parts;site"


def rows(*cells: str, column: str = "corrugated [g]") -> str:
    """Return records with these cells in one column, separated by semicolons."""
    plain = {"date": "2026-01-05", "part": "pot", "corrugated [g]": "900", "binder": "none", "good parts": "9"}
    titles = HEADER.split(";")
    lines = []
    for number, cell in enumerate(cells):
        record = {**plain, "batch": f"B{number}", column: cell}
        lines.append(";".join(record.get(title, "") for title in titles))
    return "\n".join([HEADER, *lines]) + "\n"


def read(folder: Path, text: str | bytes, *records: str, toml: str = TOML) -> tuple[pd.DataFrame, list[Problem]]:
    settings = "[records]\n" + "\n".join(records) + "\n" if records else ""
    write_folder(folder, batches=text, workshop=toml + settings)
    workshop, problems = read_workshop(folder, NAMES)
    frame, more = read_batches(folder, workshop, NAMES)
    return frame, problems + more


CERTAIN = [
    ("900", 900.0), ("12,5", 12.5), ("12.5", 12.5), ("1.234,56", 1234.56), ("1,234.56", 1234.56),
    ("1.234.567", 1234567.0), ("1,234,567", 1234567.0), ("1 234,5", 1234.5), ("1\u00a0234", 1234.0),
    ("1\u202f234,567", 1234.567), ("1\u2009234.5", 1234.5), ("1'234.5", 1234.5), ("1’234’567", 1234567.0),
    ("0,125", 0.125), ("0.125", 0.125), (",5", 0.5), (".5", 0.5), ("1234,567", 1234.567), ("12345.678", 12345.678),
    ("12,", 12.0), ("1,5e3", 1500.0), ("2,5 kg", 2500.0), ("1.234,5 g", 1234.5), ("12 500", 12500.0),
    ("1 234 567,89", 1234567.89), ("1,2345", 1.2345),
]  # fmt: skip


@pytest.mark.parametrize(("text", "grams"), CERTAIN)
def test_read_batches_certain_number_is_read_without_a_setting(tmp_path: Path, text: str, grams: float) -> None:
    frame, problems = read(tmp_path, rows(text))
    assert problems == []
    assert frame["paper.corrugated_kg"].iloc[0] == pytest.approx(grams / 1000.0, rel=1e-12)


@pytest.mark.parametrize(("text", "comma", "point"), [("1,234", 1.234, 1234.0), ("1.234", 1234.0, 1.234)])
def test_read_batches_ambiguous_number_is_asked_about_and_settled(
    tmp_path: Path, text: str, comma: float, point: float
) -> None:
    _, problems = read(tmp_path / "none", rows(text))
    assert triples(problems) == [(B, 2, "corrugated [g]", "ambiguous-number")]
    assert "1234 or 1.234" in problems[0].message
    assert "[records] decimal" in str(problems[0].accepted)
    for name, grams in (("comma", comma), ("point", point)):
        frame, problems = read(tmp_path / name, rows(text), f'decimal = "{name}"')
        assert problems == []
        assert frame["paper.corrugated_kg"].iloc[0] == pytest.approx(grams / 1000.0, rel=1e-12)


SETTLED = [
    (("1,234", "12,5"), [1.234, 12.5]),
    (("1.234", "12.5"), [1.234, 12.5]),
    (("1.234", "1.234.567"), [1234.0, 1234567.0]),
    (("1.234", "1.234,5"), [1234.0, 1234.5]),
    (("1,234", "2,5 g"), [1.234, 2.5]),
]


@pytest.mark.parametrize(("cells", "grams"), SETTLED)
def test_read_batches_column_that_shows_its_mark_settles_itself(
    tmp_path: Path, cells: tuple[str, str], grams: list[float]
) -> None:
    frame, problems = read(tmp_path, rows(*cells))
    assert problems == []
    assert (frame["paper.corrugated_kg"] * 1000.0).tolist() == pytest.approx(grams, rel=1e-12)


UNSETTLED = [
    (("1,234", "12.5"), 2),  # a decimal point elsewhere does not say that the comma parts thousands
    (("1.234", "12,5"), 2),
    (("1,234", "12,5", "12.5"), 2),  # both marks are decimal in this column
    (("1,234", "12,5", "1,234,567"), 2),
]


@pytest.mark.parametrize(("cells", "row"), UNSETTLED)
def test_read_batches_column_that_shows_too_little_is_asked_about(
    tmp_path: Path, cells: tuple[str, ...], row: int
) -> None:
    _, problems = read(tmp_path, rows(*cells))
    assert triples(problems) == [(B, row, "corrugated [g]", "ambiguous-number")]


def test_read_batches_another_column_settles_nothing(tmp_path: Path) -> None:
    text = rows("1,234").replace(";none;", ";none;").replace(";;none", ";0,5;none")
    _, problems = read(tmp_path, text)
    assert triples(problems) == [(B, 2, "corrugated [g]", "ambiguous-number")]


def test_read_batches_between_commas_a_point_is_decimal_unless_the_column_shows_else(tmp_path: Path) -> None:
    text = swap(BATCHES, "1.2,300", "1.234,300")
    frame, problems = read(tmp_path / "point", text)
    assert problems == []
    assert frame["paper.corrugated_kg"].iloc[0] == 1.234
    _, problems = read(tmp_path / "both", swap(text, "900 g", '"0,9"'))
    assert triples(problems) == [(B, 2, "corrugated", "ambiguous-number")]


@pytest.mark.parametrize("decimal", ["comma", "point"])
@pytest.mark.parametrize(("text", "grams"), CERTAIN)
def test_read_batches_certain_number_is_read_whatever_the_setting(
    tmp_path: Path, text: str, grams: float, decimal: str
) -> None:
    frame, problems = read(tmp_path, rows(text), f'decimal = "{decimal}"')
    assert problems == []
    assert frame["paper.corrugated_kg"].iloc[0] == pytest.approx(grams / 1000.0, rel=1e-12)


@pytest.mark.parametrize(
    ("cells", "decimal"),
    [
        (("1.234", "12.5"), "comma"),
        (("1,234", "12,5"), "point"),
        (("1,234", "1,234,567"), "comma"),
        (("1.234", "1.234.567"), "point"),
    ],
)
def test_read_batches_column_against_the_setting_is_asked_about(
    tmp_path: Path, cells: tuple[str, str], decimal: str
) -> None:
    _, problems = read(tmp_path, rows(*cells), f'decimal = "{decimal}"')
    assert triples(problems) == [(B, 2, "corrugated [g]", "ambiguous-number")]
    assert "go against [records] decimal" in problems[0].message
    assert "[records]" not in (problems[0].accepted or "")


def test_read_batches_point_between_commas_is_asked_about_where_commas_are_stated(tmp_path: Path) -> None:
    text = swap(BATCHES, "1.2,300", '1.234,"1,234"')
    frame, problems = read(tmp_path, text, 'decimal = "comma"')
    assert triples(problems) == [(B, 2, "corrugated", "ambiguous-number")]
    assert frame["paper.newsprint_kg"].iloc[0] == pytest.approx(0.001234, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("1.23.4", "bad-number"),
        ("1'23", "bad-number"),
        ("1,2,3", "bad-number"),
        ("1.234,567,8", "bad-number"),
        ("2026-01-05", "date-for-number"),
        ("05,5 x", "unknown-unit"),
        ("-1,5", "negative-number"),
        ("1,5 h", "wrong-dimension"),
    ],
)
def test_read_batches_text_that_is_no_number_is_refused(tmp_path: Path, text: str, code: str) -> None:
    _, problems = read(tmp_path, rows(text), 'decimal = "comma"')
    assert triples(problems) == [(B, 2, "corrugated [g]", code)]
    assert problems[0].read == text


@pytest.mark.parametrize(
    ("text", "kwh"),
    [("0,5 kWh / 2", 0.25), ("700 W x 7,5 min", 0.0875), ("blender 7,5 min", 0.06125), ("1.200,5 Wh", 1.2005)],
)
def test_read_batches_energy_entries_take_decimal_commas(tmp_path: Path, text: str, kwh: float) -> None:
    frame, problems = read(tmp_path, rows(text, column="drying"))
    assert problems == []
    assert frame["drying_kwh"].iloc[0] == pytest.approx(kwh, rel=1e-12)


def test_read_batches_marks_in_a_device_name_are_part_of_the_name(tmp_path: Path) -> None:
    toml = swap(TOML, "[equipment.fan]", '[equipment."fan 1,2"]')
    frame, problems = read(tmp_path, rows("fan 1,2 2,5 h", column="drying"), toml=toml)
    assert problems == []
    assert frame["drying_kwh"].iloc[0] == pytest.approx(0.1125, rel=1e-12)


DAYS = ["31.12.2026", "31/12/2026", "12/31/2026", "31-12-2026", "2026/12/31", "2026.12.31", "2026-12-31 14:30",
        "2026-12-31T00:00:00"]  # fmt: skip


@pytest.mark.parametrize("text", DAYS)
def test_read_batches_certain_day_is_read_without_a_setting(tmp_path: Path, text: str) -> None:
    frame, problems = read(tmp_path, rows(text, column="date"))
    assert problems == []
    assert frame["date"].tolist() == [pd.Timestamp(2026, 12, 31)]


@pytest.mark.parametrize("text", ["03/04/2026", "3.4.2026", "03-04-2026"])
def test_read_batches_ambiguous_day_is_asked_about_and_settled(tmp_path: Path, text: str) -> None:
    _, problems = read(tmp_path / "none", rows(text, "31.12.2026", column="date"))
    assert triples(problems) == [(B, 2, "date", "ambiguous-date")]
    assert "2026-03-04 or 2026-04-03" in problems[0].message
    assert "[records] dates" in str(problems[0].accepted)
    for order, day in (("day first", pd.Timestamp(2026, 4, 3)), ("month first", pd.Timestamp(2026, 3, 4))):
        frame, problems = read(tmp_path / order, rows(text, column="date"), f'dates = "{order}"')
        assert problems == []
        assert frame["date"].tolist() == [day]


@pytest.mark.parametrize(
    ("text", "records"),
    [
        ("12/31/2026", ['dates = "day first"']),
        ("31/12/2026", ['dates = "month first"']),
        ("31/12/26", ['dates = "day first"']),
        ("31/12.2026", []),
        ("29.02.2026", []),
        ("2026-13-01", []),
        ("46387", []),
        ("1st May", []),
    ],
)
def test_read_batches_text_that_is_no_day_is_refused(tmp_path: Path, text: str, records: list[str]) -> None:
    _, problems = read(tmp_path, rows(text, column="date"), *records)
    assert triples(problems) == [(B, 2, "date", "bad-date")]
    assert problems[0].accepted


ACCENTS = rows("Büro", column="site")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be"])
def test_read_batches_certain_encoding_is_read_without_a_word(tmp_path: Path, encoding: str) -> None:
    mark = b"\xfe\xff" if encoding == "utf-16-be" else b""
    frame, problems = read(tmp_path, mark + ACCENTS.encode(encoding))
    assert problems == []
    assert frame["site"].tolist() == ["Büro"]


def test_read_batches_likely_encoding_is_read_with_a_warning(tmp_path: Path) -> None:
    frame, problems = read(tmp_path / "likely", ACCENTS.encode("cp1252"))
    assert [(problem.code, problem.level) for problem in problems] == [("encoding-assumed", "warning")]
    assert frame["site"].tolist() == ["Büro"]


@pytest.mark.parametrize("encoding", get_args(Encoding))
def test_read_batches_named_encoding_is_read_without_a_word(tmp_path: Path, encoding: str) -> None:
    codec = {"macintosh": "mac_roman"}.get(encoding, encoding)
    frame, problems = read(tmp_path, ACCENTS.encode(codec), f'encoding = "{encoding}"')
    assert problems == []
    assert frame["site"].tolist() == ["Büro"]


def test_read_batches_text_in_another_encoding_than_named_is_refused(tmp_path: Path) -> None:
    _, problems = read(tmp_path, ACCENTS.encode("cp1252"), 'encoding = "utf-8"')
    assert triples(problems) == [(B, 2, None, "wrong-encoding")]


@given(st.binary(max_size=60), st.sampled_from([None, *get_args(Encoding)]))
def test_decode_any_bytes_are_a_text_or_refused(data: bytes, encoding: str | None) -> None:
    try:
        text, _ = decode(data, encoding)
    except UndecodableError:
        return
    assert isinstance(text, str)


@pytest.mark.parametrize(
    ("line", "key", "code"),
    [
        ('decimal = ","', "records.decimal", "unknown-choice"),
        ('dates = "european"', "records.dates", "unknown-choice"),
        ('encoding = "ascii"', "records.encoding", "unknown-choice"),
        ("sheet = 3", "records.sheet", "wrong-type"),
        ('sheet = ["a", 2]', "records.sheet", "wrong-type"),
        ('sheet = ""', "records.sheet", "wrong-type"),
        ('sheets = "a"', "records.sheets", "unknown-key"),
    ],
)
def test_read_workshop_broken_records_setting_is_one_problem(tmp_path: Path, line: str, key: str, code: str) -> None:
    _, problems = read(tmp_path, BATCHES, line)
    assert triples(problems) == [(W, TOML.count("\n") + 2, key, code)]


def test_read_batches_settings_hold_though_the_workshop_has_an_error(tmp_path: Path) -> None:
    toml = swap(TOML, 'country = "USA"', 'country = "XX"')
    _, problems = read(tmp_path, rows("1,234"), 'decimal = "comma"', toml=toml)
    assert [problem.code for problem in problems] == ["unknown-country"]


@given(
    st.integers(0, 10**9), st.integers(0, 99), st.sampled_from([".", ","]), st.sampled_from(["", ".", ",", " ", "'"])
)
def test_normalised_written_number_comes_back(whole: int, cents: int, decimal: str, group: str) -> None:
    if group == decimal:
        group = ""
    text = f"{whole:,}".replace(",", group) + f"{decimal}{cents:02d}"
    assert float(normalised(text, Marks())) == pytest.approx(whole + cents / 100.0, rel=1e-12)


@given(st.text(alphabet="0123456789., '\u00a0kgx/", max_size=14))
def test_quantities_any_text_is_an_amount_or_one_fault(text: str) -> None:
    values, faults = quantities(Column("", "", None, Coded.of([text.strip()])), "mass", decimal="")
    assert (len(faults) == 1) == bool(pd.isna(values[0]) and text.strip())


@given(st.lists(st.sampled_from(["1", "2,5", "1.234,5", "1,234", "0,5 kg", "", "x", "1 234"]), max_size=8))
def test_quantities_of_many_cells_equals_each_in_its_column(texts: list[str]) -> None:
    values, faults = quantities(Column("", "", "g", Coded.of(texts)), "mass", decimal=",", stated=True)
    for index, text in enumerate(texts):
        one, fault = quantities(Column("", "", "g", Coded.of([text])), "mass", decimal=",", stated=True)
        assert values[index] == pytest.approx(one[0], nan_ok=True)
        assert (index in {at for at, _ in faults}) == bool(fault)


@pytest.mark.parametrize(
    ("code", "kind", "unit"),
    [
        ("General", "number", ""), ("0.00", "number", ""), ("#,##0.00", "number", ""), ("0.0%", "share", ""),
        ("dd/mm/yyyy", "day", ""), ("[$-407]d. mmmm yyyy;@", "day", ""), ("mmm-yy", "day", ""), ("h:mm", "time", ""),
        ("[h]:mm:ss", "time", ""), ("mm:ss", "time", ""), ("yyyy-mm-dd hh:mm", "day", ""), ('0.0" kg"', "number", "kg"),
        ('0\\ "kWh"', "number", "kWh"), ('General" g"', "number", "g"), ('#,##0.00\\ "€"', "number", ""),
        ('[Red]0" L";[Blue]0" h"', "number", "L"), ("[$€-407] #,##0.00", "number", ""), ('"day "0', "number", ""),
        ("@", "number", ""), ('0.0_);(0.0" x")', "number", ""), ("0.00E+00", "number", ""), ("", "number", ""),
    ],
)  # fmt: skip
def test_format_of_code_tells_what_the_cell_shows(code: str, kind: str, unit: str) -> None:
    assert format_of(code) == NumberFormat(kind, unit)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("number", "from_1904", "day"),
    [
        (1.0, False, "1900-01-01"), (59.0, False, "1900-02-28"), (61.0, False, "1900-03-01"),
        (46027.75, False, "2026-01-05"), (44565.0, True, "2026-01-05"), (2_958_465.0, False, "9999-12-31"),
        (2_958_466.0, False, "None"), (0.5, False, "None"), (-3.0, False, "None"), (2_958_465.0, True, "None"),
    ],
)  # fmt: skip
def test_day_of_number_follows_both_calendars(number: float, from_1904: bool, day: str) -> None:
    assert str(day_of(number, from_1904=from_1904)) == day


def test_read_parts_takes_the_settings_too(tmp_path: Path) -> None:
    plain = read_valid(write_folder(tmp_path / "plain"))
    folder = write_folder(tmp_path / "comma", workshop=TOML + '[records]\ndecimal = "comma"\n')
    parts = (
        (folder / "parts.csv")
        .read_text(encoding="utf-8")
        .replace(",", ";")
        .replace(".", ",")
        .replace("38 g", "0,038 kg")
    )
    (folder / "parts.csv").write_text(parts, encoding="utf-8")
    (folder / "batches.csv").write_text(BATCHES, encoding="utf-8")
    assert read_valid(folder).parts == plain.parts
