"""How a workshop keeps its records: the table ``[records]`` of ``workshop.toml``, and which file holds a table."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from impact.base.files import SETTINGS_LIMIT, read_regular
from impact.base.pictures import is_plain_name
from impact.base.problems import Problem
from impact.records.tomlslips import FILE, read_toml_text
from impact.tables.settings import ReadingSettings

SUFFIXES = {"batches": (".csv", ".xlsx", ".parquet"), "parts": (".csv", ".xlsx"), "factors": (".csv", ".xlsx")}
"""What a table may be kept as."""

UNREAD = (".xls", ".xlsm", ".xlsb", ".ods", ".numbers", ".tsv", ".txt")
"""Endings that people use for a table and that are not read."""

PARTS = "batches"
"""Folder in the workshop folder that holds the batches in several files."""

PART_SUFFIXES = (".csv", ".parquet")
"""What a part of the batches may be kept as."""


def workshops_in(path: Path) -> list[Path]:
    """Return the workshop folders inside a folder that is none itself, by name; empty for any other folder."""
    if not path.is_dir() or (path / FILE).exists():
        return []
    return sorted(inner for inner in path.iterdir() if inner.is_dir() and (inner / FILE).exists())


def content_of(folder: Path) -> dict[str, Any]:
    """Return what ``workshop.toml`` holds, as it stands; nothing where it cannot be read, which its own reader reports."""
    try:
        text = read_regular(folder / FILE, limit=SETTINGS_LIMIT).decode("utf-8-sig")
        return read_toml_text(text)[0] or {}
    except (OSError, ValueError, RecursionError):
        return {}


def reading_settings(folder: Path) -> ReadingSettings:
    """Return what ``workshop.toml`` says of the records; nothing where that is faulty, which its own reader reports."""
    from pydantic_core import ValidationError

    from impact.records.workshop import Reading
    from impact.records.workshop_keys import read_settings

    try:
        return read_settings(Reading, content_of(folder).get("records", {}), None).settings()
    except ValidationError:
        return ReadingSettings()


def picture_files(content: Mapping[str, Any]) -> dict[str, str]:
    """Return the files of the pictures that the settings name, by their keys; other names are for their own reader."""
    table = content.get("report")
    named = {key: table.get(key) for key in ("logo", "photo")} if isinstance(table, Mapping) else {}
    return {key: name for key, name in named.items() if isinstance(name, str) and is_plain_name(name)}


def choose_file(folder: Path, stem: str) -> tuple[Path, Problem | None]:
    """Return the file of a workshop folder that holds a table, ``.csv`` where there is none; a problem where none is right.

    `stem` is the name of the table: batches, parts or factors.
    """
    found = [f"{stem}{suffix}" for suffix in SUFFIXES[stem] if (folder / f"{stem}{suffix}").exists()]
    if stem == PARTS and in_parts(folder):
        return folder / PARTS, _in_parts_problem(found)
    if len(found) > 1:
        message = f"the {stem} are kept {'twice' if len(found) == 2 else 'three times'}, and only one can be right"
        problem = Problem("two-files", " and ".join(found), message, accepted=f"one of {', '.join(found)}")
        return folder / found[0], problem
    if found:
        return folder / found[0], None
    other = next(iter(like_named(folder, stem)), None)
    if other is None or (stem == "factors" and other.stem != stem):
        return folder / f"{stem}.csv", None
    suffix = other.suffix.lower() if other.suffix.lower() in SUFFIXES[stem] else None
    accepted = f"{' or '.join(f'{stem}{suffix}' for suffix in SUFFIXES[stem])}; save it as one of them"
    if suffix is None:
        return other, Problem("unread-kind", other.name, "this kind of file is not read", accepted=accepted)
    message = f"there is no {stem}{suffix}, and a file of this name is not read"
    return other, Problem(
        "misnamed-file", other.name, message, accepted=f"the name {stem}{suffix}, if these are the {stem}"
    )


def like_named(folder: Path, stem: str) -> list[Path]:
    """Return the files of a folder that are named nearly as a table of records is, by name: ``batches 2026.xlsx``."""
    words, known = {stem, stem.removesuffix("s"), stem.removesuffix("es")}, {*SUFFIXES[stem], *UNREAD}
    try:
        inside = sorted(path for path in folder.iterdir() if path.suffix.lower() in known and path.is_file())
    except OSError:
        return []
    return [path for path in inside if words & set(re.findall("[a-z]+", path.name.casefold().partition(".")[0]))]


def beside(folder: Path) -> list[Problem]:
    """Return a doubt about each file that is named nearly as one that is read, and is not read itself."""
    found = []
    for stem in SUFFIXES:
        read, problem = choose_file(folder, stem)
        for path in like_named(folder, stem) if problem is None and read.exists() else ():
            if path.name != read.name:
                message = f"this file is not read: {read.name} is"
                accepted = f"one file of {stem}, and others in a folder of their own"
                found.append(Problem("not-read", path.name, message, accepted=accepted, level="warning"))
    return found


def is_workshop(folder: Path) -> bool:
    """Return whether a folder holds any file of a workshop, or one that is named nearly so."""
    named = [folder / FILE, *(choose_file(folder, stem)[0] for stem in ("parts", PARTS))]
    return any(map(os.path.lexists, named)) or misnamed_settings(folder) is not None


def misnamed_settings(folder: Path) -> Path | None:
    """Return a file that is named nearly as the settings, where those are not there: ``workshop.toml.txt``."""
    try:
        inside = sorted(
            path for path in folder.iterdir() if re.match(r"workshop\b.*\.(toml|txt)$", path.name.casefold())
        )
    except OSError:
        return None
    return None if os.path.lexists(folder / FILE) else next(iter(inside), None)


def in_parts(folder: Path) -> bool:
    """Return whether a workshop folder holds its batches in several files."""
    return (folder / PARTS).is_dir()


def _in_parts_problem(beside: list[str]) -> Problem:
    if beside:
        names = f"{' and '.join(beside)} and {PARTS}/"
        message = "the batches are kept as one file and in parts, and only one can be right"
        return Problem("two-files", names, message, accepted=f"{beside[0]} or the folder {PARTS}")
    message = "batches in parts are read by `impact totals` and `impact check` alone"
    return Problem("in-parts", f"{PARTS}/", message, accepted="one file batches.csv, .xlsx or .parquet")


def part_files(folder: Path) -> tuple[list[Path], list[Problem]]:
    """Return the files of a workshop folder that hold batches in parts, by name, and a problem for each other file there.

    Names that start with a dot or an underscore are passed over: programs that write tables in parts leave such files.
    """
    _, problem = choose_file(folder, PARTS)
    if problem is not None and problem.code == "two-files":
        return [], [problem]
    accepted = f"files ending in {' or '.join(PART_SUFFIXES)}"
    inside = sorted(path for path in (folder / PARTS).iterdir() if not path.name.startswith((".", "_")))
    if not inside:
        return [], [Problem("missing-file", f"{PARTS}/", "the folder holds no file", accepted=accepted)]
    faults = [
        Problem("unread-kind", f"{PARTS}/{path.name}", "this kind of file is no part of the batches", accepted=accepted)
        for path in inside
        if path.suffix not in PART_SUFFIXES
    ]
    return [path for path in inside if path.suffix in PART_SUFFIXES], faults
