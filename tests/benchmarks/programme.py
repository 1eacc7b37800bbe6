"""A made-up programme of many workshops, for measuring: every site, batch and figure in it is invented.

`write_programme(folder, rows)` writes a workshop folder with one row per batch as CSV or Parquet. A seed fixes the
content. All evidence classes occur: metered kWh, power or device times time, blanks; moisture, part mass, rejects and
trim are left out now and then. What the log is like is its `Kind`:

- `clean`: one batch in a thousand does not close its mass balance, which is a warning;
- `narrow`: the same in 20 columns;
- `doubtful`: two thirds lack 15 to 22 % of the dry mass, and sites stand one after the other with their dates out of order;
- `repetitive`: a third of the batches stand on one day with the same amounts; every other one of them is the same in all else
  but name and notes, the others differ in site, hours and people.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any, Literal, get_args

import numpy as np
import pyarrow as pa
import pyarrow.parquet
from pyarrow import compute

SEED = 20261125
SITES = 500
DAYS = 730
GRADES = ("corrugated", "newsprint", "office", "boxboard")
BINDERS = ("corn-starch", "rice-paste", "pva-glue", "none")
PARTS = {"tool-tray": 62.0, "sorting-cup": 14.0, "drawer-divider": 40.0, "crate-corner": 25.0}
LOSSES = ("landfill", "composting", "own rejects", "")

TOML = """\
# Invented data: this programme, its sites and its batches were made up to measure how fast the program is.
[workshop]
name = "Invented programme"
invented = true
country = "USA"
landfill_climate = "temperate-wet"
currency = "USD"
part_moisture = 0.06
[equipment.blender]
power = "390 W"
load = 0.8
[equipment.fan]
power = "56 W"
[equipment.shredder]
power = "160 W"
[moulds.shell]
material = "PLA"
mass = "300 g"
pressings = 400
[drying]
dryer = "fan"
[fates.corrugated]
landfill = 0.35
recycling = 0.65
evidence = "invented"
[binders.corn-starch]
solids = 0.14
"""

PARTS_HEADER = (
    "part,mould,mass,volume,service life,wet use,plastic polymer,plastic process,plastic mass,plastic service life,"
    "equivalence,displacement\n"
)

Format = Literal["csv", "parquet"]
Kind = Literal["clean", "narrow", "doubtful", "repetitive"]
LEFT_OUT = (
    "fate", "shredding", "binder preparation", "pressing", "rejects to", "trim to", "transport [km]", "hours", "people", "cost",
    "notes",
)  # fmt: skip
"""Columns that a narrow programme does not have."""


def _some(rng: np.random.Generator, values: Any, share: float) -> pa.Array:
    """Return values of which a share is left blank."""
    return pa.array(values, mask=rng.random(len(values)) < share)


def _texts(rng: np.random.Generator, choices: tuple[str, ...], rows: int, chances: tuple[float, ...]) -> pa.Array:
    codes = rng.choice(len(choices), rows, p=chances).astype(np.int32)
    return pa.DictionaryArray.from_arrays(codes, pa.array(choices)).cast(pa.string())


def _energy(rng: np.random.Generator, rows: int, mean_kwh: float, device: str) -> pa.Array:
    """Return energy cells: two in five metered, as many by nameplate, the rest blank."""
    entries = [f"{mean_kwh * level / 40:.4g}" for level in range(20, 60)]
    entries += [f"{device} {minutes} min" for minutes in range(4, 44)]
    entries += [""] * 20
    codes = rng.integers(0, len(entries), rows).astype(np.int32)
    return pa.DictionaryArray.from_arrays(codes, pa.array(entries)).cast(pa.string())


def programme_table(
    rows: int,
    *,
    seed: int = SEED,
    first: int = 0,
    total: int | None = None,
    sites: int = SITES,
    kind: Kind = "clean",
) -> pa.Table:
    """Return the batches of an invented programme.

    Parameters
    ----------
    rows : int
        Number of batches.
    seed : int
        Seed of the content.
    first : int
        Number of the first batch, for tables written in pieces.
    total : int, optional
        Batches of all pieces; they are spread evenly over `DAYS`.
    sites : int
        Number of sites.
    kind : {"clean", "narrow", "doubtful", "repetitive"}
        What the log is like.
    """
    rng = np.random.default_rng([seed, first])
    site = rng.integers(0, sites, rows)
    if kind == "doubtful":
        site.sort()
    part = (site + rng.integers(0, 2, rows)) % len(PARTS)
    binder = (site // 4 + rng.integers(0, 2, rows)) % len(BINDERS)
    nominal = np.array(list(PARTS.values()))[part] / 1000.0
    mass = nominal * rng.uniform(0.95, 1.05, rows)
    own_mass = rng.random(rows) < 0.5
    mass = np.where(own_mass, mass, nominal)
    good, rejects = rng.poisson(11, rows) + (4 if kind == "doubtful" else 3), rng.poisson(0.8, rows)
    dry_out = (good + rejects) * mass * 0.94
    trim = dry_out * rng.uniform(0.01, 0.04, rows)
    share, lost = (2.0 / 3.0, rng.uniform(0.15, 0.22, rows)) if kind == "doubtful" else (0.001, 0.3)
    unaccounted = np.where(rng.random(rows) < share, lost, rng.uniform(0.02, 0.06, rows))
    dry_in = (dry_out + trim * 0.94) / (1.0 - unaccounted)
    glue = np.where(binder == 3, 0.0, dry_in * 0.08)
    own = np.where(rng.random(rows) < 0.2, dry_in * 0.1, 0.0)
    fibre = dry_in - glue - own * 0.94
    moisture = np.round(rng.uniform(0.05, 0.09, rows), 3)
    split = rng.dirichlet(np.ones(len(GRADES)) * 0.7, rows)
    paper = fibre[:, np.newaxis] * split / (1.0 - moisture[:, np.newaxis]) * 1000.0
    solids = np.array([0.14, 0.16, 0.5, 1.0])[binder]
    days = np.sort(rng.uniform(first, first + rows, rows) / (total or first + rows) * DAYS).astype(np.int64)
    if kind == "doubtful":
        rng.shuffle(days)
    names = pa.array(np.char.add("P", np.char.zfill(np.arange(first, first + rows).astype(str), 8)))
    columns: dict[str, Any] = {
        "batch": names,
        "date": pa.array(np.datetime64("2025-01-01") + days.astype("timedelta64[D]")),
        "part": pa.array(np.array(list(PARTS))[part]),
        "site": pa.array(np.char.add("site ", np.char.zfill(site.astype(str), 3))),
    }
    for place, grade in enumerate(GRADES):
        columns[f"{grade} [g]"] = _some(rng, np.round(paper[:, place], 1), 0.0)
    columns |= {
        "own rejects [g]": pa.array(np.round(own * 1000.0, 1)),
        "moisture": _some(rng, moisture, 0.2),
        "fate": _texts(rng, ("", "landfill", "recycling"), rows, (0.7, 0.2, 0.1)),
        "binder": pa.array(np.array(BINDERS)[binder]),
        "binder mass [g]": _some(rng, np.round(glue / solids * 1000.0, 1), 0.1),
        "binder solids": _some(rng, solids, 0.5),
        "water [L]": _some(rng, np.round(rng.uniform(3.0, 9.0, rows), 1), 0.2),
        "shredding": _energy(rng, rows, 0.02, "shredder"),
        "binder preparation": _energy(rng, rows, 0.2, "blender"),
        "blending": _energy(rng, rows, 0.07, "blender"),
        "pressing": _some(rng, np.zeros(rows), 0.3),
        "drying": _energy(rng, rows, 1.2, "fan"),
        "good parts": pa.array(good),
        "rejects": _some(rng, rejects, 0.1),
        "rejects to": _texts(rng, LOSSES, rows, (0.3, 0.2, 0.3, 0.2)),
        "trim [g]": _some(rng, np.round(trim * 1000.0, 1), 0.1),
        "trim to": _texts(rng, LOSSES, rows, (0.3, 0.2, 0.3, 0.2)),
        "part mass [g]": pa.array(np.round(mass * 1000.0, 3), mask=~own_mass),
        "transport [km]": _some(rng, np.round(rng.uniform(0.0, 12.0, rows), 1), 0.2),
        "hours": pa.array(np.round(rng.uniform(1.0, 4.0, rows), 1)),
        "people": pa.array(rng.integers(1, 20, rows)),
        "cost": _some(rng, np.round(rng.uniform(0.0, 6.0, rows), 2), 0.5),
        "notes": _texts(rng, ("", "wet day", "sanded the rims, and let dry", "new mould"), rows, (0.9, 0.05, 0.02, 0.03)),
    }  # fmt: skip
    table = pa.table(columns)
    if kind == "narrow":
        return table.drop_columns(list(LEFT_OUT))
    return _repeated(table) if kind == "repetitive" else table


def _repeated(table: pa.Table) -> pa.Table:
    """Return batches of which the middle third has the amounts of its first one, see `Kind`."""
    rows = len(table)
    alike, others = np.arange(rows), np.arange(rows)
    alike[rows // 3 : 2 * rows // 3] = rows // 3
    others[rows // 3 : 2 * rows // 3 : 2] = rows // 3
    places = {"batch": None, "notes": None, "site": others, "hours": others, "people": others}
    columns = {name: (column, places.get(name, alike)) for name, column in zip(table.column_names, table, strict=True)}
    return pa.table(
        {name: column if at is None else column.take(pa.array(at)) for name, (column, at) in columns.items()}
    )


def write_programme(
    folder: Path,
    rows: int,
    *,
    form: Format = "csv",
    seed: int = SEED,
    piece: int = 1_000_000,
    sites: int = SITES,
    parts: int = 1,
    kind: Kind = "clean",
) -> Path:
    """Write a workshop folder with an invented programme of `rows` batches; return the file of the batches.

    With several `parts`, the batches are as many Parquet files in the folder ``batches``, which is returned.
    """
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "workshop.toml").write_text(TOML, encoding="utf-8")
    lines = [
        f"{name},shell,{mass:g} g,,2 years,no,PP,injection-moulding,{mass:g} g,2 years,measured,0.5\n"
        for name, mass in PARTS.items()
    ]
    (folder / "parts.csv").write_text(PARTS_HEADER + "".join(lines), encoding="utf-8")
    path = folder / f"batches.{form}"
    if parts > 1:
        path = folder / "batches"
        path.mkdir(exist_ok=True)
        piece = -(-rows // parts)
    schema = programme_table(1, seed=seed, kind=kind).schema
    tables = (
        programme_table(min(piece, rows - first), seed=seed, first=first, total=rows, sites=sites, kind=kind)
        for first in range(0, rows, piece)
    )
    if parts > 1:
        for place, table in enumerate(tables):
            pyarrow.parquet.write_table(table, path / f"{place:04d}.parquet")
    elif form == "csv":
        with path.open("wb") as stream:
            stream.write((",".join(schema.names) + "\n").encode())
            for table in tables:
                stream.write(_lines(table))
    else:
        with pyarrow.parquet.ParquetWriter(path, schema) as writer:
            for table in tables:
                writer.write_table(table)
    return path


def _lines(table: pa.Table) -> memoryview:
    """Return a table as CSV; only notes may need quotes."""
    cells = [compute.fill_null(column.cast(pa.large_string()), "") for column in table.combine_chunks().columns]
    mark, comma, end, nothing = (pa.scalar(text, pa.large_string()) for text in ('"', ",", "\n", ""))
    quoted = compute.binary_join_element_wise(mark, cells[-1], mark, nothing)
    cells[-1] = compute.if_else(compute.match_substring(cells[-1], ","), quoted, cells[-1])
    text = compute.binary_join_element_wise(compute.binary_join_element_wise(*cells, comma), end, nothing)
    return memoryview(text.combine_chunks().buffers()[2])


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Write a workshop folder with an invented programme.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("rows", type=int)
    parser.add_argument("--form", choices=("csv", "parquet"), default="csv")
    parser.add_argument("--sites", type=int, default=SITES)
    parser.add_argument("--parts", type=int, default=1)
    parser.add_argument("--kind", choices=get_args(Kind), default="clean")
    print(write_programme(**vars(parser.parse_args())))
