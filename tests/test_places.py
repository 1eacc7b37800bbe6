"""Where a country's figures are from: its own rows, those of a wider place, and codes of countries.

Checked against, from outside:

- residual waste landfilled and burnt: OECD.Stat, Municipal waste (MUNW), data of 17 June 2020, and World Bank, What a
  Waste 2.0 global database, typed again
- paper and cardboard packaging recycled in 2019: Eurostat, env_waspacr, typed again
- network losses of 2014: World Bank, World Development Indicators, EG.ELC.LOSS.ZS, typed again
- codes and names of countries: ISO 3166-1, typed again
"""

from __future__ import annotations

import csv
from functools import cache

import numpy as np
import pytest

from impact.base.catalogue import CATALOGUE, read_names
from impact.base.places import factors_folder
from impact.factors.factorset import read_factors
from impact.factors.values import Values
from impact.records.workshop import FateSplit
from impact.study import Study, assess
from tests.frames import PLAIN, batches, workshop
from tests.reports import plain_html_of

FACTORS = read_factors()
NAMES = read_names()
ROW = {**PLAIN, "binder": "corn-starch", "binder_kg": 0.2, "binder_solids": 0.1, "paper.newsprint_kg": 0.5}


@cache
def result(country: str) -> Study:
    shop = workshop(country=country, landfill_climate=None, fates={})
    return assess(shop, batches([ROW]), FACTORS, draws=100, names=NAMES)


def shares(country: str, waste: str) -> list[float]:
    regions = (country, *NAMES.country_groups.get(country, ()), "world")
    values = Values(FACTORS, regions, editions={}, seed=1, draws=0)
    return [float(np.ravel(share)[0]) for share in values.fate_shares(waste)]


@pytest.mark.parametrize(
    ("factor", "value"),
    [
        ("residual.landfill/POL", 5191 / (5191 + 3013)),  # Poland 2018, thousand t
        ("residual.landfill/GBR", 4462.91 / (4462.91 + 12045.5)),
        ("residual.landfill/JPN", 419 / (419 + 33769)),  # 2017
        ("residual.landfill/BRA", 36094 / (36094 + 186)),  # 2000
        ("residual.landfill/SGP", 2 / 39),  # per cent: landfill 2, dump 0, incineration 37
        ("residual.landfill/IND", 1.0),  # landfill 0, dump 77, incineration 0
        ("residual.landfill/THA", (27 + 53.5) / (27 + 53.5 + 0.4)),
        ("fate.corrugated.recycling/POL", 0.799),
        ("fate.kraft.recycling/FRA", 0.914),
        ("fate.boxboard.recycling/MLT", 0.455),
        ("fate.moulded-fibre.recycling/NOR", 0.833),
        ("fate.corrugated.recycling/ZAF", 0.71),  # 2019, in a press text
        ("electricity.loss/POL", 0.06467),
        ("electricity.loss/ALB", 0.23688),
        ("electricity.loss/XKX", 0.15048),
    ],
)
def test_rows_of_places_are_the_published_figures(factor: str, value: float) -> None:
    (row,) = (row for row in FACTORS if row.id == factor)
    assert row.value == pytest.approx(value, abs=6e-6)
    assert row.low < row.value <= row.high


def test_rate_above_one_is_no_share_and_has_no_row() -> None:
    # Eurostat prints 115.9 % for Finland in 2019: imported waste counts, so it is no share of Finland's own
    assert not FACTORS.has("fate.corrugated.recycling", ("FIN",))
    assert shares("FIN", "corrugated")[2] == shares("EU", "corrugated")[2]


def test_fate_shares_recycling_of_the_country_leaves_residual_waste_of_the_country() -> None:
    landfilled = 5191 / (5191 + 3013)
    expected = [0.201 * landfilled, 0.201 * (1 - landfilled), 0.799, 0.0]
    assert shares("POL", "corrugated") == pytest.approx(expected, abs=1e-5)


def test_fate_shares_recycling_of_a_wider_place_leaves_residual_waste_of_the_country() -> None:
    # Sweden landfills 29.67 of 2391.83 thousand t (OECD.Stat, 2018); its newsprint is recycled as in the EU
    recycled = shares("EU", "newsprint")[2]
    landfilled = 29.67 / (29.67 + 2362.16)
    expected = [(1 - recycled) * landfilled, (1 - recycled) * (1 - landfilled), recycled, 0.0]
    assert shares("SWE", "newsprint") == pytest.approx(expected, abs=1e-5)
    assert shares("SWE", "part") == pytest.approx([landfilled, 1 - landfilled, 0.0, 0.0], abs=1e-5)


