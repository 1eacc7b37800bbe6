"""Compost blends: what one kg of parts needs beside it in a heap, as a range where the sources differ."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from impact.base.language import message
from impact.base.serial import Positive, named, shows
from impact.core.blend import (
    Ingredient,
    dry_content,
    mass_for_carbon_nitrogen,
    mix_carbon_nitrogen,
    mix_moisture,
    water_to_add,
)
from impact.factors.values import End, Values
from impact.findings.compost_rules import MakeUp

SIZE = message(
    "Soak the parts and tear or shred them to pieces the size of a thumbnail or smaller, and mix them in well: whole parts "
    "dry out, mat together and stay (common practice, no source)."
)


@shows()
@dataclass(frozen=True, slots=True)
class Range:
    """A figure from central table values, with the figures from their ends; None where the goal is out of reach."""

    value: Positive | None
    low: Positive | None
    high: Positive | None


@shows("green", named("green_kg", "mass"), "moisture", named("water_kg", "water"))
@dataclass(frozen=True, slots=True)
class Greens:
    """What one kg of parts needs of one green ingredient.

    Attributes
    ----------
    green : str
        Ingredient of the factor tables.
    mass : Range
        Green as weighed, for one kg of parts. [kg]
    moisture : Range
        Water of the mix before any is added. [-]
    water : Range
        Water to add for the moisture goal; 0 where the mix is wetter already. [kg]
    """

    green: str
    mass: Range
    moisture: Range
    water: Range


@shows(
    "part", "binder", "carbon_nitrogen", named("goal_carbon_nitrogen", "goal"), named("goal_moisture", "moisture_goal"),
    named("per_kg_of_parts", "greens"), named("carbon_not_counted", "not_counted"), named("carbon_capped", "capped"),
)  # fmt: skip
@dataclass(frozen=True, slots=True)
class Blend:
    """The heap for one kg of a part made with one binder.

    Attributes
    ----------
    part, binder : str
        As in the records.
    carbon_nitrogen : Range
        Of the part alone. [kg/kg]
    goal, moisture_goal : float
        What the heap is brought to. [kg/kg], [-]
    greens : tuple of Greens
        One for each green ingredient.
    not_counted : tuple of str
        Constituents whose carbon and nitrogen are left out, because no table has a ratio for them.
    capped : tuple of str
        Ingredients whose carbon from the table was above what a plant material holds.
    """

    part: str
    binder: str
    carbon_nitrogen: Range
    goal: Positive
    moisture_goal: Positive
    greens: tuple[Greens, ...]
    not_counted: tuple[str, ...]
    capped: tuple[str, ...]


ENDS: dict[str, tuple[End, End]] = {"value": ("value", "value"), "low": ("low", "high"), "high": ("high", "low")}
"""Of each figure, which end of the ratio and of the nitrogen a brown takes; a green takes the same end of its ratio."""


Contents: TypeAlias = Mapping[str, tuple[float, float]]
"""Carbon and nitrogen of the dry matter of one material, by the end that its ratio is taken at. [kg/kg]"""


class _Table:
    """The compost rows of the factor tables for what parts are made of, and for the greens; their use is noted."""

    def __init__(self, values: Values, materials: Iterable[str], greens: Iterable[str]) -> None:
        self.goal = values.central("compost.target.carbon-nitrogen")
        self.moisture_goal = values.central("compost.target.moisture")
        highest = values.central("compost.target.carbon-highest")
        known = [name for name in dict.fromkeys(materials) if _known(name, values)]
        self.contents = {name: _contents(name, values, highest) for name in (*known, *greens)}
        self.capped = {name for name in self.contents if _is_capped(name, self.contents[name], values)}
        moisture = {green: values.central(f"compost.moisture.{green}") for green in greens}
        self.greens = {
            green: {end: Ingredient(0.0, water, *content) for end, content in self.contents[green].items()}
            for green, water in moisture.items()
        }
        """Each green by the end of its ratio, of no mass yet."""


def _known(name: str, values: Values) -> bool:
    """Return whether the tables have the ratio and the nitrogen of a material."""
    return values.has(f"compost.carbon-nitrogen.{name}") and values.has(f"compost.nitrogen.{name}")


def _contents(name: str, values: Values, highest: float) -> Contents:
    """Return carbon and nitrogen where the ratio is at each end, and the nitrogen at the opposite one."""
    return {
        end: dry_content(
            values.end(f"compost.nitrogen.{name}", of_nitrogen),
            values.end(f"compost.carbon-nitrogen.{name}", of_ratio),
            highest,
        )
        for end, (of_ratio, of_nitrogen) in ENDS.items()
    }


def _is_capped(name: str, contents: Contents, values: Values) -> bool:
    """Return whether the carbon from the table was above what a plant material holds."""
    published = values.central(f"compost.nitrogen.{name}") * values.central(f"compost.carbon-nitrogen.{name}")
    return contents["value"][0] < published


def blends(
    recipes: Mapping[tuple[str, str], MakeUp], moisture: float, values: Values, greens: Collection[str]
) -> list[Blend]:
    """Return the blend of every recipe.

    Parameters
    ----------
    recipes : mapping
        Dry make-up by part and binder.
    moisture : float
        Water in a part at room conditions. [-]
    values : Values
        For the compost rows; their use is noted.
    greens : collection of str
        Ingredients of the tables that bring nitrogen.
    """
    if not recipes:
        return []
    table = _Table(values, (name for recipe in recipes.values() for name in recipe.shares), greens)
    return [_blend(part, binder, recipe, moisture, table) for (part, binder), recipe in recipes.items()]


def _part(recipe: MakeUp, moisture: float, table: _Table, end: str) -> Ingredient:
    """Return one kg of parts; what has no ratio in the tables counts by its mass alone."""
    carbon = nitrogen = 0.0
    for name, share in recipe.shares.items():
        if name in table.contents:
            of_carbon, of_nitrogen = table.contents[name][end]
            carbon, nitrogen = carbon + share * of_carbon, nitrogen + share * of_nitrogen
    return Ingredient(1.0, moisture, carbon, nitrogen)


def _blend(part: str, binder: str, recipe: MakeUp, moisture: float, table: _Table) -> Blend:
    parts = {end: _part(recipe, moisture, table, end) for end in ENDS}
    ratios = {end: mix_carbon_nitrogen([one]) if one.nitrogen > 0.0 else None for end, one in parts.items()}
    greens = tuple(
        _greens(green, {end: (parts[end], ends[end]) for end in ENDS}, table.goal, table.moisture_goal)
        for green, ends in table.greens.items()
    )
    used = dict.fromkeys((*recipe.shares, *table.greens))
    return Blend(
        part=part,
        binder=binder,
        carbon_nitrogen=Range(**ratios),
        goal=table.goal,
        moisture_goal=table.moisture_goal,
        greens=greens,
        not_counted=tuple(name for name in recipe.shares if name not in table.contents),
        capped=tuple(name for name in used if name in table.capped),
    )


def _greens(green: str, ends: Mapping[str, tuple[Ingredient, Ingredient]], goal: float, moisture_goal: float) -> Greens:
    """Return what is needed of one green: least of rich green with poor paper, most of poor green with rich paper."""
    found: dict[str, dict[str, float | None]] = {"mass": {}, "moisture": {}, "water": {}}
    for end, (part, other) in ends.items():
        mass, moisture, water = _heap(part, other, goal, moisture_goal)
        found["mass"][end], found["moisture"][end], found["water"][end] = mass, moisture, water
    low, high = found["water"]["low"], found["water"]["high"]
    if low is not None and high is not None:  # more of a wet green asks for less water
        found["water"] |= {"low": min(low, high), "high": max(low, high)}
    return Greens(green, Range(**found["mass"]), Range(**found["moisture"]), Range(**found["water"]))


def _heap(
    part: Ingredient, green: Ingredient, goal: float, moisture_goal: float
) -> tuple[float | None, float | None, float | None]:
    """Return green, moisture of the mix and water to add for one kg of parts; None where the goal is out of reach."""
    if part.carbon <= goal * part.nitrogen:
        mass = 0.0
    elif green.carbon >= goal * green.nitrogen:
        return None, None, None
    else:
        mass = mass_for_carbon_nitrogen(part, green, goal)
    added = Ingredient(mass, green.moisture, green.carbon, green.nitrogen)
    moisture = mix_moisture([part, added])
    water = water_to_add(part.mass_kg + mass, moisture, moisture_goal)
    return mass, moisture, water
