"""The languages of a report: one catalogue of translations for each but English."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from impact.base.places import templates_folder


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
    return str(catalogue(language).get(text) or text)


def translate_all(language: str, messages: Mapping[str, str]) -> dict[str, str]:
    """Return messages in a language, by what they stand for; a blank stays blank."""
    return {name: translate(language, text) for name, text in messages.items()}


def translate_count(language: str, one: str, many: str, count: float) -> str:
    """Return the form of a message that goes with a number."""
    forms = catalogue(language).get((one, many)) or (one, many)
    return str(forms[0] if count == 1 else forms[1])
