"""Numbers on pages: each the same wherever it stands, in one unit, with one mark, and nothing but nothing printed as 0."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from html import unescape
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Literal, NamedTuple

import pytest

from impact.api import load
from impact.base.figurenames import leaves
from impact.base.language import AMERICAN, american, american_spellings, catalogue_of, translate, translate_count
from impact.base.locale import marks
from impact.base.printing import Printer
from impact.base.quantities import QUANTITIES, fixed
from impact.factors.claimrules import read_claim_rules
from impact.report.context import Report, compose
from impact.report.figurekinds import KINDS, fixed_in, quantity_of
from impact.report.kinds import KINDS as REPORTS
from impact.report.request import Request
from impact.report.ties import Ties
from impact.report.words import Words
from impact.study import Study
from tests.edges import pages
from tests.folders import CLOSED, OWN_BATCHES, OWN_BINDERS, TOML, write_folder
from tests.reading import decimals, figures_on, texts_by_name
from tests.reports import FEW, FOLDERS, undrawn

METRIC, US = Printer(us=False, written=marks("GBR")), Printer(us=True, written=marks("USA"))

GRANT = """
[[grants]]
name = "City fund"
start = 2026-01-01
end = 2026-06-30
share = 0.6
"""
OWN = """\
id,value,unit,source,locator,geography,edition
transport.car.direct/USA/own,0.5,kgCO2e/km,logbook,page 3,,
"""


def granted(folder: Path) -> Path:
    """Return a folder with a grant and a value of the workshop's own."""
    write_folder(folder, workshop=TOML + GRANT, batches=CLOSED)
    (folder / "factors.csv").write_text(OWN, encoding="utf-8")
    return folder


def with_own_binders(folder: Path) -> Path:
    """Return a folder whose workshop describes binders of its own."""
    return write_folder(folder, workshop=TOML + OWN_BINDERS, batches=OWN_BATCHES)


SIZES: dict[str, Callable[[Path], Path]] = {**FOLDERS, "binders": with_own_binders, "granted": granted}


@cache
def results_of(size: str) -> Study:
    with TemporaryDirectory() as place:
        records = load(SIZES[size](Path(place) / size))
        return records.assess(**FEW.options() | ({"grant": "City fund"} if size == "granted" else {}))


@cache
def report_of(size: str, reader: str) -> Report:
    return compose(results_of(size), Request(reader))


@cache
def figures_of(size: str, reader: str) -> dict[str, float | None]:
    return leaves(report_of(size, reader).document)


@cache
def page_of(size: str, reader: str) -> str:
    return undrawn(report_of(size, reader))


@cache
def page_in(country: str, units: Literal["metric", "us"], reader: str) -> str:
    """Return a report of three batches as if its workshop lay in a country, the figures as they are."""
    report = report_of("tiny", reader)
    workshop = replace(report.results.workshop, country=country, units=units)
    return undrawn(replace(report, results=replace(report.results, workshop=workshop)))


CITED = sorted({rule.reference for rules in read_claim_rules().values() for rule in rules}, key=len, reverse=True)
"""Publications and clauses of the rules on claims."""


def own_words(html: str) -> str:
    """Return the words of a page, with those that stand for its pictures, without the titles and clauses that it cites."""
    body = html.partition("<body")[2].partition(">")[2]
    body = re.sub(r'<ol class="sources">.*?</ol>|<span class="note">\[.*?\]</span>', "", body, flags=re.DOTALL)
    body = re.sub(r'<img[^>]* alt="([^"]*)"[^>]*>', r" \1 ", body)
    return re.sub("|".join(map(re.escape, CITED)), "", unescape(re.sub(r"<[^>]*>", " ", body)))


every_report = pytest.mark.parametrize("reader", REPORTS)


# -- by name ------------------------------------------------------------------------------------------------------


@every_report
@pytest.mark.parametrize("size", SIZES)
def test_quantity_of_every_figure_of_every_report_is_known(size: str, reader: str) -> None:
    figures = figures_of(size, reader)
    unknown = []
    for name, value in figures.items():
        try:
            quantity_of(name)
        except KeyError:
            unknown += [name] if value is not None else []
    assert len(figures) > 100
    assert unknown == []


