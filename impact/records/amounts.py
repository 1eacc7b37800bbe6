"""Columns of cells to amounts: regular cells at once, odd ones singly, each fault with its place."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from impact.base.spellings import CANONICAL
from impact.base.units import LARGEST, LEAST, SMALLEST, UnitError, parse_quantity, unit_factor
from impact.core import FloatArray
from impact.tables.decimals import Marks, normalised, plain_amount, settle
from impact.tables.table import Column
from impact.tables.texts import Codes, Flags

Faults = list[tuple[int, UnitError]]
Parse = Callable[[str, Marks | None], float]
"""Reads one cell under the marks of its column; None for a cell that is a number already."""


@dataclass(frozen=True)
class Manner:
    """How the cells of a column are read.

    Attributes
    ----------
    parse : callable
        Reads one cell that is not a plain number, or raises `UnitError`.
    factor : float
        Canonical unit per unit of a plain number.
    most : float
        Largest plain number that needs no second look.
    least : float
        Least amount beside 0 that needs none, in the canonical unit.
    decimal, stated : str, bool
        Decimal mark of the file and whether the workshop states it, as in `impact.tables.decimals.settle`.
    """

    parse: Parse
    factor: float = 1.0
    most: float = LARGEST
    least: float = SMALLEST
    decimal: str = "."
    stated: bool = False

    def is_regular(self, amounts: FloatArray) -> Flags:
        """Return which plain numbers need no second look; none that is NaN."""
        with np.errstate(invalid="ignore"):
            flags: Flags = (amounts >= 0.0) & (amounts <= self.most) & (amounts * self.factor <= LARGEST)
        return flags & ~self._is_tiny(amounts)

    def _is_tiny(self, amounts: FloatArray) -> Flags:
        with np.errstate(invalid="ignore"):
            tiny: Flags = (amounts > 0.0) & (amounts < max(self.least / self.factor, SMALLEST))
        return tiny

    def are_regular(self, amounts: FloatArray) -> bool:
        """Return whether all plain numbers need no second look; NaN needs none."""
        least, largest = float(np.fmin.reduce(amounts)), float(np.fmax.reduce(amounts))
        if least < 0.0 or largest > self.most or largest * self.factor > LARGEST:
            return False
        return least >= max(self.least / self.factor, SMALLEST) or not self._is_tiny(amounts).any()


def convert(column: Column, manner: Manner) -> tuple[FloatArray, Faults]:
    """Return a column as floats, NaN where blank, with a `UnitError` for each faulty position.

    Each spelling is read once. Cells that were read as numbers are read again as written where one is at fault.
    """
    if isinstance(column.values, np.ndarray):
        amounts, faults = _of_numbers(column.values, column.values, manner)
        return convert(column.as_written, manner) if faults and column.written else (amounts, faults)
    texts = column.values.coded()
    if column.numbers is None:
        distinct, faulty = _of_spellings(texts.names, manner)
        return _at(texts.codes, distinct, faulty)
    typed = np.isfinite(column.numbers)
    untyped = texts.kept(~typed).used()
    distinct, faulty = _of_spellings(untyped.names, manner)
    result = np.full(len(texts), np.nan)
    result[~typed], spelled = _at(untyped.codes, distinct, faulty)
    places = np.flatnonzero(typed)
    result[typed], numbered = _of_numbers(column.numbers[typed], [texts[place] for place in places.tolist()], manner)
    elsewhere = np.flatnonzero(~typed)
    faults = [(int(elsewhere[at]), error) for at, error in spelled]
    faults += [(int(places[at]), error) for at, error in numbered]
    return result, sorted(faults, key=lambda fault: fault[0])


def _of_numbers(values: np.ndarray, cells: Sequence[str] | np.ndarray, manner: Manner) -> tuple[FloatArray, Faults]:
    """Return cells that the file keeps as numbers; those that are not regular are parsed as they are spelled."""
    amounts = np.asarray(values, dtype=float)
    if not len(amounts):
        return amounts, []
    if manner.are_regular(amounts):
        return (amounts if manner.factor == 1.0 else amounts * manner.factor), []
    regular = manner.is_regular(amounts)
    result = np.where(regular, amounts * manner.factor, np.nan)
    odd = np.flatnonzero(~regular & ~np.isnan(amounts))
    outcomes = {text: _attempt(manner.parse, text, None) for text in {str(cells[at]) for at in odd.tolist()}}
    faults: Faults = []
    for at in odd.tolist():
        outcome = outcomes[str(cells[at])]
        if isinstance(outcome, UnitError):
            faults.append((at, outcome))
        else:
            result[at] = outcome
    return result, faults


def _of_spellings(spellings: Sequence[str], manner: Manner) -> tuple[FloatArray, dict[int, UnitError]]:
    """Return the amount of each spelling of a column, NaN for a blank, and what is wrong with those that are none."""
    marks, plain = settle(spellings, manner.decimal, stated=manner.stated)
    amounts = np.array(
        [plain_amount(text) if is_plain else math.nan for text, is_plain in zip(spellings, plain, strict=True)]
    )
    regular = manner.is_regular(amounts)
    amounts = amounts * manner.factor
    faulty: dict[int, UnitError] = {}
    for place in np.flatnonzero(~regular).tolist():
        if not spellings[place]:
            continue
        outcome = _attempt(manner.parse, spellings[place], marks)
        if isinstance(outcome, UnitError):
            amounts[place], faulty[place] = math.nan, outcome
        else:
            amounts[place] = outcome
    return amounts, faulty


def _at(codes: Codes, distinct: FloatArray, faulty: Mapping[int, UnitError]) -> tuple[FloatArray, Faults]:
    """Return the amounts of distinct cells, and their faults, at the places that codes say."""
    places = np.flatnonzero(np.isin(codes, list(faulty))).tolist() if faulty else []
    amounts = distinct[codes] if len(distinct) else np.full(len(codes), np.nan)
    return amounts, [(place, faulty[int(codes[place])]) for place in places]


def _attempt(parse: Parse, text: str, marks: Marks | None) -> float | UnitError:
    try:
        return parse(text, marks)
    except UnitError as error:
        return UnitError(error.reason, read=text, accepted=error.accepted, code=error.code)


def in_points(text: str, marks: Marks | None) -> str:
    """Return a cell with its numbers written with decimal points; one that is a number is so already."""
    return text if marks is None else normalised(text, marks)


def quantities(
    column: Column, dimension: str, *, decimal: str = ".", stated: bool = False
) -> tuple[FloatArray, Faults]:
    """Return a column of quantities in the canonical unit of a dimension, NaN where blank, with its faults as `convert`.

    The column's unit is that of bare numbers, by default the canonical one; the dimension is one of
    `impact.base.units.parse_quantity`, `decimal` and `stated` are those of `Manner`.

    Raises
    ------
    UnitError
        The header's unit is unknown, ambiguous or of another dimension.
    """

    def parse(text: str, marks: Marks | None) -> float:
        return parse_quantity(in_points(text, marks), dimension, column.unit)

    factor = unit_factor(column.unit or CANONICAL[dimension], dimension)
    return convert(column, Manner(parse, factor, least=LEAST[dimension], decimal=decimal, stated=stated))
