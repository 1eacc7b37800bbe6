"""Grants: their days and shares, and kilograms that two of them would count."""

from __future__ import annotations

import json
import re
import shutil
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from impact.account.results import Results
from impact.api import load
from impact.base.problems import Problem, ProblemsError
from impact.cli.commands import main
from impact.records.demonstration import DEMO
from impact.records.grants import Overlap, grant_named, overlaps
from impact.records.statements import Grant
from impact.records.workshop import Origin
from impact.records.workshop_file import read_workshop
from impact.report.production import Narrowing
from impact.report.request import Request
from tests.folders import NAMES, TOML, read_valid, triples, write_folder

SPRING = '[[grants]]\nname = "City fund"\nstart = 2026-01-01\nend = 2026-06-30\nshare = 0.6\n'
SUMMER = '[[grants]]\nname = "Bank"\nstart = 2026-04-01\nend = 2026-09-30\nshare = 0.5\n'


def day(text: str) -> date:
    return date.fromisoformat(text)


def demo_with(tmp_path: Path, text: str) -> Path:
    folder = tmp_path / "shop"
    shutil.copytree(DEMO, folder)
    path = folder / "workshop.toml"
    own = path.read_text(encoding="utf-8").partition("[[grants]]")[0]  # without the grant of the demo
    path.write_text(own + "\n" + text, encoding="utf-8")
    return folder


# -- reading --------------------------------------------------------------------------------------


def test_read_workshop_grants_and_origins_are_read(tmp_path: Path) -> None:
    more = (
        '[origin.corrugated]\npost_consumer = "90 %"\nevidence = "asked the shop"\n[origin.office]\npost_consumer = 0\n'
    )
    text = TOML + more + SPRING.replace("share = 0.6\n", "")
    workshop = read_valid(write_folder(tmp_path, workshop=text))
    assert workshop.grants == (Grant("City fund", day("2026-01-01"), day("2026-06-30"), 1.0),)
    assert workshop.origins == {"corrugated": Origin(0.9, "asked the shop"), "office": Origin(0.0)}


@pytest.mark.parametrize(
    ("old", "new", "key", "code"),
    [
        ("share = 0.5", "share = 0", "grants.2.share", "not-positive"),
        ("share = 0.5", "share = 1.5", "grants.2.share", "bad-share"),
        ("share = 0.5", "shares = 0.5", "grants.2.shares", "unknown-key"),
        ("start = 2026-04-01", 'start = "April"', "grants.2.start", "bad-date"),
        ('name = "Bank"', 'name = ""', "grants.2.name", "missing-value"),
    ],
)
def test_read_workshop_broken_grant_is_named_with_its_line(
    tmp_path: Path, old: str, new: str, key: str, code: str
) -> None:
    text = TOML + SPRING + SUMMER
    _, problems = read_workshop(write_folder(tmp_path, workshop=text.replace(old, new)), NAMES)
    line = text.count("\n", 0, text.index(old)) + 1
    assert triples(problems) == [("workshop.toml", line, key, code)]


def test_read_workshop_grant_without_its_end_points_to_its_own_table(tmp_path: Path) -> None:
    text = TOML + SPRING + SUMMER.replace("end = 2026-09-30\n", "")
    _, problems = read_workshop(write_folder(tmp_path, workshop=text), NAMES)
    line = (TOML + SPRING).count("\n") + 1
    assert triples(problems) == [("workshop.toml", line, "grants.2.end", "missing-key")]


def test_read_workshop_grant_that_ends_before_it_starts_is_refused(tmp_path: Path) -> None:
    text = TOML + SPRING + SUMMER.replace("2026-09-30", "2026-03-31")
    _, problems = read_workshop(write_folder(tmp_path, workshop=text), NAMES)
    assert triples(problems) == [("workshop.toml", (TOML + SPRING).count("\n") + 1, "grants.2", "bad-period")]


def test_read_workshop_grants_of_one_name_are_refused(tmp_path: Path) -> None:
    text = TOML + SPRING + SUMMER.replace("Bank", "city-fund")
    _, problems = read_workshop(write_folder(tmp_path, workshop=text), NAMES)
    assert [(problem.column, problem.code) for problem in problems] == [("grants", "duplicate-name")]


def test_read_workshop_single_brackets_are_no_list_of_grants(tmp_path: Path) -> None:
    _, problems = read_workshop(write_folder(tmp_path, workshop=TOML + SPRING.replace("[[grants]]", "[grants]")), NAMES)
    assert [(problem.column, problem.code) for problem in problems] == [("grants", "wrong-type")]
    assert "[[grants]]" in str(problems[0])


