"""All batches of a folder side by side: what is kept of each, however many, and the doubts that show only there.

These are weights, rejects, dates, and records kept twice; sizes are those of `impact.account.sizes`.

References
----------
.. [1] B. Iglewicz and D. C. Hoaglin, "How to Detect and Handle Outliers", ASQC Quality Press, 1993 (from memory).
.. [2] R. A. Fisher, "The Design of Experiments", Oliver and Boyd, 1935, ch. 2.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from functools import cache, cached_property
from typing import Any

import numpy as np

from impact.account.amounts import Balance
from impact.account.plausibility import Doubt, warnings_of
from impact.account.sizes import Sizes, candidates, sizes_of
from impact.base.problems import LISTED, Problem, by_row
from impact.core import FloatArray
from impact.core.proportions import above_exactly
from impact.core.sampling import median
from impact.factors.values import Values
from impact.records.batchtable import BatchTable, Days, joined
from impact.records.workshop import Workshop
from impact.tables.fingerprints import first_alike, of_rows
from impact.tables.texts import Coded, Codes, Flags, Written

STEP = 1 << 20
"""Values by which the memory grows at a time; it doubles below that, so that few batches take little."""


class Growing:
    """A column of numbers."""

    def __init__(self) -> None:
        self._content: np.ndarray[Any, Any] = np.zeros(0, dtype=np.uint8)
        self._size = 0

    def extend(self, values: np.ndarray[Any, Any]) -> None:
        """Add values below the others; all of them get the kind of number that holds all."""
        kind = np.promote_types(self._content.dtype, values.dtype)
        if kind != self._content.dtype:
            self._content = self._content.astype(kind)
        size = self._size + len(values)
        if size > len(self._content):
            room = -(-size // STEP) * STEP if size > STEP else min(STEP, max(size, 2 * len(self._content)))
            self._content.resize(room, refcheck=False)
        self._content[self._size : size] = values
        self._size = size

    @property
    def values(self) -> np.ndarray[Any, Any]:
        """The values so far; not to be kept while more are added."""
        return self._content[: self._size]


class GrowingTexts:
    """A column of few texts that come again and again."""

    def __init__(self) -> None:
        self._places: dict[str, int] = {}
        self._codes = Growing()

    def extend(self, column: Coded) -> None:
        """Add texts below the others."""
        places = [self._places.setdefault(name, len(self._places)) for name in column.names]
        kind = np.min_scalar_type(max(len(self._places) - 1, 0))
        self._codes.extend(np.array(places or [0], dtype=kind)[column.codes])

    @property
    def coded(self) -> Coded:
        """The column so far."""
        codes: Codes = self._codes.values
        return Coded(tuple(self._places), codes)


Amounts = np.ndarray[Any, np.dtype[np.floating[Any]]]
Traits = dict[str, Any]
"""What is kept of the batches of one block, by column."""


def traits_of(batches: BatchTable, balance: Balance, workshop: Workshop, values: Values) -> Traits:
    """Return what is kept of batches: some 25 bytes of each, its name, and one byte for each quantity that is recorded.

    `alike` is a fingerprint of all that is recorded but `OWN`. `likely` are the batches that size may turn out to doubt,
    with their places: whole, so that few files are read twice.
    """
    sizes = sizes_of(batches, balance, workshop, values)
    likely = candidates(sizes, values)[:LISTED]
    return {
        "name": batches.texts("batch").written(),
        "row": batches.rows,
        "day": batches.days.astype(np.int64).astype(np.int32),
        "part": batches.coded("part"),
        "site": batches.coded("site"),
        "mass": batches.floats("part_mass_kg").astype(np.float32),  # seven digits, more than a scale has
        "good": _narrow(batches.floats("good_parts")),
        "rejects": _narrow(batches.floats("rejects")),
        "alike": of_rows({name: column for name, column in batches.columns.items() if name not in OWN}),
        "sizes": sizes,
        "likely": (likely, batches.kept(likely)),
    }


OWN = ("row", "batch", "notes", "sheet")
"""Columns in which two records of one batch may differ."""


def _narrow(counts: FloatArray) -> Amounts:
    """Return counts in as few bytes as hold them."""
    with np.errstate(over="ignore"):
        narrower: tuple[Amounts, Amounts] = (counts.astype(np.float16), counts.astype(np.float32))
        return next((narrow for narrow in narrower if np.array_equal(narrow, counts, equal_nan=True)), counts)


class Beside:
    """All batches of a folder that were added so far."""

    def __init__(self) -> None:
        self._files: list[str] = []
        self._starts = [0]
        self._names: list[Written] = []
        self._rows: list[int | Codes] = []
        self._numbers = {name: Growing() for name in ("day", "mass", "good", "rejects", "alike")}
        self._texts = {name: GrowingTexts() for name in ("part", "site")}
        self._sizes: dict[str, Growing] = {}
        self._likely: list[tuple[Codes, BatchTable]] = []

    def add(self, file: str, traits: Traits, above: int) -> None:
        """Add the batches of one block; `above` are the rows of the file above it."""
        self._files.append(file)
        self._names.append(traits["name"])
        self._starts.append(self._starts[-1] + len(traits["row"]))
        for name, codes in traits["sizes"].items():  # a quantity that nobody records takes no memory
            column = self._sizes.setdefault(name, Growing())
            column.extend(np.zeros(self._starts[-2] - len(column.values), dtype=np.uint8))
            column.extend(codes)
        places, likely = traits["likely"]
        if len(places) and sum(len(here) for here, _ in self._likely) < 2 * LISTED:
            self._likely.append((places + self._starts[-2], likely))
        first = int(traits["row"][0])
        in_turn = np.array_equal(traits["row"], np.arange(first, first + len(traits["row"])))
        self._rows.append(first + above if in_turn else traits["row"] + above)
        for name, numbers in self._numbers.items():
            numbers.extend(traits[name])
        for name, texts in self._texts.items():
            texts.extend(traits[name])

    def __len__(self) -> int:
        return self._starts[-1]

    @property
    def since_1970(self) -> Codes:
        """Day of each batch. [d]"""
        return self._numbers["day"].values

    @property
    def mass(self) -> Amounts:
        """Mass of a part as recorded for each batch, NaN where it is not. [kg]"""
        return self._numbers["mass"].values

    @property
    def good(self) -> Amounts:
        """Good parts of each batch. [-]"""
        return self._numbers["good"].values

    @property
    def rejects(self) -> Amounts:
        """Rejects of each batch, NaN where they are not recorded. [-]"""
        return self._numbers["rejects"].values

    @property
    def sizes(self) -> Sizes:
        """Codes of the sizes of all batches, see `impact.account.sizes`."""
        for column in self._sizes.values():
            column.extend(np.zeros(len(self) - len(column.values), dtype=np.uint8))
        return {name: column.values for name, column in self._sizes.items()}

    @cached_property
    def alike(self) -> tuple[Codes, Codes]:
        """Places of batches that are the same as an earlier one, and the first such place; then none can be added."""
        return first_alike(self._numbers.pop("alike").values)

    def kept(self, places: Codes) -> BatchTable | None:
        """Return the batches at some places, one or more, with all their columns; None where one of them was not kept."""
        here = np.concatenate([np.zeros(0, dtype=np.int64), *(here for here, _ in self._likely)])
        if not np.isin(places, here).all():
            return None
        return joined([table for _, table in self._likely]).kept(np.searchsorted(here, places))

    def coded(self, name: str) -> Coded:
        """Return the column part or site."""
        return self._texts[name].coded

    @property
    def days(self) -> Days:
        """The day of each batch."""
        return self.since_1970.astype("datetime64[D]")

    def day(self, place: int) -> np.datetime64:
        """Return the day of a batch."""
        return np.datetime64(int(self.since_1970[place]), "D")

    def named(self, places: Codes) -> Iterator[tuple[str, int, str]]:
        """Yield file, row and name of the batches at some places."""
        pieces = (np.searchsorted(self._starts, places, side="right") - 1).tolist()
        for place, piece in zip(places.tolist(), pieces, strict=True):
            within, rows = place - self._starts[piece], self._rows[piece]
            row = rows + within if isinstance(rows, int) else int(rows[within])
            yield self._files[piece], row, self._names[piece][within]

    def files(self, places: Codes) -> dict[str, int]:
        """Return how many of the batches at some places are of each file."""
        counts = np.bincount(np.searchsorted(self._starts, places, side="right") - 1, minlength=len(self._files))
        found: dict[str, int] = {}
        for file, count in zip(self._files, counts.tolist(), strict=True):
            if count:
                found[file] = found.get(file, 0) + count
        return found

    def where(self, place: int, beside: int) -> tuple[str, str]:
        """Return the name of a batch and its place in words, with its file where that is not the one of the other batch."""
        (file, row, name), (here, _, _) = self.named(np.array([place, beside]))
        return name, f"row {row}" if file == here else f"{file}, row {row}"


ROBUST_DEVIATIONS = 4.0
"""Robust deviations above the median from which a part is doubted; [1]_ labels from 3.5, we choose 4. [-]"""

DEVIATION_PER_MAD = 1.0 / 0.6745
"""Standard deviation of a normal sample per median absolute deviation [1]_. [-]"""

LEAST_DEVIATION = 0.02
"""Least robust deviation, as a share of the median, because scales round. A choice of ours. [-]"""

LEAST_WEIGHED = 5
"""Weighed batches of a part from which its own weights say something. A choice of ours."""

REJECTS_LEVEL = 0.001
"""Level of the exact test of a batch's rejects against the earlier ones. A choice of ours, small because a workshop
makes many such tests and the parts of one batch are alike. [-]"""

LONE_DAYS = 300
"""Days between one batch and all others from which its year is doubted. A choice of ours. [d]"""

AT_ONCE = 1 << 20
"""Batches that are put beside the ones above them at once."""

EARLIEST = date(2000, 1, 1)
"""First day that is believed. A choice of ours."""


def latest_believed(report_date: date | None, today: date | None) -> date | None:
    """Return the last day that is believed: the report's date, else the end of the next year; None without today."""
    if report_date is not None:
        return report_date
    return None if today is None else date(today.year + 1, 12, 31)


