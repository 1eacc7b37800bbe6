"""Problems of many batches: the first ones singly, the rest as numbers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from impact.problems import Problem

LISTED = 10_000
"""Problems of each level that are kept; of more, only the number is."""


class ProblemList:
    """Problems, of each level the first ones singly and of the rest the number by kind."""

    def __init__(self) -> None:
        self.kept: list[Problem] = []
        self.levels: Counter[str] = Counter()
        self.rest: Counter[tuple[str, str, str]] = Counter()

    def add(self, problems: Iterable[Problem]) -> None:
        """Add problems."""
        for problem in problems:
            self.levels[problem.level] += 1
            if self.levels[problem.level] <= LISTED:
                self.kept.append(problem)
            else:
                self.rest[problem.level, problem.code, problem.file] += 1

    def all(self) -> tuple[Problem, ...]:
        """Return those that are kept, by row, and for the rest one of each kind with its number."""
        kept = sorted(self.kept, key=lambda problem: problem.row or 0)
        more = [
            Problem(code, file, f"{count} more of this kind are counted and not listed", level=level, count=count)  # type: ignore[arg-type]
            for (level, code, file), count in sorted(self.rest.items())
        ]
        return (*kept, *more)
