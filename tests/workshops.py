"""Workshop folders of three sizes for tests: the demo, a tiny one, a large one. All records are invented."""

from __future__ import annotations

import csv
import shutil
from datetime import date, timedelta
from pathlib import Path

from impact.records.demonstration import DEMO, FILES
from tests.folders import CLOSED, write_folder

TINY_BATCHES = (
    CLOSED
    + "003,2026-01-19,pot,1.3,280,,8 %,,pva-glue,0.2,50 %,12,0.01,,blender 13 min,0,0.5 kWh,37,2,landfill,40 g,own rejects,,5,3,4,2.50,school,\n"
)
COPIES = 63
"""Times that the large workshop repeats the 80 batches of the demo, each time some days later."""


def tiny(folder: Path) -> Path:
    """Return a folder with three batches."""
    return write_folder(folder, batches=TINY_BATCHES)


def large(folder: Path) -> Path:
    """Return a folder with 5,040 batches over some five years."""
    folder.mkdir(exist_ok=True)
    for name in FILES:
        shutil.copyfile(DEMO / name, folder / name)
    with (DEMO / "batches.csv").open(encoding="utf-8", newline="") as stream:
        header, *rows = csv.reader(stream)
    place, day = header.index("batch"), header.index("date")
    found = []
    for copy in range(COPIES):
        for row in rows:
            cells = list(row)
            cells[place] = f"{row[place]}-{copy}"
            cells[day] = (date.fromisoformat(row[day]) - timedelta(days=29 * copy)).isoformat()
            found.append(cells)
    found.sort(key=lambda cells: cells[day])
    with (folder / "batches.csv").open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([header, *found])
    return folder
