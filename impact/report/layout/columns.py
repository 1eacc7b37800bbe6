"""Columns of even height in the layout library, found at once in place of by trial.

The library sets columns again and again, a pixel higher each time, until the last one is not the highest. Here the content
is laid out once in one column without an end; where it may break tells how high even columns are; and the library sets them
at that height. What it sets is its own work: where the height does not hold everything, it is raised, and after some tries the
library looks for its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from copy import copy
from math import inf
from typing import Any

SLACK = 0.5
"""What is added to a height, because lengths are rounded. [px]"""
STEP = 4.0
"""What is added where the library wants more than was calculated, as for margins at a break. [px]"""
TRIES = 4
"""Heights that are tried before the library looks for its own."""

AVOIDED = ("avoid", "avoid-page", "avoid-column")
"""Values of the break properties that hold things together in a column (CSS Fragmentation Module Level 3, 3)."""

Piece = tuple[float, float]
"""Top and bottom of what cannot be broken. [px]"""


@contextmanager
def even_columns() -> Iterator[None]:
    """Have the layout library set columns at a height that was calculated."""
    from weasyprint.layout import block

    usual = block.columns_layout

    def even(
        context: Any, box: Any, bottom_space: float, skip_stack: Any, containing_block: Any, page_is_empty: bool,
        absolute_boxes: Any, fixed_boxes: Any, adjoining_margins: Any, *first: Any,
    ) -> Any:  # fmt: skip
        def set_in(box: Any, bottom_space: float) -> Any:
            return usual(
                context, box, bottom_space, skip_stack, containing_block, page_is_empty, absolute_boxes, fixed_boxes,
                adjoining_margins, *first,
            )  # fmt: skip

        if not _can_be_calculated(box):
            return set_in(box, bottom_space)
        top = box.content_box_y() + block.collapse_margin(adjoining_margins)
        most = context.page_bottom - top - bottom_space
        content = _single(context, box, skip_stack, containing_block, top, *first)
        filled = copy(box)
        filled.style = box.style.copy()
        filled.style["column_fill"] = "auto"
        height = least_height(pieces_of(content), box.style["column_count"]) + SLACK
        for _ in range(TRIES):
            if height >= most:
                break
            result = set_in(filled, context.page_bottom - top - height)
            if result[0] is not None and result[1] is None:
                return result
            if result[0] is not None:
                block.remove_placeholders(context, [result[0]], absolute_boxes, fixed_boxes)
            height += STEP
        return set_in(box, bottom_space)

    block.columns_layout = even
    try:
        yield
    finally:
        block.columns_layout = usual


def _can_be_calculated(box: Any) -> bool:
    """Return whether columns are of a given number, as high as their content, and hold nothing that spans all of them."""
    style = box.style
    return (
        bool(box.children)
        and style["column_count"] != "auto"
        and style["column_width"] == style["height"] == "auto"
        and style["column_fill"] == "balance"
        and all(child.style["column_span"] == "none" for child in box.children)
    )


def _single(context: Any, box: Any, skip_stack: Any, containing_block: Any, top: float, *first: Any) -> Any:
    """Return the content of columns laid out in one of them without an end."""
    from weasyprint.layout import block
    from weasyprint.layout.column import _create_column_box
    from weasyprint.layout.percent import percentage

    whole = box.copy_with_children(box.children)
    block.block_level_width(whole, containing_block)
    gap, count = box.style["column_gap"], box.style["column_count"]
    gap = box.style["font_size"] if gap == "normal" else percentage(gap, box.style, whole.width)
    (skipped,) = skip_stack or (0,)
    column = _create_column_box(
        whole,
        containing_block,
        [child.copy() for child in box.children[skipped:]],
        max(0, whole.width - (count - 1) * gap) / count,
        top,
    )
    went_on = {0: skip_stack[skipped]} if skip_stack else None
    context.in_column = True
    laid_out = block.block_box_layout(
        context, column, -inf, went_on, containing_block, True, [], [], [], *first, discard=False, max_lines=None
    )[0]
    context.in_column = False
    block.remove_placeholders(context, [laid_out], [], [])
    return laid_out


def pieces_of(box: Any) -> list[Piece]:
    """Return what cannot be broken of a box that is laid out, from its top down."""
    from weasyprint.formatting_structure import boxes

    flow = [child for child in getattr(box, "children", ()) if child.is_in_normal_flow()]
    whole = (box.border_box_y(), box.border_box_y() + box.border_height())
    if not flow or isinstance(box, (boxes.LineBox, boxes.TableRowBox)) or box.style["break_inside"] in AVOIDED:
        return [whole]
    if isinstance(flow[0], boxes.LineBox):
        groups = [[(line.position_y, line.position_y + line.height)] for line in flow]
        fewest, last = box.style["orphans"], len(flow) - box.style["widows"]
        held = [not fewest <= number <= last for number in range(len(flow))]
    else:
        groups = [pieces_of(child) for child in flow]
        after = [False, *(child.style["break_after"] in AVOIDED for child in flow[:-1])]
        held = [child.style["break_before"] in AVOIDED or one for child, one in zip(flow, after, strict=True)]
    pieces = joined(groups, held)
    pieces[0] = (min(whole[0], pieces[0][0]), pieces[0][1])
    pieces[-1] = (pieces[-1][0], max(whole[1], pieces[-1][1]))
    return pieces


def joined(groups: Sequence[Sequence[Piece]], held: Sequence[bool]) -> list[Piece]:
    """Return the pieces of groups in one list; the first of a group that is held makes one with the last before it."""
    pieces: list[Piece] = []
    for group, with_last in zip(groups, held, strict=True):
        if with_last and pieces:
            pieces[-1] = (pieces[-1][0], group[0][1])
            group = group[1:]
        pieces += group
    return pieces


def least_height(pieces: Sequence[Piece], count: int) -> float:
    """Return the least height of so many columns that hold all pieces, in their order. [px]"""
    height = max((pieces[-1][1] - pieces[0][0]) / count, *(bottom - top for top, bottom in pieces), 0.0)
    while (more := _lacking(pieces, count, height)) > 0:
        height += more
    return height


def _lacking(pieces: Sequence[Piece], count: int, height: float) -> float:
    """Return what columns of a height lack for one of them to take one more piece; 0 where they hold all. [px]"""
    start, columns, least = pieces[0][0], 1, inf
    for top, bottom in pieces:
        if bottom - start > height:
            least = min(least, bottom - start - height)
            start, columns = top, columns + 1
    return least if columns > count else 0.0
