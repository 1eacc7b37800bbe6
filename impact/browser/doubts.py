"""The doubts of `impact check` about one batch, before it stands in the table too; the likely slip mended.

A row that is not in the table yet is tried in a copy of the folder that is gone afterwards, by the very readers that
the commands use.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import log
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

from impact.base.files import passing_folder
from impact.base.problems import Problem, worst_first
from impact.base.spellings import fold
from impact.base.units import UnitError, parse_number, split_header, unit_factor
from impact.browser.logtable import FILE, Cells, LogTable
from impact.browser.served import Served, read_at
from impact.browser.setup.writer import COPIED
from impact.records.columns import LogColumn

if TYPE_CHECKING:
    from impact.records.workshop import Workshop

KEPT = 64
"""Answers that are kept; a page asks for the same ones again and again."""

CONFIRMABLE = ("size-span", "size-beside")
"""Doubts that are not told again once they are confirmed; others say so where they can be."""

TRIED = {"mass": ("g", "kg", "oz", "lb"), "volume": ("mL", "L", "US gal"), "energy": ("Wh", "kWh", "MJ"), "length": ("m", "km", "mi"), "time": ("min", "h")}  # fmt: skip
"""Units that are tried for what was meant."""

FAR, NEAR = 100.0, 4.0
"""How far apart two units are at least that one is taken for the other by a doubt about a third, and how near it has to come. Choices of ours. [-]"""

_CONFIRMED = re.compile(r'[;,]? ?(?:if it is right, )?write "[^"]+" in the column confirmed of this row')
"""What a file says of a doubt and a page has a button for."""

_AMOUNT = re.compile(r"^(.*?)([\d.,]+)\s*([^\d\s/]*)\s*(/.*)?$")

_asked: dict[object, list[Problem]] = {}
_keeping = Lock()


@dataclass(frozen=True)
class Doubt:
    """A doubt beside the field that raised it.

    Attributes
    ----------
    name : str
        Name of the column; empty for a doubt about the whole row.
    message, accepted : str
        What was read and why it is doubted; what would be accepted.
    is_error : bool
        Whether it has to be settled before anything is worked out.
    mended : tuple of str
        What the cell may hold instead, where one or two things are likely meant.
    confirms : bool
        Whether it can be confirmed.
    """

    name: str
    message: str
    accepted: str
    is_error: bool
    mended: tuple[str, ...]
    confirms: bool


def doubts_of(served: Served, batch: str, cells: Cells, columns: Iterable[LogColumn]) -> list[Doubt]:
    """Return the doubts about a batch that stands in the table with these cells, or would.

    Raises
    ------
    TableError
        The table cannot be changed.
    """
    table = served.table()
    if table.cells_of(batch) == cells:
        problems = served.read().problems
    else:
        table.put(batch, cells)
        problems = _tried(served, batch, cells, table)
    place = table.row_of(batch)
    row = None if place is None else place + 1
    found = [one for one in worst_first(problems) if one.file == FILE and one.row == row]
    by_name = {column.name: column for column in columns}
    return [_doubt(one, cells, table, by_name, served.read().workshop) for one in found]


def _tried(served: Served, batch: str, cells: Cells, table: LogTable) -> list[Problem]:
    key = (served.fingerprints(), batch, tuple(sorted(cells.items())))
    found = _asked.get(key)
    if found is None:
        with passing_folder() as folder:
            copy_settings(served.path, folder)
            (folder / FILE).write_text(
                table.text(), encoding="utf-8-sig", newline=""
            )  # whatever the file itself can hold
            problems = read_at(folder, served.now().date()).problems
        with _keeping:
            while len(_asked) >= KEPT:
                _asked.pop(next(iter(_asked)))
            _asked[key] = problems
        return problems
    return found


def copy_settings(source: Path, folder: Path) -> None:
    """Give a folder the files of a workshop but its batches; no links, which are refused as pictures.

    Films, reports and whatever else lies in the folder stay where they are.
    """
    for path in source.iterdir():
        if (
            path.suffix.lower() in COPIED
            and path.is_file()
            and path.stem != "batches"
            and not path.name.startswith(".")
        ):
            shutil.copyfile(path, folder / path.name)


def provisional(cells: Cells, workshop: Workshop | None, today: str, paper: Iterable[str], kg: float) -> Cells:
    """Return the cells of an open batch with what it has to have and has not yet, chosen so that nothing is doubted for it.

    Parts are counted as if all that was weighed had become parts.
    """
    part = cells.get("part", "")
    known = workshop.parts.get(part) if workshop else None
    made = max(1, round(kg / known.mass_kg)) if known is not None and known.mass_kg > 0.0 else 1
    return {"date": today, "binder": "none", "good parts": str(made if kg else 0), **cells}


def name_of(problem: Problem, table: LogTable, known: Mapping[str, LogColumn]) -> str:
    """Return the name of the column that a problem is about, empty where it is about a row."""
    if problem.column is None:
        return ""
    stands = {fold(header): name for name, header, _ in table.columns}
    plain = split_header(problem.column)[0]
    return stands.get(fold(problem.column)) or next(
        (name for name in known if fold(name) == fold(plain)), problem.column
    )


def _doubt(
    problem: Problem, cells: Cells, table: LogTable, known: Mapping[str, LogColumn], workshop: Workshop | None
) -> Doubt:
    name = name_of(problem, table, known)
    cell, column = cells.get(name, ""), known.get(name)
    read = f'read "{problem.read}": ' if problem.read is not None else ""
    confirms = problem.code in CONFIRMABLE or "in the column confirmed" in (problem.accepted or "")
    confirmed = fold(name) in {fold(one) for one in re.split("[;,]", cells.get("confirmed", ""))}
    return Doubt(
        name,
        f"{read}{problem.message.rstrip('.')}".rstrip("?") + ("?" if problem.message.endswith("?") else "."),
        _CONFIRMED.sub("", problem.accepted or "") if confirms else problem.accepted or "",
        problem.level == "error",
        mended(problem, cell, column, table.unit(name)) if cell and column else (),
        bool(confirms and column and not confirmed),
    )


def mended(problem: Problem, cell: str, column: LogColumn, unit: str | None) -> tuple[str, ...]:
    """Return what a cell may hold instead, once the likely slip is mended; nothing where none is likely.

    Parameters
    ----------
    problem : Problem
        The doubt.
    cell : str
        What the cell holds.
    column : LogColumn
        Its column.
    unit : str or None
        Unit in the header.
    """
    meant = re.search(r'did you mean "([^"]+)"\?', f"{problem.accepted or ''} {problem.message}")
    if meant:
        wrong = re.match(r'"([^"]+)" is no ', problem.message)
        return (cell.replace(wrong[1], meant[1], 1) if wrong and wrong[1] in cell else meant[1],)
    readings = re.match(r"([\d.]+) or ([\d.]+), as meant", problem.accepted or "")
    if readings:  # a fourth decimal leaves no doubt about the first three
        return tuple(f"{one}0" if re.search(r"\.\d{3}$", one) else one for one in readings.groups())
    other = "" if problem.slip == 1.0 else _in_other_unit(cell, problem.slip, column, unit)
    return (other,) if other else ()


def _nearest(slip: float, now: float, dimension: str) -> str:
    """Return the unit that is nearest to so many times smaller, where the units are hundreds of times apart; else nothing.

    A doubt may take pounds for grams where the cell says kilograms; its size is that of the two units it names.
    """
    apart = {other: unit_factor(other, dimension) * slip / now for other in TRIED[dimension]}
    other, off = min(apart.items(), key=lambda one: abs(log(one[1])))
    far = abs(log(unit_factor(other, dimension) / now)) > log(FAR)
    return other if far and abs(log(off)) < log(NEAR) else ""


def _in_other_unit(cell: str, slip: float, column: LogColumn, unit: str | None) -> str:
    """Return a cell whose amount is so many times smaller: with the unit that makes it so, else a thousand with its own."""
    found = _AMOUNT.match(cell)
    kind = "mass" if column.kind == "paper" else column.kind
    if found is None or kind not in TRIED:
        return ""
    start, number, own, end = found[1], found[2], found[3], f" {found[4]}" if found[4] else ""
    dimension = "time" if kind == "energy" and start.strip() else kind
    try:
        now = unit_factor(own or unit or column.unit, dimension)
        for other in TRIED[dimension]:
            if abs(unit_factor(other, dimension) * slip / now - 1.0) < 0.01:
                return f"{start}{number} {other}{end}"
        if slip not in (1000.0, 0.001):
            near = _nearest(slip, now, dimension)
            return f"{start}{number} {near}{end}" if near else ""
        smaller = parse_number(number)[0] / slip
    except UnitError:
        return ""
    plain = f"{smaller:.4g}" if smaller < 1000.0 else f"{smaller:.0f}"
    return f"{start}{plain}{f' {own}' if own else ''}{end}"
