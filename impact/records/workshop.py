"""The workshop: who and where, equipment, moulds, fates, targets, and the parts that it makes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

Units = Literal["metric", "us"]
Gwp = Literal["AR6", "AR5"]
LandfillParameters = Literal["default", "measured"]
Heating = Literal["gas", "electricity"]
Equivalence = Literal["measured", "same-volume", "equal-stiffness"]
Inks = Literal["none", "printed", "unknown"]
Audience = Literal["adults", "school"]


@dataclass(frozen=True, slots=True)
class Device:
    """An electric device.

    Attributes
    ----------
    name : str
        Name under which energy cells call it.
    power_w : float
        Rated power, or the measured draw when `metered`. [W]
    load : float
        Share of the rated power that it draws, above 0 and up to 1. [-]
    metered : bool
        True when the power was measured, not read off the nameplate.
    """

    name: str
    power_w: float
    load: float = 1.0
    metered: bool = False


@dataclass(frozen=True, slots=True)
class Mould:
    """A mould and its expected life.

    Attributes
    ----------
    name : str
        Name by which parts call it.
    material : str
        Polymer or mould material of the catalogue.
    mass_kg : float
        Mass of the whole mould. [kg]
    printing_kwh : float or None
        Electricity to print it; None when not recorded. [kWh]
    printing_evidence : str
        ``metered``, ``nameplate`` or ``estimated`` (not recorded).
    pressings : float
        Expected life in pressings, 1 or more; whole in a folder, any number in a calculation.
    retired : bool
        True when the mould is worn out, so that its whole burden falls on what it has made.
    """

    name: str
    material: str
    mass_kg: float
    printing_kwh: float | None
    printing_evidence: str
    pressings: float
    retired: bool = False


@dataclass(frozen=True, slots=True)
class FateSplit:
    """Shares of the four routes of a waste, which add up to 1. [-]

    Attributes
    ----------
    landfill, incineration, recycling, composting : float
        Share of each route, 0 to 1. [-]
    evidence : str or None
        How the shares are known; None marks an assumption.
    """

    landfill: float = 0.0
    incineration: float = 0.0
    recycling: float = 0.0
    composting: float = 0.0
    evidence: str | None = None


@dataclass(frozen=True, slots=True)
class Drying:
    """How parts are dried.

    Attributes
    ----------
    dryer : str or None
        Dryer class of the catalogue, used where a batch records no drying energy.
    heated_room : bool
        True when the latent heat comes out of a room that is heated.
    heating : {"gas", "electricity"}
        What heats that room.
    pressed_solids : float or None
        Solids in a part as it leaves the press. [-]
    """

    dryer: str | None = None
    heated_room: bool = False
    heating: Heating = "gas"
    pressed_solids: float | None = None


@dataclass(frozen=True, slots=True)
class Recipe:
    """The workshop's own recipe of a binder; None where the factor table's value stands.

    Attributes
    ----------
    solids : float or None
        Dry matter per kg of binder as used. [kg/kg]
    preparation_kwh_per_kg : float or None
        Electricity to prepare one kg of binder as used. [kWh/kg]
    price_per_kg : float or None
        Price of one kg of binder as used, in the workshop's currency. [currency/kg]
    """

    solids: float | None = None
    preparation_kwh_per_kg: float | None = None
    price_per_kg: float | None = None


@dataclass(frozen=True, slots=True)
class Materials:
    """What is known of the paper beside its grade; None where it is not recorded.

    Attributes
    ----------
    inks : {"none", "printed", "unknown"} or None
        Whether the paper was printed on.
    tape_removed : bool or None
        True when tape, labels and staples were taken off before pulping.
    greaseproof : bool or None
        True when grease-proof paper or moulded fibre went in.
    """

    inks: Inks | None = None
    tape_removed: bool | None = None
    greaseproof: bool | None = None


@dataclass(frozen=True, slots=True)
class Targets:
    """What the workshop set out to do.

    Attributes
    ----------
    diverted_kg : float
        Paper kept from landfill, as weighed. [kg]
    by : datetime.date
        Last day on which it counts.
    """

    diverted_kg: float
    by: date


@dataclass(frozen=True, slots=True)
class Origin:
    """Where the paper of a grade had been before it was collected.

    Attributes
    ----------
    post_consumer : float
        Share that an end user had discarded; the rest is waste of making or trade (pre-consumer). [-]
    evidence : str or None
        How the share is known; None marks an assumption.
    """

    post_consumer: float
    evidence: str | None = None


@dataclass(frozen=True, slots=True)
class Grant:
    """A grant that paid for a part of the work.

    Attributes
    ----------
    name : str
        Name by which reports call it.
    start, end : datetime.date
        First and last day that it paid for.
    share : float
        Share of what was done in these days that is counted for it, above 0 and up to 1. [-]
    """

    name: str
    start: date
    end: date
    share: float = 1.0

    def sentence(self) -> str:
        """Return what a report for this grant alone counts."""
        return (
            f"Counted for the grant {self.name} alone: its days from {self.start} to {self.end}, and {self.share:.0%} of "
            "every mass and emission of the accounts. Figures per part, counts and the register are whole."
        )


@dataclass(frozen=True, slots=True)
class Part:
    """A moulded part and the plastic part that it stands in for.

    Attributes
    ----------
    name : str
        Name by which batches call it.
    mould : str
        Mould that presses it.
    mass_kg : float
        One finished part as weighed at room conditions. [kg]
    volume_l : float or None
        Volume of the part's material. [L]
    service_life_years : float
        How long one part does its job. [year]
    wet_use : bool
        True when it would be used wet, which a paper part does not survive.
    polymer, process : str
        Polymer and forming process of the plastic part.
    plastic_mass_kg : float or None
        One plastic part, weighed. [kg]
    plastic_service_life_years : float
        How long one plastic part does the job. [year]
    equivalence : {"measured", "same-volume", "equal-stiffness"}
        How the mass of the plastic part follows.
    displacement : float or None
        Share of the parts that really took a plastic part's place; None claims no replacement. [-]
    wall_mm : float or None
        Thickest wall of the part; None when not recorded. [mm]
    """

    name: str
    mould: str
    mass_kg: float
    volume_l: float | None
    service_life_years: float
    wet_use: bool
    polymer: str
    process: str
    plastic_mass_kg: float | None
    plastic_service_life_years: float
    equivalence: Equivalence
    displacement: float | None
    wall_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Workshop:
    """Everything in a workshop folder except its batches and its own factors.

    Attributes
    ----------
    name : str
        Name as reports print it.
    country : str
        ISO 3166-1 alpha-3.
    currency : str
        ISO 4217 code of every price and cost; empty when no price is recorded.
    electricity : str or None
        Grid region of the factor table; None takes the country's.
    landfill_climate, landfill_site : str or None
        Decay climate and site class; None takes the factor table's default.
    gas_collection : float or None
        Share of the landfill gas that is collected. [-]
    units : {"metric", "us"}
        How reports print.
    part_moisture : float or None
        Water in a finished part at room conditions. [-]
    gwp : {"AR6", "AR5"}
        Assessment report of the 100-year warming potentials.
    landfill_parameters : {"default", "measured"}
        Decay parameters of the guidelines, or measured methane yields.
    horizon_years : float
        Time over which landfill decay is counted. [year]
    invented : bool
        True when the records are invented, which the report's cover says.
    report_date : datetime.date or None
        Date printed on reports.
    editions : mapping of str to str
        Edition to use of a source family.
    equipment, moulds, fates, binders, parts : mapping
        By name: devices, moulds, fate splits by grade, recipes by binder, parts.
    end_of_life : FateSplit or None
        Where parts go in the end.
    drying : Drying
        How parts are dried.
    vehicle : str
        Vehicle that collects the paper.
    targets : Targets or None
        What the workshop set out to do.
    origins : mapping of str to Origin
        Where the paper of a grade had been, by grade.
    grants : tuple of Grant
        Grants that paid for the work.
    materials : Materials
        What is known of inks, tape and grease-proofing.
    audience : {"adults", "school"} or None
        Who makes the parts; None when not recorded.
    """

    name: str
    country: str
    currency: str = ""
    electricity: str | None = None
    landfill_climate: str | None = None
    landfill_site: str | None = None
    gas_collection: float | None = None
    units: Units = "metric"
    part_moisture: float | None = None
    gwp: Gwp = "AR6"
    landfill_parameters: LandfillParameters = "default"
    horizon_years: float = 100.0
    invented: bool = False
    report_date: date | None = None
    editions: Mapping[str, str] = field(default_factory=dict)
    equipment: Mapping[str, Device] = field(default_factory=dict)
    moulds: Mapping[str, Mould] = field(default_factory=dict)
    fates: Mapping[str, FateSplit] = field(default_factory=dict)
    end_of_life: FateSplit | None = None
    drying: Drying = Drying()
    vehicle: str = "car"
    binders: Mapping[str, Recipe] = field(default_factory=dict)
    targets: Targets | None = None
    origins: Mapping[str, Origin] = field(default_factory=dict)
    grants: tuple[Grant, ...] = ()
    materials: Materials = Materials()
    audience: Audience | None = None
    parts: Mapping[str, Part] = field(default_factory=dict)
