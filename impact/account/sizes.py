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
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from impact.account.inventory import Line, central_contributions
from impact.account.linekinds import COLLECTED, PRESSINGS
from impact.base.problems import LISTED, Problem
from impact.base.slips import digits, likely_size, meant, told_span
from impact.base.slips import times as in_words
from impact.base.slips import told as amount_told
from impact.base.spellings import fold
from impact.core import FloatArray
from impact.core.moisture import water_to_evaporate
from impact.factors.rows import shipped_rows
from impact.records.batchtable import confirmed_in
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

Bytes = np.ndarray[Any, np.dtype[np.uint8]]
Sizes = dict[str, Bytes]
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
    return tuple(
        Quantity._make([*(row[name] for name in columns[:-2]), float(row["scale"]), float(row["least"])])
        for row in rows
    )


def evaporated(workshop: Workshop, values: Values, dried_kg: FloatArray, end: End) -> FloatArray:
    """Return the water that drying removed, from the solids stated or from an end of their range. [kg]"""
    pressed = workshop.drying.pressed_solids or getattr(values.choose("drying.pressed-solids").factor, end)
    moisture = workshop.part_moisture if workshop.part_moisture is not None else values.central("part.moisture")
    return np.asarray(water_to_evaporate(dried_kg, solids_in=pressed, solids_out=1.0 - moisture))


def measured(
    batches: BatchTable, balance: Balance, workshop: Workshop, values: Values
) -> Iterator[tuple[Quantity, FloatArray, FloatArray]]:
    """Yield each quantity that is recorded, its amounts, and their ratios; 0 where none is recorded, or none was used."""
    amounts = balance.amounts
    pulp = np.maximum(balance.in_kg - amounts.dry_binder_kg, 0.0)
    parts = {name: part.mass_kg for name, part in workshop.parts.items()}
    for one in quantities():
        paper = one.column == "paper_kg"
        amount = sum(batches.papers.values(), np.zeros(len(batches))) if paper else batches.floats(one.column)
        if not (amount > 0.0).any():
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
        ratio = np.divide(amount, per, out=np.zeros(len(batches)), where=(per > 0.0) & (amount > 0.0))
        if one.name == "drying" and values.has(one.key):  # a light batch may have a fan of its own for days
            by_plate = batches.coded("drying_kwh_evidence").where("nameplate")
            ratio = np.where(by_plate, np.minimum(ratio, values.choose(one.key).factor.high * 0.9), ratio)
        yield one, amount, ratio


def sizes_of(batches: BatchTable, balance: Balance, workshop: Workshop, values: Values) -> Sizes:
    """Return the codes of the quantities that some batch records."""
    return {
        one.name: _codes(ratio, _usual(one, values))
        for one, amount, ratio in measured(batches, balance, workshop, values)
    }


def _usual(one: Quantity, values: Values) -> float:
    return values.central(one.key) if values.has(one.key) else 1.0


def _codes(ratio: FloatArray, usual: float) -> Bytes:
    shares = (ratio / usual).astype(np.float32)  # half the time, and a step is 10 %
    logs = np.log(shares, out=np.zeros(len(shares), dtype=np.float32), where=shares > 0.0)
    codes: Bytes = np.clip(np.rint(STEPS * logs) + MIDDLE, 1, 255).astype(np.uint8)
    codes[ratio == 0.0] = 0
    return codes


@dataclass(frozen=True)
class Span:
    """What is believed of a ratio: the middle and the limits of the others, where they say something, by code; the table's row."""

    middle: float | None
    usual: float
    low: float
    high: float
    beside: Flags

    @property
    def believed(self) -> float:
        """The middle of the others unless the tables doubt it, else the table's value."""
        return self.middle if self.middle is not None and self.low <= self.middle <= self.high else self.usual


