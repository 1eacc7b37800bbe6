"""Files of batches surveyed by several processes, on this machine or on others; needs the extra `cluster`.

A task is one span of a file. It is a pure function of the file and the settings, so that a worker that is lost in the
middle changes nothing: the scheduler gives its spans to another. Their sums are added up here, in the files' order.
Every worker has to reach the files under the same path, and needs this package in the same version.
"""

from __future__ import annotations

import logging
import pickle
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any, cast

from impact.account.blocks import Piece, Pieces, Span, Spread, Surveyor
from impact.base.processes import interrupts_held

if TYPE_CHECKING:
    from distributed import Client

EXTRA = "pip install 'pulp-impact[cluster]'"
WAIT_S = 10
"""How long a scheduler may take to answer. A choice of ours. [s]"""


class ClusterError(Exception):
    """Raised when spans cannot be surveyed elsewhere; says why."""


@contextmanager
def cluster(*, workers: int | None = None, scheduler: str | None = None) -> Iterator[Spread]:
    """Give what surveys spans in other processes: new ones on this machine, or those of a scheduler.

    Parameters
    ----------
    workers : int, optional
        Processes to start on this machine.
    scheduler : str, optional
        Address of a Dask scheduler that runs already, such as ``tcp://10.0.0.5:8786``.

    Raises
    ------
    ClusterError
        The extra is not installed, the scheduler does not answer or has no workers, or workers are lost again and again.
    """
    try:
        import distributed
    except ImportError:
        raise ClusterError(f"several processes need Dask: {EXTRA}") from None
    dask: Any = distributed  # its classes have no types
    if scheduler is None:
        with interrupts_held():
            place: Any = dask.LocalCluster(
                n_workers=workers,
                threads_per_worker=1,
                dashboard_address=":0",  # any port: nobody looks at it
                memory_limit=0,
                silence_logs=logging.CRITICAL,
            )
    else:
        place = scheduler
    try:
        with dask.Client(place, timeout=WAIT_S) as client:
            if not client.scheduler_info()["workers"]:
                raise ClusterError(f"the scheduler at {scheduler} has no workers")
            yield lambda surveyor, spans: _spread(client, surveyor, spans)
    except (OSError, ValueError) as error:
        if scheduler is None or isinstance(error, FileNotFoundError):
            raise
        raise ClusterError(f"the scheduler at {scheduler} does not answer: {error}") from None
    finally:
        if scheduler is None:
            place.close()


def _spread(client: Client, surveyor: Surveyor, spans: list[Span]) -> Pieces:
    """Yield the pieces of all spans in their order; a few more spans than there are workers are under way."""
    from distributed import KilledWorker

    settings = pickle.dumps(replace(surveyor))
    under_way: deque[tuple[Span, Any]] = deque()
    waiting = iter(spans)
    most = 2 * len(client.scheduler_info()["workers"]) + 1
    while True:
        for span in waiting:
            under_way.append((span, client.submit(_pieces_of, settings, span, pure=False)))
            if len(under_way) >= most:
                break
        if not under_way:
            return
        span, future = under_way.popleft()
        try:
            pieces = future.result()
        except KilledWorker:
            raise ClusterError(
                f"{span.name}: every process that read it was lost, most often for want of memory"
            ) from None
        future.release()
        for piece in pieces:
            yield span, piece


def _pieces_of(settings: bytes, span: Span) -> list[Piece]:
    return _surveyor(settings).whole(span)


@lru_cache(maxsize=2)
def _surveyor(settings: bytes) -> Surveyor:
    return cast(Surveyor, pickle.loads(settings))
