"""Factor values as leaves of a derivation: each knows its row and can be drawn from it again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, cast

from impact.core import FloatArray, Numbers
from impact.core.derivation import Equation, Node, centre, first
from impact.factors import Choice
from impact.values import FATES, End, Values, factor_draws, stream_draws

FACTOR = Equation("factor")
SPREAD = Equation("error of an amount")
ENDS = {"value": "", "low": ", low end", "high": ", high end"}


class DerivedValues(Values):
    """The values of a run, each as a node in place of an array; arguments as of `Values`."""

    def __init__(self, *args: Any, **settings: Any) -> None:
        super().__init__(*args, **settings)
        self._nodes: dict[tuple[str, str], Node] = {}

    def _leaf(
        self, equation: Equation, name: str, choice: Choice, end: End, draw: Callable[[], FloatArray], label: str
    ) -> Node:
        """Return the one leaf of a row, of an end of its interval, or of a stream."""
        row = choice.factor
        if (name, end) not in self._nodes:
            fixed = float(getattr(row, end))
            self._nodes[name, end] = Node(
                equation,
                lambda drawn: draw() if drawn and end == "value" else fixed,
                label=label,
                unit=row.unit,
                details={"choice": choice, "end": end},
            )
        return self._nodes[name, end]

    def get(self, key: str, regions: Sequence[str] | None = None) -> FloatArray:
        """Return the leaf of `key`."""
        choice = self.choose(key, regions)
        return cast(FloatArray, self.row(choice))

    def row(self, choice: Choice, end: End = "value") -> Node:
        """Return the leaf of a chosen row."""
        row = choice.factor

        def draw() -> FloatArray:
            return factor_draws(row, seed=self.seed, draws=self.draws)

        return self._leaf(FACTOR, f"{row.file}:{row.id}", choice, end, draw, f"{row.what}{ENDS[end]}")

    def end(self, key: str, which: End) -> float:
        """Return the leaf of the central value of `key`, or of an end of its interval, without draws."""
        node = self.row(self.choose(key), which)
        return cast(float, centre(node))

    def spread(self, name: str, evidence: str) -> FloatArray:
        """Return the leaf of the error of an amount."""
        choice = self.choose(f"evidence.{evidence}")
        stream = f"{name}|{evidence}"

        def draw() -> FloatArray:
            return stream_draws(choice.factor, stream, seed=self.seed, draws=self.draws)

        return cast(FloatArray, self._leaf(SPREAD, stream, choice, "value", draw, f"error of {name}, {evidence}"))

    def fate_shares(self, waste: str) -> list[Numbers]:
        """Return the shares of the tables, named."""
        return named_shares(super().fate_shares(waste), waste)

    def stated_shares(self, name: str, shares: Sequence[float], evidence: str) -> list[Numbers]:
        """Return the stated shares, named."""
        return named_shares(super().stated_shares(name, shares, evidence), name)


def named_shares(shares: Sequence[Numbers], waste: str) -> list[Numbers]:
    """Return shares over `FATES` with names."""
    pairs = zip(FATES, shares, strict=True)
    return [cast(Numbers, named(share, f"share of {waste} to {fate}")) for fate, share in pairs]


def named(value: Any, label: str, unit: str | None = None) -> Node:
    """Return a number or a node under a name."""
    if isinstance(value, Node):
        return value.named(label, unit)
    fixed = first(value)
    return Node(Equation("number"), lambda drawn: fixed, label=label, unit=unit or "1")
