"""The main figures of a period beside those of another, with the change and whether the draws tell the two apart.

The change is taken draw by draw. Both periods are of one workshop, so factors, rating plates, what the settings state and
what fills a blank are drawn once for both. What was weighed or metered was read anew in each period, so its error is drawn
apart. For a sum the program lets such errors go together, for a difference apart: the wider interval in each case.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Annotated

import numpy as np

from impact.account.results import Interval, Results
from impact.account.sums import Account, account_of
from impact.base.language import message
from impact.base.problems import Problem, ProblemsError
from impact.base.sentences import Listed, Said, Whole
from impact.base.serial import Limits, Positive, group, one_of, shows
from impact.core import FloatArray
from impact.findings.headline import ABOVE, BELOW, NONE, UNDECIDED, against, side

PAPER = (
    "collected_kg", "put_to_use_kg", "kept_from_landfill_kg", "kept_from_incineration_kg", "taken_from_recycling_kg",
)  # fmt: skip
"""Masses that are compared."""
RATE = "landfill_diversion_rate"
EMISSIONS = ("made_kgco2e", "avoided_kgco2e", "lost_recycling_kgco2e", "displaced_plastic_kgco2e", "net_kgco2e")
"""Lines of the account that are compared."""

TOLD = {ABOVE: "more", BELOW: "less", UNDECIDED: "not told apart", NONE: "the same"}
"""What the interval of a change says, by the side of 0 on which it lies."""

ONE_DAY = timedelta(days=1)
LEADS = message("Beside {start} to {end}: {changes}.")
COLLECTED_MORE = message("{mass} more paper collected")
COLLECTED_LESS = message("{mass} less paper collected")
COLLECTED_UNTOLD = message("whether more paper was collected cannot be told ({mass})")
KEPT_MORE = message("{mass} more kept from landfill")
KEPT_LESS = message("{mass} less kept from landfill")
KEPT_UNTOLD = message("whether more was kept from landfill cannot be told ({mass})")
NET_MORE = message("the net is {net} higher")
NET_LESS = message("the net is {net} lower")
NET_UNTOLD = message("whether the net is lower cannot be told ({net})")


@shows()
@dataclass(frozen=True, slots=True)
class CountBeside:
    """A count of both periods, and this one less the other. [-]"""

    now: Positive
    then: Positive
    change: float


@shows()
@dataclass(frozen=True, slots=True)
class FigureBeside:
    """A figure of both periods.

    Attributes
    ----------
    now, then : Interval or None
        Of this period and of the other; None where it cannot be given.
    change : Interval or None
        This period less the other, taken draw by draw; None where one of the two is missing.
    told : {"more", "less", "not told apart", "the same", ""}
        Whether the whole 95 % interval of the change lies above or below 0; blank where there is no change.
    """

    now: Interval | None
    then: Interval | None
    change: Interval | None
    told: Annotated[str, one_of(*TOLD.values(), "")]


@shows("part", "good", "footprint_kgco2e")
@dataclass(frozen=True, slots=True)
class PartBeside:
    """A part that both periods made: good ones, and the footprint of one. [-], [kgCO2e]"""

    part: str
    good: CountBeside
    footprint_kgco2e: FigureBeside


@shows(
    group("period", "start", "end"), "earlier", "days", "batches", "good_parts", "paper", "account", "parts", "warnings"
)
@dataclass(frozen=True)
class Beside:
    """Another period of the same workshop, narrowed and run as this one.

    Attributes
    ----------
    start, end : date
        First and last day of the other period.
    earlier : bool
        Whether it is the earlier one: what funders call a baseline.
    days, batches, good_parts : CountBeside
        Days of the period, batches, good parts.
    paper : mapping of str to FigureBeside
        Paper by weight [kg], and the share of the collected paper that was kept from landfill [-].
    account : mapping of str to FigureBeside
        Lines of the account. [kgCO2e]
    parts : tuple of PartBeside
        Parts that both periods made, the most good ones first.
    warnings : tuple of Problem
        Doubts about the records of the other period.
    """

    start: date
    end: date
    earlier: bool
    days: CountBeside
    batches: CountBeside
    good_parts: CountBeside
    paper: Mapping[str, FigureBeside]
    account: Mapping[str, FigureBeside]
    parts: tuple[PartBeside, ...]
    warnings: tuple[Annotated[Problem, Limits(properties={"level": {"const": "warning"}})], ...]

    def sentence(self) -> Said:
        """Return in one sentence how paper collected, paper kept from landfill and the net changed."""
        collected, kept, net = (
            self.paper["collected_kg"],
            self.paper["kept_from_landfill_kg"],
            self.account["net_kgco2e"],
        )
        changes = (
            _change(collected, "paper", "mass", COLLECTED_MORE, COLLECTED_LESS, COLLECTED_UNTOLD),
            _change(kept, "paper", "mass", KEPT_MORE, KEPT_LESS, KEPT_UNTOLD),
            _change(net, "account", "net", NET_MORE, NET_LESS, NET_UNTOLD),
        )
        return Said(LEADS, {"start": str(self.start), "end": str(self.end), "changes": Listed(changes, "; ")})


def _change(figure: FigureBeside, quantity: str, fact: str, more: str, less: str, untold: str) -> Said:
    """Return a change in words, by the side of 0 on which its interval lies."""
    change = figure.change
    assert change is not None  # every period has paper and a net
    found = side(change)
    shown = against(change) if found == BELOW else change
    return Said({ABOVE: more, BELOW: less}.get(found, untold), {fact: Whole(shown, quantity)})


def require_apart(now: Results, then: Results) -> None:
    """Refuse two periods that have a day in common.

    Raises
    ------
    ProblemsError
        Says which days would be accepted.
    """
    if then.start <= now.end and now.start <= then.end:
        message = (
            f"the period beside it, {then.start} to {then.end}, has days in common with this one, {now.start} to {now.end}, "
            "and the same batches would stand in both columns"
        )
        accepted = f"beside it, days up to {now.start - ONE_DAY} or from {now.end + ONE_DAY} on; --period says which days are this one"
        raise ProblemsError([Problem("overlapping-periods", "batches", message, accepted=accepted)])


def named_beside(problems: Sequence[Problem], period: tuple[date, date]) -> list[Problem]:
    """Return problems of the other period that say so where they do not stand in a row; its batches are not this period's."""
    start, end = period
    return [
        replace(one, message=f"beside, {start} to {end}: {one.message}") if one.row is None else one for one in problems
    ]


