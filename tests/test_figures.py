"""Names of figures."""

from __future__ import annotations

import pytest

from impact.base.figurenames import figures


def test_figures_nested_document_names_every_number_once() -> None:
    document = {
        "schema": "x/1",
        "batches": 3,
        "parts": [{"part": "tray", "footprint": {"value": 0.5, "low": 0.25}, "invented": True, "net": None}],
        "blends": [{"part": "tray", "binder": "rice", "mass": 2}],
        "plain": [7, 8],
    }
    assert figures(document) == {
        "batches": 3.0,
        "parts.tray.footprint.value": 0.5,
        "parts.tray.footprint.low": 0.25,
        "blends.tray.rice.mass": 2.0,
        "plain.1": 7.0,
        "plain.2": 8.0,
    }


def test_figures_same_name_twice_is_refused() -> None:
    with pytest.raises(ValueError, match=r"two figures are called parts\.a\.good"):
        figures({"parts": [{"part": "a", "good": 1}, {"part": "a", "good": 2}]})


def test_figures_two_warnings_of_one_kind_go_by_their_place() -> None:
    warnings = [{"code": "mass-balance", "row": 3}, {"code": "mass-balance", "row": 9}]
    assert figures({"warnings": warnings}) == {"warnings.1.row": 3.0, "warnings.2.row": 9.0}
