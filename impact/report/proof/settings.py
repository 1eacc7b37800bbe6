"""The settings that a report carries, read as what a stranger wrote: every key, type and bound, and nothing besides."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StrictBool, ValidationError, model_validator

from impact.base.problems import shown
from impact.report.evidence import SETTINGS
from impact.report.kinds import KINDS, MOST_WORKSHOPS, TOGETHER
from impact.report.production import BELOW, LIBRARIES, MOST_DRAWS, SCHEMA, Narrowing, Roof
from impact.report.proof.carried import NoReportError
from impact.report.request import Request

_VERSION = re.compile(r"\d{1,6}(\.\d{1,6}){0,4}((a|b|rc|\.post|\.dev)\d{1,6}){0,3}(\.zlib-ng)?")
"""A version as the public part of PEP 440 has it, and as one library under another name does."""

_FAULTS = 5
"""Most faults that one line names."""


def _one_of(*words: str) -> AfterValidator:
    def checked(text: str) -> str:
        if text not in words:
            raise ValueError(f"accepted: {', '.join(words)}")
        return text

    return AfterValidator(checked)


def _version(text: str) -> str:
    if not _VERSION.fullmatch(text):
        raise ValueError("accepted: a version such as 1.26.4")
    return text


def _name(text: str) -> str:
    if not 0 < len(text) <= 200 or not text.isprintable():
        raise ValueError("accepted: a name in up to 200 letters")
    return text


def _day(text: str) -> str:
    if not re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        raise ValueError("accepted: a day such as 2026-03-31")
    date.fromisoformat(text)
    return text


Version = Annotated[str, AfterValidator(_version)]
Name = Annotated[str, AfterValidator(_name)]
Day = Annotated[str, AfterValidator(_day)]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class _Report(_Strict):
    reader: Annotated[str, _one_of(*KINDS)]
    language: str
    part: Name | None = None
    leave_out: Annotated[list[Annotated[str, _one_of("notes", "people")]], Field(max_length=2)]
    brief: StrictBool = False

    @model_validator(mode="after")
    def _translated(self) -> _Report:
        languages = KINDS[self.reader].languages
        if self.language not in languages:
            raise ValueError(f"language = {self.language!r}; accepted: {', '.join(languages)}")
        if self.part is not None and not KINDS[self.reader].one_part:
            raise ValueError("part names one in a report that is not of one part; accepted: none")
        return self


class _Counted(_Strict):
    seed: Annotated[int, Field(ge=0, lt=2**64)]
    draws: Annotated[int, Field(ge=100, le=MOST_DRAWS)]
    first_day: Day | None = None
    last_day: Day | None = None
    part: Name | None = None
    site: Name | None = None
    grant: Name | None = None
    beside_first_day: Day | None = None
    beside_last_day: Day | None = None

    @model_validator(mode="after")
    def _whole(self) -> _Counted:
        for prefix in ("", "beside_"):
            first, last = (getattr(self, f"{prefix}{end}_day") for end in ("first", "last"))
            if (first is None) != (last is None) or (first or "") > (last or ""):
                names = f"{prefix}first_day and {prefix}last_day"
                raise ValueError(f"{names} are no period; accepted: both, in their order, or none")
        return self

    def narrowing(self) -> Narrowing:
        """Return what was counted."""
        found = self.model_dump()
        days = ((found.pop(f"{prefix}first_day"), found.pop(f"{prefix}last_day")) for prefix in ("", "beside_"))
        period, beside = (
            (date.fromisoformat(first), date.fromisoformat(last)) if first else None for first, last in days
        )
        return Narrowing(**found, period=period, beside=beside)


def _folder(text: str) -> str:
    if not 0 < len(text) <= 200 or not text.isprintable() or set(text) & set("/\\") or not text.strip("."):
        raise ValueError("accepted: the name of a folder in up to 200 letters")
    return text


FolderName = Annotated[str, AfterValidator(_folder)]


class _Programme(_Strict):
    name: FolderName
    sites: Annotated[list[FolderName], Field(min_length=1, max_length=MOST_WORKSHOPS)]

    @model_validator(mode="after")
    def _ordered(self) -> _Programme:
        if self.sites != sorted(set(self.sites)):
            raise ValueError("sites are not in order, or one stands twice; accepted: each once, by name")
        return self


class Settings(_Strict):
    """What makes a report again.

    Attributes
    ----------
    form : str
        Name and version of this form, the key ``schema``.
    version : str
        Version of the program.
    report, counted : table
        What was asked for; what of the records was counted, seed and draws.
    programme : table or None
        Name of a folder of workshops and those of their folders, where there are several.
    own_template : bool
        Whether the pages were laid out by a template of the workshop's own.
    asked : mapping of str to int
        The number to each question of the kind. [1]
    libraries : mapping of str to str
        Versions of the libraries.
    """

    form: Literal["impact-settings/1"] = Field(alias="schema")
    version: Version
    report: _Report
    programme: _Programme | None = None
    own_template: StrictBool
    asked: dict[str, int]
    counted: _Counted
    libraries: dict[str, Version]

    @model_validator(mode="after")
    def _known(self) -> Settings:
        kind = KINDS[self.report.reader]
        names = [question.name for question in kind.questions]
        if list(self.asked) != names:
            raise ValueError(f"asked has other questions than a report for {kind.name}; accepted: {names}")
        kind.answers(self.asked)
        if self.counted.beside_first_day is not None and not kind.granted:
            raise ValueError(f"a report for {kind.name} has no other period beside its own; accepted: none")
        known = sorted((*LIBRARIES, *BELOW))
        if self.programme and (self.report.reader != TOGETHER or self.own_template or self.counted.beside_first_day):
            raise ValueError(f"programme has a report for {TOGETHER} alone, by our template and without another period")
        unknown = sorted({*self.libraries} - {*known})
        if unknown:
            raise ValueError(f"libraries names {shown(unknown[0], 40)}; accepted: {', '.join(known)}")
        return self

    def request(self) -> tuple[Request, Narrowing]:
        """Return what `impact.report.production.settings_of` wrote as what it was made from, without any template."""
        asked = self.report
        leave_out = tuple(asked.leave_out)
        request = Request(asked.reader, asked.language, asked.part, leave_out, dict(self.asked), None, asked.brief)
        roof = Roof(self.programme.name, tuple(self.programme.sites)) if self.programme else None
        return request, replace(self.counted.narrowing(), roof=roof)


def read_settings(files: Mapping[str, bytes]) -> Settings:
    """Return the settings that a report carries.

    Raises
    ------
    NoReportError
        When there are none, or anything in them is not as said here; one line names the first faults.
    """
    try:
        found = tomllib.loads(files[SETTINGS].decode())
    except KeyError:
        raise NoReportError(f"the PDF carries no {SETTINGS}, so it is no report that can be verified") from None
    except (ValueError, RecursionError) as error:
        raise NoReportError(f"the attached {SETTINGS} cannot be read: {shown(str(error), 200)}") from None
    if found.get("schema") != SCHEMA:
        said = shown(str(found.get("schema")), 60)
        raise NoReportError(f"the attached {SETTINGS} is of the form {said}; accepted: {SCHEMA}")
    try:
        return Settings.model_validate(found)
    except ValidationError as error:
        faults = [_fault(one) for one in error.errors(include_url=False, include_context=False)[:_FAULTS]]
        more = error.error_count() - len(faults)
        faults += [f"and {more} more"] * (more > 0)
        raise NoReportError(f"the attached {SETTINGS} cannot be used: {'; '.join(faults)}") from None


_WORDS = (
    (r"^Value error, ", ""),
    (r"^Input should be ", "accepted: "),
    (r"^(Extra inputs are not permitted|Keys? should.*)$", "no key of a report"),
    (r"^Field required$", "this key is missing"),
)


def _fault(error: Any) -> str:
    """Return one fault in words: the key, what was read, what would be accepted."""
    key, words = shown(".".join(map(str, error["loc"])), 80), error["msg"]
    for pattern, ours in _WORDS:
        words = re.sub(pattern, ours, words)
    try:
        read = "" if isinstance(error["input"], dict) else f' read "{shown(str(error["input"]), 40)}":'
    except ValueError:
        read = " read a number of thousands of digits:"
    return f"{key}:{read} {shown(words, 160)}" if key else shown(words, 160)
