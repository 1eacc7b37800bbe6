"""Lines that the layout library breaks once, and not again in every pass over the pages.

The library lays pages, columns and tables out several times until everything finds its place, and each time asks anew where
a line of the same text, style and width ends. Every answer is kept here as long as one document is laid out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any


@contextmanager
def lines_broken_once() -> Iterator[None]:
    """Have the layout library remember where lines end, and how high the lines of a style are."""
    from weasyprint.layout import inline, preferred

    split, measure = inline.split_first_line, inline.strut
    inline.split_first_line = preferred.split_first_line = _broken_once(split)
    inline.strut = _once_a_style(measure)
    try:
        yield
    finally:
        inline.split_first_line = preferred.split_first_line = split
        inline.strut = measure


def _broken_once(split: Callable[..., Any]) -> Callable[..., Any]:
    """Return what breaks lines, with a memory; a style is kept with its answers, so that no other takes its place."""
    known: dict[tuple[Any, ...], tuple[Any, Any]] = {}

    def remembered(
        text: str, style: Any, context: Any, width: float | None, spacing: float, is_line_start: bool = True,
        minimum: bool = False,
    ) -> Any:  # fmt: skip
        key = (text, id(style), width, spacing, is_line_start, minimum)
        if key not in known:
            known[key] = style, split(text, style, context, width, spacing, is_line_start, minimum)
        return known[key][1]

    return remembered


def _once_a_style(measure: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """Return a measure of styles with a memory."""
    known: dict[int, tuple[Any, Any]] = {}

    def remembered(style: Any) -> Any:
        if id(style) not in known:
            known[id(style)] = style, measure(style)
        return known[id(style)][1]

    return remembered
