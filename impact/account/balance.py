"""The dry mass balance of each batch, and what it is made of."""

from __future__ import annotations

from dataclasses import dataclass

from impact.core import FloatArray
from impact.tables.vectors import only


@dataclass(frozen=True)
class BatchAmounts:
    """What the records of each batch come to, blanks filled by the central estimates.

    Attributes
    ----------
    dry_fibre_kg, dry_binder_kg : ndarray
        Dry matter of fresh paper and of binder. [kg]
    binder_solids : ndarray
        Dry matter per kg of binder as used; 1 where none is used. [-]
    rejects : ndarray
        Failed parts. [-]
    """

    dry_fibre_kg: FloatArray
    dry_binder_kg: FloatArray
    binder_solids: FloatArray
    rejects: FloatArray


@dataclass(frozen=True)
class Balance:
    """Dry mass balance of each batch.

    Attributes
    ----------
    in_kg, out_kg : ndarray
        Dry matter that went in and that was found again. [kg]
    unaccounted : ndarray
        Share of the inflow not found again. [-]
    amounts : BatchAmounts
        What the inflow is made of.
    """

    in_kg: FloatArray
    out_kg: FloatArray
    unaccounted: FloatArray
    amounts: BatchAmounts

    @property
    def dried_kg(self) -> FloatArray:
        """Dry matter that was dried: what came out, else what went in. [kg]"""
        return dried(self.in_kg, self.out_kg)


def dried(in_kg: FloatArray, out_kg: FloatArray) -> FloatArray:
    """Return the dry matter that was dried: what came out, else what went in. [kg]"""
    return out_kg + only(in_kg, out_kg == 0.0)
