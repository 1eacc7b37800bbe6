"""Plain names of factor rows: what a key stands for, as a reader of a report would say it, in each language.

The names are the rows of ``rownames.csv`` beside this module, by patterns of keys; the open parts of a pattern are filled
with the names that ``names.csv`` of the factor tables has of an id, or the catalogue's.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from impact.base.catalogue import Names, read_names
from impact.base.language import message, spelled, spoken_in
from impact.base.printing import Printer
from impact.factors.keys import key_of
from impact.factors.rows import Factor

TABLE = Path(__file__).with_name("rownames.csv")
"""The patterns with their topic and their name in each language; the first that fits a key is its own."""

TOPICS = (
    message("fates"), message("paper"), message("recycling"), message("landfill"), message("incineration"),
    message("composting"), message("electricity"), message("binders"), message("making"), message("plastics"),
    message("transport"), message("warming"), message("other"),
)  # fmt: skip
"""The groups of factors, in the order in which a reader meets them."""

KINDS: Mapping[str, tuple[str, ...]] = {
    "waste": ("waste", "grade"),
    "ingredient": ("ingredient", "green", "grade", "binder"),
    "material": ("mould-material",),
    "site": ("landfill-site",),
}
"""Kinds of names that an open part may be of, the first that has it wins; of any other the kind is the part's own word."""


_AS_WRITTEN = ("polymer",)
"""Kinds of which an id that has no other name is one already."""


@dataclass(frozen=True, slots=True)
class RowName:
    """The name of all keys of one pattern.

    Attributes
    ----------
    pattern : str
        As of `impact.factors.keys.Key`, or a key itself.
    topic : str
        One of `TOPICS`.
    words : mapping of str to str
        The name by language, with the open parts of the pattern in braces.
    """

    pattern: str
    topic: str
    words: Mapping[str, str]


@cache
def row_names() -> tuple[RowName, ...]:
    """Return every row of the table."""
    with TABLE.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    return tuple(
        RowName(row["pattern"], row["topic"], {name: row[name] for name in row if name not in ("pattern", "topic")})
        for row in rows
    )


_OPEN_PART = re.compile(r"\\\{(\w+)\\\}")


@cache
def _expression(pattern: str) -> re.Pattern[str]:
    return re.compile(_OPEN_PART.sub(r"(?P<\1>[A-Za-z0-9-]+)", re.escape(pattern)))


@cache
def _named(key: str) -> tuple[RowName, dict[str, str]] | None:
    """Return the row that names a key, and what fills its open parts."""
    for name in row_names():
        fixed = name.pattern.partition("{")[0]
        if key.startswith(fixed):  # few do, and to read all patterns takes longer than to compare
            found = _expression(name.pattern).fullmatch(key)
            if found:
                return name, found.groupdict()
    return None


@cache
def _shipped() -> Names:
    return read_names()


def topic_of(row: Factor | str) -> str:
    """Return the group of `TOPICS` that a row belongs to; arguments as of `plain_name`."""
    found = _named(_key(row))
    return found[0].topic if found else TOPICS[-1]


def plain_name(row: Factor | str, language: str = "en", names: Names | None = None) -> str:
    """Return what a factor row is, in plain words: no id, no code of a country; its place stands beside it.

    Parameters
    ----------
    row : Factor or str
        A row of a factor table, a workshop's own too, or its key or id.
    language : str
        Language of the name; where the table has none of it, the English one stands.
    names : Names, optional
        Names of the ids, with those of a workshop's own binders; by default those that ship with the tables.

    Returns
    -------
    str
        Such as "Kraft paper: share that would have been recycled". A key of no pattern is named by its words.
    """
    key = _key(row)
    found = _named(key)
    if found is None:
        return _capital(_blanks(key.replace(".", ", ")))
    name, parts = found
    known = names or _shipped()
    words = {part: _word(known, part, text, language) for part, text in parts.items()}
    text = name.words.get(spoken_in(language)) or name.words["en"]
    return _capital(spelled(language, text).format(**words))


def _key(row: Factor | str) -> str:
    return key_of(row) if isinstance(row, str) else row.key


def _word(names: Names, part: str, name: str, language: str) -> str:
    """Return the name of what fills an open part; where no table has one, the id with blanks."""
    kinds = KINDS.get(part, (part,))
    said = next((kind for kind in kinds if names.knows(kind, name)), None)
    word = name if said is None else names.short(said, name, language)
    return _blanks(word) if word == name and said not in _AS_WRITTEN else word


def _blanks(name: str) -> str:
    return name.replace("-", " ").replace("_", " ")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def speaker_of(names: Names, parts: Iterable[str] = ()) -> Printer:
    """Return who says sentences where no reader is known, in the terminal and in JSON: English, a point, kilograms, plain names.

    Parameters
    ----------
    names : Names
        Of the ids, with those of a workshop's own binders.
    parts : iterable of str
        Names of all parts.
    """
    return Printer(us=False, names=names, rows=plain_name, parts=tuple(parts))
