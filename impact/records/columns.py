"""The columns of a log of batches, each once: its name, what it becomes, what it means, what a blank and a 0 mean.

The reader of batches, the log sheet of a new folder and its help, and `impact help columns` are made from the table
``columns.csv`` beside this module: a column is added to the log by one row of it.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal, get_args

from impact.base.catalogue import Names, tag
from impact.base.spellings import CANONICAL, compared

Id = Literal["part", "binder", "fate", "loss"]
Kind = Literal[
    "name", "note", "code", "day", Id, "paper", "mass", "volume", "length", "time", "force", "span", "energy", "share",
    "count", "money",
]  # fmt: skip
"""What the cells of a column hold: text, a day, an id of a list, or an amount of a dimension."""

BLANKS = {
    "must": "an error: this must be filled in",
    "estimated": "not recorded: estimated from the tables, with a wide interval",
    "usual": "the usual value of the tables",
}
"""What a blank means, by the word for it in ``columns.csv``; others stand there in full."""

UNITS: dict[str, dict[str, str]] = {
    "metric": {"paper": "g", "mass": "g", "volume": "L", "length": "km", "energy": "kWh"},
    "us": {"paper": "oz", "mass": "oz", "volume": "US qt", "length": "mi", "energy": "kWh"},
}
"""Unit of each kind of amount in the headers of a new log."""

OWN_REJECTS = "own rejects"


@dataclass(frozen=True, slots=True)
class LogColumn:
    """One column of the log.

    Attributes
    ----------
    name : str
        Header without unit.
    kind : str
        What its cells hold, which says how they are read.
    canonical : str
        What it becomes in a `BatchTable`; the unit is in the name.
    meaning : str
        What to write.
    blank, zero : str
        What a blank cell and a 0 mean; empty where they have no meaning.
    place : int
        Where it stands in a new log or in its help, from left to right.
    width : float
        Width in a new log; 0 for a column that does not stand there and may be added. [characters]
    missing, remedy : str
        What a batch does not record where the cell is blank, and what to do about it; empty where nothing is assumed.
    also : str
        Other headers for it, in English and Spanish, between semicolons.
    """

    name: str
    kind: Kind
    canonical: str
    meaning: str
    blank: str = ""
    zero: str = ""
    place: int = 1000
    width: float = 0.0
    missing: str = ""
    remedy: str = ""
    also: str = ""

    @property
    def required(self) -> bool:
        """Whether every batch has to fill it in."""
        return self.blank == BLANKS["must"]

    @property
    def canonicals(self) -> tuple[str, ...]:
        """All that it becomes: of an energy entry the amount [kWh], how it is known, the time of the run [h], and the device."""
        if self.kind != "energy":
            return (self.canonical,)
        step = self.canonical.removesuffix("_kwh")
        return self.canonical, f"{self.canonical}_evidence", f"{step}_run_h", f"{step}_device"

    @property
    def unit(self) -> str:
        """Unit of a bare number under a header without unit; empty for what has none."""
        return CANONICAL.get("mass" if self.kind == "paper" else self.kind, "")

    @property
    def told(self) -> str:
        """What to write, what a blank and a 0 mean, and what to do about a blank, in words."""
        blank = "needed" if self.required else f"blank: {self.blank}"
        zero, remedy = self.zero and f"0: {self.zero}", self.remedy and f"better: {self.remedy}"
        return "; ".join(filter(None, (self.meaning, blank, zero, remedy)))

    def header(self, units: str) -> str:
        """Return the header with the unit of its kind in brackets; `units` of the log: metric or us."""
        unit = UNITS[units].get(self.kind)
        return f"{self.name} [{unit}]" if unit else self.name


GRADE = "{grade}"
"""Name of the row that stands for a column for each grade of the catalogue."""


def _read_columns() -> Iterator[LogColumn]:
    with Path(__file__).with_name("columns.csv").open(encoding="utf-8", newline="") as stream:
        row: dict[str, Any]
        for row in csv.DictReader(stream):
            blank, place, width = BLANKS.get(row["blank"], row["blank"]), int(row["place"]), float(row["width"])
            yield LogColumn(**{**row, "blank": blank, "place": place, "width": width})


COLUMNS = tuple(_read_columns())
"""All columns in the order in which they are read and stand in a `BatchTable`."""


def log_columns(names: Names) -> list[LogColumn]:
    """Return every column that a log may have, one for each grade of `names`, in the order in which they are read."""
    usual = [grade for grade in names.grades if tag(names.grade_tags.get(grade, ""), "usual") == "yes"]
    every = column_named(GRADE)
    grades = [_of_grade(every, grade, label, usual) for grade, label in names.grades.items()]
    return [one for column in COLUMNS for one in (grades if column.name == GRADE else [column])]


def _of_grade(column: LogColumn, grade: str, label: str, usual: list[str]) -> LogColumn:
    """Return the column of a grade; the usual ones stand in a new log, in the order of the catalogue."""
    canonical, meaning = column.canonical.format(grade=grade), column.meaning.format(label=label)
    if grade in usual:
        meaning, place = f"{meaning}; as weighed", 40 + usual.index(grade)
        return replace(column, name=grade, canonical=canonical, meaning=meaning, place=place, width=9.5)
    return replace(column, name=grade, canonical=canonical, meaning=meaning)


def usual_columns(names: Names) -> list[LogColumn]:
    """Return the columns of a new log, from left to right; `names` as of `log_columns`."""
    return _placed(column for column in log_columns(names) if column.width)


def further_columns(names: Names) -> list[LogColumn]:
    """Return the columns that may be added to a log; `names` as of `log_columns`."""
    return _placed(column for column in log_columns(names) if not column.width)


def _placed(columns: Iterable[LogColumn]) -> list[LogColumn]:
    return sorted(columns, key=lambda column: column.place)


def column_named(name: str) -> LogColumn:
    """Return the column of a name that is no grade."""
    return next(column for column in COLUMNS if column.name == name)


def column_of(canonical: str) -> LogColumn:
    """Return the column that becomes a column of a `BatchTable`; none of a grade."""
    return next(column for column in COLUMNS if column.canonical == canonical)


def columns_meant(header: str, known: Iterable[str]) -> list[str]:
    """Return the columns among those known that another header stands for."""
    named = {one.name for one in COLUMNS if compared(header) in map(compared, one.also.split(";")) if one.also}
    return [one for one in known if one in named]


def of_kind(*kinds: Kind) -> list[LogColumn]:
    """Return the columns of some kinds, in the order in which they are read; grades of paper as one."""
    return [column for column in COLUMNS if column.kind in kinds]


def energy_columns() -> list[str]:
    """Return what the columns of energy entries become in a `BatchTable`. [kWh]"""
    return [column.canonical for column in of_kind("energy")]


def device_columns() -> list[str]:
    """Return what holds the name of the device that each column of energy entries names."""
    return [column.canonicals[-1] for column in of_kind("energy")]


def single_texts() -> tuple[str, ...]:
    """Return the headers of columns of text that differs from row to row; a `BatchTable` calls them by the first of each."""
    return tuple(word.strip() for column in of_kind("name", "note") for word in (column.name, *column.also.split(";")))


def repeated_texts() -> tuple[str, ...]:
    """Return the columns of few texts that come again and again."""
    return tuple(column.name for column in of_kind("code", *get_args(Id)))


def ids_of(names: Names, parts: Iterable[str] | None) -> dict[Id, Mapping[str, object] | None]:
    """Return what may stand in each kind of column of ids, in the order of a list to pick from.

    Any name passes for a part where the names of the `parts` are not known, that is None.
    """
    fates = {fate: label for fate, label in names.fates.items() if fate != OWN_REJECTS}
    return {
        "part": None if parts is None else dict.fromkeys(parts, ""),
        "binder": names.binders,
        "fate": fates,
        "loss": {**fates, OWN_REJECTS: ""},
    }
