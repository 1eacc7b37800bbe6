"""The net account in other ways, and what a kilogram of paper does, recycled or pulped here.

Checked against, from outside:

- carbon that stays: measured storage of four grades in reactors (Barlaz 1998), with measured methane (Eleazer et al. 1997)
- methane by year: the closed form of IPCC 2006 Guidelines, vol. 5, ch. 3, eq. 3.4 and 3.5, worked by hand
"""

from __future__ import annotations

import copy
import csv
import dataclasses
import math
import re
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import impact
from impact.account.assessment import OTHER, values_for
from impact.account.intensities import ANYWAY, UnitImpacts
from impact.account.lines import diverted_matrix, lost_matrix, sold_matrix, stage_matrix
from impact.account.results import Interval
from impact.account.sums import part_of
from impact.api import load
from impact.base.catalogue import read_names
from impact.cli.totals_text import as_text
from impact.factors.factorset import FactorSet, read_factors
from impact.factors.worked import Worked
from impact.findings.net import (
    BOUGHT,
    CASES,
    COUNTED,
    NO_METHANE,
    OTHER_STORED,
    SOON,
    STORED,
    WHOLE,
    does_more,
    landfills,
    net_words,
)
from impact.records.demonstration import DEMO
from impact.records.statements import Grant
from impact.records.workshop import FateSplit, Mould
from impact.study import Study, assess, counted_for
from tests.folders import CLOSED, write_folder
from tests.frames import PLAIN, batches, part, workshop
from tests.reports import plain_html_of

DRAWS = 200
SOURCE = Path(impact.__file__).parent


@cache
def factors() -> FactorSet:
    return read_factors()


def results(rows: list[dict[str, Any]] | None = None, **changes: Any) -> Study:
    """Return invented results of which a third of the parts' paper would have been landfilled."""
    return assess(workshop(**changes), batches(rows or [PLAIN]), factors(), draws=DRAWS)


def impacts(**changes: Any) -> UnitImpacts:
    shop = workshop(**changes)
    return UnitImpacts(shop, values_for(shop, factors(), read_names(), seed=1, draws=1), {})


def central(number: Any) -> float:
    return float(np.ravel(np.asarray(number))[0])


def close(found: Interval, expected: Interval) -> None:
    ends = [(one.value, one.low, one.high) for one in (found, expected)]
    assert ends[0] == pytest.approx(ends[1], rel=1e-9, abs=1e-12)


# -- views ------------------------------------------------------------------------------------------------------------


def alone(view: UnitImpacts) -> UnitImpacts:
    """Return a view that works every step out by itself."""
    found = copy.copy(view)
    found.worked = found.anyway = Worked(view.values, alone=True)
    return found


def views(of: UnitImpacts) -> list[UnitImpacts]:
    return [*landfills(of).values(), of.under(WHOLE, fines=False), of.under(NO_METHANE, years=0.0)]


def differing(of: Study) -> list[str]:
    """Return the views that share a step with others which is another in each."""
    apart = []
    for view in views(of.impacts):
        for matrix in (stage_matrix, diverted_matrix, sold_matrix, lost_matrix):
            both = [matrix(one, of.inventory).impacts for one in (view, alone(view))]
            apart += [view.case] if not np.array_equal(*both) else []
    return apart


def test_steps_that_views_share_are_those_of_each_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    assert differing(load(DEMO).assess(draws=3)) == []
    monkeypatch.setattr("impact.account.intensities.ANYWAY", ANYWAY | {"methane_leak"})
    assert SOON in differing(load(DEMO).assess(draws=3))


def test_results_hold_the_draws_of_no_view() -> None:
    assert results().impacts.views == {}


# -- carbon that stays -----------------------------------------------------------------------------------------------

MEASURED = {"corrugated": (0.26, 152.3), "newsprint": (0.42, 74.3), "office": (0.05, 217.3), "magazine": (0.34, 84.4)}
"""kg of carbon left per dry kg, and mL of methane per dry g. Barlaz, "Carbon storage during biodegradation of municipal
solid waste components in laboratory-scale landfills", Global Biogeochemical Cycles 12 (1998) 373-380, and Eleazer et al.,
Environmental Science & Technology 31 (1997) 911-917, abstracts, both seen in secondary copies; magazines are the sample
called coated paper."""


