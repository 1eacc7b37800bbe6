"""Lines of a TOML file: where a table or a key stands, so that a problem can name its place."""

from __future__ import annotations

import re
from collections import Counter

_PART = r"""(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)"""
_DOTTED = rf"{_PART}(?:\s*\.\s*{_PART})*"
_HEADER = re.compile(rf"\s*(\[\[?)\s*({_DOTTED})\s*\]")
_KEY = re.compile(rf"\s*({_DOTTED})\s*=")

Path = tuple[str, ...]


def _split(dotted: str) -> Path:
    return tuple(part.strip("\"'") for part in re.findall(_PART, dotted))


class TomlLines:
    """The line of every table and key of a TOML text; tables of a list are numbered from 1: ``grants.2.share``.

    Parameters
    ----------
    text : str
        The file's content.
    """

    def __init__(self, text: str) -> None:
        self._lines: dict[Path, int] = {}
        table: Path = ()
        inside = ""
        listed: Counter[Path] = Counter()
        for number, line in enumerate(text.splitlines(), start=1):
            if not inside:
                if header := _HEADER.match(line):
                    table = _split(header[2])
                    self._lines.setdefault(table, number)
                    if header[1] == "[[":
                        listed[table] += 1
                        table = (*table, str(listed[table]))
                        self._lines[table] = number
                elif key := _KEY.match(line):
                    self._lines.setdefault((*table, *_split(key[1])), number)
            for quotes in ('"""', "'''"):
                if inside in ("", quotes) and line.count(quotes) % 2:
                    inside = "" if inside else quotes

    def line(self, path: Path) -> int | None:
        """Return the line of a key; of the nearest table above it when the key is missing; None without either."""
        for length in range(len(path), 0, -1):
            if path[:length] in self._lines:
                return self._lines[path[:length]]
        return None
