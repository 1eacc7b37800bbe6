"""The workbook recomputed by an independent spreadsheet program: every live figure against the program's own.

Checked against, from outside:

- live figures of the workbook: recomputed by an independent spreadsheet program, to 1e-9
"""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
import zipfile
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from pypdf import PdfReader

import impact
from impact.account.assumptions import read_texts
from impact.account.results import Results
from impact.api import load
from impact.base.figurenames import figures, leaves
from impact.factors.factorset import FactorSet, read_factors
from impact.findings.net import CASES
from impact.records.statements import Grant
from impact.records.workshop import Drying, FateSplit, Mould, Recipe
from impact.report.context import compose
from impact.report.evidence import WORKBOOK
from impact.report.proof.figures import books_alike
from impact.report.request import Request
from impact.report.ties import Ties
from impact.study import assess, counted_for
from impact.trace.workbook import HOLDS, record_header, workbook
from tests.folders import CLOSED, OWN_BATCHES, OWN_BINDERS, TOML, swap, write_folder
from tests.frames import PLAIN, batches, part, workshop
from tests.office import found as program_found
from tests.reading import texts_by_name
from tests.reports import GRANTED, report, web_page
from tests.shared import shared

DEMO = Path(impact.__file__).parent / "demo"
PAPER = (
    "paper.weighed_kg", "paper.collected_kg", "paper.kept_from_landfill_gross_kg", "paper.returned_to_landfill_kg",
    "paper.fines_kg", "paper.fines_off_landfill_kg", "paper.kept_from_landfill_kg",
    "paper.deferred_kg", "paper.taken_from_recycling_kg", "paper.landfill_diversion_rate", "paper.put_to_use_kg",
    "paper.mass_balance.unaccounted_share",
)  # fmt: skip
ACCOUNT = (
    "made_kgco2e", "disposal.avoided_kgco2e", "disposal.electricity_sold_kgco2e", "disposal.lost_recycling_kgco2e", "displaced_plastic_kgco2e", "net_kgco2e",
    "net_account.moulds_shared_kgco2e", "net_account.moulds_bought_kgco2e",
    "net_account.avoided_stored_kgco2e", "net_account.avoided_other_stored_kgco2e",
    *(f"net_account.cases.{case}.{net}_kgco2e" for case in CASES for net in ("without_plastic", "net")),
)  # fmt: skip
STAGES = ("paper", "binder", "making", "mould", "transport", "end_of_life")
SPLIT = FateSplit(landfill=0.2, incineration=0.3, recycling=0.1, composting=0.4)


def text_of(tie: Ties, name: str) -> str:
    """Return a figure as a page prints it."""
    return re.sub("<[^>]*>", "", tie(name))


@cache
def factors() -> FactorSet:
    return read_factors()


def varied() -> Results:
    """Return invented results that take the branches which the folders do not."""
    shop = workshop(
        part("pot", equivalence="equal-stiffness"),
        part("wet one", mould="plate", wet_use=True),
        part("Old pulp", mould="plate", equivalence="same-volume", process="thermoforming", displacement=None),
        moulds={
            "shell": Mould("shell", "PLA", 0.3, None, "estimated", 100, retired=True),
            "plate": Mould("plate", "aluminium", 0.4, None, "estimated", 900),
        },
        fates={"corrugated": SPLIT, "office": replace(SPLIT, evidence="looked into")},
        end_of_life=SPLIT,
        drying=Drying(dryer=None, heated_room=True, heating="electricity", pressed_solids=0.3),
        binders={"rice-paste": Recipe(solids=0.2, preparation_kwh_per_kg=0.3)},
        gwp="AR5", units="us", landfill_parameters="measured", landfill_climate=None, horizon_years=30.0,
        gas_collection=0.4, vehicle="van", fines_to="landfill",
    )  # fmt: skip
    blank = dict.fromkeys(
        ("rejects", "trim_kg", "drying_kwh", "blending_kwh", "shredding_kwh", "pressing_kwh", "water_l", "transport_km", "moisture"),
        float("nan"),
    )  # fmt: skip
    rows: list[dict[str, Any]] = [
        {**PLAIN, "fate": "incineration", "rejects_to": "composting", "trim_kg": 0.03, "trim_to": ""},
        {**PLAIN, **blank, "paper.office_kg": 0.4, "binder": "rice-paste", "rejects_to": "", "good_parts": 16.0},
        {**PLAIN, "fate": "composting", "binder": "rice-paste", "binder_kg": 0.2, "binder_solids": 0.1, "own_rejects_kg": 0.05,
         "rejects_to": "incineration"},
        {**PLAIN, "fate": "recycling", "binder": "pva-glue", "binder_kg": 0.1, "binder_preparation_kwh": 0.1},
        {**PLAIN, "part": "wet one", "rejects_to": "own rejects", "binder": "pva-glue", "part_mass_kg": 0.048},
        {**PLAIN, "part": "Old pulp", "paper.corrugated_kg": 0.0, "own_rejects_kg": 0.6, "rejects_to": ""},
        {**PLAIN, "paper.corrugated_kg": 0.0, "own_rejects_kg": 0.55, "rejects_to": "recycling"},
        {**PLAIN, "paper.corrugated_kg": 0.0, "own_rejects_kg": 0.5, "binder": "pva-glue", "binder_kg": 0.1},
    ]  # fmt: skip
    results = assess(shop, batches(rows), factors(), draws=100)
    grant = Grant("one", results.start, results.end, 0.25)
    return counted_for(results, grant)