@pytest.mark.parametrize("grade", MEASURED)
def test_landfill_with_carbon_that_stays_follows_the_published_measurements(grade: str) -> None:
    # Methane of 0.7158 kg/m3 (ideal gas at 0 degrees C) and 27.0 kg CO2e/kg (IPCC AR6, table 7.15, non-fossil); all of it
    # at a managed site that collects 65 % and oxidises 10 % of the rest (IPCC 2006, vol. 5, ch. 3, eq. 3.1 and table 3.2).
    stored, yielded = MEASURED[grade]
    methane = yielded * 0.7158 / 1000.0 * 27.0 * (1.0 - 0.65) * (1.0 - 0.1)
    by_year_100 = 1.0 - math.exp(-0.06 * 99.5)  # half a year of delay; eq. 3.4 and 3.5 for one deposit, table 3.3
    one = impacts(landfill_parameters="measured", landfill_site="managed", gas_collection=0.65)
    seen = one.under(STORED, storage=True)
    assert central(seen.disposal("fibre", grade, "landfill")) == pytest.approx(
        methane * by_year_100 - stored * 44.0 / 12.0, rel=2e-3
    )


def test_landfill_of_measured_newsprint_keeps_more_carbon_than_it_emits() -> None:
    one = impacts(landfill_parameters="measured", landfill_site="managed", gas_collection=0.65)
    assert central(one.disposal("fibre", "newsprint", "landfill")) > 0.0
    credited = central(one.under(STORED, storage=True).disposal("fibre", "newsprint", "landfill"))
    assert credited == pytest.approx(-1.09, abs=0.005)


def test_carbon_staying_by_the_guidelines_is_what_does_not_decompose() -> None:
    # IPCC 2006, vol. 5, table 2.4 (DOC of dry paper 0.44, from memory) and 2019 Refinement, table 3.0 (DOCf 0.5): by hand.
    found = central(impacts().carbon_staying("fibre", "office"))
    assert found == pytest.approx(0.44 * (1.0 - 0.5 * (1.0 - math.exp(-0.06 * 99.5))) * 44.0 / 12.0, rel=1e-9)


def test_carbon_staying_of_a_fossil_binder_is_no_credit() -> None:
    assert central(impacts().carbon_staying("binder", "pva-glue")) == 0.0


def test_net_where_all_that_is_kept_from_landfill_ends_there_gets_no_credit_for_carbon() -> None:
    # Conservation: paper that ends in the same landfill a little later keeps the same carbon there. No source.
    row = {**PLAIN, "paper.corrugated_kg": 0.5 / 0.92, "moisture": 0.08, "good_parts": 10.0, "part_mass_kg": 0.05 / 0.9,
           "rejects": 0.0, "trim_kg": 0.0, "binder": "none", "own_rejects_kg": 0.0, "fate": "landfill"}  # fmt: skip
    found = results([row], part_moisture=0.1, end_of_life=FateSplit(landfill=1.0, evidence="seen")).net_account
    for case, stored in ((COUNTED, STORED), (OTHER, OTHER_STORED)):
        counted, credited = (found.cases[name].net_kgco2e.value for name in (case, stored))
        assert credited == pytest.approx(counted, rel=1e-9)
    assert found.avoided_stored_kgco2e.value < found.cases[COUNTED].net_kgco2e.value


# -- ten years, the other parameters ------------------------------------------------------------------------------------


def test_methane_of_the_first_ten_years_is_about_two_fifths_in_a_temperate_wet_climate() -> None:
    # IPCC 2006, vol. 5, ch. 3, eq. 3.4 and 3.5 for one deposit, k = 0.06 (table 3.3), half a year of delay: by hand.
    share = (1.0 - math.exp(-0.06 * 9.5)) / (1.0 - math.exp(-0.06 * 99.5))
    assert share == pytest.approx(0.4356, abs=5e-5)
    found = results([{**PLAIN, "fate": "landfill"}]).net_account
    soon, whole = found.methane_avoided_ten_years_kgco2e.value, found.methane_avoided_kgco2e.value
    assert soon / whole == pytest.approx(share, rel=1e-9)


