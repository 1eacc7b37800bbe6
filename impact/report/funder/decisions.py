"""The decisions in a report: break-even points, what lowers a part most, what to measure next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from impact.account.assessment import values_for
from impact.base.catalogue import Names
from impact.base.language import message, translate
from impact.base.printing import Printer
from impact.base.processes import Doing, here
from impact.base.progress import track
from impact.decisions.breakeven import BreakEven, Crossing, breakeven
from impact.decisions.levers import Relief, levers
from impact.decisions.scenario import Scenario, scenarios_of
from impact.decisions.sensitivity import SpreadShare, measure_next
from impact.report.funder.crossings import quantity_of, shown_panels, variable_words
from impact.study import Study

if TYPE_CHECKING:
    from impact.factors.values import Values

DRAWS = 2000
"""Most draws that the charts of a report are worth; the command uses all."""

LEAST_CROSSING = 0.1
"""Least share of draws that cross for a variable to stand in the table. Ours, as nine in ten for a verdict."""

ANSWERS = {
    "always lower": message("%(name)s: always lower from %(low)s to %(high)s %(unit)s"),
    "never lower": message("%(name)s: never lower from %(low)s to %(high)s %(unit)s"),
    "lower": message("%(name)s: lower from %(low)s to %(high)s %(unit)s in %(alike)s of 100 draws"),
    "not lower": message("%(name)s: not lower from %(low)s to %(high)s %(unit)s in %(alike)s of 100 draws"),
    "below": message("%(name)s: lower below %(at)s %(unit)s (now %(now)s)"),
    "above": message("%(name)s: lower above %(at)s %(unit)s (now %(now)s)"),
}
"""What is said of a variable that does not cross, or of the side on which the moulded part is lower."""

SHOWN = 3
"""Inputs named for each part."""


@dataclass(frozen=True, slots=True)
class Decision:
    """What would change the result of one part.

    Attributes
    ----------
    part : str
        Name.
    good : float
        Good parts of it.
    found : BreakEven
        Its break-even points.
    levers : tuple of Relief
        Steps that lower its footprint, the one that takes off most first.
    measure : tuple of SpreadShare
        Inputs behind the spread of the difference, the largest first.
    """

    part: str
    good: float
    found: BreakEven
    levers: tuple[Relief, ...]
    measure: tuple[SpreadShare, ...]


def some_cross(decision: Decision) -> bool:
    """Return whether a variable of a part crosses in draws enough for the table of break-even points."""
    return any(crossing.share_crossing >= LEAST_CROSSING for crossing in decision.found.crossings)


def words(crossing: Crossing, printer: Printer) -> str:
    """Return where one variable breaks even, with its interval, in words."""
    name, unit = variable_words(crossing.variable, printer)
    kinds = {kind: quantity_of(kind, crossing.variable) for kind in ("number", "crossing", "range")}
    printed = {
        key: printer.figure(end, kinds["range"]) for key, end in (("low", crossing.low), ("high", crossing.high))
    }
    printed["now"] = printer.figure(crossing.now, kinds["number"])
    if crossing.at is not None:
        printed["at"] = printer.whole(crossing.at, kinds["crossing"])
    printed["alike"] = printer.figure(crossing.share_alike, "of hundred")
    said = ANSWERS[crossing.lower_side or crossing.answer]
    return translate(printer.language, said) % {"name": name, "unit": unit, **printed}


def crossings_alternative(found: Sequence[Decision], printer: Printer) -> str:
    """Return what the chart of break-even points shows, in words: nothing where there is none."""
    shown = shown_panels([(decision.part, decision.found.crossings) for decision in found])
    said = [f"{printer.name('part', part)}: {words(crossing, printer)}" for part, crossing in shown]
    text = translate(printer.language, "Moulded part against its plastic part. %(crossings)s.")
    return text % {"crossings": "; ".join(said)} if said else ""


def _records(results: Study, parts: Sequence[str], values: Values | None = None) -> dict[str, Scenario]:
    """Return the records of some parts that have a good part; `values` are those of their draws, if they are at hand."""
    settings, counted = results.settings, results.counted
    return scenarios_of(
        results.workshop,
        counted.table,
        results.factors,
        parts,
        seed=settings.seed,
        draws=min(settings.draws, DRAWS),
        names=results.names,
        all_batches=counted.all_table,
        values=values,
    )


@dataclass
class KnownSteps:
    """Steps and spread of parts from run to run, by what they rest on; for a page that follows the records.

    Attributes
    ----------
    values : Values or None
        Factors of the draws that the last run took.
    """

    values: Values | None = None
    _by_part: dict[str, tuple[object, Decision]] = field(default_factory=dict)

    def decisions(self, results: Study) -> list[Decision]:
        """Return what `decisions` does, without break-even points; only what changed is worked out.

        Settings and factors are those of the first call.
        """
        if self.values is None:
            settings = results.settings
            self.values = values_for(
                results.workshop, results.factors, results.names, seed=settings.seed, draws=min(settings.draws, DRAWS)
            ).kept()
        rests_on = dict(self._rests_on(results))
        changed = [part for part, on in rests_on.items() if self._by_part.get(part, (None,))[0] != on]
        if changed:
            for part, records in _records(results, changed, self.values.again()).items():
                steps, spread = levers(records, results.names), measure_next(records)
                nothing = BreakEven(part, None, None, None, ())
                self._by_part[part] = (rests_on[part], Decision(part, 0.0, nothing, steps, spread[:SHOWN]))
        good = {part.part: part.good for part in results.parts}
        return [replace(self._by_part[part][1], good=good[part]) for part in rests_on]

    def _rests_on(self, results: Study) -> Iterator[tuple[str, object]]:
        """Yield each part with what its steps change with: its own batches, and what others tell of it."""
        table, workshop = results.counted.table, results.workshop
        fresh = sum(table.papers.values(), start=np.zeros(len(table)))
        for part in _made(results):
            rows, mould = table.coded("part").where(part), workshop.moulds[workshop.parts[part].mould]
            pressed = results.counted.pressings.get(mould.name) if mould.retired else None
            # without fresh paper of its own, what is in a part shows in others
            yield part, ((table.kept(rows) if fresh[rows].any() else table).fingerprint(), pressed)


def _made(results: Study) -> list[str]:
    return [part.part for part in results.parts if part.footprint is not None]


def decisions(results: Study, do: Doing = here) -> list[Decision]:
    """Return what would change every part that has a good part: break-even points, steps, what to measure next.

    Every other part is handed to `do`.
    """
    made, good = _made(results), {part.part: part.good for part in results.parts}
    jobs = {part: partial(_decision, one, good[part], results.names) for part, one in _records(results, made).items()}
    elsewhere = do({part: jobs.pop(part) for part in made[1::2]})
    found = {part: job() for part, job in track(jobs.items(), "breaking even", total=len(jobs), unit="parts")}
    found |= elsewhere()
    return [found[part] for part in made]


def _decision(records: Scenario, good: float, names: Names) -> Decision:
    points, steps, spread = breakeven(records), levers(records, names), measure_next(records)
    return Decision(records.part, good, points, steps, spread[:SHOWN])
