"""Own factor rows for other places: the rows that a workshop needs stay, and what an own row calls for is asked for."""

from __future__ import annotations

from pathlib import Path

import pytest

from impact.api import read_folder
from impact.factors.factorset import FactorSet, read_factors
from impact.factors.own import read_own_factors
from impact.factors.rows import Factor
from tests.folders import write_folder

HEADER = "id,value,unit,source,locator,geography,edition,low,high,distribution\n"


def row_of(factor: Factor, place: str, tail: str = "") -> str:
    """Return an own row with the figures of a shipped one, for a place."""
    spread = "uniform" if factor.low < factor.high else "fixed"
    ends = f"{factor.low!r},{factor.high!r}" if factor.low < factor.high else ","
    edition = factor.edition if "/" in factor.id else ""
    return f"{factor.key}{tail},{factor.value!r},{factor.unit},invented,letter,{place},{edition},{ends},{spread}\n"


def own_set(folder: Path, rows: str) -> tuple[FactorSet, list[tuple[int | None, str | None, str]]]:
    """Return the factor set with own rows, and row, column and code of each problem."""
    (folder / "factors.csv").write_text(HEADER + rows, encoding="utf-8")
    found, problems = read_own_factors(folder / "factors.csv", read_factors())
    return found, [(one.row, one.column, one.code) for one in problems]


@pytest.mark.parametrize("place", ["DEU", "world", "Moon"])
def test_read_own_factors_rows_for_another_place_leave_each_place_with_a_row(tmp_path: Path, place: str) -> None:
    shipped = read_factors()
    plain = [factor for factor in shipped if "/" not in factor.id]
    (tmp_path / "factors.csv").write_text(HEADER + "".join(row_of(factor, place) for factor in plain), encoding="utf-8")
    found, problems = read_own_factors(tmp_path / "factors.csv", shipped)
    assert {problem.code for problem in problems} <= {"shares-total"}
    assert {(factor.key, factor.geography) for factor in shipped} <= {(row.key, row.geography) for row in found}
    assert len({factor.id for factor in found}) == len(list(found))
    elsewhere = [factor for factor in plain if factor.geography != place]
    assert elsewhere
    assert {factor.id for factor in elsewhere} <= {factor.id for factor in found if not factor.is_own}


@pytest.mark.parametrize("key", [
    "drying.energy.fan", "drying.latent-heat", "drying.pressed-solids", "compost.nitrogen.pva-glue",
    "compost.carbon-nitrogen.corrugated", "claim.threshold.recyclable-access", "claim.threshold.review-panel",
    "claim.threshold.eu-2024-825-applies", "compost.target.carbon-nitrogen", "compost.limit.CAN.Cu", "safety.paper-dust.total",
])  # fmt: skip
def test_assess_own_row_for_another_place_gives_the_figures_without_it(tmp_path: Path, key: str) -> None:
    write_folder(tmp_path)
    shipped = read_factors().by_key.get(key)
    if shipped is None:
        rows = f"{key},0.01,1,invented,letter,DEU,,,,\n".replace(",1,", ",mg/kg,") if "limit" in key else (
            f"{key},0.01,{'mg/m3' if 'dust' in key else '1'},invented,letter,DEU,,,,\n"
        )  # fmt: skip
        places = ["DEU"]
    else:
        places = [place for place in ("DEU", "world") if all(row.geography != place for row in shipped)]
        rows = "".join(
            row_of(shipped[0], place).replace(key, f"{key}/{place}" if n else key) for n, place in enumerate(places)
        )
    assert places
    folder, _ = read_folder(tmp_path)
    assert folder is not None
    before = folder.assess(draws=2)
    (tmp_path / "factors.csv").write_text(HEADER + rows, encoding="utf-8")
    folder, problems = read_folder(tmp_path)
    assert folder is not None, problems
    after = folder.assess(draws=2)
    if places == ["DEU"]:  # the workshop is in the USA
        assert (after.net, after.findings, after.cautions) == (before.net, before.findings, before.cautions)
    assert after.claims.supported


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        ("electricity.direct/FRA,0.1,kgCO2e/kWh,bill,p1,,,,,\n", [(2, "id", "lonely-row")]),
        ("electricity.direct/FRA,0.1,kgCO2e/kWh,bill,p1,,,,,\nelectricity.upstream/FRA,0.1,kgCO2e/kWh,bill,p1,,,,,\n", []),
        ("electricity.direct/US-CAMX/own,0.1,kgCO2e/kWh,bill,p1,,,,,\n", []),
        ("polymer.carbon.aluminium,0.1,kg/kg,maker,p1,,,,,\n", [(2, "id", "lonely-row")]),
        ("binder.footprint-as-sold.lime,0.1,kgCO2e/kg,maker,p1,,,,,\n", [(2, "id", "lonely-row")]),
        ("drying.latent-heat,0.7,kWh/kg,b,p,DEU,,,,\ndrying.latent-heat/DEU,0.7,kWh/kg,b,p,,,,,\n", [(3, "id", "duplicate-id")]),
        ("drying.latent-heat,0.7,kWh/kg,b,p,DEU,,,,\ndrying.latent-heat,0.7,kWh/kg,b,p,FRA,,,,\n", [(3, "id", "duplicate-id")]),
    ],
)  # fmt: skip
def test_read_own_factors_row_without_what_it_calls_for_is_told(
    tmp_path: Path, rows: str, expected: list[tuple[int, str, str]]
) -> None:
    assert own_set(tmp_path, rows)[1] == expected


def test_read_own_factors_place_in_the_id_or_beside_it_replaces_the_same_row(tmp_path: Path) -> None:
    for name in ("drying.latent-heat", "drying.latent-heat/world"):
        found, problems = own_set(tmp_path, f"{name},0.7,kWh/kg,bill,p1,world,,,,\n")
        assert problems == []
        assert [row.value for row in found.by_key["drying.latent-heat"]] == [0.7]


@pytest.mark.parametrize(("cells", "column"), [("1e-300,kWh/kg,b,p,,,,,", "value"), ("1e13,kWh/kg,b,p,,,,,", "value"),
    ("0.5,kWh/kg,b,p,,,1e-200,0.7,lognormal", "low"), ("0.5,kWh/kg,b,p,,,0.4,1e200,lognormal", "high")])  # fmt: skip
def test_read_own_factors_value_or_end_out_of_all_proportion_is_told(tmp_path: Path, cells: str, column: str) -> None:
    assert own_set(tmp_path, f"drying.energy.fan,{cells}\n")[1] == [(2, column, "out-of-range")]
