"""Paper by weight from where it would have gone, through the workshop, to where it is and where its parts will go."""

from __future__ import annotations

from typing import TYPE_CHECKING

from impact.inventory import OWN_REJECTS
from impact.values import FATES

if TYPE_CHECKING:
    from impact.results import Results

ROUNDING = 1e-9
"""Share of the whole below which a difference of sums is error of arithmetic. [-]"""


def massflow(results: Results) -> dict[str, dict[str, float]]:
    """Return the flow of paper, fibre without binder, as weighed. [kg]

    All figures are at least 0, and the sum of ``in`` is that of ``out``; `later` divides the good parts. Rejects
    pulped again leave nothing behind: only what more was kept than used stands under ``out`` as ``waiting_kg``, or
    what more was used than kept under ``in`` as ``earlier_rejects_kg``. What the dry mass balance misses is
    ``unaccounted_kg``; where more was found than went in, it is ``beyond_weighed_kg``.

    Parameters
    ----------
    results : Results
        An assessment; counted for a grant, every figure has its share.
    """
    paper, share = results.paper, results.grant.share if results.grant else 1.0
    lost = dict.fromkeys((*FATES, OWN_REJECTS), 0.0)
    for item, mass in results.inventory.items("mass", "returned").items():
        lost[item.rpartition("|")[2]] += mass * share
    waiting = lost[OWN_REJECTS] - results.inventory.sum_of("mass", "pulped again") * share
    kept = {
        "landfill": paper.kept_from_landfill_gross_kg,
        "incineration": paper.kept_from_incineration_kg + lost["incineration"],
        "recycling": paper.taken_from_recycling_kg,
        "composting": sum(grade.kept_from_composting_kg for grade in paper.by_grade) + lost["composting"],
    }
    missing = sum(kept.values()) - waiting - paper.put_to_use_kg - sum(lost[fate] for fate in FATES)
    least = ROUNDING * (paper.collected_kg + paper.put_to_use_kg)
    to_landfill = paper.put_to_use_kg * paper.landfill_at_end_of_life

    def positive(mass: float) -> float:
        return mass if mass > least else 0.0

    return {
        "in": {
            **{f"{fate}_kg": positive(kept[fate]) for fate in FATES},
            "earlier_rejects_kg": positive(-waiting),
            "beyond_weighed_kg": positive(-missing),
        },
        "out": {
            "good_parts_kg": paper.put_to_use_kg,
            **{f"{fate}_kg": positive(lost[fate]) for fate in FATES},
            "waiting_kg": positive(waiting),
            "unaccounted_kg": positive(missing),
        },
        "later": {"landfill_kg": to_landfill, "elsewhere_kg": paper.put_to_use_kg - to_landfill},
    }
