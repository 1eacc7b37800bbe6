"""The figures of a period beside those of another: the change, and which draws the two share. All records are invented."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from impact.account.results import Interval
from impact.account.sums import account_of
from impact.api import Folder, load
from impact.base.problems import ProblemsError
from impact.base.serial import plain
from impact.beside import PAPER, TOLD, Beside
from impact.cli.commands import main
from impact.cli.totals_text import as_text
from impact.records.demonstration import DEMO
from impact.report.context import compose
from impact.report.evidence import as_toml
from impact.report.production import Narrowing, compose_from, prepare, settings_of
from impact.report.proof.carried import NoReportError
from impact.report.proof.settings import read_settings
from impact.report.request import Request
from impact.study import Study
from tests.reading import texts_by_name
from tests.reports import british, plain_html_of
from tests.schemas import validate

SPRING = (date(2026, 4, 1), date(2026, 6, 30))
WINTER = (date(2026, 1, 1), date(2026, 3, 31))


@cache
def folder() -> Folder:
    return load(DEMO)


@cache
def both() -> Study:
    return folder().assess(draws=2000, period=SPRING, beside=WINTER)


@cache
def alone() -> Study:
    return folder().assess(draws=2000, period=WINTER)


def other() -> Beside:
    found = both().beside
    assert found is not None
    return found


def twin(path: Path) -> Path:
    """Return a copy of the demo with the batches of its first quarter alone, and the same again a year before."""
    shutil.copytree(DEMO, path)
    header, *rows = (path / "batches.csv").read_text(encoding="utf-8").splitlines()
    first = [row for row in rows if row.split(",")[1] <= "2026-03-31"]
    before = ["0" + row.replace("2026-", "2025-", 1) for row in first]
    (path / "batches.csv").write_text("\n".join([header, *before, *first]) + "\n", encoding="utf-8")
    return path


def test_beside_the_other_column_is_the_report_of_that_period() -> None:
    found, mine = other(), alone()
    assert (found.batches.then, found.start, found.end, found.earlier) == (mine.batches, *WINTER, True)
    for name in PAPER:
        assert found.paper[name].then == getattr(mine.paper, name)
        assert found.paper[name].now == getattr(both().paper, name)
    assert found.paper["landfill_diversion_rate"].then == mine.paper.landfill_diversion_rate
    assert found.account["net_kgco2e"].then == Interval.of(account_of(mine, "").net_kgco2e)
    assert [one.footprint_kgco2e.then for one in found.parts] == [mine.part(one.part).footprint for one in found.parts]


def test_beside_a_change_is_the_difference_and_told_by_its_interval() -> None:
    figures = [*other().paper.values(), *other().account.values(), *(part.footprint_kgco2e for part in other().parts)]
    for figure in figures:
        assert None not in (figure.now, figure.then, figure.change)
        assert figure.change.value == pytest.approx(figure.now.value - figure.then.value, rel=1e-9, abs=1e-12)
        sides = (figure.change.low > 0.0, figure.change.high < 0.0)
        assert figure.told == {(True, False): "more", (False, True): "less"}.get(sides, "not told apart")
    assert {figure.told for figure in figures} == {"more", "less", "not told apart"}
    assert set(TOLD.values()) >= {figure.told for figure in figures}


def width(figure: Interval | None) -> float:
    assert figure is not None
    return figure.high - figure.low


def test_beside_weighings_of_two_periods_err_apart() -> None:
    """The variances of independent errors add up (JCGM 100:2008, 5.1.2, for a difference)."""
    figure = other().paper["collected_kg"]
    assert width(figure.change) == pytest.approx(np.hypot(width(figure.now), width(figure.then)), rel=0.05)


def test_beside_factors_are_drawn_once_for_both() -> None:
    for name in ("avoided_kgco2e", "made_kgco2e", "displaced_plastic_kgco2e"):
        figure = other().account[name]
        assert width(figure.change) < 0.8 * np.hypot(width(figure.now), width(figure.then))


def test_beside_the_same_batches_a_year_before_are_told_apart_in_nothing(tmp_path: Path) -> None:
    found = load(twin(tmp_path / "twin")).assess(
        draws=500, period=(date(2026, 1, 1), date(2026, 12, 31)), beside=(date(2025, 1, 1), date(2025, 12, 31))
    )
    assert found.beside is not None
    one = found.beside
    assert (one.batches.change, one.good_parts.change, one.days.change) == (0, 0.0, 0)
    for figure in (*one.paper.values(), *one.account.values(), *(part.footprint_kgco2e for part in one.parts)):
        assert figure.change is not None
        assert figure.change.value == pytest.approx(0.0, abs=1e-9)
        assert figure.told in ("not told apart", "the same")  # counts of parts have no error
    # the mould's rating, factors and the audit of the bins are the same: far narrower than either period
    assert width(one.account["net_kgco2e"].change) < 0.2 * width(one.account["net_kgco2e"].now)


def test_drawn_anew_changes_errors_of_weighing_alone() -> None:
    values = folder().assess(draws=200, period=WINTER).values
    anew = values.drawn_anew("collected", "blending")
    for name, evidence, same in (
        ("collected", "weighed", False), ("blending", "metered", False), ("blending", "nameplate", True),
        ("collected", "estimated", True), ("plastic mass", "weighed", True),
    ):  # fmt: skip
        one, two = values.spread(name, evidence), anew.spread(name, evidence)
        assert np.array_equal(one, two) == same, (name, evidence)
        assert one[0] == two[0]
    key = next(iter(values.used.values())).factor.key
    assert values.get(key) is anew.get(key)


def test_beside_under_a_grant_scales_both(tmp_path: Path) -> None:
    path = shutil.copytree(DEMO, tmp_path / "shop")
    toml = path / "workshop.toml"
    toml.write_text(
        toml.read_text(encoding="utf-8")
        + '\n[[grants]]\nname = "City"\nstart = 2026-01-01\nend = 2026-06-30\nshare = 0.5\n',
        encoding="utf-8",
    )
    found = load(path).assess(draws=2000, period=SPRING, beside=WINTER, grant="City").beside
    assert found is not None
    for name in ("collected_kg", "kept_from_landfill_kg"):
        half, whole = found.paper[name], other().paper[name]
        for ours, theirs in ((half.now, whole.now), (half.then, whole.then), (half.change, whole.change)):
            assert ours is not None
            assert theirs is not None
            assert (ours.value, ours.low, ours.high) == pytest.approx(
                (theirs.value / 2, theirs.low / 2, theirs.high / 2), rel=1e-9
            )
    assert found.paper["landfill_diversion_rate"] == pytest.approx(other().paper["landfill_diversion_rate"])
    with pytest.raises(ProblemsError) as raised:
        load(path).assess(draws=200, period=SPRING, beside=(date(2025, 1, 1), date(2025, 12, 31)), grant="City")
    assert "the grant City has no day" in str(raised.value.problems[0])
    assert raised.value.problems[0].accepted == "days from 2026-01-01 to 2026-06-30"


@pytest.mark.parametrize(
    ("beside", "said"),
    [
        ((date(2026, 3, 1), date(2026, 4, 1)), "has days in common with this one, 2026-04-01 to 2026-06-30"),
        ((date(2025, 1, 1), date(2025, 12, 31)), "beside, 2025-01-01 to 2025-12-31: no batch is left"),
    ],
)
def test_beside_a_period_that_cannot_stand_there_is_refused(beside: tuple[date, date], said: str) -> None:
    with pytest.raises(ProblemsError) as raised:
        folder().assess(draws=100, period=SPRING, beside=beside)
    (problem,) = raised.value.problems
    assert said in problem.message
    assert "2026-0" in str(problem.accepted)


def test_beside_tells_the_problems_of_both_periods_at_once() -> None:
    with pytest.raises(ProblemsError) as raised:
        folder().assess(draws=100, period=(date(2024, 1, 1),) * 2, beside=(date(2023, 1, 1),) * 2)
    assert [one.message.partition(":")[0] for one in raised.value.problems] == [
        "no batch is left after narrowing by period, part, site and grant", "beside, 2023-01-01 to 2023-01-01",
    ]  # fmt: skip


def test_totals_beside_as_json_and_text() -> None:
    found = plain(both())
    validate("totals", found)
    assert "beside" not in plain(alone())
    assert found["beside"]["period"] == {"start": "2026-01-01", "end": "2026-03-31"}
    text = as_text(both())
    assert "2026-01-01 to 2026-03-31" in text
    line = next(line for line in text.splitlines() if line.startswith("batches"))
    assert line.split() == ["batches", "27", "31", "-4", "counted"]


def test_report_beside_prints_both_periods_and_the_sentence(tmp_path: Path) -> None:
    small, day = load(british(tmp_path / "small")), date(2026, 1, 5)
    found = small.assess(draws=100, period=(date(2026, 1, 6), date(2026, 1, 31)), beside=(day, day))
    page = plain_html_of(found)
    assert "Beside the period before" in page
    assert "baseline" in page
    assert "beside.paper.collected_kg.change.value" in texts_by_name(page)
    assert 'id="f.words.beside"' in page
    brief = plain_html_of(found, Request(brief=True))
    assert 'id="f.words.beside"' in brief
    assert 'href="#beside"' not in brief
    assert 'id="beside"' not in plain_html_of(replace(found, beside=None))


def test_report_beside_is_made_again_from_its_settings(tmp_path: Path) -> None:
    asked = Narrowing(
        draws=100, period=(date(2026, 1, 6), date(2026, 1, 31)), beside=(date(2026, 1, 1), date(2026, 1, 5))
    )
    product = prepare(british(tmp_path / "small"), Request(brief=True), asked)
    request, narrowing = read_settings(product.files()).request()
    assert (request, narrowing.beside, narrowing.period) == (product.report.request, asked.beside, asked.period)
    again = compose_from(product.records, product.tables, request, narrowing)
    assert again.document == product.report.document
    assert again.document["beside"]["period"] == {"start": "2026-01-01", "end": "2026-01-05"}


@pytest.mark.parametrize("kind", ["school", "funder"])
def test_settings_beside_of_a_stranger_are_checked(kind: str, tmp_path: Path) -> None:
    report = compose(both(), Request(kind))
    narrowing = Narrowing(beside=WINTER if kind == "school" else WINTER[::-1])
    settings = as_toml(settings_of(report, narrowing, {}))
    with pytest.raises(
        NoReportError, match=r"no other period beside|beside_first_day and beside_last_day are no period"
    ):
        read_settings({"settings.toml": settings})


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["report", str(DEMO), "--for", "school", "--beside", "2026-Q1"], "--beside belongs to --for funder"),
        (["report", str(DEMO), "--beside", "2026-0"], "this is no period"),
        (["totals", str(DEMO.parent / "demo" / ".."), "--beside", "2026-Q1"], "--beside"),
    ],
)
def test_beside_command_says_what_is_wrong(arguments: list[str], said: str) -> None:
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == 2
    assert said in done.output


def test_totals_command_takes_beside() -> None:
    arguments = ["totals", str(DEMO), "--period", "2026-Q2", "--beside", "2026-Q1", "--draws", "100", "--json"]
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == 0, done.output
    assert json.loads(done.output)["beside"]["batches"] == {"now": 27, "then": 31, "change": -4}
