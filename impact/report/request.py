"""What is asked of a report: its kind, its language, and the numbers and the part that it is asked about."""

from __future__ import annotations

from collections.abc import Mapping
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


def usual_language(kind: Kind, country: str) -> Spoken:
    """Return the best known language of a country that a kind of report is translated into; English where there is none.

    Parameters
    ----------
    kind : Kind
        Of the report.
    country : str
        Of the workshop (ISO 3166-1 alpha-3).
    """
    from impact.base.locale import country_name, language_name, languages_of

    known = languages_of(country)
    taken = next((name for name in known if name in kind.languages), "en")
    if taken == "en" and "en" in (known or ("en",)):
        return Spoken(taken)
    place = country_name(country, "en") or country
    if taken == "en":
        lacking = language_name(known[0])
        return Spoken(
            taken, f"the report is in English: that for {kind.whom} is not translated into {lacking} ({place})"
        )
    others = " or ".join(name for name in kind.languages if name != taken)
    why = f"the report is in {language_name(taken)}, an official language of the workshop's country ({place})"
    return Spoken(taken, f"{why}; --language {others} takes another")


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