def history_doubts(beside: Beside, chosen: Flags, *, latest: date | None) -> list[Problem]:
    """Return the doubts about some batches that show beside all batches of the folder, by file and row.

    `chosen` flags those to look at, `latest` is the last day that is believed.
    """
    doubts = (
        _twice(beside),
        _heavy(beside),
        _more_rejects(beside, chosen),
        _out_of_order(beside, chosen),
        _far_dates(beside, latest),
        _lone_day(beside),
    )
    found = warnings_of(((flags & chosen, code, facts) for flags, code, facts in doubts), beside)
    return sorted(found, key=by_row)


def robust_limits(values: FloatArray) -> tuple[float, float]:
    """Return the median and the limit, 4 robust deviations above it [1]_, of values without NaN.

    A robust deviation is the median absolute deviation over 0.6745, and 2 % of the median at least.
    """
    middle = median(values)
    deviation = median(np.abs(values - middle)) * DEVIATION_PER_MAD
    return middle, middle + ROBUST_DEVIATIONS * max(deviation, LEAST_DEVIATION * middle)


def _heavy(beside: Beside) -> Doubt:
    mass, parts = beside.mass, beside.coded("part")
    limits: dict[str, tuple[float, float]] = {}
    flags = np.zeros(len(beside), dtype=bool)
    for part in parts.present():
        of_part = parts.where(part) & ~np.isnan(mass)
        known = mass[of_part].astype(float)
        if len(known) >= LEAST_WEIGHED:
            limits[part] = robust_limits(known)
            flags |= of_part & (mass > limits[part][1])

    facts = {
        "middle": lambda at: limits[parts[at]][0] * 1000.0, "limit": lambda at: limits[parts[at]][1] * 1000.0,
        "mass": lambda at: mass[at] * 1000.0, "deviations": ROBUST_DEVIATIONS,
        "times": lambda at: float(mass[at]) / limits[parts[at]][1],
    }  # fmt: skip
    return flags, "heavy-part", facts


