"""Accounts by site, and their sums: paper by weight, and emissions with all their draws.

Sums are made draw by draw. What sites share (factors, streams by seed and name) then goes up and down in all of
them at once, and what they do not share evens out; ends of intervals are never added.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any, TypeVar

import numpy as np

from impact.account.intensities import UnitImpacts
from impact.account.inventory import Inventory, summed_each
from impact.account.linekinds import BATCHES, GOOD_PARTS
from impact.account.paper import DRAWN as DRAWN_MASSES
from impact.account.paper import GRADE_SHOWN, Fines, account_of_draws, paper_account
from impact.account.results import GradeAccount, Interval, PaperAccount, Results
from impact.base.serial import Count, Positive, inlined, named, only, shows
from impact.core import FloatArray
from impact.records.statements import Grant

Counted = TypeVar("Counted", bound=Results)

AT_ONCE = 64
"""Sites of which the draws are worked out together."""


@shows()
@dataclass(frozen=True, slots=True)
class Emissions:
    """The account of a period in five lines, with their intervals. [kgCO2e]

    Attributes
    ----------
    made_kgco2e, avoided_kgco2e, lost_recycling_kgco2e, displaced_plastic_kgco2e : Interval
        Parts made, disposal avoided, recycling that lost its fibre, plastic displaced.
    net_kgco2e : Interval
        Made, less avoided, plus lost recycling, less displaced.
    """

    made_kgco2e: Interval
    avoided_kgco2e: Interval
    lost_recycling_kgco2e: Interval
    displaced_plastic_kgco2e: Interval
    net_kgco2e: Interval


@shows(
    named("batches", "batch_count"), named("good_parts", "good"),
    only(
        "paper", "weighed_kg", "collected_kg", "put_to_use_kg", "kept_from_landfill_gross_kg", "kept_from_landfill_kg",
        "kept_from_incineration_kg", "taken_from_recycling_kg", "returned_to_landfill_kg", "fines_kg",
        "fines_off_landfill_kg", "deferred_kg", "landfill_diversion_rate",
    ),
    inlined("emissions"),
)  # fmt: skip
@dataclass(frozen=True)
class Account:
    """What one site, or several together, took in, emitted and avoided.

    Attributes
    ----------
    name : str
        Site; blank for batches that name none.
    batches, good : float
        Batches, and good parts made. [-]
    paper : PaperAccount
        Paper by weight.
    made_kgco2e, avoided_kgco2e, lost_recycling_kgco2e, displaced_kgco2e : ndarray
        Parts made, disposal avoided, recycling that lost its fibre, plastic displaced: element 0 is central,
        the others are draws. [kgCO2e]
    """

    name: str
    batches: float
    good: Positive
    paper: PaperAccount
    made_kgco2e: FloatArray
    avoided_kgco2e: FloatArray
    lost_recycling_kgco2e: FloatArray
    displaced_kgco2e: FloatArray

    @property
    def net_kgco2e(self) -> FloatArray:
        """Made, less avoided, plus lost recycling, less displaced. [kgCO2e]"""
        return self.made_kgco2e - self.avoided_kgco2e + self.lost_recycling_kgco2e - self.displaced_kgco2e

    @property
    def batch_count(self) -> Count:
        """Batches."""
        return round(self.batches)

    @property
    def emissions(self) -> Emissions:
        """The lines of the account with their intervals."""
        return Emissions(
            Interval.of(self.made_kgco2e),
            Interval.of(self.avoided_kgco2e),
            Interval.of(self.lost_recycling_kgco2e),
            Interval.of(self.displaced_kgco2e),
            Interval.of(self.net_kgco2e),
        )


@shows(named("site", "account.name"), inlined("account"))
@dataclass(frozen=True, slots=True)
class SiteAccount:
    """The account of one site that the batches name."""

    account: Account


def account_of(results: Results, name: str) -> Account:
    """Return the whole account of some results under a name, with its draws; the share of a grant is in it."""
    return next(_accounts(results, [(name, results.inventory)], lambda _: results.paper))


def by_site(results: Results) -> Iterator[Account]:
    """Yield the account of each site that the batches of a workshop name, in the order of their names.

    They add up to the account of the workshop in every draw. Batches that name no site come under a blank name.

    Raises
    ------
    ValueError
        When the results are not summed by site.
    """
    if "site" not in results.inventory.groups:
        raise ValueError("these results are not summed by site; read the folder with by_site=True")
    impacts = UnitImpacts(results.workshop, results.values, results.counted.pressings)
    fines = Fines(results.inventory)
    share = results.grant.share if results.grant else 1.0
    sites = results.inventory.split_by("site")
    while some := list(islice(sites, AT_ONCE)):
        yield from _accounts(results, some, lambda there: scaled_paper(paper_account(there, impacts, fines), share))


def _accounts(
    results: Results, named: Sequence[tuple[str, Inventory]], paper: Callable[[Inventory], PaperAccount]
) -> Iterator[Account]:
    """Yield the accounts of some inventories, of which the draws are worked out together."""
    share = results.grant.share if results.grant else 1.0
    matrices = (results.stage_matrix, results.diverted_matrix, results.lost_matrix)
    draws = [share * summed_each([there for _, there in named], matrix) for matrix in matrices]
    for (name, there), made, avoided, lost in zip(named, *draws, strict=True):
        yield Account(
            name=name,
            batches=there.sum_of(*BATCHES),
            good=there.sum_of(*GOOD_PARTS),
            paper=paper(there),
            made_kgco2e=made,
            avoided_kgco2e=avoided,
            lost_recycling_kgco2e=lost,
            displaced_kgco2e=share * _displaced(results, there),
        )


def _displaced(results: Results, inventory: Inventory) -> FloatArray:
    """Return the plastic that the recorded share of the parts of an inventory displaced. [kgCO2e]"""
    total = np.zeros(1 + results.settings.draws)
    for part in results.parts:
        if part.displaced_draws is not None and part.plastic_draws is not None:
            good = inventory.where(part=part.part).sum_of(*GOOD_PARTS)
            total = total + good * part.displaced_draws * part.plastic_draws
    return total


def together(accounts: Sequence[Account], name: str = "together") -> Account:
    """Return the sum of one or more accounts, draw by draw; all made with the same seed and number of draws.

    Raises
    ------
    ValueError
        When there is none, or their draws differ in number.
    """
    if len({account.made_kgco2e.shape for account in accounts}) != 1:
        raise ValueError("a sum of accounts needs at least one, all with as many draws")
    sums = {name: np.sum([getattr(account, name) for account in accounts], axis=0) for name in DRAWN}
    return Account(
        name=name,
        batches=sum(account.batches for account in accounts),
        good=sum(account.good for account in accounts),
        paper=added([account.paper for account in accounts]),
        **sums,
    )


def added(papers: Sequence[PaperAccount]) -> PaperAccount:
    """Return the sum of paper accounts, draw by draw; the shares are worked out again."""
    drawn = {name: np.sum([np.asarray(paper.drawn[name]) for paper in papers], axis=0) for name in papers[0].drawn}
    grades: dict[str, GradeAccount] = {}
    for grade in (grade for paper in papers for grade in paper.by_grade):
        known = grades.get(grade.grade)
        grades[grade.grade] = (
            grade
            if known is None
            else replace(known, **{name: getattr(known, name) + getattr(grade, name) for name in GRADE_SHOWN})
        )
    ending = sum(paper.put_to_use_kg.value * paper.landfill_at_end_of_life for paper in papers)
    used = float(drawn["put_to_use_kg"][0])
    return account_of_draws(
        drawn,
        lambda _, mass: Interval.of(np.asarray(mass)),
        by_grade=tuple(grades.values()),
        landfill_at_end_of_life=ending / used if used > 0.0 else papers[0].landfill_at_end_of_life,
        **{name: sum(getattr(paper, name) for paper in papers) for name in MASSES},
    )


def part_of(interval: Interval, share: float) -> Interval:
    """Return a share of a figure and of the ends of its interval."""
    return replace(interval, **{end: getattr(interval, end) * share for end in ("value", "low", "high", "median")})


def counted_for(results: Counted, grant: Grant) -> Counted:
    """Return the results of the days of a grant with every account scaled to its share.

    Kilograms and kg CO2e of the accounts are scaled; counts, rates and figures per part are not.
    """
    share, disposal = grant.share, results.disposal
    return replace(
        results,
        grant=grant,
        paper=scaled_paper(results.paper, share),
        disposal=replace(
            disposal,
            avoided=part_of(disposal.avoided, share),
            avoided_other_set=part_of(disposal.avoided_other_set, share),
            lost_recycling=part_of(disposal.lost_recycling, share),
            electricity_sold=part_of(disposal.electricity_sold, share),
            avoided_by_grade={grade: value * share for grade, value in disposal.avoided_by_grade.items()},
            lost_by_grade={grade: value * share for grade, value in disposal.lost_by_grade.items()},
        ),
        made=part_of(results.made, share),
        displaced_plastic=part_of(results.displaced_plastic, share),
        net=part_of(results.net, share),
    )


DRAWN = ("made_kgco2e", "avoided_kgco2e", "lost_recycling_kgco2e", "displaced_kgco2e")
MASSES = ("dry_fibre_kg", "in_kg", "out_kg")
"""Masses of the account of paper without an interval."""


def scaled_paper(paper: PaperAccount, share: float) -> PaperAccount:
    """Return a paper account whose masses, but that of all paper weighed, are a share of another's."""
    by_grade = tuple(
        replace(grade, **{name: getattr(grade, name) * share for name in GRADE_SHOWN}) for grade in paper.by_grade
    )
    changed: dict[str, Any] = {
        name: part_of(getattr(paper, name), share) for name in DRAWN_MASSES if name != "weighed_kg"
    }
    drawn = {name: mass if name == "weighed_kg" else mass * share for name, mass in paper.drawn.items()}
    scaled = replace(paper, by_grade=by_grade, drawn=drawn, **changed)
    return replace(scaled, **{name: getattr(paper, name) * share for name in MASSES})
