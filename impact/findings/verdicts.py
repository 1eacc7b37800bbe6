"""How a part stands beside its plastic part, in words: short, in a clause, and as a claim has it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from impact.base.language import message
from impact.base.sentences import Said

if TYPE_CHECKING:
    from impact.account.results import PartResult


@dataclass(frozen=True, slots=True)
class Verdict:
    """One verdict: in two words, as a clause behind the chance, and as the claim for our own use says it. Messages."""

    short: str
    clause: str
    claim: str


VERDICTS: Mapping[str, Verdict] = {
    "lower than plastic": Verdict(
        message("lower than plastic"),
        message("it has the lower footprint in this estimate"),
        message("in this estimate the moulded part is the lower of the two"),
    ),
    "higher than plastic": Verdict(
        message("higher than plastic"),
        message("it has the higher footprint in this estimate: here plastic would have caused less"),
        message("in this estimate the moulded part is the higher of the two: it loses"),
    ),
    "undecided": Verdict(
        message("undecided"),
        message("it cannot be told apart from plastic: fewer than 90 % of them agree"),
        message("the two cannot be told apart: it is undecided"),
    ),
}
"""By what `verdict` says of a part that is compared."""


def verdict(part: PartResult) -> str:
    """Return in words how a part compares with its plastic part; the words follow the chance alone.

    At 0.9 and above the part is called lower, at 0.1 and below higher, in between undecided.
    """
    if part.chance_lower is None:
        return f"not compared: {part.no_comparison}"
    if part.chance_lower >= 0.9:
        return "lower than plastic"
    if part.chance_lower <= 0.1:
        return "higher than plastic"
    return "undecided"


def verdict_said(part: PartResult) -> Said:
    """Return how a part stands beside its plastic part, or why it is not compared."""
    if part.chance_lower is None:
        return Said("not compared: {why}", {"why": part.not_compared or ""})
    return Said(VERDICTS[verdict(part)].short)
