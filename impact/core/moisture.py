"""Wet and dry basis, binder solids, water to evaporate, mass balance of a batch.

Moisture is on the wet basis throughout: kg of water per kg as weighed. The definitions are those of
the trade (ISO 287 for paper moisture); the balances are mass conservation.
"""

from __future__ import annotations

import numpy as np

from impact.core import Numbers, require_positive, require_share
from impact.core.node import equation


@equation("M (1 − w)", "moisture on the wet basis, ISO 287", unit="kg")
def dry_mass(mass_kg: Numbers, moisture: Numbers) -> Numbers:
    """Return the dry matter of `mass_kg` as weighed, M (1 - w). [kg]

    Raises
    ------
    ValueError
        When the moisture lies outside 0 to 1.
    """
    require_share("moisture", moisture)
    return mass_kg * (1.0 - moisture)


@equation("D / (1 − w)", "moisture on the wet basis, ISO 287", unit="kg")
def as_weighed(dry_kg: Numbers, moisture: Numbers) -> Numbers:
    """Return what dry matter weighs with its moisture, D / (1 - w). [kg]

    Raises
    ------
    ValueError
        When the moisture is 1 or more, or below 0.
    """
    if not np.all((np.asarray(moisture) >= 0.0) & (np.asarray(moisture) < 1.0)):
        raise ValueError(f"moisture is {moisture!r}; accepted: 0 up to, not including, 1")
    return dry_kg / (1.0 - moisture)


@equation("dry × max(1/s_in − 1/s_out, 0)", "mass balance of water (definitions of the trade)", unit="kg")
def water_to_evaporate(dry_kg: Numbers, *, solids_in: Numbers, solids_out: Numbers) -> Numbers:
    """Return the water that drying removes, dry (1/s_in - 1/s_out), 0 when it is dry already. [kg]

    Parameters
    ----------
    dry_kg : float or ndarray
        Dry matter. [kg]
    solids_in, solids_out : float or ndarray
        Solids share before and after drying. [-]

    Raises
    ------
    ValueError
        When a solids share is not above 0 and at most 1.
    """
    require_positive("solids share", solids_in, solids_out)
    require_share("solids share", solids_in, solids_out)
    return dry_kg * np.maximum(1.0 / np.asarray(solids_in) - 1.0 / np.asarray(solids_out), 0.0)


@equation("(in − out) / in", "conservation of mass")
def unaccounted_share(in_kg: Numbers, out_kg: Numbers) -> Numbers:
    """Return the share of the dry matter that went in and was not found again, (in - out) / in; 0 for 0 in. [-]"""
    inflow = np.asarray(in_kg, dtype=float)
    share = np.divide(inflow - out_kg, inflow, out=np.zeros_like(inflow - out_kg), where=inflow > 0.0)
    return float(share) if np.ndim(share) == 0 else share


@equation(
    "min(max(paper + rejects pulped again − fibre in good parts − rejects and trim, 0) / paper, 1)",
    "conservation of mass",
)
def missing_share(paper: Numbers, pulped_again: Numbers, in_parts: Numbers, lost: Numbers) -> Numbers:
    """Return the share of the paper of which the fibre was not found again; 0 where more was found, 1 at most. [-]

    Parameters
    ----------
    paper, pulped_again : float or ndarray
        Fibre that came in, fresh, above 0, and as rejects pulped again. [kg]
    in_parts, lost : float or ndarray
        Fibre in good parts, and in rejects and trim, those kept for pulping included; on the basis of the paper. [kg]
    """
    return 1.0 - np.maximum(1.0 - np.maximum(paper + pulped_again - in_parts - lost, 0.0) / paper, 0.0)


@equation("max(net, 0) × share", "definition: what is put off is a part of what is kept", unit="kg")
def deferred(net_kg: Numbers, share: Numbers) -> Numbers:
    """Return what of the paper kept from landfill goes there later with the parts; 0 where none is kept. [kg]

    Parameters
    ----------
    net_kg : float or ndarray
        Kept from landfill, net. [kg]
    share : float or ndarray
        Share of the finished parts that goes there in the end. [-]
    """
    return np.maximum(net_kg, 0.0) * share
