"""One pass over the batches of a folder: every problem in them, and their tally; the rows are forgotten."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from pathlib import Path

from impact.batches import Chunk, Selection, chunk_of, lowered, named_twice, nothing_read, open_file
from impact.batchtable import BatchTable, joined
from impact.beside import Beside, Traits, traits_of
from impact.checks import balance_problems
from impact.chunks import ChunkedFile
from impact.factors import FactorSet
from impact.fingerprints import Fingerprints, fingerprints, repeated
from impact.inventory import BY_PART, BY_SITE
from impact.lanes import in_order
from impact.names import Names
from impact.plausibility import batch_doubts
from impact.problems import Problem, errors
from impact.progress import track
from impact.records import PARTS, Records, choose_file, in_parts
from impact.spans import Span, spans_of
from impact.tables import UnreadableError
from impact.tally import Tally, pressings_made, summed, tally_of
from impact.texts import Codes
from impact.values import MissingFactorError, Values
from impact.workshop import Workshop

LISTED = 10_000
"""Problems of each level that are kept; of more, only the number is."""

AGAIN = 9
PAUSE = 0.05
"""How often a file that changed meanwhile is read again, and the wait before that. [s]"""

TOGETHER = 16
"""Tallies that are added up at once."""

AMOUNTS_HELD = 20_000_000
"""Amounts in tallies that wait to be added up, at most: 160 MB. Many sites make large tallies."""


@dataclass(frozen=True)
class Piece:
    """What one chunk of a file comes to.

    Attributes
    ----------
    records : int
        Rows of the file, empty ones included.
    problems, doubts, unlikely : tuple of Problem
        Errors of reading; faults and doubts of the mass balance of the batches that are wanted; other doubts of them.
    names : ndarray
        Fingerprints of the batches' names.
    tally : Tally or None
        Of the batches that are wanted; None where there is none, or an error.
    pressings : mapping of str to float
        Pressings of each mould in all batches of the chunk.
    parts, sites : frozenset of str
        Names in all batches.
    days : tuple of datetime.date or None
        First and last day of all batches.
    missing : str or None
        What the factor tables lack.
    asked : frozenset of str
        Keys of the factors that were asked for, where the piece was made elsewhere.
    batches : BatchTable or None
        The rows, where they are kept.
    traits : Traits or None
        What is kept of the batches to compare them with others.
    complete : bool
        False where a file cannot be read any further.
    """

    records: int
    problems: tuple[Problem, ...]
    doubts: tuple[Problem, ...] = ()
    unlikely: tuple[Problem, ...] = ()
    names: Fingerprints | None = None
    tally: Tally | None = None
    pressings: dict[str, float] = field(default_factory=dict)
    parts: frozenset[str] = frozenset()
    sites: frozenset[str] = frozenset()
    days: tuple[date, date] | None = None
    missing: str | None = None
    asked: frozenset[str] = frozenset()
    batches: BatchTable | None = None
    traits: Traits | None = None
    complete: bool = True


Pieces = Iterator[tuple[Span, Piece]]


@dataclass(frozen=True)
class Surveyor:
    """What is needed to survey a chunk; the same for all of a file.

    Attributes
    ----------
    workshop : Workshop or None
        None when it could not be read: then the chunks are checked and not counted.
    names : Names
        The catalogue.
    factors : FactorSet
        For what a batch leaves blank.
    records : Records
        What the workshop says of its records.
    wanted : Selection
        The batches to count.
    keep : bool
        Whether the rows are kept.
    by_site : bool
        Whether the amounts are summed by site as well.
    """

    workshop: Workshop | None
    names: Names
    factors: FactorSet
    records: Records
    wanted: Selection
    keep: bool = False
    by_site: bool = False

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
        from impact.assessment import values_for

        return None if self.workshop is None else values_for(self.workshop, self.factors, self.names, seed=0, draws=1)

    def pieces(self, span: Span, *, size: int | None = None, lanes: int | None = None) -> Iterator[Piece]:
        """Yield what the blocks of a span come to, in their order; the last says why no more can be read.

        Parameters
        ----------
        span : Span
            What to read.
        size, lanes : int, optional
            As of `survey`.
        """
        try:
            file = open_file(span.path, self.records, self.names, size=size, extent=span.extent)
            span.require_unchanged()
            yield from in_order(lambda block: self.piece(file, block), file.blocks(), lanes=lanes)
        except UnreadableError as error:
            yield Piece(0, (error.problem,), complete=False)

    def whole(self, span: Span) -> list[Piece]:
        """Return the same with the tallies of all blocks added up in the last of them, to be sent elsewhere."""
        found, total = [], _Sum()
        for piece in self.pieces(span, lanes=1):
            if piece.tally is not None:
                total.add(piece.tally)
            found.append(replace(piece, tally=None))
        found[-1] = replace(found[-1], tally=total.taken(), asked=self.asked)
        return found

    def piece(self, file: ChunkedFile, block: object) -> Piece:
        """Return what one block of a file comes to."""
        chunk = self.chunk(file, block)
        read = Piece(
            chunk.records,
            chunk.problems,
            names=fingerprints(chunk.batches.texts("batch")),
            batches=chunk.batches if self.keep else None,
        )
        return read if errors(chunk.problems) else self._counted(read, chunk.batches, file.path.name)

    def chunk(self, file: ChunkedFile, block: object) -> Chunk:
        """Return the batches of one block of a file."""
        return chunk_of(file.table(block), self.workshop, self.names, self.records, alone=file.alone)

    def _counted(self, read: Piece, batches: BatchTable, name: str) -> Piece:
        workshop, values, apart = self.workshop, self.values, self.apart
        if workshop is None or values is None or apart is None or not len(batches):
            return read
        read = replace(
            read,
            pressings=pressings_made(batches, workshop),
            parts=frozenset(batches.coded("part").present()),
            sites=frozenset(batches.coded("site").present()) - {""},
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
            doubts=tuple(balance_problems(wanted, balance, name)),
            unlikely=tuple(batch_doubts(wanted, workshop, apart, balance, name)),
            traits=traits_of(wanted, balance),
        )


@dataclass(frozen=True)
class Survey:
    """What all batches of a file come to; see `Piece`.

    Attributes
    ----------
    problems : tuple of Problem
        Every error of reading, the first `LISTED` of them singly.
    doubts, unlikely : tuple of Problem
        Faults and doubts of the mass balance, and other doubts of single batches, listed likewise.
    tally : Tally or None
        Of the batches that are wanted; None where there is none.
    batches : BatchTable or None
        The rows, where they were to be kept.
    beside : Beside
        The batches that are wanted side by side.
    asked : frozenset of str
        Keys of the factors that were asked for.
    factors : FactorSet or None
        The factors that were at hand.
    file : str
        Name of the file.
    """

    problems: tuple[Problem, ...]
    doubts: tuple[Problem, ...] = ()
    unlikely: tuple[Problem, ...] = ()
    tally: Tally | None = None
    pressings: dict[str, float] = field(default_factory=dict)
    parts: frozenset[str] = frozenset()
    sites: frozenset[str] = frozenset()
    days: tuple[date, date] | None = None
    missing: str | None = None
    batches: BatchTable | None = None
    beside: Beside = field(default_factory=Beside)
    asked: frozenset[str] = frozenset()
    factors: FactorSet | None = None
    file: str = ""


class _Listed:
    """Problems, of each level the first ones singly and of the rest the number by kind."""

    def __init__(self) -> None:
        self.kept: list[Problem] = []
        self.levels: Counter[str] = Counter()
        self.rest: Counter[tuple[str, str, str]] = Counter()

    def add(self, problems: Iterable[Problem]) -> None:
        for problem in problems:
            self.levels[problem.level] += 1
            if self.levels[problem.level] <= LISTED:
                self.kept.append(problem)
            else:
                self.rest[problem.level, problem.code, problem.file] += 1

    def all(self) -> tuple[Problem, ...]:
        kept = sorted(self.kept, key=lambda problem: problem.row or 0)
        more = [
            Problem(code, file, f"{count} more of this kind are counted and not listed", level=level, count=count)  # type: ignore[arg-type]
            for (level, code, file), count in sorted(self.rest.items())
        ]
        return (*kept, *more)


class _Sum:
    """Adds tallies up in their order, a few at a time, so that few are held."""

    # The order of the sums is part of the result: a float's last bits hang on it. Blocks are added up by span, and
    # spans after that, wherever each is read.

    def __init__(self) -> None:
        self.held: list[Tally] = []

    def add(self, tally: Tally) -> None:
        self.held.append(tally)
        if len(self.held) >= TOGETHER or sum(one.inventory.amounts.size for one in self.held) > AMOUNTS_HELD:
            self.held = [summed(self.held)]

    def taken(self) -> Tally | None:
        """Return the sum and begin anew."""
        held, self.held = self.held, []
        return summed(held) if held else None


Spread = Callable[[Surveyor, list[Span]], Pieces]
"""Surveys spans elsewhere, and yields their pieces in order."""


def survey(
    folder: Path,
    surveyor: Surveyor,
    *,
    size: int | None = None,
    lanes: int | None = None,
    spread: Spread | None = None,
) -> Survey:
    """Return what the batches of a workshop folder come to, read once.

    Parameters
    ----------
    folder : Path
        The workshop folder.
    surveyor : Surveyor
        What is wanted of the batches.
    size : int, optional
        As of `impact.batches.open_batches`.
    lanes : int, optional
        Threads; by default one for each processor.
    spread : callable, optional
        Surveys the spans in other processes, see `impact.cluster`.
    """
    spans, problems = spans_of(folder, surveyor.records, surveyor.names)
    _, fault = choose_file(folder, PARTS)
    if fault is not None and surveyor.keep:
        problems = [fault]
    if problems:
        return Survey(tuple(problems))
    here = ((span, piece) for span in spans for piece in surveyor.pieces(span, size=size, lanes=lanes))
    pieces = here if spread is None else spread(surveyor, spans)
    taken = _Taken()
    taken.all(track(pieces, "reading", unit="batches", amount=lambda found: found[1].records))
    taken.compare_names(surveyor, spans)
    return taken.survey(surveyor, f"{PARTS}/" if in_parts(folder) else spans[0].name)


def read_again(spans: Sequence[Span], surveyor: Surveyor, places: Codes) -> BatchTable:
    """Return batches at some places among all of the spans, in that order, read once more with all their columns.

    Parameters
    ----------
    spans : sequence of Span
        Files without errors.
    surveyor : Surveyor
        What is needed to read them.
    places : ndarray of int
        Places, from 0, ascending; at least one.

    Raises
    ------
    UnreadableError
        A file changed since: it cannot be read any more, or holds fewer batches.
    """
    found, above = [], 0
    for span in spans:
        file = open_file(span.path, surveyor.records, surveyor.names, extent=span.extent)
        for block in file.blocks():
            batches = surveyor.chunk(file, block).batches
            here = places[(places >= above) & (places < above + len(batches))] - above
            found.append(batches.kept(here))
            above += len(batches)
    if places[-1] >= above:
        name, message = spans[-1].name if spans else f"{PARTS}/", "it lost batches after it was read; try again"
        raise UnreadableError(Problem("changing-file", name, message, accepted="files that stay as they are"))
    return joined(found)


def unchanged(read: Callable[[], Survey]) -> Survey:
    """Return a survey of batches that stayed as they were while they were read; one that did not is made again."""
    found = read()
    for _ in range(AGAIN):
        if all(problem.code != "changing-file" for problem in found.problems):
            break
        time.sleep(PAUSE)
        found = read()
    return found


class _Taken:
    """Gathers the pieces of all spans in their order."""

    def __init__(self) -> None:
        self.above = 0
        self.span: Span | None = None
        self.problems, self.doubts, self.unlikely = _Listed(), _Listed(), _Listed()
        self.sum, self.sum_of_spans = _Sum(), _Sum()
        self.complete = True
        self.names: list[Fingerprints] = []
        self.batches: list[BatchTable] = []
        self.beside = Beside()
        self.found = Survey(())

    def all(self, pieces: Pieces) -> None:
        for span, piece in pieces:
            if span is not self.span:
                self._begin(span)
            self._take(piece, span)
        self._end_span()

    def _begin(self, span: Span) -> None:
        self._end_span()
        if self.span is None or self.span.path != span.path:
            self.above = 0
        self.span = span

    def _end_span(self) -> None:
        tally = self.sum.taken()
        if tally is not None:
            self.sum_of_spans.add(tally)

    def _take(self, piece: Piece, span: Span) -> None:
        def placed(problems: Iterable[Problem]) -> Iterator[Problem]:
            if span.name == span.path.name:
                return (lowered(problem, self.above) for problem in problems) if self.above else iter(problems)
            return (lowered(problem, self.above).at(span.name) for problem in problems)

        here = piece.problems if not self.above else [problem for problem in piece.problems if problem.row != 1]
        self.problems.add(placed(here))
        self.doubts.add(placed(piece.doubts))
        self.unlikely.add(placed(piece.unlikely))
        if piece.names is not None:
            self.names.append(piece.names)
        if piece.tally is not None:
            self.sum.add(piece.tally)
        self.complete &= piece.complete
        if piece.batches is not None:
            self.batches.append(piece.batches.below(self.above))
        if piece.traits is not None:
            self.beside.add(span.name, piece.traits, self.above)
        found = self.found
        days = [one for one in (found.days, piece.days) if one is not None]
        self.found = replace(
            found,
            pressings=_added(found.pressings, piece.pressings),
            parts=found.parts | piece.parts,
            sites=found.sites | piece.sites,
            days=(min(first for first, _ in days), max(last for _, last in days)) if days else None,
            missing=found.missing or piece.missing,
            asked=found.asked | piece.asked,
        )
        self.above += piece.records

    def compare_names(self, surveyor: Surveyor, spans: list[Span]) -> None:
        """Look for names that stand twice, and for records without any."""
        files = {span.name: span.path for span in spans}
        told = any(problem.code == "duplicate-batch" for problem in self.problems.kept)
        named = sum(len(names) for names in self.names)
        suspects = repeated(self.names if self.complete and not told else [])
        self.names.clear()
        if len(suspects):
            opened = ((name, open_file(path, surveyor.records, surveyor.names)) for name, path in files.items())
            try:
                self.problems.add(named_twice(opened, suspects))
            except UnreadableError as error:
                self.problems.add([error.problem])
        if not errors(self.problems.kept) and not named:
            self.problems.add([nothing_read(f"{PARTS}/" if len(files) > 1 else next(iter(files)))])

    def survey(self, surveyor: Surveyor, file: str) -> Survey:
        """Return what all pieces come to."""
        return replace(
            self.found,
            problems=self.problems.all(),
            doubts=self.doubts.all(),
            unlikely=self.unlikely.all(),
            tally=self.sum_of_spans.taken(),
            batches=joined(self.batches) if self.batches else None,
            beside=self.beside,
            asked=self.found.asked | surveyor.asked,
            factors=surveyor.factors,
            file=file,
        )


def _added(first: dict[str, float], second: dict[str, float]) -> dict[str, float]:
    return {name: first.get(name, 0.0) + second.get(name, 0.0) for name in {**first, **second}}
