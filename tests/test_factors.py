"""The factor set at work: choice by place and edition, a workshop's own table, and what happens without a row."""

from __future__ import annotations

import shutil
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from impact.account.assessment import regions_of, values_for
from impact.account.results import Results
from impact.base.catalogue import Names, read_names
from impact.base.problems import Problem, ProblemsError
from impact.factors.electricity import grid_of
from impact.factors.factorset import FactorSet, read_factors
from impact.factors.own import own_factors
from impact.factors.rows import COLUMNS, OWN_FILES, Factor
from impact.records.demonstration import DEMO
from impact.report.evidence import records_of
from impact.study import assess
from tests.frames import PLAIN, batches, workshop
from tests.workbooks import write_xlsx

HEADER = "id,value,unit,source,locator"
PLACES = ("US-CAMX", "USA", "North America", "world")


@cache
def factors() -> FactorSet:
    return read_factors()


@cache
def names() -> Names:
    return read_names()


def run(tables: FactorSet | None = None, draws: int = 50, **changes: Any) -> Results:
    return assess(workshop(**changes), batches([PLAIN]), tables or factors(), names=names(), draws=draws)


def factor(place: str, edition: str = "", value: float = 1.0, file: str = "water.csv") -> Factor:
    key = "water.supply"
    return Factor(
        id="/".join(filter(None, (key, place, edition))), key=key, what="water", value=value, unit="kgCO2e/m3", low=value,
        high=value, distribution="fixed", published=str(value), published_unit="kgCO2e/m3", boundary="", geography=place,
        year="", edition=edition, gwp="", source="practice", locator="", evidence="seen", derived="", notes="", file=file, row=2,
    )  # fmt: skip


def choose(rows: list[Factor], editions: dict[str, str] | None = None, places: tuple[str, ...] = PLACES) -> Any:
    return FactorSet({"water.supply": tuple(rows)}, {}).choose("water.supply", places, editions)


def own(folder: Path, *rows: str, header: str = HEADER) -> tuple[FactorSet, list[Problem]]:
    path = folder / OWN_FILES[0]
    path.write_text("\n".join((header, *rows)) + "\n", encoding="utf-8")
    return own_factors(folder, factors())


# -- choice by place ----------------------------------------------------------------------------------------------


@given(st.sets(st.sampled_from(PLACES), min_size=1), st.randoms(use_true_random=False))
def test_choose_takes_the_nearest_place_that_has_a_row(places: set[str], random: Any) -> None:
    rows = [factor(place) for place in places]
    random.shuffle(rows)
    nearest = next(place for place in PLACES if place in places)
    choice = choose(rows)
    assert choice.factor.geography == nearest
    assert choice.wanted == "US-CAMX"


def test_choose_no_place_in_reach_names_those_that_have_one() -> None:
    with pytest.raises(KeyError, match=r"no factor water\.supply for US-CAMX, .*there are rows for: FRA, GBR"):
        choose([factor("GBR"), factor("FRA")])


def test_regions_of_go_from_the_country_to_the_world() -> None:
    assert regions_of(workshop(country="DEU"), names()) == ("DEU", "EU", "Europe", "world")
    assert regions_of(workshop(country="USA"), names()) == ("USA", "North America", "world")
    assert regions_of(workshop(country="KEN"), names()) == ("KEN", "world")


@pytest.mark.parametrize(
    ("country", "region", "wanted"),
    [
        ("USA", "US-CAMX", "US-CAMX"),
        ("USA", None, "USA"),
        ("GBR", None, "GBR"),
        ("FRA", None, "FRA"),
        ("CAF", None, "world"),
    ],
)
def test_electricity_comes_from_the_grid_then_the_country_then_the_world(
    country: str, region: str | None, wanted: str
) -> None:
    result = run(country=country, electricity=region)
    used = {
        choice.factor.geography
        for choice in result.factors_used.values()
        if choice.factor.key in ("electricity.direct", "electricity.life-cycle")
    }
    assert wanted in used
    assert f"({wanted})," in result.settings.electricity


# -- choice by edition --------------------------------------------------------------------------------------------


@given(st.sets(st.sampled_from(["2023", "2024", "2025", "2026"]), min_size=1), st.randoms(use_true_random=False))
def test_choose_without_an_edition_takes_the_newest(editions: set[str], random: Any) -> None:
    rows = [factor("USA", edition) for edition in editions]
    random.shuffle(rows)
    choice = choose(rows)
    assert (choice.factor.edition, choice.edition_missing) == (max(editions), None)


