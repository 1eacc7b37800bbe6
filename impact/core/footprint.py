"""The moulded part: how one unit of each activity turns into emission.

All of it is multiplication; each function is here once so that the central value, the draws, the
derivations and the decisions share it. Stages follow ISO 14067:2018 clause 6.3 (life-cycle stages).
"""

from __future__ import annotations

import numpy as np

from impact.core import Numbers, require_positive, require_share
from impact.core.moisture import water_to_evaporate
from impact.core.node import equation

LEAST = 1e-300
"""Mass that stands in for none. [kg]"""

ROUNDING = 1e-12
"""Share by which a sum of pressings may be above whole lives by error of arithmetic. [-]"""


@equation(
    "(generation + upstream) / (1 − loss) + network",
    "method of this program: life-cycle basis at the socket (ISO 14067:2018 clause 6.3)",
    unit="kgCO2e/kWh",
)
def delivered_electricity(
    generation: Numbers, *, upstream: Numbers = 0.0, network: Numbers = 0.0, loss: Numbers = 0.0
) -> Numbers:
    """Return the emission of one kWh at the socket, (generation + upstream) / (1 - loss) + network. [kgCO2e/kWh]

    Parameters
    ----------
    generation : float or ndarray
        Emission per kWh generated. [kgCO2e/kWh]
    upstream : float or ndarray, default 0.0
        Fuel supply, when `generation` counts the stack only. [kgCO2e/kWh]
    network : float or ndarray, default 0.0
        Emission of the losses where it is published as such. [kgCO2e/kWh]
    loss : float or ndarray, default 0.0
        Share of the generation lost on the way, where that is what is known. [-]

    Raises
    ------
    ValueError
        When the loss is not from 0 up to, not including, 1.
    """
    require_share("network loss", loss)
    require_positive("delivered share", 1.0 - loss)
    return (generation + upstream) / (1.0 - loss) + network


@equation(
    "dry × max(1/s_in − 1/s_out, 0) × specific energy",
    "mass balance of water (definitions of the trade) times the energy of the dryer",
    unit="kWh",
)
def drying_energy(dry_kg: Numbers, *, solids_in: Numbers, solids_out: Numbers, specific_kwh: Numbers) -> Numbers:
    """Return the energy to dry parts, water to evaporate times the specific energy of the dryer. [kWh]

    Parameters
    ----------
    dry_kg : float or ndarray
        Dry matter of the parts. [kg]
    solids_in, solids_out : float or ndarray
        Solids share as pressed and as finished. [-]
    specific_kwh : float or ndarray
        Energy per kg of water evaporated. [kWh/kg]
    """
    return water_to_evaporate(dry_kg, solids_in=solids_in, solids_out=solids_out) * specific_kwh


@equation("share × water × latent heat / efficiency × heat", "energy balance of the room", unit="kgCO2e")
def room_heat(
    evaporated_kg: Numbers, *, from_room: Numbers = 1.0, latent_kwh: Numbers, efficiency: Numbers, heat: Numbers
) -> Numbers:
    """Return the emission of the heat that drying draws from a heated room. [kgCO2e]

    Parameters
    ----------
    evaporated_kg : float or ndarray
        Water evaporated. [kg]
    from_room : float or ndarray, default 1.0
        Share of its latent heat that the room gives and does not get back. [-]
    latent_kwh : float or ndarray
        Latent heat at room temperature. [kWh/kg]
    efficiency : float or ndarray
        Useful heat per kWh of fuel or electricity. [-]
    heat : float or ndarray
        Emission per kWh of fuel or electricity. [kgCO2e/kWh]

    Raises
    ------
    ValueError
        When the share is not from 0 to 1, or the efficiency is not above 0.
    """
    require_share("heat drawn from the room", from_room)
    require_positive("heating efficiency", efficiency)
    return from_room * evaporated_kg * latent_kwh / efficiency * heat


@equation(
    "(material + printing + end of life) / pressings",
    "ISO 14044:2006 clause 4.3.4, allocation by use (clause from memory)",
    unit="kgCO2e",
)
def mould_per_pressing(
    material_kgco2e: Numbers, printing_kgco2e: Numbers, end_of_life_kgco2e: Numbers, *, pressings: Numbers
) -> Numbers:
    """Return the share of a mould that one pressing bears. [kgCO2e]

    Parameters
    ----------
    material_kgco2e, printing_kgco2e, end_of_life_kgco2e : float or ndarray
        The mould's material, its printing, its disposal. [kgCO2e]
    pressings : float or ndarray
        Pressings over the mould's life. [-]

    Raises
    ------
    ValueError
        When the life is not above 0.
    """
    require_positive("pressings of a mould", pressings)
    return (material_kgco2e + printing_kgco2e + end_of_life_kgco2e) / pressings


@equation("⌈pressings / life⌉, at least 1", "method of this program: a mould is bought whole", unit="1")
def moulds_bought(pressings: Numbers, *, life: Numbers) -> Numbers:
    """Return how many moulds a number of pressings takes, each of which lasts a life. [-]

    Parameters
    ----------
    pressings, life : float or ndarray
        Pressings made, and those that one mould lasts. [-]

    Raises
    ------
    ValueError
        When the life is not above 0.
    """
    require_positive("pressings of a mould", life)
    found: Numbers = np.maximum(np.ceil(pressings / life * (1.0 - ROUNDING)), 1.0)
    return found


@equation("total / mass", "definition", unit="kgCO2e/kg")
def per_kilogram(total: Numbers, mass: Numbers) -> Numbers:
    """Return an emission per kilogram; 0 in draws in which there is no mass, and so no emission. [kgCO2e/kg]

    Parameters
    ----------
    total : float or ndarray
        Of the mass. [kgCO2e]
    mass : float or ndarray
        At least 0. [kg]
    """
    return total / np.maximum(mass, LEAST)


@equation(
    "made − avoided + lost − displaced",
    "method of this program: accounts kept apart after ISO 14067:2018 clause 6.3, summed in the open",
    unit="kgCO2e",
)
def net_account(made: Numbers, avoided: Numbers, lost: Numbers, displaced: Numbers) -> Numbers:
    """Return the net account of a period; below 0 means less emission than without the workshop. [kgCO2e]

    Parameters
    ----------
    made, avoided, lost, displaced : float or ndarray
        Parts made; disposal avoided; recycling that lost its fibre; plastic really displaced. [kgCO2e]
    """
    return made - avoided + lost - displaced


@equation("Σ share × impact", "mean over the routes of a waste", unit="kgCO2e/kg")
def weighted_by_fate(shares: list[Numbers], impacts: list[Numbers]) -> Numbers:
    """Return the mean impact over routes, sum of share times impact. [kgCO2e/kg]"""
    pairs = zip(shares, impacts, strict=True)
    return sum((share * impact for share, impact in pairs), start=0.0)
