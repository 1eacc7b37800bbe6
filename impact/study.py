"""Results with what others make of them: findings, claims, own values, and the document of the command `totals`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from functools import cached_property, wraps
from typing import Any, ParamSpec

from impact.account import assessment, sums
from impact.account.ownvalues import KeyFigures, OwnValue, OwnValues
from impact.account.results import Results
from impact.account.sums import SiteAccount
from impact.base.problems import Problem, ProblemsError
from impact.base.serial import document, group, if_given, members_of, named, only, plain
from impact.beside import Beside
from impact.decisions.unseen import Unseen, unseen
from impact.factors.factorset import FactorSet
from impact.factors.rows import Factor
from impact.findings.blend import Blend, blends
from impact.findings.cautions import Caution, cautions, is_dried_by_power
from impact.findings.claims import Claims, claims
from impact.findings.compost import Finding, findings, recipes
from impact.findings.net import NetAccount, PaperUse, counted, net_of, uses_of
from impact.findings.recycled import RecycledContent, recycled
from impact.records.statements import Grant

Options = ParamSpec("Options")


@document(
    "impact-totals/1",
    "Totals of a workshop",
    "What `impact totals --json` prints. Masses in kg as weighed unless the name says dry; emissions in kg CO2e; part figures "
    "per good part; shares and rates as fractions.",
    only("workshop", "name", "country", "electricity", "invented"), "grant", group("period", "start", "end"), "batches",
    "settings", "paper", "disposal", "parts", named("made_kgco2e", "made"),
    named("displaced_plastic_kgco2e", "displaced_plastic"), named("net_kgco2e", "net"),
    "net_account", "uses_by_grade", named("compostability", "findings"), "blends", "cautions", named("recycled_content", "recycled"), "claims", "evidence",
    named("from_memory", "memory_share"), named("common_practice", "practice_share"), "at_ends", "own_values", "assumptions", "warnings", if_given("sites"),
    if_given("beside"),
)  # fmt: skip
@dataclass(frozen=True, kw_only=True)
class Study(Results):
    """The results of one assessment, and what follows from them.

    Attributes
    ----------
    net_account : NetAccount
        The net account in several ways.
    uses_by_grade : tuple of PaperUse
        What a kilogram of each grade does, recycled or pulped here.
    findings : tuple of Finding
        Composting, by part, binder and way of composting.
    blends : tuple of Blend
        Greens and water that bring the parts into a heap.
    cautions : tuple of Caution
        What the records call for.
    own_values : OwnValues or None
        Own factor values that were used; None without one.
    sites : tuple of SiteAccount or None
        The account of each site; None unless they were asked for.
    beside : Beside or None
        The main figures of another period beside these; None unless they were asked for.
    """

    net_account: NetAccount
    uses_by_grade: tuple[PaperUse, ...]
    findings: tuple[Finding, ...]
    blends: tuple[Blend, ...]
    cautions: tuple[Caution, ...]
    own_values: OwnValues | None = None
    sites: tuple[SiteAccount, ...] | None = None
    beside: Beside | None = None

    @cached_property
    def recycled(self) -> tuple[RecycledContent, ...]:
        """The recycled content of every part that has a good one."""
        return recycled(self)

    @cached_property
    def at_ends(self) -> Unseen:
        """What all rows that nobody saw published do at the ends of their intervals."""
        return unseen(self)[0]

    @cached_property
    def claims(self) -> Claims:
        """What these results support saying, and what not."""
        return claims(self, self.findings, self.recycled)

    def require_finite(self, *, whole: bool = False) -> None:
        """Refuse results with a figure that is not finite, but for what is worked out only where it is asked for; warnings hold none.

        With `whole` it is, for who asks for all figures at once.

        Raises
        ------
        NotFiniteError
            Names the first such figure.
        """
        if whole:
            _ = self.as_figures
            return
        given = {field.name for field in fields(self)} - {"warnings"}
        shown = tuple(one for one in members_of(Study) if one.name == "period" or str(one.source) in given)
        plain(self, shown, words=False)

    def as_totals(self) -> dict[str, Any]:
        """Return the figures as the JSON contract `impact-totals/1` has them."""
        found: dict[str, Any] = plain(self)
        return found

    @cached_property
    def as_figures(self) -> dict[str, Any]:
        """The same with blanks for the sentences, which take most of the time."""
        found: dict[str, Any] = plain(self, words=False)
        return found


def study_of(results: Results) -> Study:
    """Return results with what they mean; the factors that the findings use are among those used.

    Raises
    ------
    ProblemsError
        When rows of the workshop's own make a material that none can be.
    """
    workshop, factors, values, names = results.workshop, results.factors, results.values, results.names
    tally, regions = results.counted.tally, values.regions
    made = recipes(results.inventory)
    given = {field.name: getattr(results, field.name) for field in fields(results)}
    try:
        heaps = tuple(blends(made, 1.0 - results.part_solids, values, names.greens))
    except ValueError as error:
        raise ProblemsError([_impossible(factors, error)]) from None
    ways, uses = net_of(results), uses_of(results)
    results.impacts.views.clear()  # with all their draws
    return Study(
        **{**given, "factors_used": dict(sorted(values.used.items()))},
        net_account=ways,
        uses_by_grade=uses,
        findings=tuple(findings(made, workshop, factors, names, regions)),
        blends=heaps,
        cautions=tuple(
            cautions(
                workshop, tally.binders, factors, names, regions, sanded=tally.sanded, dried=is_dried_by_power(results)
            )
        ),
    )


def _impossible(factors: FactorSet, error: ValueError) -> Problem:
    """Return the problem of own rows that do not go together; without any, the fault is ours."""
    own = [factor for factor in factors if factor.is_own and factor.key.startswith("compost.")]
    if not own:
        raise error
    told = f"rows for composting make a material that none can be: {error}"
    read, accepted = ", ".join(factor.id for factor in own), "values of one material that go together"
    return Problem(
        "impossible-material", own[0].file, told, row=own[0].row, column="value", read=read, accepted=accepted
    )


def counted_for(results: Study, grant: Grant) -> Study:
    """Return the results of the days of a grant with every account scaled to its share, see `impact.account.sums`."""
    return replace(sums.counted_for(results, grant), net_account=counted(results.net_account, grant.share))


def _studied(assess: Callable[Options, Results]) -> Callable[Options, Study]:
    @wraps(assess)
    def studied(*args: Options.args, **options: Options.kwargs) -> Study:
        return study_of(assess(*args, **options))

    return studied


assess = _studied(assessment.assess)


def own_values(results: Results, with_shipped: Callable[[], Results | None]) -> OwnValues | None:
    """Return the own values behind results, or None when they use none.

    Parameters
    ----------
    results : Results
        As they are.
    with_shipped : callable
        Gives the results by the shipped factors alone; None where these lack one.
    """
    own = [choice.factor for choice in results.factors_used.values() if choice.factor.is_own]
    if not own:
        return None
    shipped = with_shipped()
    rows = tuple(OwnValue(factor, _shipped_row(factor, results.factors, shipped)) for factor in own)
    return OwnValues(rows, KeyFigures.of(shipped) if shipped else None)


def _shipped_row(factor: Factor, factors: FactorSet, shipped: Results | None) -> Factor | None:
    """Return the shipped row of the same id, else the one that the shipped tables give for the same key."""
    same = factors.shipped.get(factor.id)
    if same is not None or shipped is None:
        return same
    used = [choice.factor for choice in shipped.factors_used.values() if choice.factor.key == factor.key]
    return used[0] if len(used) == 1 else None
