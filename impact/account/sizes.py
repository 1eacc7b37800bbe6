"""Doubts by size: amounts that are far from those of the other batches, or from what the factor tables call plausible.

The quantities are the rows of ``sizes.csv`` beside this module: a column of the log, what it is divided by, the line of
the account that it feeds, and by how much it may differ at least before the other batches say anything. Spans are the
rows ``plausible.…`` of the factor tables. Of every batch one byte is kept for each quantity that is recorded: the
logarithm of its ratio, in steps of a tenth, from which medians and deviations are counted. Only doubted batches are read
again, and told with their exact amounts.

A doubt that changes a headline by more than half is asked, an error, unless the row or the setting confirms it.

References
----------
.. [1] B. Iglewicz and D. C. Hoaglin, "How to Detect and Handle Outliers", ASQC Quality Press, 1993 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from impact.account.inventory import central_contributions
from impact.account.linekinds import COLLECTED, PRESSINGS
from impact.base.problems import LISTED, Problem
from impact.base.spellings import fold
from impact.core import FloatArray
from impact.core.moisture import water_to_evaporate
from impact.factors.rows import shipped_rows
from impact.tables.texts import Codes, Flags

if TYPE_CHECKING:
    from impact.account.amounts import Balance
    from impact.account.results import Results
    from impact.factors.values import End, Values
    from impact.records.batchtable import BatchTable
    from impact.records.workshop import Workshop

STEPS = 10.0
"""Codes per unit of the natural logarithm: a step is 10 %, far less than a slip. A choice of ours."""

MIDDLE = 128
"""Code of a ratio that is as the tables have it."""

LEAST_RECORDED = 5
"""Batches from which the others say something. A choice of ours."""

DEVIATIONS = 5.0
"""Robust deviations of the logarithm beyond which an amount is doubted beside the others. [1]_ labels from 3.5; we choose 5,
because a workshop of thousands of batches makes tens of thousands of such tests. [-]"""

RARE = 0.1
"""What a tenth of the batches or more have is a way of working and no slip. A choice of ours. [-]"""

ASKED = 0.5
"""Change of a headline from which a doubt is asked. A choice of ours. [-]"""

NEAR = {True: (math.log(1.25), math.log(1.8)), False: (0.0, math.log(3.0))}
"""How near a ratio must come to that of two units, below a factor of ten and above: beside other batches, which are alike,
and beside the tables, which are wide. Choices of ours. [-]"""

UNITS: Mapping[str, Mapping[str, float]] = {
    "kWh": {"Wh": 1000.0, "MJ": 3.6}, "L": {"mL": 1000.0, "gallons": 1.0 / 3.785}, "h": {"minutes": 60.0}, "km": {"m": 1000.0},
    "kg": {"g": 1000.0, "lb": 2.2046, "oz": 35.274}, "W": {"kW": 0.001},
}  # fmt: skip
"""Units that are taken for the one that stands first: how many of them it is."""

Sizes = dict[str, np.ndarray[Any, np.dtype[np.uint8]]]
"""By quantity the code of every batch; 0 where nothing is recorded, or none was used."""


class Quantity(NamedTuple):
    """A row of ``sizes.csv``."""

    name: str
    column: str
    header: str
    per: str
    unit: str
    account: str
    activity: str
    scale: float
    least: float

    @property
    def key(self) -> str:
        """The key of its span in the factor tables."""
        return f"plausible.{self.name}"


@cache
def quantities() -> tuple[Quantity, ...]:
    """Return the quantities of a batch."""
    columns = ("quantity", *Quantity._fields[1:])
    rows = shipped_rows(Path(__file__).with_name("sizes.csv"), *columns)
    return tuple(Quantity(*[row[c] for c in columns[:-2]], float(row["scale"]), float(row["least"])) for row in rows)


def evaporated(workshop: Workshop, values: Values, dried_kg: FloatArray, end: End) -> FloatArray:
    """Return the water that drying removed, from the solids stated or from an end of their range. [kg]"""
    pressed = workshop.drying.pressed_solids or getattr(values.choose("drying.pressed-solids").factor, end)
    moisture = workshop.part_moisture if workshop.part_moisture is not None else values.central("part.moisture")
    return np.asarray(water_to_evaporate(dried_kg, solids_in=pressed, solids_out=1.0 - moisture))


def measured(
    batches: BatchTable, balance: Balance, workshop: Workshop, values: Values
) -> Iterator[tuple[Quantity, FloatArray, FloatArray]]:
    """Yield each quantity that is recorded, its amounts, and what they are divided by."""
    amounts = balance.amounts
    pulp = np.maximum(balance.in_kg - amounts.dry_binder_kg, 0.0)
    parts = {name: part.mass_kg for name, part in workshop.parts.items()}
    for one in quantities():
        values_of = (
            sum(batches.papers.values(), np.zeros(len(batches)))
            if one.column == "paper_kg"
            else batches.floats(one.column)
        )
        if not (values_of > 0.0).any():
            continue
        match one.per.split(",")[0]:
            case "batch":
                per = np.ones(len(batches))
            case "kg of pulp":
                per = pulp / amounts.binder_solids if one.column == "binder_kg" else pulp
            case "kg of binder":
                per = amounts.dry_binder_kg / amounts.binder_solids
            case "kg of water dried off":
                per = evaporated(workshop, values, balance.dried_kg, "value")
            case _:
                per = batches.coded("part").spread(parts)
        yield one, values_of, per


def sizes_of(batches: BatchTable, balance: Balance, workshop: Workshop, values: Values) -> Sizes:
    """Return the codes of the quantities that some batch records."""
    return {
        one.name: _codes(_ratio(amount, per), _usual(one, values))
        for one, amount, per in measured(batches, balance, workshop, values)
    }


def _ratio(amount: FloatArray, per: FloatArray) -> FloatArray:
    return np.divide(amount, per, out=np.zeros(len(amount)), where=(per > 0.0) & (amount > 0.0))


def _usual(one: Quantity, values: Values) -> float:
    return values.central(one.key) if values.has(one.key) else 1.0


def _codes(ratio: FloatArray, usual: float) -> np.ndarray[Any, np.dtype[np.uint8]]:
    logs = np.log(ratio / usual, out=np.zeros(len(ratio)), where=ratio > 0.0)
    codes = np.clip(np.rint(STEPS * logs) + MIDDLE, 1, 255)
    return np.where(ratio > 0.0, codes, 0.0).astype(np.uint8)


@dataclass(frozen=True)
class Span:
    """What is believed of a ratio: the middle and the limits of the other batches, where they say something; the table's row."""

    middle: float | None
    usual: float
    low: float
    high: float
    beside: Flags

    @property
    def believed(self) -> float:
        """The middle of the others unless the tables doubt it, else the table's value."""
        return self.middle if self.middle is not None and self.low <= self.middle <= self.high else self.usual


