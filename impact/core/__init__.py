"""Equations and statistics on numbers of any kind, and those kinds themselves: arrays, nodes, spreadsheet formulas.

In: floats, arrays `[draws]`, `Node`s or `Formula`s, in the unit that stands in the name. Out: the same kind of number.

- `blend`: compost blends; carbon, nitrogen and water summed over the ingredients.
- `disposal`: incineration, composting, recycling that lost its fibre.
- `footprint`: the moulded part: how one unit of each activity turns into emission.
- `formula`: numbers that are cells of a spreadsheet.
- `landfill`: first-order decay of degradable carbon.
- `moisture`: wet and dry basis, binder solids, water to evaporate, mass balance.
- `node`: numbers that remember how they were computed.
- `plastic`: the equivalent plastic part, by three rules for its mass and two routes.
- `prediction`: the next pressings from batches of which each is as likely to come again.
- `proportions`: the interval of a proportion, and the exact test between two.
- `roots`: where the difference of two footprints changes its sign, in every draw at once.
- `sampling`: draws of the distributions, and what is read off drawn results.

What holds here:

- numpy and scipy alone; no table, no file, no clock; randomness is handed in as a generator. ValueError names the
  argument and what is accepted.
- A value is an array whose element 0 is central and whose others are draws. One formula serves both; there is no second
  copy for the uncertainty run. A figure is computed with central inputs and kept beside its interval and the median of
  its draws; the two need not agree.
- An `@equation` states its source and, given nodes, remembers itself. A tree of central values and one of draws are the
  same tree. Code that works on both kinds must not turn numbers into floats or arrays on the way (``float(x)``,
  ``np.asarray(x)``): the derivation ends there, and `tests/test_explain.py` fails. Where a value was chosen by
  comparing (``min``, ``max``, an ``if``), the tree holds the branch taken. Turning a `Formula` into a float raises, so
  that none becomes a constant unseen.
- The value of a lognormal row is the median of its draws, not their mean. A lopsided lognormal keeps both ends: each
  side of the median has its own spread of the logarithm, so that 2.5 % and 97.5 % of the draws lie at the printed ends.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, ClassVar, TypeAlias

import numpy as np
import numpy.typing as npt
from numpy.lib.mixins import NDArrayOperatorsMixin

FloatArray: TypeAlias = npt.NDArray[np.float64]
Numbers: TypeAlias = float | FloatArray


class StandIn(NDArrayOperatorsMixin):
    """What stands for a number in the functions of the calculation; each operator is the array function of its name.

    Attributes
    ----------
    answers : mapping of str to callable
        The array functions that the class knows; any other raises TypeError.
    """

    __slots__ = ()
    __eq__, __ne__, __hash__ = object.__eq__, object.__ne__, object.__hash__
    answers: ClassVar[Mapping[str, Callable[..., Any]]] = {}

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Any, **options: Any) -> Any:
        """Answer an array function; ``+=`` gives a new number and leaves the left one as it is."""
        answer = self.answers.get(ufunc.__name__)
        if method != "__call__" or options.keys() - {"out"} or answer is None:
            return NotImplemented
        return answer(*map(scalar, inputs))


def scalar(value: Any) -> Any:
    """Return what an array without axes holds, and any other value as it is."""
    return value.item() if isinstance(value, (np.ndarray, np.generic)) else value


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
