"""The inputs of a comparison in plain words, and what a workshop can do to know each of them better."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from impact.inventory import Line

TABLES = "it is a value of the factor tables, which only a better published figure narrows"

_ENERGY = {
    "shredding": "the electricity of shredding",
    "binder preparation": "the electricity to prepare the binder",
    "blending": "the electricity of blending",
    "pressing": "the electricity of pressing",
    "drying": "the electricity of drying",
}
_KNOWN = {
    "metered": "as metered",
    "weighed": "as weighed",
    "nameplate": "by nameplate",
    "estimated": "not recorded",
    "assumed": "assumed",
}
_METERING = {
    "metered": "a finer meter for {}",
    "nameplate": "metering {}, where it is now the rated power times the hours,",
    "estimated": "metering {}, where nothing is recorded now,",
}
_FRACTIONS = (
    (0.88, "nearly all"),
    (0.78, "about four fifths"),
    (0.70, "about three quarters"),
    (0.59, "about two thirds"),
    (0.42, "about half"),
    (0.29, "about a third"),
    (0.22, "about a quarter"),
    (0.16, "about a fifth"),
    (0.07, "about a tenth"),
    (0.02, "a few hundredths"),
)


@dataclass(frozen=True, slots=True)
class Input:
    """Something that the difference depends on.

    Attributes
    ----------
    name : str
        In plain words.
    kind : {"amount", "factor"}
        Something that the workshop records, or a value of the factor tables.
    remedy : str
        For an amount, what to do, as the subject of a sentence; for a factor, half a sentence.
    """

    name: str
    kind: Literal["amount", "factor"]
    remedy: str


def fraction(share: float) -> str:
    """Return a share in words."""
    return next((words for least, words in _FRACTIONS if share >= least), "next to nothing")


def amount_of(line: Line) -> Input:
    """Return the amount behind a line: its activity, as known by its evidence."""
    activity = line.activity.removeprefix("estimated ")
    name, remedy = _amount_words(activity, line)
    return Input(f"{name}, {_KNOWN[line.evidence]}", "amount", remedy)


def _amount_words(activity: str, line: Line) -> tuple[str, str]:
    if activity in _ENERGY:
        name = _ENERGY[activity]
        return name, _METERING[line.evidence].format(name)
    if activity == "heat from the room":
        return "the water that the room's heat dries off", "weighing parts before and after drying"
    if activity == "water":
        return "the water used", "recording the water used"
    if activity in ("dry binder", "binder as used", "binder"):
        weighed = line.evidence == "weighed"
        name = f"the mass of the binder {line.item}"
        return name, f"weighing {name}{' more finely, with its solids' if weighed else ''}"
    if activity == "driving":
        return "the kilometres driven", "recording the kilometres driven"
    if activity == "pressings":
        name = f"the life of the mould {line.item}"
        return name, f"counting the pressings of the mould {line.item} until it is worn out"
    if activity.endswith("in losses"):
        return "rejects and trim", "weighing rejects and trim and recording where they go"
    return "the dry mass of the parts", "weighing the parts more finely, and some of them oven-dry"


def factor_of(line: Line) -> Input:
    """Return the factor behind a line, shared by all lines that use it."""
    activity = line.activity.removeprefix("estimated ")
    if activity == "water":
        return Input("the footprint of mains water", "factor", TABLES)
    if activity == "heat from the room" and line.item != "electricity":
        return Input("the footprint of heating gas", "factor", TABLES)
    if activity in ("dry binder", "binder as used", "binder"):
        return Input(f"the footprint of one kg of {line.item}", "factor", TABLES)
    if activity == "driving":
        return Input(f"the footprint of one km by {line.item}", "factor", TABLES)
    if activity == "pressings":
        name = f"the making of the mould {line.item}"
        return Input(name, "factor", "weighing the mould and metering its printing settles a part of it")
    if line.account == "end_of_life":
        remedy = "finding out where parts and rejects go settles a part of it, the rest is decay as the tables have it"
        return Input("what becomes of the parts in the end", "factor", remedy)
    return Input("the grid's emission per kWh", "factor", TABLES)


def plastic_mass(rule: str) -> Input:
    """Return the mass of the plastic part, as the rule of equivalence gives it."""
    name = f"the mass of the plastic part, {rule}"
    return Input(name, "amount", f"weighing the plastic part{' more finely' if rule == 'measured' else ''}")


def plastic_factor(polymer: str) -> Input:
    """Return the footprint of one kg of the plastic part."""
    return Input(f"the footprint of one kg of {polymer} part", "factor", TABLES)
