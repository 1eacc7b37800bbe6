"""Equations and statistics on numbers of any kind, and those kinds themselves: arrays, nodes, spreadsheet formulas.

In: floats, arrays `[draws]`, `Node`s or `Formula`s, in the unit that stands in the name. Out: the same kind of number.

What holds here: numpy and scipy alone; no table, no file, no clock; randomness is handed in as a generator. An
`@equation` states its source and, given nodes, remembers itself. ValueError names the argument and what is accepted.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

FloatArray: TypeAlias = npt.NDArray[np.float64]
Numbers: TypeAlias = float | FloatArray


def require(condition: bool | np.bool_ | npt.NDArray[np.bool_], message: str) -> None:
    """Raise ValueError with `message` unless every element of `condition` holds."""
    if not (condition if isinstance(condition, bool) else np.all(condition)):
        raise ValueError(message)


def require_share(name: str, *values: Numbers) -> None:
    """Raise ValueError unless every value lies between 0 and 1; `name` says what it is."""
    for value in values:
        low, high = _ends(value)
        if not (low >= 0.0 and high <= 1.0):
            raise ValueError(f"{name} is {value!r}; accepted: 0 to 1")


def require_positive(name: str, *values: Numbers) -> None:
    """Raise ValueError unless every value is above 0; `name` says what it is."""
    for value in values:
        if not _ends(value)[0] > 0.0:
            raise ValueError(f"{name} is {value!r}; accepted: above 0")


def _ends(value: Numbers) -> tuple[float, float]:
    """Return the least and the greatest of a number or an array; of an empty array infinity and minus infinity."""
    if isinstance(value, np.ndarray):
        return (value.min(), value.max()) if value.size else (np.inf, -np.inf)
    return value, value


def normalised(shares: Sequence[Numbers]) -> list[Numbers]:
    """Return the shares divided by their sum, so that they add up to 1.

    Raises
    ------
    ValueError
        When the sum is not above 0.
    """
    total = sum(shares[1:], start=shares[0])
    require_positive("sum of the shares", total)
    return [share / total for share in shares]
