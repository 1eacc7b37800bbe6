from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from impact.base.catalogue import read_names
from impact.base.places import factors_folder, templates_folder
from impact.records.parts import read_parts
from impact.records.workshop import Device, Drying, FateSplit, Materials, Mould, Part, Recipe, Targets
from impact.records.workshop_file import TomlLines, read_workshop
from tests.folders import BATCHES, NAMES, PARTS, TOML, read_valid, swap, triples, write_folder

SMALLEST = (
    '[workshop]\nname = "Bench"\ncountry = "GBR"\n[moulds.pot]\nmaterial = "PLA"\nmass = "0.31 kg"\npressings = 60\n'
)


def test_read_workshop_full_file_gives_every_field(tmp_path: Path) -> None:
    workshop = read_valid(write_folder(tmp_path))
    assert (workshop.name, workshop.country, workshop.electricity, workshop.currency) == (
        "Paper Bench", "USA", "US-CAMX", "USD",
    )  # fmt: skip
    assert (workshop.landfill_climate, workshop.landfill_site, workshop.gas_collection) == (
        "temperate-dry",
        "managed",
        0.6,
    )
    assert (workshop.units, workshop.gwp, workshop.landfill_parameters) == ("metric", "AR6", "default")
    assert (workshop.part_moisture, workshop.horizon_years, workshop.invented) == (0.06, 100.0, True)
    assert workshop.report_date == date(2026, 4, 1)
    assert workshop.equipment == {
        "blender": Device("blender", 700.0, 0.7, metered=False),
        "fan": Device("fan", 45.0, 1.0, metered=True),
    }
    assert workshop.moulds == {"pot": Mould("pot", "PLA", 0.31, 2.6, "metered", 60, retired=False)}
    assert workshop.fates == {"corrugated": FateSplit(landfill=0.3, recycling=0.7, evidence="bin audit, two weeks")}
    assert workshop.end_of_life == FateSplit(landfill=0.5, composting=0.5)
    assert workshop.drying == Drying("fan", heated_room=True, heating="gas", pressed_solids=0.35)
    assert workshop.binders == {"rice-paste": Recipe(0.16, 0.35, 1.1)}
    assert workshop.targets == Targets(500.0, date(2027, 6, 30))
    assert (workshop.vehicle, workshop.editions) == ("car", {"GBR": "2025"})


def test_read_workshop_parts_carry_canonical_units(tmp_path: Path) -> None:
    parts = read_valid(write_folder(tmp_path)).parts
    assert parts["pot"] == Part(
        name="pot", mould="pot", mass_kg=0.038, volume_l=0.09, service_life_years=1.0, wet_use=False, polymer="PP",
        process="injection-moulding", plastic_mass_kg=0.02, plastic_service_life_years=3.0, equivalence="measured",
        displacement=0.8,
    )  # fmt: skip
    tray = parts["tray"]
    assert tray.volume_l == pytest.approx(0.12, rel=1e-12)
    assert tray.service_life_years == pytest.approx(0.5, rel=1e-12)
    assert (tray.plastic_mass_kg, tray.displacement, tray.equivalence) == (None, None, "same-volume")


def test_read_workshop_smallest_file_takes_defaults(tmp_path: Path) -> None:
    workshop = read_valid(write_folder(tmp_path, workshop=SMALLEST))
    assert (workshop.units, workshop.gwp, workshop.vehicle, workshop.horizon_years) == ("metric", "AR6", "car", 100.0)
    assert (workshop.electricity, workshop.end_of_life, workshop.targets, workshop.report_date) == (None,) * 4
    assert (workshop.equipment, workshop.fates, workshop.binders) == ({}, {}, {})
    assert workshop.drying == Drying()
    assert workshop.moulds["pot"].printing_kwh is None
    assert workshop.moulds["pot"].printing_evidence == "estimated"


