"""How a country writes numbers and dates, and its paper size."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import TYPE_CHECKING

from impact.base.spellings import compared

if TYPE_CHECKING:
    from babel import Locale

LETTER_COUNTRIES = (
    "BLZ", "CAN", "CHL", "COL", "CRI", "GTM", "MEX", "NIC", "PAN", "PHL", "PRI", "SLV", "USA", "VEN",
)  # fmt: skip
"""Countries whose paper is US Letter (Unicode CLDR, supplemental data on measurement, from memory); A4 elsewhere."""

NARROW_BLANK = "\u202f"

HALF = 50.0
"""Share of a country's people that has to know a language for it to be taken for theirs. A choice of ours. [%]"""


@dataclass(frozen=True, slots=True)
class Marks:
    """Marks inside a number: before the decimals, and between groups of three digits."""

    decimal: str = "."
    group: str = NARROW_BLANK


@cache
def _territory(country: str) -> str:
    """Return the two-letter code of a three-letter one (ISO 3166-1), by the aliases of Unicode CLDR."""
    from babel.core import get_global

    return str(get_global("territory_aliases").get(country, [country])[0]).upper()


@cache
def _locale(country: str, language: str) -> Locale | None:
    from babel import Locale
    from babel.core import UnknownLocaleError

    try:
        return Locale(language, territory=_territory(country))
    except (UnknownLocaleError, ValueError):
        return None


@cache
def _number_locale(country: str, language: str) -> Locale | None:
    """Return the locale of a language in a country; of an official language of the country where there is one."""
    from babel.languages import get_official_languages

    official = [name.split("_")[0] for name in get_official_languages(_territory(country), de_facto=True)]
    found = (
        _locale(country, name)
        for name in sorted((*official, language), key=lambda name: name != language or name not in official)
    )
    return next((locale for locale in found if locale is not None), None)


@cache
def marks(country: str, language: str = "en") -> Marks:
    """Return the marks of a number as a country writes them.

    Parameters
    ----------
    country : str
        ISO 3166-1 alpha-3 code; one without data gets a point and narrow blanks (ISO 80000-1).
    language : str
        Language of the text around the number.
    """
    from babel.numbers import get_decimal_symbol, get_group_symbol

    locale = _number_locale(country, language)
    if locale is None:
        return Marks()
    group = get_group_symbol(locale, numbering_system="latn")
    unclear = group.isspace() or group == "."  # a point between groups misleads readers of English
    return Marks(get_decimal_symbol(locale, numbering_system="latn"), NARROW_BLANK if unclear else group)


def long_date(day: date, country: str, language: str = "en") -> str:
    """Return a date in words, in the order of a country."""
    from babel import Locale
    from babel.dates import format_date

    locale = _locale(country, language) or Locale.parse("en_001" if language == "en" else language)
    return format_date(day, "long", locale=locale)


def paper_size(country: str) -> str:
    """Return the paper size of a country, as style sheets name it."""
    return "letter" if country in LETTER_COUNTRIES else "A4"


LANGUAGES = ("en", "es", "de", "fr", "it", "nl", "pt")
"""Languages in which the name of a country is understood. A choice of ours."""


@cache
def _called() -> Mapping[str, tuple[str, ...]]:
    from babel import Locale

    found: dict[str, tuple[str, ...]] = {}
    for language in LANGUAGES:
        for code, name in Locale(language).territories.items():
            found[compared(name)] = tuple(dict.fromkeys((*found.get(compared(name), ()), code)))
    return found


def countries_called(name: str) -> tuple[str, ...]:
    """Return the codes (ISO 3166-1 alpha-2) of the territories that have a name in one of the `LANGUAGES`, by Unicode CLDR."""
    return _called().get(compared(name), ())


@cache
def languages_of(country: str) -> tuple[str, ...]:
    """Return the languages of a country (ISO 3166-1 alpha-3), the best known first (ISO 639).

    They are those that are official in all of it and that at least `HALF` of its people know, both by Unicode CLDR; a country
    without such data has none.
    """
    from babel.languages import get_official_languages, get_territory_language_info

    known = get_territory_language_info(_territory(country))
    official = get_official_languages(_territory(country), de_facto=True)
    return tuple(name.partition("_")[0] for name in official if float(known[name]["population_percent"] or 0.0) >= HALF)


def language_name(language: str) -> str:
    """Return the English name of a language (ISO 639), by Unicode CLDR; the code where it has none."""
    from babel import Locale

    return str(Locale("en").languages.get(language, language))


def country_name(country: str, language: str) -> str:
    """Return the name of a country (ISO 3166-1 alpha-3) in a language, by Unicode CLDR; blank where it has none."""
    from babel import Locale

    return str(Locale(language).territories.get(_territory(country), ""))


VARIABLES = ("LC_ALL", "LANG")
"""Variables that may name a territory, the strongest first."""


@dataclass(frozen=True, slots=True)
class Territory:
    """A country and where it was found.

    Attributes
    ----------
    country : str
        ISO 3166-1 alpha-3.
    found_in : str
        The setting that names it, such as ``LANG=de_DE.UTF-8``.
    """

    country: str
    found_in: str


def territory(environment: Mapping[str, str], codes: Mapping[str, str]) -> Territory | None:
    """Return the country of the system's language settings; None where they name none that is known.

    Parameters
    ----------
    environment : mapping of str to str
        Variables of the system.
    codes : mapping of str to str
        Countries by their two letters (ISO 3166-1 alpha-2).
    """
    name = next((name for name in VARIABLES if environment.get(name)), None)
    if name is None:
        return None
    match = re.fullmatch(r"[a-z]{2,3}_([A-Z]{2})(?:[.@][A-Za-z0-9.@_-]*)?", environment[name])
    country = codes.get(match[1]) if match else None
    return None if country is None else Territory(country, f"{name}={environment[name]}")
