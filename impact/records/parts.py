"""The file ``parts.csv`` or ``parts.xlsx``: what is made, and the plastic part that each stands in for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, cast, get_args

from impact.base.catalogue import Names
from impact.base.problems import Problem, errors
from impact.base.spellings import fold
from impact.records.cells import Cells
from impact.records.files import choose_file, reading_settings
from impact.records.workshop import Equivalence, Part
from impact.records.workshop_keys import settings_of
from impact.tables.sheet import read_xlsx
from impact.tables.table import Table, UnreadableError, read_csv

if TYPE_CHECKING:
    import numpy as np

COLUMNS = tuple(one.key.name for one in settings_of(Part))
"""Columns of parts.csv."""

LIKELY_LIVES = (0.1, 20.0)
"""Plastic life over moulded life that is not doubted. [-]"""

LIKELY_MASSES = (0.02, 20.0)
"""Plastic mass over moulded mass that is not doubted. [-]"""

LIKELY_DENSITIES = (0.1, 1.6)
"""Density of a moulded part that is not doubted. [kg/L]"""

OPTIONAL = ("volume", "wet use", "plastic mass", "displacement", "wall")
EQUIVALENCES = dict.fromkeys(get_args(Equivalence), "")
YES_NO = {"yes": "yes", "no": "no", "true": "yes", "false": "no"}
ACCEPTED = "a CSV file, or a workbook parts.xlsx, with one row per part and the columns " + ", ".join(COLUMNS)


def read_parts(path: Path, names: Names, *, moulds: Sequence[str] | None) -> tuple[dict[str, Part], list[Problem]]:
    """Read ``parts.csv``, or ``parts.xlsx`` in its place.

    Parameters
    ----------
    path : Path
        The file, as ``parts.csv`` of the folder.
    names : Names
        The ids that the factor tables know.
    moulds : sequence of str or None
        Moulds that parts may name; None when the list could not be read, and then any name passes.

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
    cells = Cells(table, table.pick(COLUMNS))
    table.require(cells.columns, [name for name in COLUMNS if name not in OPTIONAL])
    if not errors(table.problems) and not cells.size:
        table.report("no-rows", None, None, "there is no part in the table", read=None, accepted="one row per part")
    parts = _parts(cells, names, moulds)
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
        return read_xlsx(path, COLUMNS, records, sheets=records.parts_sheet, accepted=ACCEPTED)
    return read_csv(path, accepted=ACCEPTED, records=records)


def _parts(cells: Cells, names: Names, moulds: Sequence[str] | None) -> dict[str, Part]:
    import numpy as np

    everywhere = np.ones(cells.size, dtype=bool)
    part = cells.text("part").tolist()
    mould = cells.ids("mould", None if moulds is None else dict.fromkeys(moulds), "mould").tolist()
    mass = cells.quantity("mass", "mass")
    volume = cells.quantity("volume", "volume")
    life = cells.quantity("service life", "life")
    wet = cells.ids("wet use", YES_NO, "answer").tolist()
    polymer = cells.ids("plastic polymer", names.polymers, "polymer").tolist()
    process = cells.ids("plastic process", names.processes, "process").tolist()
    plastic_mass = cells.quantity("plastic mass", "mass")
    plastic_life = cells.quantity("plastic service life", "life")
    equivalence = cells.ids("equivalence", EQUIVALENCES, "equivalence").tolist()
    displacement = cells.share("displacement")
    wall = cells.quantity("wall", "span")
    for name in COLUMNS:
        if name not in OPTIONAL:
            cells.demand(name, everywhere, f"a value for {name}")
    kinds = np.array(equivalence, dtype=object)
    cells.demand(
        "plastic mass", kinds == "measured", "the mass of the plastic part, which the equivalence measured needs"
    )
    by_volume = np.isin(kinds, ["same-volume", "equal-stiffness"])
    cells.demand("volume", by_volume, "the volume of the part's material, which this equivalence needs")
    for name, values in {
        "mass": mass, "volume": volume, "service life": life, "plastic mass": plastic_mass, "plastic service life": plastic_life,
        "wall": wall,
    }.items():  # fmt: skip
        cells.refuse_zero(name, values == 0.0)
    _refuse_twice(cells.table, part)
    _doubt(
        cells.table,
        "plastic service life",
        plastic_life,
        life,
        LIKELY_LIVES,
        "the service lives of the two parts",
        "years",
    )
    _doubt(cells.table, "plastic mass", plastic_mass, mass, LIKELY_MASSES, "the masses of the two parts", "mass")
    density = "mass over volume; the volume is that of the part's material, not what it can hold"
    _doubt(cells.table, "volume", mass, volume, LIKELY_DENSITIES, density, "kg per L")
    return {
        part[index]: Part(
            name=part[index],
            mould=mould[index],
            mass_kg=float(mass[index]),
            volume_l=_optional(volume[index]),
            service_life_years=float(life[index]),
            wet_use=YES_NO.get(wet[index]) == "yes",
            polymer=polymer[index],
            process=process[index],
            plastic_mass_kg=_optional(plastic_mass[index]),
            plastic_service_life_years=float(plastic_life[index]),
            equivalence=cast("Equivalence", equivalence[index]),
            displacement=_optional(displacement[index]),
            wall_mm=_optional(wall[index]),
        )
        for index in range(cells.size)
    }


def _doubt(
    table: Table,
    column: str,
    above: np.ndarray,
    below: np.ndarray,
    likely: tuple[float, float],
    what: str,
    unit: str,
) -> None:
    """Warn where a ratio lies outside what is likely; the figures are kept."""
    import numpy as np

    ratios = np.divide(above, below, out=np.full(len(below), np.nan), where=(below > 0.0) & (above > 0.0))
    for index in np.flatnonzero((ratios < likely[0]) | (ratios > likely[1])):
        message = f"{what}: the ratio is {ratios[index]:.3g}, a slip of the unit is likely"
        accepted = f"{likely[0]:g} to {likely[1]:g} ({unit}) passes without doubt"
        table.report("unlikely-ratio", int(index), column, message, read=None, accepted=accepted, level="warning")


def _optional(value: float) -> float | None:
    return None if math.isnan(value) else float(value)


def _refuse_twice(table: Table, parts: Sequence[str]) -> None:
    """Report each part whose name stands in an earlier row, up to case, spaces and hyphens."""
    first: dict[str, int] = {}
    for index, name in enumerate(parts):
        if name and first.setdefault(fold(name), index) != index:
            message = f"this part stands in {table.row_name(first[fold(name)])} already"
            table.report("duplicate-part", index, "part", message, read=name, accepted="one row per part")