def _span(one: Quantity, codes: Bytes, values: Values, *, nearer: float = 0.0) -> Span:
    """Return what is believed, from the codes of all batches; limits beside the others are so many steps nearer."""
    usual = _usual(one, values)
    row = values.choose(one.key).factor if values.has(one.key) else None
    low, high = (row.low, row.high) if row is not None else (0.0, math.inf)
    counts = np.bincount(codes, minlength=256)
    counts[0] = 0
    recorded = int(counts.sum())
    if recorded < LEAST_RECORDED:
        return Span(None, usual, low, high, np.zeros(256, dtype=bool))
    middle = int(np.searchsorted(np.cumsum(counts), recorded / 2.0))
    apart = np.abs(np.arange(256) - middle)
    deviation = int(np.searchsorted(np.cumsum(np.bincount(apart, weights=counts)), recorded / 2.0)) / 0.6745
    reach = max(DEVIATIONS * deviation, STEPS * math.log(one.least)) - nearer
    outside = (apart > reach) & (counts > 0)
    if one.per == "batch":  # little driving, a short session, a small batch are no slips
        outside[:middle] = False
    ratio = usual * math.exp((middle - MIDDLE) / STEPS)
    if counts[outside].sum() >= max(RARE * recorded, 2) or not low <= ratio <= high:
        outside[:] = False
    return Span(ratio, usual, low, high, outside)


NEARER = 2.0
"""By how much nearer to the middle of its block a batch is kept already, because that of all is not known yet. [steps]"""


def candidates(sizes: Sizes, values: Values) -> Codes:
    """Return the places of the batches of a block that may be doubted once all others are known."""
    recorded = ((one, sizes[one.name]) for one in quantities() if one.name in sizes)
    return _doubted([(_outside(_span(one, codes, values, nearer=NEARER)), codes) for one, codes in recorded])


def _doubted(found: Iterable[tuple[Flags, Bytes]], chosen: Flags | bool = True) -> Codes:
    """Return the places of the chosen batches one of whose codes may be doubted; what may be stands beside the codes of all."""
    any_of: Flags = np.zeros(1, dtype=bool)
    for doubted, codes in found:
        any_of = any_of | doubted[codes]
    return np.flatnonzero(any_of & chosen)


BY_PART_MASS = ("kg of this part in parts.csv", "kg of water dried off")
ALL_PARTS = "the footprint of all parts"
CONFIRM = 'write "{column}" in the column confirmed of this row'
CONFIRM_SETTING = 'write confirmed = ["{column}"] under [workshop]'


def told(problem: Problem, change: tuple[float, str] | None, *, confirmed: bool, confirm: str) -> list[Problem]:
    """Return a doubt as it is told, or none: asked where it changes a headline by more than half and is not confirmed."""
    if change is None or abs(change[0] - 1.0) <= ASKED:
        return [] if confirmed else [replace(problem, message=f"{problem.message} Fine if it was so")]
    effect = f"{digits(change[0])} times" if change[0] < math.inf else "without bound"
    message = f"{problem.message} It makes {change[1]} {effect} what a usual amount would"
    if confirmed:
        return [replace(problem, message=f"{message}, and is confirmed")]
    accepted = f"{problem.accepted}; if it is right, {confirm}"
    return [replace(problem, message=message, accepted=accepted, level="error")]


class Sized(NamedTuple):
    """All batches by size, and how some of them are found and read again."""

    sizes: Sizes
    named: Callable[[Codes], Iterable[tuple[str, int, str]]]
    again: Callable[[Codes], BatchTable]


