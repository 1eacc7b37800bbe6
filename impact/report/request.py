"""What is asked of a report: whom it is for, in which language, and what a school or a choice is asked about."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any, Literal

Reader = Literal["funder", "school", "binder"]


@dataclass(frozen=True, slots=True)
class Term:
    """The sessions of one school term: how many, pupils in each, parts that each pupil presses."""

    sessions: int = 10
    people: int = 12
    parts_per_person: int = 1


@dataclass(frozen=True, slots=True)
class Request:
    """One report.

    Attributes
    ----------
    reader : {"funder", "school", "binder"}
        Whom it is for.
    language : str
        See `impact.base.locale.LANGUAGES`.
    part : str or None
        Part of a school's sessions or of a choice of binder; None takes the one with the most good parts.
    leave_out : tuple of str
        Columns of the batches that may tell of people and stay out of the attached records: ``notes``, ``people``.
    term : Term
        For a school.
    template : str or None
        Text of a template of the workshop's own in place of the one for the reader.
    """

    reader: Reader = "funder"
    language: str = "en"
    part: str | None = None
    leave_out: tuple[str, ...] = ("notes",)
    term: Term = field(default=Term())
    template: str | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return the request as plain values."""
        return {name: value for name, value in asdict(self).items() if value is not None}


class NothingToSayError(Exception):
    """Raised when the records cannot fill this kind of report; the text is the one line to print."""
