"""The records as they would be if one thing about a part were different.

Each `with_` function writes a value into the records, and nothing else decides what that value means; the function
`_now` of the same thing tells what is recorded. What a variable sets is taken as true, without the error of its
evidence class (`impact.decisions.variables`).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from impact.account.amounts import BatchAmounts
from impact.account.intensities import UnitImpacts
from impact.account.linekinds import BATCHES, DRIVING, DRYING, REJECTS, estimated
from impact.account.steps import NO_BINDER
from impact.core import Numbers
from impact.core.node import first
from impact.decisions.scenario import Comparison, Making, Scenario
from impact.factors.values import FATES
from impact.records.workshop import FateSplit, Mould
from impact.tables.texts import Coded, Flags


def with_drying(scenario: Scenario, kwh: Numbers) -> Scenario:
    """Return records in which every batch of the part takes `kwh` per good part to dry. [kWh]

    The heat drawn from a heated room stays: it follows the water, not the dryer.
    """
    rows = scenario.rows
    return scenario.with_batches(
        drying_kwh=np.where(rows, kwh * scenario.column("good_parts"), scenario.column("drying_kwh")),
        drying_kwh_evidence=Coded.of(
            "metered" if mine else known
            for mine, known in zip(rows, scenario.batches.coded("drying_kwh_evidence"), strict=True)
        ),
    )


def drying_now(scenario: Scenario, found: Making) -> float:
    """Return the drying energy per good part, recorded or estimated. [kWh]"""
    stock, impacts = found.inventory, found.impacts
    total = stock.sum_of(*DRYING)
    for dryer, dry_kg in stock.items(*estimated(DRYING)).items():
        total += dry_kg * first(impacts.drying_kwh(dryer))
    return total / found.good


def with_grid(scenario: Scenario, kgco2e_per_kwh: float) -> Scenario:
    """Return records with another emission per kWh, for all that the workshop uses and for plastic made from resin.

    It also values the electricity that incinerators sell, on both sides. [kgCO2e/kWh]
    """
    return replace(scenario, grid_kgco2e_per_kwh=kgco2e_per_kwh)


def mould_of(scenario: Scenario) -> Mould:
    """Return the mould of the part."""
    return scenario.workshop.moulds[scenario.workshop.parts[scenario.part].mould]


def _with_mould(scenario: Scenario, mould: Mould) -> Scenario:
    moulds = {**scenario.workshop.moulds, mould.name: mould}
    return replace(scenario, workshop=replace(scenario.workshop, moulds=moulds))


def with_pressings(scenario: Scenario, pressings: float) -> Scenario:
    """Return records in which the mould of the part is not retired and lasts for `pressings`. [-]"""
    return _with_mould(scenario, replace(mould_of(scenario), pressings=pressings, retired=False))


def pressings_now(scenario: Scenario, found: Comparison) -> float:
    """Return the expected life of the part's mould; once it is retired, what it made. [-]"""
    return float(found.impacts.mould_life(mould_of(scenario)))


def _glued(scenario: Scenario, amounts: BatchAmounts) -> Flags:
    """Return which batches of the part have a dose: those of fresh fibre and a binder."""
    glued: Flags = scenario.rows & ~scenario.batches.coded("binder").where_any(NO_BINDER) & (amounts.dry_fibre_kg > 0.0)
    return glued


def with_dose(scenario: Scenario, dose: Numbers) -> Scenario:
    """Return records in which each batch of the part that has a binder holds `dose` dry binder per dry fibre. [kg/kg]

    One dose, or one for each batch.
    Recorded energy to prepare the binder grows with its mass; batches without binder or fresh fibre stay.
    """
    amounts = scenario.amounts
    glued = _glued(scenario, amounts)
    dry = dose * amounts.dry_fibre_kg
    before = amounts.dry_binder_kg
    scale = np.where(glued, np.divide(dry, before, out=np.ones_like(dry), where=before > 0.0), 1.0)
    return scenario.with_batches(
        binder_kg=np.where(glued, dry / amounts.binder_solids, scenario.column("binder_kg")),
        binder_solids=np.where(glued, amounts.binder_solids, scenario.column("binder_solids")),
        binder_preparation_kwh=scenario.column("binder_preparation_kwh") * scale,
    )


