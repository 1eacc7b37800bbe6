"""Vectors over batches without branches: amounts are finite and 0 or more, NaN where nothing was recorded.

Arithmetic on flags takes a fifth of the time of a choice for every element, and gives the same floats: x times 1 is x,
and x plus 0 is x.
"""

from __future__ import annotations

import numpy as np

from impact.core import FloatArray, Numbers
from impact.tables.texts import Flags


def recorded(amounts: FloatArray) -> FloatArray:
    """Return amounts, 0 where nothing was recorded."""
    return np.fmax(amounts, 0.0)


def filled(amounts: FloatArray, default: Numbers) -> FloatArray:
    """Return amounts, the default where nothing was recorded."""
    blank = np.isnan(amounts)
    return recorded(amounts) + only(default, blank) if blank.any() else amounts


def only(amounts: Numbers, flags: Flags) -> FloatArray:
    """Return amounts that are all finite, 0 where a flag is not set."""
    return np.asarray(amounts * flags)


def per(part: FloatArray, whole: FloatArray) -> FloatArray:
    """Return part over whole, 0 where both are 0."""
    return np.asarray(part / (whole + (whole == 0.0)))
