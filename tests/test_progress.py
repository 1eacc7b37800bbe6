from __future__ import annotations

import io
import sys

import pytest

from impact import progress
from impact.progress import track


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_track_without_a_terminal_writes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(progress, "PATIENCE_S", -1.0)
    assert list(track([1, 2, 3], "reading")) == [1, 2, 3]
    assert stream.getvalue() == ""


def test_track_of_something_quick_writes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    assert list(track([1, 2, 3], "reading")) == [1, 2, 3]
    assert stream.getvalue() == ""


def test_track_of_something_long_names_work_and_rate(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(progress, "PATIENCE_S", -1.0)
    assert list(track([10, 20], "reading", total=30, unit="batches", amount=float)) == [10, 20]
    assert "reading" in stream.getvalue()
    assert "batches/s" in stream.getvalue()