@pytest.mark.parametrize(
    ("grade", "share", "code"),
    [("thermal", "0.9", "excluded-grade"), ("corugated", "0.9", "unknown-grade"), ("office", "1.2", "bad-share")],
)
def test_read_workshop_broken_origin_is_named(tmp_path: Path, grade: str, share: str, code: str) -> None:
    text = TOML + f"[origin.{grade}]\npost_consumer = {share}\n"
    _, problems = read_workshop(write_folder(tmp_path, workshop=text), NAMES)
    assert [problem.code for problem in problems] == [code]


# -- days counted more than once ------------------------------------------------------------------


def test_overlaps_days_that_two_grants_share_are_named_with_the_sum() -> None:
    grants = (
        Grant("City fund", day("2026-01-01"), day("2026-06-30"), 0.6),
        Grant("Bank", day("2026-04-01"), day("2026-09-30"), 0.5),
    )
    (found,) = overlaps(grants)
    assert found == Overlap(day("2026-04-01"), day("2026-06-30"), ("City fund", "Bank"), pytest.approx(1.1))


@pytest.mark.parametrize(
    ("share", "start"), [(0.4, "2026-04-01"), (0.5, "2026-07-01")], ids=["adds up to one", "the day after"]
)
def test_overlaps_shares_within_one_or_days_apart_are_none(share: float, start: str) -> None:
    grants = (
        Grant("City fund", day("2026-01-01"), day("2026-06-30"), 0.6),
        Grant("Bank", day(start), day("2026-09-30"), share),
    )
    assert overlaps(grants) == []


def test_overlaps_three_tenths_thrice_and_a_tenth_do_not_exceed_one_by_rounding() -> None:
    shares = (0.1, 0.2, 0.3, 0.4)
    assert overlaps([Grant(str(share), day("2026-01-01"), day("2026-01-01"), share) for share in shares]) == []


def test_check_overlapping_grants_warn_with_days_and_sum(tmp_path: Path) -> None:
    folder = demo_with(tmp_path, SPRING + SUMMER)
    result = CliRunner().invoke(main, ["check", str(folder)])
    assert result.exit_code == 0
    warning = "from 2026-04-01 to 2026-06-30 the shares of the grants City fund, Bank add up to 1.1"
    assert warning in result.output


# -- counting for one grant -----------------------------------------------------------------------


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[Results, Results]:
    """Return the results of the days of a grant, and those counted for it."""
    folder = load(demo_with(tmp_path_factory.mktemp("grants"), SPRING))
    days = (day("2026-01-01"), day("2026-06-30"))
    return folder.assess(draws=100, period=days), folder.assess(draws=100, grant="city-FUND")


def test_assess_grant_counts_its_days_only(pair: tuple[Results, Results]) -> None:
    whole, counted = pair
    assert (counted.start, counted.end) == (day("2026-01-01"), day("2026-06-30"))
    assert 0 < counted.batches == whole.batches < load(DEMO).assess(draws=100).batches


def test_assess_grant_share_scales_every_account(pair: tuple[Results, Results]) -> None:
    whole, counted = pair[0].as_totals(), pair[1].as_totals()
    for key, value in whole["paper"].items():
        if key.endswith("_kg"):
            share = 1.0 if key == "weighed_kg" else 0.6
            scaled = {end: share * mass for end, mass in value.items()} if isinstance(value, dict) else share * value
            assert counted["paper"][key] == pytest.approx(scaled), key
    for before, after in zip(whole["paper"]["by_grade"], counted["paper"]["by_grade"], strict=True):
        for key, value in before.items():
            assert after[key] == (value if key == "grade" else pytest.approx(0.6 * value)), key
    for name in ("made_kgco2e", "displaced_plastic_kgco2e", "net_kgco2e"):
        assert counted[name] == pytest.approx({end: 0.6 * value for end, value in whole[name].items()})
    for name, interval in whole["disposal"].items():
        assert counted["disposal"][name] == pytest.approx({end: 0.6 * value for end, value in interval.items()})
    assert sum(pair[1].disposal.avoided_by_grade.values()) == pytest.approx(pair[1].disposal.avoided.value)
    assert sum(pair[1].disposal.lost_by_grade.values()) == pytest.approx(pair[1].disposal.lost_recycling.value)