def _span(one: Quantity, codes: np.ndarray[Any, np.dtype[np.uint8]], values: Values) -> Span:
    """Return what is believed, from the codes of all batches."""
    usual = _usual(one, values)
    row = values.choose(one.key).factor if values.has(one.key) else None
    low, high = (row.low, row.high) if row is not None else (0.0, math.inf)
    counts = np.bincount(codes, minlength=256)
    counts[0] = 0
    recorded = int(counts.sum())
    if recorded < LEAST_RECORDED:
        return Span(None, usual, low, high, np.zeros(len(codes), dtype=bool))
    middle = int(np.searchsorted(np.cumsum(counts), recorded / 2.0))
    apart = np.abs(np.arange(256) - middle)
    deviation = int(np.searchsorted(np.cumsum(np.bincount(apart, weights=counts)), recorded / 2.0)) / 0.6745
    reach = max(DEVIATIONS * deviation, STEPS * math.log(one.least))
    outside = (apart > reach) & (counts > 0)
    if counts[outside].sum() >= max(RARE * recorded, 2):
        outside[:] = False
    return Span(usual * math.exp((middle - MIDDLE) / STEPS), usual, low, high, outside[codes])


def likely_unit(ratio: float, unit: str, *, beside: bool) -> str:
    """Return the unit that was likely meant and the one that it was taken for, or nothing; `ratio` is to what is believed."""
    small, large = NEAR[beside]
    found = []
    names = {unit: 1.0, **UNITS.get(unit, {})}
    for read, size in names.items():
        for meant, other in names.items():
            factor = other / size
            off = abs(math.log(ratio / factor))
            if read != meant and off <= (small if 0.1 < factor < 10.0 else large):
                found.append((off, f"{meant}, not {read}"))
    return min(found)[1] if found else ""


def digits(number: float) -> str:
    """Return a number with three digits, large ones whole."""
    return f"{number:.3g}" if abs(number) < 1000.0 else f"{number:.0f}"


def _hint(amount: float, ratio: float, unit: str, *, beside: bool) -> str:
    meant = likely_unit(ratio, unit, beside=beside)
    if unit == "kWh" and ratio > 1.0 and amount >= 1.0 and amount == round(amount):
        meant = " or ".join(filter(None, (meant, f"a time with its device, such as blender {amount:.0f} min")))
    return f"; did you mean {meant}?" if meant else ""


CONFIRM = 'write "{column}" in the column confirmed of this row'
CONFIRM_SETTING = 'confirmed = ["{column}"] under [workshop]'


