"""What a report carries with it: the records, the factor tables, the settings, the results, and their checksums."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from impact.base.files import read_regular
from impact.base.pictures import is_plain_name, media_of, read_picture
from impact.base.places import factors_folder, templates_folder
from impact.factors.factorset import CLAIM_RULES
from impact.factors.rownames import plain_name
from impact.factors.rows import COLUMNS

if TYPE_CHECKING:
    from impact.programme import SiteResults
    from impact.report.layout.pdf import Attached
    from impact.study import Study
    from impact.tables.settings import ReadingSettings
    from impact.tables.table import Column, Table

SETTINGS, RESULTS, USED, SUMS = "settings.toml", "results.json", "factors-used.csv", "SHA256SUMS"
GUIDE = "START-HERE.txt"
"""Name of the attached text that says what the attached files are, and how the report is checked."""

BETWEEN = "--"
"""What stands between the folder of a workshop and its file in the name of an attached file, where there are several."""

WORKBOOK = "workbook.xlsx"
"""Name of the attached workbook of `impact export`."""

MOST_BATCHES = 500
"""Most batches of which the workbook is attached: some 1 kB and 2 ms for each batch, 120 kB and half a second in all."""

TEMPLATE = "template.html"
"""Name of an attached template of the workshop's own."""

TABLE_PREFIX = "table-"
"""Start of the names of the attached factor tables."""


