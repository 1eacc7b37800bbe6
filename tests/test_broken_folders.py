from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from impact.base.problems import Problem
from impact.records.workshop_file import read_workshop
from tests.folders import BATCHES, FILES, NAMES, PARTS, TOML, read_batches, swap, triples, write_folder

W, P, B = "workshop.toml", "parts.csv", "batches.csv"
Place = tuple[str, int | None, str | None, str]


def problems_of(folder: Path) -> list[Problem]:
    workshop, problems = read_workshop(folder, NAMES)
    _, more = read_batches(folder, workshop, NAMES)
    return problems + more


def line_of(text: str, part: str) -> int:
    """Return the line of the one place where `part` stands."""
    assert text.count(part) == 1, part
    return text.count("\n", 0, text.index(part)) + 1


# what stands in workshop.toml, what replaces it, the dotted key, the code
TOML_FAULTS = [
    ('name = "Paper Bench"', "", "workshop.name", "missing-key"),
    ('name = "Paper Bench"', 'name = "  "', "workshop.name", "missing-value"),
    ('name = "Paper Bench"', "name = 5", "workshop.name", "wrong-type"),
    ('country = "USA"', 'country = "US"', "workshop.country", "unknown-country"),
    ('electricity = "US-CAMX"', 'electricity = "US-CAMP"', "workshop.electricity", "unknown-region"),
    ('electricity = "US-CAMX"', 'electrcity = "US-CAMX"', "workshop.electrcity", "unknown-key"),
    ('landfill_climate = "temperate-dry"', 'landfill_climate = "dry"', "workshop.landfill_climate", "unknown-climate"),
    ('landfill_site = "managed"', 'landfill_site = "dump"', "workshop.landfill_site", "unknown-landfill-site"),
    ('gas_collection = "60 %"', "gas_collection = 60", "workshop.gas_collection", "bad-share"),
    ('currency = "USD"', 'currency = "$"', "workshop.currency", "bad-currency"),
    ('units = "metric"', 'units = "imperial"', "workshop.units", "unknown-choice"),
    ("part_moisture = 0.06", "part_moisture = 1.0", "workshop.part_moisture", "bad-share"),
    ("part_moisture = 0.06", "part_moisture = nan", "workshop.part_moisture", "not-finite"),
    ('gwp = "AR6"', 'gwp = "AR3"', "workshop.gwp", "unknown-choice"),
    ('landfill_parameters = "default"', "landfill_parameters = 1", "workshop.landfill_parameters", "unknown-choice"),
    ('horizon = "100 years"', "horizon = 0", "workshop.horizon", "not-positive"),
    ('horizon = "100 years"', 'horizon = "100 m"', "workshop.horizon", "ambiguous-unit"),
    ("invented = true", 'invented = "yes"', "workshop.invented", "wrong-type"),
    ("date = 2026-04-01", 'date = "April"', "workshop.date", "bad-date"),
    ("date = 2026-04-01", "date = 2026-04-01T10:00:00", "workshop.date", "bad-date"),
    ('power = "700 W"', 'power = "700 kWh"', "equipment.blender.power", "wrong-dimension"),
    ('power = "700 W"', 'power = "0 W"', "equipment.blender.power", "not-positive"),
    ('power = "700 W"', "power = inf", "equipment.blender.power", "not-finite"),
    ('power = "700 W"', "power = true", "equipment.blender.power", "wrong-type"),
    ("load = 0.7", "load = 0", "equipment.blender.load", "not-positive"),
    ("load = 0.7", "load = 7", "equipment.blender.load", "bad-share"),
    ("metered = true", "metered = 1", "equipment.fan.metered", "wrong-type"),
    ("[equipment.fan]", "[equipment.Blender]", "equipment", "duplicate-name"),
    ('material = "PLA"', 'material = "PLAA"', "moulds.pot.material", "unknown-material"),
    ('mass = "310 g"', 'mass = "310 gal"', "moulds.pot.mass", "ambiguous-unit"),
    ('mass = "310 g"', 'mass = "-310 g"', "moulds.pot.mass", "negative-number"),
    ('mass = "310 g"', "mass = 1e300", "moulds.pot.mass", "too-large"),
    ('printing = "2.6 kWh"', 'printing = "printer 5 h"', "moulds.pot.printing", "unknown-device"),
    ('printing = "2.6 kWh"', "printing = [1]", "moulds.pot.printing", "wrong-type"),
    ("pressings = 60", "pressings = 0", "moulds.pot.pressings", "not-whole"),
    ("pressings = 60", "pressings = 1.5", "moulds.pot.pressings", "not-whole"),
    ("pressings = 60", "", "moulds.pot.pressings", "missing-key"),
    ("retired = false", 'retired = "no"', "moulds.pot.retired", "wrong-type"),
    ("landfill = 0.3", "landfill = 0.4", "fates.corrugated", "shares-total"),
    ("recycling = 0.7", 'recycling = "70"', "fates.corrugated.recycling", "bad-share"),
    ("recycling = 0.7", "reuse = 0.7", "fates.corrugated.reuse", "unknown-key"),
    ("[fates.corrugated]", "[fates.corugated]", "fates.corugated", "unknown-grade"),
    ("[fates.corrugated]", "[fates.thermal]", "fates.thermal", "excluded-grade"),
    ('evidence = "bin audit, two weeks"', "evidence = 2", "fates.corrugated.evidence", "wrong-type"),
    ("composting = 0.5", "composting = -0.5", "end_of_life.composting", "negative-number"),
    ('dryer = "fan"', 'dryer = "fann"', "drying.dryer", "unknown-dryer"),
    ("heated_room = true", 'heated_room = "true"', "drying.heated_room", "wrong-type"),
    ('heating = "gas"', 'heating = "coal"', "drying.heating", "unknown-choice"),
    ('pressed_solids = "35 %"', 'pressed_solids = "350 %"', "drying.pressed_solids", "bad-share"),
    ('vehicle = "car"', 'vehicle = "boat"', "transport.vehicle", "unknown-vehicle"),
    ("[binders.rice-paste]", "[binders.rice-past]", "binders.rice-past", "unknown-binder"),
    ("solids = 0.16", 'solids = "1,234"', "binders.rice-paste.solids", "ambiguous-number"),
    ('preparation = "0.35 kWh per kg"', 'preparation = "0.35 kWh per h"', "binders.rice-paste.preparation",
     "wrong-dimension"),
    ('price = "1.10 per kg"', 'price = "1.10 EUR per kg"', "binders.rice-paste.price", "other-currency"),
    ('GBR = "2025"', "GBR = 2025", "editions.GBR", "wrong-type"),
    ('diverted = "500 kg"', 'diverted = "500 kWh"', "targets.diverted", "wrong-dimension"),
    ('diverted = "500 kg"', 'diverted = "3,5 kg"', "targets.diverted", "decimal-comma"),
    ("by = 2027-06-30", "by = 2027", "targets.by", "bad-date"),
    ("[targets]", "[goals]", "goals", "unknown-key"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "key", "code"), TOML_FAULTS)
