"""The report for a school: what it says, in each language, of the demo, of a busy workshop and of a tiny one.

Checked against, from outside:

- ounces and gallons: NIST Handbook 44, appendix C (from memory)
"""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from functools import cache
from html import escape, unescape
from math import ceil
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from click.testing import CliRunner
from page import validate_pdf_bytes

from impact.account.results import Results
from impact.api import load
from impact.base.catalogue import tag
from impact.base.printing import Printer
from impact.base.serial import plain
from impact.cli.commands import main
from impact.decisions.forecast import forecast
from impact.decisions.planned import Expected
from impact.factors.values import generator
from impact.findings.allergens import ALLERGEN, OF_TABLES
from impact.records.columns import device_columns
from impact.records.demonstration import DEMO
from impact.records.statements import Visit
from impact.records.workshop import Workshop
from impact.report.context import compose
from impact.report.kinds import KINDS
from impact.report.request import NothingToSayError, Request
from impact.report.school.chart import _sizes, term_chart
from impact.report.school.content import School, direction, planned
from impact.report.school.session import (
    ALONE,
    FORESEEN,
    NARROWEST,
    ROWS,
    SHORT,
    SIZES,
    STATED,
    WIDEST,
    devices_of,
    one_session,
    room_of,
)
from impact.study import assess
from tests.folders import BATCHES, PARTS, TOML, swap, write_folder
from tests.readability import prose, reading
from tests.reports import pdf_of_results, plain_html_of, report, undrawn
from tests.sheets import count
from tests.test_pages import EMPTIEST, emptiness

CAUTIONS = Path(__file__).parents[1] / "impact" / "findings" / "cautions.csv"
with CAUTIONS.open(encoding="utf-8", newline="") as table:
    RULES = tuple(csv.DictReader(table))
TITLES = {row["title"]: row["hazard"] for row in RULES if row["title"]}
"""The hazard of each title of the risk sheet."""

SCHOOL = "School"
HEADER = BATCHES.partition("\n")[0]
ROW = (
    "{n:03d},2026-01-{n:02d},pot,1.2,300,,8 %,,{binder},0.2,,12,0.01,0,0.1,0,{dryer},30,2,landfill,40 g,own rejects,,5,3,4,"
    "2.50,,sanded the rims\n"
)
USED = ("pva-glue", "corn-starch", "rice-paste", "wheat-paste", "potato-starch", "methyl-cellulose")


def results_of(batches: str, *, workshop: str = TOML, parts: str = PARTS) -> Results:
    with TemporaryDirectory() as place:
        folder = write_folder(Path(place) / "shop", workshop=workshop, parts=parts, batches=batches)
        return load(folder).assess(draws=100)


@cache
def demo() -> Results:
    return load(DEMO).assess(draws=300)


@cache
def tiny() -> Results:
    """Return a workshop with three batches."""
    rows = "".join(ROW.format(n=n, binder="pva-glue", dryer="0.5 kWh") for n in (1, 2, 3))
    return results_of(f"{HEADER}\n{rows}")


@cache
def busy() -> Results:
    """Return a workshop on A4 paper that every caution but that for a fan applies to, with a long name."""
    settings = swap(TOML, 'country = "USA"', 'country = "GBR"\naudience = "school"')
    settings = swap(swap(settings, 'electricity = "US-CAMX"\n', ""), 'dryer = "fan"', 'dryer = "convection-oven"')
    settings = swap(settings, '"Paper Bench"', '"The Long Bench of the Paper Club at the Old Mill by the River"')
    rows = "".join(ROW.format(n=n, binder=binder, dryer="1.5 kWh") for n, binder in enumerate(USED, 1))
    return results_of(f"{HEADER}\n{rows}", workshop=settings)


WORKSHOPS = {"demo": demo, "tiny": tiny, "busy": busy}


@cache
def page(name: str = "demo", language: str = "en", part: str | None = None) -> str:
    return plain_html_of(WORKSHOPS[name](), Request("school", language, part))


def words(html: str) -> str:
    """Return the words of a page with its title, description and alternative texts, without the style."""
    plain = re.sub(r"<style>.*?</style>", " ", html, flags=re.DOTALL)
    kept = re.findall(r'(?:alt|content)="([^"]*)"', plain)
    plain = re.sub(r"</?(?:span|strong)[^>]*>", "", plain)
    return " ".join(unescape(" ".join([re.sub(r"<[^>]+>", " ", plain), *kept])).split())


