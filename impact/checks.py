"""Checks of whole batches that need the factor tables: the dry mass balance."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from impact.problems import Problem

if TYPE_CHECKING:
    from impact.balance import Balance
    from impact.batchtable import BatchTable

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
