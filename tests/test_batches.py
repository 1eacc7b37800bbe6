from __future__ import annotations

import math
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from impact.base.problems import Problem
from impact.records.columns import device_columns, energy_columns
from impact.records.selection import filter_batches
from tests.folders import BATCHES, NAMES, read_batches, read_valid, swap, triples, write_folder

MASSES = ("paper.corrugated_kg", "paper.newsprint_kg", "own_rejects_kg", "binder_kg", "trim_kg", "part_mass_kg")


def frame_of(folder: Path) -> pd.DataFrame:
    frame, problems = read_batches(folder, read_valid(folder), NAMES)
    assert [str(problem) for problem in problems] == []
    return frame


def with_batches(folder: Path, text: str) -> pd.DataFrame:
    return frame_of(write_folder(folder, batches=text))


def problems_with(folder: Path, text: str) -> list[Problem]:
    write_folder(folder, batches=text)
    return read_batches(folder, read_valid(folder), NAMES)[1]


def small(*rows: str, header: str = "batch,date,part,corrugated,binder,good parts") -> str:
    return "\n".join([header, *rows]) + "\n"


def test_read_batches_valid_file_gives_canonical_columns(tmp_path: Path) -> None:
    frame = frame_of(write_folder(tmp_path))
    first, second = frame.to_dict("records")
    nan = pytest.approx(math.nan, nan_ok=True)
    assert first == {
        "row": 2, "batch": "001", "date": pd.Timestamp(2026, 1, 5), "part": "pot", "site": "school", "fate": "",
        "binder": "pva-glue", "rejects_to": "landfill", "trim_to": "own rejects", "notes": "wet, cold day", "confirmed": "",
        "paper.corrugated_kg": 1.2, "paper.newsprint_kg": pytest.approx(0.3), "own_rejects_kg": 0.0, "moisture": 0.08,
        "binder_solids": 0.5, "binder_kg": 0.2, "water_l": 12.0, "trim_kg": pytest.approx(0.04), "part_mass_kg": nan,
        "test_load_n": nan, "test_span_mm": nan,
        "transport_km": 5.0, "hours": 3.0, "good_parts": 30.0, "rejects": 2.0, "people": 4.0, "cost": 2.5,
        "shredding_kwh": 0.01, "shredding_kwh_evidence": "metered",
        "binder_preparation_kwh": nan, "binder_preparation_kwh_evidence": "estimated",
        "blending_kwh": pytest.approx(0.098), "blending_kwh_evidence": "nameplate",
        "pressing_kwh": 0.0, "pressing_kwh_evidence": "metered",
        "drying_kwh": 0.5, "drying_kwh_evidence": "metered",
        "shredding_run_h": nan, "binder_preparation_run_h": nan, "blending_run_h": pytest.approx(0.2), "pressing_run_h": nan,
        "drying_run_h": nan, "shredding_device": "", "binder_preparation_device": "", "blending_device": "blender",
        "pressing_device": "", "drying_device": "",
    }  # fmt: skip
    assert (second["batch"], second["part"], second["fate"], second["binder"]) == ("002", "tray", "landfill", "none")
    assert (second["own_rejects_kg"], second["rejects"], second["binder_kg"]) == (0.1, 0.0, 0.0)
    assert second["blending_kwh"] == pytest.approx(0.07)  # 700 W for 12 min, shared by two batches
    assert (second["drying_kwh"], second["drying_kwh_evidence"]) == (
        pytest.approx(0.18),
        "metered",
    )  # 45 W, 8 h, by two
    assert (second["blending_run_h"], second["drying_run_h"]) == (pytest.approx(0.2), 8.0)  # of the whole run


def test_read_batches_types_are_those_of_the_contract(tmp_path: Path) -> None:
    types = frame_of(write_folder(tmp_path)).dtypes
    categories = [
        "part",
        "site",
        "fate",
        "binder",
        "rejects_to",
        "trim_to",
        "confirmed",
        *(f"{name}_evidence" for name in energy_columns()),
        *device_columns(),
    ]
    assert all(types[name] == "category" for name in categories)
    assert types["date"] == "datetime64[us]"
    floats = types.drop([*categories, "date", "row", "batch", "notes"])
    assert (floats == "float64").all()


