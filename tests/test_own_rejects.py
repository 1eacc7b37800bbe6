"""Own rejects bring the mean make-up of the fresh pulp of their part: beside fresh paper, beside fresh binder, and alone.

An invented workshop with figures worked out by hand. Parts hold no water, so that dry and weighed agree.

Checked against, from outside:

- the binder share of rejects with fresh glue: conservation of mass (common practice, no source): 100 g of dry rejects,
  a tenth of them starch, and 10 g of dry glue hold 20 g of binder in 110 g
"""

from __future__ import annotations

from typing import Any

import pytest

from impact.account.paper import massflow
from impact.factors.factorset import read_factors
from impact.study import Study, assess
from tests.frames import PLAIN, batches, part, workshop

BARE = {**PLAIN, "moisture": 0.0, "paper.corrugated_kg": 0.0, "rejects": 0.0, "part_mass_kg": 0.01}
FRESH = {
    **BARE, "paper.corrugated_kg": 0.9, "binder": "corn-starch", "binder_kg": 0.1, "binder_solids": 1.0, "good_parts": 90.0,
    "rejects": 10.0, "rejects_to": "own rejects",
}  # fmt: skip
"""900 g of paper and 100 g of starch, which make 900 g of good parts and 100 g of rejects."""
GLUED = {
    **BARE, "own_rejects_kg": 0.1, "binder": "pva-glue", "binder_kg": 0.02, "binder_solids": 0.5, "good_parts": 11.0,
    "fate": "landfill",
}  # fmt: skip
"""100 g of own rejects and 10 g of dry glue, which make 110 g of good parts."""
BESIDE = {**GLUED, "paper.office_kg": 0.09, "good_parts": 20.0}
"""The same with 90 g of fresh paper, which make 200 g of good parts."""


def found(*rows: dict[str, Any], **changes: Any) -> Study:
    return assess(workshop(part(), **{"part_moisture": 0.0, **changes}), batches(rows), read_factors(), draws=20)


def in_parts(results: Study, kind: str, binder: str) -> dict[str, float]:
    return results.inventory.where(binder=binder).items("end_of_life", f"{kind} in parts")


def test_own_rejects_with_fresh_binder_and_no_paper_hold_both_binders() -> None:
    results = found(FRESH, GLUED)
    assert in_parts(results, "binder", "pva-glue") == pytest.approx({"pva-glue": 0.01, "corn-starch": 0.01})
    assert in_parts(results, "fibre", "pva-glue") == pytest.approx({"corrugated": 0.09})
    (share,) = {one.binder_share for one in results.findings if one.binder == "pva-glue"}
    assert share == pytest.approx(20 / 110)  # not 1


def test_own_rejects_beside_fresh_paper_share_the_pulp_with_it() -> None:
    results = found({**FRESH, "paper.office_kg": 0.0}, BESIDE)
    # fresh pulp of the part: 900 g corrugated, 90 g office, 100 g starch, 10 g glue, in all 1,100 g
    fibre, glue = in_parts(results, "fibre", "pva-glue"), in_parts(results, "binder", "pva-glue")
    assert fibre == pytest.approx({"corrugated": 90 / 1100, "office": 0.09 + 9 / 1100})
    assert glue == pytest.approx({"corn-starch": 10 / 1100, "pva-glue": 0.01 + 1 / 1100})
    assert sum(fibre.values()) + sum(glue.values()) == pytest.approx(0.2)


def test_own_rejects_older_binder_is_never_paper_put_to_use_returned_or_pulped() -> None:
    tossed = {**GLUED, "good_parts": 6.0, "rejects": 5.0, "rejects_to": "landfill"}
    results = found(FRESH, tossed)
    assert results.paper.put_to_use_kg.value == pytest.approx(0.81 + 0.06 * 90 / 110)
    assert results.paper.returned_to_landfill_kg.value == pytest.approx(0.05 * 90 / 110)
    (grade,) = results.paper.by_grade
    assert (grade.grade, grade.returned_to_landfill_kg) == ("corrugated", pytest.approx(0.05 * 90 / 110))
    assert results.inventory.items("mass", "pulped again") == pytest.approx({"corrugated": 0.09})
    flow = massflow(results)  # 90 g of fibre were kept as rejects, and 90 g were pulped again
    assert flow["out"]["waiting_kg"] == flow["in"]["earlier_rejects_kg"] == flow["out"]["unaccounted_kg"] == 0.0


def test_own_rejects_alone_take_the_make_up_of_fresh_pulp_weighed_as_pulp() -> None:
    other = {
        **FRESH,
        "binder": "none",
        "binder_kg": 0.0,
        "paper.corrugated_kg": 0.0,
        "paper.office_kg": 1.0,
        "good_parts": 0.0,
        "confirmed": "good parts",
    }
    alone = {**GLUED, "binder": "none", "binder_kg": 0.0, "good_parts": 10.0}
    results = found(FRESH, other, alone)  # the second batch made no good part, but rejects
    assert in_parts(results, "fibre", "none") == pytest.approx({"corrugated": 0.045, "office": 0.05})
    assert in_parts(results, "binder", "none") == pytest.approx({"corn-starch": 0.005})


def test_own_rejects_of_a_part_without_fresh_paper_take_that_of_the_workshop_else_mixed_paper() -> None:
    shop = {"moulds": workshop().moulds, "parts": {name: part(name) for name in ("pot", "tray")}}
    results = found(FRESH, {**GLUED, "part": "tray"}, **shop)
    tray = results.inventory.where(part="tray").items("end_of_life", "binder in parts")
    assert tray == pytest.approx({"pva-glue": 0.01, "corn-starch": 0.01})
    assert in_parts(found(GLUED), "fibre", "pva-glue") == pytest.approx({"mixed": 0.1})
