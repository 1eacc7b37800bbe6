"""One session: what the workshop states of it, what it would take and give, and the power of the devices in use."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from impact.records.columns import device_columns
from impact.records.statements import Visit

if TYPE_CHECKING:
    import pandas as pd

    from impact.decisions.forecast import Forecast
    from impact.records.workshop import Workshop

ROOMY, LONG, LONGEST = 500, 1100, 2000
"""Letters of all statements up to which their table has room to write in, and from which it has smaller letters, and the
smallest. Choices of ours."""

STATED = (
    "age", "curriculum", "who", "checks", "insurance", "first_aid", "ahead", "prepare", "brings", "room", "electrical",
    "clothing", "cleaning", "follow_up",
)  # fmt: skip
"""What a visit states in words, by the names of its attributes."""


def devices_of(records: pd.DataFrame) -> list[str]:
    """Return the devices that energy entries of batches name, each once."""
    named = (str(name) for column in device_columns() if column in records for name in records[column].unique())
    return sorted({name for name in named if name})


def one_session(plan: Forecast) -> dict[str, float | None]:
    """Return what one session of a plan takes and gives in the mean, by the names of the term's figures.

    The gap of carbon is without its sign. Every amount is the term's over its sessions, since a forecast is linear in them.
    """
    of_term = {
        "good_parts": plan.good_parts,
        "paper_kg": plan.all_paper_kg,
        "kept_from_landfill_kg": plan.diverted_kg,
        "electricity_kwh": plan.electricity_kwh,
        "water_l": plan.water_l,
        "people_hours": plan.people_hours,
        "dryer_hours": plan.dryer_hours,
        "cost": plan.cost,
        "carbon_kgco2e": plan.difference_kgco2e,
    }
    found = {name: figure and figure.value / plan.sessions for name, figure in of_term.items()}
    gap = found["carbon_kgco2e"]
    return {**found, "carbon_kgco2e": None if gap is None else abs(gap)}


def stated(workshop: Workshop, devices: list[str], pupils: int) -> dict[str, float | None]:
    """Return the numbers that a workshop states of one session; None for what is not recorded.

    Parameters
    ----------
    workshop : Workshop
        With its visit and its devices.
    devices : list of str
        Those in use; their power is added up. [W]
    pupils : int
        Pupils of one session of the plan, for the price of each.
    """
    visit = workshop.visit or Visit()
    numbers = {name: getattr(visit, name) for name in ("minutes", "pupils", "adults", "at_blender", "sockets")}
    price: Any = visit.cost
    watts = sum(workshop.equipment[name].power_w for name in devices)
    return {
        **numbers,
        "cost": price,
        "cost_per_pupil": None if price is None else price / pupils,
        "watts": watts if devices else None,
    }


def size_of(visit: Visit | None) -> str:
    """Return the class of the table of statements, by how much is stated."""
    letters = sum(len(getattr(visit, name) or "") for name in STATED) if visit else 0
    return "longest" if letters > LONGEST else "long" if letters > LONG else "roomy" if letters < ROOMY else "usual"
