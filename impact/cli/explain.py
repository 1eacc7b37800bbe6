"""The command `explain`: the arithmetic behind one figure, down to records, settings and factor rows."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from impact.cli.terminal import FOLDER, JSON, narrowing, print_json, results_of


@click.command()
@FOLDER
@click.argument("figure", required=False)
@click.option(
    "--depth", type=click.IntRange(min=1), help="Levels of the tree to print, of a FIGURE named whole; all by default."
)
@narrowing
@JSON
def explain(folder: Path, figure: str | None, depth: int | None, as_json: bool, **options: Any) -> None:
    """Print how a FIGURE follows from records, settings and factors.

    Figures go by their place in `impact totals --json`. Without one, or with the start of a name, the names are listed.

    Example: impact explain impact-demo parts.tool-tray.footprint_kgco2e --depth 3
    """
    from impact.base.serial import plain
    from impact.cli.explanation_text import as_list, as_text
    from impact.trace.explanation import chosen, derivations, explanation, listing

    results = results_of(folder, **options, keep=True)
    known = derivations(results)
    explained, listed = chosen(figure, list(known)) if figure is not None else ([], list(known))
    if listed and depth is not None:
        raise click.UsageError(_no_tree(figure, listed))
    if explained:
        document = plain(explanation(results, explained, known))
    elif listed:
        document = plain(listing(results, {name: known[name] for name in listed}))
    else:
        raise click.UsageError(_unknown(figure or "", list(known)))
    if as_json:
        print_json(document)
    else:
        click.echo(as_text(document, depth=depth) if explained else as_list(document))


def _no_tree(figure: str | None, listed: list[str]) -> str:
    """Return what to say where levels are asked for and no whole name is given."""
    from impact.trace.explanation import nearest_figures

    start = "no figure is named" if figure is None else f'"{figure}" is only the start of names'
    near = ", ".join(nearest_figures(figure or "", listed))
    return f"--depth: {start}, and a tree needs a whole name. Accepted: the name of a figure, such as {near}."


def _unknown(figure: str, known: list[str]) -> str:
    """Return what to say of a name that no figure has, with the names most like it."""
    from impact.base.problems import READ_WIDTH, nearest, shown
    from impact.trace.explanation import nearest_figures

    near = nearest_figures(figure, known)
    meant = nearest(figure, near)
    asked = f' (did you mean "{meant}"?)' if meant else ""
    return (
        f'there is no figure "{shown(figure, READ_WIDTH)}". Accepted: the name of a figure, such as {", ".join(near)}'
        f'{asked}. The start of a name, such as "parts", lists the names that begin with it; '
        "no name at all lists every one."
    )
