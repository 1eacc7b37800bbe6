"""Own factor values: what they replace, and what the shipped tables would have given."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner

from impact.account.results import Results
from impact.api import load
from impact.base.serial import plain
from impact.cli.commands import main
from impact.factors.factorset import read_factors
from impact.study import assess
from tests.folders import CLOSED, write_folder
from tests.frames import PLAIN, batches, workshop
from tests.reports import plain_html_of

SCHEMA = json.loads(
    (Path(__file__).parents[1] / "impact" / "schemas" / "totals.schema.json").read_text(encoding="utf-8")
)
HEADER = "id,value,unit,source,locator,geography,edition\n"
GLUE = "binder.footprint.pva-glue"
GLUE_ROW = f"{GLUE},9,kgCO2e/kg,maker,letter,,\n"
CAR_ROW = "transport.car.direct/USA/own,0.5,kgCO2e/km,logbook,page 3,,\n"
UNUSED_ROW = "heat.gas/GBR/own,0.3,kgCO2e/kWh,bill,page 1,,\n"


def assessed(folder: Path, rows: str | None) -> Results:
    write_folder(folder)
    if rows is not None:
        (folder / "factors.csv").write_text(HEADER + rows, encoding="utf-8")
    return load(folder).assess(draws=200)


def own_part(results: Results) -> dict[str, Any]:
    totals = results.as_totals()
    jsonschema.validate(totals, SCHEMA)
    own: dict[str, Any] = totals["own_values"]
    return own


def test_own_values_folder_without_a_table_has_none(tmp_path: Path) -> None:
    results = assessed(tmp_path, None)
    assert own_part(results) is None
    assert load(tmp_path).with_shipped() is None
    assert "Own values of the workshop" not in plain_html_of(results)


def test_own_values_replaced_row_gives_both_values_and_the_shipped_headline(tmp_path: Path) -> None:
    plain = assessed(tmp_path / "plain", None)
    results = assessed(tmp_path / "own", GLUE_ROW)
    own = own_part(results)
    shipped = read_factors().choose(GLUE, ("world",)).factor.value
    assert own["rows"] == [
        {"id": GLUE, "unit": "kgCO2e/kg", "value": 9.0, "shipped_id": GLUE, "shipped_value": shipped}
    ]
    expected = plain.as_totals()
    alone = own["with_shipped"]
    for name in ("made_kgco2e", "net_kgco2e"):
        assert alone[name] == expected[name]
        assert alone[name] != results.as_totals()[name]
    assert alone["avoided_kgco2e"] == expected["disposal"]["avoided_kgco2e"]
    assert alone["parts"] == [
        {"part": part["part"], "footprint_kgco2e": part["footprint_kgco2e"]} for part in expected["parts"]
    ]


def test_own_values_row_that_stands_beside_the_shipped_names_the_one_it_displaces(tmp_path: Path) -> None:
    plain = assessed(tmp_path / "plain", None)
    (used,) = [choice.factor for choice in plain.factors_used.values() if choice.factor.key == "transport.car.direct"]
    (row,) = own_part(assessed(tmp_path / "own", CAR_ROW))["rows"]
    assert (row["id"], row["value"]) == ("transport.car.direct/USA/own", 0.5)
    assert (row["shipped_id"], row["shipped_value"]) == (used.id, used.value)


def test_own_values_row_that_nothing_uses_is_not_listed(tmp_path: Path) -> None:
    assert own_part(assessed(tmp_path / "none", UNUSED_ROW)) is None
    assert [row["id"] for row in own_part(assessed(tmp_path / "one", UNUSED_ROW + GLUE_ROW))["rows"]] == [GLUE]


def test_own_values_keep_the_narrowing_and_the_seed(tmp_path: Path) -> None:
    assessed(tmp_path / "own", GLUE_ROW)
    assessed(tmp_path / "plain", None)
    options = {"draws": 150, "seed": 5, "part": "pot"}
    results = load(tmp_path / "own").assess(**options)  # type: ignore[arg-type]
    shipped = load(tmp_path / "plain").assess(**options)  # type: ignore[arg-type]
    assert own_part(results)["with_shipped"]["net_kgco2e"] == plain(shipped.net)


def test_render_html_with_own_values_shows_both_columns(tmp_path: Path) -> None:
    page = plain_html_of(assessed(tmp_path, GLUE_ROW))
    assert "Own values of the workshop" in page
    assert "With shipped values alone" in page
    assert "pot, g\u00a0CO₂e per good part" in page


@pytest.mark.parametrize(("rows", "doubted"), [(None, True), (GLUE_ROW, False)])
def test_assumptions_white_glue_of_the_shipped_table_is_doubted(
    tmp_path: Path, rows: str | None, doubted: bool
) -> None:
    results = assessed(tmp_path, rows)
    found = [item for item in results.assumptions if item.code == "pvac-footprint"]
    assert len(found) == doubted
    for item in found:
        total = sum(abs(amount) for part in results.parts for amount in part.by_line.values())
        glue = sum(
            abs(amount) for part in results.parts for line, amount in part.by_line.items()
            if line.account == "binder" and line.item == "pva-glue" and line.activity == "dry binder"
        )  # fmt: skip
        assert glue > 0.0
        assert f"{100 * glue / total:.0f}\u00a0%" in item.text
        assert item.weighty == (glue / total > 0.1)


@pytest.mark.parametrize(("binder_kg", "weighty"), [(0.0002, False), (0.2, True)])
def test_assumptions_white_glue_is_weighty_from_a_tenth_of_the_footprint(binder_kg: float, weighty: bool) -> None:
    row = {**PLAIN, "binder": "pva-glue", "binder_kg": binder_kg, "binder_solids": 0.5}
    results = assess(workshop(), batches([row]), read_factors(), draws=100)
    (found,) = [item for item in results.assumptions if item.code == "pvac-footprint"]
    assert found.weighty is weighty


@pytest.mark.parametrize("command", ["check", "totals"])
def test_own_rows_of_a_material_that_none_can_be_are_one_problem(tmp_path: Path, command: str) -> None:
    write_folder(tmp_path, batches=CLOSED)
    rows = (
        "id,value,unit,low,high,distribution,source,locator",
        "compost.target.carbon-highest,0.999,1,,,fixed,lab,p1",
        "compost.nitrogen.corrugated,0.5,1,,,fixed,lab,p1",
    )
    (tmp_path / "factors.csv").write_text("\n".join(rows), encoding="utf-8")
    done = CliRunner().invoke(main, [command, str(tmp_path)])
    assert done.exit_code == 1
    read = "compost.target.carbon-highest, compost.nitrogen.corrugated"
    told = "rows for composting make a material that none can be"
    assert f'factors.csv, row 2, column "value": read "{read}": {told}' in done.output
    assert done.output.count("error: ") == 1
