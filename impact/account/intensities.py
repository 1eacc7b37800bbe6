"""What the lines of the account rest on, per unit: factors put together by the functions of `core`."""

from __future__ import annotations

import copy
from collections.abc import Callable, Hashable, Mapping
from dataclasses import replace
from functools import cached_property, wraps
from typing import Any, Self, TypeVar, cast

from impact.account.inventory import ELECTRICITY, OWN_REJECTS, SPLIT, UNRECORDED
from impact.core import FloatArray, Numbers
from impact.core import disposal as routes
from impact.core.footprint import drying_energy, mould_per_pressing, room_heat, weighted_by_fate
from impact.core.landfill import (
    CO2_PER_CARBON,
    carbon_staying,
    decayed_share,
    decomposable_carbon,
    emitted_by_site,
    methane_potential,
)
from impact.core.moisture import water_to_evaporate
from impact.factors.electricity import Grid, grid_of
from impact.factors.values import FATES, Values, known
from impact.factors.worked import Worked
from impact.records.workshop import FateSplit, LandfillParameters, Mould, Workshop

Method = TypeVar("Method", bound=Callable[..., Any])


def shared(method: Method) -> Method:
    """Make a method of `UnitImpacts` a step that lines share, given by `UnitImpacts.step`."""

    @wraps(method)
    def given(impacts: UnitImpacts, *of: Any) -> Any:
        names = tuple(getattr(one, "name", one) for one in of if one is not None)
        return impacts.step(method.__name__, names, lambda: method(impacts, *of))

    return cast(Method, given)


ANYWAY = frozenset({
    "part_solids", "elsewhere", "sold", "handling", "counterfactual_shares", "end_of_life_shares", "recycling_saves",
    "lost_recycling", "plastic_disposal", "plastic_sold",
})  # fmt: skip
"""Steps that are the same under every view of `UnitImpacts.under`: worked out once for all of them."""


