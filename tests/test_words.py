"""Slips of words, units and files that people make: each is understood, or answered in one line with its likely cause.

The slips are drawn up from how people write (common practice, no source). The names of countries and their currencies
are held to Unicode CLDR, and the codes to ISO 4217 and ISO 3166-1 as CLDR has them.
"""

from __future__ import annotations

import csv
import re
import shlex
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from babel import Locale
from babel.numbers import get_territory_currencies
from click.testing import CliRunner
from openpyxl.worksheet.worksheet import Worksheet

from impact.api import read_folder
from impact.base.catalogue import currency_of, read_names
from impact.base.problems import Problem
from impact.cli.commands import main
from impact.records.demonstration import copy_demo
from tests.folders import BATCHES, PARTS, TOML, swap, write_folder
from tests.reports import laid_out_once

ROOT = Path(__file__).parents[1]
NAMES = read_names()
W, P, B = "workshop.toml", "parts.csv", "batches.csv"
FILES = {W: TOML, P: PARTS, B: BATCHES}


def told(folder: Path) -> list[Problem]:
    return read_folder(folder)[1]


def edited(folder: Path, file: str, old: str, new: str) -> Path:
    content = {name.split(".")[0]: swap(text, old, new) if name == file else text for name, text in FILES.items()}
    return write_folder(folder, **content)  # type: ignore[arg-type]


REFUSED = [
    # file, what stood there, the slip, column as far as one is named, what the line says
    # bare numbers
    (W, '"310 g"', "412", "moulds.pot.mass", 'without its unit (mass). Accepted: "412 g" or "412 kg"'),
    (W, '"310 g"', '"412"', "moulds.pot.mass", '"412 g" or "412 kg"'),
    (W, '"2.6 kWh"', "3900", "moulds.pot.printing", '"3900 kWh" or "3900 Wh"'),
    (W, '"700 W"', "700", "equipment.blender.power", '"700 W" or "700 kW"'),
    (W, '"100 years"', "100", "workshop.horizon", '"100 years" or "100 months"'),
    (W, '"500 kg"', "500", "targets.diverted", '"500 g" or "500 kg"'),
    (W, '"0.35 kWh per kg"', "0.35", "binders.rice-paste.preparation", '"0.35 kWh per kg"'),
    (W, '"0.35 kWh per kg"', '"0.35 kWh"', "binders.rice-paste.preparation", '"0.35 kWh per kg"'),
    (W, '"1.10 per kg"', "1.1", "binders.rice-paste.price", '"1.1 per kg" or "1.1 per lb"'),
    (P, "38 g", "38", "mass", '"38 g" or "38 kg"; or the unit in the header, as mass [g]'),
    (P, "55 g", "55", "mass", '"55 g" or "55 kg"'),
    (P, "20 g", "20", "plastic mass", '"20 g" or "20 kg"'),
    (P, "0.09 L", "90", "volume", '"90 mL" or "90 L"'),
    (P, "1 year", "1", "service life", '"1 years" or "1 months"'),
    # words that could be two
    (B, "corrugated,", "cardboard,", "cardboard", "could be corrugated or boxboard"),
    (B, "corrugated,", "cartón,", "cartón", "could be corrugated or boxboard"),
    (B, ",none,", ",starch,", "binder", "could be corn-starch (cooked corn starch paste) or potato-starch"),
    (B, ",none,", ",harina,", "binder", "wheat-paste"),
    (P, "38 g,0.09 L,1 year,no,PP", "38 g,0.09 L,1 year,no,polythene", "plastic polymer", "could be PE-HD"),
    (W, '"USA"', '"Korea"', "workshop.country", "could be KOR"),
    (W, "[fates.corrugated]", "[fates.cardboard]", "fates.cardboard", "could be corrugated"),
    (W, '"temperate-dry"', '"temperate"', "workshop.landfill_climate", "could be temperate-dry"),
    # energy cells
    (B, "blender 12 min", "12 min", "blending", "a time alone is no energy. Accepted: blender 12 min or fan 12 min"),
    (B, "blender 12 min", "700 W", "blending", "a power alone is no energy. Accepted: 700 W x 12 min"),
    (B, "blender 12 min", "blender 12", "blending", "the time has no unit. Accepted: blender 12 min"),
    # headers
    (B, "water,", "water L,", "water L", "Accepted: water [L]; a unit stands in brackets"),
    (B, "newsprint [g]", "newsprint_g", "newsprint_g", "Accepted: newsprint [g]"),
    (B, BATCHES.split("\n")[0] + "\n", "", None, "the row with the names is missing"),
    (B, "water,", "water (h),", "water (h)", "is a unit of time, not of volume"),
    # the settings
    (W, '"700 W"', "700 W", None, 'put it in quotes. Accepted: power = "700 W"'),
    (W, '"60 %"', "60 %", None, 'put it in quotes. Accepted: gas_collection = "60 %"'),
    (W, '"Paper Bench"', "“Paper Bench”", None, 'typographic quotes; TOML knows straight ones alone. Accepted: name = "Pa'),
    (W, "by = 2027-06-30", "by = 06/30/2027", None, "the year first. Accepted: by = 2027-06-30"),
    (W, "by = 2027-06-30", "by = 06/07/2027", None, "by = 2027-06-07 or by = 2027-07-06"),
    (W, "by = 2027-06-30", 'by = "06/30/2027"', "targets.by", "Accepted: 2027-06-30"),
    (W, "by = 2027-06-30", "by = 2027-6-30", None, "Accepted: by = 2027-06-30"),
    (W, "invented = true", "invented = True", None, "Accepted: invented = true"),
    (W, "load = 0.7", "load = 0,7", None, "Accepted: load = 0.7"),
    (W, 'dryer = "fan"', "dryer = fan", None, 'put it in quotes. Accepted: dryer = "fan"'),
    (W, 'dryer = "fan"', 'dryer: "fan"', None, 'equals sign. Accepted: dryer = "fan"'),
    (W, 'mass = "310 g"', 'mass = "310 g', None, 'Accepted: mass = "310 g"'),
    (W, "[equipment.fan]", "[equipment.box fan]", None, 'Accepted: [equipment."box fan"]'),
    (W, "[drying]", "[drying", None, "closed brackets"),
    (W, "load = 0.7", "load =", None, "there is no value"),
]  # fmt: skip


