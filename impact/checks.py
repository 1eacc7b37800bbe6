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


def balance_problems(batches: pd.DataFrame, balance: Balance, file: str) -> list[Problem]:
    """Return a problem for each batch whose dry mass balance does not close.

    Beyond 15 % either way is a warning; parts that hold over 25 % more than went in are an error, most
    often because they were weighed before they were dry.

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
        refused = bool(made_of_nothing[index]) or share < -REFUSE_EXCESS
        inflow, outflow = float(balance.in_kg[index]), float(balance.out_kg[index])
        why = (
            "parts weighed before they were dry are the usual cause"
            if share < 0
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
                + (f"; more than {REFUSE_EXCESS:.0%} above is refused" if refused else ""),
                level="error" if refused else "warning",
            )
        )
    return problems