def beside(now: Results, then: Results, apart: Results) -> Beside:
    """Return the figures of a period beside those of another of the same workshop.

    Parameters
    ----------
    now, then : Results
        Of this period and of the other, by the same seed and as many draws.
    apart : Results
        Of the other period once more, with the errors of what was weighed or metered drawn apart, see
        `impact.factors.values.Values.drawn_anew`: what the change is taken from.
    """
    one, other, drawn = (account_of(results, "") for results in (now, then, apart))
    figures, before, changed = _drawn(one), _drawn(other), _drawn(drawn)
    found = {name: _figure(figures[name], before[name], changed[name]) for name in figures}
    made = {part.part: part for part in then.parts}
    lengths = ((results.end - results.start).days + 1 for results in (now, then))
    shared = [part for part in now.parts if part.part in made and part.good and made[part.part].good]
    return Beside(
        start=then.start,
        end=then.end,
        earlier=then.end < now.start,
        days=_count(*lengths),
        batches=_count(one.batch_count, other.batch_count),
        good_parts=_count(one.good, other.good),
        paper={name: found[name] for name in (*PAPER, RATE)},
        account={name: found[name] for name in EMISSIONS},
        parts=tuple(
            PartBeside(
                part.part,
                _count(part.good, made[part.part].good),
                _figure(part.draws, made[part.part].draws, apart.part(part.part).draws),
            )
            for part in sorted(shared, key=lambda part: -part.good)
        ),
        warnings=then.warnings,
    )


def _count(now: float, then: float) -> CountBeside:
    return CountBeside(now, then, now - then)


def _drawn(account: Account) -> dict[str, FloatArray | None]:
    """Return the figures that are compared with their draws, by name; None for what cannot be given."""
    paper = {name: np.asarray(account.paper.drawn[name], dtype=float) for name in PAPER}
    collected = paper["collected_kg"]
    rate = paper["kept_from_landfill_kg"] / collected if collected[0] > 0.0 else None
    lines = (
        account.made_kgco2e, account.avoided_kgco2e, account.lost_recycling_kgco2e, account.displaced_kgco2e,
        account.net_kgco2e,
    )  # fmt: skip
    return {**paper, RATE: rate, **dict(zip(EMISSIONS, lines, strict=True))}


def _figure(now: FloatArray | None, then: FloatArray | None, apart: FloatArray | None) -> FigureBeside:
    first, second = (None if drawn is None else Interval.of(drawn) for drawn in (now, then))
    if now is None or apart is None:
        return FigureBeside(first, second, None, "")
    change = Interval.of(now - apart)
    return FigureBeside(first, second, change, TOLD[side(change)])
