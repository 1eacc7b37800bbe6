"""The command line: arguments in, one call, output out."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impact import __version__
from impact.commands_choices import binders, forecast
from impact.commands_decisions import breakeven
from impact.commands_export import export
from impact.commands_factors import factors
from impact.commands_new import new
from impact.terminal import FOLDER, FORCE, JSON, OneLineGroup, narrowing, open_folder, results_of, show, write

if TYPE_CHECKING:
    from impact.problems import Problem
    from impact.results import Results


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
@click.option("--mark", type=click.Path(path_type=Path), help="Write a copy of the log here (.xlsx), problems marked.")
@FORCE
@JSON
def check(folder: Path, strict: bool, everything: bool, mark: Path | None, force: bool, as_json: bool) -> None:
    """Print every problem and warning in the records of FOLDER.

    Example: impact check my-workshop --strict --mark marked.xlsx
    """
    from impact.api import read_folder
    from impact.problems import ProblemsError, errors

    opened, problems = read_folder(folder)
    if opened is not None:
        try:
            problems = list(opened.assess(draws=100).warnings)
        except ProblemsError as error:
            problems = [*problems, *error.problems]
    if mark is not None:
        _write_marked(folder, problems, mark, force=force)
    if as_json:
        click.echo(json.dumps({"schema": "impact-check/1", "problems": [problem.as_dict() for problem in problems]}))
    elif problems:
        show(problems, everything=everything)
    else:
        click.echo("no problems found")
    if errors(problems) or (strict and problems):
        raise SystemExit(1)


def _write_marked(folder: Path, problems: list[Problem], target: Path, *, force: bool) -> None:
    from impact.markedlog import MarkError, marked_log
    from impact.outputs import OutputError, check_free

    if target.suffix != ".xlsx":
        raise click.UsageError(f"{target}: the name of a marked copy ends in .xlsx")
    if target.resolve().parent == folder.resolve() and target.stem in ("batches", "parts"):
        raise click.UsageError(f"{target}: this is the name of the records themselves")
    try:
        check_free(target, force=force)
        content = marked_log(folder, problems)
    except (MarkError, OutputError) as error:
        raise click.ClickException(str(error)) from None
    write(target, content, force=force)
    click.echo(f"wrote {target}", err=True)


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


@main.command()
@FOLDER
@click.option(
    "--for",
    "reader",
    type=click.Choice(["funder"]),
    default="funder",
    show_default=True,
    help="Whom the report is for.",
)
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    help="Where to write, .pdf or .html by its name; by default funder.pdf in the current folder.",
)
@FORCE
@narrowing
def report(folder: Path, reader: str, output: Path | None, force: bool, **options: Any) -> None:
    """Write the report of FOLDER as PDF or HTML, by default to funder.pdf in the current folder.

    Example: impact report my-workshop --for funder -o 2026.pdf
    """
    from impact.outputs import OutputError, check_free

    target = output or Path(f"{reader}.pdf")
    if target.suffix not in (".pdf", ".html"):
        raise click.UsageError(f"{target}: the name of a report ends in .pdf or .html")
    try:
        check_free(target, force=force)
    except OutputError as error:
        raise click.ClickException(str(error)) from None
    results = results_of(folder, **options)
    write(target, _rendered(results, reader, target.suffix), force=force)
    click.echo(f"wrote {target}")


def _rendered(results: Results, reader: str, suffix: str) -> bytes:
    from impact.report.render import RenderError, render_html, render_pdf

    try:
        return render_pdf(results, reader) if suffix == ".pdf" else render_html(results, reader).encode()
    except RenderError as error:
        raise click.ClickException(str(error)) from None


@main.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path("impact-demo"))
def demo(folder: Path) -> None:
    """Copy the demo workshop to FOLDER (impact-demo) and write its report there.

    The records of the demo are invented. Example: impact demo try-it
    """
    from impact.demonstration import DemoError, copy_demo

    try:
        copy_demo(folder)
    except DemoError as error:
        raise click.ClickException(str(error)) from None
    results = open_folder(folder).assess()
    reports = folder / "reports"
    reports.mkdir(exist_ok=True)
    write(reports / "funder.pdf", _rendered(results, "funder", ".pdf"), force=True)
    click.echo(f"copied the demo workshop to {folder} (invented records)")
    click.echo(f"wrote {reports / 'funder.pdf'}")


main.add_command(binders)
main.add_command(breakeven)
main.add_command(export)
main.add_command(factors)
main.add_command(forecast)
main.add_command(new)

if __name__ == "__main__":
    sys.exit(main())