def test_read_workshop_broken_key_is_one_problem_with_its_line(
    tmp_path: Path, old: str, new: str, key: str, code: str
) -> None:
    broken = swap(TOML, old, new)
    wanted = line_of(TOML, old)
    if code == "missing-key":
        table = key.rpartition(".")[0]
        wanted = line_of(TOML, f"[{table}]")
    row = None if code == "duplicate-name" else wanted
    if code == "shares-total":
        row = line_of(TOML, f"[{key}]")
    assert triples(problems_of(write_folder(tmp_path, workshop=broken))) == [(W, row, key, code)]


PART_FAULTS = [
    (2, "pot,pot,", ",pot,", "part", "missing-value"),
    (3, "tray,pot", "Pot,pot", "part", "duplicate-part"),
    (2, "pot,pot,", "pot,pots,", "mould", "unknown-mould"),
    (2, "38 g", "38 ml", "mass", "wrong-dimension"),
    (2, "38 g", "0", "mass", "not-positive"),
    (2, "38 g", "", "mass", "missing-value"),
    (2, "0.09 L", "nan", "volume", "not-finite"),
    (3, "120 cm3", "", "volume", "missing-value"),
    (3, "6 months", "6 m", "service life", "ambiguous-unit"),
    (2, ",no,", ",sometimes,", "wet use", "unknown-answer"),
    (2, ",PP,injection", ",PPP,injection", "plastic polymer", "unknown-polymer"),
    (3, "thermoforming", "thermoformin", "plastic process", "unknown-process"),
    (2, "20 g", "", "plastic mass", "missing-value"),
    (2, "20 g", "-20 g", "plastic mass", "negative-number"),
    (2, "3 years", "0 years", "plastic service life", "not-positive"),
    (3, "same-volume", "same-size", "equivalence", "unknown-equivalence"),
    (3, "tray,pot,55 g,120 cm3,6 months,,PP,thermoforming,,2 years,same-volume,",
     "tray,pot,55 g,120 cm3,6 months,,PP,thermoforming,,2 years,same-volume,80", "displacement", "bad-share"),
]  # fmt: skip


