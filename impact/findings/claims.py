"""Sentences that results support, filled with their figures and qualified: what, how much, against what, when, how known."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, cast

from impact.account.inventory import SPLIT
from impact.account.linekinds import BINDER_AS_USED, COLLECTED, DRY_BINDER, ESTIMATED_BINDER
from impact.base.language import message
from impact.base.printing import Printer
from impact.base.quantities import QUANTITIES, Fixed
from impact.base.sentences import Capital, Counted, Fact, Figure, Listed, Name, Said, Whole, Worded, parts_named
from impact.base.serial import shows
from impact.factors.rownames import plain_name
from impact.findings.balance import beyond_weighed_kg
from impact.findings.headline import ABOVE, is_all_deferred, side
from impact.findings.refusals import WORLD, Unsupported, polymer_kind, unsupported
from impact.findings.ruletable import read_rules
from impact.findings.verdicts import VERDICTS, verdict

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
    not_said = unsupported(results, here, found, contents, usual_speaker(results))
    ruled = {rule.place for claim in not_said for rule in claim.rules}
    places = tuple(sorted(ruled, key=lambda place: (place != WORLD, place)))
    return Claims(tuple(_Writer(results, found, contents).sentences()), tuple(not_said), places)


OWN_USE = "comparison"
"""The sentence that is not passed on: ISO 14044 asks for a review first."""
COLUMNS = ("code", "statement", "what", "amount", "against", "basis")
"""Of the table of sentences; texts in braces are facts of the results."""

KINDS = {
    "synthetic": message(", a synthetic polymer"),
    "modified": message(", a chemically modified natural polymer"),
    "mineral": message(", a mineral"),
}
AND = message(" and ")
NOBODY = message("nobody followed it up")
IF_TAKEN = message("if parts took plastic's place as the workshop states ({how})")
AS_TAKEN = message("by the share followed up")
SHARE_OF_WORK = message("{share} of the work of these days")
OF_GRANT = message("Counted for the grant {grant} ({share}): ")
REST = message("the rest left as rejects, trim or fines, or was not found again")
BEYOND = message("with rejects and trim {beyond} more was found than weighed in, by estimates and errors of scales")
PART_OF_KEPT, ALL_OF_KEPT = message("{deferred} of the {kept}"), message("all of the {kept}")
OF_THESE = message(" by the whole work; {collected} and {used} of these count for the grant {grant} ({share})")
OF_WHOLE_WORK = message("{shares}, by the counts of the whole work")


@shows("code", "text", "what", "amount", "against", "period", "basis")
@dataclass(frozen=True, slots=True)
class Supported(Worded):
    """A sentence that the results support; to be passed on whole.

    Attributes
    ----------
    code : str
        Stable name of the kind of sentence.
    said : Said
        The sentence with its qualifier.
    pieces : mapping of str to Said
        The statement, and the qualifier in pieces, by what each tells.
    part : str
        The part that it is about; blank where it is about all.
    """

    code: str
    said: Said
    pieces: Mapping[str, Said]
    part: str = ""

    @property
    def what(self) -> str:
        """Of the qualifier: what it is about."""
        return str(self.pieces["what"])

    @property
    def amount(self) -> str:
        """Of the qualifier: how much."""
        return str(self.pieces["amount"])

    @property
    def against(self) -> str:
        """Of the qualifier: measured against what."""
        return str(self.pieces["against"])

    @property
    def period(self) -> str:
        """Of the qualifier: which period."""
        return str(self.pieces["period"])

    @property
    def basis(self) -> str:
        """Of the qualifier: how known."""
        return str(self.pieces["basis"])


def usual_speaker(results: Results) -> Printer:
    """Return who says claims where no reader is known: in the units and marks of the workshop, masses to a tenth."""
    workshop = results.workshop
    masses = Fixed(1, QUANTITIES["paper"].choices(workshop.units == "us")[0])
    printer = Printer.of(workshop, names=results.names, report={"paper": masses})
    return replace(printer, rows=plain_name, parts=tuple(workshop.parts))


def _mass(kg: float) -> Figure:
    return Figure(kg, "paper")


def _small(kg: float) -> Figure:
    return Figure(kg, "small mass")


def _fine(share: float) -> Figure:
    return Figure(share, "fine share")


def _years(years: float) -> Counted:
    return Counted("{n}\u00a0year", "{n}\u00a0years", years, quantity="stated")


def fates_known(results: Results) -> Fact:
    """Return of how much paper the fate was recorded or looked into, and of how much it is assumed, in words."""
    known = assumed = 0.0
    share = results.grant.share if results.grant else 1.0
    for item, mass in results.inventory.items(*COLLECTED).items():
        grade, _, route = item.partition("|")
        split = results.workshop.fates.get(grade)
        if route != SPLIT or (split is not None and split.evidence):
            known += mass * share
        else:
            assumed += mass * share
    bases: list[Fact] = []
    if known:
        bases.append(Said("by record or audit for {mass} of the paper collected", {"mass": _mass(known)}))
    if assumed:
        bases.append(Said("by assumption for {mass}", {"mass": _mass(assumed)}))
    return Listed(tuple(bases), AND)


class _Writer:
    def __init__(self, results: Results, found: Sequence[Finding], contents: Sequence[RecycledContent]) -> None:
        self.results, self.found, self.contents = results, found, contents
        self.usual = usual_speaker(results)
        self.counted = results.grant.share if results.grant else 1.0
        self.period = Said("{start} to {end}", {"start": str(results.start), "end": str(results.end)})
        self.grant: dict[str, Fact] = {}
        if results.shared_grant:
            share = Said(SHARE_OF_WORK, {"share": Figure(self.counted, "share")})
            self.grant = {"grant": results.shared_grant.name, "share": share}

    def sentences(self) -> Iterator[Supported]:
        paper = self.results.paper
        used, collected = _mass(paper.put_to_use_kg.value), _mass(paper.collected_kg.value)
        masses: dict[str, Fact] = {
            "collected": collected,
            "kept": Whole(paper.kept_from_landfill_kg, "paper"),
            "gross": _mass(paper.kept_from_landfill_gross_kg.value),
            "returned": _mass(paper.returned_to_landfill_kg.value),
            "fines": _mass(paper.fines_off_landfill_kg.value),
            "recycling": _mass(paper.taken_from_recycling_kg.value),
            "deferred": Whole(paper.deferred_kg, "paper"),
            "of_grant": self.of_grant,
        }
        if paper.collected_kg.value > 0.0:
            counting = Said(OF_THESE, {**self.grant, "collected": collected, "used": used}) if self.grant else ""
            yield self.sentence(
                "paper-used",
                weighed=_mass(paper.weighed_kg.value),
                used=_mass(paper.put_to_use_kg.value / self.counted),
                counting=counting,
                rest=self.rest_of_paper(),
                batches=self.weighed_batches,
            )
        if side(paper.kept_from_landfill_kg) == ABOVE:
            yield self.sentence("kept-from-landfill", **masses, bases=fates_known(self.results))
            if paper.deferred_kg.value > 0.0:
                of_kept = ALL_OF_KEPT if is_all_deferred(self.results) else PART_OF_KEPT
                masses = {**masses, "of_kept": self.opening(Said(of_kept, masses))}
                fate = self.results.workshop.end_of_life
                known = message("was looked into") if fate is not None and fate.evidence else message("is assumed")
                yield self.sentence("deferred", **masses, known=Said(known))
        for content in self.contents:
            yield self.recycled_content(content)
        for part in self.results.parts:
            yield from self.binder_share(part)
        for part in self.results.parts:
            yield from self.comparison(part)
        yield from self.plastic_displaced()

    @property
    def weighed_batches(self) -> Counted:
        """Return how many batches were weighed."""
        count = self.results.batches
        if self.grant:
            return Counted("{n} batch of the whole work", "{n} batches of the whole work", count)
        return Counted("{n} batch", "{n} batches", count)

    @property
    def of_grant(self) -> Fact:
        """Return the words before a sentence that counts for a grant."""
        return Said(OF_GRANT, self.grant) if self.grant else ""

    def rest_of_paper(self) -> Said:
        """Return where the paper is that is not in good parts, or that the balance does not close."""
        beyond = beyond_weighed_kg(self.results)
        return Said(BEYOND, {"beyond": _mass(beyond / self.counted)}) if beyond else Said(REST)

    def opening(self, fact: Fact) -> Fact:
        """Return what a sentence begins with: a capital, unless the words for a grant stand before it."""
        return fact if self.grant else Capital(fact)

    def sentence(self, code: str, **facts: Fact) -> Supported:
        """Return the sentence of a row of the table, filled."""
        (row,) = (row for row in read_rules("sentences.csv", COLUMNS) if row["code"] == code)
        pieces = {column: Said(row[column], facts, self.usual) for column in COLUMNS[1:]}
        if self.results.workshop.invented:
            pieces["basis"] = Said("invented records; {basis}", {"basis": pieces["basis"]}, self.usual)
        pieces["period"] = self.period
        text = Said("{statement} ({against}; {period}; {basis}).", pieces, self.usual)
        about = facts.get("part")
        return Supported(code, text, pieces, about.word if isinstance(about, Name) else "")

    def recycled_content(self, content: RecycledContent) -> Supported:
        pieces = [
            (content.post_consumer, message("post-consumer")),
            (content.pre_consumer, message("pre-consumer")),
            (content.unrecorded, message("pre- or post-consumer not recorded")),
        ]
        stated = content.share - content.unrecorded > 1e-9
        portions: list[Fact] = []
        for share, name in pieces:
            if share > 1e-9:
                portion = Said("{share} {portion}", {"share": _fine(share), "portion": Said(name)})
                portions.append(Said(", {portion}", {"portion": portion if stated else Said(name)}))
        own: Fact = ""
        if content.own_rejects:
            own = Said("; own rejects pulped again, {share}, are not counted", {"share": _fine(content.own_rejects)})
        origin = (
            message("; origin of the paper looked into") if content.sure else message("; origin of the paper assumed")
        )
        return self.sentence(
            "recycled-content",
            part=Name("part", content.part),
            share=_fine(content.share),
            portions=Listed(tuple(portions), ""),
            own=own,
            origin=Said(origin) if stated else "",
        )

    def binder_share(self, part: PartResult) -> Iterator[Supported]:
        shares: list[Fact] = []
        for finding in self.found:
            if finding.part == part.part and finding.route == "industrial":
                kind = Said(KINDS.get(polymer_kind(self.results, finding.binder), ""))
                named = Said("{binder}{kind}", {"binder": Name("binder", finding.binder), "kind": kind})
                share = _fine(finding.binder_share)
                shares.append(
                    named if finding.binder == "none" else Said("{share} {binder}", {"share": share, "binder": named})
                )
        if shares:
            inventory = self.results.inventory.where(part=part.part)
            weighed = inventory.sum_of(*DRY_BINDER) + inventory.sum_of(*BINDER_AS_USED) > 0.0
            basis = [Said("binder weighed")] if weighed else []
            basis += [Said("estimated where not weighed")] if inventory.sum_of(*ESTIMATED_BINDER) > 0.0 else []
            known = Listed(tuple(basis) or (Said("binder as recorded"),), AND)
            name, either = Name("part", part.part), message("; or ")
            yield self.sentence("binder-share", part=name, shares=Listed(tuple(shares), either), known=known)

    def comparison(self, part: PartResult) -> Iterator[Supported]:
        plastic, made = part.plastic, part.footprint
        if plastic is None or made is None or part.chance_lower is None:
            return
        about = self.results.workshop.parts[part.part]
        weighed = plastic.equivalence == "measured"
        rival = message("a plastic part as weighed") if weighed else message("an assumed plastic part")
        yield self.sentence(
            OWN_USE,
            part=Name("part", part.part),
            made=Whole(made, "per part"),
            mass=_small(part.mass_kg),
            years=_years(about.service_life_years),
            theirs=Whole(plastic.footprint, "per part"),
            per_service=_small(plastic.mass_per_service_kg),
            polymer=Name("polymer", plastic.polymer),
            plastic_mass=_small(plastic.mass_kg),
            plastic_years=_years(cast(float, about.plastic_service_life_years)),
            chance=Figure(part.chance_lower, "chance"),
            verdict=Said(VERDICTS[verdict(part)].claim),
            rival=Said(rival),
            draws=Figure(self.results.settings.draws, "count"),
        )

    def plastic_displaced(self) -> Iterator[Supported]:
        mass, followed = 0.0, {}
        shares: list[Fact] = []
        for part in self.results.parts:
            share = self.results.workshop.parts[part.part].displacement
            if share and part.plastic is not None and part.good > 0.0:
                mass += part.good * share * part.plastic.mass_per_service_kg * self.counted
                facts: dict[str, Fact] = {"share": Figure(share, "share"), "part": Name("part", part.part)}
                shares.append(
                    Counted("{share} of {n} good part ({part})", "{share} of {n} good parts ({part})", part.good, facts)
                )
                followed[part.part] = bool(self.results.workshop.parts[part.part].displacement_evidence)
        if not shares:
            return
        seen = [part for part, evidence in followed.items() if evidence]
        if len(seen) == len(followed):
            taken, known = Said(AS_TAKEN), message("share followed up by the workshop")
        else:
            how = Said("followed up for {parts} alone", {"parts": parts_named(seen)}) if seen else Said(NOBODY)
            taken, known = Said(IF_TAKEN, {"how": how}), message("share stated by the workshop")
        yield self.sentence(
            "plastic-displaced",
            mass=_mass(mass),
            emission=Whole(self.results.displaced_plastic, "account"),
            shares=Said(OF_WHOLE_WORK, {"shares": Listed(tuple(shares))}) if self.grant else Listed(tuple(shares)),
            taken=self.opening(taken),
            known=Said(known),
            of_grant=self.of_grant,
        )
