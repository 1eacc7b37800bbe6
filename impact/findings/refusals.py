"""Wordings that results do not support, each with the rules of the place that it would break."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated

from impact.base.catalogue import tag
from impact.base.language import message
from impact.base.printing import Printer
from impact.base.sentences import Counted, Fact, Figure, Listed, Name, Said, Whole, joined, parts_named
from impact.base.serial import Limits, shows
from impact.factors.claimrules import ClaimRule, read_claim_rules
from impact.findings.compost_rules import BLOCKED
from impact.findings.headline import ABOVE, BELOW, NONE, UNDECIDED, side
from impact.findings.ruletable import rules_told
from impact.findings.verdicts import verdict
from impact.records.grants import overlaps

if TYPE_CHECKING:
    from impact.account.results import Results
    from impact.factors.factorset import FactorSet
    from impact.findings.compost import Finding
    from impact.findings.recycled import RecycledContent

WORLD, USA, EU = "world", "USA", "EU"
COLUMNS = ("code", "when", "wording", "reason")
"""Of the table of wordings: the rows of one code whose `when` holds say together why not."""


LEAST_LOST = 0.0005
"""Share of the dry matter from which what was not found again is told: below, it would be printed as nothing. [-]"""


def thresholds(factors: FactorSet) -> dict[str, Fact]:
    """Return the thresholds that rules name.

    Raises
    ------
    KeyError
        When the tables lack one.
    """

    def value(name: str, place: str) -> float:
        return factors.choose(f"claim.threshold.{name}", (place,)).factor.value

    day = f"{value('eu-2024-825-applies', EU):.0f}"
    return {
        "access": Figure(value("recyclable-access", USA), "stated share"),
        "degradable_years": Figure(value("degradable-years", USA), "stated"),
        "panel": Figure(value("review-panel", WORLD), "count"),
        "eu_day": f"{day[:4]}-{day[4:6]}-{day[6:]}",
    }


def rules_for(kind: str, places: Sequence[str], known: Mapping[str, Fact], usual: Printer) -> tuple[ClaimRule, ...]:
    """Return the rules on a kind of wording that hold in a place: those of the world, then the place's own.

    Parameters
    ----------
    kind : str
        A wording of the table of rules.
    places : sequence of str
        Country and the groups that it belongs to.
    known : mapping of str to Fact
        Thresholds, see `thresholds`.
    usual : Printer
        Who says the rules where no reader is known.
    """
    return tuple(
        replace(rule, said=replace(rule.said, facts=known, usual=usual))
        for rule in read_claim_rules()[kind]
        if rule.place == WORLD or rule.place in places
    )


@shows("code", "wording", "reason", "rules")
@dataclass(frozen=True, slots=True)
class Unsupported:
    """A wording that the results do not support.

    Attributes
    ----------
    code : str
        Stable name, a wording of the table of rules.
    said : Said
        What may not be said.
    why : Said
        Why not, from these results.
    rules : tuple of ClaimRule
        The rules that it would break in the workshop's place.
    """

    code: str
    said: Said
    why: Said
    rules: Annotated[tuple[ClaimRule, ...], Limits(minItems=1)]

    @property
    def wording(self) -> str:
        """What may not be said."""
        return str(self.said)

    @property
    def reason(self) -> str:
        """Why not, from these results."""
        return str(self.why)


def polymer_kind(results: Results, binder: str) -> str:
    """Return the kind of a binder as the catalogue has it: ``natural``, ``modified``, ``synthetic``, ``none``, or blank."""
    return tag(results.names.binder_tags.get(binder, ""), "kind")


def unsupported(
    results: Results,
    places: tuple[str, ...],
    found: Sequence[Finding],
    contents: Sequence[RecycledContent],
    usual: Printer,
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
    usual : Printer
        Who says them where no reader is known.
    """
    known, facts = thresholds(results.factors), _facts(results, found, contents)
    refused = []
    for code, rows in rules_told("refusals.csv", COLUMNS, facts):
        why = joined((Said(row["reason"], facts) for row in rows), "", usual)
        wording = Said(rows[0]["wording"], facts, usual)
        refused.append(Unsupported(code, wording, why, rules_for(code, places, known, usual)))
    return refused


OF_WHOLE_WORK = message(" (by the whole work)")
HIGHER_FOR, UNDECIDED_FOR = message("higher for {parts}"), message("undecided for {parts}")


def _mass(kg: float) -> Figure:
    return Figure(kg, "paper")


def _facts(results: Results, found: Sequence[Finding], contents: Sequence[RecycledContent]) -> dict[str, Fact]:
    """Return what the table of wordings may ask for in its column `when` and name in its texts; blank where it is not so."""
    paper, parts = results.paper, results.workshop.parts
    odd: dict[str, dict[str, None]] = {}
    for one in found:
        if polymer_kind(results, one.binder) not in ("natural", "none"):
            odd.setdefault(one.binder, {})[one.part] = None
    held = [
        Counted(
            "{parts} holds {binder}", "{parts} hold {binder}", len(of), {"parts": parts_named(of), "binder": Name("binder", binder)}
        )
        for binder, of in odd.items()
    ]  # fmt: skip
    partial = [content for content in contents if content.share < 1.0 - 1e-9]
    least = min(partial, key=lambda content: content.share, default=None)
    lost, target, double = paper.unaccounted_share, results.workshop.targets, overlaps(results.workshop.grants)
    compared = [part for part in results.parts if part.plastic is not None]
    by_verdict = {
        words: [part.part for part in compared if verdict(part) == known]
        for known, words in (("higher than plastic", HIGHER_FOR), ("undecided", UNDECIDED_FOR))
    }
    verdicts = [Said(words, {"parts": parts_named(of)}) for words, of in by_verdict.items() if of]
    blocked = sorted({finding.part for finding in found if finding.outcome == BLOCKED})
    partly = [part.part for part in compared if (parts[part.part].displacement or 0.0) < 1.0]
    kept, recycling = side(paper.kept_from_landfill_kg), paper.taken_from_recycling_kg.value
    return {
        "": "always",
        "blocked": parts_named(blocked) if blocked else "",
        "odd": Listed(tuple(held), "; ") if held else "",
        "least": "" if least is None else Name("part", least.part),
        "least_share": "" if least is None else Figure(least.share, "fine share"),
        "unrecorded": "yes" if any(content.unrecorded > 0.0 for content in contents) else "",
        "below": Said(" below zero") if side(results.net) == BELOW else "",
        "returned": _mass(paper.returned_to_landfill_kg.value) if paper.returned_to_landfill_kg.value > 0.0 else "",
        "lost": "" if lost is None or lost < LEAST_LOST else Figure(lost, "fine share"),
        "target": "" if target is None else Figure(target.diverted_kg, "stated mass"),
        "target_of": Said(OF_WHOLE_WORK) if results.shared_grant else "",
        "by": "" if target is None else str(target.by),
        "double": double[0].sentence() if double else "",
        "collected": _mass(paper.collected_kg.value),
        "kept": _mass(paper.kept_from_landfill_kg.value),
        "none_kept": "yes" if kept in (BELOW, NONE) else "",
        "net": Whole(paper.kept_from_landfill_kg, "paper"),
        "untold": "yes" if kept == UNDECIDED else "",
        "recycling": _mass(recycling) if kept == ABOVE and recycling > 0.0 else "",
        "compared": "yes" if compared else "",
        "verdicts": Listed(tuple(verdicts), message(" and ")) if verdicts else "",
        "partly": parts_named(partly) if partly else "",
    }
