"""One session: what the workshop states of it, what it would take and give, and the power of the devices in use."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil
from typing import TYPE_CHECKING, Any

from impact.records.columns import device_columns
from impact.records.statements import Visit

if TYPE_CHECKING:
    import pandas as pd

    from impact.decisions.forecast import Forecast
    from impact.records.workshop import Workshop

ROWS = 17
"""Rows of the table of statements."""

SIZES = {"usual": (11.8, 80), "small": (10.3, 90), "smallest": (9.2, 100)}
"""Height of a line [pt], and letters of one, of the table of statements by the size of its letters, the largest first."""

FORESEEN, SHORT, ALONE = 330.0, 425.0, 590.0
"""Room for the table below a whole term, below one without a comparison, and where no term is foreseen. Measured. [pt]"""

ABOVE, PER_LINE = 200, 105
"""Letters of a workshop's own words that the first page has room for, and letters of a line more of them."""

LONGER = {"es": 25.0, "de": 25.0}
"""What a language takes more than English above the table. Measured. [pt]"""

NARROWEST, WIDEST = 1.0, 9.0
"""Least and most room above and below the words of a row. [pt]"""

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
    found = {name: None if total is None else total.value / plan.sessions for name, total in of_term.items()}
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


@dataclass(frozen=True, slots=True)
class Room:
    """How the table of statements is set, so that the pages before the risk sheet are filled.

    Attributes
    ----------
    size : str
        One of `SIZES`, the class of the table.
    padding : float
        Room above and below the words of a row. [pt]
    """

    size: str
    padding: float


def room_of(visit: Visit | None, own_letters: int, language: str, space: float) -> Room:
    """Return how the table of statements is set: the more is stated the smaller, the less the more room to write in.

    Parameters
    ----------
    visit : Visit or None
        What is stated.
    own_letters : int
        Letters of the workshop's own words and contact, which stand above.
    language : str
        Of the report.
    space : float
        Room for the table where these are short: `FORESEEN`, `SHORT` or `ALONE`. [pt]
    """
    left = space - 11.0 * max(0, ceil((own_letters - ABOVE) / PER_LINE)) - LONGER.get(language, 0.0)
    lengths = [len(getattr(visit, name) or "") for name in STATED] if visit else []
    rooms = []
    for size, (height, letters) in SIZES.items():
        lines = ROWS + sum(max(0, ceil(length / letters) - 1) for length in lengths)
        rooms.append(Room(size, round(min((left - lines * height) / (2.0 * ROWS), WIDEST), 1)))
    found = next((room for room in rooms if room.padding >= NARROWEST), rooms[-1])
    return replace(found, padding=max(found.padding, NARROWEST))
