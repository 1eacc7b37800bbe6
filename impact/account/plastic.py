"""The equivalent plastic part of a moulded part: its mass, its route, its footprint per service life."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import cast

import numpy as np

from impact.account.intensities import UnitImpacts
from impact.account.results import Interval, PlasticResult
from impact.base.language import message
from impact.base.sentences import Fact, Name, Said
from impact.core import FloatArray, Numbers
from impact.core.plastic import (
    cubic_metres,
    equal_stiffness_mass,
    formed_route,
    per_service,
    resin_route,
    same_volume_mass,
)
from impact.factors.values import MissingFactorError, Values, known
from impact.records.workshop import Part

ROUTES = (message("formed"), message("resin"))
KINDS = {False: "polymer.", True: "polymer.recycled-"}
"""Of what polymer, new or recycled: how the keys of its factors begin."""
LIFE = "service life"
"""Name of the error of how long a moulded part serves."""
RULES = (message("measured"), message("same-volume"), message("equal-stiffness"))


@dataclass(frozen=True, slots=True)
class PlasticDraws:
    """The plastic part with its draws, per moulded part, and what it would be of recycled polymer. [kgCO2e]"""

    result: PlasticResult
    footprint: FloatArray
    recycled_route: str | None
    recycled: FloatArray | None


def lives(part: Part, values: Values) -> dict[str, Numbers]:
    """Return the service lives of the moulded and of the plastic part, as `impact.core.plastic.per_service` asks. [year]"""
    moulded, plastic = known(part.life_evidence), known(part.plastic_life_evidence)
    plastic_years = cast(float, part.plastic_service_life_years)  # a part with a polymer has one
    return {
        "fibre_life_years": part.service_life_years * values.spread(LIFE, moulded),
        "plastic_life_years": plastic_years * values.spread(f"plastic {LIFE}", plastic),
    }


def displaced_share(part: Part, values: Values) -> Numbers | None:
    """Return the share of a part that took a plastic one's place, None where that is none. [-]"""
    share = part.displacement
    if not share:
        return None
    evidence, of = known(part.displacement_evidence), ("a plastic part", "nothing")
    return values.stated_shares(f"{part.name} in place of", (share, 1.0 - share), evidence, of)[0]


def masses_by_rule(part: Part, impacts: UnitImpacts) -> dict[str, Numbers]:
    """Return the plastic mass by each rule for which the records and the factors suffice. [kg]"""
    values = impacts.values
    found: dict[str, Numbers] = {}
    if part.plastic_mass_kg is not None:
        found["measured"] = part.plastic_mass_kg * values.spread("plastic mass", "weighed")
    density = f"polymer.density.{part.polymer}"
    if part.volume_l is None or not values.has(density):
        return found
    volume_m3 = cubic_metres(part.volume_l)
    found["same-volume"] = same_volume_mass(volume_m3, values.get(density))
    modulus = f"polymer.modulus.{part.polymer}"
    if values.has(modulus):
        found["equal-stiffness"] = equal_stiffness_mass(
            part.mass_kg,
            fibre_density=part.mass_kg / volume_m3,
            plastic_density=values.get(density),
            fibre_modulus=values.get("fibre.modulus"),
            plastic_modulus=values.get(modulus),
        )
    return found


def routes_of(part: Part, impacts: UnitImpacts) -> tuple[str, ...]:
    """Return the routes that hold for the process of a part, first the one to take; what forming factors leave out has one."""
    covered = impacts.values.choose(f"process.formed.{part.process}").factor.value
    return ROUTES if covered else ROUTES[1:]


def _by_route(route: str, mass: Numbers, part: Part, impacts: UnitImpacts, *, recycled: bool = False) -> Numbers | None:
    """Return making and forming by one route, or None where the tables lack it. [kgCO2e]"""
    get, has = impacts.values.get, impacts.values.has
    if route == "formed":
        key = f"{KINDS[recycled]}formed.{part.polymer}"
        return formed_route(mass, formed=get(key)) if has(key) else None
    resin = f"{KINDS[recycled]}resin.{part.polymer}"
    keys = (resin, f"process.electricity.{part.process}", f"process.scrap.{part.process}")
    if not all(has(key) for key in keys):
        return None
    return resin_route(mass, resin=get(keys[0]), scrap=get(keys[2]), conversion_kwh=get(keys[1]), grid=impacts.kwh)


@dataclass(frozen=True, slots=True)
class PlasticPart:
    """One plastic part, before its burden is spread over its service life."""

    route: str  # ``formed`` or ``resin``
    mass_kg: Numbers  # by the part's own rule [kg]
    material: Numbers  # making with forming [kgCO2e]
    freight: Numbers  # [kgCO2e]
    end_of_life: Numbers  # disposal [kgCO2e]