def ours(html: str, shop: Workshop) -> str:
    """Return the words of a page without those of the workshop itself and without citations."""
    html = re.sub(r'<bdi>.*?</bdi>|<span lang="en">.*?</span>', " ", html)
    shown, visit = shop.presentation, shop.visit or Visit()
    for said in filter(None, (shop.name, shown.words, shown.contact, shown.logo_text, visit.electrical)):
        html = html.replace(escape(said), " ")
    return words(html)


# -- form ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "language", "pages"),
    [
        ("demo", "en", 3), ("demo", "es", 3), ("demo", "de", 3), ("busy", "en", 3), ("busy", "es", 3), ("busy", "de", 3),
        ("tiny", "es", 3), ("tiny", "de", 3),
    ],
)  # fmt: skip
def test_school_report_fills_three_pages_that_can_be_read_aloud(name: str, language: str, pages: int) -> None:
    request = Request("school", language)
    pdf = report("demo", "school", language) if name == "demo" else pdf_of_results(WORKSHOPS[name](), request)
    assert count(pdf) == pages
    assert validate_pdf_bytes(pdf, profile="ua1").failures == []
    assert max(emptiness(pdf)[:-1]) <= EMPTIEST


@pytest.mark.parametrize("language", KINDS["school"].languages)
@pytest.mark.parametrize("name", WORKSHOPS)
def test_school_report_is_as_easy_to_read_as_promised(name: str, language: str) -> None:
    found = reading(page(name, language), language)
    assert found.counted.sentences > 30
    assert found.fits


def test_reading_of_a_hard_text_does_not_fit() -> None:
    hard = "<p>Environmental considerations necessitate comprehensive organisational accountability.</p>"
    assert not reading(hard, "en").fits
    assert not reading("<p>Consideraciones medioambientales requieren responsabilidades organizativas.</p>", "es").fits
    assert not reading("<p>Umweltgesichtspunkte erfordern organisatorische Verantwortlichkeiten.</p>", "de").fits


def test_prose_leaves_out_headings_and_tables() -> None:
    assert (
        prose(
            "<h2>No</h2><p><strong>Name.</strong> One <b>two</b>. <span>3</span> <span lang='en'>No</span></p><table><tr><td>3</td></tr></table><li>Four</li>"
        )
        == "One two. 3\n\nFour"
    )


@pytest.mark.parametrize("name", WORKSHOPS)
def test_school_report_every_number_is_a_tied_figure(name: str) -> None:
    bare = re.sub(r'<span id="f\.[^"]*">[^<]*</span>', "", page(name).partition("<body")[2])
    bare = re.sub(r'<bdi>.*?</bdi>|<p class="fine">.*?</p>', "", bare)  # the workshop's own; days, seed and version
    assert set(re.findall(r"\d+", re.sub(r"<[^>]+>", " ", unescape(bare)))) <= {"95", "100"}  # what a range means


def test_command_report_for_school_unknown_part_ends_with_one_line(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "shop")
    done = CliRunner().invoke(
        main,
        ["report", str(folder), "--for", "school", "--part", "pott", "-o", str(tmp_path / "s.pdf"), "--draws", "100"],
    )
    assert done.exit_code == 1
    (line,) = done.output.strip().splitlines()
    assert 'read "pott"' in line
    assert 'did you mean "pot"' in line


# -- figures ------------------------------------------------------------------------------------------------------


def test_school_figures_are_those_of_the_forecast() -> None:
    results = demo()
    plan = forecast(
        results.workshop, results.batch_records, results.factors, part="tool-tray", sessions=4, people=9,
        parts_per_person=2, rng=generator(results.settings.seed, "forecast"), seed=results.settings.seed, draws=300,
    )  # fmt: skip
    content = School(
        results, Request("school", part="tool-tray", asked={"sessions": 4, "people": 9, "parts_per_person": 2})
    )
    term = content.figures["school"]["term"]
    assert content.figures["school"]["planned"] == plan.planned == 72
    assert content.figures["school"]["each_session"] == plan.rack_parts == 18
    for name, figure in {
        "good_parts": plan.good_parts, "paper_kg": plan.all_paper_kg, "kept_from_landfill_kg": plan.diverted_kg,
        "electricity_kwh": plan.electricity_kwh, "water_l": plan.water_l, "carbon_gap_kgco2e": plan.difference_kgco2e,
    }.items():  # fmt: skip
        assert figure is not None
        assert term[name] == plain(figure)


