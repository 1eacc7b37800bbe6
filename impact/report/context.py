"""What a report says: the results turned into the data of the template, nothing calculated anew."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from impact.blend import SIZE
from impact.cautions import DEFER
from impact.factors import Factor
from impact.inventory import STAGES
from impact.ownvalues import Headline
from impact.report import charts, compost
from impact.report.decisions import DRAWS, decisions
from impact.report.figures import POUNDS, Printer, digits
from impact.results import Interval, PartResult, Results
from impact.totals import verdict

US_LETTER_COUNTRIES = ("USA", "CAN", "MEX", "PHL", "CHL", "COL")
GRAMMAR = {
    "lower than plastic": "has the lower footprint in this estimate",
    "higher than plastic": "has the higher footprint in this estimate: here plastic would have caused less",
    "undecided": "cannot be told apart from plastic: the intervals overlap too far",
}


@dataclass(frozen=True, slots=True)
class FactorLine:
    """A factor as the report's table prints it."""

    factor: Factor
    value: str
    interval: str
    number: int


def _factor_value(factor: Factor) -> tuple[str, str]:
    unit = "" if factor.unit == "1" else f"\u00a0{factor.unit.replace('CO2e', ' CO₂e')}"
    spread = "–" if factor.low == factor.high else f"{digits(factor.low)} to {digits(factor.high)}"
    return f"{digits(factor.value, 4)}{unit}", spread


def factor_lines(results: Results) -> tuple[list[FactorLine], list[str]]:
    """Return every factor used, and the citations that their numbers point to."""
    numbers: dict[str, int] = {}
    lines = []
    for choice in results.factors_used.values():
        factor = choice.factor
        number = numbers.setdefault(factor.source, len(numbers) + 1)
        value, spread = _factor_value(factor)
        lines.append(FactorLine(factor, value, spread, number))
    citations = []
    for source in numbers:
        known = results.factors.sources.get(source)
        if known is None:
            citations.append(f"{source} (the workshop's own source)")
            continue
        licence = f" Licence: {known.licence}." if known.licence else ""
        page = f" {known.page}" if known.page.startswith("http") else ""
        citations.append(f"{known.citation.rstrip('.')}.{licence}{page}")
    return lines, citations


def months(results: Results, printer: Printer) -> tuple[list[str], dict[str, list[float]]]:
    """Return the months of the period and the paper collected in each, by grade, in the report's unit."""
    inventory = results.inventory
    labels = sorted(set(inventory.groups["month"]))
    scale = (POUNDS if printer.us else 1.0) * (results.grant.share if results.grant else 1.0)
    by_grade: dict[str, list[float]] = {}
    for place, month in enumerate(labels):
        for item, mass in inventory.where(month=month).items("mass", "collected").items():
            grade = item.split("|")[0]
            by_grade.setdefault(grade, [0.0] * len(labels))[place] += mass * scale
    return labels, dict(sorted(by_grade.items(), key=lambda pair: -sum(pair[1])))


def sentence(part: PartResult, printer: Printer) -> str:
    """Return the comparison of one part in words, with both masses, both lives and the chance."""
    if part.footprint is None:
        return f"{part.part}: {part.no_comparison}."
    made = f"{part.part}: {printer.grams(part.footprint.value)} g CO₂e ({printer.gram_interval(part.footprint)}) for {printer.small_mass(part.mass_kg)}"
    if part.plastic is None or part.chance_lower is None:
        return f"{made}. No comparison is made: {part.no_comparison}."
    plastic = part.plastic
    against = (
        f", against {printer.grams(plastic.footprint.value)} g ({printer.gram_interval(plastic.footprint)}) for "
        f"{printer.small_mass(plastic.mass_per_service_kg)} of {plastic.polymer} over the same service"
    )
    chance = f"In {printer.chance(part.chance_lower)} of the draws the moulded part is the lower; it {GRAMMAR[verdict(part)]}."
    return f"{made}{against}. {chance}"


def alternative(parts: tuple[PartResult, ...], printer: Printer) -> str:
    """Return what the stages chart shows, in words."""
    words = [
        f"{part.part} {printer.grams(part.footprint.value)} g, {verdict(part)}"
        for part in parts
        if part.footprint is not None
    ]
    return (
        "Footprint of each moulded part by life-cycle stage above that of its plastic part: " + "; ".join(words) + "."
    )


