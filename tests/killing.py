"""Work that is killed at one step after another, and what it left: `python -m tests.killing WORK FOLDER`, printed as JSON.

A step is a call or a return within the modules that write files, or one call further down. The work is done by copies of
this process, which has no threads; each copy kills itself, so that neither the clock nor the load has a say in it.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import sys
import tempfile
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from types import FrameType
from typing import Any

from impact.base.files import fill, is_unfinished, passing_folder, write
from impact.records.demonstration import DEMO, FILES, copy_demo

WATCHED = ("impact.base.files", "impact.records.demonstration")
OLD, NEW = b"a" * 300_000, b"b" * 300_000
STRIDE = 19
"""Copying the demo has many steps alike; one in so many is tried."""


def killed(work: Callable[[], object], moment: int) -> int:
    """Do the work in a process that is killed after `moment` steps; return how it ended: -9 for killed, 0 for done."""
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    steps = 0

    def step(frame: FrameType, event: str, argument: object) -> None:
        nonlocal steps
        if any(one.f_globals.get("__name__") in WATCHED for one in (frame, frame.f_back) if one is not None):
            steps += 1
            if steps > moment:
                os.kill(os.getpid(), signal.SIGKILL)

    ended = 1
    try:
        sys.setprofile(step)
        work()
        ended = 0
    finally:
        sys.setprofile(None)
        os._exit(ended)


def unfinished(folder: Path) -> list[str]:
    return [path.name for path in folder.rglob("*") if is_unfinished(path.name)]


def write_over(folder: Path) -> Iterator[dict[str, Any]]:
    """Replace a file, killed at every step until the work is done."""
    target = folder / "report.pdf"
    for moment in count():
        target.write_bytes(OLD)
        ended = killed(lambda: write(target, NEW, force=True), moment)
        content = {OLD: "old", NEW: "new"}.get(target.read_bytes(), "neither")
        yield {"ended": ended, "content": content, "unfinished": len(unfinished(folder))}
        if ended != -signal.SIGKILL:
            return


def copy_the_demo(folder: Path, *, anew: bool) -> Iterator[dict[str, Any]]:
    """Copy the demo over itself or into an empty place; after each kill it is copied again."""
    shipped = {name: (DEMO / name).read_bytes() for name in FILES}
    copy_demo(folder)
    for moment in count(step=STRIDE):
        if anew:
            shutil.rmtree(folder)
        ended = killed(lambda: copy_demo(folder), moment)
        present = {name: (folder / name).read_bytes() for name in FILES if (folder / name).exists()}
        whole = present.items() <= shipped.items()
        copy_demo(folder)
        again = {name: (folder / name).read_bytes() for name in FILES} == shipped
        names = sorted(path.name for path in folder.iterdir())
        yield {"ended": ended, "present": len(present), "whole": whole, "again": again, "names": names}
        if ended != -signal.SIGKILL:
            return


def pass_through(folder: Path) -> Iterator[dict[str, Any]]:
    """Keep records in a passing folder, killed at every step until the work is done; the next run tidies up."""
    tempfile.tempdir = str(folder)

    def work() -> None:
        with passing_folder() as place:
            fill(place / "records", {"batches.csv": OLD})

    for moment in count():
        ended = killed(work, moment)
        left = sorted(path.suffix for path in folder.iterdir())
        work()
        yield {"ended": ended, "left": left, "after": [path.name for path in folder.iterdir()]}
        if ended != -signal.SIGKILL:
            return


WORK: dict[str, Callable[[Path], Iterator[dict[str, Any]]]] = {
    "write": write_over,
    "over": lambda folder: copy_the_demo(folder, anew=False),
    "pass": pass_through,
    "anew": lambda folder: copy_the_demo(folder, anew=True),
}

if __name__ == "__main__":
    print(json.dumps(list(WORK[sys.argv[1]](Path(sys.argv[2])))))
