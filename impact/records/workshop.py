"""The workshop: who and where, equipment, moulds, fates, targets, and the parts that it makes.

Each attribute that stands in a file carries its `Key`: how it is written, what it means, its unit here. The reader of
``workshop.toml``, its messages and `impact help settings` are made from these.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Literal

from impact.base.pictures import Picture
from impact.records import workshop_keys as keys
from impact.records.statements import Grants, Session, Visit
from impact.records.workshop_keys import LINE, WORDS, Key, Table, fault
from impact.tables.encoding import Encoding
from impact.tables.settings import ReadingSettings

SHARES_TOLERANCE = 0.001
"""How far the shares of a fate may miss 1, for rounding. [-]"""

FOOTPRINT = "such as 1.2 kgCO2e/kg"
SIZES = {"logo": 600, "photo": 1600}
"""Most pixels of the longer side of each picture that a report shows. [1]"""

Units = Literal["metric", "us"]
Gwp = Literal["AR6", "AR5"]
LandfillParameters = Literal["default", "measured"]
Equivalence = Literal["measured", "same-volume", "equal-stiffness"]


@dataclass(frozen=True, slots=True)
class Device(Table):
    """An electric device, which energy cells call by its name."""

    name: str
    power_w: Annotated[keys.Power, Key("power", "rated power, or what it was measured to draw", "W")]
    load: Annotated[keys.ShareAboveZero, Key("load", "share of the rated power that it draws", "1")] = 1.0
    metered: Annotated[keys.Flag, Key("metered", "whether the power was measured, not read off the plate")] = False


@dataclass(frozen=True, slots=True)
class Mould(Table):
    """A mould, which parts call by its name, and its expected life: any number of pressings in a calculation.

    The electricity to print it is ``metered``, ``nameplate``, or ``estimated`` where none is recorded.
    """

    name: str
    material: Annotated[keys.Material, Key("material", "what it is made of")]
    mass_kg: Annotated[keys.Mass, Key("mass", "mass of the whole mould", "kg")]
    printing_kwh: Annotated[keys.Raw | None, Key("printing", "electricity to print it, as an energy entry", "kWh")]
    printing_evidence: str
    pressings: Annotated[keys.Whole, Key("pressings", "how many it is expected to last", "1", "a whole number")]
    retired: Annotated[keys.Flag, Key("retired", "whether it made those on record and no more")] = False


@dataclass(frozen=True, slots=True)
class FateSplit(Table):
    """Shares of the four routes of a waste, which add up to 1; without evidence they are an assumption."""

    landfill: Annotated[keys.Share, Key("landfill", "share that goes to a landfill", "1")] = 0.0
    incineration: Annotated[keys.Share, Key("incineration", "share that is burnt", "1")] = 0.0
    recycling: Annotated[keys.Share, Key("recycling", "share that is recycled", "1")] = 0.0
    composting: Annotated[keys.Share, Key("composting", "share that is composted", "1")] = 0.0
    evidence: Annotated[keys.Text | None, Key("evidence", "how you know")] = None

    def check(self) -> None:
        """Refuse shares that do not add up to 1."""
        total = self.landfill + self.incineration + self.recycling + self.composting
        if abs(total - 1.0) > SHARES_TOLERANCE:
            raise fault("shares-total", f"the shares add up to {total:g}", "shares that add up to 1")


@dataclass(frozen=True, slots=True)
class Drying(Table):
    """How parts are dried."""

    dryer: Annotated[
        keys.Dryer | None, Key("dryer", "class of the dryer, for batches that record no drying energy")
    ] = None
    heated_room: Annotated[keys.Flag, Key("heated_room", "whether the room is heated while parts dry in it")] = False
    heating: Annotated[Literal["gas", "electricity"], Key("heating", "what heats that room")] = "gas"
    pressed_solids: Annotated[
        keys.ShareAboveZero | None, Key("pressed_solids", "dry matter in a part as it leaves the press", "1")
    ] = None


Nature = Literal["natural", "modified natural", "synthetic", "mineral"]


@dataclass(frozen=True, slots=True)
class Recipe(Table):
    """What the workshop knows of a binder; where it says nothing, the factor tables do.

    A binder that the tables lack is the workshop's own once it says what it is, or which binder of theirs it is like. Its
    other numbers become rows of factors, see `impact.factors.ownbinders`; `line` is that of its table in the file.
    """

    solids: Annotated[keys.ShareAboveZero | None, Key("solids", "dry matter of the binder as used", "1")] = None
    preparation_kwh_per_kg: Annotated[
        keys.EnergyPerKg | None, Key("preparation", "electricity to prepare 1 kg as used", "kWh/kg")
    ] = None
    price_per_kg: Annotated[
        keys.Raw | None, Key("price", "of 1 kg as used", accepted="such as 3.20 per kg or 1.50 USD / lb")
    ] = None
    label: Annotated[keys.Text | None, Key("name", "of a binder of your own: its name in reports")] = None
    like: Annotated[
        keys.Binder | None,
        Key("like", "of your own: the binder of the tables whose figures stand in for what is not said"),
    ] = None
    what: Annotated[Nature | None, Key("what", "of your own: what it is, as far as it is chemically unmodified")] = None
    footprint: Annotated[keys.Footprint | None, Key("footprint", "making 1 kg of dry binder", accepted=FOOTPRINT)] = (
        None
    )
    footprint_low: Annotated[
        keys.Footprint | None, Key("footprint_low", "low end of it, for 95 %", accepted=FOOTPRINT)
    ] = None
    footprint_high: Annotated[
        keys.Footprint | None, Key("footprint_high", "high end of it, for 95 %", accepted=FOOTPRINT)
    ] = None
    source: Annotated[keys.Text | None, Key("source", "where the footprint is printed")] = None
    carbon: Annotated[keys.Share | None, Key("carbon", "share of the dry binder", accepted="0.44 or 44 %")] = None
    nitrogen: Annotated[keys.Share | None, Key("nitrogen", "share of the dry binder", accepted="0.02 or 2 %")] = None
    allergens: Annotated[
        keys.Plain | None, Key("allergens", "what is in it that people are allergic to, such as milk")
    ] = None
    line: int = field(default=2, compare=False)

    def check(self) -> None:
        """Refuse a footprint without its source, and an interval that does not hold it."""
        ends = (self.footprint_low, self.footprint, self.footprint_high)
        given = [end for end in ends if end is not None]
        if given and (self.footprint is None or self.source is None):
            raise fault("missing-key", "a footprint needs a value and a source", "the keys footprint and source")
        if given != sorted(given) or len(given) == 2:
            raise fault("out-of-order", "the interval does not hold the footprint", "low, value and high in this order")


@dataclass(frozen=True, slots=True)
class Materials(Table):
    """What is known of the paper beside its grade; what is left out stays unknown."""

    inks: Annotated[Literal["none", "printed", "unknown"] | None, Key("inks", "whether it was printed on")] = None
    tape_removed: Annotated[
        keys.Flag | None, Key("tape_removed", "whether tape, labels and staples were taken off before pulping")
    ] = None
    greaseproof: Annotated[
        keys.Flag | None, Key("greaseproof", "whether grease-proof paper or moulded fibre went in")
    ] = None


@dataclass(frozen=True, slots=True)
class Targets(Table):
    """What the workshop set out to do."""

    diverted_kg: Annotated[keys.Mass, Key("diverted", "paper to keep from landfill, as weighed", "kg")]
    by: Annotated[keys.Day, Key("by", "the last day on which it counts")]


@dataclass(frozen=True, slots=True)
class Origin(Table):
    """Where the paper of a grade had been before it was collected; without evidence it is an assumption."""

    post_consumer: Annotated[
        keys.Share, Key("post_consumer", "share that an end user had discarded, not a maker or the trade", "1")
    ]
    evidence: Annotated[keys.Text | None, Key("evidence", "how you know")] = None


@dataclass(frozen=True, slots=True)
class Presentation(Table):
    """What reports show of the workshop itself, beside its records: words, contact, two pictures, and how it was measured."""

    words: Annotated[keys.Words | None, Key("words", "your own words, quoted as such", accepted=WORDS)] = None
    contact: Annotated[keys.Line | None, Key("contact", "whom to ask, and where", accepted=LINE)] = None
    logo_file: Annotated[
        keys.PictureFile | None, Key("logo", "your sign", accepted="a PNG or JPEG in this folder, such as logo.png")
    ] = None
    logo_text: Annotated[keys.Line | None, Key("logo_text", "what it shows, in words; needed with a logo")] = None
    photo_file: Annotated[
        keys.PictureFile | None,
        Key("photo", "a photograph", accepted="a JPEG or PNG in this folder, such as bench.jpg"),
    ] = None
    photo_text: Annotated[keys.Line | None, Key("photo_text", "what it shows, in words; needed with a photo")] = None
    scale: Annotated[
        keys.Line | None,
        Key("scale", "the scale, its step, and when it was last checked", accepted=LINE),
    ] = None
    logged: Annotated[keys.Line | None, Key("logged", "who writes the log, and when", accepted=LINE)] = None
    logo: Picture | None = None
    photo: Picture | None = None

    @property
    def pictures(self) -> tuple[Picture, ...]:
        """The pictures that there are."""
        return tuple(one for one in (self.logo, self.photo) if one is not None)


@dataclass(frozen=True, slots=True)
class Reading(Table):
    """How numbers, dates and sheets of the records are to be read, where the files leave it open."""

    decimal: Annotated[Literal["point", "comma"] | None, Key("decimal", "the mark of decimals")] = None
    dates: Annotated[Literal["day first", "month first"] | None, Key("dates", "what 03/04/2026 is")] = None
    encoding: Annotated[Encoding | None, Key("encoding", "of CSV files that are not UTF-8 or UTF-16")] = None
    sheet: Annotated[
        keys.Sheets, Key("sheet", "sheet of batches.xlsx, or several, which are joined by column name")
    ] = ()
    parts_sheet: Annotated[keys.Sheets, Key("parts_sheet", "the same for parts.xlsx")] = ()

    def settings(self) -> ReadingSettings:
        """Return the same as the readers of tables take it."""
        decimal = None if self.decimal is None else {"point": ".", "comma": ","}[self.decimal]
        return ReadingSettings(decimal, self.dates, self.encoding, self.sheet, self.parts_sheet)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A moulded part, which batches call by its name, and the plastic part that it stands in for, if it does for one.

    The keys are the columns of ``parts.csv``. Where all those of the plastic part are blank, there is none, and no
    polymer. `impact.records.parts` demands the others where one is filled.
    """

    name: Annotated[str, Key("part", "its name")]
    mould: Annotated[str, Key("mould", "the mould that presses it, as in workshop.toml")]
    mass_kg: Annotated[float, Key("mass", "one finished part, air-dry", "kg")]
    volume_l: Annotated[float | None, Key("volume", "volume of its own material, not what it can hold", "L")]
    service_life_years: Annotated[float, Key("service life", "how long one part does its job", "year")]
    wet_use: Annotated[
        bool, Key("wet use", "whether it would be used wet, which paper does not survive", accepted="yes or no")
    ]
    polymer: Annotated[
        str,
        Key("plastic polymer", "polymer of the plastic part; blank, as all of the plastic part, where there is none"),
    ] = ""
    process: Annotated[str, Key("plastic process", "how the plastic part was formed; needed where there is one")] = ""
    plastic_mass_kg: Annotated[float | None, Key("plastic mass", "one plastic part, weighed", "kg")] = None
    plastic_service_life_years: Annotated[
        float | None, Key("plastic service life", "how long a plastic one does it; needed where there is one", "year")
    ] = None
    equivalence: Annotated[
        Equivalence | Literal[""],
        Key("equivalence", "how heavy the plastic part is: as weighed, or by this volume; needed where there is one"),
    ] = ""
    displacement: Annotated[float | None, Key("displacement", "share that really took a plastic part's place", "1")] = (
        None
    )
    wall_mm: Annotated[float | None, Key("wall", "thickest wall, for the findings on composting", "mm")] = None
    life_evidence: Annotated[str, Key("service life evidence", "how its service life is known; blank is assumed")] = ""
    plastic_life_evidence: Annotated[
        str, Key("plastic service life evidence", "how that of the plastic one is known; blank is assumed")
    ] = ""
    displacement_evidence: Annotated[str, Key("displacement evidence", "how that share is known; blank is assumed")] = (
        ""
    )


