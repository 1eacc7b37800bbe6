"""The command line: arguments in, one call, output out."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from impact import __version__
from impact.commands_choices import binders, forecast
from impact.commands_decisions import breakeven
from impact.commands_factors import factors
from impact.commands_report import demo, report
from impact.commands_verify import verify
from impact.terminal import FOLDER, JSON, OneLineGroup, narrowing, results_of, show


@click.group(cls=OneLineGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="impact")
def main() -> None:
    """Landfill diversion, footprint and compostability of parts moulded from waste paper.

    A workshop keeps a folder with workshop.toml, parts.csv and batches.csv; the commands read it.
    Start with `impact demo`, which makes a report from invented records.
    """


@main.command()
@FOLDER
@click.option("--strict", is_flag=True, help="Count warnings as errors.")
@click.option("--all", "everything", is_flag=True, help="Show every problem, not only the first twenty.")
@JSON
def check(folder: Path, strict: bool, everything: bool, as_json: bool) -> None:
    """Print every problem and warning in the records of FOLDER.

    Example: impact check my-workshop --strict
    """
    from impact.api import read_folder
    from impact.problems import ProblemsError, errors

    opened, problems = read_folder(folder, keep=False)
    if opened is not None:
        try:
            problems = list(opened.assess(draws=100).warnings)
        except ProblemsError as error:
            problems = [*problems, *error.problems]
    if as_json:
        click.echo(json.dumps({"schema": "impact-check/1", "problems": [problem.as_dict() for problem in problems]}))
    elif problems:
        show(problems, everything=everything)
    else:
        click.echo("no problems found")
    if errors(problems) or (strict and problems):
        raise SystemExit(1)


@main.command()
@FOLDER
@narrowing
@JSON
def totals(folder: Path, as_json: bool, **options: Any) -> None:
    """Print the figures of FOLDER as tables, or as JSON.

    Example: impact totals my-workshop --period 2026-Q1
    """
    results = results_of(folder, **options)
    if as_json:
        click.echo(json.dumps(results.as_totals(), ensure_ascii=False, allow_nan=False))
        return
    from impact.totals import as_text

    click.echo(as_text(results))


main.add_command(binders)
main.add_command(breakeven)
main.add_command(demo)
main.add_command(factors)
main.add_command(forecast)
main.add_command(report)
main.add_command(verify)

if __name__ == "__main__":
    sys.exit(main())