def test_choose_named_edition_is_taken_and_a_missing_one_is_noted() -> None:
    rows = [factor("USA", "2025"), factor("USA", "2026")]
    assert choose(rows, {"USA": "2025"}).factor.edition == "2025"
    missing = choose(rows, {"USA": "2019"})
    assert (missing.factor.edition, missing.edition_missing) == ("2026", "2019")
    assert choose(rows, {"GBR": "2025"}).edition_missing is None


def test_choose_edition_of_a_place_without_editions_is_not_missed() -> None:
    assert choose([factor("USA")], {"USA": "2025"}).edition_missing is None


# Delivered, life-cycle: generation + network losses + fuel supply of both, UK government conversion factors for company
# reporting, 2025: 0.17700 + 0.01853 + 0.04590 + 0.00397; 2026: 0.13096 + 0.01299 + 0.03682 + 0.00359.
@pytest.mark.parametrize(("edition", "total"), [("2025", 0.24540), ("2026", 0.18436)])
def test_delivered_uk_electricity_is_the_published_sum(edition: str, total: float) -> None:
    result = run(country="GBR", editions={"GBR": edition})
    assert result.settings.electricity_kgco2e_per_kwh == pytest.approx(total, abs=1e-9)


def test_assess_another_edition_changes_the_figures() -> None:
    older, newer, default = (run(country="GBR", editions=named) for named in ({"GBR": "2025"}, {"GBR": "2026"}, {}))
    assert older.parts[0].stages["making"] > newer.parts[0].stages["making"]
    assert default.parts[0].footprint == newer.parts[0].footprint


def test_assess_edition_that_does_not_exist_is_told() -> None:
    told = {assumption.code: assumption.text for assumption in run(country="GBR", editions={"GBR": "2019"}).assumptions}
    assert "Electricity generated, emissions at the stack: United Kingdom 2026 instead of 2019" in told["edition"]
    assert "edition" not in {assumption.code for assumption in run(country="GBR").assumptions}


def test_assess_warming_potentials_follow_the_report_named() -> None:
    used = {gwp: set(run(gwp=gwp).factors_used) for gwp in ("AR5", "AR6")}
    for gwp, ids in used.items():
        assert {name.rpartition("/")[2] for name in ids if name.startswith("gwp.")} == {gwp}


# -- any workshop -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "country",
    ["GBR", "DEU", "USA", "FRA", "CAN", "JPN", "IND", "BRA", "ZAF", "AUS", "KEN", "NOR", "CHN", "CAF"],
)
def test_assess_workshop_of_any_country_has_figures(country: str) -> None:
    result = run(country=country)
    assert 0.0 < result.settings.electricity_kgco2e_per_kwh < 2.0
    (part,) = result.parts
    assert part.footprint is not None
    assert part.footprint.low < part.footprint.value < part.footprint.high
    assert part.plastic is not None
    assert result.warnings == ()


def test_delivered_every_country_and_grid_of_the_catalogue_has_electricity() -> None:
    for place in (*names().countries, *names().regions):
        country = names().region_countries.get(place, place)
        values = values_for(workshop(country=country), factors(), names(), seed=0, draws=2)
        grid = grid_of(values, place, country, regions_of(workshop(country=country), names()))
        assert 0.0 < grid.generated_kgco2e_per_kwh[0] <= grid.kgco2e_per_kwh[0] < 2.0, place


@pytest.mark.parametrize(
    "key",
    ["water.supply", "paper.moisture.corrugated", "paper.docf.corrugated", "gwp.methane-non-fossil", "landfill.oxidation",
     "transport.car.direct", "evidence.estimated", "polymer.resin.PLA", "fate.part.recycling", "electricity.loss"],
)  # fmt: skip
def test_assess_missing_factor_is_an_error_and_no_stand_in(key: str) -> None:
    changes = {"moisture": float("nan"), "shredding_kwh": float("nan")}
    fewer = FactorSet({name: rows for name, rows in factors().by_key.items() if name != key}, factors().sources)
    with pytest.raises(ProblemsError) as caught:
        assess(workshop(), batches([{**PLAIN, **changes}]), fewer, names=names(), draws=20)
    (problem,) = caught.value.problems
    assert problem.code == "missing-factor"
    assert f"no factor {key} for " in problem.message
    assert "factors.csv" in str(problem.accepted)


