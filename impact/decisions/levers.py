"""What would lower the footprint of a part most: one realistic step at a time, largest first.

Each step is a row of `LEVERS`: what is done, in words, what it takes, and how the account is worked out after it. What a
step takes off is the footprint as recorded less that after the step, in the same draws, so that what both rest on
cancels (ISO 14044:2006 clause 4.5.3.3, sensitivity check; from memory). The size of a step (a half, twice, all) is
common practice, no source. A step keeps the evidence class of what it changes: half of an estimate is an estimate.

Steps that scale the amount of some lines are a product with the unit impacts at hand. Steps that change a setting work
out the lines of one stage again, those that change the batches all amounts. A step that takes off nothing, or adds, is
left out; so is composting where every binder of the part blocks it. Steps overlap, so they do not add up.

A tariff of renewable electricity is no step: electricity counts at the mean of its grid (location-based, GHG Protocol
Scope 2 Guidance chapter 6; ISO 14067:2018 clause 6.4.9.4 asks more of a contract than most give; both from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Annotated

import numpy as np

from impact.account.assessment import missing_factors_told
from impact.account.inventory import Inventory, Line, summed
from impact.account.linekinds import DRY_BINDER, DRYING, END_OF_LIFE, GOOD_PARTS, PRESSINGS, Name, estimated
from impact.account.lines import stage_matrix
from impact.account.results import Interval
from impact.base.catalogue import Names
from impact.base.language import message
from impact.base.serial import Share, named, one_of, shows
from impact.core import FloatArray
from impact.decisions import whatif
from impact.decisions.scenario import Making, NoComparisonError, Scenario, impacts_of, stock_of
from impact.decisions.variables import SHARES_IN_THE_END, VARIABLES
from impact.findings.compost import findings, recipes
from impact.findings.compost_rules import BLOCKED

COMPOSTED, RECYCLED = "composted", "recycled"
TAKERS = (COMPOSTED, RECYCLED)
"""Steps that need somebody outside the workshop who takes the parts."""
LEAST = 1e-9
"""Share of a footprint that a step must take off to count: less is the rounding of two sums."""

TARIFF = message(
    "A tariff of renewable electricity is left out: electricity counts at the mean of its grid, because a contract alone changes who pays and not what the grid emits."
)  # fmt: skip

Change = Callable[[Scenario], Scenario]
Step = Callable[[Scenario, Making], FloatArray]
"""Of the records and the part as made: what the step takes off, per good part, central value first. [kgCO2e]"""


def scaled(to: float, *names: Name) -> Step:
    """Return the step after which some lines have `to` times their amount."""

    def taken(_: Scenario, now: Making) -> FloatArray:
        rows = [index for index, line in enumerate(now.matrix.lines) if (line.account, line.activity) in names]
        off: FloatArray = (1.0 - to) * now.contributions[rows].sum(axis=0)
        return off

    return taken


def reset(change: Change, stage: str, *exact: str) -> Step:
    """Return the step that changes a setting on which one stage rests; `exact` names what it sets without error."""

    def taken(scenario: Scenario, now: Making) -> FloatArray:
        after = change(replace(scenario, values=scenario.values.exactly(*exact)))
        stock = stock_of(after, (stage,))
        off = summed(now.inventory, now.matrix, (stage,)) - summed(stock, stage_matrix(impacts_of(after), stock))
        return off / now.good

    return taken


def rebatched(change: Change, halved: str | None = None) -> Step:
    """Return the step that changes the batches; each amount of the stage `halved` is half of what it is now."""

    def taken(scenario: Scenario, now: Making) -> FloatArray:
        after = stock_of(change(scenario))
        amounts = {line: one for line, one in as_known(now.inventory, after).items() if line.account != halved}
        amounts |= {line: one / 2.0 for line, one in now.inventory.by_line().items() if line.account == halved}
        stock = Inventory({}, tuple(amounts), np.array([list(amounts.values())]))
        off: FloatArray = now.footprint - summed(stock, stage_matrix(now.impacts, stock)) / after.sum_of(*GOOD_PARTS)
        return off

    return taken


def as_known(before: Inventory, after: Inventory) -> dict[Line, float]:
    """Return the amounts after a change in the evidence classes before it, shared among them as they were."""
    known: dict[tuple[str, str, str], dict[Line, float]] = {}
    for line, amount in before.by_line().items():
        known.setdefault((line.account, line.activity, line.item), {})[line] = amount
    amounts: dict[Line, float] = {}
    for line, amount in after.by_line().items():
        classes = known.get((line.account, line.activity, line.item), {})
        total = sum(classes.values())
        for one, had in classes.items() if total else {line: 1.0}.items():
            amounts[one] = amounts.get(one, 0.0) + amount * had / (total or 1.0)
    return amounts


@dataclass(frozen=True, slots=True)
class Lever:
    """One realistic step.

    Attributes
    ----------
    name, variable : str
        Name in outputs; the variable of a break-even that it moves.
    step, takes : str
        What is done, and what that takes, in words.
    taken : callable
        What it takes off, see `Step`.
    """

    name: str
    variable: str
    step: str
    takes: str
    taken: Step


def _route(name: str, fate: str, step: str, takes: str) -> Lever:
    """Return the step after which all finished parts take one route in the end."""
    return Lever(
        name, f"{fate}-share", step, takes,
        reset(partial(whatif.with_share, fate, share=1.0), END_OF_LIFE, SHARES_IN_THE_END),
    )  # fmt: skip


LEVERS = (
    Lever(
        "half-drying", "drying", message("drying with half the electricity"),
        message("pressing more water out, air before heat, and a dryer that is full"),
        scaled(0.5, DRYING, estimated(DRYING)),
    ),
    Lever(
        "bicycle", "transport", message("paper collected by bicycle or on foot"),
        message("paper from nearby, or loads that a cargo bicycle takes"),
        reset(partial(whatif.with_vehicle, vehicle="bicycle"), "transport"),
    ),
    Lever(
        "mould-twice", "pressings", message("a mould that lasts twice as long"),
        message("more pressings from the same mould: repair, a harder surface, fewer changes of shape"),
        scaled(0.5, PRESSINGS),
    ),
    Lever(
        "half-rejects", "reject-rate", message("half the rejects"),
        message("finding out why parts fail, first in the batches with the most rejects"),
        rebatched(whatif.with_half_rejects),
    ),
    Lever(
        "half-dose", "binder-dose", message("half the binder"),
        message("trials with less binder until the parts just hold, their strength tested"),
        rebatched(whatif.with_half_dose, DRY_BINDER.account),
    ),
    _route(
        COMPOSTED, "composting", message("all parts composted in the end"),
        message("a composting site that accepts them, which not every binder allows: see the findings on composting"),
    ),
    _route(
        RECYCLED, "recycling", message("all parts recycled in the end"),
        message("a collection that accepts them; none is known"),
    ),
)  # fmt: skip
"""The steps."""


@shows("lever", "variable", "step", "takes", named("takes_off_kgco2e", "takes_off"), "chance_lower")
@dataclass(frozen=True, slots=True)
class Relief:
    """What one step would take off the footprint of a part.

    Attributes
    ----------
    lever : str
        Name of the step.
    variable : str
        The variable of a break-even that it moves.
    step, takes : str
        What is done, and what that takes, in words.
    takes_off : Interval
        Footprint as recorded less that after the step, in the same draws, per good part. [kgCO2e]
    chance_lower : float
        Share of the draws in which it takes something off. [-]
    """

    lever: Annotated[str, one_of(*(one.name for one in LEVERS))]
    variable: Annotated[str, one_of(*(one.name for one in VARIABLES))]
    step: str
    takes: str
    takes_off: Interval
    chance_lower: Share


def no_heap_takes(records: Scenario, now: Making, names: Names) -> bool:
    """Return whether the findings on composting block the part with every binder that it was made with."""
    values = records.values
    found = findings(recipes(now.inventory), records.workshop, values.factors, names, values.regions)
    return bool(found) and all(one.outcome == BLOCKED for one in found if one.route == "industrial")


def levers(records: Scenario, names: Names) -> tuple[Relief, ...]:
    """Return the steps that lower the footprint of a part, the one that takes off most first.

    Empty when the part has no good part; a part without a plastic part has steps too. Composting is no step where no
    heap takes the part; `names` has the flags of its binders.

    Raises
    ------
    ProblemsError
        When the tables lack a factor.
    """
    try:
        now = records.making
    except NoComparisonError:
        return ()
    found = []
    with missing_factors_told(records.workshop):
        for lever in LEVERS:
            if lever.name == COMPOSTED and no_heap_takes(records, now, names):
                continue
            off = lever.taken(records, now)
            if off[0] > LEAST * abs(now.footprint[0]):
                lower = float(np.mean(off[1:] > 0.0))
                found.append(Relief(lever.name, lever.variable, lever.step, lever.takes, Interval.of(off), lower))
    return tuple(sorted(found, key=lambda one: -one.takes_off.value))
