"""A bar on standard error for what takes long: only on a terminal, and only after two seconds."""

from __future__ import annotations

import logging
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from time import monotonic
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from rich.progress import Progress

Thing = TypeVar("Thing")

PATIENCE_S = 2.0
"""Seconds without a word. A choice of ours. [s]"""


class _Bar:
    """A bar that is drawn once patience has run out."""

    def __init__(self, title: str, total: float | None, unit: str) -> None:
        self.title, self.total, self.unit = title, total, unit
        self.start = monotonic()
        self.done = 0.0
        self.drawn: Progress | None = None

    def advance(self, amount: float) -> None:
        self.done += amount
        if self.drawn is None and monotonic() - self.start > PATIENCE_S:
            self.drawn = self._begun()
        if self.drawn is not None:
            rate = self.done / max(monotonic() - self.start, 1e-9)
            self.drawn.update(self.drawn.task_ids[0], completed=self.done, rate=f"{rate:,.0f} {self.unit}/s")

    def _begun(self) -> Progress:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

        columns = (
            TextColumn("{task.description}"),
            BarColumn(),
            TextColumn("{task.fields[rate]}"),
            TimeRemainingColumn(),
        )
        drawn = Progress(*columns, console=Console(stderr=True), transient=True)
        drawn.add_task(self.title, total=self.total, rate="")
        drawn.start()
        return drawn

    def end(self) -> None:
        if self.drawn is not None:
            self.drawn.stop()


def track(
    things: Iterable[Thing],
    title: str,
    *,
    total: float | None = None,
    unit: str = "",
    amount: Callable[[Thing], float] = lambda _: 1.0,
) -> Iterator[Thing]:
    """Yield things, with a bar and a rate on standard error while they are worked on.

    Nothing is shown when standard error is no terminal, nor within the first two seconds.

    Parameters
    ----------
    things : iterable
        What is worked on.
    title : str
        What is being done.
    total : float, optional
        Sum of the amounts of all things; by default not known.
    unit : str
        What is counted.
    amount : callable
        How much one thing counts; 1 each by default.
    """
    if not sys.stderr.isatty():
        yield from things
        return
    bar = _Bar(title, total, unit)
    try:
        for thing in things:
            yield thing
            bar.advance(amount(thing))
    finally:
        bar.end()


@contextmanager
def laying_out() -> Iterator[None]:
    """Show how fast the layout library makes pages, some of which it makes twice; only as `track` does."""
    if not sys.stderr.isatty():
        yield
        return
    bar, log = _Bar("laying out", None, "pages"), logging.getLogger("weasyprint.progress")

    def counted(record: logging.LogRecord) -> bool:
        if "Page" in str(record.msg):  # said once for every page that is begun
            bar.advance(1.0)
        return True

    level = log.level
    log.addFilter(counted)
    log.setLevel(logging.INFO)
    try:
        yield
    finally:
        log.removeFilter(counted)
        log.setLevel(level)
        bar.end()
