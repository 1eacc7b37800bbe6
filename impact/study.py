"""Results with what others make of them: findings, claims, own values, and the document of the command `totals`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import cached_property, wraps
from typing import Any, ParamSpec

from impact.account import assessment
from impact.account.ownvalues import OwnValues
from impact.account.results import PartResult, Results
from impact.findings.blend import Blend, blends
from impact.findings.cautions import Caution, cautions
from impact.findings.claims import Claims, claims
from impact.findings.compost import Finding, findings, recipes
from impact.findings.recycled import RecycledContent, recycled

Options = ParamSpec("Options")

SCHEMA = "impact-totals/1"


@dataclass(frozen=True, kw_only=True)
class Study(Results):
    """The results of one assessment, and what follows from them.

    Attributes
    ----------
    findings : tuple of Finding
        Composting, by part, binder and way of composting.
    blends : tuple of Blend
        Greens and water that bring the parts into a heap.
    cautions : tuple of Caution
        What the records call for.
    own_values : OwnValues or None
        Own factor values that were used; None without one.
    """

    findings: tuple[Finding, ...]
    blends: tuple[Blend, ...]
    cautions: tuple[Caution, ...]
    own_values: OwnValues | None = None

    @cached_property
    def recycled(self) -> tuple[RecycledContent, ...]:
        """The recycled content of every part that has a good one."""
        return recycled(self)

    @cached_property
    def claims(self) -> Claims:
        """What these results support saying, and what not."""
        return claims(self, self.findings, self.recycled)

    def as_totals(self) -> dict[str, Any]:
        """Return the figures as the JSON contract `impact-totals/1` has them."""
        return totals_document(self)


def study_of(results: Results) -> Study:
    """Return results with what they mean; the factors that the findings use are among those used."""
    workshop, values, names = results.workshop, results.values, results.names
    made = recipes(results.inventory)
    regions = values.regions
    given = {field.name: getattr(results, field.name) for field in fields(results)}
    heaps = tuple(blends(made, 1.0 - results.part_solids, values, names.greens))
    return Study(
        **{**given, "factors_used": dict(sorted(values.used.items()))},
        findings=tuple(findings(made, workshop, results.factors, names, regions)),
        blends=heaps,
        cautions=tuple(
            cautions(
                workshop,
                results.counted.tally.binders,
                results.factors,
                names,
                regions,
                sanded=results.counted.tally.sanded,
            )
        ),
    )


def _studied(assess: Callable[Options, Results]) -> Callable[Options, Study]:
    @wraps(assess)
    def studied(*args: Options.args, **options: Options.kwargs) -> Study:
        return study_of(assess(*args, **options))

    return studied


assess = _studied(assessment.assess)


def totals_document(results: Study) -> dict[str, Any]:
    """Return the figures of some results as the contract has them."""
    paper = results.paper
    return {
        "schema": SCHEMA,
        "workshop": {
            "name": results.workshop.name,
            "country": results.workshop.country,
            "electricity": results.workshop.electricity,
            "invented": results.workshop.invented,
        },
        "grant": None
        if results.grant is None
        else {
            "name": results.grant.name,
            "start": results.grant.start.isoformat(),
            "end": results.grant.end.isoformat(),
            "share": results.grant.share,
        },
        "period": {"start": results.start.isoformat(), "end": results.end.isoformat()},
        "batches": results.batches,
        "settings": {
            "seed": results.settings.seed,
            "draws": results.settings.draws,
            "version": results.settings.version,
            "gwp": results.settings.gwp,
            "electricity": results.settings.electricity,
            "electricity_kgco2e_per_kwh": results.settings.electricity_kgco2e_per_kwh,
            "landfill_parameters": results.settings.landfill_parameters,
            "landfill_climate": results.settings.landfill_climate,
            "horizon_years": results.settings.horizon_years,
            "editions": {place: list(names) for place, names in results.settings.editions.items()},
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
            "avoided_kgco2e": results.disposal.avoided.as_dict(),
            "avoided_other_parameters_kgco2e": results.disposal.avoided_other_set.as_dict(),
            "lost_recycling_kgco2e": results.disposal.lost_recycling.as_dict(),
        },
        "parts": [_part_totals(part) for part in results.parts],
        "made_kgco2e": results.made.as_dict(),
        "displaced_plastic_kgco2e": results.displaced_plastic.as_dict(),
        "net_kgco2e": results.net.as_dict(),
        "compostability": [
            {
                "part": finding.part,
                "binder": finding.binder,
                "composting": finding.route,
                "binder_share": finding.binder_share,
                "outcome": finding.outcome,
                "reasons": [
                    {"rule": reason.rule, "text": reason.text, "source": reason.source} for reason in finding.reasons
                ],
                "not_recorded": list(finding.asked),
            }
            for finding in results.findings
        ],
        "blends": [blend.as_dict() for blend in results.blends],
        "cautions": [
            {"hazard": caution.hazard, "text": caution.text, "source": caution.source} for caution in results.cautions
        ],
        "recycled_content": [content.as_dict() for content in results.recycled],
        "claims": results.claims.as_dict(),
        "evidence": dict(results.evidence),
        "from_memory": dict(results.memory_share),
        "own_values": results.own_values.as_dict() if results.own_values else None,
        "assumptions": [
            {"code": assumption.code, "text": assumption.text, "remedy": assumption.remedy}
            for assumption in results.assumptions
        ],
        "warnings": [problem.as_dict() for problem in results.warnings],
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