def test_read_batches_fewest_columns_leave_the_others_blank(tmp_path: Path) -> None:
    full = frame_of(write_folder(tmp_path / "full"))
    frame = with_batches(tmp_path / "few", small("1,2026-01-05,pot,2,pva-glue,30"))
    assert set(frame) == set(full) - {"paper.newsprint_kg"}
    record = frame.iloc[0]
    assert (record["own_rejects_kg"], record["site"], record["fate"], record["notes"]) == (0.0, "", "", "")
    unknown = ["moisture", "binder_kg", "water_l", "rejects", "trim_kg", "cost", *energy_columns()]
    assert all(math.isnan(record[name]) for name in unknown)
    assert all(record[f"{name}_evidence"] == "estimated" for name in energy_columns())


@pytest.mark.parametrize("mark", [";", "\t"])
def test_read_batches_decimal_commas_between_other_delimiters_change_nothing(tmp_path: Path, mark: str) -> None:
    plain = with_batches(tmp_path / "plain", swap(BATCHES, '"wet, cold day"', "wet"))
    text = swap(BATCHES, '"wet, cold day"', "wet").replace(",", mark).replace(".", ",")
    pd.testing.assert_frame_equal(with_batches(tmp_path / "comma", text), plain)


def test_read_batches_decimal_points_between_semicolons_change_nothing(tmp_path: Path) -> None:
    plain = frame_of(write_folder(tmp_path / "plain"))
    text = swap(BATCHES, '"wet, cold day"', "wet¤ 2¤5 h of rain").replace(",", ";").replace("¤", ",")
    found = with_batches(tmp_path / "semicolon", text)
    assert found["notes"].tolist() == ["wet, 2,5 h of rain", ""]
    pd.testing.assert_frame_equal(found.drop(columns="notes"), plain.drop(columns="notes"))


def test_read_batches_both_decimal_marks_in_a_column_settle_nothing(tmp_path: Path) -> None:
    rows = ("1;2026-01-05;pot;2,5;none;30", "2;2026-01-06;pot;2.5;none;30", "3;2026-01-06;pot;2.500;none;30")
    header = "batch;date;part;corrugated;binder;good parts"
    assert with_batches(tmp_path, small(*rows[:2], header=header))["paper.corrugated_kg"].tolist() == [2.5, 2.5]
    found = problems_with(tmp_path, small(*rows, header=header))
    assert triples(found) == [("batches.csv", 4, "corrugated", "ambiguous-number")]


def test_read_batches_semicolons_with_groups_of_three_only_are_ambiguous(tmp_path: Path) -> None:
    row = "1;2026-01-05;pot;1,234;none;30"
    found = problems_with(tmp_path, small(row, header="batch;date;part;corrugated;binder;good parts"))
    assert triples(found) == [("batches.csv", 2, "corrugated", "ambiguous-number")]


def test_read_batches_headers_and_ids_match_whatever_their_case(tmp_path: Path) -> None:
    plain = frame_of(write_folder(tmp_path / "plain"))
    text = swap(BATCHES, "binder mass,binder solids", "Binder_Mass,BINDER-SOLIDS")
    text = swap(swap(text, "own rejects,,5", "Own Rejects,,5"), "pva-glue", " PVA Glue ")
    pd.testing.assert_frame_equal(with_batches(tmp_path / "free", text), plain)


def test_read_batches_windows_file_with_trailing_cells_changes_nothing(tmp_path: Path) -> None:
    plain = frame_of(write_folder(tmp_path / "plain"))
    text = "\ufeff" + BATCHES.replace("\n", ",,,\r\n") + ",,,\r\n"
    pd.testing.assert_frame_equal(with_batches(tmp_path / "windows", text), plain)


def test_read_batches_empty_rows_count_but_hold_nothing(tmp_path: Path) -> None:
    rows = (
        "",
        "1,2026-01-05,pot,2,none,30",
        ",,,,,",
        " ",
        "2,2026-01-06,pot,2,none,30",
        "",
        "3,06/01/2026,pot,2,none,30",
    )
    write_folder(tmp_path, batches=small(*rows))
    frame, problems = read_batches(tmp_path, read_valid(tmp_path), NAMES)
    assert frame["row"].tolist() == [3, 6, 8]
    assert triples(problems) == [("batches.csv", 8, "date", "ambiguous-date")]