@pytest.mark.parametrize(("row", "old", "new", "column", "code"), PART_FAULTS)
def test_read_parts_broken_cell_is_one_problem(
    tmp_path: Path, row: int, old: str, new: str, column: str, code: str
) -> None:
    folder = write_folder(tmp_path, parts=swap(PARTS, old, new))
    workshop, problems = read_workshop(folder, NAMES)
    assert workshop is None
    assert triples(problems) == [(P, row, column, code)]
    _, more = read_batches(folder, workshop, NAMES)
    assert more == []


BATCH_FAULTS = [
    (2, "001,", ",", "batch", "missing-value"),
    (3, "\n002,", "\n001,", "batch", "duplicate-batch"),
    (2, "2026-01-05", "05/01/2026", "date", "ambiguous-date"),
    (2, "2026-01-05", "2026-02-30", "date", "bad-date"),
    (2, "2026-01-05", "13.13.2026", "date", "bad-date"),
    (2, "2026-01-05", "13.01.26", "date", "bad-date"),
    (2, "2026-01-05", "46027", "date", "bad-date"),
    (2, "2026-01-05", "", "date", "missing-value"),
    (2, ",pot,1.2", ",pott,1.2", "part", "unknown-part"),
    (2, ",pot,1.2", ",,1.2", "part", "missing-value"),
    (2, "1.2,300", '"1,234",300', "corrugated", "ambiguous-number"),
    (2, "1.2,300", '"1,2,0",300', "corrugated", "bad-number"),
    (2, "1.2,300", "2026-05-01,300", "corrugated", "date-for-number"),
    (2, "1.2,300", "inf,300", "corrugated", "not-finite"),
    (2, "1.2,300", "1e308,300", "corrugated", "too-large"),
    (2, "1.2,300", "1.2 pcs,300", "corrugated", "unknown-unit"),
    (2, "1.2,300", "-1.2,300", "corrugated", "negative-number"),
    (2, "1.2,300", "1.2,some", "newsprint [g]", "bad-number"),
    (3, "0.1,,landfill", "0.1 h,,landfill", "own rejects", "wrong-dimension"),
    (2, "8 %", "8", "moisture", "bad-share"),
    (2, "8 %", "100 %", "moisture", "bad-share"),
    (3, ",landfill,none", ",landfil,none", "fate", "unknown-fate"),
    (3, ",landfill,none", ",own rejects,none", "fate", "unknown-fate"),
    (2, "pva-glue", "pva", "binder", "unknown-binder"),
    (2, "pva-glue", "", "binder", "missing-value"),
    (3, "none,,,9", "none,0.2,,9", "binder mass", "binder-none"),
    (2, "50 %", "150 %", "binder solids", "bad-share"),
    (2, "50 %", "0 %", "binder solids", "not-positive"),
    (2, ",12,0.01", ",12 gal,0.01", "water", "ambiguous-unit"),
    (2, "0.01", "shredder 5 min", "shredding", "unknown-device"),
    (2, ",,blender 12 min", ",hot,blender 12 min", "binder preparation", "bad-number"),
    (2, "blender 12 min", "blender 12", "blending", "missing-unit"),
    (3, "700 W x 12 min / 2", "700 W x 12 min / 0", "blending", "bad-number"),
    (2, ",0,0.5 kWh", ",-1,0.5 kWh", "pressing", "negative-number"),
    (2, "0.5 kWh", "0.5 kg", "drying", "wrong-dimension"),
    (2, ",30,2,", ",30.5,2,", "good parts", "not-whole"),
    (2, ",30,2,", ",,2,", "good parts", "missing-value"),
    (2, ",30,2,", ",30,2 parts,", "rejects", "bad-number"),
    (2, "2,landfill", "2,bin", "rejects to", "unknown-fate"),
    (2, "40 g", "40 kWh", "trim", "wrong-dimension"),
    (2, ",own rejects,,5", ",own reject,,5", "trim to", "unknown-fate"),
    (3, "54 g", "fifty", "part mass", "bad-number"),
    (2, ",5,3,4", ",5 kWh,3,4", "transport", "wrong-dimension"),
    (2, ",5,3,4", ",5,3 m,4", "hours", "ambiguous-unit"),
    (2, ",5,3,4", ",5,3,3.5", "people", "not-whole"),
    (2, "2.50,school", "2.50 EUR,school", "cost", "other-currency"),
    (3, "900 g,,0.1", ",,", "good parts", "no-paper"),
    (1, ",notes\n", ",colour\n", "colour", "unknown-column"),
    (1, ",site,", ",Own_Rejects,", "Own_Rejects", "duplicate-column"),
    (1, ",newsprint [g],", ",newsprint [kWh],", "newsprint [kWh]", "wrong-dimension"),
    (1, ",moisture,", ",moisture [g],", "moisture [g]", "unit-not-allowed"),
    (1, ",site,", ",site [kg],", "site [kg]", "unit-not-allowed"),
    (1, ",drying,", ",drying [h],", "drying [h]", "wrong-dimension"),
    (2, ",newsprint [g],", ",thermal [g],", "thermal [g]", "excluded-grade"),
    (1, ",good parts,", ",part mass [g],", "good parts", "missing-column"),
]  # fmt: skip


