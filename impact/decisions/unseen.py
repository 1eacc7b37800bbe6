"""What the rows that nobody saw published do to the figures, all at once at the ends of their intervals.

Put at the low and at the high end of its interval, one row at a time shows which of the two is worse for a figure. Then
all rows of one evidence word stand at their unfavourable ends at once, and at their favourable ones. All else keeps its
central value: errors of amounts, other rows, and what was filled in where a record is blank.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from itertools import product
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from impact.account.intensities import UnitImpacts
from impact.account.inventory import summed
from impact.account.lines import diverted_matrix, lost_matrix, stage_matrix
from impact.account.paper import Fines
from impact.account.plastic import plastic_case
from impact.base.serial import shows
from impact.core import FloatArray, Numbers
from impact.core.footprint import net_account
from impact.factors.rows import MEMORY, PRACTICE, Factor
from impact.factors.values import End, EndValues, Values

if TYPE_CHECKING:
    from impact.account.results import Results

WORDS = {"from_memory": MEMORY, "common_practice": PRACTICE}
"""Evidence words of rows that nobody saw published, by their names in results."""

WORSE = {"made": 1.0, "avoided": -1.0, "lost_recycling": 1.0, "net": 1.0}
"""Figures, and whether more of each is unfavourable (1) or favourable (-1)."""

SIDES = {"favourable": -1.0, "unfavourable": 1.0}

ROUNDING = 1e-12
"""By what rounding moves a figure. [-]"""

Moved: TypeAlias = Mapping[str, End]
"""The rows that stand at an end of their interval, by id."""

Case: TypeAlias = tuple[str, str, str]
"""Word, figure and side."""


@shows()
@dataclass(frozen=True, slots=True)
class Ends:
    """A figure with all rows of a word at their favourable, and at their unfavourable, ends. [kgCO2e]"""

    favourable: float
    unfavourable: float


@shows()
@dataclass(frozen=True, slots=True)
class Moves:
    """What all rows of a word do at their ends. [kgCO2e]

    Attributes
    ----------
    made, avoided, lost_recycling, net : Ends
        Parts made, disposal avoided, recycling that lost its fibre, net account of the period.
    """

    made: Ends
    avoided: Ends
    lost_recycling: Ends
    net: Ends


@shows()
@dataclass(frozen=True, slots=True)
class Unseen:
    """What rows do that nobody saw published.

    Attributes
    ----------
    from_memory : Moves
        Published values that nobody here has seen.
    common_practice : Moves
        Working assumptions without a source, and zeros by choice of the boundary.
    """

    from_memory: Moves
    common_practice: Moves

    @classmethod
    def of(cls, figures: Mapping[Case, float]) -> Unseen:
        """Return figures by word, name and side in their place."""
        words = {
            word: Moves(**{name: Ends(**{side: figures[word, name, side] for side in SIDES}) for name in WORSE})
            for word in (field.name for field in fields(cls))
        }
        return cls(**words)


def unseen(results: Results) -> tuple[Unseen, dict[Case, Moved]]:
    """Return what the rows that nobody saw published do, and which rows stand where for each figure.

    The share of a grant is in the figures.
    """
    moved = _moved(results)
    found = _figures(results, list(moved.values()))
    share = results.grant.share if results.grant else 1.0
    at_ends = {case: share * float(found[case[1]][place]) for place, case in enumerate(moved, start=1)}
    return Unseen.of(at_ends), moved


def _moved(results: Results) -> dict[Case, Moved]:
    """Return the end at which each row is worse, or better, for a figure; rows that do nothing are left out."""
    rows = _rows(results.values)
    sides: tuple[End, ...] = ("low", "high")
    single: list[Moved] = [{row.id: end} for row, end in product(rows, sides)]
    figures = _figures(results, single)
    moved: dict[Case, Moved] = {}
    for word, name, side in product(WORDS, WORSE, SIDES):
        least = ROUNDING * abs(float(figures[name][0]))
        change = (figures[name][1:] - figures[name][0]).reshape(-1, 2) * WORSE[name] * SIDES[side]
        moved[word, name, side] = {
            row.id: sides[int(of_row.argmax())]
            for row, of_row in zip(rows, change, strict=True)
            if row.evidence == WORDS[word] and of_row.max() > least
        }
    return moved


def _rows(values: Values) -> list[Factor]:
    """Return the rows used that nobody saw published and that have an interval, spreads of amounts apart."""
    used = (choice.factor for _, choice in sorted(values.used.items()))
    return [row for row in used if row.evidence in WORDS.values() and _has_ends(row)]


def largest_moves(results: Results) -> dict[str, float]:
    """Return by how much each row used moves a figure, at most: of a figure's size, at either end of its interval. [-]

    The figures are parts made, disposal avoided, recycling lost, and the plastic parts beside all good parts. Rows without an
    interval and the spreads of amounts move nothing here, nor do rows that fill blanks.
    """
    rows = [row for row in (choice.factor for choice in results.factors_used.values()) if _has_ends(row)]
    sides: tuple[End, ...] = ("low", "high")
    figures = _figures(results, [{row.id: end} for row, end in product(rows, sides)])
    largest = {row.id: 0.0 for row in rows}
    for name in (*WORSE, "plastic"):
        central = abs(float(figures[name][0]))
        if name == "net" or not central:
            continue
        change = np.abs(figures[name][1:] - figures[name][0]).reshape(-1, 2).max(axis=1) / central
        largest = {row: max(before, float(now)) for (row, before), now in zip(largest.items(), change, strict=True)}
    return largest


def _has_ends(row: Factor) -> bool:
    return row.low < row.high and not row.key.startswith("evidence.")


def _figures(results: Results, cases: Sequence[Moved]) -> dict[str, FloatArray]:
    """Return the figures, each an array: element 0 by central values, then one for each case. [kgCO2e]

    Beside those of `WORSE` stands `plastic`: the plastic parts beside all good parts, whatever share of them is displaced.
    """
    values = EndValues(results.values, cases)
    inventory = results.counted.tally.inventory
    impacts = UnitImpacts(
        results.workshop, values, results.counted.pressings, grid_kgco2e_per_kwh=results.impacts.grid_kgco2e_per_kwh,
        kept=Fines(results.inventory),
    )  # fmt: skip
    made = summed(results.inventory, stage_matrix(impacts, results.inventory))
    avoided, lost = (summed(inventory, of(impacts, inventory)) for of in (diverted_matrix, lost_matrix))
    displaced: Numbers = 0.0
    plastic: Numbers = np.zeros(1 + len(cases))
    for part in results.parts:
        settings = results.workshop.parts[part.part]
        if part.plastic:
            beside = part.good * plastic_case(settings, impacts).footprint
            plastic = plastic + beside
            displaced = displaced + (settings.displacement or 0.0) * beside
    net = np.asarray(net_account(made, avoided, lost, displaced))
    return {"made": made, "avoided": avoided, "lost_recycling": lost, "net": net, "plastic": np.asarray(plastic)}
