"""The columns of a log of batches, each once: its name, what it becomes, what it means, what a blank and a 0 mean.

The reader of batches, the log sheet of a new folder and its help, and `impact help columns` are made from this table:
a column is added to the log by one entry in `COLUMNS`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal, get_args

from impact.base.catalogue import Names, tag
from impact.base.spellings import CANONICAL

Id = Literal["part", "binder", "fate", "loss"]
Kind = Literal[
    "name", "note", "code", "day", Id, "paper", "mass", "volume", "length", "time", "force", "span", "energy", "share",
    "count", "money",
]  # fmt: skip
"""What the cells of a column hold: text, a day, an id of a list, or an amount of a dimension."""

MUST = "an error: this must be filled in"
ESTIMATED = "not recorded: estimated from the tables, with a wide interval"
NOTHING = "none of it"
USUAL = "the usual value of the tables"
ENTRY = "electricity, as an energy entry"

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

    @property
    def required(self) -> bool:
        """Whether every batch has to fill it in."""
        return self.blank == MUST

    @property
    def canonicals(self) -> tuple[str, ...]:
        """All that it becomes: of an energy entry the amount [kWh], how it is known, and the time of the run [h]."""
        if self.kind != "energy":
            return (self.canonical,)
        return self.canonical, f"{self.canonical}_evidence", f"{self.canonical.removesuffix('_kwh')}_run_h"

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
        """Return the header with the unit of its kind in brackets.

        Parameters
        ----------
        units : {"metric", "us"}
            Units of the log.
        """
        unit = UNITS[units].get(self.kind)
        return f"{self.name} [{unit}]" if unit else self.name


GRADE = LogColumn("{grade}", "paper", "paper.{grade}_kg", "paper put in: {label}", NOTHING, NOTHING, 200)
"""Stands for a column for each grade of the catalogue."""

COLUMNS: tuple[LogColumn, ...] = (
    LogColumn("batch", "name", "batch", "a name of its own for each batch, such as 001", MUST, place=10, width=7.0),
    LogColumn("date", "day", "date", "the day on which it was pressed", MUST, place=20, width=11.0),
    LogColumn("part", "part", "part", "what was made: a name of parts.csv, picked from the list", MUST, place=30, width=14.0),
    LogColumn("site", "code", "site", "where it was made, if there are several places", "no site", place=290),
    LogColumn("fate", "fate", "fate", "where this paper would have gone without you, if you know", "the shares of [fates], or the country's", place=220),
    LogColumn("binder", "binder", "binder", "picked from the list; none where none was used", MUST, place=60, width=12.0),
    LogColumn("rejects to", "loss", "rejects_to", "where the rejects went: picked from the list", "landfill is assumed", place=150, width=11.0),
    LogColumn("trim to", "loss", "trim_to", "where the trim went", "landfill is assumed", place=250),
    LogColumn("notes", "note", "notes", "anything worth remembering", "no note", place=180, width=18.0),
    GRADE,
    LogColumn(OWN_REJECTS, "paper", "own_rejects_kg", "own failed parts that were pulped again; they never count as new paper", NOTHING, NOTHING, 50, 9.0),
    LogColumn("moisture", "share", "moisture", "water in the paper, such as 8 %", USUAL, "bone dry", 210, missing="the moisture of the paper",
              remedy="weigh a handful of shreds before and after an oven or a sunny day, and write the moisture"),
    LogColumn("binder solids", "share", "binder_solids", "dry matter in the binder, such as 14 %", "your recipe, or the tables", "none", 230),
    LogColumn("binder mass", "mass", "binder_kg", "the binder as poured in, its water included", ESTIMATED, "none was used", 70, 9.0,
              "the mass of the binder", "weigh the binder of each batch"),
    LogColumn("water", "volume", "water_l", "fresh water put in", ESTIMATED, "none was used", 80, 7.5,
              "water", "write the litres that go into the blender"),
    LogColumn("trim", "mass", "trim_kg", "cut off finished parts, air-dry", ESTIMATED, "nothing was cut off", 160, 7.0,
              "trim", "weigh trim, or write 0"),
    LogColumn("part mass", "mass", "part_mass_kg", "one finished part of this batch, air-dry", "the mass in parts.csv", place=260),
    LogColumn("transport", "length", "transport_km", "driven to fetch the paper of this batch", ESTIMATED, "nobody drove for it", 170, 8.5,
              "driving", "write the kilometres driven for the paper, or 0"),
    LogColumn("hours", "time", "hours", "hours that the session took", "not recorded", "0 hours", 270),
    LogColumn("test load", "force", "test_load_n", "the load at which a part broke [N]", "not tested", place=300),
    LogColumn("test span", "span", "test_span_mm", "the distance of its supports [mm]", "not tested", place=310),
    LogColumn("good parts", "count", "good_parts", "parts that can be used", MUST, "the whole batch failed", 130, 7.0),
    LogColumn("rejects", "count", "rejects", "parts that cannot", ESTIMATED, "every part was good", 140, 7.5,
              "rejects", "count rejects, 0 included"),
    LogColumn("people", "count", "people", "people who took part", "not recorded", "nobody", 275),
    LogColumn("cost", "money", "cost", "money spent on the batch", "not recorded", "it cost nothing", 280),
    LogColumn("shredding", "energy", "shredding_kwh", ENTRY, ESTIMATED, "torn by hand", 90, 9.5,
              "shredding energy", "meter the shredder, or write 0 when paper is torn by hand"),
    LogColumn("binder preparation", "energy", "binder_preparation_kwh", "cooking the binder", "your recipe, or the tables", "not cooked", 240),
    LogColumn("blending", "energy", "blending_kwh", ENTRY, ESTIMATED, "no electricity", 100, 12.5,
              "blending energy", "meter the blender, or write its power and the minutes"),
    LogColumn("pressing", "energy", "pressing_kwh", ENTRY, ESTIMATED, "a hand press", 110, 9.5,
              "pressing energy", "write 0 for a hand press"),
    LogColumn("drying", "energy", "drying_kwh", ENTRY, ESTIMATED, "dried in still air", 120, 12.5,
              "drying energy", "meter the dryer, or write 0 when parts dry in still room air"),
)  # fmt: skip
"""All columns in the order in which they are read and stand in a `BatchTable`."""


def log_columns(names: Names) -> list[LogColumn]:
    """Return every column that a log may have, in the order in which they are read.

    Parameters
    ----------
    names : Names
        The ids that the factor tables know; each grade has a column.
    """
    usual = [grade for grade in names.grades if tag(names.grade_tags.get(grade, ""), "usual") == "yes"]
    grades = [_of_grade(grade, label, usual) for grade, label in names.grades.items()]
    return [one for column in COLUMNS for one in (grades if column is GRADE else [column])]


def _of_grade(grade: str, label: str, usual: list[str]) -> LogColumn:
    """Return the column of a grade; the usual ones stand in a new log, in the order of the catalogue."""
    column = replace(
        GRADE,
        name=grade,
        canonical=GRADE.canonical.format(grade=grade),
        meaning=GRADE.meaning.format(label=label),
    )
    if grade not in usual:
        return column
    return replace(column, meaning=f"{column.meaning}; as weighed", place=40 + usual.index(grade), width=9.5)


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


def of_kind(*kinds: Kind) -> list[LogColumn]:
    """Return the columns of some kinds, in the order in which they are read; grades of paper as one."""
    return [column for column in COLUMNS if column.kind in kinds]


def energy_columns() -> list[str]:
    """Return what the columns of energy entries become in a `BatchTable`. [kWh]"""
    return [column.canonical for column in of_kind("energy")]


def single_texts() -> tuple[str, ...]:
    """Return the columns of text that differs from row to row; a `BatchTable` calls them the same."""
    return tuple(column.name for column in of_kind("name", "note"))


def repeated_texts() -> tuple[str, ...]:
    """Return the columns of few texts that come again and again."""
    return tuple(column.name for column in of_kind("code", *get_args(Id)))


def ids_of(names: Names, parts: Iterable[str] | None) -> dict[Id, Mapping[str, object] | None]:
    """Return what may stand in each kind of column of ids, in the order of a list to pick from.

    Parameters
    ----------
    names : Names
        The ids that the factor tables know.
    parts : iterable of str or None
        Names of the parts; None where they are not known, and then any name passes.
    """
    fates = {fate: label for fate, label in names.fates.items() if fate != OWN_REJECTS}
    return {
        "part": None if parts is None else dict.fromkeys(parts, ""),
        "binder": names.binders,
        "fate": fates,
        "loss": {**fates, OWN_REJECTS: ""},
    }
