"""Electricity from its factor rows: where it is generated, and at the socket."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from impact.base.sentences import Name, Said
from impact.core import FloatArray, Numbers
from impact.core.footprint import delivered_electricity
from impact.factors.values import Values


@dataclass(frozen=True, slots=True)
class Grid:
    """Electricity of one place: central value, then draws."""

    kgco2e_per_kwh: FloatArray  # delivered [kgCO2e/kWh]
    generated_kgco2e_per_kwh: FloatArray  # the same without the losses of the network [kgCO2e/kWh]
    basis: Said  # how what is delivered is made up, in words
    factors: tuple[str, ...]  # ids of the rows used


def grid_of(
    values: Values, place: str, country: str, regions: tuple[str, ...], *, stated_kgco2e_per_kwh: float | None = None
) -> Grid:
    """Return the electricity of a grid region or a country.

    Direct factors get the fuel supply of their country added, so that both sides of a comparison are
    life-cycle; published network losses are added as they stand, else the loss share is applied.

    Parameters
    ----------
    values : Values
        Factors of the run.
    place : str
        Grid region or country asked for.
    country : str
        Country whose upstream share and loss apply.
    regions : tuple of str
        Where to look when the place itself has no row, nearest first.
    stated_kgco2e_per_kwh : float, optional
        What is delivered, in place of the tables, whose losses are taken. [kgCO2e/kWh]

    Raises
    ------
    MissingFactorError
        When neither the place nor any of the regions has a row.
    """
    with values.trace() as used:
        delivered, basis = at_socket(values, place, country, regions)
        generated = at_plant(values, place, country, regions)
    if stated_kgco2e_per_kwh is not None:
        fixed = np.full(1 + values.draws, stated_kgco2e_per_kwh)
        return Grid(fixed, fixed * generated / delivered, Said("as stated for this run"), ())
    return Grid(np.asarray(delivered), np.asarray(generated), basis, tuple(used))


def at_plant(values: Values, place: str, country: str, regions: tuple[str, ...]) -> Numbers:
    """Return one kWh where it is generated, fuel supply included; arguments as of `grid_of`. [kgCO2e/kWh]"""
    if values.has("electricity.direct", (place,)):
        upstream = values.get("electricity.upstream", (place, country))
        return delivered_electricity(values.get("electricity.direct", (place,)), upstream=upstream)
    return values.get("electricity.life-cycle", (place, *regions))


def at_socket(values: Values, place: str, country: str, regions: tuple[str, ...]) -> tuple[Numbers, Said]:
    """Return one kWh delivered and how it is made up, in words; arguments as of `grid_of`. [kgCO2e/kWh]"""
    if values.has("electricity.direct", (place,)):
        return _from_direct(values, place, country, regions)
    choice = values.choose("electricity.life-cycle", (place, *regions))
    loss = values.get("electricity.loss", (country, *regions))
    series = values.get("electricity.life-cycle", (place, *regions))
    facts = {"place": Name("place", choice.factor.geography)}
    return delivered_electricity(series, loss=loss), Said("life-cycle series ({place}), network losses added", facts)


def _from_direct(values: Values, place: str, country: str, regions: tuple[str, ...]) -> tuple[Numbers, Said]:
    direct = values.get("electricity.direct", (place,))
    upstream = values.get("electricity.upstream", (place, country))
    if values.has("electricity.transmission", (place,)):
        network = values.get("electricity.transmission", (place,))
        network = network + values.get("electricity.upstream-transmission", (place,))
        grid = delivered_electricity(direct, upstream=upstream, network=network)
        facts = {"place": Name("place", place)}
        return grid, Said("direct factor ({place}), with published fuel supply and network losses added", facts)
    loss = values.get("electricity.loss", (place, country, *regions))
    grid = delivered_electricity(direct, upstream=upstream, loss=loss)
    facts = {"place": Name("place", place), "country": Name("place", country)}
    return grid, Said(
        "direct factor ({place}), with the fuel supply of its country ({country}) and network losses added", facts
    )
