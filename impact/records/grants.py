"""Grants: the part of the work that is counted for one of them, and days that are counted more than once."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from impact.base.language import message
from impact.base.problems import Problem, ProblemsError, choices, counted
from impact.base.sentences import Fact, Figure, Said
from impact.base.spellings import fold

if TYPE_CHECKING:
    from impact.records.statements import Grant
    from impact.records.workshop import Workshop

ALL_THE_WORK = "none"
"""Written in place of the name of a grant: no grant, all the work."""

OVERLAP = message(
    "from {start} to {end} the shares of the grants {grants} add up to {total}: the same paper would be counted more than once"
)
ROUNDING = 1e-9
"""How far shares may exceed 1 through rounding. [-]"""


@dataclass(frozen=True, slots=True)
class Overlap:
    """Days, first and last, for which the shares of grants add up to more than 1, with their names and sum. [-]"""

    start: date
    end: date
    grants: tuple[str, ...]
    total: float

    def sentence(self) -> Said:
        """Return the overlap in words, with its days and its sum."""
        days: dict[str, Fact] = {"start": str(self.start), "end": str(self.end)}
        return Said(OVERLAP, {**days, "grants": ", ".join(self.grants), "total": Figure(self.total, "stated")})


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


def grant_named(workshop: Workshop, name: str) -> Grant | None:
    """Return the grant of a name or of its start, whatever its case, spaces and hyphens; None for `ALL_THE_WORK`.

    Raises
    ------
    ProblemsError
        When the workshop lists no such grant, or several names start so.
    """
    wanted, grants = fold(name), {fold(grant.name): grant for grant in workshop.grants}
    if wanted in grants:
        return grants[wanted]
    if wanted == ALL_THE_WORK:
        return None
    found = [grant for folded, grant in grants.items() if wanted and folded.startswith(wanted)]
    if len(found) == 1:
        return found[0]
    names = [grant.name for grant in found or workshop.grants]
    known = choices(name, names) if names else "none, as [[grants]] is empty"
    code, message = (
        ("ambiguous-grant", f"the names of {len(found)} grants start so")
        if found
        else ("unknown-grant", "the workshop lists no such grant")
    )
    raise ProblemsError([Problem(code, "workshop.toml", message, read=name, accepted=known)])


@dataclass(frozen=True, slots=True)
class Usual:
    """What a report for who paid counts where no grant is asked for: the grant, None for all the work; and why, in a line."""

    name: str | None
    sentence: str


def usual_grant(
    workshop: Workshop, period: tuple[date, date] | None, count: Callable[[tuple[date, date] | None], int]
) -> Usual | None:
    """Return the only grant, where it has batches among those asked for, else all the work; None where none is listed.

    Parameters
    ----------
    period : pair of dates or None
        The days asked for.
    count : callable
        How many of the batches asked for are of some days.
    """
    grants = workshop.grants
    if len(grants) != 1:
        names = ", ".join(grant.name for grant in grants)
        told = f"{len(grants)} grants are in workshop.toml; all the work is counted. --grant NAME counts one: {names}"
        return Usual(None, told) if grants else None
    (grant,) = grants
    try:
        days = days_of(grant, period)
    except ProblemsError:
        days = None
    of_grant = count(days) if days is not None else 0
    if not of_grant:
        about = f"the grant {grant.name} ({grant.start} to {grant.end})"
        return Usual(None, f"{about} has none of these batches; all the work is counted")
    told = (
        f"counted for the grant {grant.name} alone ({grant.start} to {grant.end}): {of_grant} of {counted(count(period), 'batch')}, "
        f"{grant.share:.0%} of the accounts. --grant none counts all the work"
    )
    return Usual(grant.name, told)


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
