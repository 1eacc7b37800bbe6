"""Workbooks for tests: tables written as spreadsheet programs do, and archives written as no program would."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

MAIN = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
RELATION = b"http://schemas.openxmlformats.org/officeDocument/2006/relationships"
TEXTS = b"application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"


def typed(text: str) -> Any:
    """Return a cell of a CSV file as a person's spreadsheet holds it: days and numbers as such, a blank as None."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        pass
    try:
        return float(text)
    except ValueError:
        return text or None


def cells_of(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text)))


def write_xlsx(
    path: Path,
    text: str,
    *,
    sheet: str = "batches",
    titles: int = 0,
    change: Callable[[Worksheet], None] | None = None,
    more: Mapping[str, str] | None = None,
    values: Callable[[str], Any] = typed,
) -> Path:
    """Write a CSV text as a workbook, `titles` rows lower; `change` edits the sheet, `more` adds sheets."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, content in {sheet: text, **(more or {})}.items():
        page = book.create_sheet(name)
        for number, row in enumerate(cells_of(content), start=1 + titles):
            for column, cell in enumerate(row, start=1):
                # the first row and the first column are names, not numbers
                page.cell(number, column, (cell or None) if number == 1 + titles or column == 1 else values(cell))
    if change is not None:
        change(book[sheet])
    book.save(path)
    return share_texts(path)


def share_texts(path: Path) -> Path:
    """Move the texts of the cells to the list of shared texts, where spreadsheet programs keep them."""
    texts: dict[bytes, int] = {}

    def share(match: re.Match[bytes]) -> bytes:
        number = texts.setdefault(match[2], len(texts))
        return b'%s t="s"><v>%d</v></c>' % (match[1], number)

    def move(name: str, part: bytes) -> bytes:
        if "worksheets/sheet" not in name:
            return part
        return re.sub(rb'(<c [^>]*?) t="inlineStr"><is>(<t[ >].*?</t>)</is></c>', share, part, flags=re.DOTALL)

    def refer(name: str, part: bytes) -> bytes:
        if name == "xl/_rels/workbook.xml.rels":
            link = b'<Relationship Type="%s/sharedStrings" Target="sharedStrings.xml" Id="texts"/></Relationships>'
            return part.replace(b"</Relationships>", link % RELATION)
        kind = b'<Override PartName="/xl/sharedStrings.xml" ContentType="%s"/></Types>' % TEXTS
        return part.replace(b"</Types>", kind) if name == "[Content_Types].xml" else part

    repack(path, move)
    items = b"".join(b"<si>%s</si>" % text for text in texts)
    return repack(path, refer, **{"xl/sharedStrings.xml": b'<sst xmlns="%s">%s</sst>' % (MAIN, items)})


def repack(path: Path, change: Callable[[str, bytes], bytes | None], **more: bytes) -> Path:
    """Write an archive anew, each part passed through `change`, which leaves it out with None."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            changed = change(name, content)
            if changed is not None:
                archive.writestr(name, changed)
        for name, content in more.items():
            archive.writestr(name, content)
    return path
