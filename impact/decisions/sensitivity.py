"""What to measure next: which inputs the spread of a part's difference to its plastic part comes from.

The share of a contribution x in the variance of the difference y is cov(x, y) / var(y); over all
contributions the shares add up to 1. A contribution is an amount times a factor, x = a f, for the plastic part times
the ratio of the service lives too, and its share is split between them: to each goes its cov(a, y) / var(y) times the
means of the others, and what they leave (their interaction) goes to all in equal parts. For independent inputs of which each
contribution is a product, that is the first-order Sobol' index plus half of the interactions [1]_. (A split
by the variance of the logarithms would charge an amount with the factor that it shares with other lines.)

References
----------
.. [1] A. Saltelli et al., "Variance based sensitivity analysis of model output", Computer Physics
   Communications 181 (2010) 259-270 (the indices; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import prod
from typing import Literal

import numpy as np

from impact.account.inventory import Line
from impact.account.linekinds import TABLES
from impact.account.lines import kind_of
from impact.account.plastic import lives, masses_by_rule
from impact.base.language import message
from impact.base.sentences import Capital, Fact, Figure, Name, Said
from impact.base.serial import Count, Draws, Share, document, group, inlined, only, shows
from impact.core import FloatArray, Numbers
from impact.core.sampling import variance_shares
from impact.decisions.breakeven import BreakEven
from impact.decisions.levers import Relief
from impact.decisions.scenario import Comparison, NoComparisonError, Scenario
from impact.records.workshop import Part, Workshop

_KNOWN = {
    "metered": message("{amount}, as metered"),
    "weighed": message("{amount}, as weighed"),
    "nameplate": message("{amount}, by nameplate"),
    "estimated": message("{amount}, not recorded"),
    "assumed": message("{amount}, assumed"),
}


@dataclass(frozen=True, slots=True)
class Input:
    """Something that the difference depends on.

    Attributes
    ----------
    name : Said
        In plain words.
    kind : {"amount", "factor"}
        Something that the workshop records, or a value of the factor tables.
    remedy : Said
        For an amount, what to do, as the subject of a sentence; for a factor, half a sentence.
    """

    name: Said
    kind: Literal["amount", "factor"]
    remedy: Said


def amount_of(line: Line) -> Input:
    """Return the amount behind a line: what it measures, as known by its evidence."""
    measure = kind_of(line).measure
    if measure is None:
        raise ValueError(f"the line {line.activity!r} of the account {line.account!r} is declared without a measure")
    name, remedy = measure.told(line)
    return Input(Said(_KNOWN[line.evidence], {"amount": name}), "amount", remedy)


def factor_of(line: Line) -> Input:
    """Return the factor behind a line, shared by all lines that use it."""
    source = kind_of(line).source_of(line.item)
    return Input(source.named(line.item), "factor", Said(source.remedy))


def plastic_mass(rule: str) -> Input:
    """Return the mass of the plastic part, as the rule of equivalence gives it."""
    remedy = Said("weighing the plastic part more finely") if rule == "measured" else Said("weighing the plastic part")
    return Input(Said("the mass of the plastic part, {rule}", {"rule": Said(rule)}), "amount", remedy)


def service_lives(part: Part) -> Input:
    """Return the service lives of the moulded and the plastic part, one over the other."""
    looked = part.life_evidence and part.plastic_life_evidence
    known = message("the service lives of both parts, looked into")
    assumed = message("the service lives of both parts, assumed")
    remedy = Said("looking into how long both parts serve, and writing how it is known,")
    return Input(Said(known if looked else assumed), "amount", remedy)


def plastic_factor(polymer: str) -> Input:
    """Return the footprint of one kg of the plastic part."""
    polymer_named = {"polymer": Name("polymer", polymer)}
    return Input(Said("the footprint of one kg of {polymer} part", polymer_named), "factor", Said(TABLES))


@dataclass(frozen=True)
class Contribution:
    """One contribution to the difference, as a product of inputs; all arrays are draws.

    Attributes
    ----------
    contribution : ndarray
        What it adds to the difference; negative for the plastic part. [kgCO2e]
    sides : sequence of (ndarray, Input)
        What it is the product of, in any unit, each with what it is. [-]
    """

    contribution: FloatArray
    sides: Sequence[tuple[FloatArray, Input]]


@shows("input", "kind", "share", "narrower", "sentence")
@dataclass(frozen=True, slots=True)
class SpreadShare:
    """One input and what of the spread comes from it.

    Attributes
    ----------
    source : Input
        The input.
    share : float
        Share of the variance of the difference; below 0 when its errors on the two sides cancel. [-]
    narrower : float
        By how much the interval would narrow at most if the input were known, 1 - sqrt(1 - share). [-]
    """

    source: Input
    share: float
    narrower: Share

    @property
    def input(self) -> str:
        """The input in plain words."""
        return str(self.source.name)

    @property
    def kind(self) -> Literal["amount", "factor"]:
        """Something that the workshop records, or a value of the factor tables."""
        return self.source.kind

    @property
    def then(self) -> Said:
        """What to do about it, as half a sentence."""
        if self.share <= 0.0:
            return Said("what it adds on one side it takes off elsewhere")
        remedy = self.source.remedy
        return remedy if self.kind == "factor" else Said("{remedy} would take it away", {"remedy": remedy})

    @property
    def capital(self) -> Capital:
        """The input as a sentence begins with it."""
        return Capital(self.source.name)

    @property
    def said(self) -> Said:
        """Input, share in per cent, and what to do about it."""
        told = Figure(self.share, "share") if self.share > 0.0 else Said("none")
        facts: dict[str, Fact] = {"input": self.capital, "share": told, "remedy": self.then}
        return Said("{input}: {share} of the spread; {remedy}.", facts)

    @property
    def sentence(self) -> str:
        """Input, share in per cent, and what to do about it."""
        return str(self.said)


@document(
    "impact-breakeven/1",
    "Break-even points of a part",
    "What `impact breakeven --json` prints. Emissions in kg CO2e per good part; shares as fractions.",
    only("workshop", "name", "invented"), group("period", "start", "end"), group("settings", "seed", "draws", "coverage"),
    inlined("found"), "levers", "measure_next",
)  # fmt: skip
@dataclass(frozen=True, slots=True)
class Sensitivity:
    """Where a part breaks even, what would lower it most, and what to measure next.

    Attributes
    ----------
    workshop : Workshop
        Who makes it.
    start, end : datetime.date
        First and last day of the batches.
    seed, draws : int
        Of the uncertainty run.
    found : BreakEven
        The break-even points.
    levers : tuple of Relief
        Steps that lower its footprint, the one that takes off most first.
    measure_next : tuple of SpreadShare
        Inputs behind the spread of the difference, the largest share first; the shares add up to 1.
    """

    workshop: Workshop
    start: date
    end: date
    seed: Count
    draws: Draws
    found: BreakEven
    levers: tuple[Relief, ...]
    measure_next: tuple[SpreadShare, ...]

    @property
    def coverage(self) -> Share:
        """Share of the draws that lie within an interval."""
        return 0.95


def shares_by_input(terms: Sequence[Contribution]) -> dict[Input, float]:
    """Return the share of each input in the variance of the sum of the terms; they add up to 1.

    Empty when the sum does not vary.
    """
    contributions = np.stack([term.contribution for term in terms])
    shares = variance_shares(contributions)
    if not shares.any():
        return {}
    total = contributions.sum(axis=0)
    centred = (total - total.mean()) / np.var(total)
    found: dict[Input, float] = {}
    for term, share in zip(terms, shares.tolist(), strict=True):
        means = [float(side.mean()) for side, _ in term.sides]
        alone = [
            float(np.mean(side * centred)) * prod(means[:place] + means[place + 1 :])
            for place, (side, _) in enumerate(term.sides)
        ]
        together = (share - sum(alone)) / len(alone)
        for (_, source), own in zip(term.sides, alone, strict=True):
            found[source] = found.get(source, 0.0) + own + together
    return found


def contributions_of(found: Comparison, part: str) -> list[Contribution]:
    """Return the contributions to the difference of a part: one per line of its inventory, less the plastic part."""
    impacts = found.impacts
    size = 1 + impacts.values.draws
    terms = []

    def add(contribution: FloatArray, first: Input, *others: tuple[Numbers, Input]) -> None:
        sides = [(np.broadcast_to(np.asarray(number, dtype=float), size)[1:], source) for number, source in others]
        known = np.prod([side for side, _ in sides], axis=0)
        rest = np.divide(contribution, known, out=np.zeros_like(contribution), where=known != 0.0)
        terms.append(Contribution(contribution, ((rest, first), *sides)))

    for line, contribution in zip(found.matrix.lines, found.contributions[:, 1:], strict=True):
        factor = kind_of(line).source_of(line.item).emission(impacts, *line.item.split("|"))
        add(contribution, amount_of(line), (factor, factor_of(line)))
    settings = impacts.workshop.parts[part]
    mass, years = masses_by_rule(settings, impacts)[settings.equivalence], lives(settings, impacts.values)
    served = np.asarray(years["fibre_life_years"]) / years["plastic_life_years"]
    plastic = found.plastic.footprint
    rule, polymer = settings.equivalence, settings.polymer
    one_kg = plastic / (np.asarray(mass, dtype=float) * served)
    add(-plastic[1:], plastic_mass(rule), (one_kg, plastic_factor(polymer)), (served, service_lives(settings)))
    return terms


def measure_next(records: Scenario) -> tuple[SpreadShare, ...]:
    """Return the inputs behind the spread of a part's difference to plastic, the largest share first.

    Empty when the part is not compared.

    Raises
    ------
    ProblemsError
        When the tables lack a factor.
    """
    try:
        found = records.comparison
    except NoComparisonError:
        return ()
    shares = shares_by_input(contributions_of(found, records.part))
    ranked = sorted(shares.items(), key=lambda pair: (-pair[1], str(pair[0].name)))
    return tuple(_described(source, share) for source, share in ranked)


def _described(source: Input, share: float) -> SpreadShare:
    return SpreadShare(source, share, float(1.0 - np.sqrt(1.0 - np.clip(share, 0.0, 1.0))))
