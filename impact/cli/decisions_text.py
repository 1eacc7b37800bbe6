"""Break-even points, the comparison of binders and the forecast as text; every number of it is in their documents."""

from __future__ import annotations

from collections.abc import Sequence

from impact.base.printing import CLOSING, FIGURE, PERCENT, TENTHS, of_hundred
from impact.base.problems import counted
from impact.base.texttable import aligned
from impact.decisions.binders import BinderComparison, BinderResult
from impact.decisions.breakeven import Crossing
from impact.decisions.forecast import Forecast
from impact.decisions.levers import TARIFF, Relief
from impact.decisions.pace import Progress
from impact.decisions.planned import RECORDS, Expected
from impact.decisions.sensitivity import Sensitivity, SpreadShare

LEAST = 0.01
"""Share of the spread under which an input has no line of its own in the text; --json has them all. A choice of ours."""

FIGURES = {
    "people_hours": "hours of people",
    "cost": "cost",
    "chance_within_budget": "chance to stay within the budget",
    "dryer_hours": "hours of the dryer",
    "difference_kgco2e": "difference to plastic",
}
"""Plain words for the figures of a forecast that may be missing, by their names in the document."""

TOLD = {"apart": "told apart", "alike": "not told apart", "too few batches": "too few batches to tell"}
"""What the text says of two reject rates."""


def breakeven_text(decision: Sensitivity) -> str:
    """Return the break-even points of a part as text."""
    found, workshop = decision.found, decision.workshop
    invented = " (invented records)" if workshop.invented else ""
    lines = [
        f"{found.part}, {workshop.name}, {decision.start} to {decision.end}{invented}",
        f"seed {decision.seed}, {decision.draws} draws, intervals of {PERCENT(decision.coverage)}",
        "",
    ]
    if found.no_comparison:
        return "\n".join([*lines, f"no break-even: {found.no_comparison}", *_lever_lines(decision.levers)])
    lines += [
        f"Moulded less plastic: {FIGURE.interval(found.difference)} kg CO2e per good part; "
        f"lower in {of_hundred(found.chance_lower or 0.0)} of 100 draws",
        "",
        "Break-even, each variable changed alone",
        *map(_crossing_line, found.crossings),
        *_lever_lines(decision.levers),
        "",
        "What to measure next: where the spread (variance) of the difference comes from",
        *_share_lines(decision.measure_next),
    ]
    return "\n".join(lines)


def _crossing_line(crossing: Crossing) -> str:
    """Return one variable as a line."""
    head = f"  {crossing.variable:<16} now {FIGURE(crossing.now)} {crossing.unit}: "
    ends = f"from {FIGURE(crossing.low)} to {FIGURE(crossing.high)}"
    if crossing.at is not None:
        side = f"break-even at {FIGURE.interval(crossing.at)}, lower {crossing.lower_side} it"
        return f"{head}{side}; {of_hundred(crossing.share_crossing)} of 100 draws cross"
    if crossing.share_alike == 1.0:
        return f"{head}{crossing.answer} {ends}; no draw crosses"
    alike, cross = of_hundred(crossing.share_alike), of_hundred(crossing.share_crossing)
    return f"{head}{crossing.answer} {ends} in {alike} of 100 draws; {cross} of 100 cross"


def _lever_lines(levers: Sequence[Relief]) -> list[str]:
    """Return the steps that lower a part as a line each, and why a tariff is none; nothing without a step."""
    told = [
        f"  {one.step}: {FIGURE.interval(one.takes_off, 1000.0)} g CO2e less per good part"
        f"{'' if one.chance_lower == 1.0 else f', less in {of_hundred(one.chance_lower)} of 100 draws'}; it takes {one.takes}"
        for one in levers
    ]
    head = "What would lower it most, one step at a time (steps overlap and do not add up)"
    return ["", head, *told, f"  {TARIFF}"] if told else []


def _share_lines(shares: Sequence[SpreadShare]) -> list[str]:
    """Return the inputs with a share to speak of as a line each, and one line for all others."""
    told = [one for one in shares if abs(one.share) >= LEAST]
    others = f"  All other inputs: less than {PERCENT(LEAST)} of the spread each; --json names them"
    return [*map(_share_line, told), *([others] if len(told) < len(shares) else [])]


def _share_line(one: SpreadShare) -> str:
    if one.share <= 0.0:
        return f"  {one.sentence}"
    narrower = f"the interval would narrow by {PERCENT(one.narrower)} at most"
    return f"  {one.sentence} ({narrower})"


def _matrix(comparison: BinderComparison) -> list[str]:
    """Return the chance that the binder of the row is lower than that of the column, each pair once."""
    chances = {(pair.a, pair.b): PERCENT(pair.chance_a_lower) for pair in comparison.pairs}
    ids = [result.binder for result in comparison.binders]
    body = [(a, *(chances.get((a, b), "") for b in ids[1:])) for a in ids[:-1]]
    return aligned([("", *ids[1:]), *body])


def _recorded(result: BinderResult) -> tuple[str, ...]:
    rejects, strength = result.rejects, result.strength
    rate = (
        "-"
        if rejects is None
        else f"{rejects.count} of {rejects.total}, {TENTHS(rejects.rate)} ({TENTHS(rejects.low)} to {TENTHS(rejects.high)})"
    )
    load = "-"
    if strength is not None:
        load = f"{FIGURE(strength.mean_n)} N, sd {FIGURE(strength.sd_n)}, n {strength.tests}"
        load += "" if strength.span_mm is None else f", span {FIGURE(strength.span_mm)} mm"
    routes = {finding.route: finding.outcome for finding in result.findings}
    return result.binder, rate, load, routes["industrial"], routes["home"]


