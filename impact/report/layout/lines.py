"""Lines that the layout library breaks once, and not again in every pass over the pages.

The library lays pages, columns and tables out several times until everything finds its place, and each time asks anew where
a line of the same text, style and width ends. Every answer is kept here as long as one document is laid out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from impact.report.layout.texts import Kinds


@contextmanager
def lines_broken_once(kinds: Kinds) -> Iterator[None]:
    """Have the layout library remember where lines end, and how high the lines of a style are."""
    from weasyprint.layout import inline, preferred

    split, measure = inline.split_first_line, inline.strut
    inline.split_first_line = preferred.split_first_line = _broken_once(split, kinds)
    inline.strut = _once_a_style(measure)
    try:
        yield
    finally:
        inline.split_first_line = preferred.split_first_line = split
        inline.strut = measure


SOFT_HYPHEN = "\u00ad"


def _broken_once(split: Callable[..., Any], kinds: Kinds) -> Callable[..., Any]:
    """Return what breaks lines, with a memory by what bears on the text of a style."""
    known: dict[tuple[Any, ...], Any] = {}

    def remembered(
        text: str, style: Any, context: Any, width: float | None, spacing: float, is_line_start: bool = True,
        minimum: bool = False,
    ) -> Any:  # fmt: skip
        kind = kinds.of(style)

        def broken(text: str) -> Any:
            key = (text, kind.name, width, spacing, is_line_start, minimum)
            if key not in known:
                known[key] = split(text, style, context, width, spacing, is_line_start, minimum)
            return known[key]

        if minimum and width == 0 and kind.at_blanks and SOFT_HYPHEN not in text:
            blank = text.find(" ")
            if 0 < blank < len(text) - 2:  # the least line: of a word, and a letter after it tells that it ends there
                least = broken(text[: blank + 2])
                if least[2] is not None:
                    return least
        return broken(text)

    return remembered


def _once_a_style(measure: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """Return a measure of styles with a memory."""
    known: dict[int, tuple[Any, Any]] = {}

    def remembered(style: Any) -> Any:
        if id(style) not in known:
            known[id(style)] = style, measure(style)
        return known[id(style)][1]

    return remembered


@contextmanager
def lines_set_once() -> Iterator[None]:
    """Have the layout library set the lines of a paragraph once for each width, and shift them to where they are wanted again."""
    from weasyprint.layout import block

    usual = block.iter_line_boxes
    known: dict[Any, tuple[list[Any], list[Any]]] = {}

    def remembered(
        context: Any, box: Any, top: float, bottom_space: float, skip_stack: Any, containing: Any, *others: Any
    ) -> Iterator[tuple[Any, Any]]:
        content: list[Any] = []
        if context.excluded_shapes or others[2] or others[3] or not _is_plain(box, content):
            yield from usual(context, box, top, bottom_space, skip_stack, containing, *others)
            return
        key = (*map(id, content), str(skip_stack), containing.width)
        _, lines = known.setdefault(key, (content, []))  # the content is kept, so that no other takes its place
        number, left = 0, containing.content_box_x()
        fresh = None
        while True:
            if number == len(lines):
                fresh = fresh or usual(context, box, top, bottom_space, skip_stack, containing, *others)
                line, skip_stack = next(fresh, (None, None))
                lines.append((_copied(line), skip_stack, left))
            else:
                was_set, skip_stack, was_left = lines[number]
                line = _copied(was_set)
                if line is not None:
                    line.translate(left - was_left, top - line.position_y)
                    line.position_y = top
            if line is None:
                return
            top = line.position_y + line.height
            yield line, skip_stack
            if skip_stack is None:
                return
            number += 1

    block.iter_line_boxes = remembered
    try:
        yield
    finally:
        block.iter_line_boxes = usual


def _is_plain(box: Any, content: list[Any]) -> bool:
    """Return whether a box holds nothing but text in the flow, all of which `content` takes up."""
    from weasyprint.formatting_structure import boxes

    content.append(box) if isinstance(box, boxes.TextBox) else None
    if isinstance(box, (boxes.LineBox, boxes.InlineBox)):
        return box.is_in_normal_flow() and all(_is_plain(child, content) for child in box.children)
    return isinstance(box, boxes.TextBox)


def _copied(box: Any) -> Any:
    """Return a copy of a line and all in it; None for None."""
    if box is None:
        return None
    new = box.copy()
    if "children" in box.__dict__:
        new.children = [_copied(child) for child in box.children]
    return new
