"""The rules on environmental claims, read from their table: what each asks of one kind of wording, by place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from impact.base.places import factors_folder
from impact.base.sentences import Said, Worded
from impact.base.serial import shows
from impact.factors.factorset import CLAIM_RULES
from impact.factors.rows import shipped_rows

COLUMNS = ("wording", "geography", "reference", "text", "source", "evidence")


@shows("place", "reference", "text", "evidence")
@dataclass(frozen=True, slots=True)
class ClaimRule(Worded):
    """One rule that a wording would break.

    Attributes
    ----------
    place : str
        ``world``, a country or a group of countries where it holds.
    reference : str
        Publication and clause.
    said : Said
        What it asks, in our words; ``{name}`` stands for a threshold of the factor tables.
    evidence : str
        How we know it.
    """

    place: str
    reference: str
    said: Said
    evidence: str


@cache
def read_claim_rules(folder: Path | None = None) -> Mapping[str, tuple[ClaimRule, ...]]:
    """Return the rules by the kind of wording that they speak of, in the order of the table.

    Parameters
    ----------
    folder : Path, optional
        Where the tables are; by default those that ship with the program.

    Raises
    ------
    ProblemsError
        When the table cannot be read or lacks a column.
    """
    found: dict[str, tuple[ClaimRule, ...]] = {}
    for row in shipped_rows((folder or factors_folder()) / CLAIM_RULES, *COLUMNS):
        rule = ClaimRule(row["geography"], row["reference"], Said(row["text"]), row["evidence"])
        found[row["wording"]] = (*found.get(row["wording"], ()), rule)
    return found
