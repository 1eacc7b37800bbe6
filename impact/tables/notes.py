"""Notes of a type that say what a value of it may be, and the schema by which a library validates it.

A type with notes is ``Annotated[type, note, ...]``, each note around the ones before. The library has notes of its own in a
layer above the one that is used here, whose import takes as long as reading a small folder.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic_core import CoreSchema, core_schema


@dataclass(frozen=True, slots=True)
class After:
    """What a value goes through once it is of its type; it may be changed, or refused."""

    check: Callable[[Any], Any]

    def around(self, schema: CoreSchema) -> CoreSchema:
        """Return what validates with this note."""
        return core_schema.no_info_after_validator_function(self.check, schema)


@dataclass(frozen=True, slots=True)
class Before:
    """What a value goes through before its type is looked at."""

    check: Callable[[Any], Any]

    def around(self, schema: CoreSchema) -> CoreSchema:
        """Return what validates with this note."""
        return core_schema.no_info_before_validator_function(self.check, schema)


@dataclass(frozen=True, slots=True)
class Instead:
    """What reads a value, in place of its type."""

    read: Callable[[Any], Any]

    def around(self, _schema: CoreSchema) -> CoreSchema:
        """Return what validates with this note."""
        return core_schema.no_info_plain_validator_function(self.read)


PLAIN: Mapping[Any, CoreSchema] = {
    str: core_schema.str_schema(),
    bool: core_schema.bool_schema(strict=True),
    float: core_schema.float_schema(),
    Any: core_schema.any_schema(),
}


def schema_of(hint: Any) -> CoreSchema:
    """Return what validates a value of a type: one of `PLAIN`, made of such, or with a class method ``schema`` of its own.

    Raises
    ------
    TypeError
        When a type is none of these.
    """
    origin, inner = get_origin(hint), get_args(hint)
    if origin is Annotated:
        return _noted(*inner)
    if origin is Literal:
        return core_schema.literal_schema(list(inner))
    if origin in (Union, UnionType):
        first, *others = [schema_of(one) for one in inner if one is not NoneType]
        one = core_schema.union_schema([first, *others]) if others else first
        return core_schema.nullable_schema(one) if NoneType in inner else one
    if origin is tuple and inner[1:] == (...,):
        return core_schema.tuple_schema([schema_of(inner[0])], variadic_item_index=0)
    if origin is not None and issubclass(origin, Mapping):
        return core_schema.dict_schema(*map(schema_of, inner))
    if hint in PLAIN:
        return PLAIN[hint]
    if hasattr(hint, "schema"):
        made: CoreSchema = hint.schema()
        return made
    raise TypeError(
        f"{hint!r} is no type of a setting; accepted: text, number, yes or no, choice, tables, or a class with a schema"
    )


def _noted(hint: Any, *notes: Any) -> CoreSchema:
    """Return what validates a type with notes; what is no note to validate by is left to others."""
    around = [note for note in notes if hasattr(note, "around")]
    last = max((place for place, note in enumerate(around) if isinstance(note, Instead)), default=None)
    schema = core_schema.any_schema() if last is not None else schema_of(hint)
    for note in around[last or 0 :]:
        schema = note.around(schema)
    return schema