@pytest.mark.parametrize(
    ("case", "stated"), [(SOON, {"horizon_years": 10.0}), (OTHER, {"landfill_parameters": "measured"})]
)
def test_net_case_is_the_net_of_a_workshop_that_states_it(case: str, stated: dict[str, Any]) -> None:
    rows = [PLAIN, {**PLAIN, "rejects": float("nan"), "rejects_to": "", "binder": "rice-paste", "fate": "landfill"}]
    found, other = results(rows), results(rows, **stated)
    close(found.net_account.cases[case].net_kgco2e, other.net)
    close(found.net_account.cases[case].without_plastic_kgco2e, other.net_account.cases[COUNTED].without_plastic_kgco2e)


# -- moulds as bought, and without the plastic ----------------------------------------------------------------------------


def test_net_without_plastic_adds_what_was_displaced() -> None:
    found = results()
    close(found.net_account.cases[COUNTED].net_kgco2e, found.net)
    without = found.net_account.cases[COUNTED].without_plastic_kgco2e
    assert without.value == pytest.approx(found.net.value + found.displaced_plastic.value, rel=1e-12)


def test_net_with_moulds_as_bought_charges_each_mould_that_pressed_whole() -> None:
    # A mould of 100 pressings that made n of them bears n/100 of itself; whole, it is 100/n times that. Arithmetic.
    moulds = {
        "shell": Mould("shell", "PLA", 0.3, 2.5, "metered", 100),
        "idle": Mould("idle", "PLA", 9.0, 99.0, "metered", 100),
        "plate": Mould("plate", "aluminium", 0.4, None, "estimated", 900),
    }
    parts = (part("pot"), part("lid", mould="plate"), part("never", mould="idle"))
    rows = [{**PLAIN, "good_parts": 9.0, "rejects": 1.0}, {**PLAIN, "part": "lid", "good_parts": 8.0, "rejects": 1.0}]
    found = assess(workshop(*parts, moulds=moulds), batches(rows), factors(), draws=DRAWS)
    inventory, matrix = found.inventory, found.stage_matrix
    share = {
        line.item: inventory.by_line()[line] * matrix.impacts[place, 0]
        for place, line in enumerate(matrix.lines)
        if line.account == "mould"
    }
    whole = share["shell"] * 100.0 / 10.0 + share["plate"] * 900.0 / 9.0
    assert found.net_account.moulds_bought_kgco2e.value == pytest.approx(whole, rel=1e-9)
    assert found.net_account.moulds_shared_kgco2e.value == pytest.approx(sum(share.values()), rel=1e-9)
    bought = found.net_account.cases[BOUGHT]
    assert bought.net_kgco2e.value == pytest.approx(found.net.value - sum(share.values()) + whole, rel=1e-9)


@pytest.mark.parametrize(("pressings", "moulds"), [(1.0, 1.0), (99.0, 1.0), (100.0, 1.0), (101.0, 2.0), (337.0, 4.0)])
def test_net_with_moulds_as_bought_charges_as_many_as_the_pressings_took(pressings: float, moulds: float) -> None:
    # Of a mould that lasts 100 pressings, 337 take four. Arithmetic.
    rows = [{**PLAIN, "good_parts": pressings, "rejects": 0.0, "paper.corrugated_kg": 0.06 * pressings}]
    found = results(rows).net_account
    one = found.moulds_shared_kgco2e.value * 100.0 / pressings
    assert found.moulds_bought_kgco2e.value == pytest.approx(moulds * one, rel=1e-9)


