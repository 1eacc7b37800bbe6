"""The commands that help to decide: `breakeven`, `binders` and `forecast`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

import click

from impact.cli.terminal import (
    DRAWS,
    FOLDER,
    JSON,
    ONLY_PART,
    SEED,
    OneLine,
    days_of,
    narrowing_for_part,
    open_folder,
    part_of,
    print_json,
)

Found = TypeVar("Found")


@click.command()
@FOLDER
@narrowing_for_part
@JSON
def breakeven(folder: Path, part: str | None, period: str | None, site: str | None, as_json: bool, **run: Any) -> None:
    """Print where a part of FOLDER breaks even with plastic, what would lower it most, and what to measure next.

    Each variable is changed alone: drying, electricity, pressings, binder-dose, service-life, reject-rate, transport,
    mould-mass, and the shares of parts that go to landfill, composting or recycling in the end.

    Example: impact breakeven impact-demo --part tool-tray
    """
    days = days_of(period)
    opened = open_folder(folder)
    from impact.account.assessment import DEFAULT_DRAWS, DEFAULT_SEED
    from impact.cli.decisions_text import breakeven_text
    from impact.decisions.breakeven import breakeven as solve
    from impact.decisions.levers import levers
    from impact.decisions.sensitivity import Sensitivity, measure_next
    from impact.decisions.whatif import scenario_of

    wanted = part_of(part, opened)
    name = str(opened.narrowed(period=days, part=wanted, site=site)["part"].iloc[0])
    batches = opened.narrowed(period=days, site=site)
    run = {"seed": DEFAULT_SEED, "draws": DEFAULT_DRAWS, **_given(run)}
    shared: dict[str, Any] = {**run, "names": opened.names, "all_batches": opened.batches}
    records = scenario_of(opened.workshop, batches, opened.factors, name, **shared)
    found, lowers, spread = solve(records), levers(records), measure_next(records)
    start, end = days or (batches["date"].min().date(), batches["date"].max().date())
    _show(
        Sensitivity(opened.workshop, start, end, **run, found=found, levers=lowers, measure_next=spread),
        breakeven_text,
        as_json=as_json,
    )


DRAWN = click.option("--draws", type=DRAWS, help="Draws of the uncertainty run; printed in every output.")


def _given(options: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in options.items() if value is not None}


def _show(found: Found, text: Callable[[Found], str], *, as_json: bool) -> None:
    """Print what a command found, as JSON or as text."""
    if as_json:
        print_json(found)
    else:
        click.echo(text(found))


@click.command()
@FOLDER
@click.option("--part", help=f"The part into which each binder is put; {ONLY_PART}.")
@SEED
@DRAWN
@JSON
def binders(folder: Path, part: str | None, as_json: bool, **run: Any) -> None:
    """Compare the binders for one part of FOLDER.

    Example: impact binders impact-demo --part tool-tray
    """
    from impact.cli.decisions_text import binders_text
    from impact.decisions.binders import compare_binders

    opened = open_folder(folder)
    records = (opened.workshop, opened.batches, opened.factors)
    found = compare_binders(*records, part_of(part, opened), names=opened.names, **_given(run))
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
@DRAWN
@JSON
def forecast(folder: Path, part: str | None, seed: int | None, as_json: bool, **asked: Any) -> None:
    """Foresee what the next sessions of one part of FOLDER take and give.

    Example: impact forecast impact-demo --part tool-tray --sessions 8 --people 30 --budget 200
    """
    from impact.account.assessment import DEFAULT_SEED
    from impact.cli.decisions_text import forecast_text
    from impact.decisions.forecast import ForecastError
    from impact.decisions.forecast import forecast as foresee
    from impact.factors.values import generator

    opened = open_folder(folder)
    seed = DEFAULT_SEED if seed is None else seed
    run = {"rng": generator(seed, "forecast"), "seed": seed, "names": opened.names, **_given(asked)}
    with OneLine(ForecastError):
        plan = foresee(opened.workshop, opened.batches, opened.factors, part=part_of(part, opened), **run)
    _show(plan, forecast_text, as_json=as_json)
