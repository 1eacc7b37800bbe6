"""The file ``workshop.toml``: read, checked key by key, and turned into a workshop."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, TypeVar

from pydantic_core import ValidationError

from impact.base.catalogue import Names
from impact.base.pictures import Picture, PictureError, read_picture
from impact.base.problems import Level, Problem, choices, errors
from impact.base.spellings import UnitError
from impact.base.units import parse_money, parse_price
from impact.records.energy import stated_energy
from impact.records.files import is_workshop, misnamed_settings, picture_files
from impact.records.grants import overlaps
from impact.records.ownbinders import with_own_binders
from impact.records.statements import Grant, Visit, money_of
from impact.records.tomlslips import FILE, read_toml_text, table_name
from impact.records.workshop import SIZES, Device, Mould, Recipe, Workshop
from impact.records.workshop_keys import keys_of, read_settings
from impact.tables.table import UnreadableError, read_text

Beside = TypeVar("Beside")
Read = TypeVar("Read")
Stated = TypeVar("Stated", Grant, Visit)

_WRONG_TYPE = {
    "string_type": ("this is no text", 'a text in quotes, such as "…"'),
    "bool_type": ("this is neither true nor false", "true or false"),
    "dict_type": ("this is no group of tables", "tables such as [moulds.pot]"),
    "tuple_type": ("this is no list of tables", "tables in double square brackets, such as [[grants]]"),
}

OWN = "; or one of your own, in letters, digits and hyphens, with what = what it is, or like = one of these"
_KEY_MARK = "[key]"
"""What the validation adds to the path of a table whose name is at fault."""


@dataclass
class TomlResult:
    """What was read of ``workshop.toml``, with every error and warning.

    There is no workshop, which stands here without its parts, when there is any error; there are no names of moulds, which
    parts may name, when the file could not be read.
    """

    workshop: Workshop | None = None
    mould_names: tuple[str, ...] | None = None
    problems: list[Problem] = field(default_factory=list)


def read_toml(path: Path, names: Names) -> TomlResult:
    """Read ``workshop.toml``, in which the ids of `names` may stand."""
    accepted = "a TOML file that describes the workshop"
    other = misnamed_settings(path.parent)
    if other is not None:
        message = "the settings are looked for in workshop.toml, and a file of this name is not read"
        return TomlResult(problems=[Problem("misnamed-file", other.name, message, accepted="the name workshop.toml")])
    try:
        text = read_text(path, accepted=accepted)
    except UnreadableError as error:
        return TomlResult(problems=[error.problem])
    content, slips = read_toml_text(text)
    if content is None:
        return TomlResult(problems=slips)
    reader = _TomlReader(content, TomlLines(text), names, with_own_binders(names, content), slips)
    return reader.result(reader.pictures(path.parent))


class _TomlReader:
    def __init__(
        self, content: dict[str, Any], lines: TomlLines, shipped: Names, names: Names, slips: list[Problem]
    ) -> None:
        self.content = content
        self.lines = lines
        self.shipped = shipped  # the ids of the tables, without the workshop's own
        self.names = names
        self.slips = slips
        self.problems: list[Problem] = []

    def report(
        self,
        code: str,
        path: tuple[str, ...],
        message: str,
        *,
        accepted: str,
        read: object = None,
        level: Level = "error",
    ) -> None:
        text = None if read is None or isinstance(read, dict | list) else _written(read)
        row, column = self.lines.line(path), ".".join(path)
        problem = Problem(code, FILE, message, row=row, column=column, read=text, accepted=accepted, level=level)
        self.problems.append(problem)

    def pictures(self, folder: Path) -> dict[str, Picture]:
        """Return the pictures that the file names, by key; report each that cannot be used or says not what it shows."""
        found, files = {}, picture_files(self.content)
        given = self.content.get("report")
        table = given if isinstance(given, dict) else {}
        for key in SIZES:
            if f"{key}_text" in table and key not in table:
                message = f"{key} is missing: there is a {key}_text and no picture"
                self.report("missing-key", ("report", key), message, accepted=f"the key {key} with the name of a file")
        for key, name in files.items():
            text = table.get(f"{key}_text")
            if text is None:
                self.report(
                    "missing-key", ("report", f"{key}_text"), f"{key}_text is missing: who cannot see it is told what it shows",
                    accepted=f"the key {key}_text with what the picture shows, in words",
                )  # fmt: skip
            try:
                found[key] = read_picture(folder, name, most=SIZES[key], alt=" ".join(str(text).split()))
            except PictureError as error:
                self.report(error.code, ("report", key), error.reason, read=name, accepted=error.accepted)
        if len({name.casefold() for name in files.values()}) < len(files):
            path, name = ("report", "photo"), files["photo"]
            self.report("duplicate-name", path, "the logo is this file too", read=name, accepted="another picture")
        return found

    def result(self, pictures: Mapping[str, Picture]) -> TomlResult:
        moulds = self.content.get("moulds")
        workshop = None
        try:
            workshop = self.put_together(read_settings(Workshop, self.content, self.names))
            shown = replace(workshop.presentation, logo=pictures.get("logo"), photo=pictures.get("photo"))
            workshop = replace(workshop, presentation=shown)
        except ValidationError as error:
            self.translate(error)
        mould_names = tuple(moulds) if isinstance(moulds, dict) else ()
        told = {problem.row for problem in self.slips}
        problems = [*self.slips, *(problem for problem in self.problems if problem.row not in told)]
        return TomlResult(None if errors(problems) else workshop, mould_names, problems)

    def translate(self, error: ValidationError) -> None:
        """Turn each finding of the validation into a problem with its line."""
        for finding in error.errors(include_url=False):
            places, code, read = finding["loc"], finding["type"], finding["input"]
            if (
                len(places) > 2 and places[-1] == _KEY_MARK and code != "extra_forbidden"
            ):  # behind the name, which may be that too
                places = places[:-1]
            path = tuple(part if isinstance(part, str) else str(part + 1) for part in places)
            context = finding.get("ctx", {})
            if code == "extra_forbidden":
                known = choices(path[-1], keys_of(Workshop, path[:-1]))
                self.report("unknown-key", path, "unknown key", read=path[-1], accepted=known)
            elif code == "missing":
                self.report("missing-key", path, f"{path[-1]} is missing", accepted=f"the key or table {path[-1]}")
            elif code == "literal_error":
                accepted = str(context["expected"]).replace("'", "")
                self.report("unknown-choice", path, "unknown choice", read=read, accepted=accepted)
            elif "accepted" in context:
                accepted = context["accepted"] + (OWN if code == "unknown-binder" and len(path) == 2 else "")
                self.report(code, path, context["reason"], read=read, accepted=accepted)
            else:
                reason, accepted = _WRONG_TYPE.get(code, ("this is a value of another kind", "text, number or table"))
                self.report("wrong-type", path, reason, read=read, accepted=accepted)

    def put_together(self, workshop: Workshop) -> Workshop:
        """Return the workshop of a valid file; read and report what only shows when its tables are put together."""
        self.check_region(workshop.electricity, workshop.country)
        moulds = {name: self.printed(mould, workshop.equipment) for name, mould in workshop.moulds.items()}
        binders = {name: self.recipe(name, recipe, workshop.currency) for name, recipe in workshop.binders.items()}
        for overlap in overlaps(workshop.grants):
            self.report(
                "grants-overlap", ("grants",), str(overlap.sentence()),
                accepted="shares that add up to 1 at most on every day", level="warning",
            )  # fmt: skip
        grants = tuple(
            self.in_money(grant, ("grants", str(number)), workshop.currency)
            for number, grant in enumerate(workshop.grants, start=1)
        )
        visit = workshop.visit and self.in_money(workshop.visit, ("school",), workshop.currency)
        return replace(workshop, moulds=moulds, binders=binders, grants=grants, visit=visit)

    def in_money(self, table: Stated, path: tuple[str, ...], currency: str) -> Stated:
        """Return a table with its money read in the currency of the workshop."""
        money = {
            name: self.amount(written, (*path, name), parse_money, currency)
            for name, written in money_of(table).items()
        }
        return replace(table, **money)  # type: ignore[arg-type]

    def check_region(self, electricity: str | None, country: str) -> None:
        """Warn when the grid region lies in another country."""
        own = electricity if electricity in self.names.countries else country
        home = self.names.region_countries.get(electricity or "", own)
        if home != country:
            path = ("workshop", "electricity")
            message = f"the region lies in {home}, the workshop in {country}"
            self.report(
                "other-country", path, message, read=electricity, accepted=f"a region in {country}", level="warning"
            )

    def printed(self, mould: Mould, equipment: Mapping[str, Device]) -> Mould:
        """Return a mould with its printing read as an energy entry."""
        found = self.amount(mould.printing_kwh, ("moulds", mould.name, "printing"), stated_energy, equipment)
        if found is None:
            return replace(mould, printing_evidence="estimated")
        return replace(mould, printing_kwh=found.kwh, printing_evidence=found.evidence)

    def recipe(self, name: str, recipe: Recipe, currency: str) -> Recipe:
        """Return a recipe with its price read; report what is missing of a binder of the workshop's own."""
        path = ("binders", name)
        if name in self.shipped.binders:
            for key, value in (("name", recipe.label), ("like", recipe.like), ("what", recipe.what)):
                if value is not None:
                    message = f"{name} is a binder of the tables, of which this cannot be said"
                    accepted = "the key in a table under a name that the tables lack"
                    self.report("not-own", (*path, key), message, accepted=accepted, read=value)
        elif recipe.like is not None and recipe.like not in self.shipped.binders:
            message = "this is no binder of the tables"
            accepted = choices(recipe.like, self.shipped.binders, self.shipped.binders)
            self.report("unknown-binder", (*path, "like"), message, accepted=accepted, read=recipe.like)
        elif recipe.like in (None, "none"):
            for key in (key for key in ("what", "solids", "footprint") if getattr(recipe, key) is None):
                message = f"{key} is missing, and no binder of the tables that it is like"
                self.report("missing-key", path, message, accepted=f"the key {key}, or like")
        price = self.amount(recipe.price_per_kg, (*path, "price"), parse_price, currency)
        return replace(recipe, price_per_kg=price, line=max(self.lines.line(path) or 2, 2))

    def amount(
        self, written: float | None, path: tuple[str, ...], parse: Callable[[float, Beside], Read], beside: Beside
    ) -> Read | None:
        """Return an amount that is read with what stands in other tables; None where there is none, or none is read."""
        try:
            return None if written is None else parse(written, beside)
        except UnitError as error:
            self.report(error.code, path, error.reason, read=written, accepted=error.accepted)
            return None


