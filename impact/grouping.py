"""Problems as lines to read: what repeats in one column becomes one line that names its rows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from impact.problems import READ_WIDTH, Problem, shown

REPEATS = 3
"""As many of one code in one column become one line. A choice of ours."""

RUNS_NAMED = 4
"""Runs of rows that are named before the rest is counted. A choice of ours."""

READS_NAMED = 3
"""Different texts that are quoted before the rest is counted. A choice of ours."""


def lines(problems: Iterable[Problem], *, everything: bool = False) -> list[str]:
    """Return problems as lines, errors first; three or more of one code in one column are one line.

    Parameters
    ----------
    problems : iterable of Problem
        In any order; lines keep it within errors and within warnings.
    everything : bool
        True gives every problem its own line.
    """
    ordered = sorted(problems, key=lambda problem: problem.level)
    if everything:
        return [f"{problem.level}: {problem}" for problem in ordered]
    return [f"{group[0].level}: {text}" for group in _groups(ordered) for text in _texts(group)]


def sentences(problems: Iterable[Problem]) -> list[str]:
    """Return the same lines without the word error or warning, for a list that says so in its title."""
    return [text for group in _groups(problems) for text in _texts(group)]


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
    place = [shown(first.file)]
    if first.sheet is not None:
        place.append(f'sheet "{shown(first.sheet, READ_WIDTH)}"')
    place.append(compact_rows([problem.row for problem in group if problem.row is not None]))
    if first.column is not None:
        place.append(f'column "{shown(first.column, READ_WIDTH)}"')
    message = shown(first.message).rstrip(".")
    if any(problem.message != first.message for problem in group):
        message = f"row {first.row}, {message}; the others alike"
    accepted = f" Accepted: {shown(first.accepted)}." if first.accepted else ""
    if any(problem.accepted != first.accepted for problem in group) and first.accepted:
        accepted = f" Accepted in row {first.row}: {shown(first.accepted)}."
    return f"{', '.join(place)}: {_reads(group)}{message}.{accepted}"


def _reads(group: Sequence[Problem]) -> str:
    texts = list(dict.fromkeys(problem.read for problem in group if problem.read is not None))
    if not texts:
        return ""
    quoted = ", ".join(f'"{shown(text, READ_WIDTH)}"' for text in texts[:READS_NAMED])
    others = len(texts) - READS_NAMED
    return f"read {quoted} and {others} other{'s' * (others != 1)}: " if others > 0 else f"read {quoted}: "


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
