"""Which kind of figure each number of a report is, by its name; and so how it is printed, the same wherever it stands."""

from __future__ import annotations

import re
from collections.abc import Mapping
from fnmatch import fnmatchcase
from fnmatch import translate as as_regex
from functools import cache
from typing import NamedTuple

from impact.base.quantities import QUANTITIES, Fixed, fixed

KINDS: tuple[tuple[str, str], ...] = (
    ("batches", "count"),
    ("settings.seed", "stated"),
    ("settings.draws", "count"),
    ("settings.electricity_kgco2e_per_kwh", "grid"),
    ("settings.horizon_years", "stated"),
    ("grant.share", "share"),
    ("warnings.*", "stated"),
    # the totals
    ("paper.landfill_diversion_rate.*", "share"),
    ("paper.mass_balance.unaccounted_share", "fine share"),
    ("paper.*", "paper"),
    ("disposal.*", "account"),
    ("parts.*.good", "count"),
    ("parts.*.rejected", "count"),
    ("parts.*.chance_lower", "chance"),
    ("parts.*.mass_kg", "small mass"),
    ("parts.*.dry_mass_kg", "small mass"),
    ("parts.*.mass_per_service_kg", "small mass"),
    ("parts.*.masses_by_rule_kg.*", "small mass"),
    ("parts.*", "per part"),
    ("made_kgco2e.*", "account"),
    ("displaced_plastic_kgco2e.*", "account"),
    ("net_kgco2e.*", "account"),
    ("net_account.*", "account"),
    ("uses_by_grade.*.chance_recycling", "chance"),
    ("uses_by_grade.*", "per kilogram"),
    ("compostability.*", "fine share"),
    ("blends.*.moisture.*", "share"),
    ("blends.*.goal_moisture", "share"),
    ("blends.*.water_kg.*", "rough number"),
    ("blends.*", "number"),
    ("recycled_content.*", "fine share"),
    ("evidence.*", "share"),
    ("from_memory.*", "share"),
    ("common_practice.*", "share"),
    ("at_ends.*", "account"),
    ("own_values.rows.*", "factor"),
    ("own_values.with_shipped.parts.*", "per part"),
    ("own_values.*", "account"),
    ("beside.paper.landfill_diversion_rate.*", "share"),
    ("beside.paper.*", "paper"),
    ("beside.account.*", "account"),
    ("beside.parts.*.good.*", "count"),
    ("beside.parts.*", "per part"),
    ("beside.warnings.*", "stated"),
    ("beside.*", "count"),
    # of the funder report
    ("own_figures.parts.*", "per part"),
    ("own_figures.*", "account"),
    ("story.*", "count"),
    ("flow.*", "paper"),
    ("flow_sums.*", "paper"),
    ("periods.*", "paper"),
    ("period_sums.*", "paper"),
    ("details.*.service_life_years", "stated"),
    ("details.*.plastic_service_life_years", "stated"),
    ("details.*.displacement", "share"),
    ("details.*.masses_ratio", "number"),
    ("details.*", "per part"),
    ("disposal_by_grade.*", "account"),
    ("breakeven.*.crossings.*.share_*", "of hundred"),
    *(
        (f"breakeven.*.crossings.{variable}.{end}", f"{kind} of {what}")
        for variable, what in (("transport", "distance"), ("mould-mass", "mass"))
        for end, kind in (("range.*", "range"), ("at.*", "crossing"), ("now", "number"))
    ),
    ("breakeven.*.crossings.*.range.*", "stated"),
    ("breakeven.*.crossings.*.at.*", "crossing"),
    ("breakeven.*.crossings.*", "number"),
    ("breakeven.*.levers.*.chance_lower", "chance"),
    ("breakeven.*.levers.*", "per part"),
    ("breakeven.*.spread.*", "share"),
    ("factors.*", "factor"),
    ("made.parts.*.reject_rate", "share"),
    ("made.parts.*", "count"),
    ("made.inputs.*.batches", "count"),
    ("made.inputs.waste paper, as weighed.amount", "paper"),
    ("made.inputs.binder, as weighed.amount", "paper"),
    ("made.inputs.water.amount", "volume"),
    ("made.inputs.transport.amount", "distance"),
    ("made.inputs.hours of batches.amount", "time"),
    ("made.inputs.cost.amount", "money"),
    ("made.inputs.*.amount", "energy"),
    ("made.electricity_kwh", "energy"),
    ("made.target.diverted_kg", "stated mass"),
    ("made.target.share_of_this_period", "share"),
    ("asked.money.per_kilogram.*", "price"),
    ("asked.money.*_share", "share"),
    ("asked.money.*_batches", "count"),
    ("asked.money.*", "money"),
    ("asked.people.*hours", "hours"),
    ("asked.people.*", "count"),
    ("asked.amounts.*", "mass as asked"),
    ("asked.goals.*.target", "stated"),
    ("asked.goals.*.done", "stated"),
    ("asked.goals.*.mass*", "mass as asked"),
    ("asked.goals.*.count", "count"),
    ("asked.goals.*.share", "share"),
    ("asked.recorded.*", "count"),
    ("register*.unaccounted_share", "share"),
    ("register_by_month.*.paper_kg", "paper"),
    ("register*.paper_kg", "batch paper"),
    ("register*.recorded_kwh", "energy"),
    ("register*", "count"),
    # of several workshops
    ("without_plastic_kgco2e.*", "account"),
    *(
        (f"{account}.{name}", kind)
        for account in ("together", "sites.*")
        for name, kind in (
            ("batches", "count"),
            ("good_parts", "count"),
            ("settings.electricity_kgco2e_per_kwh", "grid"),
            ("settings.horizon_years", "stated"),
            ("paper.landfill_diversion_rate.*", "share"),
            ("paper.*", "paper"),
            ("*_kgco2e.*", "account"),
        )
    ),
    ("workshops.*.parts.*.good", "count"),
    ("workshops.*.parts.*.chance_lower", "chance"),
    ("workshops.*.parts.*", "per part"),
    ("workshops.*.evidence.*", "share"),
    # of the school report
    ("school.stated.cost*", "money"),
    ("school.stated.watts", "power"),
    ("school.session.good_parts", "rough number"),
    ("school.session.*_kg", "session paper"),
    ("school.session.carbon_kgco2e", "session carbon"),
    ("school.session.electricity_kwh", "little energy"),
    ("school.session.water_l", "little volume"),
    ("school.session.*_hours", "little time"),
    ("school.session.cost", "money"),
    ("school.recorded.paper_kg", "small mass"),
    ("school.recorded.electricity_kwh", "little energy"),
    ("school.recorded.water_l", "little volume"),
    ("school.recorded.one_batch.hours.*", "rough number"),
    ("school.term.*.occurs_in", "count"),
    ("school.term.*.batches", "count"),
    ("school.term.good_parts.*", "count"),
    ("school.term.paper_kg.*", "term paper"),
    ("school.term.kept_from_landfill_kg.*", "term paper"),
    ("school.term.carbon_gap*", "term account"),
    ("school.term.electricity_kwh.*", "little energy"),
    ("school.term.water_l.*", "little volume"),
    ("school.term.*_hours.*", "little time"),
    ("school.term.cost.*", "money"),
    ("school.term.displacement", "share"),
    ("school.*", "count"),
    # of the choice of a binder
    ("choice.differences_kgco2e.*", "with binder"),
    ("choice.pairs.*.chance_a_lower", "chance"),
    ("choice.pairs.*.reject_p", "rough number"),
    ("choice.reject_tests.*.p", "rough number"),
    ("choice.binders.*.footprint_kgco2e.*", "with binder"),
    ("choice.binders.*.fossil_carbon_kg", "carbon"),
    ("choice.binders.*.water_kg", "small mass"),
    ("choice.binders.*.preparation_kwh", "little energy"),
    ("choice.binders.*.cost", "little money"),
    ("choice.binders.*.dose*", "fine share"),
    ("choice.binders.*.compostability.*", "fine share"),
    ("choice.binders.*.reject_rate.design_effect", "number"),
    ("choice.binders.*.reject_rate.rejects", "count"),
    ("choice.binders.*.reject_rate.pressed", "count"),
    ("choice.binders.*.reject_rate.batches", "count"),
    ("choice.binders.*.reject_rate*", "fine share"),
    ("choice.binders.*.strength.sd_n", "rough number"),
    ("choice.binders.*.strength.span_mm", "stated"),
    ("choice.binders.*.strength.tests", "count"),
    ("choice.binders.*.strength*", "number"),
    ("choice.seed", "stated"),
    ("choice.*", "count"),
)
"""Patterns of names, each with one of `impact.base.quantities.QUANTITIES`; the first that fits counts, ``*`` is anything."""