def test_assess_missing_polymer_leaves_out_the_comparison_with_its_reason() -> None:
    gone = ("polymer.formed.PP", "polymer.resin.PP")
    fewer = FactorSet({name: rows for name, rows in factors().by_key.items() if name not in gone}, factors().sources)
    result = run(fewer)
    assert result.parts[0].plastic is None
    assert "PP" in str(result.parts[0].no_comparison)
    assert [problem.code for problem in result.warnings] == ["no-comparison"]


# -- own table ----------------------------------------------------------------------------------------------------


def test_own_factors_no_file_changes_nothing(tmp_path: Path) -> None:
    assert own_factors(tmp_path, factors()) == (factors(), [])


def test_own_factors_shipped_id_is_replaced_and_kept_for_the_report(tmp_path: Path) -> None:
    tables, problems = own(tmp_path, "water.supply/world,0.3,kgCO2e/m3,water bill,page 2")
    assert problems == []
    choice = tables.choose("water.supply", ("USA", "world"))
    assert (choice.factor.value, choice.factor.evidence, choice.factor.distribution) == (0.3, "own value", "fixed")
    shipped = factors().choose("water.supply", ("USA", "world")).factor
    assert tables.shipped == {"water.supply/world": shipped}
    assert len(list(tables)) == len(list(factors()))


def test_own_factors_new_id_is_added_and_used(tmp_path: Path) -> None:
    tables, problems = own(tmp_path, "water.supply/KEN,90,gCO2e/m3,utility,letter of May")
    assert problems == []
    assert len(list(tables)) == len(list(factors())) + 1
    assert tables.shipped == {}
    assert tables.choose("water.supply", ("KEN", "world")).factor.value == pytest.approx(0.09)


def test_own_factors_changes_the_figures(tmp_path: Path) -> None:
    tables, _ = own(tmp_path, "electricity.life-cycle/KEN,900,gCO2e/kWh,utility,letter of May")
    assert run(tables, country="KEN").parts[0].stages["making"] > 2 * run(country="KEN").parts[0].stages["making"]


@pytest.mark.parametrize("edition", [{}, {"GBR": "2025"}])
def test_choose_own_row_without_an_edition_goes_before_shipped_editions(
    tmp_path: Path, edition: dict[str, str]
) -> None:
    tables, problems = own(tmp_path, "paper.primary.corrugated/GBR,0.5,kgCO2e/kg,mill,letter")
    assert problems == []
    choice = tables.choose("paper.primary.corrugated", ("GBR", "world"), edition)
    assert (choice.factor.value, choice.edition_missing) == (0.5, None)


def test_choose_own_row_of_an_older_edition_waits_for_its_edition(tmp_path: Path) -> None:
    tables, _ = own(tmp_path, "electricity.direct/GBR/2025,0.5,kgCO2e/kWh,x,y")
    assert tables.choose("electricity.direct", ("GBR",)).factor.edition == "2026"
    assert tables.choose("electricity.direct", ("GBR",), {"GBR": "2025"}).factor.value == 0.5


def test_own_factors_ends_alone_are_read_as_lognormal(tmp_path: Path) -> None:
    tables, problems = own(tmp_path, "water.supply/USA,0.3,kgCO2e/m3,bill,p. 2,0.2,0.45", header=f"{HEADER},low,high")
    assert problems == []
    assert tables.choose("water.supply", ("USA",)).factor.distribution == "lognormal"


