"""What a workshop states beside its batches, for those who ask: grants with their money and goals, sessions, a visit to a school.

None of it changes a figure of the accounts. What is left out is not recorded, which is not 0.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Literal, get_args

from impact.base.language import message
from impact.base.sentences import Fact, Figure, Said
from impact.base.serial import Limits, shows
from impact.records import workshop_keys as keys
from impact.records.workshop_keys import LINE, WORDS, Key, Table, fault
from impact.tables.notes import After

WHOLE = message("Counted for the grant {grant}: all the work of its days, from {start} to {end}.")
PART_OF = message("Counted for the grant {grant}: all the work from {start} to {end}, a part of its days.")
GRANTED = message(
    "Counted for the grant {grant} alone: its days from {start} to {end}, and {share} of every mass and emission of the "
    "accounts. Figures per part are as made; counts, people, what went in and the register are of the whole work of these days."
)

MONEY = "such as 4000 or 4000 USD, in the currency of the workshop"

Counted = Literal[
    "batches", "good parts", "paper collected", "paper in parts", "kept from landfill", "sessions", "attendances"
]
"""What a goal may be set in so that the records say how much of it was done."""

Ton = Literal["kg", "tonne", "short ton", "lb"]
MASSES = ("paper collected", "paper in parts", "kept from landfill")
"""What of `Counted` is a mass."""


@dataclass(frozen=True, slots=True)
class Goal(Table):
    """A goal of the application. What was done is counted from the records, or stated, or not recorded."""

    words: Annotated[keys.Line, Key("words", "the goal, in the words of the application", accepted=LINE)]
    target: Annotated[keys.Amount | None, Key("target", "how much of it", "1", "a number, 0 or more")] = None
    unit: Annotated[
        keys.Line | None, Key("unit", "what the target counts, such as kg, lb or pupils", accepted=LINE)
    ] = None
    counts: Annotated[
        Counted | None,
        Key("counts", "what of the records it is set in; paper in the unit, else in that of the grant, else in kg"),
    ] = None
    done: Annotated[keys.Amount | None, Key("done", "how much was done, where the records do not count it", "1")] = None
    told: Annotated[keys.Line | None, Key("told", "what was done, in words", accepted=LINE)] = None

    def check(self) -> None:
        """Refuse what is counted and stated at once, and a unit of mass for what is no mass."""
        if self.counts is not None and self.done is not None:
            raise fault("stated-twice", "what was done is counted and stated", "counts or done, not both")
        if self.counts is not None and self.target is None:
            raise fault("missing-key", "target is missing: there is nothing to count against", "the key target")
        of_mass = self.unit in get_args(Ton)
        if self.counts in MASSES and self.unit is not None and not of_mass:
            raise fault("bad-unit", f"{self.counts} is counted in a unit of mass", " or ".join(get_args(Ton)))
        if self.counts is not None and self.counts not in MASSES and of_mass:
            raise fault("bad-unit", f"{self.counts} is no mass", "what is counted, in words, or no unit")


@shows("name", "start", "end", "share")
@dataclass(frozen=True, slots=True)
class Grant(Table):
    """A grant that paid for a part of the work, and what its giver asks to be told."""

    name: Annotated[keys.Text, Key("name", "its name in reports")]
    start: Annotated[keys.Day, Key("start", "the first day that it paid for")]
    end: Annotated[keys.Day, Key("end", "the last day that it paid for")]
    share: Annotated[
        keys.ShareAboveZero,
        Key("share", "share of the work of these days that counts for it", "1"),
        Limits(minimum=0, maximum=1),
    ] = 1.0
    award: Annotated[keys.Money | None, Key("award", "money granted", accepted=MONEY)] = None
    match: Annotated[
        keys.Money | None, Key("match", "what others gave beside it, in money or in kind, at its value", accepted=MONEY)
    ] = None
    planned: Annotated[keys.Money | None, Key("planned", "spending planned, of award and match", accepted=MONEY)] = None
    spent: Annotated[keys.Money | None, Key("spent", "money spent so far, of award and match", accepted=MONEY)] = None
    mass_unit: Annotated[Ton | None, Key("unit", "unit in which its giver wants masses")] = None
    invoices: Annotated[
        keys.Line | None, Key("invoices", "who keeps receipts and invoices, and until when", accepted=LINE)
    ] = None
    goals: Annotated[tuple[Goal, ...], Key("goals", "a goal of the application, each with a table")] = ()
    baseline: Annotated[
        keys.Words | None, Key("baseline", "how it was the year before, and how you know", accepted=WORDS)
    ] = None
    lessons: Annotated[
        keys.Words | None, Key("lessons", "what worked, what did not, what was learned", accepted=WORDS)
    ] = None
    next: Annotated[keys.Words | None, Key("next", "what goes on when the grant has ended", accepted=WORDS)] = None
    contact: Annotated[keys.Line | None, Key("contact", "who answers for the report, and where", accepted=LINE)] = None

    def check(self) -> None:
        """Refuse a grant that ends before it starts."""
        if self.end < self.start:
            raise fault("bad-period", "the grant ends before it starts", "an end on or after the start")

    @property
    def is_shared(self) -> bool:
        """Whether a part of the work alone counts for it, so that the whole work is more."""
        return self.share < 1.0

    def sentence(self, start: date | None = None, end: date | None = None) -> Said:
        """Return what a report for this grant alone counts: its days from `start` to `end`, by default all."""
        counted = (start or self.start, end or self.end)
        days: dict[str, Fact] = {"start": str(counted[0]), "end": str(counted[1])}
        words = GRANTED if self.is_shared else WHOLE if counted == (self.start, self.end) else PART_OF
        return Said(words, {**days, "grant": self.name, "share": Figure(self.share, "share")})


def distinct(grants: tuple[Grant, ...]) -> tuple[Grant, ...]:
    """Return grants whose names differ; refuse others."""
    keys.refuse_twice(grant.name for grant in grants)
    return grants


Grants = Annotated[tuple[Grant, ...], After(distinct)]


@dataclass(frozen=True, slots=True)
class Session(Table):
    """A session with a group: attendances, which are no different people."""

    day: Annotated[keys.Day, Key("date", "its day")]
    group: Annotated[keys.Line | None, Key("group", "who came, such as class 4b", accepted=LINE)] = None
    pupils: Annotated[
        keys.Count | None, Key("pupils", "pupils, or others who took part", "1", "a whole number, 0 or more")
    ] = None
    adults: Annotated[
        keys.Count | None, Key("adults", "adults who helped, paid or not", "1", "a whole number, 0 or more")
    ] = None
    volunteers: Annotated[
        keys.Count | None, Key("volunteers", "of the adults, those not paid", "1", "a whole number, 0 or more")
    ] = None
    minutes: Annotated[keys.Whole | None, Key("minutes", "how long it was", "1", "a whole number of minutes")] = None

    def check(self) -> None:
        """Refuse more volunteers than adults."""
        if self.volunteers is not None and self.adults is not None and self.volunteers > self.adults:
            raise fault(
                "out-of-order", f"{self.volunteers} of {self.adults} adults were not paid", "at most the adults"
            )


@dataclass(frozen=True, slots=True)
class Visit(Table):
    """What a school asks about one session of its pupils; every line is the workshop's own statement."""

    minutes: Annotated[keys.Whole | None, Key("minutes", "length of one session", "1", "a whole number of minutes")] = (
        None
    )
    pupils: Annotated[keys.Whole | None, Key("pupils", "most pupils in one session", "1", "a whole number")] = None
    adults: Annotated[
        keys.Count | None, Key("adults", "adults of yours who come", "1", "a whole number, 0 or more")
    ] = None
    at_blender: Annotated[
        keys.Whole | None, Key("at_blender", "pupils at the blender at once", "1", "a whole number")
    ] = None
    age: Annotated[keys.Line | None, Key("age", "for whom it is, such as 9 to 11 years", accepted=LINE)] = None
    cost: Annotated[
        keys.Money | None,
        Key("cost", "price of one session to the school", accepted=MONEY),
    ] = None
    curriculum: Annotated[
        keys.Words | None, Key("curriculum", "what it teaches, by the names of your curriculum", accepted=WORDS)
    ] = None
    who: Annotated[keys.Line | None, Key("who", "who comes, and what they are qualified for", accepted=LINE)] = None
    checks: Annotated[keys.Line | None, Key("checks", "background checks, and by whom", accepted=LINE)] = None
    insurance: Annotated[keys.Line | None, Key("insurance", "liability insurance, and until when", accepted=LINE)] = (
        None
    )
    electrical: Annotated[
        keys.Line | None, Key("electrical", "when and by whom the devices were inspected", accepted=LINE)
    ] = None
    first_aid: Annotated[keys.Line | None, Key("first_aid", "who gives first aid", accepted=LINE)] = None
    ahead: Annotated[
        keys.Line | None, Key("ahead", "how long before it is agreed on, and what is handed in by then", accepted=LINE)
    ] = None
    prepare: Annotated[keys.Line | None, Key("prepare", "what the school prepares and brings", accepted=LINE)] = None
    brings: Annotated[keys.Line | None, Key("brings", "what you bring", accepted=LINE)] = None
    clothing: Annotated[keys.Line | None, Key("clothing", "what pupils wear: aprons, goggles", accepted=LINE)] = None
    room: Annotated[keys.Line | None, Key("room", "the room: floor, water, tables", accepted=LINE)] = None
    sockets: Annotated[
        keys.Count | None, Key("sockets", "sockets in use at once", "1", "a whole number, 0 or more")
    ] = None
    cleaning: Annotated[keys.Line | None, Key("cleaning", "who cleans up, and how long it takes", accepted=LINE)] = None
    follow_up: Annotated[
        keys.Line | None, Key("follow_up", "what pupils take away, and what comes after", accepted=LINE)
    ] = None


def money_of(table: Table) -> Mapping[str, float]:
    """Return the attributes of a table that are money, as written."""
    names = ("award", "match", "planned", "spent", "cost")
    return {name: value for name in names if (value := getattr(table, name, None)) is not None}
