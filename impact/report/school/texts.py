"""Plain words of the school report for the hazards of the cautions."""

from __future__ import annotations

from collections.abc import Mapping

from impact.base.language import message

SCHOOL = "School"
"""Hazard whose words stand first, for every school."""

HAZARDS: Mapping[str, tuple[str, str]] = {
    SCHOOL: (
        message("Adults"),
        message(
            "An adult stays with the group all the time and works the blender, the press and all heat. Plan each task for "
            "the age of the pupils. Write down the risks first."
        ),
    ),
    "Allergens": (
        message("Wheat"),
        message("Some of the paste is made from wheat. Ask about wheat allergy first."),
    ),
    "Dust": (
        message("Dust"),
        message("Wet the paper before it is cut. Wipe up dust with a damp cloth. Do not sweep it."),
    ),
    "Sanding": (
        message("Sanding"),
        message("Sand parts outdoors, with mask and goggles. Wipe up with a damp cloth."),
    ),
    "Mould growth": (
        message("Damp parts"),
        message(
            "Parts should be dry within %(low)s to %(high)s hours, or they may go musty. Throw out parts and pulp that smell. "
            "Ask about asthma."
        ),
    ),
    "Blender and press": (
        message("Blender and press"),
        message(
            "Pull the plug before you clear a jam. Keep hair, sleeves and fingers out. Wear goggles. Never use the blender "
            "for food again."
        ),
    ),
    "Water and electricity": (
        message("Water and plugs"),
        message("Use a socket with a safety switch that trips. Keep hands dry and cables up high."),
    ),
    "Not for food, toys or load": (
        message("Use of the parts"),
        message("They are not for food or pets, not toys for small children, and not for plugs or heavy loads. No one has tested them."),
    ),
    "Paper that stays out": (
        message("Paper to leave out"),
        message("No shop receipts. No shiny, coated, dirty or greasy paper."),
    ),
    "Hot paste": (
        message("Hot paste"),
        message("Hot paste sticks and burns. An adult cooks it and lets it cool. Do not pour it down the drain."),
    ),
    "Starch and flour powder": (
        message("Flour and starch"),
        message("The dry powder can burn in the air. Keep it from flames and never throw it."),
    ),
    "Glue": (
        message("Glue"),
        message("Read the safety sheet of the glue. Wear gloves and wash hands."),
    ),
    "Drying heat": (
        message("Heat"),
        message(
            "Set the heat to %(heat)s °C at most and never leave it alone. Do not use an oven that is used for food. Wear "
            "gloves."
        ),
    ),
    "Machines that dry for days": (
        message("Fans left on"),
        message("Check the cable, keep air free around the motor, and have a smoke alarm in the room."),
    ),
}  # fmt: skip
"""Short name and plain words of each hazard of `impact.findings.cautions`; a percent sign starts a figure."""
