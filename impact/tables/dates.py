"""The days of a date column: read where they are certain, asked about where day and month can change places."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

import numpy as np

from impact.tables.texts import Coded

Days = np.ndarray[Any, np.dtype[np.datetime64]]
"""Days, one for each row."""

DAY_FIRST, MONTH_FIRST = "day first", "month first"
SETTLE = f'[records] dates = "{DAY_FIRST}" or "{MONTH_FIRST}" in workshop.toml'
"""What settles a day that can be read in two ways."""

ACCEPTED = "a day as year-month-day, 2026-04-03"
FIRST, LAST = np.datetime64("0001-01-01", "D"), np.datetime64("9999-12-31", "D")
"""First and last day that is one; files with types can hold days millions of years from here."""

SERIAL_DAYS = (36526, 73050)
"""Day numbers of a spreadsheet that are named as such: years 2000 to 2099."""

_YEAR_FIRST = re.compile(
    r"([0-9]{4})([-/. ])([0-9]{1,2})\2([0-9]{1,2})(?:[T ][0-9]{1,2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]*)?)?)?"
)
_YEAR_LAST = re.compile(r"([0-9]{1,2})([-/. ])([0-9]{1,2})\2([0-9]{4}|[0-9]{2})")
Fault = tuple[str, str, str]


def read_days(texts: Coded, order: str | None) -> tuple[Days, list[tuple[int, Fault]]]:
    """Return a column of stripped text as days, missing where blank or faulty.

    The `order` is what the workshop says of its dates: ``day first``, ``month first`` or nothing.

    Returns
    -------
    ndarray of datetime64
        Days.
    list of (int, (str, str, str))
        Position of each faulty cell with code, message and what is accepted.
    """
    outcomes = [None if not text else _outcome(text, order) for text in texts.names]
    read = [str(outcome) if isinstance(outcome, date) else "NaT" for outcome in outcomes] or ["NaT"]
    days: Days = np.array(read, dtype="datetime64[D]")[texts.codes]
    faulty = {code: outcome for code, outcome in enumerate(outcomes) if isinstance(outcome, tuple)}
    places = np.flatnonzero(np.isin(texts.codes, list(faulty))).tolist() if faulty else []
    return days, [(place, faulty[int(texts.codes[place])]) for place in places]


def days_known(days: Days) -> tuple[Days, list[tuple[int, Fault]]]:
    """Return a column that the file keeps as days, missing where faulty, and its faults as `read_days` does."""
    beyond = (days < FIRST) | (days > LAST)
    if not beyond.any():
        return days, []
    fault = "bad-date", "this is no day", ACCEPTED
    return np.where(beyond, np.datetime64("NaT", "D"), days), [(at, fault) for at in np.flatnonzero(beyond).tolist()]


def _outcome(text: str, order: str | None) -> date | Fault:
    """Return the day that a text is, or why it is none."""
    if match := _YEAR_FIRST.fullmatch(text):
        return _day(match[1], match[3], match[4]) or ("bad-date", "this is no day", ACCEPTED)
    match = _YEAR_LAST.fullmatch(text)
    if match is None:
        return _no_day(text)
    year = match[4] if len(match[4]) == 4 else f"20{match[4]}"
    readings = {DAY_FIRST: _day(year, match[3], match[1]), MONTH_FIRST: _day(year, match[1], match[3])}
    found = sorted({str(day) for day in readings.values() if day is not None})
    listed = " or ".join(found)
    if len(match[4]) == 2:
        return "bad-date", "the year has two digits", f"{listed}, as meant" if found else ACCEPTED
    if order is not None:
        return readings[order] or ("bad-date", f"this is no day with the {order}", listed or ACCEPTED)
    if len(found) == 2:
        return "ambiguous-date", f"this may be {listed}", f"{listed}, as meant; or {SETTLE}"
    return date.fromisoformat(found[0]) if found else ("bad-date", "this is no day", ACCEPTED)


def _no_day(text: str) -> Fault:
    if re.fullmatch(r"[0-9]{5}", text) and SERIAL_DAYS[0] <= int(text) <= SERIAL_DAYS[1]:
        day = date(1899, 12, 30) + timedelta(days=int(text))
        return "bad-date", "a number, no day", f"{day}, if the day number of a spreadsheet is meant"
    return "bad-date", "this is no day", ACCEPTED


def _day(year: str, month: str, day: str) -> date | None:
    try:
        return date(int(year), int(month), int(day))
    except ValueError:
        return None
