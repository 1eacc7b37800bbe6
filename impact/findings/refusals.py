"""The rules on environmental claims by place: what each asks of one kind of wording."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

from impact.account.results import verdict
from impact.base.printing import Printer
from impact.base.serial import Limits, shows
from impact.findings.compost_rules import BLOCKED
from impact.records.grants import overlaps

if TYPE_CHECKING:
    from impact.account.results import Results
    from impact.factors.factorset import FactorSet
    from impact.findings.compost import Finding
    from impact.findings.recycled import RecycledContent

WORLD, USA, EU, GBR = "world", "USA", "EU", "GBR"
MEMORY, COPY = "from memory", "secondary copy"
CODE = "CMA Green Claims Code, principle"


@shows()
@dataclass(frozen=True, slots=True)
class Rule:
    """One rule that a wording would break.

    Attributes
    ----------
    place : str
        ``world``, a country or a group of countries where it holds.
    reference : str
        Publication and clause.
    text : str
        What it asks, in our words; ``{name}`` stands for a threshold of the factor tables.
    evidence : str
        How we know it.
    """

    place: str
    reference: str
    text: str
    evidence: str


def _iso(clause: str, text: str, evidence: str = MEMORY) -> Rule:
    return Rule(WORLD, f"ISO 14021:2016, clause {clause}", text, evidence)


def _us(section: str, text: str, evidence: str = COPY) -> Rule:
    return Rule(USA, f"16 CFR {section}", text, evidence)


def _eu(point: str, text: str, evidence: str = COPY) -> Rule:
    return Rule(EU, f"Directive 2005/29/EC as amended by Directive (EU) 2024/825, {point}", text, evidence)


def _uk(principle: str, text: str) -> Rule:
    return Rule(GBR, f"{CODE} “{principle}”", text, COPY)


_GENERIC = _eu(
    "Annex I point 4a", "no generic claim without recognised excellent performance; national rules apply from {eu_day}"
)

RULES: Mapping[str, tuple[Rule, ...]] = {
    "composts": (
        _iso("7.2", "compost must not be harmed, and the kind of facility is stated"),
        _us("260.7", "evidence that all of the item becomes usable compost in a safe and timely way"),
        _GENERIC,
        _uk("claims must be substantiated", "up-to-date evidence before the claim, and the facility that is needed"),
    ),
    "degrades": (
        _iso("7.3", "the test, its conditions, the rate and the extent are stated"),
        _us(
            "260.8",
            "all of it returns to nature within {degradable_years} year of customary disposal, never in a landfill",
        ),
        _GENERIC,
        _uk("claims must be clear and unambiguous", "the conditions and the time are part of the claim"),
    ),
    "plastic-free": (
        _iso("5.5", "“free of” only when no more is there than a trace"),
        _us("260.9", "no “free of” while more than a trace is there", MEMORY),
        _eu("Annex I point 4b", "nothing of the whole product that holds for a part of it"),
        _uk("claims must be truthful and accurate", "true of all that the reader takes it to cover"),
    ),
    "general": (
        _iso("5.3 and 5.4", "nothing vague, and nothing that claims sustainability"),
        _us("260.4", "no unqualified general benefit"),
        _GENERIC,
        _uk("claims must be clear and unambiguous", "a general word is read as praise of the whole life cycle"),
    ),
    "neutral": (
        _iso("5.7", "accurate, verifiable and not misleading"),
        _us("260.5", "offsets need sound accounting and may be counted once only"),
        _eu("Annex I point 4c", "no neutral, reduced or positive climate effect by offsetting"),
        _uk("claims must consider the full life cycle", "all emissions counted, and what is offset told apart"),
    ),
    "zero-waste": (
        _iso("7.13", "waste reduction is stated as an amount over a period"),
        _us("260.17", "source reduction is stated with its amount and its comparison"),
        _eu("Annex I point 4b", "nothing of the whole activity that holds for a part of it"),
        _uk("claims must be truthful and accurate", "true of all waste, or the part is named"),
    ),
    "landfill": (
        _iso("5.7", "accurate, and substantiated by what would have happened"),
        _us("260.3", "the benefit is not overstated", MEMORY),
        _eu("Article 6(1)", "no false statement on environmental characteristics", MEMORY),
        _uk("claims must be truthful and accurate", "no credit for what would have happened anyway"),
    ),
    "better": (
        Rule(
            WORLD,
            "ISO 14044:2006, clauses 5.3 and 6.3",
            "a panel of {panel} at least reviews a public comparison, over a broad set of impacts",
            MEMORY,
        ),
        _us("260.3", "the comparator is named and the comparison is backed", MEMORY),
        _eu("Article 6(1)", "a comparison is true in all that it covers", MEMORY),
        _uk("comparisons must be fair and meaningful", "like is compared with like, on all that matters"),
    ),
    "recyclable": (
        _iso("7.7", "collection and sorting are at hand where it is sold"),
        _us("260.12", "a programme takes it, open to {access} of consumers for an unqualified claim"),
        _eu("Article 6(1)", "recyclability is named among the characteristics that may mislead", MEMORY),
        _uk("claims must not omit important information", "where it is taken, and in what state"),
    ),
    "all-recycled": (
        _iso("7.8", "X = A / P × 100 by mass, own scrap not counted"),
        _us("260.13", "partial content is qualified by its share of the finished item"),
        _eu("Annex I point 4b", "nothing of the whole product that holds for a part of it"),
        _uk("claims must be truthful and accurate", "the share is stated"),
    ),
    "post-consumer": (
        _iso("7.8", "pre-consumer and post-consumer material are told apart"),
        _us("260.13", "material kept out of the waste stream in making is shown to have been bound for it"),
        _uk("claims must be substantiated", "a record of where the paper had been"),
    ),
    "all-displaced": (
        _iso("7.13", "waste reduction is stated as an amount over a period"),
        _us("260.17", "source reduction is stated with its amount and its comparison"),
        _eu("Annex I point 4b", "nothing of all that holds for a part"),
        _uk("claims must be substantiated", "a record of what was really replaced"),
    ),
    "future": (
        _iso("5.7", "true now, and reviewed when things change"),
        _us("260.2", "a reasonable basis before the claim is made", MEMORY),
        _eu("Article 6(2)(d)", "a public plan with measurable steps, checked from outside"),
        _uk("claims must be substantiated", "a plan that can be checked"),
    ),
    "twice": (
        _iso("5.7", "accurate, and not misleading by repeating one benefit as several"),
        _us("260.5", "the same reduction is not sold twice; written for offsets"),
        _eu("Article 6(1)", "no overall presentation that deceives", MEMORY),
        _uk("claims must not omit important information", "who else counts the same paper"),
    ),
    "logo": (
        _iso("5.7", "no hint of a certification that was not given"),
        _us("260.6", "who awards a seal and on what basis is told", MEMORY),
        _eu("Annex I point 2a", "no sustainability label without a certification scheme or a public authority"),
        _uk("claims must be clear and unambiguous", "pictures and colours count as claims"),
    ),
}
"""Rules by the kind of wording that they speak of."""


def thresholds(factors: FactorSet) -> dict[str, str]:
    """Return the thresholds that rules name, as printed.

    Raises
    ------
    KeyError
        When the tables lack one.
    """

    def value(name: str, place: str) -> float:
        return factors.choose(f"claim.threshold.{name}", (place,)).factor.value

    day = f"{value('eu-2024-825-applies', EU):.0f}"
    return {
        "access": f"{value('recyclable-access', USA):.0%}",
        "degradable_years": f"{value('degradable-years', USA):.0f}",
        "panel": f"{value('review-panel', WORLD):.0f}",
        "eu_day": f"{day[:4]}-{day[4:6]}-{day[6:]}",
    }


def rules_for(kind: str, places: Sequence[str], known: Mapping[str, str]) -> tuple[Rule, ...]:
    """Return the rules on a kind of wording that hold in a place: those of the world, then the place's own.

    Parameters
    ----------
    kind : str
        A key of `RULES`.
    places : sequence of str
        Country and the groups that it belongs to.
    known : mapping of str to str
        Thresholds as printed, see `thresholds`.
    """
    return tuple(
        Rule(rule.place, rule.reference, rule.text.format_map(known), rule.evidence)
        for rule in RULES[kind]
        if rule.place == WORLD or rule.place in places
    )


@shows()
@dataclass(frozen=True, slots=True)
class Unsupported:
    """A wording that the results do not support.

    Attributes
    ----------
    code : str
        Stable name, a key of `impact.findings.refusals.RULES`.
    wording : str
        What may not be said.
    reason : str
        Why not, from these results.
    rules : tuple of Rule
        The rules that it would break in the workshop's place.
    """

    code: str
    wording: str
    reason: str
    rules: Annotated[tuple[Rule, ...], Limits(minItems=1)]


def polymer_kind(results: Results, binder: str) -> str:
    """Return the kind of a binder as the catalogue has it: ``natural``, ``modified``, ``synthetic``, ``none``, or blank."""
    pairs = (tag.strip().partition("=") for tag in results.names.binder_tags.get(binder, "").split(";"))
    return {name.strip(): value.strip() for name, _, value in pairs}.get("kind", "")


def unsupported(
    results: Results,
    places: tuple[str, ...],
    found: Sequence[Finding],
    contents: Sequence[RecycledContent],
) -> list[Unsupported]:
    """Return the wordings that the results do not support.

    Parameters
    ----------
    results : Results
        An assessment.
    places : tuple of str
        Country and its groups, which choose the rules.
    found : sequence of Finding
        Findings on composting.
    contents : sequence of RecycledContent
        Recycled content of the parts.
    """
    known = thresholds(results.factors)
    return [
        Unsupported(code, wording, reason, rules_for(code, places, known))
        for code, wording, reason in _wordings(results, found, contents)
    ]


def _wordings(
    results: Results, found: Sequence[Finding], contents: Sequence[RecycledContent]
) -> Iterator[tuple[str, str, str]]:
    yield from _material(results, found, contents)
    yield from _whole(results)
    yield from _paper(results)
    yield from _plastic(results)


def _material(
    results: Results, found: Sequence[Finding], contents: Sequence[RecycledContent]
) -> Iterator[tuple[str, str, str]]:
    printer = Printer.of(results.workshop)
    blocked = sorted({finding.part for finding in found if finding.outcome == BLOCKED})
    why = "no part was tested at its own thickness, and the place's facilities were not asked"
    yield (
        "composts", "Compostable, in a plant or at home",
        why + (f"; the notes on composting name a blocker for {', '.join(blocked)}" if blocked else ""),
    )  # fmt: skip
    yield (
        "degrades",
        "Biodegradable",
        "no part was tested, and parts that end in a landfill do not return to nature there",
    )
    odd = {
        finding.binder: finding.part
        for finding in found
        if polymer_kind(results, finding.binder) not in ("natural", "none")
    }
    if odd:
        labels = ", ".join(f"{part} holds {results.names.binders.get(name, name)}" for name, part in odd.items())
        yield "plastic-free", "Plastic-free, all natural", f"{labels}, which no reader takes for paper"
    yield (
        "recyclable", "Recyclable",
        "no collection is known to take moulded parts with their binder"
        + ("; glue can leave sticky bits in a mill's pulp" if odd else ""),
    )  # fmt: skip
    partial = [content for content in contents if content.share < 1.0 - 1e-9]
    if partial:
        least = min(partial, key=lambda content: content.share)
        reason = f"{least.part} is waste paper to {printer.percent(least.share, 1)} of its dry mass"
        yield "all-recycled", "Made of recycled paper, without the share", reason
    if any(content.unrecorded > 0.0 for content in contents):
        reason = "where the paper had been is not recorded for every grade; state it under [origin]"
        yield "post-consumer", "Post-consumer paper, for all of it", reason


def _whole(results: Results) -> Iterator[tuple[str, str, str]]:
    printer = Printer.of(results.workshop)
    yield "general", "Eco-friendly, green, sustainable, good for the planet", "one impact was estimated, and only that"
    below = results.net.high < 0.0
    yield (
        "neutral", "Carbon neutral, climate positive, an offset",
        ("the net account below zero" if below else "the net account")
        + " is an estimate against assumed fates, unreviewed; it can be neither sold nor set against other emissions",
    )  # fmt: skip
    back, lost = results.paper.returned_to_landfill_kg, results.paper.unaccounted_share
    reason = f"{printer.mass_with_unit(back)} of rejects and trim went to landfill"
    if lost is not None:
        reason += f", and {printer.percent(max(lost, 0.0))} of the dry matter was not found again"
    yield "zero-waste", "Zero waste", reason
    yield (
        "logo",
        "A leaf, a seal or a badge",
        "nobody awarded one, and a picture of our own would look like a certificate",
    )
    if results.workshop.targets is not None:
        target = results.workshop.targets
        yield (
            "future", f"We will keep {printer.mass_with_unit(target.diverted_kg)} from landfill by {target.by}",
            "a target is no plan that others can check",
        )  # fmt: skip
    double = overlaps(results.workshop.grants)
    if double:
        yield "twice", "The full amount, to each funder", double[0].sentence()


def _paper(results: Results) -> Iterator[tuple[str, str, str]]:
    printer = Printer.of(results.workshop)
    paper = results.paper
    mass = printer.mass_with_unit
    wording = f"{mass(paper.collected_kg)} saved from landfill"
    if paper.kept_from_landfill_kg <= 0.0:
        reason = (
            f"the net figure is {mass(paper.kept_from_landfill_kg)}: as much or more went there as was kept from it"
        )
        yield "landfill", wording, reason
    elif paper.taken_from_recycling_kg > 0.0:
        reason = (
            f"{mass(paper.taken_from_recycling_kg)} would have been recycled; the supported figure is "
            f"{mass(paper.kept_from_landfill_kg)}, net"
        )
        yield "landfill", wording, reason


def _plastic(results: Results) -> Iterator[tuple[str, str, str]]:
    compared = [part for part in results.parts if part.plastic is not None]
    if not compared:
        return
    words = {
        "higher than plastic": "higher for",
        "undecided": "undecided for",
    }
    found = [
        f"{text} {', '.join(part.part for part in compared if verdict(part) == word)}"
        for word, text in words.items()
        if any(verdict(part) == word for part in compared)
    ]
    yield (
        "better", "Better than plastic",
        "carbon alone was estimated, for our own use, and nobody reviewed it"
        + (f"; the estimate is {' and '.join(found)}" if found else ""),
    )  # fmt: skip
    partly = [part.part for part in compared if (results.workshop.parts[part.part].displacement or 0.0) < 1.0]
    if partly:
        reason = f"a share below 1, or none, is recorded for {', '.join(partly)}"
        yield "all-displaced", "Every part replaces a plastic part", reason
