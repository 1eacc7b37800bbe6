"""Doubts about batches that show only beside the other batches: weights, rejects, dates, records kept twice.

References
----------
.. [1] B. Iglewicz and D. C. Hoaglin, "How to Detect and Handle Outliers", ASQC Quality Press, 1993 (from memory).
.. [2] R. A. Fisher, "The Design of Experiments", Oliver and Boyd, 1935, ch. 2.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date

import numpy as np

from impact.batchtable import BatchTable, Days, joined
from impact.core import FloatArray
from impact.doubts import warnings_where
from impact.fingerprints import mixed, repeated
from impact.inventory import Balance
from impact.lanes import in_order
from impact.problems import Problem
from impact.proportions import above_exactly
from impact.texts import Coded, Codes, Flags

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

TOGETHER = ("date", "part", "site", "part_mass_kg", "good_parts", "rejects")
"""Columns that are compared over all batches at once."""

EARLIEST = date(2000, 1, 1)
"""First day that is believed. A choice of ours."""


def latest_believed(report_date: date | None, today: date | None) -> date | None:
    """Return the last day that is believed: the report's date, else the end of the year after today's; None if neither.

    Parameters
    ----------
    report_date : date, optional
        Date printed on reports, from ``workshop.toml``.
    today : date, optional
        Today, where the caller may read a clock.
    """
    if report_date is not None:
        return report_date
    return None if today is None else date(today.year + 1, 12, 31)


def compared(batches: BatchTable, balance: Balance) -> BatchTable:
    """Return what is kept of batches so that others can be compared with them: some 40 bytes each, and the name.

    The column `alike` is a fingerprint of day, count and dry masses: batches that are the same in all have the same.

    Parameters
    ----------
    batches : BatchTable
        Batches in canonical columns.
    balance : Balance
        Their dry mass balance.
    """
    alike = batches.days.astype(np.int64).view(np.uint64)
    for amounts in (batches.floats("good_parts"), balance.in_kg, balance.out_kg):
        alike = mixed(alike, np.ascontiguousarray(amounts).view(np.uint64))
    kept = {name: batches.columns[name] for name in ("batch", "part_mass_kg", "good_parts", "rejects")}
    return BatchTable(
        {
            **kept,
            "row": batches.rows.astype(np.int32),
            "date": batches.days,
            **{name: batches.coded(name).ordered().packed() for name in ("part", "site")},
            "alike": alike,
        }
    )


class Beside:
    """All batches of a folder, of which each has what `compared` keeps.

    Parameters
    ----------
    pieces : sequence of (str, BatchTable)
        The batches by block, in the order of the records, with the name of the block's file.
    """

    def __init__(self, pieces: Sequence[tuple[str, BatchTable]]) -> None:
        self.files = [file for file, _ in pieces]
        self.names = [piece.texts("batch") for _, piece in pieces]
        self.starts = np.cumsum([0, *(len(piece) for _, piece in pieces)])
        self.rows = [piece.rows for _, piece in pieces]
        self.alike = [piece.columns["alike"] for _, piece in pieces]
        self.batches = joined([piece.only(TOGETHER) for _, piece in pieces]) if pieces else BatchTable({})

    def named(self, places: Codes) -> Iterator[tuple[str, int, str]]:
        """Yield file, row and name of the batches at some places."""
        pieces = (np.searchsorted(self.starts, places, side="right") - 1).tolist()
        for place, piece in zip(places.tolist(), pieces, strict=True):
            within = place - int(self.starts[piece])
            yield self.files[piece], int(self.rows[piece][within]), self.names[piece][within]

    def where(self, place: int, beside: str) -> tuple[str, str]:
        """Return the name of a batch and its place in words, the file only where it is not `beside`."""
        ((file, row, name),) = self.named(np.array([place]))
        return name, f"row {row}" if file == beside else f"{file}, row {row}"

    def file(self, place: int) -> str:
        """Return the file of a batch."""
        return self.files[int(np.searchsorted(self.starts, place, side="right")) - 1]


def history_doubts(
    beside: Beside, chosen: Flags, *, latest: date | None, again: Callable[[Codes], BatchTable]
) -> list[Problem]:
    """Return the doubts about some batches that show beside all batches of the folder, by file and row.

    Parameters
    ----------
    beside : Beside
        All batches of the folder.
    chosen : ndarray of bool
        Which of them to look at.
    latest : date, optional
        Last day that is believed.
    again : callable
        Reads the batches at some places, in their order, with all columns: those that may have been kept twice.
    """
    rules: list[Callable[[], list[Problem]]] = [
        lambda: _more_rejects(beside, chosen),
        lambda: _heavy(beside, chosen),
        lambda: _out_of_order(beside, chosen),
        lambda: _twice(beside, chosen, again),
        lambda: _far_dates(beside, chosen, latest),
    ]
    found = [problem for problems in in_order(lambda rule: rule(), rules) for problem in problems]
    return sorted(found, key=lambda problem: (problem.file, problem.row or 0))


def robust_limits(values: FloatArray) -> tuple[float, float]:
    """Return the median and the limit, 4 robust deviations above it [1]_, of values without NaN.

    A robust deviation is the median absolute deviation over 0.6745, and 2 % of the median at least.
    """
    median = float(np.median(values))
    deviation = float(np.median(np.abs(values - median))) * DEVIATION_PER_MAD
    return median, median + ROBUST_DEVIATIONS * max(deviation, LEAST_DEVIATION * median)


def _heavy(beside: Beside, chosen: Flags) -> list[Problem]:
    mass, parts = beside.batches.floats("part_mass_kg"), beside.batches.coded("part")
    limits: dict[str, tuple[float, float]] = {}
    for part in parts.present():
        known = mass[parts.where(part)]
        known = known[~np.isnan(known)]
        if len(known) >= LEAST_WEIGHED:
            limits[part] = robust_limits(known)
    limit = parts.spread({part: upper for part, (_, upper) in limits.items()})
    return warnings_where(
        chosen & (mass > limit), beside, "heavy-part", "part mass",
        lambda index: (
            f"heavier than this part is elsewhere in the records, where the middle is {limits[parts[index]][0] * 1000.0:.3g} g; most often "
            "weighed before it was dry, fine if the part was changed"
        ),
        read=lambda index: f"{mass[index] * 1000.0:.3g} g",
        accepted=lambda index: f"up to {limit[index] * 1000.0:.3g} g, {ROBUST_DEVIATIONS:g} robust deviations above the middle",
    )  # fmt: skip


def _more_rejects(beside: Beside, chosen: Flags) -> list[Problem]:
    """Doubt batches whose rejects are above those of all earlier ones of the part, by the exact test [2]_."""
    batches = beside.batches
    parts, rejects, good = batches.coded("part"), batches.floats("rejects"), batches.floats("good_parts")
    order = in_time(batches.days)
    order = order[~np.isnan(rejects)[order]]
    jumps = [_jumps(places, rejects[places], good[places], chosen) for places in _by_code(order, parts)]
    at, k, n, before_k, before_n = (np.concatenate(column) for column in zip(*jumps, strict=True))
    p = above_exactly(k, n, before_k, before_n, below=REJECTS_LEVEL)
    flags = np.zeros(len(batches), dtype=bool)
    flags[at[p < REJECTS_LEVEL]] = True
    found = {int(place): one for one, place in enumerate(at.tolist()) if p[one] < REJECTS_LEVEL}

    def message(index: int) -> str:
        one = found[index]
        return (
            f"{k[one]:g} of {n[one]:g} parts failed, and {before_k[one]:g} of {before_n[one]:g} before; by chance alone this happens "
            f"in {p[one]:.1g} of cases. Fine if recipe, mould or people changed: say so in the notes"
        )

    return warnings_where(
        flags, beside, "more-rejects", "rejects", message,
        read=lambda index: f"{rejects[index]:g}",
        accepted=lambda index: "the rejects as counted",
    )  # fmt: skip


def _by_code(places: Codes, column: Coded) -> list[Codes]:
    """Return places in their order, those of each text of a column by themselves."""
    codes = column.codes[places]
    return [places[codes == code] for code in range(len(column.names))]


def _jumps(places: Codes, rejects: FloatArray, good: FloatArray, chosen: Flags) -> tuple[FloatArray, ...]:
    """Return the chosen batches of a part with a larger share of rejects than all before: place, rejects, parts, and those before."""
    pressed = rejects + good
    before_k, before_n = np.cumsum(rejects) - rejects, np.cumsum(pressed) - pressed
    more = np.flatnonzero(chosen[places] & (rejects * before_n > before_k * pressed))
    return places[more], rejects[more], pressed[more], before_k[more], before_n[more]


def in_time(days: Days) -> Codes:
    """Return the places of days in the order of time; equal days keep their order."""
    since = days.astype(np.int64)
    if (since[1:] >= since[:-1]).all():
        return np.arange(len(since))
    since = since - since.min()
    narrow = since.astype(np.uint16) if since.max() < 1 << 16 else since  # sorted in one pass
    return np.argsort(narrow, kind="stable")


def _out_of_order(beside: Beside, chosen: Flags) -> list[Problem]:
    """Doubt dates before that of the row above; each site keeps its own order."""
    days, sites = beside.batches.days, beside.batches.coded("site").packed()
    order = np.argsort(sites.codes, kind="stable")
    later, earlier = order[1:], order[:-1]
    falls = (sites.codes[later] == sites.codes[earlier]) & (days[later] < days[earlier])
    above = dict(zip(later[falls].tolist(), earlier[falls].tolist(), strict=True))
    flags = np.zeros(len(days), dtype=bool)
    flags[later[falls]] = True

    def message(index: int) -> str:
        _, where = beside.where(above[index], beside.file(index))
        return (
            f"before the day of {where}, {days[above[index]]}, which stands above it; most often a slip in the month or year of "
            "one of the two, fine if it was entered late"
        )

    return warnings_where(
        flags & chosen, beside, "date-order", "date", message,
        read=lambda index: f"{days[index]}",
        accepted=lambda index: "rows by date",
    )  # fmt: skip


def _twice(beside: Beside, chosen: Flags, again: Callable[[Codes], BatchTable]) -> list[Problem]:
    """Doubt batches of the same day, part and amounts, all of them; ids and notes may differ."""
    several = repeated(beside.alike)
    suspects = np.flatnonzero(np.isin(np.concatenate(beside.alike), several)) if len(several) else several
    first: dict[int, int] = {}
    if len(suspects):
        seen: dict[tuple[object, ...], int] = {}
        for place, cells in zip(suspects.tolist(), _all_but_names(again(suspects)), strict=True):
            before = seen.setdefault(cells, place)
            if before != place:
                first[place] = before
    flags = np.zeros(len(beside.batches), dtype=bool)
    flags[list(first)] = True

    def message(index: int) -> str:
        name, where = beside.where(first[index], beside.file(index))
        return (
            f"same day and same amounts as batch {name} in {where}; most often one batch entered twice, fine if two pressings were "
            "alike to the gram"
        )

    return warnings_where(
        flags & chosen, beside, "batch-twice", "batch", message,
        read=lambda index: beside.where(index, beside.file(index))[0],
        accepted=lambda index: "each batch once",
    )  # fmt: skip


def _all_but_names(batches: BatchTable) -> Iterator[tuple[object, ...]]:
    """Yield what is recorded of each batch but its name, row, sheet and notes; None where nothing is."""
    columns = []
    for name, column in batches.columns.items():
        if name not in ("row", "batch", "notes", "sheet"):
            values = column.tolist()
            columns.append([None if value != value else value for value in values])
    return zip(*columns, strict=True)


def _far_dates(beside: Beside, chosen: Flags, latest: date | None) -> list[Problem]:
    days = beside.batches.days
    flags = days < np.datetime64(EARLIEST)
    if latest is not None:
        flags = flags | (days > np.datetime64(latest))
    end = f" to {latest}" if latest is not None else ""
    return warnings_where(
        flags & chosen, beside, "far-date", "date",
        lambda index: "far from the days that a record can be of; most often a slip in the year",
        read=lambda index: f"{days[index]}",
        accepted=lambda index: f"a day from {EARLIEST}{end}",
    )  # fmt: skip
