"""What published forms and guides ask of a report, one by one: each is answered in the demo's report, or said not to be recorded.

`asks.csv` holds each ask in our words with its source; where it is answered, the words by which a reader finds the
answer, and the figure, if it is one. Forms ask more than this list: who the partners are, what groups took part, jobs.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from functools import cache
from html import unescape
from pathlib import Path

import numpy as np
import pytest

from impact.account.results import Interval
from impact.api import load
from impact.base.printing import Printer
from impact.base.quantities import POUNDS_PER_KG
from impact.factors.factorset import read_factors
from impact.records.demonstration import DEMO
from impact.records.statements import Goal, Grant, Session
from impact.records.workshop import FateSplit
from impact.report.funder import asked
from impact.report.funder.crossings import quantity_of, variable_words
from impact.report.funder.document import made
from impact.report.kinds import KINDS
from impact.study import Study, assess, counted_for
from tests import edges
from tests.frames import PLAIN, batches, part, workshop
from tests.reading import texts_by_name
from tests.reports import plain_html_of, web_page

ASKS = Path(__file__).with_name("asks.csv")


def asks() -> Iterator[dict[str, str]]:
    with ASKS.open(encoding="utf-8", newline="") as file:
        yield from csv.DictReader(file)


def words_of(html: str) -> str:
    """Return the words of a piece of a page."""
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).replace("\u00a0", " ").split())


@cache
def section_of(reader: str, name: str) -> str:
    """Return a section of the demo's report, whole with the sections in it."""
    html = web_page("demo", reader)
    after = html[html.index(f'<section id="{name}"') :]
    return after[: after.index("</section>")]


def test_asks_name_their_report_and_a_published_source() -> None:
    for ask in asks():
        assert ask["report"] in KINDS
        assert ask["ask"].strip()
        assert ask["source"].strip()
        assert ask["address"].startswith("http")
    assert len({(ask["report"], ask["ask"]) for ask in asks()}) == sum(1 for _ in asks()) >= 20


@pytest.mark.parametrize("ask", [pytest.param(one, id=f"{one['report']}: {one['ask']}") for one in asks()])
def test_ask_is_answered_in_the_report_of_the_demo(ask: dict[str, str]) -> None:
    html = section_of(ask["report"], ask["section"])
    said = words_of(html)
    assert [words for words in ask["answer"].split(" | ") if words.strip() not in said] == []
    assert not ask["figure"] or ask["figure"] in texts_by_name(html)


# -- what the section says ------------------------------------------------------------------------

DAYS = (date(2026, 1, 1), date(2026, 12, 31))
ROWS = [
    {**PLAIN, "date": "2026-03-02", "people": 3, "hours": 2.0, "cost": 4.0},
    {**PLAIN, "date": "2026-03-02", "people": 1, "hours": 1.0, "cost": 2.0},
    {**PLAIN, "date": "2026-03-09", "people": 2, "hours": 3.0, "cost": 3.0},
]


def study(rows: list[dict[str, object]] | None = None, grant: Grant | None = None, **changes: object) -> Study:
    """Return a study of some batches, counted for a grant where there is one."""
    shop = workshop(part(), **{"currency": "USD", **changes, **({"grants": (grant,)} if grant else {})})
    found = assess(shop, batches(rows or ROWS), read_factors(), draws=50, period=DAYS)
    return counted_for(found, grant) if grant else found


def text_of(found: Study) -> str:
    html = plain_html_of(found)
    after = html[html.index('<section id="asked"') :]
    return words_of(after[: after.index("</section>")])


def test_people_attendances_are_summed_and_a_session_on_the_day_of_a_batch_counts_once() -> None:
    sessions = (
        Session(date(2026, 3, 2), pupils=20, adults=2, volunteers=1, minutes=90),
        Session(date(2026, 4, 1), pupils=10),
        Session(date(2027, 4, 1), pupils=99),
    )
    people = asked.figures(study(sessions=sessions))["people"]
    assert (people["dates"], people["sessions"]) == (3, 2)
    assert (people["attendances"], people["hours"], people["person_hours"]) == (6.0, 6.0, 13.0)
    assert (people["pupils"], people["adults"], people["volunteers"], people["session_hours"]) == (30.0, 2.0, 1.0, 1.5)
    assert people["together"] == 22.0 + 2.0 + 10.0  # of 4 and 22 on the first date the larger


