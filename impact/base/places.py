"""Where the package finds the files that ship with it."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parents[1]


def _shipped(name: str) -> Path:
    inside = _PACKAGE / "_data" / name
    return inside if inside.is_dir() else _PACKAGE.parent / name


def factors_folder() -> Path:
    """Return the folder of the factor tables: inside an installed package, else at the top of the checkout."""
    return _shipped("factors")


def templates_folder() -> Path:
    """Return the folder of the report templates: inside an installed package, else at the top of the checkout."""
    return _shipped("report_templates")


def schemas_folder() -> Path:
    """Return the folder of the JSON Schemas, inside the package."""
    return _PACKAGE / "schemas"


def helptexts_folder() -> Path:
    """Return the folder of the texts of `impact help`, inside the package."""
    return _PACKAGE / "helptexts"