def test_forecast_all_paper_is_the_sum_of_the_grades() -> None:
    plan = School(demo(), Request("school")).plan
    assert plan is not None
    assert plan.all_paper_kg.value == pytest.approx(sum(kg.value for kg in plan.paper_kg.values()))
    assert plan.all_paper_kg.high < sum(kg.high for kg in plan.paper_kg.values())


def test_school_page_prints_the_ranges_of_the_term() -> None:
    results, text = demo(), words(page())
    plan = School(results, Request("school")).plan
    assert plan is not None
    printer = Printer.of(results.workshop)
    good, paper = (
        [printer.figure(end, quantity, unit=False, of=found) for end in (found.value, found.low, found.high)]
        for found, quantity in ((plan.good_parts, "count"), (plan.all_paper_kg, "term paper"))
    )
    assert f" {good[0]} {good[1]} to {good[2]}" in text
    assert f"{paper[1]} to {paper[2]} kg" in text


def test_school_part_by_default_is_the_one_with_most_good_parts() -> None:
    best = max(demo().parts, key=lambda part: part.good)
    assert School(demo(), Request("school")).part == best.part == "crate-corner"


def test_school_unknown_part_names_the_nearest() -> None:
    with pytest.raises(NothingToSayError, match='did you mean "tool-tray"'):
        School(demo(), Request("school", part="tool-try"))


def test_school_three_batches_say_what_is_recorded_and_forecast_nothing() -> None:
    report = compose(tiny(), Request("school"))
    school = report.document["school"]
    assert school["term"] is None
    assert {name: school["recorded"][name] for name in ("batches", "good", "failed", "water_batches")} == {
        "batches": 3, "good": 90.0, "failed": 6.0, "water_batches": 3,
    }  # fmt: skip
    assert school["recorded"]["paper_kg"] == pytest.approx(3 * 1.5)
    assert school["recorded"]["electricity_kwh"] == pytest.approx(3 * 0.61)
    text = words(page("tiny"))
    assert "needs at least 5 batches of this part" in text
    assert "On record so far: 3." in text
    assert "Likely range" not in text
    assert "<figure" not in page("tiny")


@pytest.mark.parametrize(
    ("low", "high", "says"), [(-2.0, -1.0, "less"), (1.0, 2.0, "more"), (-1.0, 2.0, "unsure"), (-1.0, 0.0, "unsure")]
)
def test_direction_of_an_interval(low: float, high: float, says: str) -> None:
    middle = (low + high) / 2.0
    found = Expected(middle, low, high, middle, "records", 9, 9)
    assert direction(found, 1.0) == says
    assert direction(replace(found, basis="rare"), 1.0) == "rare"
    assert direction(found, 0.0) == ("added" if low > 0.0 else says)


@pytest.mark.parametrize(
    ("part", "says"),
    [
        ("sorting-cup", "here the plastic parts would cause less."),
        ("crate-corner", "we cannot say whether the term adds or saves carbon."),
    ],
)
def test_school_carbon_is_said_honestly_beside_the_chart_and_in_its_alternative(part: str, says: str) -> None:
    html = page(part=part)
    assert says in re.findall(r'<figure>.*?<img [^>]*alt="([^"]*)"', html)[0]
    assert words(html).count(says) == 2


def tray(displacement: float | None) -> str:
    """Return the page of the tool trays of the demo with another share of them that displaces plastic."""
    shop = load(DEMO)
    parts = {**shop.workshop.parts, "tool-tray": replace(shop.workshop.parts["tool-tray"], displacement=displacement)}
    found = assess(replace(shop.workshop, parts=parts), shop.batches, shop.factors, draws=300)
    return words(plain_html_of(found, Request("school", part="tool-tray")))


@pytest.mark.parametrize(
    ("displacement", "says", "assumed"),
    [
        (None, "All of the range lies on the side of less carbon than plastic.", "We take it that each good part"),
        (1.0, "All of the range lies on the side of less carbon than plastic.", "states that 100 % of the good parts"),
        (0.5, "The range lies on both sides.", "states that 50 % of the good parts"),
        (0.0, "No plastic is replaced, as the workshop states. So all of this", "states that 0 % of the good parts"),
    ],
)
def test_school_carbon_follows_the_displacement_on_record(displacement: float | None, says: str, assumed: str) -> None:
    # By the record: half a plastic part in place of a whole one can turn the sign, none leaves the footprint alone.
    text = tray(displacement)
    assert says in text
    assert assumed in text.replace("\N{NO-BREAK SPACE}", " ")


