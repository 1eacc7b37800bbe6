"""The binder report: what a workshop gives up and gains with each binder of one part; no score and no winner."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple

from impact.account.assessment import regions_of
from impact.account.results import Interval
from impact.base.catalogue import tag
from impact.base.language import translate
from impact.base.printing import CLOSING, Printer
from impact.base.problems import ProblemsError
from impact.base.processes import Doing, Job, here
from impact.base.sentences import Listed
from impact.base.serial import plain
from impact.core.proportions import MOST, trial_size
from impact.decisions.binders import BinderComparison, BinderResult, compare_binders
from impact.decisions.planned import FEWEST
from impact.decisions.recipes import LITERATURE, NONE, OTHER, TABLE
from impact.factors.rows import MEMORY, PRACTICE
from impact.findings.cautions import DEFER, Caution, cautions, is_dried_by_power
from impact.findings.compost import ROUTES, asked_of
from impact.report.binder.chart import Row, binders_alternative, binders_chart, title_of_binders
from impact.report.drawing import NARROW
from impact.report.request import NothingToSayError, Request, part_of
from impact.report.ties import Ties

if TYPE_CHECKING:
    from impact.study import Study

HAZARDS = ("Mould growth", "Hot paste", "Starch and flour powder", "Glue", "Allergens")
"""Cautions that a binder brings."""

LIKELY, UNLIKELY = 0.9, 0.1
"""Chances from, and to, which a binder is called lower or higher, as a part beside plastic (`impact.cli.totals_text.verdict`)."""


class Versus(NamedTuple):
    """One comparison with the reference, and which words fit.

    Attributes
    ----------
    other : BinderResult
        The binder beside the reference.
    lower : str
        Id of the one with the lower footprint; blank where they cannot be told apart.
    rejects : {"", "apart", "alike", "too few batches"}
        What the test says of their reject rates; blank where one is not known.
    """

    other: BinderResult
    lower: str
    rejects: str


def compared(results: Study, part: str) -> BinderComparison:
    """Return the binders for a part, from the batches that the results count.

    Raises
    ------
    NothingToSayError
        When the records give nothing to compare per part.
    """
    records, settings = (results.workshop, results.batch_records, results.factors), results.settings
    try:
        return compare_binders(
            *records,
            part,
            seed=settings.seed,
            draws=settings.draws,
            all_batches=results.all_batches,
            names=results.names,
        )
    except ProblemsError as error:
        raise NothingToSayError("; ".join(problem.message for problem in error.problems)) from None


class BinderChoice:
    """The content of the binder report.

    Attributes
    ----------
    figures : dict
        Under ``choice`` the document of `impact binders`, the differences from the reference, the evidence of each
        binder, the tests of reject rates.
    comparison : BinderComparison
        The binders for the part.
    reference : BinderResult
        The synthetic binder, beside which the others are put.
    differences : dict of str to Interval
        Footprint of each other binder less that of the reference, in the same draws. [kgCO2e]
    """

    def __init__(self, results: Study, request: Request, _do: Doing = here) -> None:
        self.results = results
        self.comparison = compared(results, part_of(results, request))
        self.by_id = {result.binder: result for result in self.comparison.binders}
        self.reference = self._synthetic()
        self.differences = {
            result.binder: Interval.of(result.draws - self.reference.draws)
            for result in self.comparison.binders
            if result is not self.reference
        }
        self.cautions = self._cautions()
        self.figures: dict[str, Any] = {
            "choice": {
                **plain(self.comparison),
                "reference": self.reference.binder,
                "differences_kgco2e": plain(self.differences),
                "evidence": {result.binder: self._evidence(result) for result in self.comparison.binders},
                "reject_tests": self._reject_tests(),
                "cautions": plain(self.cautions),
                "few_batches": FEWEST,
            }
        }

    def _synthetic(self) -> BinderResult:
        """Return the synthetic binder, beside which the others are put."""
        tags = self.results.names.binder_tags
        synthetic = [one for one in self.comparison.binders if tag(tags.get(one.binder, ""), "kind") == "synthetic"]
        return (synthetic or list(self.comparison.binders))[0]

    def _evidence(self, result: BinderResult) -> dict[str, Any]:
        """Return how many batches stand behind a binder, how each input is known, and its rows that nobody saw published."""
        frame = self.results.batch_records
        used = frame[frame["binder"].astype(str) == result.binder]
        own = used[used["part"].astype(str) == self.comparison.part]
        of_it = f".{result.binder}"
        rows = {name: choice.factor for name, choice in sorted(self.comparison.factors_used.items())}
        as_it_comes = result.preparation_from == TABLE and not result.preparation_kwh
        return {
            "batches": len(own),
            "other_batches": len(used) - len(own),
            "rejects_counted": int(own["rejects"].notna().sum()),
            "dose_from": result.dose_from,
            "solids_from": result.solids_from,
            "preparation_from": "not needed" if as_it_comes else result.preparation_from,
            "not_seen": [
                name
                for name, row in rows.items()
                if row.evidence in (MEMORY, PRACTICE)
                and row.key.startswith("binder.")
                and row.key.endswith(of_it)
                and not (as_it_comes and row.key == f"binder.preparation{of_it}")
            ],
        }

    def _reject_tests(self) -> list[dict[str, Any]]:
        """Return the pairs whose reject rates are not told apart and the trial that would, the smallest first."""
        found = []
        for pair in self.comparison.pairs:
            a, b = self.by_id[pair.a].rejects, self.by_id[pair.b].rejects
            if pair.reject_rates not in ("", "apart") and a is not None and b is not None:
                size = trial_size(a, b)
                found.append({"a": pair.a, "b": pair.b, "p": pair.reject_p, "pressings_of_each": size})
        return sorted(found, key=lambda test: test["pressings_of_each"] or MOST + 1)

    def _versus(self) -> list[Versus]:
        """Return each other binder beside the reference."""
        found = []
        for pair in self.comparison.pairs:
            if self.reference.binder in (pair.a, pair.b):
                other = self.by_id[pair.b if pair.a == self.reference.binder else pair.a]
                chance = pair.chance_a_lower
                lower = pair.a if chance >= LIKELY else pair.b if chance <= UNLIKELY else ""
                found.append(Versus(other, lower, pair.reject_rates))
        return found

    def _cautions(self) -> list[Caution]:
        """Return the cautions that the binders of the table bring, tried or not."""
        workshop, factors, names = self.results.workshop, self.results.factors, self.results.names
        dried = is_dried_by_power(self.results)
        found = cautions(workshop, self.by_id, factors, names, regions_of(workshop, names), dried=dried)
        return [caution for caution in found if caution.hazard in HAZARDS]

    def _missing(self) -> dict[str, list[str]]:
        """Return the binders that lack something which a test or a note would give, by what they lack."""
        every = self.comparison.binders
        glued = [result for result in every if result.binder != NONE]
        wanting = {
            "few": [result for result in every if 0 < result.batches < FEWEST],
            "elsewhere": [result for result in every if result.dose_from == OTHER],
            "untried": [result for result in every if result.dose_from == LITERATURE],
            "uncounted": [result for result in every if result.batches and result.rejects is None],
            "unpriced": [result for result in glued if result.binder in self.near and result.cost is None],
            "unloaded": [result for result in every if result.batches and result.strength is None],
        }
        return {lack: [result.binder for result in results] for lack, results in wanting.items()}

    @property
    def near(self) -> set[str]:
        """The binders that the workshop has used or described: in words and pair by pair the page holds no more."""
        used = {one.binder for one in self.comparison.binders if one.dose_from != LITERATURE}
        return used | set(self.results.workshop.binders)

    def _asked(self) -> Listed:
        """Return what the findings on composting lack, each once."""
        asked = asked_of([finding for result in self.comparison.binders for finding in result.findings])
        return Listed(tuple(asked), "; ")

    def _rows(self, names: Mapping[str, str]) -> list[Row]:
        """Return the rows of the chart."""
        return [
            Row(names[one.binder], one.dose_from != LITERATURE, one.footprint, self.differences.get(one.binder))
            for one in self.comparison.binders
        ]

    def _titles(self, reference: str, language: str) -> tuple[str, str]:
        """Return what stands above the two axes of the chart."""
        apart = translate(language, "difference: binder minus %(reference)s, in the same draws")
        return translate(language, "g CO₂e per good part"), apart % {"reference": reference}

    def _finding(self, names: Mapping[str, str], language: str) -> str:
        """Return which binders are lower than the reference and which higher, and how many are not told apart from it."""
        versus = self._versus()
        lower = [names[found.other.binder] for found in versus if found.lower == found.other.binder]
        higher = [names[found.other.binder] for found in versus if found.lower == self.reference.binder]
        alike = sum(not found.lower for found in versus)
        return title_of_binders(names[self.reference.binder], lower, higher, alike, language)

    def _names(self, printer: Printer) -> dict[str, str]:
        """Return the name of each binder, by its id."""
        return {binder: printer.name("binder", binder) for binder in self.by_id}

    def _drawing(self, printer: Printer) -> Callable[..., str]:
        """Return what draws the footprints of the binders, as wide as it is asked to."""
        names = self._names(printer)
        titles = self._titles(names[self.reference.binder], printer.language)
        return partial(binders_chart, self._rows(names), titles, printer)

    def charts(self, printer: Printer) -> dict[str, Job]:
        """Return what draws the footprints of the binders."""
        return {"chart": self._drawing(printer)}

    def data(self, printer: Printer, tie: Ties) -> dict[str, Any]:
        """Return the data of the template."""
        names = self._names(printer)
        rows, reference = self._rows(names), names[self.reference.binder]
        every, versus, near = self.comparison.binders, self._versus(), self.near
        return {
            "c": self.comparison,
            "names": names,
            "reference": self.reference,
            "versus": [one for one in versus if one.other.binder in near],
            "near": [one.binder for one in every if one.binder in near],
            "untried": [one.binder for one in every if one.binder not in near],
            "counted": any(known["rejects_counted"] for known in self.figures["choice"]["evidence"].values()),
            "chances": {(pair.a, pair.b): pair for pair in self.comparison.pairs},
            "routes": ROUTES,
            "missing": self._missing(),
            "asked": self._asked(),
            "cautions": self.cautions,
            "priced": any(one.cost is not None for one in every if one.binder != NONE),
            "loaded": any(one.strength is not None for one in every),
            "defer": translate(printer.language, DEFER),
            "rules": [translate(printer.language, rule) for rule in self.comparison.rules],
            "closing": translate(printer.language, CLOSING),
            "chart_narrow": partial(self._drawing(printer), width=NARROW),
            "chart_title": self._finding(names, printer.language),
            "chart_alternative": binders_alternative(rows, reference, printer),
        }
