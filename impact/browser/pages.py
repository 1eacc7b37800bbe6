"""What a page is, and the one list of all pages."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from flask import Blueprint

MODULES: tuple[str, ...] = (
    "bench",
    "batches",
    "takeover",
    "figures",
    "whatif",
    "reports",
    "setup.tables",
    "setup.questions",
)
"""Modules of this room that are pages, in the order in which they are offered; each has a `PAGE`."""

SMALL = 1_000_000
"""Most that a form without a file may hold. [bytes]"""


@dataclass(frozen=True)
class Page:
    """One page of the workshop.

    Attributes
    ----------
    name : str
        Its name, as it is offered; empty for one that is not offered.
    path : str
        Where it stands, such as ``/bench``; all its routes begin so.
    blueprint : Blueprint
        Its routes, without the path.
    guests : bool
        Whether guests may see it. They can never send anything.
    first : bool
        Whether it is for a folder that holds no workshop yet; the others lead there as long as there is none.
    limit : int
        Most that may be sent to it at once. [bytes]
    """

    name: str
    path: str
    blueprint: Blueprint
    guests: bool = False
    first: bool = False
    limit: int = SMALL


def pages() -> Iterator[Page]:
    """Yield all pages in the order of the list."""
    for module in MODULES:
        yield import_module(f"impact.browser.{module}").PAGE
