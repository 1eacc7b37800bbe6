"""The funder report: everything that a funder's officer, an engineer and an auditor ask for."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from impact.account.inventory import STAGES
from impact.account.paper import massflow
from impact.account.results import verdict
from impact.base.language import message, translate, translate_all
from impact.base.printing import Printer, places
from impact.base.quantities import POUNDS_PER_KG
from impact.decisions.levers import TARIFF
from impact.findings.blend import SIZE
from impact.findings.cautions import DEFER
from impact.findings.claims import OWN_USE
from impact.findings.net import BOUGHT, COUNTED, OTHER, OTHER_STORED, SOON, STORED, does_more, net_words
from impact.report.funder import charts, compost, document, flow
from impact.report.funder.crossings import VARIABLES, variable_words
from impact.report.funder.decisions import DRAWS, decisions
from impact.report.request import Request
from impact.report.ties import Ties

if TYPE_CHECKING:
    from markupsafe import Markup

    from impact.account.results import PartResult
    from impact.factors.rows import Factor
    from impact.study import Study

REGISTER_ROWS = 200
"""Batches that the register prints one by one; above that it sums by month, and the attached records hold each."""

VERDICTS = {
    "lower than plastic": (
        message("lower than plastic"),
        message("In %(chance)s of the draws the moulded part is the lower; it has the lower footprint in this estimate."),
    ),
    "higher than plastic": (
        message("higher than plastic"),
        message("In %(chance)s of the draws the moulded part is the lower; it has the higher footprint in this estimate: here plastic would have caused less."),
    ),
    "undecided": (
        message("undecided"),
        message("In %(chance)s of the draws the moulded part is the lower; it cannot be told apart from plastic: fewer than 90 %% of them agree."),
    ),
}  # fmt: skip
"""What `impact.account.results.verdict` says of a part that is compared: in two words, and as a sentence."""

MADE = message("%(part)s: %(made)s g CO₂e for %(mass)s. No comparison is made: %(why)s.")
COMPARED = message("%(part)s: %(made)s g CO₂e for %(mass)s, against %(plastic)s g for %(plastic_mass)s of %(polymer)s over the same service.")  # fmt: skip

NET_CASES = {
    COUNTED: message("As counted above"),
    BOUGHT: message("Moulds charged whole, as bought, in this period"),
    STORED: message("Carbon that stays in landfills credited"),
    SOON: message("Landfill methane of the first ten years alone"),
    OTHER: message("The other set of landfill parameters"),
    OTHER_STORED: message("The other set, and carbon that stays credited"),
}
"""The ways of counting the net, by case."""

SETS = {
    "measured": message("methane yields measured by grade in the laboratory"),
    "default": message("the guidelines' defaults"),
}
"""The sets of landfill parameters."""

COLLECTED = message("Paper collected by period and grade, %(start)s to %(end)s; most of it was %(grade)s.")


def unit_of(factor: Factor) -> str:
    """Return the unit of a factor as it stands behind its value; a share has none."""
    return "" if factor.unit == "1" else f"\u00a0{factor.unit.replace('CO2e', ' CO₂e')}"


def citation(source: str, results: Study, language: str) -> str:
    """Return where the numbers of a source come from, with its licence and page."""
    known = results.factors.sources.get(source)
    if known is None:
        return translate(language, "%(source)s (the workshop's own source)") % {"source": source}
    licence = translate(language, "Licence: %(licence)s.") % {"licence": known.licence} if known.licence else ""
    page = known.page if known.page.startswith("http") else ""
    return " ".join(filter(None, (f"{known.citation.rstrip('.')}.", licence, page)))


def verdict_words(part: PartResult, language: str) -> str:
    """Return in a language how a part stands beside its plastic part."""
    if part.chance_lower is None:
        return translate(language, "not compared: %(why)s") % {"why": part.no_comparison}
    return translate(language, VERDICTS[verdict(part)][0])


def sentence(part: PartResult, tie: Ties) -> Markup:
    """Return the comparison of one part in words, with both masses, both lives and the chance."""
    from markupsafe import Markup

    name, language = f"parts.{part.part}", tie.printer.language
    if part.footprint is None:
        return Markup("{}: {}.").format(part.part, part.no_comparison)
    made: dict[str, Markup | str] = {
        "part": part.part,
        "made": tie.whole(f"{name}.footprint_kgco2e", "grams"),
        "mass": tie(f"{name}.mass_kg", "small_mass"),
    }
    if part.plastic is None or part.chance_lower is None:
        return Markup(translate(language, MADE)) % {**made, "why": part.no_comparison}
    against = {
        "plastic": tie.whole(f"{name}.plastic.footprint_kgco2e", "grams"),
        "plastic_mass": tie(f"{name}.plastic.mass_per_service_kg", "small_mass"),
        "polymer": part.plastic.polymer,
        "chance": tie(f"{name}.chance_lower", "chance"),
    }
    said = (translate(language, text) for text in (COMPARED, VERDICTS[verdict(part)][1]))
    return Markup(" ".join(said)) % {**made, **against}


def alternative(parts: tuple[PartResult, ...], printer: Printer) -> str:
    """Return what the stages chart shows, in words."""
    words = [
        f"{part.part} {printer.grams(part.footprint.value)} g, {verdict_words(part, printer.language)}"
        for part in parts
        if part.footprint is not None
    ]
    above = any(part.plastic for part in parts)
    said = ABOVE_PLASTIC if above else ALONE
    return translate(printer.language, said) % {"parts": "; ".join(words)}


ABOVE_PLASTIC = message("Footprint of each moulded part by life-cycle stage above that of its plastic part: %(parts)s.")
ALONE = message("Footprint of each moulded part by life-cycle stage: %(parts)s.")


def decimals(results: Study) -> dict[str, int]:
    """Return the decimals of kilograms of paper, of accounts, of those by grade and of grams per part, each the same in every table."""
    footprints = [1000.0 * abs(part.footprint.value) for part in results.parts if part.footprint is not None]
    accounts = (results.made.value, results.disposal.avoided.value)
    by_grade = (*results.disposal.avoided_by_grade.values(), *results.disposal.lost_by_grade.values())
    return {
        "kd": places(results.paper.collected_kg.value, 3),
        "ad": places(max(abs(value) for value in accounts), 3),
        "dd": min(places(min((abs(value) for value in by_grade if value != 0.0), default=0.0), 2), 2),
        "gd": places(min(footprints, default=0.0), 3),
    }


class Funder:
    """The content of the funder report.

    Attributes
    ----------
    figures : dict
        Months, details of the parts, break-even points, factor rows, register.
    """

    def __init__(self, results: Study, request: Request) -> None:
        self.results, self.language = results, request.language
        self.decisions = decisions(results, Printer.of(results.workshop, request.language))
        self.periods = document.periods(results)
        self.flow = massflow(results)
        self.figures: dict[str, Any] = {
            "flow": self.flow,
            "periods": self.periods,
            "details": document.part_details(results),
            "disposal_by_grade": document.disposal_by_grade(results),
            "breakeven": document.breakeven(self.decisions),
            "factors": document.factors_used(results),
            "own_figures": document.own_figures(results),
            "made": document.made(results),
        }
        if results.batches <= REGISTER_ROWS:
            self.figures["register"] = document.register(results)
        else:
            self.figures["register_by_month"] = document.register_by_month(results)

    def data(self, printer: Printer, tie: Ties) -> dict[str, Any]:
        """Return the data of the template."""
        results = self.results
        labels = list(self.periods)
        by_grade = self._by_grade(printer)
        sources = list(dict.fromkeys(choice.factor.source for choice in results.factors_used.values()))
        largest = next(iter(by_grade), "")
        places = decimals(results)
        return {
            "stages": STAGES,
            "some_compared": any(part.plastic for part in results.parts),
            "some_made": any(part.footprint for part in results.parts),
            "stage_names": translate_all(self.language, charts.STAGE_NAMES),
            "verdict": partial(verdict_words, language=self.language),
            "variables": {name: variable_words(name, self.language) for name in VARIABLES},
            "sentences": [sentence(part, tie) for part in results.parts],
            "net_words": net_words(results.uses_by_grade, self.language),
            "net_cases": translate_all(self.language, NET_CASES),
            "other_set": self._word(SETS[results.disposal.other_set]),
            "does_more": does_more,
            "own_use": OWN_USE,
            "weighty": [assumption for assumption in results.assumptions if assumption.weighty],
            "periods": labels,
            "grades": list(by_grade),
            "months_chart": charts.months_chart(labels, by_grade, printer),
            "months_alternative": self._word(COLLECTED) % {"start": labels[0], "end": labels[-1], "grade": largest},
            "flow_rows": [(side, name, self._word(flow.ROWS[side][name][0])) for side, name in flow.rows(self.flow)],
            "flow_chart": flow.flow_chart(self.flow, printer, places["kd"]),
            "flow_alternative": flow.flow_alternative(self.flow, printer, places["kd"]),
            "stages_chart": charts.stages_chart(results.parts, printer),
            "stages_alternative": alternative(results.parts, printer),
            "unit_of": unit_of,
            "sources": sources,
            "citations": [citation(source, results, self.language) for source in sources],
            **compost.context(results, printer, tie),
            "size": SIZE,
            "cautions": results.cautions,
            "decisions": self.decisions,
            "tariff": self._word(TARIFF),
            "decision_draws": min(results.settings.draws, DRAWS),
            "defer": DEFER,
            **places,
        }

    def _word(self, text: str) -> str:
        return translate(self.language, text)

    def _by_grade(self, printer: Printer) -> dict[str, list[float]]:
        """Return the paper of each month by grade, the largest grade first, in the report's unit."""
        scale = POUNDS_PER_KG if printer.us else 1.0
        names = {grade for masses in self.periods.values() for grade in masses}
        table = {grade: [masses.get(grade, 0.0) * scale for masses in self.periods.values()] for grade in sorted(names)}
        return dict(sorted(table.items(), key=lambda pair: -sum(pair[1])))
