"""Sentences that results support, filled with their figures and qualified: what, how much, against what, when, how known."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

from impact.account.inventory import SPLIT
from impact.account.linekinds import BINDER_AS_USED, COLLECTED, DRY_BINDER, ESTIMATED_BINDER
from impact.account.results import verdict
from impact.base.printing import STATED, WHOLE, Printer, digits
from impact.base.problems import counted
from impact.base.serial import shows
from impact.findings.refusals import WORLD, Unsupported, polymer_kind, unsupported
from impact.findings.ruletable import read_rules

if TYPE_CHECKING:
    from impact.account.results import Interval, PartResult, Results
    from impact.findings.compost import Finding
    from impact.findings.recycled import RecycledContent


@shows("places", "supported", "unsupported")
@dataclass(frozen=True, slots=True)
class Claims:
    """Sentences for and against.

    Attributes
    ----------
    supported : tuple of Supported
        Sentences that may be passed on whole; those called `OWN_USE` are for the workshop's own use.
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
    return Claims(tuple(_Writer(results, found, contents).sentences()), tuple(not_said), places)


WORDS = {
    "lower than plastic": "in this estimate the moulded part is the lower of the two",
    "higher than plastic": "in this estimate the moulded part is the higher of the two: it loses",
    "undecided": "the two cannot be told apart: it is undecided",
}
OWN_USE = "comparison"
"""The sentence that is not passed on: ISO 14044 asks for a review first."""
COLUMNS = ("code", "statement", "what", "amount", "against", "basis")
"""Of the table of sentences; texts in braces are facts of the results."""

