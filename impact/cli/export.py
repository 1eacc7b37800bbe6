"""The command that writes the workbook: thin, one call."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from impact.cli.terminal import FOLDER, FORCE, OneLine, narrowing, require_free, results_of, write


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
    """Write a workbook whose headline figures are live formulas.

    It holds the records, factors and results of FOLDER.

    Example: impact export my-workshop -o 2026.xlsx --period 2026
    """
    require_free(output, "a workbook", ".xlsx", force=force)
    results = results_of(folder, **options, keep=True)
    from impact.tables.xlsx_out import TooLongError
    from impact.trace.workbook import workbook

    with OneLine(TooLongError):
        content = workbook(results)
    write(output, content, force=force)
