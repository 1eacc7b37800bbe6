"""A workshop in every country of the catalogue that has electricity: the figures come out and name what stood in."""

from __future__ import annotations

import re
from functools import cache

import pandas as pd
import pytest

from impact.account.results import Results
from impact.base.catalogue import Names, read_names
from impact.base.printing import Printer
from impact.factors.factorset import FactorSet, read_factors
from impact.study import assess
from tests.frames import PLAIN, batches, workshop
from tests.reports import plain_html_of

ROW = {**PLAIN, "binder": "corn-starch", "binder_kg": 0.2, "binder_solids": 0.1, "drying_kwh": float("nan")}


@cache
def factors() -> FactorSet:
    return read_factors()


@cache
def names() -> Names:
    return read_names()


@cache
def frame() -> pd.DataFrame:
    return batches([ROW, {**ROW, "fate": "landfill"}])


def countries() -> list[str]:
    keys = ("electricity.direct", "electricity.life-cycle")
    powered = {factor.geography for key in keys for factor in factors().by_key[key]}
    return sorted(set(names().countries) & powered)


COUNTRIES = countries()


@cache
def result(country: str) -> Results:
    shop = workshop(country=country, landfill_climate=None, fates={})
    return assess(shop, frame(), factors(), draws=100, names=names())


def test_countries_with_electricity_are_nearly_all_of_the_catalogue() -> None:
    assert len(COUNTRIES) >= 200
    assert {"USA", "GBR", "DEU", "IND", "KEN", "BRA", "NPL"} <= set(COUNTRIES)


@pytest.mark.parametrize("country", COUNTRIES)
def test_assess_every_country_gives_figures_and_names_the_level_used(country: str) -> None:
    found = result(country)
    (made,) = found.parts
    assert made.footprint is not None
    assert made.footprint.low < made.footprint.value < made.footprint.high
    assert made.plastic is not None
    assert found.net.low < found.net.high
    assert country in found.settings.electricity
    assert 0.0 < found.settings.electricity_kgco2e_per_kwh < 2.0
    # The grid that serves the country is its own; every regional factor of another place is named as a stand-in.
    reach = (country, *names().country_groups.get(country, ()), "world")
    used = [choice.factor for choice in found.factors_used.values()]
    assert {factor.geography for factor in used} <= set(reach)
    stand_ins = {
        factor.geography for factor in used if factor.geography != country and factors().is_regional(factor.key)
    }
    named = {
        item.code.removeprefix("fallback-"): item.text
        for item in found.assumptions
        if item.code.startswith("fallback-")
    }
    assert set(named) == stand_ins
    assert all(names().place(place) in text and names().place(country) in text for place, text in named.items())


def test_assess_country_without_rows_of_its_own_keeps_what_was_asked_for_first() -> None:
    used = result("AND").factors_used
    assert used["fate.corrugated.recycling/world"].wanted == used["fate.part.recycling/world"].wanted == "AND"


def test_assess_country_without_rows_of_its_own_names_group_and_world() -> None:
    codes = {item.code for item in result("KEN").assumptions}
    assert "fallback-world" in codes
    assert "fallback-Europe" in {item.code for item in result("DEU").assumptions}


@pytest.mark.parametrize("country", ["USA", "GBR", "DEU", "IND", "KEN"])
def test_render_html_of_a_country_names_its_grid_and_the_stand_ins(country: str) -> None:
    page, printer = plain_html_of(result(country)), Printer.of(result(country).workshop, names=result(country).names)
    assert page.count("</html>") == 1
    (row,) = re.findall(r"<th scope=\"row\">Electricity generated, (?:with|emissions).*?</tr>", page)
    assert names().place(country) in re.sub(r"<[^>]*>", "", row)
    for item in result(country).assumptions:
        if item.code.startswith("fallback-"):
            assert item.said.say(printer).split(":")[0] in page
