"""Cautions for people and rooms, chosen by what the workshop really does."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from impact.account.tally import SANDING
from impact.base.catalogue import Names, tag
from impact.base.printing import GROUPED, PERCENT, STATED, WHOLE
from impact.base.serial import shows
from impact.factors.factorset import FactorSet
from impact.factors.rows import Factor
from impact.records.workshop import Workshop

DEFER = (
    "These are the usual cautions and no risk assessment. Local codes, the makers' manuals and safety data sheets, and people "
    "licensed for electrical and fire work have the last word."
)
PRACTICE = "common practice, no source"


def words_heeded(notes: str) -> str:
    """Return the words of some notes that a caution goes by, for records that leave the rest out."""
    return ", ".join(dict.fromkeys(found.lower() for found in SANDING.findall(notes)))


@shows()
@dataclass(frozen=True, slots=True)
class Caution:
    """One caution with its source."""

    hazard: str
    text: str
    source: str


class _Scene:
    """What the records show, and the figures of the safety table."""

    def __init__(
        self,
        workshop: Workshop,
        binders: Iterable[str],
        factors: FactorSet,
        names: Names,
        regions: Sequence[str],
        sanded: bool,
    ) -> None:
        self.workshop = workshop
        self.factors = factors
        self.regions = tuple(regions)
        used = sorted(binders)
        self.binders = {binder: names.binder_tags.get(binder, "") for binder in used}
        self.labels = names.binders
        self.dryer = workshop.drying.dryer
        self.dryer_tags = names.dryer_tags.get(self.dryer or "", "")
        self.sanded = sanded

    def row(self, key: str) -> Factor:
        """Return the row nearest to the workshop, wherever there is one."""
        return self.factors.choose(f"safety.{key}", (*self.regions, "GBR", "USA")).factor

    def cite(self, *rows: Factor, rest: bool = False) -> str:
        """Return citation, locator and evidence of rows; `rest` adds that the rest is common practice."""
        cited: dict[str, None] = {}
        for row in rows:
            source = self.factors.sources.get(row.source)
            cited[f"{source.citation if source else row.source}, {row.locator} ({row.evidence})"] = None
        return "; ".join([*cited, *([f"the rest {PRACTICE}"] if rest else [])])

    def with_tag(self, key: str, value: str) -> str:
        """Return the labels of the binders used whose flag has the value."""
        return ", ".join(
            self.labels.get(binder, binder) for binder, tags in self.binders.items() if tag(tags, key) == value
        )


def _dust(scene: _Scene) -> Iterator[Caution]:
    of_country = scene.factors.has("safety.paper-dust.total", scene.regions)
    coarse, fine = (
        scene.row("paper-dust.total" if of_country else "paper-dust.inhalable"),
        scene.row("paper-dust.respirable"),
    )
    borrowed = "" if coarse.geography in scene.regions else " (figures of another country; none of your own is at hand)"
    figures = (
        f"Over 8 hours {STATED(coarse.value)} mg/m³ of {'total' if of_country else 'inhalable'} and {STATED(fine.value)} mg/m³ of respirable "
        f"dust are where rules begin, not a safe level{borrowed}."
    )
    todo = "Shred damp, do not sweep dry or use compressed air."
    yield Caution("Dust", f"Shredding dry paper raises dust. {todo} {figures}", scene.cite(coarse, fine, rest=True))
    if scene.sanded:
        yield Caution(
            "Sanding",
            "The notes speak of sanding: wear a fitted dust mask and goggles, sand outdoors or with extraction, wipe up damp.",
            PRACTICE,
        )


def _damp(scene: _Scene) -> Iterator[Caution]:
    time, humidity = scene.row("mould-growth.dry-within"), scene.row("mould-growth.humidity")
    text = (
        f"Dry parts within {STATED(time.low)} to {STATED(time.high)} hours and keep the room below {PERCENT(humidity.value)} relative humidity; "
        "throw away musty parts and old pulp; people with asthma keep away."
    )
    if tag(scene.dryer_tags, "powered") != "yes":
        text += " No powered dryer is recorded: thick parts may stay damp for longer than that."
    sooner = scene.with_tag("mould", "sooner")
    if sooner:
        text += f" Damp parts made with {sooner} go mouldy sooner, for the protein in it."
    yield Caution("Mould growth", text, scene.cite(time, humidity, rest=True))


def _machines(scene: _Scene) -> Iterator[Caution]:
    yield Caution(
        "Blender and press",
        "Unplug before clearing a blade or a jam; keep hair, sleeves and fingers out; guards and stop switch in place; never use "
        "the blender for food again.",
        f"{PRACTICE}; machine guarding rules such as 29 CFR 1910.212 or PUWER apply (from memory)",
    )
    yield Caution(
        "Water and electricity",
        "Use outlets with residual-current protection (RCD, GFCI), dry hands, leads and fans above the level of any spill.",
        f"{PRACTICE}; local electrical code applies",
    )


def _uses(scene: _Scene) -> Iterator[Caution]:
    paper, food = scene.row("food-contact.mineral-oil-newspaper"), scene.row("food-contact.mineral-oil-food")
    yield Caution(
        "Not for food, toys or load",
        "Parts are not for food contact, pet bowls, toys for small children, electrical or load-bearing use: nobody tested them. "
        f"Newspaper was found to hold about {GROUPED(paper.value)} mg/kg of mineral oil; {STATED(food.value)} mg/kg in food was held tolerable.",
        scene.cite(paper, food, rest=True),
    )
    limit = scene.factors.choose("compost.restriction.bisphenol-a", (*scene.regions, "EU")).factor
    yield Caution(
        "Paper that stays out",
        "No receipts and other thermal paper, no coated, laminated, soiled or greasy paper, no carbonless forms. The EU limit for "
        f"bisphenol A in thermal paper is {STATED(limit.value)} mg/kg.",
        scene.cite(limit, rest=True),
    )


def _binders(scene: _Scene) -> Iterator[Caution]:
    if scene.with_tag("cooked", "yes"):
        yield Caution(
            "Hot paste",
            "Starch and rice paste stick and burn: an adult cooks it, and it cools before others touch it. Do not pour paste into "
            "drains in bulk.",
            PRACTICE,
        )
        depth = scene.row("dust-layer.depth")
        yield Caution(
            "Starch and flour powder",
            "Dry starch and flour are combustible dusts: keep them from flames and sparks, never throw them into the air, and wipe "
            f"up layers damp well before they are {STATED(depth.value)} mm deep.",
            scene.cite(depth, rest=True),
        )
    if scene.with_tag("kind", "synthetic"):
        yield Caution(
            "Glue",
            "Read the safety data sheet: preservatives may sensitise skin; wear gloves and wash hands.",
            "supplier's safety data sheet; from memory",
        )
    if scene.with_tag("allergen", "wheat"):
        yield Caution(
            "Allergens",
            "Wheat paste is a hazard for people with a wheat allergy: ask before the session.",
            PRACTICE,
        )


def _drying(scene: _Scene) -> Iterator[Caution]:
    if tag(scene.dryer_tags, "heated") == "yes":
        highest, ignition = scene.row("fire.drying-temperature"), scene.row("fire.paper-ignition")
        yield Caution(
            "Drying heat",
            f"Set the heat to {WHOLE(highest.value)} °C at most, ventilated and never unattended, and not in an oven used for food. Paper "
            f"takes fire near {WHOLE(ignition.value)} °C. Trays and parts burn hands: use gloves.",
            scene.cite(highest, ignition),
        )
    elif tag(scene.dryer_tags, "powered") == "yes":
        yield Caution(
            "Machines that dry for days",
            "A fan or dehumidifier that runs unattended needs a sound lead, free air around its motor and a smoke alarm in the room.",
            PRACTICE,
        )


def _school(scene: _Scene) -> Iterator[Caution]:
    if scene.workshop.audience == "school":
        yield Caution(
            "School",
            "An adult works the blender, the press and all heat, and is present throughout; tasks to suit the age, goggles, washed "
            "hands, a written risk assessment; ask about allergies (wheat and other flours, glue) and asthma before the session.",
            PRACTICE,
        )


RULES: tuple[Callable[[_Scene], Iterator[Caution]], ...] = (_dust, _damp, _machines, _uses, _binders, _drying, _school)


def cautions(
    workshop: Workshop,
    binders: Iterable[str],
    factors: FactorSet,
    names: Names,
    regions: Sequence[str],
    *,
    sanded: bool = False,
) -> list[Caution]:
    """Return the cautions that a workshop's records call for.

    Parameters
    ----------
    workshop : Workshop
        For the dryer and the audience.
    binders : iterable of str
        Binders used.
    factors : FactorSet
        For the figures of the safety table.
    names : Names
        Labels and flags of binders and dryers.
    regions : sequence of str
        Geographies from the nearest to the widest.
    sanded : bool
        Whether the notes speak of sanding.
    """
    scene = _Scene(workshop, binders, factors, names, regions, sanded)
    return [caution for rule in RULES for caution in rule(scene)]
