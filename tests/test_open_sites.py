"""An invented workshop where waste lies at open sites: methane, fire, compost and recycling lost, worked by hand.

Checked against, from outside:

- methane of open sites: IPCC 2006 Guidelines vol. 5 eq. 3.1-3.6, tables 2.4, 3.1-3.3, by hand (secondary copies)
- shares of open and managed sites: World Bank, What a Waste data of countries (excerpts of a copy)
- compost: IPCC 2006 Guidelines vol. 5 table 4.1, by hand
- electricity sold, fibre lost: UK government factors 2025, by hand
"""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy as np
import pytest

from impact.account.assessment import values_for
from impact.account.intensities import UnitImpacts
from impact.account.results import Interval
from impact.base.catalogue import Names, read_names
from impact.factors.factorset import FactorSet, read_factors
from impact.records.workshop import FateSplit
from impact.study import Study, assess
from impact.trace.explanation import derivations
from tests.frames import PLAIN, batches, workshop

BURIED = {"corrugated": FateSplit(landfill=1.0, evidence="the bins of the street looked into")}
DRY_KG = 0.6 * 0.93  # the paper of PLAIN, 7 % of it water

# One dry kg of paper, IPCC 2006 vol. 5: DOC 0.44 (table 2.4), DOCf 0.5, F 0.5, so 0.44 x 0.5 x 0.5 x 16/12 = 0.146667 kg CH4
# without air (eq. 3.2 and 3.3). Decayed in 100 years with k 0.06 (table 3.3, slow, temperate and wet) and half a year of
# delay: 1 - exp(-0.06 x 99.5) = 0.997446. GWP-100 of AR6, non-fossil: 27.0. Together 3.949885 kg CO2e.
AIRLESS_KGCO2E = 0.44 * 0.5 * 0.5 * 16.0 / 12.0 * (1.0 - math.exp(-0.06 * 99.5)) * 27.0


@cache
def tables() -> tuple[FactorSet, Names]:
    return read_factors(), read_names()


def run(*rows: dict[str, Any], draws: int = 2000, **changes: Any) -> Study:
    """Return a workshop whose fines go into the next pulp, so that they take nothing off what is worked out here."""
    factors, names = tables()
    return assess(
        workshop(**{"fines_to": "next pulp", **changes}),
        batches([{**PLAIN, **row} for row in rows or ({},)]),
        factors,
        names=names,
        draws=draws,
    )


def width(interval: Interval) -> float:
    return interval.high - interval.low


# -- kinds of site ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("country", "site", "leaves"),
    [
        # Managed sites: MCF 1 (table 3.1), OX 0.1 (table 3.2); nothing collected: 1 x 0.9.
        ("AZE", "managed", 0.9),
        # Unmanaged and uncategorised: MCF 0.8, 0.4 and 0.6 (table 3.1), no oxidation (table 3.2).
        ("AZE", "unmanaged-deep", 0.8),
        ("AZE", "unmanaged-shallow", 0.4),
        ("AZE", "uncategorised", 0.6),
        # Semi-aerobic and managed: 0.5 x 0.9.
        ("AZE", "semi-aerobic", 0.45),
        # Azerbaijan: landfills 0 %, dumps 100 % of the waste, so all of it at sites of unknown kind: 0.6.
        ("AZE", None, 0.6),
        # Bolivia: landfills 31.97 %, dumps 55.52 %: 0.3654 x 1 x 0.9 + 0.6346 x 0.6 x 1 = 0.32886 + 0.38076.
        ("BOL", None, 0.70962),
        # Kenya: no share is in the tables, so uncategorised: 0.6.
        ("KEN", None, 0.6),
        # The United States: managed (40 CFR 258), 65 % collected there: 1 x 0.35 x 0.9.
        ("USA", None, 0.315),
    ],
)
def test_assess_methane_follows_the_kind_of_site(country: str, site: str | None, leaves: float) -> None:
    result = run(country=country, landfill_site=site, fates=BURIED, draws=10)
    assert result.disposal.avoided.value == pytest.approx(DRY_KG * AIRLESS_KGCO2E * leaves, rel=1e-6)


