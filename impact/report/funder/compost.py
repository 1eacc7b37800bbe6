"""The compost section of a report: findings as one table, each reason once, the blend table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from impact.base.catalogue import tag
from impact.base.language import message, translate
from impact.base.printing import Printer
from impact.findings.blend import Blend, Greens, Range
from impact.findings.compost import ROUTES
from impact.findings.compost_rules import BLOCKED, OPEN, UNKNOWN, Reason
from impact.report.ties import Ties
from impact.study import Study

if TYPE_CHECKING:
    from markupsafe import Markup

OUTCOMES = {
    BLOCKED: message("blocked"),
    OPEN: message("no blocker found, untested"),
    UNKNOWN: message("unknown"),
}


@dataclass(frozen=True, slots=True)
class FindingRow:
    """One line of the table of findings: part, binder, share, outcome by route, wall, numbers of its own reasons."""

    part: str
    binder: str
    share: str
    outcomes: tuple[str, ...]
    wall: str
    numbers: str


def _said(results: Study) -> dict[tuple[str, str], set[str]]:
    """Return what the rules say of each part and binder."""
    said: dict[tuple[str, str], set[str]] = {}
    for finding in results.findings:
        said.setdefault((finding.part, finding.binder), set()).update(reason.statement for reason in finding.reasons)
    return said


def numbered(results: Study) -> tuple[dict[str, int], int]:
    """Return a number for each statement, those of every part last, and how many there are of single parts."""
    everyone = set.intersection(*_said(results).values()) if results.findings else set()
    order = dict.fromkeys(reason.statement for finding in results.findings for reason in finding.reasons)
    own = [statement for statement in order if statement not in everyone]
    common = [statement for statement in order if statement in everyone]
    return {statement: number for number, statement in enumerate(own + common, 1)}, len(own)


def finding_rows(results: Study, printer: Printer) -> list[FindingRow]:
    """Return the table of findings."""
    numbers, own = numbered(results)
    rows = []
    for (part, binder), said in _said(results).items():
        of_pair = [finding for finding in results.findings if (finding.part, finding.binder) == (part, binder)]
        by_route = {finding.route: finding.outcome for finding in of_pair}
        wall = results.workshop.parts[part].wall_mm
        rows.append(
            FindingRow(
                part,
                binder,
                printer.percent(of_pair[0].binder_share, 1),
                tuple(translate(printer.language, OUTCOMES[by_route[route]]) for route in ROUTES),
                "–" if wall is None else f"{wall:g}\u00a0mm",
                ", ".join(str(number) for number in sorted(numbers[statement] for statement in said) if number <= own),
            )
        )
    return rows


def reasons(results: Study) -> list[Reason]:
    """Return one reason for each statement, in the order of their numbers."""
    first: dict[str, Reason] = {}
    for finding in results.findings:
        for reason in finding.reasons:
            first.setdefault(reason.statement, reason)
    return [first[statement] for statement in numbered(results)[0]]


def asked(results: Study) -> list[str]:
    """Return what any finding lacks, each once."""
    return list(dict.fromkeys(asks for finding in results.findings for asks in finding.asked))


def _span(span: Range, name: str, tie: Ties) -> Markup | str:
    from markupsafe import Markup

    out_of_reach = translate(tie.printer.language, "out of reach")
    if span.value is None:
        return out_of_reach
    if span.value == 0.0 and span.high == 0.0:
        return "0"
    low = "?" if span.low is None else tie(f"{name}.low")
    high = out_of_reach if span.high is None else tie(f"{name}.high")
    between = translate(tie.printer.language, "to")
    return Markup("{} ({} {} {})").format(tie(f"{name}.value"), low, between, high)


def _cell(greens: Greens, name: str, tie: Ties) -> tuple[Markup | str, Markup | str]:
    """Return the mass of the green and the state of the mix, per unit of mass of parts."""
    from markupsafe import Markup

    mass = _span(greens.mass, f"{name}.green_kg", tie)
    if greens.moisture.value is None or greens.water.value is None:
        return mass, ""
    moist = tie(f"{name}.moisture.value", "percent")
    if greens.water.value < 0.005:
        return mass, Markup(translate(tie.printer.language, "%(moist)s moist, no water")) % {"moist": moist}
    water = tie(f"{name}.water_kg.value", "fixed", 2)
    said = Markup(translate(tie.printer.language, "%(moist)s moist, water %(water)s"))
    return mass, said % {"moist": moist, "water": water}


Cells = list[tuple["Markup | str", "Markup | str"]]


def printed_greens(results: Study) -> list[str]:
    """Return the greens that the printed table shows; the others are in the JSON."""
    return [green for green, tags in results.names.green_tags.items() if tag(tags, "printed") == "yes"]


def blend_rows(results: Study, tie: Ties) -> list[tuple[Blend, Markup | str, Cells]]:
    """Return the blend of each recipe: its ratio, and for each green shown its mass and the state of the mix."""
    rows, printed = [], printed_greens(results)
    for blend in results.blends:
        name = f"blends.{blend.part}.{blend.binder}"
        shown = [one for one in blend.greens if one.green in printed]
        cells = [_cell(one, f"{name}.per_kg_of_parts.{one.green}", tie) for one in shown]
        rows.append((blend, _span(blend.carbon_nitrogen, f"{name}.carbon_nitrogen", tie), cells))
    return rows


def context(results: Study, printer: Printer, tie: Ties) -> dict[str, Any]:
    """Return what the compost section of the template needs."""
    numbers, own = numbered(results)
    return {
        "finding_rows": finding_rows(results, printer),
        "common_reasons": (own + 1, len(numbers)),
        "finding_reasons": reasons(results),
        "finding_asked": asked(results),
        "blend_rows": blend_rows(results, tie),
        "blend_greens": [results.names.short("green", name, printer.language) for name in printed_greens(results)],
        "not_counted": sorted({name for blend in results.blends for name in blend.not_counted}),
        "capped": sorted({name for blend in results.blends for name in blend.capped}),
    }
