"""The commands that help to decide: `breakeven`, `binders` and `forecast`."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from impact.cli.terminal import FOLDER, JSON, ONLY_PART, days_of, narrowing_for_part, open_folder, part_of, stop

if TYPE_CHECKING:
    from impact.decisions.sensitivity import Sensitivity

Found = TypeVar("Found")


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
    from impact.cli.decisions_text import breakeven_text

    try:
        found = _sensitivity(folder, part, period, site, seed, draws)
    except ProblemsError as error:
        stop(error.problems)
    _show(found, breakeven_text, as_json=as_json)


def _sensitivity(
    folder: Path, part: str | None, period: str | None, site: str | None, seed: int | None, draws: int | None
) -> Sensitivity:
    """Return everything that the command says."""
    days = days_of(period)
    opened = open_folder(folder)
    from impact.account.assessment import DEFAULT_DRAWS, DEFAULT_SEED
    from impact.decisions.breakeven import breakeven as solve
    from impact.decisions.sensitivity import Sensitivity, measure_next

    wanted = part_of(part, opened)
    name = str(opened.narrowed(period=days, part=wanted, site=site)["part"].iloc[0])
    batches = opened.narrowed(period=days, site=site)
    seed = DEFAULT_SEED if seed is None else seed
    draws = DEFAULT_DRAWS if draws is None else draws
    run: dict[str, Any] = {"seed": seed, "draws": draws, "names": opened.names, "all_batches": opened.batches}
    found = solve(opened.workshop, batches, opened.factors, name, **run)
    spread = measure_next(opened.workshop, batches, opened.factors, name, **run)
    dates = batches["date"]
    start, end = days or (dates.min().date(), dates.max().date())
    return Sensitivity(opened.workshop, start, end, seed, draws, found, spread)


SEED = click.option("--seed", type=click.IntRange(min=0), help="Seed of the uncertainty run; printed in every output.")
DRAWS = click.option(
    "--draws",
    type=click.IntRange(min=100, max=1_000_000),
    help="Draws of the uncertainty run; printed in every output.",
)


def _given(**options: Any) -> dict[str, Any]:
    return {name: value for name, value in options.items() if value is not None}


def _show(found: Found, text: Callable[[Found], str], *, as_json: bool) -> None:
    """Print what a command found, as JSON or as text."""
    from impact.base.serial import plain

    click.echo(json.dumps(plain(found), ensure_ascii=False, allow_nan=False) if as_json else text(found))


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
    from impact.cli.decisions_text import binders_text
    from impact.decisions.binders import compare_binders

    opened = open_folder(folder)
    name = part_of(part, opened)
    try:
        found = compare_binders(
            opened.workshop, opened.batches, opened.factors, name, names=opened.names, **_given(seed=seed, draws=draws)
        )
    except ProblemsError as error:
        stop(error.problems)
    _show(found, binders_text, as_json=as_json)


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
    from impact.cli.decisions_text import forecast_text
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
    _show(plan, forecast_text, as_json=as_json)
