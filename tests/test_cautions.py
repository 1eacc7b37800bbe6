"""Cautions by what the records show; figures from the safety table of the workshop's place.

Checked against, from outside:

- dust limits: 29 CFR 1910.1000 table Z-1, HSE
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from impact.account.assessment import values_for
from impact.account.linekinds import DRYING
from impact.account.tally import tally_of
from impact.base.catalogue import Names, read_names
from impact.factors.factorset import FactorSet, read_factors
from impact.findings.cautions import Caution, cautions
from impact.records.batchtable import BatchTable
from impact.records.workshop import Drying
from tests.frames import PLAIN, batches, workshop


@cache
def factors() -> FactorSet:
    return read_factors()


@cache
def names() -> Names:
    return read_names()


def found(
    *,
    binder: str = "none",
    notes: str = "",
    drying_kwh: float = 0.5,
    country: str = "USA",
    tables: FactorSet | None = None,
    **changes: Any,
) -> dict[str, Caution]:
    shop = workshop(country=country, **changes)
    regions = (country, *names().country_groups[country], "world")
    values = values_for(shop, factors(), names(), seed=0, draws=1)
    tally, _ = tally_of(
        BatchTable.of(batches([{**PLAIN, "binder": binder, "notes": notes, "drying_kwh": drying_kwh}])),
        shop,
        values.central,
    )
    dried = tally.inventory.sum_of(*DRYING) > 0.0
    listed = cautions(shop, tally.binders, tables or factors(), names(), regions, sanded=tally.sanded, dried=dried)
    assert len({caution.hazard for caution in listed}) == len(listed)
    return {caution.hazard: caution for caution in listed}


@pytest.mark.parametrize(
    "hazard", ["Dust", "Mould growth", "Blender and press", "Water and electricity", "Not for food, toys or load"]
)
def test_cautions_of_every_workshop_are_there(hazard: str) -> None:
    assert hazard in found()


@pytest.mark.parametrize(
    ("hazard", "with_it", "without_it"),
    [
        ("Hot paste", {"binder": "corn-starch"}, {"binder": "pva-glue"}),
        ("Starch and flour powder", {"binder": "rice-paste"}, {"binder": "methyl-cellulose"}),
        ("Glue", {"binder": "pva-glue"}, {"binder": "corn-starch"}),
        ("Allergens", {"binder": "wheat-paste"}, {"binder": "rice-paste"}),
        (
            "Sanding",
            {"notes": "edges sanded by hand"},
            {"notes": "weighed on a thousand-gram scale, sandy grit in the bin"},
        ),
        ("Drying heat", {"drying": Drying(dryer="convection-oven")}, {"drying": Drying(dryer="fan")}),
        ("Machines that dry for days", {"drying": Drying(dryer="dehumidifier")}, {"drying": Drying(dryer="room-air")}),
        ("School", {"audience": "school"}, {"audience": "adults"}),
    ],
)
def test_cautions_follow_what_the_workshop_does(
    hazard: str, with_it: dict[str, Any], without_it: dict[str, Any]
) -> None:
    assert hazard in found(**with_it)
    assert hazard not in found(**without_it)


def test_cautions_school_speaks_of_supervision_and_allergies() -> None:
    text = found(audience="school")["School"].text
    assert "adult" in text
    assert "wheat" in text


def test_cautions_protein_paste_goes_mouldy_sooner() -> None:
    assert "mouldy sooner" in found(binder="rice-paste")["Mould growth"].text
    assert "mouldy sooner" not in found(binder="corn-starch")["Mould growth"].text


def test_cautions_no_powered_dryer_warns_of_thick_parts() -> None:
    assert "stay damp" in found(drying=Drying(dryer="room-air"))["Mould growth"].text
    assert "stay damp" not in found(drying=Drying(dryer="fan"))["Mould growth"].text


def test_cautions_electricity_of_drying_is_that_of_a_dryer_nobody_named() -> None:
    unnamed = Drying(dryer=None)
    assert "No powered dryer" not in found(drying=unnamed)["Mould growth"].text
    assert "No powered dryer" in found(drying=unnamed, drying_kwh=0.0)["Mould growth"].text
    assert "No powered dryer" in found(drying=unnamed, drying_kwh=math.nan)["Mould growth"].text


@pytest.mark.parametrize(
    ("country", "figures", "source", "borrowed"),
    [
        # 29 CFR 1910.1000, Table Z-1: 15 and 5 mg/m3; HSE page on the paper industry: 10 and 4 mg/m3.
        ("USA", ("15 mg/m³ of total", "5 mg/m³ of respirable"), "29 CFR 1910.1000", False),
        ("GBR", ("10 mg/m³ of inhalable", "4 mg/m³ of respirable"), "Health and Safety Executive", False),
        ("DEU", ("10 mg/m³ of inhalable", "4 mg/m³ of respirable"), "Health and Safety Executive", True),
    ],
)
def test_cautions_dust_figures_are_those_of_the_place(
    country: str, figures: tuple[str, str], source: str, borrowed: bool
) -> None:
    dust = found(country=country)["Dust"]
    assert all(figure in dust.text for figure in figures)
    assert source in dust.source
    assert ("another country" in dust.text) is borrowed


@pytest.mark.parametrize(
    ("key", "hazard"),
    [
        ("safety.dust-layer.depth", "Starch and flour powder"),
        ("safety.fire.paper-ignition", "Drying heat"),
        ("safety.food-contact.mineral-oil-newspaper", "Not for food, toys or load"),
        ("safety.mould-growth.dry-within", "Mould growth"),
    ],
)
def test_cautions_figure_and_source_come_from_the_table(key: str, hazard: str) -> None:
    (row,) = factors().by_key[key]
    own = replace(row, value=77.0, low=77.0, high=77.0, source="works letter", locator="page 2", evidence="own value")
    tables = FactorSet({**factors().by_key, key: (own,)}, factors().sources)
    caution = found(binder="corn-starch", drying=Drying(dryer="convection-oven"), tables=tables)[hazard]
    assert "77" in caution.text
    assert "works letter, page 2 (own value)" in caution.source


def test_cautions_each_has_a_source() -> None:
    everything = found(binder="wheat-paste", notes="sanding", audience="school", drying=Drying(dryer="convection-oven"))
    assert [caution.hazard for caution in everything.values() if not caution.source.strip()] == []
