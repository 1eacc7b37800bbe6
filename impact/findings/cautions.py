"""Cautions for people and rooms, chosen by what the workshop really does."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from impact.account.linekinds import DRYING
from impact.account.tally import SANDING
from impact.base.catalogue import Names, tag
from impact.base.language import message
from impact.base.sentences import Fact, Listed, Name, Said, Worded, joined
from impact.base.serial import shows
from impact.factors.factorset import FactorSet
from impact.factors.rownames import speaker_of
from impact.findings.allergens import ALLERGEN, allergens
from impact.findings.ruletable import cited, facts_of, figures_of, rules_told
from impact.records.workshop import Workshop

if TYPE_CHECKING:
    from impact.account.results import Results

DEFER = message(
    "These are the usual cautions and no risk assessment. Local rules, the makers' manuals and safety data sheets, and people "
    "licensed for electrical and fire work have the last word."
)
TABLE = "cautions.csv"
COLUMNS = (
    "hazard", "when", "text", "figures", "source",
    "title", "harm", "who", "control", "by", "guidance",
)  # fmt: skip
"""Of the table of cautions; what `when` names has to hold, and rows of one hazard make one caution. From `title` on it is said in
plain words, for the sheet of risks (`impact.findings.risks`); a row without `text` is for that sheet alone."""


def words_heeded(notes: str) -> str:
    """Return the words of some notes that a caution goes by, for records that leave the rest out."""
    return ", ".join(dict.fromkeys(found.lower() for found in SANDING.findall(notes)))


def is_dried_by_power(results: Results) -> bool:
    """Return whether batches record electricity of drying."""
    return results.inventory.sum_of(*DRYING) > 0.0


@shows("hazard", "text", "source")
@dataclass(frozen=True, slots=True)
class Caution(Worded):
    """One caution with what it rests on, and how that is known."""

    hazard: str
    said: Said
    cited: Said

    @property
    def source(self) -> str:
        """What it rests on, in words."""
        return str(self.cited)


def facts_held(
    workshop: Workshop,
    binders: Iterable[str],
    factors: FactorSet,
    names: Names,
    regions: Sequence[str],
    sanded: bool,
    dried: bool,
) -> dict[str, Fact]:
    """Return what the table's column `when` may ask for and holds here, with the binders that it is true of."""
    dryer = names.dryer_tags.get(workshop.drying.dryer or "", "")
    powered, heated = tag(dryer, "powered") == "yes", tag(dryer, "heated") == "yes"
    coarse = next((kind for kind in ("total", "inhalable") if factors.has(f"safety.paper-dust.{kind}", regions)), "no")
    held = {
        "": True,
        f"{coarse} dust limit": True,
        "sanding": sanded,
        "no powered dryer": not powered and (bool(dryer) or not dried),
        "heated dryer": heated,
        "unheated dryer": powered and not heated,
        "school": workshop.audience == "school",
    }
    true_of: dict[str, tuple[Fact, ...]] = {}
    for binder in sorted(binders):
        name = Name("binder", binder)
        for flag in names.binder_tags.get(binder, "none").split(";"):
            true_of[flag.strip()] = (*true_of.get(flag.strip(), ()), name)
        if told := allergens(binder, names):
            true_of[ALLERGEN] = (*true_of.get(ALLERGEN, ()), told)
    listed = {fact: Listed(of, "; " if fact == ALLERGEN else ", ") for fact, of in true_of.items()}
    return {**{fact: "yes" for fact, holds in held.items() if holds}, **listed}


def cautions(
    workshop: Workshop,
    binders: Iterable[str],
    factors: FactorSet,
    names: Names,
    regions: Sequence[str],
    *,
    sanded: bool = False,
    dried: bool = False,
) -> list[Caution]:
    """Return the cautions that a workshop's records call for.

    Parameters
    ----------
    workshop : Workshop
        For the dryer and the audience.
    binders : iterable of str
        Binders used.
    factors : FactorSet
        For the figures of the safety table.
    names : Names
        Labels and flags of binders and dryers.
    regions : sequence of str
        Geographies from the nearest to the widest.
    sanded : bool
        Whether the notes speak of sanding.
    dried : bool
        Whether batches record electricity of drying: where no dryer is named, something powered then dries the parts.
    """
    facts = facts_held(workshop, binders, factors, names, regions, sanded, dried)
    usual = speaker_of(names, workshop.parts)
    found = []
    for hazard, every in rules_told(TABLE, COLUMNS, facts):
        rules = [rule for rule in every if rule["text"]]
        if not rules:
            continue
        cells = "; ".join(rule["figures"] for rule in rules if rule["figures"])
        figures = figures_of(cells, factors, (*regions, "EU", "GBR", "USA"))
        rows = facts_of(figures)
        texts = [Said(rule["text"], {**rows, "binders": facts[rule["when"]]}) for rule in rules]
        sources = [Said(rule["source"]) for rule in rules if rule["source"]]
        resting = joined([*cited(figures.values(), factors), *sources], "; ", usual)
        found.append(Caution(hazard, joined(texts, usual=usual), resting))
    return found
