"""Settings as fields of a form, made from the keys of their classes: what each means, its unit, what stands for a blank."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, get_args, get_origin

from impact.base.catalogue import Names
from impact.base.spellings import UnitError
from impact.base.units import ASKED, parse_number, parse_share
from impact.records.parts import DIMENSIONS, OF_PLASTIC, OPTIONAL, Ids, ids_of
from impact.records.workshop import Part, Workshop
from impact.records.workshop_keys import WORDS, Known, Setting, settings_of, types_in

Kind = Literal["amount", "share", "number", "day", "flag", "choice", "list", "words", "text", "tables"]
YES, NO = "yes", "no"
UNITS: Mapping[str, tuple[str, ...]] = {**ASKED, "mass": ("g", "kg", "oz", "lb")}
"""Units that are offered beside a number, by dimension."""

TITLES = {
    "workshop": "The workshop",
    "equipment": "Devices",
    "moulds": "Moulds",
    "fates": "Where the paper would have gone",
    "end_of_life": "Where parts end",
    "drying": "Drying",
    "transport": "Fetching the paper",
    "fines": "Fines",
    "records": "How the files are read",
    "binders": "Binders",
    "editions": "Editions of the tables",
    "targets": "Aim",
    "origin": "Where the paper had been",
    "materials": "What is known of the paper",
    "report": "What reports show of you",
}
"""Titles of tables of the settings; one that is not here goes by its key."""


@dataclass(frozen=True, slots=True)
class Field:
    """One setting in a form.

    Attributes
    ----------
    key : str
        As it is written in its file.
    meaning, accepted, left_out : str
        What it says, what may stand there, and what stands for it where it is left blank; all may be blank.
    kind : Kind
        How it is asked for.
    needed : bool
        Whether it may not be blank.
    units : tuple of str
        Units of an amount, the usual one first.
    choices : tuple of (str, str)
        What may be chosen, and how each is called.
    called : str
        What it is called in the form; by default its key.
    """

    key: str
    meaning: str
    kind: Kind
    accepted: str = ""
    left_out: str = ""
    needed: bool = False
    units: tuple[str, ...] = ()
    choices: tuple[tuple[str, str], ...] = ()
    called: str = ""

    @property
    def label(self) -> str:
        """What it is called, else the key as a reader takes it."""
        return self.called or titled(self.key)


@dataclass(frozen=True, slots=True)
class Section:
    """A table of the settings, or several of one kind.

    Attributes
    ----------
    key : str
        Its table; ``parts`` for the list of parts.
    meaning : str
        What its tables say.
    shape : {"table", "named", "listed", "pairs"}
        One table; one for each name; a list of tables; or keys that are names.
    fields : tuple of Field
        What stands in a table.
    names : tuple of (str, str)
        Names that a table may have, and how each is called; none where any may be given.
    open : bool
        Whether other names may be given beside those.
    """

    key: str
    meaning: str
    shape: Literal["table", "named", "listed", "pairs"]
    fields: tuple[Field, ...] = ()
    names: tuple[tuple[str, str], ...] = ()
    open: bool = True

    @property
    def title(self) -> str:
        """Its title."""
        return TITLES.get(self.key, titled(self.key))


def titled(key: str) -> str:
    """Return a key as the words of a label."""
    words = key.replace("_", " ").strip()
    return words[:1].upper() + words[1:]


def sections(names: Names, *, us: bool, moulds: Sequence[str]) -> list[Section]:
    """Return every table of the settings with its fields, and the list of parts, in the order of their classes.

    Parameters
    ----------
    names : Names
        The catalogue.
    us : bool
        Whether US customary units are offered first.
    moulds : sequence of str
        The moulds that parts may name.
    """
    found: dict[str, Section] = {}
    for setting in settings_of(Workshop):
        first, table = setting.path[0], setting.table
        if table is not None:
            fields = tuple(_field(one, names, us=us) for one in settings_of(table))
            ids = _ids(setting, names)
            shape: Literal["table", "named", "listed"] = "listed" if setting.header.startswith("[[") else "table"
            shape = "named" if any(get_origin(one) is Mapping for one in types_in(setting.hint)) else shape
            found[first] = Section(
                first, _meaning(setting, table), shape, fields, ids, open=not ids or first == "binders"
            )
        elif len(setting.path) == 1:
            found[first] = Section(first, setting.key.meaning, "pairs")
        else:
            before = found.get(first, Section(first, "", "table"))
            found[first] = replace(before, fields=(*before.fields, _field(setting, names, us=us)))
    ordered = list(found.values())
    after = next(place for place, one in enumerate(ordered) if one.key == "moulds") + 1
    return [*ordered[:after], parts_section(names, us=us, moulds=moulds), *ordered[after:]]


def _meaning(setting: Setting, table: type) -> str:
    """Return what a table says; where its key gives only a name for it, what its class says of it."""
    said = " ".join((table.__doc__ or "").split("\n\n")[0].split()).rstrip(".").replace("`", "")
    return said if setting.key.meaning.startswith("a ") else setting.key.meaning


def parts_section(names: Names, *, us: bool, moulds: Sequence[str]) -> Section:
    """Return the list of parts as a table for each part; arguments as of `sections`."""
    known = ids_of(names, moulds)
    fields = tuple(_column(one, names, known, us=us) for one in settings_of(Part) if one.key.name != "part")
    return Section("parts", "what is made, and the plastic part beside it", "named", fields)


def _ids(setting: Setting, names: Names) -> tuple[tuple[str, str], ...]:
    """Return the ids that stand in a type, each with its label."""
    found: dict[str, str] = {}
    for one in types_in(setting.hint):
        if isinstance(one, Known):
            for listed in one.lists:
                found |= {key: label or key for key, label in getattr(names, listed).items()}
    return tuple(sorted(found.items(), key=lambda pair: pair[1].casefold()))


def _left_out(setting: Setting) -> str:
    default = setting.default
    if isinstance(default, bool):
        return YES if default else NO
    if isinstance(default, float):
        return f"{100.0 * default:g} %" if setting.key.unit == "1" else f"{default:g} {setting.key.unit}".strip()
    return default if isinstance(default, str) else ""


def _units(unit: str, us: bool) -> tuple[str, ...]:
    listed = UNITS.get(DIMENSIONS.get(unit, ""), ())
    return (*listed[2:], *listed[:2]) if us and len(listed) > 2 else listed


def _field(setting: Setting, names: Names, *, us: bool) -> Field:
    """Return the field of a setting of ``workshop.toml``."""
    types, key = list(types_in(setting.hint)), setting.key
    field = Field(setting.path[-1], key.meaning, "text", setting.accepted, _left_out(setting), setting.required)
    if setting.table is not None:
        return replace(field, kind="tables", accepted="")
    ids = _ids(setting, names)
    literal = next((one for one in types if get_origin(one) is Literal), None)
    if literal is not None:
        return replace(
            field, kind="choice", accepted="", choices=tuple((str(one), str(one)) for one in get_args(literal))
        )
    if ids:
        return replace(field, kind="choice", accepted="", choices=ids)
    if bool in types:
        return replace(field, kind="flag", accepted="", left_out=field.left_out)
    if datetime.date in types:
        return replace(field, kind="day", accepted="")
    if any(get_origin(one) is tuple for one in types):
        return replace(field, kind="list")
    if key.accepted == WORDS:
        return replace(field, kind="words")
    return _measured(field, setting, us=us)


def _measured(field: Field, setting: Setting, *, us: bool) -> Field:
    """Return a field as one for a number where its setting is one."""
    key, raw = setting.key, setting.is_raw
    if key.unit == "1":
        return replace(field, kind="number" if key.accepted else "share", accepted="")
    units = _units(key.unit, us)
    return replace(field, kind="amount", units=units, accepted="") if units and not raw else field


def _column(setting: Setting, names: Names, known: Ids, *, us: bool) -> Field:
    """Return the field of a column of the list of parts."""
    name, key = setting.key.name, setting.key
    field = Field(
        name, key.meaning, "text", key.accepted, "", setting.required and name not in (*OPTIONAL, *OF_PLASTIC)
    )
    if name == "wet use":
        return replace(field, kind="flag", accepted="", needed=False)
    if name in known:
        _, ids = known[name]
        labels = {"plastic polymer": names.polymers, "plastic process": names.processes}.get(name, {})
        return replace(
            field, kind="choice", accepted="", choices=tuple((one, labels.get(one) or one) for one in ids or ())
        )
    return _measured(field, setting, us=us) if key.unit else field


# -- what stands in a field ------------------------------------------------------------------------------------------


def split(field: Field, value: object) -> tuple[str, str]:
    """Return a value of the file as it stands in its field, and its unit where the field has units.

    What cannot be taken apart stands as it is, so that nothing is lost.
    """
    if value is None:
        return "", field.units[0] if field.units else ""
    if field.kind == "tables":
        return "; ".join(told(one) for one in (value if isinstance(value, list) else [value])), ""
    if isinstance(value, bool):
        return (YES if value else NO), ""
    if isinstance(value, list | tuple):
        return ", ".join(map(str, value)), ""
    text = str(value).strip()
    if field.kind == "share":
        return _percent(value), ""
    if field.kind == "flag":
        return {"true": YES, "y": YES, "false": NO, "n": NO}.get(text.casefold(), text.casefold()), ""
    if field.kind != "amount" or not text:
        return text, field.units[0] if field.units else ""
    try:
        _, unit = parse_number(text)
    except UnitError:
        return text, ""
    return (text.removesuffix(unit).strip(), unit) if unit else (text, "")


def told(value: object) -> str:
    """Return what stands in a table within a table, in one line."""
    if isinstance(value, Mapping):
        return ", ".join(f"{titled(str(key)).lower()} {one}" for key, one in value.items())
    return str(value)


def _percent(value: object) -> str:
    text = str(value).strip()
    try:
        return f"{100.0 * parse_share(text):.10g}" if text else ""
    except UnitError:
        return text


def joined(field: Field, typed: str, unit: str = "") -> str:
    """Return what was typed into a field as the text of a cell; blank where nothing was."""
    text = " ".join(typed.split()) if field.kind != "words" else typed.strip()
    if not text:
        return ""
    if field.kind == "amount":
        return f"{text} {unit}".strip()
    if field.kind == "share":
        return text if text.endswith("%") else f"{text} %"
    return text


def value_of(field: Field, typed: str, unit: str = "") -> Any:
    """Return what was typed into a field as a value of ``workshop.toml``, None where nothing was.

    What is no such value stays a text, for the reader of the file to say what is wrong.
    """
    text = joined(field, typed, unit)
    if not text:
        return None
    if field.kind == "flag" and text in (YES, NO):
        return text == YES
    if field.kind == "list":
        return [one.strip() for one in re.split(r"[,\n]", text) if one.strip()]
    if field.kind == "number" and re.fullmatch(r"[0-9]{1,9}", text):
        return int(text)
    if field.kind == "day":
        try:
            return datetime.date.fromisoformat(text)
        except ValueError:
            return text
    return text


def known_units(field: Field, unit: str) -> Iterator[str]:
    """Yield the units of a field, and the one that stands in the file where it is another."""
    yield from field.units
    if unit and unit not in field.units:
        yield unit
