"""The house: rooms import rooms above them only, no circles, no module too long, and the command line starts at once."""

from __future__ import annotations

import ast
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ROOMS = (
    "base", "core", "tables", "records", "factors", "account", "findings", "decisions", "door", "trace", "report", "browser",
    "cli",
)  # fmt: skip
"""From the top: a room imports itself and those before it. The door is the modules of `impact` itself."""

HEAVY = {
    "PIL",
    "flask",
    "matplotlib",
    "numpy",
    "openpyxl",
    "pandas",
    "pint",
    "pyarrow",
    "pydantic",
    "rich",
    "scipy",
    "segno",
    "waitress",
    "weasyprint",
}
CORE_LIBRARIES = {"numpy", "scipy"}
MODULES_OF_A_ROOM = 20
LINES_OF_A_MODULE = 450

FILES = {
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
    for path in sorted((ROOT / "impact").rglob("*.py"))
}


def imported(source: str, module: str, *, package: bool, known: set[str]) -> set[str]:
    """Return the modules among `known` that a file imports, wherever in the file, for types too."""
    home = module if package else module.rpartition(".")[0]
    found: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            above = home.split(".")[: len(home.split(".")) - node.level + 1] if node.level else []
            base = ".".join([*above, *([node.module] if node.module else [])])
            names = [f"{base}.{alias.name}" for alias in node.names]
        for name in names:
            while name and name not in known:
                name = name.rpartition(".")[0]
            found.add(name)
    return found - {"", "impact", module}


def room_of(module: str) -> str:
    if module == "impact.__main__":  # the console script: starts the command line and nothing else
        return "cli"
    parts = module.split(".")
    return parts[1] if len(parts) > 1 and parts[1] in ROOMS else "door"


@cache
def imports() -> dict[str, set[str]]:
    """Return what each module of the package imports of it."""
    return {
        module: imported(path.read_text(encoding="utf-8"), module, package=path.name == "__init__.py", known=set(FILES))
        for module, path in FILES.items()
    }


def circles(edges: dict[str, set[str]]) -> list[list[str]]:
    """Return the sets of modules that import one another, by any way round."""
    below: dict[str, set[str]] = {}

    def reach(start: str) -> set[str]:
        seen: set[str] = set()
        waiting = list(edges[start])
        while waiting:
            name = waiting.pop()
            if name not in seen:
                seen.add(name)
                waiting += edges[name]
        return seen

    for name in edges:
        below[name] = reach(name)
    found = {tuple(sorted({name, *(other for other in below[name] if name in below[other])})) for name in edges}
    return sorted(list(one) for one in found if len(one) > 1)


@pytest.mark.parametrize(
    ("source", "package", "found"),
    [
        ("import numpy", False, set()),
        ("from impact.core.moisture import dry_mass", False, {"impact.core.moisture"}),
        ("from impact.core import moisture", False, {"impact.core.moisture"}),
        ("def f():\n    from impact.cli import terminal", False, {"impact.cli.terminal"}),
        ("if TYPE_CHECKING:\n    from impact.cli import terminal", False, {"impact.cli.terminal"}),
        ("from .cli import terminal", True, {"impact.cli.terminal"}),
        ("from ..core.moisture import dry_mass", False, {"impact.core.moisture"}),
        ("import impact.cli.terminal", False, {"impact.cli.terminal"}),
    ],
)
def test_imported_examples_are_found(source: str, package: bool, found: set[str]) -> None:
    known = {"impact", "impact.core", "impact.core.moisture", "impact.cli", "impact.cli.terminal", "impact.base.units"}
    module = "impact" if package else "impact.base.units"
    assert imported(source, module, package=package, known=known) == found


def test_circles_examples_are_found() -> None:
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}}) == [["a", "b", "c"]]
    assert circles({"a": {"b"}, "b": set()}) == []


@pytest.mark.parametrize("room", ROOMS)
def test_room_imports_rooms_above_it_only(room: str) -> None:
    strays = {
        f"{module} imports {name}"
        for module, names in imports().items()
        if module != "impact" and room_of(module) == room
        for name in names
        if ROOMS.index(room_of(name)) > ROOMS.index(room)
    }
    assert strays == set()


def test_modules_import_in_no_circle() -> None:
    assert circles({module: names for module, names in imports().items() if module != "impact"}) == []


def test_core_uses_numbers_alone() -> None:
    strays = set()
    for module, path in FILES.items():
        if room_of(module) == "core":
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Import | ast.ImportFrom):
                    named = (
                        [alias.name for alias in node.names] if isinstance(node, ast.Import) else [node.module or ""]
                    )
                    strays |= {
                        f"{module} imports {name}"
                        for name in (name.split(".")[0] for name in named)
                        if name not in {*sys.stdlib_module_names, *CORE_LIBRARIES, "impact"}
                    }
    assert strays == set()


@pytest.mark.parametrize("room", [room for room in ROOMS if room != "door"])
def test_room_says_what_it_is_for_and_is_not_crowded(room: str) -> None:
    (package,) = [path for module, path in FILES.items() if module == f"impact.{room}"]
    said = ast.get_docstring(ast.parse(package.read_text(encoding="utf-8"))) or ""
    assert len(said.split()) > 40
    assert len([path for path in package.parent.iterdir() if path.suffix == ".py"]) <= MODULES_OF_A_ROOM + 1


def test_modules_are_short() -> None:
    lines = {module: len(path.read_text(encoding="utf-8").splitlines()) for module, path in FILES.items()}
    assert {module: count for module, count in lines.items() if count > LINES_OF_A_MODULE} == {}


def test_cli_import_loads_no_heavy_library() -> None:
    code = "import sys, impact.cli.commands; print(*sorted({name.split('.')[0] for name in sys.modules}))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert "click" in loaded
    assert loaded & HEAVY == set()
