"""Recycled content after ISO 14021, by dry mass.

Checked against, from outside:

- recycled content: ISO 14021 formula (from memory): 100 g of paper with 10 g of glue
"""

from __future__ import annotations

from typing import Any

import pytest

from impact.factors.factorset import read_factors
from impact.findings.recycled import RecycledContent, content_of, recycled_share
from impact.records.workshop import Origin
from impact.study import assess
from tests.frames import PLAIN, batches, workshop

GLUED = {**PLAIN, "binder": "pva-glue", "binder_kg": 0.1116, "binder_solids": 0.5}
"""0.558 kg of dry paper and 0.0558 kg of dry glue: ten to one."""


def content(row: dict[str, Any], **changes: Any) -> RecycledContent:
    (found,) = assess(workshop(**changes), batches([row]), read_factors(), draws=10).recycled
    return found


def test_recycled_share_hundred_grams_of_paper_with_ten_of_glue_is_ten_elevenths() -> None:
    assert recycled_share(0.1, 0.11) == pytest.approx(0.909, abs=5e-4)


@pytest.mark.parametrize(("recovered", "product"), [(0.1, 0.0), (-0.1, 1.0), (1.1, 1.0)])
def test_recycled_share_impossible_masses_are_refused(recovered: float, product: float) -> None:
    with pytest.raises(ValueError, match=r"product|accepted"):
        recycled_share(recovered, product)


def test_recycled_paper_with_glue_counts_solids_not_wet_glue() -> None:
    assert content(GLUED).share == pytest.approx(1 / 1.1, rel=1e-9)


def test_recycled_paper_without_binder_is_all_recycled() -> None:
    assert content(dict(PLAIN)).share == pytest.approx(1.0, rel=1e-9)


def test_recycled_moisture_of_the_paper_moves_the_share_as_dry_mass_does() -> None:
    damp = content({**GLUED, "moisture": 0.163})  # 0.5022 kg dry
    assert damp.share == pytest.approx(0.5022 / (0.5022 + 0.0558), rel=1e-9)


def test_recycled_own_rejects_count_in_the_part_and_never_as_recycled() -> None:
    moisture = 0.07
    own = content({**GLUED, "own_rejects_kg": 0.1}, part_moisture=moisture)
    dry = 0.1 * (1 - moisture)
    total = 0.558 + 0.0558 + dry
    assert own.share == pytest.approx(0.558 / total, rel=1e-9)
    assert own.own_rejects == pytest.approx(dry / total, rel=1e-9)
    assert own.share < content(GLUED, part_moisture=moisture).share


def test_recycled_parts_of_own_rejects_alone_have_none() -> None:
    found = content({**PLAIN, "paper.corrugated_kg": 0.0, "own_rejects_kg": 0.6})
    assert (found.share, found.own_rejects) == (0.0, pytest.approx(1.0))


def test_recycled_origin_tells_post_from_pre_consumer_and_the_rest_is_not_recorded() -> None:
    row = {**PLAIN, "paper.corrugated_kg": 0.3, "paper.office_kg": 0.3}
    found = content(row, origins={"corrugated": Origin(0.9, "asked the shop")})
    assert found.post_consumer == pytest.approx(0.45, rel=1e-9)
    assert found.pre_consumer == pytest.approx(0.05, rel=1e-9)
    assert found.unrecorded == pytest.approx(0.5, rel=1e-9)
    assert found.sure


def test_recycled_without_origin_nothing_is_called_post_consumer() -> None:
    found = content(dict(PLAIN))
    assert (found.post_consumer, found.pre_consumer, found.unrecorded) == (0.0, 0.0, pytest.approx(1.0))


def test_content_of_origin_without_evidence_is_not_sure() -> None:
    assert not content_of("pot", {"office": 1.0}, 1.0, 0.0, {"office": Origin(0.5)}).sure