def test_net_account_of_a_grant_has_its_share_and_a_kilogram_is_a_kilogram() -> None:
    whole = results()
    granted = counted_for(whole, Grant("Fund", whole.start, whole.end, 0.25))
    for case in CASES:
        close(granted.net_account.cases[case].net_kgco2e, part_of(whole.net_account.cases[case].net_kgco2e, 0.25))
    close(granted.net_account.moulds_bought_kgco2e, part_of(whole.net_account.moulds_bought_kgco2e, 0.25))
    assert granted.uses_by_grade == whole.uses_by_grade


# -- what a kilogram does ---------------------------------------------------------------------------------------------------


def test_uses_by_grade_compare_recycling_with_pulping_by_hand() -> None:
    # Recycled: disposal and primary fibre avoided; pulped: disposal avoided, fines taken off, less making. Method of the
    # program; worked by hand from the sums of the account.
    found = results([{**PLAIN, "paper.office_kg": 0.4}])
    lost_as_fines = found.paper.fines_kg.value / found.paper.collected_kg.value
    assert lost_as_fines > 0.01
    by_grade, impacts = found.disposal.avoided_by_grade, found.impacts
    making = found.made.value / found.paper.collected_kg.value
    for use in found.uses_by_grade:
        (grade,) = [grade for grade in found.paper.by_grade if grade.grade == use.grade]
        disposal = by_grade[use.grade] / (grade.collected_kg - grade.taken_from_recycling_kg)
        assert use.pulping_saves.value == pytest.approx(disposal - making, rel=1e-9)
        fibre = found.disposal.lost_by_grade[use.grade] / grade.taken_from_recycling_kg
        gross = disposal / (1.0 - lost_as_fines)
        assert use.disposal_saves is not None
        assert use.disposal_saves.value == pytest.approx(gross, rel=1e-9)
        assert use.recycling_saves.value == pytest.approx(gross + fibre, rel=1e-9)
        assert fibre == pytest.approx(central(impacts.recycling_saves(use.grade)), rel=1e-9)
    assert [use.grade for use in found.uses_by_grade] == ["corrugated", "office"]


def test_uses_by_grade_settled_fines_are_borne_by_each_kilogram_pulped_by_hand() -> None:
    # A kilogram pulped sends its fines, a share of it, to the landfill where they settle, whatever share of the grade would
    # have been recycled: share x dry x emission of the route. Conservation of mass, common practice, no source.
    fates = {"corrugated": FateSplit(landfill=0.1, recycling=0.9, evidence="looked into")}
    found = results(fates=fates, fines_to="landfill")
    (use,) = found.uses_by_grade
    share = found.paper.fines_kg.value / found.paper.collected_kg.value
    assert share > 0.01
    landfill = central(found.impacts.disposal("fibre", "corrugated", "landfill"))
    dry = 0.93  # the paper of PLAIN, 7 % of it water
    making = found.made.value / found.paper.collected_kg.value
    assert use.disposal_saves is not None
    assert use.disposal_saves.value == pytest.approx(landfill * dry, rel=1e-9)
    expected = landfill * dry - share * landfill * dry - making
    assert use.pulping_saves.value == pytest.approx(expected, rel=1e-9)


def test_uses_by_grade_of_a_bold_statement_stay_finite_in_every_draw() -> None:
    found = results(fates={"corrugated": FateSplit(landfill=0.01, recycling=0.99)})
    (use,) = found.uses_by_grade
    for one in (use.disposal_saves, use.recycling_saves, use.pulping_saves):
        assert one is not None
        assert all(math.isfinite(end) for end in (one.value, one.low, one.high))


def test_uses_by_grade_of_the_demo_do_not_say_that_keeping_paper_beats_recycling_it() -> None:
    found = load(DEMO).assess(draws=DRAWS)
    assert {does_more(use) for use in found.uses_by_grade} == {"recycled"}
    assert all(use.pulping_saves.high < 0.0 < use.recycling_saves.low for use in found.uses_by_grade)
    text = re.sub(r"<[^>]+>", " ", plain_html_of(found))
    assert "keeping it" not in text
    assert text.count("recycling it") == len(found.uses_by_grade)


