"""Compostability notes: rules over the recipe, each with its source; findings, never a certificate."""

from __future__ import annotations

from dataclasses import dataclass

from impact.factors import FactorSet
from impact.inventory import Inventory
from impact.names import Names

BLOCKED = "blocked"
OPEN = "no blocker found, untested"
UNKNOWN = "unknown"
ROUTES = ("industrial", "home")

SINGLE = "compost.criterion.constituent-single"
TOTAL = "compost.criterion.constituent-total"
NOT_RECORDED = (
    "printing inks and their metals",
    "tape, staples and labels",
    "wall thickness",
    "grease-proof or wet-strength treatment",
)


@dataclass(frozen=True, slots=True)
class Reason:
    """One rule that spoke: what it says of this recipe, and where the rule stands."""

    rule: str
    text: str
    source: str


def _untested(standards: str) -> Reason:
    return Reason(
        "untested",
        f"Any claim would still need the tests of {standards}, on the part at its own wall thickness.",
        "AS 5810:2010, cl. 4.1, on thickness (secondary copy)",
    )


GENERAL = {
    "industrial": (_untested("EN 13432, ISO 17088 or ASTM D6868 (paper with a polymer mixed in as binder)"),),
    "home": (
        Reason(
            "home-not-covered",
            "A result for industrial composting says nothing about a cooler home heap, and none is at hand for these parts.",
            "ISO 17088:2021, scope (secondary copy)",
        ),
        _untested("AS 5810 or NF T 51-800; ISO 17088 and ASTM have no home composting"),
    ),
}
"""Rules that speak of every recipe, by route."""


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
    asked : tuple of str
        What the records lack, by name.
    """

    part: str
    binder: str
    route: str
    binder_share: float
    outcome: str
    reasons: tuple[Reason, ...]
    asked: tuple[str, ...]


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


def recipes(inventory: Inventory) -> dict[tuple[str, str], dict[str, float]]:
    """Return the dry make-up of the good parts, by part and binder. [kg]"""
    found: dict[tuple[str, str], dict[str, float]] = {}
    for part in dict.fromkeys(inventory.groups["part"]):
        of_part = inventory.where(part=part)
        for binder in dict.fromkeys(of_part.groups["binder"]):
            chosen = of_part.where(binder=binder)
            fibre = chosen.items("end_of_life", "fibre in parts")
            glue = chosen.items("end_of_life", "binder in parts")
            makeup = {item: mass for item, mass in {**fibre, **glue}.items() if mass > 0.0}
            if makeup:
                found[part, binder] = makeup
    return found


def findings(inventory: Inventory, factors: FactorSet, names: Names) -> list[Finding]:
    """Return the findings for every part and binder, industrial and home composting apart.

    Parameters
    ----------
    inventory : Inventory
        Amounts with rejects resolved.
    factors : FactorSet
        For the thresholds.
    names : Names
        Labels and flags of binders.
    """
    single = factors.choose(SINGLE, ("world", "EU", "USA")).factor
    total = factors.choose(TOTAL, ("world", "EU", "USA")).factor
    source = factors.sources.get(single.source)
    cited = f"{source.citation if source else single.source}, {single.locator} ({single.evidence})"
    found = []
    for (part, binder), makeup in recipes(inventory).items():
        glue = makeup.get(binder, 0.0)
        share = binder_share(glue, sum(makeup.values()) - glue)
        reasons = _reasons(binder, share, single.value, total.value, cited, names)
        for route in ROUTES:
            rules = {reason.rule for reason in reasons}
            open_question = route == "home" or "modified-polymer" in rules
            outcome = BLOCKED if "untested-polymer" in rules else UNKNOWN if open_question else OPEN
            found.append(Finding(part, binder, route, share, outcome, (*reasons, *GENERAL[route]), NOT_RECORDED))
    return found


def _reasons(binder: str, share: float, single: float, total: float, cited: str, names: Names) -> tuple[Reason, ...]:
    label = names.binders.get(binder, binder)
    if binder == "none":
        return (Reason("no-binder", "No binder was added: the part is paper fibre alone.", "the records"),)
    tags = names.binder_tags.get(binder, "")
    if "kind=natural" in tags:
        return (
            Reason(
                "natural-binder",
                f"{label}: {share:.1%} of the dry mass. An unmodified natural polymer; no test of this part exists.",
                "EN 13432:2000 on unmodified natural materials (from memory)",
            ),
        )
    if share >= single and "kind=modified" in tags:
        text = (
            f"{label}: {share:.1%} of the dry mass. A chemically modified natural polymer is not exempt as natural, and at "
            f"{single:.0%} or more needs its own biodegradation test; none is at hand."
        )
        return (Reason("modified-polymer", text, cited),)
    if share >= single:
        text = (
            f"{label}: {share:.1%} of the dry mass. A synthetic polymer at {single:.0%} or more needs its own biodegradation "
            "test; no published pass is known for poly(vinyl acetate). Evidence about poly(vinyl alcohol) is about another polymer."
        )
        return (Reason("untested-polymer", text, cited),)
    text = (
        f"{label}: {share:.2%} of the dry mass, under the {single:.0%} from which a separate test is asked "
        f"(all such constituents together {total:.0%} at most). This waives that one test and nothing else."
    )
    return (Reason("below-threshold", text, cited),)
