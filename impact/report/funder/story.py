"""What the first page and the story of the funder report add: counts, the step that helps most, claims as rows, main reasons."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from impact.base.sentences import Said
from impact.findings.claims import OWN_USE
from impact.findings.compost_rules import BLOCKED, UNKNOWN
from impact.findings.verdicts import verdict

if TYPE_CHECKING:
    from impact.account.results import PartResult
    from impact.decisions.levers import Relief
    from impact.decisions.sensitivity import SpreadShare
    from impact.findings.claims import Supported
    from impact.findings.compost import Finding
    from impact.findings.compost_rules import Reason
    from impact.report.funder.decisions import Decision
    from impact.study import Study

MOST = 5
"""Parts that the chart of the first page and the chart of steps show."""

FEW = 2
"""Parts compared at most where the first page has room for the flow diagram too."""

BY_PART = ("recycled-content", "binder-share")
"""Claims that differ only by part, and stand in one table."""

OUTCOMES = {"lower than plastic": "lower", "higher than plastic": "higher", "undecided": "undecided"}
"""Names of what is said of a part, by its verdict."""


def said_of(part: PartResult) -> str:
    """Return ``lower``, ``higher`` or ``undecided`` of a part, or ``not_compared``."""
    return "not_compared" if part.chance_lower is None else OUTCOMES[verdict(part)]


def figures(results: Study) -> dict[str, Any]:
    """Return the figures that the story prints beside the totals: counts of parts."""
    found = [said_of(part) for part in results.parts]
    counts = {name: found.count(name) for name in (*OUTCOMES.values(), "not_compared")}
    compared = len(found) - counts["not_compared"]
    return {"parts": len(found), "compared": compared, "beyond": max(compared - MOST, 0), **counts}


def by_verdict(parts: Iterable[PartResult]) -> list[tuple[str, Said | None, list[str]]]:
    """Return what is said of parts, the reason where they are not compared, and their names."""
    found: dict[tuple[str, str], tuple[Said | None, list[str]]] = {}
    for part in parts:
        said = said_of(part)
        why = part.not_compared if said == "not_compared" else None
        found.setdefault((said, str(why or "")), (why, []))[1].append(part.part)
    ordered = sorted(found.items(), key=lambda pair: [*OUTCOMES.values(), "not_compared"].index(pair[0][0]))
    return [(said, why, names) for (said, _), (why, names) in ordered]


def helps_most(decisions: Sequence[Decision], results: Study) -> tuple[str, Relief, int] | None:
    """Return the part and the step that takes most off all good parts of its kind, and of how many others it takes most.

    None where no step takes off anything.
    """
    good = {part.part: part.good for part in results.parts}
    found = [(decision.part, step) for decision in decisions for step in decision.levers]
    most = max(found, key=lambda pair: pair[1].takes_off.value * good[pair[0]], default=None)
    if most is None:
        return None
    alike = [decision for decision in decisions if decision.levers and decision.levers[0].lever == most[1].lever]
    return *most, sum(decision.part != most[0] for decision in alike)


def moves_most(decisions: Sequence[Decision]) -> tuple[str, SpreadShare] | None:
    """Return the part and the input from which most of the spread of its difference to plastic comes; None where none is."""
    found = [(decision.part, share) for decision in decisions for share in decision.measure if share.share > 0.0]
    return max(found, key=lambda pair: pair[1].share, default=None)


def largest(decisions: Sequence[Decision], results: Study) -> list[Decision]:
    """Return the decisions with steps of at most `MOST` parts, those whose good parts emitted most, in the order given."""
    known = {part.part: part.good * abs(part.footprint.value) for part in results.parts if part.footprint is not None}
    steps = [decision for decision in decisions if decision.levers]
    kept = sorted(steps, key=lambda decision: -known[decision.part])[:MOST]
    return [decision for decision in steps if decision in kept]


def measured_next(decisions: Sequence[Decision]) -> list[tuple[SpreadShare, list[str]]]:
    """Return what to measure next, once for all parts: the input with what would settle it, and the parts whose spread it is in."""
    found: dict[tuple[str, str], tuple[SpreadShare, list[str]]] = {}
    for decision in decisions:
        for share in decision.measure:
            found.setdefault((share.input, str(share.then)), (share, []))[1].append(decision.part)
    return list(found.values())


@dataclass(frozen=True, slots=True)
class ClaimTable:
    """Claims that differ only by part: what all are measured against, and the statement of each part.

    Attributes
    ----------
    against : tuple of Said
        What each of `BY_PART` is measured against.
    period : Said
        Days that they are of.
    known : tuple of Said or None
        How each of `BY_PART` is known where that is the same for every part.
    rows : list of tuple
        Part, then of each of `BY_PART` the number of the claim from 1, its statement and how it is known; or None.
    """

    against: tuple[Said, ...]
    period: Said
    known: tuple[Said | None, ...]
    rows: list[tuple[str, list[tuple[int, Said, Said] | None]]]


def claim_table(results: Study) -> ClaimTable | None:
    """Return the claims on what each part holds as one table; None where there are none."""
    supported = list(enumerate(results.claims.supported, 1))
    of_kind = {code: [claim for _, claim in supported if claim.code == code] for code in BY_PART}
    if not all(of_kind.values()):
        return None
    bases = [{claim.basis for claim in of_kind[code]} for code in BY_PART]
    rows = []
    for part in results.parts:
        cells = [_cell([pair for pair in supported if pair[1].code == code], part.part) for code in BY_PART]
        if any(cells):
            rows.append((part.part, cells))
    first = [of_kind[code][0] for code in BY_PART]
    known = tuple(one.pieces["basis"] if len(basis) == 1 else None for one, basis in zip(first, bases, strict=True))
    return ClaimTable(tuple(one.pieces["against"] for one in first), first[0].pieces["period"], known, rows)


def _cell(claims: Sequence[tuple[int, Supported]], part: str) -> tuple[int, Said, Said] | None:
    for number, claim in claims:
        if claim.part == part:
            return number, claim.pieces["statement"], claim.pieces["basis"]
    return None


def other_claims(results: Study, table: ClaimTable | None) -> list[tuple[int, Supported]]:
    """Return the claims that are passed on and stand in no table, each with its number from 1."""
    tabled = () if table is None else BY_PART
    supported = enumerate(results.claims.supported, 1)
    return [(number, claim) for number, claim in supported if claim.code not in (OWN_USE, *tabled)]


Short = tuple[dict[str, str], list[tuple[str, str]], Said | None]
"""Outcome by route, parts and binders, and the statement of the main reason."""


def main_reasons(results: Study) -> list[Short]:
    """Return the findings on composting, those with the same outcome for the same main reason together."""
    pairs: dict[tuple[str, str], list[Finding]] = {}
    for finding in results.findings:
        pairs.setdefault((finding.part, finding.binder), []).append(finding)
    found: dict[tuple[tuple[tuple[str, str], ...], str], tuple[Said | None, list[tuple[str, str]]]] = {}
    for pair, findings in pairs.items():
        outcomes = tuple((finding.route, finding.outcome) for finding in findings)
        reason = _main([reason for finding in findings for reason in finding.reasons])
        said = reason.said if reason else None
        found.setdefault((outcomes, str(said or "")), (said, []))[1].append(pair)
    return [(dict(outcomes), made, said) for (outcomes, _), (said, made) in found.items()]


def _main(reasons: Sequence[Reason]) -> Reason | None:
    """Return the reason that decides: one that blocks, else one that leaves it unknown, else the last."""
    for effect in (BLOCKED, UNKNOWN):
        for reason in reasons:
            if reason.effect == effect:
                return reason
    return reasons[-1] if reasons else None
