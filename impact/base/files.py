"""Writing output files: beside their place and renamed, so that an interrupted run leaves the old file whole.

The file beside is locked while it is written. Locks end with their process, so that the next run knows what a killed
one left behind and removes it, and never touches what another run still writes. A folder of files that pass through stands
beside a locked file of its name, and goes the same way.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import shutil
import stat
import sys
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import BinaryIO

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
    if _state(path.stat()) != _state(before):
        raise NotRegularError("changing-file", _CHANGING)


def _state(found: os.stat_result) -> tuple[int, int]:
    return found.st_size, found.st_mtime_ns


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
    return content if _state(before) == _state(after) and len(content) == after.st_size else None


if sys.platform != "win32":  # without these locks, what a killed run left stays until it is removed by hand
    import fcntl

SUFFIX = ".part"
"""End of the name of a file that is being written."""

_UNFINISHED = re.compile(r"\..*\.[0-9a-f]{12}" + re.escape(SUFFIX))
_NO_LINKS = (errno.EPERM, errno.ENOTSUP, errno.ENOSYS, errno.EMLINK)
"""What a file system without hard links answers."""


class OutputError(Exception):
    """Raised when an output cannot be written; the text is the one line to print."""


def is_unfinished(name: str) -> bool:
    """Return whether a file name is that of an output which a run is writing, or left behind when it was killed."""
    return _UNFINISHED.fullmatch(name) is not None


def check_free(path: Path, *, force: bool) -> None:
    """Raise OutputError when `path` is no regular file, or may not be overwritten, or its folder does not exist."""
    try:
        with contextlib.suppress(FileNotFoundError, NotADirectoryError):
            mode = path.lstat().st_mode
            if not stat.S_ISREG(mode):
                raise OutputError(f"{path} is {kind_of(mode)}; name a file")
            if not force:
                raise OutputError(_taken(path))
        if not path.resolve().parent.is_dir():
            raise OutputError(f"{path}: there is no folder {path.resolve().parent}")
    except OSError as error:
        raise OutputError(f"{path} cannot be written: {error.strerror or error}") from None


def write(path: Path, content: bytes, *, force: bool = False) -> None:
    """Write `content` to `path` as a whole or not at all, whatever else is writing there.

    A link is not followed. A file that is replaced keeps its rights.

    Raises
    ------
    OutputError
        When the file exists and `force` is not given, it is no regular file, or the disk refuses it.
    """
    check_free(path, force=force)
    try:
        folder = path.resolve().parent
        _sweep(folder, path.name)
        with _beside(folder, path.name) as (stream, temporary):
            stream.write(content)
            stream.flush()
            if force:
                with contextlib.suppress(FileNotFoundError):
                    temporary.chmod(stat.S_IMODE(path.lstat().st_mode))
            os.fsync(stream.fileno())
            if sys.platform == "win32":
                stream.close()  # Windows renames no open file, and there is no lock to hold
            _put(temporary, path, force=force)
        _sync_folder(folder)
    except FileExistsError:
        raise OutputError(_taken(path)) from None
    except OSError as error:
        raise OutputError(f"{path} cannot be written: {error.strerror or error}") from None


PASSING = "impact"
"""Name of the folders in the temporary directory of the system."""


@contextlib.contextmanager
def passing_folder() -> Iterator[Path]:
    """Yield an empty folder of this user alone that is gone afterwards; what a killed run left of its own goes first.

    Raises
    ------
    OSError
        The temporary directory of the system cannot be written; carries its name.
    """
    import tempfile

    try:
        place = Path(tempfile.gettempdir())
    except FileNotFoundError as error:
        raise OSError(errno.ENOSPC, f"no folder for temporary files can be written: {error.strerror}") from None
    _sweep(place, PASSING)
    with _naming(place), _beside(place, PASSING) as (_, lock):
        folder = _folder_of(lock)
        folder.mkdir(mode=0o700)
        try:
            yield folder
        finally:
            try:
                shutil.rmtree(folder, ignore_errors=True)
            except KeyboardInterrupt:  # the folder goes before its lock, or nobody would know whose it was
                shutil.rmtree(folder, ignore_errors=True)
                raise


def fill(folder: Path, files: Mapping[str, bytes]) -> None:
    """Make a folder of files by name.

    Raises
    ------
    OSError
        The disk refuses it; carries the name of the file.
    """
    with _naming(folder):
        folder.mkdir()
    for name, content in files.items():
        with _naming(folder / name):
            (folder / name).write_bytes(content)


@contextlib.contextmanager
def _naming(path: Path) -> Iterator[None]:
    """Give a path to what the system refuses without one."""
    try:
        yield
    except OSError as error:
        if error.filename is None and error.errno is not None:
            raise OSError(error.errno, error.strerror, str(path)) from None
        raise


def _folder_of(lock: Path) -> Path:
    """Return the folder that stands beside a locked file of `passing_folder`."""
    return lock.with_suffix(".files")


def _taken(path: Path) -> str:
    return f"{path} exists already; choose another name or add --force"


@contextlib.contextmanager
def _beside(folder: Path, name: str) -> Iterator[tuple[BinaryIO, Path]]:
    """Yield a new, locked file in the folder; it is gone afterwards unless it was renamed."""
    stream, path = _new_file(folder, name)
    try:
        yield stream, path
    finally:
        # the name goes before the lock, so that it is ours to the end; Windows removes no open file
        if sys.platform == "win32":
            _close(stream)
        path.unlink(missing_ok=True)
        _close(stream)


def _new_file(folder: Path, name: str) -> tuple[BinaryIO, Path]:
    while True:
        path = folder / f".{name[:40]}.{os.urandom(6).hex()}{SUFFIX}"
        stream = path.open("xb")
        _lock(stream.fileno(), wait=True)
        if os.fstat(stream.fileno()).st_nlink:
            return stream, path
        stream.close()  # another run swept it away before it was locked


def _close(stream: BinaryIO) -> None:
    """Close a file; what it still holds after a fault is not wanted."""
    with contextlib.suppress(OSError):
        stream.close()


def _lock(handle: int, *, wait: bool) -> bool:
    """Lock an open file for this process; False when another holds it or the system knows no such locks."""
    if sys.platform == "win32":
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError:
        return False
    return True


@contextlib.contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold a lock that one process has at a time; others wait. The file stays, empty, and the lock ends with its process.

    Raises
    ------
    OSError
        The file cannot be made.
    """
    with path.open("ab") as stream:
        _lock(stream.fileno(), wait=True)
        yield


def _put(temporary: Path, path: Path, *, force: bool) -> None:
    """Give the finished file its name; FileExistsError when another run was faster and `force` is not given."""
    if not force:
        try:
            os.link(temporary, path)
        except OSError as error:
            if error.errno not in _NO_LINKS:
                raise
        else:
            return
    temporary.replace(path)


def _sweep(folder: Path, name: str) -> None:
    """Remove what killed runs left of this output; leave what other runs are writing."""
    start = f".{name[:40]}."
    with os.scandir(folder) as entries:
        left = [
            Path(entry.path)
            for entry in entries
            if entry.name.startswith(start) and is_unfinished(entry.name) and entry.is_file(follow_symlinks=False)
        ]
    for path in left:
        with contextlib.suppress(OSError):
            handle = os.open(path, os.O_RDWR | getattr(os, "O_NOFOLLOW", 0))
            try:
                if _lock(handle, wait=False):
                    shutil.rmtree(_folder_of(path), ignore_errors=True)  # which is no link
                    path.unlink()
            finally:
                os.close(handle)


def _sync_folder(folder: Path) -> None:
    """Bring the new name to the disk, where the system can do that for folders."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
