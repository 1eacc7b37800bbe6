"""The span of time that a calculation is narrowed to."""

from __future__ import annotations

import calendar
import re
from datetime import date

ACCEPTED = "a year (2026), a quarter (2026-Q1), a month (2026-03), or two days (2026-01-01..2026-03-31)"


class PeriodError(ValueError):
    """A text that is no period."""


def parse_period(text: str) -> tuple[date, date]:
    """Return the first and the last day of a period.

    Parameters
    ----------
    text : str
        ``2026``, ``2026-Q1``, ``2026-03`` or ``2026-01-01..2026-03-31``.

    Raises
    ------
    PeriodError
        Not such a period, or it ends before it starts.
    """
    written = text.strip()
    try:
        if match := re.fullmatch(r"([0-9]{4})", written):
            return _months(int(match[1]), 1, 12)
        if match := re.fullmatch(r"([0-9]{4})-[Qq]([1-4])", written):
            last = 3 * int(match[2])
            return _months(int(match[1]), last - 2, last)
        if match := re.fullmatch(r"([0-9]{4})-([0-9]{2})", written):
            return _months(int(match[1]), int(match[2]), int(match[2]))
        if match := re.fullmatch(r"([0-9]{4}-[0-9]{2}-[0-9]{2})\.\.([0-9]{4}-[0-9]{2}-[0-9]{2})", written):
            start, end = date.fromisoformat(match[1]), date.fromisoformat(match[2])
            if end < start:
                raise ValueError("it ends before it starts")
            return start, end
    except ValueError as error:
        raise PeriodError(f'read "{text}": this is no period, {error}. Accepted: {ACCEPTED}.') from None
    raise PeriodError(f'read "{text}": this is no period. Accepted: {ACCEPTED}.')


def _months(year: int, first: int, last: int) -> tuple[date, date]:
    start = date(year, first, 1)
    return start, date(year, last, calendar.monthrange(year, last)[1])