def binders_text(comparison: BinderComparison) -> str:
    """Return a comparison as text; every number of it is in the document."""
    money = f"cost, {comparison.currency}" if comparison.currency else "cost"
    carried = [
        (
            result.binder,
            f"{FIGURE(result.dose)} ({FIGURE(result.dose_low)} to {FIGURE(result.dose_high)})",
            f"{result.dose_from}, {counted(result.batches, 'batch')}" if result.batches else result.dose_from,
            FIGURE.interval(result.footprint, 1000.0),
            FIGURE(result.fossil_carbon_kg * 1000.0),
            FIGURE(result.preparation_kwh),
            FIGURE(result.cost),
            FIGURE(result.water_kg * 1000.0),
        )
        for result in comparison.binders
    ]
    tests = [
        f"{pair.a} and {pair.b}: p {FIGURE(pair.reject_p)}, {TOLD[pair.reject_rates]}"
        for pair in comparison.pairs
        if pair.reject_rates
    ]
    return "\n".join(
        [
            f"Binders for {comparison.part}, per good part ({FIGURE(comparison.good)} on record, {comparison.start} to {comparison.end})",
            "",
            *aligned(
                [
                    ("binder", "dose, dry per dry fibre", "dose from", "footprint, g CO2e (95 %)", "fossil carbon, g",
                     "preparation, kWh", money, "water brought, g"),
                    *carried,
                ]
            ),
            "",
            *aligned(
                [
                    ("binder", "rejects (95 %)", "failure load", "industrial composting", "home composting"),
                    *(_recorded(result) for result in comparison.binders),
                ]
            ),
            "",
            "Chance that the binder of the row has the lower footprint than that of the column",
            *_matrix(comparison),
            "",
            *(["Permutation of whole batches: are two reject rates the same?", *tests, ""] if tests else []),
            *_rules(comparison.rules),
            f"seed {comparison.seed}, {comparison.draws} draws",
            CLOSING,
        ]
    )  # fmt: skip


def _rules(rules: Sequence[str]) -> list[str]:
    """Return rules as lines of a list, with an empty line after them."""
    return [*(f"- {rule}" for rule in rules), ""]


def _expected(figure: Expected | None, what: str = "") -> str:
    """Return a figure with its interval, or with the range of what was seen, and what it rests on where no batches record it."""
    if figure is None or figure.basis == RECORDS:
        return FIGURE.interval(figure)
    if figure.rare:
        seen = f"{f'{what} ' if what else ''}in {figure.occurs_in} of {counted(figure.batches, 'batch')}"
        return f"{FIGURE(figure.value)} (rare, {seen}; seen {FIGURE(figure.low)} to {FIGURE(figure.high)})"
    return f"{FIGURE.interval(figure)}, {f'{what} ' if what else ''}never recorded: by the tables"


def forecast_text(plan: Forecast) -> str:
    """Return a forecast as text; every number of it is in the document."""
    money = f", {plan.currency}" if plan.currency else ""
    within = (
        ""
        if plan.chance_within_budget is None
        else f"; chance to stay within {FIGURE(plan.budget)}: {PERCENT(plan.chance_within_budget)}"
    )
    replaced = "plastic" if plan.displacement is None else f"the plastic replaced, {PERCENT(plan.displacement)}"
    figures = [
        ("good parts", _expected(plan.good_parts, "parts failed")),
        *((f"paper, {grade}, kg", _expected(kg)) for grade, kg in plan.paper_kg.items()),
        *((f"binder as used, {binder}, kg", _expected(kg)) for binder, kg in plan.binder_kg.items()),
        ("water, L", _expected(plan.water_l)),
        ("electricity, kWh", _expected(plan.electricity_kwh)),
        ("dryer, hours", _expected(plan.dryer_hours)),
        ("rack, parts at once", str(plan.rack_parts)),
        ("people, hours", _expected(plan.people_hours)),
        (f"cost as recorded{money}", _expected(plan.cost) + within),
        ("kept from landfill, kg", _expected(plan.diverted_kg)),
        (f"difference to {replaced}, kg CO2e", _expected(plan.difference_kgco2e)),
    ]
    return "\n".join(
        [
            f"{plan.part}: {counted(plan.sessions, 'session')} of {counted(plan.people, 'person', 'people')}, "
            f"{plan.parts_per_person} a person, {counted(plan.planned, 'part')} pressed; "
            f"from {counted(plan.batches, 'batch')}, {plan.start} to {plan.end}",
            "",
            *aligned(figures),
            "",
            *_target_lines(plan.progress),
            *(f"not given: {FIGURES[figure]}, because {reason}" for figure, reason in plan.missing.items()),
            *_rules(plan.rules),
            f"seed {plan.seed}, {plan.draws} draws",
            CLOSING,
        ]
    )


def _days(days: float) -> str:
    number = FIGURE(days)
    return "day" if number == "1" else f"{number} days"


def _target_lines(progress: Progress | None) -> list[str]:
    if progress is None:
        return []
    pace = "as on record" if progress.spacing_known else "assumed"
    if progress.date_at_pace is None:
        when = f"At the pace of the records: {progress.reason}."
    else:
        when = f"At the pace of the records it is met on {progress.date_at_pace}, {'in time' if progress.in_time else 'too late'}."
    return [
        f"Target: {FIGURE(progress.target_kg)} kg kept from landfill by {progress.by}; so far {FIGURE(progress.so_far_kg)} kg, all parts.",
        f"With these sessions, one every {_days(progress.spacing_days)} ({pace}) until {progress.last_session or 'a far day'}: "
        f"{_expected(progress.after_kg)} kg; chance to reach it {PERCENT(progress.chance_after)}.",
        when,
        "",
    ]
