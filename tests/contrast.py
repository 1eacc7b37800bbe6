"""Contrast of a colour on its background after WCAG 2.2."""

from __future__ import annotations

import re

LEAST_FOR_TEXT = 4.5
"""Least contrast of text of common size (WCAG 2.2, success criterion 1.4.3). [-]"""

LEAST_FOR_GRAPHICS = 3.0
"""Least contrast of what must be seen to understand a picture (WCAG 2.2, success criterion 1.4.11). [-]"""


def luminance(colour: str) -> float:
    """Return the relative luminance of a colour, 0 for black to 1 for white [1]_. [-]

    Parameters
    ----------
    colour : str
        Six or three hexadecimal digits after a number sign.

    Raises
    ------
    ValueError
        When it is written otherwise.

    References
    ----------
    .. [1] W3C, "Web Content Accessibility Guidelines (WCAG) 2.2", 2023, definition of relative luminance.
    """
    digits = colour.removeprefix("#")
    if not re.fullmatch(r"#(?:[0-9A-Fa-f]{3}|[0-9A-Fa-f]{6})", colour):
        raise ValueError(f"read {colour!r}; accepted: a colour such as #22313a")
    if len(digits) == 3:
        digits = "".join(digit * 2 for digit in digits)
    channels = [int(digits[place : place + 2], 16) / 255.0 for place in (0, 2, 4)]
    red, green, blue = (
        channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4 for channel in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21, whichever is the text [1]_. [-]

    Raises
    ------
    ValueError
        When a colour is not written in hexadecimal digits.

    References
    ----------
    .. [1] W3C, "Web Content Accessibility Guidelines (WCAG) 2.2", 2023, definition of contrast ratio.
    """
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)