def plastic_part(part: Part, impacts: UnitImpacts, masses: Mapping[str, Numbers]) -> PlasticPart:
    """Return one plastic part by the rule and the route that its records and the tables give.

    `masses` are those that `masses_by_rule` found [kg].

    Raises
    ------
    MissingFactorError
        When neither route, or no mass, can be had from the tables.
    """
    values = impacts.values
    if part.equivalence not in masses:
        facts: dict[str, Fact] = {"polymer": Name("polymer", part.polymer), "rule": part.equivalence}
        raise MissingFactorError(Said("no density or modulus of {polymer} for the rule {rule}", facts))
    mass = masses[part.equivalence]
    for route in routes_of(part, impacts):
        material = _by_route(route, mass, part, impacts)
        if material is not None:
            break
    else:
        names = {"polymer": Name("polymer", part.polymer), "process": Name("process", part.process)}
        raise MissingFactorError(Said("no footprint of {polymer}, neither formed nor as resin with {process}", names))
    freight = (
        mass
        * values.get("freight.plastic-distance")
        * (values.get("freight.truck.direct") + values.get("freight.truck.upstream"))
    )
    return PlasticPart(route, mass, material, freight, mass * impacts.plastic_disposal(part.polymer))


@dataclass(frozen=True, slots=True)
class PlasticCase:
    """The plastic part that does the job of one moulded part over its service life, to which all but the masses refer."""

    route: str  # ``formed`` or ``resin``
    masses: dict[str, Numbers]  # of one plastic part by each rule that the records allow [kg]
    mass: Numbers  # of one plastic part by the rule of the part [kg]
    mass_per_service: Numbers  # over the service life of one moulded part [kg]
    making: Numbers  # [kgCO2e]
    other_making: Numbers | None  # by the other route; None without [kgCO2e]
    recycled_route: str | None  # ``formed`` or ``resin`` of recycled polymer, that of the main case if it can be had
    recycled_making: Numbers | None  # of recycled polymer; None without [kgCO2e]
    freight: Numbers  # [kgCO2e]
    end_of_life: Numbers  # [kgCO2e]
    electricity_sold: Numbers  # credit within the end of life [kgCO2e]

    @property
    def footprint(self) -> Numbers:
        """All of it. [kgCO2e]"""
        return self.making + self.freight + self.end_of_life

    def made_by(self, making: Numbers | None) -> Numbers | None:
        """Return all of it with another `making`, None for None. [kgCO2e]"""
        return None if making is None else making + self.freight + self.end_of_life

    @property
    def other_footprint(self) -> Numbers | None:
        """All of it by the other route. [kgCO2e]"""
        return self.made_by(self.other_making)

    @property
    def recycled_footprint(self) -> Numbers | None:
        """All of it, of recycled polymer. [kgCO2e]"""
        return self.made_by(self.recycled_making)


def plastic_case(part: Part, impacts: UnitImpacts) -> PlasticCase:
    """Return the plastic part that does the job of one moulded part.

    Raises
    ------
    MissingFactorError
        As in `plastic_part`.
    """
    masses = masses_by_rule(part, impacts)
    one = plastic_part(part, impacts, masses)
    other = _by_route("resin", one.mass_kg, part, impacts) if one.route == "formed" else None
    by_route = {
        route: _by_route(route, one.mass_kg, part, impacts, recycled=True)
        for route in sorted(routes_of(part, impacts), key=one.route.__ne__)
    }
    again = next((route for route, making in by_route.items() if making is not None), None)

    served = lives(part, impacts.values)

    def service(footprint: Numbers) -> Numbers:
        return per_service(footprint, **served)

    return PlasticCase(
        route=one.route,
        masses=masses,
        mass=one.mass_kg,
        mass_per_service=one.mass_kg * served["fibre_life_years"] / served["plastic_life_years"],
        making=service(one.material),
        other_making=service(other) if other is not None else None,
        recycled_route=again,
        recycled_making=service(cast(Numbers, by_route[again])) if again is not None else None,
        freight=service(one.freight),
        end_of_life=service(one.end_of_life),
        electricity_sold=service(one.mass_kg * impacts.plastic_sold),
    )


def equivalent(part: Part, impacts: UnitImpacts) -> PlasticDraws:
    """Return the figures of the plastic part, with their draws.

    Raises
    ------
    MissingFactorError
        As in `plastic_case`.
    """
    with impacts.values.trace() as used:
        case = plastic_case(part, impacts)

    def spread(numbers: Numbers) -> FloatArray:
        return np.broadcast_to(np.asarray(numbers, dtype=float), 1 + impacts.values.draws)

    total = spread(case.footprint)
    other, recycled = case.other_footprint, case.recycled_footprint
    stages = {"material": case.making, "freight": case.freight, "end_of_life": case.end_of_life}
    result = PlasticResult(
        polymer=part.polymer,
        route=case.route,
        equivalence=part.equivalence,
        mass_kg=float(spread(case.mass)[0]),
        mass_per_service_kg=float(spread(case.mass_per_service)[0]),
        footprint=Interval.of(total),
        stages={stage: float(spread(numbers)[0]) for stage, numbers in stages.items()},
        electricity_sold=Interval.of(spread(case.electricity_sold)),
        other_route=Interval.of(spread(other)) if other is not None else None,
        masses_by_rule={rule: float(spread(numbers)[0]) for rule, numbers in case.masses.items()},
        factors=tuple(used),
    )
    return PlasticDraws(result, total, case.recycled_route, None if recycled is None else spread(recycled))
