"""The languages of a report: one catalogue of translations for each but English, and the spelling of some countries."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, BinaryIO

from impact.base.places import templates_folder

AMERICAN = "en-US"
"""English as the United States spell it (BCP 47): the messages themselves, with other spellings."""

SWISS = "de-CH"
"""German as Switzerland and Liechtenstein spell it (BCP 47): without ß. From memory."""

COUNTRIES = {("en", "USA"): AMERICAN, ("de", "CHE"): SWISS, ("de", "LIE"): SWISS}
"""Languages with a spelling of their own in a country, by language and country (ISO 3166-1 alpha-3)."""

SPELLINGS = "spellings_us.csv"
"""Words of the messages as they are written and as the United States write them. Common practice, no source."""

_LITERAL = r"%\(\w+\)s|\{[^{}]*\}|<[^<>]*>|“[^”]*”|\[[^\[\]]*\]|\w+(?:[./]\w+)+"
"""What is no word of a message: names of facts, elements, and what people have to write just so."""


@cache
def american_spellings() -> dict[str, str]:
    """Return the words that the United States spell in another way, in small letters."""
    lines = Path(__file__).with_name(SPELLINGS).read_text(encoding="utf-8").splitlines()[1:]
    return dict(line.split(",", 1) for line in lines)


@cache
def _spelt() -> re.Pattern[str]:
    words = "|".join(sorted(american_spellings(), key=len, reverse=True))
    return re.compile(rf"{_LITERAL}|\b({words})\b", re.IGNORECASE)


@lru_cache(maxsize=4096)
def american(text: str) -> str:
    """Return a message as the United States spell it; names of facts, elements and what is quoted stay as they are."""

    def other(found: re.Match[str]) -> str:
        if found[1] is None:
            return found[0]
        word = american_spellings()[found[1].lower()]
        return word[0].upper() + word[1:] if found[1][0].isupper() else word

    return _spelt().sub(other, text)


def spelled(language: str, text: str) -> str:
    """Return a text of ours as its readers spell it: a message or a name, in the language of a catalogue."""
    if language == AMERICAN:
        return american(text)
    return text.replace("ß", "ss") if language == SWISS else text


def catalogue_of(language: str, country: str) -> str:
    """Return the language of a page in a country (ISO 3166-1 alpha-3)."""
    return COUNTRIES.get((language, country), language)


def spoken_in(language: str) -> str:
    """Return a language without its country. [ISO 639-1]"""
    return language.partition("-")[0]


@cache
def catalogue(language: str) -> dict[Any, Any]:
    """Return the translations of a language: the text of each message, or the texts of its singular and plural.

    Parameters
    ----------
    language : str
        A language with a file ``translations/LANGUAGE.po`` beside the templates; English has none and needs none.
    """
    if language == "en":
        return {}
    from babel.messages.pofile import read_po

    with (templates_folder() / "translations" / f"{language}.po").open("rb") as stream:
        return {message.id: message.string for message in read_po(stream, locale=language) if message.id}


def message(text: str) -> str:
    """Return a text as it is; marks it for the catalogues where it is written down and translated only later."""
    return text


def translate(language: str, text: str) -> str:
    """Return a message in a language, or as it is where the catalogue lacks it."""
    return spelled(language, str(catalogue(spoken_in(language)).get(text) or text))


def translate_all(language: str, messages: Mapping[str, str]) -> dict[str, str]:
    """Return messages in a language, by what they stand for; a blank stays blank."""
    return {name: translate(language, text) for name, text in messages.items()}


def translate_count(language: str, one: str, many: str, count: float) -> str:
    """Return the form of a message that goes with a number."""
    forms = catalogue(spoken_in(language)).get((one, many)) or (one, many)
    return spelled(language, str(forms[0] if count == 1 else forms[1]))


Found = tuple[int, str, str | tuple[str, str], list[str]]
"""Line, function, message (or singular and plural), comments: what Babel takes."""


def extract(stream: BinaryIO, keywords: object, comments: Sequence[str], options: Mapping[str, str]) -> Iterator[Found]:
    """Yield the messages of a table in CSV, as an extraction method of Babel.

    Parameters
    ----------
    stream : file
        The table.
    keywords, comments : object
        Not used.
    options : mapping of str to str
        ``columns``: those that hold messages, separated by blanks. ``one=many`` is a pair of singular and plural where the
        first is filled in.
    """
    rows = csv.DictReader(io.StringIO(stream.read().decode(), newline=""))
    for row in rows:
        for column in options["columns"].split():
            one, _, many = column.rpartition("=")
            if one and row[one]:
                yield rows.line_num, "ngettext", (row[one], row[many]), []
            elif row[many]:
                yield rows.line_num, "gettext", row[many], []
