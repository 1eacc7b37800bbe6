"""Energy entries: an amount, a power times a time, or a device and a time, with how the amount is known."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from impact.base.problems import choices
from impact.base.spellings import CANONICAL, fold
from impact.base.units import (
    BARE,
    LEAST,
    NOT_FINITE,
    UnitError,
    parse_number,
    parse_quantity,
    refuse,
    unit_factor,
    unitless,
    within,
)
from impact.core import FloatArray
from impact.records.amounts import Faults, Manner, convert, in_points
from impact.records.workshop import Device
from impact.tables.decimals import Marks
from impact.tables.table import Column
from impact.tables.texts import Coded, Codes

_ENERGY_FORMS = "0.14 kWh, 700 W x 12 min, or a device and a time (blender 12 min), each with an optional / 3"


@dataclass(frozen=True, slots=True)
class Energy:
    """An amount of energy and how it is known.

    Attributes
    ----------
    kwh : float
        Energy. [kWh]
    evidence : str
        ``metered``, or ``nameplate`` for power times time.
    device : str or None
        Name of the device, when the entry names one.
    hours : float or None
        Time of the run, whole where it was shared; None where the entry gives none. [h]
    """

    kwh: float
    evidence: str
    device: str | None = None
    hours: float | None = field(default=None, compare=False)


def _power_times_time(text: str) -> Energy | None:
    """Return the energy of a power times a time, or None when the text is no product."""
    factors = re.split(r"\s*[x×*]\s*", text, flags=re.IGNORECASE)
    if len(factors) != 2:
        return None
    power, time = factors if re.search(r"w\w*\.?$", factors[0], re.IGNORECASE) else reversed(factors)
    for factor in (power, time):
        if not parse_number(factor)[1]:
            refuse(
                "missing-unit", f'"{factor}" has no unit', text, "a power and a time with their units, 700 W x 12 min"
            )
    hours = parse_quantity(time, "time")
    return Energy(parse_quantity(power, "power") / 1000.0 * hours, "nameplate", hours=hours)


def _device_and_time(text: str, devices: Mapping[str, Device]) -> Energy | None:
    """Return the energy of ``blender 12 min``, or None when the text does not start with a device."""
    words = fold(text)
    for name in sorted(devices, key=len, reverse=True):
        start = fold(name)
        if words.startswith(start) and not words[len(start) : len(start) + 1].isalnum():
            duration = re.sub(r"^\s*[x×*:]?\s*", "", text[len(start) :])
            if not parse_number(duration)[1]:
                refuse("missing-unit", "the time has no unit", text, f"{name} 12 min")
            device = devices[name]
            hours = parse_quantity(duration, "time")
            kwh = device.power_w / 1000.0 * device.load * hours
            return Energy(kwh, "metered" if device.metered else "nameplate", name, hours)
    return None


def _refuse_words(text: str, devices: Mapping[str, Device]) -> None:
    """Refuse an entry that starts with a word, which is then no device of the workshop."""
    if not re.match(r"[^\W\d]", text) or NOT_FINITE.fullmatch(text):
        return
    unknown = re.match(r"([^\W\d].*?)\s+[x×*]?\s*[0-9]", text)
    if unknown:
        known = choices(unknown[1], devices) if devices else "none; list devices under [equipment] in workshop.toml"
        refuse("unknown-device", f'"{unknown[1]}" is no device of this workshop', text, known)
    refuse("bad-number", "this is no amount of energy", text, _ENERGY_FORMS)


def _entry(text: str, devices: Mapping[str, Device], default_unit: str | None) -> Energy:
    by_device = _device_and_time(text, devices)
    if by_device is not None:
        return by_device
    _refuse_words(text, devices)
    product = _power_times_time(text)
    if product is not None:
        return product
    try:
        return Energy(parse_quantity(text, "energy", default_unit), "metered")
    except UnitError as error:
        _refuse_time_or_power(text, devices)
        raise error from None


def _refuse_time_or_power(text: str, devices: Mapping[str, Device]) -> None:
    """Refuse a time without a device, and a power without a time, with what belongs beside it."""
    for dimension, reason, entries in (
        ("time", "a time alone is no energy", [*(f"{name} {text}" for name in devices), f"700 W x {text}"]),
        ("power", "a power alone is no energy", [f"{text} x 12 min"]),
    ):
        try:
            parse_quantity(text, dimension)
        except UnitError:
            continue
        if parse_number(text)[1]:
            refuse("wrong-dimension", reason, text, " or ".join(entries[:4]))


def stated_energy(text: str | float, devices: Mapping[str, Device]) -> Energy:
    """Return the energy of an entry as `parse_energy` does; a bare number other than 0 is refused."""
    found = parse_energy(text, devices)
    if found.kwh and (not isinstance(text, str) or BARE.fullmatch(re.split("[/÷]", text)[0].strip())):
        raise unitless(text, "energy")
    return found


def parse_energy(text: str | float, devices: Mapping[str, Device], default_unit: str | None = None) -> Energy:
    """Return the energy of an entry and how it is known.

    Entries are ``0.14 kWh``, ``700 W x 12 min`` or ``blender 12 min`` with a device of the workshop, each with an optional
    ``/ 3`` when a run was shared. A bare number has the default unit, or kWh.

    Raises
    ------
    UnitError
        Not such an entry, or the device is unknown.
    """
    written = text.strip() if isinstance(text, str) else repr(text)
    try:
        shared = re.fullmatch(r"(.*?)\s*[/÷]\s*([0-9.,]+)", written)
        entry, divisor = (shared[1], parse_number(shared[2])[0]) if shared else (written, 1.0)
        if divisor == 0.0:
            refuse("bad-number", "nothing can be shared by 0", written, "/ 2 or more")
        energy = _entry(entry, devices, default_unit)
        return replace(energy, kwh=within(energy.kwh / divisor, written, "energy"))
    except UnitError as error:
        raise UnitError(error.reason, read=str(text), accepted=error.accepted, code=error.code) from None


METERED, NAMEPLATE, ESTIMATED = range(3)
"""Places in `EVIDENCE`; the first is 0."""


def _device_at_start(text: str, devices: Mapping[str, Device]) -> str:
    """Return the device name that a cell starts with, in which marks are part of the name; else nothing."""
    words = text.casefold()
    return next((text[: len(name)] for name in devices if words.startswith(name.casefold())), "")


@lru_cache(maxsize=1 << 14)
def _energy(text: str, devices: tuple[tuple[str, Device], ...], unit: str | None) -> Energy:
    """Return an energy entry, of which few spellings come again with every block of a file."""
    return parse_energy(text, dict(devices), unit)


def read_energies(
    column: Column, devices: Mapping[str, Device], decimal: str, stated: bool
) -> tuple[tuple[FloatArray, Faults], Codes, FloatArray, Coded]:
    """Return a column of energy entries, which may name devices of the folder; `decimal` and `stated` as of `Manner`.

    Returns
    -------
    (ndarray, list of (int, UnitError))
        Amounts, NaN where blank or faulty, with position and fault of each cell that is no such entry. [kWh]
    ndarray
        How each is known, as a place in `EVIDENCE`.
    ndarray
        Time of the run, NaN where the entry gives none. [h]
    Coded
        Name of the device, "" where the entry names none.

    Raises
    ------
    UnitError
        The header's unit is unknown, ambiguous or none of energy.
    """
    listed = tuple(devices.items())
    nameplate: set[str] = set()
    runs: dict[str, float] = {}
    named: dict[str, str] = {}

    def parse(text: str, marks: Marks | None) -> float:
        device = _device_at_start(text, devices)
        energy = _energy(device + in_points(text[len(device) :], marks), listed, column.unit)
        if energy.evidence == "nameplate":
            nameplate.add(text)
        if energy.hours is not None:
            runs[text] = energy.hours
        if energy.device is not None:
            named[text] = energy.device
        return energy.kwh

    factor = unit_factor(column.unit or CANONICAL["energy"], "energy")
    kwh, faults = convert(column, Manner(parse, factor, least=LEAST["energy"], decimal=decimal, stated=stated))
    known = np.isnan(kwh) * ESTIMATED
    hours, used = np.full(len(kwh), np.nan), Coded.all("", len(kwh))
    if nameplate or runs:
        texts = column.text.coded()
        by_plate = texts.where_any(nameplate)
        if column.numbers is not None:
            by_plate &= ~np.isfinite(column.numbers)
        known = known + by_plate * NAMEPLATE
        hours = texts.spread(runs)
        used = texts.renamed(lambda text: named.get(text, "")) if named else used
    return (kwh, faults), known, hours, used
