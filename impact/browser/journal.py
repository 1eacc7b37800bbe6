"""The journal of a workshop folder: every entry once, flushed to the disk before the table is written anew.

``history/entries.jsonl`` holds one entry a line. An entry has a key of its own, which the page made that sent it, so
that one sent twice counts once. One that changes the table carries the row before and after; a line ``{"done": key}``
follows when the table has it. Whatever ends the program in between, the next one finds the entry without its mark, and
writes the table again if the row is still as it was before. Undoing is an entry too.
"""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from impact.base.files import OutputError, write
from impact.browser.logtable import FILE, Cells, LogTable, TableError

ENTRIES = "entries.jsonl"
KEY_LENGTH = 64
"""Most letters of a key."""

LINE_LIMIT = 200_000
"""Most letters of an entry."""


@dataclass(frozen=True)
class Change:
    """A row of the table before and after.

    Attributes
    ----------
    batch : str
        Name of the batch.
    before, after : Cells or None
        Its filled cells; None where there is no row.
    place : int or None
        Where the row stood among the records that was taken out, or stands that is added; None for the end.
    """

    batch: str
    before: Cells | None
    after: Cells | None
    place: int | None = None

    @property
    def reversed(self) -> Change:
        """The change that takes this one back."""
        return Change(self.batch, self.after, self.before, self.place)


@dataclass(frozen=True)
class Entry:
    """One entry.

    Attributes
    ----------
    key : str
        Its own key.
    at : str
        Day and time, as ISO 8601 has it.
    kind : str
        What was done.
    about : str
        Key of what it is about: an open batch, a run, an entry that is undone; or the name of a batch.
    data : dict
        What was said.
    change : Change or None
        What it changes in the table.
    """

    key: str
    at: str
    kind: str
    about: str = ""
    data: dict[str, Any] = field(default_factory=dict)
    change: Change | None = None

    def line(self) -> str:
        """Return the entry as a line of the journal."""
        return json.dumps({name: value for name, value in asdict(self).items() if value}, ensure_ascii=False) + "\n"


NEEDED: dict[str, dict[str, type]] = {
    "open": {"fields": dict},
    "set": {"fields": dict},
    "count": {"what": str, "n": int},
    "start": {"at": str, "device": str, "step": str, "batches": list},
    "stop": {"at": str, "batches": list},
    "unit": {"kind": str, "unit": str, "fields": dict},
}
"""What an entry of a kind says, and of which kind that is; what other kinds say is asked for by nobody."""


def _entry(found: Any) -> Entry | None:
    """Return the entry that a line holds, None where it is none that pages write: somebody else was in the file."""
    try:
        change = found.pop("change", None)
        entry = Entry(**found, change=None if change is None else Change(**change))
        datetime.fromisoformat(entry.at)
        if entry.kind in ("start", "stop") and datetime.fromisoformat(entry.data["at"]).tzinfo is None:
            return None
    except (AttributeError, KeyError, TypeError, ValueError):
        return None
    return entry if _is_sound(entry) else None


def _is_sound(entry: Entry) -> bool:
    texts = all(isinstance(one, str) for one in (entry.key, entry.kind, entry.about))
    if not texts or not entry.key or not isinstance(entry.data, dict):
        return False
    needed = NEEDED.get(entry.kind, {}).items()
    if not all(isinstance(entry.data.get(name), kind) for name, kind in needed):
        return False
    fields = entry.data.get("fields", {})
    rows = [fields] if entry.kind != "unit" else list(fields.values())
    if not all(_is_row(one, blank=True) for one in rows):
        return False
    if not all(isinstance(one, str) for one in entry.data.get("batches", [])):
        return False
    change = entry.change
    if change is None:
        return True
    cells = all(one is None or _is_row(one) for one in (change.before, change.after))
    return cells and isinstance(change.batch, str) and isinstance(change.place, int | None)


def _is_row(found: Any, *, blank: bool = False) -> bool:
    return isinstance(found, dict) and all(isinstance(one, str) or (blank and one is None) for one in found.values())


class ChangedError(Exception):
    """Raised where a row is no longer what a change begins with; carries what stands there now."""

    def __init__(self, batch: str, now: Cells | None) -> None:
        self.batch = batch
        self.now = now
        super().__init__(f"batch {batch} was changed meanwhile")


