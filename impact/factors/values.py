"""Factor values for one run: the central value and the draws of every factor, each drawn once.

A value is an array whose element 0 is the central value and whose other elements are the draws, so
that one formula serves both. The stream of a factor depends on the seed and its name alone: adding
a part, a batch or a factor changes no other draw, and both sides of a comparison share theirs.
"""

from __future__ import annotations

import copy
import hashlib
from collections.abc import Hashable, Mapping, Sequence
from functools import lru_cache
from typing import Any, Literal

import numpy as np

from impact.base.defaults import DEFAULT_DRAWS
from impact.base.sentences import Said
from impact.core import FloatArray, Numbers, normalised
from impact.core.sampling import dirichlet, draw
from impact.factors.factorset import Choice, FactorSet
from impact.factors.keys import pattern_of
from impact.factors.rows import Factor

PRIMARY, SECONDARY = "paper.primary.", "paper.secondary."

End = Literal["value", "low", "high"]

FATES = ("landfill", "incineration", "recycling", "composting")
"""Routes that a waste can take, in the order of every list of shares."""

RESIDUAL = "residual.landfill"
"""Key of the share of residual waste that is landfilled, of what is landfilled or burnt."""


class MissingFactorError(LookupError):
    """Raised when the factor tables have no row for a key; carries the sentence to report.

    Parameters
    ----------
    said : Said or str
        What is missing; plain text is not translated.
    """

    def __init__(self, said: Said | str) -> None:
        super().__init__(str(said))
        self.said = said


def generator(seed: int, name: str) -> np.random.Generator:
    """Return the generator of one named stream."""
    digest = hashlib.blake2b(name.encode(), digest_size=16).digest()
    words = np.frombuffer(digest, dtype=np.uint32)
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, *words.tolist()])))


def stream_of(factor: Factor) -> str:
    """Return the name of the stream of a factor: its id; for an own row also what it says and where it is from.

    So workshops share the draws of shipped rows and of own rows that are the same, and of no others.
    """
    if not factor.is_own:
        return factor.id
    numbers = (factor.value, factor.low, factor.high)
    return "|".join((factor.id, factor.distribution, *map(repr, numbers), factor.source, factor.locator))


def stream_draws(factor: Factor, stream: str, *, seed: int, draws: int) -> FloatArray:
    """Return the central value of a row and its draws from one named stream."""
    drawn = _drawn if draws > MOST_KEPT else _drawn_once
    return drawn(factor.distribution, factor.value, factor.low, factor.high, stream, seed, draws)


MOST_KEPT = DEFAULT_DRAWS
"""Draws of a stream that are kept for other workshops and for the next change of this one; more take too much memory."""


def _drawn(distribution: str, value: float, low: float, high: float, stream: str, seed: int, draws: int) -> FloatArray:
    drawn = draw(distribution, value, low, high, size=draws, rng=generator(seed, stream))
    found = np.concatenate(([value], drawn))
    found.setflags(write=False)
    return found


_drawn_once = lru_cache(maxsize=512)(_drawn)  # 41 MB at most, and those of a run are held by it in any case


def factor_draws(factor: Factor, stream: str, *, seed: int, draws: int) -> FloatArray:
    """Return the central value of a row and its draws from one named stream; those of a share stay within 0 to 1."""
    values = stream_draws(factor, stream, seed=seed, draws=draws)
    pattern = pattern_of(factor.key)
    if pattern is None or not pattern.share:
        return values
    return np.concatenate((values[:1], np.clip(values[1:], 0.0, 1.0)))


ANEW = ("metered", "weighed")
"""Evidence classes of what is read anew at every batch; a rating plate, and what fills a blank, are the same in all."""


def known(evidence: str | None) -> str:
    """Return the evidence class of what is stated, by how it is known; blank where nobody looked."""
    return "observed" if evidence else "assumed"


