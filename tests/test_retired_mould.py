"""A retired mould shares its whole burden over what it made, blank rejects estimated the same above and below the line.

Checked against, from outside:

- the whole burden is shared, no more and no less: ISO 14044:2006 clause 4.3.4.1, the sum of the allocated inputs and
  outputs equals that before allocation (clause from memory)
"""

from __future__ import annotations

from math import nan

import numpy as np
import pytest

from impact.account.assessment import assess
from impact.account.results import Results
from impact.factors.factorset import read_factors
from impact.records.workshop import Mould
from tests.frames import PLAIN, batches, workshop

BLANK = {**PLAIN, "rejects": nan}
RETIRED = Mould("shell", "PLA", 0.3, 2.5, "metered", 100, retired=True)


def run(mould: Mould, *rows: dict[str, float], chosen: slice = slice(None)) -> Results:
    frame = batches(rows)
    shop = workshop(moulds={"shell": mould})
    return assess(shop, frame[chosen].reset_index(drop=True), read_factors(), draws=20, all_batches=frame)


def charged(results: Results) -> float:
    """Return what the parts bear of moulds. [kgCO2e]"""
    return sum(part.stages["mould"] * part.good for part in results.parts)


@pytest.mark.parametrize("rows", [(BLANK, BLANK), (BLANK, PLAIN), (PLAIN, PLAIN)])
def test_retired_mould_charges_all_of_itself_and_no_more(rows: tuple[dict[str, float], ...]) -> None:
    whole = (
        charged(run(Mould("shell", "PLA", 0.3, 2.5, "metered", 1), PLAIN)) / 11.0
    )  # one mould for each of 11 pressings
    assert charged(run(RETIRED, *rows)) == pytest.approx(whole, rel=1e-12)


def test_retired_mould_charges_two_periods_what_it_charges_both() -> None:
    rows = (BLANK, PLAIN, BLANK)
    halves = [charged(run(RETIRED, *rows, chosen=place)) for place in (slice(0, 1), slice(1, 3))]
    assert np.sum(halves) == pytest.approx(charged(run(RETIRED, *rows)), rel=1e-12)
