from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
HEAVY = {"matplotlib", "numpy", "openpyxl", "pandas", "pint", "pyarrow", "pydantic", "rich", "scipy", "weasyprint"}
CORE_MAY_IMPORT = {"__future__", "collections", "dataclasses", "functools", "inspect", "math", "numpy", "typing"}
CORE_FILES = sorted((ROOT / "impact" / "core").rglob("*.py"))


def imported_names(tree: ast.AST, package: str) -> set[str]:
    """Return the full names of all modules that a file of `package` imports, wherever in the file."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            module = ".".join([*above, *([node.module] if node.module else [])])
            # `from impact import units` brings in impact.units, so the names count as modules of their package.
            names.update(f"{module}.{alias.name}" if module == "impact" else module for alias in node.names)
    return names


def outside_core(names: set[str]) -> set[str]:
    """Return the names that core may not import."""
    return {
        name
        for name in names
        if name != "impact.core" and not name.startswith("impact.core.") and name.split(".")[0] not in CORE_MAY_IMPORT
    }


def package_of(path: Path) -> str:
    return ".".join(path.parent.relative_to(ROOT).parts)


def test_cli_import_loads_no_heavy_library() -> None:
    code = "import sys, impact.cli; print(*sorted({name.split('.')[0] for name in sys.modules}))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert "click" in loaded
    assert loaded & HEAVY == set()


@pytest.mark.parametrize(
    ("source", "outside"),
    [
        ("import numpy as np\nfrom numpy.typing import NDArray", set()),
        ("from collections.abc import Sequence\nfrom impact.core.moisture import dry_mass", set()),
        ("from . import moisture\nfrom .moisture import dry_mass", set()),
        ("def f():\n    import pandas", {"pandas"}),
        ("from scipy.stats import norm", {"scipy.stats"}),
        ("from impact import units", {"impact.units"}),
        ("from .. import units", {"impact.units"}),
        ("from ..units import parse", {"impact.units"}),
        ("import impact.corelike", {"impact.corelike"}),
    ],
)
def test_outside_core_examples_are_told_apart(source: str, outside: set[str]) -> None:
    assert outside_core(imported_names(ast.parse(source), "impact.core")) == outside


def test_core_imports_numpy_and_itself_only() -> None:
    assert CORE_FILES
    strays = {
        path.relative_to(ROOT).as_posix(): sorted(names)
        for path in CORE_FILES
        if (names := outside_core(imported_names(ast.parse(path.read_text(encoding="utf-8")), package_of(path))))
    }
    assert strays == {}
