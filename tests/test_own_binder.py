"""A binder of the workshop's own: named in workshop.toml, and in every figure, report and table from there on.

Checked against, from outside:

- arithmetic by hand on the invented settings; C:N of a mix: NRAES-54 (Rynk 1992)
- substances that cause allergies: Regulation (EU) No 1169/2011, Annex II (from memory)
"""

from __future__ import annotations

import json
from functools import cache
from html import unescape
from io import BytesIO
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner

from impact.api import Folder, load
from impact.base.problems import ProblemsError
from impact.cli.commands import main
from impact.decisions.binders import compare_binders
from impact.report.production import Product, prepare
from impact.report.request import Request
from impact.report.verification import verify
from impact.study import Study
from impact.trace.workbook import workbook
from tests.folders import OWN_BATCHES, OWN_BINDERS, TOML, swap, write_folder
from tests.reports import FEW, produce

NAME = "glue of the harbour"
GLUE_KG, SOLIDS, FOOTPRINT = 0.2, 0.3, 1.9


@cache
def place() -> Path:
    return write_folder(Path(mkdtemp()), workshop=TOML + OWN_BINDERS, batches=OWN_BATCHES)


@cache
def folder() -> Folder:
    return load(place())


@cache
def product(reader: str, language: str) -> Product:
    return prepare(place(), Request(reader, language), FEW)


@cache
def results() -> Study:
    return folder().assess(draws=200)


def run(*arguments: str, status: int = 0) -> str:
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == status, done.output
    return done.output


def problems(tmp_path: Path, binders: str, **changes: str) -> list[tuple[str, str | None]]:
    """Return code and place of the problems of a folder with other tables of binders."""
    with pytest.raises(ProblemsError) as caught:
        load(write_folder(tmp_path / "folder", workshop=TOML + binders, **changes))
    return [(problem.code, problem.column) for problem in caught.value.problems if problem.level == "error"]


def test_check_accepts_the_folder() -> None:
    assert run("check", str(place())) == "no problems found\n"


def test_account_dry_binder_times_its_stated_footprint_is_the_binder_stage() -> None:
    pot = next(part for part in results().parts if part.part == "pot")
    assert pot.stages is not None
    # the other thing in the stage is warming it: 0.05 kWh per kg as used
    expected = GLUE_KG * SOLIDS * FOOTPRINT + GLUE_KG * 0.05 * results().settings.electricity_kgco2e_per_kwh
    assert pot.stages["binder"] * pot.good == pytest.approx(expected, rel=1e-9)


def test_account_interval_of_the_footprint_is_the_stated_one() -> None:
    row = results().factors_used["binder.footprint.fish-glue"].factor
    assert (row.low, row.value, row.high, row.distribution) == (1.2, FOOTPRINT, 3.0, "lognormal")
    assert (row.evidence, row.source) == ("own value", "declaration of the maker, invented")


def test_end_of_life_natural_binder_decays_with_all_of_its_stated_carbon() -> None:
    used = {name: choice.factor for name, choice in results().factors_used.items()}
    assert used["binder.doc.fish-glue"].value == pytest.approx(0.48)
    assert used["binder.fossil-share.fish-glue"].value == 0.0
    assert used["binder.docf.fish-glue"].evidence == "common practice"


def test_assumptions_name_what_another_binder_stands_in_for() -> None:
    (told,) = (item for item in results().assumptions if item.code == "binder-fish-glue")
    assert "(as of corn starch, by its kind)" in told.text
    assert "does in a landfill (as" in told.text
    assert "carbon in the dry matter" not in told.text
    assert "fish-glue (" not in told.text


def test_composting_blend_takes_the_stated_nitrogen() -> None:
    (blend,) = (blend for blend in results().blends if blend.binder == "fish-glue")
    assert "fish-glue" not in blend.not_counted
    row = results().factors.by_key["compost.carbon-nitrogen.fish-glue"][0]
    assert row.value == pytest.approx(0.48 / 0.15)


def test_composting_blend_without_nitrogen_says_that_it_is_not_counted(tmp_path: Path) -> None:
    without = OWN_BINDERS.replace('nitrogen = "15 %"\n', "")
    found = load(write_folder(tmp_path, workshop=TOML + without, batches=OWN_BATCHES)).assess(draws=20)
    (blend,) = (blend for blend in found.blends if blend.binder == "fish-glue")
    assert "fish-glue" in blend.not_counted


