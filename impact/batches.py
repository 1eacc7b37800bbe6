"""Batch records: one row per batch from ``batches.csv``, ``.xlsx`` or ``.parquet`` to columns in canonical units."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impact.cells import Cells
from impact.days import read_days
from impact.names import Names
from impact.problems import Problem, choices, errors
from impact.records import Records, choose_file, read_records
from impact.spellings import fold
from impact.tables import Table, UnreadableError, read_csv, read_parquet
from impact.workshop import Workshop
from impact.xlsxtable import WorkbookTable, read_xlsx

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
ACCEPTED = "a table with one row per batch, as batches.csv, batches.xlsx or batches.parquet"


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
    known = columns_known(names)
    records = read_records(folder)
    try:
        table = read_table(folder, records, [*known, *names.excluded_grades])
    except UnreadableError as error:
        return _frame(Cells(_nothing(), {}), workshop, names, records), [error.problem]
    cells = Cells(table, table.pick(dict.fromkeys(known), refused=names.excluded_grades))
    table.require(cells.columns, REQUIRED)
    if not cells.columns.keys() & {OWN_REJECTS, *names.grades}:
        accepted = "a column for each grade, such as " + ", ".join(sorted(names.grades)[:5])
        table.report("missing-column", None, None, "no column holds paper", read=None, accepted=accepted)
    if not errors(table.problems) and not cells.size:
        table.report("no-rows", None, None, "there are no batches yet", read=None, accepted="one row per batch")
    frame = _frame(cells, workshop, names, records)
    _check(cells, frame)
    table.problems.sort(key=lambda problem: problem.row or 0)
    return frame, table.problems


def columns_known(names: Names) -> list[str]:
    """Return the names of the columns that batches may have."""
    return [*REQUIRED, *OTHERS, *ENERGY, *QUANTITIES, *SHARES, *COUNTS, *names.grades]


def _nothing() -> Table:
    import numpy as np

    return Table("", [], np.zeros(0, dtype=np.int64))


def read_table(folder: Path, records: Records, known: Sequence[str]) -> Table:
    """Return the batches of a workshop folder as they are kept.

    Parameters
    ----------
    folder : Path
        The workshop folder.
    records : Records
        What the workshop says of them.
    known : sequence of str
        Names of columns, to find the header in a workbook.

    Raises
    ------
    UnreadableError
        When there are two files, or the one cannot be read.
    """
    path, problem = choose_file(folder, "batches")
    if problem is not None:
        raise UnreadableError(problem)
    if path.suffix == ".parquet":
        return read_parquet(path, accepted=ACCEPTED)
    if path.suffix == ".xlsx":
        return read_xlsx(path, known, records, sheets=records.sheet, accepted=ACCEPTED)
    return read_csv(path, accepted=ACCEPTED, records=records, limit=None)


def _frame(cells: Cells, workshop: Workshop | None, names: Names, records: Records) -> pd.DataFrame:
    """Return the canonical frame; report every cell that cannot be read."""
    import pandas as pd

    fates = {fate: label for fate, label in names.fates.items() if fate != OWN_REJECTS}
    losses = {**fates, OWN_REJECTS: ""}
    data: dict[str, Any] = {
        "row": cells.table.rows,
        "batch": cells.text("batch"),
        "date": _dates(cells, records.dates),
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
    if isinstance(cells.table, WorkbookTable):
        data["sheet"] = pd.Categorical(cells.table.sheets)
    return pd.DataFrame(data)


def _none_where_blank(cells: Cells, name: str) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Return a column of masses in which a blank means that there was none. [kg]"""
    import numpy as np

    values = cells.quantity(name, "mass")
    if name not in cells.columns:
        return np.zeros(cells.size)
    return np.where(cells.columns[name].blank, 0.0, values)


def _dates(cells: Cells, order: str | None) -> pd.Series[Any]:
    import pandas as pd

    column = cells.columns.get("date")
    if column is not None and not column.is_text and pd.api.types.is_datetime64_any_dtype(column.values):
        typed: pd.Series[Any] = column.values.dt.tz_localize(None).dt.normalize().astype("datetime64[us]")
        return typed
    days, faults = read_days(cells.text("date"), order)
    for index, (code, message, accepted) in faults:
        cells.fault("date", index, code, message, accepted)
    return days


def _check(cells: Cells, frame: pd.DataFrame) -> None:
    """Report what only shows when the cells of a batch are put together."""
    import numpy as np

    for name in REQUIRED:
        hint = "a binder, or none where none was used" if name == "binder" else f"a value for {name}"
        cells.demand(name, np.ones(cells.size, dtype=bool), hint)
    twice = frame["batch"].ne("") & frame["batch"].duplicated()
    first = (
        {}
        if not twice.any()
        else {
            frame["batch"].iloc[index]: cells.table.row_name(index)
            for index in _positions(~frame["batch"].duplicated())
        }
    )
    for index in _positions(twice):
        message = f"this batch stands in {first[frame['batch'].iloc[index]]} already"
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
