"""The command line: arguments in, one call, output out."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impact import __version__
from impact.cli.terminal import (
    BESIDE,
    FOLDER,
    FORCE,
    JSON,
    Commands,
    OneLine,
    OneLineGroup,
    narrowing,
    programme_results_of,
    results_of,
    show,
    spread_over,
    spreading,
    write,
)

if TYPE_CHECKING:
    from impact.api import Folder
    from impact.base.problems import Problem
    from impact.programme import Programme, ProgrammeResults
    from impact.study import Study


ELSEWHERE = {
    "binders": "decisions.binders", "breakeven": "decisions.breakeven", "demo": "report.demo", "explain": "explain.explain",
    "export": "export.export", "factors": "factors.factors", "forecast": "decisions.forecast", "help": "help.help_on",
    "new": "new.new", "open": "open.open_pages", "report": "report.report", "verify": "verify.verify",
}  # fmt: skip
"""The other commands, each with its module and its name there."""


@click.group(cls=OneLineGroup, commands=Commands(ELSEWHERE), context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="impact")
def main() -> None:
    """Landfill diversion, footprint and compostability of parts moulded from waste paper.

    A workshop keeps a folder with workshop.toml, parts.csv and a log of batches (batches.csv, .xlsx or .parquet);
    the commands read it.
    Start with `impact demo`, which makes a report from invented records.
    """


@main.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path())
@click.option("--strict", is_flag=True, help="Count warnings as errors.")
@click.option(
    "--all",
    "everything",
    is_flag=True,
    help="Show every problem on a line of its own; else alike ones share a line, and twenty lines are shown.",
)
@click.option("--mark", type=click.Path(path_type=Path), help="Write a copy of the log here (.xlsx), problems marked.")
@FORCE
@spreading
@JSON
def check(
    folder: Path,
    strict: bool,
    everything: bool,
    mark: Path | None,
    force: bool,
    workers: int | None,
    scheduler: str | None,
    as_json: bool,
) -> None:
    """Print every error and warning in the records of FOLDER.

    FOLDER is a workshop, or a folder of several; by default the current one.

    Example: impact check my-workshop --strict --mark marked.xlsx
    """
    from impact.api import read_folder
    from impact.base.problems import Check, ProblemsError, errors
    from impact.base.serial import plain
    from impact.records.files import beside, workshops_in

    several = bool(workshops_in(folder))
    if mark is not None and several:
        raise click.UsageError(f"{folder} is a folder of workshops; --mark is for the log of one of them.")
    with spread_over(workers, scheduler) as spread:
        opened: Programme | Folder | None
        if several:
            from impact.programme import read_programme

            opened, problems = read_programme(folder, spread=spread)
        else:
            opened, problems = read_folder(folder, keep=False, spread=spread, today=date.today())
        if opened is not None:
            try:
                problems = list(opened.doubts(draws=100, today=date.today()))
            except ProblemsError as error:
                problems = [*problems, *error.problems]
    problems = [*problems, *beside(folder)]
    if mark is not None:
        _write_marked(folder, problems, mark, force=force)
    if as_json:
        click.echo(json.dumps(plain(Check(problems))))
    elif problems:
        show(problems, everything=everything)
    else:
        click.echo("no problems found")
    if errors(problems) or (strict and problems):
        raise SystemExit(1)


def _write_marked(folder: Path, problems: list[Problem], target: Path, *, force: bool) -> None:
    from impact.base.files import OutputError, check_free
    from impact.records.markedlog import MarkError, marked_log

    if target.suffix != ".xlsx":
        raise click.UsageError(f"{target}: the name of a marked copy ends in .xlsx")
    if target.resolve().parent == folder.resolve() and target.stem in ("batches", "parts"):
        raise click.UsageError(f"{target}: this is the name of the records themselves")
    if not folder.is_dir():  # there is no log to copy, and the problems say so
        return
    with OneLine(MarkError, OutputError):
        check_free(target, force=force)
        content = marked_log(folder, problems)
    write(target, content, force=force, err=True)


@main.command()
@FOLDER
@narrowing
@BESIDE
@spreading
@click.option("--by-site", is_flag=True, help="Give the figures of each site as well.")
@click.option("--all", "everything", is_flag=True, help="Print all tables; else the main ones. --json always has all.")
@JSON
def totals(
    folder: Path,
    everything: bool,
    as_json: bool,
    workers: int | None,
    scheduler: str | None,
    by_site: bool,
    beside: str | None,
    **options: Any,
) -> None:
    """Print the figures of FOLDER as tables, or as JSON.

    Of a folder of several workshops, by site and together. Batches kept in parts, as batches/*.parquet or *.csv, may be read by several processes or machines.
    Example: impact totals my-workshop --period 2026-Q1
    """
    from impact.records.files import workshops_in

    if beside is not None and workshops_in(folder):
        raise click.UsageError(f"{folder} is a folder of workshops; --beside is for one of them.")
    results: Study | ProgrammeResults
    with spread_over(workers, scheduler) as spread:
        if workshops_in(folder):
            results = programme_results_of(folder, **options, spread=spread)
        else:
            results = results_of(folder, **options, spread=spread, by_site=by_site, beside=beside)
    if as_json:
        click.echo(json.dumps(_document(results), ensure_ascii=False, allow_nan=False))
    else:
        click.echo(_text(results, everything=everything))


def _document(results: Study | ProgrammeResults) -> dict[str, Any]:
    from impact.programme import ProgrammeResults

    if not isinstance(results, ProgrammeResults) and "site" in results.inventory.groups:
        from impact.account.sums import SiteAccount, by_site
        from impact.base.progress import track

        sites = track(by_site(results), "sites", unit="sites")
        results = replace(results, sites=tuple(map(SiteAccount, sites)))
    return results.as_totals()


def _text(results: Study | ProgrammeResults, *, everything: bool) -> str:
    from impact.cli.totals_text import as_text, programme_text
    from impact.programme import ProgrammeResults

    return programme_text(results) if isinstance(results, ProgrammeResults) else as_text(results, everything=everything)
