"""Types with notes: what they accept, and what they refuse with the place.

Checked against, from outside: the layer above the library, which reads the same notes written as its own (`pydantic.TypeAdapter`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

import pytest
from pydantic import AfterValidator, BeforeValidator, PlainValidator, Strict, TypeAdapter, ValidationError
from pydantic_core import SchemaValidator

from impact.tables.notes import After, Before, Instead, schema_of


def short(text: str) -> str:
    if len(text) > 3:
        raise ValueError("too long")
    return text.upper()


def number(value: object) -> float:
    return float(str(value).removesuffix(" kg"))


def not_empty(value: Any) -> Any:
    if value == {}:
        raise ValueError("empty")
    return value


OURS: dict[str, tuple[Any, Any]] = {
    "text": (str, str),
    "yes or no": (bool, Annotated[bool, Strict()]),
    "choice": (Literal["a", "b"], Literal["a", "b"]),
    "or none": (Literal["a"] | None, Literal["a"] | None),
    "short": (Annotated[str, After(lambda text: text.strip()), After(short)], Annotated[str, AfterValidator(lambda text: text.strip()), AfterValidator(short)]),
    "instead": (Annotated[float, Instead(number)] | None, Annotated[float, PlainValidator(number)] | None),
    "instead, after": (
        Annotated[float, After(short), Instead(number), After(abs), "no note"],
        Annotated[float, AfterValidator(short), PlainValidator(number), AfterValidator(abs), "no note"],
    ),
    "tables": (
        Annotated[Mapping[Annotated[str, After(short)], float], Before(not_empty)],
        Annotated[Mapping[Annotated[str, AfterValidator(short)], float], BeforeValidator(not_empty)],
    ),
    "list": (tuple[Annotated[str, After(short)], ...], tuple[Annotated[str, AfterValidator(short)], ...]),
    "one of two": (bool | Literal["a"], Annotated[bool, Strict()] | Literal["a"]),
}  # fmt: skip
VALUES: tuple[Any, ...] = (
    None, True, 1, 0.5, "a", " b ", "long text", "3 kg", {}, {"a": 1.5}, {"abcd": "x"}, {"a": None}, [], ["a", "b"], ["long one", 3], b"a",
)  # fmt: skip


def outcome(validate: Any, value: Any) -> Any:
    try:
        return validate(value)
    except ValidationError as error:
        return [(one["loc"], one["type"], one["msg"]) for one in error.errors()]
    except (TypeError, ValueError) as error:
        return type(error)


@pytest.mark.parametrize("name", OURS)
def test_type_with_notes_accepts_and_refuses_what_the_library_does(name: str) -> None:
    ours, theirs = OURS[name]
    mine, other = SchemaValidator(schema_of(ours)), TypeAdapter(theirs)
    found = [outcome(mine.validate_python, value) for value in VALUES]
    assert found == [outcome(other.validate_python, value) for value in VALUES]
    assert any(isinstance(one, list) for one in found)


def test_type_that_has_no_schema_is_an_error_of_ours() -> None:
    with pytest.raises(TypeError, match="is no type of a setting; accepted"):
        schema_of(complex)
