"""Keys of ``workshop.toml`` changed where they stand: all else keeps its place and its words.

A change is right where the text then holds what is wanted, read as TOML; a place is looked for until it does.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any, NamedTuple

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Array, InlineTable

from impact.records.workshop import Workshop
from impact.records.workshop_file import TomlLines
from impact.records.workshop_keys import settings_of

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


def changed(text: str, changes: Sequence[Change]) -> str:
    """Return a TOML text with some keys changed; comments, order and what is not named stay as they are.

    Raises
    ------
    NoChangeError
        The text is no TOML, or a key stands where it cannot be changed alone.
    """
    windows = "\r\n" in text and not re.search(r"(?<!\r)\n", text)
    try:
        for change in changes:
            text = _changed(text, change)
    except NoChangeError:
        raise
    except (tomllib.TOMLDecodeError, TOMLKitError, LookupError, TypeError, AttributeError, ValueError) as error:
        raise NoChangeError(f"workshop.toml cannot be changed here: {error}") from None
    return re.sub(r"(?<!\r)\n", "\r\n", text) if windows else text


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
            if not isinstance(step, int):
                raise NoChangeError(f"{change.path[0]} is a list in workshop.toml, and no table")
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
        if not isinstance(last, int):
            raise NoChangeError(f"{change.path[0]} is a list in workshop.toml, and no table")
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
    for step in _steps(change.path)[:-1]:
        inline = isinstance(place, InlineTable | Array)
        if isinstance(place, list):
            if step == len(place):
                place.append(tomlkit.inline_table() if inline else tomlkit.table())
        elif (step := _named(step)) not in place:
            place[step] = tomlkit.inline_table() if inline else tomlkit.table()
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