def size_doubts(
    sized: Sized,
    chosen: Flags,
    workshop: Workshop,
    values: Values,
    results: Results | None,
    settings: Sequence[Problem] = (),
) -> list[Problem]:
    """Return the doubts by size about the chosen batches, those that a headline hangs on as errors.

    Nothing is asked where there are no `results`. What the doubts about `settings` explain is not told again.
    """
    from impact.account.amounts import take_stock

    explained = {"parts" if problem.column == MASS else str(problem.column).partition(".")[0] for problem in settings}
    spans = {one: _span(one, sized.sizes[one.name], values) for one in quantities() if one.name in sized.sizes}
    flags = {one: _outside(span) for one, span in spans.items()}
    doubted = _doubted(((flags[one], sized.sizes[one.name]) for one in spans), chosen)
    places = doubted[:LISTED]
    if not len(places):
        return []
    batches = sized.again(places)
    stock = take_stock(batches, workshop, values.central)[1]
    names, confirmed = list(sized.named(places)), batches.confirmed
    found: list[Problem] = []
    for one, amount, ratio in measured(batches, stock, workshop, values):
        if "parts" in explained and one.per in BY_PART_MASS:
            continue
        span, plain, by_plate = spans[one], ratio > 0.0, ratio < 0.0
        if one.unit == "kWh":
            by_plate = batches.coded(f"{one.column}_evidence").where("nameplate")
            plain = plain & ~(by_plate & ("equipment" in explained))
        outside = (ratio < span.low) | (ratio > span.high)
        codes = sized.sizes[one.name][places]
        here = np.flatnonzero(plain & flags[one][codes] & (outside | span.beside[codes]))
        if not len(here):
            continue
        change = _change(one, batches.kept(here), amount[here] * (1.0 - span.believed / ratio[here]), results)
        for at in here.tolist():
            unit = workshop.currency if one.name == "cost" else one.unit
            grades = {grade: mass[at] for grade, mass in batches.papers.items()} if one.column == "paper_kg" else {}
            doubt = _doubt(
                one._replace(unit=unit), span, float(amount[at]), float(ratio[at]), names[at], outside=bool(outside[at]),
                slip="run" if by_plate[at] else one.unit, several=sum(mass > 0.0 for mass in grades.values()) > 1,
            )  # fmt: skip
            if grades:
                doubt = replace(doubt, column=max(grades, key=lambda grade: grades[grade]))
            right = fold(str(doubt.column)) in confirmed_in(confirmed[at])
            found += told(doubt, change, confirmed=right, confirm=CONFIRM.format(column=doubt.column))
    if len(doubted) > len(places) and found:
        more = len(doubted) - len(places)
        told_too = f"{more} more are counted and not listed"
        found.append(Problem(found[0].code, found[0].file, told_too, level="warning", count=more))
    return found


def _outside(span: Span) -> Flags:
    """Return of each code whether a batch of it may lie outside the span, or does beside the others; amounts decide."""
    low, high = _codes(np.array([span.low, min(span.high, 1e12)]), span.usual)
    codes = np.arange(256)
    outside: Flags = ((codes > 0) & ((codes <= low) | (codes >= high))) | span.beside
    return outside


TOGETHER = ", all grades together"
"""What is said of the paper of a batch where several grades are recorded: the amount stands in no one cell."""


def _doubt(
    one: Quantity, span: Span, amount: float, ratio: float, name: tuple[str, int, str],
    *, outside: bool, slip: str, several: bool,
) -> Problem:  # fmt: skip
    """Return a doubt about an amount of a batch; its cell is not at hand, so it is told and not quoted."""
    file, row, batch = name
    times, scale = ratio / span.believed, amount / ratio
    together = TOGETHER if several else ""
    comes_to = f"{amount_told(amount, one.unit)}{f' of paper{together}' if several else ''}"
    of = "" if one.per == "batch" else f" per {one.per}"
    low, high = (span.low, span.high) if outside else (span.believed / one.least, span.believed * one.least)
    usual = "the middle of the other batches" if span.believed == span.middle else "what is usual"
    per, believed, limits = _ratios(one.unit, of, ratio, span.believed, low, high)
    plausible = f"; {limits} is plausible" if outside else ""
    return Problem(
        "size-span" if outside else "size-beside", file,
        f"batch {batch}: {comes_to}{per}, {in_words(times)} {usual}, {believed}{plausible}{meant(amount, times, slip)}",
        row=row, column=one.header, amount=comes_to,
        accepted=f"about {told_span(low * scale, high * scale, one.unit)}{together}", level="warning",
        times=max(times, 1.0 / times), slip=likely_size(times, slip),
    )  # fmt: skip


def _ratios(unit: str, of: str, ratio: float, believed: float, low: float, high: float) -> tuple[str, str, str]:
    """Return in words a ratio behind its amount, what is believed, and the span; nothing divided is no ratio."""
    if not of:
        return "", amount_told(believed, unit), told_span(low, high, unit)
    return f", {digits(ratio)} {unit}{of}", f"{digits(believed)} {unit}", f"{digits(low)} to {digits(high)} {unit}"


def _change(
    one: Quantity, batches: BatchTable, excess: FloatArray, results: Results | None
) -> tuple[float, str] | None:
    """Return how many times a headline is what it is with amounts as believed, of the one that changes most; and its name."""
    if results is None or not one.account:
        return None
    if one.account == COLLECTED.account:
        return _share(float(excess.sum()), results.inventory.sum_of(*COLLECTED)), "the paper collected"
    adds, amount = _adds(results), results.inventory.sum_of(one.account, one.activity)
    emitted = sum(add for line, add in adds if (line.account, line.activity) == (one.account, one.activity))
    beyond = excess * one.scale * (emitted / amount if amount else 0.0)
    changes = [(_share(float(beyond.sum()), sum(add for _, add in adds)), ALL_PARTS)]
    parts = batches.coded("part")
    for part in parts.present():
        base = float(central_contributions(results.inventory.where(part=part), results.stage_matrix).sum())
        changes.append((_share(float(beyond[parts.where(part)].sum()), base), f"the footprint of {part}"))
    return max(changes, key=lambda change: abs(change[0] - 1.0))


