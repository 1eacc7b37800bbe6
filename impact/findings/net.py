"""The net account: what it counts, in other ways too; and what a kilogram of paper does, recycled or pulped here.

The account is a change against no workshop at all, with average data. What decides it is therefore shown beside it: with and
without the plastic displaced, moulds as bought, and three other views of a landfill. One function of each serves numbers with
draws and derivations.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import numpy as np

from impact.account.assessment import OTHER, other_set
from impact.account.inventory import DIVERTED, Inventory, Line, contributions, matrix_of, summed
from impact.account.linekinds import COLLECTED, END_OF_LIFE, PRESSINGS
from impact.account.lines import diverted_matrix, stage_impact
from impact.account.paper import RECYCLING, is_settled
from impact.account.results import Interval, Results
from impact.account.sums import account_of, part_of
from impact.base.language import message
from impact.base.sentences import Fact, Said
from impact.base.serial import Share, keyed, shows
from impact.core import FloatArray, Numbers
from impact.core.footprint import moulds_bought, net_account, per_kilogram
from impact.core.node import first
from impact.core.sampling import chance_lower
from impact.factors.values import FATES

if TYPE_CHECKING:
    from impact.account.intensities import UnitImpacts

Impacts = TypeVar("Impacts", bound="UnitImpacts")

NET = message("Net = what making the parts emitted, less disposal avoided and plastic taken as replaced, plus recycling lost; above zero, the workshop added emissions.")  # fmt: skip
NO_OFFSET = message("It compares with no workshop at all, with average data; it is no offset, no claim is made from it")
NOTE = message("The net compares with no workshop at all, with average data; it is no offset, no claim is made from it")
RECYCLED = message(
    ", and leaving plastic aside, recycling any of these papers would leave less emitted than pulping it here"
)
RECYCLED_ONE = message(
    ", and leaving plastic aside, recycling this paper would leave less emitted than pulping it here"
)
"""Of several grades, and of one: true on either side of zero, where recycling saves and where it costs less."""
YEARS = 10.0
"""Years of the case that counts the methane of a short time alone. A choice of ours. [year]"""

COUNTED, BOUGHT, NO_METHANE, WHOLE = "as_counted", "moulds_bought", "no_landfill_methane", "no_fines"
STORED, SOON, OTHER_STORED = "carbon_stored", "ten_years", "other_parameters_stored"
CASES = (COUNTED, BOUGHT, STORED, SOON, OTHER, OTHER_STORED)


@shows()
@dataclass(frozen=True, slots=True)
class NetCase:
    """The net account, and the same without the plastic displaced. [kgCO2e]"""

    net_kgco2e: Interval
    without_plastic_kgco2e: Interval


@shows()
@dataclass(frozen=True, slots=True)
class NetAccount:
    """The net account of a period in several ways.

    Attributes
    ----------
    cases : mapping of str to NetCase
        As counted; moulds as bought, whole, in the period; carbon that stays in landfills credited on both sides; landfill
        methane of the first ten years alone; the other set of landfill parameters, without and with that credit.
    moulds_shared_kgco2e, moulds_bought_kgco2e : Interval
        What the parts bear of their moulds, and all moulds that pressed something, whole. [kgCO2e]
    methane_avoided_kgco2e, methane_avoided_ten_years_kgco2e : Interval
        Landfill methane in the disposal avoided, over the horizon and of its first ten years. [kgCO2e]
    avoided_stored_kgco2e, avoided_other_stored_kgco2e : Interval
        Disposal avoided with carbon that stays credited, by the chosen and by the other set of parameters: below zero, the
        landfill keeps more than it emits. [kgCO2e]
    """

    cases: Annotated[Mapping[str, NetCase], keyed(*CASES)]
    moulds_shared_kgco2e: Interval
    moulds_bought_kgco2e: Interval
    methane_avoided_kgco2e: Interval
    methane_avoided_ten_years_kgco2e: Interval
    avoided_stored_kgco2e: Interval
    avoided_other_stored_kgco2e: Interval


@shows()
@dataclass(frozen=True, slots=True)
class PaperUse:
    """What one kilogram of a grade as weighed does, recycled or pulped here; the plastic displaced is left out.

    Attributes
    ----------
    grade : str
        Of paper.
    disposal_saves : Interval or None
        Disposal avoided by recycling it, no fines taken off; None where none of the grade would have been disposed of,
        and nothing is counted for it. [kgCO2e/kg]
    recycling_saves : Interval
        Saved by recycling it: disposal and primary fibre avoided. [kgCO2e/kg]
    pulping_saves : Interval
        Saved by pulping it here: disposal avoided, fines taken off, less what making costs. [kgCO2e/kg]
    chance_recycling : float
        Share of draws in which recycling saves more.
    """

    grade: str
    disposal_saves: Interval | None
    recycling_saves: Interval
    pulping_saves: Interval
    chance_recycling: Share


def does_more(use: PaperUse) -> str:
    """Return ``recycled``, ``pulped`` or ``undecided``; it is decided where nine in ten draws agree."""
    if use.chance_recycling >= 0.9:
        return "recycled"
    return "pulped" if use.chance_recycling <= 0.1 else "undecided"


def net_words(uses: Sequence[PaperUse]) -> Said:
    """Return what the net is, and what it is not; that recycling does more where it does for every grade of `uses`."""
    return Said("{net} {no_offset}{recycled}.", {"net": Said(NET), "no_offset": Said(NO_OFFSET), **_recycled(uses)})


def net_note(uses: Sequence[PaperUse]) -> Said:
    """Return the same without what the net adds, for a page that says that elsewhere."""
    return Said("{note}{recycled}.", {"note": Said(NOTE), **_recycled(uses)})


def _recycled(uses: Sequence[PaperUse]) -> dict[str, Fact]:
    more = bool(uses) and all(does_more(use) == "recycled" for use in uses)
    return {"recycled": Said(RECYCLED if len(uses) > 1 else RECYCLED_ONE) if more else ""}


# -- for every kind of number --------------------------------------------------------------------------------------


def landfills(impacts: Impacts) -> dict[str, Impacts]:
    """Return the unit impacts under each other view of landfills, by case."""
    other = other_set(impacts.workshop)
    return {
        STORED: impacts.under(STORED, storage=True),
        SOON: impacts.under(SOON, years=min(impacts.workshop.horizon_years, YEARS)),
        OTHER: impacts.under(OTHER, parameters=other),
        OTHER_STORED: impacts.under(OTHER_STORED, parameters=other, storage=True),
    }


@dataclass(frozen=True)
class NetSums:
    """The sums behind a net account, as numbers of any kind. [kgCO2e]

    `ended` is the end of life of parts, rejects and trim in `made`; `shared` are the moulds in it, `bought` the same whole;
    `seen` has end of life and disposal avoided under each view of landfills; `other_routes` is `avoided` without their methane.
    """

    made: Numbers
    avoided: Numbers
    lost: Numbers
    displaced: Numbers
    ended: Numbers
    shared: Numbers
    bought: Numbers
    seen: Mapping[str, tuple[Numbers, Numbers]]
    other_routes: Numbers

    def cases(self) -> dict[str, tuple[Numbers, Numbers]]:
        """Return the net with and without the plastic displaced, by case."""
        sides = {COUNTED: (self.made, self.avoided), BOUGHT: (self.made - self.shared + self.bought, self.avoided)}
        for case, (ended, avoided) in self.seen.items():
            sides[case] = (self.made - self.ended + ended, avoided)
        return {
            case: (net_account(made, avoided, self.lost, self.displaced), net_account(made, avoided, self.lost, 0.0))
            for case, (made, avoided) in sides.items()
        }

    def account(self, interval: Callable[[Any], Interval]) -> NetAccount:
        """Return the account; `interval` makes a figure of a number."""
        return NetAccount(
            {case: NetCase(*map(interval, pair)) for case, pair in self.cases().items()},
            interval(self.shared),
            interval(self.bought),
            interval(self.avoided - self.other_routes),
            interval(self.seen[SOON][1] - self.other_routes),
            *(interval(self.seen[case][1]) for case in (STORED, OTHER_STORED)),
        )


def bought(inventory: Inventory, impacts: UnitImpacts) -> Numbers:
    """Return the moulds in which anything was pressed, whole, as many of each as its pressings take. [kgCO2e]"""
    total: Numbers = 0.0
    for name, pressings in inventory.items(*PRESSINGS).items():
        if pressings > 0.0:
            mould = impacts.workshop.moulds[name]
            total = total + impacts.mould_bought(mould) * moulds_bought(pressings, life=impacts.mould_life(mould))
    return total


def paper_uses(
    inventory: Inventory,
    impacts: Impacts,
    made: Numbers,
    avoided: Callable[[str, Impacts], Numbers],
    interval: Callable[[Any], Interval],
    chance: Callable[[Any, Any], float],
) -> Iterator[PaperUse]:
    """Yield what a kilogram of each grade does, from the parts made and the disposal avoided by a grade. [kgCO2e]

    Paper that is recycled elsewhere sends no fines down the drain of the workshop: they come off the paper pulped alone,
    per kilogram that would have been disposed of where they go down it, per kilogram collected where they are settled.
    `interval` makes a figure of a number, `chance` the chance that the first of two is the lower.
    """
    collected = {item: mass for item, mass in inventory.items(*COLLECTED).items() if mass > 0.0}
    if not collected:
        return
    making, whole = made / sum(collected.values()), impacts.under(WHOLE, fines=False)
    for grade in dict.fromkeys(item.split("|")[0] for item in collected):
        mine = {item: mass for item, mass in collected.items() if item.split("|")[0] == grade}
        disposed: Numbers = 0.0
        for item, mass in mine.items():
            shares = zip(FATES, impacts.counterfactual_shares(*item.split("|")), strict=True)
            disposed = disposed + mass * sum((share for fate, share in shares if fate != RECYCLING), start=0.0)
        known = first(disposed) > 0.0
        gross = avoided(grade, whole)
        disposal: Numbers = per_kilogram(gross, disposed) if known else 0.0
        borne: Numbers = 0.0
        if known or is_settled(impacts.workshop):
            pulped: Numbers = sum(mine.values()) if is_settled(impacts.workshop) else disposed
            borne = per_kilogram(gross - avoided(grade, impacts), pulped)
        used, again = disposal - borne - making, disposal + impacts.recycling_saves(grade)
        yield PaperUse(
            grade, interval(disposal) if known else None, interval(again), interval(used), chance(used, again)
        )


def of_grade(line: Line, grade: str) -> bool:
    """Return whether a line is of the disposal avoided by a grade."""
    return line.account == DIVERTED and line.item.split("|")[0] == grade


# -- for numbers with draws ----------------------------------------------------------------------------------------


def _drawn(number: Numbers, draws: int) -> FloatArray:
    found: FloatArray = np.zeros(1 + draws) + number
    return found


def _ended(impacts: UnitImpacts, inventory: Inventory) -> FloatArray:
    """Return the end of life of parts, rejects and trim. [kgCO2e]"""
    emission = matrix_of(
        impacts.worked,
        inventory,
        lambda line: stage_impact(impacts, line) if line.account == END_OF_LIFE else None,
        "ended",
    )
    return summed(inventory, emission)


def net_of(results: Results) -> NetAccount:
    """Return the net account of some results in several ways; the share of a grant is in it."""
    inventory, impacts, draws = results.inventory, results.impacts, results.settings.draws
    account, share = account_of(results, ""), results.grant.share if results.grant else 1.0

    def avoided(under: UnitImpacts) -> FloatArray:
        return share * summed(inventory, diverted_matrix(under, inventory))

    sums = NetSums(
        made=account.made_kgco2e,
        avoided=account.avoided_kgco2e,
        lost=account.lost_recycling_kgco2e,
        displaced=account.displaced_kgco2e,
        ended=share * summed(inventory, results.stage_matrix, (END_OF_LIFE,)),
        shared=share * summed(inventory, results.stage_matrix, ("mould",)),
        bought=share * bought(inventory, impacts),
        seen={case: (share * _ended(under, inventory), avoided(under)) for case, under in landfills(impacts).items()},
        other_routes=avoided(impacts.under(NO_METHANE, years=0.0)),
    )
    return sums.account(lambda number: Interval.of(_drawn(number, draws)))


def uses_of(results: Results) -> tuple[PaperUse, ...]:
    """Return what a kilogram of each grade does."""
    inventory, matrix, draws = results.inventory, results.diverted_matrix, results.settings.draws
    kept = contributions(inventory, matrix)

    @cache
    def added(under: UnitImpacts) -> FloatArray:
        return kept if under is results.impacts else contributions(inventory, diverted_matrix(under, inventory))

    def avoided(grade: str, under: UnitImpacts) -> FloatArray:
        total: FloatArray = added(under)[[of_grade(line, grade) for line in matrix.lines]].sum(axis=0)
        return total

    def chance(first: Numbers, second: Numbers) -> float:
        return chance_lower(_drawn(first, draws)[1:], _drawn(second, draws)[1:])

    made = summed(inventory, results.stage_matrix)
    return tuple(
        paper_uses(inventory, results.impacts, made, avoided, lambda number: Interval.of(_drawn(number, draws)), chance)
    )


def counted(account: NetAccount, share: float) -> NetAccount:
    """Return the account scaled to the share of a grant."""
    cases = {
        case: NetCase(*(part_of(getattr(one, field.name), share) for field in fields(one)))
        for case, one in account.cases.items()
    }
    others = (field.name for field in fields(account) if field.name != "cases")
    return NetAccount(cases, *(part_of(getattr(account, name), share) for name in others))