def test_quantity_of_an_unknown_name_stops_the_report() -> None:
    tie = Ties({"weather.rain": 3.0}, METRIC)
    with pytest.raises(KeyError, match=r"weather\.rain"):
        tie("weather.rain")
    with pytest.raises(KeyError, match=r"no\.such"):
        tie("no.such")


def test_patterns_ask_for_quantities_that_there_are() -> None:
    assert {quantity for _, quantity in KINDS} <= set(QUANTITIES)


# -- one text for one figure --------------------------------------------------------------------------------------


@every_report
@pytest.mark.parametrize("size", ["demo", "tiny", "large"])
def test_report_says_the_same_figure_in_the_same_words_everywhere(size: str, reader: str) -> None:
    texts = texts_by_name(page_of(size, reader))
    assert len(texts) > 10
    assert {name: found for name, found in texts.items() if len(found) > 1} == {}


@pytest.mark.parametrize("size", ["demo", "tiny", "large"])
def test_report_prints_only_nothing_as_nothing_and_keeps_signs(size: str) -> None:
    values = figures_of(size, "funder")
    checked = 0
    for name, text in figures_on(page_of(size, "funder")):
        value = values.get(name)
        if value is None or quantity_of(name) == "chance":
            continue
        checked += 1
        assert (re.search("[1-9]", text) is None) == (abs(value) < 1e-9), (name, value, text)
        assert ("\N{MINUS SIGN}" in text) == (value <= -1e-9), (name, value, text)
    assert checked > 300


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (1e-15, "0"),
        (0.04, "0.04"),
        (-0.04, "\N{MINUS SIGN}0.04"),
        (0.0064, "0.006"),
        (0.0004, "<0.001"),
        (-0.0004, ">\N{MINUS SIGN}0.001"),
        (0.06, "0.06"),
        (-0.06, "\N{MINUS SIGN}0.06"),
        (0.096, "0.1"),
    ],
)
def test_figure_below_the_last_decimal_has_its_first_digit_and_far_below_is_said_to_be_under_it(
    value: float, text: str
) -> None:
    printer = replace(METRIC, report=fixed([("account", 12.3)], False))
    assert printer.figure(value, "account", unit=False) == text


def test_figure_of_a_large_report_is_not_nothing() -> None:
    printer = replace(METRIC, report=fixed([("account", 160_515.0)], False))
    assert printer.figure(320.0, "account", unit=False) == "300"
    assert printer.figure(-320.0, "account", unit=False) == "\N{MINUS SIGN}300"
    assert printer.figure(2.0, "account", unit=False) == "<10"
    assert printer.figure(7_301.0, "account", unit=False) == "7,000"


def bare(html: str) -> str:
    """Return the words of a piece of a page."""
    return unescape(re.sub(r"<[^>]*>", "", html))


class Interval(NamedTuple):
    """An invented figure."""

    value: float
    low: float
    high: float


@pytest.mark.parametrize(
    ("figure", "text"),
    [
        (Interval(0.031, 0.022, 0.043), "0.03 (0.02 to 0.04)"),
        (Interval(2.96, 2.958, 2.963), "2.960 (2.958 to 2.963)"),
        (Interval(3.0, 3.0, 3.0), "3.0"),
        (Interval(3.0, 2.9999, 3.0002), "3.0"),
        (Interval(0.171, 0.0021, 0.68), "0.2 (0.002 to 0.7)"),
        (Interval(0.0031, 0.00012, 0.0068), "0.003 (<0.001 to 0.007)"),
        (Interval(0.0, -0.031, 0.22), "0 (\N{MINUS SIGN}0.03 to 0.2)"),
        (Interval(0.0, 0.0, 0.0), "0"),
    ],
)
def test_whole_parts_the_ends_of_an_interval_or_leaves_it_out(figure: Interval, text: str) -> None:
    printer = replace(METRIC, report=fixed([("account", 12.3)], False))
    assert printer.whole(figure, "account", unit=False) == text
    values = {f"net_kgco2e.{end}": one for end, one in figure._asdict().items()}
    tie = Ties(values, printer)
    assert bare(tie.whole("net_kgco2e")) == text
    ends = text.partition("(")[2].rstrip(")") or text
    assert bare(tie.ends("net_kgco2e")) == ends


