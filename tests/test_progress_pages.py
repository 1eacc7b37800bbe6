"""The bar of the layout: pages counted on a terminal, nothing elsewhere, the log left as it was."""

from __future__ import annotations

import logging
import sys

import pytest

from impact.base import progress
from impact.base.progress import laying_out

LOG = logging.getLogger("weasyprint.progress")


def test_laying_out_counts_the_pages_that_the_library_begins(monkeypatch: pytest.MonkeyPatch) -> None:
    bars = []
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    monkeypatch.setattr(progress._Bar, "end", lambda bar: bars.append(bar))
    level = LOG.level
    with laying_out():
        LOG.info("Step 3 - Applying CSS")
        for page in range(3):
            LOG.info("Step 5 - Creating layout - Page %d", page)
    LOG.info("Step 5 - Creating layout - Page 9")
    assert [bar.done for bar in bars] == [3.0]
    assert LOG.level == level


def test_laying_out_away_from_a_terminal_listens_to_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: False)
    before = list(LOG.filters)
    with laying_out():
        assert LOG.filters == before
