"""Compostability notes: rules over the recipe, each with its source; findings, never a certificate."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from impact.compostfacts import FACT_RULES, ROUTE_RULES
from impact.compostrules import BINDER_RULES, BLOCKED, OPEN, UNKNOWN, Case, Reason, Recipe
from impact.core.derivation import equation
from impact.factors import FactorSet
from impact.inventory import Inventory
from impact.names import Names
from impact.workshop import Workshop

ROUTES = tuple(ROUTE_RULES)


@dataclass(frozen=True, slots=True)
class Finding:
    """What can be said of composting one part made with one binder.

    Attributes
    ----------
    part, binder, route : str
        Part, binder id, ``industrial`` or ``home``.
    binder_share : float
        Dry binder over dry fibre and binder. [-]
    outcome : str
        `BLOCKED`, `OPEN` or `UNKNOWN`.
    reasons : tuple of Reason
        The rules behind the outcome, each with its source.
    """

    part: str
    binder: str
    route: str
    binder_share: float
    outcome: str
    reasons: tuple[Reason, ...]

    @property
    def asked(self) -> tuple[str, ...]:
        """What the records lack, by name."""
        return tuple(reason.asks for reason in self.reasons if reason.asks)


@equation("B / (B + F)", "dry binder over dry fibre and binder: the basis of the limits of EN 13432 and ISO 17088")
def binder_share(dry_binder_kg: float, dry_fibre_kg: float) -> float:
    """Return dry binder over dry fibre and binder; wet glue never counts by its wet mass. [-]

    Raises
    ------
    ValueError
        When there is neither.
    """
    if dry_binder_kg + dry_fibre_kg <= 0.0:
        raise ValueError("there is neither fibre nor binder to take a share of")
    return dry_binder_kg / (dry_binder_kg + dry_fibre_kg)


def recipes(inventory: Inventory) -> dict[tuple[str, str], Recipe]:
    """Return the dry make-up of the good parts, by part and binder; own rejects bring their binders along."""
    found: dict[tuple[str, str], Recipe] = {}
    for part in dict.fromkeys(inventory.groups["part"]):
        of_part = inventory.where(part=part)
        for binder in dict.fromkeys(of_part.groups["binder"]):
            chosen = of_part.where(binder=binder)
            fibre = chosen.items("end_of_life", "fibre in parts")
            glue = chosen.items("end_of_life", "binder in parts")
            total = sum(fibre.values()) + sum(glue.values())
            if total > 0.0:
                found[part, binder] = Recipe(
                    {item: mass / total for item, mass in fibre.items() if mass > 0.0},
                    {item: mass / total for item, mass in glue.items() if mass > 0.0},
                )
    return found


def findings(
    made: Mapping[tuple[str, str], Recipe],
    workshop: Workshop,
    factors: FactorSet,
    names: Names,
    regions: Sequence[str],
) -> list[Finding]:
    """Return the findings for every part and binder, industrial and home composting apart.

    Parameters
    ----------
    made : mapping
        Dry make-up by part and binder.
    workshop : Workshop
        For walls and what is recorded of the paper.
    factors : FactorSet
        For thresholds and limits.
    names : Names
        Labels and flags.
    regions : sequence of str
        Geographies from the nearest to the widest.
    """
    found = []
    for (part, binder), recipe in made.items():
        case = Case(recipe, workshop.parts[part].wall_mm, workshop.materials, names, factors, tuple(regions))
        share = binder_share(sum(recipe.binders.values()), sum(recipe.fibre.values()))
        common = [reason for rule in (*BINDER_RULES, *FACT_RULES) for reason in rule(case)]
        for route, rule in ROUTE_RULES.items():
            reasons = (*common, *rule(case))
            found.append(Finding(part, binder, route, share, _outcome(reasons), reasons))
    return found


def _outcome(reasons: Sequence[Reason]) -> str:
    """Return the outcome that weighs most: a blocker, else an open question, else neither."""
    effects = {reason.effect for reason in reasons}
    return next(outcome for outcome in (BLOCKED, UNKNOWN, OPEN) if outcome in effects)