def strange() -> Results:
    """Return results of which every name could be taken for a formula or an error."""
    name = '=HYPERLINK("http://example.invalid","*pot?")'
    shop = workshop(
        part(name, mould="@shell"), part("-2+3", mould="@shell"), part('"', mould="@shell"),
        moulds={"@shell": Mould("@shell", "PLA", 0.3, 2.5, "metered", 100)}, name="+1+cmd|' /C calc'!A0", invented=True,
    )  # fmt: skip
    rows = [
        {**PLAIN, "part": name, "batch": "=1+1", "site": "@SUM(1)", "notes": "#REF!"},
        {**PLAIN, "part": "-2+3", "batch": "\t=2", "notes": "bell \x07 and \ufffe end\r\n=3"},
        {**PLAIN, "part": '"', "batch": "_x003D_1", "notes": "=" + "9" * 40_000},
    ]
    return assess(shop, batches(rows), factors(), draws=100)


def bench(folder: Path, **changes: str) -> Results:
    write_folder(folder, **{"batches": CLOSED, **changes})
    if "factors" in changes:
        (folder / "factors.csv").write_text(changes["factors"], encoding="utf-8")
    return load(folder).assess(draws=100)


def cell_of(book: Any, sheet: str, label: str, column: str | int) -> Any:
    """Return the cell of the row whose first cell is the label, in a column given by header or number."""
    page = book[sheet]
    places = {cell.value: cell.column for cell in page[3]}
    (row,) = [row[0].row for row in page.iter_rows(min_row=4, max_col=2) if label in (row[0].value, row[1].value)]
    return page.cell(row, column if isinstance(column, int) else places[column])


def changed(folder: Path) -> tuple[bytes, Results]:
    """Return a workbook edited by hand, and the results of a folder with the same changes."""
    book = openpyxl.load_workbook(io.BytesIO(workbook(bench(folder / "before"))))
    cell_of(book, "records", "001", record_header("paper.corrugated_kg")).value = 2.4
    cell_of(book, "records", "001", "binder").value = "none"
    cell_of(book, "records", "001", record_header("binder_kg")).value = 0
    cell_of(book, "records", "002", record_header("water_l")).value = 4
    cell_of(book, "settings", "fates of corrugated: share landfill", 2).value = 0.6
    cell_of(book, "settings", "fates of corrugated: share recycling", 2).value = 0.4
    cell_of(book, "settings", "mould pot: expected life", 2).value = 30
    cell_of(book, "factors", "polymer.formed.PP/world", 3).value *= 2.0
    edited = io.BytesIO()
    book.save(edited)
    first = swap(CLOSED, "pot,1.2,300,,8 %,,pva-glue,0.2,50 %", "pot,2.4,300,,8 %,,none,,50 %")
    value = 2.0 * next(factor.value for factor in factors().by_key["polymer.formed.PP"] if factor.geography == "world")
    own = f"id,value,unit,source,locator\npolymer.formed.PP/world,{value!r},kgCO2e/kg,test,none\n"
    toml = swap(swap(TOML, "landfill = 0.3", "landfill = 0.6"), "recycling = 0.7", "recycling = 0.4")
    toml = swap(toml, "pressings = 60", "pressings = 30")
    water = swap(first, "landfill,none,,,9,,,", "landfill,none,,,4,,,")
    return edited.getvalue(), bench(folder / "after", batches=water, workshop=toml, factors=own)