FAULTS = [
    ("water.suply/USA,0.3,kgCO2e/m3,bill,p1,,,,,,", "id", "unknown-key"),
    ("water.supply/USA,much,kgCO2e/m3,bill,p1,,,,,,", "value", "not-a-number"),
    ("water.supply/CAN,nan,kgCO2e/m3,bill,p1,,,,,,", "value", "not-a-number"),
    ("water.supply/FRA,0.3,kgCO2e/kWh,bill,p1,,,,,,", "unit", "wrong-unit"),
    ("water.supply/DEU,0.3,,bill,p1,,,,,,", "unit", "blank"),
    ("water.supply/ITA,0.3,kgCO2e/m3,,p1,,,,,,", "source", "blank"),
    ("water.supply/ESP,0.3,kgCO2e/m3,bill,,,,,,,", "locator", "blank"),
    ("water.supply/NOR,0.3,kgCO2e/m3,bill,p1,0.4,0.5,,,,", "value", "out-of-order"),
    ("water.supply/SWE,0.3,kgCO2e/m3,bill,p1,0,0.5,lognormal,,,", "low", "out-of-range"),
    ("water.supply/FIN,0.3,kgCO2e/m3,bill,p1,0.2,,normal,,,", "high", "not-a-number"),
    ("water.supply/POL,0.3,kgCO2e/m3,bill,p1,0.2,0.5,bell,,,", "distribution", "unknown-distribution"),
    ("water.supply/PRT,0.3,kgCO2e/m3,bill,p1,,,pedigree,1;2;3,,", "pedigree", "bad-pedigree"),
    ("water.supply/GRC,0.3,kgCO2e/m3,bill,p1,,,pedigree,9;1;1;1;1;1.05,,", "pedigree", "bad-pedigree"),
    ("water.supply/DNK,0.3,kgCO2e/m3,bill,p1,,,,,felt,", "evidence", "unknown-evidence"),
    ("water.supply/AUT,0.3,kgCO2e/m3,bill,p1,,,,,,DEU", "id", "id-mismatch"),
    ("landfill.oxidation/USA,10,1,bill,p1,,,,,,", "value", "out-of-range"),
    ("water.supply/BEL,2,kgCO2e/m3,bill,p1,1,3,beta,,,", "value", "out-of-range"),
    ("water.supply/CHE,-1,kgCO2e/m3,bill,p1,-2,3,normal,,,", "value", "out-of-range"),
    ("water.supply/LUX,-1,kgCO2e/m3,bill,p1,,,pedigree,1;1;1;1;1;1.05,,", "value", "out-of-range"),
    ("polymer.density.PP,0,kg/m3,bill,p1,,,,,,", "value", "out-of-range"),
    ("electricity.loss/USA,1,1,bill,p1,,,,,,", "value", "out-of-range"),
    ("compost.target.carbon-highest,-1,1,guess,p1,,,,,,", "value", "out-of-range"),
    ("compost.target.carbon-highest,40,1,guess,p1,,,,,,", "value", "out-of-range"),
    ("compost.target.carbon-nitrogen,0,1,guess,p1,,,,,,", "value", "out-of-range"),
    ("compost.target.moisture,-0.5,1,guess,p1,,,,,,", "value", "out-of-range"),
    ("fate.part.landfill/USA,0.9,1,bill,p1,,,,,,", "value", "shares-total"),
    ("water.supply/IRL,0.3,kgCO2e/m3,bill,p1,,,,,,,stray", None, "no-header"),
    ("water.supply/AUS,0.3,kgCO2e/m3,bill,p1,,,,,,", None, None),
    ("water.supply/AUS,0.4,kgCO2e/m3,bill,p1,,,,,,", "id", "duplicate-id"),
]  # fmt: skip


def test_own_factors_every_fault_is_reported_with_its_place(tmp_path: Path) -> None:
    header = f"{HEADER},low,high,distribution,pedigree,evidence,geography"
    _, problems = own(tmp_path, *(row for row, _, _ in FAULTS), header=header)
    expected = {(number, column, code) for number, (_, column, code) in enumerate(FAULTS, start=2) if code}
    assert {(problem.row, problem.column, problem.code) for problem in problems} == expected
    assert len(problems) == len(expected)
    assert {problem.file for problem in problems} == {OWN_FILES[0]}
    assert [problem for problem in problems if not problem.accepted] == []


def test_own_factors_rows_count_as_a_spreadsheet_does(tmp_path: Path) -> None:
    _, problems = own(
        tmp_path, '"water.supply/USA",0.3,kgCO2e/m3,"a bill\nof two lines",p1', "", "water.supply/CAN,x,kgCO2e/m3,b,p"
    )
    assert [(problem.row, problem.column) for problem in problems] == [(4, "value")]


