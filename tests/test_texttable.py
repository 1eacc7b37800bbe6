from __future__ import annotations

import pytest

from impact.base.texttable import aligned


@pytest.mark.parametrize(
    ("rows", "lines"),
    [
        ([("part", "kg"), ("tray", "1.25"), ("a cup", "-")], ["part   kg", "tray   1.25", "a cup  -"]),
        ([("name", "x"), ("盆", "y")], ["name  x", "盆    y"]),  # two places a letter: Unicode, East Asian Width, W
        ([("Ka\u0308se", "x"), ("abcd", "y")], ["Ka\u0308se  x", "abcd  y"]),
        ([("one", ""), ("", "")], ["one", ""]),
        ([], []),
    ],
)
def test_aligned_columns_are_as_wide_as_their_widest_cell(rows: list[tuple[str, ...]], lines: list[str]) -> None:
    assert aligned(rows) == lines
