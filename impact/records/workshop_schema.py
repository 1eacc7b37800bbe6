"""The keys of ``workshop.toml``: what each may hold, as models that validate."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    PlainValidator,
    StrictBool,
    ValidationInfo,
    model_validator,
)
from pydantic_core import PydanticCustomError

from impact.base.catalogue import Names
from impact.base.problems import choices
from impact.base.spellings import UnitError, fold
from impact.base.units import parse_number, parse_quantity, parse_rate, parse_share

SHARES_TOLERANCE = 0.001
"""How far the shares of a fate may miss 1, for rounding. [-]"""


@dataclass(frozen=True)
class Context:
    """What the models need to know beside the file."""

    names: Names


def _fault(code: str, reason: str, accepted: str) -> PydanticCustomError:
    return PydanticCustomError(code, "{reason}", {"reason": reason, "accepted": accepted})


def _text_or_number(value: object) -> str | float:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise _fault("wrong-type", "this is no amount", "a number, or a text with a unit such as 2.6 kWh")
    return value


def _amount(parse: Callable[[str | float], float]) -> BeforeValidator:
    """Return a validator that reads a number or a text as an amount."""

    def check(value: object) -> float:
        try:
            return parse(_text_or_number(value))
        except UnitError as error:
            raise _fault(error.code, error.reason, error.accepted) from None

    return BeforeValidator(check)


def _quantity(dimension: str) -> BeforeValidator:
    return _amount(lambda text: parse_quantity(text, dimension))


def _above_zero(value: float) -> float:
    if not value > 0.0:
        raise _fault("not-positive", "this must be more than 0", "more than 0")
    return value


def _below_one(value: float) -> float:
    if not value < 1.0:
        raise _fault("bad-share", "this must be less than 100 %", "0 to less than 1, or 0 % to less than 100 %")
    return value


def _whole(text: str | float) -> float:
    value, rest = parse_number(text)
    if rest or value != int(value) or value < 1:
        raise _fault("not-whole", "this is no whole number of at least 1", "a whole number, 1 or more")
    return int(value)


def _not_blank(value: str) -> str:
    if not value.strip():
        raise _fault("missing-value", "this is blank", "a text")
    return value.strip()


def _currency(value: str) -> str:
    if not (len(value) == 3 and value.isascii() and value.isalpha() and value.isupper()):
        raise _fault("bad-currency", "this is no currency code", "three capital letters as in ISO 4217, such as USD")
    return value


def _day(value: object) -> datetime.date:
    if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
        return value
    try:
        if isinstance(value, str) and len(value) == len("2027-06-30"):
            return datetime.date.fromisoformat(value)
    except ValueError:
        pass
    raise _fault("bad-date", "this is no date", "a day such as 2027-06-30")


def _known(kind: str, *lists: str) -> AfterValidator:
    """Return a validator for an id that stands in one of the lists of `Names`."""

    def check(value: str, info: ValidationInfo) -> str:
        names: Names = info.context.names  # type: ignore[union-attr]
        known: dict[str, str] = {fold(one): one for name in lists for one in getattr(names, name)}
        if kind == "grade":
            for grade, reason in names.excluded_grades.items():
                if fold(value) == fold(grade):
                    raise _fault(
                        "excluded-grade", f"{grade} cannot be pulped here: {reason}", ", ".join(known.values())
                    )
        if fold(value) not in known:
            labels = {one: label for name in lists for one, label in getattr(names, name).items() if label}
            raise _fault(f"unknown-{kind}", f"unknown {kind}", choices(value, known.values(), labels))
        return known[fold(value)]

    return AfterValidator(check)


def _refuse_twice(names: Iterable[str]) -> None:
    """Refuse names that differ in case, spaces or hyphens only."""
    twice = [name for name, count in Counter(map(fold, names)).items() if count > 1]
    if twice:
        raise _fault("duplicate-name", f"the name {twice[0]} is given twice", "names that differ in more than case")


def _once_each(value: Any) -> Any:
    if isinstance(value, dict):
        _refuse_twice(value)
    return value


Named = BeforeValidator(_once_each)
Text = Annotated[str, AfterValidator(_not_blank)]
Share = Annotated[float, _amount(parse_share)]
ShareAboveZero = Annotated[Share, AfterValidator(_above_zero)]
ShareBelowOne = Annotated[Share, AfterValidator(_below_one)]
Mass = Annotated[float, _quantity("mass"), AfterValidator(_above_zero)]
Raw = Annotated[str | float, PlainValidator(_text_or_number)]
"""An amount that is read later, with what stands in other tables."""
Day = Annotated[datetime.date, BeforeValidator(_day)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Head(_Table):
    """Table ``[workshop]``."""

    name: Text
    country: Annotated[str, _known("country", "countries")]
    electricity: Annotated[str, _known("region", "regions", "countries")] | None = None
    landfill_climate: Annotated[str, _known("climate", "climates")] | None = None
    landfill_site: Annotated[str, _known("landfill-site", "landfill_sites")] | None = None
    gas_collection: Share | None = None
    currency: Annotated[str, AfterValidator(_currency)] = ""
    units: Literal["metric", "us"] = "metric"
    part_moisture: ShareBelowOne | None = None
    gwp: Literal["AR6", "AR5"] = "AR6"
    landfill_parameters: Literal["default", "measured"] = "default"
    horizon: Annotated[float, _quantity("life"), AfterValidator(_above_zero)] = 100.0
    invented: StrictBool = False
    audience: Literal["adults", "school"] | None = None
    date: Day | None = None


class DeviceTable(_Table):
    """Table ``[equipment.NAME]``."""

    power: Annotated[float, _quantity("power"), AfterValidator(_above_zero)]
    load: ShareAboveZero = 1.0
    metered: StrictBool = False


class MouldTable(_Table):
    """Table ``[moulds.NAME]``."""

    material: Annotated[str, _known("material", "polymers", "mould_materials")]
    mass: Mass
    printing: Raw | None = None
    pressings: Annotated[int, _amount(_whole)]
    retired: StrictBool = False


class FateTable(_Table):
    """Tables ``[fates.GRADE]`` and ``[end_of_life]``."""

    landfill: Share = 0.0
    incineration: Share = 0.0
    recycling: Share = 0.0
    composting: Share = 0.0
    evidence: Text | None = None

    @model_validator(mode="after")
    def _total(self) -> FateTable:
        total = self.landfill + self.incineration + self.recycling + self.composting
        if abs(total - 1.0) > SHARES_TOLERANCE:
            raise _fault("shares-total", f"the shares add up to {total:g}", "shares that add up to 1")
        return self


class OriginTable(_Table):
    """Table ``[origin.GRADE]``."""

    post_consumer: Share
    evidence: Text | None = None


class GrantTable(_Table):
    """One table ``[[grants]]``."""

    name: Text
    start: Day
    end: Day
    share: ShareAboveZero = 1.0

    @model_validator(mode="after")
    def _forward(self) -> GrantTable:
        if self.end < self.start:
            raise _fault("bad-period", "the grant ends before it starts", "an end on or after the start")
        return self


def _distinct(grants: list[GrantTable]) -> list[GrantTable]:
    _refuse_twice(grant.name for grant in grants)
    return grants


class DryingTable(_Table):
    """Table ``[drying]``."""

    dryer: Annotated[str, _known("dryer", "dryers")] | None = None
    heated_room: StrictBool = False
    heating: Literal["gas", "electricity"] = "gas"
    pressed_solids: ShareAboveZero | None = None


class TransportTable(_Table):
    """Table ``[transport]``."""

    vehicle: Annotated[str, _known("vehicle", "vehicles")] = "car"


class RecipeTable(_Table):
    """Table ``[binders.NAME]``."""

    solids: ShareAboveZero | None = None
    preparation: Annotated[float, _amount(lambda text: parse_rate(text, "energy"))] | None = None
    price: Raw | None = None


class MaterialsTable(_Table):
    """Table ``[materials]``."""

    inks: Literal["none", "printed", "unknown"] | None = None
    tape_removed: StrictBool | None = None
    greaseproof: StrictBool | None = None


def _sheets(value: object) -> object:
    names = [value] if isinstance(value, str) else value
    if not isinstance(names, list) or not all(isinstance(name, str) and name.strip() for name in names):
        raise _fault("wrong-type", "this is no name of a sheet", 'a sheet such as "log 2026", or a list of them')
    return names


Sheets = Annotated[list[str], BeforeValidator(_sheets)]


class RecordsTable(_Table):
    """Table ``[records]``."""

    decimal: Literal["point", "comma"] | None = None
    dates: Literal["day first", "month first"] | None = None
    encoding: (
        Literal[
            "utf-8", "utf-16", "windows-1250", "windows-1252", "iso-8859-1", "iso-8859-2", "iso-8859-15", "macintosh"
        ]
        | None
    ) = None
    sheet: Sheets = []
    parts_sheet: Sheets = []


class TargetsTable(_Table):
    """Table ``[targets]``."""

    diverted: Mass
    by: Day


Grade = Annotated[str, _known("grade", "grades")]
Binder = Annotated[str, _known("binder", "binders")]


class File(_Table):
    """The whole file."""

    workshop: Head
    equipment: Annotated[dict[Text, DeviceTable], Named] = {}
    moulds: Annotated[dict[Text, MouldTable], Named] = {}
    fates: Annotated[dict[Grade, FateTable], Named] = {}
    end_of_life: FateTable | None = None
    drying: DryingTable = DryingTable()
    transport: TransportTable = TransportTable()
    records: RecordsTable = RecordsTable()
    binders: Annotated[dict[Binder, RecipeTable], Named] = {}
    editions: dict[Text, Text] = {}
    targets: TargetsTable | None = None
    origin: Annotated[dict[Grade, OriginTable], Named] = {}
    grants: Annotated[list[GrantTable], AfterValidator(_distinct)] = []
    materials: MaterialsTable = MaterialsTable()


_TABLES: dict[str, type[BaseModel]] = {
    "workshop": Head,
    "equipment": DeviceTable,
    "moulds": MouldTable,
    "fates": FateTable,
    "end_of_life": FateTable,
    "drying": DryingTable,
    "transport": TransportTable,
    "records": RecordsTable,
    "binders": RecipeTable,
    "targets": TargetsTable,
    "origin": OriginTable,
    "grants": GrantTable,
    "materials": MaterialsTable,
}


def keys_of(table: tuple[str, ...]) -> Iterable[str]:
    """Return the keys that a table may hold; of the whole file where `table` is empty."""
    model = _TABLES[table[0]] if table else File
    return model.model_fields
