"""What a line of the account is declared with: its amount, its emission per unit, its words; and the names of lines."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from impact.account.inventory import DIVERTED, Line
from impact.account.steps import LOSSES
from impact.base.language import message
from impact.base.sentences import Fact, Said
from impact.base.sentences import Name as Named
from impact.core import Numbers

if TYPE_CHECKING:
    from impact.account.intensities import UnitImpacts
    from impact.records.workshop import Workshop

TABLES = message("it is a value of the factor tables, which only a better published figure narrows")


class Name(NamedTuple):
    """Account and activity of lines that others ask for by name."""

    account: str
    activity: str


COLLECTED = Name("mass", "collected")
DRY_FIBRE = Name("mass", "dry fibre")
FRESH_BINDER = Name("mass", "dry binder beside paper")
PUT_TO_USE = Name("mass", "put to use")
RECOVERED_IN_PARTS = Name("mass", "recovered fibre in parts")
OWN_IN_PARTS = Name("mass", "own rejects in parts")
PULPED_AGAIN = Name("mass", "pulped again")
RETURNED = Name("mass", "returned")
DRY_PAPER = Name(DIVERTED, "dry paper")
DRY_BINDER = Name("binder", "dry binder")
BINDER_AS_USED = Name("binder", "binder as used")
ESTIMATED_BINDER = Name("binder", "estimated binder")
BINDER_PREPARATION = Name("binder", "binder preparation")
DRYING = Name("making", "drying")
PRESSINGS = Name("mould", "pressings")
DRIVING = Name("transport", "driving")
BATCHES = Name("count", "batches")
GOOD_PARTS = Name("count", "good parts")
REJECTS = Name("count", "rejects")
DRY_GOOD_PARTS = Name("count", "dry mass of good parts")
DRY_IN = Name("count", "dry mass in")
DRY_OUT = Name("count", "dry mass out")
END_OF_LIFE = "end_of_life"
KINDS = ("fibre", "binder")
"""What parts and losses are made of."""


def in_parts(kind: str) -> Name:
    """Return the name of the lines of fibre or binder in finished parts."""
    return Name(END_OF_LIFE, f"{kind} in parts")


def in_losses(kind: str) -> Name:
    """Return the name of the lines of fibre or binder in rejects and trim."""
    return Name(END_OF_LIFE, f"{kind} in losses")


def estimated(name: Name) -> Name:
    """Return the name of the lines that stand in for others where nothing was recorded."""
    return Name(name.account, f"estimated {name.activity}")


def made_of(line: Line, kind: str, item: str) -> Line | None:
    """Return the line of another fibre or binder in the same parts or losses; None of a binder where fibre alone counts."""
    where, (_, stroke, route) = line.activity.partition(" ")[2], line.item.partition("|")
    if line.account != END_OF_LIFE and kind != KINDS[0]:
        return None
    activity = f"{kind} {where}" if line.account == END_OF_LIFE else line.activity
    return Line(line.account, activity, f"{item}{stroke}{route}", line.evidence, line.unit)


# -- what a line is declared with ------------------------------------------------------------------------

Impact = Callable[..., Numbers]
"""Of unit impacts and the parts of an item: a number per unit."""


def _of_item(text: str, kind: str, item: str) -> dict[str, Fact]:
    """Return the facts of a message that may name an item; those of one that does not are alike for every item."""
    return {"item": Named(kind, item) if kind else item} if "{item}" in text else {}


@dataclass(frozen=True, eq=False)
class Source:
    """What the emission of one unit rests on, shared by all lines that use it.

    Attributes
    ----------
    emission : callable
        Emission per unit of what is used, by unit impacts and the parts of the item. [kgCO2e/unit]
    words : str
        What it is: a message, in which ``{item}`` is the item.
    remedy : str
        What can be done about its spread, as half a sentence, a message.
    kind : str
        Kind of the item in the catalogue, where its plain name is said.
    """

    emission: Impact
    words: str
    remedy: str = TABLES
    kind: str = ""

    def named(self, item: str) -> Said:
        """Return what it is, for an item."""
        return Said(self.words, _of_item(self.words, self.kind, item))


@dataclass(frozen=True, eq=False)
class Measure:
    """The amount of a line as something that the workshop measures; messages, with ``{item}`` and ``{name}``.

    Attributes
    ----------
    name : str
        In plain words.
    remedy : str or mapping of str to str
        What to do, as the subject of a sentence; by evidence class where that matters.
    kind : str
        Kind of the item in the catalogue, where its plain name is said.
    """

    name: str
    remedy: str | Mapping[str, str]
    kind: str = ""

    def told(self, line: Line) -> tuple[Said, Said]:
        """Return name and remedy for a line."""
        remedy = self.remedy if isinstance(self.remedy, str) else self.remedy[line.evidence]
        name, item = Said(self.name, _of_item(self.name, self.kind, line.item)), _of_item(remedy, self.kind, line.item)
        return name, Said(remedy, {**item, "name": name})


@dataclass(frozen=True, eq=False)
class LineKind:
    """All lines of one account and activity.

    Attributes
    ----------
    account, activity : str
        Life-cycle stage, or ``diverted``, ``mass``, ``count``; what was done.
    unit : str
        Unit of the amount.
    amount : callable
        What a batch brings, by its steps and the values of `each`. [`unit`]
    words : str
        The same in words.
    each : tuple of str
        What the amount differs by: ``grade``, ``fibre`` (grades, and own rejects), ``loss``.
    by : tuple of str
        Columns of texts that send a batch to one line or another; ``{loss}_to`` takes its name from `each`, and with a
        question mark behind the column it is whether an amount is recorded.
    item, evidence : str or callable
        Item and evidence class, by the workshop, the values of `each` and of `by`; evidence None where there is no line.
    source : Source or callable, optional
        What the emission of one unit rests on, or that by the item; every line of a life-cycle stage has one, and a `measure`.
    rate : callable, optional
        Units of the source per unit of the amount, where the amount only drives an estimate.
    intensity : callable, optional
        Emission per unit where it is an equation of its own and no product of `rate` and the source's; of diverted paper the
        disposal avoided. [kgCO2e/unit]
    lost : callable, optional
        Of paper as collected: what taking one unit from recycling costs. [kgCO2e/unit]
    sold : callable, optional
        What the electricity sold where one unit is burnt takes off its emission. [kgCO2e/unit]
    measure : Measure, optional
        The amount as something to measure.
    blank : str, optional
        The column whose blanks this line stands in for, or is filled where they are, if they are to be told.
    headline : bool or callable
        Whether one of the main figures rests on a line, by the parts of its item.
    """

    account: str
    activity: str
    unit: str
    amount: Callable[..., Numbers]
    words: str
    each: tuple[str, ...] = ()
    by: tuple[str, ...] = ()
    item: str | Callable[..., str] = ""
    evidence: str | Callable[..., str | None] = "weighed"
    source: Source | Callable[[str], Source] | None = None
    rate: Impact | None = None
    intensity: Impact | None = None
    lost: Impact | None = None
    sold: Impact | None = None
    measure: Measure | None = None
    blank: str | None = None
    headline: bool | Callable[..., bool] = True

    def columns(self, *each: str) -> tuple[str, ...]:
        """Return the columns of `by` for some values of `each`."""
        loss = next((one for one in each if one in LOSSES), None)
        names = LOSSES[loss]._asdict() if loss else {}
        return tuple(column.format(**names) for column in self.by)

    def line(self, workshop: Workshop, *values: str | bool) -> Line | None:
        """Return the line of a batch, by the values of `each` and of `by`; None where it brings nothing."""
        evidence = self.evidence if isinstance(self.evidence, str) else self.evidence(workshop, *values)
        if evidence is None:
            return None
        item = self.item if isinstance(self.item, str) else self.item(workshop, *values)
        return Line(self.account, self.activity, item, evidence, self.unit)

    def in_headline(self, item: str) -> bool:
        """Return whether one of the main figures rests on the line of an item."""
        return self.headline if isinstance(self.headline, bool) else self.headline(*item.split("|"))

    def unit_impact(self, impacts: UnitImpacts, item: str) -> Numbers:
        """Return the emission per unit of a line of a life-cycle stage, without the error of its amount. [kgCO2e/unit]"""
        parts = item.split("|")
        if self.intensity is not None:
            return self.intensity(impacts, *parts)
        emission = self.source_of(item).emission
        if self.rate is None:
            return emission(impacts, *parts)
        return self.rate(impacts, *parts) * emission(impacts, *parts)

    def source_of(self, item: str) -> Source:
        """Return what the emission of one unit of a line rests on.

        Raises
        ------
        ValueError
            When the line emits nothing.
        """
        if self.source is None:
            raise ValueError(f"the line {self.activity!r} of the account {self.account!r} is declared without a source")
        return self.source if isinstance(self.source, Source) else self.source(item)

    def use_of(self, source: Source, impacts: UnitImpacts, item: str) -> Numbers | None:
        """Return how much of a source one unit of a line stands for; None where it rests on another. [1/unit]"""
        if self.source is None or self.source_of(item) is not source:
            return None
        return 1.0 if self.rate is None else self.rate(impacts, *item.split("|"))
