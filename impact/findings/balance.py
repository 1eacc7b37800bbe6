"""Whether the paper adds up: parts, rejects and trim that come to more than was weighed in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from impact.account.paper import massflow

if TYPE_CHECKING:
    from impact.account.results import Results

LEAST_BEYOND = 0.005
"""Share of the paper from which it is told that more was found than weighed in: below, it is the error of a scale. A choice
of ours. [-]"""


def beyond_weighed_kg(results: Results) -> float:
    """Return the paper found beyond what was weighed in, 0 where that is less than `LEAST_BEYOND`; of a grant its share. [kg]"""
    beyond = massflow(results)["in"]["beyond_weighed_kg"]
    return beyond if beyond > LEAST_BEYOND * results.paper.collected_kg.value else 0.0
