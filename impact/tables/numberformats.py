"""Number formats of a workbook: which of them show a number as a day, a time, a share, or with a unit behind it.

The codes are those of ECMA-376 part 1, 18.8.30 and 18.8.31 (from memory).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

Kind = Literal["number", "day", "time", "share"]

_BUILT_IN: dict[int, Kind] = {
    9: "share", 10: "share", **dict.fromkeys((18, 19, 20, 21, 45, 46, 47, 32, 33, 34, 35, 55, 56), "time"),
    **dict.fromkeys((14, 15, 16, 17, 22, 27, 28, 29, 30, 31, 36, 50, 51, 52, 53, 54, 57, 58), "day"),
}  # fmt: skip
_UNSHOWN = re.compile(r"\[(?!(?:h+|m+|s+)\])[^\]]*\]|_.|\*.", re.IGNORECASE | re.DOTALL)
_LITERAL = re.compile(r'"([^"]*)"|\\(.)', re.DOTALL)
_UNIT = re.compile(r"[^\W\d_][^\W\d_/ .]*[0-9]?(?:/[^\W\d_]+)?")
LAST_DAY = 2_958_465
"""Day number of 9999-12-31 in the 1900 system; above it a number is no day."""


@dataclass(frozen=True, slots=True)
class NumberFormat:
    """How a cell shows its number: what it stands for, and the letters shown behind it, "" where there are none."""

    kind: Kind = "number"
    unit: str = ""


def built_in_format(number: int) -> NumberFormat:
    """Return a format that a workbook refers to by number alone."""
    return NumberFormat(_BUILT_IN.get(number, "number"))


def format_of(code: str) -> NumberFormat:
    """Return a format from its code, such as ``0.0" kg"`` or ``dd/mm/yyyy``; of several sections the first."""
    shown = _UNSHOWN.sub("", re.split(r';(?=(?:[^"]*"[^"]*")*[^"]*$)', code)[0])
    bare = _LITERAL.sub("", shown).lower().replace("general", "0")
    if "%" in bare:
        return NumberFormat("share")
    if re.search("[dy]", bare) or ("m" in bare and not re.search("[hs]", bare)):
        return NumberFormat("day")
    if re.search("[hs]", bare):
        return NumberFormat("time")
    behind = re.split(r"[0#?](?=[^0#?]*$)", shown.replace("General", "0"))[-1] if re.search("[0#?]", bare) else ""
    unit = "".join(quoted or escaped for quoted, escaped in _LITERAL.findall(behind)).strip()
    return NumberFormat("number", unit if _UNIT.fullmatch(unit) else "")


def number_text(number: float) -> str:
    """Return a number as text with a decimal point, whole ones without."""
    return str(int(number)) if number == math.floor(number) and abs(number) < 1e15 else repr(number)


def amount_text(number: float, unit: str) -> str:
    """Return a number with what is shown behind it; a last 0 keeps three decimals from looking like thousands."""
    text = number_text(number)
    return f"{text}{'0' if re.search(r'[.][0-9]{3}$', text) else ''} {unit}"


def day_of(number: float, *, from_1904: bool) -> date | None:
    """Return the day that a day number stands for, or None where it is none."""
    if not 1.0 <= number <= LAST_DAY:
        return None
    days = int(number)
    if from_1904:
        days += 1462
    return date(1899, 12, 30) + timedelta(days=days + (days < 60)) if days <= LAST_DAY else None