@pytest.mark.parametrize(("file", "old", "new", "column", "says"), REFUSED)
def test_slip_is_an_error_in_its_place_with_a_likely_cause(
    tmp_path: Path, file: str, old: str, new: str, column: str | None, says: str
) -> None:
    row = FILES[file].split(old)[0].count("\n") + 1
    found = [one for one in told(edited(tmp_path, file, old, new)) if one.level == "error"]
    first = next(one for one in found if one.file == file and one.row == row)
    assert column is None or column in str(first.column)
    assert says in str(first)
    if file == W:  # the rest was read: nothing else is told of the settings, nor of the parts that name its moulds
        assert [one for one in found if one is not first and one.file != B] == []
    elif old.startswith("batch,"):
        assert [one.code for one in found] == ["missing-header"]


UNDERSTOOD = [
    (B, "newsprint [g]", "newsprint (g)"), (B, "newsprint [g]", "Newspapers [g]"), (B, "newsprint [g]", "periódicos (grams)"),
    (B, "pva-glue", "PVA"), (B, "pva-glue", "glue"), (B, "pva-glue", "White Glue"), (B, "pva-glue", "wood glue"),
    (B, "pva-glue", "cola blanca"), (B, "landfill,none", "landfill,no"), (B, "landfill,none", "trash,ninguno"),
    (B, "2,landfill", "2,bin"), (B, "2,landfill", "2,vertedero"), (B, "good parts", "good"), (B, "notes\n", "comments\n"),
    (B, "batch,date", "id,fecha"), (B, "people", "participants"), (B, "transport", "distance"), (B, "hours", "horas"),
    (P, "part,mould", "part,mold"), (P, "plastic polymer", "polymer"), (P, "PP,injection-moulding", "polypropylene,injection molding"),
    (P, "service life,wet", "lifetime,wet"), (P, "year,no", "year,N"), (P, "thermoforming", "vacuum forming"),
    (W, '"USA"', '"US"'), (W, '"USA"', '"United States"'), (W, '"USA"', '"Estados Unidos"'), (W, '"USA"', '"Vereinigte Staaten"'),
    (W, "[moulds.pot]", "[molds.pot]"), (W, "[targets]", "[target]"), (W, "[fates.corrugated]", '[fates."corrugated cardboard"]'),
    (W, "[binders.rice-paste]", "[binders.rice]"), (W, 'material = "PLA"', 'material = "polylactic acid"'),
    (W, 'dryer = "fan"', 'dryer = "ventilador"'), (W, 'vehicle = "car"', 'vehicle = "coche"'),
]  # fmt: skip