@pytest.mark.parametrize(
    ("header", "expected"),
    [
        ("id,value,unit,source", [("locator", "missing-column")]),
        (f"{HEADER},comment", [("comment", "unknown-column")]),
        (f"{HEADER},value", [("value", "duplicate-column")]),
        ("", [(None, "missing-header")]),
    ],
)
def test_own_factors_faulty_header_is_reported(tmp_path: Path, header: str, expected: list[tuple[str, str]]) -> None:
    _, problems = own(tmp_path, "water.supply/USA,0.3,kgCO2e/m3,bill,p1", header=header)
    assert [(problem.row, problem.column, problem.code) for problem in problems] == [(1, *pair) for pair in expected]


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"\xff\xfe\x00", "wrong-encoding"),
        (b'id,value,unit,source,locator\n"open,1', "bad-csv"),
        (b"id,value\x00", "binary-file"),
        (b"", "empty-file"),
    ],
)
def test_own_factors_unreadable_file_is_one_problem(tmp_path: Path, content: bytes, code: str) -> None:
    (tmp_path / OWN_FILES[0]).write_bytes(content)
    _, problems = own_factors(tmp_path, factors())
    assert [(problem.file, problem.code) for problem in problems] == [(OWN_FILES[0], code)]


SEMICOLONS = (
    "id;value;unit;source;locator;low;high\n"
    "water.supply/USA;0,3;kgCO2e/m3;Wasserwerk Köln;Seite 2;0,25;0,4\n"
    "heat.gas/KEN;1,234;kgCO2e/kWh;Stadtwerk;Brief;;\n"
)


def test_own_factors_of_a_spreadsheet_with_decimal_commas_are_read(tmp_path: Path) -> None:
    (tmp_path / OWN_FILES[0]).write_bytes(SEMICOLONS.encode("cp1252"))
    (tmp_path / "workshop.toml").write_text('[records]\nencoding = "windows-1252"\n', encoding="utf-8")
    tables, problems = own_factors(tmp_path, factors())
    assert problems == []
    water = tables.choose("water.supply", ("USA",)).factor
    assert (water.value, water.low, water.high, water.published) == (0.3, 0.25, 0.4, "0.3")
    assert water.source == "Wasserwerk Köln"
    assert tables.choose("heat.gas", ("KEN",)).factor.value == 1.234


def test_own_factors_number_that_can_be_read_in_two_ways_is_asked_about(tmp_path: Path) -> None:
    text = SEMICOLONS.replace(";0,3;", ";1,234;").replace("Köln", "Bonn")
    (tmp_path / OWN_FILES[0]).write_text(text.replace("0,25;0,4", ";"), encoding="utf-8")
    _, problems = own_factors(tmp_path, factors())
    assert [(problem.code, problem.row, problem.column, problem.read) for problem in problems] == [
        ("ambiguous-number", row, "value", "1,234") for row in (2, 3)
    ]
    (tmp_path / "workshop.toml").write_text('[records]\ndecimal = "comma"\n', encoding="utf-8")
    tables, problems = own_factors(tmp_path, factors())
    assert problems == []
    assert tables.choose("water.supply", ("USA",)).factor.value == 1.234


def test_own_factors_old_encoding_is_warned_of(tmp_path: Path) -> None:
    (tmp_path / OWN_FILES[0]).write_bytes(SEMICOLONS.encode("cp1252"))
    _, problems = own_factors(tmp_path, factors())
    assert [(problem.code, problem.level) for problem in problems] == [("encoding-assumed", "warning")]


def test_own_factors_workbook_is_read_as_the_csv_file_is(tmp_path: Path) -> None:
    rows = [HEADER, "water.supply/USA,0.3,kgCO2e/m3,bill,p1", "heat.gas/KEN,90,gCO2e/kWh,utility,letter"]
    from_csv, _ = own(tmp_path, *rows[1:])
    (tmp_path / OWN_FILES[0]).unlink()
    write_xlsx(tmp_path / OWN_FILES[1], "\n".join(rows), sheet="factors")
    from_xlsx, problems = own_factors(tmp_path, factors())
    assert problems == []
    expected = {replace(factor, file=OWN_FILES[1]) for factor in from_csv if factor.is_own}
    assert {factor for factor in from_xlsx if factor.is_own} == expected
    assert len(expected) == 2


def test_own_factors_fault_of_a_workbook_is_told_with_sheet_and_cell(tmp_path: Path) -> None:
    rows = [HEADER, "water.suply/USA,0.3,kgCO2e/m3,bill,p1", "water.supply/USA,much,kgCO2e/m3,bill,p1"]
    write_xlsx(tmp_path / OWN_FILES[1], "\n".join(rows), sheet="our", titles=1)
    _, problems = own_factors(tmp_path, factors())
    assert [(problem.code, problem.file, problem.sheet, problem.cell) for problem in problems] == [
        ("unknown-key", OWN_FILES[1], "our", "A3"),
        ("not-a-number", OWN_FILES[1], "our", "B4"),
    ]


