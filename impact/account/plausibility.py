"""Doubts about single batches: what physics, rated power, the clock or the factor tables make unlikely.

Every rule gives warnings and no error. Each says why the record is doubted and when it is fine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

from impact.base.problems import Problem
from impact.core import FloatArray
from impact.core.moisture import water_to_evaporate
from impact.factors.values import Values
from impact.records.batchtable import BatchTable
from impact.records.workshop import Workshop
from impact.tables.texts import Codes, Flags
from impact.tables.vectors import recorded

if TYPE_CHECKING:
    from impact.account.amounts import Balance
    from impact.records.batchtable import BatchTable

WARN_BEYOND = 0.15
"""Share of the inflow, missing or in excess, from which a batch is doubted."""

REFUSE_EXCESS = 0.25
"""Excess of the outflow over the inflow from which a batch is refused."""


REFUSE_LOSS = 0.9
"""Share of the inflow that was not found again from which a batch is refused."""


def balance_problems(batches: BatchTable, balance: Balance, file: str) -> list[Problem]:
    """Return a problem for each batch whose dry mass balance does not close.

    Beyond 15 % either way is a warning. Parts that hold over 25 % more than went in are an error, most
    often because they were weighed before they were dry; so is a batch of which over 90 % was not found
    again, most often a slip of the unit, because its paper would count as kept from landfill.

    Parameters
    ----------
    batches : BatchTable
        Batches in canonical columns.
    balance : Balance
        Their balance, row by row.
    file : str
        Name of the file, for the place.
    """
    made_of_nothing = (balance.in_kg <= 0.0) & (balance.out_kg > 0.0)
    doubtful = (np.abs(balance.unaccounted) > WARN_BEYOND) | made_of_nothing
    places = np.flatnonzero(doubtful)
    doubted = batches.kept(places)
    columns = [doubted.texts("batch").tolist(), doubted.rows.tolist(), doubted.floats("good_parts").tolist()]
    sums = [column[places].tolist() for column in (balance.unaccounted, balance.in_kg, balance.out_kg, made_of_nothing)]
    sheets = doubted.texts("sheet").tolist() if "sheet" in batches else [None] * len(places)
    problems = []
    for name, row, good, share, inflow, outflow, of_nothing, sheet in zip(*columns, *sums, sheets, strict=True):
        refused = of_nothing or share < -REFUSE_EXCESS or share > REFUSE_LOSS
        why = (
            "parts weighed before they were dry are the usual cause, or a paper column with a wrong unit"
            if share < 0
            else "grams read as kilograms, or trim and rejects that were not recorded"
            if refused
            else "fines lost with the water, a reject that was not recorded, or a slip in a paper column"
        )
        problems.append(
            Problem(
                "mass-balance",
                file,
                f"batch {name}: {inflow:.3g} kg dry matter went in and {outflow:.3g} kg came out; {why}",
                row=int(row),
                column="good parts",
                read=f"{float(good):g}",
                accepted=f"out within {WARN_BEYOND:.0%} of in"
                + (f"; over {REFUSE_EXCESS:.0%} above or {REFUSE_LOSS:.0%} below is refused" if refused else ""),
                level="error" if refused else "warning",
                sheet=sheet,
            )
        )
    return problems


Words = Callable[[int], str]


class Batches(Protocol):
    """Batches that can be named."""

    def named(self, places: Codes) -> Iterable[tuple[str, int, str]]:
        """Return file, row and name of the batches at some places."""


@dataclass(frozen=True)
class InFile:
    """The batches of one file, or of one block of it.

    Attributes
    ----------
    batches : BatchTable
        The batches.
    file : str
        Name of the file.
    """

    batches: BatchTable
    file: str

    def named(self, places: Codes) -> Iterable[tuple[str, int, str]]:
        """Return file, row and name of the batches at some places."""
        here = self.batches.kept(places)
        return zip([self.file] * len(places), here.rows.tolist(), here.texts("batch").tolist(), strict=True)


def warnings_where(
    flags: Flags, batches: Batches, code: str, column: str | Words, message: Words, *, read: Words, accepted: Words
) -> list[Problem]:
    """Return a warning for each flagged batch, its words made from the place of the batch in the table."""
    places = np.flatnonzero(flags)
    if not len(places):
        return []
    return [
        Problem(
            code, file, f"batch {name}: {message(index)}", row=row,
            column=column if isinstance(column, str) else column(index), read=read(index), accepted=accepted(index),
            level="warning",
        )
        for index, (file, row, name) in zip(places.tolist(), batches.named(places), strict=True)
    ]  # fmt: skip


ATTENDED = ("shredding", "binder_preparation", "blending", "pressing")
"""Steps that run only while somebody works; drying goes on at night."""

LONGEST_RUN_H = dict.fromkeys(ATTENDED, 24.0) | {"drying": 30 * 24.0}
"""Longest run of a device that is believed: a day, for drying a month. A choice of ours. [h]"""


TIMES_THE_TABLE = 5.0
"""Recorded drying is doubted above so many times the upper end of the factor table. A choice of ours."""


def batch_doubts(batches: BatchTable, workshop: Workshop, values: Values, balance: Balance, file: str) -> list[Problem]:
    """Return every doubt about single batches, by row.

    Parameters
    ----------
    batches : BatchTable
        Batches to look at, in canonical columns.
    workshop : Workshop
        The folder's settings.
    values : Values
        Factors in reach; their use is noted, so hand in some that serve nothing else.
    balance : Balance
        Dry matter in and out of `batches`.
    file : str
        Name of the file, for the place.
    """
    found = [
        *_too_little_heat(batches, workshop, values, balance, file),
        *_too_much_heat(batches, workshop, values, balance, file),
        *_too_much_power(batches, workshop, file),
        *_too_long(batches, file),
        *_odd_doses(batches, values, balance, file),
    ]
    return sorted(found, key=lambda problem: problem.row or 0)


def _digits(number: float) -> str:
    """Return a number with three digits, large ones whole."""
    return f"{number:.3g}" if abs(number) < 1000.0 else f"{number:.0f}"


def is_heated(dryer: str | None, values: Values) -> bool:
    """Return whether a dryer makes its own heat: its whole range in the tables lies above the latent heat.

    A fan or room air takes the heat out of the room, and a dehumidifier gives back what the water took up: all
    three may need less electricity than the latent heat.
    """
    if dryer is None:
        return False
    return values.choose(f"drying.energy.{dryer}").factor.low > values.central("drying.latent-heat")


def least_drying_kwh(workshop: Workshop, values: Values, dried_kg: FloatArray) -> FloatArray:
    """Return the latent heat of the least water that drying can have removed. [kWh]

    Where the workshop states no solids after pressing, the driest end of the factor table is taken.

    Parameters
    ----------
    workshop : Workshop
        The folder's settings.
    values : Values
        Factors in reach.
    dried_kg : ndarray
        Dry matter that was dried. [kg]
    """
    pressed = workshop.drying.pressed_solids or values.choose("drying.pressed-solids").factor.high
    moisture = workshop.part_moisture if workshop.part_moisture is not None else values.central("part.moisture")
    water = water_to_evaporate(dried_kg, solids_in=pressed, solids_out=1.0 - moisture)
    return np.asarray(water * values.central("drying.latent-heat"))


def _too_little_heat(
    batches: BatchTable, workshop: Workshop, values: Values, balance: Balance, file: str
) -> list[Problem]:
    """Doubt recorded drying below the latent heat, in workshops whose dryer makes its own heat; 0 says "none used"."""
    if not is_heated(workshop.drying.dryer, values):
        return []
    drying = batches.floats("drying_kwh")
    floor = least_drying_kwh(workshop, values, balance.dried_kg)
    flags = (drying > 0.0) & (drying < floor)

    def message(index: int) -> str:
        return (
            f"a {workshop.drying.dryer} has to supply the heat that water takes up, here {_digits(floor[index])} kWh or more; fine "
            "if the parts lay in the air before, or were pressed drier than workshop.toml or the factor table says"
        )

    return warnings_where(
        flags, InFile(batches, file), "drying-below-heat", "drying", message,
        read=lambda index: f"{_digits(drying[index])} kWh",
        accepted=lambda index: f"{_digits(floor[index])} kWh or more, or [drying] pressed_solids as weighed",
    )  # fmt: skip


def _too_much_heat(
    batches: BatchTable, workshop: Workshop, values: Values, balance: Balance, file: str
) -> list[Problem]:
    """Doubt recorded drying far above what the tables have for the folder's dryer, most often hours typed as kWh."""
    if workshop.drying.dryer is None:
        return []
    pressed = workshop.drying.pressed_solids or values.choose("drying.pressed-solids").factor.low
    moisture = workshop.part_moisture if workshop.part_moisture is not None else values.central("part.moisture")
    dried = balance.dried_kg
    water = water_to_evaporate(dried, solids_in=pressed, solids_out=1.0 - moisture)
    top = TIMES_THE_TABLE * values.choose(f"drying.energy.{workshop.drying.dryer}").factor.high
    ceiling = np.asarray(water * top)
    drying = batches.floats("drying_kwh")

    def message(index: int) -> str:
        return (
            f"a {workshop.drying.dryer} takes up to {_digits(ceiling[index] / TIMES_THE_TABLE)} kWh for this by the factor "
            "table; are these hours, not kWh? Fine if the dryer ran far longer than the parts needed"
        )

    return warnings_where(
        (drying > ceiling) & (ceiling > 0.0), InFile(batches, file), "drying-above-table", "drying", message,
        read=lambda index: f"{_digits(drying[index])} kWh",
        accepted=lambda index: f"below {_digits(ceiling[index])} kWh, or a device and a time, such as fan 30 h",
    )  # fmt: skip


