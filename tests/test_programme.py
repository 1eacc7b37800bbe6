"""Folders of several workshops: sums draw by draw, countries and own factors kept apart. All records are invented."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

import impact
from impact.account.sums import Account
from impact.api import load
from impact.base.figurenames import figures
from impact.base.problems import ProblemsError
from impact.base.serial import plain
from impact.cli.commands import main
from impact.factors.factorset import FactorSet, read_factors
from impact.programme import Programme, ProgrammeResults, read_programme
from impact.records.files import workshops_in
from tests.folders import CLOSED, TOML, swap, write_folder

UK = TOML.replace('country = "USA"\nelectricity = "US-CAMX"\n', 'country = "GBR"\n')
SCHEMA = json.loads((Path(impact.__file__).parent / "schemas" / "programme.schema.json").read_text(encoding="utf-8"))
DRAWN = ("made_kgco2e", "avoided_kgco2e", "lost_recycling_kgco2e", "displaced_kgco2e", "net_kgco2e")
OWN = "id,value,unit,low,high,source,locator\nwater.supply/world,{value},kgCO2e/m3,{low},{high},{source},p1\n"


@cache
def factors(tables: Path | None = None) -> FactorSet:
    return read_factors(tables)


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr("impact.api.read_factors", factors)
    monkeypatch.setattr("impact.api.DEFAULT_DRAWS", 300)
    return None


def programme(path: Path, **sites: dict[str, Any]) -> Path:
    """Write a folder of workshops: for each name, what differs from the valid folder; `factors` is an own table."""
    for name, changes in sites.items():
        own = changes.pop("factors", None)
        write_folder(path / name, **{"batches": CLOSED, **changes})
        if own is not None:
            (path / name / "factors.csv").write_text(own, encoding="utf-8")
    return path


def opened(path: Path) -> Programme:
    found, problems = read_programme(path)
    assert problems == []
    assert found is not None
    return found


def accounts(results: ProgrammeResults) -> dict[str, Account]:
    return {site.account.name: site.account for site in results.sites}


def run(*arguments: str | Path, status: int = 0) -> Result:
    result = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert result.exit_code == status, result.output
    return result


# -- finding --------------------------------------------------------------------------------------


def test_workshops_in_takes_subfolders_with_settings_and_no_other(tmp_path: Path) -> None:
    folder = programme(tmp_path, north={}, south={})
    (folder / "reports").mkdir()
    (folder / "notes.txt").touch()
    assert [path.name for path in workshops_in(folder)] == ["north", "south"]


def test_workshops_in_of_a_workshop_or_nothing_is_empty(tmp_path: Path) -> None:
    shop = write_folder(tmp_path / "shop")
    write_folder(shop / "old")
    assert workshops_in(shop) == []
    assert workshops_in(tmp_path / "nowhere") == []


# -- sums -----------------------------------------------------------------------------------------


def test_assess_two_copies_are_twice_the_one_in_every_draw(tmp_path: Path) -> None:
    own = OWN.format(value=0.3, low=0.1, high=0.9, source="bill")
    found = opened(programme(tmp_path, a={"factors": own}, b={"factors": own})).assess()
    one = accounts(found)["a"]
    for name in DRAWN:
        np.testing.assert_allclose(getattr(found.total, name), 2.0 * getattr(one, name), rtol=1e-12)
    assert found.total.paper.kept_from_landfill_kg.value == pytest.approx(
        2.0 * one.paper.kept_from_landfill_kg.value, rel=1e-12
    )
    assert found.total.paper.landfill_diversion_rate.value == pytest.approx(
        one.paper.landfill_diversion_rate.value, rel=1e-12
    )


def test_assess_two_countries_are_kept_apart(tmp_path: Path) -> None:
    folder = programme(tmp_path, us={}, uk={"workshop": UK})
    found = opened(folder).assess()
    assert [site.settings.electricity for site in found.sites] == [
        load(folder / name).assess().settings.electricity for name in ("uk", "us")
    ]
    for name in ("us", "uk"):
        alone = load(folder / name).assess()
        assert plain(accounts(found)[name].emissions.net_kgco2e) == pytest.approx(plain(alone.net), rel=1e-12)
    first, second = accounts(found).values()
    assert first.emissions.made_kgco2e != second.emissions.made_kgco2e
    np.testing.assert_allclose(found.total.net_kgco2e, first.net_kgco2e + second.net_kgco2e, rtol=1e-12)


def test_assess_interval_of_the_sum_is_narrower_than_the_sum_of_intervals(tmp_path: Path) -> None:
    found = opened(programme(tmp_path, us={}, uk={"workshop": UK})).assess(draws=2000)
    ends = [site.account.emissions.net_kgco2e for site in found.sites]
    total = found.total.emissions.net_kgco2e
    assert total.value == pytest.approx(sum(one.value for one in ends), rel=1e-12)
    assert total.high - total.low < 0.99 * sum(one.high - one.low for one in ends)


@pytest.mark.parametrize(("source", "shared"), [("bill", True), ("another bill", False)])
def test_assess_own_rows_share_draws_only_where_they_are_the_same_row(
    tmp_path: Path, source: str, shared: bool
) -> None:
    sites = {
        name: {"factors": OWN.format(value=300, low=30, high=3000, source=words)}
        for name, words in (("a", "bill"), ("b", source))
    }
    first, second = accounts(opened(programme(tmp_path, **sites)).assess(draws=2000)).values()
    # The own row is so large that it makes up nearly all of the footprint and of its spread.
    together = np.corrcoef(first.made_kgco2e[1:], second.made_kgco2e[1:])[0, 1]
    assert bool(together > 0.99) is shared
    assert together > 0.99 or abs(together) < 0.3


# -- narrowing ------------------------------------------------------------------------------------


def test_assess_site_without_batches_in_the_period_is_left_out_with_a_warning(tmp_path: Path) -> None:
    later = CLOSED.replace("2026-01", "2026-02")
    found = opened(programme(tmp_path, a={}, b={"batches": later})).assess(
        period=(load(tmp_path / "a").batches["date"].min().date(),) * 2
    )
    assert [site.account.name for site in found.sites] == ["a"]
    assert [(problem.file, problem.code, problem.level) for problem in found.warnings] == [
        ("b/batches", "no-batches", "warning")
    ]


def test_assess_site_names_a_workshop_or_a_site_of_the_batches(tmp_path: Path) -> None:
    both = opened(programme(tmp_path, north={}, south={}))
    assert list(accounts(both.assess(site="North"))) == ["north"]
    assert {account.batches for account in accounts(both.assess(site="school")).values()} == {1.0}


def test_assess_unknown_site_names_the_workshops(tmp_path: Path) -> None:
    with pytest.raises(ProblemsError) as caught:
        opened(programme(tmp_path, north={}, south={})).assess(site="nort")
    assert caught.value.problems[0].accepted == 'north, south (did you mean "north"?)'


def test_assess_different_settings_of_method_are_a_warning(tmp_path: Path) -> None:
    other = swap(TOML, 'gwp = "AR6"', 'gwp = "AR5"')
    found = opened(programme(tmp_path, a={}, b={"workshop": other})).assess()
    assert [(problem.code, problem.column, problem.read) for problem in found.warnings] == [
        ("mixed-settings", "workshop.gwp", "a: AR6, b: AR5")
    ]


# -- commands -------------------------------------------------------------------------------------


def test_totals_json_of_a_programme_is_valid_and_its_sites_add_up(tmp_path: Path) -> None:
    document = json.loads(
        run("totals", programme(tmp_path, us={}, uk={"workshop": swap(UK, '"AR6"', '"AR5"')}), "--json").stdout
    )
    Draft202012Validator.check_schema(SCHEMA)
    Draft202012Validator(SCHEMA).validate(document)
    assert "mixed-settings" in {problem["code"] for problem in document["warnings"]}
    assert [site["site"] for site in document["sites"]] == ["uk", "us"]
    named = figures(document)
    for name in (
        "paper.collected_kg.value",
        "paper.kept_from_landfill_kg.value",
        "net_kgco2e.value",
        "batches",
        "good_parts",
    ):
        total = named[f"sites.us.{name}"] + named[f"sites.uk.{name}"]
        assert named[f"together.{name}"] == pytest.approx(total, rel=1e-12)


def test_totals_text_of_a_programme_has_a_row_for_each_site_and_the_sum(tmp_path: Path) -> None:
    text = run("totals", programme(tmp_path, us={}, uk={"workshop": UK}), "--draws", "200", "--seed", "7").stdout
    for name, times in (("us ", 3), ("uk ", 3), ("together ", 2)):
        assert sum(line.startswith(name) for line in text.splitlines()) == times
    assert "seed 7, 200 draws" in text


def test_check_of_a_programme_names_the_folder_of_every_fault(tmp_path: Path) -> None:
    broken = programme(tmp_path, a={"batches": swap(CLOSED, "pva-glue", "tar")}, b={"workshop": swap(TOML, "USA", "U")})
    document = json.loads(run("check", broken, "--json", status=1).stdout)
    assert {problem["file"] for problem in document["problems"]} == {"a/batches.csv", "b/workshop.toml"}
    assert run("totals", broken, status=1).stderr.count("error: ") == 2


def test_check_of_a_good_programme_says_so(tmp_path: Path) -> None:
    assert run("check", programme(tmp_path, a={}, b={}), "--strict").stdout == "no problems found\n"


@pytest.mark.parametrize("command", [("export",), ("breakeven", "--part", "pot"), ("forecast", "--part", "pot")])
def test_other_commands_ask_for_one_workshop(tmp_path: Path, command: tuple[str, ...]) -> None:
    extra = ("--sessions", "3", "--people", "4") if command[0] == "forecast" else ()
    text = run(command[0], programme(tmp_path, a={}, b={}), *command[1:], *extra, status=2).stderr
    assert "Workshops: a, b." in text