def test_records_of_own_factors_in_a_workbook_are_carried_as_csv(tmp_path: Path) -> None:
    shutil.copytree(DEMO, tmp_path / "shop")
    rows = [f"{HEADER},low,high", "water.supply/USA,0.3,kgCO2e/m3,bill,p1,0.125,0.4"]
    write_xlsx(tmp_path / "shop" / OWN_FILES[1], "\n".join(rows), sheet="factors", titles=2)
    carried = tmp_path / "carried"
    carried.mkdir()
    for name, content in records_of(tmp_path / "shop", leave_out=()).items():
        (carried / name).write_bytes(content)
    found, problems = own_factors(carried, factors())
    assert problems == []
    row = found.choose("water.supply", ("USA",)).factor
    assert (row.file, row.row, row.value, row.low, row.high) == (OWN_FILES[0], 4, 0.3, 0.125, 0.4)


def test_own_factors_kept_twice_are_refused(tmp_path: Path) -> None:
    own(tmp_path, "water.supply/USA,0.3,kgCO2e/m3,bill,p1")
    write_xlsx(tmp_path / OWN_FILES[1], HEADER, sheet="factors")
    tables, problems = own_factors(tmp_path, factors())
    assert [problem.code for problem in problems] == ["two-files"]
    assert tables == factors()


def test_own_factors_of_another_kind_are_named(tmp_path: Path) -> None:
    (tmp_path / "factors.ods").write_bytes(b"")
    _, problems = own_factors(tmp_path, factors())
    assert [(problem.code, problem.file) for problem in problems] == [("unread-kind", "factors.ods")]
    assert problems[0].accepted == "factors.csv or factors.xlsx; save it as one of them"


def test_own_factors_folder_in_place_of_the_file_is_one_problem(tmp_path: Path) -> None:
    (tmp_path / OWN_FILES[0]).mkdir()
    _, problems = own_factors(tmp_path, factors())
    assert [problem.code for problem in problems] == ["not-a-file"]


cells = st.sampled_from(
    ["", "0", "-1", "1e400", "0.5", "nan", "kgCO2e/m3", "water.supply/USA", "landfill.k.paper.temperate-wet", "beta", "normal",
     "pedigree", "triangular", "1;1;1;1;1;1.05", "1;;;;;", "USA", "own value", "kg", "µ", "/", "a/b/c", "1", "1000 kg"]
)  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(st.lists(st.lists(cells, min_size=len(COLUMNS), max_size=len(COLUMNS)), max_size=4))
def test_own_factors_any_cells_give_problems_or_a_set_that_can_be_drawn(
    tmp_path_factory: pytest.TempPathFactory, rows: list[list[str]]
) -> None:
    folder = tmp_path_factory.mktemp("own")
    tables, problems = own(folder, *(",".join(row) for row in rows), header=",".join(COLUMNS))
    if not problems:
        values = values_for(workshop(), tables, names(), seed=1, draws=3)
        for found in tables:
            if found.is_own:
                assert len(values.get(found.key, (found.geography,))) == 4


@settings(max_examples=12, deadline=None)
@given(
    st.sampled_from(["water.supply/world", "landfill.oxidation", "polymer.density.PP", "drying.pressed-solids", "evidence.metered",
                     "heat.boiler-efficiency", "landfill.k.paper.temperate-wet", "electricity.loss/USA", "part.moisture"]),
    st.sampled_from(["0", "-1", "0.5", "1", "1e6", "1e-9"]),
)  # fmt: skip
def test_assess_with_any_own_value_gives_figures_or_problems(
    tmp_path_factory: pytest.TempPathFactory, factor_id: str, value: str
) -> None:
    shipped = next(found for found in factors() if found.id == factor_id)
    tables, problems = own(tmp_path_factory.mktemp("own"), f"{factor_id},{value},{shipped.published_unit},x,y")
    if problems:
        assert {problem.code for problem in problems} == {"out-of-range"}
        return
    codes = []
    try:
        run(tables, draws=20)
    except ProblemsError as error:
        codes = [problem.code for problem in error.problems]
    assert codes in ([], ["mass-balance"])
