"""First-order decay of degradable carbon in a landfill, and the carbon that stays.

Notation of IPCC [1]_: DOC is degradable organic carbon, DOC_f the part of it that decomposes,
MCF the methane correction factor of the site, F the methane share of the gas by volume.

References
----------
.. [1] IPCC, "2006 IPCC Guidelines for National Greenhouse Gas Inventories", vol. 5, ch. 3,
   eq. 3.1-3.6; DOC_f by class of waste from the 2019 Refinement, vol. 5, ch. 3.
"""

from __future__ import annotations

import numpy as np

from impact.core import Numbers, require_share
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


@equation("Σ share × MCF × (1 − R) × (1 − OX)", f"{IPCC_2006}, ch. 3, eq. 3.1 and 3.2, Tables 3.1 and 3.2")
def emitted_by_site(
    shares: list[Numbers], corrections: list[Numbers], collections: list[Numbers], oxidations: list[Numbers]
) -> Numbers:
    """Return what leaves the sites of a waste, per kg of methane that it gives where no air gets in. [kg/kg]

    Each kind of site has its own methane correction factor, collection and oxidation; the mean is that of their product.

    Parameters
    ----------
    shares : list of float or ndarray
        Share of the waste at each kind of site. [-]
    corrections, collections, oxidations : list of float or ndarray
        Methane correction factor, collected share and oxidised share of each kind. [-]

    Raises
    ------
    ValueError
        When one of them lies outside 0 to 1.
    """
    require_share("share or methane correction factor of a site", *shares, *corrections)
    kinds = zip(shares, corrections, collections, oxidations, strict=True)
    return sum((methane_emitted(s * m, collection=r, oxidation=ox) for s, m, r, ox in kinds), start=0.0)


@equation(
    "DOC × (1 − DOC_f × decayed)", f"conservation of carbon over {IPCC_2006}, ch. 3, eq. 3.2, 3.4 and 3.5", unit="kg/kg"
)
def carbon_staying(doc: Numbers, docf: Numbers, decayed: Numbers) -> Numbers:
    """Return the degradable carbon still in the landfill, DOC * (1 - DOC_f * decayed). [kg/kg]

    MCF has no part in it: what decays with air at a shallow site leaves as well.

    Parameters
    ----------
    doc : float or ndarray
        Degradable organic carbon per kg of waste. [kg/kg]
    docf : float or ndarray
        Share of it that decomposes. [-]
    decayed : float or ndarray
        Share of that which has decayed by the horizon. [-]

    Raises
    ------
    ValueError
        When an argument lies outside 0 to 1.
    """
    require_share("degradable organic carbon", doc)
    require_share("decomposing share", docf)
    require_share("decayed share", decayed)
    return doc * (1.0 - docf * decayed)
