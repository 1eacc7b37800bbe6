"""How a class of settings says what it is in a file: the keys of its attributes, and how their values are read."""

from __future__ import annotations

import datetime
import re
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import MISSING, dataclass, fields, replace
from typing import Annotated, Any, Literal, Self, TypeVar, get_args, get_origin, get_type_hints

from pydantic_core import CoreSchema, PydanticCustomError, SchemaValidator, core_schema

from impact.base.catalogue import Names
from impact.base.pictures import PLAIN_NAME, is_plain_name
from impact.base.problems import choices, which_of
from impact.base.spellings import UnitError, fold
from impact.base.units import parse_emission, parse_number, parse_rate, parse_share, parse_stated
from impact.records.tomlslips import days_meant
from impact.tables.notes import After, Before, Instead, schema_of


@dataclass(frozen=True, slots=True)
class Key:
    """What an attribute of the settings is in its file; an attribute without one does not stand there.

    Attributes
    ----------
    name : str
        Key as it is written; with its table before a dot where the class is more than that table. Of a part: its column.
    meaning : str
        What it says.
    unit : str
        Unit of the attribute, ``1`` for shares and counts; empty for what is no number of one unit.
    accepted : str
        What may stand there, where the type of the attribute and the unit do not say it.
    """

    name: str
    meaning: str
    unit: str = ""
    accepted: str = ""


@dataclass(frozen=True, slots=True)
class Setting:
    """An attribute of the settings that stands in the file: its name in the class, key there, annotated type, and default.

    The default is None where it has none; it is required where None would be no value of it.
    """

    attribute: str
    key: Key
    hint: Any
    required: bool
    default: Any

    @property
    def path(self) -> tuple[str, ...]:
        """Its tables and key."""
        return tuple(self.key.name.split("."))

    @property
    def table(self) -> type[Table] | None:
        """The class of the tables that it holds; None where it holds none."""
        return next((one for one in types_in(self.hint) if isinstance(one, type) and issubclass(one, Table)), None)

    @property
    def is_raw(self) -> bool:
        """Whether it is read later, with what stands in other tables."""
        return any(one is RAW for one in types_in(self.hint))

    @property
    def sentence(self) -> str:
        """What it says, what may stand there, and what stands for it where it is left out."""
        default = str(self.default).lower() if isinstance(self.default, bool) else self.default
        default = f"{default:g}" if isinstance(default, float) else default
        left_out = "needed" if self.required else f"left out: {default}" if default else ""
        return "; ".join(filter(None, (self.key.meaning, self.accepted, left_out)))

    @property
    def header(self) -> str:
        """How its tables are headed, where it holds tables."""
        name = self.key.name
        kind = next((one.kind.upper() for one in types_in(self.hint) if isinstance(one, Known)), "NAME")
        for one in types_in(self.hint):
            if get_origin(one) in (Mapping, tuple):
                return f"[[{name}]]" if get_origin(one) is tuple else f"[{name}.{kind}]" if self.table else f"[{name}]"
        return f"[{name}]"

    @property
    def accepted(self) -> str:
        """What may stand there, in words; empty where any text may."""
        if self.key.accepted:
            return self.key.accepted
        for one in types_in(self.hint):
            if get_origin(one) is Literal:
                return " or ".join(map(str, get_args(one)))
            if isinstance(one, Known):
                return f"an id of a {one.kind.replace('-', ' ')}"
            if one in (bool, datetime.date):
                return "true or false" if one is bool else "a day such as 2027-06-30"
        amount = f"an amount with its unit, such as {self.key.unit}"
        return {"": "", "1": "0.08 or 8 %"}.get(self.key.unit, amount)


def types_in(hint: Any) -> Iterator[Any]:
    """Yield a type and all that it is made of, notes of annotations too."""
    yield hint
    if get_origin(hint) is not Literal:
        for one in get_args(hint):
            yield from types_in(one)


_FOUND: dict[type, tuple[Setting, ...]] = {}
_READERS: dict[type, SchemaValidator] = {}


def settings_of(table: type) -> tuple[Setting, ...]:
    """Return the attributes of a class that stand in its file, in their order."""
    if table not in _FOUND:
        _FOUND[table] = tuple(_settings(table))
    return _FOUND[table]