def dose_now(scenario: Scenario, found: Making) -> float:
    """Return the dry binder per dry fibre over the batches that have a binder; 0 when none has. [kg/kg]"""
    amounts = scenario.amounts
    glued = _glued(scenario, amounts)
    fibre = float(amounts.dry_fibre_kg[glued].sum())
    return float(amounts.dry_binder_kg[glued].sum()) / fibre if fibre else 0.0


def with_life(scenario: Scenario, years: float) -> Scenario:
    """Return records in which one moulded part serves for `years`. [year]"""
    workshop = scenario.workshop
    changed = replace(workshop.parts[scenario.part], service_life_years=years)
    return replace(scenario, workshop=replace(workshop, parts={**workshop.parts, scenario.part: changed}))


def with_rejects(scenario: Scenario, rate: Numbers) -> Scenario:
    """Return records in which `rate` of the pressings of every batch of the part fail, their number unchanged. [-]

    One rate, or one for each batch. Paper, binder, energy and the mass of a part stay, so that what is not a good part is a reject of its mass.
    """
    rows, good = scenario.rows, scenario.column("good_parts")
    pressed = good + scenario.amounts.rejects
    return scenario.with_batches(
        good_parts=np.where(rows, (1.0 - rate) * pressed, good),
        rejects=np.where(rows, rate * pressed, scenario.column("rejects")),
    )


def rejects_now(scenario: Scenario, found: Comparison) -> float:
    """Return the share of pressings that failed. [-]"""
    failed = found.inventory.sum_of(*REJECTS)
    return failed / (failed + found.good)


def with_half_rejects(scenario: Scenario) -> Scenario:
    """Return records in which half of the pressings that fail in each batch of the part are good instead."""
    failed, good = scenario.amounts.rejects, scenario.column("good_parts")
    pressed = failed + good
    return with_rejects(scenario, np.divide(failed / 2.0, pressed, out=np.zeros_like(failed), where=pressed > 0.0))


def with_half_dose(scenario: Scenario) -> Scenario:
    """Return records in which each batch of the part that has a binder holds half of it."""
    fibre, dry = scenario.amounts.dry_fibre_kg, scenario.amounts.dry_binder_kg
    return with_dose(scenario, np.divide(dry / 2.0, fibre, out=np.zeros_like(dry), where=fibre > 0.0))


def with_transport(scenario: Scenario, km: Numbers) -> Scenario:
    """Return records in which each batch of the part takes `km` of driving. [km]"""
    return scenario.with_batches(transport_km=np.where(scenario.rows, km, scenario.column("transport_km")))


def transport_now(scenario: Scenario, found: Making) -> float:
    """Return the kilometres driven per batch, recorded or estimated. [km]"""
    stock = found.inventory
    weighed = stock.sum_of(*estimated(DRIVING))
    km = stock.sum_of(*DRIVING) + (weighed * found.impacts.values.central("estimate.transport") if weighed else 0.0)
    return km / stock.sum_of(*BATCHES)


def with_vehicle(scenario: Scenario, vehicle: str) -> Scenario:
    """Return records in which a vehicle of the catalogue fetches all paper."""
    return replace(scenario, workshop=replace(scenario.workshop, vehicle=vehicle))


def with_mould_mass(scenario: Scenario, kg: float) -> Scenario:
    """Return records in which the mould of the part weighs `kg`; a recorded printing energy stays. [kg]"""
    return _with_mould(scenario, replace(mould_of(scenario), mass_kg=kg))


def _shares(impacts: UnitImpacts) -> dict[str, float]:
    """Return the central shares of where finished parts go. [-]"""
    return {fate: first(share) for fate, share in zip(FATES, impacts.end_of_life_shares, strict=True)}


def with_share(fate: str, scenario: Scenario, share: float) -> Scenario:
    """Return records in which `share` of the finished parts takes one route in the end. [-]

    The others keep their proportions by the central values; where they have nothing now, they get equal shares.
    """
    others = {
        name: value
        for name, value in _shares(UnitImpacts(scenario.workshop, scenario.values, {})).items()
        if name != fate
    }
    total = sum(others.values())
    rest = {name: (1.0 - share) * (value / total if total else 1.0 / len(others)) for name, value in others.items()}
    split = FateSplit(**{**rest, fate: share}, evidence="what if")
    return replace(scenario, workshop=replace(scenario.workshop, end_of_life=split))


def share_now(fate: str, scenario: Scenario, found: Making) -> float:
    """Return the central share of the finished parts that takes a route. [-]"""
    return _shares(found.impacts)[fate]
