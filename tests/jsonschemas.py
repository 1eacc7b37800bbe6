"""The JSON Schema of a document from the types of its class: what `impact.base.serial` gives fits it."""

from __future__ import annotations

import ast
import inspect
import re
import sys
import types
import typing
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from functools import cache
from typing import Annotated, Any, Literal

from impact.base.serial import DOCUMENT, Limits, Member, Source, members_of
from impact.records.workshop_keys import Key

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schema_of(kind: type) -> dict[str, Any]:
    """Return the JSON Schema of the class of a document.

    Raises
    ------
    TypeError
        When a member has a type that is no part of JSON.
    """
    name, title, description = getattr(kind, DOCUMENT)
    made = _Schemas()
    whole = made.object(kind, members_of(kind), {"schema": {"const": name}})
    head = {"$schema": DIALECT, "$id": name, "title": title, "description": description}
    return {**head, "$defs": dict(sorted(made.shared.items())), **whole} if made.shared else {**head, **whole}


class _Schemas:
    """Schemas of types; those of whole classes are shared under their names."""

    def __init__(self) -> None:
        self.shared: dict[str, dict[str, Any]] = {}

    def object(self, kind: type, members: Sequence[Member], first: Mapping[str, Any] | None = None) -> dict[str, Any]:
        """Return the schema of an object that shows some members."""
        properties, left_out = dict(first or {}), set()
        for member in members:
            annotation, space, meaning = _source(kind, member.source)
            if member.kind == "or null":
                annotation = annotation | None
            if member.kind == "if given":
                left_out.add(member.name)
                annotation = next(one for one in typing.get_args(annotation) if one is not type(None))
            if not member.name:
                properties |= self.object(annotation, members_of(annotation))["properties"]
                continue
            found = self.of(annotation, space, member.members)
            if meaning and member.source:
                found = {**found, "description": meaning}
            properties[member.name] = found
        required = [name for name in properties if name not in left_out]
        return {"type": "object", "properties": properties, "required": required, "additionalProperties": False}

    def of(self, annotation: Any, space: Mapping[str, Any], members: tuple[Member, ...] | None) -> dict[str, Any]:
        """Return the schema of an annotation."""
        if isinstance(annotation, (str, typing.ForwardRef)):
            return self.of(_evaluated(annotation, space), space, members)
        origin, inner = typing.get_origin(annotation), typing.get_args(annotation)
        if origin is Annotated:
            found = self.of(inner[0], space, members)
            for mark in annotation.__metadata__:
                if isinstance(mark, Limits):
                    found = {**found, **mark.keywords}
                elif isinstance(mark, Key):
                    found = {**found, "description": f"{mark.meaning[:1].upper()}{mark.meaning[1:]}."}
            return found
        if origin in (typing.Union, types.UnionType):
            return _either([self.of(one, space, members) for one in inner])
        if origin is Literal:
            return {"const": inner[0]} if len(inner) == 1 else {"enum": list(inner)}
        if isinstance(origin, type) and issubclass(origin, Mapping):
            return {"type": "object", "additionalProperties": self.of(inner[1], space, members)}
        if isinstance(origin, type) and issubclass(origin, Sequence):
            return {"type": "array", "items": self.of(inner[0], space, members)}
        if annotation in _PLAIN:
            return dict(_PLAIN[annotation])
        if not isinstance(annotation, type) or annotation.__module__ == "builtins":
            raise TypeError(f"{annotation!r} is no part of JSON")
        if members is not None:
            return self.object(annotation, members)
        name = re.sub(r"(?<=[a-z])(?=[A-Z])", "_", annotation.__name__).lower()
        if name not in self.shared:
            self.shared[name] = {}
            meaning = _paragraph(annotation)
            self.shared[name] = {**self.object(annotation, members_of(annotation)), "description": meaning}
        return {"$ref": f"#/$defs/{name}"}


_PLAIN: Mapping[Any, dict[str, Any]] = {
    str: {"type": "string"},
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    float: {"type": "number"},
    date: {"type": "string", "format": "date"},
    None: {"type": "null"},
    type(None): {"type": "null"},
}


def _either(schemas: list[dict[str, Any]]) -> dict[str, Any]:
    """Return the schema of one of several; that of a plain type and null in short."""
    if len(schemas) == 2 and schemas[1] == {"type": "null"}:
        first = schemas[0]
        if isinstance(first.get("type"), str):
            return {**first, "type": [first["type"], "null"]}
        if "enum" in first:
            return {"enum": [*first["enum"], None]}
    return {"anyOf": schemas}


@cache
def _names(module: str) -> dict[str, Any]:
    """Return the names of a module, with those that it imports for its annotations alone."""
    loaded = sys.modules[module]
    found = dict(vars(loaded))
    for block in ast.parse(inspect.getsource(loaded)).body:
        if isinstance(block, ast.If) and ast.unparse(block.test) == "TYPE_CHECKING":
            exec(compile(ast.Module(block.body, []), module, "exec"), found)
    return found


def _evaluated(annotation: Any, space: Mapping[str, Any]) -> Any:
    text = annotation.__forward_arg__ if isinstance(annotation, typing.ForwardRef) else annotation
    return eval(text, dict(space))


def _source(kind: type, source: Source) -> tuple[Any, Mapping[str, Any], str]:
    """Return type, names in which it is written, and meaning of what a member is taken from."""
    if callable(source):
        space = _names(source.__module__)
        return _evaluated(source.__annotations__["return"], space), space, _paragraph(source)
    if not source:
        return kind, {}, ""
    first, _, rest = source.partition(".")
    for owner in kind.__mro__:
        space = _names(owner.__module__)
        found = vars(owner).get(first)
        getter = getattr(found, "fget", None) or getattr(found, "func", None)
        if getter is not None:
            annotation, meaning = getter.__annotations__["return"], _paragraph(getter)
        elif first in (written := inspect.get_annotations(owner)):
            annotation, meaning = written[first], dict(_attributes(owner)).get(first, "")
        else:
            continue
        evaluated = _evaluated(annotation, space) if isinstance(annotation, str) else annotation
        return _source(evaluated, rest) if rest else (evaluated, space, meaning)
    raise TypeError(f"{kind.__name__} has no attribute {first} with a type")


def _paragraph(thing: object) -> str:
    """Return the first paragraph of a docstring in one line, without the word that it begins with in functions."""
    text = _worded((inspect.getdoc(thing) or "").partition("\n\n")[0]).removeprefix("Return ")
    return text[:1].upper() + text[1:]


def _attributes(kind: type) -> Iterator[tuple[str, str]]:
    """Yield name and meaning of each attribute that the docstring of a class tells of."""
    section = (inspect.getdoc(kind) or "").partition("Attributes\n----------\n")[2].partition("\n\n")[0]
    for entry in re.split(r"\n(?=\S)", section):
        head, _, body = entry.partition("\n")
        for name in head.partition(" : ")[0].split(", "):
            yield name, _worded(body)


def _worded(text: str) -> str:
    """Return a text in one line, in the words of JSON."""
    return re.sub(r"\bNone\b", "null", " ".join(text.split()))
