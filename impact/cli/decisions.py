"""The command `breakeven`: where a part stops or starts to be lower than plastic, and what to measure next."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impact.cli.terminal import FOLDER, JSON, ONLY_PART, days_of, narrowing_for_part, open_folder, part_of, stop

if TYPE_CHECKING:
    from impact.account.results import Interval
    from impact.decisions.breakeven import BreakEven
    from impact.decisions.sensitivity import SpreadShare

SCHEMA = "impact-breakeven/1"
LEAST = 0.01
"""Share of the spread under which an input has no line of its own in the text; --json has them all. A choice of ours."""


@click.command()
@FOLDER
@narrowing_for_part
@JSON
def breakeven(
    folder: Path,
    part: str | None,
    period: str | None,
    site: str | None,
    seed: int | None,
    draws: int | None,
    as_json: bool,
) -> None:
    """Print where a part of FOLDER emits as much as its plastic part, and what to measure next.

    Each variable is changed alone: drying, electricity, pressings, binder-dose, service-life, reject-rate.

    Example: impact breakeven impact-demo --part tool-tray
    """
    from impact.base.problems import ProblemsError

    try:
        document = _document(folder, part, period, site, seed, draws)
    except ProblemsError as error:
        stop(error.problems)
    click.echo(json.dumps(document, ensure_ascii=False, allow_nan=False) if as_json else as_text(document))


def _document(
    folder: Path, part: str | None, period: str | None, site: str | None, seed: int | None, draws: int | None
) -> dict[str, Any]:
    """Return everything that the command says, as the JSON contract has it."""
    days = days_of(period)
    opened = open_folder(folder)
    from impact.account.assessment import DEFAULT_DRAWS, DEFAULT_SEED
    from impact.decisions.breakeven import breakeven as solve
    from impact.decisions.sensitivity import measure_next

    wanted = part_of(part, opened)
    name = str(opened.narrowed(period=days, part=wanted, site=site)["part"].iloc[0])
    batches = opened.narrowed(period=days, site=site)
    settings = {
        "seed": DEFAULT_SEED if seed is None else seed,
        "draws": DEFAULT_DRAWS if draws is None else draws,
    }
    run: dict[str, Any] = {**settings, "names": opened.names, "all_batches": opened.batches}
    found = solve(opened.workshop, batches, opened.factors, name, **run)
    spread = measure_next(opened.workshop, batches, opened.factors, name, **run)
    dates = batches["date"]
    start, end = days or (dates.min().date(), dates.max().date())
    return {
        "schema": SCHEMA,
        "workshop": {"name": opened.workshop.name, "invented": opened.workshop.invented},
        "period": {"start": start.isoformat(), "end": end.isoformat()},
        "settings": {**settings, "coverage": 0.95},
        **as_dict(found, spread),
    }


def as_dict(found: BreakEven, spread: tuple[SpreadShare, ...]) -> dict[str, Any]:
    """Return the break-even points and the shares of the spread as the JSON contract has them."""
    return {
        "part": found.part,
        "difference_kgco2e": _interval(found.difference),
        "chance_lower": found.chance_lower,
        "no_comparison": found.no_comparison,
        "breakeven": [crossing.as_dict() for crossing in found.crossings],
        "measure_next": [share.as_dict() for share in spread],
    }


def _interval(value: Interval | None) -> dict[str, float] | None:
    return value.as_dict() if value else None


def as_text(document: dict[str, Any]) -> str:
    """Return the document of the command as text; it holds no figure that the document does not hold."""
    settings, period = document["settings"], document["period"]
    invented = " (invented records)" if document["workshop"]["invented"] else ""
    lines = [
        f"{document['part']}, {document['workshop']['name']}, {period['start']} to {period['end']}{invented}",
        f"seed {settings['seed']}, {settings['draws']} draws, intervals of {settings['coverage']:.0%}",
        "",
    ]
    if document["no_comparison"]:
        return "\n".join([*lines, f"no break-even: {document['no_comparison']}"])
    difference = _spelled(document["difference_kgco2e"])
    lines += [
        f"Moulded less plastic: {difference} kg CO2e per good part; "
        f"lower in {document['chance_lower']:.0%} of the draws",
        "",
        "Break-even, each variable changed alone",
        *(_crossing_line(row) for row in document["breakeven"]),
        "",
        "What to measure next: where the spread (variance) of the difference comes from",
        *_share_lines(document["measure_next"]),
    ]
    return "\n".join(lines)


def _spelled(value: dict[str, float]) -> str:
    return f"{value['value']:.4g} ({value['low']:.4g} to {value['high']:.4g})"


def _crossing_line(row: dict[str, Any]) -> str:
    """Return one variable as a line."""
    head = f"  {row['variable']:<13} now {row['now']:.4g} {row['unit']}: "
    share = f"{row['share_crossing']:.0%} of the draws have a break-even there"
    if row["at"] is None:
        low, high = row["range"]["low"], row["range"]["high"]
        return f"{head}{row['answer']} from {low:.4g} to {high:.4g}; {share}"
    return f"{head}break-even at {_spelled(row['at'])}, lower {row['lower_side']} it; {share}"


def _share_lines(rows: list[dict[str, Any]]) -> list[str]:
    """Return the inputs with a share to speak of as a line each, and one line for all others."""
    told = [row for row in rows if abs(row["share"]) >= LEAST]
    others = f"  All other inputs: less than {LEAST:.0%} of the spread each; --json names them"
    return [*(_share_line(row) for row in told), *([others] if len(told) < len(rows) else [])]


def _share_line(row: dict[str, Any]) -> str:
    if row["share"] <= 0.0:
        return f"  {row['sentence']}"
    return f"  {row['sentence']} ({row['share']:.0%}; the interval would narrow by {row['narrower']:.0%} at most)"


SEED = click.option("--seed", type=click.IntRange(min=0), help="Seed of the uncertainty run; printed in every output.")
DRAWS = click.option(
    "--draws",
    type=click.IntRange(min=100, max=1_000_000),
    help="Draws of the uncertainty run; printed in every output.",
)


def _given(**options: Any) -> dict[str, Any]:
    return {name: value for name, value in options.items() if value is not None}


def _show(document: dict[str, Any], text: str, *, as_json: bool) -> None:
    click.echo(json.dumps(document, ensure_ascii=False, allow_nan=False) if as_json else text)


@click.command()
@FOLDER
@click.option("--part", help=f"The part into which each binder is put; {ONLY_PART}.")
@SEED
@DRAWS
@JSON
def binders(folder: Path, part: str | None, seed: int | None, draws: int | None, as_json: bool) -> None:
    """Compare the binders for one part of FOLDER.

    Example: impact binders impact-demo --part tool-tray
    """
    from impact.base.problems import ProblemsError
    from impact.decisions.binders import compare_binders
    from impact.decisions.choices import binders_document, binders_text

    opened = open_folder(folder)
    name = part_of(part, opened)
    try:
        found = compare_binders(
            opened.workshop, opened.batches, opened.factors, name, names=opened.names, **_given(seed=seed, draws=draws)
        )
    except ProblemsError as error:
        stop(error.problems)
    _show(binders_document(found), binders_text(found), as_json=as_json)


@click.command()
@FOLDER
@click.option("--part", help=f"The part that is pressed; {ONLY_PART}.")
@click.option("--sessions", type=click.IntRange(1, 10_000), required=True, help="How many sessions.")
@click.option("--people", type=click.IntRange(1, 10_000), required=True, help="People in each session.")
@click.option(
    "--parts-per-person",
    type=click.IntRange(1, 1_000),
    default=1,
    show_default=True,
    help="Parts that each presses in a session.",
)
@click.option("--budget", type=click.FloatRange(min=0.0), help="Money at hand, in the workshop's currency.")
@SEED
@DRAWS
@JSON
def forecast(
    folder: Path,
    part: str | None,
    sessions: int,
    people: int,
    parts_per_person: int,
    budget: float | None,
    seed: int | None,
    draws: int | None,
    as_json: bool,
) -> None:
    """Foresee what the next sessions of one part of FOLDER take and give.

    Example: impact forecast impact-demo --part tool-tray --sessions 8 --people 30 --budget 200
    """
    from impact.account.assessment import DEFAULT_SEED
    from impact.base.problems import ProblemsError
    from impact.decisions.choices import forecast_document, forecast_text
    from impact.decisions.forecast import ForecastError
    from impact.decisions.forecast import forecast as foresee
    from impact.factors.values import generator

    opened = open_folder(folder)
    chosen = DEFAULT_SEED if seed is None else seed
    name = part_of(part, opened)
    try:
        plan = foresee(
            opened.workshop,
            opened.batches,
            opened.factors,
            part=name,
            sessions=sessions,
            people=people,
            parts_per_person=parts_per_person,
            rng=generator(chosen, "forecast"),
            budget=budget,
            seed=chosen,
            names=opened.names,
            **_given(draws=draws),
        )
    except ProblemsError as error:
        stop(error.problems)
    except ForecastError as error:
        raise click.ClickException(str(error)) from None
    _show(forecast_document(plan), forecast_text(plan), as_json=as_json)