def school_of(row: str, count: int, **settings: str) -> str:
    rows = "".join(row.format(n=n, binder="pva-glue", dryer="0.5 kWh") for n in range(1, count + 1))
    return words(plain_html_of(results_of(f"{HEADER}\n{rows}", **settings), Request("school")))


def test_school_rejects_recorded_as_none_promise_no_range() -> None:
    text = school_of(swap(ROW, ",30,2,landfill", ",32,0,landfill"), 9)
    assert "120 No failed part in 9 batches" in text
    assert "seen 120 Paper used" not in text
    assert "What no batch has shown may still come." in text
    assert "What is rare has no such range." not in text


def test_school_rejects_never_recorded_keep_the_spread_of_the_table() -> None:
    # The row has 0.02 to 0.3: of 120 pressed 84 to 118 are good, with the ends of 100 draws.
    text = school_of(swap(ROW, ",30,2,landfill", ",30,,landfill"), 9)
    low, high = map(
        int, re.findall(r"Good parts, of 120 pressed 11 108 (\d+) to (\d+); failed parts estimated", text)[0]
    )
    assert 78 <= low <= 96
    assert 114 <= high <= 120


def test_school_amounts_without_record_say_so() -> None:
    text = school_of(swap(ROW, ",5,3,4,2.50,", ",5,,,,"), 9)
    assert "Cost to the workshop, as far as it records it – – too little on record" in text
    assert "Working hours of all the workshop's people, by its records – – too little on record" in text


def gap_row(value: float, low: float, high: float) -> str:
    """Return the row of carbon of the demo's page for another gap, half of whose parts displace plastic."""
    report = compose(demo(), Request("school"))
    content = report.content
    assert isinstance(content, School)
    assert content.plan is not None
    gap = Expected(value, low, high, value, "records", 9, 9)
    content.plan = replace(content.plan, displacement=0.5, difference_kgco2e=gap)
    content.figures["school"] |= {"term": planned(content.plan), "session": one_session(content.plan)}
    text = words(undrawn(replace(report, document={**report.document, **content.figures})))
    found = re.search(r"Carbon \(CO₂e\), after the plastic replaced (.*?) A term would", text)
    assert found is not None
    return found[1]


@pytest.mark.parametrize(
    ("gap", "row"),
    [
        ((10.0, 6.0, 13.0), "1.0 kg added 10 kg added 6 to 13 kg added"),
        ((-300.0, -500.0, -162.0), "30 kg saved 300 kg saved 162 to 500 kg saved"),
        ((-0.3, -6.0, 5.0), "30 g saved 0.3 kg saved 6.0 kg saved to 5.0 kg added"),
        ((0.032, 0.022, 0.043), "3.2 g added 32 g added 22 to 43 g added"),
        ((0.032, 0.0319999, 0.0320001), "3.2 g added 32 g added much the same each time"),
    ],
)
def test_school_range_of_carbon_reads_from_the_smaller_size_and_names_a_side_once(
    gap: tuple[float, float, float], row: str
) -> None:
    assert gap_row(*gap) == row


def test_school_batches_of_a_part_have_their_own_days() -> None:
    rows = ROW.format(n=9, binder="pva-glue", dryer="0.5 kWh") + "".join(
        swap(ROW, ",pot,", ",tray,").format(n=n, binder="pva-glue", dryer="0.5 kWh") for n in (1, 20)
    )
    found = results_of(f"{HEADER}\n{rows}")
    pot, tray = (words(plain_html_of(found, Request("school", part=part))) for part in ("pot", "tray"))
    assert "Batches: 1, January 9, 2026; pulp-impact" in pot
    assert "A batch took 3.0 hours. Batches counted: 1" in pot
    assert "Batches: 2, January 1, 2026 to January 20, 2026; pulp-impact" in tray


def test_school_little_time_is_in_minutes() -> None:
    many = swap(swap(ROW, ",30,2,landfill", ",3000,200,landfill"), ",1.2,300,", ",120,30000,")
    assert re.search(r"by its records 2.7 min 27 min much the same each time", school_of(many, 9))