@pytest.mark.parametrize(("row", "old", "new", "column", "code"), BATCH_FAULTS)
def test_read_batches_broken_cell_is_found_in_its_place(
    tmp_path: Path, row: int, old: str, new: str, column: str, code: str
) -> None:
    found = triples(problems_of(write_folder(tmp_path, batches=swap(BATCHES, old, new))))
    follows = [(B, 1, "part mass", "duplicate-column")] if code == "missing-column" else []
    assert sorted(found) == sorted([(B, row, column, code), *follows])


@pytest.mark.parametrize("column", ["batch", "date", "part", "binder", "good parts"])
def test_read_batches_required_column_missing_is_named(tmp_path: Path, column: str) -> None:
    header, rest = BATCHES.split("\n", 1)
    titles = ["notes2" if title == column else title for title in header.split(",")]
    found = triples(problems_of(write_folder(tmp_path, batches=",".join(titles) + "\n" + rest)))
    assert (B, 1, column, "missing-column") in found
    assert (B, 1, "notes2", "unknown-column") in found


@pytest.mark.parametrize(
    "column",
    [
        "part",
        "mould",
        "mass",
        "service life",
        "plastic polymer",
        "plastic process",
        "plastic service life",
        "equivalence",
    ],
)
def test_read_parts_required_column_missing_is_named(tmp_path: Path, column: str) -> None:
    header, rest = PARTS.split("\n", 1)
    titles = ["other" if title == column else title for title in header.split(",")]
    found = triples(problems_of(write_folder(tmp_path, parts=",".join(titles) + "\n" + rest)))
    assert (P, 1, column, "missing-column") in found
    assert (P, 1, "other", "unknown-column") in found


HOSTILE = [
    (b"", {W: (None, "empty-file"), P: (None, "empty-file"), B: (None, "empty-file")}),
    (b" \n\n", {W: (None, "empty-file"), P: (None, "empty-file"), B: (None, "empty-file")}),
    (None, {W: (None, "missing-file"), P: (None, "missing-file"), B: (None, "missing-file")}),
    (b"\x89PNG\r\n\x1a\n\xff\xfe", {W: (1, "wrong-encoding"), P: (1, "wrong-encoding"), B: (1, "wrong-encoding")}),
    (b"a,b\nb,\xfc\x81", {W: (2, "wrong-encoding"), P: (2, "wrong-encoding"), B: (2, "wrong-encoding")}),
    (b"\xff\xfep\x00\x00\xd8", {W: (1, "wrong-encoding"), P: (1, "wrong-encoding"), B: (1, "wrong-encoding")}),
    (b"a,b\n1,\x00\n", {W: (2, "binary-file"), P: (2, "binary-file"), B: (2, "binary-file")}),
]


