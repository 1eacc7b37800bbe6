"""The commands that help to decide: `breakeven`, `binders` and `forecast`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from impact.base.defaults import DEFAULT_DRAWS, DEFAULT_SEED
from impact.cli.terminal import (
    FOLDER,
    JSON,
    OneLine,
    days_of,
    narrowing_for_forecast,
    narrowing_for_part,
    open_folder,
    options,
    part_of,
    print_json,
)
from impact.report.kinds import TERM

if TYPE_CHECKING:
    import pandas as pd

    from impact.api import Folder

Found = TypeVar("Found")


@dataclass(frozen=True)
class _Chosen:
    """A folder, the part that a command is about, the batches that count and their first and last day."""

    opened: Folder
    part: str
    batches: pd.DataFrame
    start: date
    end: date

    @classmethod
    def of(cls, folder: Path, *, part: str | None, period: str | None, site: str | None, grant: str | None) -> _Chosen:
        """Return what the options of a command choose; end with status 1 or 2 where that is nothing."""
        days = days_of(period)
        opened = open_folder(folder)
        days = opened.days_for(grant, days)[1]
        wanted = part_of(part, opened)
        name = str(opened.narrowed(period=days, part=wanted, site=site)["part"].iloc[0])
        batches = opened.narrowed(period=days, site=site)
        return cls(opened, name, batches, *(days or (batches["date"].min().date(), batches["date"].max().date())))

    @property
    def records(self) -> dict[str, Any]:
        """What every command works with, by the names of arguments."""
        opened = self.opened
        known = {"workshop": opened.workshop, "factors": opened.factors, "names": opened.names, "part": self.part}
        return {**known, "batches": self.batches, "all_batches": opened.batches}


@click.command()
@FOLDER
@narrowing_for_part
@JSON
def breakeven(folder: Path, as_json: bool, seed: int | None, draws: int | None, **chosen: str | None) -> None:
    """Print where a part breaks even with its plastic part.

    Also what would lower it most, and what to measure next. Each variable is changed alone: drying, electricity,
    pressings, binder-dose, service-life, reject-rate, transport, mould-mass, and the shares of parts that go to
    landfill, composting or recycling in the end.

    Example: impact breakeven impact-demo --part tool-tray
    """
    counted = _Chosen.of(folder, **chosen)
    from impact.cli.decisions_text import breakeven_text
    from impact.decisions.breakeven import breakeven as solve
    from impact.decisions.levers import levers
    from impact.decisions.scenario import scenario_of
    from impact.decisions.sensitivity import Sensitivity, measure_next

    run: dict[str, Any] = {"seed": DEFAULT_SEED, "draws": DEFAULT_DRAWS, **_given({"seed": seed, "draws": draws})}
    records = scenario_of(**counted.records, **run)
    found, lowers, spread = solve(records), levers(records, counted.opened.names), measure_next(records)
    _show(
        Sensitivity(
            counted.opened.workshop, counted.start, counted.end, **run, found=found, levers=lowers, measure_next=spread
        ),
        breakeven_text,
        as_json=as_json,
    )


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
@narrowing_for_part
@JSON
def binders(folder: Path, as_json: bool, seed: int | None, draws: int | None, **chosen: str | None) -> None:
    """Compare the binders for one part of FOLDER.

    Example: impact binders impact-demo --part tool-tray
    """
    counted = _Chosen.of(folder, **chosen)
    from impact.cli.decisions_text import binders_text
    from impact.decisions.binders import compare_binders

    run = _given({"seed": seed, "draws": draws})
    found = compare_binders(**counted.records, **run)
    _show(found, binders_text, as_json=as_json)


PLAN = options(
    *(
        click.option(
            question.option,
            type=click.IntRange(1, question.most),
            default=question.usual,
            show_default=True,
            help=f"{question.meaning.capitalize()}.",
        )
        for question in TERM
    )
)
"""The options that say what is planned, with the usual numbers of the report for a school."""


@click.command()
@FOLDER
@PLAN
@click.option("--budget", type=click.FloatRange(min=0.0), help="Money at hand, in the workshop's currency.")
@narrowing_for_forecast
@JSON
def forecast(
    folder: Path,
    as_json: bool,
    part: str | None,
    period: str | None,
    site: str | None,
    grant: str | None,
    seed: int | None,
    **asked: Any,
) -> None:
    """Foresee what the next sessions of one part take and give.

    They are drawn from the batches that the options choose; the way to a target counts every batch.

    Example: impact forecast impact-demo --part tool-tray --sessions 8 --people 30 --budget 200
    """
    counted = _Chosen.of(folder, part=part, period=period, site=site, grant=grant)
    from impact.cli.decisions_text import forecast_text
    from impact.decisions.forecast import ForecastError
    from impact.decisions.forecast import forecast as foresee
    from impact.factors.values import generator

    seed = DEFAULT_SEED if seed is None else seed
    run = {"rng": generator(seed, "forecast"), "seed": seed, **_given(asked)}
    with OneLine(ForecastError):
        plan = foresee(**counted.records, **run)
    _show(plan, forecast_text, as_json=as_json)