class Values:
    """Central values and draws of the factors that one workshop's calculation asks for.

    Parameters
    ----------
    factors : FactorSet
        The factors at hand.
    regions : sequence of str
        Geographies from the nearest to the widest.
    editions : mapping of str to str
        Edition wanted for a geography, and under ``gwp`` the assessment report of the warming potentials.
    seed, draws : int
        Seed of the run and number of draws.
    """

    def __init__(
        self, factors: FactorSet, regions: Sequence[str], *, editions: Mapping[str, str], seed: int, draws: int
    ) -> None:
        self.factors = factors
        self.regions = tuple(regions)
        self.editions = dict(editions)
        self.seed = seed
        self.draws = draws
        self.exact: frozenset[str] = frozenset()
        self.anew: frozenset[str] = frozenset()
        self.used: dict[str, Choice] = {}
        self._chosen: dict[tuple[str, tuple[str, ...]], Choice] = {}
        self._drawn: dict[str, FloatArray] = {}
        self._traces: list[dict[str, Choice]] = [self.used]
        self._by_id: dict[str, Choice] = {}
        self.lasting: dict[str, dict[Hashable, tuple[Any, Mapping[str, Choice]]]] | None = None

    def kept(self) -> Values:
        """Return the same for runs of one workshop, whose settings and factors stay as they are, one after the other.

        Draws are made once, and steps that rest on nothing else are worked out once (`impact.factors.worked`); each run
        starts from `again`.
        """
        self.lasting = {}
        return self

    def again(self, *, lasting: bool = True) -> Values:
        """Return the same, draws included, for another run, which has used no row yet; without `lasting`, by other settings."""
        same = copy.copy(self)
        same.used = {}
        same._traces = [same.used]
        same.lasting = self.lasting if lasting else None
        return same

    def choose(self, key: str, regions: Sequence[str] | None = None) -> Choice:
        """Return the row chosen for `key` and note its use.

        Raises
        ------
        MissingFactorError
            When no geography in reach has a row.
        """
        wanted = (key, self.regions if regions is None else tuple(regions))
        choice = self._chosen.get(wanted)
        if choice is None:
            gwp = key.startswith("gwp.")  # warming potentials have the assessment report as their edition
            try:
                choice = self.factors.choose(key, wanted[1], {"world": self.editions["gwp"]} if gwp else self.editions)
            except KeyError as error:
                raise MissingFactorError(error.args[0]) from None
            self._chosen[wanted] = choice
            self._by_id.setdefault(choice.factor.id, choice)
        self.note(choice.factor.id)
        return choice

    def note(self, factor_id: str) -> None:
        """Note the use of a factor whose value was worked out before."""
        self._traces[-1][factor_id] = self._by_id[factor_id]

    def note_all(self, choices: Mapping[str, Choice]) -> None:
        """Note the use of factors, by their ids, whose values were worked out before."""
        self._traces[-1].update(choices)

    def has(self, key: str, regions: Sequence[str] | None = None) -> bool:
        """Return whether a row for `key` is in reach."""
        return self.factors.has(key, regions or self.regions)

    def get(self, key: str, regions: Sequence[str] | None = None) -> FloatArray:
        """Return the value of `key`: element 0 central, then the draws, in the key's canonical unit."""
        factor = self.choose(key, regions).factor
        if factor.id not in self._drawn:
            self._drawn[factor.id] = self._of(factor)
        return self._drawn[factor.id]

    def _of(self, factor: Factor) -> FloatArray:
        return factor_draws(factor, self.stream(factor), seed=self.seed, draws=self.draws)

    def stream(self, factor: Factor) -> str:
        """Return the stream of a row: its own, or for recovered fibre that of primary fibre of the same publication.

        What such a pair has wrong it has wrong together, so that their difference has a small spread of its own.
        """
        primary = factor.key.replace(SECONDARY, PRIMARY, 1) if factor.key.startswith(SECONDARY) else ""
        twins = (
            row
            for row in self.factors.by_key.get(primary, ())
            if (row.source, row.geography, row.edition) == (factor.source, factor.geography, factor.edition)
        )
        return stream_of(next(twins, factor))

    def central(self, key: str) -> float:
        """Return the central value of `key`. [canonical unit of the key]"""
        return self.end(key, "value")

    def end(self, key: str, which: End) -> float:
        """Return the central value of `key`, or the low or high end of its interval. [canonical unit of the key]"""
        return float(getattr(self.choose(key).factor, which))

    def spread(self, name: str, evidence: str) -> FloatArray:
        """Return the error of an amount `name` known as `evidence`, around 1: one stream for all its batches."""
        factor = self.choose(f"evidence.{evidence}").factor
        if name in self.exact:
            return np.full(1 + self.draws, factor.value)
        stream = f"{name}|{evidence}{'|anew' if name in self.anew and evidence in ANEW else ''}"
        if stream not in self._drawn:
            self._drawn[stream] = stream_draws(factor, stream, seed=self.seed, draws=self.draws)
        return self._drawn[stream]

    def exactly(self, *amounts: str) -> Values:
        """Return the same values, draws included, for a run in which amounts and stated ``fates`` of these names have no error."""
        same = copy.copy(self)
        same.exact, same.lasting = frozenset(amounts), None
        return same

    def drawn_anew(self, *amounts: str) -> Values:
        """Return the same values, draws included, in which the errors of amounts of these names that are of `ANEW` are others."""
        same = copy.copy(self)
        same.anew, same.lasting = frozenset(amounts), None
        return same

    def fate_shares(self, waste: str) -> list[Numbers]:
        """Return the shares of `waste` over `FATES` from the tables, adding up to 1. [1]

        What is not recycled is residual waste, landfilled or burnt as all residual waste of the place is; recycling and
        residual waste each have a place of their own, the nearest with a row. Where the place of the recycling has a
        landfill row of this waste and no nearer one says what becomes of residual waste, all four are of that place.
        """
        place = self.choose(f"fate.{waste}.recycling").factor.geography
        nearer = self.regions[: self.regions.index(place)]

        def of(fate: str) -> Numbers:
            return self.get(f"fate.{waste}.{fate}", (place, "world"))

        recycled = of("recycling")
        if self.has(f"fate.{waste}.landfill", (place,)) and not (nearer and self.has(RESIDUAL, nearer)):
            return normalised([of("landfill"), of("incineration"), recycled, of("composting")])
        landfilled = self.get(RESIDUAL)
        left = 1.0 - recycled
        return normalised([left * landfilled, left * (1.0 - landfilled), recycled, of("composting")])

    def stated_shares(
        self, name: str, shares: Sequence[float], evidence: str, of: Sequence[str] = FATES
    ) -> list[Numbers]:
        """Return shares that the workshop stated, each over one `of`, with the spread of their evidence, adding up to 1. [1]"""
        central: list[Numbers] = normalised(shares)
        if f"fates {name}" in self.exact:
            return central
        drawn = self.share_draws(name, shares, evidence)
        return [np.append(share, of_fate) for share, of_fate in zip(central, drawn, strict=True)]

    def share_draws(self, name: str, shares: Sequence[float], evidence: str) -> FloatArray:
        """Return the draws of stated shares, a row for each: a Dirichlet distribution by its evidence. [1]"""
        concentration, floor = (
            self.choose(f"evidence.{word}.{evidence}").factor.value for word in ("concentration", "floor")
        )
        stream = f"fates {name}|{evidence}"
        drawn = f"{stream}|{tuple(shares)}"
        if drawn not in self._drawn:
            rng = generator(self.seed, stream)
            self._drawn[drawn] = dirichlet(shares, concentration=concentration, floor=floor, size=self.draws, rng=rng)
        return self._drawn[drawn]

    def trace(self) -> Trace:
        """Collect, in order, the factors chosen inside the block, by their ids."""
        return Trace(self._traces)


