"""What is made once in a run of the tests, whichever of its processes asks first; the others wait and read it."""

from __future__ import annotations

import os
import pickle
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import TypeVar

if sys.platform != "win32":  # without these locks each process makes its own
    import fcntl

Thing = TypeVar("Thing")

HOME = "IMPACT_TESTS_SHARED"
"""Variable that names the folder of a run; `tests/conftest.py` sets it before the processes start."""


def shared(name: str, make: Callable[[], Thing]) -> Thing:
    """Return what `make` returns, made by the first process that asks for the name; each caller gets a copy of its own.

    A process that ends before its work is done leaves nothing: its lock goes with it, and the next one makes the thing.
    """
    path = _home() / f"{name}.pickle"
    with _held(path.with_suffix(".lock")):
        if not path.exists():
            half = path.with_suffix(f".{os.getpid()}")
            half.write_bytes(pickle.dumps(make()))
            half.replace(path)
    found: Thing = pickle.loads(path.read_bytes())
    return found


def make_ahead(things: Iterable[Callable[[], object]]) -> None:
    """Make things that a run needs, each by the process that is free first: a thing that another one makes is passed over.

    A thing that is asked for later would have its tests wait while it is made.
    """
    for number, make in enumerate(things):
        mark = _home() / f"ahead-{number}"
        try:
            mark.touch(exist_ok=False)
        except FileExistsError:
            continue
        make()


@cache
def _home() -> Path:
    if HOME in os.environ:
        return Path(os.environ[HOME])
    return Path(_alone().name)


@cache
def _alone() -> tempfile.TemporaryDirectory[str]:
    """Return a folder of this process, for a program outside a run; it goes with the process."""
    return tempfile.TemporaryDirectory(prefix="impact-tests-")


@contextmanager
def _held(path: Path) -> Iterator[None]:
    with path.open("wb") as stream:
        if sys.platform != "win32":
            fcntl.flock(stream, fcntl.LOCK_EX)
        yield
