"""The rules over one recipe: what each says of it, with the figure that triggered it and where the rule stands."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from impact.account.inventory import OWN_REJECTS
from impact.base.catalogue import Names, tag
from impact.base.language import message
from impact.base.sentences import Capital, Fact, Figure, Listed, Name, Said, joined
from impact.base.serial import shows
from impact.factors.factorset import FactorSet
from impact.factors.rownames import speaker_of
from impact.factors.rows import MEMORY, Factor
from impact.findings.ruletable import cited, facts_of, figures_of, place_cited, read_rules
from impact.records.workshop import Materials

BLOCKED = message("blocked")
OPEN = message("no blocker found, untested")
UNKNOWN = message("unknown")

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
    said : Said
        What the rule says, the same for every recipe that it speaks of.
    cited : Said
        Citation, place in it, and how it is known.
    about : Said or None
        What of this recipe triggered it, with its figure; None where it speaks of every part.
    effect : str
        `BLOCKED` or `UNKNOWN` where it decides so, else `OPEN`.
    asks : str
        What the workshop can record to settle it, a message.
    """

    rule: str
    said: Said
    cited: Said
    about: Said | None = None
    effect: str = OPEN
    asks: str = ""

    @property
    def source(self) -> str:
        """Citation, place in it, and how it is known, in words."""
        return str(self.cited)

    @property
    def statement(self) -> str:
        """What the rule says."""
        return str(self.said)

    @property
    def subject(self) -> str:
        """What of this recipe triggered it."""
        return str(self.about or "")

    @property
    def text(self) -> str:
        """Subject and statement in one."""
        return f"{self.subject}. {self.statement}" if self.about else self.statement


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

    @property
    def places(self) -> tuple[str, ...]:
        """Where to look for factor rows: near the workshop, else wherever there is one."""
        return (*self.regions, "EU", "USA")

    def row(self, key: str) -> Factor:
        """Return the row nearest to the workshop, wherever there is one."""
        return self.factors.choose(key, self.places).factor

    def has(self, key: str) -> bool:
        """Return whether the tables have a row for the workshop, near or where its standards are from."""
        return self.factors.has(key, self.places)

    def reason(self, rule: str, *cite: Factor, **known: Fact | Factor) -> Reason:
        """Return what a rule of the table says here.

        Parameters
        ----------
        rule : str
            Its code.
        *cite : Factor
            Rows to cite beside those that the table names.
        **known : object
            What the texts of the rule name beside them.
        """
        told = _rules()[rule]
        figures = figures_of(told["figures"], self.factors, self.places)
        rows = {**figures, **{name: row for name, row in known.items() if isinstance(row, Factor)}}
        facts = {**{name: fact for name, fact in known.items() if not isinstance(fact, Factor)}, **facts_of(rows)}
        usual = speaker_of(self.names)
        said, about = (Said(told[column], facts, usual) for column in ("statement", "subject"))
        if any(row.evidence == MEMORY and row.key.startswith(LIMITS) for row in (*rows.values(), *cite)):
            said = joined((said, Said("Limit from memory.")), usual=usual)
        resting = cited((*figures.values(), *cite), self.factors)
        if told["source"] or told["locator"]:
            resting.insert(0, place_cited(told["source"], told["locator"], told["evidence"], self.factors))
        return Reason(
            rule,
            said,
            joined(resting, "; ", usual),
            about if about.text else None,
            told["effect"] or OPEN,
            told["asks"],
        )

    def grades(self, flag: str, *values: str) -> Listed | None:
        """Return the grades in the recipe whose flag has one of the values; None where none has."""
        found = [grade for grade in self.recipe.fibre if tag(self.names.grade_tags.get(grade, ""), flag) in values]
        return Listed(tuple(Name("grade", grade) for grade in found)) if found else None

    def kind(self, binder: str) -> str:
        """Return ``natural``, ``modified``, ``mineral`` or ``synthetic``; what carries no flag counts as synthetic."""
        return tag(self.names.binder_tags.get(binder, ""), "kind") or "synthetic"


@cache
def _rules() -> dict[str, dict[str, str]]:
    """Return the table of rules by code."""
    columns = ("rule", "effect", "subject", "statement", "figures", "source", "locator", "evidence", "asks")
    return {row["rule"]: row for row in read_rules("compostrules.csv", columns)}


