"""The door: the command `impact` and `python -m impact` come in here, before anything else of ours is imported.

Ctrl-C ends the program with one line and status 1. A command that is interrupted tidies up and ends like that by
itself. The hooks below, set when this module is imported, take the interrupts that reach no command, or that a
library swallows or turns into a fault of its own while it is imported. They stand before our first import; a handler of
the signal would need the module `signal` first.
"""

from __future__ import annotations

import os
import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    from types import TracebackType
    from typing import NoReturn


def _end() -> NoReturn:
    """Say that the program was interrupted, and end it at once; a second interrupt changes nothing."""
    try:
        os.write(2, b"\nAborted!\n")
    finally:
        os._exit(1)


def _interrupted(error: BaseException | None) -> bool:
    """Return whether an interrupt is, or led to, this fault."""
    while error is not None and not isinstance(error, KeyboardInterrupt):
        error = error.__cause__ or error.__context__
    return error is not None


def _uncaught(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
    if _interrupted(error):
        _end()
    sys.__excepthook__(kind, error, trace)


def _ignored(fault: sys.UnraisableHookArgs) -> None:
    """Take a fault that nobody can catch, such as one in a finaliser or on the way out."""
    if _interrupted(fault.exc_value):
        _end()
    sys.__unraisablehook__(fault)


sys.excepthook = _uncaught
sys.unraisablehook = _ignored


def main() -> None:
    """Run the command line."""
    from impact.base.processes import settle

    settle()
    from impact.cli.commands import main

    try:
        main()
    except SystemExit as end:
        if not end.code:
            import gc

            gc.freeze()  # what is there now goes with the process, and is not searched first
        raise


if __name__ == "__main__":
    main()
