"""Spans of the files that hold the batches: what one process reads at a time, a file or some row groups of one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from impact.chunks import row_groups
from impact.problems import Problem
from impact.records import PARTS, choose_file, in_parts, part_files

SPAN_ROWS = 1_000_000
"""Rows of a Parquet file from which its further row groups are a span of their own."""


@dataclass(frozen=True)
class Span:
    """Some records that follow one another in one file.

    Attributes
    ----------
    path : Path
        The file.
    name : str
        How problems name the file.
    groups : pair of int or None
        First row group of a Parquet file and the one behind the last; None for all of the file.
    """

    path: Path
    name: str
    groups: tuple[int, int] | None = None


def spans_of(folder: Path) -> tuple[list[Span], list[Problem]]:
    """Return the spans of the batches of a workshop folder in their order, and why there may be none.

    The batches are one file, or all files of the folder `batches` by name.

    Parameters
    ----------
    folder : Path
        The workshop folder.
    """
    if in_parts(folder):
        paths, problems = part_files(folder)
        return [span for path in paths for span in _split(path, f"{PARTS}/{path.name}")], problems
    path, problem = choose_file(folder, PARTS)
    return ([], [problem]) if problem is not None else (list(_split(path, path.name)), [])


def _split(path: Path, name: str) -> Iterator[Span]:
    """Yield the spans of one file: whole row groups of Parquet, other files as they are."""
    groups = row_groups(path) if path.suffix == ".parquet" else []
    if sum(groups) <= SPAN_ROWS:
        yield Span(path, name)
        return
    first, rows = 0, 0
    for place, more in enumerate(groups):
        if rows and rows + more > SPAN_ROWS:
            yield Span(path, name, (first, place))
            first, rows = place, 0
        rows += more
    yield Span(path, name, (first, len(groups)))