@pytest.mark.parametrize(
    ("printing", "kwh", "evidence"),
    [('"blender 2 h"', 0.98, "nameplate"), ('"fan 10 h"', 0.45, "metered")],
)
def test_read_workshop_printing_by_device_is_known_as_the_device_is(
    tmp_path: Path, printing: str, kwh: float, evidence: str
) -> None:
    mould = read_valid(write_folder(tmp_path, workshop=swap(TOML, '"2.6 kWh"', printing))).moulds["pot"]
    assert mould.printing_kwh == pytest.approx(kwh, rel=1e-12)
    assert mould.printing_evidence == evidence


def test_read_workshop_byte_order_mark_and_windows_lines_change_nothing(tmp_path: Path) -> None:
    plain = read_valid(write_folder(tmp_path / "plain"))
    files = {name: "\ufeff" + text.replace("\n", "\r\n") for name, text in (("workshop", TOML), ("parts", PARTS))}
    assert read_valid(write_folder(tmp_path / "windows", **files)) == plain


def test_read_workshop_ids_match_whatever_their_case_and_hyphens(tmp_path: Path) -> None:
    toml = swap(swap(TOML, "[fates.corrugated]", "[fates.Corrugated]"), 'country = "USA"', 'country = "usa"')
    parts = swap(swap(PARTS, "injection-moulding", "Injection Moulding"), "tray,pot", "tray,Pot")
    plain = read_valid(write_folder(tmp_path / "plain"))
    assert read_valid(write_folder(tmp_path / "free", workshop=toml, parts=parts)) == plain


def test_read_parts_semicolons_and_decimal_commas_change_nothing(tmp_path: Path) -> None:
    plain = read_valid(write_folder(tmp_path / "plain"))
    parts = PARTS.replace(",", ";").replace(".", ",")
    assert read_valid(write_folder(tmp_path / "comma", parts=parts)) == plain


def test_read_workshop_shares_within_rounding_are_accepted(tmp_path: Path) -> None:
    toml = swap(TOML, "landfill = 0.3", "landfill = 0.3009")
    assert read_valid(write_folder(tmp_path, workshop=toml)).fates["corrugated"].landfill == 0.3009


def test_read_workshop_missing_files_are_both_named(tmp_path: Path) -> None:
    workshop, problems = read_workshop(tmp_path, NAMES)
    assert workshop is None
    assert triples(problems) == [(tmp_path.name, None, None, "no-workshop")]
    (tmp_path / "batches.csv").write_text(BATCHES, encoding="utf-8")
    _, problems = read_workshop(tmp_path, NAMES)
    assert triples(problems) == [
        ("workshop.toml", None, None, "missing-file"),
        ("parts.csv", None, None, "missing-file"),
    ]


def test_toml_lines_keys_tables_and_quoted_names_are_found() -> None:
    text = 'a = 1\n[t]\nx = """\ny = 2\n"""\n  z=3\n["u v".w]\nk.l = 4\n# n = 5\n'
    lines = TomlLines(text)
    assert lines.line(("a",)) == 1
    assert lines.line(("t", "x")) == 3
    assert lines.line(("t", "z")) == 6
    assert lines.line(("u v", "w")) == 7
    assert lines.line(("u v", "w", "k", "l")) == 8
    assert lines.line(("t", "y")) == 2  # inside a text: only the table is known
    assert lines.line(("n",)) is None


def test_read_names_shipped_catalogue_holds_the_ids_of_the_file_contract() -> None:
    names = read_names()
    assert {"corrugated", "newsprint", "office", "boxboard", "moulded-fibre", "kraft", "mixed"} <= names.grades.keys()
    assert {"pva-glue", "corn-starch", "rice-paste", "wheat-paste", "potato-starch", "methyl-cellulose", "none"} <= (
        names.binders.keys()
    )
    assert {"PP", "PE-HD", "PS", "ABS", "PET", "PLA"} <= names.polymers.keys()
    assert {"injection-moulding", "thermoforming", "3d-printing"} <= names.processes.keys()
    assert {"landfill", "incineration", "recycling", "composting"} <= names.fates.keys()
    assert {"temperate-wet", "tropical-dry", "tropical-wet", "temperate-dry"} <= names.climates.keys()
    assert {"USA", "GBR", "DEU"} <= names.countries.keys()
    assert names.region_countries["US-CAMX"] == "USA"
    assert names.excluded_grades
    assert all(names.excluded_grades.values())
    assert not names.excluded_grades.keys() & names.grades.keys()