def test_read_batches_line_break_in_a_cell_is_one_row(tmp_path: Path) -> None:
    text = swap(BATCHES, '"wet, cold day"', '"wet,\ncold day"')
    frame = with_batches(tmp_path, text)
    assert frame["row"].tolist() == [2, 3]
    assert frame["notes"].tolist() == ["wet,\ncold day", ""]


def test_read_batches_short_rows_are_blank_at_their_end(tmp_path: Path) -> None:
    text = small("1,2026-01-05,pot,2,none,30", header="batch,date,part,corrugated,binder,good parts,cost,site,notes")
    frame = with_batches(tmp_path, text)
    assert (frame["site"].iloc[0], frame["notes"].iloc[0]) == ("", "")
    assert math.isnan(frame["cost"].iloc[0])


def test_read_batches_ids_with_leading_zeros_stay_text(tmp_path: Path) -> None:
    rows = (
        "007,2026-01-05,pot,2,none,30",
        "7,2026-01-05,pot,2,none,30",
        "NA,2026-01-05,pot,2,none,30",
        "1e5,2026-01-05,pot,2,none,30",
    )
    assert with_batches(tmp_path, small(*rows))["batch"].tolist() == ["007", "7", "NA", "1e5"]


def test_read_batches_ambiguous_date_names_both_readings(tmp_path: Path) -> None:
    (problem,) = problems_with(tmp_path, small("1,03/04/2026,pot,2,none,30"))
    assert problem.code == "ambiguous-date"
    assert "2026-03-04 or 2026-04-03" in problem.message


def test_read_batches_excluded_grade_gives_the_reason_for_each_cell(tmp_path: Path) -> None:
    rows = ("1,2026-01-05,pot,2,none,30,1", "2,2026-01-06,pot,2,none,30,", "3,2026-01-07,pot,2,none,30,0")
    found = problems_with(tmp_path, small(*rows, header="batch,date,part,corrugated,binder,good parts,thermal"))
    assert triples(found) == [("batches.csv", 2, "thermal", "excluded-grade")]
    assert "bisphenols" in found[0].message


def test_read_batches_no_paper_column_is_reported(tmp_path: Path) -> None:
    found = problems_with(tmp_path, small("1,2026-01-05,pot,none,30", header="batch,date,part,binder,good parts"))
    assert triples(found) == [("batches.csv", 1, None, "missing-column")]


def test_read_batches_without_workshop_checks_all_but_parts_and_devices(tmp_path: Path) -> None:
    text = swap(swap(BATCHES, ",pot,1.2", ",unheard of,1.2"), "8 %", "8")
    _, problems = read_batches(write_folder(tmp_path, batches=text), None, NAMES)
    assert triples(problems) == [("batches.csv", 2, "moisture", "bad-share")]


def test_read_batches_percent_header_reads_bare_numbers(tmp_path: Path) -> None:
    text = small("1,2026-01-05,pot,2,none,30,8", header="batch,date,part,corrugated,binder,good parts,moisture [%]")
    assert with_batches(tmp_path, text)["moisture"].iloc[0] == pytest.approx(0.08, rel=1e-12)


def test_read_batches_header_unit_applies_to_bare_energy_only(tmp_path: Path) -> None:
    header = "batch,date,part,corrugated,binder,good parts,drying [MJ]"
    rows = ("1,2026-01-05,pot,2,none,30,3.6", "2,2026-01-05,pot,2,none,30,1 kWh", "3,2026-01-05,pot,2,none,30,7.2 / 2")
    frame = with_batches(tmp_path, small(*rows, header=header))
    np.testing.assert_allclose(frame["drying_kwh"], 1.0, rtol=1e-12)
    assert frame["drying_kwh_evidence"].tolist() == ["metered"] * 3


def as_parquet(folder: Path, typed: pd.DataFrame) -> Path:
    write_folder(folder, batches=None)
    typed.to_parquet(folder / "batches.parquet", index=False)
    return folder