@pytest.mark.parametrize(("file", "old", "new"), UNDERSTOOD)
def test_word_is_read_as_what_it_means(tmp_path: Path, file: str, old: str, new: str) -> None:
    plain, _ = read_folder(edited(tmp_path / "plain", file, old, old))
    folder, problems = read_folder(edited(tmp_path / "other", file, old, new))
    assert [one for one in problems if one.level == "error"] == []
    assert folder is not None
    assert plain is not None
    assert folder.batches.equals(plain.batches)
    assert folder.workshop == plain.workshop


@pytest.mark.parametrize(
    ("renamed", "as_", "said"),
    [
        (B, "Batches.xlsx", "misnamed-file"),
        (B, "batches 2026.csv", "misnamed-file"),
        (B, "batches.ods", "unread-kind"),
        (B, "batches 2026.ods", "unread-kind"),
        (B, "2026 batches.numbers", "unread-kind"),
        (P, "part.csv", "misnamed-file"),
        (P, "Parts.CSV", "misnamed-file"),
        (W, "workshop.toml.txt", "misnamed-file"),
        (W, "Workshop.TOML", "misnamed-file"),
    ],
)
def test_file_of_another_name_is_one_line_that_names_it(tmp_path: Path, renamed: str, as_: str, said: str) -> None:
    folder = write_folder(tmp_path)
    (folder / renamed).rename(folder / as_)
    found = [one for one in told(folder) if one.level == "error" and one.file not in FILES]
    assert [(one.file, one.code) for one in found] == [(as_, said)]
    assert found[0].accepted


def run(*arguments: object, status: int = 0) -> str:
    done = CliRunner().invoke(main, [str(one) for one in arguments])
    assert done.exit_code == status, done.output
    return done.output


def test_file_beside_the_one_that_is_read_is_a_doubt(tmp_path: Path) -> None:
    folder = write_folder(tmp_path)
    (folder / "batches old.csv").write_text("anything", encoding="utf-8")
    assert "warning: batches old.csv: this file is not read: batches.csv is" in run("check", folder, status=0)


def test_folder_that_is_no_workshop_is_one_line_and_none_is_the_current_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = tmp_path / "letters"
    other.mkdir()
    (other / "letter.txt").write_text("dear", encoding="utf-8")
    assert run("check", other, status=1).startswith("error: letters: this folder is no workshop")
    assert run("check", other, status=1).count("error: ") == 1
    monkeypatch.chdir(other)
    assert run("check", status=1).startswith("error: letters: this folder is no workshop")
    monkeypatch.chdir(write_folder(tmp_path / "bench"))
    assert "error" not in run("check").replace("0 errors", "")


def with_sheets(folder: Path, *more: str, change: Any = None, toml: str = TOML) -> Path:
    """Return a folder whose batches are a workbook; further sheets hold the same rows under other names."""
    write_folder(folder, workshop=toml)
    (folder / "batches.csv").unlink()
    book = openpyxl.Workbook()
    rows = [row for row in csv.reader(BATCHES.splitlines()) if row]
    for place, name in enumerate(("batches", *more)):
        page: Worksheet = book.active if place == 0 else book.create_sheet()  # type: ignore[assignment]
        page.title = name
        for number, row in enumerate(rows):
            page.append([f"{name}-{row[0]}" if number and cell == row[0] else cell for cell in row])
        if change is not None and place:
            change(page)
    book.save(folder / "batches.xlsx")
    return folder


def test_further_sheet_of_records_is_asked_about_and_the_setting_answers(tmp_path: Path) -> None:
    found = told(with_sheets(tmp_path / "asked", "April"))
    assert [(one.code, one.file, one.sheet) for one in found] == [("further-sheet", "batches.xlsx", "April")]
    remedies = re.findall(r"sheet = (\[.*?\]|\"\w+\")", str(found[0]))
    assert remedies == ['["batches", "April"]', '"batches"']
    for remedy, rows in zip(remedies, (4, 2), strict=True):
        toml = f"{TOML}\n[records]\nsheet = {remedy}\n"
        folder, problems = read_folder(with_sheets(tmp_path / f"told-{rows}", "April", toml=toml))
        assert [one for one in problems if one.level == "error"] == []
        assert folder is not None
        assert len(folder.batches) == rows


def headers_alone(page: Worksheet) -> None:
    page.delete_rows(2, 9)


def other_headers(page: Worksheet) -> None:
    for cell in page[1]:
        cell.value = f"{cell.value} of a stove"


@pytest.mark.parametrize("change", [headers_alone, other_headers])
def test_sheet_without_records_or_with_other_headers_is_nothing(tmp_path: Path, change: Any) -> None:
    assert [one for one in told(with_sheets(tmp_path, "April", change=change)) if one.level == "error"] == []


