"""The rules on environmental claims by place: what each asks of one kind of wording."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from impact.factors import FactorSet

WORLD, USA, EU, GBR = "world", "USA", "EU", "GBR"
MEMORY, COPY = "from memory", "secondary copy"
CODE = "CMA Green Claims Code, principle"


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