def test_figure_with_its_interval_is_one_element_that_names_them_all() -> None:
    tie = Ties({"parts.a+b.mass_kg.value": 0.5, "parts.a+b.mass_kg.low": 0.4, "parts.a+b.mass_kg.high": 0.6}, METRIC)
    name, mark = "parts.a+b.mass_kg", "f.parts.a%2Bb.mass_kg"
    first, second = tie.whole(name), tie.whole(name)
    assert first.startswith(f'<span id="{mark}.value+low+high" class="whole">')
    assert second.startswith(f'<span id="{mark}.value+low+high~2" class="whole">')
    assert tie.ends(name).startswith(f'<span id="{mark}.low+high">')
    assert tie(f"{name}.low").startswith(f'<span id="{mark}.low">')
    middle, ends = bare(first).split(" ", 1)
    assert figures_on(first + tie.ends(name)) == [
        (f"{name}.value", middle),
        *zip((f"{name}.low", f"{name}.high"), ends.strip("()").split(" to "), strict=True),
        *zip((f"{name}.low", f"{name}.high"), bare(tie.ends(name)).split(" to "), strict=True),
    ]


def test_whole_of_a_share_that_is_always_alike_has_no_interval() -> None:
    names = {
        "choice.binders.agar.dose": 0.073,
        "choice.binders.agar.dose_low": 0.073,
        "choice.binders.agar.dose_high": 0.073,
    }
    assert bare(Ties(names, METRIC).ends("choice.binders.agar.dose")) == "7.3\u00a0%"
    chance = {"at_ends.from_memory.net.favourable": 20.04, "at_ends.from_memory.net.unfavourable": 19.96}
    tie = Ties(chance, replace(METRIC, report=fixed([("account", 123.0)], False)))
    assert bare(tie.ends("at_ends.from_memory.net")) == "20.04 to 19.96"


@pytest.mark.parametrize(("share", "text"), [(0.0, "<1"), (0.42, "42"), (1.0, ">99")])
def test_figure_of_a_chance_never_says_never_or_always(share: float, text: str) -> None:
    assert METRIC.figure(share, "chance") == f"{text}\u00a0%"


def significant(text: str) -> int:
    """Return the digits of a number between its zeros."""
    return len(re.sub(r"[^0-9]", "", text).strip("0"))


def test_headline_of_a_large_workshop_has_three_digits_and_one_more_where_its_months_need_it() -> None:
    headline = page_of("large", "funder").partition('<div class="headline">')[2].partition("</div>")[0]
    figures = figures_on(headline)
    assert len(figures) > 10
    assert [one for one in figures if significant(one[1]) > (4 if quantity_of(one[0]) == "paper" else 3)] == []


def test_fixed_in_heeds_central_values_alone() -> None:
    values = {"net_kgco2e.value": 41.0, "net_kgco2e.high": 52_000.0, "at_ends.from_memory.net.unfavourable": 9_000.0}
    assert fixed_in(values, False)["account"].decimals == 1
    gap = {"school.term.carbon_gap_kgco2e.value": 0.19, "school.term.carbon_gap_kgco2e.low": -5.6}
    assert fixed_in(gap, False)["term account"].decimals == 1


def test_fixed_in_lets_no_purchase_decide_on_the_account() -> None:
    values = {"made_kgco2e.value": 0.00884, "net_account.moulds_bought_kgco2e.value": 1.5512}
    printer = replace(METRIC, report=fixed_in(values, False))
    assert printer.figure(0.00884, "account") == "8.84\u00a0g CO₂e"
    assert printer.figure(1.5512, "account") == "1,551\u00a0g CO₂e"


def test_fixed_in_rounds_so_that_the_rows_of_a_table_of_periods_can_be_added() -> None:
    years = {f"period_sums.{year}": 144.0 for year in range(2000, 2021)} | {"periods.2000.newsprint": 28.8}
    printer = replace(METRIC, report=fixed_in({**years, "paper.collected_kg.value": 3024.0}, False))
    assert [printer.figure(kg, "paper") for kg in (144.0, 28.8, 3024.0)] == [
        "144\u00a0kg",
        "29\u00a0kg",
        "3,024\u00a0kg",
    ]


