"""The commands about factor tables: list the rows, show one, check a workshop's own table."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from impact.cli.terminal import JSON, OneLineGroup, print_json, show, stop

if TYPE_CHECKING:
    from collections.abc import Iterable

    from impact.factors.factorset import FactorSet

IN_FOLDER = click.option(
    "--in",
    "folder",
    type=click.Path(path_type=Path),
    help="Count in the own values of this workshop folder (its factors.csv or factors.xlsx, its binders).",
)


@click.group(cls=OneLineGroup)
def factors() -> None:
    """Look at the factor tables.

    Every number, its source and its use.

    Example: impact factors show electricity.life-cycle/USA
    """


def _read(folder: Path | None) -> FactorSet:
    """Return the shipped factors, with the own values of a folder; end with status 1 when these have errors."""
    from impact.base.catalogue import read_names
    from impact.base.problems import errors
    from impact.factors.factorset import read_factors
    from impact.factors.own import own_factors
    from impact.factors.ownbinders import with_own_binders
    from impact.records.workshop_file import no_folder, read_workshop

    shipped = read_factors()
    if folder is None:
        return shipped
    if not folder.is_dir():
        stop([no_folder(folder)])
    workshop, _ = read_workshop(folder, read_names())  # its faults are for `impact check` to tell
    found, problems = own_factors(folder, with_own_binders(shipped, workshop) if workshop else shipped)
    if errors(problems):
        stop(problems)
    return found


def _known(option: str, wanted: str | None, names: Iterable[str], *, list_all: bool) -> None:
    """End with status 2 when `wanted` is none of the names."""
    from impact.base.problems import choices, near_names

    known = set(names)
    if wanted is None or wanted.casefold() in {name.casefold() for name in known}:
        return
    near = ", ".join(near_names(wanted, sorted(known)))
    hint = choices(wanted, known) if list_all else f"codes such as {near or 'USA, US-CAMX or world'}"
    raise click.UsageError(f'{option}: read "{wanted}", which no row has. Accepted: {hint}.')


@factors.command("list")
@click.option("--kind", help="Only the rows of one table, such as binders.")
@click.option("--region", help="Only the rows of one country, grid or group, such as GBR, US-CAMX or world.")
@click.option("--evidence", help='Only rows known in one way, such as "from memory".')
@click.option("--text", help="Only rows with all these words in the id, the description, the notes or the source.")
@click.option("--count", is_flag=True, help="Print how many there are, by table and by how they are known.")
@IN_FOLDER
@JSON
def list_rows(count: bool, folder: Path | None, as_json: bool, **filters: str | None) -> None:
    """List the factors, or those that pass the filters.

    Example: impact factors list --kind electricity --region GBR
    """
    from impact.factors.rows import EVIDENCE_WORDS
    from impact.factors.views import Rows, count_table, selected, table

    if count and as_json:
        raise click.UsageError("--count prints a table and --json every row; give one of them.")
    at_hand = _read(folder)
    _known("--kind", filters["kind"], (factor.kind for factor in at_hand), list_all=True)
    _known("--region", filters["region"], (factor.geography for factor in at_hand), list_all=False)
    _known("--evidence", filters["evidence"], EVIDENCE_WORDS, list_all=True)
    chosen = selected(at_hand, **filters)
    if as_json:
        print_json(Rows(chosen))
        return
    if chosen:
        click.echo((count_table if count else table)(chosen) + "\n")
    click.echo(f"{len(chosen)} of {len(list(at_hand))} factors")


@factors.command("show")
@click.argument("factor_id", metavar="ID")
@IN_FOLDER
@JSON
def show_row(factor_id: str, folder: Path | None, as_json: bool) -> None:
    """Show one factor: value, interval, source, arithmetic, use.

    Example: impact factors show polymer.formed.PP/GBR --in my-workshop
    """
    from impact.factors.views import as_text, card, near_ids

    at_hand = _read(folder)
    shown = card(at_hand, factor_id)
    if shown is None:
        near = near_ids(factor_id, at_hand)
        hint = f"Nearest known ids: {', '.join(near)}." if near else "`impact factors list` shows all ids."
        raise click.UsageError(f'no factor has the id "{factor_id}". {hint}')
    if as_json:
        print_json(shown)
    else:
        click.echo(as_text(shown))


@factors.command("check")
@click.argument("table", metavar="FILE", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@JSON
def check_table(table: Path, as_json: bool) -> None:
    """Print every problem in FILE, your own factors.csv or .xlsx.

    Example: impact factors check my-workshop/factors.csv
    """
    from impact.base.problems import Check, counted, errors
    from impact.base.serial import plain
    from impact.factors.factorset import read_factors
    from impact.factors.own import read_own_factors

    shipped = read_factors()
    found, problems = read_own_factors(table, shipped)
    if as_json:
        click.echo(json.dumps(plain(Check(problems))))
    elif problems:
        show(sorted(problems, key=lambda problem: problem.row or 0), everything=True)
    else:
        added, replaced = len(list(found)) - len(list(shipped)), len(found.shipped)
        click.echo(
            f"no problems found: {counted(replaced, 'row')} {'replaces' if replaced == 1 else 'replace'} a shipped factor, "
            f"{added} {'adds' if added == 1 else 'add'} one"
        )
    if errors(problems):
        raise SystemExit(1)
