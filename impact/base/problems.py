"""One problem in what a person wrote, as data: where it is, what was read, what would be accepted."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from impact.base.serial import document, shows

Level = Literal["error", "warning"]

READ_WIDTH = 80
"""Characters shown of what was read; the rest is cut."""

LISTED_WHOLE = 15
"""Names that are shown all; of longer lists only those spelt most alike are."""

LISTED_NEAREST = 5


@shows("code", "file", "message", "row", "column", "read", "accepted", "sheet", "level", "cell")
@dataclass(frozen=True, slots=True)
class Problem:
    """A fault or a doubt found in an input.

    Attributes
    ----------
    code : str
        Stable name of the kind of problem, for programs and tests (``unknown-unit``).
    file : str
        Name of the file as the reader knows it (``batches.csv``).
    message : str
        What is wrong, as a sentence without the place.
    row : int or None
        Row as a spreadsheet numbers it (the header is row 1), or the line of a TOML file.
    column : str or None
        Header of the column, or the dotted key of a TOML file.
    read : str or None
        The text that was read, unchanged; None where it is not at hand.
    accepted : str or None
        What would be accepted in its place.
    sheet : str or None
        Sheet of a workbook.
    cell : str or None
        Cell of a sheet as its program names it (``F12``).
    level : {"error", "warning"}
        Errors stop the calculation; warnings are printed with it.
    count : int
        Problems that this one stands for; more than 1 where not all are listed.
    amount : str or None
        What the record comes to, with its unit, where the text that was read is not at hand. No quotation; the message
        says it too.
    times : float
        How bad it is: times beyond what is believed, 1 where that has no size. Lists begin with the worst. [-]
    slip : float
        How many times too large the amount is if it was written in another unit than was meant, as the message asks; 1
        where none is likely. [-]
    """

    code: str
    file: str
    message: str
    row: int | None = None
    column: str | None = None
    read: str | None = None
    accepted: str | None = None
    sheet: str | None = None
    level: Level = "error"
    cell: str | None = None
    count: int = 1
    times: float = 1.0
    amount: str | None = None
    slip: float = 1.0

    def __str__(self) -> str:
        """Return the problem as one line: place, what was read, what is wrong, what is accepted."""
        row = "" if self.row is None else f"row {self.row}"
        read = f'read "{shown(self.read, READ_WIDTH)}": ' if self.read is not None else ""
        accepted = f" Accepted: {shown(self.accepted)}." if self.accepted else ""
        return _line(self, row, f"{read}{shown(self.message).rstrip('.')}.{accepted}")

    @property
    def brief(self) -> str:
        """The place and what was read, or what that comes to, in a few words."""
        row = "" if self.row is None else f"row {self.row}"
        quoted = f'"{shown(self.read, READ_WIDTH)}"' if self.read else None
        return _line(self, row, quoted or shown(self.amount or self.message, READ_WIDTH))

    def at(self, file: str, row: int | None = None) -> Problem:
        """Return the problem in another place: a file, and a row unless the old one stays."""
        return replace(self, file=file, row=self.row if row is None else row)


def _line(problem: Problem, rows: str, text: str) -> str:
    """Return a line that begins with the place: file, sheet, cell or rows, column."""
    column = shown(problem.column or "", READ_WIDTH)
    if problem.cell is not None:
        rows = f"cell {problem.cell}" + (f" ({column})" if column else "")
    sheet = "" if problem.sheet is None else f'sheet "{shown(problem.sheet, READ_WIDTH)}"'
    header = "" if problem.column is None or problem.cell is not None else f'column "{column}"'
    return f"{', '.join(filter(None, (shown(problem.file), sheet, rows, header)))}: {text}"


@document(
    "impact-check/1",
    "Problems in records",
    "What `impact check --json` and `impact factors check --json` print. With errors the exit status is 1; warnings alone "
    "leave it 0 unless --strict is given.",
)
@dataclass(frozen=True, slots=True)
class Check:
    """The problems found in some records."""

    problems: Sequence[Problem]


def shown(text: str, width: int | None = None) -> str:
    """Return a text fit for a terminal: cut to `width` characters, control and direction marks escaped."""
    cut = text if width is None or len(text) <= width else f"{text[:width]}…"
    if cut.isprintable():
        return cut
    return "".join(mark if mark.isprintable() else mark.encode("unicode_escape").decode("ascii") for mark in cut)


class ProblemsError(Exception):
    """Raised at the edge when an input has errors; carries every one of them.

    Attributes
    ----------
    problems : list of Problem
        All that was found, errors and warnings.
    """

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = list(problems)
        super().__init__(self.problems)

    def __str__(self) -> str:
        """Return every problem as a line."""
        return "\n".join(map(str, self.problems))


def errors(problems: Iterable[Problem]) -> list[Problem]:
    """Return only the problems that stop a calculation."""
    return [problem for problem in problems if problem.level == "error"]


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Return the known name that is spelt most like `name`, or None when nothing is close."""
    return next(iter(near_names(name, known, most=1)), None)


