"""Workshops and batches made in memory for tests; every figure is invented."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from impact.account.amounts import Balance
from impact.account.assessment import values_for
from impact.account.comparison import Beside, history_doubts, traits_of
from impact.base.catalogue import read_names
from impact.base.problems import Problem
from impact.factors.factorset import read_factors
from impact.records.batchtable import BatchTable
from impact.records.workshop import Device, Drying, FateSplit, Mould, Part, Workshop
from impact.tables.texts import Flags

ENERGY = ("shredding", "binder_preparation", "blending", "pressing", "drying")


def part(name: str = "pot", **changes: Any) -> Part:
    """Return a part with plain settings."""
    settings: dict[str, Any] = {
        "name": name, "mould": "shell", "mass_kg": 0.05, "volume_l": 0.08, "service_life_years": 2.0, "wet_use": False,
        "polymer": "PP", "process": "injection-moulding", "plastic_mass_kg": 0.03, "plastic_service_life_years": 2.0,
        "equivalence": "measured", "displacement": 0.5,
    }  # fmt: skip
    return Part(**{**settings, **changes})


def workshop(*parts: Part, **changes: Any) -> Workshop:
    """Return a workshop in the United States with one mould."""
    made = parts or (part(),)
    settings: dict[str, Any] = {
        "name": "Test bench", "country": "USA", "landfill_climate": "temperate-wet",
        "equipment": {"blender": Device("blender", 390.0)},
        "moulds": {"shell": Mould("shell", "PLA", 0.3, 2.5, "metered", 100)},
        "fates": {"corrugated": FateSplit(landfill=0.5, recycling=0.5, evidence="looked into")},
        "drying": Drying(dryer="fan"), "parts": {item.name: item for item in made},
    }  # fmt: skip
    return Workshop(**{**settings, **changes})


def batches(rows: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """Return batches in canonical columns; what a row leaves out is blank."""
    records = []
    for place, row in enumerate(rows):
        record: dict[str, Any] = {
            "row": place + 2, "batch": f"B{place:05d}", "date": "2026-03-02", "part": "pot", "site": "", "fate": "",
            "binder": "none", "rejects_to": "", "trim_to": "", "notes": "", "own_rejects_kg": 0.0, "good_parts": 0.0,
            "paper.corrugated_kg": 0.0, "paper.office_kg": 0.0,
        }  # fmt: skip
        record |= dict.fromkeys(
            ("moisture", "binder_kg", "binder_solids", "water_l", "part_mass_kg", "transport_km", "hours", "people", "cost",
             "rejects", "trim_kg", "test_load_n", "test_span_mm", *(f"{name}_kwh" for name in ENERGY)),
            float("nan"),
        )  # fmt: skip
        record |= row
        for name in ENERGY:
            blank = record[f"{name}_kwh"] != record[f"{name}_kwh"]
            record.setdefault(f"{name}_kwh_evidence", "estimated" if blank else "metered")
        records.append(record)
    frame = pd.DataFrame(records)
    frame["date"] = pd.to_datetime(frame["date"])
    for column in ("part", "site", "fate", "binder", "rejects_to", "trim_to"):
        frame[column] = frame[column].astype("category")
    return frame


def history_of(
    table: BatchTable, balance: Balance, chosen: Flags | None = None, latest: date | None = None
) -> list[Problem]:
    """Return the doubts about batches beside one another, those of one file."""
    beside = Beside()
    shop = workshop(*(part(name) for name in table.coded("part").names))
    values = values_for(shop, read_factors(), read_names(), seed=0, draws=1)
    beside.add("batches.csv", traits_of(table, balance, shop, values), 0)
    flags = np.ones(len(table), dtype=bool) if chosen is None else chosen
    return history_doubts(beside, flags, latest=latest)


PLAIN = {
    "paper.corrugated_kg": 0.6, "moisture": 0.07, "good_parts": 10.0, "rejects": 1.0, "rejects_to": "landfill", "trim_kg": 0.0,
    "trim_to": "landfill", "drying_kwh": 0.5, "blending_kwh": 0.1, "shredding_kwh": 0.0, "pressing_kwh": 0.0, "water_l": 5.0,
    "transport_km": 1.0,
}  # fmt: skip
"""One batch that closes its balance: 0.558 kg dry in, 0.517 kg dry out."""
