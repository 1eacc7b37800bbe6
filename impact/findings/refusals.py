"""Wordings that results do not support, each with the rules of the place that it would break."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated

from impact.account.results import verdict
from impact.base.printing import PERCENT, WHOLE, Printer
from impact.base.serial import Limits, shows
from impact.factors.claimrules import ClaimRule, read_claim_rules
from impact.findings.compost_rules import BLOCKED
from impact.records.grants import overlaps

if TYPE_CHECKING:
    from impact.account.results import Results
    from impact.factors.factorset import FactorSet
    from impact.findings.compost import Finding
    from impact.findings.recycled import RecycledContent

WORLD, USA, EU = "world", "USA", "EU"


def thresholds(factors: FactorSet) -> dict[str, str]:
    """Return the thresholds that rules name, as printed.

    Raises
    ------
    KeyError
        When the tables lack one.
    """

    def value(name: str, place: str) -> float:
        return factors.choose(f"claim.threshold.{name}", (place,)).factor.value

    day = WHOLE(value("eu-2024-825-applies", EU))
    return {
        "access": PERCENT(value("recyclable-access", USA)),
        "degradable_years": WHOLE(value("degradable-years", USA)),
        "panel": WHOLE(value("review-panel", WORLD)),
        "eu_day": f"{day[:4]}-{day[4:6]}-{day[6:]}",
    }


def rules_for(kind: str, places: Sequence[str], known: Mapping[str, str]) -> tuple[ClaimRule, ...]:
    """Return the rules on a kind of wording that hold in a place: those of the world, then the place's own.

    Parameters
    ----------
    kind : str
        A wording of the table of rules.
    places : sequence of str
        Country and the groups that it belongs to.
    known : mapping of str to str
        Thresholds as printed, see `thresholds`.
    """
    return tuple(
        replace(rule, text=rule.text.format_map(known))
        for rule in read_claim_rules()[kind]
        if rule.place == WORLD or rule.place in places
    )


@shows()
@dataclass(frozen=True, slots=True)
class Unsupported:
    """A wording that the results do not support.

    Attributes
    ----------
    code : str
        Stable name, a wording of the table of rules.
    wording : str
        What may not be said.
    reason : str
        Why not, from these results.
    rules : tuple of ClaimRule
        The rules that it would break in the workshop's place.
    """

    code: str
    wording: str
    reason: str
    rules: Annotated[tuple[ClaimRule, ...], Limits(minItems=1)]


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
