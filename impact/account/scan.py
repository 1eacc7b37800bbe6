"""One pass over the batches of a folder: every problem in them, and their tally; the rows are forgotten."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial
from pathlib import Path

from impact.account.blocks import Piece, Pieces, Span, Spread, Surveyor, in_order, spans_of
from impact.account.comparison import Beside
from impact.account.tally import Tally, TallySum
from impact.base.problems import Alike, Found, Problem, ProblemList, errors
from impact.base.progress import track
from impact.factors.factorset import FactorSet
from impact.records.batches import lowered, named_twice, nothing_read, open_file
from impact.records.batchtable import BatchTable, joined
from impact.records.files import PARTS, choose_file, in_parts
from impact.tables.fingerprints import Fingerprints, repeated
from impact.tables.table import UnreadableError
from impact.tables.texts import Codes

AGAIN = 9
PAUSE = 0.05
"""How often a file that changed meanwhile is read again, and the wait before that. [s]"""


@dataclass(frozen=True)
class Survey:
    """What all batches of a file come to; see `Piece`. Of each kind of problem the first `LISTED` are told singly."""

    problems: tuple[Problem, ...]
    doubts: tuple[Problem, ...] = ()
    unlikely: tuple[Problem, ...] = ()
    tally: Tally | None = None
    pressings: dict[str, float] = field(default_factory=dict)
    parts: frozenset[str] = frozenset()
    sites: frozenset[str] = frozenset()
    days: tuple[date, date] | None = None
    missing: str | None = None
    batches: BatchTable | None = None  # the rows, where they were to be kept
    beside: Beside = field(default_factory=Beside)  # those that are wanted side by side
    asked: frozenset[str] = frozenset()  # keys of the factors asked for
    factors: FactorSet | None = None  # those at hand
    file: str = ""  # its name
    spans: tuple[Span, ...] = ()  # what was read, for whoever has to read it again


def survey(
    folder: Path,
    surveyor: Surveyor,
    *,
    size: int | None = None,
    lanes: int | None = None,
    spread: Spread | None = None,
) -> Survey:
    """Return what the batches of a workshop folder come to, read once.

    `size` is that of blocks, as of `impact.records.batches.open_file`; `lanes` are the threads, by default one for each
    processor; `spread` surveys the spans in other processes, see `impact.account.cluster`.
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
    return replace(taken.survey(surveyor, f"{PARTS}/" if in_parts(folder) else spans[0].name), spans=tuple(spans))


def read_again(spans: Sequence[Span], surveyor: Surveyor, places: Codes) -> BatchTable:
    """Return batches at some places among all of the spans, in that order, read once more with all their columns.

    Places count from 0 and ascend; there is at least one.

    Raises
    ------
    UnreadableError
        A file changed since, or cannot be read any more.
    """
    import pyarrow as pa

    pa.default_memory_pool().release_unused()  # what the first reading left
    found, above = [], 0
    for batches in _read(spans, surveyor):
        here = places[(places >= above) & (places < above + len(batches))] - above
        found.append(batches.kept(here))
        above += len(batches)
        if above > places[-1]:
            break
    return joined(found)


def _read(spans: Sequence[Span], surveyor: Surveyor) -> Iterator[BatchTable]:
    """Yield the batches of each block of the spans."""
    for span in spans:
        file = open_file(span.path, surveyor.records, surveyor.names, extent=span.extent)
        span.require_unchanged()
        for chunk in in_order(partial(surveyor.chunk, file), file.blocks()):
            if chunk.batches_read is not None:
                yield chunk.batches_read


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
        self.problems, self.doubts, self.unlikely = ProblemList(), ProblemList(), ProblemList()
        self.sum, self.sum_of_spans = TallySum(), TallySum()
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
        above, renamed = self.above, span.name != span.path.name

        def moved(problem: Problem) -> Problem:
            here = lowered(problem, above) if above else problem
            return here.at(span.name) if renamed else here

        def placed(found: Iterable[Found]) -> Iterable[Found]:
            if not above and not renamed:
                return found
            return (one.at(span.name, moved) if isinstance(one, Alike) else moved(one) for one in found)

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
