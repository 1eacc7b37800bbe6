"""One problem in what a person wrote, as data: where it is, what was read, what would be accepted."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any, Literal

Level = Literal["error", "warning"]


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
        The text that was read, unchanged.
    accepted : str or None
        What would be accepted in its place.
    sheet : str or None
        Sheet of a workbook.
    level : {"error", "warning"}
        Errors stop the calculation; warnings are printed with it.
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

    def __str__(self) -> str:
        """Return the problem as one line: place, what was read, what is wrong, what is accepted."""
        place = [self.file]
        if self.sheet is not None:
            place.append(f'sheet "{self.sheet}"')
        if self.row is not None:
            place.append(f"row {self.row}")
        if self.column is not None:
            place.append(f'column "{self.column}"')
        read = f'read "{self.read}": ' if self.read is not None else ""
        message = self.message.rstrip(".")
        accepted = f" Accepted: {self.accepted}." if self.accepted else ""
        return f"{', '.join(place)}: {read}{message}.{accepted}"

    def as_dict(self) -> dict[str, Any]:
        """Return the problem as plain data for JSON."""
        return asdict(self)


class ProblemsError(Exception):
    """Raised at the edge when an input has errors; carries every one of them.

    Attributes
    ----------
    problems : list of Problem
        All that was found, errors and warnings.
    """

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = list(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def errors(problems: Iterable[Problem]) -> list[Problem]:
    """Return only the problems that stop a calculation."""
    return [problem for problem in problems if problem.level == "error"]


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Return the known name that is spelt most like `name`, or None when nothing is close."""
    names = list(known)
    folded = {candidate.casefold(): candidate for candidate in names}
    match = difflib.get_close_matches(name.casefold().strip(), folded, n=1, cutoff=0.6)
    return folded[match[0]] if match else None


def choices(name: str, known: Iterable[str]) -> str:
    """Return what is accepted in place of `name`: the nearest known name first, then all of them."""
    names = sorted(known)
    near = nearest(name, names)
    listed = ", ".join(names)
    return f'{listed} (did you mean "{near}"?)' if near else listed