def test_assess_grant_leaves_parts_and_rates_whole(pair: tuple[Results, Results]) -> None:
    whole, counted = pair[0].as_totals(), pair[1].as_totals()
    assert counted["parts"] == whole["parts"]
    assert counted["paper"]["landfill_diversion_rate"] == whole["paper"]["landfill_diversion_rate"]
    assert counted["recycled_content"] == whole["recycled_content"]
    assert (whole["grant"], counted["grant"]["share"]) == (None, 0.6)


def test_assess_unknown_grant_names_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(ProblemsError, match=r'read "City find".*did you mean "City fund"'):
        load(demo_with(tmp_path, SPRING)).assess(draws=100, grant="City find")


def test_assess_grant_outside_the_period_asked_for_is_one_problem(tmp_path: Path) -> None:
    with pytest.raises(ProblemsError, match="has no day in the period"):
        load(demo_with(tmp_path, SPRING)).assess(
            draws=100, grant="City fund", period=(day("2026-07-01"), day("2026-09-30"))
        )


def test_totals_grant_says_what_it_counts(tmp_path: Path) -> None:
    folder = demo_with(tmp_path, SPRING)
    result = CliRunner().invoke(main, ["totals", str(folder), "--grant", "City fund", "--draws", "100"])
    assert result.exit_code == 0
    days = "its days from 2026-01-01 to 2026-06-30"
    assert f"Counted for the grant City fund alone: {days}, and 60\u00a0% of" in result.output


# -- names ----------------------------------------------------------------------------------------

LIBRARY = '[[grants]]\nname = "City library"\nstart = 2026-07-01\nend = 2026-09-30\n'


@pytest.mark.parametrize("typed", ["City fund", "city-FUND", "CITY F", "city_f"])
def test_grant_named_start_of_one_name_in_any_case_is_that_grant(tmp_path: Path, typed: str) -> None:
    chosen = grant_named(load(demo_with(tmp_path, SPRING + LIBRARY)).workshop, typed)
    assert chosen is not None
    assert chosen.name == "City fund"


def test_grant_named_start_of_several_is_asked_with_their_names(tmp_path: Path) -> None:
    shop = load(demo_with(tmp_path, SPRING + LIBRARY + SUMMER)).workshop
    with pytest.raises(ProblemsError, match=r'read "city": the names of 2 grants .*City fund, City library') as caught:
        grant_named(shop, "city")
    assert [problem.code for problem in caught.value.problems] == ["ambiguous-grant"]
    assert "Bank" not in str(caught.value)


def test_grant_named_whole_name_wins_over_the_start_of_another(tmp_path: Path) -> None:
    longer = LIBRARY.replace("City library", "City fund 2")
    chosen = grant_named(load(demo_with(tmp_path, longer + SPRING)).workshop, "city fund")
    assert chosen is not None
    assert chosen.name == "City fund"


@pytest.mark.parametrize("typed", ["", " ", "fund"])
def test_grant_named_nothing_or_the_end_of_a_name_is_none(tmp_path: Path, typed: str) -> None:
    with pytest.raises(ProblemsError, match="lists no such grant"):
        grant_named(load(demo_with(tmp_path, SPRING)).workshop, typed)


def test_grant_named_none_is_all_the_work_unless_a_grant_is_called_so(tmp_path: Path) -> None:
    assert grant_named(load(demo_with(tmp_path / "a", SPRING)).workshop, "None") is None
    named = grant_named(load(demo_with(tmp_path / "b", SPRING.replace("City fund", "None"))).workshop, "none")
    assert named is not None


# -- the only grant -------------------------------------------------------------------------------


def reported(folder: Path, monkeypatch: pytest.MonkeyPatch, *options: str) -> tuple[Narrowing, str]:
    """Return what a report counts, and what the command says of it, without laying it out."""
    asked: list[Narrowing] = []

    def made(
        _: Path, request: Request, counted: Narrowing, suffix: str, *_do: object
    ) -> tuple[bytes, tuple[Problem, ...]]:
        asked.append(counted)
        return b"page", ()

    monkeypatch.setattr("impact.cli.report._made", made)
    target = str(folder.parent / "report.html")
    done = CliRunner().invoke(main, ["report", str(folder), "-o", target, "--force", *options])
    assert done.exit_code == 0, done.output
    (counted,) = asked
    return counted, done.stderr


def test_report_for_a_funder_counts_the_only_grant_and_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = demo_with(tmp_path, SPRING)
    counted, said = reported(folder, monkeypatch)
    of_grant, every = (load(folder).assess(draws=1, grant=name).batches for name in ("City fund", None))
    assert counted.grant == "City fund"
    assert said.splitlines() == [
        f"counted for the grant City fund alone (2026-01-01 to 2026-06-30): {of_grant} of {every} batches, 60% of the "
        "accounts. --grant none counts all the work"
    ]


