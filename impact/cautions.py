"""Cautions for people and rooms, chosen by what the workshop really does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from impact.workshop import Workshop

if TYPE_CHECKING:
    import pandas as pd

DEFER = (
    "These are the usual cautions and no risk assessment. Local codes, the makers' manuals and safety data sheets, and people "
    "licensed for electrical and fire work have the last word."
)


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution with its source."""

    hazard: str
    text: str
    source: str


ALWAYS = (
    Caution(
        "Dust",
        "Shredding and sanding dry paper raise dust: shred damp, do not sweep dry or use compressed air, wear a mask when sanding.",
        "Health and Safety Executive, COSHH dust thresholds 10 mg/m³ inhalable and 4 mg/m³ respirable over 8 hours (secondary copy)",
    ),
    Caution(
        "Mould growth",
        "Dry parts within 24 to 48 hours and keep the room below 60 % relative humidity; throw away musty parts and old pulp; people with asthma keep away.",
        "US EPA, guidance on mould and moisture (secondary copy)",
    ),
    Caution(
        "Blender and press",
        "Unplug before clearing a blade or a jam; keep hair, sleeves and fingers out; guards and stop switch in place; never use the blender for food again.",
        "common practice, no source; machine guarding rules such as 29 CFR 1910.212 or PUWER apply (from memory)",
    ),
    Caution(
        "Water and electricity",
        "Use outlets with residual-current protection (RCD, GFCI), dry hands, leads and fans above the level of any spill.",
        "common practice, no source; local electrical code applies",
    ),
    Caution(
        "Not for food, toys or load",
        "Parts are not for food contact, pet bowls, toys for small children, electrical or load-bearing use: waste paper carries inks and mineral oil, and nobody tested these parts.",
        "21 CFR 176.260; Biedermann and Grob 2010 on mineral oil in recycled board (secondary copies)",
    ),
    Caution(
        "Paper that stays out",
        "No receipts and other thermal paper, no coated, laminated, soiled or greasy paper, no carbonless forms.",
        "Regulation (EU) 2016/2235 on bisphenol A in thermal paper (secondary copy); the rest common practice, no source",
    ),
)

COOKED = Caution(
    "Hot paste",
    "Starch and rice paste stick and burn: an adult cooks it, and it cools before others touch it. Do not pour paste into drains in bulk.",
    "common practice, no source",
)
POWDER = Caution(
    "Starch powder",
    "Dry starch is a combustible dust: keep it away from flames and sparks, never throw it into the air, wipe up layers damp.",
    "OSHA, list of combustible dusts, names corn starch and rice starch (secondary copy)",
)
GLUE = Caution(
    "Glue",
    "Read the safety data sheet: preservatives may sensitise skin; wear gloves and wash hands.",
    "supplier's safety data sheet; from memory",
)
WHEAT = Caution(
    "Allergens",
    "Wheat paste is a hazard for people with a wheat allergy: ask before the session.",
    "common practice, no source",
)
HEAT = Caution(
    "Drying heat",
    "Never leave heated drying unattended, keep it below 90 °C and ventilated, and not in an oven used for food; paper ignites near 230 °C.",
    "ignition temperature from memory; the rest common practice, no source",
)
FAN = Caution(
    "Fans that run for days",
    "A fan that runs unattended needs a sound lead, free air around its motor and a smoke alarm in the room.",
    "common practice, no source",
)

STARCHES = ("corn-starch", "rice-paste", "wheat-paste", "potato-starch")
HEATED = ("convection-oven", "heated-cabinet")


def cautions(workshop: Workshop, batches: pd.DataFrame) -> list[Caution]:
    """Return the cautions that a workshop's records call for."""
    binders = set(batches["binder"].astype(str))
    found = list(ALWAYS)
    if binders & set(STARCHES):
        found += [COOKED, POWDER]
    if "pva-glue" in binders:
        found.append(GLUE)
    if "wheat-paste" in binders:
        found.append(WHEAT)
    if workshop.drying.dryer in HEATED:
        found.append(HEAT)
    elif workshop.drying.dryer != "room-air":
        found.append(FAN)
    return found