def told(problem: Problem, change: tuple[float, str] | None, confirmed: bool, confirm: str) -> Problem | None:
    """Return a doubt as it is told: asked where it changes a headline by more than half and is not confirmed."""
    from dataclasses import replace

    if change is None or change[0] <= ASKED:
        return None if confirmed else problem
    share = (
        f"{change[0]:.0%}"
        if change[0] < 10.0
        else f"a factor of {1.0 + change[0]:.3g}"
        if change[0] < 1e6
        else "all of it"
    )
    message = f"{problem.message}. It changes {change[1]} by {share}"
    if confirmed:
        return replace(problem, message=f"{message}, and is confirmed")
    accepted = f"{problem.accepted}; if it is right, {confirm.format(column=problem.column)}"
    return replace(problem, message=message, accepted=accepted, level="error")


def confirmed_in(text: str) -> set[str]:
    """Return the columns that a cell of the column ``confirmed`` names, folded."""
    return {fold(word) for word in text.replace(",", ";").split(";") if word.strip()}


def confirmations(batches: BatchTable) -> list[set[str]]:
    """Return the columns that each batch confirms, folded."""
    texts = batches.texts("confirmed").tolist() if "confirmed" in batches else [""] * len(batches)
    return [confirmed_in(text) if text else set() for text in texts]


class Sized(NamedTuple):
    """All batches by size, and how some of them are found and read again."""

    sizes: Sizes
    named: Callable[[Codes], Iterable[tuple[str, int, str]]]
    again: Callable[[Codes], BatchTable]


def size_doubts(
    sized: Sized, chosen: Flags, workshop: Workshop, values: Values, results: Results | None
) -> list[Problem]:
    """Return the doubts by size about the chosen batches, those that a headline hangs on as errors.

    Nothing is asked where there are no `results`.
    """
    from impact.account.amounts import take_stock

    spans: dict[Quantity, Span] = {}
    flags: dict[Quantity, Flags] = {}
    for one in quantities():
        if one.name in sized.sizes:
            codes = sized.sizes[one.name]
            span = _span(one, codes, values)
            ends = _codes(np.array([span.low, min(span.high, 1e12)]), span.usual)
            outside = (
                (codes > 0) & ((codes <= ends[0]) | (codes >= ends[1]))
                if span.low or span.high < math.inf
                else np.zeros(len(codes), dtype=bool)
            )
            spans[one], flags[one] = span, chosen & (outside | span.beside)
    doubted = np.flatnonzero(np.any(list(flags.values()), axis=0)) if flags else np.zeros(0, dtype=np.int64)
    places = doubted[:LISTED]
    if not len(places):
        return []
    batches = sized.again(places)
    stock = take_stock(batches, workshop, values.central)[1]
    names, confirmed = list(sized.named(places)), confirmations(batches)
    found: list[Problem] = []
    for one, amount, per in measured(batches, stock, workshop, values):
        span, ratio = spans[one], _ratio(amount, per)
        plain = ratio > 0.0
        if one.name == "drying":  # a light batch may share no fan; its run has a rule of its own
            plain &= ~batches.coded("drying_kwh_evidence").where("nameplate")
        outside = plain & ((ratio < span.low) | (ratio > span.high))
        here = np.flatnonzero(flags[one][places] & (outside | span.beside[places]))
        if not len(here):
            continue
        change = _change(one, batches.kept(here), amount[here] * (1.0 - span.believed / ratio[here]), results)
        for at in here.tolist():
            column = (
                one.header
                if one.column != "paper_kg"
                else max(batches.papers, key=lambda grade: batches.papers[grade][at])
            )
            doubt = _doubt(one, span, float(amount[at]), float(ratio[at]), column, names[at], outside=bool(outside[at]))
            doubt = told(doubt, change, fold(column) in confirmed[at], CONFIRM)
            found += [doubt] if doubt else []
    if len(doubted) > len(places):
        found.append(
            Problem(
                "size-span",
                found[0].file if found else "batches",
                f"{len(doubted) - len(places)} more batches are doubted by size",
                level="warning",
            )
        )
    return found


def _doubt(
    one: Quantity, span: Span, amount: float, ratio: float, column: str, name: tuple[str, int, str], *, outside: bool
) -> Problem:
    file, row, batch = name
    beside = span.middle is not None and span.believed == span.middle
    times = ratio / span.believed
    per = f" per {one.per}"
    held = f"{digits(ratio)} {one.unit}{per}" if one.per != "batch" else f"{digits(amount)} {one.unit}"
    against = (
        f"{digits(span.low)} to {digits(span.high)} is plausible" if outside
        else f"the middle of the other batches is {digits(span.believed)}"
    )  # fmt: skip
    low, high = (span.low, span.high) if outside else (span.believed / one.least, span.believed * one.least)
    scale = amount / ratio
    return Problem(
        "size-span" if outside else "size-beside", file,
        f"batch {batch}: {held}, where {against}{_hint(amount, times, one.unit, beside=beside)}",
        row=row, column=column, read=f"{digits(amount)} {one.unit}",
        accepted=f"about {digits(low * scale)} to {digits(high * scale)} {one.unit} here", level="warning",
        times=max(times, 1.0 / times),
    )  # fmt: skip


