"""Binders of the workshop's own: which tables of ``[binders]`` name one, and the ids that a folder may write with them.

A binder is the workshop's own where the tables lack its id and its table says what it is, or which binder it is like. The
names are read from the file as it stands, so that they hold while something else in it is at fault.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from impact.base.catalogue import Names, tag
from impact.base.spellings import UnitError, fold
from impact.base.units import parse_share
from impact.records.files import content_of

KINDS = {"natural": "natural", "modified natural": "modified", "synthetic": "synthetic", "mineral": "mineral"}
"""What a binder is, as ``workshop.toml`` has it, and the flag ``kind`` of the catalogue."""

NAME = re.compile("[A-Za-z0-9-]+")
"""What the id of a binder may be made of, so that keys of factors can hold it."""


PROTEIN = 0.01
"""Nitrogen of the dry binder from which it goes mouldy sooner than starch, our choice: flour has it, starch not. [kg/kg]"""


def _own(content: Mapping[str, Any], names: Names) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Yield the id and the table of each binder of the workshop's own."""
    # not of a grade or a green either, whose rows for the compost heap have the same keys
    known = {fold(one) for ids in (names.binders, names.grades, names.excluded_grades, names.greens) for one in ids}
    tables = content.get("binders")
    for name, table in tables.items() if isinstance(tables, dict) else ():
        named = isinstance(table, dict) and (table.get("like") or table.get("what"))
        if named and fold(name) not in known and NAME.fullmatch(name):
            yield name, table


def _tags(table: Mapping[str, Any], names: Names) -> str:
    """Return the flags of a binder: those of the one that it is like, with what is said of itself."""
    like = {fold(binder): binder for binder in names.binders}.get(fold(str(table.get("like", ""))), "")
    tags = dict(pair.strip().partition("=")[::2] for pair in names.binder_tags.get(like, "").split(";") if pair.strip())
    kind = KINDS.get(str(table.get("what")), tag(names.binder_tags.get(like, ""), "kind"))
    if kind != tags.get("kind"):
        tags.pop("polymer", None)
    tags["kind"] = kind
    if not like or "preparation" in table:
        stated = table.get("preparation")
        hot = kind == "natural" if stated is None else re.search("[1-9]", str(stated)) is not None
        tags["cooked"] = "yes" if hot else "no"
    if _share(table.get("nitrogen")) >= PROTEIN:
        tags["mould"] = "sooner"
    if table.get("allergens"):
        tags["allergen"] = re.sub("[;=]", ",", str(table["allergens"]))
    return ";".join(f"{key}={value}" for key, value in tags.items())


def _share(stated: object) -> float:
    """Return a share as it stands in the file; 0 where there is none, or none that can be read. [-]"""
    try:
        return parse_share(stated) if isinstance(stated, str | int | float) else 0.0
    except UnitError:
        return 0.0


def with_own_binders(names: Names, content: Mapping[str, Any]) -> Names:
    """Return the ids with those of the workshop's own binders; `content` is that of ``workshop.toml`` as it stands."""
    own = dict(_own(content, names))
    if not own:
        return names
    labels = {name: str(table.get("name") or name.replace("-", " ")).strip() for name, table in own.items()}
    rest = {binder: label for binder, label in names.binders.items() if binder == "none"}
    shipped = {binder: label for binder, label in names.binders.items() if binder not in rest}
    tags = {name: _tags(table, names) for name, table in own.items()}
    return replace(
        names,
        binders={**shipped, **labels, **rest},
        binder_tags={**names.binder_tags, **tags},
        own=frozenset(("binder", name) for name in own),
    )


def names_of(folder: Path, names: Names) -> Names:
    """Return the ids that the files of a workshop folder may name."""
    return with_own_binders(names, content_of(folder))