# -- marks and units ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("country", "mark"), [("DEU", ","), ("ESP", ","), ("USA", "."), ("GBR", "."), ("IND", ".")])
@every_report
def test_report_has_one_decimal_mark(country: str, mark: str, reader: str) -> None:
    """Which mark a country writes is Unicode CLDR's; a comma may part thousands where the mark is a point."""
    right, others = decimals(page_in(country, "metric", reader), mark)
    assert right > 0
    assert others == []


@pytest.mark.parametrize(
    ("printer", "kg", "text"),
    [
        (METRIC, 0.0248, "24.8~g"),
        (METRIC, 0.999, "999~g"),
        (METRIC, 0.9996, "1.00~kg"),
        (METRIC, 1.0, "1.00~kg"),
        (METRIC, 2.3456, "2.35~kg"),
        (US, 0.0283495, "1.00~oz"),
        (US, 0.45, "15.9~oz"),
        (US, 0.45359237, "1.00~lb"),
        (US, 0.6803885, "1.50~lb"),
    ],
)
def test_figure_of_a_small_mass_changes_its_unit_at_a_kilogram_and_at_sixteen_ounces(
    printer: Printer, kg: float, text: str
) -> None:
    """A pound is 0.45359237 kg and 16 oz, an ounce 0.02834952 kg (NIST SP 811, appendix B.8)."""
    assert printer.figure(kg, "small mass") == text.replace("~", "\u00a0")


def test_whole_of_an_interval_takes_unit_and_decimals_of_its_central_value() -> None:
    assert METRIC.whole(Interval(0.95, 0.0815, 1.2), "small mass") == "950\u00a0g (82\u00a0g to 1,200\u00a0g)"
    assert METRIC.whole(Interval(7.19, 7.0, 10.126), "number") == "7.19 (7.00 to 10.13)"
    tie = Ties({"parts.pot.mass_kg": 0.5}, METRIC)
    assert tie("parts.pot.mass_kg", unit=True) == tie("parts.pot.mass_kg").replace("mass_kg~2", "mass_kg")


@pytest.mark.parametrize(
    ("value", "quantity", "text"),
    [(3.785411784, "little volume", "1.0~gal"), (16.09344, "distance", "10.0~mi"), (37.85411784, "volume", "10.0~gal")],
)
def test_figure_in_us_units_is_in_gallons_and_miles(value: float, quantity: str, text: str) -> None:
    """A US gallon is 3.785412 L, a mile 1.609344 km (NIST SP 811, appendix B.8)."""
    assert US.figure(value, quantity) == text.replace("~", "\u00a0")


def test_report_in_us_units_has_no_litres_kilometres_or_kilograms_of_paper() -> None:
    html = page_in("USA", "us", "funder")
    told = [html.partition(f'<section id="{name}"')[2].partition("</section>")[0] for name in ("made", "paper-data")]
    text = unescape(re.sub(r"<[^>]*>", " ", " ".join(told)))
    assert set(re.findall(r"[0-9]\s+(gal|mi|lb|oz|kg|g|L|km)\b", text)) == {"gal", "mi", "lb", "oz"}


def test_fixed_prints_a_report_of_less_than_a_kilogram_in_grams() -> None:
    printer = replace(METRIC, report=fixed([("paper", 0.75), ("paper", 0.0029), ("batch paper", 0.3)], False))
    assert printer.figure(0.0029, "paper") == "3\u00a0g"
    assert printer.unit("paper") == printer.unit("batch paper") == "g"


def test_figure_of_a_factor_has_four_digits_and_no_zeros_behind_them() -> None:
    texts = [METRIC.figure(value, "factor") for value in (7.0, 7.19, 0.5114938, 0.00002359, 1e9)]
    assert texts == ["7", "7.19", "0.5115", "0.00002359", "1,000,000,000"]


