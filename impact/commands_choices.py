"""The commands that compare binders and look ahead: thin, one call each."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from impact.terminal import FOLDER, JSON, ONLY_PART, open_folder, part_of, stop

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
    from impact.binders import compare_binders
    from impact.choices import binders_document, binders_text
    from impact.problems import ProblemsError

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
    from impact.assessment import DEFAULT_SEED
    from impact.choices import forecast_document, forecast_text
    from impact.forecast import ForecastError
    from impact.forecast import forecast as foresee
    from impact.problems import ProblemsError
    from impact.values import generator

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
