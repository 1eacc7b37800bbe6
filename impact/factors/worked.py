"""Steps of a calculation, each worked out once, with the rows that it used; some last for the runs that follow."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from typing import Any

from impact.factors.factorset import Choice
from impact.factors.values import Values

Known = tuple[Any, Mapping[str, Choice]]
"""What a step gave, and the rows that it used by their ids."""


class Worked:
    """What one view of a workshop has worked out.

    Parameters
    ----------
    values : Values
        Factors of the run; where they last (`Values.lasting`), so do steps that rest on settings and factors alone.
    case : str
        Name of the view; the same name is the same view in every run.
    alone : bool
        Whether nothing is taken from another run, nor left to one.
    """

    def __init__(self, values: Values, case: str = "", *, alone: bool = False) -> None:
        self.values = values
        shelf = None if alone else values.lasting
        self.lasts = shelf is not None
        self._lasting: dict[Hashable, Known] = {} if shelf is None else shelf.setdefault(case, {})
        self._passing: dict[Hashable, Known] = {}
        self._passes = False

    def passes(self) -> None:
        """Note that what is being worked out rests on the batches too, and is of no use to another run."""
        self._passes = True

    def step(self, key: Hashable, work_out: Callable[[], Any]) -> Any:
        """Return a step worked out once; its rows are noted as used by every line that asks for it."""
        found = self._lasting.get(key)
        if found is None and key in self._passing:
            found, self._passes = self._passing[key], True
        elif found is None:
            found = self._new(key, work_out)
        self.values.note_all(found[1])
        return found[0]

    def row(self, key: Hashable, work_out: Callable[[], Any]) -> Any:
        """Return a row of draws: a step where steps last, else worked out and not kept."""
        return self.step(key, work_out) if self.lasts else work_out()

    def _new(self, key: Hashable, work_out: Callable[[], Any]) -> Known:
        before, self._passes = self._passes, False
        try:
            with self.values.trace() as used:
                value = work_out()
            found = (value, used)
            (self._passing if self._passes else self._lasting)[key] = found
        finally:
            self._passes |= before
        return found
