"""Sentences that results support, filled with their figures and qualified: what, how much, against what, when, how known."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from impact.account.inventory import OWN_REJECTS, SPLIT
from impact.account.linekinds import BINDER_AS_USED, COLLECTED, DRY_BINDER, ESTIMATED_BINDER
from impact.account.results import verdict
from impact.base.printing import STATED, WHOLE, Printer, digits
from impact.base.serial import shows
from impact.findings.refusals import WORLD, Unsupported, polymer_kind, unsupported

if TYPE_CHECKING:
    from impact.account.results import PartResult, Results
    from impact.findings.compost import Finding
    from impact.findings.recycled import RecycledContent


@shows("places", "supported", "unsupported")
@dataclass(frozen=True, slots=True)
class Claims:
    """Sentences for and against.

    Attributes
    ----------
    supported : tuple of Supported
        Sentences that may be passed on whole.
    unsupported : tuple of Unsupported
        Wordings to keep away from.
    places : tuple of str
        Where the rules behind the second list hold: ``world``, then the workshop's place where we have its rules.
    """

    supported: tuple[Supported, ...]
    unsupported: tuple[Unsupported, ...]
    places: tuple[str, ...]


def claims(results: Results, found: Sequence[Finding], contents: Sequence[RecycledContent]) -> Claims:
    """Return what the results support saying, and what not.

    The rules are those of the world and of the workshop's country and its groups of countries.

    Parameters
    ----------
    results : Results
        An assessment.
    found : sequence of Finding
        Its findings on composting.
    contents : sequence of RecycledContent
        Recycled content of its parts.
    """
    country = results.workshop.country
    here = (country, *results.names.country_groups.get(country, ()))
    not_said = unsupported(results, here, found, contents)
    ruled = {rule.place for claim in not_said for rule in claim.rules}
    places = tuple(sorted(ruled, key=lambda place: (place != WORLD, place)))
    return Claims(tuple(supported(results, found, contents)), tuple(not_said), places)


WORDS = {
    "lower than plastic": "in this estimate the moulded part is the lower of the two",
    "higher than plastic": "in this estimate the moulded part is the higher of the two: it loses",
    "undecided": "the two cannot be told apart: it is undecided",
}
KINDS = {"synthetic": ", a synthetic polymer", "modified": ", a chemically modified natural polymer"}


@shows()
@dataclass(frozen=True, slots=True)
class Supported:
    """A sentence that the results support; to be passed on whole.

    Attributes
    ----------
    code : str
        Stable name of the kind of sentence.
    text : str
        The sentence with its qualifier.
    what, amount, against, period, basis : str
        The qualifier in pieces: what it is about, how much, measured against what, which period, how known.
    """

    code: str
    text: str
    what: str
    amount: str
    against: str
    period: str
    basis: str


def supported(results: Results, found: Sequence[Finding], contents: Sequence[RecycledContent]) -> list[Supported]:
    """Return every sentence that the results support."""
    return list(_Writer(results, found, contents).sentences())


def _years(years: float) -> str:
    return f"{STATED(years)}\u00a0{'year' if years == 1.0 else 'years'}"


class _Writer:
    def __init__(self, results: Results, found: Sequence[Finding], contents: Sequence[RecycledContent]) -> None:
        self.results, self.found, self.contents = results, found, contents
        self.printer = Printer.of(results.workshop)
        self.mass = self.printer.mass_with_unit
        self.small = self.printer.small_mass
        self.counted = results.grant.share if results.grant else 1.0
        self.period = f"{results.start} to {results.end}"
        if results.grant:
            self.period += f", {self.printer.percent(self.counted)} of it counted for the grant {results.grant.name}"

    def sentences(self) -> Iterator[Supported]:
        if self.results.paper.collected_kg > 0.0:
            yield self.paper_used()
        if self.results.paper.kept_from_landfill_kg > 0.0:
            yield self.kept_from_landfill()
            if self.results.paper.deferred_kg > 0.0:
                yield self.deferred()
        for content in self.contents:
            yield self.recycled_content(content)
        for part in self.results.parts:
            yield from self.binder_share(part)
        for part in self.results.parts:
            yield from self.comparison(part)
        yield from self.plastic_displaced()

    def sentence(self, code: str, statement: str, *, what: str, amount: str, against: str, basis: str) -> Supported:
        known = f"invented records; {basis}" if self.results.workshop.invented else basis
        text = f"{statement} ({against}; {self.period}; {known})."
        return Supported(code, text, what, amount, against, self.period, known)

    # -- paper by weight ------------------------------------------------------------------------------

    def paper_used(self) -> Supported:
        paper = self.results.paper
        return self.sentence(
            "paper-used",
            f"The workshop collected and pulped {self.mass(paper.collected_kg)} of waste paper, and "
            f"{self.mass(paper.put_to_use_kg)} of it is in good parts",
            what="waste paper collected, pulped and put to use, as weighed",
            amount=f"{self.mass(paper.collected_kg)} collected, {self.mass(paper.put_to_use_kg)} in good parts",
            against="as weighed; the rest left as rejects, trim and fines",
            basis=f"weighed batch by batch, {self.results.batches} {'batch' if self.results.batches == 1 else 'batches'}",
        )

    def fates_known(self) -> tuple[float, float]:
        """Return the mass of paper whose fate was recorded or looked into, and the mass for which it is assumed. [kg]"""
        known = assumed = 0.0
        for item, mass in self.results.inventory.items(*COLLECTED).items():
            grade, _, route = item.partition("|")
            split = self.results.workshop.fates.get(grade)
            if grade != OWN_REJECTS and (route != SPLIT or (split is not None and split.evidence)):
                known += mass * self.counted
            else:
                assumed += mass * self.counted
        return known, assumed

    def kept_from_landfill(self) -> Supported:
        paper = self.results.paper
        known, assumed = self.fates_known()
        bases = [
            *([f"by record or audit for {self.mass(known)} of the paper collected"] if known else []),
            *([f"by assumption for {self.mass(assumed)}"] if assumed else []),
        ]
        return self.sentence(
            "kept-from-landfill",
            f"{self.mass(paper.kept_from_landfill_kg)} of waste paper was kept from landfill, net, out of "
            f"{self.mass(paper.collected_kg)} collected: {self.mass(paper.kept_from_landfill_gross_kg)} would have gone "
            f"there, and {self.mass(paper.returned_to_landfill_kg)} of rejects and trim did",
            what="waste paper kept from landfill, net of rejects and trim sent there",
            amount=f"{self.mass(paper.kept_from_landfill_kg)} of {self.mass(paper.collected_kg)} collected",
            against="against what would have happened without the workshop; "
            f"{self.mass(paper.taken_from_recycling_kg)} that would have been recycled counts for nothing",
            basis="what would have happened is known " + " and ".join(bases),
        )

    def deferred(self) -> Supported:
        paper, fate = self.results.paper, self.results.workshop.end_of_life
        sure = fate is not None and fate.evidence
        return self.sentence(
            "deferred",
            f"Of the {self.mass(paper.kept_from_landfill_kg)} kept from landfill, {self.mass(paper.deferred_kg)} is "
            "deferred only: the parts' own end of life sends it there later",
            what="part of the net figure that reaches landfill later",
            amount=self.mass(paper.deferred_kg),
            against=f"out of {self.mass(paper.kept_from_landfill_kg)} net",
            basis="where parts go in the end was looked into" if sure else "where parts go in the end is assumed",
        )

    # -- what a part is made of -----------------------------------------------------------------------

    def recycled_content(self, content: RecycledContent) -> Supported:
        percent = self.printer.percent
        pieces = [
            (content.post_consumer, "post-consumer"),
            (content.pre_consumer, "pre-consumer"),
            (content.unrecorded, "pre- or post-consumer not recorded"),
        ]
        stated = content.share - content.unrecorded > 1e-9
        words = [f"{percent(share, 1)} {name}" if stated else name for share, name in pieces if share > 1e-9]
        own = (
            f"; own rejects pulped again, {percent(content.own_rejects, 1)}, are not counted"
            if content.own_rejects
            else ""
        )
        origin = (
            ""
            if not stated
            else "; origin of the paper looked into"
            if content.sure
            else "; origin of the paper assumed"
        )
        return self.sentence(
            "recycled-content",
            f"{content.part}: recycled content {percent(content.share, 1)} by dry mass"
            + (f", {', '.join(words)}" if words else "")
            + own,
            what=f"recycled content of {content.part}: waste paper in it",
            amount=percent(content.share, 1),
            against="against the finished part with its binder, all dry (ISO 14021)",
            basis=f"from weighed paper, binder and parts{origin}",
        )

    def binder_share(self, part: PartResult) -> Iterator[Supported]:
        found = [f for f in self.found if f.part == part.part and f.route == "industrial"]
        words = []
        for finding in found:
            label = self.results.names.binders.get(finding.binder, finding.binder)
            kind = KINDS.get(polymer_kind(self.results, finding.binder), "")
            share = "" if finding.binder == "none" else f"{self.printer.percent(finding.binder_share, 1)} "
            words.append(f"{share}{label}{kind}")
        if not words:
            return
        inventory = self.results.inventory.where(part=part.part)
        guessed = inventory.sum_of(*ESTIMATED_BINDER) > 0.0
        weighed = inventory.sum_of(*DRY_BINDER) + inventory.sum_of(*BINDER_AS_USED) > 0.0
        basis = " and ".join(
            [*(["binder weighed"] if weighed else []), *(["estimated where not weighed"] if guessed else [])]
        )
        yield self.sentence(
            "binder-share",
            f"{part.part}: binder by dry mass, by recipe: {'; or '.join(words)}",
            what=f"binder in {part.part}",
            amount="; or ".join(words),
            against="against fibre and binder, dry solids on both sides",
            basis=basis or "binder as recorded",
        )

    # -- beside plastic -------------------------------------------------------------------------------

    def comparison(self, part: PartResult) -> Iterator[Supported]:
        plastic, made = part.plastic, part.footprint
        if plastic is None or made is None or part.chance_lower is None:
            return
        about = self.results.workshop.parts[part.part]
        grams, interval = self.printer.grams, self.printer.gram_interval
        theirs = plastic.footprint
        yield self.sentence(
            "comparison",
            f"Estimate for our own use, carbon only, not reviewed: {grams(made.value)} g CO₂e ({interval(made)}) for one "
            f"{part.part} of {self.small(part.mass_kg)} that lasts {_years(about.service_life_years)}, beside "
            f"{grams(theirs.value)} g ({interval(theirs)}) for {self.small(plastic.mass_per_service_kg)} of "
            f"{plastic.polymer} over the same service, one plastic part being {self.small(plastic.mass_kg)} and lasting "
            f"{_years(about.plastic_service_life_years)}; chance that the moulded part is lower "
            f"{self.printer.chance(part.chance_lower)}: {WORDS[verdict(part)]}",
            what=f"footprint of {part.part} from collecting to end of life",
            amount=f"{grams(made.value)} g CO₂e ({interval(made)}), chance lower {self.printer.chance(part.chance_lower)}",
            against=f"against {'a plastic part as weighed' if plastic.equivalence == 'measured' else 'an assumed plastic part'}",
            basis=f"95 % intervals of {self.printer.count(self.results.settings.draws)} draws",
        )

    def plastic_displaced(self) -> Iterator[Supported]:
        mass, shares = 0.0, []
        for part in self.results.parts:
            share = self.results.workshop.parts[part.part].displacement
            if share and part.plastic is not None and part.good > 0.0:
                mass += part.good * share * part.plastic.mass_per_service_kg * self.counted
                shares.append(f"{self.printer.percent(share)} of {WHOLE(part.good)} {part.part}")
        if not shares:
            return
        account = self.results.displaced_plastic
        emission = f"{digits(account.value)} kg CO₂e ({digits(account.low)} to {digits(account.high)})"
        yield self.sentence(
            "plastic-displaced",
            f"{self.mass(mass)} of plastic, {emission}, was not needed, for the recorded share of parts only: "
            + ", ".join(shares),
            what="plastic parts really displaced",
            amount=f"{self.mass(mass)}, {emission}",
            against="against the plastic parts that these stood in for; parts without a recorded share count for nothing",
            basis="share stated by the workshop",
        )