def _too_much_power(batches: BatchTable, workshop: Workshop, file: str) -> list[Problem]:
    """Doubt steps that took more than all devices of the folder could draw in the hours of the batch."""
    power_kw = sum(device.power_w for device in workshop.equipment.values()) / 1000.0
    hours = batches.floats("hours")
    if np.isnan(hours).all():
        return []
    used = [recorded(batches.floats(f"{step}_kwh")) for step in ATTENDED]
    together = np.sum(used, axis=0)
    most = power_kw * hours
    flags = (most > 0.0) & (together > most)

    def largest(index: int) -> int:
        return int(np.argmax([kwh[index] for kwh in used]))

    return warnings_where(
        flags, InFile(batches, file), "power-times-time", lambda index: ATTENDED[largest(index)].replace("_", " "),
        lambda index: (
            f"shredding, cooking, blending and pressing took {_digits(together[index])} kWh, and all devices of the folder together "
            f"draw {_digits(power_kw)} kW, {_digits(most[index])} kWh in the {hours[index]:g} h of the batch; fine if a device is not "
            "listed or ran longer than somebody worked"
        ),
        read=lambda index: f"{_digits(used[largest(index)][index])} kWh",
        accepted=lambda index: f"{_digits(most[index])} kWh or less in all, or the device under [equipment]",
    )  # fmt: skip