class Trace:
    """Collects the factors that are chosen while it is on top of others, and hands them on to the one below.

    Parameters
    ----------
    traces : list of dict
        The traces that are open, the innermost last.
    """

    __slots__ = ("found", "traces")

    def __init__(self, traces: list[dict[str, Choice]]) -> None:
        self.traces = traces
        self.found: dict[str, Choice] = {}

    def __enter__(self) -> dict[str, Choice]:
        self.traces.append(self.found)
        return self.found

    def __exit__(self, *_: object) -> None:
        self.traces.pop()
        self.traces[-1].update(self.found)


class EndValues(Values):
    """The rows of other values with some at an end of their interval in place of draws, and no error of any amount.

    Element 0 of an array is the central value; element 1 + i has the rows at the ends that `cases[i]` names by their ids.
    """

    def __init__(self, like: Values, cases: Sequence[Mapping[str, End]]) -> None:
        super().__init__(like.factors, like.regions, editions=like.editions, seed=like.seed, draws=len(cases))
        self.ends: dict[str, list[tuple[int, End]]] = {}
        for place, case in enumerate(cases, 1):
            for factor_id, end in case.items():
                self.ends.setdefault(factor_id, []).append((place, end))

    def _of(self, factor: Factor) -> FloatArray:
        found = np.full(1 + self.draws, factor.value)
        for place, end in self.ends.get(factor.id, ()):
            found[place] = getattr(factor, end)
        return found

    def spread(self, name: str, evidence: str) -> FloatArray:
        """Return an error of 1 in every case, whatever the name of the amount."""
        return np.full(1 + self.draws, self.choose(f"evidence.{evidence}").factor.value)

    def share_draws(self, name: str, shares: Sequence[float], evidence: str) -> FloatArray:
        """Return the stated shares in every case, a row for each of `FATES`. [1]"""
        return np.tile(np.array(shares, dtype=float)[:, np.newaxis] / sum(shares), self.draws)