PAIRS = ((".low", ".high"), (".favourable", ".unfavourable"), ("_low", "_high"))
"""How the names of two ends of one figure end."""
CENTRES = (".value", ".rate", "")
"""How the name of the central value between two ends may end."""
ENDS = tuple(end for pair in PAIRS[:2] for end in pair)
"""Names of figures that are no central ones."""
ASIDE = ("net_account.moulds_bought*", "net_account.cases.moulds_*")
"""Figures that fix no unit and no decimals: purchases stand beside the account, and may be a hundred times as large."""
ADDENDS = ("period_sums.*", "register_by_month.*", "register.*.recorded_kwh")
"""Rows of tables that may have many, and a sum."""


@cache
def _patterns() -> re.Pattern[str]:
    return re.compile("|".join(f"(?P<k{place}>{as_regex(pattern)})" for place, (pattern, _) in enumerate(KINDS)))


def quantity_of(name: str) -> str:
    """Return the kind of the figure that has a name.

    Raises
    ------
    KeyError
        When no pattern fits.
    """
    found = _patterns().match(name)
    if found is None or found.lastgroup is None:
        raise KeyError(f"no kind of figure is known for {name}")
    return KINDS[int(found.lastgroup[1:])][1]


class Span(NamedTuple):
    """A figure with the ends of its interval."""

    value: float
    low: float
    high: float