def near_names(name: str, known: Iterable[str], *, most: int = 5, cutoff: float = 0.6) -> list[str]:
    """Return the names spelt most like `name`, best first; none when nothing is close.

    Parameters
    ----------
    name : str
        What was read; case does not matter.
    known : iterable of str
        Names to choose from.
    most : int
        Most names to return.
    cutoff : float
        How alike they must be at least: 2 times the letters in common over those of both. [-]
    """
    folded = {candidate.casefold(): candidate for candidate in known}
    return [folded[one] for one in difflib.get_close_matches(name.strip().casefold(), folded, n=most, cutoff=cutoff)]


def choices(name: str, known: Iterable[str], labels: Mapping[str, str] | None = None) -> str:
    """Return what is accepted in place of `name`: the known names, of a long list the nearest, and the nearest again.

    Parameters
    ----------
    name : str
        What was read.
    known : iterable of str
        Every accepted name.
    labels : mapping of str to str, optional
        Plain words for the names (``GBR``: United Kingdom), by which people may have meant one.
    """
    names = sorted(known)
    near = _by_label(name, labels or {}) or nearest(name, names)
    listed = ", ".join(names)
    if len(names) > LISTED_WHOLE:
        alike = near_names(name, names, most=LISTED_NEAREST, cutoff=0.5)
        some = list(dict.fromkeys([*([near] if near else []), *alike] or names))[:LISTED_NEAREST]
        listed = f"{', '.join(some)} … and {len(names) - len(some)} more"
    return f'{listed} (did you mean "{near}"?)' if near else listed


def which_of(name: str, ids: Sequence[str], labels: Mapping[str, str]) -> str:
    """Return the question that a word of several ids leaves open, each with what it is."""
    listed = " or ".join(f"{one} ({labels[one]})" if labels.get(one) else one for one in ids)
    return f'"{name}" could be {listed}; which is meant?'


def _by_label(name: str, labels: Mapping[str, str]) -> str | None:
    """Return the id whose label, initials or first letters `name` is; else the one whose label is spelt most alike."""
    wanted = name.casefold().strip().replace(".", "")
    if not wanted:
        return None
    initials = {"".join(word[0] for word in label.split()).casefold(): key for key, label in labels.items()}
    if len(wanted) > 1 and wanted in initials:
        return initials[wanted]
    begun = [key for key in labels if len(wanted) > 1 and key.casefold().startswith(wanted)]
    if len(begun) == 1:
        return begun[0]
    keys = {label: key for key, label in labels.items()}
    return next((keys[label] for label in near_names(wanted, keys, most=1, cutoff=0.8)), None)


LISTED = 10_000
"""Problems of each kind that are listed, the first by row; of more, only the number is told."""


@dataclass(frozen=True)
class Alike:
    """Problems of one kind, at one level, in one file: counted, and put into words only as far as they are listed.

    Attributes
    ----------
    code, file, level, count
        As of `Problem`.
    first : callable
        Returns the first so many of them, of which there are `LISTED` at least or all; in their order.
    """

    code: str
    file: str
    level: Level
    count: int
    first: Callable[[int], Iterable[Problem]]

    def at(self, file: str, moved: Callable[[Problem], Problem]) -> Alike:
        """Return them in another file, each of them moved."""
        return replace(self, file=file, first=lambda count: map(moved, self.first(count)))


Found = Problem | Alike


class ProblemList:
    """Problems, of each kind at each level the first ones singly and of the rest the number by file."""

    def __init__(self) -> None:
        self.kept: list[Problem] = []
        self.kinds: Counter[tuple[str, str]] = Counter()
        self.rest: Counter[tuple[Level, str, str]] = Counter()

    def add(self, found: Iterable[Found]) -> None:
        """Add problems; one that stands for many counts as many."""
        for one in found:
            told = self.kinds[one.level, one.code]
            self.kinds[one.level, one.code] += one.count
            single = max(min(one.count, LISTED - told), 0)
            if isinstance(one, Alike):
                self.kept.extend(one.first(single) if single else ())
            elif one.count == 1 and single:
                self.kept.append(one)
            else:
                single = 0
            if one.count > single:
                self.rest[one.level, one.code, one.file] += one.count - single

    def taken(self) -> tuple[Problem, ...]:
        """Return what was added since the last time: those that are kept, and for the rest one of each kind and file."""
        taken = (*self.kept, *(not_listed(code, file, n, level) for (level, code, file), n in self.rest.items()))
        self.kept, self.rest = [], Counter()
        return taken

    def all(self) -> tuple[Problem, ...]:
        """Return those that are kept, by row, and for the rest one of each kind with its number."""
        kept = sorted(self.kept, key=lambda problem: problem.row or 0)
        return (*kept, *(not_listed(code, file, n, level) for (level, code, file), n in sorted(self.rest.items())))


def listed(found: Iterable[Found]) -> list[Problem]:
    """Return problems by row, of each kind at each level the first ones and for the rest one with its number."""
    problems = ProblemList()
    problems.add(found)
    return list(problems.all())