def test_read_names_other_file_is_read_by_kind(tmp_path: Path) -> None:
    path = tmp_path / "catalogue.csv"
    path.write_text(
        "kind,id,label,accepted,reason,tags\n"
        "grade,office,Office paper,yes,,\n"
        "grade,thermal,Till receipts,no,coated,\n"
        "region,CA-ON,Ontario,yes,,a=b; country=CAN\n"
        "something,x,X,yes,,\n",
        encoding="utf-8",
    )
    names = read_names(path)
    assert names.grades == {"office": "Office paper"}
    assert names.excluded_grades == {"thermal": "coated"}
    assert names.region_countries == {"CA-ON": "CAN"}


def test_places_folders_of_a_checkout_are_at_its_top() -> None:
    top = Path(__file__).parents[1]
    assert factors_folder() == top / "factors"
    assert templates_folder() == top / "report_templates"


def test_read_workshop_materials_and_audience_are_read(tmp_path: Path) -> None:
    text = TOML.replace(
        "[drying]", '[materials]\ninks = "printed"\ntape_removed = true\ngreaseproof = false\n\n[drying]'
    )
    workshop = read_valid(
        write_folder(tmp_path, workshop=swap(text, "invented = true", 'invented = true\naudience = "school"'))
    )
    assert workshop.materials == Materials("printed", tape_removed=True, greaseproof=False)
    assert workshop.audience == "school"


def test_read_workshop_materials_left_out_are_not_recorded(tmp_path: Path) -> None:
    workshop = read_valid(write_folder(tmp_path))
    assert workshop.materials == Materials(None, None, None)
    assert workshop.audience is None
    assert {part.wall_mm for part in workshop.parts.values()} == {None}


@pytest.mark.parametrize(
    ("line", "key", "code"),
    [
        ('inks = "some"', "materials.inks", "unknown-choice"),
        ("inks = true", "materials.inks", "unknown-choice"),
        ('tape_removed = "yes"', "materials.tape_removed", "wrong-type"),
        ("greaseproof = 0", "materials.greaseproof", "wrong-type"),
        ("tape = true", "materials.tape", "unknown-key"),
    ],
)
def test_read_workshop_broken_materials_are_one_problem_with_its_line(
    tmp_path: Path, line: str, key: str, code: str
) -> None:
    folder = write_folder(tmp_path, workshop=f"{TOML}\n[materials]\n{line}\n")
    workshop, problems = read_workshop(folder, NAMES)
    assert workshop is None
    assert triples(problems) == [("workshop.toml", TOML.count("\n") + 3, key, code)]


@pytest.mark.parametrize(
    ("lines", "key", "code"),
    [
        ('"[key]" = 1', "[key]", "unknown-key"),
        ('[moulds."[key]"]\nmaterial = "PLA"\nmass = -1\npressings = 5', "moulds.[key].mass", "negative-number"),
        ('[moulds.""]\nmaterial = "PLA"\nmass = 1\npressings = 5', "moulds.", "missing-value"),
        ('[materials]\n"[key]" = 2', "materials.[key]", "unknown-key"),
    ],
)
def test_read_workshop_key_of_any_name_is_a_problem_with_its_place(
    tmp_path: Path, lines: str, key: str, code: str
) -> None:
    toml = f"{lines}\n{TOML}" if lines.startswith('"') else f"{TOML}\n{lines}\n"
    workshop, problems = read_workshop(write_folder(tmp_path, workshop=toml), NAMES)
    assert workshop is None
    assert (key, code) in [(problem.column, problem.code) for problem in problems]


def test_read_workshop_unknown_audience_is_refused(tmp_path: Path) -> None:
    folder = write_folder(tmp_path, workshop=swap(TOML, "invented = true", 'invented = true\naudience = "all"'))
    problems = read_workshop(folder, NAMES)[1]
    assert [(problem.column, problem.code) for problem in problems] == [("workshop.audience", "unknown-choice")]


def with_walls(*walls: str) -> str:
    return "\n".join(f"{line},{cell}" for line, cell in zip(PARTS.splitlines(), ("wall", *walls), strict=True)) + "\n"