def _written(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


_PART = r"""(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)"""
_DOTTED = rf"{_PART}(?:\s*\.\s*{_PART})*"
_HEADER = re.compile(rf"\s*(\[\[?)\s*({_DOTTED})\s*\]")
_KEY = re.compile(rf"\s*({_DOTTED})\s*=")

KeyPath = tuple[str, ...]


def _keys_of(dotted: str) -> KeyPath:
    first, *rest = (part.strip("\"'") for part in re.findall(_PART, dotted))
    return table_name(first), *rest


class TomlLines:
    """The line of every table and key of a TOML text; tables of a list are numbered from 1: ``grants.2.share``."""

    def __init__(self, text: str) -> None:
        self._lines: dict[KeyPath, int] = {}
        table: KeyPath = ()
        inside = ""
        listed: Counter[KeyPath] = Counter()
        for number, line in enumerate(text.splitlines(), start=1):
            if not inside:
                if header := _HEADER.match(line):
                    table = _keys_of(header[2])
                    if listed[table[:1]] and len(table) > 1:  # a table within the last one of a list
                        table = (table[0], str(listed[table[:1]]), *table[1:])
                    self._lines.setdefault(table, number)
                    if header[1] == "[[":
                        listed[table] += 1
                        table = (*table, str(listed[table]))
                        self._lines[table] = number
                elif key := _KEY.match(line):
                    self._lines.setdefault((*table, *_keys_of(key[1])), number)
            for quotes in ('"""', "'''"):
                if inside in ("", quotes) and line.count(quotes) % 2:
                    inside = "" if inside else quotes

    def places(self) -> Mapping[KeyPath, int]:
        """Return the line of each, by its tables and name."""
        return self._lines

    def line(self, path: KeyPath) -> int | None:
        """Return the line of a key; of the nearest table above it when the key is missing; None without either."""
        for length in range(len(path), 0, -1):
            if path[:length] in self._lines:
                return self._lines[path[:length]]
        return None


def read_workshop(folder: Path, names: Names) -> tuple[Workshop | None, list[Problem]]:
    """Read ``workshop.toml`` and ``parts.csv`` of a workshop folder, in which the ids of `names` may stand.

    Returns
    -------
    Workshop or None
        None when there is any error.
    list of Problem
        Every error and warning of both files.
    """
    from impact.records.parts import read_parts

    if not folder.is_dir() or not is_workshop(folder):
        return None, [no_folder(folder)]
    toml = read_toml(folder / "workshop.toml", names)
    parts, part_problems = read_parts(folder / "parts.csv", names, moulds=toml.mould_names)
    problems = [*toml.problems, *part_problems]
    if toml.workshop is None or errors(problems):
        return None, problems
    return replace(toml.workshop, parts=parts), problems


def place_of(folder: Path, path: Sequence[str]) -> tuple[str, int | None]:
    """Return the file and the row of an amount of a workshop folder without errors: of a key, or of a part's row."""
    from impact.records.parts import place_of_part

    if path[0] == "parts":
        return place_of_part(folder / "parts.csv", path[1])
    return FILE, TomlLines(read_text(folder / FILE, accepted="")).line(tuple(path))


def no_folder(path: Path) -> Problem:
    """Return what is wrong with a path at which there is no folder, or a folder that is no workshop."""
    accepted = "a folder that holds workshop.toml, parts.csv and batches.csv or .xlsx; `impact new` makes one"
    name = path.name or path.resolve().name or str(path)
    if not path.exists():
        return Problem("missing-folder", name, "there is no such folder", accepted=accepted)
    if (path.resolve().parent / "workshop.toml").exists():
        accepted = f'the folder that holds it, "{path.resolve().parent if path.is_dir() else path.parent}"'
    if path.is_dir():
        message = "this folder is no workshop: it holds neither workshop.toml nor parts nor batches"
        return Problem("no-workshop", name, message, accepted=accepted)
    return Problem("no-folder", name, "is a file, and a folder is asked for", accepted=accepted)
