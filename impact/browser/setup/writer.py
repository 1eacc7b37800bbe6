"""Settings and parts written where they stand, once the readers of the commands took them.

What is written is read first in a copy of the folder: only what is accepted takes the place of what was there. Whoever
calls holds the lock of the folder.
"""

from __future__ import annotations

import re
import shutil
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from impact.base.files import passing_folder, write
from impact.base.problems import Problem, errors
from impact.records.files import in_parts
from impact.records.tomlslips import FILE

COPIED = (".toml", ".csv", ".xlsx", ".parquet", ".png", ".jpg", ".jpeg")
"""Files of a workshop folder by which settings are judged."""


@dataclass(frozen=True, slots=True)
class Saved:
    """What came of saving.

    Attributes
    ----------
    problems : tuple of Problem
        Errors, for which nothing was written; or the doubts that are new.
    """

    problems: tuple[Problem, ...] = ()

    @property
    def written(self) -> bool:
        """Whether it was written."""
        return not errors(self.problems)


def save(folder: Path, contents: Mapping[str, bytes], *, today: date, before: Sequence[Problem] | None = None) -> Saved:
    """Write files of a workshop folder if their readers find no error that is not there yet; `before` are those, if known.

    Raises
    ------
    OutputError, OSError
        The disk refuses it.
    """
    if all((folder / name).exists() and (folder / name).read_bytes() == content for name, content in contents.items()):
        return Saved()
    before = problems_of(folder, today) if before is None else before
    with passing_folder() as place:
        copy = place / "folder"
        copied(folder, copy)
        for name, content in contents.items():
            (copy / name).write_bytes(content)
        after = problems_of(copy, today)
    new = _new(before, after)
    if not errors(new):
        for name, content in contents.items():
            write(folder / name, content, force=True)
    return Saved(tuple(errors(new) or new))


def copied(folder: Path, copy: Path) -> None:
    """Copy what settings are judged by; batches in parts stay where they are, and are not judged."""
    copy.mkdir()
    for path in folder.iterdir():
        if path.suffix.lower() in COPIED and path.is_file():
            shutil.copyfile(path, copy / path.name)
    if in_parts(folder):
        (copy / "batches").symlink_to((folder / "batches").resolve(), target_is_directory=True)


def problems_of(folder: Path, today: date) -> list[Problem]:
    """Return every error and doubt of a folder, as `impact check` has them but for those that need draws."""
    from impact.api import read_folder
    from impact.base.problems import ProblemsError

    opened, problems = read_folder(folder, keep=False, today=today)
    if opened is None:
        return problems
    try:
        return list(opened.doubts(draws=1, today=today))
    except ProblemsError as error:
        return [*problems, *error.problems]


def _new(before: Sequence[Problem], after: Sequence[Problem]) -> list[Problem]:
    """Return the problems that were not there before, wherever they stood."""
    known = Counter(map(_likeness, before))
    found = []
    for problem in after:
        like = _likeness(problem)
        if known[like]:
            known[like] -= 1
        else:
            found.append(problem)
    return found


def _likeness(problem: Problem) -> tuple[str, ...]:
    number = re.compile(r"[0-9]+(?:[.,][0-9]+)?")
    return problem.level, problem.code, problem.file, str(problem.column), number.sub("#", problem.message)


def placed(problem: Problem) -> tuple[str, ...] | None:
    """Return the key of ``workshop.toml`` that a problem is about; None where it is about something else."""
    return tuple(problem.column.split(".")) if problem.file == FILE and problem.column else None