def _settings(table: type) -> Iterator[Setting]:
    hints = get_type_hints(table, include_extras=True)
    for one in fields(table):
        hint = hints[one.name]
        for key in (note for note in getattr(hint, "__metadata__", ()) if isinstance(note, Key)):
            default = None if one.default is MISSING else one.default
            required = default is None and one.default_factory is MISSING and type(None) not in types_in(hint)
            yield Setting(one.name, key, hint, required, default)


def numbers_of(table: type) -> dict[str, tuple[str, str]]:
    """Return the numbers among the settings of a class: by attribute, as what each is written, and its unit here."""
    return {one.attribute: (one.path[-1], one.key.unit) for one in settings_of(table) if one.key.unit}


AnyTable = TypeVar("AnyTable", bound="Table")


class Table:
    """Settings that are read from a table of the file, by the `Key` of each attribute. Keys that are not listed are refused."""

    __slots__ = ()

    @classmethod
    def schema(cls) -> CoreSchema:
        """Return what validates such a table, see `impact.tables.notes`."""
        return core_schema.no_info_after_validator_function(cls._built, _reading(settings_of(cls)))

    @classmethod
    def _built(cls, found: Mapping[str, Any]) -> Self:
        """Return the settings that the file gives; attributes that stand elsewhere are None."""
        given: dict[str, Any] = {one.name: None for one in fields(cls) if one.default is MISSING is one.default_factory}  # type: ignore[arg-type]
        for setting in settings_of(cls):
            value: Any = found
            for name in setting.path:
                value = None if value is None else value.get(name)
            if value is not None:
                given[setting.attribute] = value
        made = cls(**given)
        made.check()
        return made

    def check(self) -> None:
        """Refuse values that do not go together."""


def _reading(settings: Sequence[Setting], depth: int = 0) -> CoreSchema:
    """Return what validates a table, or the whole file, to a dictionary without what the file leaves out."""
    groups: dict[str, list[Setting]] = {}
    for one in settings:
        groups.setdefault(one.path[depth], []).append(one)
    keys = {
        first: core_schema.typed_dict_field(
            _reading(group, depth + 1) if len(group[0].path) > depth + 1 else schema_of(group[0].hint),
            required=any(one.required for one in group),
        )
        for first, group in groups.items()
    }
    table = core_schema.typed_dict_schema(keys, extra_behavior="forbid")
    return core_schema.no_info_before_validator_function(_table, table)


def _table(value: object) -> object:
    if not isinstance(value, dict):
        raise fault("wrong-type", "this is no table", "a table in square brackets with its keys below")
    return value


def read_settings(table: type[AnyTable], content: object, names: Names | None) -> AnyTable:
    """Return the settings that a table of a file holds; `names` are the ids that the factor tables know.

    Raises
    ------
    pydantic_core.ValidationError
        Something in it is not accepted; carries every fault.
    """
    if table not in _READERS:
        _READERS[table] = SchemaValidator(table.schema())
    found: AnyTable = _READERS[table].validate_python(content, context=names)
    return found


def keys_of(table: type[Table], path: tuple[str, ...] = ()) -> list[str]:
    """Return the keys that the file of a class, or its table at a path, may hold."""
    for one in settings_of(table):
        if one.table and one.path == path[: len(one.path)]:
            known = keys_of(one.table)
            return keys_of(one.table, tuple(name for name in path[len(one.path) :] if name in known)) or known
    found = [one for one in settings_of(table) if one.path[: len(path)] == path]
    return list(dict.fromkeys(one.path[len(path)] for one in found if len(one.path) > len(path)))


def fault(code: str, reason: str, accepted: str) -> PydanticCustomError:
    """Return what a check raises: its code, what is wrong, and what is accepted."""
    return PydanticCustomError(code, "{reason}", {"reason": reason, "accepted": accepted})


def _text_or_number(value: object) -> str | float:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise fault("wrong-type", "this is no amount", "a number, or a text with a unit such as 2.6 kWh")
    return value


