"""Keys of ``workshop.toml`` and rows of the list of parts, changed where they stand: all else keeps its place and its words.

What is written is read first, by the readers of the commands, in a copy of the folder: only what they accept takes the
place of what was there. Whoever calls holds the lock of the folder.
"""

from __future__ import annotations

import csv
import io
import re
import shutil
import tomllib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import tomlkit
from tomlkit.exceptions import TOMLKitError

from impact.base.files import passing_folder, write
from impact.base.problems import Problem, errors
from impact.base.spellings import fold
from impact.records.files import choose_file, in_parts, reading_settings
from impact.records.parts import ACCEPTED, COLUMNS, OPTIONAL, column_meant
from impact.records.tomlslips import FILE
from impact.records.workshop import Workshop
from impact.records.workshop_file import TomlLines
from impact.records.workshop_keys import settings_of
from impact.tables.table import UnreadableError, read_rows, read_text

COPIED = (".toml", ".csv", ".xlsx", ".parquet", ".png", ".jpg", ".jpeg")
"""Files of a workshop folder by which settings are judged."""

MOST_OF_A_NAME = 80
"""Letters of a name that is given on a page; our own choice."""

Path_ = tuple[str, ...]


class Change(NamedTuple):
    """A key of ``workshop.toml``, with its tables before it, and its new value; None takes it away.

    Tables of a list go by their number from 1. A path that ends at a table takes the whole table away.
    """

    path: Path_
    value: Any


class NoChangeError(ValueError):
    """Raised when a text cannot be changed as asked; the text is the one line to show."""


def name_fault(name: str) -> str | None:
    """Return what is wrong with a name of a table or a part, None where nothing is."""
    if not name.strip():
        return "a name is needed"
    if not name.isprintable() or len(name) > MOST_OF_A_NAME or "." in name:
        return f"a name of up to {MOST_OF_A_NAME} letters, numbers, spaces and hyphens is needed, without a point"
    return None


# -- the text of the settings ----------------------------------------------------------------------------------------


def changed(text: str, changes: Sequence[Change]) -> str:
    """Return a TOML text with some keys changed; comments, order and what is not named stay as they are.

    Raises
    ------
    NoChangeError
        The text is no TOML, or a key stands where it cannot be changed alone.
    """
    try:
        for change in changes:
            text = _changed(text, change)
    except (tomllib.TOMLDecodeError, TOMLKitError, KeyError, TypeError, AttributeError) as error:
        raise NoChangeError(f"workshop.toml cannot be changed here: {error}") from None
    return text


def _changed(text: str, change: Change) -> str:
    before = tomllib.loads(text)
    if len(change.path) < 2:
        raise NoChangeError(f"{'.'.join(change.path)} stands in no table")
    if change.value is None and _at(before, change.path) is None:
        return text
    wanted = _with(before, change)
    if wanted == before:
        return text
    if change.value is None:
        return _without(text, change.path, _pruned(wanted, change.path))
    if _at(before, change.path) is not None:
        return _replaced(text, change)
    return _inserted(text, change, wanted)


@cache
def _listed() -> frozenset[str]:
    """Return the tables of which the settings have a list."""
    return frozenset(one.key.name for one in settings_of(Workshop) if one.table and one.header.startswith("[["))


def _steps(path: Path_) -> list[str | int]:
    return [int(one) - 1 if place == 1 and path[0] in _listed() else one for place, one in enumerate(path)]


def _at(content: Any, path: Path_) -> Any:
    """Return what stands at a path, None where nothing does."""
    for step in _steps(path):
        if isinstance(content, list) and isinstance(step, int):
            content = content[step] if 0 <= step < len(content) else None
        else:
            content = content.get(_named(step)) if isinstance(content, Mapping) else None
        if content is None:
            return None
    return content


def _named(step: str | int) -> str:
    return step if isinstance(step, str) else str(step + 1)