def _more_rejects(beside: Beside, chosen: Flags) -> Doubt:
    """Doubt batches whose rejects are above those of all earlier ones of the part, by the exact test [2]_."""
    known, parts = ~np.isnan(beside.rejects), beside.coded("part")
    jumps = [_jumps(np.flatnonzero(known & (parts.codes == code)), beside, chosen) for code in range(len(parts.names))]
    at, k, n, before_k, before_n, p = (np.concatenate(column) for column in zip(*jumps, strict=True))
    flags = np.zeros(len(beside), dtype=bool)
    flags[at] = True
    found = {int(at[one]): one for one in np.argsort(at, kind="stable")[:LISTED].tolist()}
    columns = {"k": k, "n": n, "before_k": before_k, "before_n": before_n, "p": p}
    facts = {name: lambda place, column=column: column[found[place]] for name, column in columns.items()}
    return flags, "more-rejects", {**facts, "rejects": beside.rejects}


def _jumps(places: Codes, beside: Beside, chosen: Flags) -> tuple[np.ndarray, ...]:
    """Return the chosen batches of a part with more rejects than chance lets expect after those before.

    These are place, rejects, parts pressed, the same of all before, and the p-value; `places` are those of the part of
    which the rejects are known.
    """
    places = places[in_time(beside.since_1970[places])]
    rejects = np.asarray(beside.rejects[places], dtype=np.float64)
    pressed = rejects + beside.good[places].astype(np.float64)
    before_k, before_n = np.cumsum(rejects), np.cumsum(pressed)
    before_k -= rejects
    before_n -= pressed
    more = np.flatnonzero(chosen[places] & (rejects * before_n > before_k * pressed))
    k, n, all_k, all_n = (np.asarray(column[more]) for column in (rejects, pressed, before_k, before_n))
    p = above_exactly(k, n, all_k, all_n, below=REJECTS_LEVEL)
    rare = p < REJECTS_LEVEL
    return tuple(column[rare] for column in (places[more], k, n, all_k, all_n, p))


