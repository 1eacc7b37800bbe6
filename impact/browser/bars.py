"""Both footprints of each part as rows of a page, in place of the chart of the report: figures, words, and marks on one scale."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from impact.findings.verdicts import verdict_said

if TYPE_CHECKING:
    from collections.abc import Sequence

    from impact.account.results import Interval, PartResult
    from impact.base.sentences import Said


@dataclass(frozen=True, slots=True)
class Bar:
    """One side of a comparison on a scale from 0 to 100.

    Attributes
    ----------
    low, middle, high, zero : float
        Ends and centre of the interval, and where nothing is emitted. [%]
    name : str
        Name of the figure.
    """

    low: float
    middle: float
    high: float
    zero: float
    name: str

    @property
    def across(self) -> float:
        """Width of the interval. [%]"""
        return max(self.high - self.low, 0.5)


@dataclass(frozen=True, slots=True)
class Row:
    """One part: what is said of it, and both sides."""

    part: str
    said: Said
    moulded: Bar
    plastic: Bar


def rows_of(parts: Sequence[PartResult]) -> list[Row]:
    """Return the parts that have a plastic part beside them, the most favourable difference first, on one scale."""
    pairs = [
        (part, part.footprint, part.plastic.footprint)
        for part in parts
        if part.footprint is not None and part.plastic is not None and part.difference is not None
    ]
    pairs.sort(key=lambda pair: pair[0].difference.value if pair[0].difference else 0.0)
    ends = [0.0, *(end for _, *sides in pairs for side in sides for end in (side.low, side.value, side.high))]
    least, most = min(ends), max(ends)

    def bar(side: Interval, name: str) -> Bar:
        def place(value: float) -> float:
            return round(2.0 + 96.0 * (value - least) / ((most - least) or 1.0), 2)

        return Bar(place(side.low), place(side.value), place(side.high), place(0.0), name)

    return [
        Row(
            part.part,
            verdict_said(part),
            bar(moulded, f"parts.{part.part}.footprint_kgco2e"),
            bar(plastic, f"parts.{part.part}.plastic.footprint_kgco2e"),
        )
        for part, moulded, plastic in pairs
    ]