def test_cautions_name_the_allergens_of_each_binder() -> None:
    (caution,) = (caution for caution in results().cautions if caution.hazard == "Allergens")
    assert f"fish in {NAME}" in caution.text
    assert "1169/2011" in caution.source
    assert "milk" not in caution.text  # casein is not in the batches
    (sooner,) = (caution for caution in results().cautions if caution.hazard == "Mould growth")
    assert NAME in sooner.text


@cache
def comparison() -> Any:
    opened = folder()
    return compare_binders(opened.workshop, opened.batches, opened.factors, "pot", draws=200, names=opened.names)


def test_comparison_holds_every_own_binder_with_its_findings() -> None:
    found = {one.binder: one for one in comparison().binders}
    outcome = {name: {finding.route: finding.outcome for finding in one.findings} for name, one in found.items()}
    assert outcome["fish-glue"]["industrial"] == outcome["corn-starch"]["industrial"]
    assert outcome["casein"]["industrial"] == "unknown"  # gelatin, which it is like, is a modified polymer
    assert outcome["lime"]["industrial"] == "unknown"
    assert found["fish-glue"].cost == pytest.approx(4.0 * GLUE_KG / 36.0)


def test_binder_that_is_like_another_has_its_figures_under_its_own_name() -> None:
    rows = {row.id: row for row in folder().factors}
    for of in ("binder.footprint", "binder.solids", "binder.dose", "binder.carbon"):
        own, model = rows[f"{of}.casein"], rows[f"{of}.gelatin"]
        assert (own.value, own.low, own.high) == (model.value, model.low, model.high)
        assert own.evidence in ("own value", "common practice", "from memory")


def test_mineral_has_no_carbon() -> None:
    rows = {row.id: row for row in folder().factors}
    assert [rows[f"binder.{of}.lime"].value for of in ("carbon", "doc", "docf", "fossil-share")] == [0.0] * 4
    assert rows["binder.footprint.lime"].value == pytest.approx(0.08)


@pytest.mark.parametrize("reader", ["funder", "school", "binder"])
def test_report_names_the_binder_and_agrees_with_its_records(reader: str) -> None:
    page = unescape(product(reader, "en").content(".html").decode())
    assert NAME in page
    found = verify(prepare(place(), Request(reader, brief=reader == "funder"), FEW).content(".pdf"))
    assert found.disagreements == ()
    assert found.pages[0] == found.pages[1] > 10


@pytest.mark.parametrize(
    ("language", "words"), [("en", "Ask about allergies first"), ("es", "Pregunte antes por las alergias")]
)
def test_school_report_weighs_in_the_own_binder_and_asks_about_it(language: str, words: str) -> None:
    page = unescape(product("school", language).content(".html").decode())
    assert page.count(NAME) >= 2
    assert words in page


def test_school_report_names_the_allergens_of_a_shipped_binder(tmp_path: Path) -> None:
    batches = OWN_BATCHES.replace("fish-glue,0.2,", "barley-starch,0.2,")
    made = write_folder(tmp_path, batches=batches)
    page = unescape(produce(made, Request("school", "en"), FEW, suffix=".html").decode())
    assert "Some people cannot touch this: barley (gluten) in" in page


def test_explain_and_workbook_trace_the_stated_footprint() -> None:
    told = run("explain", str(place()), "parts.pot.footprint_kgco2e.value", "--json", "--draws", "100")
    assert "binder.footprint.fish-glue" in told
    book = openpyxl.load_workbook(BytesIO(workbook(results())))
    rows = {row[0]: row for row in book["factors"].iter_rows(min_row=4, values_only=True)}
    assert rows["binder.footprint.fish-glue"][2] == FOOTPRINT


def test_factors_list_counts_the_rows_of_the_settings_in() -> None:
    assert "binder.footprint.fish-glue" in run(
        "factors", "list", "--in", str(place()), "--text", "making glue of the harbour"
    )


def test_own_values_report_the_binder_without_shipped_figures() -> None:
    document = json.loads(run("totals", str(place()), "--json", "--draws", "100"))
    rows = {row["id"]: row for row in document["own_values"]["rows"]}
    assert rows["binder.footprint.fish-glue"]["shipped_id"] is None
    assert document["own_values"]["with_shipped"] is None