def _with(content: Mapping[str, Any], change: Change) -> dict[str, Any]:
    """Return a copy of what a file holds with a change made."""
    found: dict[str, Any] = _copied(content)
    place: Any = found
    steps = _steps(change.path)
    for at, step in enumerate(steps[:-1]):
        if isinstance(place, list):
            assert isinstance(step, int)
            if step == len(place):
                place.append({})
            place = place[step]
        else:
            listed = (
                at + 1 < len(steps) and isinstance(steps[at + 1], int) and not isinstance(place.get(_named(step)), dict)
            )
            place = place.setdefault(_named(step), [] if listed and change.value is not None else {})
    last = steps[-1]
    if isinstance(place, list):
        assert isinstance(last, int)
        if change.value is None and last < len(place):
            del place[last]
    elif change.value is None:
        place.pop(_named(last), None)
    else:
        place[_named(last)] = change.value
    return found


def _copied(content: Any) -> Any:
    if isinstance(content, Mapping):
        return {key: _copied(value) for key, value in content.items()}
    return [_copied(one) for one in content] if isinstance(content, list) else content


def _pruned(content: dict[str, Any], path: Path_) -> list[dict[str, Any]]:
    """Return what may be left once something is gone: with the tables above it that it leaves empty, or without them."""
    found = [content]
    for depth in range(len(path) - 1, 0, -1):
        last = _copied(found[-1])
        if _at(last, path[:depth]) not in ({}, []):
            break
        found.append(_with(last, Change(path[:depth], None)))
    return found


def _replaced(text: str, change: Change) -> str:
    """Return the text with the value of a key replaced, its comment kept."""
    document: Any = tomlkit.parse(text)
    place = document
    for step in _steps(change.path)[:-1]:
        place = place[step if isinstance(place, list) else _named(step)]
    place[_named(_steps(change.path)[-1])] = change.value
    return tomlkit.dumps(document)


def _line(key: str, value: Any) -> str:
    return f"{_key(key)} = {tomlkit.item(value).as_string()}"


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else tomlkit.item(key).as_string()


def _inserted(text: str, change: Change, wanted: Mapping[str, Any]) -> str:
    """Return the text with a new key: below the last key of its table, or in a new table behind those of its kind.

    A place is right where the text then holds what is wanted, so that no line lands in a value of several lines.
    """
    lines, table = text.splitlines(keepends=True), change.path[:-1]
    if lines and not lines[-1].endswith("\n"):
        lines[-1] += "\n"
    stands = TomlLines(text).places()
    new = _line(change.path[-1], change.value) + "\n"
    if table in stands:
        last = max(line for path, line in stands.items() if path[: len(table)] == table and _own(path, table, stands))
        starts, block = range(last, len(lines) + 1), [new]
    else:
        listed = table[0] in _listed()
        head = f"[[{'.'.join(map(_key, table[:-1]))}]]" if listed else f"[{'.'.join(map(_key, table))}]"
        block = ["\n", f"{head}\n", new]
        kin = [line for path, line in stands.items() if path[0] == table[0]]
        starts = range(_behind_notes(lines, max(kin)) if kin else len(lines), len(lines) + 1)
    for start in starts:
        found = "".join([*lines[:start], *block, *lines[start:]])
        if _holds(found, [wanted]):
            return found
    return tomlkit.dumps(_assigned(text, change))


def _behind_notes(lines: Sequence[str], line: int) -> int:
    """Return the place behind a line and the comments that follow it without a blank line."""
    while line < len(lines) and lines[line].lstrip().startswith("#"):
        line += 1
    return line


def _behind_continued(lines: Sequence[str], line: int) -> int:
    """Return the place behind a line and the indented comments below it, which go on with the one beside it."""
    while line < len(lines) and lines[line][:1].isspace() and lines[line].lstrip().startswith("#"):
        line += 1
    return line


def _own(path: Path_, table: Path_, stands: Mapping[Path_, int]) -> bool:
    """Return whether a key stands in a table itself, not in a table below it with a header of its own."""
    return not any(path[:length] in stands for length in range(len(table) + 1, len(path)))


