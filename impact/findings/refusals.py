"""Wordings that results do not support, each with the rules of the place that it would break."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated

from impact.account.results import verdict
from impact.base.catalogue import tag
from impact.base.printing import PERCENT, WHOLE, Printer
from impact.base.serial import Limits, shows
from impact.factors.claimrules import ClaimRule, read_claim_rules
from impact.findings.compost_rules import BLOCKED
from impact.findings.ruletable import rules_told
from impact.records.grants import overlaps

if TYPE_CHECKING:
    from impact.account.results import Results
    from impact.factors.factorset import FactorSet
    from impact.findings.compost import Finding
    from impact.findings.recycled import RecycledContent

WORLD, USA, EU = "world", "USA", "EU"
COLUMNS = ("code", "when", "wording", "reason")
"""Of the table of wordings: the rows of one code whose `when` holds say together why not."""


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
    return tag(results.names.binder_tags.get(binder, ""), "kind")


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
    known, facts = thresholds(results.factors), _facts(results, found, contents)
    refused = []
    for code, rows in rules_told("refusals.csv", COLUMNS, facts):
        reason = "".join(row["reason"] for row in rows).format_map(facts)
        refused.append(Unsupported(code, rows[0]["wording"].format_map(facts), reason, rules_for(code, places, known)))
    return refused


LEAST_LOST = 0.0005
"""Share of the dry matter from which what was not found again is told: below, it would be printed as nothing. [-]"""


def _facts(results: Results, found: Sequence[Finding], contents: Sequence[RecycledContent]) -> dict[str, str]:
    """Return what the table of wordings may ask for in its column `when` and name in its texts; blank where it is not so."""
    printer, names, paper = Printer.of(results.workshop), results.names.binders, results.paper
    mass = printer.mass_with_unit
    odd: dict[str, dict[str, None]] = {}
    for one in found:
        if polymer_kind(results, one.binder) not in ("natural", "none"):
            odd.setdefault(one.binder, {})[one.part] = None
    partial = [content for content in contents if content.share < 1.0 - 1e-9]
    least = min(partial, key=lambda content: content.share, default=None)
    lost, target, double = paper.unaccounted_share, results.workshop.targets, overlaps(results.workshop.grants)
    compared = [part for part in results.parts if part.plastic is not None]
    verdicts = {
        word: [part.part for part in compared if verdict(part) == f"{word}{than}"]
        for word, than in (("higher", " than plastic"), ("undecided", ""))
    }
    parts = results.workshop.parts
    kept = paper.kept_from_landfill_kg.value > 0.0
    return {
        "": "always",
        "blocked": ", ".join(sorted({finding.part for finding in found if finding.outcome == BLOCKED})),
        "odd": "; ".join(
            f"{', '.join(which)} {'hold' if len(which) > 1 else 'holds'} {names.get(binder, binder)}"
            for binder, which in odd.items()
        ),
        "least": "" if least is None else least.part,
        "least_share": "" if least is None else printer.percent(least.share, 1),
        "unrecorded": "yes" if any(content.unrecorded > 0.0 for content in contents) else "",
        "below": " below zero" if results.net.high < 0.0 else "",
        "returned": mass(paper.returned_to_landfill_kg.value) if paper.returned_to_landfill_kg.value > 0.0 else "",
        "lost": "" if lost is None or lost < LEAST_LOST else printer.percent(lost, 1),
        "target": "" if target is None else mass(target.diverted_kg),
        "by": "" if target is None else str(target.by),
        "double": double[0].sentence() if double else "",
        "collected": mass(paper.collected_kg.value),
        "kept": mass(paper.kept_from_landfill_kg.value),
        "none_kept": "" if kept else "yes",
        "recycling": mass(paper.taken_from_recycling_kg.value)
        if kept and paper.taken_from_recycling_kg.value > 0.0
        else "",
        "compared": "yes" if compared else "",
        "verdicts": " and ".join(f"{word} for {', '.join(which)}" for word, which in verdicts.items() if which),
        "partly": ", ".join(part.part for part in compared if (parts[part.part].displacement or 0.0) < 1.0),
    }
