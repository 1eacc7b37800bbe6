"""Work in another process beside this one, where a machine has a processor for it."""

from __future__ import annotations

import atexit
import gc
import os
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

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


Job = Callable[[], Any]
"""Work to be done somewhere; for another process, a function of a module with its arguments, all of which can be pickled."""

Results = dict[str, Any]
Doing = Callable[[Mapping[str, Job]], Callable[[], Results]]
"""What begins jobs, and returns what waits for their results."""


def here(jobs: Mapping[str, Job]) -> Callable[[], Results]:
    """Return what does jobs in this process, once their results are asked for."""
    return lambda: {name: job() for name, job in jobs.items()}


@contextmanager
def helper(*modules: str) -> Iterator[Doing]:
    """Start a process that does jobs while this one goes on; where there is one processor alone, they are done here.

    A job that it cannot do, for whatever reason, is done here as well, so that faults are told here. What it has not done
    when the context is left is given up.

    Parameters
    ----------
    modules : str
        Names of what the jobs will need, imported before the first comes.
    """
    if processors() == 1:
        yield here
        return
    from multiprocessing import get_context

    context = get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_serve, args=(theirs, modules), daemon=True)
    with interrupts_held():
        process.start()
    theirs.close()
    try:
        yield partial(_ask, ours)
    finally:
        process.kill()
        process.join()
        ours.close()


def _ask(other: Connection, jobs: Mapping[str, Job]) -> Callable[[], Results]:
    """Hand jobs to the helper, and return what takes the results from it."""
    from pickle import PicklingError

    try:
        other.send(dict(jobs))
    except (PicklingError, AttributeError, TypeError, ValueError, OSError):
        return here(jobs)

    def results() -> Results:
        try:
            done: Results | None = other.recv()
        except (EOFError, OSError):
            done = None
        return here(jobs)() if done is None else done

    return results


def _serve(asking: Connection, modules: Sequence[str]) -> None:
    """Do jobs until the other end is closed; standard streams lead nowhere, because whoever asks tells what there is to tell."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    settle()
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    for module in modules:
        import_module(module)
    while True:
        try:
            asking.send(here(asking.recv())())
        except EOFError:
            return
        except Exception:  # whatever it was, it comes again where it is told
            asking.send(None)
