"""The command that makes a new workshop folder: thin, one call."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from impact.cli.terminal import OneLine

if TYPE_CHECKING:
    from impact.base.catalogue import Names
    from impact.records.workshop import Units


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--country", help="Country by name or code (ISO 3166-1), such as DEU; else the one of LC_ALL or LANG.")
@click.option(
    "--units",
    type=click.Choice(["metric", "us"]),
    default="metric",
    show_default=True,
    help="Units of the log sheet, of the examples and of reports.",
)
@click.option("--name", help="Name of the workshop; else the name of the folder.")
def new(folder: Path, country: str | None, units: Units, name: str | None) -> None:
    """Make a new workshop folder, with settings and a log to fill in.

    Example: impact new my-workshop --country DEU
    """
    from impact.base.catalogue import currency_of, read_names
    from impact.base.locale import paper_size
    from impact.records.new import FILES, Starter, StarterError, make_folder

    names = read_names()
    code, found_in = _country(country, names)
    settings = Starter(_name(name, folder), code, found_in, units)
    with OneLine(StarterError):
        make_folder(folder, settings, names)
    words = "in g, L and km; --units us: oz, US qt and mi" if units == "metric" else "in oz, US qt and mi"
    click.echo(f"made {folder} with {', '.join(FILES)}")
    click.echo(
        f"country: {names.countries[code]} ({code}), from {found_in}; change it in workshop.toml if that is wrong"
    )
    money = currency_of(code)
    click.echo(f"units: {units} ({words}); paper: {paper_size(code)}" + (f"; money: {money}" if money else ""))
    click.echo("next: put your device, mould and part in the place of the examples, type batches into batches.xlsx,")
    click.echo(f"and see with `impact check {folder}` whether all can be read")


def _country(typed: str | None, names: Names) -> tuple[str, str]:
    """Return a country and where it was found; end with status 2 where nothing names a known one."""
    from impact.base.locale import VARIABLES, territory
    from impact.base.problems import choices, shown, which_of

    if typed is not None:
        meant = names.meant("country", typed, names.countries)
        if len(meant) == 1:
            return meant[0], "--country"
        if meant:
            raise click.UsageError(f"--country: {which_of(shown(typed), meant, names.countries)}")
        accepted = choices(typed, names.countries, names.countries)
        raise click.UsageError(f'--country: read "{shown(typed)}": unknown country. Accepted: {accepted}.')
    found = territory(os.environ, names.country_codes)
    if found is not None:
        return found.country, found.found_in
    said = ", ".join(f"{name}={shown(os.environ[name])}" for name in VARIABLES if os.environ.get(name))
    raise click.UsageError(
        f"which country? Electricity, landfill and recycling differ by country, and the settings of the system name none "
        f"({said or 'neither LC_ALL nor LANG is set'}). Add it as three letters, such as --country DEU."
    )


def _name(typed: str | None, folder: Path) -> str:
    name = (folder.resolve().name if typed is None else typed).strip()
    if not name or not name.isprintable():
        raise click.UsageError("--name: a name of letters, numbers and spaces is needed")
    return name