LIMITS = ("compost.criterion.", "compost.limit.", "compost.restriction.")
"""Starts of the keys of limits, of which it is said where they are from memory."""

Rule = Callable[[Case], Iterator[Reason]]


def constituents(case: Case) -> Iterator[Reason]:
    """Yield the finding on each binder against the single limit; the dry share counts, never wet glue."""
    if not case.recipe.binders:
        yield case.reason("no-binder")
    single = case.row(SINGLE)
    for binder, share in case.recipe.binders.items():
        kind = case.kind(binder)
        if kind in ("natural", "mineral"):
            rule = f"{kind}-binder"
        elif share < single.value:
            rule = "below-threshold"
        else:
            rule = "modified-polymer" if kind == "modified" else "untested-polymer"
        printed = Figure(share, "fine share" if share >= single.value else "finest share")
        yield case.reason(rule, label=Name("binder", binder), share=printed, total=case.row(TOTAL))


def constituent_total(case: Case) -> Iterator[Reason]:
    """Yield a blocker when the constituents that need no test each are too many together."""
    binders, single = case.recipe.binders, case.row(SINGLE)
    organic = {binder: share for binder, share in binders.items() if case.kind(binder) not in ("natural", "mineral")}
    small = [share for share in organic.values() if share < single.value]
    if sum(small) > case.row(TOTAL).value:
        yield case.reason(
            "constituent-total", count=Figure(len(small), "count"), share=Figure(sum(small), "fine share")
        )


def constituent_separate(case: Case) -> Iterator[Reason]:
    """Yield a note for a binder above the share from which it is judged in full on its own."""
    for binder, share in case.recipe.binders.items():
        if share > case.row(SEPARATE).value:
            yield case.reason("constituent-separate", label=Name("binder", binder), share=Figure(share, "fine share"))


def acetate(case: Case) -> Iterator[Reason]:
    """Yield the warning that poly(vinyl acetate) is not poly(vinyl alcohol)."""
    for binder in case.recipe.binders:
        if tag(case.names.binder_tags.get(binder, ""), "polymer") == "PVAc":
            yield case.reason("acetate-not-alcohol", label=Name("binder", binder))


def binder_nitrogen(case: Case) -> Iterator[Reason]:
    """Yield what a natural binder brings to the heap: nitrogen with protein, or carbon alone."""
    target = case.row("compost.target.carbon-nitrogen")
    for binder in case.recipe.binders:
        nitrogen, ratio = f"compost.nitrogen.{binder}", f"compost.carbon-nitrogen.{binder}"
        if case.kind(binder) == "natural" and case.has(ratio) and case.has(nitrogen):
            rows = {"content": case.row(nitrogen), "carbon": case.row(ratio), "target": target}
            rule = "protein-binder" if rows["carbon"].value <= target.high else "carbon-binder"
            known: dict[str, Fact] = {"content": Figure(rows["content"].value, "finest share")}
            known["carbon"] = Figure(rows["carbon"].value, "count")
            yield case.reason(rule, *rows.values(), label=Name("binder", binder), target=target, **known)


def excluded_grades(case: Case) -> Iterator[Reason]:
    """Yield a blocker for each grade that may not be pulped; thermal paper with its limit."""
    for grade, share in case.recipe.fibre.items():
        why = case.names.excluded_grades.get(grade)
        if why is not None:
            known: dict[str, Fact] = {"label": Name("grade", grade), "share": Figure(share, "fine share")}
            yield case.reason("excluded-grade", **known, why=Capital(why))
            if tag(case.names.grade_tags.get(grade, ""), "thermal") == "yes":
                yield case.reason("thermal-paper", **known)


def own_rejects(case: Case) -> Iterator[Reason]:
    """Yield an open question when the make-up of pulp from own rejects cannot be traced."""
    if OWN_REJECTS in case.recipe.fibre:
        yield case.reason("rejects-unknown", share=Figure(case.recipe.fibre[OWN_REJECTS], "fine share"))


BINDER_RULES: tuple[Rule, ...] = (
    constituents, constituent_total, constituent_separate, acetate, binder_nitrogen, excluded_grades, own_rejects,
)  # fmt: skip
"""Rules over the make-up, in the order in which they are printed."""
