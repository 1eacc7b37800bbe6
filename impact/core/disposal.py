"""Routes other than the landfill: incineration, composting, recycling that lost its fibre.

References
----------
.. [1] IPCC, "2006 IPCC Guidelines for National Greenhouse Gas Inventories", vol. 5, ch. 4 and 5.
"""

from __future__ import annotations

from impact.core import Numbers, require_share
from impact.core.landfill import CO2_PER_CARBON, IPCC_2006
from impact.core.node import equation


def fossil_co2(carbon: Numbers, fossil_share: Numbers, *, oxidation: Numbers = 1.0) -> Numbers:
    """Return the fossil CO2 of burning one dry kg, C * FCF * OF * 44/12 (IPCC 2006 vol. 5 eq. 5.2). [kg/kg]

    Parameters
    ----------
    carbon : float or ndarray
        Carbon per dry kg. [kg/kg]
    fossil_share : float or ndarray
        Share of that carbon which is fossil. [-]
    oxidation : float or ndarray, default 1.0
        Share of the carbon that burns. [-]

    Raises
    ------
    ValueError
        When an argument lies outside 0 to 1.
    """
    require_share("carbon content", carbon)
    require_share("fossil share", fossil_share)
    require_share("oxidised share", oxidation)
    return carbon * fossil_share * oxidation * CO2_PER_CARBON


@equation(
    "C × FCF × OF × 44/12 + trace gases",
    f"{IPCC_2006}, ch. 5, eq. 5.2, 5.4, 5.5",
    unit="kgCO2e/kg",
)
def incineration(carbon: Numbers, fossil_share: Numbers, *, oxidation: Numbers, trace_gases_kgco2e: Numbers) -> Numbers:
    """Return the emission of burning one dry kg: fossil CO2, CH4 and N2O; electricity sold is credited apart. [kgCO2e/kg]

    Parameters
    ----------
    carbon, fossil_share, oxidation
        As in `fossil_co2`.
    trace_gases_kgco2e : float or ndarray
        CH4 and N2O per dry kg (IPCC 2006 vol. 5 eq. 5.4 and 5.5). [kgCO2e/kg]
    """
    return fossil_co2(carbon, fossil_share, oxidation=oxidation) + trace_gases_kgco2e


@equation("C × (1 − FCF) × 44/12", "ISO 14067:2018 clause 7.2; molar masses of CO2 and C", unit="kgCO2/kg")
def biogenic_co2(carbon: float, fossil_share: float) -> float:
    """Return the biogenic carbon of one dry kg, as CO2 (ISO 14067:2018 clause 7.2). [kg/kg]

    Parameters
    ----------
    carbon : float
        Carbon per dry kg. [kg/kg]
    fossil_share : float
        Share of that carbon which is fossil. [-]
    """
    return carbon * (1.0 - fossil_share) * CO2_PER_CARBON


@equation("CH4 × GWP + N2O × GWP", f"{IPCC_2006}, ch. 4, eq. 4.1 and 4.2", unit="kgCO2e/kg")
def composting(
    methane_kg: Numbers, nitrous_oxide_kg: Numbers, *, methane_gwp: Numbers, nitrous_oxide_gwp: Numbers
) -> Numbers:
    """Return the CH4 and N2O of composting one dry kg (IPCC 2006 vol. 5 eq. 4.1 and 4.2). [kgCO2e/kg]

    Parameters
    ----------
    methane_kg, nitrous_oxide_kg : float or ndarray
        Gas per kg of dry matter; the table's other column is per wet kg and is never added. [kg/kg]
    methane_gwp, nitrous_oxide_gwp : float or ndarray
        Warming potentials over 100 years. [kgCO2e/kg]
    """
    return methane_kg * methane_gwp + nitrous_oxide_kg * nitrous_oxide_gwp


@equation(
    "yield × (primary − secondary)",
    "method of this program: fibre that recycling would have replaced",
    unit="kgCO2e/kg",
)
def lost_recycling(primary: Numbers, secondary: Numbers, *, recycling_yield: Numbers) -> Numbers:
    """Return what one kg of paper taken from recycling costs: yield * (primary - secondary fibre). [kgCO2e/kg]

    Parameters
    ----------
    primary, secondary : float or ndarray
        Making one kg of the grade from primary and from recovered fibre. [kgCO2e/kg]
    recycling_yield : float or ndarray
        Recovered fibre that reaches the new product per kg collected. [-]

    Raises
    ------
    ValueError
        When the yield lies outside 0 to 1.
    """
    require_share("recycling yield", recycling_yield)
    return recycling_yield * (primary - secondary)
