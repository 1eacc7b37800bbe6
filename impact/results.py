"""The results of one assessment, as data; every figure of every output comes from here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING, Any

from impact.core import FloatArray
from impact.core.sampling import interval
from impact.problems import Problem

if TYPE_CHECKING:
    import pandas as pd

    from impact.blend import Blend
    from impact.cautions import Caution
    from impact.claims import Claims
    from impact.compostability import Finding
    from impact.counted import Counted
    from impact.factors import Choice, FactorSet
    from impact.inventory import Balance, Inventory
    from impact.names import Names
    from impact.ownvalues import OwnValues
    from impact.recycled import RecycledContent
    from impact.unitimpacts import Matrix
    from impact.workshop import Grant, Workshop

SCHEMA = "impact-totals/1"


@dataclass(frozen=True, slots=True)
class Interval:
    """A figure with its uncertainty.

    Attributes
    ----------
    value : float
        Computed with central inputs.
    low, high : float
        2.5 % and 97.5 % quantiles of the draws.
    median : float
        Median of the draws.
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

    def as_dict(self) -> dict[str, float]:
        """Return value, low and high, as the JSON contract has them."""
        return {"value": self.value, "low": self.low, "high": self.high}


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


@dataclass(frozen=True, slots=True)
class PaperAccount:
    """Paper by weight: where it came from and where it went.

    Attributes
    ----------
    collected_kg, put_to_use_kg : float
        As weighed: paper taken in, and its fibre in good parts. [kg]
    dry_fibre_kg : float
        Dry fibre taken in. [kg]
    kept_from_landfill_gross_kg, kept_from_landfill_kg : float
        Before and after what returned there as rejects and trim. [kg]
    kept_from_incineration_kg, taken_from_recycling_kg, returned_to_landfill_kg : float
        As weighed. [kg]
    deferred_kg : float
        Part of the net figure that the parts' own end of life sends to landfill later. [kg]
    landfill_at_end_of_life : float
        Share of the finished parts that goes to landfill in the end. [-]
    landfill_diversion_rate : float or None
        Net figure over collected; None when nothing was collected. [-]
    by_grade : tuple of GradeAccount
        The same by grade.
    in_kg, out_kg : float
        Dry matter in and out. [kg]
    unaccounted_share : float or None
        Share of the dry matter not found again. [-]
    """

    collected_kg: float
    dry_fibre_kg: float
    put_to_use_kg: float
    kept_from_landfill_gross_kg: float
    kept_from_landfill_kg: float
    kept_from_incineration_kg: float
    taken_from_recycling_kg: float
    returned_to_landfill_kg: float
    deferred_kg: float
    landfill_at_end_of_life: float
    landfill_diversion_rate: float | None
    by_grade: tuple[GradeAccount, ...]
    in_kg: float
    out_kg: float
    unaccounted_share: float | None


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
    avoided_by_grade, lost_by_grade : mapping of str to float
        Central values by grade.
    """

    avoided: Interval
    avoided_other_set: Interval
    other_set: str
    lost_recycling: Interval
    avoided_by_grade: Mapping[str, float]
    lost_by_grade: Mapping[str, float]


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
    other_route : Interval or None
        Footprint by the other route, where its factors exist. [kgCO2e]
    masses_by_rule : mapping of str to float
        Mass by each rule that the records allow. [kg]
    factors : tuple of str
        Ids of the factor rows behind it.
    """

    polymer: str
    route: str
    equivalence: str
    mass_kg: float
    mass_per_service_kg: float
    footprint: Interval
    stages: Mapping[str, float]
    other_route: Interval | None
    masses_by_rule: Mapping[str, float]
    factors: tuple[str, ...]


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
    biogenic_carbon_kgco2 : float
        Biogenic carbon in the part, as CO2. [kgCO2]
    plastic : PlasticResult or None
        The comparison; None with the reason in `no_comparison`.
    difference : Interval or None
        Moulded less plastic. [kgCO2e]
    chance_lower : float or None
        Share of draws in which the moulded part is the lower. [-]
    no_comparison : str or None
        Why no comparison is made.
    by_line : mapping
        Central contribution of each inventory line to all good parts. [kgCO2e]
    draws, plastic_draws : ndarray
        Footprints, central value first. [kgCO2e]
    """

    part: str
    good: float
    rejected: float
    mass_kg: float
    dry_mass_kg: float
    footprint: Interval | None
    stages: Mapping[str, float]
    biogenic_carbon_kgco2: float
    plastic: PlasticResult | None
    difference: Interval | None
    chance_lower: float | None
    no_comparison: str | None
    by_line: Mapping[Any, float] = field(default_factory=dict)
    draws: FloatArray | None = None
    plastic_draws: FloatArray | None = None


@dataclass(frozen=True, slots=True)
class Assumption:
    """Something that the records do not say and the calculation had to suppose.

    Attributes
    ----------
    code : str
        Stable name.
    text : str
        What is supposed, as a sentence.
    remedy : str
        What to record or state to replace it.
    weighty : bool
        True when it belongs on the front page.
    """

    code: str
    text: str
    remedy: str
    weighty: bool = False


@dataclass(frozen=True, slots=True)
class Settings:
    """How the figures were made: seed, draws, versions, warming potentials, electricity, landfill set.

    `editions` holds, by geography, the editions used of keys of which the tables hold several.
    """

    seed: int
    draws: int
    version: str
    gwp: str
    electricity: str
    electricity_kgco2e_per_kwh: float
    landfill_parameters: str
    landfill_climate: str
    horizon_years: float
    editions: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class Results:
    """Everything that one assessment found; see the attributes' own types."""

    workshop: Workshop
    start: date
    end: date
    batches: int
    paper: PaperAccount
    disposal: DisposalAccount
    parts: tuple[PartResult, ...]
    made: Interval
    displaced_plastic: Interval
    net: Interval
    evidence: Mapping[str, float]
    memory_share: Mapping[str, float]
    warnings: tuple[Problem, ...]
    assumptions: tuple[Assumption, ...]
    factors_used: Mapping[str, Choice]
    settings: Settings
    inventory: Inventory
    stage_matrix: Matrix
    diverted_matrix: Matrix
    lost_matrix: Matrix
    findings: tuple[Finding, ...]
    blends: tuple[Blend, ...]
    cautions: tuple[Caution, ...]
    counted: Counted
    factors: FactorSet
    names: Names
    own_values: OwnValues | None = None
    grant: Grant | None = None

    def part(self, name: str) -> PartResult:
        """Return the result of one part.

        Raises
        ------
        KeyError
            When no batch made it.
        """
        for part in self.parts:
            if part.part == name:
                return part
        raise KeyError(name)

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
    def recycled(self) -> tuple[RecycledContent, ...]:
        """The recycled content of every part that has a good one."""
        from impact.recycled import recycled

        return recycled(self)

    @cached_property
    def claims(self) -> Claims:
        """What these results support saying, and what not."""
        from impact.claims import claims

        return claims(self)

    @cached_property
    def doubts(self) -> tuple[str, ...]:
        """The warnings as sentences; what repeats in one column is one of them."""
        from impact.grouping import sentences

        return tuple(sentences(self.warnings))

    def as_totals(self) -> dict[str, Any]:
        """Return the figures as the JSON contract `impact-totals/1` has them."""
        paper = self.paper
        return {
            "schema": SCHEMA,
            "workshop": {
                "name": self.workshop.name,
                "country": self.workshop.country,
                "electricity": self.workshop.electricity,
                "invented": self.workshop.invented,
            },
            "grant": None
            if self.grant is None
            else {
                "name": self.grant.name,
                "start": self.grant.start.isoformat(),
                "end": self.grant.end.isoformat(),
                "share": self.grant.share,
            },
            "period": {"start": self.start.isoformat(), "end": self.end.isoformat()},
            "batches": self.batches,
            "settings": {
                "seed": self.settings.seed,
                "draws": self.settings.draws,
                "version": self.settings.version,
                "gwp": self.settings.gwp,
                "electricity": self.settings.electricity,
                "electricity_kgco2e_per_kwh": self.settings.electricity_kgco2e_per_kwh,
                "landfill_parameters": self.settings.landfill_parameters,
                "landfill_climate": self.settings.landfill_climate,
                "horizon_years": self.settings.horizon_years,
                "editions": {place: list(names) for place, names in self.settings.editions.items()},
            },
            "paper": {
                "collected_kg": paper.collected_kg,
                "dry_fibre_kg": paper.dry_fibre_kg,
                "put_to_use_kg": paper.put_to_use_kg,
                "kept_from_landfill_gross_kg": paper.kept_from_landfill_gross_kg,
                "kept_from_landfill_kg": paper.kept_from_landfill_kg,
                "kept_from_incineration_kg": paper.kept_from_incineration_kg,
                "taken_from_recycling_kg": paper.taken_from_recycling_kg,
                "returned_to_landfill_kg": paper.returned_to_landfill_kg,
                "deferred_kg": paper.deferred_kg,
                "landfill_diversion_rate": paper.landfill_diversion_rate,
                "by_grade": [
                    {
                        "grade": grade.grade,
                        "collected_kg": grade.collected_kg,
                        "kept_from_landfill_kg": grade.kept_from_landfill_kg,
                        "kept_from_incineration_kg": grade.kept_from_incineration_kg,
                        "taken_from_recycling_kg": grade.taken_from_recycling_kg,
                        "returned_to_landfill_kg": grade.returned_to_landfill_kg,
                    }
                    for grade in paper.by_grade
                ],
                "mass_balance": {
                    "in_kg": paper.in_kg,
                    "out_kg": paper.out_kg,
                    "unaccounted_share": paper.unaccounted_share,
                },
            },
            "disposal": {
                "avoided_kgco2e": self.disposal.avoided.as_dict(),
                "avoided_other_parameters_kgco2e": self.disposal.avoided_other_set.as_dict(),
                "lost_recycling_kgco2e": self.disposal.lost_recycling.as_dict(),
            },
            "parts": [_part_totals(part) for part in self.parts],
            "made_kgco2e": self.made.as_dict(),
            "displaced_plastic_kgco2e": self.displaced_plastic.as_dict(),
            "net_kgco2e": self.net.as_dict(),
            "compostability": [
                {
                    "part": finding.part,
                    "binder": finding.binder,
                    "composting": finding.route,
                    "binder_share": finding.binder_share,
                    "outcome": finding.outcome,
                    "reasons": [
                        {"rule": reason.rule, "text": reason.text, "source": reason.source}
                        for reason in finding.reasons
                    ],
                    "not_recorded": list(finding.asked),
                }
                for finding in self.findings
            ],
            "blends": [blend.as_dict() for blend in self.blends],
            "cautions": [
                {"hazard": caution.hazard, "text": caution.text, "source": caution.source} for caution in self.cautions
            ],
            "recycled_content": [content.as_dict() for content in self.recycled],
            "claims": self.claims.as_dict(),
            "evidence": dict(self.evidence),
            "from_memory": dict(self.memory_share),
            "own_values": self.own_values.as_dict() if self.own_values else None,
            "assumptions": [
                {"code": assumption.code, "text": assumption.text, "remedy": assumption.remedy}
                for assumption in self.assumptions
            ],
            "warnings": [problem.as_dict() for problem in self.warnings],
        }


def _part_totals(part: PartResult) -> dict[str, Any]:
    plastic = part.plastic
    return {
        "part": part.part,
        "good": part.good,
        "rejected": part.rejected,
        "mass_kg": part.mass_kg,
        "dry_mass_kg": part.dry_mass_kg,
        "footprint_kgco2e": part.footprint.as_dict() if part.footprint else None,
        "stages_kgco2e": dict(part.stages) if part.footprint else None,
        "biogenic_carbon_kgco2": part.biogenic_carbon_kgco2 if part.footprint else None,
        "plastic": None
        if plastic is None
        else {
            "polymer": plastic.polymer,
            "route": plastic.route,
            "equivalence": plastic.equivalence,
            "mass_kg": plastic.mass_kg,
            "mass_per_service_kg": plastic.mass_per_service_kg,
            "masses_by_rule_kg": dict(plastic.masses_by_rule),
            "footprint_kgco2e": plastic.footprint.as_dict(),
            "other_route_kgco2e": plastic.other_route.as_dict() if plastic.other_route else None,
        },
        "difference_kgco2e": part.difference.as_dict() if part.difference else None,
        "chance_lower": part.chance_lower,
        "no_comparison": part.no_comparison,
    }
