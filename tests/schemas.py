"""The JSON schemas that ship with the package, made from its types, and documents held to them.

python -m tests.schemas     # writes them anew
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator

import impact
from impact.base.problems import Check
from impact.decisions.binders import BinderComparison
from impact.decisions.forecast import Forecast
from impact.decisions.sensitivity import Sensitivity
from impact.factors.views import Card, Rows
from impact.programme import ProgrammeResults
from impact.report.verification import Verification
from impact.study import Study
from impact.trace.explanation import Explanation
from tests.jsonschemas import schema_of

SCHEMAS = Path(impact.__file__).parent / "schemas"
DOCUMENTS = (
    BinderComparison, Card, Check, Sensitivity, Explanation, Forecast, ProgrammeResults, Rows, Study, Verification,
)  # fmt: skip


def made() -> dict[str, str]:
    """Return every schema as text, by the name of its file."""
    found = [schema_of(kind) for kind in DOCUMENTS]
    return {f"{one['$id'].removeprefix('impact-').removesuffix('/1')}.schema.json": _printed(one) for one in found}


def _printed(value: dict[str, Any]) -> str:
    """Return a schema as text, lists of words on one line."""
    text = json.dumps(value, indent=1, ensure_ascii=False)
    return re.sub(r"\[[^][{}]*]", lambda words: re.sub(r"\s*\n\s*", " ", words[0]), text) + "\n"


def schema(name: str) -> dict[str, Any]:
    """Return a schema by what stands before the first dot of its file."""
    found: dict[str, Any] = json.loads((SCHEMAS / f"{name}.schema.json").read_text(encoding="utf-8"))
    return found


def validate(name: str, document: object) -> None:
    """Hold a document to a schema, and the schema to the rules for schemas."""
    Draft202012Validator.check_schema(schema(name))
    Draft202012Validator(schema(name)).validate(document)


if __name__ == "__main__":
    for name, text in made().items():
        (SCHEMAS / name).write_text(text, encoding="utf-8")
