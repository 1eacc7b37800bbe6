"""What the unit registry finds for the units that people spell and the shipped factors have, kept in `impact/base/ratios.csv`.

python -m tests.ratios      # writes it anew
"""

from __future__ import annotations

import csv
from pathlib import Path

from impact.base import units
from impact.base.spellings import CANONICAL, spellings
from impact.factors.factorset import NOT_FACTORS
from impact.factors.keys import key_of, pattern_of

FILE = Path(units.__file__).with_name("ratios.csv")
TABLES = Path(__file__).parents[1] / "factors"


def pairs() -> set[tuple[str, str]]:
    """Return each unit that is turned into another, and the other."""
    spelt = {(unit, canonical) for dimension, canonical in CANONICAL.items() for unit in spellings(dimension)}
    shipped: set[tuple[str, str]] = set()
    for path in TABLES.glob("*.csv"):
        if path.name in NOT_FACTORS:
            continue
        with path.open(encoding="utf-8", newline="") as stream:
            for row in csv.DictReader(stream):
                pattern = pattern_of(key_of(row.get("id") or ""))
                shipped |= {(row["unit"], row["unit"] if pattern.unit == "*" else pattern.unit)} if pattern else set()
    return spelt | shipped


def made() -> str:
    """Return the table."""
    rows = [("unit", "other", "ratio"), *((*pair, repr(units.ratio_of(*pair))) for pair in sorted(pairs()))]
    return "".join(f"{','.join(row)}\n" for row in rows)


if __name__ == "__main__":
    FILE.write_text(made(), encoding="utf-8")
