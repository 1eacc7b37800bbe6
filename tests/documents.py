"""Documents of figures compared."""

from __future__ import annotations

from typing import Any

import pytest

EXACT = {"rel": 1e-9, "abs": 1e-12}


def close(one: Any, two: Any) -> None:
    """Hold two documents to the same words and to figures that agree to nine digits."""
    if isinstance(one, dict):
        assert one.keys() == two.keys()
        for key in one:
            close(one[key], two[key])
    elif isinstance(one, list):
        assert len(one) == len(two)
        for left, right in zip(one, two, strict=True):
            close(left, right)
    elif isinstance(one, float):
        assert one == pytest.approx(two, **EXACT)
    else:
        assert one == two
