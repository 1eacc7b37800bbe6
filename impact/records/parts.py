"""The file ``parts.csv`` or ``parts.xlsx``: what is made, and the plastic part that each stands in for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, get_args

from impact.base.catalogue import Names
from impact.base.problems import Problem, errors
from impact.base.spellings import CANONICAL, compared, fold
from impact.core import FloatArray
from impact.records.cells import Cells
from impact.records.files import choose_file, reading_settings
from impact.records.workshop import Equivalence, Part
from impact.records.workshop_keys import settings_of
from impact.tables.sheet import read_xlsx
from impact.tables.table import Table, UnreadableError, read_csv
from impact.tables.texts import Flags

COLUMNS = tuple(one.key.name for one in settings_of(Part))
"""Columns of parts.csv."""

LIKELY = (
    ("plastic service life", "plastic service life", "service life", (0.1, 20.0),
     "the service lives of the two parts", "years"),
    ("plastic mass", "plastic mass", "mass", (0.02, 20.0), "the masses of the two parts", "mass"),
    ("volume", "mass", "volume", (0.1, 1.6),
     "mass over volume; the volume is that of the part's material, not what it can hold", "kg per L"),
)  # fmt: skip
"""Ratios that are doubted outside a range: the column that is named, the two columns, the range [-], what it is, unit."""

OPTIONAL = ("volume", "wet use", "wall", "service life evidence")
OF_PLASTIC = ("plastic polymer", "plastic process", "plastic service life", "equivalence")
"""Columns that a plastic part needs. Where all of it is blank there is none, and they may be missing."""
MORE_OF_PLASTIC = ("plastic mass", "displacement", "plastic service life evidence", "displacement evidence")
"""Columns of a plastic part that may be blank."""
DIMENSIONS = {unit: dimension for dimension, unit in CANONICAL.items()}
YES_NO = {"yes": "yes", "no": "no", "true": "yes", "false": "no", "y": "yes", "n": "no", "si": "yes", "sí": "yes"}
ALSO = {
    "part": "name; part name; pieza", "mould": "mold; molde", "mass": "weight; part mass; part weight; masa; peso",
    "volume": "volumen", "service life": "life; lifetime; vida útil", "plastic polymer": "polymer; plastic; polímero",
    "plastic process": "process; proceso", "plastic mass": "plastic weight; masa de plástico; peso de plástico",
    "plastic service life": "plastic life; plastic lifetime", "wall": "wall thickness; thickness; pared",
}  # fmt: skip
"""Other headers of the columns, in English and Spanish."""

ACCEPTED = "a CSV file, or a workbook parts.xlsx, with one row per part and the columns " + ", ".join(COLUMNS)


def read_parts(path: Path, names: Names, *, moulds: Sequence[str] | None) -> tuple[dict[str, Part], list[Problem]]:
    """Read ``parts.csv``, which `path` names, or ``parts.xlsx`` in its place.

    Parts may name the ids of `names`, and of the `moulds`; any mould where their list could not be read, that is None.

    Returns
    -------
    dict of str to Part
        The parts by name; only to be used when no problem is an error.
    list of Problem
        Every error.
    """
    try:
        table = read_table(path)
    except UnreadableError as error:
        return {}, [error.problem]
    cells = Cells(table, table.pick(COLUMNS, meant=_meant), names)
    described = _described(cells)
    table.require(cells.columns, [name for name in COLUMNS if name in _demanded(described)])
    if not errors(table.problems) and not cells.size:
        table.report("no-rows", None, None, "there is no part in the table", read=None, accepted="one row per part")
    parts = _parts(cells, names, moulds, described)
    table.problems.sort(key=lambda problem: problem.row or 0)
    return parts, table.problems


def read_table(path: Path) -> Table:
    """Return the parts of a workshop folder as they are kept, named by the path of their CSV file.

    Raises
    ------
    UnreadableError
        When there are two files, or the one cannot be read.
    """
    path, problem = choose_file(path.parent, path.stem)
    if problem is not None:
        raise UnreadableError(problem)
    records = reading_settings(path.parent)
    if path.suffix == ".xlsx":
        words = [word.strip() for also in ALSO.values() for word in also.split(";")]
        return read_xlsx(path, [*COLUMNS, *words], records, sheets=records.parts_sheet, accepted=ACCEPTED)
    return read_csv(path, accepted=ACCEPTED, records=records)


def place_of_part(path: Path, part: str) -> tuple[str, int]:
    """Return the file and the row of a part that was read from a path without errors."""
    table = read_table(path)
    names = table.pick(COLUMNS, meant=_meant)["part"].text.tolist()
    return table.file, int(table.rows[names.index(part)])


def column_meant(header: str) -> str | None:
    """Return the column that a header stands for, its unit left out; None for a header of another kind."""
    from impact.base.units import split_header

    name = split_header(header)[0]
    found = [one for one in COLUMNS if fold(one) == fold(name)] or _meant(name, COLUMNS)
    return found[0] if len(found) == 1 else None


def _meant(header: str, known: Iterable[str]) -> list[str]:
    """Return the columns among those known that another header stands for."""
    return [one for one in known if compared(header) in map(compared, ALSO.get(one, "").split(";")) and header]


def _described(cells: Cells) -> Flags:
    """Return which parts have a plastic part: something of it is filled in."""
    import numpy as np

    described = np.zeros(cells.size, dtype=bool)
    for name in (*OF_PLASTIC, *MORE_OF_PLASTIC):
        if name in cells.columns:
            described |= ~cells.columns[name].blank
    return described


def _demanded(described: Flags) -> dict[str, Flags]:
    """Return the parts that must fill a column, by column."""
    import numpy as np

    always = [name for name in COLUMNS if name not in (*OPTIONAL, *OF_PLASTIC, *MORE_OF_PLASTIC)]
    found = dict.fromkeys(always, np.ones(len(described), dtype=bool))
    return {**found, **(dict.fromkeys(OF_PLASTIC, described) if described.any() else {})}


Ids = Mapping[str, tuple[str, Mapping[str, object] | None]]
"""Of the columns that hold an id: its kind as messages call it, and the ids; None where any may stand."""


def ids_of(names: Names, moulds: Sequence[str] | None) -> Ids:
    """Return what the columns that hold an id accept; arguments as of `read_parts`."""
    return {
        "mould": ("mould", None if moulds is None else dict.fromkeys(moulds)),
        "wet use": ("answer", YES_NO),
        "plastic polymer": ("polymer", names.polymers),
        "plastic process": ("process", names.processes),
        "equivalence": ("equivalence", dict.fromkeys(get_args(Equivalence))),
    }


def _parts(cells: Cells, names: Names, moulds: Sequence[str] | None, described: Flags) -> dict[str, Part]:
    ids = ids_of(names, moulds)
    read: dict[str, Any] = {}
    for name, unit in ((one.key.name, one.key.unit) for one in settings_of(Part)):
        if name in ids:
            kind, known = ids[name]
            read[name] = cells.ids(name, known, kind)
        elif not unit:
            read[name] = cells.text(name)
        else:
            read[name] = cells.share(name) if unit == "1" else cells.with_unit(name, DIMENSIONS[unit])
    for name, needed in _demanded(described).items():
        blank = "; or blanks in all that is of the plastic part, where there is none" if name in OF_PLASTIC else ""
        cells.demand(name, needed, f"a value for {name}{blank}")
    measured = "the mass of the plastic part, which the equivalence measured needs"
    cells.demand("plastic mass", read["equivalence"].where("measured"), measured)
    by_volume = read["equivalence"].where_any(("same-volume", "equal-stiffness"))
    cells.demand("volume", by_volume, "the volume of the part's material, which this equivalence needs")
    for one in settings_of(Part):
        if one.key.unit in DIMENSIONS:
            cells.refuse_zero(one.key.name, read[one.key.name] == 0.0)
    _refuse_twice(cells.table, read["part"].tolist())
    for column, above, below, likely, what, unit in LIKELY:
        _doubt(cells.table, column, read[above], read[below], likely, what, unit)
    columns = ([None if value != value else value for value in read[name].tolist()] for name in COLUMNS)
    attributes = [one.attribute for one in settings_of(Part)]
    rows = (dict(zip(attributes, row, strict=True)) for row in zip(*columns, strict=True))
    return {row["name"]: Part(**{**row, "wet_use": YES_NO.get(row["wet_use"]) == "yes"}) for row in rows}


def _doubt(
    table: Table, column: str, above: FloatArray, below: FloatArray, likely: tuple[float, float], what: str, unit: str
) -> None:
    """Warn where a ratio lies outside what is likely; the figures are kept."""
    import numpy as np

    ratios = np.divide(above, below, out=np.full(len(below), np.nan), where=(below > 0.0) & (above > 0.0))
    for index in np.flatnonzero((ratios < likely[0]) | (ratios > likely[1])):
        message = f"{what}: the ratio is {ratios[index]:.3g}, a slip of the unit is likely"
        accepted = f"{likely[0]:g} to {likely[1]:g} ({unit}) passes without doubt"
        table.report("unlikely-ratio", int(index), column, message, read=None, accepted=accepted, level="warning")


def _refuse_twice(table: Table, parts: Sequence[str]) -> None:
    """Report each part whose name stands in an earlier row, up to case, spaces and hyphens."""
    first: dict[str, int] = {}
    for index, name in enumerate(parts):
        if name and first.setdefault(fold(name), index) != index:
            message = f"this part stands in {table.row_name(first[fold(name)])} already"
            table.report("duplicate-part", index, "part", message, read=name, accepted="one row per part")
