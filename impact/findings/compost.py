"""The rules over what is known of the paper and the part beside the recipe: inks, tape, grease-proofing, wall, metals, tests."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

from impact.account.inventory import Inventory
from impact.account.linekinds import in_parts
from impact.base.catalogue import Names
from impact.base.printing import GROUPED, PERCENT, STATED, WHOLE
from impact.base.serial import Share, named, one_of, shows
from impact.core.node import equation
from impact.factors.factorset import FactorSet
from impact.factors.rows import Factor
from impact.findings.compost_rules import BINDER_RULES, BLOCKED, OPEN, UNKNOWN, Case, MakeUp, Reason, Rule
from impact.records.workshop import Workshop

EU, US = "EN13432", "ASTM"
METALS = ("Zn", "Cu", "Ni", "Cd", "Pb", "Hg", "Cr", "Mo", "Se", "As", "F")


def limits_table(case: Case) -> str:
    """Return the table of limits for the workshop's place: the United States' in North America, else the European one."""
    return US if {"USA", "North America"} & set(case.regions) and "EU" not in case.regions else EU


def inks(case: Case) -> Iterator[Reason]:
    """Yield what printing means where a grade is, or may be, printed on."""
    printed = case.grades("ink", "likely", "possible")
    recorded = case.materials.inks
    if not printed or recorded == "none":
        return
    source = case.place("practice", "inks by grade, catalogue of grades", "from memory")
    if recorded == "printed":
        statement = "Printing inks are in the part: their pigments, carriers and metals are untested."
        yield Reason("inks-untested", statement, source, f"Recorded as printed: {printed}")
        return
    statement = "Whether the paper was printed on is not recorded; inks are untested constituents and may carry metals."
    asks = "printing inks (inks in [materials]: none or printed)"
    yield Reason("inks-not-recorded", statement, source, f"Usually or possibly printed: {printed}", UNKNOWN, asks)


def mineral_oil(case: Case) -> Iterator[Reason]:
    """Yield the mineral oil of inks where a grade is usually printed."""
    printed = case.grades("ink", "likely")
    if not printed or case.materials.inks == "none":
        return
    paper, board = (case.row(f"safety.food-contact.mineral-oil-{name}") for name in ("newspaper", "board"))
    statement = (
        f"Newspaper was found to hold about {GROUPED(paper.value)} mg/kg of mineral oil from inks, unprinted recycled board "
        f"{GROUPED(board.low)} to {GROUPED(board.high)}; these parts are untested."
    )
    yield Reason("mineral-oil", statement, case.cite(paper, board), f"Usually printed: {printed}")


def tape(case: Case) -> Iterator[Reason]:
    """Yield what tape, labels and staples mean where a grade comes with them."""
    taped = case.grades("tape", "likely", "possible")
    if not taped or case.materials.tape_removed:
        return
    source = case.place("practice", "tape and staples by grade, catalogue of grades", "from memory")
    if case.materials.tape_removed is None:
        statement = "Whether tape, labels and staples were taken off is not recorded; film and wire stay in compost."
        asks = "tape, labels and staples (tape_removed in [materials])"
        yield Reason("tape-not-recorded", statement, source, f"Comes with them: {taped}", UNKNOWN, asks)
        return
    statement = (
        "Tape, labels and staples were left on: plastic film and wire do not break down and stay in the compost."
    )
    yield Reason("tape-left-on", statement, source, f"Recorded as left on: {taped}", BLOCKED)


def greaseproof(case: Case) -> Iterator[Reason]:
    """Yield the fluorine limits where grease-proof paper went in, or where moulded fibre leaves it open."""
    moulded = case.grades("fluorine", "possible")
    recorded = case.materials.greaseproof
    if recorded is False or not (moulded or recorded):
        return
    limits = _fluorine(case)
    figures = "; ".join(f"{row.what}: {STATED(row.value)} mg/kg" for row in limits)
    if recorded:
        statement = f"Grease-proof paper may hold fluorinated substances; blocked until total fluorine is measured. Limits: {figures}."
        yield Reason("grease-proof", statement, case.cite(*limits), "Recorded as grease-proof", BLOCKED)
        return
    statement = f"Moulded fibre may be grease-proofed with fluorinated substances, and whether it was is not recorded. Limits: {figures}."
    asks = "grease-proof paper or moulded fibre (greaseproof in [materials])"
    yield Reason("grease-proof-not-recorded", statement, case.cite(*limits), f"Used: {moulded}", UNKNOWN, asks)


def _fluorine(case: Case) -> tuple[Factor, ...]:
    if limits_table(case) == US:
        return (case.row("compost.restriction.total-fluorine"),)
    return tuple(case.row(key) for key in (f"compost.limit.{EU}.F", "compost.restriction.pfas-polymeric"))


def coatings(case: Case) -> Iterator[Reason]:
    """Yield the reminder where a grade may come with a plastic or wax lining."""
    coated = case.grades("coating", "possible")
    if coated:
        statement = "Some of this board is lined with plastic or wax, which is refused as coated paper: keep it out."
        source = case.place("practice", "coatings by grade, catalogue of grades", "from memory")
        yield Reason("coating-possible", statement, source, f"May be lined: {coated}")


def wall(case: Case) -> Iterator[Reason]:
    """Yield what the wall thickness means for a test of disintegration."""
    residue, weeks = (case.row(f"compost.criterion.disintegration-{name}") for name in ("residue", "weeks"))
    source = "; ".join([case.place("AS5810", "cl. 4.1", "secondary copy"), case.cite(residue, weeks)])
    rule = (
        f"Disintegration (at most {PERCENT(residue.value)} of the dry mass left after {WHOLE(weeks.value)} weeks) is tested on the "
        "product at its thickness, and a result holds for the same or thinner: one for a sheet of paper says nothing of a part."
    )
    if case.wall_mm is not None:
        yield Reason("wall-thickness", rule, source, f"Wall {STATED(case.wall_mm)} mm as recorded")
    else:
        asks = "wall thickness (column wall of parts.csv)"
        yield Reason("wall-not-recorded", rule, source, "Wall not recorded", asks=asks)


def metals(case: Case) -> Iterator[Reason]:
    """Yield the limits of the workshop's place; what was once printed for Canada is never current."""
    table = limits_table(case)
    rows = [case.row(f"compost.limit.{table}.{element}") for element in METALS if _has(case, table, element)]
    own = [
        case.row(f"compost.limit.{case.regions[0]}.{element}")
        for element in METALS
        if _has(case, case.regions[0], element)
    ]
    listed = ", ".join(f"{_element(row)} {STATED(row.value)}" for row in rows)
    unsure = [_element(row) for row in rows if row.evidence == "from memory"]
    statement = f"Metals{' and fluorine' if table == EU else ''} were not measured. Most allowed, mg/kg dry: {listed}"
    statement += f" ({', '.join(unsure)} from memory)" if unsure else ""
    statement += (
        f"; of the country itself: {', '.join(f'{_element(row)} {STATED(row.value)}' for row in own)}" if own else ""
    )
    statement += (
        ". The limits once printed for Canada were withdrawn and are not used" if case.regions[0] == "CAN" else ""
    )
    yield Reason("metals-untested", f"{statement}.", case.cite(*rows[:1], *own))


