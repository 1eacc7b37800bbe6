"""The equivalent plastic part: its mass by three rules, and its footprint by two routes.

References
----------
.. [1] M. F. Ashby, "Materials Selection in Mechanical Design", 4th ed., Butterworth-Heinemann, 2011,
   ch. 5 and app. B (indices of minimum mass at given stiffness); from memory.
"""

from __future__ import annotations

from impact.core import Numbers, require_positive, require_share
from impact.core.node import equation


@equation("L / 1000", "1 m³ is 1,000 L", unit="m3")
def cubic_metres(litres: Numbers) -> Numbers:
    """Return a volume in cubic metres. [m3]"""
    return litres / 1000.0


@equation("V × ρ", "mass of equal volume", unit="kg")
def same_volume_mass(volume_m3: Numbers, density: Numbers) -> Numbers:
    """Return the mass of a plastic part of the same volume. [kg]

    Raises
    ------
    ValueError
        When volume or density is not above 0.
    """
    require_positive("volume", volume_m3)
    require_positive("density", density)
    return volume_m3 * density


@equation(
    "m_f (ρ_p/ρ_f) (E_f/E_p)^n, n = 1/3 for a flat panel",
    "M. F. Ashby, Materials Selection in Mechanical Design, 4th ed., 2011, ch. 5 and app. B (from memory)",
    unit="kg",
)
def equal_stiffness_mass(
    fibre_mass_kg: Numbers,
    *,
    fibre_density: Numbers,
    plastic_density: Numbers,
    fibre_modulus: Numbers,
    plastic_modulus: Numbers,
    exponent: float = 1.0 / 3.0,
) -> Numbers:
    """Return the plastic mass of equal stiffness, m_f (rho_p/rho_f) (E_f/E_p)^n [1]_.

    Parameters
    ----------
    fibre_mass_kg : float or ndarray
        Mass of the fibre part. [kg]
    fibre_density, plastic_density : float or ndarray
        Densities, same unit. [kg/m3]
    fibre_modulus, plastic_modulus : float or ndarray
        Flexural moduli, same unit. [Pa]
    exponent : float, default 1/3
        1 for a tie, 1/2 for a beam of free section, 1/3 for a flat panel of given length and width.

    Raises
    ------
    ValueError
        When a density or modulus is not above 0.
    """
    require_positive("density", fibre_density, plastic_density)
    require_positive("modulus", fibre_modulus, plastic_modulus)
    return fibre_mass_kg * (plastic_density / fibre_density) * (fibre_modulus / plastic_modulus) ** exponent


@equation(
    "m (resin / (1 − scrap) + conversion × grid)", "method of this program: route by resin and forming", unit="kgCO2e"
)
def resin_route(mass_kg: Numbers, *, resin: Numbers, scrap: Numbers, conversion_kwh: Numbers, grid: Numbers) -> Numbers:
    """Return the footprint of resin formed into a part, m (resin / (1 - scrap) + conversion * grid). [kgCO2e]

    Parameters
    ----------
    mass_kg : float or ndarray
        Mass of the part. [kg]
    resin : float or ndarray
        Resin at the plant's gate. [kgCO2e/kg]
    scrap : float or ndarray
        Polymer lost in forming. [-]
    conversion_kwh : float or ndarray
        Electricity to form one kg. [kWh/kg]
    grid : float or ndarray
        Electricity where the part is made. [kgCO2e/kWh]

    Raises
    ------
    ValueError
        When the scrap share is not from 0 up to, not including, 1.
    """
    require_share("scrap share", scrap)
    require_positive("yield of forming", 1.0 - scrap)
    return mass_kg * (resin / (1.0 - scrap) + conversion_kwh * grid)


@equation("m × formed", "method of this program: route by a factor that includes forming", unit="kgCO2e")
def formed_route(mass_kg: Numbers, *, formed: Numbers) -> Numbers:
    """Return the footprint by a factor that includes forming; no conversion energy is added. [kgCO2e]"""
    return mass_kg * formed


@equation(
    "footprint × L_f / L_p",
    "comparison per year of service (ISO 14044:2006 clause 4.2.3.2, functional unit; clause from memory)",
    unit="kgCO2e",
)
def per_service(footprint: Numbers, *, fibre_life_years: Numbers, plastic_life_years: Numbers) -> Numbers:
    """Return the plastic footprint charged to one fibre part: footprint * L_f / L_p. [kgCO2e]

    One fibre part serves L_f years; the plastic part's burden is spread over its own L_p years.

    Raises
    ------
    ValueError
        When a life is not above 0.
    """
    require_positive("service life", fibre_life_years, plastic_life_years)
    return footprint * (fibre_life_years / plastic_life_years)
