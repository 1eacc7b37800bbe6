"""The keys under which the calculation asks the factor tables for a number.

A factor row's id is its key, with the geography and the edition appended where several rows share
the key: ``electricity.direct/US-CAMX``, ``polymer.formed.PP/GBR/2025``. Each key belongs to one
pattern below, which fixes the canonical unit, what the number means, and where it is used.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from impact.base.problems import nearest


@dataclass(frozen=True, slots=True)
class Key:
    """One pattern of keys.

    Attributes
    ----------
    pattern : str
        The key, with ``{name}`` for a part that comes from the catalogue (a grade, a binder …).
    unit : str
        Canonical unit; a row may use any unit of the same dimension.
    meaning : str
        What the number is.
    used : str
        Where the calculation uses it.
    share : bool
        True for fractions, which must lie between 0 and 1.
    """

    pattern: str
    unit: str
    meaning: str
    used: str
    share: bool = False


def _k(pattern: str, unit: str, meaning: str, used: str, *, share: bool = False) -> Key:
    return Key(pattern, unit, meaning, used, share)


KEYS: tuple[Key, ...] = (
    # --- paper grades -----------------------------------------------------------------------
    _k(
        "paper.moisture.{grade}",
        "1",
        "water per kg of paper as weighed",
        "dry fibre, when a batch records no moisture",
        share=True,
    ),
    _k(
        "paper.carbon.{grade}",
        "kg/kg",
        "carbon per kg of dry paper",
        "incineration, biogenic carbon content",
        share=True,
    ),
    _k("paper.fossil-share.{grade}", "1", "share of the paper's carbon that is fossil", "incineration", share=True),
    _k("paper.ash.{grade}", "1", "inorganic share of dry paper", "shown with the grade", share=True),
    _k("paper.doc.{grade}", "kg/kg", "degradable organic carbon per kg of dry paper", "landfill decay", share=True),
    _k(
        "paper.docf.{grade}",
        "1",
        "share of the degradable organic carbon that decomposes in a landfill",
        "landfill decay",
        share=True,
    ),
    _k(
        "paper.methane-yield.{grade}",
        "kg/kg",
        "methane per kg of dry paper, measured in the laboratory",
        "landfill decay, measured parameter set",
    ),
    _k(
        "paper.carbon-storage.{grade}",
        "kg/kg",
        "carbon that stays in a landfill per kg of dry paper, measured",
        "shown beside the calculated remainder",
    ),
    _k("paper.primary.{grade}", "kgCO2e/kg", "making the grade from primary fibre", "recycling that lost its fibre"),
    _k(
        "paper.secondary.{grade}", "kgCO2e/kg", "making the grade from recovered fibre", "recycling that lost its fibre"
    ),
    _k(
        "paper.recycling-yield.{grade}",
        "1",
        "recovered fibre that reaches the new product, per kg collected",
        "recycling that lost its fibre",
        share=True,
    ),
    # --- landfill and climate -----------------------------------------------------------------
    _k("gwp.methane-non-fossil", "kgCO2e/kg", "GWP-100 of methane of biogenic origin", "landfill, composting"),
    _k("gwp.methane-fossil", "kgCO2e/kg", "GWP-100 of methane of fossil origin", "shown for comparison"),
    _k("gwp.nitrous-oxide", "kgCO2e/kg", "GWP-100 of nitrous oxide", "composting, incineration"),
    _k("landfill.k.{decay}.{climate}", "1/year", "first-order decay constant", "landfill decay"),
    _k("landfill.mcf", "1", "methane correction factor of the site", "landfill decay", share=True),
    _k(
        "landfill.mcf.{site}",
        "1",
        "methane correction factor of a site class",
        "landfill decay, when the workshop names the class",
        share=True,
    ),
    _k("landfill.methane-fraction", "1", "methane in the landfill gas, by volume", "landfill decay", share=True),
    _k("landfill.delay", "year", "time until decay starts", "landfill decay"),
    _k("landfill.oxidation", "1", "uncollected methane oxidised in the cover", "landfill decay", share=True),
    _k("landfill.collection", "1", "share of the generated methane that is collected", "landfill decay", share=True),
    _k(
        "landfill.collection.{site}",
        "1",
        "collection at one class of site",
        "landfill decay, when the workshop names the class",
        share=True,
    ),
    _k(
        "landfill.plastic",
        "kgCO2e/kg",
        "handling of inert plastic at a landfill",
        "end of life of the plastic part and of moulds",
    ),
    # --- other routes -------------------------------------------------------------------------
    _k("incineration.oxidation", "1", "share of the carbon that burns", "incineration", share=True),
    _k("incineration.methane", "kg/kg", "methane per kg burnt, as weighed", "incineration"),
    _k("incineration.nitrous-oxide", "kg/kg", "nitrous oxide per kg burnt, as weighed", "incineration"),
    _k(
        "incineration.net-electricity.{waste}",
        "kWh/kg",
        "net electricity sold per kg burnt",
        "incineration, energy credit where the country recovers energy",
    ),
    _k("composting.methane", "kg/kg", "methane per kg of dry matter composted", "composting"),
    _k("composting.nitrous-oxide", "kg/kg", "nitrous oxide per kg of dry matter composted", "composting"),
    _k(
        "recycling.handling.{waste}",
        "kgCO2e/kg",
        "transport and sorting on the way to recycling",
        "end of life of the plastic part and of moulds",
    ),
    _k(
        "fate.{waste}.{fate}",
        "1",
        "share of the waste that takes this route",
        "counterfactual and end-of-life fates",
        share=True,
    ),
    # --- electricity, heat, water, transport ------------------------------------------------------
    _k(
        "electricity.life-cycle",
        "kgCO2e/kWh",
        "generation, life-cycle basis",
        "every kWh of the workshop and of plastics conversion",
    ),
    _k(
        "electricity.direct",
        "kgCO2e/kWh",
        "generation, emissions at the stack only",
        "as life-cycle, once the upstream share is added",
    ),
    _k("electricity.upstream", "kgCO2e/kWh", "fuel supply of the generation", "added to direct factors"),
    _k(
        "electricity.transmission",
        "kgCO2e/kWh",
        "losses between plant and socket, as published",
        "added to direct factors",
    ),
    _k(
        "electricity.upstream-transmission",
        "kgCO2e/kWh",
        "fuel supply of the losses, as published",
        "added to direct factors",
    ),
    _k(
        "electricity.loss",
        "1",
        "share of the generation lost before the socket",
        "delivered electricity where no loss emission is published",
        share=True,
    ),
    _k(
        "heat.gas",
        "kgCO2e/kWh",
        "natural gas burnt, with its supply, per kWh of fuel (gross)",
        "latent heat drawn from a heated room",
    ),
    _k(
        "heat.boiler-efficiency", "1", "useful heat per kWh of fuel", "latent heat drawn from a heated room", share=True
    ),
    _k("water.supply", "kgCO2e/m3", "mains water", "making"),
    _k("water.treatment", "kgCO2e/m3", "waste-water treatment", "making"),
    _k("transport.{vehicle}.direct", "kgCO2e/km", "one vehicle-kilometre, exhaust", "collection of paper"),
    _k("transport.{vehicle}.upstream", "kgCO2e/km", "one vehicle-kilometre, fuel supply", "collection of paper"),
    _k("freight.{mode}.direct", "kgCO2e/kg/km", "moving one kg over one km, exhaust", "delivery of the plastic part"),
    _k(
        "freight.{mode}.upstream",
        "kgCO2e/kg/km",
        "moving one kg over one km, fuel supply",
        "delivery of the plastic part",
    ),
    _k(
        "freight.plastic-distance",
        "km",
        "road distance from the plastic moulder to the user",
        "delivery of the plastic part",
    ),
    # --- binders --------------------------------------------------------------------------------
    _k(
        "binder.solids.{binder}",
        "1",
        "dry matter per kg of binder as used",
        "dry binder, when a batch records no solids",
        share=True,
    ),
    _k(
        "binder.carbon.{binder}",
        "kg/kg",
        "carbon per kg of dry binder",
        "end of life, biogenic carbon content",
        share=True,
    ),
    _k("binder.fossil-share.{binder}", "1", "share of the binder's carbon that is fossil", "end of life", share=True),
    _k(
        "binder.doc.{binder}",
        "kg/kg",
        "degradable organic carbon per kg of dry binder",
        "landfill decay of the part",
        share=True,
    ),
    _k(
        "binder.docf.{binder}",
        "1",
        "share of that carbon that decomposes in a landfill",
        "landfill decay of the part",
        share=True,
    ),
    _k("binder.footprint.{binder}", "kgCO2e/kg", "making one kg of dry binder, uptake not counted", "binder stage"),
    _k(
        "binder.footprint-as-sold.{binder}",
        "kgCO2e/kg",
        "making one kg of binder as sold",
        "binder stage, instead of the dry factor where a row exists",
    ),
    _k("binder.preparation.{binder}", "kWh/kg", "cooking one kg of binder as used", "binder stage, when not recorded"),
    _k("binder.dose.{binder}", "kg/kg", "dry binder per kg of dry fibre", "binder mass, when not recorded"),
    # --- plastic parts and moulds ------------------------------------------------------------------
    _k("polymer.formed.{polymer}", "kgCO2e/kg", "polymer made and formed into a product", "plastic part, formed route"),
    _k(
        "polymer.resin.{polymer}", "kgCO2e/kg", "polymer resin at the plant's gate", "plastic part, resin route; moulds"
    ),
    _k(
        "polymer.recycled.{polymer}",
        "kgCO2e/kg",
        "recycled polymer, formed or resin as the boundary says",
        "shown as a sensitivity case",
    ),
    _k(
        "polymer.carbon.{polymer}",
        "kg/kg",
        "carbon per kg of polymer",
        "incineration of plastic parts and moulds",
        share=True,
    ),
    _k(
        "polymer.fossil-share.{polymer}",
        "1",
        "share of the polymer's carbon that is fossil",
        "incineration of plastic parts and moulds",
        share=True,
    ),
    _k("polymer.density.{polymer}", "kg/m3", "density", "equivalence by volume or stiffness"),
    _k("polymer.modulus.{polymer}", "Pa", "flexural modulus", "equivalence by stiffness"),
    _k("process.electricity.{process}", "kWh/kg", "electricity to form one kg of product", "plastic part, resin route"),
    _k("process.scrap.{process}", "1", "polymer lost in forming", "plastic part, resin route", share=True),
    _k("material.footprint.{material}", "kgCO2e/kg", "mould material that is no polymer", "mould"),
    _k("printing.energy", "kWh/kg", "electricity to print one kg of mould", "mould, when printing is not recorded"),
    # --- making ---------------------------------------------------------------------------------------
    _k("drying.energy.{dryer}", "kWh/kg", "electricity per kg of water evaporated", "drying, when not recorded"),
    _k(
        "drying.latent-heat",
        "kWh/kg",
        "latent heat of water at room temperature",
        "floor of heated drying; heat drawn from a heated room",
    ),
    _k(
        "drying.pressed-solids",
        "1",
        "solids in a part as it leaves the press",
        "water to evaporate, when not recorded",
        share=True,
    ),
    _k("part.moisture", "1", "water in a finished part at room conditions", "dry part mass", share=True),
    _k("fibre.modulus", "Pa", "flexural modulus of a pressed paper part", "equivalence by stiffness"),
    _k("estimate.shredding", "kWh/kg", "electricity to shred one kg of dry fibre", "shredding, when not recorded"),
    _k("estimate.blending", "kWh/kg", "electricity to pulp one kg of dry fibre", "blending, when not recorded"),
    _k("estimate.pressing", "kWh/kg", "electricity to press one kg of dry fibre", "pressing, when not recorded"),
    _k("estimate.water", "m3/kg", "water to pulp one kg of dry fibre", "water, when not recorded"),
    _k("estimate.transport", "km/kg", "driving to collect one kg of paper", "transport, when not recorded"),
    _k("estimate.reject-rate", "1", "rejects per part pressed", "rejects, when not recorded", share=True),
    _k("estimate.trim", "1", "trim per kg of finished parts", "trim, when not recorded", share=True),
    _k("evidence.{class}", "1", "spread of an amount known in this way, around 1", "uncertainty of every amount"),
    # --- data quality --------------------------------------------------------------------------------
    _k(
        "pedigree.{indicator}.{score}",
        "1",
        "uncertainty factor of a pedigree score (square of a geometric standard deviation)",
        "spread of factor rows that carry scores",
    ),
    # --- compost, claims, safety, equivalents -------------------------------------------------------------
    _k("compost.carbon-nitrogen.{ingredient}", "kg/kg", "carbon per kg of nitrogen", "compost blend"),
    _k("compost.nitrogen.{ingredient}", "kg/kg", "nitrogen per kg of dry matter", "compost blend", share=True),
    _k("compost.moisture.{ingredient}", "1", "water per kg as weighed", "compost blend", share=True),
    _k("compost.target.carbon-highest", "1", "most carbon of a dry plant material", "compost blend", share=True),
    _k("compost.target.moisture", "1", "water in a working compost heap", "compost blend", share=True),
    _k("compost.target.{quantity}", "1", "condition of a working compost heap", "compost blend"),
    _k("compost.criterion.{criterion}", "1", "threshold of a compostability standard", "compostability findings"),
    _k("compost.limit.{table}.{element}", "mg/kg", "most of an element in dry matter", "compostability findings"),
    _k("compost.restriction.{substance}", "mg/kg", "most of a substance that a law allows", "compostability findings"),
    _k("claim.threshold.{claim}", "1", "figure in a rule on environmental claims", "claims"),
    _k("safety.{hazard}.{quantity}", "*", "figure in a safety caution", "cautions"),
    _k("equivalent.{thing}", "*", "figure that helps a lay reader", "equivalents"),
)


_NAME = re.compile(r"[A-Za-z0-9-]+")
"""What an open part of a pattern may be filled with."""


@cache
def _by_shape() -> dict[tuple[str, int], list[tuple[list[str], Key]]]:
    """Return the words of every pattern, by its first word, which is never open, and the number of its words."""
    found: dict[tuple[str, int], list[tuple[list[str], Key]]] = {}
    for key in KEYS:
        words = key.pattern.split(".")
        found.setdefault((words[0], len(words)), []).append((words, key))
    return found


def _fits(written: Sequence[str], pattern: Sequence[str]) -> bool:
    """Return whether the words of a key are those of a pattern of as many, its open ones filled."""
    pairs = zip(written, pattern, strict=True)
    return all(_NAME.fullmatch(word) if known.startswith("{") else word == known for word, known in pairs)


def key_of(factor_id: str) -> str:
    """Return the key part of a factor id (``polymer.formed.PP/GBR/2025`` gives ``polymer.formed.PP``)."""
    return factor_id.split("/", 1)[0]


@cache
def pattern_of(key: str) -> Key | None:
    """Return the pattern that `key` belongs to, or None when the calculation knows no such key."""
    words = key.split(".")
    patterns = _by_shape().get((words[0], len(words)), [])
    return next((candidate for pattern, candidate in patterns if _fits(words, pattern)), None)


def nearest_pattern(key: str) -> str | None:
    """Return the pattern spelt most like `key`, its open parts filled from the key; None when nothing is close."""
    parts = key.split(".")
    filled = {}
    for known in KEYS:
        words = known.pattern.split(".")
        if len(words) == len(parts):
            pairs = zip(words, parts, strict=True)
            filled[".".join(part if word.startswith("{") else word for word, part in pairs)] = known.pattern
    near = nearest(key, filled)
    return None if near is None else near if pattern_of(near) else filled[near]
