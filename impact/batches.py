"""Batch records: one row per batch from ``batches.csv`` or ``batches.parquet`` to columns in canonical units."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impact.cells import Cells
from impact.names import Names
from impact.problems import Problem, choices
from impact.spellings import fold
from impact.tables import Table, UnreadableError, read_csv, read_parquet
from impact.workshop import Workshop

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

    Flags = np.ndarray[Any, np.dtype[np.bool_]]

ENERGY = {
    "shredding": "shredding_kwh",
    "binder preparation": "binder_preparation_kwh",
    "blending": "blending_kwh",
    "pressing": "pressing_kwh",
    "drying": "drying_kwh",
}
"""Columns of energy entries, and what they become. [kWh]"""

QUANTITIES = {
    "binder mass": ("mass", "binder_kg"),
    "water": ("volume", "water_l"),
    "trim": ("mass", "trim_kg"),
    "part mass": ("mass", "part_mass_kg"),
    "transport": ("length", "transport_km"),
    "hours": ("time", "hours"),
    "test load": ("force", "test_load_n"),
    "test span": ("span", "test_span_mm"),
}
"""Columns of quantities, their dimension, and what they become."""

SHARES = {"moisture": "moisture", "binder solids": "binder_solids"}
COUNTS = {"good parts": "good_parts", "rejects": "rejects", "people": "people"}
REQUIRED = ("batch", "date", "part", "binder", "good parts")
OTHERS = ("own rejects", "fate", "rejects to", "trim to", "cost", "site", "notes")
OWN_REJECTS = "own rejects"
EVIDENCE = ("metered", "nameplate", "estimated")
FILES = ("batches.csv", "batches.parquet")
ACCEPTED = "a table with one row per batch, as batches.csv or batches.parquet"


def read_batches(folder: Path, workshop: Workshop | None, names: Names) -> tuple[pd.DataFrame, list[Problem]]:
    """Read the batch records of a workshop folder.

    Parameters
    ----------
    folder : Path
        The workshop folder.
    workshop : Workshop or None
        The workshop; None when it could not be read: then parts and devices are not checked.
    names : Names
        The ids that the factor tables know.

    Returns
    -------
    pandas.DataFrame
        One row per batch in canonical units; only to be used when no problem is an error.
    list of Problem
        Every error, by row.
    """
    try:
        table = read_table(folder)
    except UnreadableError as error:
        return _frame(Cells(_nothing(), {}), workshop, names), [error.problem]
    known = [*REQUIRED, *OTHERS, *ENERGY, *QUANTITIES, *SHARES, *COUNTS, *names.grades]
    cells = Cells(table, table.pick(dict.fromkeys(known), refused=names.excluded_grades))
    table.require(cells.columns, REQUIRED)
    if not cells.columns.keys() & {OWN_REJECTS, *names.grades}:
        accepted = "a column for each grade, such as " + ", ".join(sorted(names.grades)[:5])
        table.report("missing-column", None, None, "no column holds paper", read=None, accepted=accepted)
    if not table.problems and not cells.size:
        table.report("no-rows", None, None, "there is no batch in the table", read=None, accepted="one row per batch")
    frame = _frame(cells, workshop, names)
    _check(cells, frame)
    table.problems.sort(key=lambda problem: problem.row or 0)
    return frame, table.problems


def _nothing() -> Table:
    import numpy as np

    return Table("", [], np.zeros(0, dtype=np.int64))


def read_table(folder: Path) -> Table:
    """Return the batches of a workshop folder as they are kept.

    Raises
    ------
    UnreadableError
        When there are two files, or the one cannot be read.
    """
    found = [name for name in FILES if (folder / name).exists()]
    if len(found) > 1:
        message = "the batches are kept twice, and only one can be right"
        raise UnreadableError(Problem("two-files", " and ".join(found), message, accepted="one of the two"))
    if found == ["batches.parquet"]:
        return read_parquet(folder / found[0], accepted=ACCEPTED)
    return read_csv(folder / FILES[0], accepted=ACCEPTED, prose=("batch", "site", "notes"), limit=None)


def _frame(cells: Cells, workshop: Workshop | None, names: Names) -> pd.DataFrame:
    """Return the canonical frame; report every cell that cannot be read."""
    import pandas as pd

    fates = {fate: label for fate, label in names.fates.items() if fate != OWN_REJECTS}
    losses = {**fates, OWN_REJECTS: ""}
    data: dict[str, Any] = {
        "row": cells.table.rows,
        "batch": cells.text("batch"),
        "date": _dates(cells),
        "part": cells.ids("part", None if workshop is None else workshop.parts, "part").astype("category"),
        "site": cells.text("site").astype("category"),
        "fate": cells.ids("fate", fates, "fate").astype("category"),
        "binder": cells.ids("binder", names.binders, "binder").astype("category"),
        "rejects_to": cells.ids("rejects to", losses, "fate").astype("category"),
        "trim_to": cells.ids("trim to", losses, "fate").astype("category"),
        "notes": cells.text("notes"),
    }
    for grade in names.grades:
        if grade in cells.columns:
            data[f"paper.{grade}_kg"] = _none_where_blank(cells, grade)
    data["own_rejects_kg"] = _none_where_blank(cells, OWN_REJECTS)
    for column, name in SHARES.items():
        data[name] = cells.share(column)
    for column, (dimension, name) in QUANTITIES.items():
        data[name] = cells.quantity(column, dimension)
    for column, name in COUNTS.items():
        data[name] = cells.count(column)
    data["cost"] = cells.money("cost", "" if workshop is None else workshop.currency)
    for column, name in ENERGY.items():
        data[name], evidence, hours = cells.energy(column, None if workshop is None else workshop.equipment)
        data[f"{name}_evidence"] = pd.Categorical(evidence, categories=EVIDENCE)
        data[name.replace("_kwh", "_run_h")] = hours
    return pd.DataFrame(data)


def _none_where_blank(cells: Cells, name: str) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Return a column of masses in which a blank means that there was none. [kg]"""
    import numpy as np

    values = cells.quantity(name, "mass")
    if name not in cells.columns:
        return np.zeros(cells.size)
    return np.where(cells.columns[name].blank, 0.0, values)