def _has(case: Case, table: str, element: str) -> bool:
    return f"compost.limit.{table}.{element}" in case.factors.by_key


def _element(row: Factor) -> str:
    return row.key.rsplit(".", 1)[1]


def industrial_tests(case: Case) -> Iterator[Reason]:
    """Yield the tests that any claim for industrial composting would still need, by the standard of the workshop's place."""
    if limits_table(case) == US:
        share, time = (case.row(f"compost.criterion.astm-biodegradation{end}") for end in ("", "-days"))
        period, standards = (
            f"{WHOLE(time.value)} days",
            "ASTM D6868 (paper with a polymer mixed in as binder) with D6400",
        )
    else:
        share, time = (case.row(f"compost.criterion.biodegradation{end}") for end in ("", "-months"))
        period, standards = f"{WHOLE(time.value)} months", "EN 13432 (packaging) or ISO 17088"
    statement = (
        f"Any claim would still need the tests of {standards}: make-up and metals, {PERCENT(share.value)} biodegradation within "
        f"{period}, disintegration, and plants that grow in the compost."
    )
    yield Reason("untested", statement, case.cite(share, time))


def home_tests(case: Case) -> Iterator[Reason]:
    """Yield why nothing follows for a home heap, and the tests that a claim would need."""
    statement = (
        "A result for industrial composting says nothing about a cooler home heap, and none is at hand for these parts."
    )
    source = case.place("ISO17088", "scope, which leaves household composting out", "secondary copy")
    asks = "a test of the part at the temperature of a home heap"
    yield Reason("home-not-covered", statement, source, effect=UNKNOWN, asks=asks)
    share, time = (case.row(f"compost.criterion.home-biodegradation{end}") for end in ("", "-months"))
    statement = (
        f"Any claim would still need the tests of AS 5810 or NF T 51-800 ({PERCENT(share.value)} biodegradation within "
        f"{WHOLE(time.value)} months at the temperature of a heap, and disintegration); ISO and ASTM have none for home composting."
    )
    yield Reason("untested-home", statement, case.cite(share, time))


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


def _outcome(reasons: Sequence[Reason]) -> str:
    """Return the outcome that weighs most: a blocker, else an open question, else neither."""
    effects = {reason.effect for reason in reasons}
    return next(outcome for outcome in (BLOCKED, UNKNOWN, OPEN) if outcome in effects)
