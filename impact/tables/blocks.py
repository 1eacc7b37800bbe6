"""Tables in chunks: a file is read in blocks, each turned into columns at once.

A chunk is a `Table` of its own whose rows are numbered as if it stood right below the header. A file of one block is one
chunk, so that small and large files take the same way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from impact.tables.table import Table


class ChunkedFile(Protocol):
    """A file that is read in blocks, each of which becomes a table."""

    path: Path
    alone: bool
    """Whether there is one block and no more."""

    def blocks(self) -> Iterator[Any]:
        """Yield the blocks in their order; at least one."""

    def table(self, block: Any) -> Table:
        """Return a block as a table."""


@dataclass
class WholeFile:
    """A file that is read as a table at once: its one block is all of it."""

    path: Path
    read: Callable[[], Table]
    alone: bool = True

    def blocks(self) -> Iterator[None]:
        """Yield the one block."""
        yield None

    def table(self, block: None) -> Table:
        """Return the table."""
        return self.read()
