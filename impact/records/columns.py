"""The columns of a log of batches: what each means, and what a blank and a 0 mean; which stand in a new log."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from impact.base.catalogue import Names, tag

Kind = Literal["name", "day", "part", "binder", "loss", "mass", "volume", "length", "energy", "count", "text"]

ESTIMATED = "not recorded: estimated from the tables, with a wide interval"
NOTHING = "none of it"

UNITS: dict[str, dict[str, str]] = {
    "metric": {"mass": "g", "volume": "L", "length": "km", "energy": "kWh"},
    "us": {"mass": "oz", "volume": "US qt", "length": "mi", "energy": "kWh"},
}
"""Unit of each kind of amount in the headers of a new log."""


@dataclass(frozen=True, slots=True)
class LogColumn:
    """One column of the log.

    Attributes
    ----------
    name : str
        Header without unit.
    kind : str
        What its cells hold.
    meaning : str
        What to write.
    blank, zero : str
        What a blank cell and a 0 mean; empty where they have no meaning.
    width : float
        Width of the column. [characters]
    """

    name: str
    kind: Kind
    meaning: str
    blank: str = ""
    zero: str = ""
    width: float = 9.0

    def header(self, units: str) -> str:
        """Return the header with the unit of its kind in brackets.

        Parameters
        ----------
        units : {"metric", "us"}
            Units of the log.
        """
        unit = UNITS[units].get(self.kind)
        return f"{self.name} [{unit}]" if unit else self.name


def _paper(names: Names) -> list[LogColumn]:
    return [
        LogColumn(grade, "mass", f"paper put in: {label}; as weighed", NOTHING, NOTHING, 9.5)
        for grade, label in names.grades.items()
        if _is_usual(grade, names)
    ]


def _is_usual(grade: str, names: Names) -> bool:
    """Return whether a grade stands in a new log."""
    return tag(names.grade_tags.get(grade, ""), "usual") == "yes"


def usual_columns(names: Names) -> list[LogColumn]:
    """Return the columns of a new log.

    Parameters
    ----------
    names : Names
        The ids that the factor tables know.
    """
    must = "an error: this must be filled in"
    return [
        LogColumn("batch", "name", "a name of its own for each batch, such as 001", must, width=7.0),
        LogColumn("date", "day", "the day on which it was pressed", must, width=11.0),
        LogColumn("part", "part", "what was made: a name of parts.csv, picked from the list", must, width=14.0),
        *_paper(names),
        LogColumn(
            "own rejects", "mass", "own failed parts that were pulped again; they never count as new paper", NOTHING, NOTHING
        ),
        LogColumn("binder", "binder", "picked from the list; none where none was used", must, width=12.0),
        LogColumn("binder mass", "mass", "the binder as poured in, its water included", ESTIMATED, "none was used"),
        LogColumn("water", "volume", "fresh water put in", ESTIMATED, "none was used", 7.5),
        LogColumn("shredding", "energy", "electricity, as an energy entry", ESTIMATED, "torn by hand", 9.5),
        LogColumn("blending", "energy", "electricity, as an energy entry", ESTIMATED, "no electricity", 12.5),
        LogColumn("pressing", "energy", "electricity, as an energy entry", ESTIMATED, "a hand press", 9.5),
        LogColumn("drying", "energy", "electricity, as an energy entry", ESTIMATED, "dried in still air", 12.5),
        LogColumn("good parts", "count", "parts that can be used", must, "the whole batch failed", 7.0),
        LogColumn("rejects", "count", "parts that cannot", ESTIMATED, "every part was good", 7.5),
        LogColumn(
            "rejects to", "loss", "where the rejects went: picked from the list", "landfill is assumed", width=11.0
        ),
        LogColumn("trim", "mass", "cut off finished parts, air-dry", ESTIMATED, "nothing was cut off", 7.0),
        LogColumn("transport", "length", "driven to fetch the paper of this batch", ESTIMATED, "nobody drove for it", 8.5),
        LogColumn("notes", "text", "anything worth remembering", "no note", width=18.0),
    ]  # fmt: skip


def further_columns(names: Names) -> list[LogColumn]:
    """Return the columns that may be added to a log.

    Parameters
    ----------
    names : Names
        The ids that the factor tables know.
    """
    grades = [
        LogColumn(grade, "mass", f"paper put in: {label}", NOTHING, NOTHING)
        for grade, label in names.grades.items()
        if not _is_usual(grade, names)
    ]
    usual = "the usual value of the tables"
    return [
        *grades,
        LogColumn("moisture", "text", "water in the paper, such as 8 %", usual, "bone dry"),
        LogColumn(
            "fate", "loss", "where this paper would have gone without you, if you know", "the shares of [fates], or the country's"
        ),
        LogColumn("binder solids", "text", "dry matter in the binder, such as 14 %", "your recipe, or the tables", "none"),
        LogColumn("binder preparation", "energy", "cooking the binder", "your recipe, or the tables", "not cooked"),
        LogColumn("trim to", "loss", "where the trim went", "landfill is assumed"),
        LogColumn("part mass", "mass", "one finished part of this batch, air-dry", "the mass in parts.csv"),
        LogColumn("hours", "count", "hours that the session took", "not recorded", "0 hours"),
        LogColumn("people", "count", "people who took part", "not recorded", "nobody"),
        LogColumn("cost", "text", "money spent on the batch", "not recorded", "it cost nothing"),
        LogColumn("site", "text", "where it was made, if there are several places", "no site"),
        LogColumn("test load", "text", "the load at which a part broke [N]", "not tested"),
        LogColumn("test span", "text", "the distance of its supports [mm]", "not tested"),
    ]  # fmt: skip
