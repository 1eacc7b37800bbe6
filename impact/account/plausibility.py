"""Doubts about single batches: what physics, rated power, the clock or the factor tables make unlikely.

Every rule gives warnings and no error. Each says why the record is doubted and when it is fine, in a row of the table
``doubts.csv`` beside this module.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from impact.account.assumptions import read_texts
from impact.account.sizes import CONFIRM, evaporated
from impact.base.problems import LISTED, Alike, Level, Problem, listed, not_listed
from impact.base.slips import digits, shown_in, told
from impact.base.units import LARGEST
from impact.core import FloatArray
from impact.factors.values import Values
from impact.records.batchtable import BatchTable
from impact.records.workshop import Workshop
from impact.tables.texts import Coded, Codes, Flags
from impact.tables.vectors import recorded

if TYPE_CHECKING:
    from impact.account.amounts import Balance

WARN_BEYOND = 0.15
"""Share of the inflow, missing or in excess, from which a batch is doubted."""

REFUSE_EXCESS = 0.25
"""Excess of the outflow over the inflow from which a batch is refused."""

REFUSE_LOSS = 0.9
"""Share of the inflow that was not found again from which a batch is refused."""


def balance_problems(batches: BatchTable, balance: Balance, file: str) -> list[Problem]:
    """Return what is doubted of the balance of batches as it is listed, see `balance_doubts`."""
    return listed(balance_doubts(batches, balance, file))


def balance_doubts(batches: BatchTable, balance: Balance, file: str) -> list[Alike]:
    """Return a problem for each batch of a file whose dry mass balance, row by row, does not close: errors and warnings.

    Beyond 15 % either way is a warning. Parts that hold over 25 % more than went in are an error, most
    often because they were weighed before they were dry; so is a batch of which over 90 % was not found
    again, most often a slip of the unit, because its paper would count as kept from landfill. Over 60 % is asked: an error
    unless the row confirms its good parts.
    """
    share = balance.unaccounted
    of_nothing = (balance.in_kg <= 0.0) & (balance.out_kg > 0.0)
    doubtful = (np.abs(share) > WARN_BEYOND) | of_nothing
    if not doubtful.any():
        return []
    refused = of_nothing | (share < -REFUSE_EXCESS) | (share > REFUSE_LOSS)
    faults = refused | ((share > ASK_LOSS) & ~batches.confirms("good parts"))
    here = BatchTable({name: batches.columns[name] for name in TOLD if name in batches})
    sums = (share, balance.in_kg, balance.out_kg, refused)
    levels: dict[Level, Flags] = {"error": doubtful & faults, "warning": doubtful & ~faults}
    found = []
    for level, flags in levels.items():
        places = np.flatnonzero(flags)
        first = places[:LISTED]
        words = partial(_of_balance, here.kept(first), [column[first] for column in sums], file, level)
        found += [Alike("mass-balance", file, level, len(places), words)] if len(places) else []
    return found


TOLD = ("batch", "row", "good_parts", "sheet")
"""Columns that are told of a batch whose balance does not close."""


def _of_balance(batches: BatchTable, sums: Sequence[Any], file: str, level: Level, count: int) -> list[Problem]:
    """Return the problems of the first so many batches whose balance does not close."""
    columns = [batches.texts("batch").tolist(), batches.rows.tolist(), batches.floats("good_parts").tolist()]
    sheets = batches.texts("sheet").tolist() if "sheet" in batches else [None] * len(batches)
    problems = []
    rows = zip(*columns, *(column.tolist() for column in sums), sheets, strict=True)
    for name, row, good, share, inflow, outflow, refused, sheet in islice(rows, count):
        asked = not refused and share > ASK_LOSS
        times = max(inflow / outflow, outflow / inflow) if inflow > 0.0 < outflow else LARGEST
        why = (
            "parts weighed before they were dry are the usual cause, or a paper column with a wrong unit"
            if share < 0
            else "grams read as kilograms, a digit too many in a paper column, or trim and rejects that were not recorded"
            if refused or asked
            else "fines lost with the water, a reject that was not recorded, or a slip in a paper column"
        )
        unit = shown_in(max(inflow, outflow), "kg")[1]
        went_in, came_out = (digits(mass * (1000.0 if unit == "g" else 1.0)) for mass in (inflow, outflow))
        problems.append(
            Problem(
                "mass-balance",
                file,
                f"batch {name}: {went_in} {unit} dry matter went in and {came_out} {unit} came out; {why}",
                row=int(row),
                column="good parts",
                read=f"{float(good):.15g}",
                accepted=f"out within {WARN_BEYOND:.0%} of in"
                + (f"; over {REFUSE_EXCESS:.0%} above or {REFUSE_LOSS:.0%} below is refused" if refused else "")
                + (f"; if it is right, {CONFIRM.format(column='good parts')}" if asked else ""),
                level=level,
                sheet=sheet,
                times=times,
            )
        )
    return problems


WARN_TOGETHER = 0.05
"""Excess of the outflow of all batches together over their inflow from which it is doubted: errors of single batches even out.
A choice of ours."""


def together_problems(unaccounted: float | None, doubted: Iterable[Problem]) -> list[Problem]:
    """Return the doubt that all batches together hold more dry matter than went in, where no batch by itself is doubted for it.

    Parameters
    ----------
    unaccounted : float or None
        Share of the dry matter not found again, below 0 where more was found. [-]
    doubted : iterable of Problem
        What is doubted of single batches.
    """
    if unaccounted is None or unaccounted > -WARN_TOGETHER or any(one.code == "mass-balance" for one in doubted):
        return []
    excess = f"{-100.0 * unaccounted:.1f} % more out than in"
    return [
        Problem(
            "mass-balance-together",
            "batches",
            f"{excess}: parts, rejects and trim of all batches together hold more dry matter than went in; most often rejects or trim "
            "that were not recorded and are estimated too high, or parts weighed before they were dry",
            amount=excess,
            accepted=f"out within {100.0 * WARN_TOGETHER:g} % of in",
            level="warning",
            times=1.0 - unaccounted,
        )
    ]


ASK_LOSS = 0.6
"""Share of the inflow that was not found again from which a batch is asked about: 2.5 times as much in as out. A choice of
ours."""

TEXTS = (Path(__file__).with_name("doubts.csv"), "code", "column", "message", "read", "amount", "accepted")
Doubt = tuple[Flags, str, Mapping[str, object]]
"""Which batches are doubted, the row of the table of texts, and what is filled into it: one thing, one for each batch,
or a function of the place of a batch."""


class Named(Protocol):
    """Batches that can be named."""

    def named(self, places: Codes) -> Iterable[tuple[str, int, str]]:
        """Return file, row and name of the batches at some places."""


class Batches(Named, Protocol):
    """Batches of several files that can be named."""

    def files(self, places: Codes) -> Mapping[str, int]:
        """Return how many of the batches at some places are of each file."""


@dataclass(frozen=True)
class InFile:
    """The batches of one file, or of one block of it; `file` is its name."""

    batches: BatchTable
    file: str

    def named(self, places: Codes) -> Iterable[tuple[str, int, str]]:
        """Return file, row and name of the batches at some places."""
        here = self.batches.kept(places)
        return zip([self.file] * len(places), here.rows.tolist(), here.texts("batch").tolist(), strict=True)


def _each(numbers: FloatArray) -> Callable[[int], str]:
    """Return a function of the place that gives a number there with three digits."""
    return lambda at: digits(numbers[at])


def _at(fact: object, place: int) -> object:
    if callable(fact):
        return fact(place)
    return fact[place] if isinstance(fact, np.ndarray | Coded) else fact


def warnings_of(doubts: Iterable[Doubt], batches: Batches) -> Iterator[Problem]:
    """Yield a warning for each doubted batch, doubt by doubt; beyond the first `LISTED` of a doubt only their number."""
    for flags, code, facts in doubts:
        doubted = np.flatnonzero(flags)
        yield from _in_words(code, facts, batches, doubted[:LISTED])
        if len(doubted) > LISTED:
            yield from (not_listed(code, file, count) for file, count in batches.files(doubted[LISTED:]).items())


def _in_words(code: str, facts: Mapping[str, object], batches: Named, places: Codes) -> Iterator[Problem]:
    """Yield the warning of each of some doubted batches."""
    texts = read_texts(*TEXTS)[code]
    for place, (file, row, name) in zip(places.tolist(), batches.named(places) if len(places) else (), strict=True):
        known = {"name": name} | {key: _at(fact, place) for key, fact in facts.items()}
        column, message, read, amount, accepted = (texts[key].format(**known) for key in TEXTS[2:])
        message = f"batch {name}: {amount}{': ' if amount else ''}{message}"
        yield Problem(
            code, file, message, row=row, column=column, read=read or None, amount=amount or None,
            accepted=accepted, level="warning", times=float(str(known.get("times", 1.0))),
        )  # fmt: skip


ATTENDED = ("shredding", "binder_preparation", "blending", "pressing")
"""Steps that run only while somebody works; drying goes on at night."""

LONGEST_RUN_H = dict.fromkeys(ATTENDED, 24.0) | {"drying": 30 * 24.0}
"""Longest run of a device that is believed: a day, for drying a month. A choice of ours. [h]"""


def batch_doubts(batches: BatchTable, workshop: Workshop, values: Values, balance: Balance, file: str) -> list[Alike]:
    """Return every doubt about single batches of a file; `balance` is theirs.

    The use of factors is noted, so hand in `values` that serve nothing else.
    """
    doubts = (
        *_drying(batches, workshop, values, balance),
        *_too_much_power(batches, workshop),
        *_too_long(batches),
        *_odd_doses(batches, values, balance),
    )
    here = InFile(batches, file)
    found = []
    for flags, code, facts in doubts:
        places = np.flatnonzero(flags)
        words = partial(_first_in_words, code, facts, here, places[:LISTED])
        found += [Alike(code, file, "warning", len(places), words)] if len(places) else []
    return found


def _first_in_words(code: str, facts: Mapping[str, object], batches: Named, places: Codes, count: int) -> list[Problem]:
    return list(_in_words(code, facts, batches, places[:count]))


def is_heated(dryer: str | None, values: Values) -> bool:
    """Return whether a dryer makes its own heat: its whole range in the tables lies above the latent heat.

    A fan or room air takes the heat out of the room, and a dehumidifier gives back what the water took up: all
    three may need less electricity than the latent heat.
    """
    if dryer is None:
        return False
    return values.choose(f"drying.energy.{dryer}").factor.low > values.central("drying.latent-heat")


def least_drying_kwh(workshop: Workshop, values: Values, dried_kg: FloatArray) -> FloatArray:
    """Return the latent heat of the least water that drying can have removed from dry matter [kg]. [kWh]

    Where the workshop states no solids after pressing, the driest end of the factor table is taken.
    """
    return evaporated(workshop, values, dried_kg, "high") * values.central("drying.latent-heat")


def _drying(batches: BatchTable, workshop: Workshop, values: Values, balance: Balance) -> Iterator[Doubt]:
    """Doubt recorded drying below the latent heat, of a dryer that makes its own heat; 0 says "none used"."""
    dryer, drying = workshop.drying.dryer, batches.floats("drying_kwh")
    if is_heated(dryer, values):
        floor = least_drying_kwh(workshop, values, balance.dried_kg)
        below = (drying > 0.0) & (drying < floor)
        times = np.divide(floor, drying, out=np.ones(len(floor)), where=below)
        yield (
            below,
            "drying-below-heat",
            {"dryer": dryer, "floor": _each(floor), "drying": _each(drying), "times": times},
        )


def _too_much_power(batches: BatchTable, workshop: Workshop) -> Iterator[Doubt]:
    """Doubt steps that took more than all devices of the folder could draw in the hours of the batch."""
    power_kw = sum(device.power_w for device in workshop.equipment.values()) / 1000.0
    hours = batches.floats("hours")
    if np.isnan(hours).all():
        return
    used = [recorded(batches.floats(f"{step}_kwh")) for step in ATTENDED]
    together = np.sum(used, axis=0)
    most = power_kw * hours

    def largest(at: int) -> int:
        return int(np.argmax([kwh[at] for kwh in used]))

    facts = {
        "step": lambda at: ATTENDED[largest(at)].replace("_", " "), "hours": hours,
        "used": lambda at: _each(used[largest(at)])(at), "together": _each(together), "power": digits(power_kw),
        "most": _each(most), "times": lambda at: together[at] / most[at],
    }  # fmt: skip
    yield (most > 0.0) & (together > most), "power-times-time", facts


def _too_long(batches: BatchTable) -> Iterator[Doubt]:
    """Doubt runs of a device beyond a day, of drying beyond a month."""
    for step, longest in LONGEST_RUN_H.items():
        run, limit = batches.floats(f"{step}_run_h"), "a month" if step == "drying" else "a day"
        facts = {"step": step.replace("_", " "), "limit": limit, "run": run, "longest": longest, "times": run / longest}
        yield run > longest, "long-run", facts


def _dose_ranges(binders: Sequence[str], values: Values) -> dict[str, tuple[float, float]]:
    """Return the range of the dose of each binder of which the tables hold one. [kg/kg]"""
    rows = {name: values.choose(f"binder.dose.{name}").factor for name in binders if values.has(f"binder.dose.{name}")}
    return {name: (row.low, row.high) for name, row in rows.items() if row.low < row.high}


def _odd_doses(batches: BatchTable, values: Values, balance: Balance) -> Iterator[Doubt]:
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
    facts = {
        "solids": amounts.binder_solids, "dose": lambda at: dry[at] / pulp[at], "low": low, "high": high,
        "binder": binder, "mass": lambda at: told(float(mass[at]), "kg"),
    }  # fmt: skip
    yield flags, "binder-dose", facts
