"""A new folder made by ten questions, one a screen: why it is asked, and a default that is said to be one.

What was answered is kept by the running program until the folder is made, so that going back, a reload or another device
loses nothing. Each screen is read by the readers of the settings before the next is shown.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from secrets import token_urlsafe
from typing import TYPE_CHECKING, cast

from flask import Blueprint, current_app, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as Answer

from impact.base.catalogue import Names, read_names
from impact.base.files import OutputError, passing_folder, write
from impact.base.problems import Problem, errors
from impact.browser.entering import now_text
from impact.browser.guards import RefusedError, say
from impact.browser.journal import Entry
from impact.browser.logtable import FILE as BATCHES
from impact.browser.logtable import new_table
from impact.browser.pages import Page
from impact.browser.served import served
from impact.browser.setup.asked import KNOWN, QUESTIONS, STANDS, Question, fields_of
from impact.browser.setup.fields import joined, value_of
from impact.browser.setup.partlist import parts_file
from impact.browser.setup.tables import Filled, confirmable
from impact.browser.setup.tomltext import Change, changed, name_fault, noted
from impact.browser.setup.writer import placed
from impact.records.new import Starter, StarterError, check_new, settings_text
from impact.records.parts import column_meant
from impact.records.workshop_file import read_workshop

if TYPE_CHECKING:
    from impact.browser.setup.fields import Field
    from impact.records.workshop import Units

EXTENSION = "impact-questions"
NOTE = "a default of the first questions: put your own figure here"
blueprint = Blueprint("questions", __name__)
PAGE = Page("", "/begin", blueprint, first=True)

Place = tuple[str, str]
"""A question and a field of it."""


@dataclass
class Answers:
    """What was typed so far, by question and field: the text and its unit."""

    typed: dict[Place, tuple[str, str]] = field(default_factory=dict)

    def us(self) -> bool:
        """Return whether US customary units come first."""
        country = self.typed.get(("where", "country"), ("", ""))[0]
        return (self.typed.get(("where", "units"), ("", ""))[0] or ("us" if country == "USA" else "metric")) == "us"


@dataclass(frozen=True)
class Draft:
    """The folder as the answers and, where there is none, the defaults make it.

    Attributes
    ----------
    text, parts : str, bytes
        ``workshop.toml`` and ``parts.csv``.
    keys, columns : mapping
        Which field each key and column comes from.
    """

    text: str
    parts: bytes
    keys: Mapping[tuple[str, ...], Place]
    columns: Mapping[str, Place]

    def problems(self, names: Names) -> list[Problem]:
        """Return what the readers find in it."""
        with passing_folder() as place:
            folder = place / "folder"
            folder.mkdir()
            (folder / "workshop.toml").write_text(self.text, encoding="utf-8")
            (folder / "parts.csv").write_bytes(self.parts)
            return read_workshop(folder, names)[1]

    def places(self) -> list[Place]:
        """Return every field that stands in it."""
        return list(dict.fromkeys([*self.columns.values(), *self.keys.values()]))

    def place_of(self, problem: Problem) -> Place | None:
        """Return the field that a problem is about; of a table as a whole, its question with a blank field."""
        path = placed(problem)
        if path is None:
            return self.columns.get(column_meant(problem.column or "") or "")
        if path in self.keys:
            return self.keys[path]
        return next(((place[0], "") for key, place in self.keys.items() if key[: len(path)] == path), None)


class Asking:
    """The questions with what was answered, or stands there as a default."""

    def __init__(self, answers: Answers) -> None:
        self.answers, self.names = answers, read_names()
        self.fields = fields_of(self.names, us=answers.us())

    def fields_of(self, question: Question) -> list[Field]:
        """Return the fields of a question."""
        return [self.fields[question.name, one] for one in question.fields]

    def stands(self, place: Place) -> tuple[str, str]:
        """Return what stands in a field: what was typed, else its default."""
        return self.answers.typed.get(place) or self.default(place)

    def default(self, place: Place) -> tuple[str, str]:
        """Return the default of a field and its unit."""
        one = self.fields[place]
        question = next(question for question in QUESTIONS if question.name == place[0])
        unit = one.units[0] if one.units else ""
        found = question.fields[place[1]]
        if place == ("where", "name"):
            return served().path.resolve().name, ""
        if place == ("where", "country"):
            return self._country(), ""
        if place == ("where", "units"):
            return ("us" if self.answers.us() else "metric"), ""
        if isinstance(found, tuple):
            return found[self.answers.us()], unit
        return found, unit

    def _country(self) -> str:
        from impact.base.locale import territory

        found = territory(os.environ, self.names.country_codes)
        return found.country if found else ""

    def text(self, question: str, key: str) -> str:
        """Return what stands in a field as the text of a cell."""
        place = (question, key)
        typed, unit = self.stands(place)
        return joined(self.fields[place], typed, unit)

    # -- the folder ----------------------------------------------------------------------------------------------------

    def draft(self) -> Draft:
        """Return the folder that the answers make."""
        keys: dict[tuple[str, ...], Place] = {}
        changes = []
        for path, place in self._keys():
            value = value_of(self.fields[place], *self.stands(place))
            if value is not None:
                keys[path] = place
                changes.append(Change(path, value))
        country = self.text("where", "country") or "USA"
        units: Units = "us" if self.answers.us() else "metric"
        known = country if country in self.names.countries else "USA"
        start = settings_text(Starter("", known, "the first question", units), self.names)
        examples = [Change(path, None) for path in (("equipment", "blender"), ("moulds", "example-mould"))]
        invented = [Change(("workshop", "invented"), None)]
        if self.text("purpose", "purpose") == "trial":
            invented.append(Change(("workshop", "invented"), True))
        text = changed(start, [*examples, *invented, *changes])
        defaults = [path for path, place in keys.items() if place not in self.answers.typed and self.weighed(place)]
        columns = {column: place for column, place in self._columns() if self.text(*place)}
        row = {column: self.text(*place) for column, place in columns.items()}
        row |= {"equivalence": "measured"} if self.text("plastic", "stands") == STANDS else {}
        return Draft(
            noted(text, defaults, NOTE), parts_file({**row, "wet use": "no", "mould": self._mould}), keys, columns
        )

    def weighed(self, place: Place) -> bool:
        """Return whether a field is an amount or a count, which a default only stands in for."""
        return self.fields[place].kind in ("amount", "number", "share")

    @property
    def _mould(self) -> str:
        return self.text("mould", "name")

    def _keys(self) -> Iterator[tuple[tuple[str, ...], Place]]:
        """Yield each key of ``workshop.toml`` with the field that it comes from."""
        for key in ("name", "country", "units"):
            yield ("workshop", key), ("where", key)
        for key in ("material", "mass", "pressings"):
            yield ("moulds", self._mould, key), ("mould", key)
        for question in ("blending", "drying"):
            device = self.text(question, "name")
            if device and self.text(question, "power"):
                yield ("equipment", device, "power"), (question, "power")
        for key in ("dryer", "heated_room"):
            yield ("drying", key), ("drying", key)
        for question, table in (("paper", ("fates", self.text("paper", "grade"))), ("end", ("end_of_life",))):
            if self.text(question, "known") == KNOWN:
                for key in ("landfill", "incineration", "recycling", "composting", "evidence"):
                    yield (*table, key), (question, key)
        if self.text("purpose", "purpose") == "school":
            yield ("workshop", "audience"), ("purpose", "purpose")

    def _columns(self) -> Iterator[tuple[str, Place]]:
        """Yield each column of the list of parts with the field that it comes from."""
        yield "part", ("part", "name")
        for key in ("mass", "service life"):
            yield key, ("part", key)
        if self.text("plastic", "stands") == STANDS:
            for key in ("plastic polymer", "plastic process", "plastic mass", "plastic service life"):
                yield key, ("plastic", key)

    def refused(self, question: Question) -> list[tuple[str, Problem]]:
        """Return what is wrong with the answers to a question, each with the key of its field."""
        found = []
        for key in question.fields:
            if (
                key == "name"
                and question.name != "where"
                and (self.text(question.name, key) or question.name != "drying")
            ):
                reason = name_fault(self.text(question.name, key))
                blank = question.name == "blending" and not self.text(question.name, key)
                if reason and not blank:
                    found.append(
                        (key, Problem("bad-name", "workshop.toml", reason, read=self.text(question.name, key)))
                    )
        if found:
            return found
        draft = self.draft()
        placed_at = [(draft.place_of(problem), problem) for problem in errors(draft.problems(self.names))]
        mine = [(place[1], problem) for place, problem in placed_at if place and place[0] == question.name]
        missing = {("where", "country"): "the country is missing", ("part", "name"): "a name is missing"}
        for (name, key), reason in missing.items():
            if name == question.name and not self.text(name, key) and key not in dict(mine):
                mine.append((key, Problem("missing-key", "workshop.toml", reason, accepted="an answer")))
        return mine


def _asking() -> Asking:
    return Asking(cast(Answers, current_app.extensions.setdefault(EXTENSION, Answers())))


@blueprint.get("")
def begin() -> Answer | str:
    """Say what will happen, and lead to the first question."""
    try:
        check_new(served().path)
    except StarterError as error:
        raise RefusedError(409, f"{error}.") from None
    return render_template("begin.html", folder=str(served().path.resolve()), count=len(QUESTIONS))


def _question(number: int) -> Question:
    if not 1 <= number <= len(QUESTIONS):
        raise RefusedError(404, "There is no such question.")
    if served().exists:
        raise RefusedError(409, "The folder is made already. Everything can be changed under Set-up.")
    return QUESTIONS[number - 1]


@blueprint.get("/<int:number>")
def ask(number: int) -> str:
    """Ask one question."""
    return _page(_asking(), number, _question(number), [])


def _page(asking: Asking, number: int, question: Question, problems: list[tuple[str, Problem]]) -> str:
    filled = []
    for one in asking.fields_of(question):
        place = (question.name, one.key)
        mine = tuple(problem for key, problem in problems if key == one.key)
        filled.append(Filled(one, *asking.stands(place), mine, suggested=place not in asking.answers.typed))
    above = [problem for key, problem in problems if key not in question.fields]
    return render_template(
        "question.html", question=question, number=number, count=len(QUESTIONS), filled=filled, problems=above,
        confirmable=confirmable,
    )  # fmt: skip


@blueprint.post("/<int:number>")
def answer(number: int) -> Answer | tuple[str, int]:
    """Keep the answer to one question, and lead to the next, or back; after the last the folder is made."""
    question, asking = _question(number), _asking()
    for one in asking.fields_of(question):
        place = (question.name, one.key)
        typed = request.form.get(f"v.{one.key}", "").strip(), request.form.get(f"u.{one.key}", "")
        if typed != asking.default(place) or place in asking.answers.typed:
            asking.answers.typed[place] = typed
    if request.form.get("do") == "back":
        return redirect(url_for("questions.ask", number=max(number - 1, 1)), 303)
    asking = _asking()
    problems = asking.refused(question)
    if problems:
        return _page(asking, number, question, problems), 422
    if number < len(QUESTIONS):
        return redirect(url_for("questions.ask", number=number + 1), 303)
    return _finished(asking)


def _finished(asking: Asking) -> Answer:
    """Make the folder with one open batch, and lead to the bench."""
    for number, question in enumerate(QUESTIONS, 1):
        if asking.refused(question):
            return redirect(url_for("questions.ask", number=number), 303)
    try:
        _make(asking)
    except StarterError as error:
        raise RefusedError(409, f"{error}.") from None
    except (OutputError, OSError) as error:
        raise RefusedError(507, f"The folder could not be made: {error}.") from None
    kept = [place for place in asking.draft().places() if _kept_default(asking, place)]
    say("The folder is made, with one open batch.")
    if kept:
        told = ", ".join(f"{asking.fields[place].label.lower()} ({place[0]})" for place in kept)
        say(f"Still defaults, not yours: {told}. Set-up has them.")
    current_app.extensions.pop(EXTENSION, None)
    return redirect("/bench", 303)


def _kept_default(asking: Asking, place: Place) -> bool:
    return place not in asking.answers.typed and asking.weighed(place)


def _make(asking: Asking) -> None:
    found, draft = served(), asking.draft()
    check_new(found.path)
    found.path.mkdir(parents=True, exist_ok=True)
    with found.writing():
        write(found.path / "parts.csv", draft.parts)
        units = "us" if asking.answers.us() else "metric"
        write(found.path / BATCHES, new_table(asking.names, units).content())
        write(found.path / "workshop.toml", draft.text.encode())
        opened = {"batch": "001", "part": asking.text("part", "name"), "date": found.now().date().isoformat()}
        binder = asking.text("binder", "binder")
        fields = {**opened, **({"binder": binder} if binder else {})}
        found.journal.add(Entry(token_urlsafe(12), now_text(found), "open", data={"fields": fields}))
