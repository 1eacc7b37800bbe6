"""The workshop folder that is served: read when it changed, written under one lock."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from threading import RLock
from typing import TYPE_CHECKING, Any, cast

from flask import current_app

from impact.base.files import locked
from impact.browser.journal import Journal
from impact.browser.logtable import FILE, LogTable, TableError, new_table, read_table
from impact.records.files import choose_file, is_workshop, reading_settings

if TYPE_CHECKING:
    from impact.api import Folder
    from impact.base.catalogue import Names
    from impact.base.problems import Problem
    from impact.factors.values import Values
    from impact.records.workshop import Workshop
    from impact.study import Study

HISTORY = "history"
"""Folder in the workshop folder that holds the journal and the lock."""

EXTENSION = "impact-served"
DRAWS = 2_000
"""Draws by which an entry is judged before it is kept: a tenth of a second; pages and reports draw more."""


@dataclass(frozen=True)
class Reading:
    """A folder as it was read at one moment.

    Attributes
    ----------
    folder : Folder or None
        The workshop with its batches; None with errors.
    study : Study or None
        Its results; None with errors.
    workshop : Workshop or None
        Its settings and parts, whatever the batches are like; None with errors in them.
    names : Names
        The catalogue with the workshop's own names.
    problems : list of Problem
        Every error and doubt, as `impact check` tells them.
    """

    folder: Folder | None
    study: Study | None
    workshop: Workshop | None
    names: Names
    problems: list[Problem]


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
    _seen: tuple[Any, ...] = ()
    _reading: Reading | None = None
    _journal: Journal | None = None
    _values: tuple[Any, Values] | None = None
    _of_grant: tuple[Any, str, Study] | None = None

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
                self._reading = read_at(
                    self.path, self.now().date(), values=lambda folder: self._values_for(folder, seen)
                )
                self._seen = seen
            return self._reading

    def study(self, grant: str | None = None) -> Study | None:
        """Return the results as of now, or those of a grant alone; None with errors.

        Raises
        ------
        ProblemsError
            There is no such grant, or it has no batch.
        """
        with self._lock:
            found = self.read()
            if grant is None or found.study is None or found.folder is None:
                return found.study
            if self._of_grant is None or self._of_grant[:2] != (self._seen, grant):
                study = found.folder.assess(
                    grant=grant, today=self.now().date(), values=self._values_for(found.folder, self._seen)
                )
                self._of_grant = (self._seen, grant, study)
            return self._of_grant[2]

    def _values_for(self, folder: Folder, seen: tuple[Any, ...]) -> Values:
        """Return the factors with their draws, made anew only where settings, parts or own factors changed since `seen`."""
        settled = _settled(seen)
        if self._values is None or self._values[0] != settled:
            self._values = (settled, folder.values().kept())
        return self._values[1]

    @property
    def settled(self) -> tuple[Any, ...]:
        """What changes with settings, parts and own factors of the folder as it was last read, and with nothing else."""
        return _settled(self._seen)

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


def _settled(seen: tuple[Any, ...]) -> tuple[Any, ...]:
    return tuple(one for one in seen[1:] if not one[0].startswith("batches"))


def read_at(path: Path, today: date, draws: int = DRAWS, values: Callable[[Folder], Values] | None = None) -> Reading:
    """Return a folder as `impact check` reads it; its figures with so many draws, or with the factors that `values` gives."""
    from impact.api import read_folder
    from impact.base.catalogue import read_names
    from impact.base.problems import ProblemsError
    from impact.records.files import beside
    from impact.records.ownbinders import names_of
    from impact.records.workshop_file import read_workshop

    ids = read_names()
    names = names_of(path, ids)
    folder, problems = read_folder(path, today=today)
    others = beside(path) if path.is_dir() else []
    if folder is None:
        return Reading(None, None, read_workshop(path, ids)[0], names, [*problems, *others])
    try:
        study = folder.assess(draws=draws, today=today, values=values(folder) if values else None)
    except ProblemsError as error:
        return Reading(folder, None, folder.workshop, names, [*problems, *error.problems, *others])
    return Reading(folder, study, folder.workshop, names, [*study.warnings, *others])


def served() -> Served:
    """Return the folder that the running application serves."""
    return cast(Served, current_app.extensions[EXTENSION])
