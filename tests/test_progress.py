from __future__ import annotations

import io
import sys

import pytest

from impact.base import progress
from impact.base.progress import track


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


class Clock:
    """A clock that stands still until somebody moves it."""

    def __init__(self) -> None:
        self.seconds = 5.0

    def __call__(self) -> float:
        return self.seconds


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock()
    monkeypatch.setattr(progress, "monotonic", made)
    return made


def worked(clock: Clock, each: float) -> list[int]:
    """Return what `track` yields of three things, each worked on for some seconds."""
    done = []
    for thing in track([10, 20, 30], "reading", total=60, unit="batches", amount=float):
        clock.seconds += each
        done.append(thing)
    return done


def test_track_without_a_terminal_writes_nothing(monkeypatch: pytest.MonkeyPatch, clock: Clock) -> None:
    stream = io.StringIO()
    monkeypatch.setattr(sys, "stderr", stream)
    assert worked(clock, each=60.0) == [10, 20, 30]
    assert stream.getvalue() == ""


def test_track_of_less_than_two_seconds_writes_nothing(monkeypatch: pytest.MonkeyPatch, clock: Clock) -> None:
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    assert worked(clock, each=0.625) == [10, 20, 30]
    assert stream.getvalue() == ""


def test_track_of_more_than_two_seconds_names_work_and_rate(monkeypatch: pytest.MonkeyPatch, clock: Clock) -> None:
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    assert worked(clock, each=1.5) == [10, 20, 30]
    assert "reading" in stream.getvalue()
    assert "13 batches/s" in stream.getvalue()  # 60 batches in 4.5 seconds
