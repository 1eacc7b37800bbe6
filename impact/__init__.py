"""Landfill diversion, footprint and compostability of parts moulded from waste paper.

`load` opens a workshop folder; `assess` turns a workshop, its batches and a factor set into one results
object, from which every figure of every output comes.

The modules that stand here, and in no room, are the door:

- `api`: a workshop folder opened for work, and every problem found in it.
- `beside`: the main figures of a period beside those of another, and what of the draws the two share.
- `programme`: several workshops under one roof, and their sum.
- `study`: results with what others make of them: findings, claims, own values, and the document of the totals.

What holds here: a programme has no settings of its own. Its workshops are run with one seed and summed draw by draw:
shipped factors are shared by id; grids of two countries have two ids and so two streams. What a workshop has nothing of
(period, part, grant) leaves it out with a warning; different warming potentials, landfill sets or horizons are a
warning. Other commands ask for one workshop.
"""

from __future__ import annotations

__version__ = "0.6.0"

TYPE_CHECKING = False  # as type checkers read it; importing `typing` for it would keep Ctrl-C unguarded for longer
if TYPE_CHECKING:
    from typing import Any

    from impact.api import Folder as Folder
    from impact.api import load as load
    from impact.factors.factorset import read_factors as read_factors
    from impact.study import assess as assess

__all__ = ["Folder", "__version__", "assess", "load", "read_factors"]

_HOMES = {
    "Folder": "impact.api",
    "assess": "impact.study",
    "load": "impact.api",
    "read_factors": "impact.factors.factorset",
}


def __getattr__(name: str) -> Any:
    """Import a public name where it is first used, so that the command line starts at once."""
    import importlib

    if name in _HOMES:
        return getattr(importlib.import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'impact' has no attribute {name!r}")