def test_footprint_of_a_binder_of_the_tables_takes_the_place_of_its_row(tmp_path: Path) -> None:
    stated = '\n[binders.pva-glue]\nfootprint = "3.5 kgCO2e/kg"\nsource = "declaration, invented"\n'
    found = load(write_folder(tmp_path, workshop=TOML + stated)).assess(draws=50)
    assert found.factors_used["binder.footprint.pva-glue"].factor.value == 3.5
    assert found.own_values is not None
    (row,) = found.own_values.rows
    assert (row.shipped_id, found.own_values.with_shipped is not None) == ("binder.footprint.pva-glue", True)


def test_own_table_wins_over_the_settings(tmp_path: Path) -> None:
    made = write_folder(tmp_path, workshop=TOML + OWN_BINDERS, batches=OWN_BATCHES)
    table = "id,value,unit,source,locator\nbinder.footprint.fish-glue,2.5,kgCO2e/kg,bill,p. 1\n"
    (made / "factors.csv").write_text(table, encoding="utf-8")
    assert load(made).assess(draws=20).factors_used["binder.footprint.fish-glue"].factor.value == 2.5


WHOLE = '\n[binders.tar]\nwhat = "synthetic"\nsolids = 0.5\nfootprint = "2 kgCO2e/kg"\nsource = "x"\n'


def test_check_unknown_binder_says_how_to_name_one_of_ones_own(tmp_path: Path) -> None:
    with pytest.raises(ProblemsError) as caught:
        load(write_folder(tmp_path, workshop=TOML + "\n[binders.tar]\nsolids = 0.5\n"))
    assert "what" in caught.value.problems[0].accepted
    assert "like" in caught.value.problems[0].accepted


@pytest.mark.parametrize(
    ("binders", "expected"),
    [
        ("\n[binders.tar]\nsolids = 0.5\n", [("unknown-binder", "binders.tar")]),
        ('\n[binders.tar]\nlike = "pva-glu"\n', [("unknown-binder", "binders.tar.like")]),
        ('\n[binders.tar]\nlike = "tar"\n', [("unknown-binder", "binders.tar.like")]),
        ('\n[binders.tar]\nwhat = "synthetic"\n', [("missing-key", "binders.tar"), ("missing-key", "binders.tar")]),
        (WHOLE.replace('source = "x"\n', ""), [("missing-key", "binders.tar")]),
        (WHOLE + 'footprint_low = "1 kgCO2e/kg"\n', [("out-of-order", "binders.tar")]),
        (WHOLE + 'footprint_low = "3 kgCO2e/kg"\nfootprint_high = "4 kgCO2e/kg"\n', [("out-of-order", "binders.tar")]),
        (WHOLE.replace("2 kgCO2e/kg", "2 kWh"), [("wrong-dimension", "binders.tar.footprint")]),
        (WHOLE.replace("synthetic", "plastic"), [("unknown-choice", "binders.tar.what")]),
        (WHOLE + 'allergens = "a;b=c"\n', [("bad-text", "binders.tar.allergens")]),
        ('\n[binders.pva-glue]\nwhat = "natural"\n', [("not-own", "binders.pva-glue.what")]),
        (WHOLE.replace("binders.tar", "binders.office"), [("unknown-binder", "binders.office")]),
        (WHOLE.replace("binders.tar", 'binders."tar pitch"'), [("unknown-binder", "binders.tar pitch")]),
    ],
)
def test_check_tells_what_is_wrong_with_a_binder_and_where(
    tmp_path: Path, binders: str, expected: list[tuple[str, str | None]]
) -> None:
    assert problems(tmp_path, binders) == expected


def test_batches_of_an_own_binder_are_read_while_other_settings_are_at_fault(tmp_path: Path) -> None:
    faulty = swap(TOML, 'country = "USA"', 'country = "XXX"')
    made = write_folder(tmp_path, workshop=faulty + OWN_BINDERS, batches=OWN_BATCHES)
    with pytest.raises(ProblemsError) as caught:
        load(made)
    assert {problem.code for problem in caught.value.problems if problem.level == "error"} == {"unknown-country"}
