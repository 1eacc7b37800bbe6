"""Grants: the part of the work that is counted for one of them, and days that are counted more than once."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from impact.base.problems import Problem, ProblemsError, choices
from impact.base.spellings import fold

if TYPE_CHECKING:
    from impact.records.workshop import Grant, Workshop

ROUNDING = 1e-9
"""How far shares may exceed 1 through rounding. [-]"""


@dataclass(frozen=True, slots=True)
class Overlap:
    """Days, first and last, for which the shares of grants add up to more than 1, with their names and sum. [-]"""

    start: date
    end: date
    grants: tuple[str, ...]
    total: float

    def sentence(self) -> str:
        """Return the overlap in words, with its days and its sum."""
        names = ", ".join(self.grants)
        return (
            f"from {self.start} to {self.end} the shares of the grants {names} add up to {self.total:g}: "
            "the same paper would be counted more than once"
        )


def overlaps(grants: Sequence[Grant]) -> list[Overlap]:
    """Return the spans of days on which the shares of some grants add up to more than 1, in their order."""
    edges = sorted({day for grant in grants for day in (grant.start, grant.end + timedelta(days=1))})
    found = []
    for first, after in itertools.pairwise(edges):
        active = [grant for grant in grants if grant.start <= first <= grant.end]
        total = sum(grant.share for grant in active)
        if total > 1.0 + ROUNDING:
            names = tuple(grant.name for grant in active)
            found.append(Overlap(first, after - timedelta(days=1), names, total))
    return found


def grant_named(workshop: Workshop, name: str) -> Grant:
    """Return the grant of a name, whatever its case, spaces and hyphens.

    Raises
    ------
    ProblemsError
        When the workshop lists no such grant.
    """
    for grant in workshop.grants:
        if fold(grant.name) == fold(name):
            return grant
    known = (
        choices(name, [grant.name for grant in workshop.grants]) if workshop.grants else "none, as [[grants]] is empty"
    )
    message = "the workshop lists no such grant"
    raise ProblemsError([Problem("unknown-grant", "workshop.toml", message, read=name, accepted=known)])


def days_of(grant: Grant, period: tuple[date, date] | None) -> tuple[date, date]:
    """Return the days that count for a grant: its own, narrowed to a period where one is asked for.

    Raises
    ------
    ProblemsError
        When the two have no day in common.
    """
    start, end = (
        (grant.start, grant.end) if period is None else (max(grant.start, period[0]), min(grant.end, period[1]))
    )
    if end < start:
        message = f"the grant {grant.name} has no day in the period asked for"
        raise ProblemsError(
            [Problem("no-batches", "workshop.toml", message, accepted=f"days from {grant.start} to {grant.end}")]
        )
    return start, end