def test_people_and_money_that_nobody_recorded_are_said_not_to_be() -> None:
    found = study([{**PLAIN, "date": "2026-03-02", "people": np.nan, "hours": np.nan, "cost": np.nan}])
    figures = asked.figures(found)
    assert {figures["people"][name] for name in ("attendances", "hours", "person_hours", "sessions", "together")} == {
        None
    }
    assert figures["money"]["recorded"] is None
    said = text_of(found)
    assert "Attendances at batches not recorded" in said
    assert "list no grant: money, goals and words are not recorded" in said


def test_cost_of_the_batches_is_one_number_wherever_it_stands() -> None:
    rng = np.random.default_rng(5)
    costs = np.where(rng.random(60) < 0.3, np.nan, np.round(rng.lognormal(1.0, 1.0, 60), 3)).tolist()
    found = study([{**PLAIN, "date": "2026-03-02", "cost": cost} for cost in costs])
    (stated,) = (row["amount"] for row in made(found)["inputs"] if row["input"] == "cost")
    assert asked.figures(found)["money"]["recorded"] == stated


def test_cost_of_a_kilogram_stands_only_where_every_batch_records_its_cost() -> None:
    whole, partly = study(), study([*ROWS[:2], {**ROWS[2], "cost": np.nan}])
    each = asked.figures(whole)["money"]["per_kilogram"]
    assert each["collected"] == pytest.approx(9.0 / 1.8)  # three batches of 0.6 kg
    assert asked.figures(partly)["money"]["per_kilogram"] == {"collected": None, "in_parts": None}
    assert asked.figures(partly)["money"]["recorded"] == 6.0
    assert "not recorded for every batch" in text_of(partly)
    assert "per ton" not in text_of(whole)


GRANT = Grant("Fund", *DAYS)


def test_cost_of_a_kilogram_is_that_of_the_whole_work_under_a_grant_of_half() -> None:
    whole, half = (asked.figures(study(grant=replace(GRANT, share=share)))["money"] for share in (1.0, 0.5))
    assert half["per_kilogram"] == pytest.approx(whole["per_kilogram"])


def test_money_of_a_whole_grant_is_told_apart_from_the_period_of_a_report() -> None:
    """A grant of two years beside a report of one: its money and its goals are no figures of that year."""
    told = "are of the whole grant; all else is of the period of this report"
    longer = replace(GRANT, end=date(2027, 12, 31))
    assert told in text_of(study(grant=longer))
    assert told not in text_of(study(grant=GRANT))
    assert "a part of its days" in str(longer.sentence(*DAYS))
    assert longer.sentence(longer.start, longer.end) == longer.sentence()


def test_amounts_in_grams_stand_under_grams_and_one_batch_is_one() -> None:
    """A workshop of one small batch has its paper in grams: its column is not headed kilograms."""
    grams, kilograms = text_of(study(ROWS[:1])), text_of(study())  # 0.6 and 1.8 kg of paper
    assert "Definition g " in grams
    assert "Definition kilograms " in kilograms
    assert "in 1 batch, as it went in" in grams
    assert "in 3 batches, as it went in" in kilograms


# NIST Special Publication 811, appendix B.8: 1 short ton is 907.1847 kg, 1 lb is 0.453 592 37 kg.
@pytest.mark.parametrize(
    ("unit", "kilograms"), [("short ton", 907.1847), ("lb", 0.45359237), ("tonne", 1000.0), ("kg", 1.0)]
)
def test_units_of_masses_are_those_of_the_standard(unit: str, kilograms: float) -> None:
    assert asked.PER_KG[unit] * kilograms == pytest.approx(1.0, rel=1e-7)


@pytest.mark.parametrize(
    ("stated", "country", "unit"), [(None, "USA", "short ton"), (None, "DEU", "tonne"), ("lb", "DEU", "lb")]
)
def test_unit_asked_is_the_one_stated_or_the_ton_of_the_place(
    stated: asked.Ton | None, country: str, unit: str
) -> None:
    assert asked.unit_asked(study(grant=replace(GRANT, mass_unit=stated), country=country)) == unit