def _dates(cells: Cells) -> pd.Series[Any]:
    import pandas as pd

    column = cells.columns.get("date")
    if column is not None and not column.is_text and pd.api.types.is_datetime64_any_dtype(column.values):
        typed: pd.Series[Any] = column.values.dt.tz_localize(None).dt.normalize().astype("datetime64[us]")
        return typed
    texts = cells.text("date")
    iso = texts.where(texts.str.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}"), "")
    days: pd.Series[Any] = pd.to_datetime(iso, format="%Y-%m-%d", errors="coerce").astype("datetime64[us]")
    for index in (texts.ne("") & days.isna()).to_numpy().nonzero()[0]:
        read = texts.iloc[index]
        code, message, accepted = _date_fault(read)
        cells.table.report(code, int(index), "date", message, read=read, accepted=accepted)
    return days


def _date_fault(text: str) -> tuple[str, str, str]:
    """Return code, message and what is accepted for a text that is no ISO date."""
    accepted = "a day as year-month-day, 2026-04-03"
    if match := re.fullmatch(r"([0-9]{4})[-/. ]([0-9]{1,2})[-/. ]([0-9]{1,2})", text):
        reading = _day(match[1], match[2], match[3])
        return "bad-date", "this is no day", f"{reading}" if reading and reading != text else accepted
    if match := re.fullmatch(r"([0-9]{1,2})[-/. ]([0-9]{1,2})[-/. ]([0-9]{4}|[0-9]{2})", text):
        year = match[3] if len(match[3]) == 4 else f"20{match[3]}"
        found = {_day(year, match[2], match[1]), _day(year, match[1], match[2])} - {None}
        readings = " or ".join(sorted(str(day) for day in found))
        if len(found) == 2:
            return "ambiguous-date", f"this may be {readings}", f"{readings}, as meant"
        return "bad-date", "this is no day as year-month-day", readings or accepted
    return "bad-date", "this is no day", accepted