@pytest.mark.parametrize("name", list(FILES))
@pytest.mark.parametrize(("content", "wanted"), HOSTILE, ids=range(len(HOSTILE)))
def test_read_hostile_file_is_one_problem(
    tmp_path: Path, name: str, content: bytes | None, wanted: dict[str, tuple[int | None, str]]
) -> None:
    row, code = wanted[name]
    found = triples(problems_of(write_folder(tmp_path, **{name.split(".")[0]: content})))
    assert found == [(name, row, None, code)]


@pytest.mark.parametrize("name", list(FILES))
def test_read_folder_in_place_of_file_is_one_problem(tmp_path: Path, name: str) -> None:
    folder = write_folder(tmp_path, **{name.split(".")[0]: None})
    (folder / name).mkdir()
    assert triples(problems_of(folder)) == [(name, None, None, "not-a-file")]


@pytest.mark.skipif(os.name == "nt", reason="links need rights on Windows")
@pytest.mark.parametrize("name", list(FILES))
def test_read_link_to_itself_is_one_problem(tmp_path: Path, name: str) -> None:
    folder = write_folder(tmp_path, **{name.split(".")[0]: None})
    (folder / name).symlink_to(name)
    assert triples(problems_of(folder)) == [(name, None, None, "unreadable-file")]


def test_read_workshop_no_folder_is_one_problem(tmp_path: Path) -> None:
    workshop, problems = read_workshop(tmp_path / "nowhere", NAMES)
    assert workshop is None
    assert triples(problems) == [("nowhere", None, None, "missing-folder")]


@pytest.mark.parametrize(
    ("text", "row", "code"),
    [
        ("[workshop\nname = 1", 1, "bad-toml"),
        ('[workshop]\nname = "a"\nname = "b"\n', 3, "bad-toml"),
        ("x = " + "[" * 100_000, 1, "bad-toml"),
        ("[workshop]\npart_moisture = " + "9" * 5000, 2, "bad-toml"),
        ("[workshop]\ndate = 2026-13-45", 2, "bad-toml"),
    ],
    ids=["open-header", "twice", "deep", "long-number", "no-day"],
)
def test_read_workshop_faulty_toml_is_one_problem_with_its_line(tmp_path: Path, text: str, row: int, code: str) -> None:
    workshop, problems = read_workshop(write_folder(tmp_path, workshop=text), NAMES)
    assert workshop is None
    assert [found for found in triples(problems) if found[1] == row] == [(W, row, None, code)]


@pytest.mark.parametrize(
    "table", ["workshop", "equipment", "moulds", "fates", "end_of_life", "drying", "binders", "targets"]
)
def test_read_workshop_value_in_place_of_table_is_wrong_type(tmp_path: Path, table: str) -> None:
    _, problems = read_workshop(write_folder(tmp_path, workshop=f"{table} = 5\n"), NAMES)
    assert (W, 1, table, "wrong-type") in triples(problems)


def test_read_batches_open_quote_names_the_last_row(tmp_path: Path) -> None:
    folder = write_folder(tmp_path, batches=BATCHES + '003,2026-01-19,"pot,1\n')
    assert triples(problems_of(folder)) == [(B, 4, None, "bad-csv")]


def test_read_batches_open_quotes_name_the_first_row_that_they_upset(tmp_path: Path) -> None:
    text = swap(BATCHES, "pva-glue,0.2", 'pva-glue,"') + '003,2026-01-19,"pot,1\n'
    folder = write_folder(tmp_path, batches=text)
    assert triples(problems_of(folder)) == [(B, 2, None, "bad-csv")]


def test_read_batches_no_solids_in_no_binder_is_fine(tmp_path: Path) -> None:
    folder = write_folder(tmp_path, batches=swap(BATCHES, "landfill,none,,,", "landfill,none,,0,"))
    assert problems_of(folder) == []


