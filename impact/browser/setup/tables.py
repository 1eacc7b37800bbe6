"""The page of settings: every table of ``workshop.toml`` and the list of parts as forms, made from the keys of their classes."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.datastructures import MultiDict
from werkzeug.wrappers import Response as Answer

from impact.base.files import OutputError
from impact.base.problems import Problem, errors
from impact.browser.guards import RefusedError, say
from impact.browser.pages import Page
from impact.browser.served import served
from impact.browser.setup.fields import Field, Section, joined, known_units, sections, split, value_of
from impact.browser.setup.partlist import PartsText
from impact.browser.setup.tomltext import Change, NoChangeError, changed, name_fault
from impact.browser.setup.writer import Saved, placed, save
from impact.records.tomlslips import FILE
from impact.tables.table import UnreadableError, read_text

PARTS = "parts"
MOST_TOLD = 40
"""Letters of a setting that the overview shows; our own choice."""

blueprint = Blueprint("setup", __name__)
PAGE = Page("Set-up", "/setup", blueprint)


@dataclass(frozen=True, slots=True)
class Filled:
    """A field with what stands in it.

    Attributes
    ----------
    field : Field
        The field.
    typed, unit : str
        What stands in it.
    problems : tuple of Problem
        What is wrong with it, or doubted.
    suggested : bool
        Whether what stands in it is a default.
    """

    field: Field
    typed: str = ""
    unit: str = ""
    problems: tuple[Problem, ...] = ()
    suggested: bool = False

    @property
    def units(self) -> list[str]:
        """Units that may be chosen."""
        return list(known_units(self.field, self.unit))

    @property
    def choices(self) -> list[tuple[str, str]]:
        """What may be chosen, what stands there among it."""
        known = list(self.field.choices)
        return known if not self.typed or self.typed in dict(known) else [*known, (self.typed, self.typed)]


@dataclass
class Form:
    """One table of a section as a form.

    Attributes
    ----------
    name : str
        Its name or number; blank where the section is one table, or for a new one.
    filled : list of Filled
        Its fields.
    new : bool
        Whether it is a table that is not there yet.
    problems : list of Problem
        What is wrong with it as a whole.
    typed_name : str
        Name that was typed for a new one.
    """

    name: str
    filled: list[Filled]
    new: bool = False
    problems: list[Problem] = field(default_factory=list)
    typed_name: str = ""

    @property
    def open(self) -> bool:
        """Whether it is shown unfolded: something is to be seen there."""
        return bool(self.problems or any(one.problems for one in self.filled) or (self.new and self.typed_name))


@dataclass(frozen=True)
class Standing:
    """The settings as they stand in the folder."""

    text: str
    content: Mapping[str, Any]
    parts: PartsText | None
    no_parts: str

    @classmethod
    def now(cls) -> Standing:
        """Return the settings of the folder that is served.

        Raises
        ------
        RefusedError
            ``workshop.toml`` is no TOML, or cannot be read.
        """
        path = served().path
        try:
            text = read_text(path / FILE, accepted="the settings")
            content = tomllib.loads(text)
        except UnreadableError as error:
            raise RefusedError(409, f"The settings cannot be read: {error.problem}") from None
        except tomllib.TOMLDecodeError as error:
            raise RefusedError(409, f"workshop.toml cannot be changed here until it is mended: {error}.") from None
        try:
            return cls(text, content, PartsText.of(path), "")
        except UnreadableError as error:
            return cls(text, content, None, str(error.problem))
        except NoChangeError as error:
            return cls(text, content, None, str(error))

    def sections(self) -> list[Section]:
        """Return all sections."""
        table = self.content.get("workshop")
        us = isinstance(table, Mapping) and table.get("units") == "us"
        moulds = self.content.get("moulds")
        return sections(served().read().names, us=us, moulds=list(moulds) if isinstance(moulds, Mapping) else [])

    def tables(self, section: Section) -> dict[str, Mapping[str, Any]]:
        """Return what stands in the tables of a section, by their names or numbers; one table has a blank name."""
        if section.key == PARTS:
            return dict(self.parts.parts()) if self.parts else {}
        found = self.content.get(section.key)
        if section.shape == "listed":
            return {str(n): one for n, one in enumerate(found if isinstance(found, list) else [], 1)}
        if section.shape == "named":
            given = found if isinstance(found, Mapping) else {}
            return {name: one for name, one in given.items() if isinstance(one, Mapping)}
        return {"": found if isinstance(found, Mapping) else {}}


def _section(standing: Standing, key: str) -> Section:
    for section in standing.sections():
        if section.key == key:
            return section
    raise RefusedError(404, "There is no such part of the settings.")


# -- what is shown ---------------------------------------------------------------------------------------------------


@blueprint.get("")
def index() -> str:
    """Show all parts of the settings, and what stands in each."""
    standing = Standing.now()
    listed = [(section, _told(section, standing), _doubted(section)) for section in standing.sections()]
    return render_template("setup.html", listed=listed)


def _told(section: Section, standing: Standing) -> str:
    """Return in a few words what stands in a section."""
    tables = standing.tables(section)
    if section.key == PARTS and standing.no_parts:
        return standing.no_parts
    if section.shape in ("named", "listed"):
        names = [str(one.get("name", name)) if section.shape == "listed" else name for name, one in tables.items()]
        return ", ".join(names) or "none yet"
    if section.shape == "pairs":
        return ", ".join(f"{key} {value}" for key, value in tables[""].items()) or "as the tables have it"
    said = [_brief(one, tables[""][one.key]) for one in section.fields if one.key in tables[""]]
    return ", ".join(said[:3]) + (" …" if len(said) > 3 else "") if said else "nothing said: the defaults hold"


def _brief(one: Field, value: object) -> str:
    """Return what stands in a field in a few words."""
    typed, unit = split(one, value)
    if one.kind in ("flag", "share"):
        return f"{one.label.lower()} {typed}{' %' if one.kind == 'share' else ''}"
    told = f"{dict(one.choices).get(typed, typed)} {unit}".strip()
    return told if len(told) <= MOST_TOLD else f"{told[:MOST_TOLD]}…"


def _doubted(section: Section) -> int:
    return len([one for one in served().read().problems if _of(section, one)])


def _of(section: Section, problem: Problem) -> bool:
    path = placed(problem)
    if path is not None:
        return path[0] == section.key
    return section.key == PARTS and problem.file.startswith("parts.")


def _forms(section: Section, standing: Standing, problems: Sequence[Problem]) -> list[Form]:
    found = []
    for name, table in standing.tables(section).items():
        mine = [one for one in problems if _belongs(section, name, one, standing)]
        found.append(_form(section, name, {one.key: split(one, table.get(one.key)) for one in section.fields}, mine))
    return found


def _belongs(section: Section, name: str, problem: Problem, standing: Standing) -> bool:
    """Return whether a problem is of a table of a section."""
    path = placed(problem)
    if section.key == PARTS:
        return problem.file.startswith("parts.") and (_part_of(problem, standing) or name) == name
    if path is None or path[0] != section.key:
        return False
    return section.shape in ("table", "pairs") or path[1:2] == (name,)


def _part_of(problem: Problem, standing: Standing) -> str | None:
    """Return the part whose row a problem is about."""
    rows = standing.parts.rows if standing.parts else []
    place = standing.parts.places.get("part", 0) if standing.parts else 0
    if problem.row is None or not 1 < problem.row <= len(rows):
        return None
    row = rows[problem.row - 1]
    return row[place].strip() if place < len(row) else None


def _form(section: Section, name: str, stands: Mapping[str, tuple[str, str]], problems: Sequence[Problem]) -> Form:
    """Return a form, each problem at its field, or above all where it is about no single one."""
    by_key: dict[str, list[Problem]] = {}
    for problem in problems:
        by_key.setdefault(_key_of(section, problem), []).append(problem)
    filled = [Filled(one, *stands[one.key], tuple(by_key.pop(one.key, ()))) for one in section.fields]
    return Form(name, filled, problems=[one for rest in by_key.values() for one in rest])


def _key_of(section: Section, problem: Problem) -> str:
    from impact.records.parts import column_meant

    if section.key == PARTS:
        return column_meant(problem.column or "") or ""
    path = placed(problem) or ()
    depth = 1 if section.shape in ("table", "pairs") else 2
    return path[depth] if len(path) > depth else ""


def _empty(section: Section) -> Form:
    return Form("", [Filled(one, "", one.units[0] if one.units else "") for one in section.fields], new=True)


def _page(section: Section, forms: list[Form], problems: Sequence[Problem], status: int = 200) -> tuple[str, int]:
    standing = Standing.now()
    free = [(key, label) for key, label in section.names if key not in standing.tables(section)]
    pairs = [*standing.tables(section)[""].items(), ("", "")] if section.shape == "pairs" else []
    page = render_template(
        "section.html", section=section, forms=forms, problems=list(problems), free=free, pairs=pairs,
        refused=standing.no_parts if section.key == PARTS else "", confirmable=confirmable,
    )  # fmt: skip
    return page, status


@blueprint.get("/<key>")
def show(key: str) -> tuple[str, int]:
    """Show one part of the settings."""
    standing = Standing.now()
    section = _section(standing, key)
    forms = _forms(section, standing, [one for one in served().read().problems if _of(section, one)])
    if section.shape in ("named", "listed"):
        forms.append(_empty(section))
    return _page(section, forms, [])


# -- what is sent ----------------------------------------------------------------------------------------------------


@blueprint.post("/<key>")
def keep(key: str) -> Answer | tuple[str, int]:
    """Keep what was typed, or take a table away; what the readers refuse is shown again, each fault at its field."""
    try:
        with served().writing():
            standing = Standing.now()
            section = _section(standing, key)
            name, sent = request.form.get("name", "").strip(), request.form
            if section.key == PARTS and standing.parts is None:
                raise RefusedError(409, standing.no_parts)
            new = sent.get("new") == "1"
            fault = _name_refused(section, standing, name, new=new)
            saved = Saved((fault,)) if fault else _saved(section, standing, name, sent, new=new)
    except (OutputError, OSError) as error:
        raise RefusedError(507, f"The folder could not be written: {error}. Nothing was changed.") from None
    except NoChangeError as error:
        raise RefusedError(409, f"{error}.") from None
    if saved.written:
        say("Taken away." if sent.get("do") == "remove" else "Saved.")
        for problem in saved.problems:
            say(f"Doubted: {problem}")
        return redirect(url_for("setup.show", key=key), 303)
    return _again(section, standing, name, saved.problems, new=new)


def _name_refused(section: Section, standing: Standing, name: str, *, new: bool) -> Problem | None:
    """Return what is wrong with the name of a table that is sent."""
    tables, file = standing.tables(section), "parts.csv" if section.key == PARTS else FILE
    if section.shape in ("table", "pairs") or (section.shape == "listed" and (new or name in tables)):
        return None
    reason, accepted = name_fault(name) if new else None, "another name"
    if new and reason is None and name in tables:
        reason = "there is one of this name already"
    if new and reason is None and section.names and not section.open and name not in dict(section.names):
        reason, accepted = "there is nothing of this name", ", ".join(dict(section.names))
    if not new and name not in tables:
        reason = "it is not there any more: it was taken away meanwhile"
    return Problem("bad-name", file, reason, read=name, accepted=accepted) if reason else None


def _saved(section: Section, standing: Standing, name: str, sent: MultiDict[str, str], *, new: bool) -> Saved:
    today, folder, before = served().now().date(), served().path, served().read().problems
    confirmed = _confirming(standing, sent.getlist("confirm"))
    if section.key == PARTS:
        assert standing.parts is not None
        removed = sent.get("do") == "remove"
        cells = None if removed else _cells(section, standing, name, sent)
        files = {"parts.csv": standing.parts.with_part(name, cells)}
        if confirmed:
            files[FILE] = changed(standing.text, confirmed).encode()
        return save(folder, files, today=today, before=before)
    missing = _missing(section, name, sent)
    if missing and sent.get("do") != "remove":
        return Saved(tuple(missing))
    text = changed(standing.text, [*_changes(section, standing, name, sent, new=new), *confirmed])
    return save(folder, {FILE: text.encode()}, today=today, before=before)


def _typed(field: Field, sent: Mapping[str, str]) -> tuple[str, str]:
    return sent.get(f"v.{field.key}", "").strip(), sent.get(f"u.{field.key}", "")


def _cells(section: Section, standing: Standing, part: str, sent: Mapping[str, str]) -> dict[str, str]:
    """Return the cells of a part that are others than those that stand there."""
    stands = standing.tables(section).get(part, {})
    found = {}
    for one in section.fields:
        typed, unit = _typed(one, sent)
        before = split(one, stands.get(one.key, ""))
        if typed != before[0] or (typed and one.units and unit != before[1]):
            found[one.key] = joined(one, typed, unit)
    return found


def _missing(section: Section, name: str, sent: Mapping[str, str]) -> list[Problem]:
    """Return a problem for each blank field that may not be blank, in a table that says something."""
    depth = (section.key,) if section.shape == "table" else (section.key, name or "1")
    if section.shape == "table" and not any(_typed(one, sent)[0] for one in section.fields):
        return []
    return [
        Problem(
            "missing-key",
            FILE,
            f"{one.key} is missing",
            column=".".join((*depth, one.key)),
            accepted=f"the key {one.key}",
        )
        for one in section.fields
        if one.needed and not _typed(one, sent)[0]
    ]


def _changes(section: Section, standing: Standing, name: str, sent: MultiDict[str, str], *, new: bool) -> list[Change]:
    """Return the keys that are others than those that stand there."""
    tables, path = standing.tables(section), (section.key, *((name,) if name else ()))
    if section.shape == "listed" and new:
        name, path = "", (section.key, str(len(tables) + 1))
    if sent.get("do") == "remove":
        return [Change(path, None)]
    if section.shape == "pairs":
        return _pair_changes(section, tables[""], sent)
    stands = {} if new else tables.get(name, {})
    found = []
    for one in (one for one in section.fields if one.kind != "tables"):
        typed, unit = _typed(one, sent)
        before = split(one, stands.get(one.key))
        if typed != before[0] or (typed and one.units and unit != before[1]):
            found.append(Change((*path, one.key), value_of(one, typed, unit)))
    if new and section.shape == "named" and not found:
        raise NoChangeError(f"nothing is said of {name} yet")
    return found


def _pair_changes(section: Section, stands: Mapping[str, Any], sent: MultiDict[str, str]) -> list[Change]:
    pairs = zip(sent.getlist("k"), sent.getlist("v"), strict=False)
    given = {key.strip(): value.strip() for key, value in pairs if key.strip() and value.strip()}
    gone = [Change((section.key, key), None) for key in stands if key not in given]
    return [*gone, *(Change((section.key, key), value) for key, value in given.items() if stands.get(key) != value)]


def _confirming(standing: Standing, paths: Sequence[str]) -> list[Change]:
    """Return the change that confirms amounts which were asked about."""
    table = standing.content.get("workshop")
    before = table.get("confirmed", []) if isinstance(table, Mapping) else []
    known = [before] if isinstance(before, str) else list(before) if isinstance(before, list) else []
    new = [path for path in dict.fromkeys(paths) if path not in known and name_fault(path.replace(".", " ")) is None]
    return [Change(("workshop", "confirmed"), [*known, *new])] if new else []


def _again(
    section: Section, standing: Standing, name: str, problems: Sequence[Problem], *, new: bool
) -> tuple[str, int]:
    """Show the forms once more, what was typed in its place and each fault at its field."""
    typed = {one.key: _typed(one, request.form) for one in section.fields}
    here = [one for one in problems if _key_of(section, one) in typed and (_of(section, one) or section.key == PARTS)]
    sent = _form(section, name, typed, here)
    sent.new, sent.typed_name = new, name if new else ""
    sent.name = "" if new else name
    forms = [one if new or one.name != name else sent for one in _forms(section, standing, [])]
    if section.shape in ("named", "listed"):
        forms.append(sent if new else _empty(section))
    above = [one for one in problems if one not in here]
    return _page(section, forms, above, 422)


def confirmable(problem: Problem) -> str:
    """Return the name under which an amount is confirmed that was asked about; blank where it is no such question."""
    if problem.code != "size-setting" or not errors([problem]) or not problem.accepted:
        return ""
    start, _, rest = problem.accepted.partition('confirmed = ["')
    return rest.partition('"')[0] if start != problem.accepted else ""