@dataclass(frozen=True, slots=True)
class Workshop(Table):
    """Everything in a workshop folder except its batches and its own factors. The parts stand in a file of their own."""

    name: Annotated[keys.Text, Key("workshop.name", "its name in reports")]
    country: Annotated[keys.Country, Key("workshop.country", "country as of ISO 3166-1 alpha-3")]
    electricity: Annotated[
        keys.Region | None, Key("workshop.electricity", "region of the electricity grid, else that of the country")
    ] = None
    landfill_climate: Annotated[keys.Climate | None, Key("workshop.landfill_climate", "climate of the landfill")] = None
    landfill_site: Annotated[keys.LandfillSite | None, Key("workshop.landfill_site", "kind of the landfill")] = None
    gas_collection: Annotated[
        keys.Share | None, Key("workshop.gas_collection", "share of the landfill's gas that is caught", "1")
    ] = None
    currency: Annotated[keys.Currency, Key("workshop.currency", "of prices and costs", accepted="as of ISO 4217")] = ""
    units: Annotated[Units, Key("workshop.units", "how reports print masses")] = "metric"
    part_moisture: Annotated[
        keys.ShareBelowOne | None, Key("workshop.part_moisture", "water in a finished part", "1")
    ] = None
    gwp: Annotated[Gwp, Key("workshop.gwp", "report of the IPCC that the warming potentials over 100 years are of")] = (
        "AR6"
    )
    landfill_parameters: Annotated[
        LandfillParameters,
        Key("workshop.landfill_parameters", "decay as in the guidelines of the IPCC, or measured in the laboratory"),
    ] = "default"
    horizon_years: Annotated[keys.Years, Key("workshop.horizon", "years of decay that count", "year")] = 100.0
    invented: Annotated[
        keys.Flag, Key("workshop.invented", "whether the records are invented, which reports then say")
    ] = False
    audience: Annotated[
        Literal["adults", "school"] | None, Key("workshop.audience", "who makes the parts: adds cautions")
    ] = None
    report_date: Annotated[keys.Day | None, Key("workshop.date", "day of reports; later batches are doubted")] = None
    confirmed: Annotated[
        keys.Paths, Key("workshop.confirmed", "amounts that look unlikely and are right, such as moulds.tray.mass")
    ] = ()
    equipment: Annotated[keys.Named[Device], Key("equipment", "a device")] = field(default_factory=dict)
    moulds: Annotated[keys.Named[Mould], Key("moulds", "a mould")] = field(default_factory=dict)
    fates: Annotated[
        keys.ByGrade[FateSplit], Key("fates", "what would have happened to paper of this grade; adds up to 1")
    ] = field(default_factory=dict)
    end_of_life: Annotated[FateSplit | None, Key("end_of_life", "where finished parts go; adds up to 1")] = None
    drying: Annotated[Drying, Key("drying", "how parts are dried")] = Drying()
    vehicle: Annotated[keys.Vehicle, Key("transport.vehicle", "what fetches the paper")] = "car"
    fines_to: Annotated[
        Literal["sewer", "next pulp", "landfill", "incineration", "composting"] | None,
        Key("fines.to", "where fines go that leave with the water: next pulp, or a route once settled; else sewer"),
    ] = None
    reading: Annotated[Reading, Key("records", "how files are read: see impact help spreadsheets")] = Reading()
    binders: Annotated[
        keys.ByBinder[Recipe], Key("binders", "a binder: your recipe of one of the tables, or one of your own")
    ] = field(default_factory=dict)
    editions: Annotated[
        Mapping[keys.Text, keys.Text],
        Key("editions", 'edition of a place\'s factors, as GBR = "2025"; left out, the newest'),
    ] = field(default_factory=dict)
    targets: Annotated[Targets | None, Key("targets", "what you set out to do")] = None
    origins: Annotated[keys.ByGrade[Origin], Key("origin", "where paper of this grade had been")] = field(
        default_factory=dict
    )
    grants: Annotated[Grants, Key("grants", "a grant, each with a table")] = ()
    sessions: Annotated[tuple[Session, ...], Key("sessions", "a session with a group, each with a table")] = ()
    visit: Annotated[Visit | None, Key("school", "what a school asks about one session")] = None
    materials: Annotated[Materials, Key("materials", "for findings on composting; left out, unknown")] = Materials()
    presentation: Annotated[Presentation, Key("report", "what reports show of you")] = Presentation()
    parts: Mapping[str, Part] = field(default_factory=dict)
