"""Results as plain data for JSON.

A class says which of its attributes a document shows, and under which names (`shows`, `document`). What they are is said
once, in the class: types and limits in its annotations, meaning and units in the section Attributes of its docstring. The
schemas are made from these (`make schemas`).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from math import isfinite
from operator import attrgetter
from typing import Annotated, Any, Literal, TypeAlias, TypeVar

from impact.base.figurenames import LABELS

Kind = TypeVar("Kind", bound=type)
Source: TypeAlias = str | Callable[[Any], Any]

SHOWN = "__shown__"
DOCUMENT = "__document__"


class NotFiniteError(ArithmeticError):
    """Raised for a figure that is no finite number, before it reaches an output; the text is one line that names it."""

    def __init__(self, figure: str) -> None:
        self.figure = figure
        super().__init__(
            f"the figure {figure or 'asked for'} is no finite number: an amount of the records or a factor is far from all "
            "others; look for one that is much too small or too large"
        )


class Limits:
    """What a value in an annotation is held to beside its type, in the words of JSON Schema."""

    def __init__(self, **keywords: Any) -> None:
        self.keywords = keywords


def keyed(*names: str) -> Limits:
    """Return the limits of a mapping that has just these keys."""
    return Limits(propertyNames={"enum": list(names)}, required=list(names))


def one_of(*words: str) -> Limits:
    """Return the limits of a text that is one of some words."""
    return Limits(enum=list(words))


Share: TypeAlias = Annotated[float, Limits(minimum=0, maximum=1)]
Positive: TypeAlias = Annotated[float, Limits(minimum=0)]
Count: TypeAlias = Annotated[int, Limits(minimum=0)]
Draws: TypeAlias = Annotated[int, Limits(minimum=1)]


@dataclasses.dataclass(frozen=True, slots=True)
class Member:
    """One member of a JSON object.

    Attributes
    ----------
    name : str
        Its name; blank for an object whose own members stand in its place.
    source : str or callable
        Attribute of the object, with dots one of an attribute; blank for the object itself; or a function of the object.
    members : tuple of Member or None
        What is shown of the value, or of each value of a list or mapping; None for what its class shows.
    kind : {"always", "or null", "if given"}
        Whether blank text is null, or a member without a value is left out.
    """

    name: str
    source: Source
    members: tuple[Member, ...] | None = None
    kind: Literal["always", "or null", "if given"] = "always"

    def of(self, value: object, *, words: bool = True) -> Any:
        """Return the member of an object as plain data; without `words`, blank for a text that is made when it is asked for."""
        if not words and isinstance(self.source, str) and self.name not in LABELS and _is_made(value, self.source):
            return ""
        found = (
            self.source(value) if callable(self.source) else attrgetter(self.source)(value) if self.source else value
        )
        if self.kind == "or null":
            found = found or None
        return None if found is None else _within(self.name, found, self.members, words=words)


def _is_made(value: object, source: str) -> bool:
    """Return whether an attribute is a property that gives a text."""
    found = getattr(type(value), source, None)
    return isinstance(found, property) and found.fget is not None and found.fget.__annotations__.get("return") == "str"


def _within(name: object, value: Any, members: tuple[Member, ...] | None, *, words: bool) -> Any:
    """Return a value as `plain` does; a figure that is not finite gets the name before its own."""
    try:
        return plain(value, members, words=words)
    except NotFiniteError as error:
        raise NotFiniteError(".".join(filter(None, (str(name), error.figure)))) from None


def _members(named: Sequence[str | Member]) -> tuple[Member, ...]:
    return tuple(Member(one, one) if isinstance(one, str) else one for one in named)


def named(name: str, source: Source, *members: str | Member, blank: bool = False) -> Member:
    """Return a member under another name than that of its attribute.

    Parameters
    ----------
    name, source : str
        As of `Member`.
    *members : str or Member
        As of `only`; by default what its class shows.
    blank : bool
        Whether it is a text that is null where it is blank.
    """
    return Member(name, source, _members(members) or None, "or null" if blank else "always")


def only(name: str, *members: str | Member) -> Member:
    """Return a member of whose value, or of each of whose values, only some members are shown."""
    return Member(name, name, _members(members))


def group(name: str, *members: str | Member) -> Member:
    """Return a member that holds some of the object's own."""
    return Member(name, "", _members(members))


def inlined(source: Source) -> Member:
    """Return an object whose members stand among those of the object that has it."""
    return Member("", source)


def or_null(name: str) -> Member:
    """Return a text that is null where it is blank."""
    return named(name, name, blank=True)


def if_given(name: str) -> Member:
    """Return a member that is left out where it is None."""
    return Member(name, name, kind="if given")


def shows(*members: str | Member) -> Callable[[Kind], Kind]:
    """Return a decorator that says what documents show of a class, in their order; by default all fields of a dataclass."""

    def marked(kind: Kind) -> Kind:
        setattr(kind, SHOWN, _members(members or [field.name for field in dataclasses.fields(kind)]))
        return kind

    return marked


def document(schema: str, title: str, description: str, *members: str | Member) -> Callable[[Kind], Kind]:
    """Return a decorator for the class of a whole document.

    Parameters
    ----------
    schema : str
        Name and version of its schema, which is the document's first member.
    title, description : str
        Of the schema.
    *members : str or Member
        As of `shows`.
    """

    def marked(kind: Kind) -> Kind:
        setattr(kind, DOCUMENT, (schema, title, description))
        return shows(*members)(kind)

    return marked


def members_of(kind: type) -> tuple[Member, ...]:
    """Return what documents show of a class."""
    found: tuple[Member, ...] = getattr(kind, SHOWN)
    return found


def plain(value: Any, members: tuple[Member, ...] | None = None, *, words: bool = True) -> Any:
    """Return a value as JSON has it: objects and mappings as dict, sequences as list, days as text.

    Parameters
    ----------
    value : object
        An object whose class `shows` something, or what is made of such; anything else is given back as it is.
    members : tuple of Member, optional
        What is shown of the object, or of each object in a sequence or mapping; by default what its class shows.
    words : bool
        Whether texts that are made when they are asked for are made; for figures alone they take too long.

    Raises
    ------
    NotFiniteError
        A number in it is not finite.
    """
    if isinstance(value, float):
        if not isfinite(value):
            raise NotFiniteError("")
        return value
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {str(key): _within(key, inner, members, words=words) for key, inner in value.items()}
    if isinstance(value, (list, tuple)) and not hasattr(value, SHOWN):
        return [_within(place, inner, members, words=words) for place, inner in enumerate(value, 1)]
    if members is None and not hasattr(value, SHOWN):
        return value
    found: dict[str, Any] = {}
    if members is None and hasattr(value, DOCUMENT):
        found["schema"] = getattr(value, DOCUMENT)[0]
    for member in members_of(type(value)) if members is None else members:
        inner = member.of(value, words=words)
        if not member.name:
            found |= inner
        elif inner is not None or member.kind != "if given":
            found[member.name] = inner
    return found