def test_read_batches_parquet_of_text_equals_the_csv(tmp_path: Path) -> None:
    plain = frame_of(write_folder(tmp_path / "csv"))
    texts = pd.read_csv(tmp_path / "csv" / "batches.csv", dtype=str, keep_default_na=False)
    pd.testing.assert_frame_equal(frame_of(as_parquet(tmp_path / "parquet", texts)), plain)


def test_read_batches_parquet_with_types_equals_the_csv(tmp_path: Path) -> None:
    header = "batch,date,part,corrugated [g],newsprint,moisture,binder,drying,good parts,rejects"
    rows = (
        "7,2026-01-05,pot,2000,0.5,0.08,none,0.14,30,2",
        "8,2026-01-06,pot,900,,,none,,15,",
        "9,2026-01-07,pot,1,,,none,0,3,0",
    )
    plain = with_batches(tmp_path / "csv", small(*rows, header=header))
    typed = pd.read_csv(tmp_path / "csv" / "batches.csv", parse_dates=["date"])
    assert typed["batch"].dtype == "int64"
    assert typed["rejects"].dtype == "float64"
    found = frame_of(as_parquet(tmp_path / "parquet", typed.astype({"part": "category"})))
    pd.testing.assert_frame_equal(found, plain)


def test_read_batches_parquet_faults_have_spreadsheet_rows(tmp_path: Path) -> None:
    typed = pd.DataFrame({
        "batch": [1, 2, 3, 4], "date": [date(2026, 1, 5)] * 3 + [None], "part": ["pot"] * 4, "corrugated": [1.0, -1.0, np.inf, 1.0],
        "binder": ["none"] * 4, "good parts": [1.0, 2.0, 2.5, 4.0], "people": [True, True, False, True],
    })  # fmt: skip
    folder = as_parquet(tmp_path, typed)
    _, problems = read_batches(folder, read_valid(folder), NAMES)
    people = [("batches.parquet", row, "people", "bad-number") for row in (2, 3, 4, 5)]
    assert sorted(triples(problems)) == sorted([
        ("batches.parquet", 3, "corrugated", "negative-number"),
        ("batches.parquet", 4, "corrugated", "not-finite"),
        ("batches.parquet", 4, "good parts", "not-whole"),
        ("batches.parquet", 5, "date", "missing-value"),
        *people,
    ])  # fmt: skip


def test_read_batches_parquet_of_small_floats_reads_them_as_written(tmp_path: Path) -> None:
    typed = pd.DataFrame({
        "batch": ["1", "2"], "date": [date(2026, 1, 5)] * 2, "part": ["pot"] * 2, "corrugated": [1.0] * 2,
        "binder": ["none"] * 2, "good parts": np.array([0.1, 3.0], dtype="float32"),
        "site": np.array([1e8, np.nan], dtype="float32"),
    })  # fmt: skip
    folder = as_parquet(tmp_path, typed)
    frame, problems = read_batches(folder, read_valid(folder), NAMES)
    assert [(problem.row, problem.code, problem.read) for problem in problems] == [(2, "not-whole", "0.1")]
    assert frame["site"].tolist() == ["100000000", ""]


def test_read_batches_parquet_with_large_whole_site_and_blank_reads_both(tmp_path: Path) -> None:
    typed = pd.DataFrame({
        "batch": ["1", "2"], "date": [date(2026, 1, 5)] * 2, "part": ["pot"] * 2, "corrugated": [1.0] * 2,
        "binder": ["none"] * 2, "good parts": [3, 4], "site": pd.array([2**53 + 1, None], dtype="Int64"),
    })  # fmt: skip
    assert frame_of(as_parquet(tmp_path, typed))["site"].tolist() == ["9007199254740992", ""]