def test_word_of_several_ids_of_a_kind_is_asked_and_any_other_is_taken() -> None:
    kinds = {
        "grade": NAMES.grades, "binder": NAMES.binders, "fate": NAMES.fates, "polymer": NAMES.polymers,
        "process": NAMES.processes, "dryer": NAMES.dryers, "vehicle": NAMES.vehicles, "country": NAMES.countries,
    }  # fmt: skip
    for (kind, word), ids in NAMES.others.items():
        known = kinds.get(kind, ids)
        assert set(NAMES.meant(kind, word, known)) == set(ids)
        assert all(one in known for one in ids)
    several = {word for (_, word), ids in NAMES.others.items() if len(ids) > 1}
    assert {"cardboard", "carton", "starch", "flour", "almidon", "wallpaper paste", "korea"} <= several
    assert several.isdisjoint({"newspaper", "white glue", "pva", "trash", "bin", "compost", "uk", "basura"})


@pytest.mark.parametrize("language", ["en", "es"])
def test_country_is_known_by_its_name_in_english_and_spanish(language: str) -> None:
    # Checked against Unicode CLDR, names of territories.
    names = Locale(language).territories
    asked = {"COG", "COD", "KOR", "PRK"}
    missed = [
        code for code, country in NAMES.country_codes.items()
        if country not in asked and NAMES.meant("country", names[code], NAMES.countries) != (country,)
    ]  # fmt: skip
    assert missed == []


def test_currency_of_every_country_is_tender_there() -> None:
    # Checked against Unicode CLDR, supplemental data on currencies; PSE has several and no row.
    codes = {country: code for code, country in NAMES.country_codes.items()}
    for country, code in codes.items():
        tender = get_territory_currencies(code, start_date=date(2026, 11, 1), tender=True, non_tender=False)
        currency = currency_of(country)
        assert currency in tender or (currency is None and (len(tender) != 1)), country
    # ISO 4217, from memory
    known = {"USA": "USD", "GBR": "GBP", "DEU": "EUR", "CHE": "CHF", "MEX": "MXN", "JPN": "JPY", "HRV": "EUR"}
    assert {country: currency_of(country) for country in known} == known


@pytest.mark.parametrize(
    ("country", "units", "money", "paper", "masses"),
    [
        ("USA", "metric", "USD", "1", ("300 g", "60 g", "50 g")),
        ("usa", "us", "USD", "1", ("11 oz", "2 oz", "1.75 oz")),
        ("UK", "us", "GBP", "9", ("11 oz", "2 oz", "1.75 oz")),
        ("Deutschland", "metric", "EUR", "9", ("300 g", "60 g", "50 g")),
        ("México", "metric", "MXN", "1", ("300 g", "60 g", "50 g")),
        ("Antarctica", "metric", None, "9", ("300 g", "60 g", "50 g")),
    ],
)
def test_new_folder_has_the_money_paper_and_units_of_its_country(
    tmp_path: Path, country: str, units: str, money: str | None, paper: str, masses: tuple[str, str, str]
) -> None:
    # Paper sizes as numbered in ECMA-376, part 1, 18.3.1.63: 1 is Letter, 9 is A4.
    run("new", tmp_path / "bench", "--country", country, "--units", units)
    settings = (tmp_path / "bench" / W).read_text(encoding="utf-8")
    assert (f'\ncurrency = "{money}"' in settings) is (money is not None)
    parts = (tmp_path / "bench" / P).read_text(encoding="utf-8")
    assert f'mass = "{masses[0]}"' in settings
    assert all(f",{mass}," in parts for mass in masses[1:])
    book = openpyxl.load_workbook(tmp_path / "bench" / "batches.xlsx")
    assert {str(page.page_setup.paperSize) for page in book.worksheets} == {paper}
    assert {"hours", "people"} <= {cell.value for cell in book["batches"][1]}


def test_country_that_could_be_two_is_asked_by_new(tmp_path: Path) -> None:
    assert '"Korea" could be KOR' in run("new", tmp_path / "bench", "--country", "Korea", status=2)


def test_readme_block_of_examples_runs_from_top_to_bottom_as_printed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    block = text.split("after `make demo`, which made `impact-demo`:\n\n")[1].split("\n\n")[0]
    lines = [line.strip() for line in block.splitlines()]
    assert len(lines) > 10
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    assert "impact demo" in makefile
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("impact.api.DEFAULT_DRAWS", 100)
    monkeypatch.setattr("impact.report.layout.pdf.pdf_of", laid_out_once)
    copy_demo(Path("impact-demo"))  # as `impact demo` does, which stands in the block as well
    for line in lines:
        program, *arguments = shlex.split(line)
        assert program == "impact"
        run(*arguments)
