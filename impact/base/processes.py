"""Work in another process beside this one, where a machine has a processor for it."""

from __future__ import annotations

import atexit
import gc
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

OBJECTS = 100_000
"""Objects made between two searches for what refers to itself alone. By default it is 700 (2,000 from Python 3.13), and
searches take a tenth of the time of a short command, most of it among modules, which live to the end."""


def settle() -> None:
    """Search less for what can be thrown away in this process, and not at its end, when all of it goes."""
    gc.set_threshold(OBJECTS, 20, 20)
    atexit.register(gc.freeze)


def processors() -> int:
    """Return how many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextmanager
def interrupts_held() -> Iterator[None]:
    """Hold Ctrl-C back, and for good in the threads and processes that start meanwhile.

    A terminal sends it to all processes at once; this one alone says so, and closes the others.
    """
    if sys.platform == "win32":
        yield
        return
    import signal
    from multiprocessing import resource_tracker

    resource_tracker.ensure_running()  # its start would let the signal in again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def beside(function: Callable[..., object], *arguments: Any) -> Iterator[Callable[[], bool]]:
    """Call a function in a new process meanwhile; one that is not done when the context is left is ended.

    Parameters
    ----------
    function : callable
        A function of a module, called with `arguments`; what it returns is lost.

    Yields
    ------
    callable
        Waits for the end and returns whether the function came to it; faults are not told.
    """
    from multiprocessing import get_context

    process = get_context("spawn").Process(target=_quietly, args=(function, *arguments), daemon=True)
    with interrupts_held():
        process.start()

    def is_done() -> bool:
        process.join()
        return process.exitcode == 0

    try:
        yield is_done
    finally:
        process.kill()
        process.join()


def _quietly(function: Callable[..., object], *arguments: Any) -> None:
    """Call a function in a process whose streams lead nowhere: the one that started it tells what there is to tell."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    settle()
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    function(*arguments)
