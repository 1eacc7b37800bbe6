"""The keys under which the calculation asks the factor tables for a number.

A factor row's id is its key, with the geography and the edition appended where several rows share
the key: ``electricity.direct/US-CAMX``, ``polymer.formed.PP/GBR/2025``. Each key belongs to one
pattern below, which fixes the canonical unit, what the number means, and where it is used.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from impact.base.problems import nearest

TABLE = Path(__file__).with_name("keys.csv")
"""The patterns: what the calculation asks for, which no factor table can add to."""


@dataclass(frozen=True, slots=True)
class Key:
    """One pattern of keys.

    Attributes
    ----------
    pattern : str
        The key, with ``{name}`` for the end of a word that is open: an id of the catalogue (a grade, a binder …).
    unit : str
        Canonical unit; a row may use any unit of the same dimension.
    meaning : str
        What the number is.
    used : str
        Where the calculation uses it.
    share : bool
        True for fractions, which must lie between 0 and 1.
    bound : {"", "above 0", "below 1"}
        What a value must be besides: above 0 where something is divided by it, or its thing cannot be 0; below 1 where
        something is divided by what is left of it.
    """

    pattern: str
    unit: str
    meaning: str
    used: str
    share: bool
    bound: str


@cache
def keys() -> tuple[Key, ...]:
    """Return every pattern, as ``keys.csv`` beside this module lists them; the first that fits a key is its own."""
    with TABLE.open(encoding="utf-8", newline="") as stream:
        return tuple(
            Key(row["pattern"], row["unit"], row["meaning"], row["used"], row["share"] == "yes", row["bound"])
            for row in csv.DictReader(stream)
        )


_NAME = re.compile(r"[A-Za-z0-9-]+")
"""What an open part of a pattern may be filled with."""


@cache
def _by_shape() -> dict[tuple[str, int], list[tuple[list[str], Key]]]:
    """Return the words of every pattern, by its first word, which is never open, and the number of its words."""
    found: dict[tuple[str, int], list[tuple[list[str], Key]]] = {}
    for key in keys():
        words = key.pattern.split(".")
        found.setdefault((words[0], len(words)), []).append((words, key))
    return found


def _fits(written: Sequence[str], pattern: Sequence[str]) -> bool:
    """Return whether the words of a key are those of a pattern of as many, its open ones filled."""
    for word, known in zip(written, pattern, strict=True):
        start, brace, _ = known.partition("{")
        if not (word.startswith(start) and _NAME.fullmatch(word[len(start) :]) if brace else word == known):
            return False
    return True


def key_of(factor_id: str) -> str:
    """Return the key part of a factor id (``polymer.formed.PP/GBR/2025`` gives ``polymer.formed.PP``)."""
    return factor_id.split("/", 1)[0]


@cache
def pattern_of(key: str) -> Key | None:
    """Return the pattern that `key` belongs to, or None when the calculation knows no such key."""
    words = key.split(".")
    patterns = _by_shape().get((words[0], len(words)), [])
    return next((candidate for pattern, candidate in patterns if _fits(words, pattern)), None)


def nearest_pattern(key: str) -> str | None:
    """Return the pattern spelt most like `key`, its open parts filled from the key; None when nothing is close."""
    parts = key.split(".")
    filled = {}
    for known in keys():
        words = known.pattern.split(".")
        if len(words) == len(parts):
            pairs = zip(words, parts, strict=True)
            filled[".".join(part if "{" in word else word for word, part in pairs)] = known.pattern
    near = nearest(key, filled)
    return None if near is None else near if pattern_of(near) else filled[near]