def not_listed(code: str, file: str, count: int, level: Level = "warning") -> Problem:
    """Return what stands for the problems of a kind in a file beyond those that are listed."""
    message = f"{counted(count, 'more of this kind is', 'more of this kind are')} counted and not listed"
    return Problem(code, file, message, level=level, count=count)


def by_row(problem: Problem) -> tuple[str, bool, int]:
    """Return what puts problems in the order of files and rows, those that stand for many after the others of their file."""
    return problem.file, problem.count > 1, problem.row or 0


def counted(count: float, noun: str, nouns: str | None = None) -> str:
    """Return a count and its noun: ``1 batch``, ``3 batches``.

    Parameters
    ----------
    count : float
        The count; a whole number is written without a decimal point. [-]
    noun : str
        The noun in the singular; its plural adds s, or es after ch, s and x.
    nouns : str, optional
        The plural of any other noun.
    """
    plural = nouns or noun + ("es" if noun.endswith(("ch", "s", "x")) else "s")
    return f"{count:.10g} {noun if count == 1 else plural}"


REPEATS = 3
"""As many of one code in one column become one line. A choice of ours."""

RUNS_NAMED = 4
"""Runs of rows that are named before the rest is counted. A choice of ours."""

READS_NAMED = 3
"""Different texts that are quoted before the rest is counted. A choice of ours."""


def lines(problems: Iterable[Problem], *, everything: bool = False) -> list[str]:
    """Return problems as lines, errors first, the worst first among each; three or more of a code in a column are one line.

    Parameters
    ----------
    problems : iterable of Problem
        In any order; lines keep it within errors and within warnings of the same weight.
    everything : bool
        True gives every problem its own line.
    """
    ordered = worst_first(problems)
    if everything:
        return [f"{problem.level}: {problem}" for problem in ordered]
    return [f"{group[0].level}: {text}" for group in _groups(ordered) for text in _texts(group)]


def sentences(problems: Iterable[Problem]) -> list[str]:
    """Return the same lines without the word error or warning, for a list that says so in its title."""
    return [text for group in _groups(worst_first(problems)) for text in _texts(group)]


def worst_first(problems: Iterable[Problem]) -> list[Problem]:
    """Return problems errors first, and among errors and warnings those first that are most times beyond belief."""
    return sorted(problems, key=lambda problem: (problem.level, -problem.times))


def _groups(problems: Iterable[Problem]) -> list[list[Problem]]:
    groups: dict[tuple[object, ...], list[Problem]] = {}
    for place, problem in enumerate(problems):
        alone = place if problem.row is None else None
        key = (problem.level, problem.code, problem.file, problem.sheet, problem.column, alone)
        groups.setdefault(key, []).append(problem)
    return list(groups.values())


def _texts(group: Sequence[Problem]) -> list[str]:
    return [str(problem) for problem in group] if len(group) < REPEATS else [_together(group)]


def _together(group: Sequence[Problem]) -> str:
    """Return one line for problems of one code in one column: rows, texts read, and the message of the first."""
    first = group[0]
    message = shown(first.message).rstrip(".")
    if any(problem.message != first.message for problem in group):
        message = f"row {first.row}, {message}; the others alike"
    accepted = f" Accepted: {shown(first.accepted)}." if first.accepted else ""
    if any(problem.accepted != first.accepted for problem in group) and first.accepted:
        accepted = f" Accepted in row {first.row}: {shown(first.accepted)}."
    rows = compact_rows([problem.row for problem in group if problem.row is not None])
    return _line(replace(first, cell=None), rows, f"{_reads(group)}{message}.{accepted}")


def _reads(group: Sequence[Problem]) -> str:
    """Return the texts that were read, else the amounts where they differ; the message of the first has its own."""
    texts = list(dict.fromkeys(problem.read for problem in group if problem.read is not None))
    amounts = list(dict.fromkeys(problem.amount for problem in group if problem.amount is not None))
    if texts:
        named = "read " + ", ".join(f'"{shown(text, READ_WIDTH)}"' for text in texts[:READS_NAMED])
    elif len(amounts) > 1:
        named = "; ".join(shown(amount, READ_WIDTH) for amount in amounts[:READS_NAMED])
    else:
        return ""
    others = len(texts or amounts) - READS_NAMED
    return f"{named} and {others} other{'s' * (others != 1)}: " if others > 0 else f"{named}: "


def compact_rows(rows: Iterable[int]) -> str:
    """Return rows as runs, ``rows 4–9, 12 and 31 more``; after four runs the rest is counted."""
    runs: list[list[int]] = []
    ordered = sorted(set(rows))
    for row in ordered:
        if runs and row == runs[-1][1] + 1:
            runs[-1][1] = row
        else:
            runs.append([row, row])
    named = runs[:RUNS_NAMED]
    text = ", ".join(f"{first}" if first == last else f"{first}–{last}" for first, last in named)
    more = len(ordered) - sum(last - first + 1 for first, last in named)
    return f"row{'s' * (len(ordered) != 1)} {text}{f' and {more} more' if more else ''}"
