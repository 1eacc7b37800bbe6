"""Numbers that remember how a spreadsheet gets them.

A `Formula` stands for a number in the functions of the calculation. What comes out is the formula of a cell, so that
the workbook shows the arithmetic of the program and not a second copy of it.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from math import isnan
from typing import Any

import numpy as np

from impact.core import StandIn, scalar

SUM, PRODUCT, ATOM = 1, 2, 3
"""How strongly a text holds together; what holds less is put in brackets."""


@dataclass(slots=True, eq=False)
class Formula(StandIn):
    """A number with its formula.

    Attributes
    ----------
    text : str
        Formula without the sign of equality, in the syntax that spreadsheets write to files.
    words : str
        The same with names in place of cells.
    value : float
        What it comes to; NaN where only the spreadsheet knows. Every comparison with that holds, so that guards let it pass.
    rank : int
        `SUM`, `PRODUCT` or `ATOM`.
    """

    text: str
    words: str
    value: float
    rank: int = ATOM

    def within(self, rank: int) -> Formula:
        """Return the formula in brackets when it holds less than `rank`."""
        return self if self.rank >= rank else Formula(f"({self.text})", f"({self.words})", self.value)

    def __bool__(self) -> bool:
        """Return whether the number is other than 0."""
        return self.value != 0.0


def _value(number: Any) -> float:
    found = scalar(number)
    return found.value if isinstance(found, Formula) else float(found)


def as_formula(number: Any) -> Formula:
    """Return a number as a formula; one that is none becomes a constant."""
    found = scalar(number)
    if isinstance(found, Formula):
        return found
    text = repr(int(found)) if float(found).is_integer() else repr(float(found))
    return Formula(text, text, float(found), ATOM if found >= 0 else SUM)


def _constant(number: Any, value: float) -> bool:
    return not isinstance(number, Formula) and float(number) == value


def _joined(
    sign: str, apply: Callable[[float, float], float], left: Any, right: Any, ranks: tuple[int, int]
) -> Formula:
    one, two = as_formula(left).within(ranks[0]), as_formula(right).within(ranks[1])
    text, words = f"{one.text}{sign}{two.text}", f"{one.words} {sign} {two.words}"
    return Formula(text, words, apply(one.value, two.value), ranks[0])


def _sum(sign: str, apply: Callable[[float, float], float], left: Any, right: Any) -> Any:
    if _constant(right, 0.0):
        return left
    if _constant(left, 0.0) and sign == "+":
        return right
    return _joined(sign, apply, left, right, (SUM, PRODUCT))


def _product(sign: str, apply: Callable[[float, float], float], left: Any, right: Any) -> Any:
    if _constant(right, 1.0):
        return left
    if _constant(left, 1.0) and sign == "*":
        return right
    if _constant(left, 0.0) or (_constant(right, 0.0) and sign == "*"):
        return 0.0
    return _joined(sign, apply, left, right, (PRODUCT, ATOM))


def _negative(number: Formula) -> Formula:
    inner = number.within(PRODUCT)
    return Formula(f"-{inner.text}", f"-{inner.words}", -inner.value, SUM)


def _power(left: Any, right: Any) -> Formula:
    base, power = as_formula(left).within(ATOM), as_formula(right).within(ATOM)
    return Formula(f"{base.text}^{power.text}", f"{base.words}^{power.words}", base.value**power.value, PRODUCT)


def _compared(apply: Callable[[float, float], bool], left: Any, right: Any) -> bool:
    one, two = _value(left), _value(right)
    return isnan(one) or isnan(two) or apply(one, two)


def function(name: str, *arguments: Any, value: float) -> Formula:
    """Return the call of a spreadsheet function.

    Parameters
    ----------
    name : str
        Name of the function.
    *arguments : number
        Its arguments.
    value : float
        What it comes to.
    """
    parts = [as_formula(argument) for argument in arguments]
    text, words = ",".join(part.text for part in parts), ", ".join(part.words for part in parts)
    return Formula(f"{name}({text})", f"{name}({words})", value)


def total(numbers: Iterable[Any]) -> Any:
    """Return the sum of numbers; 0 for none."""
    return sum(numbers, start=0.0)


Formula.answers = {
    "add": partial(_sum, "+", operator.add),
    "subtract": partial(_sum, "-", operator.sub),
    "multiply": partial(_product, "*", operator.mul),
    "divide": partial(_product, "/", operator.truediv),
    "negative": _negative,
    "power": _power,
    "less": partial(_compared, operator.lt),
    "less_equal": partial(_compared, operator.le),
    "greater": partial(_compared, operator.gt),
    "greater_equal": partial(_compared, operator.ge),
    "maximum": lambda one, two: function("MAX", one, two, value=max(_value(one), _value(two))),
    "ceil": lambda number: function("ROUNDUP", number, 0, value=float(np.ceil(_value(number)))),  # of what is above 0
    "expm1": lambda power: function("EXP", power, value=float(np.exp(_value(power)))) - 1.0,
}
