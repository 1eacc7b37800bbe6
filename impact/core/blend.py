"""Compost blends: carbon, nitrogen and water are summed over the ingredients; ratios are never averaged.

Moisture is on the wet basis, carbon and nitrogen are shares of the dry matter.

References
----------
.. [1] R. Rynk (ed.), "On-Farm Composting Handbook", NRAES-54, 1992.
.. [2] T. Richard and N. Trautmann, "Compost mixture calculations", Cornell Waste Management Institute, 1996.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from impact.core import require, require_positive, require_share
from impact.core.moisture import dry_mass
from impact.core.node import equation

RICHARD_1996 = "T. Richard and N. Trautmann, Compost mixture calculations, Cornell Waste Management Institute, 1996"


@dataclass(frozen=True, slots=True)
class Ingredient:
    """One ingredient of a heap.

    Attributes
    ----------
    mass_kg : float
        Mass as weighed, with its water. [kg]
    moisture : float
        Water per kg as weighed, from 0 to less than 1. [-]
    carbon, nitrogen : float
        Open to compost life, per kg of dry matter. [kg/kg]
    """

    mass_kg: float
    moisture: float
    carbon: float
    nitrogen: float

    def __post_init__(self) -> None:
        """Refuse what no material can be."""
        require_share("carbon and nitrogen", self.carbon, self.nitrogen, self.carbon + self.nitrogen)
        require_share("moisture", self.moisture)
        require(self.mass_kg >= 0.0, f"mass is {self.mass_kg!r}; accepted: 0 or more")


def dry_content(nitrogen: float, carbon_nitrogen: float, highest: float) -> tuple[float, float]:
    """Return carbon and nitrogen of dry matter from a table of ratios: C = min(N * C:N, highest), N = C / C:N. [kg/kg]

    Tables round nitrogen, so that its product with the ratio can come out above what a plant material holds;
    `highest` caps the carbon, and the ratio as published is kept.

    Raises
    ------
    ValueError
        When a share lies outside 0 to 1, or the ratio is not above 0.
    """
    require_share("nitrogen and highest carbon", nitrogen, highest)
    require_positive("carbon to nitrogen", carbon_nitrogen)
    carbon = capped_carbon(nitrogen, carbon_nitrogen, highest)
    return carbon, carbon / carbon_nitrogen


@equation("min(N × C:N, highest)", "published nitrogen and ratio, capped at what plant material holds", unit="kg/kg")
def capped_carbon(nitrogen: float, carbon_nitrogen: float, highest: float) -> float:
    """Return the carbon of dry matter, at most `highest`. [kg/kg]"""
    return min(nitrogen * carbon_nitrogen, highest)


@equation("Σ Q M / Σ Q", RICHARD_1996)
def mix_moisture(ingredients: Sequence[Ingredient]) -> float:
    """Return the moisture of a mix, sum(Q M) / sum(Q) [2]_. [-]

    Raises
    ------
    ValueError
        When the mix has no mass.
    """
    total = sum(one.mass_kg for one in ingredients)
    require_positive("mass of the mix", total)
    return sum(one.mass_kg * one.moisture for one in ingredients) / total


@equation("Σ Q C (1 − M) / Σ Q N (1 − M)", "R. Rynk (ed.), On-Farm Composting Handbook, NRAES-54, 1992", unit="kg/kg")
def mix_carbon_nitrogen(ingredients: Sequence[Ingredient]) -> float:
    """Return the carbon-to-nitrogen ratio of a mix, sum(Q C (1 - M)) / sum(Q N (1 - M)) [1]_. [kg/kg]

    Raises
    ------
    ValueError
        When the mix holds no nitrogen.
    """
    carbon = sum(float(dry_mass(one.mass_kg, one.moisture)) * one.carbon for one in ingredients)
    nitrogen = sum(float(dry_mass(one.mass_kg, one.moisture)) * one.nitrogen for one in ingredients)
    require_positive("nitrogen of the mix", nitrogen)
    return carbon / nitrogen


@equation("Q1 (1 − M1) (C1 − R N1) / ((1 − M2) (R N2 − C2))", RICHARD_1996, unit="kg")
def mass_for_carbon_nitrogen(first: Ingredient, second: Ingredient, goal: float) -> float:
    """Return the mass of a second ingredient that brings the first to a ratio, as weighed [2]_. [kg]

    Q2 = Q1 (1 - M1) (C1 - R N1) / ((1 - M2) (R N2 - C2)); the mass of `second` itself is not read.

    Raises
    ------
    ValueError
        When both lie on one side of the goal, so that no amount reaches it.
    """
    require_positive("goal", goal)
    excess = float(dry_mass(first.mass_kg, first.moisture)) * (first.carbon - goal * first.nitrogen)
    offset = float(dry_mass(1.0, second.moisture)) * (goal * second.nitrogen - second.carbon)
    reached = offset != 0.0 and excess / offset >= 0.0
    require(reached, f"no amount of the second ingredient brings the mix to {goal:g}: both lie on one side of it")
    return excess / offset


@equation("Q (G − M) / (M2 − G)", RICHARD_1996, unit="kg")
def mass_for_moisture(mass_kg: float, moisture: float, goal: float, *, second_moisture: float = 1.0) -> float:
    """Return the mass of a second ingredient that brings a mix to a moisture, Q (G - M) / (M2 - G) [2]_. [kg]

    Parameters
    ----------
    mass_kg, moisture : float
        The mix so far. [kg], [-]
    goal : float
        Moisture wanted. [-]
    second_moisture : float, default 1.0
        Moisture of what is added; 1 is water. [-]

    Raises
    ------
    ValueError
        When a moisture lies outside 0 to 1, or both lie on one side of the goal.
    """
    require_share("moisture", moisture, goal, second_moisture)
    gap = second_moisture - goal
    reached = gap != 0.0 and (goal - moisture) / gap >= 0.0
    require(reached, f"no amount of the second ingredient brings the mix to {goal:g}: both lie on one side of it")
    return mass_kg * (goal - moisture) / gap


@equation("max(Q (G − M) / (1 − G), 0)", RICHARD_1996, unit="kg")
def water_to_add(mass_kg: float, moisture: float, goal: float) -> float:
    """Return the water that brings a mix to a moisture [2]_, 0 where it is wetter already. [kg]

    Parameters
    ----------
    mass_kg, moisture : float
        The mix so far. [kg], [-]
    goal : float
        Moisture wanted. [-]
    """
    return mass_for_moisture(mass_kg, moisture, goal) if moisture < goal else 0.0
