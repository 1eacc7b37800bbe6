"""The JSON schemas that ship with the package, and documents held to them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator

import impact

SCHEMAS = Path(impact.__file__).parent / "schemas"


def schema(name: str) -> dict[str, Any]:
    """Return a schema by what stands before the first dot of its file."""
    found: dict[str, Any] = json.loads((SCHEMAS / f"{name}.schema.json").read_text(encoding="utf-8"))
    return found


def validate(name: str, document: object) -> None:
    """Hold a document to a schema, and the schema to the rules for schemas."""
    Draft202012Validator.check_schema(schema(name))
    Draft202012Validator(schema(name)).validate(document)
