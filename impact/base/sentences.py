"""Sentences that carry figures: kept in pieces, and made into words where their reader's language and marks are known.

A sentence is a message with names in braces and a fact for each name. The same sentence can so be said in the terminal, on a
page in another language with another decimal mark, and again by whoever compares the two.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from impact.base.language import translate, translate_count
from impact.base.printing import Ends, Printer


class Speaker(Protocol):
    """What prints figures and names for one reader: `impact.base.printing.Printer` does."""

    @property
    def language(self) -> str:
        """Of the catalogue."""

    def figure(self, value: float, quantity: str, *, unit: bool = True) -> str:
        """Return a figure of one of `impact.base.quantities.QUANTITIES`."""

    def whole(self, figure: Ends, quantity: str) -> str:
        """Return a figure with its interval in brackets."""

    def name(self, kind: str, word: str) -> str:
        """Return the plain name of an id of the catalogue, or the word as it is."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A number of a sentence, of one of `impact.base.quantities.QUANTITIES`, with its unit or without."""

    value: float
    quantity: str = "number"
    unit: bool = True


@dataclass(frozen=True, slots=True)
class Whole:
    """A figure of a sentence with its interval in brackets."""

    figure: Ends
    quantity: str


@dataclass(frozen=True, slots=True)
class Name:
    """An id of the catalogue in a sentence, said by its plain name; `kind` as ``names.csv`` has it: grade, binder, ..."""

    kind: str
    word: str


@dataclass(frozen=True, slots=True)
class Listed:
    """Several facts in a row; `between` is a message."""

    facts: tuple[Fact, ...]
    between: str = ", "


@dataclass(frozen=True, slots=True)
class Capital:
    """A fact that begins a sentence, with a capital."""

    fact: Fact


@dataclass(frozen=True, slots=True)
class Counted:
    """A piece that bends with a number.

    Attributes
    ----------
    one, many : str
        A message in the singular and in the plural; ``{n}`` is the number.
    n : float
        What is counted.
    facts : mapping of str to Fact
        What else stands in both.
    quantity : str
        How the number is printed, without a unit.
    """

    one: str
    many: str
    n: float
    facts: Mapping[str, Fact] = field(default_factory=dict)
    quantity: str = "count"


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence, or a piece of one; as text it is said by its usual speaker.

    Attributes
    ----------
    text : str
        A message, in English, with the names of its facts in braces.
    facts : mapping of str to Fact
        What stands at each name. Plain text is people's own, or a word of its own: it is never translated.
    usual : Speaker or None
        Who says it where no reader is known, in the terminal and in JSON; by default `PLAIN`.
    """

    text: str
    facts: Mapping[str, Fact] = field(default_factory=dict)
    usual: Speaker | None = field(default=None, repr=False, compare=False)

    def __hash__(self) -> int:
        """Return the hash of the message: facts may hold what has none."""
        return hash(self.text)

    def __str__(self) -> str:
        """Return the sentence in the words of its usual speaker."""
        return self.say(self.usual or PLAIN)

    def say(self, speaker: Speaker) -> str:
        """Return the sentence in words.

        Raises
        ------
        KeyError
            When the message names a fact that is not there.
        """
        return _filled(translate(speaker.language, self.text), self.facts, speaker)


PLAIN = Printer(us=False)
"""Speaks English, with a point, in kilograms, and names by their ids."""

Fact = str | Figure | Whole | Name | Listed | Capital | Counted | Said


def _filled(text: str, facts: Mapping[str, Fact], speaker: Speaker) -> str:
    return text.format_map({name: said(fact, speaker) for name, fact in facts.items()})


def said(fact: Fact, speaker: Speaker) -> str:
    """Return a fact in words."""
    match fact:
        case Said():
            return fact.say(speaker)
        case Figure():
            return speaker.figure(fact.value, fact.quantity, unit=fact.unit)
        case Whole():
            return speaker.whole(fact.figure, fact.quantity)
        case Name():
            return speaker.name(fact.kind, fact.word)
        case Listed():
            between = translate(speaker.language, fact.between)
            return between.join(said(one, speaker) for one in fact.facts)
        case Capital():
            words = said(fact.fact, speaker)
            return words[:1].upper() + words[1:]
        case Counted():
            form = translate_count(speaker.language, fact.one, fact.many, fact.n)
            return _filled(form, {"n": Figure(fact.n, fact.quantity, unit=False), **fact.facts}, speaker)
    return fact


ALL = "{all}"
"""The message of several sentences as one, which needs no translation."""


class Worded:
    """What has one sentence, `said`, with its words for the terminal and JSON."""

    __slots__ = ()

    said: Said

    @property
    def text(self) -> str:
        """The sentence in words."""
        return str(self.said)


def joined(pieces: Iterable[Fact], between: str = " ", usual: Speaker | None = None) -> Said:
    """Return several sentences, or pieces of one, as one; `between` is a message."""
    return Said(ALL, {"all": Listed(tuple(pieces), between)}, usual)


def parts_named(parts: Iterable[str], between: str = ", ") -> Listed:
    """Return names of parts in a row."""
    return Listed(tuple(Name("part", part) for part in parts), between)