def test_school_axis_of_parts_has_no_number_below_none(monkeypatch: pytest.MonkeyPatch) -> None:
    failing = swap(swap(ROW, ",,8 %,,", ",,8 %,recycling,"), ",30,2,landfill", ",8,24,landfill")
    rows = "".join(failing.format(n=n, binder="pva-glue", dryer="0.5 kWh") for n in range(1, 10))
    plan = School(results_of(f"{HEADER}\n{rows}"), Request("school")).plan
    assert plan is not None
    drawn: list[Any] = []
    monkeypatch.setattr("impact.report.school.chart.svg", lambda figure: drawn.append(figure) or "")
    term_chart(plan, Printer(us=False), str)
    parts, paper = drawn[0].axes[:2]
    assert paper.get_xticks()[0] < 0.0
    assert parts.get_xlim()[0] < -10.0
    assert parts.get_xticks()[0] == 0.0
    assert len(parts.get_xticks()) > 2


def test_school_page_without_carbon_does_not_say_that_it_looks_at_it() -> None:
    assert "We look at paper only." in words(page("tiny"))
    assert "We look at paper and carbon only." in words(page())


def test_school_says_what_it_does_not_claim_and_ends_with_the_sheet_to_sign() -> None:
    for name in WORKSHOPS:
        headings = re.findall(r"<h2[^>]*>([^<]+)</h2>", page(name))
        assert "What we do not claim" in headings
        assert headings[-1] == "Draft risk sheet to sign"


def test_school_part_without_a_good_one_is_one_line() -> None:
    rows = "".join(
        swap(ROW, ",30,2,landfill", ",0,32,landfill").format(n=n, binder="pva-glue", dryer="0.5 kWh")
        for n in range(1, 7)
    )
    with pytest.raises(
        NothingToSayError, match=r"^no good part of pot is on record: there is nothing yet to show to a school$"
    ):
        School(results_of(f"{HEADER}\n{rows}"), Request("school"))


def test_school_paper_below_zero_keeps_its_sign_in_table_and_chart() -> None:
    # All paper would have been recycled, and rejects go to landfill: more lands there than without the workshop.
    text = school_of(swap(ROW, ",,8 %,,", ",,8 %,recycling,"), 9)
    assert re.search(
        r"Paper kept from landfill \N{MINUS SIGN}\d+ g \N{MINUS SIGN}0\.\d+ kg \N{MINUS SIGN}0\.\d+ to", text
    )
    assert "Below zero means that more paper goes to landfill" in text
    axes = [_sizes(Printer(us=False), 1, signed=signed)(-0.5, 0.0) for signed in (True, False)]
    assert axes == ["\N{MINUS SIGN}0.5", "0.5"]


def test_school_part_that_gets_wet_is_not_compared() -> None:
    rows = "".join(ROW.format(n=n, binder="pva-glue", dryer="0.5 kWh") for n in range(1, 7))
    parts = swap(PARTS, "0.09 L,1 year,no,PP", "0.09 L,1 year,yes,PP")
    html = plain_html_of(results_of(f"{HEADER}\n{rows}", parts=parts), Request("school"))
    assert "It gets wet in use" in words(html)
    assert "against plastic" not in words(html)


# -- words --------------------------------------------------------------------------------------------------------


def test_hazards_every_caution_has_plain_words_and_every_row_of_the_sheet_is_whole() -> None:
    assert set(TITLES.values()) == {row["hazard"] for row in RULES}
    heads = [row for row in RULES if row["title"]]
    assert [row["title"] for row in heads if not all((row["harm"], row["who"], row["control"], row["by"]))] == []
    assert [row["control"] for row in RULES if row["control"] and not row["title"] and row["text"]] == []


def rows_of(html: str) -> dict[str, str]:
    """Return what is done about each hazard of the risk sheet, by its title."""
    sheet = re.search(r'<table class="risks.*?</table>', html, re.DOTALL)
    assert sheet is not None
    rows = re.findall(r"<strong>(.*?)\.</strong>.*?<p>(.*?)</p>", sheet[0], re.DOTALL)
    return {unescape(title): words(done) for title, done in rows}