def in_time(days: Codes) -> Codes | slice:
    """Return what puts days in the order of time; equal days keep their order."""
    if (days[1:] >= days[:-1]).all():
        return slice(None)
    since = days - days.min()
    narrow = since.astype(np.uint16) if since.max() < 1 << 16 else since  # sorted in one pass
    return np.argsort(narrow, kind="stable")


def _out_of_order(beside: Beside, chosen: Flags) -> Doubt:
    """Doubt dates before that of the row above of the same site: sites logged one after the other are no doubt."""
    days, sites = beside.since_1970, beside.coded("site")
    flags = np.zeros(len(days), dtype=bool)
    above: dict[int, int] = {}  # of those that are told singly
    last = np.full(len(sites.names), -1)  # the last batch of each site so far
    for start in range(0, len(days), AT_ONCE):
        codes = sites.codes[start : start + AT_ONCE]
        order = np.argsort(codes, kind="stable")
        codes, places = codes[order], order + start
        starts = np.flatnonzero(np.append(True, codes[1:] != codes[:-1]))
        before = np.append(-1, places[:-1])
        before[starts] = last[codes[starts]]
        falls = (before >= 0) & (days[places] < days[before])
        flags[places[falls]] = True
        falls &= chosen[places]
        first = np.argsort(places[falls], kind="stable")[: LISTED - len(above)]
        above |= zip(places[falls][first].tolist(), before[falls][first].tolist(), strict=True)
        ends = np.append(starts[1:], len(places)) - 1
        last[codes[ends]] = places[ends]

    facts = {
        "where": lambda at: beside.where(above[at], at)[1],
        "before": lambda at: beside.day(above[at]), "day": beside.day,
    }  # fmt: skip
    return flags, "date-order", facts


def _twice(beside: Beside) -> Doubt:
    """Doubt batches of the same day, part and amounts, all of them; ids and notes may differ."""
    places, firsts = beside.alike
    flags = np.zeros(len(beside), dtype=bool)
    flags[places] = True

    @cache
    def first(at: int) -> tuple[str, str]:
        return beside.where(int(firsts[np.searchsorted(places, at)]), at)

    facts = {
        "first": lambda at: first(at)[0], "where": lambda at: first(at)[1],
    }  # fmt: skip
    return flags, "batch-twice", facts


def _far_dates(beside: Beside, latest: date | None) -> Doubt:
    days = beside.since_1970
    flags = days < _since_1970(EARLIEST)
    if latest is not None:
        flags = flags | (days > _since_1970(latest))
    end = f" to {latest}" if latest is not None else ""
    return flags, "far-date", {"day": beside.day, "earliest": EARLIEST, "end": end}


def _lone_day(beside: Beside) -> Doubt:
    """Doubt the one batch that lies most of a year before all others, or after them."""
    days = beside.since_1970
    flags, gap = np.zeros(len(days), dtype=bool), 0
    if len(days) > LEAST_WEIGHED:
        first, second, last_but_one, last = np.partition(days, (0, 1, -2, -1))[[0, 1, -2, -1]].tolist()
        gap = max(second - first, last - last_but_one)
        if gap > LONE_DAYS:
            flags = days == (first if gap == second - first else last)
    return flags, "lone-day", {"day": beside.day, "gap": gap}


def _since_1970(day: date) -> int:
    return int(np.datetime64(day, "D").astype(np.int64))
