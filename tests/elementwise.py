from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest


def assert_elementwise(function: Callable[..., Any], **columns: Sequence[float]) -> None:
    """Check that arrays give what the numbers give one by one, and that they are left as they were."""
    arrays = {name: np.array(column, dtype=float) for name, column in columns.items()}
    result = function(**arrays)
    rows = zip(*columns.values(), strict=True)
    singly = [float(function(**dict(zip(columns, row, strict=True)))) for row in rows]
    assert result.tolist() == pytest.approx(singly, rel=1e-14)
    assert {name: array.tolist() for name, array in arrays.items()} == {name: list(c) for name, c in columns.items()}
