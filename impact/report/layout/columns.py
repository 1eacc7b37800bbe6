"""Columns of even height in the layout library, found at once in place of by trial.

The library sets columns again and again, a pixel higher each time, until the last one is not the highest. Here the content
is laid out once in one column without an end; where it may break tells how high even columns are; and the library sets them
at that height. What it sets is its own work: where the height does not hold everything, it is raised, and after some tries the
library looks for its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise
from math import inf
from typing import Any, NamedTuple

SLACK = 0.5
"""What is added to a height, because lengths are rounded. [px]"""
STEP = 4.0
"""What is added where the library wants more than was calculated, as for margins at a break. [px]"""
TRIES = 4
"""Heights that are tried before the library looks for its own."""

AVOIDED = ("avoid", "avoid-page", "avoid-column")
"""Values of the break properties that hold things together in a column (CSS Fragmentation Module Level 3, 3)."""


class Piece(NamedTuple):
    """What cannot be broken.

    Attributes
    ----------
    top, bottom : float
        Where it stands in one column without an end. [px]
    needed : float
        Where a column ends that ends with it: with the margin under it. [px]
    lead : float
        Height of what is said again over it where a column begins with it: the head of a table. [px]
    """

    top: float
    bottom: float
    needed: float
    lead: float = 0.0


@contextmanager
def even_columns() -> Iterator[None]:
    """Have the layout library set columns at a height that was calculated."""
    from weasyprint.layout import block

    usual = block.columns_layout

    def even(
        context: Any, box: Any, bottom_space: float, skip_stack: Any, containing_block: Any, page_is_empty: bool,
        absolute_boxes: Any, fixed_boxes: Any, adjoining_margins: Any, *first: Any,
    ) -> Any:  # fmt: skip
        def set_in() -> Any:
            return usual(
                context, box, bottom_space, skip_stack, containing_block, page_is_empty, absolute_boxes, fixed_boxes,
                adjoining_margins, *first,
            )  # fmt: skip

        if not _can_be_calculated(box) or _has_footnotes(context):
            return set_in()
        frame = _Frame.of(box, block.collapse_margin(adjoining_margins), skip_stack, containing_block)
        most = context.page_bottom - frame.top - bottom_space
        content = _single(context, frame, containing_block, *first)
        height = least_height(pieces_of(content), box.style["column_count"]) + SLACK
        for _ in range(TRIES):
            if height >= most:
                break
            result = _set_at(
                height, context, frame, bottom_space, containing_block, page_is_empty, absolute_boxes, fixed_boxes, *first
            )  # fmt: skip
            if result is not None:
                return result
            height += STEP
        return set_in()

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
        and style["direction"] == "ltr"
        and style["position"] == "static"
        and style["min_height"] == "auto"
        and all(child.style["column_span"] == "none" for child in box.children)
    )


def _has_footnotes(context: Any) -> bool:
    """Return whether the page may get a footnote, which takes room from the columns that it stands in."""
    return bool(context.footnotes or context.current_page_footnotes or context.reported_footnotes)


@dataclass(frozen=True)
class _Frame:
    """Where columns stand.

    Attributes
    ----------
    whole : Box
        A copy of the box of all columns, with its width.
    top : float
        Of its content. [px]
    width, gap : float
        Of one column, and between two. [px]
    children : list of Box
        What is still to be set.
    went_on : dict or None
        Where the first of them goes on.
    """

    whole: Any
    top: float
    width: float
    gap: float
    children: list[Any]
    went_on: dict[int, Any] | None

    @classmethod
    def of(cls, box: Any, margin: float, skip_stack: Any, containing_block: Any) -> _Frame:
        """Return where the columns of a box stand, with a margin over it."""
        from weasyprint.layout import block
        from weasyprint.layout.percent import percentage

        whole = box.copy_with_children(box.children)
        whole.position_y += margin
        block.block_level_width(whole, containing_block)
        gap, count = box.style["column_gap"], box.style["column_count"]
        gap = box.style["font_size"] if gap == "normal" else percentage(gap, box.style, whole.width)
        (skipped,) = skip_stack or (0,)
        width = max(0, whole.width - (count - 1) * gap) / count
        return cls(
            whole,
            whole.content_box_y(),
            width,
            gap,
            box.children[skipped:],
            {0: skip_stack[skipped]} if skip_stack else None,
        )

    def column(self, number: int, containing_block: Any) -> Any:
        """Return a column that holds what is to be set."""
        from weasyprint.layout.column import _create_column_box

        column = _create_column_box(
            self.whole, containing_block, [child.copy() for child in self.children], self.width, self.top
        )
        column.position_x += number * (self.width + self.gap)
        return column


def _single(context: Any, frame: _Frame, containing_block: Any, *first: Any) -> Any:
    """Return the content of columns laid out in one of them without an end."""
    from weasyprint.layout import block

    context.in_column = True
    laid_out = block.block_box_layout(
        context, frame.column(0, containing_block), -inf, frame.went_on, containing_block, True, [], [], [], *first,
        discard=False, max_lines=None,
    )[0]  # fmt: skip
    context.in_column = False
    block.remove_placeholders(context, [laid_out], [], [])
    return laid_out


def _set_at(
    height: float, context: Any, frame: _Frame, bottom_space: float, containing_block: Any, page_is_empty: bool,
    absolute_boxes: Any, fixed_boxes: Any, *first: Any,
) -> Any:  # fmt: skip
    """Return columns of a height as the library returns what it has set; None where they do not hold everything."""
    from weasyprint.layout import block

    columns: list[Any] = []
    went_on, shapes = frame.went_on, len(context.excluded_shapes)
    context.in_column = True
    for number in range(frame.whole.style["column_count"]):
        column, went_on, next_page, *_ = block.block_box_layout(
            context, frame.column(number, containing_block), max(bottom_space, context.page_bottom - frame.top - height),
            went_on, containing_block, page_is_empty, absolute_boxes, fixed_boxes, None, *first, discard=False, max_lines=None,
        )  # fmt: skip
        if column is None:
            break
        columns.append(column)
        if went_on is None:
            break
    context.in_column = False
    if not columns or column is None or went_on is not None:
        block.remove_placeholders(context, columns, absolute_boxes, fixed_boxes)
        del context.excluded_shapes[shapes:]
        return None
    whole = frame.whole.copy_with_children(columns)
    highest = max(column.margin_height() for column in columns)
    for column in columns:
        column.height = highest
    whole.height = min(height, highest)
    return whole, None, next_page, [], False


def pieces_of(box: Any) -> list[Piece]:
    """Return what cannot be broken of a box that is laid out, from its top down."""
    from weasyprint.formatting_structure import boxes

    flow = _flow_of(box)
    top, bottom = box.border_box_y(), box.border_box_y() + box.border_height()
    needed = bottom + sum(getattr(box, side) or 0.0 for side in UNDER)
    if not flow or isinstance(box, (boxes.LineBox, boxes.TableRowBox)) or box.style["break_inside"] in AVOIDED:
        return [Piece(top, bottom, needed)]
    lead = 0.0
    if isinstance(flow[0], boxes.LineBox):
        groups = [[Piece(line.position_y, end := line.position_y + line.height, end)] for line in flow]
        fewest, last = box.style["orphans"], len(flow) - box.style["widows"]
        held = [not fewest <= number <= last for number in range(len(flow))]
    else:
        groups = [pieces_of(child) for child in flow]
        held = [False, *(_are_held(*pair) for pair in pairwise(flow))]
        if isinstance(box, boxes.TableBox):
            apart = box.style["border_spacing"][1] if box.style["border_collapse"] == "separate" else 0.0
            groups = [[piece._replace(needed=piece.needed + apart) for piece in group] for group in groups]
            if flow[0].is_header:
                lead, held[1:2] = flow[0].height + apart, [True] * len(held[1:2])
    first, *others = joined(groups, held)
    pieces = [first._replace(top=min(top, first.top)), *(piece._replace(lead=piece.lead + lead) for piece in others)]
    pieces[-1] = pieces[-1]._replace(bottom=max(bottom, pieces[-1].bottom), needed=max(needed, pieces[-1].needed))
    return pieces


UNDER = ("border_bottom_width", "padding_bottom", "margin_bottom")
"""What the library wants under a box where a column ends, whose border and padding it counts twice."""


def _flow_of(box: Any) -> list[Any]:
    return [child for child in getattr(box, "children", ()) if child.is_in_normal_flow()]


def _are_held(before: Any, after: Any) -> bool:
    """Return whether two neighbours are held together: by themselves, or by what ends the one or begins the other."""
    while True:
        if before.style["break_after"] in AVOIDED:
            return True
        if not (inner := _flow_of(before)):
            break
        before = inner[-1]
    while True:
        if after.style["break_before"] in AVOIDED:
            return True
        if not (inner := _flow_of(after)):
            return False
        after = inner[0]


def joined(groups: Sequence[Sequence[Piece]], held: Sequence[bool]) -> list[Piece]:
    """Return the pieces of groups in one list; the first of a group that is held makes one with the last before it."""
    pieces: list[Piece] = []
    for group, with_last in zip(groups, held, strict=True):
        if with_last and pieces:
            pieces[-1] = group[0]._replace(top=pieces[-1].top, lead=pieces[-1].lead)
            group = group[1:]
        pieces += group
    return pieces


def least_height(pieces: Sequence[Piece], count: int) -> float:
    """Return the least height of so many columns that hold all pieces, in their order. [px]"""
    height = max((pieces[-1].bottom - pieces[0].top) / count, *(one.needed - one.top + one.lead for one in pieces), 0.0)
    while (more := _lacking(pieces, count, height)) > 0:
        height += more
    return height


def _lacking(pieces: Sequence[Piece], count: int, height: float) -> float:
    """Return what columns of a height lack for one of them to take one more piece; 0 where they hold all. [px]"""
    start, columns, least = pieces[0].top, 1, inf
    for piece in pieces:
        if piece.needed - start > height:
            least = min(least, piece.needed - start - height)
            start, columns = piece.top - piece.lead, columns + 1
    return least if columns > count else 0.0
