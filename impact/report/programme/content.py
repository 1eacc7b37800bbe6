"""The report of several workshops under one roof: what their sum says, each in one row, and each in short.

Figures per part, verdicts and cautions stay those of each workshop by its own settings; only accounts are summed, draw by
draw. Pages have the spelling, the marks and the paper of the first workshop by name, and US units where all have them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from impact.base.figurenames import leaves
from impact.base.language import message, translate
from impact.base.locale import paper_size
from impact.base.printing import Printer
from impact.base.processes import Job
from impact.base.sentences import Counted, Fact, Figure, Said, Whole
from impact.factors.rownames import plain_name
from impact.findings.cautions import DEFER, Caution
from impact.findings.headline import ABOVE, BELOW, against, side
from impact.findings.verdicts import verdict_said
from impact.report.evidence import RESULTS, USED, as_json, under_roof, used_rows
from impact.report.figurekinds import fixed_in
from impact.report.funder.content import SETS, citation
from impact.report.request import Request
from impact.report.ties import Ties
from impact.report.words import Words

if TYPE_CHECKING:
    from impact.account.results import Interval, PartResult
    from impact.programme import ProgrammeResults, SiteResults

SCHEMA = "impact-programme-report/1"

PARTS_SHOWN = 6
"""Parts of one workshop that the pages show, those with the most good ones; the attached results hold all."""

KEPT = message("Of {paper} of paper in {workshops}, {kept} stayed out of landfill")
KEPT_UNTOLD = message(
    "Of {paper} of paper in {workshops}, whether any stayed out of landfill cannot be told: {kept}, net"
)
KEPT_NOTHING = message("Of {paper} of paper in {workshops}, nothing counts as kept from landfill: {kept}, net")
EMITTED = message("together they emitted {net} more than they avoided")
AVOIDED = message("together they avoided {net} more than they emitted{if_displaced}")
IF_DISPLACED = message(", if their parts took plastic's place as they state")
NET_UNTOLD = message("whether together they emitted more than they avoided cannot be told: {net}, net")

USED_SAID = message(
    "{workshops} took in {weighed} of waste paper, of which {used} is in good parts (as weighed; {start} to {end}; {batches}{invented})."
)
KEPT_SAID = message(
    "By an estimate, {kept} of {collected} of waste paper in {workshops} was kept from landfill, net of what rejects, trim and "
    "fines take off (against where this paper would have gone in each place, partly assumed; {start} to {end}; 95 % interval of "
    "{draws} draws{invented})."
)
DEFERRED_SAID = message(
    "Of the {kept} kept from landfill in {workshops}, {deferred} goes there later, with the parts at their end of life (an "
    "estimate; {start} to {end}; 95 % interval of {draws} draws{invented})."
)
INVENTED, SOME_INVENTED = message("; invented records"), message("; some of the records are invented")


def _workshops(results: ProgrammeResults) -> Counted:
    return Counted("{n} workshop", "{n} workshops", len(results.sites))


def headline(results: ProgrammeResults) -> Said:
    """Return what the workshops come to together: paper kept from landfill, and the net, each told from nothing or not."""
    paper, lines = results.total.paper, results.total.emissions
    kept, net = paper.kept_from_landfill_kg, lines.net_kgco2e
    facts: dict[str, Fact] = {
        "paper": Figure(paper.collected_kg.value, "paper"), "workshops": _workshops(results), "kept": Whole(kept, "paper"),
    }  # fmt: skip
    first = {ABOVE: KEPT, BELOW: KEPT_NOTHING}.get(side(kept), KEPT_UNTOLD)
    return Said("{landfill}; {net}.", {"landfill": Said(first, facts), "net": _net_said(results, net)})


def _net_said(results: ProgrammeResults, net: Interval) -> Said:
    found = side(net)
    if found == BELOW:
        decided = side(without_plastic(results)) != BELOW
        facts: dict[str, Fact] = {"net": Whole(against(net), "account")}
        return Said(AVOIDED, {**facts, "if_displaced": Said(IF_DISPLACED) if decided else ""})
    return Said(EMITTED if found == ABOVE else NET_UNTOLD, {"net": Whole(net, "account")})


def without_plastic(results: ProgrammeResults) -> Interval:
    """Return the net of all without the plastic displaced. [kgCO2e]"""
    from impact.account.results import Interval

    return Interval.of(results.total.net_kgco2e + results.total.displaced_kgco2e)


def sayings(results: ProgrammeResults) -> list[Said]:
    """Return the sentences that may be passed on of the sum, each with its qualifier in brackets."""
    paper = results.total.paper
    facts: dict[str, Fact] = {
        "workshops": _workshops(results), "collected": Figure(paper.collected_kg.value, "paper"), "weighed": Figure(paper.weighed_kg.value, "paper"),
        "used": Figure(paper.put_to_use_kg.value, "paper"), "kept": Whole(paper.kept_from_landfill_kg, "paper"),
        "deferred": Whole(paper.deferred_kg, "paper"), "start": str(results.start), "end": str(results.end),
        "batches": Counted("{n} batch", "{n} batches", results.total.batch_count),
        "draws": Figure(results.settings.draws, "count"), "invented": _invented(results),
    }  # fmt: skip
    found = []
    if not any(site.grant for site in results.sites):  # the share of a grant has no paper of its own that was weighed
        found.append(Said(USED_SAID, facts))
    if side(paper.kept_from_landfill_kg) == ABOVE:
        found.append(Said(KEPT_SAID, facts))
        if paper.deferred_kg.value > 0.0:
            found.append(Said(DEFERRED_SAID, facts))
    return found


def _invented(results: ProgrammeResults) -> Fact:
    """Return what a sentence says of invented records: those of all workshops, of some, or nothing."""
    if not results.invented:
        return ""
    return Said(INVENTED if all(site.workshop.invented for site in results.sites) else SOME_INVENTED)


def cautions_of(sites: Sequence[SiteResults]) -> list[tuple[Caution, list[str]]]:
    """Return the cautions of all workshops, each once, with the workshops whose records call for it."""
    found: dict[tuple[str, str], tuple[Caution, list[str]]] = {}
    for site in sites:
        for caution in site.cautions:
            found.setdefault((caution.hazard, str(caution.said)), (caution, []))[1].append(site.account.name)
    return list(found.values())


def _part(part: PartResult) -> dict[str, Any]:
    """Return what the pages print of a part, per good part, as plain values."""
    from impact.base.serial import plain

    return {
        "part": part.part,
        "good": part.good,
        "footprint_kgco2e": plain(part.footprint),
        "plastic_kgco2e": plain(part.plastic.footprint) if part.plastic else None,
        "chance_lower": part.chance_lower,
    }


def _shown(site: SiteResults) -> list[PartResult]:
    return sorted(site.parts, key=lambda part: -part.good)[:PARTS_SHOWN]


@dataclass(frozen=True)
class ProgrammeReport:
    """A report of several workshops before it is laid out; attributes as of `impact.report.context.Paged`."""

    request: Request
    results: ProgrammeResults
    document: Mapping[str, Any]

    @property
    def country(self) -> str:
        """That of the first workshop by name."""
        return self.results.sites[0].workshop.country

    @property
    def template(self) -> str:
        """The one of several workshops."""
        return "programme.html"

    @property
    def pictures(self) -> dict[str, bytes]:
        """None beside those among the records, because the pages show none."""
        return {}

    def derived(self) -> dict[str, bytes]:
        """Return the results, and the rows that each workshop uses."""
        used = {site.account.name: {USED: used_rows(site)} for site in self.results.sites}
        return {RESULTS: as_json(self.document), **under_roof(used)}

    def _printer(self, values: Mapping[str, Any]) -> Printer:
        sites = self.results.sites
        us = all(site.workshop.units == "us" for site in sites)
        names = replace(
            sites[0].names, binders={name: label for site in sites for name, label in site.names.binders.items()}
        )
        first = Printer.of(sites[0].workshop, self.request.language, names, fixed_in(values, us))
        parts = dict.fromkeys(part for site in sites for part in site.workshop.parts)
        return replace(first, us=us, rows=plain_name, parts=tuple(parts))

    def charts(self) -> dict[str, Job]:
        """None: each workshop's own report has its charts."""
        return {}

    def context(self, sums: Mapping[str, str]) -> dict[str, Any]:
        """Return the data of the template, with the checksums of what is attached, by file."""
        results, values = self.results, leaves(self.document)
        printer = self._printer(values)
        tie, language = Ties(values, printer), printer.language
        sources = list(dict.fromkeys(
            choice.factor.source for site in results.sites for choice in site.factors_used.values()
        ))  # fmt: skip
        known = {
            source: site for site in reversed(results.sites) for source in sources if source in site.factors.sources
        }
        return {
            "request": self.request,
            "results": results,
            "document": self.document,
            "invented": all(site.workshop.invented for site in results.sites),
            "some_invented": [site.account.name for site in results.sites if site.workshop.invented],
            "p": printer,
            "f": tie,
            "w": Words(printer),
            "say": tie.say,
            "page_size": paper_size(self.country),
            "sums": sums,
            "headline": headline(results),
            "kept_side": side(results.total.paper.kept_from_landfill_kg),
            "granted": [site for site in results.sites if site.grant],
            "sayings": sayings(results),
            "shown_parts": {site.account.name: _shown(site) for site in results.sites},
            "verdict": verdict_said,
            "weighty": {site.account.name: [one for one in site.assumptions if one.weighty] for site in results.sites},
            "cautions": cautions_of(results.sites),
            "landfill_sets": SETS,
            "defer": translate(language, DEFER),
            "citations": [citation(source, known.get(source, results.sites[0]), language) for source in sources],
        }


def compose_together(results: ProgrammeResults, request: Request) -> ProgrammeReport:
    """Return the report of several workshops: everything calculated, nothing laid out."""
    from impact.base.serial import plain

    workshops = [
        {"site": site.account.name, "parts": [_part(part) for part in site.parts], "evidence": dict(site.evidence)}
        for site in results.sites
    ]
    figures = {"without_plastic_kgco2e": plain(without_plastic(results)), "workshops": workshops}
    return ProgrammeReport(request, results, {**results.as_totals(), "schema": SCHEMA, **figures})
