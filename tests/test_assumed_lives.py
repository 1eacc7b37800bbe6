"""Service lives of both parts and the share displaced are uncertain: widest where nobody looked.

Checked against, from outside:

- the spread of a ratio of lognormal amounts: ln(high/low) of independent factors adds in squares (common practice, no
  source); the ends 0.7 and 1.4 of a life that is assumed are the project's own
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from impact.account.results import PartResult
from impact.account.sums import account_of
from impact.api import load
from impact.decisions.breakeven import breakeven
from impact.decisions.scenario import scenario_of
from impact.decisions.sensitivity import measure_next
from impact.factors.factorset import read_factors
from impact.study import Study, assess
from tests.folders import PARTS, swap, write_folder
from tests.frames import PLAIN, batches, part, workshop

LOOKED = {"life_evidence": "followed 20 pots", "plastic_life_evidence": "asked the users"}


def run(**changes: object) -> Study:
    return assess(workshop(part(**changes)), batches([PLAIN]), read_factors(), draws=4000)


def only(results: Study) -> PartResult:
    (found,) = results.parts
    assert found.plastic is not None
    return found


def width(**changes: object) -> float:
    """Return the width of the 95 % interval of the plastic part, as a ratio of its ends in logarithms."""
    plastic = only(run(**changes)).plastic
    assert plastic is not None
    return math.log(plastic.footprint.high / plastic.footprint.low)


def test_lives_widen_the_plastic_part_by_the_spread_of_their_class() -> None:
    looked, assumed = width(**LOOKED), width()
    # two lives each: 2 ln(1.4/0.7)^2 against 2 ln(1.18/0.85)^2, beside what the factors spread
    added = 2.0 * (math.log(1.4 / 0.7) ** 2 - math.log(1.18 / 0.85) ** 2)
    assert assumed**2 - looked**2 == pytest.approx(added, rel=0.1)


def test_lives_leave_the_central_value_and_the_moulded_part_as_they_are() -> None:
    one, other = only(run(**LOOKED)), only(run())
    assert one.plastic is not None
    assert other.plastic is not None
    assert one.plastic.footprint.value == other.plastic.footprint.value
    assert one.footprint == other.footprint


def displaced(**changes: object) -> Study:
    return run(**LOOKED, **changes)


def share_of(results: Study) -> np.ndarray:
    drawn = only(results).displaced_draws
    assert drawn is not None
    return drawn


@pytest.mark.parametrize("share", [0.5, 1.0])
def test_displacement_is_drawn_around_what_is_stated_and_narrower_where_somebody_looked(share: float) -> None:
    assumed, looked = (share_of(displaced(displacement=share, displacement_evidence=how)) for how in ("", "asked 40"))
    for drawn in (assumed, looked):
        assert drawn[0] == share
        assert (drawn[1:] >= 0.0).all()
        assert (drawn[1:] <= 1.0).all()
    assert (
        np.ptp(np.quantile(assumed[1:], [0.025, 0.975])) > 1.5 * np.ptp(np.quantile(looked[1:], [0.025, 0.975])) > 0.05
    )


def test_displacement_of_all_without_evidence_is_no_certainty() -> None:
    assert np.quantile(share_of(displaced(displacement=1.0))[1:], 0.025) < 0.85


def test_displacement_is_in_the_displaced_plastic_and_the_net_of_every_sum() -> None:
    results = displaced(displacement=1.0)
    found = only(results)
    drawn = 10.0 * share_of(results) * found.plastic_draws
    assert results.displaced_plastic.low == pytest.approx(np.quantile(drawn[1:], 0.025), rel=1e-9)
    np.testing.assert_allclose(account_of(results, "all").displaced_kgco2e, drawn, rtol=1e-12)


@pytest.mark.parametrize("share", [None, 0.0])
def test_displacement_of_nothing_displaces_nothing_in_any_draw(share: float | None) -> None:
    results = displaced(displacement=share)
    assert (results.displaced_plastic.low, results.displaced_plastic.high) == (0.0, 0.0)


def test_assumptions_tell_lives_and_displacement_that_nobody_looked_into() -> None:
    assert {"service-life", "displacement"} <= {entry.code for entry in run().assumptions}
    known = run(**LOOKED, displacement_evidence="asked").assumptions
    assert not {"service-life", "displacement"} & {entry.code for entry in known}


def test_breakeven_sets_the_life_of_the_moulded_part_exactly_and_measure_next_names_the_lives() -> None:
    shop, rows = workshop(part()), batches([PLAIN])
    spread = measure_next(scenario_of(shop, rows, read_factors(), "pot", draws=2000))
    assert sum(entry.share for entry in spread) == pytest.approx(1.0, abs=1e-9)
    (lives,) = [entry for entry in spread if entry.input.startswith("the service lives")]
    assert lives.share > 0.3  # each life by 0.7 to 1.4 times outweighs the rest
    found = []
    for how in ("", "followed 20"):  # plays no part where a life is set
        one = replace(shop, parts={"pot": part(life_evidence=how)})
        crossings = breakeven(scenario_of(one, rows, read_factors(), "pot", draws=2000)).crossings
        found += [(each.at, each.share_crossing) for each in crossings if each.variable == "service-life"]
    assert found[0] == found[1]
    assert found[0][0] is not None


def test_parts_columns_of_evidence_are_read_and_may_be_left_out(tmp_path: Path) -> None:
    head, *rows = PARTS.splitlines()
    columns = "service life evidence,plastic service life evidence,displacement evidence"
    text = "\n".join([f"{head},{columns}", *(f"{row},followed ten,,asked" for row in rows)]) + "\n"
    looked = load(write_folder(tmp_path / "looked", parts=text)).workshop.parts["pot"]
    assert (looked.life_evidence, looked.plastic_life_evidence, looked.displacement_evidence) == (
        "followed ten",
        "",
        "asked",
    )
    assert (
        load(write_folder(tmp_path / "plain", parts=swap(PARTS, head, head))).workshop.parts["pot"].life_evidence == ""
    )