KINDS = {
    "synthetic": ", a synthetic polymer", "modified": ", a chemically modified natural polymer", "mineral": ", a mineral",
}  # fmt: skip


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
        self.of_grant = self.counting = ""
        if results.grant:
            share = f"{self.printer.percent(self.counted)} of the work of these days"
            self.of_grant = f"Counted for the grant {results.grant.name} ({share}): "
            self.counting = f"; {{collected}} and {{used}} of these count for the grant {results.grant.name} ({share})"

    def sentences(self) -> Iterator[Supported]:
        paper = self.results.paper
        masses = {
            "collected": self.mass(paper.collected_kg.value),
            "used": self.mass(paper.put_to_use_kg.value),
            "kept": self.between(paper.kept_from_landfill_kg),
            "gross": self.mass(paper.kept_from_landfill_gross_kg.value),
            "returned": self.mass(paper.returned_to_landfill_kg.value),
            "fines": self.mass(paper.fines_off_landfill_kg.value),
            "recycling": self.mass(paper.taken_from_recycling_kg.value),
            "deferred": self.between(paper.deferred_kg),
            "of_grant": self.of_grant,
        }
        if paper.collected_kg.value > 0.0:
            yield self.sentence(
                "paper-used",
                weighed=self.mass(paper.weighed_kg.value),
                used=self.mass(paper.put_to_use_kg.value / self.counted),
                counting=self.counting.format_map(masses),
                batches=counted(self.results.batches, "batch"),
            )
        if paper.kept_from_landfill_kg.value > 0.0:
            yield self.sentence("kept-from-landfill", **masses, bases=self.fates_known())
            if paper.deferred_kg.value > 0.0:
                fate = self.results.workshop.end_of_life
                known = "was looked into" if fate is not None and fate.evidence else "is assumed"
                yield self.sentence("deferred", **masses, known=known)
        for content in self.contents:
            yield self.recycled_content(content)
        for part in self.results.parts:
            yield from self.binder_share(part)
        for part in self.results.parts:
            yield from self.comparison(part)
        yield from self.plastic_displaced()

    def between(self, mass: Interval) -> str:
        """Return a mass with its interval."""
        return f"{self.mass(mass.value)} ({self.printer.mass(mass.low)} to {self.printer.mass(mass.high)})"

    def sentence(self, code: str, **facts: str) -> Supported:
        """Return the sentence of a row of the table, filled."""
        (row,) = (row for row in read_rules("sentences.csv", COLUMNS) if row["code"] == code)
        what, amount, against, basis = (row[column].format_map(facts) for column in COLUMNS[2:])
        known = f"invented records; {basis}" if self.results.workshop.invented else basis
        text = f"{row['statement'].format_map(facts)} ({against}; {self.period}; {known})."
        return Supported(code, text, what, amount, against, self.period, known)

    def fates_known(self) -> str:
        """Return of how much paper the fate was recorded or looked into, and of how much it is assumed, in words."""
        known = assumed = 0.0
        for item, mass in self.results.inventory.items(*COLLECTED).items():
            grade, _, route = item.partition("|")
            split = self.results.workshop.fates.get(grade)
            if route != SPLIT or (split is not None and split.evidence):
                known += mass * self.counted
            else:
                assumed += mass * self.counted
        bases = [f"by record or audit for {self.mass(known)} of the paper collected"] if known else []
        return " and ".join([*bases, *([f"by assumption for {self.mass(assumed)}"] if assumed else [])])

    def recycled_content(self, content: RecycledContent) -> Supported:
        percent = self.printer.percent
        pieces = [
            (content.post_consumer, "post-consumer"),
            (content.pre_consumer, "pre-consumer"),
            (content.unrecorded, "pre- or post-consumer not recorded"),
        ]
        stated = content.share - content.unrecorded > 1e-9
        words = [f"{percent(share, 1)} {name}" if stated else name for share, name in pieces if share > 1e-9]
        if content.own_rejects:
            own = f"; own rejects pulped again, {percent(content.own_rejects, 1)}, are not counted"
        else:
            own = ""
        return self.sentence(
            "recycled-content",
            part=content.part,
            share=percent(content.share, 1),
            portions="".join(f", {word}" for word in words),
            own=own,
            origin=f"; origin of the paper {'looked into' if content.sure else 'assumed'}" if stated else "",
        )

    def binder_share(self, part: PartResult) -> Iterator[Supported]:
        words = []
        for finding in self.found:
            if finding.part == part.part and finding.route == "industrial":
                label = self.results.names.binders.get(finding.binder, finding.binder)
                kind = KINDS.get(polymer_kind(self.results, finding.binder), "")
                share = "" if finding.binder == "none" else f"{self.printer.percent(finding.binder_share, 1)} "
                words.append(f"{share}{label}{kind}")
        if words:
            inventory = self.results.inventory.where(part=part.part)
            weighed = inventory.sum_of(*DRY_BINDER) + inventory.sum_of(*BINDER_AS_USED) > 0.0
            basis = ["binder weighed"] if weighed else []
            basis += ["estimated where not weighed"] if inventory.sum_of(*ESTIMATED_BINDER) > 0.0 else []
            known = " and ".join(basis) or "binder as recorded"
            yield self.sentence("binder-share", part=part.part, shares="; or ".join(words), known=known)

    def comparison(self, part: PartResult) -> Iterator[Supported]:
        plastic, made = part.plastic, part.footprint
        if plastic is None or made is None or part.chance_lower is None:
            return
        about = self.results.workshop.parts[part.part]
        grams, interval = self.printer.grams, self.printer.gram_interval
        yield self.sentence(
            OWN_USE,
            part=part.part,
            made=f"{grams(made.value)} g CO₂e ({interval(made)})",
            mass=self.small(part.mass_kg),
            years=_years(about.service_life_years),
            theirs=f"{grams(plastic.footprint.value)} g ({interval(plastic.footprint)})",
            per_service=self.small(plastic.mass_per_service_kg),
            polymer=plastic.polymer,
            plastic_mass=self.small(plastic.mass_kg),
            plastic_years=_years(cast(float, about.plastic_service_life_years)),
            chance=self.printer.chance(part.chance_lower),
            verdict=WORDS[verdict(part)],
            rival="a plastic part as weighed" if plastic.equivalence == "measured" else "an assumed plastic part",
            draws=self.printer.count(self.results.settings.draws),
        )

    def plastic_displaced(self) -> Iterator[Supported]:
        mass, shares, followed = 0.0, [], {}
        for part in self.results.parts:
            share = self.results.workshop.parts[part.part].displacement
            if share and part.plastic is not None and part.good > 0.0:
                mass += part.good * share * part.plastic.mass_per_service_kg * self.counted
                shares.append(f"{self.printer.percent(share)} of {WHOLE(part.good)} {part.part}")
                followed[part.part] = bool(self.results.workshop.parts[part.part].displacement_evidence)
        if shares:
            account = self.results.displaced_plastic
            emission = f"{digits(account.value, 2)} kg CO₂e ({digits(account.low, 2)} to {digits(account.high, 2)})"
            facts = {"mass": self.mass(mass), "emission": emission, "shares": ", ".join(shares)}
            seen = ", ".join(part for part, evidence in followed.items() if evidence)
            if all(followed.values()):
                facts |= {"taken": "By the share followed up", "known": "share followed up by the workshop"}
            else:
                how = f"followed up for {seen} alone" if seen else "nobody followed it up"
                facts["taken"] = f"If parts took plastic's place as the workshop states ({how})"
                facts["known"] = "share stated by the workshop"
            yield self.sentence("plastic-displaced", **facts, of_grant=self.of_grant)
