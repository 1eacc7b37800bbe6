"""The rules over what is known of the paper and the part beside the recipe: inks, tape, grease-proofing, wall, metals, tests."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

from impact.account.inventory import Inventory
from impact.account.linekinds import in_parts
from impact.base.catalogue import Names
from impact.base.language import message
from impact.base.sentences import Figure, Listed, Said, parts_named
from impact.base.serial import Share, named, one_of, shows
from impact.core.node import equation
from impact.factors.factorset import FactorSet
from impact.factors.rows import MEMORY, Factor
from impact.findings.compost_rules import BINDER_RULES, BLOCKED, OPEN, UNKNOWN, Case, MakeUp, Reason, Rule
from impact.records.workshop import Workshop

EU, US = "EN13432", "ASTM"
WITHDRAWN = message(". The limits once printed for Canada were withdrawn and are not used")
METALS = ("Zn", "Cu", "Ni", "Cd", "Pb", "Hg", "Cr", "Mo", "Se", "As", "F")


def limits_table(case: Case) -> str:
    """Return the table of limits for the workshop's place: the United States' in North America, else the European one."""
    return US if {"USA", "North America"} & set(case.regions) and "EU" not in case.regions else EU


def inks(case: Case) -> Iterator[Reason]:
    """Yield what printing means where a grade is, or may be, printed on."""
    printed = case.grades("ink", "likely", "possible")
    if printed and case.materials.inks != "none":
        yield case.reason("inks-untested" if case.materials.inks == "printed" else "inks-not-recorded", grades=printed)


def mineral_oil(case: Case) -> Iterator[Reason]:
    """Yield the mineral oil of inks where a grade is usually printed."""
    printed = case.grades("ink", "likely")
    if printed and case.materials.inks != "none":
        yield case.reason("mineral-oil", grades=printed)


def tape(case: Case) -> Iterator[Reason]:
    """Yield what tape, labels and staples mean where a grade comes with them."""
    taped, removed = case.grades("tape", "likely", "possible"), case.materials.tape_removed
    if taped and not removed:
        yield case.reason("tape-not-recorded" if removed is None else "tape-left-on", grades=taped)


def greaseproof(case: Case) -> Iterator[Reason]:
    """Yield the fluorine limits where grease-proof paper went in, or where moulded fibre leaves it open."""
    moulded, recorded = case.grades("fluorine", "possible"), case.materials.greaseproof
    if recorded is False or not (moulded or recorded):
        return
    keys = (
        ("restriction.total-fluorine",) if limits_table(case) == US else (f"limit.{EU}.F", "restriction.pfas-polymeric")
    )
    limits = [case.row(f"compost.{key}") for key in keys]
    figures = [Said("{what}: {limit} mg/kg", {"what": row.what, "limit": _limit(row)}) for row in limits]
    rule = "grease-proof" if recorded else "grease-proof-not-recorded"
    yield case.reason(rule, *limits, grades=moulded or "", limits=Listed(tuple(figures), "; "))


def coatings(case: Case) -> Iterator[Reason]:
    """Yield the reminder where a grade may come with a plastic or wax lining."""
    coated = case.grades("coating", "possible")
    if coated:
        yield case.reason("coating-possible", grades=coated)


def wall(case: Case) -> Iterator[Reason]:
    """Yield what the wall thickness means for a test of disintegration."""
    if case.wall_mm is None:
        yield case.reason("wall-not-recorded")
    else:
        yield case.reason("wall-thickness", wall=Figure(case.wall_mm, "stated"))


def metals(case: Case) -> Iterator[Reason]:
    """Yield the limits of the workshop's place; what was once printed for Canada is never current."""
    table, country = limits_table(case), case.regions[0]
    rows, own = (_metal_limits(case, where) for where in (table, country))
    unsure = [element for element, row in rows.items() if row.evidence == MEMORY]
    yield case.reason(
        "metals-untested",
        *list(rows.values())[:1],
        *own.values(),
        fluorine=Said(" and fluorine") if table == EU else "",
        limits=_listed(rows),
        unsure=Said(" (limits from memory: {metals})", {"metals": ", ".join(unsure)}) if unsure else "",
        own=Said("; of the country itself: {limits}", {"limits": _listed(own)}) if own else "",
        withdrawn=Said(WITHDRAWN) if country == "CAN" else "",
    )


