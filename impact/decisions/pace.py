"""How fast a workshop goes by its records, and when it would reach its target at that pace."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from impact.base.serial import Share, named, shows
from impact.decisions.planned import Expected, Foreseen
from impact.records.workshop import Targets

if TYPE_CHECKING:
    import pandas as pd

WEEK_DAYS = 7.0
"""Days between two sessions where the records do not show it."""

FAR_DAYS = 36_525
"""Days beyond which a date is not worth giving: a hundred years."""


@dataclass(frozen=True, slots=True)
class Pace:
    """The time that the records span.

    Attributes
    ----------
    first, last : datetime.date
        Days of the first and the last batch.
    spacing_days : float
        Median days between two days with batches, else a week. [day]
    known : bool
        False when the spacing is the assumed week.
    """

    first: date
    last: date
    spacing_days: float
    known: bool

    @property
    def days(self) -> float:
        """Days that the records stand for: from the first to the last day, and one spacing for the last. [day]"""
        return (self.last - self.first).days + self.spacing_days


@shows(
    named("diverted_kg", "target_kg"), "by", "so_far_kg", "after_kg", "chance_after", "spacing_days", "spacing_from",
    "last_session", "date_at_pace", "in_time", "reason",
)  # fmt: skip
@dataclass(frozen=True, slots=True)
class Progress:
    """The way to the target of paper kept from landfill.

    Attributes
    ----------
    target_kg : float
        Target. [kg]
    by : datetime.date
        Last day on which it counts.
    so_far_kg : float
        Kept by all batches up to that day, of every part. [kg]
    after_kg : Expected
        The same with the planned sessions. [kg]
    chance_after : float or None
        Share of the draws in which the sessions reach the target; None where paper is rarely kept from landfill. [-]
    spacing_days : float
        Days from one session to the next. [day]
    spacing_known : bool
        True when that is the records' own pace, False when weekly sessions are assumed.
    last_session : datetime.date or None
        Day of the last planned session at that spacing; None when that is more than a hundred years away.
    date_at_pace : datetime.date or None
        Day on which the target would be met at the pace of the records, without the plan; None with the `reason`.
    in_time : bool or None
        Whether that day is not after `by`; None where there is no such day.
    reason : str or None
        Why there is no such day.
    """

    target_kg: float
    by: date
    so_far_kg: float
    after_kg: Expected
    chance_after: Share | None
    spacing_days: float
    spacing_known: bool
    last_session: date | None
    date_at_pace: date | None
    in_time: bool | None
    reason: str | None

    @property
    def spacing_from(self) -> Literal["records", "assumed weekly"]:
        """Where the spacing is from."""
        return "records" if self.spacing_known else "assumed weekly"


def pace_of(dates: pd.Series[Any]) -> Pace:
    """Return the pace of some batches from their days.

    Parameters
    ----------
    dates : Series of datetime
        Day of each batch; at least one.
    """
    days = sorted({moment.date() for moment in dates.drop_duplicates()})
    gaps = [(later - earlier).days for earlier, later in itertools.pairwise(days)]
    return Pace(days[0], days[-1], float(np.median(gaps)) if gaps else WEEK_DAYS, bool(gaps))


def date_at_pace(remaining_kg: float, so_far_kg: float, pace: Pace) -> tuple[date | None, str | None]:
    """Return the day on which what remains would be done at the pace so far, or None and why not."""
    if remaining_kg <= 0.0:
        return None, "the target is met already"
    if so_far_kg <= 0.0:
        return None, "no paper was kept from landfill so far, so there is no pace"
    days = remaining_kg / so_far_kg * pace.days
    if days > FAR_DAYS:
        return None, "at this pace it takes more than a hundred years"
    return pace.last + timedelta(days=math.ceil(days)), None


def progress_to(targets: Targets, so_far_kg: float, diverted_kg: Foreseen, pace: Pace, sessions: int) -> Progress:
    """Return the way to a target.

    Parameters
    ----------
    targets : Targets
        The target.
    so_far_kg : float
        Paper kept from landfill by the batches on record. [kg]
    diverted_kg : Foreseen
        Paper that the planned sessions keep from landfill. [kg]
    pace : Pace
        Pace of the records.
    sessions : int
        Planned sessions.
    """
    kept = diverted_kg.expected()
    ends = {name: so_far_kg + getattr(kept, name) for name in ("value", "low", "high", "median")}
    days = pace.spacing_days * sessions
    reached, reason = date_at_pace(targets.diverted_kg - so_far_kg, so_far_kg, pace)
    return Progress(
        target_kg=targets.diverted_kg,
        by=targets.by,
        so_far_kg=so_far_kg,
        after_kg=replace(kept, **ends),
        chance_after=None if kept.rare else float(np.mean(so_far_kg + diverted_kg.draws[1:] >= targets.diverted_kg)),
        spacing_days=pace.spacing_days,
        spacing_known=pace.known,
        last_session=pace.last + timedelta(days=math.ceil(days)) if days <= FAR_DAYS else None,
        date_at_pace=reached,
        in_time=None if reached is None else reached <= targets.by,
        reason=reason,
    )
