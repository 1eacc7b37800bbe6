"""Work on several things at once, with the outcomes in the order of the things."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TypeVar

Thing = TypeVar("Thing")
Outcome = TypeVar("Outcome")

MOST = 8
"""Threads at most, so that what is under way fits in memory."""


def in_order(
    work: Callable[[Thing], Outcome], things: Iterable[Thing], *, lanes: int | None = None
) -> Iterator[Outcome]:
    """Yield the outcome of each thing in their order, some of them worked on at the same time.

    Parameters
    ----------
    work : callable
        Function of one thing alone. What it raises is raised here, in the thing's place.
    things : iterable
        Taken one by one, never more of them than are under way.
    lanes : int, optional
        Threads; by default one for each processor.
    """
    count = lanes or min(os.cpu_count() or 1, MOST)
    under_way: deque[Future[Outcome]] = deque()
    with ThreadPoolExecutor(count) as pool:
        try:
            for thing in things:
                under_way.append(pool.submit(work, thing))
                if len(under_way) > count:
                    yield under_way.popleft().result()
            while under_way:
                yield under_way.popleft().result()
        finally:
            for future in under_way:
                future.cancel()