def test_risk_sheet_has_the_cautions_that_apply_and_what_every_session_has() -> None:
    assert SCHOOL not in {caution.hazard for caution in demo().cautions}
    always = {SCHOOL, "Dry powder", "Wet floor", "Allergens", "Clothes", "Hand washing", "Cleaning up"}
    for name, results in (("demo", demo()), ("busy", busy()), ("tiny", tiny())):
        found = rows_of(page(name, part=None).replace("mold", "mould").replace("Mold", "Mould"))
        applying = always | {caution.hazard for caution in results.cautions}
        assert {TITLES[title] for title in found} == applying
        assert next(iter(found)) == "Supervision"
    assert "dry within 24 to 48 hours" in words(page("busy"))
    assert "heat to 85 °C at most" in words(page("busy"))


def test_risk_sheet_is_a_draft_that_someone_competent_signs() -> None:
    text = words(page())
    assert "This is a draft. A competent person has to assess the risks" in text
    assert "your local codes decide" in text
    assert re.search(r"Name and role Signature Date The school The workshop", text)


def test_risk_sheet_names_what_people_are_allergic_to_or_says_that_the_tables_name_none() -> None:
    allergens = "Some people cannot touch this: wheat (gluten) in wheat paste. Ask about allergies first."
    assert rows_of(page("busy"))["Allergies"] == allergens
    assert "trigo (gluten) en" in rows_of(page("busy", "es"))["Alergias"]
    assert rows_of(page())["Allergies"].startswith("Our tables name no allergen")


def test_allergens_of_the_tables_are_messages() -> None:
    found = {tag(tags, ALLERGEN) for tags in demo().names.binder_tags.values()} - {""}
    assert found == set(OF_TABLES)


def test_risk_sheet_says_what_the_workshop_states_of_blender_and_devices_or_that_it_does_not() -> None:
    stated, bare = rows_of(page()), rows_of(page("tiny"))
    assert "At the blender at once, as the workshop states: 2." in stated["Blender and press"]
    assert "Devices inspected, as the workshop states: August 2026," in stated["Electricity near water"]
    assert "at the blender at once: not recorded" in bare["Blender and press"]
    assert "When the devices were inspected: not recorded." in bare["Electricity near water"]


def visited(people: int = 15, language: str = "en", **stated: Any) -> str:
    """Return the page of the demo for another visit, without marks."""
    found = demo()
    shop = replace(found.workshop, visit=Visit(**stated))
    return plain_html_of(replace(found, workshop=shop), Request("school", language, asked={"people": people}))


def test_session_table_leaves_open_what_is_not_stated() -> None:
    table = re.search(r'<table class="stated.*?</table>', visited(age="7 to 9"), re.DOTALL)
    assert table is not None
    answers = [words(cell) for cell in re.findall(r"<td[^>]*>(.*?)</td>", table[0])]
    assert len(answers) == ROWS
    assert answers[0] == "7 to 9"
    watts = [answer for answer in answers if answer != "not recorded"][1:]
    # 390 W, 56 W, 1000 W and 160 W are the ratings of the four devices.
    assert [text.replace("\N{NO-BREAK SPACE}", " ") for text in watts] == [
        "Outlets: not recorded; 1,606 W with all on at once, by the ratings of blender, fan, hotplate, shredder"
    ]


def test_session_price_is_shared_by_the_pupils_of_the_plan_and_a_large_group_is_split() -> None:
    text = words(visited(cost=60.0, pupils=14.0))
    assert "60.00 USD for one session; 4.00 USD for each of 15 pupils" in text
    assert "14 pupils at most. The plan above has more: split the group." in text


@pytest.mark.parametrize(
    ("language", "price"),
    [
        ("en", "60.00 USD for one session; 60.00 USD for 1 pupil"),
        ("es", "60.00 USD por sesión; 60.00 USD para 1 alumno"),
        ("de", "60.00 USD je Termin; 60.00 USD für 1 Person"),
    ],
)
def test_session_price_for_one_pupil_is_said_of_one(language: str, price: str) -> None:
    text = words(visited(people=1, language=language, cost=60.0)).replace("\N{NO-BREAK SPACE}", " ")
    assert price in text
    assert "each of 1 " not in text


def test_devices_are_those_that_the_batches_of_the_part_name() -> None:
    records = demo().batch_records
    own = records[records["part"].astype(str) == "drawer-divider"]
    named = {name for column in device_columns() for name in own[column].astype(str)} - {""}
    assert devices_of(own) == sorted(named)
    assert devices_of(own.drop(columns=device_columns())) == []


