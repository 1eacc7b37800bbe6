"""Regular files only: a pipe, a device or a socket in place of a table is refused before it is opened."""

from __future__ import annotations

import stat
from pathlib import Path

SETTINGS_LIMIT = 20_000_000
"""Most that a text table of settings may hold [bytes]."""

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


class NotRegularError(OSError):
    """Raised for what is no regular file, or one that is too large; carries the code of the problem and a reason."""

    def __init__(self, code: str, reason: str) -> None:
        self.code = code
        self.reason = reason
        super().__init__(reason)


def require_regular(path: Path) -> None:
    """Refuse what is no regular file; links to one are followed.

    Raises
    ------
    NotRegularError
        It is a folder, a pipe, a device or a socket (`not-a-file`).
    OSError
        There is no such file.
    """
    mode = path.stat().st_mode
    if not stat.S_ISREG(mode):
        kind = next((name for check, name in _KINDS if check(mode)), "something else")
        raise NotRegularError("not-a-file", f"this is {kind}, and no regular file")


def read_regular(path: Path, *, limit: int | None = None) -> bytes:
    """Return the content of a regular file; links to one are followed.

    Parameters
    ----------
    path : Path
        The file.
    limit : int, optional
        Most that it may hold [bytes]; by default whatever fits in memory.

    Raises
    ------
    NotRegularError
        It is a folder, a pipe, a device or a socket (`not-a-file`), or larger than the limit (`too-large`).
    OSError
        There is no such file, or it cannot be read.
    """
    require_regular(path)
    if limit is None:
        return path.read_bytes()
    with path.open("rb") as stream:
        content = stream.read(limit + 1)
    if len(content) > limit:
        raise NotRegularError("too-large", f"the file is larger than {limit / 1e6:g} MB")
    return content