def _too_long(batches: BatchTable, file: str) -> list[Problem]:
    """Doubt runs of a device beyond a day, of drying beyond a month."""
    return [problem for step in LONGEST_RUN_H for problem in _too_long_in(step, batches, file)]


def _too_long_in(step: str, batches: BatchTable, file: str) -> list[Problem]:
    run, longest = batches.floats(f"{step}_run_h"), LONGEST_RUN_H[step]
    limit = "a month" if step == "drying" else "a day"
    return warnings_where(
        run > longest, InFile(batches, file), "long-run", step.replace("_", " "),
        lambda index: f"one run of over {limit}; most often minutes read as hours, fine if it really ran that long",
        read=lambda index: f"{run[index]:g} h",
        accepted=lambda index: f"{longest:g} h or less",
    )  # fmt: skip


def _dose_ranges(binders: Sequence[str], values: Values) -> dict[str, tuple[float, float]]:
    """Return the range of the dose of each binder of which the tables hold one. [kg/kg]"""
    rows = {name: values.choose(f"binder.dose.{name}").factor for name in binders if values.has(f"binder.dose.{name}")}
    return {name: (row.low, row.high) for name, row in rows.items() if row.low < row.high}


def _odd_doses(batches: BatchTable, values: Values, balance: Balance, file: str) -> list[Problem]:
    """Doubt doses outside the range of the factor tables.

    Own rejects bring binder of their own: they count as fibre for the upper end and not for the lower.
    """
    amounts, binder = balance.amounts, batches.coded("binder")
    ranges = _dose_ranges(sorted(set(binder.present()) - {"none", ""}), values)
    low, high = (binder.spread({name: ends[end] for name, ends in ranges.items()}) for end in (0, 1))
    dry, fresh = amounts.dry_binder_kg, amounts.dry_fibre_kg
    pulp = np.maximum(balance.in_kg - dry, 0.0)
    mass = batches.floats("binder_kg")
    weighed = ~np.isnan(mass) & (pulp > 0.0)
    flags = weighed & ((dry > high * pulp) | ((fresh > 0.0) & (dry < low * fresh)))
    return warnings_where(
        flags, InFile(batches, file), "binder-dose", "binder mass",
        lambda index: (
            f"at {amounts.binder_solids[index]:.0%} solids this is {dry[index] / pulp[index]:.1%} of the fibre, both dry, and the "
            f"factor tables have {low[index]:.0%} to {high[index]:.0%} for {binder[index]}; most often wet paste taken "
            "for dry binder or the other way round, fine if the recipe is so"
        ),
        read=lambda index: f"{mass[index]:.3g} kg",
        accepted=lambda index: f"{low[index]:.0%} to {high[index]:.0%} of the fibre, or binder solids as they are",
    )  # fmt: skip
