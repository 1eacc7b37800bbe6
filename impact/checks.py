"""Checks of whole batches that need the factor tables: the dry mass balance."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from impact.problems import Problem

if TYPE_CHECKING:
    import pandas as pd

    from impact.inventory import Balance

WARN_BEYOND = 0.15
"""Share of the inflow, missing or in excess, from which a batch is doubted."""

REFUSE_EXCESS = 0.25
"""Excess of the outflow over the inflow from which a batch is refused."""


REFUSE_LOSS = 0.9
"""Share of the inflow that was not found again from which a batch is refused."""


def balance_problems(batches: pd.DataFrame, balance: Balance, file: str) -> list[Problem]:
    """Return a problem for each batch whose dry mass balance does not close.

    Beyond 15 % either way is a warning. Parts that hold over 25 % more than went in are an error, most
    often because they were weighed before they were dry; so is a batch of which over 90 % was not found
    again, most often a slip of the unit, because its paper would count as kept from landfill.

    Parameters
    ----------
    batches : DataFrame
        Batches in canonical columns.
    balance : Balance
        Their balance, row by row.
    file : str
        Name of the file, for the place.
    """
    made_of_nothing = (balance.in_kg <= 0.0) & (balance.out_kg > 0.0)
    doubtful = (np.abs(balance.unaccounted) > WARN_BEYOND) | made_of_nothing
    problems = []
    for index in np.flatnonzero(doubtful):
        share = float(balance.unaccounted[index])
        refused = bool(made_of_nothing[index]) or share < -REFUSE_EXCESS or share > REFUSE_LOSS
        inflow, outflow = float(balance.in_kg[index]), float(balance.out_kg[index])
        why = (
            "parts weighed before they were dry are the usual cause"
            if share < 0
            else "grams read as kilograms, or trim and rejects that were not recorded"
            if refused
            else "fines lost with the water, or a reject that was not recorded"
        )
        problems.append(
            Problem(
                "mass-balance",
                file,
                f"batch {batches['batch'].iloc[index]}: {inflow:.3g} kg dry matter went in and {outflow:.3g} kg came out; {why}",
                row=int(batches["row"].iloc[index]),
                column="good parts",
                read=f"{float(batches['good_parts'].iloc[index]):g}",
                accepted=f"out within {WARN_BEYOND:.0%} of in"
                + (f"; over {REFUSE_EXCESS:.0%} above or {REFUSE_LOSS:.0%} below is refused" if refused else ""),
                level="error" if refused else "warning",
                sheet=str(batches["sheet"].iloc[index]) if "sheet" in batches else None,
            )
        )
    return problems