def test_unit_of_the_report_itself_needs_no_second_column() -> None:
    assert asked.figures(study(grant=replace(GRANT, mass_unit="kg")))["amounts"] == {}


def test_kept_from_disposal_is_landfill_and_incineration_in_the_same_draws() -> None:
    paper = study(fates={"corrugated": FateSplit(landfill=0.5, incineration=0.5)}).paper
    both = np.asarray(paper.drawn["kept_from_landfill_kg"]) + np.asarray(paper.drawn["kept_from_incineration_kg"])
    assert paper.kept_from_disposal_kg == Interval.of(both)
    assert paper.kept_from_disposal_kg.value > paper.kept_from_landfill_kg.value > 0.0


def test_goals_are_counted_from_the_records_or_stated_or_not_recorded() -> None:
    goals = (
        Goal("paper", 1.0, "lb", "paper collected"),
        Goal("parts", 60.0, counts="good parts"),
        Goal("talks", 4.0, done=1.0),
        Goal("leaflet", told="printed"),
        Goal("a garden"),
    )
    found = study(grant=replace(GRANT, goals=goals, share=0.5))
    first, second, third, fourth, last = asked.figures(found)["goals"]
    assert first["mass"]["value"] == pytest.approx(0.9 * POUNDS_PER_KG)  # half of 1.8 kg
    assert first["share"] == pytest.approx(0.9 * POUNDS_PER_KG)
    assert (second["count"], second["share"]) == (30.0, 0.5)
    assert (third["done"], third["share"]) == (1.0, 0.25)
    assert fourth["share"] is last["share"] is None
    said = text_of(found)
    assert "from the records, for the grant" in said
    assert "from the records, whole work" in said
    assert "stated by the workshop" in said
    assert "a garden – not recorded –" in said


def test_several_grants_are_named_and_have_nothing_on_a_page_for_all_the_work() -> None:
    said = text_of(study(grants=(replace(GRANT, award=4000.0), replace(GRANT, name="Bank", share=0.2))))
    assert "belong to a report for one grant: Fund, Bank" in said
    assert "4,000" not in said


def test_words_of_people_are_no_markup() -> None:
    told = text_of(study(grant=replace(GRANT, lessons="<b>paste</b> & glue", contact="{{ 7 * 6 }}")))
    assert "“ <b>paste</b> & glue ”" in told
    assert "{{ 7 * 6 }}" in told


# -- units ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("reader", KINDS)
def test_reports_in_us_units_have_no_litre_and_no_kilometre(reader: str) -> None:
    html = edges.pages("in-USA")[reader]
    body = html[html.index("<body") :].partition('<section id="factors"')[0]  # whose rows are as published
    assert re.findall(r"[^.]{0,60}(?:\b(?:km|L|lit(?:re|er)s?|kilomet(?:re|er)s?)\b)[^.]{0,40}", words_of(body)) == []


def test_variables_of_a_break_even_are_in_us_units_too() -> None:
    us, metric = Printer(us=True), Printer(us=False)
    assert [variable_words("transport", one)[1] for one in (us, metric)] == ["miles per batch", "km per batch"]
    assert [variable_words("mould-mass", one)[1] for one in (us, metric)] == ["lb", "kg"]
    # NIST Special Publication 811, appendix B.8: 1 mile is 1.609 344 km, 1 lb is 0.453 592 37 kg.
    assert us.figure(16.09344, quantity_of("number", "transport")) == "10.0"
    assert us.figure(0.45359237, quantity_of("crossing", "mould-mass")) == "1.0"
    assert metric.figure(16.09344, quantity_of("number", "transport")) == "16.1"


def test_demo_leaves_an_ask_open_and_its_accounts_alone() -> None:
    folder = load(DEMO)
    granted, whole = (folder.assess(draws=20, grant=name).as_totals() for name in ("Neighborhood Waste Fund", None))
    assert {**granted, "grant": None, "claims": None} == {**whole, "claims": None}