@pytest.mark.parametrize(("cell", "wall"), [("3 mm", 3.0), ("0.4 cm", 4.0), ("0.125 in", 3.175), ("", None)])
def test_read_parts_wall_is_in_millimetres(tmp_path: Path, cell: str, wall: float | None) -> None:
    parts = read_valid(write_folder(tmp_path, parts=with_walls(cell, ""))).parts
    assert parts["pot"].wall_mm == (None if wall is None else pytest.approx(wall, rel=1e-12))
    assert parts["tray"].wall_mm is None


@pytest.mark.parametrize(
    ("cell", "code"),
    [("3 kg", "wrong-dimension"), ("0", "not-positive"), ("-2 mm", "negative-number"), ("thick", "bad-number")],
)
def test_read_parts_broken_wall_is_one_problem(tmp_path: Path, cell: str, code: str) -> None:
    workshop, problems = read_workshop(write_folder(tmp_path, parts=with_walls("", cell)), NAMES)
    assert workshop is None
    assert triples(problems) == [("parts.csv", 3, "wall", code)]


@pytest.mark.parametrize(
    ("column", "value"), [("plastic service life", "60 years"), ("plastic mass", "5 kg"), ("volume", "2 L")]
)
def test_read_parts_unlikely_ratio_is_a_warning_with_its_place(tmp_path: Path, column: str, value: str) -> None:
    header = "part,mould,mass,volume,service life,wet use,plastic polymer,plastic process,plastic mass,plastic service life,equivalence,displacement"
    cells = dict(
        zip(
            header.split(","),
            [
                "pot",
                "m",
                "50 g",
                "80 mL",
                "2 years",
                "no",
                "PP",
                "injection-moulding",
                "30 g",
                "2 years",
                "measured",
                "",
            ],
            strict=True,
        )
    )
    (tmp_path / "parts.csv").write_text(
        header + "\n" + ",".join({**cells, column: value}.values()) + "\n", encoding="utf-8"
    )
    parts, problems = read_parts(tmp_path / "parts.csv", read_names(), moulds=["m"])
    assert [(problem.row, problem.column, problem.code, problem.level) for problem in problems] == [
        (2, column, "unlikely-ratio", "warning")
    ]
    assert "pot" in parts


def test_read_parts_blanks_in_all_that_is_of_the_plastic_part_are_a_part_without_one(tmp_path: Path) -> None:
    blank = swap(PARTS, "PP,injection-moulding,20 g,3 years,measured,0.8", ",,,,,")
    pot = read_valid(write_folder(tmp_path, parts=blank)).parts["pot"]
    assert (pot.polymer, pot.process, pot.equivalence) == ("", "", "")
    assert (pot.plastic_mass_kg, pot.plastic_service_life_years, pot.displacement) == (None, None, None)


def test_read_parts_where_no_part_has_a_plastic_one_needs_none_of_its_columns(tmp_path: Path) -> None:
    table = "part,mould,mass,service life,wet use\npot,pot,38 g,1 year,no\n"
    assert read_valid(write_folder(tmp_path, parts=table)).parts["pot"].polymer == ""


@pytest.mark.parametrize(
    ("cells", "blank"),
    [
        (",,,,,0.8", {"plastic polymer", "plastic process", "plastic service life", "equivalence"}),
        ("PP,,,3 years,measured,", {"plastic process", "plastic mass"}),
        ("PP,injection-moulding,20 g,,measured,", {"plastic service life"}),
    ],
)
def test_read_parts_plastic_part_in_pieces_is_asked_for_the_rest(tmp_path: Path, cells: str, blank: set[str]) -> None:
    broken = swap(PARTS, "PP,injection-moulding,20 g,3 years,measured,0.8", cells)
    _, problems = read_parts(write_folder(tmp_path, parts=broken) / "parts.csv", NAMES, moulds=["pot"])
    assert {problem.column for problem in problems} == blank
    assert {problem.code for problem in problems} == {"missing-value"}
    assert any("blanks in all that is of the plastic part" in str(problem) for problem in problems)
