"""The workshop folder that is served: read when it changed, written under one lock."""

from __future__ import annotations

import errno
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from threading import RLock
from typing import TYPE_CHECKING, Any, cast

from flask import current_app

from impact.base.files import locked
from impact.base.problems import Problem, ProblemsError, errors
from impact.browser.journal import ENTRIES, Journal
from impact.browser.logtable import FILE, LogTable, TableError, new_table, read_table
from impact.records.files import PARTS, choose_file, in_parts, is_workshop, reading_settings

if TYPE_CHECKING:
    from impact.api import Folder
    from impact.base.catalogue import Names
    from impact.factors.values import Values
    from impact.records.workshop import Workshop
    from impact.study import Study

HISTORY = "history"
"""Folder in the workshop folder that holds the journal and the lock."""

EXTENSION = "impact-served"
CHECKED = 100
"""Draws with which `impact check` looks for doubts."""


@dataclass(frozen=True)
class Reading:
    """A folder as it was read at one moment.

    Attributes
    ----------
    folder : Folder or None
        The workshop with its batches; None with errors.
    workshop : Workshop or None
        Its settings and parts, whatever the batches are like; None with errors in them.
    names : Names
        The catalogue with the workshop's own names.
    problems : list of Problem
        Every error and doubt, as `impact check` tells them.
    checked : Study or None
        The results by which they were found; None with errors.
    """

    folder: Folder | None
    workshop: Workshop | None
    names: Names
    problems: list[Problem]
    checked: Study | None = None


def local_now() -> datetime:
    """Return the time of day here, with its distance from that of Greenwich, so that no hour is lost in spring."""
    return datetime.now().astimezone()


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
    now: Callable[[], datetime] = local_now
    _lock: RLock = field(default_factory=RLock)
    _depth: int = 0
    _seen: tuple[Any, ...] = ()
    _reading: Reading | None = None
    _journal: Journal | None = None
    _values: tuple[Any, Values] | None = None
    _studies: dict[str | None, Study] = field(default_factory=dict)

    @property
    def exists(self) -> bool:
        """Whether the folder holds a workshop; one that cannot be looked into may."""
        try:
            return self.path.is_dir() and is_workshop(self.path)
        except OSError:
            return True

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Hold the lock of the folder: whoever writes records or settings through the pages holds it meanwhile.

        Raises
        ------
        OSError
            The folder cannot be written.
        """
        with self._lock:
            if self._depth:  # a file that is opened once more would wait for itself
                yield
                return
            history = self.path / HISTORY
            for one in (history, history / "lock", history / ENTRIES):
                if one.is_symlink():
                    raise OSError(
                        errno.ELOOP, f"{one.relative_to(self.path)} is a link, and nothing is written through one"
                    )
            history.mkdir(parents=True, exist_ok=True)
            with locked(history / "lock"):
                self._depth += 1
                try:
                    yield
                finally:
                    self._depth -= 1

    @property
    def journal(self) -> Journal:
        """The entries of the folder; whoever reads or adds some holds the lock, see `writing`."""
        with self._lock:
            if self._journal is None:
                self._journal = Journal(self.path, self.table)
            return self._journal

    def table(self) -> LogTable:
        """Return the table of batches as it stands in its file now; an empty one where there is no file yet.

        Raises
        ------
        TableError
            The batches are kept in a way that pages do not change.
        """
        found = self.read()
        path, problem = choose_file(self.path, "batches")
        if path.name != FILE or problem is not None:
            said = f": {problem.message}" if problem is not None else ""
            raise TableError(f"The batches are kept in {path.name}{said}. Pages change {FILE} alone.")
        if path.is_symlink():
            raise TableError(
                f"{FILE} is a link to another file, which pages do not write. Accepted: a file in this folder."
            )
        if not path.exists():
            return new_table(found.names, found.workshop.units if found.workshop else "metric")
        try:
            return read_table(path, found.names, reading_settings(self.path).encoding)
        except OSError as error:
            raise TableError(f"{FILE} cannot be read: {error.strerror or error}") from None

    def read(self) -> Reading:
        """Return the folder as it is now; it is read again only where a file of it changed."""
        with self._lock:
            seen = self.fingerprints()
            if self._reading is None or seen != self._seen:
                today, values = (
                    self.now().date(),
                    self._values if self._values and self._values[0] == _settled(seen) else None,
                )
                self._reading = read_at(self.path, today, values[1] if values else None)
                self._seen, self._studies = seen, {}
                if values and self._reading.checked:
                    self._studies[None] = self._reading.checked
            return self._reading

    def study(self, grant: str | None = None) -> Study | None:
        """Return the results as of now, with as many draws as `impact totals` has, or those of a grant; None with errors.

        Draws are made anew only where settings, parts or own factors changed.

        Raises
        ------
        ProblemsError
            There is no such grant, or it has no batch.
        """
        with self._lock:
            found = self.read()
            if found.folder is None or errors(found.problems):
                return None
            if self._values is None or self._values[0] != self.settled:
                self._values = (self.settled, found.folder.values().kept())
            if grant not in self._studies:
                self._studies[grant] = found.folder.assess(grant=grant, today=self.now().date(), values=self._values[1])
            return self._studies[grant]

    @property
    def seen(self) -> tuple[Any, ...]:
        """The fingerprints of the files as they were last read."""
        return self._seen

    @property
    def settled(self) -> tuple[Any, ...]:
        """What changes with settings, parts and own factors of the folder as it was last read, and with nothing else."""
        return _settled(self._seen)

    def fingerprints(self) -> tuple[Any, ...]:
        """Return what changes whenever a file of the folder does, and when the day does, on which doubts may hang."""
        try:
            inside = [*self.path.iterdir(), *((self.path / PARTS).iterdir() if in_parts(self.path) else ())]
            files = sorted(one for one in inside if one.is_file() and not one.name.startswith("."))
            stats = [
                (str(one.relative_to(self.path)), found.st_size, found.st_mtime_ns, found.st_ino)
                for one in files
                for found in [one.stat()]
            ]
        except OSError:
            stats = []
        return (self.now().date(), *stats)


def _settled(seen: tuple[Any, ...]) -> tuple[Any, ...]:
    return tuple(one for one in seen[1:] if not one[0].startswith("batches"))


def read_at(path: Path, today: date, values: Values | None = None) -> Reading:
    """Return a folder as `impact check` reads it; by `values` where those of its settings are at hand."""
    from impact.api import read_folder
    from impact.base.catalogue import read_names
    from impact.records.files import beside
    from impact.records.ownbinders import names_of
    from impact.records.workshop_file import read_workshop

    ids = read_names()
    names = names_of(path, ids)
    folder, problems = read_folder(path, today=today)
    others = beside(path) if path.is_dir() else []
    if folder is None:
        return Reading(None, read_workshop(path, ids)[0], names, [*problems, *others])
    try:
        study = folder.assess(draws=CHECKED, today=today, values=values)
    except ProblemsError as error:
        return Reading(folder, folder.workshop, names, [*problems, *error.problems, *others])
    return Reading(folder, folder.workshop, names, [*study.warnings, *others], study)


def served() -> Served:
    """Return the folder that the running application serves."""
    return cast(Served, current_app.extensions[EXTENSION])
