"""The workshop folder that is served: read when it changed, written under one lock."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from threading import RLock
from typing import TYPE_CHECKING, Any, cast

from flask import current_app

from impact.base.files import locked
from impact.records.files import is_workshop

if TYPE_CHECKING:
    from impact.api import Folder
    from impact.base.problems import Problem
    from impact.study import Study

HISTORY = "history"
"""Folder in the workshop folder that holds the journal and the lock."""

EXTENSION = "impact-served"
DRAWS = 2_000
"""Draws of the figures that a page shows: a tenth of a second; a report draws more."""


@dataclass(frozen=True)
class Reading:
    """A folder as it was read at one moment.

    Attributes
    ----------
    folder : Folder or None
        The workshop with its batches; None with errors.
    study : Study or None
        Its results; None with errors.
    problems : list of Problem
        Every error and doubt, as `impact check` tells them.
    """

    folder: Folder | None
    study: Study | None
    problems: list[Problem]


@dataclass
class Served:
    """The folder that is served.

    Attributes
    ----------
    path : Path
        The folder; it need not exist yet.
    guest : bool
        Whether all who look are guests.
    now : callable
        The time of day here; a test gives its own.
    """

    path: Path
    guest: bool = False
    now: Callable[[], datetime] = datetime.now
    _lock: RLock = field(default_factory=RLock)
    _seen: object = None
    _reading: Reading | None = None

    @property
    def exists(self) -> bool:
        """Whether the folder holds a workshop."""
        return self.path.is_dir() and is_workshop(self.path)

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Hold the lock of the folder: whoever writes records or settings through the pages holds it meanwhile.

        Raises
        ------
        OSError
            The folder cannot be written.
        """
        with self._lock:
            (self.path / HISTORY).mkdir(parents=True, exist_ok=True)
            with locked(self.path / HISTORY / "lock"):
                yield

    def read(self) -> Reading:
        """Return the folder as it is now; it is read again only where a file of it changed."""
        with self._lock:
            seen = self.fingerprints()
            if self._reading is None or seen != self._seen:
                self._reading = _read(self.path, self.now)
                self._seen = seen
            return self._reading

    def fingerprints(self) -> tuple[Any, ...]:
        """Return what changes whenever a file of the folder does, and when the day does, on which doubts may hang."""
        try:
            files = sorted(one for one in self.path.iterdir() if one.is_file() and not one.name.startswith("."))
            stats = [
                (one.name, found.st_size, found.st_mtime_ns, found.st_ino) for one in files for found in [one.stat()]
            ]
        except OSError:
            stats = []
        return (self.now().date(), *stats)


def _read(path: Path, now: Callable[[], datetime]) -> Reading:
    from impact.api import read_folder
    from impact.base.problems import ProblemsError
    from impact.records.files import beside

    today = now().date()
    folder, problems = read_folder(path, today=today)
    others = beside(path) if path.is_dir() else []
    if folder is None:
        return Reading(None, None, [*problems, *others])
    try:
        study = folder.assess(draws=DRAWS, today=today)
    except ProblemsError as error:
        return Reading(folder, None, [*problems, *error.problems, *others])
    return Reading(folder, study, [*study.warnings, *others])


def served() -> Served:
    """Return the folder that the running application serves."""
    return cast(Served, current_app.extensions[EXTENSION])
