"""Writing output files: beside their place and renamed, so that an interrupted run leaves the old file whole."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


class OutputError(Exception):
    """Raised when an output cannot be written; the text is the one line to print."""


def check_free(path: Path, *, force: bool) -> None:
    """Raise OutputError when `path` exists and may not be overwritten, or its folder does not exist."""
    try:
        if path.is_dir():
            raise OutputError(f"{path} is a folder; name a file")
        if path.exists() and not force:
            raise OutputError(f"{path} exists already; choose another name or add --force")
        if not path.resolve().parent.is_dir():
            raise OutputError(f"{path}: there is no folder {path.resolve().parent}")
    except OSError as error:
        raise OutputError(f"{path} cannot be written: {error.strerror or error}") from None


def write(path: Path, content: bytes, *, force: bool = False) -> None:
    """Write `content` to `path` as a whole or not at all.

    Raises
    ------
    OutputError
        When the file exists and `force` is not given, or the disk refuses it.
    """
    check_free(path, force=force)
    temporary = None
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{path.name[:40]}.", dir=path.resolve().parent)
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        Path(temporary).chmod(0o644)
        Path(temporary).replace(path)
        temporary = None
    except OSError as error:
        raise OutputError(f"{path} cannot be written: {error.strerror or error}") from None
    finally:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)
