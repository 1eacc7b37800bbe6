"""Names for the figures of a result: every number of the JSON contract by its path."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import Any

LABELS = ("part", "grade", "green", "batch", "lever", "variable", "input", "factor", "code", "hazard", "site", "id")
"""Keys that name an entry of a list, the first that it has."""

LONGER_LABELS = {
    "compostability": ("part", "binder", "composting"),
    "blends": ("part", "binder"),
    "register": ("batch",),
    "register_by_month": ("part", "month"),
    "binders": ("binder",),
    "pairs": ("a", "b"),
    "reject_tests": ("a", "b"),
}
"""Lists whose entries need several keys to be told apart."""

BY_PLACE = ("warnings", "supported")
"""Lists whose entries may share all of these keys, so that their place names them."""


def _keys(owner: str, known: Collection[str]) -> tuple[str, ...]:
    """Return the keys, of those known, that name an entry of a list; none where its place does."""
    if owner in BY_PLACE:
        return ()
    listed = [LONGER_LABELS[owner]] if owner in LONGER_LABELS else [(key,) for key in LABELS]
    return next((keys for keys in listed if all(key in known for key in keys)), ())


def _label(owner: str, entry: Mapping[str, Any], place: int) -> str:
    """Return the name of an entry of a list: by its keys, else its place from 1."""
    return ".".join(str(entry[key]) for key in _keys(owner, entry)) or str(place)


def _walk(value: Any, path: str, owner: str, kinds: tuple[type, ...]) -> Iterator[tuple[str, Any]]:
    if isinstance(value, bool):
        return
    if value is None:
        yield path, None
    elif isinstance(value, kinds):
        yield path, value
    elif isinstance(value, Mapping):
        for key, inner in value.items():
            yield from _walk(inner, f"{path}.{key}" if path else str(key), str(key), kinds)
    elif isinstance(value, (list, tuple)):
        for place, inner in enumerate(value, 1):
            label = _label(owner, inner, place) if isinstance(inner, Mapping) else str(place)
            yield from _walk(inner, f"{path}.{label}", owner, kinds)


def leaves(document: Mapping[str, Any], *kinds: type) -> dict[str, Any]:
    """Return every number of a JSON document of ours by its name, and None under the name of what cannot be given.

    Parameters
    ----------
    document : mapping
        For instance `Results.as_totals()`.
    *kinds : type
        What counts as a number; by default int and float, given back as float.

    Returns
    -------
    dict of str to float, or to one of `kinds`, or to None
        Names are paths with dots; an entry of a list goes by the keys that name it, so that
        ``parts.tray.footprint_kgco2e.value`` is the central footprint of the part called tray.
    """
    found: dict[str, Any] = {}
    for name, value in _walk(document, "", "", kinds or (int, float)):
        if name in found:
            raise ValueError(f"two figures are called {name}")
        found[name] = value if kinds or value is None else float(value)
    return found


def figures(document: Mapping[str, Any]) -> dict[str, float]:
    """Return every number of a JSON document of ours by its name; see `leaves`."""
    return {name: value for name, value in leaves(document).items() if value is not None}


ENDS = {"value", "low", "high"}
"""What an interval holds."""


def patterns(schema: Mapping[str, Any]) -> dict[str, str]:
    """Return the names of the figures that a JSON document may hold, each with what its schema says of it.

    Parameters
    ----------
    schema : mapping
        A JSON Schema of ours, as of ``impact/schemas``.

    Returns
    -------
    dict of str to str
        Words in capitals stand for the keys that name an entry, NUMBER for its place, NAME for any key; * marks an interval.
    """
    return dict(_patterns(schema, schema, "", "", ""))


def _patterns(
    whole: Mapping[str, Any], part: Mapping[str, Any], path: str, owner: str, said: str
) -> Iterator[tuple[str, str]]:
    if "$ref" in part:
        part = {**whole["$defs"][part["$ref"].rpartition("/")[2]], "description": said, **part}
    said, inner, types = part.get("description", said), part.get("properties", {}), part.get("type", ())
    for choice in (*part.get("oneOf", ()), *part.get("anyOf", ())):
        yield from _patterns(whole, choice, path, owner, said)
    if inner.keys() >= ENDS:
        yield f"{path}*", said
    elif {"number", "integer"} & set([types] if isinstance(types, str) else types):
        yield path, said
    else:
        for key, value in inner.items():
            yield from _patterns(whole, value, f"{path}.{key}".lstrip("."), key, "")
    if isinstance(further := part.get("additionalProperties"), Mapping):
        yield from _patterns(whole, further, f"{path}.NAME", "", said)
    if "items" in part:
        of = part["items"]
        entry = whole["$defs"][of["$ref"].rpartition("/")[2]] if "$ref" in of else of
        name = ".".join(_keys(owner, entry.get("properties", {}))).upper() or "NUMBER"
        yield from _patterns(whole, entry, f"{path}.{name}", "", "")
