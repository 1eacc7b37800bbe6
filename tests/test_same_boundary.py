"""Moulded parts bear collection and handling in their end of life, as the plastic parts do.

Checked against, from outside:

- the same boundary on both sides of a comparison: ISO 14044:2006 clause 4.2.3.7 (clause from memory)
- handling: US EPA, Emission Factors for Greenhouse Gas Inventories, 2025, Table 9 (secondary copy), t CO2e per short ton:
  plastics landfilled 0.02, of which nothing decays; mixed paper recycled 0.07
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from impact.account.assessment import assess, values_for
from impact.account.intensities import UnitImpacts
from impact.account.results import PartResult
from impact.base.catalogue import read_names
from impact.factors.factorset import FactorSet, read_factors
from impact.factors.own import read_own_factors
from impact.records.workshop import FateSplit
from tests.frames import PLAIN, batches, workshop

SHORT_TON = 907.18474  # kg


def impacts_of() -> UnitImpacts:
    shop = workshop(part_moisture=0.06)
    return UnitImpacts(shop, values_for(shop, read_factors(), read_names(), seed=1, draws=50), {})


@pytest.mark.parametrize(("route", "per_short_ton"), [("landfill", 0.02), ("recycling", 0.07)])
def test_disposed_inert_binder_bears_handling_alone(route: str, per_short_ton: float) -> None:
    found = np.asarray(impacts_of().disposed("binder", "pva-glue", route))
    assert found[0] == pytest.approx(
        per_short_ton * 1000.0 / SHORT_TON / 0.94, rel=1e-9
    )  # weighed with its 6 % of water
    assert np.ptp(found[1:]) > 0.0


def test_disposed_rejects_that_are_pulped_again_bear_nothing() -> None:
    assert impacts_of().disposed("fibre", "corrugated", "own rejects") == 0.0


def part_with(handling: float, folder: Path) -> PartResult:
    """Return the part of PLAIN, all of whose ends are landfill, with another figure for handling there. [kgCO2e/kg]"""
    path = folder / "factors.csv"
    text = f"id,value,unit,source,locator\nhandling.landfill/USA,{handling},kgCO2e/kg,us,letter\n"
    path.write_text(text, encoding="utf-8")
    tables, problems = read_own_factors(path, read_factors())
    assert problems == []
    shop = workshop(part_moisture=0.06, end_of_life=FateSplit(landfill=1.0))
    return assess(shop, batches([PLAIN]), tables, draws=5).parts[0]


def plastic_landfilled(tables: FactorSet) -> float:
    return tables.choose("fate.plastic.landfill", ("USA",)).factor.value


def test_handling_weighs_on_both_sides_by_what_goes_to_landfill(tmp_path: Path) -> None:
    less, more = (part_with(handling, tmp_path) for handling in (0.0, 1.0))
    assert less.plastic is not None
    assert more.plastic is not None
    # 10 good parts and a reject of 50 g go to landfill; the plastic part weighs 30 g and lasts as long
    end = more.stages["end_of_life"] - less.stages["end_of_life"]
    assert end == pytest.approx(11 * 0.05 / 10, rel=1e-3)
    other = more.plastic.stages["end_of_life"] - less.plastic.stages["end_of_life"]
    assert other == pytest.approx(0.03 * plastic_landfilled(read_factors()), rel=1e-3)