def test_read_batches_cells_beyond_the_header_are_named(tmp_path: Path) -> None:
    folder = write_folder(tmp_path, batches=BATCHES.rstrip("\n") + ",,x,y\n")
    assert triples(problems_of(folder)) == [(B, 3, None, "no-header")]


def test_read_batches_header_of_blanks_is_missing_header(tmp_path: Path) -> None:
    folder = write_folder(tmp_path, batches=",,,\n" + BATCHES)
    assert triples(problems_of(folder)) == [(B, 1, None, "missing-header")]


def test_read_batches_header_only_is_no_rows(tmp_path: Path) -> None:
    folder = write_folder(tmp_path, batches=BATCHES.split("\n")[0] + "\n")
    assert triples(problems_of(folder)) == [(B, 1, None, "no-rows")]


def test_read_batches_both_files_is_refused(tmp_path: Path) -> None:
    folder = write_folder(tmp_path)
    shutil.copy(folder / B, folder / "batches.parquet")
    assert triples(problems_of(folder)) == [("batches.csv and batches.parquet", None, None, "two-files")]


@pytest.mark.parametrize("content", [b"", b"PAR1", b"PAR1" + b"\xff" * 64 + b"PAR1", BATCHES.encode()])
def test_read_batches_junk_in_parquet_is_one_problem(tmp_path: Path, content: bytes) -> None:
    folder = write_folder(tmp_path, batches=None)
    (folder / "batches.parquet").write_bytes(content)
    assert triples(problems_of(folder)) == [("batches.parquet", None, None, "bad-parquet")]


def test_read_faults_in_all_files_are_reported_together(tmp_path: Path) -> None:
    folder = write_folder(
        tmp_path,
        workshop=swap(swap(TOML, 'country = "USA"', 'country = "U"'), "load = 0.7", "load = 7"),
        parts=swap(swap(PARTS, "38 g", "38 x"), ",no,", ",never,"),
        batches=swap(swap(BATCHES, "8 %", "8"), "54 g", "54 x"),
    )
    wanted: list[Place] = [
        (W, 3, "workshop.country", "unknown-country"),
        (W, line_of(TOML, "load = 0.7"), "equipment.blender.load", "bad-share"),
        (P, 2, "mass", "unknown-unit"),
        (P, 2, "wet use", "unknown-answer"),
        (B, 2, "moisture", "bad-share"),
        (B, 3, "part mass", "unknown-unit"),
    ]
    assert triples(problems_of(folder)) == wanted


def test_problem_unknown_binder_says_place_reading_and_nearest_name(tmp_path: Path) -> None:
    (problem,) = problems_of(write_folder(tmp_path, batches=swap(BATCHES, "pva-glue", "pva-glu")))
    assert str(problem).startswith('batches.csv, row 2, column "binder": read "pva-glu": unknown binder')
    assert problem.accepted == 'none, pva-glue, rice-paste (did you mean "pva-glue"?)'


def test_read_workshop_grid_of_another_country_is_a_warning(tmp_path: Path) -> None:
    folder = write_folder(tmp_path, workshop=swap(TOML, 'country = "USA"', 'country = "GBR"'))
    workshop, problems = read_workshop(folder, NAMES)
    assert workshop is not None
    assert [(problem.code, problem.level) for problem in problems] == [("other-country", "warning")]


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    name=st.sampled_from(list(FILES)),
    position=st.integers(0, 3000),
    length=st.integers(0, 30),
    junk=st.one_of(
        st.binary(max_size=6),
        st.text(alphabet="0123456789.,;\t\"'[]{}=%/xe-\n\r ", max_size=12).map(str.encode),
        st.sampled_from([b"\x00", b"nan", b"inf", b"1e999", b"-1", b'"', b"\xff", "９".encode(), "−".encode()]),
    ),
)
def test_read_folder_with_any_bytes_changed_raises_nothing(
    tmp_path: Path, name: str, position: int, length: int, junk: bytes
) -> None:
    data = FILES[name].encode()
    position %= len(data)
    folder = write_folder(tmp_path, **{name.split(".")[0]: data[:position] + junk + data[position + length :]})
    for problem in problems_of(folder):
        assert problem.file in FILES
        assert problem.message
