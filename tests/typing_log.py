"""The ten batches of README.md, typed into a log sheet as a person's spreadsheet program would keep them."""

from __future__ import annotations

import re
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")


def rows_of_readme() -> list[dict[str, str]]:
    """Return the rows of the table of step 4."""
    lines = [
        line for line in README.split("**4. The batches.**")[1].split("\n\n")[1].splitlines() if line.startswith("|")
    ]
    header, _, *rows = ([cell.strip() for cell in line.strip("|").split("|")] for line in lines)
    assert len(rows) == 10
    return [dict(zip(header, row, strict=True)) for row in rows]


def _cell(column: str, text: str) -> Any:
    if column == "batch":
        return text
    if column == "date":
        day = date.fromisoformat(text)
        return datetime(day.year, day.month, day.day)
    return float(text) if re.fullmatch(r"\d+(\.\d+)?", text) else text or None


def type_batches(path: Path) -> None:
    """Type the ten batches below the header of the sheet."""
    book = openpyxl.load_workbook(path)
    page = book["batches"]
    places = {str(cell.value).split(" [")[0]: cell.column for cell in page[1]}
    for number, row in enumerate(rows_of_readme(), 2):
        for column, text in row.items():
            page.cell(number, places[column]).value = _cell(column, text)
    book.save(path)
