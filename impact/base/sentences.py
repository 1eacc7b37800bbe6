"""Sentences that carry figures: kept in pieces, and made into words where their reader's language and marks are known.

A sentence is a message with names in braces and a fact for each name. The same sentence can so be said in the terminal, on a
page in another language with another decimal mark, and again by whoever compares the two.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from impact.base.language import translate


class Span(Protocol):
    """A figure with the ends of its interval."""

    @property
    def value(self) -> float:
        """Computed with central inputs."""

    @property
    def low(self) -> float:
        """2.5 % quantile of the draws."""

    @property
    def high(self) -> float:
        """97.5 % quantile of the draws."""


class Speaker(Protocol):
    """What prints figures and names for one reader: `impact.base.printing.Printer` does."""

    @property
    def language(self) -> str:
        """Of the catalogue."""

    def figure(self, value: float, quantity: str, *, unit: bool = True) -> str:
        """Return a figure of one of `impact.base.quantities.QUANTITIES`."""

    def whole(self, figure: Span, quantity: str) -> str:
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

    figure: Span
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
class Said:
    """A sentence, or a piece of one.

    Attributes
    ----------
    text : str
        A message, in English, with the names of its facts in braces.
    facts : mapping of str to Fact
        What stands at each name. Plain text is people's own, or a word of its own: it is never translated.
    """

    text: str
    facts: Mapping[str, Fact] = field(default_factory=dict)

    def say(self, speaker: Speaker) -> str:
        """Return the sentence in words.

        Raises
        ------
        KeyError
            When the message names a fact that is not there.
        """
        spoken = {name: said(fact, speaker) for name, fact in self.facts.items()}
        return translate(speaker.language, self.text).format_map(spoken)


Fact = str | Figure | Whole | Name | Listed | Said


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
    return fact
