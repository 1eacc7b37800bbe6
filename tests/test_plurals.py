"""Counts with their noun."""

from __future__ import annotations

import pytest

from impact.base.problems import counted


@pytest.mark.parametrize(
    ("count", "words", "text"),
    [
        (0, ("batch",), "0 batches"), (1, ("batch",), "1 batch"), (2, ("row",), "2 rows"), (1.0, ("part",), "1 part"),
        (1, ("person", "people"), "1 person"), (12345678, ("person", "people"), "12345678 people"), (1.5, ("day",), "1.5 days"),
    ],
)  # fmt: skip
def test_counted_is_singular_for_one_only(count: float, words: tuple[str, ...], text: str) -> None:
    assert counted(count, *words) == text