def context(results: Results, reader: str) -> dict[str, Any]:
    """Return the data of the template for one kind of report."""
    workshop = results.workshop
    printer = Printer(us=workshop.units == "us")
    labels, by_grade = months(results, printer)
    lines, citations = factor_lines(results)
    largest = max(by_grade, key=lambda grade: sum(by_grade[grade]), default="")
    return {
        "reader": reader,
        "results": results,
        "workshop": workshop,
        "p": printer,
        "page_size": "letter" if workshop.country in US_LETTER_COUNTRIES else "A4",
        "stages": STAGES,
        "stage_names": charts.STAGE_NAMES,
        "verdict": verdict,
        "sentences": [sentence(part, printer) for part in results.parts],
        "weighty": [assumption for assumption in results.assumptions if assumption.weighty],
        "months": labels,
        "by_month": by_grade,
        "months_chart": charts.months_chart(labels, by_grade, printer.mass_unit),
        "months_alternative": f"Paper collected by month and grade, {labels[0]} to {labels[-1]}; most of it was {largest}.",
        "stages_chart": charts.stages_chart(results.parts),
        "stages_alternative": alternative(results.parts, printer),
        "factor_lines": lines,
        "citations": citations,
        "own_values": own_lines(results),
        "own_figures": own_figures(results, printer),
        **compost.context(results, printer),
        "size": SIZE,
        "cautions": results.cautions,
        "decisions": decisions(results),
        "decision_draws": min(results.settings.draws, DRAWS),
        "defer": DEFER,
        "register": register(results, printer),
        "digits": digits,
    }


def own_lines(results: Results) -> list[tuple[str, str, str]]:
    """Return id, own value and shipped value of every own factor that was used."""
    if results.own_values is None:
        return []
    lines = []
    for row in results.own_values.rows:
        shipped = "none" if row.shipped is None else _factor_value(row.shipped)[0]
        if row.shipped is not None and row.shipped.id != row.factor.id:
            shipped += f" ({row.shipped.id})"
        lines.append((row.factor.id, _factor_value(row.factor)[0], shipped))
    return lines


def own_figures(results: Results, printer: Printer) -> list[tuple[str, str, str]]:
    """Return each headline figure with the own values and with the shipped ones; none when there is nothing to compare."""
    if results.own_values is None or results.own_values.with_shipped is None:
        return []
    own, shipped = Headline.of(results), results.own_values.with_shipped

    def account(interval: Interval) -> str:
        return f"{printer.account(interval.value)} ({printer.kilogram_interval(interval)})"

    def grams(interval: Interval | None) -> str:
        return "–" if interval is None else f"{printer.grams(interval.value)} ({printer.gram_interval(interval)})"

    lines = [
        (f"{label}, kg CO₂e", account(getattr(own, name)), account(getattr(shipped, name)))
        for name, label in (
            ("made", "Making all parts"),
            ("avoided", "Disposal avoided"),
            ("lost_recycling", "Recycling that lost its fibre"),
            ("displaced_plastic", "Plastic displaced"),
            ("net", "Net"),
        )
    ]
    return lines + [
        (f"{name}, g CO₂e per good part", grams(footprint), grams(shipped.parts[name]))
        for name, footprint in own.parts.items()
    ]


ENERGY = ("shredding", "binder_preparation", "blending", "pressing", "drying")


def register(results: Results, printer: Printer) -> list[dict[str, str]]:
    """Return the batches as the register prints them."""
    frame = results.batch_records
    paper = frame[[name for name in frame.columns if name.startswith("paper.")]].sum(axis=1)
    kwh = frame[[f"{name}_kwh" for name in ENERGY]].astype(float).sum(axis=1)
    blank = frame["blending_kwh"].isna() | frame["drying_kwh"].isna()
    rejects = [
        "–" if missing else f"{count:.0f}"
        for missing, count in zip(frame["rejects"].isna(), frame["rejects"], strict=True)
    ]
    columns = {
        "batch": frame["batch"].astype(str),
        "date": frame["date"].dt.strftime("%Y-%m-%d"),
        "part": frame["part"].astype(str),
        "paper": [printer.mass(mass) for mass in paper],
        "binder": frame["binder"].astype(str),
        "kwh": [f"{digits(used)}{' +' if missing else ''}" for used, missing in zip(kwh, blank, strict=True)],
        "good": [f"{count:.0f}" for count in frame["good_parts"]],
        "rejects": rejects,
        "unaccounted": [printer.percent(share) for share in results.balance.unaccounted.tolist()],
    }
    return [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
