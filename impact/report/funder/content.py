"""The funder report: everything that a funder's officer, an engineer and an auditor ask for."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

from impact.account.assessment import OTHER
from impact.account.inventory import STAGES
from impact.account.paper import massflow
from impact.base.language import message, spoken_in, translate, translate_all
from impact.base.printing import Printer
from impact.base.processes import Doing, Job, here
from impact.base.sentences import Fact, Said, parts_named
from impact.decisions.levers import TAKERS, TARIFF
from impact.findings.balance import beyond_weighed_kg
from impact.findings.blend import SIZE
from impact.findings.cautions import DEFER
from impact.findings.claims import OWN_USE, fates_known
from impact.findings.headline import headline, is_all_deferred, side
from impact.findings.net import BOUGHT, COUNTED, OTHER_STORED, SOON, STORED, does_more, net_note, net_words
from impact.findings.ruletable import OWN_CITATIONS
from impact.findings.verdicts import verdict_said
from impact.report.drawing import NARROW
from impact.report.funder import asked, charts, compost, document, factors, flow, footprints, story
from impact.report.funder.crossings import VARIABLES, crossings_chart, parts_left, title_of_crossings, variable_words
from impact.report.funder.decisions import (
    DRAWS,
    LEAST_CROSSING,
    Decision,
    KnownSteps,
    crossings_alternative,
    decisions,
    some_cross,
)
from impact.report.funder.levers import levers_alternative, levers_chart, title_of_levers
from impact.report.glossary import glossary
from impact.report.request import Request
from impact.report.ties import Ties
from impact.report.words import Words

if TYPE_CHECKING:
    from markupsafe import Markup

    from impact.account.results import PartResult
    from impact.decisions.breakeven import Crossing
    from impact.programme import SiteResults
    from impact.study import Study

REGISTER_ROWS = 39
"""Batches that the register prints one by one; above that it sums by period, and the attached records hold each."""

SAID = {
    "lower": message("{parts}: the moulded part has the lower footprint in this estimate."),
    "higher": message("{parts}: the moulded part has the higher footprint in this estimate; here plastic would have caused less."),
    "undecided": message("{parts}: cannot be told apart from plastic; fewer than 90 % of the draws agree on either."),
}  # fmt: skip
"""What is said of all parts of a verdict."""

NET_CASES = {
    COUNTED: message("as counted above"),
    BOUGHT: message("moulds charged whole, as bought, in this period"),
    STORED: message("carbon that stays in landfills credited"),
    SOON: message("landfill methane of the first ten years alone"),
    OTHER: message("the other set of landfill parameters"),
    OTHER_STORED: message("the other set of landfill parameters, with carbon that stays in landfills credited"),
}
"""The ways of counting the net, by case, as they stand within a sentence."""

SETS = {
    "measured": message("methane yields measured by grade in the laboratory"),
    "default": message("the guidelines' defaults"),
}
"""The sets of landfill parameters."""


def citation(source: str, results: Study | SiteResults, language: str) -> str:
    """Return where the numbers of a source come from, with its licence and page."""
    known = results.factors.sources.get(source)
    if known is None:
        return translate(language, "%(source)s (the workshop's own source)") % {"source": source}
    cited = translate(language, known.citation) if known.citation in OWN_CITATIONS else known.citation
    terms = (
        known.licence if spoken_in(language) == "en" else translate(language, known.licence)
    )  # names keep their spelling
    licence = translate(language, "Licence: %(licence)s.") % {"licence": terms} if terms else ""
    page = known.page if known.page.startswith("http") else ""
    return " ".join(filter(None, (f"{cited.rstrip('.')}.", licence, page)))


def sentences(parts: Sequence[PartResult], tie: Ties) -> list[Markup | str]:
    """Return what is said of the parts beside their plastic parts, each verdict and each reason once."""
    found = []
    for number, (said, why, names) in enumerate(story.by_verdict(parts), 1):
        facts: dict[str, Fact] = {"parts": parts_named(names)}
        if why is None:
            sentence = Said(SAID[said], facts)
        else:
            sentence = Said("{parts}: not compared, because {why}.", {**facts, "why": why})
        found.append(tie.say(sentence, f"parts.verdicts.{number}"))
    return found


def sells_electricity(part: PartResult) -> bool:
    """Return whether a part, or its plastic part, has a credit for electricity that is sold in the end."""
    credits = (part.electricity_sold, part.plastic.electricity_sold if part.plastic else None)
    return any(credit is not None and (credit.low or credit.value or credit.high) for credit in credits)


def empty_sections(results: Study, decided: Sequence[Decision]) -> list[str]:
    """Return the sections of the annex that would have nothing under their heading."""
    there = {
        "parts-data": any(part.footprint for part in results.parts),
        "decisions": any(one.levers or one.measure or some_cross(one) for one in decided),
        "compost-data": bool(results.findings),
    }
    return [section for section, holds in there.items() if not holds]


class Funder:
    """The content of the funder report.

    Attributes
    ----------
    figures : dict
        Months, details of the parts, break-even points, factor rows, register.
    """

    def __init__(self, results: Study, request: Request, do: Doing = here, *, known: KnownSteps | None = None) -> None:
        self.results = results
        self.brief = request.brief
        self.decisions = decisions(results, do) if known is None else known.decisions(results)
        self.periods = document.periods(results)
        self.flow = massflow(results)
        self.figures: dict[str, Any] = {
            "flow": self.flow,
            "flow_sums": {side: sum(masses.values()) for side, masses in self.flow.items()},
            "periods": self.periods,
            "period_sums": {period: sum(masses.values()) for period, masses in self.periods.items()},
            "details": document.part_details(results),
            "disposal_by_grade": document.disposal_by_grade(results),
            "breakeven": document.breakeven(self.decisions),
            "factors": document.factors_used(results),
            "own_figures": document.own_figures(results),
            "made": document.made(results),
            "asked": asked.figures(results),
            "story": story.figures(results),
        }
        if results.batches <= REGISTER_ROWS:
            self.figures["register"] = document.register(results)
        else:
            self.figures["register_by_month"] = document.register_by_month(results)
        self.figures["register_sums"] = document.register_sums(results)

    def data(self, printer: Printer, tie: Ties) -> dict[str, Any]:
        """Return the data of the template."""
        results, names, language = self.results, self.results.names, printer.language
        word = partial(translate, language)
        words, labels = Words(printer), list(self.periods)
        turning = self._turning()
        by_grade = self._by_grade()
        named = self._named_grades(printer)
        sources = list(dict.fromkeys(row.source for row in factors.printed(results)))
        made = [part for part in results.parts if part.footprint]
        return {
            "stages": STAGES,
            "stage_names": translate_all(language, charts.STAGE_NAMES),
            "verdict": verdict_said,
            "variables": {name: variable_words(name, printer) for name in VARIABLES},
            "sentences": sentences(results.parts, tie),
            **self.first_page(printer, tie),
            **self._beside_charts(printer, tie),
            **self._asked(),
            "net_words": net_words(results.uses_by_grade),
            "net_cases": translate_all(language, NET_CASES),
            "landfill_sets": SETS,
            "other_set": word(SETS[results.disposal.other_set]),
            "does_more": does_more,
            "some_compared": any(part.plastic for part in results.parts),
            "some_made": bool(made),
            "some_sold": any(map(sells_electricity, results.parts)),
            "some_cross": any(some_cross(decision) for decision in self.decisions),
            "empty_sections": empty_sections(results, self.decisions),
            "own_use": next((claim for claim in results.claims.supported if claim.code == OWN_USE), None),
            "claim_table": (claims := story.claim_table(results)),
            "other_claims": story.other_claims(results, claims),
            "main_reasons": story.main_reasons(results),
            "periods": labels,
            "grades": list(by_grade),
            "months_alternative": charts.months_alternative(labels, named, printer),
            "months_title": partial(charts.title_of_months, by_grade, tie, words.grade),
            "flow_alternative": flow.flow_alternative(self.flow, printer),
            "flow_title": partial(flow.title_of_flow, self.flow, tie),
            "stages_alternative": charts.stages_alternative(results.parts, printer),
            "crossings_left": parts_left(turning),
            "stages_left": len(made) > charts.PARTS_SHOWN,
            "stages_title": charts.title_of_stages(results.parts, language),
            "crossings_title": title_of_crossings(turning, printer),
            "crossings_alternative": crossings_alternative(self.decisions, printer),
            "claim_places": [names.place(place, language) for place in results.claims.places],
            "quantity": factors.quantity,
            "factor_rows": factors.by_topic(results, sources, tie),
            "factors_left": factors.others(results, language),
            "least_move": factors.LEAST,
            "least_unseen": factors.LEAST_UNSEEN,
            "glossary": glossary(language),
            "sources": sources,
            "citation_of_practice": results.factors.sources["practice"].citation,
            "citations": [citation(source, results, language) for source in sources],
            **compost.context(results, printer, tie),
            "size": SIZE,
            "cautions": results.cautions,
            "decisions": self.decisions,
            "tariff": word(TARIFF),
            "least_crossing": LEAST_CROSSING,
            "decision_draws": min(results.settings.draws, DRAWS),
            "defer": word(DEFER),
        }

    def _asked(self) -> dict[str, Any]:
        """Return what the section for the funder holds beside its figures."""
        results = self.results
        unit = asked.unit_asked(results)
        return {
            "grant_words": asked.WORDS,
            "definitions": asked.AMOUNTS,
            "asked_unit": asked.UNITS[unit] if unit != asked.own_unit(results) else "",
            "own_unit": asked.UNITS[asked.own_unit(results)],
            "goals": asked.goals(results),
            "fates_known": Said("{known}", {"known": fates_known(results)}),
        }

    def charts(self, printer: Printer) -> dict[str, Job]:
        """Return what draws each chart of the pages; a brief has those of its one page."""
        parts, most = self.results.parts, story.MOST
        tall = flow.LOW if self._flow_first() and self.figures["story"]["compared"] else flow.TALL
        drawn: dict[str, Job] = {
            "flow_chart": partial(flow.flow_chart, self.flow, printer, tall=tall),
            "footprints_chart": partial(footprints.footprints_chart, parts, printer, most=most),
        }
        if self.brief:
            return drawn
        labels, named = list(self.periods), self._named_grades(printer)
        return {
            **drawn,
            "levers_chart": partial(levers_chart, story.largest(self.decisions, self.results), printer),
            "months_chart": partial(charts.months_chart, labels, named, printer),
            "stages_chart": partial(charts.stages_chart, parts, printer),
            "crossings_chart": partial(crossings_chart, self._turning(), printer),
        }

    def _turning(self) -> list[tuple[str, Sequence[Crossing]]]:
        """Return the parts with the points where they and their plastic break even."""
        return [(decision.part, decision.found.crossings) for decision in self.decisions]

    def _flow_first(self) -> bool:
        """Return whether the first page has room for the flow of the paper, and there is one."""
        own, compared, results = self.results.workshop.presentation, self.figures["story"]["compared"], self.results
        takes_its_room = own.words or own.photo or results.grant or results.beside or (compared and results.warnings)
        return bool(compared <= story.FEW and not takes_its_room and flow.total_kg(self.flow) > 0.0)

    def first_page(self, printer: Printer, tie: Ties) -> dict[str, Any]:
        """Return what the first page says; its charts are apart."""
        results = self.results
        helps = story.helps_most(self.decisions, results)
        return {
            "parts_title": partial(footprints.title_of_footprints, results.parts, tie),
            "headline": headline(results, results.net_account),
            "net_note": net_note(results.uses_by_grade),
            "weighty": [assumption for assumption in results.assumptions if assumption.weighty],
            "beyond_weighed": beyond_weighed_kg(results),
            "all_deferred": is_all_deferred(results),
            "kept_side": side(results.paper.kept_from_landfill_kg),
            "helps": helps,
            "needs_takers": helps is not None and helps[1].lever in TAKERS,
            "moves": story.moves_most(self.decisions),
            "without_batch": len(results.workshop.parts) - len(results.parts),
        }

    def _beside_charts(self, printer: Printer, tie: Ties) -> dict[str, Any]:
        """Return what stands beside the charts of the first page, and of steps."""
        results, parts, most = self.results, self.results.parts, story.MOST
        largest = story.largest(self.decisions, results)
        return {
            "flow_first": self._flow_first(),
            "levers_chart": None,  # but for the chart, which a brief does not have
            "footprints_narrow": partial(footprints.footprints_chart, parts, printer, most=most, width=NARROW),
            "footprints_alternative": footprints.footprints_alternative(parts, printer, most=most),
            "levers_title": partial(title_of_levers, largest, tie),
            "levers_left": sum(bool(decision.levers) for decision in self.decisions) - len(largest),
            "levers_alternative": levers_alternative(largest, printer),
            "measured_next": story.measured_next(self.decisions),
        }

    def _named_grades(self, printer: Printer) -> dict[str, list[float]]:
        """Return what `_by_grade` does, by the grades' names."""
        words = Words(printer)
        return {words.grade(one): masses for one, masses in self._by_grade().items()}

    def _by_grade(self) -> dict[str, list[float]]:
        """Return the paper of each month by grade, the largest grade first. [kg]"""
        names = {grade for masses in self.periods.values() for grade in masses}
        table = {grade: [masses.get(grade, 0.0) for masses in self.periods.values()] for grade in sorted(names)}
        return dict(sorted(table.items(), key=lambda pair: -sum(pair[1])))
