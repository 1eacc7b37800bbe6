"""How long new figures take on the page of figures once one of 1,000 batches changed: ``python tests/benchmarks/change.py``.

Aim: less than 0.3 s, with as many draws as `impact totals`.

Measured on a machine with two processors that others used too, Python 3.11, 2026-11-30: 1.5 s for the first page, then
0.25 to 0.27 s for each change; 0.75 to 1.0 s while three others computed.
"""

from __future__ import annotations

import csv
import sys
from datetime import date, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter, process_time

sys.path.insert(0, str(Path(__file__).parents[2]))

from impact.records.demonstration import copy_demo
from tests.pages import phones

AIM_S, BATCHES, CHANGES = 0.3, 1_000, 5
NEWSPRINT = 5
"""Column that is changed."""


def folder_of(place: Path) -> Path:
    """Return the demo with its batches again and again, a day apart; invented as they are."""
    folder = place / "many"
    copy_demo(folder)
    with (folder / "batches.csv").open(newline="") as stream:
        header, *rows = csv.reader(stream)
    many = [
        [f"b{n:04d}", (date(2023, 1, 1) + timedelta(days=n)).isoformat(), *rows[n % len(rows)][2:]]
        for n in range(BATCHES)
    ]
    write(folder, [header, *many])
    return folder


def write(folder: Path, rows: list[list[str]]) -> None:
    with (folder / "batches.csv").open("w", newline="") as stream:
        csv.writer(stream, lineterminator="\n").writerows(rows)


def main() -> int:
    """Print what each change takes; 1 where the least is beyond the aim."""
    taken = []
    with TemporaryDirectory() as place:
        folder = folder_of(Path(place))
        (phone,) = phones(folder)
        for change in range(1 + CHANGES):
            begun, processor = perf_counter(), process_time()
            assert phone.client.get("/figures/now").status_code == 200
            taken.append(perf_counter() - begun)
            used = process_time() - processor
            print(f"{'change' if change else 'first'}: {taken[-1]:.2f} s, {used:.2f} s of processor time")
            with (folder / "batches.csv").open(newline="") as stream:
                rows = list(csv.reader(stream))
            rows[-1][NEWSPRINT] = str(115 + change)
            write(folder, rows)
    return int(min(taken[1:]) > AIM_S)


if __name__ == "__main__":
    raise SystemExit(main())
