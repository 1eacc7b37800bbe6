"""The variables of a break-even: what could be different about a part, and how far.

Each variable has a range in which a break-even is looked for. The ranges are choices of this program, wide
enough for any workshop and narrow enough that a point outside would be no advice:

- drying 0 to 20 kWh per good part: an oven for hours; electricity 0 to 2 kg CO2e per kWh: above any grid;
- pressings 1 to 100,000: from a mould that breaks at once to a metal one; its mass 0 to 50 kg: a block of cast iron;
- binder dose 0 to 1: as much dry binder as dry fibre; service life 0.01 to 100 years;
- reject rate 0 to 0.99; transport 0 to 1,000 km per batch: a day on the road;
- share of the finished parts that takes a route in the end 0 to 1, the other routes in their proportions.

`set_records` of a variable writes its value into the records (`impact.decisions.whatif`). The amount that a variable
sets is taken as true, without the error of its evidence class.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, Literal

from impact.account.inventory import STAGES
from impact.account.linekinds import DRIVING, DRY_BINDER, DRYING, PRESSINGS
from impact.account.plastic import LIFE
from impact.core import FloatArray
from impact.decisions import whatif
from impact.decisions.scenario import PLASTIC, Comparison, Scenario

Transform = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class Variable:
    """One thing that could be different about a part.

    Attributes
    ----------
    name, unit : str
        Name in commands and outputs; unit in words.
    low, high : float
        Ends of the range in which a break-even is looked for.
    set_records : callable
        Scenario and value to the scenario with that value; what changes the batches takes one for each of them, too.
    now : callable
        Scenario and comparison to the value as recorded.
    straight, back : callable or None
        Transform in which the difference is affine, and its inverse; None where there is none.
    changed : tuple of str
        Life-cycle stages of which a unit emits something else, and `PLASTIC` where the plastic part does.
    exact : tuple of str
        Activities whose amount the variable sets, and which therefore have no error.
    changes : {"batches", "lines", "units"}
        What it changes: the batches alone; which line an amount is in, the same for every value; or only what units of
        the inventory emit.
    """

    name: str
    unit: str
    low: float
    high: float
    set_records: Callable[[Scenario, Any], Scenario]
    now: Callable[[Scenario, Comparison], float]
    straight: Transform | None
    back: Transform | None
    changed: tuple[str, ...] = ()
    exact: tuple[str, ...] = ()
    changes: Literal["batches", "lines", "units"] = "units"


def same(value: FloatArray) -> FloatArray:
    """Return the value, in which most differences are affine."""
    return value


def inverse(value: FloatArray) -> FloatArray:
    """Return 1 / value, in which a mould's share of a pressing is affine."""
    return 1.0 / value


SHARES_IN_THE_END = "fates end of life"
"""Name of the stated shares of where finished parts go, which a variable sets without error."""


def _route(fate: str) -> Variable:
    """Return the share of the finished parts that takes a route in the end."""
    return Variable(
        f"{fate}-share", "of parts in the end", 0.0, 1.0, partial(whatif.with_share, fate),
        partial(whatif.share_now, fate), same, same, ("end_of_life",), (SHARES_IN_THE_END,),
    )  # fmt: skip


VARIABLES = (
    Variable(
        "drying", "kWh per good part", 0.0, 20.0, whatif.with_drying, whatif.drying_now, same, same,
        ("making",), (DRYING.activity,), "batches",
    ),
    Variable(
        "electricity", "kg CO2e per kWh", 0.0, 2.0, whatif.with_grid,
        lambda scenario, found: float(found.impacts.grid.kgco2e_per_kwh[0]), same, same, (*STAGES, PLASTIC),
    ),
    Variable(
        "pressings", "pressings per mould", 1.0, 100_000.0, whatif.with_pressings, whatif.pressings_now, inverse, inverse,
        ("mould",), (PRESSINGS.activity,), "lines",
    ),
    Variable(
        "binder-dose", "dry binder per dry fibre", 0.0, 1.0, whatif.with_dose, whatif.dose_now, None, None,
        (DRY_BINDER.account,), (DRY_BINDER.activity,), "batches",
    ),
    Variable(
        "service-life", "years", 0.01, 100.0, whatif.with_life,
        lambda scenario, found: scenario.workshop.parts[scenario.part].service_life_years, same, same, (PLASTIC,), (LIFE,),
    ),
    Variable(
        "reject-rate", "share of pressings", 0.0, 0.99, whatif.with_rejects, whatif.rejects_now,
        lambda rate: 1.0 / (1.0 - rate), lambda ratio: 1.0 - 1.0 / ratio,
        changes="batches",
    ),
    Variable(
        "transport", "km per batch", 0.0, 1000.0, whatif.with_transport, whatif.transport_now, same, same,
        ("transport",), (DRIVING.activity,), "batches",
    ),
    Variable(
        "mould-mass", "kg", 0.0, 50.0, whatif.with_mould_mass,
        lambda scenario, found: whatif.mould_of(scenario).mass_kg, same, same, ("mould",),
    ),
    *map(_route, ("landfill", "composting", "recycling")),
)  # fmt: skip
"""The variables of a break-even, in the order of the outputs."""
