"""The rules over one recipe: what each says of it, with the figure that triggered it and where the rule stands."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from impact.account.inventory import OWN_REJECTS
from impact.base.catalogue import Names, tag
from impact.base.printing import HUNDREDTHS, PERCENT, STATED, TENTHS, WHOLE
from impact.base.serial import shows
from impact.factors.factorset import FactorSet
from impact.factors.rows import Factor
from impact.records.workshop import Materials

BLOCKED = "blocked"
OPEN = "no blocker found, untested"
UNKNOWN = "unknown"

SINGLE = "compost.criterion.constituent-single"
TOTAL = "compost.criterion.constituent-total"
SEPARATE = "compost.criterion.constituent-separate"


@shows("rule", "text", "source")
@dataclass(frozen=True, slots=True)
class Reason:
    """One rule that spoke.

    Attributes
    ----------
    rule : str
        Stable code.
    statement : str
        What the rule says, the same for every recipe that it speaks of.
    source : str
        Citation, place in it, and how it is known.
    subject : str
        What of this recipe triggered it, with its figure; blank where it speaks of every part.
    effect : str
        `BLOCKED` or `UNKNOWN` where it decides so, else `OPEN`.
    asks : str
        What the workshop can record to settle it.
    """

    rule: str
    statement: str
    source: str
    subject: str = ""
    effect: str = OPEN
    asks: str = ""

    @property
    def text(self) -> str:
        """Subject and statement in one."""
        return f"{self.subject}. {self.statement}" if self.subject else self.statement


@dataclass(frozen=True, slots=True)
class MakeUp:
    """The dry make-up of a part: shares of its dry mass by paper grade and by binder. [-]"""

    fibre: Mapping[str, float]
    binders: Mapping[str, float]

    @property
    def shares(self) -> dict[str, float]:
        """Both in one mapping."""
        return {**self.fibre, **self.binders}


@dataclass(frozen=True)
class Case:
    """One recipe with all that the rules look at.

    Attributes
    ----------
    recipe : MakeUp
        Dry make-up.
    wall_mm : float or None
        Thickest wall of the part. [mm]
    materials : Materials
        What the workshop recorded of its paper.
    names : Names
        Labels and flags of grades and binders.
    factors : FactorSet
        For thresholds and limits.
    regions : tuple of str
        Geographies from the nearest to the widest.
    """

    recipe: MakeUp
    wall_mm: float | None
    materials: Materials
    names: Names
    factors: FactorSet
    regions: tuple[str, ...]

    def row(self, key: str) -> Factor:
        """Return the row nearest to the workshop, wherever there is one."""
        return self.factors.choose(key, (*self.regions, "EU", "USA")).factor

    def cite(self, *rows: Factor) -> str:
        """Return citation, locator and evidence of factor rows, each place once."""
        cited: dict[str, None] = {}
        for row in rows:
            source = self.factors.sources.get(row.source)
            citation = source.citation if source else row.source
            place = "" if citation.endswith(row.locator) else f", {row.locator}"
            cited[f"{citation}{place} ({row.evidence})"] = None
        return "; ".join(cited)

    def place(self, source: str, locator: str, evidence: str) -> str:
        """Return a citation where the rule has no figure."""
        return f"{self.factors.sources[source].citation}, {locator} ({evidence})"

    def grades(self, flag: str, *values: str) -> str:
        """Return the labels of the grades in the recipe whose flag has one of the values."""
        found = [grade for grade in self.recipe.fibre if tag(self.names.grade_tags.get(grade, ""), flag) in values]
        return ", ".join(self.names.grades.get(grade, grade) for grade in found)

    def kind(self, binder: str) -> str:
        """Return ``natural``, ``modified`` or ``synthetic``; what carries no flag counts as synthetic."""
        return tag(self.names.binder_tags.get(binder, ""), "kind") or "synthetic"


Rule = Callable[[Case], Iterator[Reason]]


def constituents(case: Case) -> Iterator[Reason]:
    """Yield the finding on each binder against the single limit; the dry share counts, never wet glue."""
    if not case.recipe.binders:
        yield Reason("no-binder", "No binder was added: the part is paper fibre alone.", "the records")
    single, total = case.row(SINGLE), case.row(TOTAL)
    limits = case.cite(single)
    for binder, share in case.recipe.binders.items():
        label = f"{case.names.binders.get(binder, binder)}: {share:{'.1%' if share >= single.value else '.2%'}} of the dry mass"
        kind = case.kind(binder)
        if kind == "natural":
            statement = (
                "An unmodified natural polymer, which needs no biodegradation test of its own; metals, disintegration and "
                "compost quality still do, and no test of this part exists."
            )
            source = case.place("EN13432", "on chemically unmodified natural materials", "from memory")
            yield Reason("natural-binder", statement, source, label)
        elif share < single.value:
            statement = (
                f"Under the {PERCENT(single.value)} from which a separate test is asked (all such constituents together "
                f"{PERCENT(total.value)} at most). This waives that one test and nothing else."
            )
            yield Reason("below-threshold", statement, limits, label)
        elif kind == "modified":
            statement = (
                f"A chemically modified natural polymer is not exempt as natural, and at {PERCENT(single.value)} or more needs its "
                "own biodegradation test; none is at hand."
            )
            yield Reason("modified-polymer", statement, limits, label, UNKNOWN, "a biodegradation test of the binder")
        else:
            statement = f"A synthetic polymer at {PERCENT(single.value)} or more needs its own biodegradation test; no published pass is at hand."
            yield Reason("untested-polymer", statement, limits, label, BLOCKED)


def constituent_total(case: Case) -> Iterator[Reason]:
    """Yield a blocker when the constituents that need no test each are too many together."""
    single, total = case.row(SINGLE), case.row(TOTAL)
    small = [
        share
        for binder, share in case.recipe.binders.items()
        if share < single.value and case.kind(binder) != "natural"
    ]
    if sum(small) > total.value:
        statement = (
            f"Constituents without a test of their own may be {PERCENT(total.value)} of the dry mass together at most."
        )
        subject = f"{len(small)} untested constituents: {TENTHS(sum(small))} of the dry mass together"
        yield Reason("constituent-total", statement, case.cite(total), subject, BLOCKED)


def constituent_separate(case: Case) -> Iterator[Reason]:
    """Yield a note for a binder above the share from which it is judged in full on its own."""
    separate = case.row(SEPARATE)
    for binder, share in case.recipe.binders.items():
        if share > separate.value:
            statement = f"Above {PERCENT(separate.value)} a constituent is judged in full on its own; schemes differ in the wording."
            subject = f"{case.names.binders.get(binder, binder)}: {TENTHS(share)} of the dry mass"
            yield Reason("constituent-separate", statement, case.cite(separate), subject)


def acetate(case: Case) -> Iterator[Reason]:
    """Yield the warning that poly(vinyl acetate) is not poly(vinyl alcohol)."""
    for binder in case.recipe.binders:
        if tag(case.names.binder_tags.get(binder, ""), "polymer") == "PVAc":
            statement = (
                "White glue is poly(vinyl acetate). Evidence about poly(vinyl alcohol), the film of laundry pods, is about "
                "another polymer and says nothing here."
            )
            source = case.place("practice", "names of the two polymers", "from memory")
            yield Reason("acetate-not-alcohol", statement, source, case.names.binders.get(binder, binder))


def binder_nitrogen(case: Case) -> Iterator[Reason]:
    """Yield what a natural binder brings to the heap: nitrogen with protein, or carbon alone."""
    target = case.row("compost.target.carbon-nitrogen")
    for binder in case.recipe.binders:
        nitrogen, ratio = f"compost.nitrogen.{binder}", f"compost.carbon-nitrogen.{binder}"
        if case.kind(binder) != "natural" or not (case.factors.by_key.get(ratio) and case.factors.by_key.get(nitrogen)):
            continue
        content, carbon = case.row(nitrogen), case.row(ratio)
        subject = (
            f"{case.names.binders.get(binder, binder)}: {HUNDREDTHS(content.value)} nitrogen, C:N {WHOLE(carbon.value)}"
        )
        cited = case.cite(content, carbon, target)
        if carbon.value <= target.high:
            statement = (
                f"Its protein brings the heap nitrogen (C:N within the workable {WHOLE(target.low)} to {WHOLE(target.high)}); for "
                "the same reason damp parts grow mould sooner than with pure starch."
            )
            yield Reason("protein-binder", statement, cited, subject)
        else:
            statement = (
                "Nearly pure starch: it adds carbon and hardly any nitrogen, so that the greens must bring that too."
            )
            yield Reason("carbon-binder", statement, cited, subject)


def excluded_grades(case: Case) -> Iterator[Reason]:
    """Yield a blocker for each grade that may not be pulped; thermal paper with its limit."""
    for grade, share in case.recipe.fibre.items():
        if grade in case.names.excluded_grades:
            subject = f"{grade}: {TENTHS(share)} of the dry mass"
            source = case.place("practice", "catalogue of grades", "from memory")
            why = case.names.excluded_grades[grade]
            yield Reason("excluded-grade", f"{why[:1].upper()}{why[1:]}.", source, subject, BLOCKED)
            if tag(case.names.grade_tags.get(grade, ""), "thermal") == "yes":
                limit = case.row("compost.restriction.bisphenol-a")
                statement = f"Bisphenol A in thermal paper is limited to {STATED(limit.value)} mg/kg in the EU; its substitutes are in doubt."
                yield Reason("thermal-paper", statement, case.cite(limit), subject, BLOCKED)


def own_rejects(case: Case) -> Iterator[Reason]:
    """Yield an open question when the make-up of pulp from own rejects cannot be traced."""
    if OWN_REJECTS in case.recipe.fibre:
        statement = "Pulp of own rejects whose paper and binder no record tells."
        asks = "paper and binder of the rejects that were pulped again"
        subject = f"{TENTHS(case.recipe.fibre[OWN_REJECTS])} of the dry mass"
        yield Reason("rejects-unknown", statement, "the records", subject, UNKNOWN, asks)


BINDER_RULES: tuple[Rule, ...] = (
    constituents, constituent_total, constituent_separate, acetate, binder_nitrogen, excluded_grades, own_rejects,
)  # fmt: skip
"""Rules over the make-up, in the order in which they are printed."""