def _day(year: str, month: str, day: str) -> str | None:
    try:
        return date(int(year), int(month), int(day)).isoformat()
    except ValueError:
        return None


def _check(cells: Cells, frame: pd.DataFrame) -> None:
    """Report what only shows when the cells of a batch are put together."""
    import numpy as np

    for name in REQUIRED:
        hint = "a binder, or none where none was used" if name == "binder" else f"a value for {name}"
        cells.demand(name, np.ones(cells.size, dtype=bool), hint)
    twice = frame["batch"].ne("") & frame["batch"].duplicated()
    first = frame.drop_duplicates("batch").set_index("batch")["row"]
    for index in _positions(twice):
        message = f"this batch stands in row {first[frame['batch'].iloc[index]]} already"
        cells.fault("batch", index, "duplicate-batch", message, "one row per batch, each with its own name")
    for index in _positions(_without_paper(cells, frame)):
        accepted = "the paper of this batch, or its own rejects"
        cells.fault("good parts", index, "no-paper", "parts were made of no paper", accepted)
    for index in _positions(frame["moisture"].ge(1.0)):
        cells.fault("moisture", index, "bad-share", "paper cannot be all water", "less than 100 %")
    none = frame["binder"].eq("none")
    for index in _positions(none & frame["binder_kg"].gt(0.0)):
        message = "a mass is given although the binder is none"
        cells.fault("binder mass", index, "binder-none", message, "0 or blank, or the binder's name")
    frame.loc[none & frame["binder_kg"].isna(), "binder_kg"] = 0.0


def _positions(flags: pd.Series[Any]) -> list[int]:
    return [int(index) for index in flags.to_numpy(dtype=bool).nonzero()[0]]


def _without_paper(cells: Cells, frame: pd.DataFrame) -> pd.Series[Any]:
    """Return which batches made parts of nothing; none of them where paper may stand in a column that is not known."""
    feed = frame[[name for name in frame.columns.astype(str) if name.startswith("paper.") or name == "own_rejects_kg"]]
    made = frame["good_parts"].fillna(0.0) + frame["rejects"].fillna(0.0)
    found: pd.Series[Any] = feed.eq(0.0).all(axis=1) & made.gt(0.0)
    doubt = {"unknown-column", "missing-column", "excluded-grade"} & {problem.code for problem in cells.table.problems}
    return found & (not doubt)


def filter_batches(
    frame: pd.DataFrame, *, period: tuple[date, date] | None = None, part: str | None = None, site: str | None = None
) -> pd.DataFrame:
    """Return the batches of a period, a part and a site.

    Parameters
    ----------
    frame : pandas.DataFrame
        Batches as `impact.batches.read_batches` returns them.
    period : tuple of datetime.date, optional
        First and last day, both included.
    part, site : str, optional
        Names, whatever their case, spaces and hyphens.

    Raises
    ------
    ValueError
        No batch at all has this part or site.
    """
    kept = frame
    for column, wanted in (("part", part), ("site", site)):
        if wanted is not None:
            kept = kept[kept[column].eq(_one_of(frame, column, wanted))]
    if period is not None:
        start, end = (day.isoformat() for day in period)
        kept = kept[kept["date"].between(start, end)]
    return kept.reset_index(drop=True)


def _one_of(frame: pd.DataFrame, column: str, wanted: str) -> str:
    known: dict[str, str] = {fold(name): name for name in frame[column].astype(str).unique() if name}
    if fold(wanted) not in known:
        accepted = choices(wanted, known.values()) or "none, as no batch names one"
        raise ValueError(f'read "{wanted}": no batch has this {column}. Accepted: {accepted}.')
    return known[fold(wanted)]
