"""Wordings that results do not support, each with the reason and the rules that it would break."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from impact.claimrules import Rule, rules_for, thresholds
from impact.compostrules import BLOCKED
from impact.grants import overlaps
from impact.report.figures import Printer
from impact.supported import polymer_kind
from impact.totals import verdict

if TYPE_CHECKING:
    from impact.results import Results


@dataclass(frozen=True, slots=True)
class Unsupported:
    """A wording that the results do not support.

    Attributes
    ----------
    code : str
        Stable name, a key of `impact.claimrules.RULES`.
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
    rules: tuple[Rule, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return the wording, its reason and its rules as plain data."""
        rules = [
            {"place": rule.place, "reference": rule.reference, "text": rule.text, "evidence": rule.evidence}
            for rule in self.rules
        ]
        return {"code": self.code, "wording": self.wording, "reason": self.reason, "rules": rules}


def unsupported(results: Results, places: tuple[str, ...]) -> list[Unsupported]:
    """Return the wordings that the results do not support.

    Parameters
    ----------
    results : Results
        An assessment.
    places : tuple of str
        Country and its groups, which choose the rules.
    """
    known = thresholds(results.factors)
    return [
        Unsupported(code, wording, reason, rules_for(code, places, known))
        for code, wording, reason in _wordings(results)
    ]


def _wordings(results: Results) -> Iterator[tuple[str, str, str]]:
    yield from _material(results)
    yield from _whole(results)
    yield from _paper(results)
    yield from _plastic(results)


def _material(results: Results) -> Iterator[tuple[str, str, str]]:
    printer = Printer.of(results.workshop)
    blocked = sorted({finding.part for finding in results.findings if finding.outcome == BLOCKED})
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
        for finding in results.findings
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
    partial = [content for content in results.recycled if content.share < 1.0 - 1e-9]
    if partial:
        least = min(partial, key=lambda content: content.share)
        reason = f"{least.part} is waste paper to {printer.percent(least.share, 1)} of its dry mass"
        yield "all-recycled", "Made of recycled paper, without the share", reason
    if any(content.unrecorded > 0.0 for content in results.recycled):
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
