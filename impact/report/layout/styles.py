"""Values of styles in the layout library that need no working out, given at once.

A style knows what rules give it, and works every other value out when it is asked for: through some twenty questions, most of
them for a value that is that of the parent, or the one to begin with. There are two hundred thousand such values on a dozen pages.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

WORKED_OUT = ("display", "float", "page", "position")
"""Properties whose value is worked out even where no rule gives one."""


@contextmanager
def plain_values_at_once() -> Iterator[None]:
    """Have styles of the layout library take the value to begin with, or that of the parent, where no rule gives one."""
    from weasyprint.css import ComputedStyle

    usual = ComputedStyle.__missing__
    initial, inherited = _plain_properties()

    def plainly(self: Any, key: str) -> Any:
        if key in self.cascaded:
            return usual(self, key)
        if key in initial:
            value, logical = initial[key]
            for other in logical:
                if other in self.cascaded:
                    return usual(self, key)
            self[key] = value
            return value
        if key in inherited and self.parent_style is not None:
            value = self[key] = self.parent_style[key]
            return value
        return usual(self, key)

    ComputedStyle.__missing__ = plainly
    try:
        yield
    finally:
        ComputedStyle.__missing__ = usual


@cache
def _plain_properties() -> tuple[dict[str, tuple[Any, tuple[str, ...]]], frozenset[str]]:
    """Return the properties that have a value to begin with, each with what else may set it, and those of the parent.

    What else may set a property is the same one named by the direction of writing (CSS Logical Properties and Values Level 1).
    """
    from weasyprint.css.computed_values import PHYSICAL_FUNCTIONS
    from weasyprint.css.properties import INHERITED, INITIAL_NOT_COMPUTED, INITIAL_VALUES

    plain = {
        name
        for name in INITIAL_VALUES
        if name not in INITIAL_NOT_COMPUTED and name not in WORKED_OUT and not name.startswith("text_decoration_")
    }
    logical = {
        name: tuple({named(block="ttb", inline=direction) for direction in ("ltr", "rtl")})
        for name, named in PHYSICAL_FUNCTIONS.items()
    }
    return (
        {name: (INITIAL_VALUES[name], logical.get(name, ())) for name in plain - INHERITED},
        frozenset(plain & INHERITED - set(logical)),
    )