@pytest.mark.parametrize(
    ("options", "grant"),
    [(("--grant", "none"), None), (("--grant", "city"), "City fund"), (("--for", "school"), None), (("--for", "binder"), None)],
)  # fmt: skip
def test_report_counts_what_is_asked_for_and_says_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, options: tuple[str, ...], grant: str | None
) -> None:
    counted, said = reported(demo_with(tmp_path, SPRING), monkeypatch, *options)
    assert (counted.grant, said) == (grant, "")


@pytest.mark.parametrize(
    ("grants", "options"),
    [(SPRING.replace("2026", "2027"), ()), (SPRING, ("--period", "2026-Q3")), (SPRING, ("--site", "outreach", "--period", "2026-01-01..2026-01-06"))],
    ids=["to come", "outside the period", "none of the site"],
)  # fmt: skip
def test_report_for_a_grant_without_batches_counts_all_the_work_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, grants: str, options: tuple[str, ...]
) -> None:
    counted, said = reported(demo_with(tmp_path, grants), monkeypatch, *options)
    assert counted.grant is None
    assert re.fullmatch(r"the grant City fund \(.*\) has none of these batches; all the work is counted\n", said)


def test_report_with_several_grants_counts_all_the_work_and_names_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    counted, said = reported(demo_with(tmp_path, SPRING + LIBRARY), monkeypatch)
    assert counted.grant is None
    assert said.splitlines() == [
        "2 grants are in workshop.toml; all the work is counted. --grant NAME counts one: City fund, City library"
    ]


def test_report_without_grants_says_nothing_of_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert reported(demo_with(tmp_path, ""), monkeypatch) == (Narrowing(), "")


@pytest.mark.parametrize("command", ["breakeven", "binders", "forecast"])
def test_command_about_a_part_counts_the_days_of_a_grant(tmp_path: Path, command: str) -> None:
    folder = demo_with(tmp_path, SPRING)
    tray = [command, str(folder), "--part", "tool-tray", "--draws", "100", "--json"]
    days = ["--period", "2026-01-01..2026-06-30"]
    of_grant, of_days, whole = (
        json.loads(CliRunner().invoke(main, [*tray, *more]).stdout) for more in (["--grant", "city"], days, [])
    )
    assert of_grant == of_days
    assert of_grant != whole


STATED = """
[[grants]]
name = "Fund"
start = 2026-01-01
end = 2026-12-31
award = "4000 USD"
spent = 120.5
[[grants.goals]]
words = "Paper kept from the landfill"
target = 500
counts = "kept from landfill"

[[grants]]
name = "Other"
start = 2027-01-01
end = 2027-12-31
[[grants.goals]]
words = "Ten schools"
target = 10
[[grants.goals]]
words = "A leaflet"
told = "printed"

[[sessions]]
date = 2026-03-01
pupils = 0

[school]
cost = 60
"""


def test_statements_of_grants_sessions_and_schools_are_read_as_written(tmp_path: Path) -> None:
    shop = read_valid(write_folder(tmp_path, workshop=TOML + STATED))
    first, other = shop.grants
    assert (first.award, first.match, first.spent) == (4000.0, None, 120.5)
    assert [goal.counts for goal in first.goals] == ["kept from landfill"]
    assert [goal.target for goal in other.goals] == [10.0, None]
    assert (shop.sessions[0].pupils, shop.sessions[0].adults) == (0, None)
    assert shop.visit is not None
    assert shop.visit.cost == 60.0


@pytest.mark.parametrize(
    ("right", "wrong", "said"),
    [
        ('"4000 USD"', '"4000 EUR"', 'read "4000 EUR": "EUR" is not the currency of the workshop'),
        ("target = 500", "done = 3", "what was done is counted and stated"),
        ("target = 500\n", "", "target is missing: there is nothing to count against"),
        ("pupils = 0", "pupils = 1.5", "this is no whole number"),
        ("pupils = 0", "adults = 1\nvolunteers = 2", "2 of 1 adults were not paid"),
        ("told =", "tell =", 'read "tell": unknown key. Accepted: counts, done, target, told, unit, words'),
    ],
)  # fmt: skip
def test_statements_that_cannot_be_are_refused_in_their_line(tmp_path: Path, right: str, wrong: str, said: str) -> None:
    _, problems = read_workshop(write_folder(tmp_path, workshop=TOML + STATED.replace(right, wrong)), NAMES)
    assert said in str(problems[0])
    assert len(problems) == 1
    assert problems[0].row > TOML.count("\n")