@pytest.mark.parametrize(
    ("day", "read"), [(2**31 - 1, "5881580-07-11"), (2932897, "10000-01-01"), (-719163, "0000-12-31")]
)
def test_read_batches_parquet_day_in_no_year_is_named(tmp_path: Path, day: int, read: str) -> None:
    columns = {
        "batch": pa.array(["1", "2"]), "date": pa.array([day, 20000], pa.int32()).cast(pa.date32()),
        "part": pa.array(["pot"] * 2), "corrugated": pa.array([1.0] * 2), "binder": pa.array(["none"] * 2),
        "good parts": pa.array([3, 4]),
    }  # fmt: skip
    folder = write_folder(tmp_path, batches=None)
    for kind in (pa.date32(), pa.timestamp("ms")):
        pq.write_table(pa.table({**columns, "date": columns["date"].cast(kind)}), folder / "batches.parquet")
        _, problems = read_batches(folder, read_valid(folder), NAMES)
        assert [(problem.row, problem.code, problem.read) for problem in problems] == [(2, "bad-date", read)]


def test_read_batches_parquet_time_that_cannot_be_written_is_a_problem(tmp_path: Path) -> None:
    columns = {
        "batch": pa.array(["1"]), "date": pa.array([date(2026, 1, 5)]), "part": pa.array(["pot"]),
        "corrugated": pa.array([1.0]), "binder": pa.array(["none"]), "good parts": pa.array([3]),
        "site": pa.array([2**50], pa.duration("s")),
    }  # fmt: skip
    folder = write_folder(tmp_path, batches=None)
    pq.write_table(pa.table(columns), folder / "batches.parquet")
    _, problems = read_batches(folder, read_valid(folder), NAMES)
    assert [problem.code for problem in problems] == ["bad-parquet"]


def test_filter_batches_period_part_and_site_narrow(tmp_path: Path) -> None:
    frame = frame_of(write_folder(tmp_path))
    assert filter_batches(frame)["batch"].tolist() == ["001", "002"]
    assert filter_batches(frame, part="TRAY")["batch"].tolist() == ["002"]
    assert filter_batches(frame, site="school")["batch"].tolist() == ["001"]
    assert filter_batches(frame, period=(date(2026, 1, 5), date(2026, 1, 11)))["batch"].tolist() == ["001"]
    assert filter_batches(frame, period=(date(2026, 1, 6), date(2026, 1, 12)))["batch"].tolist() == ["002"]
    assert filter_batches(frame, part="pot", period=(date(2026, 1, 6), date(2026, 1, 12))).empty


def test_filter_batches_unknown_part_or_site_names_the_nearest(tmp_path: Path) -> None:
    frame = frame_of(write_folder(tmp_path))
    with pytest.raises(ValueError, match='did you mean "tray"'):
        filter_batches(frame, part="trey")
    with pytest.raises(ValueError, match='did you mean "school"'):
        filter_batches(frame, site="shool")


AMOUNT = st.decimals(min_value="0.001", max_value="500", places=3)
# 1 lb = 0.45359237 kg exactly (international avoirdupois pound, NIST Handbook 44, app. C).
POUND_KG = "0.45359237"


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(amounts=st.lists(st.lists(AMOUNT, min_size=6, max_size=6), min_size=1, max_size=5), in_header=st.booleans())
def test_read_batches_pounds_grams_and_kilograms_give_the_same_frame(
    tmp_path: Path, amounts: list[list[float]], in_header: bool
) -> None:
    from decimal import Decimal, localcontext

    frames = {}
    for unit, size in (("kg", "1"), ("g", "0.001"), ("lb", POUND_KG)):
        written = f" [{unit}]" if in_header else ""
        masses = ("corrugated", "newsprint", "own rejects", "binder mass", "trim", "part mass")
        header = ",".join(["batch", "date", "part", "binder", "good parts", *(name + written for name in masses)])
        rows = []
        with localcontext(prec=40):
            for number, row in enumerate(amounts):
                cells = [f"{Decimal(amount) / Decimal(size):f}" + ("" if in_header else f" {unit}") for amount in row]
                rows.append(",".join([str(number), "2026-01-05", "pot", "pva-glue", "30", *cells]))
        frames[unit] = with_batches(tmp_path, small(*rows, header=header))
    for unit in ("g", "lb"):
        np.testing.assert_allclose(frames[unit][list(MASSES)], frames["kg"][list(MASSES)], rtol=1e-12)
        pd.testing.assert_frame_equal(frames[unit].drop(columns=[*MASSES]), frames["kg"].drop(columns=[*MASSES]))