def _assigned(text: str, change: Change) -> Any:
    document: Any = tomlkit.parse(text)
    place = document
    for step in map(_named, _steps(change.path)[:-1]):
        if step not in place:
            place[step] = tomlkit.table()
        place = place[step]
    place[change.path[-1]] = change.value
    return document


def _holds(text: str, wanted: Sequence[Mapping[str, Any]]) -> bool:
    try:
        return tomllib.loads(text) in wanted
    except tomllib.TOMLDecodeError:
        return False


def _without(text: str, path: Path_, wanted: Sequence[Mapping[str, Any]]) -> str:
    """Return the text without a key or a table: as few lines as hold it; comments below it stay.

    The tables that are empty without it go too, if they can.
    """
    lines, stands = text.splitlines(keepends=True), TomlLines(text).places()
    for above in (path[:length] for length in range(max(len(path) - len(wanted) + 1, 1), len(path) + 1)):
        first = stands.get(above)
        if first is None:
            continue
        mine = [line for one, line in stands.items() if one[: len(above)] == above]
        if first > 1 and lines[first - 1].lstrip().startswith("[") and not lines[first - 2].strip():
            first -= 1  # the blank line that parts a table from what stands above it
        for end in range(_behind_continued(lines, max(mine)), len(lines) + 1):
            found = "".join([*lines[: first - 1], *lines[end:]])
            if _holds(found, wanted):
                return found
    document: Any = tomlkit.parse(text)
    place = document
    for step in _steps(path)[:-1]:
        place = place[step if isinstance(place, list) else _named(step)]
    last = _steps(path)[-1]
    del place[last if isinstance(place, list) else _named(last)]
    return tomlkit.dumps(document)


def noted(text: str, paths: Sequence[Path_], note: str) -> str:
    """Return the text with a comment behind the values of some keys."""
    document: Any = tomlkit.parse(text)
    for path in paths:
        place = document
        for step in path:
            place = place[step]
        place.comment(note)
        place.trivia.comment_ws = "  "
    return tomlkit.dumps(document)


# -- the list of parts -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PartsText:
    """The list of parts as it stands: its rows of cells, the header first, and the column of each known name."""

    rows: list[list[str]]
    places: Mapping[str, int]
    delimiter: str

    @classmethod
    def of(cls, folder: Path) -> PartsText:
        """Return the list of a folder.

        Raises
        ------
        UnreadableError
            It cannot be read.
        NoChangeError
            It is a workbook, which keeps more than cells.
        """
        path, problem = choose_file(folder, "parts")
        if problem is not None:
            raise UnreadableError(problem)
        if path.suffix != ".csv":
            raise NoChangeError(f"{path.name} is a workbook: change the parts there, or save it as parts.csv")
        rows = read_rows(path, accepted=ACCEPTED, records=reading_settings(folder))
        head = rows[0] if rows else list(COLUMNS)
        places = {name: place for place, cell in enumerate(head) if (name := column_meant(cell)) is not None}
        text = read_text(path, accepted=ACCEPTED)
        return cls(rows or [head], places, max(",;\t", key=(text.splitlines() or [""])[0].count))

    def parts(self) -> dict[str, dict[str, str]]:
        """Return the cells of each part by the known name of their column, by part."""
        name = self.places.get("part", 0)
        return {
            row[name].strip(): {column: row[at].strip() for column, at in self.places.items() if at < len(row)}
            for row in self.rows[1:]
            if name < len(row) and row[name].strip()
        }

    def with_part(self, part: str, cells: Mapping[str, str] | None) -> bytes:
        """Return the file with some cells of a part changed, with a part more, or with one less where `cells` is None."""
        rows, places = [list(row) for row in self.rows], dict(self.places)
        at = next((n for n, row in enumerate(rows) if n and self._name(row) == fold(part)), None)
        if cells is None:
            rows = [row for n, row in enumerate(rows) if n != at]
            return self._bytes(rows)
        for column in (one for one, cell in cells.items() if cell and one not in places):
            places[column] = len(rows[0])
            rows[0].append(column)
        if at is None:
            at = len(rows)
            rows.append([])
            cells = {"part": part, **cells}
        rows[at] += [""] * (len(rows[0]) - len(rows[at]))
        for column, cell in cells.items():
            if column in places:
                rows[at][places[column]] = cell
        return self._bytes([row + [""] * (len(rows[0]) - len(row)) if any(row) else row for row in rows])

    def _name(self, row: Sequence[str]) -> str:
        place = self.places.get("part", 0)
        return fold(row[place]) if place < len(row) else ""

    def _bytes(self, rows: Sequence[Sequence[str]]) -> bytes:
        stream = io.StringIO(newline="")
        csv.writer(stream, delimiter=self.delimiter, lineterminator="\n").writerows(rows)
        return stream.getvalue().encode()