def _amount(parse: Callable[..., float], *further: str) -> Instead:
    """Return what reads a number or a text as an amount; `further` is what `parse` is to know besides."""

    def read(value: object) -> float:
        try:
            return parse(_text_or_number(value), *further)
        except UnitError as error:
            raise fault(error.code, error.reason, error.accepted) from None

    return Instead(read)


def _must(hold: Callable[[Any], bool], code: str, reason: str, accepted: str) -> After:
    """Return what refuses a value for which a condition does not hold; other arguments as of `fault`."""

    def check(value: Any) -> Any:
        if not hold(value):
            raise fault(code, reason, accepted)
        return value

    return After(check)


def _whole(text: str | float) -> float:
    value, rest = parse_number(text)
    if rest or value != int(value) or value < 1:
        raise fault("not-whole", "this is no whole number of at least 1", "a whole number, 1 or more")
    return int(value)


def _count(text: str | float) -> float:
    value, rest = parse_number(text)
    if rest or value != int(value):
        raise fault("not-whole", "this is no whole number", "a whole number, 0 or more")
    return int(value)


def _number(text: str | float) -> float:
    value, rest = parse_number(text)
    if rest:
        raise fault("wrong-type", "this is no bare number", "a number, 0 or more")
    return value


def _day(value: object) -> datetime.date:
    if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
        return value
    try:
        if isinstance(value, str) and len(value) == len("2027-06-30"):
            return datetime.date.fromisoformat(value)
    except ValueError:
        pass
    raise fault("bad-date", "this is no date", " or ".join(days_meant(str(value))) or "a day such as 2027-06-30")


def _one_line(most: int) -> After:
    """Return what makes one line of a text; refuses more than `most` characters, and those that print nothing."""

    def read(text: str) -> str:
        line = " ".join(text.split())
        odd = [mark for mark in line if unicodedata.category(mark) in _NO_TEXT or mark in _TURNING]
        if odd:
            names = ", ".join(dict.fromkeys(f"U+{ord(mark):04X}" for mark in odd))
            raise fault("bad-text", f"this holds control characters ({names})", "plain text")
        if len(line) > most:
            raise fault("too-long", f"this has {len(line)} characters", f"at most {most} characters")
        return line

    return After(read)


def _listed(what: str, example: str) -> Instead:
    """Return what reads a text or a list of texts; `what` each is, and an example of it."""

    def read(value: object) -> tuple[str, ...]:
        names = [value] if isinstance(value, str) else value
        if not isinstance(names, list) or not all(isinstance(name, str) and name.strip() for name in names):
            raise fault("wrong-type", f"this is no name of {what}", f'{what} such as "{example}", or a list of them')
        return tuple(names)

    return Instead(read)


@dataclass(frozen=True, slots=True)
class Known:
    """Accepts an id, of a kind as messages call it, of some lists of `Names`, and gives it as it is written there."""

    kind: str
    lists: tuple[str, ...]

    def around(self, schema: CoreSchema) -> CoreSchema:
        """Return what validates with this note."""
        return core_schema.with_info_after_validator_function(self._check, schema)

    def _check(self, value: str, info: core_schema.ValidationInfo) -> str:
        names: Names = info.context  # type: ignore[assignment]
        ids: dict[str, str] = {fold(one): one for name in self.lists for one in getattr(names, name)}
        if self.kind == "grade":
            for grade, reason in names.excluded_grades.items():
                if fold(value) == fold(grade):
                    raise fault("excluded-grade", f"{grade} cannot be pulped here: {reason}", ", ".join(ids.values()))
        if fold(value) in ids:
            return ids[fold(value)]
        meant = names.meant(self.kind, value, ids.values())
        labels = {one: label for name in self.lists for one, label in getattr(names, name).items() if label}
        if len(meant) > 1:
            raise fault(f"ambiguous-{self.kind}", which_of(value, meant, labels), " or ".join(meant))
        if not meant:
            raise fault(f"unknown-{self.kind}", f"unknown {self.kind}", choices(value, ids.values(), labels))
        return meant[0]


def refuse_twice(names: Iterable[str]) -> None:
    """Refuse names that differ in case, spaces or hyphens only."""
    twice = [name for name, count in Counter(map(fold, names)).items() if count > 1]
    if twice:
        raise fault("duplicate-name", f"the name {twice[0]} is given twice", "names that differ in more than case")