def test_assess_open_sites_methane_is_the_hand_worked_figure() -> None:
    # 0.558 kg dry x 0.146667 = 0.0818400 kg CH4; x 0.997446 = 0.0816310; x 0.6 = 0.0489786; x 27.0 = 1.322422 kg CO2e.
    # As managed sites with a cover it would be 0.9/0.6 = 1.5 times that, 1.983633.
    assert run(country="AZE", fates=BURIED, draws=10).disposal.avoided.value == pytest.approx(1.322422, rel=1e-6)
    managed = run(country="AZE", landfill_site="managed", fates=BURIED, draws=10)
    assert managed.disposal.avoided.value == pytest.approx(1.983633, rel=1e-6)


def test_assess_open_sites_part_in_landfill_is_the_hand_worked_figure() -> None:
    # 11 pressed parts of 50 g at 6 % water hold 0.517 kg dry fibre, 10 good ones and the reject; both are buried at open
    # sites: 0.517 x 3.949885 x 0.6 / 10 = 0.1225254 kg CO2e per good part. Their handling is that of all waste landfilled
    # (US EPA 2025, table 9: 20 kg per short ton): 0.55 x 0.02 x 1000 / 907.18474 / 10 = 0.0012125.
    result = run(country="AZE", part_moisture=0.06, end_of_life=FateSplit(landfill=1.0), draws=10)
    assert result.parts[0].stages["end_of_life"] == pytest.approx(0.1225254 + 0.0012125, rel=1e-6)


def test_assess_measured_yield_open_sites_has_the_same_correction() -> None:
    # Eleazer et al. 1997: 152.3 mL CH4 per dry g of corrugated board at 0.7158 g/L, 0.1090 kg/kg.
    result = run(country="AZE", landfill_parameters="measured", fates=BURIED, draws=10)
    found = DRY_KG * 152.3 * 0.7158e-3 * (1.0 - math.exp(-0.06 * 99.5)) * 0.6 * 27.0
    assert result.disposal.avoided.value == pytest.approx(found, rel=2e-3)


def test_assess_stated_collection_holds_for_every_kind_of_site() -> None:
    # 0.32886 + 0.38076 of Bolivia, half of it collected.
    result = run(country="BOL", gas_collection=0.5, fates=BURIED, draws=10)
    assert result.disposal.avoided.value == pytest.approx(DRY_KG * AIRLESS_KGCO2E * 0.35481, rel=1e-6)


def test_assess_site_of_the_country_is_told_with_what_it_changes() -> None:
    told = {
        code: one
        for code in ("AZE", "KEN", "USA")
        for one in run(country=code, draws=10).assumptions
        if "site" in one.code
    }
    assert "(Azerbaijan), 0\u00a0% of what is put on land" in told["AZE"].text
    assert "0.67 times that of managed sites alone" in told["AZE"].text  # 0.6 / 0.9
    assert "no share of managed sites for the country (Kenya)" in told["KEN"].text
    assert "100\u00a0% of what is put on land is taken to lie at managed sites." in told["USA"].text
    assert "times that" not in told["USA"].text
    assert (told["AZE"].weighty, told["KEN"].weighty, told["USA"].weighty) == (True, True, False)
    stated = run(country="AZE", landfill_site="managed", draws=10).assumptions
    assert not [one for one in stated if "site" in one.code]
    assert [one.text for one in stated if one.code == "gas-collection"]


# -- stated fates -----------------------------------------------------------------------------------------------


def kept(evidence: str, **shares: float) -> Interval:
    """Return the interval of the share that lands in a landfill, from the draws of a run."""
    factors, names = tables()
    shop = workshop(fates={"corrugated": FateSplit(**shares, evidence=evidence)})
    values = values_for(shop, factors, names, seed=1, draws=20_000)
    return Interval.of(np.asarray(UnitImpacts(shop, values, {}).counterfactual_shares("corrugated", "split")[0]))


def test_stated_shares_boldest_statement_without_evidence_has_the_widest_interval() -> None:
    # Common practice, no source: what is wanted of a guess. Without evidence all for one fate spreads over a third.
    bold, even = kept("", landfill=1.0), kept("", landfill=0.5, recycling=0.5)
    assert bold.value == 1.0
    assert even.value == 0.5
    assert width(bold) > 0.3
    assert width(bold) > width(even) > width(kept("", landfill=0.2, recycling=0.3, incineration=0.3, composting=0.2))
    for shares in ({"landfill": 1.0}, {"landfill": 0.5, "recycling": 0.5}, {"landfill": 0.9, "recycling": 0.1}):
        assert 0.0 < width(kept("looked into", **shares)) < 0.5 * width(kept("", **shares))
    assert bold.low < bold.value <= bold.high + 1e-3


