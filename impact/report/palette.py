"""The one palette of the charts.

Dark and middle tones take turns, so that neighbours differ in lightness and stay apart in greyscale and for every
kind of colour blindness; none is so pale that it fades into the paper. `tests/test_palette.py` measures it.
"""

from __future__ import annotations

PAPER = "#ffffff"
INK = "#22313a"
SOFT = "#4f5f67"
RULE = "#7b878e"
"""Axes and leader lines; they carry no data."""

STAGE_COLOURS = ("#14304a", "#6b95ab", "#54370a", "#b3893f", "#215463", "#86988a")
PLASTIC_COLOURS = ("#3b4044", "#8b9094", "#55595c")
MOULDED, PLASTIC = STAGE_COLOURS[4], STAGE_COLOURS[3]
"""Lines and bands of the two sides of a comparison."""

LANDFILL, KEPT, OTHER = STAGE_COLOURS[2], STAGE_COLOURS[1], STAGE_COLOURS[5]
"""Bands of the flow diagram: to and from landfill, in use, all others."""
