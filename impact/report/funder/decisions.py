"""The decisions in a report: break-even points, what lowers a part most, what to measure next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from impact.base.language import message, translate
from impact.base.printing import Printer
from impact.base.progress import track
from impact.decisions.breakeven import BreakEven, Crossing, breakeven
from impact.decisions.levers import Relief, levers
from impact.decisions.scenario import scenarios_of
from impact.decisions.sensitivity import SpreadShare, measure_next
from impact.records.batchtable import BatchTable
from impact.report.funder.crossings import quantity_of, shown_panels, variable_words
from impact.study import Study

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


def decisions(results: Study) -> list[Decision]:
    """Return what would change every part that has a good part: break-even points, steps, what to measure next."""
    settings, found, everything = results.settings, [], results.all_batches
    records_of = scenarios_of(
        results.workshop,
        BatchTable.of(results.batch_records),
        results.factors,
        [part.part for part in results.parts if part.footprint is not None],
        seed=settings.seed,
        draws=min(settings.draws, DRAWS),
        names=results.names,
        all_batches=None if everything is None else BatchTable.of(everything),
    )
    for part in track(results.parts, "breaking even", total=len(results.parts), unit="parts"):
        if part.part not in records_of:
            continue
        records = records_of[part.part]
        points, steps, spread = breakeven(records), levers(records, results.names), measure_next(records)
        found.append(Decision(part.part, part.good, points, steps, spread[:SHOWN]))
    return found
