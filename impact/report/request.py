"""What is asked of a report: its kind, its language, and the numbers and the part that it is asked about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from impact.report.kinds import KINDS, Kind

if TYPE_CHECKING:
    from impact.study import Study


class NothingToSayError(Exception):
    """Raised when the records cannot fill this kind of report; the text is the one line to print."""


@dataclass(frozen=True, slots=True)
class Request:
    """One report.

    Attributes
    ----------
    reader : str
        Name of its kind, see `impact.report.kinds.KINDS`.
    language : str
        See `impact.report.kinds.LANGUAGES`.
    part : str or None
        Part of a report on one part; None takes the one with the most good parts.
    leave_out : tuple of str
        Columns of the batches that may tell of people and stay out of the attached records: ``notes``, ``people``.
    asked : mapping of str to int
        Numbers that were given to the questions of its kind.
    template : str or None
        Text of a template of the workshop's own in place of the one for the reader.
    brief : bool
        Whether the first page is all that is laid out; figures and records are those of the whole report.
    """

    reader: str = next(iter(KINDS))
    language: str = "en"
    part: str | None = None
    leave_out: tuple[str, ...] = ("notes",)
    asked: Mapping[str, int] = field(default_factory=dict)
    template: str | None = None
    brief: bool = False

    @property
    def kind(self) -> Kind:
        """Return the kind that is asked for.

        Raises
        ------
        KeyError
            When there is none of this name.
        """
        return KINDS[self.reader]

    @property
    def answers(self) -> dict[str, int]:
        """Return the number to each question of the kind. [1]"""
        return self.kind.answers(self.asked)


@dataclass(frozen=True, slots=True)
class Spoken:
    """The language of a report where none is asked for, and why it is, in a line; no reason where nothing else is expected."""

    language: str
    sentence: str | None = None


def usual_language(countries: Sequence[str], languages: Sequence[str], whom: str) -> Spoken:
    """Return the best known language of the workshops' countries that a report has; English where that is none, or not one.

    Parameters
    ----------
    countries : sequence of str
        Of each workshop (ISO 3166-1 alpha-3), one at least.
    languages : sequence of str
        Languages that the report has whole (ISO 639-1).
    whom : str
        Whom it is for.
    """
    from impact.base.locale import country_name, language_name, languages_of

    taken = {country: next((one for one in languages_of(country) if one in languages), "en") for country in countries}
    places = ", ".join(country_name(country, "en") or country for country in taken)
    if len(set(taken.values())) > 1:
        return Spoken("en", f"the report is in English: the countries of the workshops differ in language ({places})")
    (language,) = set(taken.values())
    if language != "en":
        others = " or ".join(name for name in languages if name != language)
        why = f"the report is in {language_name(language)}, an official language of the workshop's country ({places})"
        return Spoken(language, f"{why}; --language {others} takes another")
    foreign = {country: known[0] for country in taken if (known := languages_of(country)) and "en" not in known}
    if not foreign:
        return Spoken("en")
    lacking = " or ".join(dict.fromkeys(language_name(name) for name in foreign.values()))
    places = ", ".join(country_name(country, "en") for country in foreign)
    return Spoken("en", f"the report is in English: that for {whom} is not translated into {lacking} ({places})")


def part_of(results: Study, request: Request) -> str:
    """Return the part that a report is on: the one asked for, else the one with the most good parts.

    Parameters
    ----------
    results : Study
        For the parts that batches make.
    request : Request
        Its part may be spelt in any case, and with blanks.

    Raises
    ------
    NothingToSayError
        When no batch makes the part asked for.
    """
    from impact.base.problems import choices, shown
    from impact.base.spellings import fold

    wanted = request.part
    if wanted is None:
        return max(results.parts, key=lambda part: part.good).part
    known = {fold(part.part): part.part for part in results.parts}
    if fold(wanted) not in known:
        accepted = choices(wanted, known.values())
        raise NothingToSayError(f'read "{shown(wanted, 80)}": no batch makes this part; accepted: {accepted}')
    return known[fold(wanted)]