def carried(name: str) -> bytes:
    """Return the workbook that the funder's report of a workshop carries."""
    files = {one.name: one.content for one in PdfReader(io.BytesIO(report(name))).attachment_list}
    return bytes(files[WORKBOOK])


@dataclass(frozen=True)
class Recomputed:
    results: Results
    book: Any
    again: Any
    """What was written, and what the spreadsheet program made of it."""


@pytest.fixture(scope="module")
def recomputed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Recomputed]:
    program = program_found("soffice", "nothing here can recompute a workbook")
    folder = tmp_path_factory.mktemp("workbooks")
    runs = {
        "demo": load(DEMO).assess(**GRANTED.options()),
        "bench": bench(folder / "bench", workshop=swap(TOML, 'units = "metric"', 'units = "us"')),
        "own": bench(folder / "own", workshop=TOML + OWN_BINDERS, batches=OWN_BATCHES),
        "varied": varied(),
        "strange": strange(),
    }
    written = {name: workbook(results) for name, results in runs.items()}
    written["demo"] = carried("demo")
    written["changed"], runs["changed"] = changed(folder)

    def by_office() -> dict[str, bytes]:
        """Return each workbook as the office program writes it; it starts once in a run."""
        for name, content in written.items():
            (folder / f"{name}.xlsx").write_bytes(content)
        done = subprocess.run(
            [program, f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--headless", "--convert-to",
             "xlsx:Calc MS Excel 2007 XML", "--outdir", folder / "out", *sorted(folder.glob("*.xlsx"))],
            capture_output=True, text=True,
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
        return {name: (folder / "out" / f"{name}.xlsx").read_bytes() for name in written}

    recomputed = shared("workbooks-recomputed", by_office)
    return {
        name: Recomputed(
            runs[name],
            openpyxl.load_workbook(io.BytesIO(content)),
            openpyxl.load_workbook(io.BytesIO(recomputed[name]), data_only=True),
        )
        for name, content in written.items()
    }


RUNS = ("demo", "bench", "own", "varied", "strange", "changed")


def headline(book: Any) -> list[tuple[Any, ...]]:
    return list(book["headline"].iter_rows(min_row=4, values_only=True))


def wanted(results: Results) -> list[str]:
    """Return the names of the figures that the headline must hold, in their order."""
    names = list(PAPER)
    for found in results.parts:
        if found.footprint is None:
            continue
        base = f"parts.{found.part}"
        names += [f"{base}.good", *(f"{base}.stages_kgco2e.{stage}" for stage in STAGES)]
        names += [f"{base}.footprint_kgco2e", f"{base}.electricity_sold_kgco2e"]
        if found.plastic is not None:
            names += [f"{base}.plastic.{figure}_kgco2e" for figure in ("footprint", "electricity_sold")]
            names.append(f"{base}.difference_kgco2e")
    uses = [
        f"uses_by_grade.{use.grade}.{way}"
        for use in results.uses_by_grade
        for way in ("recycling_saves", "pulping_saves")
    ]
    return [*names, *ACCOUNT, *uses]


@pytest.mark.parametrize("run", RUNS)
def test_workbook_recomputed_live_figures_are_those_of_the_program(recomputed: dict[str, Recomputed], run: str) -> None:
    case = recomputed[run]
    program = figures(case.results.as_totals())
    live = {row[9]: row[1] for row in headline(case.again)}
    if run != "strange":  # its names are escaped on the sheet
        assert list(live) == wanted(case.results)
    expected = [program.get(name, program.get(f"{name}.value")) for name in wanted(case.results)]
    assert list(live.values()) == pytest.approx(expected, rel=1e-9, abs=1e-15)


def test_workbook_of_a_report_recomputed_gives_what_the_pages_print(recomputed: dict[str, Recomputed]) -> None:
    """The live values of the workbook inside the PDF, printed as the report prints them, stand on its pages."""
    case, page = recomputed["demo"], web_page("demo")
    live = {row[9]: row[1] for row in headline(case.again)}
    made = compose(case.results, Request()).context({})
    values = leaves(made["document"])
    names = {name: name if name in values else f"{name}.value" for name in live}
    printed = texts_by_name(page)
    again = Ties({**values, **{names[name]: value for name, value in live.items()}}, made["p"])
    shown = {name: printed[name] for name in names.values() if name in printed}
    assert len(shown) > 60
    for name, texts in shown.items():
        assert texts == {text_of(again, name)}, name


@pytest.mark.parametrize("run", RUNS)
def test_workbook_recomputed_no_cell_is_an_error(recomputed: dict[str, Recomputed], run: str) -> None:
    errors = [
        f"{page.title}!{cell.coordinate} {cell.value}"
        for page in recomputed[run].again
        for row in page.iter_rows()
        for cell in row
        if cell.data_type == "e" or (isinstance(cell.value, str) and cell.value.startswith("Err:"))
    ]
    assert errors == []


@pytest.mark.parametrize("run", ["demo", "bench", "own", "varied", "strange"])
def test_workbook_recomputed_checks_agree(recomputed: dict[str, Recomputed], run: str) -> None:
    again = recomputed[run].again
    assert {row[5] for row in headline(again)} == {"agrees"}
    assert cell_of(again, "about", "check", 2).value == f"all {len(headline(again))} live figures agree"
    for line in again["lines"].iter_rows(min_row=4, values_only=True):
        assert line[5] == pytest.approx(line[6], rel=1e-9), line[:5]


def test_workbook_edited_cell_shows_in_the_checks(recomputed: dict[str, Recomputed]) -> None:
    again = recomputed["changed"].again
    assert "differs" in {row[5] for row in headline(again)}
    assert cell_of(again, "about", "check", 2).value == "not all live figures agree"


@pytest.mark.parametrize("run", RUNS)
def test_workbook_headline_cells_are_formulas_that_hold_no_number_of_the_program(
    recomputed: dict[str, Recomputed], run: str
) -> None:
    for row in headline(recomputed[run].book):
        assert row[1].startswith("=")
        assert "results!" not in row[1]
    for sheet in ("amounts", "headline"):
        page = recomputed[run].book[sheet]
        assert all(cell.data_type == "f" for row in page.iter_rows(min_row=4, min_col=2, max_col=2) for cell in row)


def test_workbook_intervals_are_those_of_the_program(recomputed: dict[str, Recomputed]) -> None:
    case = recomputed["demo"]
    (net,) = [row for row in headline(case.again) if row[9] == "net_kgco2e"]
    assert net[6:8] == pytest.approx((case.results.net.low, case.results.net.high))


def test_workbook_sheets_are_named_and_explained_on_the_first(recomputed: dict[str, Recomputed]) -> None:
    book = recomputed["demo"].book
    assert book.sheetnames == ["about", *read_texts(*HOLDS)]
    about = {row[0]: row[1] for row in book["about"].iter_rows(min_row=4, values_only=True)}
    assert about["data"].startswith("INVENTED DATA")
    assert {f"sheet {name}" for name in read_texts(*HOLDS)} <= about.keys()
    assert (about["seed"], about["draws"]) == (2026, 100)


def test_workbook_results_hold_every_figure(recomputed: dict[str, Recomputed]) -> None:
    case = recomputed["demo"]
    found: dict[str, float] = {}
    for name, value, low, high in case.book["results"].iter_rows(min_row=4, values_only=True):
        ends = {f"{name}.low": low, f"{name}.high": high}
        known = {label: end for label, end in ends.items() if end is not None}
        found |= {f"{name}.value" if known else name: value} | known
    assert found == pytest.approx(figures(case.results.as_totals()))


def test_workbook_factors_hold_every_row_used_with_its_citation(recomputed: dict[str, Recomputed]) -> None:
    case = recomputed["demo"]
    rows = {row[0]: row for row in case.book["factors"].iter_rows(min_row=4, values_only=True)}
    assert rows.keys() == case.results.factors_used.keys()
    row = rows["landfill.collection/USA"]
    chosen = case.results.factors_used["landfill.collection/USA"].factor
    assert row[2:6] == (chosen.value, chosen.low, chosen.high, chosen.unit)
    assert row[12] == case.results.factors.sources[chosen.source].citation


def test_workbook_records_are_the_batches_with_blanks_left_blank(recomputed: dict[str, Recomputed]) -> None:
    book = recomputed["bench"].book
    assert cell_of(book, "records", "001", "newsprint [kg]").value == 0.3
    assert cell_of(book, "records", "001", "blending [kWh]").value == pytest.approx(0.098)
    assert cell_of(book, "records", "001", "pressing [kWh]").value == 0
    assert cell_of(book, "records", "002", "moisture [share]").value is None
    assert cell_of(book, "records", "002", "binder preparation [kWh]").value is None


def test_workbook_strange_names_stay_text(recomputed: dict[str, Recomputed]) -> None:
    case = recomputed["strange"]
    for sheet in ("records", "parts", "factors", "results"):
        kinds = {cell.data_type for row in case.book[sheet].iter_rows(max_col=30) for cell in row}
        assert kinds <= {"s", "n", "d"}, sheet
    page = case.book["records"]
    assert [page.cell(row, 2).value for row in (4, 5, 6)] == ["=1+1", "\\t=2", "_x003D_1"]
    assert [page.cell(row, 2).quotePrefix for row in (4, 5)] == [True, True]
    notes = [cell_of(case.book, "records", name, "notes") for name in ("=1+1", "\\t=2", "_x003D_1")]
    assert [note.data_type for note in notes] == ["s", "s", "s"]
    assert notes[0].value == "#REF!"
    assert notes[1].value == "bell \\x07 and \\ufffe end\\r\n=3"
    assert len(notes[2].value) == 32_000
    again = case.again["records"]
    assert [again.cell(row, 2).value for row in (4, 5)] == ["=1+1", "\\t=2"]
    assert case.again["amounts"].cell(4, 1).value == "=1+1"
    assert case.book["about"].cell(1, 1).value == "Workbook of +1+cmd|' /C calc'!A0"


def test_workbook_twice_gives_the_same_bytes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = workbook(bench(tmp_path / "one"))
    monkeypatch.setattr("time.time", lambda: 2e9)
    assert workbook(bench(tmp_path / "two")) == first
    properties = openpyxl.load_workbook(io.BytesIO(first)).properties
    assert {properties.created, properties.modified} == {datetime(2026, 4, 1)}  # the folder's date


def test_workbook_sheets_keep_their_header_in_sight_and_on_every_page(tmp_path: Path) -> None:
    book = openpyxl.load_workbook(io.BytesIO(workbook(bench(tmp_path / "bench"))))
    for page in book:
        assert page.freeze_panes == "B4"
        assert page.print_title_rows == "$3:$3"
        assert page.page_setup.orientation == "landscape"
        assert all(cell.font.bold for cell in page[3])
    assert book["headline"].sheet_properties.pageSetUpPr.fitToPage
    assert (book["headline"].page_setup.fitToWidth, book["headline"].page_setup.fitToHeight) == (1, 0)


WRITES = """
import sys
from datetime import date
from impact.core.formula import Formula
from impact.tables.xlsx_out import Live, Sheet, Shown, book_bytes
rows = [["a × b < c > d & e", 1.5, date(2026, 1, 2), None, ""], [Live("B4*2"), Shown(Live("1-B4"), "0.0%"), "=x", 'q"', "é−\\n"]]
sheet = Sheet("one", "Title", "A note", ["first", "second"], rows, {1: 30.0}, frozenset({1}))
sys.stdout.buffer.write(book_bytes([sheet], title='t xmlns:a="b" é', creator="us", day=None, packed=False))
"""


def test_book_bytes_are_the_same_whichever_library_of_xml_writes_them() -> None:
    books = []
    for word in ("True", "False"):
        done = subprocess.run(
            [sys.executable, "-c", WRITES], capture_output=True, env={**os.environ, "OPENPYXL_LXML": word}, check=True
        )
        books.append(done.stdout)
    assert books[0] == books[1]
    book = openpyxl.load_workbook(io.BytesIO(books[0]))
    assert book["one"]["A4"].value == "a × b < c > d & e"
    assert book.properties.title == 't xmlns:a="b" é'


def nudged(book: bytes, share: float) -> bytes:
    """Return a workbook, its parts not packed, in which one number is another by a share of it; as long as before."""
    one = re.search(rb"<v>(0\.\d{15})</v>", book)
    assert one is not None
    value = f"{float(one[1]) * (1.0 + share):.15f}".encode()
    found = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book)) as source, zipfile.ZipFile(found, "w") as target:
        for name in source.namelist():
            target.writestr(name, source.read(name).replace(one[0], b"<v>" + value + b"</v>"))
    return found.getvalue()


def test_books_alike_but_for_the_last_bits() -> None:
    book = workbook(load(DEMO).assess(draws=100, part="tool-tray"), packed=False)
    assert books_alike(nudged(book, 1e-14), book)
    assert not books_alike(nudged(book, 1e-6), book)
    assert not books_alike(book[:-100], book)
    assert not books_alike(b"", book)
    bomb = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book)) as source, zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            target.writestr(name, b" " * 50_000_000 if name.endswith("styles.xml") else source.read(name))
    assert not books_alike(bomb.getvalue(), book)
