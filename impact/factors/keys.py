"""The keys under which the calculation asks the factor tables for a number.

A factor row's id is its key, with the geography and the edition appended where several rows share
the key: ``electricity.direct/US-CAMX``, ``polymer.formed.PP/GBR/2025``. Each key belongs to one
pattern below, which fixes the canonical unit, what the number means, and where it is used.
"""

from __future__ import annotations

import csv
import re
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


@cache
def _patterns() -> re.Pattern[str]:
    """Return an expression with a group for each pattern, in their order; letters, digits and hyphens fill open parts."""
    fixed = (re.split(r"\{[^}]*\}", key.pattern) for key in keys())
    return re.compile("|".join(f"({'[A-Za-z0-9-]+'.join(map(re.escape, parts))})" for parts in fixed))


def key_of(factor_id: str) -> str:
    """Return the key part of a factor id (``polymer.formed.PP/GBR/2025`` gives ``polymer.formed.PP``)."""
    return factor_id.split("/", 1)[0]


@cache
def pattern_of(key: str) -> Key | None:
    """Return the pattern that `key` belongs to, or None when the calculation knows no such key."""
    found = _patterns().fullmatch(key)
    return keys()[found.lastindex - 1] if found and found.lastindex else None


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
