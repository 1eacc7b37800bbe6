"""What the commands share: whole summaries, defaults that are told and true, one meaning for one option, plain numbers."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import click
import pytest
from click.testing import CliRunner

from impact.api import Folder, load
from impact.base.defaults import DEFAULT_DRAWS, DEFAULT_SEED, FORECAST_DRAWS
from impact.base.printing import FIGURE, STEP, chance
from impact.cli.commands import main
from impact.cli.totals_text import MORE, as_text
from impact.decisions.binders import compare_binders
from impact.decisions.forecast import forecast
from impact.factors.values import generator
from impact.findings.net import COUNTED
from impact.records.demonstration import DEMO
from impact.records.selection import filter_batches, parse_period
from impact.report.kinds import KINDS
from impact.study import assess
from tests.frames import PLAIN, batches, workshop

NARROWED = ("totals", "explain", "report", "export", "breakeven", "binders", "forecast")
TRAY = ("--part", "crate-corner", "--draws", "100")
DAYS = "2026-01-01..2026-08-15"


@cache
def demo() -> Folder:
    return load(DEMO)


def run(*arguments: str, width: int = 80) -> str:
    done = CliRunner().invoke(main, arguments, terminal_width=width, env={"COLUMNS": str(width)})
    assert done.exit_code == 0, done.output
    return done.stdout


def document(command: str, *arguments: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(run(command, str(DEMO), *TRAY, *arguments, "--json"))
    return found


# -- help -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("group", [main, main.commands["factors"]], ids=["impact", "factors"])
@pytest.mark.parametrize("width", [80, 50])
def test_help_of_a_group_shows_every_summary_whole(group: click.Group, width: int) -> None:
    path = [] if group is main else ["factors"]
    told = " ".join(run(*path, "--help", width=width).partition("Commands:")[2].split())
    assert "..." not in told
    assert "…" not in told
    for name, command in group.commands.items():
        first = " ".join(re.split(r"(?<=\.)\s", (command.help or "").strip())[0].split())
        assert f" {name} {first}" in f" {told}"


def test_help_of_a_group_has_one_line_for_each_command_in_80_columns() -> None:
    listed = run("--help").partition("Commands:\n")[2].splitlines()
    assert [line.split()[0] for line in listed] == sorted(main.commands)


# -- one meaning ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NARROWED)
def test_commands_that_count_batches_take_the_same_options(name: str) -> None:
    known = {option.name: option for option in main.commands[name].params}
    assert {"period", "part", "site", "grant", "seed", "draws"} <= set(known)
    for shared in ("period", "site", "grant", "seed"):
        assert known[shared].help == next(one.help for one in main.commands["totals"].params if one.name == shared)  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", NARROWED)
def test_help_tells_the_seed_and_the_draws_taken_by_default(name: str) -> None:
    told = " ".join(run(name, "--help").split())
    draws = FORECAST_DRAWS if name == "forecast" else DEFAULT_DRAWS
    assert f"{DEFAULT_SEED} by default" in told
    assert f"{draws} by default" in told


def test_defaults_told_are_those_used() -> None:
    found = json.loads(run("forecast", str(DEMO), "--part", "tool-tray", "--json"))
    term = KINDS["school"].answers({})
    assert {name: found[name] for name in term} == term
    assert (found["seed"], found["draws"]) == (DEFAULT_SEED, FORECAST_DRAWS)
    told = " ".join(run("forecast", "--help").split())
    school = " ".join(run("report", "--help").split())
    for number in (term["sessions"], term["people"]):
        assert f"[default: {number};" in told
        assert f"; {number} by default." in school


NARROWING = (["--period", DAYS], ["--site", "outreach"], ["--period", DAYS, "--site", "bench"])


def _kept(options: list[str]) -> dict[str, Any]:
    given = dict(zip(options[::2], options[1::2], strict=True))
    return {"period": parse_period(given["--period"]) if "--period" in given else None, "site": given.get("--site")}


@pytest.mark.parametrize("options", NARROWING, ids=" ".join)
def test_binders_narrowed_count_the_batches_named_and_no_others(options: list[str]) -> None:
    rows = filter_batches(demo().batches, part="crate-corner", **_kept(options))
    found = document("binders", *options)
    used = {one["binder"]: one["batches"] for one in found["binders"]}
    assert 0 < sum(used.values()) == len(rows) < len(filter_batches(demo().batches, part="crate-corner"))
    assert found["period"] == {"start": str(rows["date"].min().date()), "end": str(rows["date"].max().date())}
    assert f"{found['period']['start']} to {found['period']['end']}" in run("binders", str(DEMO), *TRAY, *options)


@pytest.mark.parametrize("options", NARROWING[:1], ids=" ".join)
def test_forecast_narrowed_draws_from_the_batches_named_and_counts_all_for_the_target(options: list[str]) -> None:
    rows = filter_batches(demo().batches, part="crate-corner", **_kept(options))
    whole, found = document("forecast"), document("forecast", *options)
    assert found["batches"] == len(rows) < whole["batches"]
    assert found["good_parts"] != whole["good_parts"]
    for name in ("so_far_kg", "spacing_days", "last_session", "date_at_pace"):
        assert found["target"][name] == whole["target"][name], name


def test_forecast_and_binders_of_a_retired_mould_share_it_over_all_that_it_made() -> None:
    rows = [{**PLAIN, "binder": "pva-glue", "binder_kg": 0.1, "binder_solids": 0.5, "date": f"2026-0{month}-01"} for month in range(1, 8)]  # fmt: skip
    old = workshop()
    old = replace(old, moulds={name: replace(mould, retired=True) for name, mould in old.moulds.items()})
    every = batches(rows)
    some = every[:6]
    names, factors = demo().names, demo().factors
    made = assess(old, some, factors, draws=100, all_batches=every, names=names).parts[0].footprint
    apart = assess(old, some, factors, draws=100, names=names).parts[0].footprint
    found = compare_binders(old, some, factors, "pot", draws=100, all_batches=every, names=names)
    assert made is not None
    assert apart is not None
    assert found.binders[0].footprint.value == pytest.approx(made.value, rel=1e-12)
    assert made.value < apart.value

    def plan(**more: Any) -> float:
        term = KINDS["school"].answers({})
        rng = generator(1, "forecast")
        planned = forecast(old, some, factors, part="pot", rng=rng, draws=100, names=names, **term, **more)
        assert planned.difference_kgco2e is not None
        return planned.difference_kgco2e.value

    assert plan(all_batches=every) < plan()


# -- numbers ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("style", [FIGURE, STEP])
@pytest.mark.parametrize(
    ("value", "text"),
    [
        (12_345_678.4, "12345678"),
        (-2.5e9, "-2500000000"),
        (1e6, "1000000"),
        (99_999.96, None),
        (0.5, "0.5"),
        (0.0, "0"),
    ],
)
def test_style_large_numbers_have_all_their_digits(
    style: Callable[[float], str], value: float, text: str | None
) -> None:
    printed = style(value)
    assert "e" not in printed
    assert float(printed) == pytest.approx(value, rel=1e-3)
    assert text is None or printed == text


def test_totals_of_a_large_workshop_have_no_powers_of_ten() -> None:
    scaled = ("_kg", "_kwh", "_l", "good_parts", "rejects")
    heavy = {name: 1e6 * value for name, value in PLAIN.items() if name.endswith(scaled) and name != "part_mass_kg"}
    found = assess(workshop(), batches([{**PLAIN, **heavy}]), demo().factors, draws=100, names=demo().names)
    assert found.made.value > 1e5
    assert re.findall(r"\d[eE][+]?\d", as_text(found, everything=True)) == []


# -- what totals print ------------------------------------------------------------------------------------------------


def test_totals_print_the_main_tables_and_with_all_the_rest() -> None:
    results = demo().assess(draws=100)
    short, whole = as_text(results).splitlines(), as_text(results, everything=True).splitlines()
    assert set(short) - set(whole) == {MORE}
    assert len(short) < 0.65 * len(whole)
    assert json.loads(run("totals", str(DEMO), "--draws", "100", "--json")) == results.as_totals()
    titles = (
        "A case: the plastic part",
        "Credit for electricity",
        "unfavourable, ends",
        "Net account in other ways",
        "One kg of paper saves",
    )
    for title in titles:
        assert not any(title in line for line in short), title
        assert any(title in line for line in whole), title


def test_totals_main_tables_keep_what_speaks_against_the_workshop() -> None:
    results = demo().assess(draws=100)
    text = as_text(results)
    ends, counted = results.at_ends.common_practice.net, results.net_account.cases[COUNTED]
    assert f"{FIGURE(ends.favourable)} to {FIGURE(ends.unfavourable)}" in text
    assert FIGURE.interval(counted.without_plastic_kgco2e) in text
    for use in results.uses_by_grade:
        assert f"{use.grade} {chance(use.chance_recycling)}" in text
    for part in results.parts:
        assert part.recycled is None or f"{part.part} {chance(part.recycled.chance_lower)}" in text


@pytest.mark.parametrize(("share", "says"), [(0.0, "under 1%"), (0.42, "42%"), (1.0, "over 99%"), (None, "-")])
def test_chances_in_the_terminal_never_say_never_or_always(share: float | None, says: str) -> None:
    assert chance(share) == says