def _once_each(value: Any) -> Any:
    if isinstance(value, dict):
        refuse_twice(value)
    return value


def _with_names(tables: Mapping[str, Any]) -> dict[str, Any]:
    return {name: replace(table, name=name) for name, table in tables.items()}


ABOVE_ZERO = _must(lambda value: value > 0.0, "not-positive", "this must be more than 0", "more than 0")
_NO_TEXT = ("Cc", "Cs", "Co", "Cn")
"""Categories of characters that are no text: controls, halves, private and unassigned ones (Unicode)."""

_TURNING = "\u202a\u202b\u202c\u202d\u202e"
"""Characters that turn the order of the letters around them (Unicode Standard Annex 9, 2.1 and 2.2)."""

BELOW_ONE = _must(
    lambda value: value < 1.0,
    "bad-share",
    "this must be less than 100 %",
    "0 to less than 1, or 0 % to less than 100 %",
)
CAPITALS = "three capital letters as in ISO 4217, such as USD"

Text = Annotated[str, After(lambda text: text.strip()), _must(bool, "missing-value", "this is blank", "a text")]
Words = Annotated[Text, _one_line(600)]
WORDS = "text, at most 600 characters"
Line = Annotated[Text, _one_line(200)]
LINE = "text, at most 200 characters"
PictureFile = Annotated[
    str,
    _must(is_plain_name, "bad-file-name", "this is no plain name of a picture in the workshop folder", PLAIN_NAME),
]
Flag = bool
Currency = Annotated[str, _must(re.compile("[A-Z]{3}").fullmatch, "bad-currency", "this is no currency code", CAPITALS)]
Day = Annotated[datetime.date, Instead(_day)]
Share = Annotated[float, _amount(parse_share)]
ShareAboveZero = Annotated[Share, ABOVE_ZERO]
ShareBelowOne = Annotated[Share, BELOW_ONE]
Whole = Annotated[float, _amount(_whole)]
Count = Annotated[float, _amount(_count)]
Amount = Annotated[float, _amount(_number)]
Mass = Annotated[float, _amount(parse_stated, "mass"), ABOVE_ZERO]
Power = Annotated[float, _amount(parse_stated, "power"), ABOVE_ZERO]
Years = Annotated[float, _amount(parse_stated, "life"), ABOVE_ZERO]
EnergyPerKg = Annotated[float, _amount(parse_rate, "energy")]
Footprint = Annotated[float, _amount(parse_emission), ABOVE_ZERO]
Plain = Annotated[
    Text,
    _must(re.compile(r"[\w ,()'-]+").fullmatch, "bad-text", "this holds a mark", "words, with commas between them"),
]
RAW = Instead(_text_or_number)
Raw = Annotated[float, RAW]
"""An amount that is read later, with what stands in other tables; a text until then."""
Money = Raw
"""As written, until the currency of the workshop is known."""

Country = Annotated[str, Known("country", ("countries",))]
Region = Annotated[str, Known("region", ("regions", "countries"))]
Climate = Annotated[str, Known("climate", ("climates",))]
LandfillSite = Annotated[str, Known("landfill-site", ("landfill_sites",))]
Material = Annotated[str, Known("material", ("polymers", "mould_materials"))]
Dryer = Annotated[str, Known("dryer", ("dryers",))]
Vehicle = Annotated[str, Known("vehicle", ("vehicles",))]
Grade = Annotated[str, Known("grade", ("grades",))]
Binder = Annotated[str, Known("binder", ("binders",))]
T = TypeVar("T")
Named = Annotated[Mapping[Text, T], Before(_once_each), After(_with_names)]
"""Tables by a name of the workshop's own, which they hold too."""

ByGrade = Annotated[Mapping[Grade, T], Before(_once_each)]
ByBinder = Annotated[Mapping[Binder, T], Before(_once_each)]
Sheets = Annotated[tuple[str, ...], _listed("a sheet", "log 2026")]
Paths = Annotated[tuple[str, ...], _listed("an amount", "moulds.tray.mass")]
