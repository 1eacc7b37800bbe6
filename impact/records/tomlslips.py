"""Slips in the text of ``workshop.toml`` that make it no TOML: each told with its line as it should be, and mended to read on.

A mended text serves only to find what else is wrong: the slips are errors, and nothing is worked out from it.
"""

from __future__ import annotations

import datetime
import re
import tomllib
from typing import Any

from impact.base.problems import Problem
from impact.base.spellings import fold

FILE = "workshop.toml"
MOST = 50
"""Slips that are looked for in one text. A choice of ours."""

ALSO = {
    "molds": "moulds", "mold": "moulds", "mould": "moulds", "devices": "equipment", "device": "equipment",
    "binder": "binders", "fate": "fates", "grant": "grants", "target": "targets",
}  # fmt: skip
"""Other names of the tables."""

_QUOTES = str.maketrans(dict.fromkeys("“”„‟«»″", '"') | dict.fromkeys("‘’‚‛′", "'"))
_LINE = re.compile(r"(\s*)([A-Za-z0-9_.\"'-]+(?:[ \t]+[A-Za-z0-9_-]+)*)\s*([=:])\s*(.*?)\s*")
_DATE = re.compile(r"[\"']?(\d{1,4})([-/.])(\d{1,2})\2(\d{1,4})[\"']?")
_TRUTH = {"true": "true", "yes": "true", "on": "true", "false": "false", "no": "false", "off": "false"}


def days_meant(text: str) -> list[str]:
    """Return the days, as TOML writes them, that a date in another order may be: none, one, or two."""
    match = _DATE.fullmatch(text.strip())
    if match is None:
        return []
    first, second, third = int(match[1]), int(match[3]), int(match[4])
    orders = [(first, second, third)] if len(match[1]) == 4 else [(third, first, second), (third, second, first)]
    found = []
    for year, month, day in orders:
        try:
            found.append(datetime.date(year, month, day).isoformat())
        except ValueError:
            continue
    return list(dict.fromkeys(day for day in found if day >= "1000"))


def _mended(line: str) -> tuple[str, list[str]] | None:
    """Return what is wrong with a line, and the lines that it may be meant as; None where neither is known."""
    plain = line.translate(_QUOTES)
    found = _of_table(plain) if plain.lstrip().startswith("[") else _of_value(plain)
    reason, lines = found or ("", [])
    if plain != line:
        reason, lines = "typographic quotes; TOML knows straight ones alone", lines or [plain]
    lines = [one for one in lines if one != line and _is_toml(one)]
    return (reason, lines) if lines else None


def _is_toml(line: str) -> bool:
    try:
        tomllib.loads(line)
    except ValueError:
        return False
    return True


def _of_table(line: str) -> tuple[str, list[str]] | None:
    match = re.fullmatch(r"(\s*)(\[\[?)([^\[\]#]*)\]*\s*(#.*)?", line)
    if match is None:
        return None
    names = [name.strip().strip("\"'") for name in match[3].split(".")]
    written = ".".join(name if re.fullmatch("[A-Za-z0-9_-]+", name) else f'"{name}"' for name in names)
    remark = f"  {match[4]}" if match[4] else ""
    reason = "the name of a table stands in closed brackets; with blanks or accents, in quotes"
    return reason, [f"{match[1]}{match[2]}{written}{']' * len(match[2])}{remark}"]


def _of_value(line: str) -> tuple[str, list[str]] | None:
    match = _LINE.fullmatch(line)
    if match is None:
        return None
    indent, key, mark, rest = match.groups()
    key = key if re.fullmatch(r"[A-Za-z0-9_.\"'-]+", key) else f'"{key}"'
    value, hash_, remark = rest.partition("#") if rest[:1] not in "\"'" or rest.count(rest[:1]) < 2 else (rest, "", "")
    value, remark = value.strip(), f"  # {remark.strip()}" if hash_ else ""
    if mark == ":":
        reason, values = "a key and its value stand beside an equals sign", [rest]
        if _is_toml(f"{key} = {rest}"):
            return reason, [f"{indent}{key} = {rest}"]
    if not value:
        return "there is no value", [f"{indent}# {key} ="]
    days = days_meant(value)
    if not days and re.fullmatch(r"[-+\d_.,:/eE]+", value) and not re.fullmatch(r"[+-]?\d+,\d+", value):
        return None  # a number or a day that is none
    if days:
        which = "this date" if len(days) == 1 else "this date can be read in two ways, and"
        reason, values = f"{which} is written with the year first", days
    elif fold(value) in _TRUTH:
        reason, values = "true and false are written in small letters", [_TRUTH[fold(value)]]
    elif re.fullmatch(r"[+-]?\d+,\d+", value) and not re.fullmatch(r"[1-9]\d{0,2},\d{3}", value):
        reason, values = "decimals stand behind a point", [value.replace(",", ".")]
    else:
        inner = re.sub(r"^(\d+),(\d{1,2})(?!\d)", r"\1.\2", value.strip("\"'").replace("\\", "/").replace('"', "'"))
        reason, values = "put it in quotes", [f'"{inner}"']
    return reason, [f"{indent}{key} = {one}{remark}" for one in values]


def read_toml_text(text: str) -> tuple[dict[str, Any] | None, list[Problem]]:
    """Return what a text holds, by the usual names of its tables, and its slips; None where it cannot be mended."""
    lines = text.split("\n")
    problems: list[Problem] = []
    for _ in range(MOST):
        try:
            return _renamed(tomllib.loads("\n".join(lines))), problems
        except (ValueError, RecursionError) as error:
            place = re.search(r"line (\d+)", str(error))
            row = int(place[1]) if place else text.count("\n") + 1
            line = lines[row - 1].rstrip("\r") if row <= len(lines) else ""
            mended = None if isinstance(error, RecursionError) else _mended(line)
            if mended is None:
                reason = f"this is not valid TOML: {str(error).split(' (at')[0] or 'it is nested too deeply'}"
                accepted = "a TOML file that describes the workshop"
                return None, [*problems, Problem("bad-toml", FILE, reason, row=row, accepted=accepted)]
            reason, meant = mended
            accepted = " or ".join(one.strip() for one in meant)
            accepted = "a value, or the line taken out" if meant[0].lstrip().startswith("#") else accepted
            problems.append(Problem("bad-toml", FILE, reason, row=row, read=line.strip(), accepted=accepted))
            lines[row - 1] = meant[0]
    return None, problems


def table_name(name: str) -> str:
    """Return the usual name of a table."""
    return ALSO.get(fold(name), name)


def _renamed(content: dict[str, Any]) -> dict[str, Any]:
    names = {name: table_name(name) if isinstance(value, dict | list) else name for name, value in content.items()}
    return {name if names[name] in content else names[name]: value for name, value in content.items()}
