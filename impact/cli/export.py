"""The command that writes the workbook: thin, one call."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from impact.cli.terminal import FOLDER, FORCE, narrowing, results_of, write


@click.command()
@FOLDER
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    default=Path("impact.xlsx"),
    show_default=True,
    help="Where to write; the name ends in .xlsx.",
)
@FORCE
@narrowing
def export(folder: Path, output: Path, force: bool, **options: Any) -> None:
    """Write records, factors and results of FOLDER as a workbook whose headline figures are live formulas.

    Example: impact export my-workshop -o 2026.xlsx --period 2026
    """
    from impact.base.files import OutputError, check_free

    if output.suffix != ".xlsx":
        raise click.UsageError(f"{output}: the name of a workbook ends in .xlsx")
    try:
        check_free(output, force=force)
    except OutputError as error:
        raise click.ClickException(str(error)) from None
    results = results_of(folder, **options, keep=True)
    from impact.tables.xlsx_out import TooLongError
    from impact.trace.workbook import workbook

    try:
        content = workbook(results)
    except TooLongError as error:
        raise click.ClickException(str(error)) from None
    write(output, content, force=force)
    click.echo(f"wrote {output}")
