"""What a period comes to in one sentence, landfill and emissions, and whether a figure can be told from nothing at all.

A part is called lower where nine draws of ten agree. A total of the account is told from nothing where the whole of its
interval lies on one side of it, which a reader can check on the page.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from impact.account.results import Interval
from impact.base.language import message
from impact.base.sentences import Fact, Figure, Said, Whole
from impact.findings.net import COUNTED

if TYPE_CHECKING:
    from impact.account.results import Results
    from impact.findings.net import NetAccount

ABOVE, BELOW, UNDECIDED, NONE = "above", "below", "undecided", "none"


def side(figure: Interval) -> str:
    """Return on which side of 0 a figure lies with its interval: `ABOVE`, `BELOW`, `UNDECIDED`, or `NONE` where it is 0."""
    if figure.low > 0.0:
        return ABOVE
    if figure.high < 0.0:
        return BELOW
    return UNDECIDED if figure.low < 0.0 or figure.high > 0.0 else NONE


def against(figure: Interval) -> Interval:
    """Return a figure counted the other way round."""
    return replace(figure, value=-figure.value, low=-figure.high, high=-figure.low, median=-figure.median)


PAPER = message("{mass} of paper")
PAPER_OF_GRANT = message("{mass} of paper counted for the grant")
KEPT = message("Of {paper}, {kept} stayed out of landfill")
KEPT_FOR_NOW = message("Of {paper}, {kept} stayed out of landfill, all of it only for now")
KEPT_NEARLY_FOR_NOW = message("Of {paper}, {kept} stayed out of landfill, nearly all of it only for now: {deferred}")
KEPT_SOME_FOR_NOW = message("Of {paper}, {kept} stayed out of landfill, {deferred} of that only for now")
MORE_WENT = message(
    "Of {paper}, nothing counts as kept from landfill: rejects, trim and fines come to {more} more than would have gone there"
)
KEPT_UNTOLD = message("Of {paper}, whether any stayed out of landfill cannot be told: {kept}, net")
KEPT_NONE = message("Of {paper}, nothing counts as kept from landfill")

EMITTED = message("{who} emitted {net} more than it avoided")
AVOIDED = message("{who} avoided {net} more than it emitted{if_displaced}")
NET_UNTOLD = message("whether {who} emitted more than it avoided cannot be told: {net}, net")
WORKSHOP, WORK_OF_GRANT = message("the workshop"), message("the work counted for the grant")
IF_DISPLACED = message(", if its parts took plastic's place as it states, which nobody followed up")
BY_DISPLACED = message(", by the plastic whose place its parts took")

ALL_OF_IT = 1.0 - 1e-9
"""Share of what was kept from which all of it is deferred. [-]"""
NEARLY_ALL = 0.99
"""The same from which nearly all of it is. A choice of ours. [-]"""


def is_all_deferred(results: Results) -> bool:
    """Return whether all that was kept from landfill goes there in the end, with the parts, at both ends of its interval too."""
    kept, deferred = results.paper.kept_from_landfill_kg, results.paper.deferred_kg
    ends = ((kept.value, deferred.value), (kept.low, deferred.low), (kept.high, deferred.high))
    return all(later >= ALL_OF_IT * now for now, later in ends)


def headline(results: Results, account: NetAccount) -> Said:
    """Return what the period comes to: paper kept from landfill, and the net account, each told from nothing or not.

    Parameters
    ----------
    results : Results
        An assessment.
    account : NetAccount
        Its net in several ways, with and without the plastic displaced.
    """
    return Said("{landfill}; {net}.", {"landfill": _landfill(results), "net": _net(results, account)})


def _landfill(results: Results) -> Said:
    paper = results.paper
    kept, deferred = paper.kept_from_landfill_kg, paper.deferred_kg
    mass = Figure(paper.collected_kg.value, "paper")
    facts: dict[str, Fact] = {
        "paper": Said(PAPER_OF_GRANT if results.shared_grant else PAPER, {"mass": mass}),
        "kept": Whole(kept, "paper"),
        "more": Whole(against(kept), "paper"),
        "deferred": Whole(deferred, "paper"),
    }
    above = KEPT
    if deferred.value > 0.0:
        nearly = KEPT_NEARLY_FOR_NOW if deferred.value >= NEARLY_ALL * kept.value else KEPT_SOME_FOR_NOW
        above = KEPT_FOR_NOW if is_all_deferred(results) else nearly
    return Said({ABOVE: above, BELOW: MORE_WENT, UNDECIDED: KEPT_UNTOLD, NONE: KEPT_NONE}[side(kept)], facts)


def _net(results: Results, account: NetAccount) -> Said:
    net, found = results.net, side(results.net)
    who = Said(WORK_OF_GRANT if results.shared_grant else WORKSHOP)
    if found == BELOW:
        return Said(
            AVOIDED,
            {"who": who, "net": Whole(against(net), "account"), "if_displaced": _by_displacement(results, account)},
        )
    return Said(EMITTED if found == ABOVE else NET_UNTOLD, {"who": who, "net": Whole(net, "account")})


def _by_displacement(results: Results, account: NetAccount) -> Fact:
    """Return that the plastic displaced decides a net below 0, and how it is known; nothing where it does not decide."""
    if side(account.cases[COUNTED].without_plastic_kgco2e) == BELOW:
        return ""
    stated = [part for part in results.workshop.parts.values() if part.displacement]
    return Said(BY_DISPLACED if all(part.displacement_evidence for part in stated) else IF_DISPLACED)
