"""Work in another process beside this one, where a machine has a processor for it."""

from __future__ import annotations

import gc
import os
import sys
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from multiprocessing.connection import Connection
    from multiprocessing.process import BaseProcess

OBJECTS = 100_000
"""Objects made between two searches for what refers to itself alone. By default it is 700 (2,000 from Python 3.13), and
searches take a tenth of the time of a short command, most of it among modules, which live to the end."""


_program: list[bool] = []
"""Not empty in a process that is this program and nothing else."""

_lasting: list[bool] = []
"""Not empty in a process that goes on until somebody ends it."""


def settle() -> None:
    """Set up a process that is this program and nothing else: it searches less for what can be thrown away, and may have a helper."""
    gc.set_threshold(OBJECTS, 20, 20)
    _program.append(True)


def last() -> None:
    """Set up a process to go on until somebody ends it: it throws away what it has used."""
    _lasting.append(True)


@contextmanager
def unsearched() -> Iterator[None]:
    """Have no search for what can be thrown away while much is made; in a process that soon ends, none among it later either."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if _program and not _lasting:
            gc.freeze()
        if was_on:
            gc.enable()


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


def by_name(module: str, function: str, *arguments: Any) -> Any:
    """Call a function that whoever asks need not have imported."""
    return getattr(import_module(module), function)(*arguments)


def here(jobs: Mapping[str, Job]) -> Callable[[], Results]:
    """Return what does jobs in this process, once their results are asked for."""
    return lambda: {name: job() for name, job in jobs.items()}


@contextmanager
def helper(*modules: str, meanwhile: Sequence[Job] = ()) -> Iterator[Doing]:
    """Start a process that does lots of jobs, one lot after the other, while this one goes on.

    Jobs are done here where they cannot be done there, for whatever reason, so that faults are told here: where there is one
    processor alone, where no process can be started, and in another program that uses this package, which a new process
    would run again.

    Parameters
    ----------
    modules : str
        Names of what the jobs will need, the first needed first, imported while nothing is asked.
    meanwhile : sequence of Job
        What is done after that while nothing is asked, so that it need not be done in a lot; results are of no interest.
    """
    started = _started(modules, meanwhile) if _program and processors() > 1 else None
    if started is None:
        yield here
        return
    process, ours = started
    way = _Way(ours)
    try:
        yield way.ask
    finally:
        ours.close()
        if not way.asked:
            process.kill()  # it holds nothing yet
        elif way.waiting is not None:  # else it ends by itself
            process.terminate()
        process.join(TIDY_S)
        process.kill()
        process.join()


TIDY_S = 5.0
"""How long a helper that is given up may take to tidy up. [s]"""


def _started(modules: Sequence[str], meanwhile: Sequence[Job]) -> tuple[BaseProcess, Connection] | None:
    """Return a new process that waits for jobs, with the way to it; None where there can be none."""
    from multiprocessing import get_context

    context = get_context("spawn")
    try:
        ours, theirs = context.Pipe()
    except OSError:
        return None
    process = context.Process(target=_serve, args=(theirs, modules, meanwhile), daemon=True)
    try:
        with interrupts_held():
            process.start()
    except (OSError, AssertionError, RuntimeError, ValueError):  # AssertionError: of a process that may have no other
        ours.close()
        return None
    finally:
        theirs.close()
    return process, ours


class _Way:
    """The way to a helper.

    Attributes
    ----------
    asked : bool
        Whether any lot was handed to it.
    waiting : callable or None
        What takes the results of the last lot, until it has taken them.
    """

    def __init__(self, other: Connection) -> None:
        self._other = other
        self.asked = False
        self.waiting: Callable[[], Results] | None = None

    def ask(self, jobs: Mapping[str, Job]) -> Callable[[], Results]:
        """Hand jobs to the helper, and return what takes the results from it; those of the lot before are taken first."""
        if not jobs:
            return here(jobs)
        if self.waiting is not None:
            self.waiting()
        self.asked = True
        try:
            self._other.send(dict(jobs))
        except Exception:  # what cannot be pickled, or a helper that is lost
            return here(jobs)
        answers: list[Results | None] = []

        def results() -> Results:
            if not answers:
                try:
                    answers.append(self._other.recv())
                except Exception:
                    answers.append(None)
                self.waiting = None
            done = answers[0]
            if done is None:
                done = answers[0] = here(jobs)()
            return done

        self.waiting = results
        return results


def _serve(asking: Connection, modules: Sequence[str], meanwhile: Sequence[Job]) -> None:
    """Do lots of jobs; standard streams lead nowhere, because whoever asks tells what there is to tell."""
    import signal
    from threading import Thread

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # so that what is open is closed, and what passes is removed
    Thread(target=_end_without_parent, daemon=True).start()
    settle()
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    waiting: deque[Job] = deque([*(partial(import_module, module) for module in modules), *meanwhile])
    with suppress(EOFError, OSError):  # whoever asks has gone
        while True:
            while waiting and not asking.poll():
                waiting.popleft()()
            _answer(asking, asking.recv())


def _answer(asking: Connection, jobs: Mapping[str, Job]) -> None:
    try:
        done: Results | None = here(jobs)()
    except Exception:  # whatever it was, it comes again where it is told
        done = None
    try:
        asking.send(done)
    except OSError:
        raise
    except Exception:  # what cannot be pickled
        asking.send(None)


def _end_without_parent() -> None:
    from multiprocessing import parent_process

    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
