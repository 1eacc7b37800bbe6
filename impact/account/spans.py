"""Spans of the files that hold the batches: what one process reads at a time, a file or a piece of a large one."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from impact.base.catalogue import Names
from impact.base.files import require_unchanged
from impact.base.problems import Problem
from impact.records.batches import ACCEPTED, open_file
from impact.records.files import PARTS, choose_file, in_parts, part_files
from impact.tables.csv import CsvFile
from impact.tables.parquet import row_groups
from impact.tables.settings import ReadingSettings
from impact.tables.table import UnreadableError, refusing

SPAN_ROWS = 1_000_000
"""Rows of a Parquet file from which its further row groups are a span of their own."""

SPAN_BYTES = 256_000_000
"""Bytes of a CSV file from which its further blocks are a span of their own."""


@dataclass(frozen=True)
class Span:
    """Some records that follow one another in one file.

    Attributes
    ----------
    path : Path
        The file.
    name : str
        How problems name the file.
    extent : pair of int or None
        First row group of a Parquet file and the one behind the last, or first byte of a CSV file and the one behind
        the last; None for all of the file.
    before : os.stat_result or None
        What the system said of the file; None where there was none.
    """

    path: Path
    name: str
    extent: tuple[int, int] | None = None
    before: os.stat_result | None = None

    def require_unchanged(self) -> None:
        """Refuse a file that is no longer the one that it was.

        Raises
        ------
        UnreadableError
            Its size or time is another.
        """
        if self.before is not None:
            with refusing(self.path, ACCEPTED):
                require_unchanged(self.path, self.before)


def spans_of(folder: Path, records: ReadingSettings, names: Names) -> tuple[list[Span], list[Problem]]:
    """Return the spans of the batches of a workshop folder in their order, and why there may be none.

    The batches are one file, or all files of the folder `batches` by name.

    Parameters
    ----------
    folder : Path
        The workshop folder.
    records : ReadingSettings
        What the workshop says of its records.
    names : Names
        The ids that the factor tables know.
    """
    if in_parts(folder):
        paths, problems = part_files(folder)
        return [span for path in paths for span in _split(path, f"{PARTS}/{path.name}", records, names)], problems
    path, problem = choose_file(folder, PARTS)
    if problem is not None:
        return [], [problem]
    return list(_split(path, path.name, records, names)), []


def _split(path: Path, name: str, records: ReadingSettings, names: Names) -> Iterator[Span]:
    """Yield the spans of one file: whole row groups of Parquet, whole blocks of plain CSV, all of other files."""
    before = path.stat() if path.is_file() else None
    extents: list[tuple[int, int]] = []
    if path.suffix == ".parquet":
        extents = list(_of_row_groups(row_groups(path)))
    elif path.suffix == ".csv" and before is not None and before.st_size > SPAN_BYTES:
        extents = _of_blocks(path, records, names)
    yield from (Span(path, name, extent, before) for extent in (extents if len(extents) > 1 else [None]))


def _of_row_groups(groups: list[int]) -> Iterator[tuple[int, int]]:
    first, rows = 0, 0
    for place, more in enumerate(groups):
        if rows and rows + more > SPAN_ROWS:
            yield first, place
            first, rows = place, 0
        rows += more
    yield first, len(groups)


def _of_blocks(path: Path, records: ReadingSettings, names: Names) -> list[tuple[int, int]]:
    try:
        file = open_file(path, records, names)
        return file.extents(SPAN_BYTES) if isinstance(file, CsvFile) else []
    except UnreadableError:  # whoever reads the file says why
        return []