def test_fate_shares_plastic_with_rows_for_all_routes_keeps_them_unless_residual_waste_is_nearer() -> None:
    assert shares("USA", "plastic") == pytest.approx([0.755051, 0.157949, 0.087, 0.0])
    assert shares("POL", "plastic")[0] == pytest.approx((1 - 0.325) * 5191 / (5191 + 3013), abs=1e-5)


@pytest.mark.parametrize(
    ("country", "own", "wider"),
    [
        ("GBR", ("corrugated cardboard recycled", "newsprint recycled", "residual waste landfilled"), ()),
        (
            "POL",
            ("corrugated cardboard recycled", "residual waste landfilled"),
            ("newsprint recycled (the European Union)",),
        ),
        (
            "IND",
            ("corrugated cardboard recycled", "newsprint recycled", "residual waste landfilled"),
            ("plastic parts recycled (the world)",),
        ),
        (
            "BRA",
            ("corrugated cardboard recycled", "newsprint recycled", "residual waste landfilled"),
            ("plastic parts recycled (the world)",),
        ),
    ],
)
def test_report_of_a_country_names_its_own_fates_and_those_that_fell_back(
    country: str, own: tuple[str, ...], wider: tuple[str, ...]
) -> None:
    found = result(country)
    (told,) = (item for item in found.assumptions if item.code == "fates-of-place")
    here, _, there = told.text.partition("A wider place stands in for:")
    assert all(name in here for name in own)
    assert all(name in there for name in wider)
    assert NAMES.place(country) in here
    fallen = " ".join(item.text for item in found.assumptions if item.code.startswith("fallback-"))
    assert ("share that would have been recycled" in fallen or " of fates" in fallen) <= bool(wider)
    assert "Residual waste" not in fallen
    assert told.text in plain_html_of(found)


def test_end_of_life_assumed_to_be_recycling_says_that_no_collection_is_known() -> None:
    for evidence, says in (("", ["; no collection is known to take them."]), ("asked the mill", [])):
        end = FateSplit(landfill=0.5, recycling=0.5, evidence=evidence)
        found = assess(workshop(end_of_life=end), batches([ROW]), FACTORS, draws=20, names=NAMES)
        told = [item.text for item in found.assumptions if item.code == "end-of-life"]
        assert [text[text.index(";") :] for text in told] == says


def test_fates_by_the_tables_name_the_rest_and_no_empty_clause() -> None:
    found = result("USA")
    told = {item.code: item.text for item in found.assumptions}
    assert told["fates"].endswith("recycled; the rest burnt.")
    assert told["end-of-life"].endswith("80\u00a0% landfill, 20\u00a0% incineration.")
    assert ": none" not in told["fates-of-place"]
    assert "A wider place" not in told["fates-of-place"]


def test_report_of_a_workshop_that_states_its_fates_names_no_place_for_them() -> None:
    codes = {item.code for item in assess(workshop(), batches([PLAIN]), FACTORS, draws=20, names=NAMES).assumptions}
    assert "fates" not in codes


@pytest.mark.parametrize(
    ("code", "two", "label"),
    [
        ("AND", "AD", "Andorra"), ("LIE", "LI", "Liechtenstein"), ("MCO", "MC", "Monaco"), ("SMR", "SM", "San Marino"),
        ("IMN", "IM", "Isle of Man"), ("TUV", "TV", "Tuvalu"), ("CUW", "CW", "Curaçao"), ("TUR", "TR", "Türkiye"),
        ("CPV", "CV", "Cabo Verde"), ("CIV", "CI", "Côte d'Ivoire"), ("TLS", "TL", "Timor-Leste"),
    ],
)  # fmt: skip
def test_catalogue_countries_have_the_codes_and_names_of_the_standard(code: str, two: str, label: str) -> None:
    assert NAMES.countries[code] == label
    assert NAMES.country_codes[two] == code


def test_catalogue_has_each_of_the_249_codes_and_three_places_that_the_standard_lacks() -> None:
    with (factors_folder() / CATALOGUE).open(encoding="utf-8", newline="") as stream:
        sources = {row["id"]: row["source"] for row in csv.DictReader(stream) if row["kind"] == "country"}
    assert sources.keys() == NAMES.countries.keys()
    assert len([place for place, source in sources.items() if source == "ISO3166"]) == 249
    assert {place for place, source in sources.items() if source != "ISO3166"} == {"EU", "XKX", "world"}
