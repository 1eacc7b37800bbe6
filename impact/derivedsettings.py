"""The workshop's own settings as leaves of a derivation: each knows where it was written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any, TypeVar

from impact.core.derivation import Equation, Node
from impact.workshop import Workshop

SETTING = Equation("setting")

T = TypeVar("T")
Columns = Mapping[str, tuple[str, str]]

WORKSHOP: Columns = {
    "gas_collection": ("gas_collection", "1"),
    "part_moisture": ("part_moisture", "1"),
    "horizon_years": ("horizon", "year"),
}
MOULD: Columns = {"mass_kg": ("mass", "kg"), "printing_kwh": ("printing", "kWh"), "pressings": ("pressings", "1")}
FATES: Columns = {name: (name, "1") for name in ("landfill", "incineration", "recycling", "composting")}
DRYING: Columns = {"pressed_solids": ("pressed_solids", "1")}
RECIPE: Columns = {"solids": ("solids", "1"), "preparation_kwh_per_kg": ("preparation", "kWh/kg")}
ORIGIN: Columns = {"post_consumer": ("post_consumer", "1")}
GRANT: Columns = {"share": ("share", "1")}
PART: Columns = {
    "mass_kg": ("mass", "kg"),
    "volume_l": ("volume", "L"),
    "service_life_years": ("service life", "year"),
    "plastic_mass_kg": ("plastic mass", "kg"),
    "plastic_service_life_years": ("plastic service life", "year"),
    "displacement": ("displacement", "1"),
}
"""Of each kind of settings the fields that hold a number: as what it is written, and its unit here."""


def setting(
    value: float, label: str, unit: str, *, file: str, place: str, evidence: str = "", default: bool = False
) -> Node:
    """Return a setting as a leaf.

    Parameters
    ----------
    value : float
        The number, in `unit`.
    label, unit : str
        What it is, and its unit.
    file, place : str
        Where it is written.
    evidence : str
        How it is known, as the workshop stated it.
    default : bool
        True when it is what the program takes where nothing is written.
    """
    details = {"file": file, "place": place, "evidence": evidence, "default": default}
    return Node(SETTING, lambda drawn: value, label=label, unit=unit, details=details)


def _with_leaves(owner: T, columns: Columns, file: str, table: str, of: str) -> T:
    """Return settings with their numbers as leaves."""
    defaults = {one.name: one.default for one in fields(owner)}  # type: ignore[arg-type]
    evidence = str(getattr(owner, "evidence", None) or getattr(owner, "printing_evidence", None) or "")
    found = {
        name: setting(
            float(value), f"{word.replace('_', ' ')} of {of}", unit, file=file, place=f"{table} {word}",
            evidence=evidence, default=value == defaults[name],
        )
        for name, (word, unit) in columns.items()
        if (value := getattr(owner, name)) is not None
    }  # fmt: skip
    changed: T = replace(owner, **found)  # type: ignore[type-var]
    return changed


def derived_workshop(workshop: Workshop) -> Workshop:
    """Return the workshop with every number that enters a calculation as a leaf."""
    toml = "workshop.toml"

    def tables(found: Mapping[str, T], columns: Columns, kind: str, word: str) -> dict[str, T]:
        return {
            name: _with_leaves(one, columns, toml, f"[{kind}.{name}]", f"{word} {name}".strip())
            for name, one in found.items()
        }

    end = workshop.end_of_life
    changed: dict[str, Any] = {
        "moulds": tables(workshop.moulds, MOULD, "moulds", "the mould"),
        "fates": tables(workshop.fates, FATES, "fates", "the fate of"),
        "binders": tables(workshop.binders, RECIPE, "binders", ""),
        "origins": tables(workshop.origins, ORIGIN, "origin", ""),
        "grants": tuple(_with_leaves(one, GRANT, toml, "[[grants]]", one.name) for one in workshop.grants),
        "drying": _with_leaves(workshop.drying, DRYING, toml, "[drying]", "a part as pressed"),
        "end_of_life": end and _with_leaves(end, FATES, toml, "[end_of_life]", "the end of life"),
        "parts": {
            name: _with_leaves(part, PART, "parts.csv", f"{name},", f"{name}") for name, part in workshop.parts.items()
        },
    }
    return replace(_with_leaves(workshop, WORKSHOP, toml, "[workshop]", "the workshop"), **changed)
