"""Columns of energy entries to amounts, how each is known, and the time of its run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from impact.amounts import Faults, Manner, convert, in_points
from impact.core import FloatArray
from impact.energy import Energy, PowerSource, parse_energy
from impact.marks import Marks
from impact.spellings import CANONICAL
from impact.tables import Column
from impact.texts import Codes
from impact.units import unit_factor

METERED, NAMEPLATE, ESTIMATED = range(3)
"""Places in `EVIDENCE`; the first is 0."""


def _device_at_start(text: str, devices: Mapping[str, PowerSource]) -> str:
    """Return the device name that a cell starts with, in which marks are part of the name; else nothing."""
    words = text.casefold()
    return next((text[: len(name)] for name in devices if words.startswith(name.casefold())), "")


@dataclass(frozen=True)
class Energies:
    """A column of energy entries, read.

    Attributes
    ----------
    kwh : ndarray
        Amounts, NaN where blank or faulty. [kWh]
    known : ndarray
        How each is known, as a place in `EVIDENCE`.
    hours : ndarray
        Time of the run, NaN where the entry gives none. [h]
    faults : list of (int, UnitError)
        Position and fault of each cell that is no such entry.
    """

    kwh: FloatArray
    known: Codes
    hours: FloatArray
    faults: Faults


@lru_cache(maxsize=1 << 14)
def _energy(text: str, devices: tuple[tuple[str, PowerSource], ...], unit: str | None) -> Energy:
    """Return an energy entry, of which few spellings come again with every block of a file."""
    return parse_energy(text, dict(devices), unit)


class _EnergyReader:
    """Reads energy entries, and notes how each spelling is known and how long its run was.

    Parameters
    ----------
    devices : mapping of str to PowerSource
        Devices of the folder.
    unit : str or None
        Unit of bare numbers; None is kWh.
    """

    def __init__(self, devices: Mapping[str, PowerSource], unit: str | None) -> None:
        self.devices = devices
        self.listed = tuple(devices.items())
        self.unit = unit
        self.nameplate: set[str] = set()
        self.hours: dict[str, float] = {}

    def parse(self, text: str, marks: Marks | None) -> float:
        device = _device_at_start(text, self.devices)
        energy = _energy(device + in_points(text[len(device) :], marks), self.listed, self.unit)
        if energy.evidence == "nameplate":
            self.nameplate.add(text)
        if energy.hours is not None:
            self.hours[text] = energy.hours
        return energy.kwh


def read_energies(column: Column, devices: Mapping[str, PowerSource], decimal: str, stated: bool) -> Energies:
    """Return a column of energy entries.

    Parameters
    ----------
    column : Column
        Text, or numbers.
    devices : mapping of str to PowerSource
        Devices of the folder.
    decimal, stated : str, bool
        As of `Manner`.

    Raises
    ------
    UnitError
        The header's unit is unknown, ambiguous or none of energy.
    """
    reader = _EnergyReader(devices, column.unit)
    factor = unit_factor(column.unit or CANONICAL["energy"], "energy")
    kwh, faults = convert(column, Manner(reader.parse, factor, decimal=decimal, stated=stated))
    known = np.isnan(kwh) * ESTIMATED
    hours = np.full(len(kwh), np.nan)
    if reader.nameplate or reader.hours:
        texts = column.text.coded()
        by_plate = texts.where_any(reader.nameplate)
        if column.numbers is not None:
            by_plate &= ~np.isfinite(column.numbers)
        known = known + by_plate * NAMEPLATE
        hours = texts.spread(reader.hours)
    return Energies(kwh, known, hours, faults)