@pytest.mark.parametrize(
    ("doubt", "text"),
    [
        ("15000 kg, 1/2000 of what is usual, 7.5 kg", "15{g}000 kg, 1/2{g}000 of what is usual, 7{d}5 kg"),
        ("out within 15% of in, 1.5e+03 kg", "out within 15\u00a0% of in, 1{g}500 kg"),
        ('column "corrugated": read "0.5 kg" and 1747 others', "column “corrugated”: read “0.5 kg” and 1{g}747 others"),
        (
            "rows 4–9, 1012 and 1722 more: batch 2024: 2026-01-05",
            "rows 4–9, 1012 and 1{g}722 more: batch 2024: 2026-01-05",
        ),
        ('state to = "next pulp" or "sewer"', 'state to = "next pulp" or “sewer”'),
    ],
)
def test_doubt_on_a_page_has_the_marks_of_its_country_outside_what_it_quotes(doubt: str, text: str) -> None:
    for country, group, decimal in (("GBR", ",", "."), ("ESP", "\u202f", ",")):
        printer = Printer(us=False, country=country, written=marks(country))
        assert Words(printer).said(doubt) == text.format(g=group, d=decimal)


def test_doubt_on_a_page_is_spelt_as_its_country_does_but_for_what_the_records_wrote() -> None:
    doubt = (
        'column "colour": read "grey fibre": batch grey: 2% of the fibre; the mass of grey, the footprint of grey-cup'
    )
    printer = Printer(us=False, country="USA", language=AMERICAN, written=marks("USA"), parts=("grey", "grey-cup"))
    told = Words(printer).said(doubt)
    assert told.replace("\u00a0", "") == (
        "column “colour”: read “grey fibre”: batch grey: 2% of the fiber; the mass of grey, the footprint of grey cup"
    )
    assert "of the fibre;" in Words(Printer(us=False, country="GBR", written=marks("GBR"))).said(doubt)


# -- spelling -----------------------------------------------------------------------------------------------------

BOTH = {
    "draft",
    "drafts",
    "program",
    "programs",
    "check",
    "corn",
    "license",
    "licenses",
    "metric ton",
    "metric tons",
    "aging",
    "meter",
}
"""American forms that are British words as well."""


def test_american_changes_words_and_nothing_else() -> None:
    text = 'Moulded fibre of %(fibre)s and {mould} <b class="colour">colour</b>; “mould mass”; [moulds.pot]; the LITRE'
    assert american(text) == (
        'Molded fiber of %(fibre)s and {mould} <b class="colour">color</b>; “mould mass”; [moulds.pot]; the Liter'
    )


def test_translate_is_american_only_for_english_in_the_united_states() -> None:
    assert [catalogue_of(*where) for where in (("en", "USA"), ("en", "GBR"), ("es", "USA"))] == [AMERICAN, "en", "es"]
    found = [catalogue_of("de", country) for country in ("CHE", "LIE", "AUT", "DEU", "USA")]
    assert found == ["de-CH", "de-CH", "de", "de", "de"]
    assert translate(AMERICAN, "Moulded") == "Molded"
    assert translate("en", "Moulded") == "Moulded"
    assert translate_count(AMERICAN, "a mould", "moulds", 2) == "molds"


def test_spellings_are_no_word_of_the_other_side() -> None:
    spellings = american_spellings()
    assert len(spellings) > 50
    assert set(spellings) & set(spellings.values()) == set()


@every_report
def test_report_for_the_united_states_has_no_british_spelling(reader: str) -> None:
    html = page_in("USA", "us", reader)
    words = set(re.findall(r"[a-z]+", own_words(html).lower()))
    assert '<html lang="en-US">' in html
    assert words & set(american_spellings()) == set()


@every_report
def test_report_for_britain_has_no_american_spelling(reader: str) -> None:
    html = page_in("GBR", "metric", reader)
    words = set(re.findall(r"[a-z]+", own_words(html).lower()))
    assert '<html lang="en">' in html
    assert words & (set(american_spellings().values()) - BOTH) == set()
    assert words & set(american_spellings())


# -- totals -------------------------------------------------------------------------------------------------------


def total(figures: dict[str, float | None], start: str, end: str = "") -> float:
    """Return the sum of the figures whose names begin and end so."""
    return sum(value or 0.0 for name, value in figures.items() if name.startswith(start) and name.endswith(end))


