"""Regular files only: a pipe, a device or a socket in place of a table is refused before it is opened."""

from __future__ import annotations

import os
import stat
import time
from pathlib import Path

SETTINGS_LIMIT = 20_000_000
"""Most that a text table of settings may hold [bytes]."""

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
    (stat.S_ISLNK, "a link"),
)
_TRIES = 5
_PAUSE = 0.05
"""Wait before a file that changed while it was read is read again [s]."""


_CHANGING = "another program is writing this file; try again when it is done"


class NotRegularError(OSError):
    """Raised for what is no regular file, or one that is too large; carries the code of the problem and a reason."""

    def __init__(self, code: str, reason: str) -> None:
        self.code = code
        self.reason = reason
        super().__init__(reason)


def kind_of(mode: int) -> str:
    """Return what stands in place of a regular file, in words."""
    return next((name for check, name in _KINDS if check(mode)), "something else")


def require_regular(path: Path) -> os.stat_result:
    """Refuse what is no regular file; return what the system says of it. Links to one are followed.

    Raises
    ------
    NotRegularError
        It is a folder, a pipe, a device or a socket (`not-a-file`).
    OSError
        There is no such file.
    """
    found = path.stat()
    _refuse_others(found.st_mode)
    return found


def require_unchanged(path: Path, before: os.stat_result) -> None:
    """Refuse a file that changed while it was read in pieces.

    Raises
    ------
    NotRegularError
        Size or time differ (`changing-file`).
    """
    after = path.stat()
    if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
        raise NotRegularError("changing-file", _CHANGING)


def read_regular(path: Path, *, limit: int | None = None) -> bytes:
    """Return the content of a regular file as it was at one moment; links to one are followed.

    Parameters
    ----------
    path : Path
        The file.
    limit : int, optional
        Most that it may hold [bytes]; by default whatever fits in memory.

    Raises
    ------
    NotRegularError
        It is a folder, a pipe, a device or a socket (`not-a-file`), larger than the limit (`too-large`), or it is
        being written all the time (`changing-file`).
    OSError
        There is no such file, or it cannot be read.
    """
    _refuse_others(path.stat().st_mode)
    for _ in range(_TRIES):
        content = _read_once(path, limit)
        if content is not None:
            return content
        time.sleep(_PAUSE)
    raise NotRegularError("changing-file", _CHANGING)


def _refuse_others(mode: int) -> None:
    if not stat.S_ISREG(mode):
        raise NotRegularError("not-a-file", f"this is {kind_of(mode)}, and no regular file")


def _read_once(path: Path, limit: int | None) -> bytes | None:
    """Return the content, or None when the file changed while it was read."""
    # never waiting: a pipe may have taken the file's place since it was looked at
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with os.fdopen(handle, "rb") as stream:
        before = os.fstat(handle)
        _refuse_others(before.st_mode)
        if limit is not None and before.st_size > limit:
            raise NotRegularError("too-large", f"the file is larger than {limit / 1e6:g} MB")
        content = stream.read() if limit is None else stream.read(limit + 1)
        after = os.fstat(handle)
    same = (before.st_size, before.st_mtime_ns) == (after.st_size, after.st_mtime_ns)
    return content if same and len(content) == after.st_size else None
