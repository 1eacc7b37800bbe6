"""The compost section of a report: findings as one table, each reason once, the blend table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from impact.base.catalogue import tag
from impact.base.language import message, translate
from impact.base.printing import Printer
from impact.base.sentences import Listed
from impact.findings.blend import Blend, Greens, Range
from impact.findings.compost import ROUTES, Finding, asked_of
from impact.findings.compost_rules import Reason
from impact.report.ties import Ties
from impact.report.words import Words
from impact.study import Study

if TYPE_CHECKING:
    from markupsafe import Markup

FindingRow = tuple[str, str, dict[str, str], str]
"""Part, binder, outcome by route, numbers of the reasons that are not those of every part."""


def reasons_and_rows(results: Study) -> tuple[list[Reason], int, list[FindingRow]]:
    """Return each reason once, those of every part last, how many are of single parts, and the table of findings."""
    pairs: dict[tuple[str, str], list[Finding]] = {}
    for finding in results.findings:
        pairs.setdefault((finding.part, finding.binder), []).append(finding)
    said = {pair: {one.statement for finding in found for one in finding.reasons} for pair, found in pairs.items()}
    everyone = set.intersection(*said.values()) if said else set()
    first: dict[str, Reason] = {}
    for finding in results.findings:
        for reason in finding.reasons:
            first.setdefault(reason.statement, reason)
    reasons, own = sorted(first.values(), key=lambda one: one.statement in everyone), len(first) - len(everyone)
    numbers = {one.statement: number for number, one in enumerate(reasons[:own], 1)}
    rows = []
    for (part, binder), found in pairs.items():
        its_own = sorted(numbers[statement] for statement in said[part, binder] - everyone)
        outcomes = {finding.route: finding.outcome for finding in found}
        rows.append((part, binder, outcomes, ", ".join(map(str, its_own))))
    return reasons, own, rows


MOIST = message("%(moist)s + %(water)s water")
"""How moist a mix is, and the water that it needs beside."""


def _span(span: Range, name: str, tie: Ties) -> Markup | str:
    out_of_reach = translate(tie.printer.language, "out of reach")
    if span.value is None:
        return out_of_reach
    if span.value == 0.0 and span.high == 0.0:
        return "0"
    if span.low is not None and span.high is not None:
        return tie.whole(name)
    known = [f"{name}.{end}" for end in ("low", "high") if getattr(span, end) is not None]
    low, high = ("?" if span.low is None else "{}"), (out_of_reach if span.high is None else "{}")
    between = translate(tie.printer.language, "to")
    return tie.held([f"{name}.value", *known], f"{{}} ({low} {between} {high})")


def _cell(greens: Greens, name: str, tie: Ties) -> tuple[Markup | str, Markup | str]:
    """Return the mass of the green and the state of the mix, per unit of mass of parts."""
    from markupsafe import Markup

    mass = _span(greens.mass, f"{name}.green_kg", tie)
    if greens.moisture.value is None or greens.water.value is None:
        return mass, ""
    moist = tie(f"{name}.moisture.value")
    if greens.water.value < 0.005:
        return mass, moist
    water = tie(f"{name}.water_kg.value")
    return mass, Markup(translate(tie.printer.language, MOIST)) % {"moist": moist, "water": water}


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
    reasons, own, rows = reasons_and_rows(results)
    words = Words(printer)
    return {
        "routes": ROUTES,
        "finding_rows": rows,
        "some_wall": any(results.workshop.parts[part].wall_mm is not None for part, *_ in rows),
        "common_reasons": (own + 1, len(reasons)),
        "finding_reasons": reasons,
        "finding_asked": Listed(tuple(asked_of(results.findings)), "; "),
        "blend_rows": blend_rows(results, tie),
        "blend_greens": [printer.name("green", name) for name in printed_greens(results)],
        "not_counted": sorted({words.ingredient(name) for blend in results.blends for name in blend.not_counted}),
        "capped": sorted({words.ingredient(name) for blend in results.blends for name in blend.capped}),
    }
