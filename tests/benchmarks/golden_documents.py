"""Outputs as documents of lists, dicts, numbers and texts, and what differs between two of them."""

from __future__ import annotations

import hashlib
import json
import math
import re
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from difflib import SequenceMatcher
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import openpyxl

SAME = 1e-12
"""How far two numbers may lie apart, relative to the larger one."""

TOKEN = re.compile(r"\d+(?:\.\d+)?(?:[eE][-+]?\d+)?|[^\W\d_]+|[^\w\s]|_")
SUM = re.compile(r"\b[0-9a-f]{64}\b")
DRAWN = ("d", "points", "x", "y", "x1", "x2", "y1", "y2", "width", "height", "r", "cx", "cy", "transform", "viewbox")
TOLD = ("alt", "title", "aria-label", "lang")
SHIPPED = "table-"
"""How the names of the attached factor tables begin; `factors list` holds them."""


# -- reading ----------------------------------------------------------------------------------------


def lines_of(text: str) -> list[str]:
    """Return the lines of a text, blanks run together; SHA-256 sums are masked, for what they sum is compared."""
    return [" ".join(SUM.sub("<sum>", line).split()) for line in text.splitlines()]


def read_output(path: Path) -> Any:
    """Return what a file holds, or what each file of a folder holds."""
    if path.is_dir():
        return {str(one.relative_to(path)): read_output(one) for one in sorted(path.rglob("*")) if one.is_file()}
    readers = {".xlsx": _workbook, ".pdf": _pdf, ".html": _page, ".json": _json, ".png": _sum, ".jpg": _sum}
    reader = readers.get(path.suffix)
    return lines_of(path.read_text(encoding="utf-8")) if reader is None else reader(path)


def _sum(path: Path) -> str:
    """Return what tells a picture from others."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _json(path: Path) -> Any:
    return json.loads(path.read_text(encoding="utf-8"))


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date | datetime | time) else value


def _workbook(path: Path) -> dict[str, Any]:
    """Return the cells of every sheet, formulas as texts, with the lists that are offered and the named places."""
    book = openpyxl.load_workbook(path)
    sheets: dict[str, Any] = {}
    for page in book.worksheets:
        cells: dict[str, Any] = {}
        for row in page.iter_rows():
            for cell in row:
                if cell.value is not None:
                    cells[cell.coordinate] = _plain(getattr(cell.value, "text", cell.value))
                if cell.comment is not None:
                    cells[f"{cell.coordinate} comment"] = cell.comment.text
        rules = [f"{rule.sqref}: {rule.type} {rule.formula1}" for rule in page.data_validations.dataValidation]
        sheets[page.title] = {"cells": cells, "rules": sorted(rules)}
    return {
        "sheets": sheets,
        "order": book.sheetnames,
        "names": {k: v.attr_text for k, v in book.defined_names.items()},
    }


def _pdf(path: Path) -> dict[str, Any]:
    """Return the lines of each page, and what is attached."""
    done = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True)
    pages = [[line for line in lines_of(page) if line] for page in done.stdout.split("\f")]
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(["pdfdetach", "-saveall", "-o", folder, path], capture_output=True, check=True)
        names = sorted(one.name for one in Path(folder).iterdir())
        own = {name: read_output(Path(folder) / name) for name in names if not name.startswith(SHIPPED)}
    return {"pages": pages, "attached": own, "names": names}


class _Reader(HTMLParser):
    """Collects the texts of a page, what is told of its pictures, and the numbers of its drawings."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.hidden += tag in ("script", "style")
        for name, value in attrs:
            if value and (name in TOLD or name in DRAWN):
                self.found.append(f"{tag} {name}: {value}")

    def handle_endtag(self, tag: str) -> None:
        self.hidden -= tag in ("script", "style")

    def handle_data(self, data: str) -> None:
        if not self.hidden and data.strip():
            self.found.append(data)


def _texts(markup: str) -> list[str]:
    reader = _Reader()
    reader.feed(markup)
    reader.close()
    return [line for text in reader.found for line in lines_of(text) if line]


def _page(path: Path) -> list[str]:
    return _texts(path.read_text(encoding="utf-8"))


# -- comparing --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Difference:
    """One place where two documents differ; None stands for nothing there."""

    place: str
    old: Any
    new: Any

    def __str__(self) -> str:
        return f"{self.place}: {_shown(self.old)} -> {_shown(self.new)}"


def _shown(value: Any) -> str:
    if value is None:
        return "nothing"
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 300 else f"{text[:297]}..."


def differences(old: Any, new: Any, place: str, *, only: bool = False) -> Iterator[Difference]:
    """Yield each place where two documents differ.

    Parameters
    ----------
    old, new : object
        Documents as `json` reads them.
    place : str
        Where they stand.
    only : bool
        Pass over what the new one leaves out, on its uppermost level.
    """
    if isinstance(old, dict) and isinstance(new, dict):
        for key in [*old, *(key for key in new if key not in old)]:
            if key in new or not only:
                yield from differences(old.get(key), new.get(key), f"{place} > {key}")
    elif isinstance(old, list) and isinstance(new, list):
        yield from _lists(old, new, place)
    elif not _same(old, new):
        yield Difference(place, old, new)


def _lists(old: list[Any], new: list[Any], place: str) -> Iterator[Difference]:
    """Compare lists item by item; of lists of texts find what was put in or taken out."""
    if len(old) == len(new) or not all(isinstance(item, str) for item in [*old, *new]):
        if len(old) != len(new):
            yield Difference(f"{place} > length", len(old), len(new))
        for number, (one, other) in enumerate(zip(old, new, strict=False), 1):
            yield from differences(one, other, f"{place} > {number}")
        return
    for kind, a, b, c, d in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if kind == "replace" and b - a == d - c:
            yield from _lists(old[a:b], new[c:d], f"{place} > from {a + 1}")
        elif kind != "equal":
            yield Difference(f"{place} > lines {a + 1} to {b}", old[a:b] or None, new[c:d] or None)


def _same(old: Any, new: Any) -> bool:
    if old == new:
        return isinstance(old, bool) == isinstance(new, bool)
    if isinstance(old, str) and isinstance(new, str):
        return _same_text(TOKEN.findall(old), TOKEN.findall(new))
    if isinstance(old, int | float) and isinstance(new, int | float) and not isinstance(old, bool):
        return math.isclose(old, new, rel_tol=SAME)
    return False


def _same_text(old: Sequence[str], new: Sequence[str]) -> bool:
    return len(old) == len(new) and all(one == other or _close(one, other) for one, other in zip(old, new, strict=True))


def _close(old: str, new: str) -> bool:
    """Return whether two words are the same number; of whole numbers every figure counts, as in 007."""
    if not (old[0].isdecimal() and new[0].isdecimal()) or (old.isdecimal() and new.isdecimal()):
        return False
    return math.isclose(float(old), float(new), rel_tol=SAME)
