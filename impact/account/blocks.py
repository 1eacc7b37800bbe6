"""The spans of the files that hold the batches, and one span surveyed: what each of its blocks comes to.

A span is what one process reads at a time, a file or a piece of a large one; what it comes to is a pure function of the
files and the settings.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import TypeVar

from impact.account.comparison import Traits, traits_of
from impact.account.inventory import BY_PART, BY_SITE
from impact.account.plausibility import balance_doubts, batch_doubts
from impact.account.tally import Tally, TallySum, pressings_made, tally_of
from impact.base.catalogue import Names
from impact.base.files import require_unchanged
from impact.base.problems import Found, Problem, ProblemList
from impact.factors.factorset import FactorSet
from impact.factors.values import MissingFactorError, Values
from impact.records.batches import ACCEPTED, Chunk, chunk_of, open_file
from impact.records.batchtable import BatchTable
from impact.records.files import PARTS, choose_file, in_parts, part_files
from impact.records.selection import Selection
from impact.records.workshop import Workshop
from impact.tables.blocks import ChunkedFile
from impact.tables.csv import CsvFile
from impact.tables.fingerprints import Fingerprints, fingerprints
from impact.tables.parquet import row_groups
from impact.tables.settings import ReadingSettings
from impact.tables.table import UnreadableError, refusing

Thing = TypeVar("Thing")
Outcome = TypeVar("Outcome")

SPAN_ROWS = 1_000_000
"""Rows of a Parquet file from which its further row groups are a span of their own."""

SPAN_BYTES = 256_000_000
"""Bytes of a CSV file from which its further blocks are a span of their own."""


MOST = 8
"""Threads at most, so that what is under way fits in memory."""


@dataclass(frozen=True)
class Span:
    """Some records that follow one another in one file.

    An `extent` is in row groups of a Parquet file or bytes of a CSV file.
    """

    path: Path
    name: str  # how problems name the file
    extent: tuple[int, int] | None = None  # the first and the one behind the last; None for all
    before: os.stat_result | None = None  # what the system said of the file; None where there was none

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


def in_order(
    work: Callable[[Thing], Outcome], things: Iterable[Thing], *, lanes: int | None = None
) -> Iterator[Outcome]:
    """Yield the outcome of each thing in their order, some of them worked on at the same time.

    `things` are taken one by one, never more of them than are under way; what `work` raises is raised here, in the
    thing's place. `lanes` are the threads, by default one for each processor.
    """
    count = lanes or min(os.cpu_count() or 1, MOST)
    under_way: deque[Future[Outcome]] = deque()
    with ThreadPoolExecutor(count) as pool:
        try:
            for thing in things:
                under_way.append(pool.submit(work, thing))
                if len(under_way) > count:
                    yield under_way.popleft().result()
            while under_way:
                yield under_way.popleft().result()
        finally:
            for future in under_way:
                future.cancel()


@dataclass(frozen=True)
class Piece:
    """What one chunk of a file comes to."""

    records: int  # rows of the file, empty ones included
    problems: tuple[Problem, ...]  # errors of reading
    doubts: tuple[Found, ...] = ()  # faults and doubts of the mass balance of the batches that are wanted
    unlikely: tuple[Found, ...] = ()  # other doubts of them
    names: Fingerprints | None = None  # of the batches
    tally: Tally | None = None  # of the batches that are wanted; None where there is none, or an error
    pressings: dict[str, float] = field(default_factory=dict)  # of each mould in all batches
    parts: frozenset[str] = frozenset()  # in all batches
    sites: frozenset[str] = frozenset()  # named in all batches
    days: tuple[date, date] | None = None  # first and last of all batches
    missing: str | None = None  # what the factor tables lack
    asked: frozenset[str] = frozenset()  # keys of the factors asked for, where the piece was made elsewhere
    batches: BatchTable | None = None  # the rows, where they are kept
    traits: Traits | None = None  # what is kept of the batches to compare them with others
    complete: bool = True  # False where a file cannot be read any further


Pieces = Iterator[tuple[Span, Piece]]


@dataclass(frozen=True)
class Surveyor:
    """What is needed to survey a chunk; the same for all of a file."""

    workshop: Workshop | None  # None when it could not be read: then chunks are checked and not counted
    names: Names
    factors: FactorSet  # for what a batch leaves blank
    records: ReadingSettings
    wanted: Selection  # the batches to count
    keep: bool = False  # whether the rows are kept
    by_site: bool = False  # whether the amounts are summed by site as well

    @cached_property
    def values(self) -> Values | None:
        """Central values of the factors; note which ones were asked for."""
        return self._values()

    @cached_property
    def apart(self) -> Values | None:
        """The same for doubts, so that no factor counts as used for their sake."""
        return self._values()

    @property
    def asked(self) -> frozenset[str]:
        """Keys of the factors that were asked for."""
        return frozenset(choice.factor.key for choice in self.values.used.values()) if self.values else frozenset()

    def _values(self) -> Values | None:
        from impact.account.assessment import values_for

        return None if self.workshop is None else values_for(self.workshop, self.factors, self.names, seed=0, draws=1)

    def pieces(self, span: Span, *, size: int | None = None, lanes: int | None = None) -> Iterator[Piece]:
        """Yield what the blocks of a span come to, in their order; the last says why no more can be read."""
        try:
            file = open_file(span.path, self.records, self.names, size=size, extent=span.extent)
            span.require_unchanged()
            yield from in_order(lambda block: self.piece(file, block), file.blocks(), lanes=lanes)
        except UnreadableError as error:
            yield Piece(0, (error.problem,), complete=False)

    def whole(self, span: Span) -> list[Piece]:
        """Return the same to be sent elsewhere: the tallies of all blocks added up in the last of them, doubts in words."""
        found, total = [], TallySum()
        doubts, unlikely = ProblemList(), ProblemList()
        for piece in self.pieces(span, lanes=1):
            if piece.tally is not None:
                total.add(piece.tally)
            doubts.add(piece.doubts)
            unlikely.add(piece.unlikely)
            found.append(replace(piece, tally=None, doubts=doubts.taken(), unlikely=unlikely.taken()))
        found[-1] = replace(found[-1], tally=total.taken(), asked=self.asked)
        return found

    def piece(self, file: ChunkedFile, block: object) -> Piece:
        """Return what one block of a file comes to."""
        chunk = self.chunk(file, block)
        read = Piece(
            chunk.records,
            chunk.problems,
            names=fingerprints(chunk.batches.texts("batch")),
            batches=chunk.batches_read if self.keep else None,
        )
        return read if chunk.batches_read is None else self._counted(read, chunk.batches_read, file.path.name)

    def chunk(self, file: ChunkedFile, block: object) -> Chunk:
        """Return the batches of one block of a file."""
        return chunk_of(file.table(block), self.workshop, self.names, self.records, alone=file.alone)

    def _counted(self, read: Piece, batches: BatchTable, name: str) -> Piece:
        workshop, values, apart = self.workshop, self.values, self.apart
        if workshop is None or values is None or apart is None or not len(batches):
            return read
        read = replace(
            read,
            pressings=pressings_made(batches, workshop, values.central),
            parts=frozenset(batches.coded("part").used().names),
            sites=frozenset(batches.coded("site").used().names) - {""},
            days=(batches.days.min().astype(date), batches.days.max().astype(date)),
        )
        wanted = self.wanted.of(batches)
        if not len(wanted):
            return read
        try:
            tally, balance = tally_of(wanted, workshop, values.central, by=BY_SITE if self.by_site else BY_PART)
        except MissingFactorError as error:
            return replace(read, missing=str(error))
        return replace(
            read,
            tally=tally,
            doubts=tuple(balance_doubts(wanted, balance, name)),
            unlikely=tuple(batch_doubts(wanted, workshop, apart, balance, name)),
            traits=traits_of(wanted, balance, workshop, apart),
        )


Spread = Callable[[Surveyor, list[Span]], Pieces]
"""Surveys spans elsewhere, and yields their pieces in order."""
