"""What a report carries with it: the records, the factor tables, the settings, the results, and their checksums."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impact.factors import COLUMNS, OWN_FILE
from impact.places import factors_folder
from impact.regular import read_regular

if TYPE_CHECKING:
    from impact.report.archive import Attached
    from impact.results import Results
    from impact.tables import Column, Table

PERSONAL = ("notes", "people")
"""Columns that stay out of what a report carries unless the workshop wants them in."""

SETTINGS, RESULTS, USED, SUMS = "settings.toml", "results.json", "factors-used.csv", "SHA256SUMS"
TABLE_PREFIX = "table-"
"""Start of the names of the attached factor tables."""


KINDS = {
    ".toml": ("application/toml", "Source"),
    ".csv": ("text/csv", "Source"),
    ".json": ("application/json", "Data"),
    "": ("text/plain", "Supplement"),
}
"""Media type and relation to the report of an attached file, by the end of its name."""

DESCRIPTIONS = {
    "workshop.toml": "Settings of the workshop",
    "parts.csv": "Parts and the plastic parts that they stand in for",
    "batches.csv": "Batch records",
    "factors.csv": "The workshop's own factor values",
    SETTINGS: "How the report was made",
    RESULTS: "Every figure of the report",
    USED: "Factor rows that the figures use, with citations",
    SUMS: "SHA-256 sums of the other files",
}


def records_of(folder: Path, *, personal: bool) -> dict[str, bytes]:
    """Return the records of a workshop folder as files that can be read again.

    Parameters
    ----------
    folder : Path
        The workshop folder, without errors.
    personal : bool
        Whether the columns `PERSONAL` of the batches are kept.
    """
    from impact.batches import read_table

    files = {"workshop.toml": read_regular(folder / "workshop.toml"), "parts.csv": read_regular(folder / "parts.csv")}
    files["batches.csv"] = as_csv(read_table(folder), leave_out=() if personal else PERSONAL)
    if (folder / OWN_FILE).exists():
        files[OWN_FILE] = read_regular(folder / OWN_FILE)
    return files


def as_csv(table: Table, *, leave_out: Sequence[str]) -> bytes:
    """Return a table as CSV with every record in the row where it was, without some of its columns."""
    columns = [column for column in table.columns if column.name not in leave_out]
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, delimiter=";" if table.decimal == "," else ",", lineterminator="\r\n")
    writer.writerow([column.header for column in columns])
    row = 2
    for place, cells in zip(
        table.rows.tolist(), zip(*(_texts(column) for column in columns), strict=True), strict=True
    ):
        while row < place:
            writer.writerow(["" for _ in columns])
            row += 1
        writer.writerow(cells)
        row += 1
    return stream.getvalue().encode()


def _texts(column: Column) -> Sequence[str]:
    """Return the cells of a column as a person would write them."""
    import pandas as pd

    if pd.api.types.is_datetime64_any_dtype(column.values):
        return column.values.dt.strftime("%Y-%m-%d").fillna("").tolist()
    return column.text.tolist()  # type: ignore[no-any-return]


def factor_tables(folder: Path | None = None) -> dict[str, bytes]:
    """Return every factor table with its sources, as files to attach."""
    folder = folder or factors_folder()
    return {f"{TABLE_PREFIX}{path.name}": path.read_bytes() for path in sorted(folder.glob("*.csv"))}


def used_rows(results: Results) -> bytes:
    """Return the factor rows that the results use, in the columns of a factor table, with their citations."""
    stream = io.StringIO(newline="")
    names = [name for name in COLUMNS if name != "pedigree"]
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow([*names, "citation"])
    chosen = {choice.factor.id: choice.factor for choice in results.factors_used.values()}
    for _, row in sorted(chosen.items()):
        source = results.factors.sources.get(row.source)
        cells = [repr(cell) if isinstance(cell, float) else cell for cell in (getattr(row, name) for name in names)]
        writer.writerow([*cells, source.citation if source else ""])
    return stream.getvalue().encode()


def as_toml(settings: Mapping[str, Any]) -> bytes:
    """Return plain values as TOML: texts, numbers, and tables of them."""
    lines, tables = [], []
    for name, value in settings.items():
        if isinstance(value, Mapping):
            tables.append((name, value))
        elif value is not None:
            lines.append(f"{name} = {json.dumps(value, ensure_ascii=False)}")
    for name, table in tables:
        lines += ["", f"[{name}]", as_toml(table).decode().rstrip("\n")]
    return ("\n".join(lines) + "\n").encode()


def as_json(document: Mapping[str, Any]) -> bytes:
    """Return a document as JSON, one figure to a line."""
    return (json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n").encode()


def sums_of(files: Mapping[str, bytes]) -> dict[str, str]:
    """Return the SHA-256 sum of each file (FIPS 180-4)."""
    return {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}


def sums_file(sums: Mapping[str, str]) -> bytes:
    """Return checksums in the common layout of one sum and one name to a line."""
    return "".join(f"{value}  {name}\n" for name, value in sums.items()).encode()


def attached(files: Mapping[str, bytes]) -> list[Attached]:
    """Return files as attachments of a PDF."""
    from impact.report.archive import Attached

    found = []
    for name, content in files.items():
        media_type, relation = KINDS[Path(name).suffix]
        found.append(Attached(name, content, media_type, relation, DESCRIPTIONS.get(name, "Factor table")))
    return found