@pytest.mark.parametrize("size", ["demo", "tiny", "large"])
def test_totals_of_tables_are_the_sums_of_their_rows(size: str) -> None:
    found = figures_of(size, "funder")
    rows = {
        "flow_sums.in": total(found, "flow.in."),
        "flow_sums.out": total(found, "flow.out."),
        "flow_sums.later": total(found, "flow.later."),
        "disposal.avoided_kgco2e.value": total(found, "disposal_by_grade.", ".avoided_kgco2e"),
        "disposal.lost_recycling_kgco2e.value": total(found, "disposal_by_grade.", ".lost_recycling_kgco2e"),
        "paper.weighed_kg.value": total(found, "register", ".paper_kg"),
        "made.electricity_kwh": total(found, "register", ".recorded_kwh")
        - (found["register_sums.recorded_kwh"] or 0.0),
    }
    rows |= {"flow_sums.in ": found["flow_sums.out"] or 0.0, "register_sums.recorded_kwh": rows["made.electricity_kwh"]}
    for name, mass in rows.items():
        assert found[name.strip()] == pytest.approx(mass), name
    assert total(found, "period_sums.") == pytest.approx(found["paper.collected_kg.value"])
    for grade in {name.split(".")[2] for name in found if name.startswith("paper.by_grade.")}:
        assert total(found, "periods.", f".{grade}") == pytest.approx(found[f"paper.by_grade.{grade}.collected_kg"])
    for part in {name.split(".")[1] for name in found if ".plastic_stages_kgco2e." in name}:
        of_part = total(found, f"details.{part}.plastic_stages_kgco2e.")
        assert of_part == pytest.approx(found[f"parts.{part}.plastic.footprint_kgco2e.value"])


# -- at edges -----------------------------------------------------------------------------------------------------


def words_of(edge: str, reader: str) -> str:
    """Return the words of a report at an edge, blanks as one."""
    return re.sub(r"\s+", " ", bare(pages(edge)[reader].partition("<body")[2]))


ALIKE = re.compile(
    r'<span id="(f\.[^"]*)">([^<]*)</span>\s*(?:<span>)?to\s*(?:</span>)?\s*<span id="f\.[^"]*">\2</span>'
)
"""Two ends of an interval that read alike."""


@every_report
@pytest.mark.parametrize("edge", ["very-small", "one-part", "all-better", "very-large", "in-USA", "many-batches"])
def test_report_at_an_edge_has_no_interval_that_says_nothing(edge: str, reader: str) -> None:
    page = pages(edge)[reader]
    figures = figures_on(page)
    assert len(figures) > 15
    assert [one[0] for one in ALIKE.findall(page)] == []
    under = [name for name, text in figures if re.match("[<>]", text) and quantity_of(name) not in ("chance", "share")]
    assert len(under) <= len(figures) / 100, under


def test_report_of_a_very_small_workshop_has_its_account_in_grams() -> None:
    text = words_of("very-small", "funder")
    assert re.search(r"emitted [\d.]{4} g CO₂e \([\d.]+ to [\d.]+\) more than it avoided", text)
    assert "g CO₂e over the period" in text
    assert "kg CO₂e over the period" not in text
    assert re.search(r"\d g added", words_of("very-small", "school"))


def added(page: str, table: str) -> tuple[list[float], float]:
    """Return the numbers of the last row of a table, and the one after them, which is their sum."""
    row = page.partition(table)[2].partition("</table>")[0].rpartition("<tr")[2]
    numbers = [float(bare(cell).replace(",", "")) for cell in re.findall(r'<td class="n">(.*?)</td>', row)]
    return numbers[:-1], numbers[-1]


def test_report_of_many_years_has_years_that_add_up_to_their_sum() -> None:
    years, every = added(pages("many-batches")["funder"], "Collected in each period")
    assert len(years) == 21
    assert sum(years) == every


@pytest.mark.parametrize(("edge", "odd"), [("all-better", True), ("many-batches", False), ("one-part", False)])
def test_report_says_that_figures_are_rounded_where_they_do_not_add_up(edge: str, odd: bool) -> None:
    table, _, after = pages(edge)["funder"].partition("Would have gone to landfill")[2].partition("</table>")
    gross, *less, net = (float(one) for one in re.findall(r'_kg\.value[^"]*">([\d.]+)<', table))
    assert (abs(gross - sum(less) - net) > 1e-9) == odd
    assert ("rounded by itself" in after.partition("<p>")[0]) == odd
