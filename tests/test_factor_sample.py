"""A random sample of the factor rows whose sources were looked up again, typed once more from the words that were read.

Checked against, from outside:

- sixty rows: `random.Random(16).sample` of the 416 such rows, sorted by id, of which the words print the number; typed by
  hand, arithmetic written out, and not copied from the tables
- ten countries of Ember's series of April 2026, read in the series itself (its rows have no words to quote)
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import pytest

from impact.factors.factorset import NOT_FACTORS

FOLDER = Path(__file__).parents[1] / "factors"


@cache
def rows() -> dict[str, dict[str, str]]:
    found: dict[str, dict[str, str]] = {}
    for path in FOLDER.glob("*.csv"):
        if path.name not in NOT_FACTORS:
            with path.open(encoding="utf-8", newline="") as stream:
                found |= {row["id"]: row for row in csv.DictReader(stream)}
    return found


SAMPLE = [
    # Finnish starch association: 500 to 1,500 g per kg of product; dry matter 0.82.
    ("binder.footprint.potato-starch", (0.5 + 1.5) / 2 / 0.82, "kgCO2e/kg", "computed"),
    # EPiC 2019: "Wood glue (PVA) | kg | 5.4 | process proportion 0.48".
    ("binder.footprint.pva-glue", 5.4 * 0.48, "kgCO2e/kg", "computed"),
    # AGRIBALYSE 9436, edition 3.1.1: 0.551 and 0.036; edition 4.0: 0.54040859 and 0.03872126; dry matter 0.86.
    ("binder.footprint.wheat-paste", (0.587 + 0.57912985) / 2 / 0.86, "kgCO2e/kg", "computed"),
    # NRAES-54, Table A.1: "Newsprint 5.5 62.5 0.1", "Cattle manure 81.0 45.6 2.4" (moisture, carbon, nitrogen).
    ("compost.carbon-nitrogen.newsprint", 62.5 / 0.1, "kg/kg", "secondary copy"),
    ("compost.nitrogen.cattle-manure", 2.4 / 100, "kg/kg", "secondary copy"),
    # Golueke 1972: "Nonlegume vegetable waste 2.5 to 4 11 to 12".
    ("compost.carbon-nitrogen.vegetable-waste", 12, "kg/kg", "secondary copy"),
    # World Development Indicators, EG.ELC.LOSS.ZS, 2014, per cent of output.
    ("electricity.loss/ARM", 11.987 / 100, "1", "seen"),
    ("electricity.loss/HRV", 13.129 / 100, "1", "seen"),
    ("electricity.loss/IRL", 7.920 / 100, "1", "seen"),
    # Eurostat, env_waspacr, W150101, recycling rate 2019: "AT,2019,84.7" and so on.
    ("fate.boxboard.recycling/AUT", 0.847, "1", "seen"),
    ("fate.boxboard.recycling/IRL", 0.785, "1", "seen"),
    ("fate.corrugated.recycling/CYP", 0.995, "1", "seen"),
    ("fate.corrugated.recycling/CZE", 0.882, "1", "seen"),
    ("fate.corrugated.recycling/ESP", 0.729, "1", "seen"),
    ("fate.corrugated.recycling/GRC", 0.846, "1", "seen"),
    ("fate.corrugated.recycling/LUX", 0.801, "1", "seen"),
    ("fate.corrugated.recycling/NLD", 0.91, "1", "seen"),
    ("fate.kraft.recycling/AUT", 0.847, "1", "seen"),
    ("fate.kraft.recycling/BEL", 0.923, "1", "seen"),
    ("fate.kraft.recycling/DNK", 0.997, "1", "seen"),
    ("fate.kraft.recycling/EU", 0.82, "1", "seen"),
    ("fate.kraft.recycling/HRV", 0.742, "1", "seen"),
    ("fate.kraft.recycling/PRT", 0.71, "1", "seen"),
    ("fate.moulded-fibre.recycling/BEL", 0.923, "1", "seen"),
    ("fate.moulded-fibre.recycling/DNK", 0.997, "1", "seen"),
    ("fate.moulded-fibre.recycling/NOR", 0.833, "1", "seen"),
    ("fate.moulded-fibre.recycling/SVK", 0.777, "1", "seen"),
    ("fate.moulded-fibre.recycling/SWE", 0.75, "1", "seen"),
    # Umweltbundesamt 2022: "Papier, Pappe 84,2 %".
    ("fate.boxboard.recycling/DEU", 0.842, "1", "secondary copy"),
    ("fate.corrugated.recycling/DEU", 0.842, "1", "secondary copy"),
    ("fate.kraft.recycling/DEU", 0.842, "1", "secondary copy"),
    # Defra, packaging 2021: "Paper and cardboard 5,389 3,802 70.6%".
    ("fate.corrugated.recycling/GBR", 0.706, "1", "secondary copy"),
    # Swiss paper recyclers, 2023: "Sammelrate (85,74%)".
    ("fate.magazine.recycling/CHE", 0.8574, "1", "secondary copy"),
    # US EPA, 2017 data: "Paper containers and packaging, excluding corrugated boxes ... 15.3 percent".
    ("fate.moulded-fibre.recycling/USA", 0.153, "1", "seen"),
    # US EPA, 2018 data, plastics: recycled 8.7 %, landfilled 75.6 %, combusted 15.8 % (27 million tons landfilled).
    ("fate.plastic.landfill/USA", (1 - 0.087) * 0.827, "1", "computed"),
    # ITAD, 2009: "elektrischen Wirkungsgrade (10 Prozent)"; 13.5 MJ/kg assumed.
    ("incineration.net-electricity.paper/DEU", 13.5 / 3.6 * 0.10, "kWh/kg", "computed"),
    # IPCC 2006, vol. 5, Table 2.4: "msw_paper,dry,def,0.44".
    ("paper.doc.corrugated", 0.44, "kg/kg", "secondary copy"),
    ("paper.doc.mixed", 0.44, "kg/kg", "secondary copy"),
    # Ervasti 2016: 167 million tons in place of 222; a German report: 1.12 kg of recovered paper per kg. Rounded.
    ("paper.recycling-yield.mixed", round((167 / 222 + 1 / 1.12) / 2, 2), "1", "computed"),
    # Hopewell and others 2009, Table 3: "PP 73.4 43 2.0 7779".
    ("polymer.resin.PP/Europe/2009", 2.0, "kgCO2e/kg", "seen"),
    # World Bank, What a Waste 2.0: landfill, dump, incineration in per cent.
    ("residual.landfill/AZE", 100 / 100, "1", "seen"),
    ("residual.landfill/BGR", 66.22 / (66.22 + 2.75), "1", "seen"),
    ("residual.landfill/GUM", 64 / 64, "1", "seen"),
    ("residual.landfill/HKG", 66 / 66, "1", "seen"),
    ("residual.landfill/HRV", 79.75 / 79.75, "1", "seen"),
    ("residual.landfill/JOR", (48 + 45) / (48 + 45), "1", "seen"),
    ("residual.landfill/KAZ", 60.1 / 60.1, "1", "seen"),
    ("residual.landfill/KWT", 100 / 100, "1", "seen"),
    ("residual.landfill/MDV", 63 / (63 + 6), "1", "seen"),
    ("residual.landfill/PAN", (57.7 + 23.4) / (57.7 + 23.4), "1", "seen"),
    ("residual.landfill/PRI", 66.5 / 66.5, "1", "seen"),
    ("residual.landfill/VGB", 0 / 80.3, "1", "seen"),
    ("residual.landfill/XKX", (66.43 + 33.57) / (66.43 + 33.57), "1", "seen"),
    ("residual.landfill/YEM", (12 + 33) / (12 + 33), "1", "seen"),
    # OECD, municipal waste by treatment, 2018, thousand tonnes landfilled and burnt.
    ("residual.landfill/DEU", 121 / (121 + 15936), "1", "seen"),
    ("residual.landfill/EST", 115.18 / (115.18 + 220.92), "1", "seen"),
    ("residual.landfill/ISR", 4311 / (4311 + 66.535), "1", "seen"),
    ("residual.landfill/LVA", 462.36 / (462.36 + 15.06), "1", "seen"),
    ("residual.landfill/SVN", 96.88 / (96.88 + 104.62), "1", "seen"),
    # HSE, paper dust: 10 mg/m3 inhalable, 4 mg/m3 respirable.
    ("safety.paper-dust.respirable/GBR", 4, "mg/m3", "seen"),
]

GRIDS = [
    ("AFG", 131.31), ("ALB", 25.18), ("AGO", 185.38), ("ARG", 346), ("ARM", 211.93), ("AUS", 525.18), ("AUT", 116.91),
    ("BGD", 696.13), ("BEL", 149.82), ("BRB", 594.6),
]  # fmt: skip
"""Ember, carbon intensity of electricity, newest year, g/kWh."""


def test_sample_has_sixty_rows_of_different_ids() -> None:
    assert len({name for name, *_ in SAMPLE}) == 60


@pytest.mark.parametrize(("name", "value", "unit", "evidence"), SAMPLE, ids=[row[0] for row in SAMPLE])
def test_row_typed_again_from_the_words_read_agrees(name: str, value: float, unit: str, evidence: str) -> None:
    row = rows()[name]
    assert float(row["value"]) == pytest.approx(value, rel=2e-5)
    assert (row["unit"], row["evidence"]) == (unit, evidence)


@pytest.mark.parametrize(("country", "grams"), GRIDS)
def test_grid_typed_again_from_the_series_agrees(country: str, grams: float) -> None:
    row = rows()[f"electricity.life-cycle/{country}"]
    assert (float(row["value"]), row["unit"], row["evidence"]) == (grams, "gCO2e/kWh", "seen")