def test_stated_shares_set_exactly_have_no_spread() -> None:
    factors, names = tables()
    values = values_for(workshop(), factors, names, seed=1, draws=10).exactly("fates corrugated")
    assert values.stated_shares("corrugated", (0.5, 0.0, 0.5, 0.0), "assumed") == [0.5, 0.0, 0.5, 0.0]


def test_assess_stated_fate_without_evidence_is_less_sure_than_with_it() -> None:
    sure = run(fates=BURIED, gas_collection=0.0)
    guessed = run(fates={"corrugated": FateSplit(landfill=1.0)}, gas_collection=0.0)
    assert guessed.disposal.avoided.value == sure.disposal.avoided.value
    assert width(guessed.paper.kept_from_landfill_kg) > 1.5 * width(sure.paper.kept_from_landfill_kg)
    assert width(guessed.disposal.avoided) > width(sure.disposal.avoided)


def test_assess_fate_in_the_log_is_known_as_well_as_one_that_was_looked_into() -> None:
    looked, logged = run(fates=BURIED, gas_collection=0.0), run({"fate": "landfill"}, gas_collection=0.0)
    assert logged.disposal.avoided.value == looked.disposal.avoided.value
    shares = UnitImpacts(logged.workshop, logged.values, {}).counterfactual_shares("corrugated", "landfill")
    assert 0.05 < width(Interval.of(np.asarray(shares[0]))) < 0.2


# -- recycling that lost its fibre -----------------------------------------------------------------------------------


@pytest.mark.parametrize("moisture", [0.02, 0.07, 0.3, float("nan")])
def test_assess_recycling_lost_is_as_weighed_whatever_the_moisture(moisture: float) -> None:
    # UK factors 2025, board: primary 1.19972542, closed loop 1.09811442 kg CO2e/kg; 0.6 kg x 0.9 x 0.101611 = 0.05486994.
    result = run({"moisture": moisture}, fates={"corrugated": FateSplit(recycling=1.0, evidence="bin")}, draws=10)
    assert result.disposal.lost_recycling.value == pytest.approx(0.05486994, rel=1e-6)


def test_assess_recycling_lost_is_never_a_gain_by_chance() -> None:
    lost = run(fates={"corrugated": FateSplit(recycling=1.0, evidence="bin")}).disposal.lost_recycling
    assert 0.7 * lost.value < lost.low < lost.high < 1.3 * lost.value


def test_get_primary_and_recovered_fibre_of_one_publication_are_drawn_as_one() -> None:
    factors, names = tables()
    values = values_for(workshop(country="GBR"), factors, names, seed=1, draws=1000)
    pair = [values.get(f"paper.{kind}.newsprint") for kind in ("primary", "secondary")]
    assert np.corrcoef(pair)[0, 1] == pytest.approx(1.0, abs=1e-3)
    assert (pair[0] > pair[1]).all()


# -- electricity sold ------------------------------------------------------------------------------------------------


def test_assess_electricity_sold_is_credited_where_it_is_generated() -> None:
    # UK factors 2025: generation 0.17700, its fuel supply 0.04590 kg CO2e/kWh; the network's 0.01853 and 0.00397 stay out.
    # 0.825 kWh/kg as weighed (13.5 MJ/kg / 3.6 x 0.22): 0.558 / 0.94 x 0.825 x 0.2229 = 0.1091618 kg CO2e.
    shop = {"country": "GBR", "editions": {"GBR": "2025"}, "part_moisture": 0.06, "draws": 10}
    result = run(**shop, fates={"corrugated": FateSplit(incineration=1.0, evidence="bin")})
    assert result.settings.electricity_kgco2e_per_kwh == pytest.approx(0.2454, abs=1e-9)
    assert result.disposal.electricity_sold.value == pytest.approx(0.1091618, rel=1e-6)
    # Without it the fire gives 1 % fossil carbon of 0.46 and, per kg as weighed, 0.2 g CH4/t and 50 g N2O/t.
    gases = (0.2e-6 * 27.0 + 50e-6 * 273.0) / 0.94
    burnt = DRY_KG * (0.46 * 0.01 * 44.0 / 12.0 + gases)
    assert result.disposal.avoided.value == pytest.approx(burnt - 0.1091618, abs=2e-7)