def test_one_session_is_its_share_of_the_term() -> None:
    plan = School(demo(), Request("school")).plan
    assert plan is not None
    session = one_session(plan)
    assert session["paper_kg"] == pytest.approx(plan.all_paper_kg.value / 10)
    assert session["good_parts"] == pytest.approx(plan.good_parts.value / 10)
    text = words(page()).replace("\N{NO-BREAK SPACE}", " ")
    assert (
        f"Paper used {Printer.of(demo().workshop).figure(session['paper_kg'] or 0.0, 'session paper')}".replace(
            "\N{NO-BREAK SPACE}", " "
        )
        in text
    )


def test_session_of_a_workshop_in_us_units_is_in_ounces_and_gallons() -> None:
    found = replace(demo(), workshop=replace(demo().workshop, units="us"))
    text = words(plain_html_of(found, Request("school"))).replace("\N{NO-BREAK SPACE}", " ")
    # 280 g are 9.9 oz, 3.6 L are 0.95 gal (NIST Handbook 44, appendix C, from memory: 28.3495 g, 3.785 L).
    assert "Paper used 9.9 oz" in text
    assert re.search(r"Water 0\.9\d gal", text)
    assert not re.search(r"\d (?:g|kg|L)\b(?! CO)", text.partition("Carbon (CO")[0])


@pytest.mark.parametrize("language", KINDS["school"].languages)
@pytest.mark.parametrize("letters", [0, 30, 80, 100, 150, 200])
@pytest.mark.parametrize("space", [FORESEEN, SHORT, ALONE])
def test_table_of_statements_takes_no_more_than_its_room(letters: int, language: str, space: float) -> None:
    visit = Visit(**dict.fromkeys(STATED, "w" * letters)) if letters else None
    room = room_of(visit, 0, language, space)
    height, of_line = SIZES[room.size]
    lines = ROWS + (len(STATED) * (ceil(letters / of_line) - 1) if letters else 0)
    assert NARROWEST <= room.padding <= WIDEST
    assert lines * height + 2 * ROWS * room.padding <= space + ROWS * 0.1


ENGLISH = (
    "the|and|of|to|with|is|are|from|paper|parts|not|an|school|pupils|water|for|kept|more|less|page|term|hours|weigh"
)


TRANSLATED = tuple(language for language in KINDS["school"].languages if language != "en")


@pytest.mark.parametrize("language", TRANSLATED)
@pytest.mark.parametrize("name", WORKSHOPS)
def test_school_page_in_another_language_has_no_english_words(name: str, language: str) -> None:
    english = ENGLISH.replace("|an|", "|") if language == "de" else ENGLISH
    text = ours(page(name, language), WORKSHOPS[name]().workshop)
    assert re.findall(rf"\b(?:{english})\b", text, flags=re.IGNORECASE) == []
    assert len(re.findall(rf"\b(?:{english})\b", words(page(name)))) > 50
    assert f'<html lang="{language}">' in page(name, language)


def threes(name: str, language: str) -> set[tuple[str, ...]]:
    """Return every three words of letters in a row of what is ours on a page, with no sign between them."""
    text = ours(page(name, language), WORKSHOPS[name]().workshop)
    runs = [run.casefold().split() for run in re.split(r"[^\w\s’'-]+|\b\w*\d\w*\b", text)]
    return {tuple(run[place : place + 3]) for run in runs for place in range(len(run) - 2)}


@pytest.mark.parametrize("language", TRANSLATED)
@pytest.mark.parametrize("name", WORKSHOPS)
def test_school_page_in_another_language_has_no_part_of_an_english_sentence(name: str, language: str) -> None:
    english, own = threes(name, "en"), threes(name, language)
    assert len(own) > 250
    assert english & own == set()


def test_school_page_in_german_addresses_pupils_and_nobody_else() -> None:
    text = ours(page("busy", "de"), busy().workshop)
    assert "Was ihr tut" in text
    assert re.findall(r"\b(?:Sie|Ihr|Ihre[nmrs]?|du|dein\w*|euch|eure?\w*)\b(?! trocknen)", text) == []


def test_school_page_in_switzerland_has_no_sharp_s() -> None:
    pages = {}
    for country in ("DEU", "CHE"):
        found = replace(busy(), workshop=replace(busy().workshop, country=country))
        pages[country] = plain_html_of(found, Request("school", "de"))
    assert "ß" in words(pages["DEU"])
    assert "ß" not in words(pages["CHE"])
    assert '<html lang="de-CH">' in pages["CHE"]
    assert "Heisser Kleister" in pages["CHE"]