def _change(
    one: Quantity, batches: BatchTable, excess: FloatArray, results: Results | None
) -> tuple[float, str] | None:
    """Return by what share the amounts beyond what is believed change a headline, the one that changes most; and its name."""
    if results is None or not one.account:
        return None
    if one.account == COLLECTED.account:
        return _share(float(excess.sum()), results.paper.collected_kg), "the paper collected"
    inventory, matrix = results.inventory, results.stage_matrix
    amount = inventory.sum_of(one.account, one.activity)
    adds = central_contributions(inventory, matrix).tolist()
    emitted = sum(
        add
        for line, add in zip(matrix.lines, adds, strict=True)
        if (line.account, line.activity) == (one.account, one.activity)
    )
    beyond = excess * one.scale * (emitted / amount if amount else 0.0)
    changes = [(_share(float(beyond.sum()), sum(adds)), "the footprint of all parts")]
    parts = batches.coded("part")
    for part in parts.present():
        base = float(central_contributions(inventory.where(part=part), matrix).sum())
        changes.append((_share(float(beyond[parts.where(part)].sum()), base), f"the footprint of {part}"))
    return max(changes)


def _share(excess: float, base: float) -> float:
    """Return how much a sum is off, as a share of what it is without the excess."""
    rest = base - excess
    return abs(excess) / rest if rest > 0.0 else math.inf


class Amount(NamedTuple):
    """An amount of the settings or of parts.csv: where it stands, its key of the tables, what it is divided by, and its line."""

    path: tuple[str, ...]
    key: str
    amount: float
    per: float
    unit: str
    of: str


def _settings(workshop: Workshop) -> Iterator[Amount]:
    for name, mould in workshop.moulds.items():
        yield Amount(("moulds", name, "mass"), "plausible.mould-mass", mould.mass_kg, 1.0, "kg", "")
        if mould.printing_kwh:
            yield Amount(
                ("moulds", name, "printing"),
                "plausible.printing",
                mould.printing_kwh,
                mould.mass_kg,
                "kWh",
                " per kg of mould",
            )
    for name, device in workshop.equipment.items():
        yield Amount(("equipment", name, "power"), "plausible.power", device.power_w, 1.0, "W", "")
    for name, part in workshop.parts.items():
        yield Amount(("parts", name, "mass"), "plausible.part-mass", part.mass_kg, 1.0, "kg", "")


def setting_doubts(
    workshop: Workshop,
    values: Values,
    results: Results | None,
    place: Callable[[Sequence[str]], tuple[str, int | None]],
) -> list[Problem]:
    """Return the doubts by size about moulds, devices and parts; `place` gives file and row of a dotted key."""
    found = []
    for path, key, amount, per, unit, of in _settings(workshop):
        if not values.has(key):
            continue
        row = values.choose(key).factor
        ratio = amount / per
        if row.low <= ratio <= row.high:
            continue
        (file, line), times = place(path), ratio / row.value
        doubt = Problem(
            "size-setting", file,
            f"{digits(ratio)} {unit}{of}, where {digits(row.low)} to {digits(row.high)} is plausible{_hint(amount, times, unit, beside=False)}",
            row=line, column=".".join(path), read=f"{digits(amount)} {unit}",
            accepted=f"about {digits(row.low * per)} to {digits(row.high * per)} {unit}", level="warning",
            times=max(times, 1.0 / times),
        )  # fmt: skip
        change = None if results is None else _setting_change(path, 1.0 - 1.0 / times, results)
        told_so = told(doubt, change, doubt.column in workshop.confirmed, CONFIRM_SETTING)
        found += [told_so] if told_so else []
    return found


def _setting_change(path: tuple[str, ...], share: float, results: Results) -> tuple[float, str] | None:
    """Return by what share a setting changes the footprint of all parts, where that much of what it adds is beyond belief."""
    table, name, _ = path
    adds = list(
        zip(
            results.stage_matrix.lines,
            central_contributions(results.inventory, results.stage_matrix).tolist(),
            strict=True,
        )
    )
    if table == "parts":
        return None
    mine = sum(
        add
        for line, add in adds
        if (
            (line.account, line.activity, line.item) == (*PRESSINGS, name)
            if table == "moulds"
            else line.evidence == "nameplate"
        )
    )
    return _share(share * mine, sum(add for _, add in adds)), "the footprint of all parts"
