"""How numbers are written: decimal marks and thousands marks, read where they are certain and asked about where not."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from impact.base.units import refuse

SETTLE = '[records] decimal = "point" or "comma" in workshop.toml'
"""What settles a number that can be read in two ways."""

_GROUPERS = "'’\u00a0\u202f\u2009"
_TOKEN = re.compile(rf"(?<![0-9.,])(?:[0-9]+(?:[.,{_GROUPERS}][0-9]+)*[.,]?|[.,][0-9]+)")
_SPACED = re.compile(r"[+\-−]?[0-9]{1,3}(?: [0-9]{3})+(?![0-9])")
_ONE_MARK = re.compile(r"[0-9]*([.,])[0-9]*")
_GROUPED = re.compile(rf"([0-9]{{1,3}}([.,{_GROUPERS}])[0-9]{{3}}(?:\2[0-9]{{3}})*)(?:([.,])[0-9]*)?")
_EITHER = re.compile(r"[1-9][0-9]{0,2}([.,])[0-9]{3}")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_OTHER = {".": ",", ",": "."}
_PLAIN = {".": re.compile(r"[0-9]{1,15}(?:\.[0-9]*)?"), ",": re.compile(r"[0-9]{1,15}(?:,[0-9]*)?")}
_CERTAIN = re.compile(r"[0-9]{1,15}|[0-9]{1,15}[.,](?:[0-9]{0,2}|[0-9]{4,})|(?:0[0-9]{0,14}|[0-9]{4,15})?[.,][0-9]+")
"""Numbers with one mark that can only be decimal: no group of three digits follows one to three others."""


@dataclass(frozen=True, slots=True)
class Marks:
    """Marks of a column known to come before decimals, and to part thousands; whether the workshop states its decimal mark."""

    decimals: frozenset[str] = frozenset()
    groups: frozenset[str] = frozenset()
    stated: bool = False


def _reading(token: str) -> tuple[str, str, str] | None:
    """Return a certain number with a decimal point, its decimal mark and its thousands mark; None where it is none."""
    if token.isdigit():
        return token, "", ""
    if match := _ONE_MARK.fullmatch(token):
        return token.replace(match[1], "."), match[1], ""
    match = _GROUPED.fullmatch(token)
    if match is None or match[2] == match[3] or token[0] == "0":
        return None
    decimals = token[match.end(1) + 1 :]
    joined = match[1].replace(match[2], "")
    return (f"{joined}.{decimals}" if decimals else joined), match[3] or "", match[2]


def _rewritten(token: str, text: str, marks: Marks) -> str:
    """Return one number with a decimal point and no thousands marks."""
    if either := _EITHER.fullmatch(token):
        mark = either[1]
        decimal, whole = token.replace(mark, "."), token.replace(mark, "")
        if marks.decimals == {mark} and mark not in marks.groups:
            return decimal
        if marks.groups & set(_OTHER) == {mark} and mark not in marks.decimals:
            return whole
        why = ", because other cells of the column go against [records] decimal" if marks.stated else ""
        accepted = f"{whole} or {decimal}, as meant" + ("" if marks.stated else f"; or {SETTLE}")
        refuse("ambiguous-number", f"this may be {whole} or {decimal}{why}", text, accepted)
    reading = _reading(token)
    if reading is None:
        refuse("bad-number", f'"{token}" is no number', text, "digits with one decimal mark, thousands in threes")
    return reading[0]


def normalised(text: str, marks: Marks) -> str:
    """Return a cell with every number written with a decimal point and no thousands marks, by the marks of its column.

    Raises
    ------
    UnitError
        A number can be read in two ways, or is none, or the cell holds a day.
    """
    if _DAY.match(text):
        refuse(
            "date-for-number", "a day stands where a number belongs", text, "the number, in a cell formatted as text"
        )
    spaced = _SPACED.match(text)
    if spaced:
        text = spaced[0].replace(" ", "\u00a0") + text[spaced.end() :]
    return _TOKEN.sub(lambda match: _rewritten(match[0], text, marks), text)


def _shown(spellings: Iterable[str]) -> tuple[set[str], set[str]]:
    """Return the decimal marks and thousands marks that certain numbers in these cells show."""
    decimals: set[str] = set()
    groups: set[str] = set()
    for text in spellings:
        for token in _TOKEN.findall(text):
            reading = None if _EITHER.fullmatch(token) else _reading(token)
            if reading is not None:
                decimals.update(reading[1])
                groups.update(reading[2])
    return decimals, groups


def settle(spellings: Sequence[str], decimal: str, *, stated: bool) -> tuple[Marks, list[bool]]:
    """Return what the marks of a column mean, and which of its cells are plain numbers under that.

    A number that can be read in one way only is read so. One that can be read in two ways is settled by what the
    workshop states, else by other cells of the same column, and never where these show the contrary.

    Parameters
    ----------
    spellings : sequence of str
        The cells of the column, each spelling once.
    decimal : {".", ",", ""}
        Decimal mark of the file; "" where nothing is known.
    stated : bool
        Whether the workshop states it; then the other mark parts thousands. Otherwise it is only what is usual.
    """
    plain = [_PLAIN[decimal].fullmatch(text) is not None for text in spellings] if decimal else _certain(spellings)
    decimals, groups = _shown(text for text, is_plain in zip(spellings, plain, strict=True) if not is_plain)
    if decimal and _OTHER[decimal] not in decimals and decimal not in groups:
        groups |= {_OTHER[decimal]} if stated else set()
        return Marks(frozenset({decimal, *decimals}), frozenset(groups), stated), plain
    if decimal:
        plain = _certain(spellings)
    decimals |= {decimal} if stated else set()
    certain = [text for text, is_plain in zip(spellings, plain, strict=True) if is_plain]
    decimals |= {mark for mark in _OTHER if any(mark in text for text in certain)}
    sole = decimals - groups
    if len(decimals) == 1 and sole:
        pattern = _PLAIN[sole.pop()]
        plain = [
            is_plain or pattern.fullmatch(text) is not None for text, is_plain in zip(spellings, plain, strict=True)
        ]
    return Marks(frozenset(decimals), frozenset(groups), stated), plain


def _certain(spellings: Sequence[str]) -> list[bool]:
    return [_CERTAIN.fullmatch(text) is not None for text in spellings]


def plain_amount(text: str) -> float:
    """Return a plain number, whichever mark stands before its decimals."""
    return float(text.replace(",", "."))
