"""How people spell: units by our own list, with the canonical one of each dimension and what is refused as ambiguous; names."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any, cast

from impact.base.problems import nearest

CANONICAL = {
    "mass": "kg", "energy": "kWh", "volume": "L", "length": "km", "time": "h", "power": "W", "life": "year", "force": "N",
    "span": "mm",
}  # fmt: skip


@cache
def _table() -> Mapping[str, Any]:
    """Return the spellings and what is ambiguous, as ``spellings.toml`` beside this module has them."""
    return tomllib.loads(Path(__file__).with_name("spellings.toml").read_text(encoding="utf-8"))


def spellings(dimension: str) -> Mapping[str, Sequence[str]]:
    """Return how people spell the units of a dimension, by the registry's name of each; the preferred spelling is first."""
    units: Mapping[str, Sequence[str]] = _table()["units"][dimension]
    return units


class UnitError(ValueError):
    """A text that is no amount in the wanted dimension.

    Attributes
    ----------
    reason : str
        What is wrong, without the place.
    read : str
        The text as it was read.
    accepted : str
        What would be accepted.
    code : str
        Stable name of the kind of problem (``unknown-unit``).
    """

    def __init__(self, reason: str, *, read: str, accepted: str, code: str) -> None:
        self.reason = reason
        self.read = read
        self.accepted = accepted
        self.code = code
        super().__init__(f'read "{read}": {reason}. Accepted: {accepted}.')


def fold(text: str) -> str:
    """Return a name as it is compared: lower case, with spaces, underscores and hyphens alike."""
    return re.sub(r"[\s_-]+", " ", text).strip().casefold()


def compared(text: str) -> str:
    """Return a word as synonyms are compared: as `fold`, without accents, points and slashes."""
    letters = unicodedata.normalize("NFKD", re.sub(r"[./]", "", text))
    return fold("".join(mark for mark in letters if not unicodedata.combining(mark)))


def _fold_unit(text: str) -> str:
    return re.sub(r"\s+", " ", text).strip().rstrip(".").rstrip().casefold()


@cache
def _lookup(dimension: str) -> dict[str, str]:
    return {_fold_unit(word): unit for unit, words in spellings(dimension).items() for word in words}


def is_unit(text: str) -> bool:
    """Return whether a text is the spelling of any unit, or per cent; a spelling that is ambiguous too."""
    folded = _fold_unit(text)
    return folded == "%" or any(folded in _lookup(one) or _doubt(text.strip(), one) for one in CANONICAL)


def accepted_units(dimension: str) -> str:
    """Return the preferred spelling of every unit of a dimension, as one line."""
    return ", ".join(words[0] for words in spellings(dimension).values())


def _doubt(written: str, dimension: str) -> Mapping[str, str] | None:
    folded = _fold_unit(written)
    for doubt in _table()["ambiguous"]:
        known = doubt.get("dimension", dimension) == dimension
        if known and (written if doubt.get("exact") else folded) in doubt["spellings"]:
            return cast(Mapping[str, str], doubt)
    return None


@cache
def unit_name(text: str, dimension: str) -> str:
    """Return the registry's name of a unit as somebody spelt it.

    Parameters
    ----------
    text : str
        The unit as written (``kgs``, ``KWH``, ``lb.``).
    dimension : str
        One of the keys of `CANONICAL`.

    Raises
    ------
    UnitError
        The spelling is ambiguous, of another dimension, or not on the list.
    """
    written = text.strip()
    folded = _fold_unit(written)
    if doubt := _doubt(written, dimension):
        reason = f'the unit "{written}" is ambiguous ({doubt["question"]})'
        raise UnitError(reason, read=text, accepted=doubt["accepted"], code="ambiguous-unit")
    known = _lookup(dimension)
    if folded in known:
        return known[folded]
    others = [other for other in CANONICAL if folded in _lookup(other)]
    accepted = accepted_units(dimension)
    if others:
        reason = f'"{written}" is a unit of {others[0]}, not of {dimension}'
        raise UnitError(reason, read=text, accepted=accepted, code="wrong-dimension")
    near = nearest(folded, known)
    hint = f' (did you mean "{spellings(dimension)[known[near]][0]}"?)' if near else ""
    reason = f'"{written}" is not a known unit of {dimension}'
    raise UnitError(reason, read=text, accepted=accepted + hint, code="unknown-unit")


_JOINED = re.compile(r"(?<=[^\W\d_])[-_]+(?=[^\W\d_])")


def shown(part: str, among: Iterable[str] = ()) -> str:
    """Return the name of a part as a reader would write it: "tool-tray" as "tool tray".

    Parameters
    ----------
    part : str
        As the records have it.
    among : iterable of str
        All parts of the page; where two would look alike, each stays as it was typed.
    """
    text = _JOINED.sub(" ", part)
    alike = {fold(_JOINED.sub(" ", one)) for one in among if one != part}
    return part if fold(text) in alike else text
