"""Doubts about batches that show only beside the other batches: weights, rejects, dates, records kept twice.

References
----------
.. [1] B. Iglewicz and D. C. Hoaglin, "How to Detect and Handle Outliers", ASQC Quality Press, 1993 (from memory).
.. [2] R. A. Fisher, "The Design of Experiments", Oliver and Boyd, 1935, ch. 2.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np

from impact.core import FloatArray
from impact.problems import Problem
from impact.proportions import above_exactly

if TYPE_CHECKING:
    import pandas as pd

Flags = np.ndarray[Any, np.dtype[np.bool_]]
Words = Callable[[int], str]

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


def warnings_where(
    flags: Flags, batches: pd.DataFrame, code: str, file: str, column: str | Words, message: Words, *,
    read: Words, accepted: Words,
) -> list[Problem]:  # fmt: skip
    """Return a warning for each flagged batch, its words made from the place of the batch in the table."""
    places = np.flatnonzero(flags)
    rows, names = (batches[column].iloc[places].tolist() for column in ("row", "batch"))
    return [
        Problem(
            code, file, f"batch {name}: {message(index)}", row=int(row),
            column=column if isinstance(column, str) else column(index), read=read(index), accepted=accepted(index),
            level="warning",
        )
        for index, row, name in zip(places.tolist(), rows, names, strict=True)
    ]  # fmt: skip


def history_doubts(
    batches: pd.DataFrame, all_batches: pd.DataFrame, *, latest: date | None, file: str
) -> list[Problem]:
    """Return the doubts about some batches that show beside all batches of the folder.

    Parameters
    ----------
    batches : DataFrame
        Batches to look at, in canonical columns.
    all_batches : DataFrame
        All batches of the folder.
    latest : date, optional
        Last day that is believed.
    file : str
        Name of the file, for the place.
    """
    chosen = np.isin(all_batches["row"].to_numpy(), batches["row"].to_numpy())
    return [
        *_heavy(all_batches, chosen, file),
        *_more_rejects(all_batches, chosen, file),
        *_out_of_order(all_batches, chosen, file),
        *_twice(all_batches, chosen, file),
        *_far_dates(all_batches, chosen, latest, file),
    ]


def robust_limits(values: FloatArray) -> tuple[float, float]:
    """Return the median and the limit, 4 robust deviations above it [1]_, of values without NaN.

    A robust deviation is the median absolute deviation over 0.6745, and 2 % of the median at least.
    """
    median = float(np.median(values))
    deviation = float(np.median(np.abs(values - median))) * DEVIATION_PER_MAD
    return median, median + ROBUST_DEVIATIONS * max(deviation, LEAST_DEVIATION * median)


def _heavy(frame: pd.DataFrame, chosen: Flags, file: str) -> list[Problem]:
    mass = frame["part_mass_kg"].to_numpy(dtype=float)
    weighed = ~np.isnan(mass)
    median, limit = np.full(len(frame), np.inf), np.full(len(frame), np.inf)
    for places in frame.groupby("part", observed=True).indices.values():
        known = places[weighed[places]]
        if len(known) >= LEAST_WEIGHED:
            median[known], limit[known] = robust_limits(mass[known])
    return warnings_where(
        weighed & chosen & (mass > limit), frame, "heavy-part", file, "part mass",
        lambda index: (
            f"heavier than this part is elsewhere in the records, where the middle is {median[index] * 1000.0:.3g} g; most often "
            "weighed before it was dry, fine if the part was changed"
        ),
        read=lambda index: f"{mass[index] * 1000.0:.3g} g",
        accepted=lambda index: f"up to {limit[index] * 1000.0:.3g} g, {ROBUST_DEVIATIONS:g} robust deviations above the middle",
    )  # fmt: skip


def _more_rejects(frame: pd.DataFrame, chosen: Flags, file: str) -> list[Problem]:
    """Doubt batches whose rejects are above those of all earlier ones of the part, by the exact test [2]_."""
    rejects = frame["rejects"].to_numpy(dtype=float)
    known = ~np.isnan(rejects)
    order = np.lexsort((frame["row"].to_numpy(), frame["date"].to_numpy()))
    order = order[known[order]]
    counts = frame.iloc[order][["part"]].assign(k=rejects[order])
    counts["n"] = counts["k"] + frame["good_parts"].to_numpy(dtype=float)[order]
    sums = counts.groupby("part", observed=True)[["k", "n"]].cumsum()
    k, n = counts["k"].to_numpy(), counts["n"].to_numpy()
    before_k, before_n = sums["k"].to_numpy() - k, sums["n"].to_numpy() - n
    jumps = chosen[order] & (before_n > 0.0) & (k * before_n > before_k * n)
    p = np.ones(len(k))
    p[jumps] = above_exactly(k[jumps], n[jumps], before_k[jumps], before_n[jumps])
    return warnings_where(
        p < REJECTS_LEVEL, frame.iloc[order], "more-rejects", file, "rejects",
        lambda index: (
            f"{k[index]:g} of {n[index]:g} parts failed, and {before_k[index]:g} of {before_n[index]:g} before; by chance alone "
            f"this happens in {p[index]:.1g} of cases. Fine if recipe, mould or people changed: say so in the notes"
        ),
        read=lambda index: f"{k[index]:g}",
        accepted=lambda index: "the rejects as counted",
    )  # fmt: skip


def _out_of_order(frame: pd.DataFrame, chosen: Flags, file: str) -> list[Problem]:
    """Doubt dates before that of the row above; each site keeps its own order."""
    above = frame.groupby("site", observed=True)[["date", "row"]].shift(1)
    dates = frame["date"]
    flags = chosen & (dates < above["date"]).to_numpy()
    return warnings_where(
        flags, frame, "date-order", file, "date",
        lambda index: (
            f"before the day of row {above['row'].iloc[index]:.0f}, {above['date'].iloc[index]:%Y-%m-%d}, which stands above it; "
            "most often a slip in the month or year of one of the two, fine if it was entered late"
        ),
        read=lambda index: f"{dates.iloc[index]:%Y-%m-%d}",
        accepted=lambda index: "rows by date",
    )  # fmt: skip


def _twice(frame: pd.DataFrame, chosen: Flags, file: str) -> list[Problem]:
    """Doubt batches of the same day, part and amounts, all of them; ids and notes may differ."""
    columns = [name for name in frame.columns if name not in ("row", "batch", "notes")]
    amounts = frame.select_dtypes("number").drop(columns="row")
    sums = frame[["date"]].assign(total=amounts.sum(axis=1).to_numpy())
    places = np.flatnonzero(sums.duplicated(keep=False).to_numpy())
    alike = frame.iloc[places]
    first = np.arange(len(frame))
    if len(places):
        kinds = alike.groupby(columns, dropna=False, observed=True, sort=False).ngroup().to_numpy()
        start = np.unique(kinds, return_index=True)[1]
        first[places] = places[start[kinds]]
    rows, names = frame["row"].to_numpy(), frame["batch"].to_numpy()
    return warnings_where(
        chosen & (first < np.arange(len(frame))), frame, "batch-twice", file, "batch",
        lambda index: (
            f"same day and same amounts as batch {names[first[index]]} in row {rows[first[index]]}; most often one batch entered "
            "twice, fine if two pressings were alike to the gram"
        ),
        read=lambda index: str(names[index]),
        accepted=lambda index: "each batch once",
    )  # fmt: skip


def _far_dates(frame: pd.DataFrame, chosen: Flags, latest: date | None, file: str) -> list[Problem]:
    dates = frame["date"]
    flags = (dates < EARLIEST.isoformat()).to_numpy()
    if latest is not None:
        flags = flags | (dates > latest.isoformat()).to_numpy()
    end = f" to {latest}" if latest is not None else ""
    return warnings_where(
        flags & chosen, frame, "far-date", file, "date",
        lambda index: "far from the days that a record can be of; most often a slip in the year",
        read=lambda index: f"{dates.iloc[index]:%Y-%m-%d}",
        accepted=lambda index: f"a day from {EARLIEST}{end}",
    )  # fmt: skip