class UnitImpacts:
    """Unit impacts for one workshop.

    Parameters
    ----------
    workshop : Workshop
        Fates, moulds, drying and the rest of the settings.
    values : Values
        Factors of the run.
    pressings_made : mapping of str to float
        Pressings recorded so far for each mould, for moulds that are retired.
    grid_kgco2e_per_kwh : float, optional
        Delivered electricity in place of the factor tables' grid, without error. [kgCO2e/kWh]
    kept : callable, optional
        Gives the shares of a grade that were kept from `FATES`; by default all that would have gone there.
    """

    def __init__(
        self,
        workshop: Workshop,
        values: Values,
        pressings_made: dict[str, float],
        *,
        grid_kgco2e_per_kwh: float | None = None,
        kept: Callable[[UnitImpacts, str, str], list[Numbers]] | None = None,
    ) -> None:
        self.workshop, self.kept = workshop, kept or type(self).counterfactual_shares
        self.values, self.pressings_made, self.grid_kgco2e_per_kwh = values, pressings_made, grid_kgco2e_per_kwh
        self.case, self.storage = "", False
        self.views: dict[tuple[Hashable, ...], Self] = {}
        self.worked = self.anyway = Worked(values, alone=grid_kgco2e_per_kwh is not None)

    def under(
        self,
        case: str,
        *,
        parameters: LandfillParameters | None = None,
        years: float | None = None,
        storage: bool = False,
        fines: bool = True,
    ) -> Self:
        """Return the same with another view of landfills or of fines, under the name of a case.

        It is another set of parameters, another time over which decay is counted [year], a credit of the biogenic carbon
        that stays there, or no paper taken off for fines; what is not given is the workshop's.
        """
        asked = (case, parameters, years, storage, fines)
        if asked in self.views:
            return self.views[asked]
        seen = self.views[asked] = copy.copy(self)
        seen.case, seen.storage, seen.views = case, storage, {}
        seen.worked = Worked(self.values, case, alone=not self.worked.lasts)
        horizon = self.workshop.horizon_years if years is None else years
        chosen = parameters or self.workshop.landfill_parameters
        seen.workshop = replace(self.workshop, landfill_parameters=chosen, horizon_years=horizon)
        if not fines:
            seen.kept = type(self).counterfactual_shares
        return seen

    def step(self, name: str, of: tuple[Hashable, ...], work_out: Callable[[], Any]) -> Any:
        """Return a step worked out once for the run; its factors are noted as used by every line that asks for it.

        It is what the method `name` gives for the names `of`, as `work_out` works it out.
        """
        return (self.anyway if name in ANYWAY else self.worked).step((name, of), work_out)

    # -- shared parameters ------------------------------------------------------------------------

    @cached_property
    def grid(self) -> Grid:
        """Electricity at the workshop's socket."""
        stated = self.grid_kgco2e_per_kwh
        return grid_of(self.values, *self.grid_place, self.values.regions, stated_kgco2e_per_kwh=stated)

    @property
    def grid_place(self) -> tuple[str, str]:
        """Grid region of the workshop, or its country, and the country."""
        return self.workshop.electricity or self.workshop.country, self.workshop.country

    @property
    def kwh(self) -> FloatArray:
        """Emission per kWh; noted as used by the line that asks. [kgCO2e/kWh]"""
        for factor_id in self.grid.factors:
            self.values.note(factor_id)
        return self.grid.kgco2e_per_kwh

    @property
    def generated_kwh(self) -> FloatArray:
        """Emission per kWh where it is generated; noted as used by the line that asks. [kgCO2e/kWh]"""
        for factor_id in self.grid.factors:
            self.values.note(factor_id)
        return self.grid.generated_kgco2e_per_kwh

    @property
    def climate(self) -> str:
        """Decay climate: the workshop's, else temperate and wet."""
        return self.workshop.landfill_climate or "temperate-wet"

    @property
    @shared
    def part_solids(self) -> Numbers:
        """Solids of a finished part. [-]"""
        stated = self.workshop.part_moisture
        return 1.0 - (stated if stated is not None else self.values.get("part.moisture"))

    def gwp(self, gas: str) -> FloatArray:
        """Return the 100-year warming potential of a gas, from the report that the workshop chose. [kgCO2e/kg]"""
        return self.values.get(f"gwp.{gas}")

    # -- disposal, per dry kg ------------------------------------------------------------------------

    @shared
    def methane_leak(self, decay: str) -> Numbers:
        """Return the emission per kg of methane that a waste can give where no air gets in. [kgCO2e/kg]"""
        return self._decayed(decay) * self.emitted * self.gwp("methane-non-fossil")

    @property
    @shared
    def emitted(self) -> Numbers:
        """Share of that methane that leaves the sites. [-]"""
        return self.emitted_by(self.sites)

    def emitted_by(self, sites: Mapping[str, Numbers]) -> Numbers:
        """Return the share of the methane that leaves kinds of site of some shares, the mean over the kinds. [-]"""
        of_sites = ([self._at_site(name, site) for site in sites] for name in ("mcf", "collection", "oxidation"))
        return emitted_by_site(list(sites.values()), *of_sites)

    @property
    def sites(self) -> dict[str, Numbers]:
        """Kinds of landfill with their shares: the workshop's, else managed sites and those of unknown kind as in its country."""
        if self.workshop.landfill_site:
            return {self.workshop.landfill_site: 1.0}
        managed = self.values.get("landfill.managed-share")
        return {"managed": managed, "uncategorised": 1.0 - managed}

    def _at_site(self, name: str, site: str) -> Numbers:
        """Return a property of one kind of site: as stated, else of the kind, else the common one. [-]"""
        if name == "collection" and self.workshop.gas_collection is not None:
            return self.workshop.gas_collection
        of_kind = f"landfill.{name}.{site}"
        return self.values.get(of_kind if self.values.has(of_kind) else f"landfill.{name}")

    def _decayed(self, decay: str) -> Numbers:
        """Return the share of what can decompose that has decayed by the horizon. [-]"""
        get, years = self.values.get, self.workshop.horizon_years
        return decayed_share(get(f"landfill.k.{decay}.{self.climate}"), years, delay_years=get("landfill.delay"))

    @shared
    def carbon_staying(self, kind: str, item: str) -> Numbers:
        """Return the biogenic carbon of one dry kg that stays in a landfill, as CO2; measured to the end of decay. [kgCO2/kg]"""
        get = self.values.get
        if self.workshop.landfill_parameters == "measured" and kind == "fibre":
            return get(f"paper.carbon-storage.{item}") * CO2_PER_CARBON
        name, decay = ("paper", "paper") if kind == "fibre" else ("binder", "starch")
        left = carbon_staying(get(f"{name}.doc.{item}"), get(f"{name}.docf.{item}"), self._decayed(decay))
        return left * CO2_PER_CARBON

    @shared
    def methane_yield(self, kind: str, item: str) -> Numbers:
        """Return all methane that one dry kg can give where no air gets in, by the guidelines or as measured. [kg/kg]"""
        get = self.values.get
        name = "paper" if kind == "fibre" else "binder"
        if self.workshop.landfill_parameters == "measured" and kind == "fibre":
            return get(f"paper.methane-yield.{item}")
        carbon = decomposable_carbon(get(f"{name}.doc.{item}"), get(f"{name}.docf.{item}"))
        return methane_potential(carbon, methane_fraction=get("landfill.methane-fraction"))

    @shared
    def disposal(self, kind: str, item: str, fate: str) -> Numbers:
        """Return the emission of one dry kg of fibre or binder by one route. [kgCO2e/kg]"""
        if fate == "landfill":
            methane = self.methane_yield(kind, item) * self.methane_leak("paper" if kind == "fibre" else "starch")
            return methane - self.carbon_staying(kind, item) if self.storage else methane
        return self.elsewhere(kind, item, fate)

    @shared
    def elsewhere(self, kind: str, item: str, fate: str) -> Numbers:
        """Return the same by a route on which no view of landfills bears. [kgCO2e/kg]"""
        get = self.values.get
        if fate == "incineration":
            name = "paper" if kind == "fibre" else "binder"
            waste = "paper" if kind == "fibre" else "part"
            return self.burning(
                get(f"{name}.carbon.{item}"), get(f"{name}.fossil-share.{item}"), waste, self.part_solids
            )
        if fate == "composting" and self._inert(kind, item):
            return (
                0.0 * get(f"binder.doc.{item}") if kind == "binder" else 0.0
            )  # the row that says so is in the derivation
        if fate == "composting":
            return routes.composting(
                get("composting.methane"),
                get("composting.nitrous-oxide"),
                methane_gwp=self.gwp("methane-non-fossil"),
                nitrous_oxide_gwp=self.gwp("nitrous-oxide"),
            )
        return 0.0

    def _inert(self, kind: str, item: str) -> bool:
        """Return whether no carbon of a binder or a polymer decays: so the rows of the one, all fossil that of the other."""
        if kind == "polymer":
            return bool(self.values.central(f"polymer.fossil-share.{item}") >= 1.0)
        return kind == "binder" and not self.values.central(f"binder.doc.{item}") > 0.0

    def burning(self, carbon: Numbers, fossil_share: Numbers, waste: str, solids: Numbers) -> Numbers:
        """Return the emission of burning one dry kg; trace gases and electricity are per kg as weighed. [kgCO2e/kg]"""
        get = self.values.get
        trace = get("incineration.methane") * self.gwp("methane-non-fossil")
        trace = trace + get("incineration.nitrous-oxide") * self.gwp("nitrous-oxide")
        oxidation, gases = get("incineration.oxidation"), trace / solids
        burnt = routes.incineration(carbon, fossil_share, oxidation=oxidation, trace_gases_kgco2e=gases)
        return burnt - self.sold(waste) / solids

    @shared
    def sold(self, waste: str) -> Numbers:
        """Return what the electricity sold from burning one kg as weighed replaces, where it is generated. [kgCO2e/kg]"""
        key = f"incineration.net-electricity.{waste}"
        return self.values.get(key) * self.generated_kwh if self.values.has(key) else 0.0

    def sold_of(self, waste: str, burnt: Numbers) -> Numbers:
        """Return the credit of one dry kg of which the share `burnt` is burnt. [kgCO2e/kg]"""
        return burnt * self.sold(waste) / self.part_solids

    @shared
    def counterfactual_shares(self, grade: str, route: str) -> list[Numbers]:
        """Return the shares over `FATES` of what would have happened to a grade."""
        if route != SPLIT:  # the log asks for it only where it is known
            alone = [1.0 if fate == route else 0.0 for fate in FATES]
            return self.values.stated_shares(f"batches recorded for {route}", alone, "observed")
        stated = self.workshop.fates.get(grade)
        if stated is None:
            return self.values.fate_shares(grade)
        return self._stated(grade, stated)

    def _stated(self, name: str, split: FateSplit) -> list[Numbers]:
        return self.values.stated_shares(name, [getattr(split, fate) for fate in FATES], known(split.evidence))

    @property
    @shared
    def end_of_life_shares(self) -> list[Numbers]:
        """Shares over `FATES` of where finished parts go."""
        stated = self.workshop.end_of_life
        if stated is None:
            return self.values.fate_shares("part")
        return self._stated("end of life", stated)

    @shared
    def avoided(self, grade: str, route: str) -> Numbers:
        """Return what one dry kg of paper, less its fines, would have emitted by landfill, fire and compost. [kgCO2e/kg]"""
        shares = self.kept(self, grade, route)
        return weighted_by_fate(shares, [self.disposal("fibre", grade, fate) for fate in FATES])

    @shared
    def recycling_saves(self, grade: str) -> Numbers:
        """Return what recycling one kg of paper as weighed saves of primary fibre. [kgCO2e/kg]"""
        get = self.values.get
        return routes.lost_recycling(
            get(f"paper.primary.{grade}"),
            get(f"paper.secondary.{grade}"),
            recycling_yield=get(f"paper.recycling-yield.{grade}"),
        )

    @shared
    def lost_recycling(self, grade: str, route: str) -> Numbers:
        """Return what one kg of paper as weighed takes from recycling. [kgCO2e/kg]"""
        return self.counterfactual_shares(grade, route)[FATES.index("recycling")] * self.recycling_saves(grade)

    @shared
    def handling(self, waste: str, fate: str) -> Numbers:
        """Return collection and handling of one kg of a waste as weighed, ``part`` or ``plastic``, by one route. [kgCO2e/kg]"""
        return self.values.get(f"handling.recycling.{waste}" if fate == "recycling" else f"handling.{fate}")

    @shared
    def disposed(self, kind: str, item: str, fate: str) -> Numbers:
        """Return the end of one dry kg in parts or losses by one route, with collection and handling. [kgCO2e/kg]"""
        emitted = self.disposal(kind, item, fate)
        return emitted if fate == OWN_REJECTS else emitted + self.handling("part", fate) / self.part_solids

    # -- plastics --------------------------------------------------------------------------------------

    @shared
    def plastic_disposal(self, polymer: str) -> Numbers:
        """Return the end of life of one kg of a polymer over the country's routes for plastic. [kgCO2e/kg]"""
        get = self.values.get
        burnt = self.burning(get(f"polymer.carbon.{polymer}"), get(f"polymer.fossil-share.{polymer}"), "plastic", 1.0)
        by_route = {
            "landfill": 0.0,
            "incineration": burnt,
            "recycling": 0.0,
            "composting": self.disposal("polymer", polymer, "composting"),
        }
        ends = [by_route[fate] + self.handling("plastic", fate) for fate in FATES]
        return weighted_by_fate(self.values.fate_shares("plastic"), ends)

    @property
    @shared
    def plastic_sold(self) -> Numbers:
        """Credit of electricity sold in the end of life of one kg of plastic. [kgCO2e/kg]"""
        return self.values.fate_shares("plastic")[FATES.index("incineration")] * self.sold("plastic")

    def mould_sold(self, mould: Mould) -> Numbers:
        """Return the part of that credit in one pressing's share of a mould. [kgCO2e]"""
        printed = self.values.has(f"polymer.carbon.{mould.material}")
        return mould.mass_kg * self.plastic_sold / self.mould_life(mould) if printed else 0.0

    @shared
    def mould(self, mould: Mould) -> Numbers:
        """Return the emission that one pressing bears of its mould. [kgCO2e]"""
        return mould_per_pressing(*self._mould_burdens(mould), pressings=self.mould_life(mould))

    @shared
    def mould_bought(self, mould: Mould) -> Numbers:
        """Return the emission of a whole mould: material, printing, end of life. [kgCO2e]"""
        material, printing, waste = self._mould_burdens(mould)
        return material + printing + waste

    def _mould_burdens(self, mould: Mould) -> tuple[Numbers, Numbers, Numbers]:
        get, has = self.values.get, self.values.has
        printed = has(f"polymer.carbon.{mould.material}")
        keys = (
            f"polymer.resin.{mould.material}",
            f"polymer.formed.{mould.material}",
            f"material.footprint.{mould.material}",
        )
        key = next((key for key in keys if has(key)), keys[0])
        if mould.printing_kwh is not None:
            printing: Numbers = mould.printing_kwh * self.values.spread("printing", mould.printing_evidence) * self.kwh
        elif printed:
            printing = mould.mass_kg * get("printing.energy") * self.kwh
        else:
            printing = 0.0
        waste = self.plastic_disposal(mould.material) if printed else get("handling.landfill")
        return mould.mass_kg * get(key), printing, mould.mass_kg * waste

    def mould_life(self, mould: Mould) -> float:
        """Return the pressings that bear a mould: as expected, or as made once it is retired. [-]"""
        expected = mould.pressings
        if mould.retired:
            self.worked.passes()
        return (self.pressings_made.get(mould.name) or expected) if mould.retired else expected

    # -- making ------------------------------------------------------------------------------------------------

    @shared
    def dry_binder(self, binder: str) -> Numbers:
        """Return the making of one dry kg of binder, by the as-sold factor where one exists. [kgCO2e/kg]"""
        sold = f"binder.footprint-as-sold.{binder}"
        if self.values.has(sold):
            return self.values.get(sold) / self.values.get(f"binder.solids.{binder}")
        return self.values.get(f"binder.footprint.{binder}")

    def preparation_kwh(self, binder: str) -> Numbers:
        """Return the energy to prepare one kg of binder as used: the workshop's recipe, else the table. [kWh/kg]"""
        recipe = self.workshop.binders.get(binder)
        if recipe is not None and recipe.preparation_kwh_per_kg is not None:
            return recipe.preparation_kwh_per_kg
        return self.values.get(f"binder.preparation.{binder}")

    @shared
    def driving(self, vehicle: str) -> Numbers:
        """Return one vehicle-kilometre with its fuel supply. [kgCO2e/km]"""
        return self.values.get(f"transport.{vehicle}.direct") + self.values.get(f"transport.{vehicle}.upstream")

    @property
    def _pressed_solids(self) -> Numbers:
        stated = self.workshop.drying.pressed_solids
        return stated if stated is not None else self.values.get("drying.pressed-solids")

    @shared
    def drying_kwh(self, dryer: str) -> Numbers:
        """Return the estimated electricity to dry one dry kg of parts with a class of dryer. [kWh/kg]"""
        return drying_energy(
            1.0,
            solids_in=self._pressed_solids,
            solids_out=self.part_solids,
            specific_kwh=self.values.get(f"drying.energy.{dryer}"),
        )

    def room_heat(self, heating: str, heat: Numbers) -> Numbers:
        """Return the heat of the room that drying one dry kg takes up, times `heat` per kWh of fuel or electricity.

        `heating` is ``electricity`` or ``gas``; `heat` the emission per kWh [kgCO2e/kWh], 1 for the kWh themselves.
        """
        get = self.values.get
        water = water_to_evaporate(1.0, solids_in=self._pressed_solids, solids_out=self.part_solids)
        latent = get("drying.latent-heat")
        efficiency = 1.0 if heating == ELECTRICITY else get("heat.boiler-efficiency")
        drawn = get(f"drying.room-heat.{self.workshop.drying.dryer or UNRECORDED}")
        return room_heat(water, from_room=drawn, latent_kwh=latent, efficiency=efficiency, heat=heat)

    @shared
    def end_of_life(self, kind: str, item: str) -> Numbers:
        """Return the end of life of one dry kg in finished parts. [kgCO2e/kg]"""
        return weighted_by_fate(self.end_of_life_shares, [self.disposed(kind, item, fate) for fate in FATES])

    @shared
    def biogenic_co2(self, kind: str, item: str) -> float:
        """Return the biogenic carbon of one dry kg, as CO2 (ISO 14067:2018 clause 7.2). [kgCO2/kg]"""
        name = "paper" if kind == "fibre" else "binder"
        central = self.values.central
        return routes.biogenic_co2(central(f"{name}.carbon.{item}"), central(f"{name}.fossil-share.{item}"))
