from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from impact.records.selection import PeriodError, parse_period


@pytest.mark.parametrize(
    ("text", "start", "end"),
    [
        ("2026", date(2026, 1, 1), date(2026, 12, 31)),
        ("2026-Q1", date(2026, 1, 1), date(2026, 3, 31)),
        ("2026-q4", date(2026, 10, 1), date(2026, 12, 31)),
        ("2026-02", date(2026, 2, 1), date(2026, 2, 28)),
        ("2028-02", date(2028, 2, 1), date(2028, 2, 29)),
        (" 2026-12 ", date(2026, 12, 1), date(2026, 12, 31)),
        ("2026-01-01..2026-03-31", date(2026, 1, 1), date(2026, 3, 31)),
        ("2026-01-05..2026-01-05", date(2026, 1, 5), date(2026, 1, 5)),
    ],
)
def test_parse_period_accepted_form_gives_first_and_last_day(text: str, start: date, end: date) -> None:
    assert parse_period(text) == (start, end)


@pytest.mark.parametrize(
    "text",
    ["", "26", "2026-Q5", "2026-13", "2026-00", "0000", "2026-1", "2026-01-01", "2026-01-01..", "Q1 2026", "2026-02-30..2026-03-01",
     "2026-03-01..2026-01-01", "2026-01-01...2026-02-01", "２０２６"],
)  # fmt: skip
def test_parse_period_other_text_says_what_is_accepted(text: str) -> None:
    with pytest.raises(PeriodError, match="2026-Q1") as caught:
        parse_period(text)
    assert f'read "{text}"' in str(caught.value)


def test_parse_period_end_before_start_says_so() -> None:
    with pytest.raises(PeriodError, match="it ends before it starts"):
        parse_period("2026-03-01..2026-01-01")


@given(st.integers(1, 9998))
def test_parse_period_quarters_fill_their_year(year: int) -> None:
    spans = [parse_period(f"{year:04d}-Q{quarter}") for quarter in (1, 2, 3, 4)]
    assert (spans[0][0], spans[-1][1]) == parse_period(f"{year:04d}")
    assert all(after[0] - before[1] == timedelta(days=1) for before, after in pairwise(spans))


@given(st.text(max_size=25))
def test_parse_period_any_text_is_a_period_or_a_period_error(text: str) -> None:
    try:
        start, end = parse_period(text)
    except PeriodError:
        return
    assert start <= end