MEDIA = {
    ".toml": ("application/toml", "Source"),
    ".csv": ("text/csv", "Source"),
    ".json": ("application/json", "Data"),
    ".xlsx": ("application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "Supplement"),
    ".html": ("text/html", "Supplement"),
    ".txt": ("text/plain", "Supplement"),
    "": ("text/plain", "Supplement"),
}
"""Media type and relation to the report of an attached file, by the end of its name."""

DESCRIPTIONS = {
    GUIDE: "What each attached file is, and how to check this report",
    "workshop.toml": "Settings of the workshop",
    "parts.csv": "Parts and the plastic parts that they stand in for",
    "batches.csv": "Batch records",
    "factors.csv": "The workshop's own factor values",
    SETTINGS: "How the report was made",
    RESULTS: "Every figure of the report",
    WORKBOOK: "The main figures as live formulas over records and factors",
    USED: "Factor rows that the figures use, with citations",
    TEMPLATE: "Template of the workshop's own, by which the pages are laid out",
    SUMS: "SHA-256 sums of the other files",
}


def records_of(folder: Path, *, leave_out: Sequence[str]) -> dict[str, bytes]:
    """Return the records of a workshop folder as files that can be read again: tables as CSV, pictures in plain form.

    Parameters
    ----------
    folder : Path
        The workshop folder, without errors.
    leave_out : sequence of str
        Which of the columns notes and people are left out. Of the notes the words stay that a caution goes by.
    """
    from impact.base.catalogue import read_names
    from impact.factors.own import read_table
    from impact.records import batches, parts
    from impact.records.files import choose_file, reading_settings

    records, names = reading_settings(folder), read_names()
    known = batches.header_words(names)
    tables = {
        "parts.csv": as_csv(parts.read_table(folder / "parts.csv"), records),
        "batches.csv": as_csv(batches.read_table(folder, records, known), records, leave_out=leave_out),
    }
    files = {"workshop.toml": read_regular(folder / "workshop.toml"), **tables}
    own, _ = choose_file(folder, "factors")
    if own.suffix == ".xlsx":
        files["factors.csv"] = as_csv(read_table(own), records)
    elif os.path.lexists(own):
        files["factors.csv"] = read_regular(own)
    return files | _pictures_of(folder)


def file_of(name: str) -> str:
    """Return the name of an attached file without the folder of its workshop."""
    return name.rpartition(BETWEEN)[2]


def under_roof(workshops: Mapping[str, Mapping[str, bytes]]) -> dict[str, bytes]:
    """Return the files of several workshops by the names that they are attached under, in the order of these."""
    named = {f"{_before(site)}{name}": content for site, files in workshops.items() for name, content in files.items()}
    return dict(sorted(named.items()))


def from_roof(files: Mapping[str, bytes], sites: Sequence[str]) -> dict[str, dict[str, bytes]]:
    """Return attached files by workshop and name; one of no workshop is left out.

    Where the name of one folder begins as another whole one, a file is of the longer.
    """
    found: dict[str, dict[str, bytes]] = {site: {} for site in sites}
    for name, content in files.items():
        site = max(
            (one for one in sites if name.startswith(_before(one))), key=lambda one: len(_before(one)), default=None
        )
        if site is not None:
            found[site][name.removeprefix(_before(site))] = content
    return found


def _before(site: str) -> str:
    """Return what stands before the name of a file of a workshop: its folder, all but plain letters as an address has them."""
    return f"{quote(site, safe='')}{BETWEEN}"


def _pictures_of(folder: Path) -> dict[str, bytes]:
    """Return the pictures that the settings of a workshop folder name, in plain form, under the names of their files."""
    from impact.records.files import content_of, picture_files
    from impact.records.workshop import SIZES

    files = picture_files(content_of(folder))
    return {name: read_picture(folder, name, most=SIZES[key], alt="").bytes for key, name in files.items()}


def as_csv(table: Table, records: ReadingSettings, *, leave_out: Sequence[str] = ()) -> bytes:
    """Return a table as CSV with every record in the row where it was.

    Parameters
    ----------
    table : Table
        As it is kept.
    records : ReadingSettings
        What the workshop says of its records; the CSV is written so that it is read again in the same way.
    leave_out : sequence of str
        Names of columns that are left out.
    """
    columns = [
        _without_prose(column) if column.name == "notes" and "notes" in leave_out else column
        for column in table.columns
        if column.name == "notes" or column.name not in leave_out
    ]
    stream = io.StringIO(newline="")
    mark = records.decimal or table.decimal or "."
    writer = csv.writer(stream, delimiter=";" if mark == "," else ",", lineterminator="\r\n")
    writer.writerow([column.header for column in columns])
    row = 2
    cells = zip(*(_texts(column, mark) for column in columns), strict=True)
    for place, texts in zip(table.rows.tolist(), cells, strict=True):
        writer.writerows([["" for _ in columns]] * (place - row))
        writer.writerow(texts)
        row = place + 1
    return stream.getvalue().encode(records.encoding or "utf-8", errors="replace")


def _without_prose(column: Column) -> Column:
    """Return notes of which only the words are left that a caution goes by."""
    from impact.findings.cautions import words_heeded
    from impact.tables.texts import Coded

    return replace(column, values=Coded.of(words_heeded(text) for text in column.text.tolist()), numbers=None)


def _texts(column: Column, mark: str) -> Sequence[str]:
    """Return the cells of a column as a person would write them, those kept as numbers with the decimal mark of the file."""
    import numpy as np

    if isinstance(column.values, np.ndarray):
        if column.is_days:
            return ["" if blank else str(day) for day, blank in zip(column.values, column.blank.tolist(), strict=True)]
        numbers = column.values.astype(float)
    elif column.numbers is None:
        return column.text.tolist()
    else:
        numbers = column.numbers
    texts = column.text.tolist()
    return [
        text if np.isnan(number) else written(number, mark)
        for text, number in zip(texts, numbers.tolist(), strict=True)
    ]


def written(number: float, mark: str) -> str:
    """Return a number of any unit without an exponent; three decimals get a fourth, so that no mark seems one of thousands."""
    import numpy as np

    text = np.format_float_positional(number, trim="-")
    whole, point, decimals = text.partition(".")
    return f"{whole}{mark}{decimals}{'0' * (len(decimals) == 3)}" if point else whole


def factor_tables(folder: Path | None = None) -> dict[str, bytes]:
    """Return every factor table with its sources, as files to attach; the rules on claims are texts of the program."""
    folder = folder or factors_folder()
    tables = (path for path in sorted(folder.glob("*.csv")) if path.name != CLAIM_RULES)
    return {f"{TABLE_PREFIX}{path.name}": path.read_bytes() for path in tables}


def guide(language: str, version: str) -> bytes:
    """Return the text to read first, in the language of the report, with the version of the program that made it."""
    text = (templates_folder() / "guides" / f"{language}.txt").read_text(encoding="utf-8")
    return text.replace("VERSION", version).encode()


def workbook_of(results: Study) -> bytes | None:
    """Return the workbook of `impact export`, not packed, because the PDF packs it; None for more than `MOST_BATCHES` batches."""
    from impact.trace.workbook import workbook

    return workbook(results, packed=False) if results.batches <= MOST_BATCHES else None


def used_rows(results: Study | SiteResults) -> bytes:
    """Return the factor rows that the results use, in the columns of a factor table, with plain names and citations."""
    stream = io.StringIO(newline="")
    names = [name for name in COLUMNS if name != "pedigree"]
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow([*names, "name", "citation"])
    for row in (choice.factor for choice in results.factors_used.values()):
        source = results.factors.sources.get(row.source)
        cells = [repr(cell) if isinstance(cell, float) else cell for cell in (getattr(row, name) for name in names)]
        writer.writerow([*cells, plain_name(row, names=results.names), source.citation if source else ""])
    return stream.getvalue().encode()


def as_toml(settings: Mapping[str, Any]) -> bytes:
    """Return plain values as TOML: texts, numbers, lists, and tables of them; what is None is left out."""
    import tomlkit

    return tomlkit.dumps(_stated(settings)).encode()


def _stated(settings: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: _stated(value) if isinstance(value, Mapping) else value
        for name, value in settings.items()
        if value is not None
    }


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
    from impact.report.layout.pdf import Attached

    return [
        Attached(name, content, media_of(content), "Source", "Picture of the workshop")
        if is_plain_name(file_of(name))
        else Attached(name, content, *MEDIA[Path(name).suffix], DESCRIPTIONS.get(file_of(name), "Factor table"))
        for name, content in files.items()
    ]
