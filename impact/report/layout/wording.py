"""The words of charts in a PDF, set as whole lines, so that they can be searched and copied.

The layout library sets text within SVG letter by letter and leaves blanks out: a reader of PDF then finds single letters
where words stand, and laying out takes longer. What is here leans on how that version draws SVG, as `tagging` does on
its tags.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from math import inf
from typing import Any

SHARES = {"start": 0.0, "middle": 0.5, "end": 1.0}
"""Share of the width of a text that lies before the place that it is given for."""


@contextmanager
def whole_words() -> Iterator[None]:
    """Have the layout library set each text of a chart in one piece."""
    from weasyprint.svg import TAGS

    usual = TAGS["text"]
    TAGS["text"] = _draw
    try:
        yield
    finally:
        TAGS["text"] = usual


def _draw(drawing: Any, node: Any, font_size: float) -> None:
    """Draw a text of one piece where its attributes say: place, anchor, size, typeface, fill; turned by its transform."""
    from weasyprint.css.properties import INITIAL_VALUES
    from weasyprint.draw.text import draw_first_line
    from weasyprint.matrix import Matrix
    from weasyprint.svg.text import Style, TextBox
    from weasyprint.svg.utils import size
    from weasyprint.text.line_break import split_first_line

    if not node.text:
        return
    style = Style(INITIAL_VALUES)
    style.font_config = drawing.font_config
    style["font_family"] = [name.strip(" \"'") for name in node.get("font-family", "sans-serif").split(",")]
    style["font_size"] = font_size
    style["font_kerning"] = "none"
    style["font_variant_ligatures"] = "none"
    layout, _, _, width, _, baseline = split_first_line(node.text, style, drawing.context, inf, 0)
    left = size(node.get("x", "0"), font_size, drawing.inner_width)
    foot = size(node.get("y", "0"), font_size, drawing.inner_height)
    drawing.stream.push_state()
    fill, stroke = drawing.set_graphical_state(node, font_size)
    drawing.stream.begin_text()
    layout.reactivate(style)
    drawing.fill_stroke(fill, stroke, text=True)
    box = TextBox(layout, style)
    box.baseline = baseline
    start = left - SHARES[node.get("text-anchor", "start")] * width
    draw_first_line(drawing.stream, box, "none", "none", Matrix(d=-1, e=start, f=foot))
    drawing.stream.end_text()
    drawing.stream.pop_state()