def ends_of(name: str, values: Mapping[str, float | None]) -> tuple[str, str] | None:
    """Return the names of the two ends of what has a name; None where it has none."""
    pairs = ((f"{name}{low}", f"{name}{high}") for low, high in PAIRS)
    return next((pair for pair in pairs if None not in map(values.get, pair)), None)


def span_of(name: str, values: Mapping[str, float | None]) -> Span | None:
    """Return the figure with its interval that a figure is the centre, or an end, of; None for any other.

    Ends without a centre have the first of them in its place.
    """
    for end in (*(end for pair in PAIRS for end in pair), *CENTRES):
        whole = name.removesuffix(end)
        pair = ends_of(whole, values) if name.endswith(end) else None
        if pair is not None:
            low, high = (values[one] or 0.0 for one in pair)
            middle = next((found for one in CENTRES if (found := values.get(f"{whole}{one}")) is not None), low)
            return Span(middle, min(low, high), max(low, high))
    return None


def fixed_in(values: Mapping[str, float | None], us: bool) -> dict[str, Fixed]:
    """Return unit and decimals of every kind that is rounded alike in the report of these figures.

    Parameters
    ----------
    values : mapping of str to float or None
        Every figure of the report by its name.
    us : bool
        Whether it has US customary units.
    """
    kinds = ((quantity_of(name), name, value) for name, value in values.items() if value is not None)
    heeded = [
        (name, kind, value)
        for kind, name, value in kinds
        if (QUANTITIES[kind].ends or not name.endswith(ENDS)) and not _fits(name, ASIDE)
    ]
    addends = ((kind, value) for name, kind, value in heeded if _fits(name, ADDENDS))
    return fixed(((kind, value) for _, kind, value in heeded), us, addends)


def _fits(name: str, patterns: tuple[str, ...]) -> bool:
    return any(fnmatchcase(name, pattern) for pattern in patterns)
