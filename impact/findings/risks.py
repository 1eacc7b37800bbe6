"""The rows of a draft risk sheet for a session at a school: hazard, harm, who, what is done about it, by whom.

They are the cautions of ``cautions.csv`` in plain words, with what only a sheet to sign has to hold. Nobody has assessed a risk
here: a competent person has to.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from impact.base.sentences import Fact, Figure, Listed, Said, joined
from impact.findings.allergens import ALLERGEN, allergens
from impact.findings.cautions import COLUMNS, TABLE, facts_held, is_dried_by_power
from impact.findings.ruletable import facts_of, figures_of, rules_told

if TYPE_CHECKING:
    from impact.account.results import Results
    from impact.records.statements import Visit

FIRST = "School"
"""The hazard whose row comes first, whatever the audience: supervision."""


@dataclass(frozen=True, slots=True)
class Risk:
    """A row of the sheet; all but the guidance is a message.

    Attributes
    ----------
    hazard : str
        As the table of cautions calls it.
    title, harm, who, by : str
        The hazard in plain words, what may happen, to whom, and who sees to it.
    said : Said
        What is done about it.
    guidance : tuple of str
        Publications behind it, as they are cited.
    """

    hazard: str
    title: str
    harm: str
    who: str
    by: str
    said: Said
    guidance: tuple[str, ...]


def _stated(visit: Visit | None) -> dict[str, Fact]:
    """Return what a workshop states of the session, and under other names what it does not."""
    at, inspected = (visit.at_blender, visit.electrical) if visit else (None, None)
    return {
        "at the blender" if at else "at the blender not stated": "yes",
        "inspected" if inspected else "inspected not stated": "yes",
        "at_blender": Figure(at or 0.0, "count"),
        "electrical": (inspected or "").rstrip("."),
    }


def risks(results: Results, regions: tuple[str, ...]) -> list[Risk]:
    """Return the rows that the records call for, supervision first.

    Parameters
    ----------
    results : Results
        For the binders, the dryer, the notes, and what the workshop states of a session.
    regions : tuple of str
        Geographies from the nearest to the widest.
    """
    workshop, tally, names = results.workshop, results.counted.tally, results.names
    dried, used = is_dried_by_power(results), sorted(tally.binders)
    held = facts_held(workshop, used, results.factors, names, regions, tally.sanded, dried)
    allergic = [told for binder in used if (told := allergens(binder, results.names))]
    facts = {
        **held, **_stated(workshop.visit), "school": "yes",
        **({ALLERGEN: Listed(tuple(allergic), "; ")} if allergic else {"no allergen": "yes"}),
    }  # fmt: skip
    found = []
    for hazard, every in rules_told(TABLE, COLUMNS, facts):
        rules = [rule for rule in every if rule["control"]]
        if not rules:
            continue
        texts = []
        for rule in rules:
            rows = facts_of(figures_of(rule["figures"], results.factors, (*regions, "EU", "GBR", "USA")))
            texts.append(Said(rule["control"], {**facts, **rows, "binders": facts[rule["when"]]}))
        head, guidance = rules[0], tuple(rule["guidance"] for rule in rules if rule["guidance"])
        found.append(Risk(hazard, head["title"], head["harm"], head["who"], head["by"], joined(texts), guidance))
    return sorted(found, key=lambda risk: risk.hazard != FIRST)