class Journal:
    """The entries of a folder. Whoever calls holds the lock of the folder, see `served.Served.writing`.

    Parameters
    ----------
    folder : Path
        The workshop folder.
    table : callable
        Reads the table as it is now.
    """

    def __init__(self, folder: Path, table: Callable[[], LogTable]) -> None:
        self.path = folder / "history" / ENTRIES
        self.file = folder / FILE
        self.entries: list[Entry] = []
        self.keys: dict[str, Entry] = {}
        self._table = table
        self._done: set[str] = set()
        self._offset = 0
        self._file: tuple[int, int] | None = None

    def read(self) -> None:
        """Read what was added since; all of it again where the file is another."""
        try:
            found = self.path.stat()
            size, file = found.st_size, (found.st_dev, found.st_ino)
        except OSError:
            size, file = 0, None
        if size < self._offset or file != self._file:
            self._forget()
        self._file = file
        if size == self._offset:
            return
        with self.path.open("rb") as stream:
            if self._offset:
                stream.seek(self._offset - 1)
                if stream.read(1) != b"\n":  # written anew in its place: what was read ends elsewhere
                    self._forget()
            stream.seek(self._offset)
            data = stream.read()
        whole, _, _ = data.rpartition(b"\n")
        self._offset += len(whole) + 1 if whole else 0
        for line in whole.splitlines():
            self._take(line)

    def _forget(self) -> None:
        self.entries, self.keys, self._done, self._offset = [], {}, set(), 0

    def _take(self, line: bytes) -> None:
        """Take a line; one that was torn when a machine stopped was never answered, and is sent again."""
        try:
            found = json.loads(line)
        except (ValueError, RecursionError):
            return
        if isinstance(found, dict) and "done" in found:
            self._done.add(str(found["done"]))
            return
        entry = _entry(found)
        if entry is not None and entry.key not in self.keys:
            self.keys[entry.key] = entry
            self.entries.append(entry)

    def repair(self) -> list[Entry]:
        """Write again what the table lacks of the entries; return those. One at most, because each waits for the last."""
        self.read()
        waiting = [one for one in self.entries if one.change is not None and one.key not in self._done]
        written = []
        for entry in waiting:
            assert entry.change is not None
            table = self._table()
            if table.cells_of(entry.change.batch) == entry.change.before:
                self._write(table, entry.change)
                written.append(entry)
            self._mark(entry)
        return written

    def add(self, entry: Entry) -> bool:
        """Add an entry and do what it says; return False where it is known already.

        Raises
        ------
        ChangedError
            The row is not what the change begins with; nothing was written.
        TableError, OSError
            The entry cannot stand in the journal, or an earlier change waits for the table; nothing was written.
        OutputError
            The entry stands in the journal; the table cannot be written, and is later.
        """
        self.read()
        known = entry.key in self.keys
        try:
            self.repair()
        except OutputError as error:
            if known:
                raise
            if entry.change is not None:  # each change begins with what the last one left
                raise OSError(errno.EBUSY, f"{error}") from None
        if known:
            return False
        line = entry.line()
        if not entry.key or len(entry.key) > KEY_LENGTH or len(line) > LINE_LIMIT:
            raise TableError("This is more than an entry can hold.")
        table = None
        if entry.change is not None:
            table = self._table()
            now = table.cells_of(entry.change.batch)
            if now != entry.change.before:
                raise ChangedError(entry.change.batch, now)
            table.put(entry.change.batch, entry.change.after, place=entry.change.place)
            table.content()  # whatever cannot be written is refused before the entry stands
        self._append(line)
        if table is not None:
            self._save(table)
            self._mark(entry)
        return True

    def undone(self) -> set[str]:
        """Return the keys of the entries that were undone."""
        return {one.about for one in self.entries if one.kind == "undo"}

    def standing(self) -> Iterator[Entry]:
        """Yield the entries that were not undone, in their order."""
        gone = self.undone()
        return (one for one in self.entries if one.kind != "undo" and one.key not in gone)

    def _write(self, table: LogTable, change: Change) -> None:
        table.put(change.batch, change.after, place=change.place)
        self._save(table)

    def _save(self, table: LogTable) -> None:
        write(self.file, table.content(), force=True)

    def _append(self, line: str, *, flush: bool = True) -> None:
        """Bring a line to the disk, below whatever a stopped machine left half written."""
        with self.path.open("ab+") as stream:
            end = stream.seek(0, os.SEEK_END)
            if end:
                stream.seek(end - 1)
                if stream.read(1) != b"\n":
                    stream.write(b"\n")
            stream.write(line.encode())
            stream.flush()
            if flush:
                os.fsync(stream.fileno())
        self.read()

    def _mark(self, entry: Entry) -> None:
        self._append(json.dumps({"done": entry.key}) + "\n", flush=False)