def parts_file(part: Mapping[str, str]) -> bytes:
    """Return a list of one part as a file, with all usual columns."""
    stream = io.StringIO(newline="")
    columns = [name for name in COLUMNS if name not in OPTIONAL or name in ("volume", "wet use")]
    csv.writer(stream, lineterminator="\n").writerows([columns, [part.get(name, "") for name in columns]])
    return stream.getvalue().encode()


# -- read before it is written ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Saved:
    """What came of saving.

    Attributes
    ----------
    problems : tuple of Problem
        Errors, for which nothing was written; or the doubts that are new.
    """

    problems: tuple[Problem, ...] = ()

    @property
    def written(self) -> bool:
        """Whether it was written."""
        return not errors(self.problems)


def save(folder: Path, contents: Mapping[str, bytes], *, today: date, before: Sequence[Problem] | None = None) -> Saved:
    """Write files of a workshop folder if their readers find no error that is not there yet; `before` are those, if known.

    Raises
    ------
    OutputError, OSError
        The disk refuses it.
    """
    if all((folder / name).exists() and (folder / name).read_bytes() == content for name, content in contents.items()):
        return Saved()
    before = problems_of(folder, today) if before is None else before
    with passing_folder() as place:
        copy = place / "folder"
        copied(folder, copy)
        for name, content in contents.items():
            (copy / name).write_bytes(content)
        after = problems_of(copy, today)
    new = _new(before, after)
    if not errors(new):
        for name, content in contents.items():
            write(folder / name, content, force=True)
    return Saved(tuple(errors(new) or new))


def copied(folder: Path, copy: Path) -> None:
    """Copy what settings are judged by; batches in parts stay where they are, and are not judged."""
    copy.mkdir()
    for path in folder.iterdir():
        if path.suffix.lower() in COPIED and path.is_file():
            shutil.copyfile(path, copy / path.name)
    if in_parts(folder):
        (copy / "batches").symlink_to((folder / "batches").resolve(), target_is_directory=True)


def problems_of(folder: Path, today: date) -> list[Problem]:
    """Return every error and doubt of a folder, as `impact check` has them but for those that need draws."""
    from impact.api import read_folder
    from impact.base.problems import ProblemsError

    opened, problems = read_folder(folder, keep=False, today=today)
    if opened is None:
        return problems
    try:
        return list(opened.assess(draws=1, today=today).warnings)
    except ProblemsError as error:
        return [*problems, *error.problems]


def _new(before: Sequence[Problem], after: Sequence[Problem]) -> list[Problem]:
    """Return the problems that were not there before, wherever they stood."""
    known = Counter(map(_likeness, before))
    found = []
    for problem in after:
        like = _likeness(problem)
        if known[like]:
            known[like] -= 1
        else:
            found.append(problem)
    return found


def _likeness(problem: Problem) -> tuple[str, ...]:
    number = re.compile(r"[0-9]+(?:[.,][0-9]+)?")
    return problem.level, problem.code, problem.file, str(problem.column), number.sub("#", problem.message)


def placed(problem: Problem) -> Path_ | None:
    """Return the key of ``workshop.toml`` that a problem is about; None where it is about something else."""
    return tuple(problem.column.split(".")) if problem.file == FILE and problem.column else None
