"""The results of one assessment, as data; every figure of every output comes from here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING, Annotated, Any, get_args

from impact.account.inventory import STAGES
from impact.base.problems import Problem, sentences, worst_first
from impact.base.sentences import Said, Worded
from impact.base.serial import Count, Draws, Limits, Positive, Share, group, keyed, named, one_of, shows
from impact.core import FloatArray, Numbers
from impact.core.sampling import interval
from impact.records.statements import Grant
from impact.records.workshop import Equivalence, Gwp, LandfillParameters, Workshop

if TYPE_CHECKING:
    import pandas as pd

    from impact.account.amounts import Balance
    from impact.account.intensities import UnitImpacts
    from impact.account.inventory import Inventory, Matrix
    from impact.account.tally import Counted
    from impact.base.catalogue import Names
    from impact.factors.factorset import Choice, FactorSet
    from impact.factors.values import Values


@shows("value", "low", "high")
@dataclass(frozen=True, slots=True)
class Interval:
    """A figure with its uncertainty.

    Attributes
    ----------
    value : float
        Computed with central inputs.
    low, median, high : float
        2.5 %, 50 % and 97.5 % quantiles of the draws.
    """

    value: float
    low: float
    high: float
    median: float

    @classmethod
    def of(cls, values: FloatArray) -> Interval:
        """Return the interval of an array whose element 0 is the central value and whose others are draws."""
        low, median, high = interval(values[1:])
        return cls(float(values[0]), low, high, median)


@shows(
    "grade", "collected_kg", "kept_from_landfill_kg", "kept_from_incineration_kg", "taken_from_recycling_kg",
    "returned_to_landfill_kg", "fines_off_landfill_kg",
)  # fmt: skip
@dataclass(frozen=True, slots=True)
class GradeAccount:
    """Paper of one grade, as weighed. [kg]"""

    grade: str
    collected_kg: float
    kept_from_landfill_kg: float
    kept_from_incineration_kg: float
    kept_from_composting_kg: float
    taken_from_recycling_kg: float
    returned_to_landfill_kg: float
    fines_off_landfill_kg: float


@shows(
    "weighed_kg", "collected_kg", "dry_fibre_kg", "put_to_use_kg", "kept_from_landfill_gross_kg", "kept_from_landfill_kg",
    "kept_from_incineration_kg", "kept_from_disposal_kg", "taken_from_recycling_kg", "returned_to_landfill_kg", "fines_kg",
    "fines_off_landfill_kg", "deferred_kg", "landfill_diversion_rate", "by_grade", group("mass_balance", "in_kg", "out_kg", "unaccounted_share"),
)  # fmt: skip
@dataclass(frozen=True, slots=True)
class PaperAccount:
    """Paper by weight: where it came from and where it went; for a grant, all but the paper weighed has its share.

    Attributes
    ----------
    weighed_kg : Interval
        All paper taken in, as weighed. [kg]
    collected_kg, put_to_use_kg : Interval
        As weighed: paper taken in that counts, and its fibre in good parts. [kg]
    dry_fibre_kg : float
        Dry fibre taken in. [kg]
    kept_from_landfill_gross_kg, kept_from_landfill_kg : Interval
        Before and after what returned there as rejects and trim, and what the fines take off. [kg]
    kept_from_incineration_kg, kept_from_disposal_kg, taken_from_recycling_kg, returned_to_landfill_kg : Interval
        As weighed; disposal is landfill and incineration, both net. [kg]
    fines_kg, fines_off_landfill_kg : Interval
        Fibre not found again, as weighed, and what of it comes off what is kept from landfill. [kg]
    deferred_kg : Interval
        Part of the net figure that the parts' own end of life sends to landfill later. [kg]
    landfill_at_end_of_life : float
        Share of the finished parts that goes to landfill in the end. [-]
    landfill_diversion_rate : Interval or None
        Net figure over collected, which is no rate of a site; None when nothing was collected. [-]
    by_grade : tuple of GradeAccount
        The same by grade.
    in_kg, out_kg : float
        Dry matter in and out. [kg]
    unaccounted_share : float or None
        Share of the dry matter not found again. [-]
    drawn : mapping of str to ndarray
        The masses with their draws, central value first. [kg]
    """

    weighed_kg: Interval
    collected_kg: Interval
    dry_fibre_kg: float
    put_to_use_kg: Interval
    kept_from_landfill_gross_kg: Interval
    kept_from_landfill_kg: Interval
    kept_from_incineration_kg: Interval
    kept_from_disposal_kg: Interval
    taken_from_recycling_kg: Interval
    returned_to_landfill_kg: Interval
    fines_kg: Interval
    fines_off_landfill_kg: Interval
    deferred_kg: Interval
    landfill_at_end_of_life: float
    landfill_diversion_rate: Interval | None
    by_grade: tuple[GradeAccount, ...]
    in_kg: float
    out_kg: float
    unaccounted_share: float | None
    drawn: Mapping[str, Numbers] = field(default_factory=dict, repr=False)


@shows(
    named("avoided_kgco2e", "avoided"), named("avoided_other_parameters_kgco2e", "avoided_other_set"),
    named("lost_recycling_kgco2e", "lost_recycling"), named("electricity_sold_kgco2e", "electricity_sold"),
)  # fmt: skip
@dataclass(frozen=True, slots=True)
class DisposalAccount:
    """What happens because the paper did not go elsewhere. [kgCO2e]

    Attributes
    ----------
    avoided : Interval
        Landfill, fire and compost that did not happen, gross; losses are charged to the parts.
    avoided_other_set : Interval
        The same with the other set of landfill parameters.
    other_set : str
        Name of that set.
    lost_recycling : Interval
        Recycling that lost its fibre.
    electricity_sold : Interval
        Credit for electricity sold from burning that is taken off within the disposal avoided, by which that is the lower.
    avoided_by_grade, lost_by_grade : mapping of str to float
        Central values by grade.
    """

    avoided: Interval
    avoided_other_set: Interval
    other_set: str
    lost_recycling: Interval
    electricity_sold: Interval
    avoided_by_grade: Mapping[str, float]
    lost_by_grade: Mapping[str, float]


@shows(
    "polymer", "route", "equivalence", "mass_kg", "mass_per_service_kg", named("masses_by_rule_kg", "masses_by_rule"),
    named("footprint_kgco2e", "footprint"), named("electricity_sold_kgco2e", "electricity_sold"),
    named("other_route_kgco2e", "other_route"),
)  # fmt: skip
@dataclass(frozen=True, slots=True)
class PlasticResult:
    """The equivalent plastic part, per good moulded part.

    Attributes
    ----------
    polymer, route, equivalence : str
        Polymer; ``formed`` or ``resin``; rule that gave the mass.
    mass_kg : float
        Mass of one plastic part. [kg]
    mass_per_service_kg : float
        Mass over the service life of one moulded part. [kg]
    footprint : Interval
        Over the service life of one moulded part. [kgCO2e]
    stages : mapping of str to float
        Central values: material and forming, freight, end of life. [kgCO2e]
    electricity_sold : Interval
        Credit for electricity sold from burning within the footprint, by which that is the lower. [kgCO2e]
    other_route : Interval or None
        Footprint by the other route, where its factors exist. [kgCO2e]
    masses_by_rule : mapping of str to float
        Mass by each rule that the records allow. [kg]
    factors : tuple of str
        Ids of the factor rows behind it.
    """

    polymer: str
    route: Annotated[str, one_of("formed", "resin")]
    equivalence: Annotated[str, one_of(*get_args(Equivalence))]
    mass_kg: float
    mass_per_service_kg: float
    footprint: Interval
    stages: Mapping[str, float]
    electricity_sold: Interval
    other_route: Interval | None
    masses_by_rule: Mapping[str, float]
    factors: tuple[str, ...]


@shows("route", named("footprint_kgco2e", "footprint"), named("difference_kgco2e", "difference"), "chance_lower")
@dataclass(frozen=True, slots=True)
class RecycledCase:
    """The comparison with a plastic part of recycled polymer, beside the main one."""

    route: Annotated[str, one_of("formed", "resin")]  # that of the main comparison where the tables have it
    footprint: Interval  # of the plastic part [kgCO2e]
    difference: Interval  # moulded less plastic [kgCO2e]
    chance_lower: Share  # share of draws in which the moulded part is the lower [-]


@shows(
    "part", "good", "rejected", "mass_kg", "dry_mass_kg", named("footprint_kgco2e", "footprint"),
    named("stages_kgco2e", "stages_made"), named("electricity_sold_kgco2e", "electricity_sold"), named("biogenic_carbon_kgco2", "carbon_made"), "plastic",
    named("difference_kgco2e", "difference"), "chance_lower", named("recycled_plastic", "recycled"), "no_comparison",
)  # fmt: skip
@dataclass(frozen=True, slots=True)
class PartResult:
    """One moulded part; figures are per good part.

    Attributes
    ----------
    part : str
        Name.
    good, rejected : float
        Parts made; rejects may be estimated. [-]
    mass_kg, dry_mass_kg : float
        Mean mass of a good part, as weighed and dry. [kg]
    footprint : Interval or None
        None when no good part was made. [kgCO2e]
    stages : mapping of str to float
        Central value of each life-cycle stage. [kgCO2e]
    electricity_sold : Interval or None
        Credit for electricity sold where parts, losses and moulds are burnt, by which the footprint is the lower. [kgCO2e]
    biogenic_carbon_kgco2 : float
        Biogenic carbon in the part, as CO2. [kgCO2]
    plastic : PlasticResult or None
        The comparison; None with the reason in `no_comparison`.
    difference : Interval or None
        Moulded less plastic. [kgCO2e]
    chance_lower : float or None
        Share of draws in which the moulded part is the lower. [-]
    not_compared : Said or None
        Why no comparison is made.
    recycled : RecycledCase or None
        The same against recycled polymer; None where the tables hold none.
    by_line : mapping
        Central contribution of each inventory line to all good parts. [kgCO2e]
    draws, plastic_draws : ndarray
        Footprints, central value first. [kgCO2e]
    displaced_draws : ndarray or None
        Share that took a plastic part's place, central value first; None where that is none. [-]
    """

    part: str
    good: float
    rejected: float
    mass_kg: float
    dry_mass_kg: float
    footprint: Interval | None
    stages: Mapping[str, float]
    electricity_sold: Interval | None
    biogenic_carbon_kgco2: float
    plastic: PlasticResult | None
    difference: Interval | None
    chance_lower: Share | None
    not_compared: Said | None
    recycled: RecycledCase | None = None
    by_line: Mapping[Any, float] = field(default_factory=dict)
    draws: FloatArray | None = None
    plastic_draws: FloatArray | None = None
    displaced_draws: FloatArray | None = None

    @property
    def no_comparison(self) -> str | None:
        """Why no comparison is made."""
        return str(self.not_compared) if self.not_compared else None

    @property
    def stages_made(self) -> Annotated[Mapping[str, float], keyed(*STAGES)] | None:
        """Central value of each life-cycle stage; None when no good part was made. [kgCO2e]"""
        return self.stages if self.footprint else None

    @property
    def carbon_made(self) -> float | None:
        """Biogenic carbon in the part, as CO2; None when no good part was made. [kgCO2]"""
        return self.biogenic_carbon_kgco2 if self.footprint else None


@shows("code", "text", "remedy")
@dataclass(frozen=True, slots=True)
class Assumption(Worded):
    """Something that the records do not say and the calculation had to suppose.

    Attributes
    ----------
    code : str
        Stable name.
    said : Said
        What is supposed, as a sentence.
    instead : Said
        What to record or state to replace it.
    weighty : bool
        True when it belongs on the front page.
    """

    code: str
    said: Said
    instead: Said
    weighty: bool = False

    @property
    def remedy(self) -> str:
        """What to record or state to replace it."""
        return str(self.instead)


@shows(
    "seed", "draws", "version", "gwp", "electricity", "electricity_kgco2e_per_kwh", "landfill_parameters", "landfill_climate",
    "horizon_years", "editions",
)  # fmt: skip
@dataclass(frozen=True, slots=True)
class Settings:
    """How the figures were made.

    Attributes
    ----------
    seed, draws : int
        Of the uncertainty run.
    version : str
        Of the program.
    gwp : str
        Set of warming potentials over 100 years.
    grid : Said
        How the electricity at the socket is made up: of which place, and what is added.
    electricity_kgco2e_per_kwh : float
        Emission of one kWh at the socket. [kgCO2e/kWh]
    landfill_parameters, landfill_climate : str
        Sets of landfill parameters.
    horizon_years : float
        Time over which landfill decay is counted. [year]
    editions : mapping of str to tuple of str
        By geography, the editions used of factors of which the tables hold several.
    """

    seed: Count
    draws: Draws
    version: str
    gwp: Annotated[str, one_of(*get_args(Gwp))]
    grid: Said
    electricity_kgco2e_per_kwh: float
    landfill_parameters: Annotated[str, one_of(*get_args(LandfillParameters))]
    landfill_climate: str
    horizon_years: Positive
    editions: Mapping[str, tuple[str, ...]]

    @property
    def electricity(self) -> str:
        """How the electricity at the socket is made up."""
        return str(self.grid)


@dataclass(frozen=True)
class Results:
    """The figures of one assessment; see the attributes' own types.

    `part_solids` is the dry share of a finished part at room conditions [-], `values` the factor values of the run and
    `impacts` what one unit of each line emits by them.
    """

    workshop: Workshop
    start: date
    end: date
    batches: Annotated[int, Limits(minimum=1)]
    paper: PaperAccount
    disposal: DisposalAccount
    parts: tuple[PartResult, ...]
    made: Interval
    displaced_plastic: Interval
    net: Interval
    evidence: Annotated[Mapping[str, Share], keyed("metered", "weighed", "nameplate", "estimated", "assumed")]
    memory_share: Annotated[Mapping[str, Share], keyed("made", "avoided", "lost_recycling")]
    practice_share: Annotated[Mapping[str, Share], keyed("made", "avoided", "lost_recycling")]
    warnings: tuple[Problem, ...]
    assumptions: tuple[Assumption, ...]
    factors_used: Mapping[str, Choice]
    settings: Settings
    inventory: Inventory
    stage_matrix: Matrix
    diverted_matrix: Matrix
    lost_matrix: Matrix
    counted: Counted
    part_solids: float
    values: Values
    impacts: UnitImpacts
    factors: FactorSet
    names: Names
    grant: Grant | None = None

    def part(self, name: str) -> PartResult:
        """Return the result of one part.

        Raises
        ------
        KeyError
            When no batch made it.
        """
        return {part.part: part for part in self.parts}[name]

    @property
    def shared_grant(self) -> Grant | None:
        """The grant for which a part alone of the work is counted; None where all is."""
        return self.grant if self.grant and self.grant.is_shared else None

    @property
    def batch_records(self) -> pd.DataFrame:
        """The batches that were counted, in canonical columns."""
        return self.counted.batches

    @property
    def all_batches(self) -> pd.DataFrame | None:
        """All batches of the folder; None when the results are of a table of batches alone."""
        return self.counted.all_batches

    @property
    def balance(self) -> Balance:
        """Dry mass balance of each batch that was counted."""
        return self.counted.balance

    @cached_property
    def doubts(self) -> tuple[str, ...]:
        """The warnings as sentences; what repeats in one column is one of them."""
        return tuple(sentences(self.warnings))

    @property
    def worst_doubt(self) -> Problem | None:
        """The warning that is most times beyond belief; None without a warning."""
        return next(iter(worst_first(self.warnings)), None)