def _metal_limits(case: Case, table: str) -> dict[str, Factor]:
    """Return the limits of one table by element. [mg/kg]"""
    keys = {element: f"compost.limit.{table}.{element}" for element in METALS}
    return {element: case.row(key) for element, key in keys.items() if case.has(key)}


def _limit(row: Factor) -> Figure:
    return Figure(row.value, "stated")


def _listed(limits: Mapping[str, Factor]) -> Listed:
    return Listed(tuple(Listed((element, _limit(row)), " ") for element, row in limits.items()))


def industrial_tests(case: Case) -> Iterator[Reason]:
    """Yield the tests that any claim for industrial composting would still need, by the standard of the workshop's place."""
    if limits_table(case) == US:
        test, unit, period = "astm-biodegradation", "days", message("{time} days")
        standards = message("ASTM D6868 (paper with a polymer mixed in as binder) with D6400")
    else:
        test, unit, period = "biodegradation", "months", message("{time} months")
        standards = message("EN 13432 (packaging) or ISO 17088")
    share, time = (case.row(f"compost.criterion.{name}") for name in (test, f"{test}-{unit}"))
    within = Said(period, {"time": _limit(time)})
    yield case.reason("untested", share, time, standards=Said(standards), least=share, period=within)


def home_tests(case: Case) -> Iterator[Reason]:
    """Yield why nothing follows for a home heap, and the tests that a claim would need."""
    yield case.reason("home-not-covered")
    yield case.reason("untested-home")


FACT_RULES: tuple[Rule, ...] = (inks, mineral_oil, tape, greaseproof, coatings, wall, metals)
"""Rules over recorded facts, in the order in which they are printed."""
ROUTE_RULES: dict[str, Rule] = {"industrial": industrial_tests, "home": home_tests}
"""Rules of each way of composting."""


ROUTES = tuple(ROUTE_RULES)


@shows(
    "part", "binder", named("composting", "route"), "binder_share", "outcome", "reasons", named("not_recorded", "asked")
)
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
    route: Annotated[str, one_of("industrial", "home")]
    binder_share: Share
    outcome: Annotated[str, one_of(BLOCKED, OPEN, UNKNOWN)]
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


def recipes(inventory: Inventory) -> dict[tuple[str, str], MakeUp]:
    """Return the dry make-up of the good parts, by part and binder; own rejects bring their binders along."""
    found: dict[tuple[str, str], MakeUp] = {}
    for part in dict.fromkeys(inventory.groups["part"]):
        of_part = inventory.where(part=part)
        for binder in dict.fromkeys(of_part.groups["binder"]):
            chosen = of_part.where(binder=binder)
            fibre = chosen.items(*in_parts("fibre"))
            glue = chosen.items(*in_parts("binder"))
            total = sum(fibre.values()) + sum(glue.values())
            if total > 0.0:
                found[part, binder] = MakeUp(
                    {item: mass / total for item, mass in fibre.items() if mass > 0.0},
                    {item: mass / total for item, mass in glue.items() if mass > 0.0},
                )
    return found


def findings(
    made: Mapping[tuple[str, str], MakeUp],
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


def asked_of(found: Sequence[Finding]) -> list[Said]:
    """Return what is not recorded, each once, with the parts of which it is not where of others it is."""
    parts = dict.fromkeys(finding.part for finding in found)
    lacking: dict[str, dict[str, None]] = {}
    for finding in found:
        for asks in finding.asked:
            lacking.setdefault(asks, {})[finding.part] = None
    return [
        Said(asks)
        if len(of) == len(parts)
        else Said("{asks} of {parts}", {"asks": Said(asks), "parts": parts_named(of)})
        for asks, of in lacking.items()
    ]


def _outcome(reasons: Sequence[Reason]) -> str:
    """Return the outcome that weighs most: a blocker, else an open question, else neither."""
    effects = {reason.effect for reason in reasons}
    return next(outcome for outcome in (BLOCKED, UNKNOWN, OPEN) if outcome in effects)
