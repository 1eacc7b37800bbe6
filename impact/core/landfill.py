"""First-order decay of degradable carbon in a landfill, and the carbon that stays.

Notation of IPCC [1]_: DOC is degradable organic carbon, DOC_f the part of it that decomposes,
MCF the methane correction factor of the site, F the methane share of the gas by volume.

`yearly_methane`, `decay_schedule` and `carbon_staying` are for the schedule by year and the carbon that stays, which no
command prints yet.

References
----------
.. [1] IPCC, "2006 IPCC Guidelines for National Greenhouse Gas Inventories", vol. 5, ch. 3,
   eq. 3.1-3.6; DOC_f by class of waste from the 2019 Refinement, vol. 5, ch. 3.
"""

from __future__ import annotations

import numpy as np

from impact.core import FloatArray, Numbers, require, require_share
from impact.core.node import equation

IPCC_2006 = "IPCC, 2006 Guidelines for National Greenhouse Gas Inventories, vol. 5"

METHANE_PER_CARBON = 16.0 / 12.0
"""Mass of methane per mass of its carbon [-], IPCC 2006 vol. 5 eq. 3.3."""

CO2_PER_CARBON = 44.0 / 12.0
"""Mass of carbon dioxide per mass of its carbon [-], IPCC 2006 vol. 5 eq. 5.2."""


@equation("DOC × DOC_f × MCF", f"{IPCC_2006}, ch. 3, eq. 3.2", unit="kg/kg")
def decomposable_carbon(doc: Numbers, docf: Numbers, *, mcf: Numbers = 1.0) -> Numbers:
    """Return the carbon that decomposes without air, DDOCm = DOC * DOC_f * MCF (IPCC 2006 eq. 3.2).

    Parameters
    ----------
    doc : float or ndarray
        Degradable organic carbon per kg of waste, on the basis on which the waste is counted. [kg/kg]
    docf : float or ndarray
        Share of it that decomposes. [-]
    mcf : float or ndarray, default 1.0
        Methane correction factor. [-]

    Returns
    -------
    float or ndarray
        Decomposable carbon per kg of waste, same basis. [kg/kg]

    Raises
    ------
    ValueError
        When an argument lies outside 0 to 1.
    """
    require_share("degradable organic carbon", doc)
    require_share("decomposing share", docf)
    require_share("methane correction factor", mcf)
    return doc * docf * mcf


@equation("DDOCm × F × 16/12", f"{IPCC_2006}, ch. 3, eq. 3.3", unit="kg/kg")
def methane_potential(decomposable_kg: Numbers, *, methane_fraction: Numbers) -> Numbers:
    """Return all methane that the carbon can give, L0 = DDOCm * F * 16/12 (IPCC 2006 eq. 3.3). [kg]

    Raises
    ------
    ValueError
        When `methane_fraction` lies outside 0 to 1.
    """
    require_share("methane fraction", methane_fraction)
    return decomposable_kg * methane_fraction * METHANE_PER_CARBON


@equation("1 − exp(−k (t − d))", f"{IPCC_2006}, ch. 3, closed form of eq. 3.4 and 3.5")
def decayed_share(k_per_year: Numbers, years: Numbers, *, delay_years: Numbers = 0.0) -> Numbers:
    """Return the share decayed after `years`, 1 - exp(-k (t - d)), 0 before the delay d.

    The closed form of IPCC 2006 eq. 3.4-3.5 for a single deposit.

    Parameters
    ----------
    k_per_year : float or ndarray
        Decay constant, ln 2 / half-life. [1/year]
    years : float or ndarray
        Time since the deposit. [year]
    delay_years : float or ndarray, default 0.0
        Time until decay starts. [year]

    Raises
    ------
    ValueError
        When the constant is negative.
    """
    if not np.all(np.asarray(k_per_year) >= 0.0):
        raise ValueError(f"decay constant is {k_per_year!r}; accepted: 0 or above")
    active = np.maximum(np.asarray(years) - delay_years, 0.0)
    share = -np.expm1(-np.asarray(k_per_year) * active)
    return float(share) if isinstance(share, float) else share


@equation("generated × (1 − collection) × (1 − OX)", f"{IPCC_2006}, ch. 3, eq. 3.1")
def methane_emitted(generated_kg: Numbers, *, collection: Numbers, oxidation: Numbers) -> Numbers:
    """Return what leaves the landfill, (generated - collected) * (1 - OX) (IPCC 2006 eq. 3.1). [kg]

    Oxidation applies to what is left after collection.

    Raises
    ------
    ValueError
        When a share lies outside 0 to 1.
    """
    require_share("collected share", collection)
    require_share("oxidised share", oxidation)
    return generated_kg * (1.0 - collection) * (1.0 - oxidation)


def yearly_methane(potential_kg: Numbers, k_per_year: Numbers, *, years: int, delay_years: Numbers = 0.0) -> FloatArray:
    """Return the methane generated in each year after one deposit; the years add up to the closed form.

    Parameters
    ----------
    potential_kg, k_per_year, delay_years
        As in `methane_potential` and `decayed_share`; scalars or arrays.
    years : int
        Number of years. [year]

    Returns
    -------
    ndarray
        Methane per year, first axis the year. [kg]
    """
    ends = np.arange(years + 1, dtype=float)
    shape = (-1,) + (1,) * max(np.ndim(potential_kg), np.ndim(k_per_year), np.ndim(delay_years))
    decayed = decayed_share(k_per_year, ends.reshape(shape), delay_years=delay_years)
    return np.diff(potential_kg * np.asarray(decayed), axis=0)


def decay_schedule(deposits_kgc: FloatArray, k_per_year: float, *, in_deposit_year: bool = False) -> FloatArray:
    """Return the carbon that decays in each year of a series of yearly deposits (IPCC 2006 eq. 3.4-3.5).

    Parameters
    ----------
    deposits_kgc : ndarray
        Decomposable carbon put down in each year. [kg]
    k_per_year : float
        Decay constant. [1/year]
    in_deposit_year : bool, default False
        False: the usual half-year delay, so that nothing decays in the year of the deposit.
        True: decay counts from the start of the deposit year, as crediting methods have it.

    Returns
    -------
    ndarray
        Carbon decayed in each year. [kg]

    Raises
    ------
    ValueError
        When the constant is negative.
    """
    require(k_per_year >= 0.0, f"decay constant is {k_per_year!r}; accepted: 0 or above")
    keep = float(np.exp(-k_per_year))
    stock = 0.0
    decayed = np.zeros(len(deposits_kgc))
    for year, deposit in enumerate(np.asarray(deposits_kgc, dtype=float)):
        available = stock + deposit if in_deposit_year else stock
        decayed[year] = available * (1.0 - keep)
        stock = stock * keep + deposit * (keep if in_deposit_year else 1.0)
    return decayed


def carbon_staying(carbon_kg: Numbers, decomposable_kg: Numbers, decayed: Numbers) -> Numbers:
    """Return the carbon still in the landfill: all carbon less what has decayed. [kg]

    Parameters
    ----------
    carbon_kg : float or ndarray
        All carbon of the waste. [kg]
    decomposable_kg : float or ndarray
        Its decomposable carbon. [kg]
    decayed : float or ndarray
        Share of the decomposable carbon decayed by the horizon. [-]

    Raises
    ------
    ValueError
        When the share lies outside 0 to 1 or more carbon decomposes than there is.
    """
    require_share("decayed share", decayed)
    require(np.asarray(decomposable_kg) <= np.asarray(carbon_kg), "more carbon decomposes than the waste holds")
    return carbon_kg - decomposable_kg * decayed