def test_uses_by_grade_pulping_is_said_to_do_more_where_the_figures_say_so(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "bench", batches=CLOSED)
    own = "".join(
        f"paper.{fibre}.{grade},{value},kgCO2e/kg,own,letter\n"
        for fibre, value in (("primary", 0.1), ("secondary", 90.0))
        for grade in ("newsprint", "corrugated")
    )
    (folder / "factors.csv").write_text(f"id,value,unit,source,locator\n{own}", encoding="utf-8")
    found = load(folder).assess(draws=DRAWS)
    told = {use.grade: does_more(use) for use in found.uses_by_grade}
    assert {told[grade] for grade in told if grade in ("newsprint", "corrugated")} == {"pulped"}


def test_uses_by_grade_of_paper_that_would_all_have_been_recycled_count_no_disposal() -> None:
    (use,) = results([{**PLAIN, "fate": "recycling"}]).uses_by_grade
    assert use.disposal_saves is None
    assert use.recycling_saves.value > 0.0 > use.pulping_saves.value


def test_net_account_without_collected_paper_has_no_kilogram_to_compare() -> None:
    found = results([{**PLAIN, "paper.corrugated_kg": 0.0, "own_rejects_kg": 0.6}])
    assert found.uses_by_grade == ()
    assert "One kg of paper saves" not in as_text(found, everything=True)
    assert "kilogram recycled" not in as_text(found)
    assert "Recycled, a kilogram avoids" not in plain_html_of(found)


# -- what is said of it -------------------------------------------------------------------------------------------------------

SAID = "compares with no workshop at all, with average data"


def test_funder_report_says_what_the_net_is_on_its_first_page_and_at_the_account() -> None:
    page = plain_html_of(results())
    assert page.count(SAID) == 2
    assert SAID in page.partition("<nav")[0]
    assert SAID in page.partition('<section id="account"')[2]
    assert page.count("no claim is made from it") == 2
    assert str(net_words(results().uses_by_grade)) in " ".join(as_text(results()).split())
    assert "no claim is made from it" in str(net_words(()))


@pytest.mark.parametrize(("chance", "said"), [((0.9, 1.0), True), ((0.9, 0.89), False), ((), False)])
def test_net_words_say_that_recycling_does_more_where_it_does_for_every_grade(
    chance: tuple[float, ...], said: bool
) -> None:
    one = next(iter(results().uses_by_grade))
    uses = [dataclasses.replace(one, chance_recycling=share) for share in chance]
    assert ("less emitted than pulping it here." in str(net_words(uses))) == said


def test_claims_say_nothing_of_the_net() -> None:
    less = results(parts={"pot": part(displacement=1.0, plastic_mass_kg=0.5)})
    assert less.net.high < 0.0
    told = [f"{claim.text} {claim.qualifier if hasattr(claim, 'qualifier') else ''}" for claim in less.claims.supported]
    assert [text for text in told if re.search(r"\bnet account\b|less emission than without", text)] == []


def test_funder_report_shows_negative_figures_as_such() -> None:
    fates = {"corrugated": FateSplit(incineration=1.0, evidence="seen")}
    found = results(fates=fates, electricity="IND", country="GBR")
    assert found.disposal.avoided.value < 0.0
    assert "The disposal avoided is below zero" in plain_html_of(found)
    assert "The disposal avoided is below zero" not in plain_html_of(results())


def test_factor_keys_promise_no_case_that_no_code_makes() -> None:
    code = "\n".join(path.read_text(encoding="utf-8") for path in SOURCE.rglob("*.py"))
    with (SOURCE / "factors" / "keys.csv").open(encoding="utf-8", newline="") as stream:
        promised = [row["pattern"] for row in csv.DictReader(stream) if re.search(r"\bshown\b|\bcase\b", row["used"])]
    stems = [pattern.partition("{")[0] for pattern in promised]
    assert [stem for stem in stems if stem not in code and f"{stem.partition('-')[0]}-" not in code] == []


def test_methane_of_ten_years_is_no_more_than_that_of_a_shorter_horizon() -> None:
    found = results(horizon_years=5.0).net_account
    assert found.methane_avoided_ten_years_kgco2e == found.methane_avoided_kgco2e
