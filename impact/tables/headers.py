"""The headers of a table: which column each stands for, and what is accepted in place of one that is not known."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence

from impact.base.problems import choices
from impact.base.spellings import fold, is_unit

Meant = Callable[[str, Iterable[str]], Sequence[str]]
"""Gives the names among those known that another word stands for."""

HEADERS = 3
"""Columns of which hardly any has a known name, so that the row of names is likely missing. A choice of ours."""

HARDLY = 0.2
"""Share of known names up to which they may be there by chance. A choice of ours."""


def named(header: str, names: Mapping[str, str], meant: Meant | None) -> Sequence[str]:
    """Return the known names that a header stands for; `names` are by how they are compared."""
    if fold(header) in names:
        return (names[fold(header)],)
    return tuple(meant(header, names.values())) if meant is not None else ()


def hint(header: str, names: Mapping[str, str], refused: Iterable[str]) -> str:
    """Return what is accepted in place of an unknown header; where a unit stands behind a name, with its brackets."""
    name, _, unit = re.sub(r"[,_(]", " ", header).rstrip(" )").rpartition(" ")
    known = names.get(fold(name))
    if known is not None and is_unit(unit):
        return f"{known} [{unit.strip()}]; a unit stands in brackets"
    return choices(header, [one for one in names.values() if one not in refused])