def _adds(results: Results) -> list[tuple[Line, float]]:
    """Return what each line adds to the footprint of all parts. [kgCO2e]"""
    matrix = results.stage_matrix
    return list(zip(matrix.lines, central_contributions(results.inventory, matrix).tolist(), strict=True))


def _share(excess: float, base: float) -> float:
    """Return how many times a sum is what it is without the excess; infinity where that is nothing."""
    rest = base - excess
    return base / rest if rest > 0.0 else math.inf


class Amount(NamedTuple):
    """An amount of the settings or of parts.csv: its path, its key of the tables, unit, and what it is divided by, with words."""

    path: tuple[str, str, str]
    key: str
    amount: float
    unit: str
    per: float = 1.0
    of: str = ""


MASS = "mass"
"""The column of parts.csv that holds the mass of a part."""


def _settings(workshop: Workshop) -> Iterator[Amount]:
    for name, part in workshop.parts.items():
        yield Amount(("parts", name, "mass"), "plausible.part-mass", part.mass_kg, "kg")
    for name, device in workshop.equipment.items():
        yield Amount(("equipment", name, "power"), "plausible.power", device.power_w, "W")
    for name, mould in workshop.moulds.items():
        yield Amount(("moulds", name, "mass"), "plausible.mould-mass", mould.mass_kg, "kg")
        if mould.printing_kwh:
            mass, of = mould.mass_kg, " per kg of mould"
            yield Amount(("moulds", name, "printing"), "plausible.printing", mould.printing_kwh, "kWh", mass, of)


def setting_doubts(
    workshop: Workshop,
    values: Values,
    results: Results | None,
    place: Callable[[Sequence[str]], tuple[str, int | None]],
) -> list[Problem]:
    """Return the doubts by size about moulds, devices and parts; `place` gives file and row of a dotted key.

    A part is a row of its own file, so its doubt names the column; what confirms it is the dotted key.
    """
    found: list[Problem] = []
    for path, key, amount, unit, per, of in _settings(workshop):
        row = values.choose(key).factor if values.has(key) else None
        ratio, key_of = amount / per, ".".join(path)
        if (
            row is None
            or row.low <= ratio <= row.high
            or (of and f"{key_of.rpartition('.')[0]}.mass" in {one.column for one in found})
        ):
            continue
        (file, line), times = place(path), ratio / row.value
        of_part, comes_to = path[0] == "parts", amount_told(amount, unit)
        ratio_told, usual, limits = _ratios(unit, of, ratio, row.value, row.low, row.high)
        doubt = Problem(
            "size-setting", file,
            f"{f'part {path[1]}: ' if of_part else ''}{comes_to}{ratio_told}, {in_words(times)} what is usual, {usual}; {limits} is plausible"
            f"{meant(amount, times, unit)}",
            row=line, column=MASS if of_part else key_of, amount=comes_to,
            accepted=f"about {told_span(row.low * per, row.high * per, unit)}", level="warning",
            times=max(times, 1.0 / times),
        )  # fmt: skip
        change = _setting_change(path, times, results)
        confirm = CONFIRM_SETTING.format(column=key_of)
        found += told(doubt, change, confirmed=key_of in workshop.confirmed, confirm=confirm)
    return found


def _setting_change(path: tuple[str, str, str], times: float, results: Results | None) -> tuple[float, str] | None:
    """Return the same as `_change` for a setting that is so many times what is usual."""
    table, name, _ = path
    if table == "parts":
        return times, f"the mass of {name}"
    if results is None:
        return None
    adds = _adds(results)
    moulds = table == "moulds"
    mine = sum(
        add
        for line, add in adds
        if ((line.account, line.activity, line.item) == (*PRESSINGS, name) if moulds else line.evidence == "nameplate")
    )
    return _share((1.0 - 1.0 / times) * mine, sum(add for _, add in adds)), ALL_PARTS