def test_assess_electricity_sold_of_parts_and_plastic_can_be_taken_out_again() -> None:
    shop = {"country": "GBR", "editions": {"GBR": "2025"}, "part_moisture": 0.06, "draws": 10}
    result = run(**shop, end_of_life=FateSplit(incineration=1.0, evidence="asked")).parts[0]
    assert result.plastic is not None
    assert result.electricity_sold is not None
    # A part: 0.05 kg as weighed x 0.825 x 0.2229; its mould: 0.3 kg PLA / 100 pressings x 11 / 10 parts x the share of
    # plastic burnt x 1.911 kWh/kg x 0.2229.
    factors, _ = tables()
    burnt = factors.choose("fate.plastic.incineration", ("GBR",)).factor.value
    landed = [
        factors.choose(f"fate.plastic.{fate}", ("GBR", "world")).factor.value
        for fate in ("landfill", "recycling", "composting")
    ]
    share = burnt / (burnt + sum(landed))
    mould = 0.3 / 100.0 * 1.1 * share * 1.911 * 0.2229
    assert result.electricity_sold.value == pytest.approx(0.05 * 0.825 * 0.2229 + mould, rel=1e-6)
    assert result.plastic.electricity_sold.value == pytest.approx(0.03 * share * 1.911 * 0.2229, rel=1e-6)


def test_derivations_of_open_sites_and_credits_recompute() -> None:
    from impact.core.node import evaluate, first

    result = run(
        {"binder": "pva-glue", "binder_kg": 0.05},
        country="BOL",
        fates={"corrugated": FateSplit(landfill=1.0)},
        draws=50,
    )
    known = derivations(result)
    for name in (
        "disposal.avoided_kgco2e.low",
        "disposal.lost_recycling_kgco2e.value",
        "parts.pot.electricity_sold_kgco2e.value",
    ):
        assert first(evaluate(known[name])) == pytest.approx(known[name].value, rel=1e-12)
    assert known["disposal.avoided_kgco2e.low"].value == pytest.approx(result.disposal.avoided.low, rel=1e-9)


# -- compost ---------------------------------------------------------------------------------------------------------


def test_assess_glue_without_degradable_carbon_gives_no_gas_in_compost() -> None:
    # IPCC 2006 vol. 5 table 4.1: 10 g CH4 and 0.6 g N2O per dry kg; x 27.0 and 273 (AR6) 0.4338 kg CO2e. Poly(vinyl
    # acetate) holds no carbon that decays (its row says DOC 0), starch does. Collection is 20 kg per short ton as weighed.
    handling = 0.02 * 1000 / 907.18474 / tables_part_solids()

    def of_binder(binder: str) -> tuple[float, float]:
        part = run(
            {"binder": binder, "binder_kg": 0.062, "binder_solids": 1.0},
            end_of_life=FateSplit(composting=1.0, evidence="asked"), draws=10,
        ).parts[0]  # fmt: skip
        (found,) = [amount for line, amount in part.by_line.items() if line.activity == "binder in parts"]
        (fibre,) = [amount for line, amount in part.by_line.items() if line.activity == "fibre in parts"]
        return found, fibre

    (pva, fibre), (starch, same) = of_binder("pva-glue"), of_binder("corn-starch")
    dry = 10 * 0.05 * tables_part_solids()
    assert pva == pytest.approx(0.1 * dry * handling, rel=1e-9)
    assert fibre == same
    # 0.062 kg in 0.62 kg: a tenth of the parts' dry mass.
    assert starch / fibre == pytest.approx(0.1 / 0.9, rel=1e-9)
    assert starch + same == pytest.approx(dry * (0.4338 + handling), rel=1e-9)


def tables_part_solids() -> float:
    return 1.0 - tables()[0].choose("part.moisture", ("world",)).factor.value


def test_plastic_disposal_fossil_polymer_gives_no_gas_in_compost() -> None:
    factors, names = tables()
    impacts = UnitImpacts(workshop(), values_for(workshop(), factors, names, seed=1, draws=10), {})
    assert np.ravel(impacts.disposal("polymer", "PP", "composting"))[0] == 0.0
    assert np.ravel(impacts.disposal("polymer", "PLA", "composting"))[0] == pytest.approx(0.4338)
