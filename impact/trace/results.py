"""The results once more with every number as a derivation: same steps as `impact.account.assessment`, run on leaves."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from copy import copy
from dataclasses import replace
from functools import partial
from itertools import compress
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from impact.account.assessment import (
    OTHER,
    class_shares,
    displaced_plastic,
    good_parts_biogenic,
    regions_of,
    resting_shares,
)
from impact.account.inventory import DIVERTED, STAGES, Line
from impact.account.linekinds import BATCHES, COLLECTED, DRY_GOOD_PARTS, END_OF_LIFE, GOOD_PARTS, REJECTS
from impact.account.lines import kind_of
from impact.account.ownvalues import KeyFigures, OwnValue, OwnValues
from impact.account.paper import Fines, paper_account
from impact.account.plastic import PlasticCase, displaced_share, plastic_case
from impact.account.results import Interval, PaperAccount, PartResult, PlasticResult, Settings
from impact.account.tally import pressings_made
from impact.core import Numbers
from impact.core.footprint import net_account
from impact.core.moisture import as_weighed
from impact.core.node import Equation, Node, as_node, centre, over_draws, total
from impact.core.sampling import chance_lower, interval
from impact.decisions.unseen import WORDS, Case, Unseen, unseen
from impact.factors.factorset import Choice, FactorSet
from impact.factors.rows import MEMORY, PRACTICE, Factor
from impact.factors.values import End, Values
from impact.findings.blend import blends
from impact.findings.compost import binder_share, recipes
from impact.findings.net import (
    NO_METHANE,
    NetAccount,
    NetSums,
    PaperUse,
    bought,
    landfills,
    of_grade,
    paper_uses,
)
from impact.study import Study, assess, counted_for
from impact.trace.intensities import DerivedImpacts, factors_below
from impact.trace.leaves import (
    RECORDS,
    SETTING,
    DerivedInventory,
    DerivedValues,
    derived_inventory,
    derived_workshop,
    leaf,
    named,
)

if TYPE_CHECKING:
    from impact.records.workshop import Workshop

CHANCE = Equation(
    "share of the draws", "share of draws with first < second; a tie counts half", "paired draws of both products"
)
DRAWN = "quantile of the draws: each factor row and each error of an amount has one stream, by seed and name"
QUANTILES = (("low", 0, "2.5 %"), ("median", 1, "50 %"), ("high", 2, "97.5 %"))


_number: Callable[[Any], Any] = centre
"""Central value of a node or a number as a node, typed as the results have it."""


class _Account:
    """Works out the results of one run on leaves."""

    def __init__(self, results: Study) -> None:
        self.results = results
        self.seed, self.draws = results.settings.seed, results.settings.draws
        plain = results.workshop
        self.workshop: Workshop = derived_workshop(plain)
        editions = {**plain.editions, "gwp": plain.gwp}
        regions = regions_of(plain, results.names)
        self.values = self._values(regions, editions)
        lookup = Values(results.factors, regions, editions=editions, seed=self.seed, draws=self.draws)
        self.inventory: DerivedInventory = derived_inventory(results, lookup.central, lookup.choose)
        self.fines, self.pressings = Fines(self.inventory), self._pressings(lookup)
        self.impacts = self._impacts()

    def _values(self, regions: Sequence[str], editions: Mapping[str, str]) -> DerivedValues:
        return DerivedValues(self.results.factors, regions, editions=editions, seed=self.seed, draws=self.draws)

    def with_rows_at(self, ends: Mapping[str, End]) -> _Account:
        """Return the account with some rows at an end of their interval, by their ids."""
        other = copy(self)
        other.values = self._values(self.values.regions, self.values.editions)
        other.values.ends = ends
        other.impacts = other._impacts()
        return other

    def _impacts(self) -> DerivedImpacts:
        return DerivedImpacts(self.workshop, self.values, self.pressings, kept=self.fines)

    def _lines(self, accounts: Sequence[str], kind: str) -> list[Line]:
        asked = {"lost": lambda line: kind_of(line).lost, "sold": lambda line: kind_of(line).sold}.get(kind, bool)
        return [line for line in self.inventory.lines if line.account in accounts and asked(line)]

    def _pressings(self, values: Values) -> dict[str, Any]:
        results = self.results
        counted = results.counted
        table = counted.table if counted.all_table is None else counted.all_table
        moulds = [results.workshop.parts[part].mould for part in table.coded("part").tolist()]
        of, unknown = Counter(moulds), np.isnan(table.floats("rejects")).tolist()
        blank = set(compress(moulds, unknown))
        return {
            mould: leaf(
                RECORDS, made, f"pressings of {mould}", "1", records=of[mould], of=len(table), evidence="metered",
                read="good parts and rejects, over all batches of the folder",
                blanks=(values.choose("estimate.reject-rate"),) if mould in blank else (),
            )
            for mould, made in pressings_made(table, results.workshop, values.central).items()
        }  # fmt: skip

    def interval(self, node: Node) -> Interval:
        """Return a figure with its interval, each end as a node over the draws of one derivation."""
        found: dict[str, Any] = {"value": centre(node)}
        for end, place, share in QUANTILES:
            equation = Equation("quantile", f"{share} quantile of {self.draws} draws, seed {self.seed}", DRAWN)
            found[end] = over_draws(
                equation, lambda drawn, place=place: interval(drawn)[place], [("", node)], unit=node.unit
            )
        return Interval(**found)

    def _sum(
        self,
        inventory: DerivedInventory,
        accounts: Sequence[str],
        kind: str,
        label: str,
        *,
        of: Callable[[Line], bool] = lambda _: True,
        under: DerivedImpacts | None = None,
    ) -> Node:
        """Return the sum of what the lines of some accounts add, by other unit impacts where some are given. [kgCO2e]"""
        nodes = [
            (under or self.impacts).line_node(line, amount, kind)
            for line in self._lines(accounts, kind)
            if of(line) and (amount := inventory.leaf(line)).value
        ]
        return total(nodes, label=label, unit="kgCO2e") if nodes else named(0.0, f"{label}: nothing recorded", "kgCO2e")

    # -- accounts -----------------------------------------------------------------------------------------------

    def paper(self) -> PaperAccount:
        def interval(name: str, number: Numbers) -> Interval:
            unit = "kg" if name.endswith("_kg") else "1"
            return self.interval(named(number, name.removesuffix("_kg").replace("_", " "), unit))

        return paper_account(self.inventory, self.impacts, self.fines, interval, _number)

    def part(self, part: PartResult) -> PartResult:
        inventory = self.inventory.where(part=part.part)
        good = cast(Node, inventory.sum_of(*GOOD_PARTS))
        rejected = inventory.sum_of(*REJECTS)
        if part.footprint is None:
            return replace(part, good=cast(float, good), rejected=rejected)
        by_stage = {
            stage: (
                self._sum(inventory, (stage,), "stages", f"{stage.replace('_', ' ')} of all good parts") / good
            ).named(f"{stage.replace('_', ' ')}, per good part", "kgCO2e")
            for stage in STAGES
        }
        footprint = total(by_stage.values(), label=f"footprint of {part.part}, per good part")
        dry = (cast(Node, inventory.sum_of(*DRY_GOOD_PARTS)) / good).named("dry mass of a good part", "kg")
        moisture = 1.0 - _number(self.impacts.part_solids)
        biogenic = as_node(good_parts_biogenic(inventory, self.impacts)) / good
        changed: dict[str, Any] = {
            "good": good,
            "rejected": rejected,
            "dry_mass_kg": dry,
            "mass_kg": as_weighed(cast(float, dry), moisture),
            "footprint": self.interval(footprint),
            "stages": {stage: centre(node) for stage, node in by_stage.items()},
            "electricity_sold": self.interval(
                (self._sum(inventory, STAGES, "sold", "electricity sold, all good parts") / good).named(
                    "credit for electricity sold, per good part", "kgCO2e"
                )
            ),
            "biogenic_carbon_kgco2": biogenic.named("biogenic carbon of a good part, as CO2", "kgCO2"),
        }
        if part.plastic is not None:
            case = plastic_case(self.workshop.parts[part.part], self.impacts)
            changed |= self._compared(part.plastic, case, footprint)
            if part.displaced_draws is not None:
                changed["displaced_draws"] = displaced_share(self.workshop.parts[part.part], self.values)
            if part.recycled is not None:
                again = named(
                    case.recycled_footprint, f"footprint of the part of recycled {part.plastic.polymer}", "kgCO2e"
                )
                difference, chance = self._beside(footprint, again)
                changed["recycled"] = replace(
                    part.recycled, footprint=self.interval(again), difference=difference, chance_lower=chance
                )
        return replace(part, **changed)

    def _compared(self, plastic: PlasticResult, case: PlasticCase, footprint: Node) -> dict[str, Any]:
        whole = named(case.footprint, f"footprint of the {plastic.polymer} part, per moulded part", "kgCO2e")
        other = case.other_footprint
        by_other = (
            named(other, f"the same by the other route than {case.route}", "kgCO2e") if other is not None else None
        )
        result = replace(
            plastic,
            mass_kg=_number(case.mass),
            mass_per_service_kg=_number(case.mass_per_service),
            masses_by_rule={rule: _number(mass) for rule, mass in case.masses.items()},
            footprint=self.interval(whole),
            electricity_sold=self.interval(
                named(case.electricity_sold, "credit for electricity sold, plastic part", "kgCO2e")
            ),
            other_route=self.interval(by_other) if by_other is not None else None,
        )
        difference, chance = self._beside(footprint, whole)
        return {"plastic": result, "plastic_draws": whole, "difference": difference, "chance_lower": chance}

    def _beside(self, footprint: Node, plastic: Node) -> tuple[Interval, Any]:
        """Return moulded less plastic, and the chance that the moulded part is the lower."""
        pair = [("first", footprint), ("second", plastic)]
        chance = over_draws(CHANCE, chance_lower, pair, unit="1", label="chance that the moulded part is lower")
        return self.interval((footprint - plastic).named("moulded less plastic, per good part")), chance

    def diverted(self, kind: str, label: str, under: DerivedImpacts | None = None) -> Node:
        account = COLLECTED.account if kind == "lost" else DIVERTED
        return self._sum(self.inventory, (account,), kind, label, under=under)

    def net(self, made: Node, avoided: Node, lost: Node, displaced: Node) -> tuple[NetAccount, Node]:
        """Return the net account in several ways, and the disposal avoided by the other landfill parameters."""
        ended, elsewhere = "end of life of parts, rejects and trim", "disposal avoided"

        def end(label: str, under: DerivedImpacts | None = None) -> Any:
            return self._sum(self.inventory, (END_OF_LIFE,), "stages", label, under=under)

        seen = {
            case: (
                end(f"{ended}, {case.replace('_', ' ')}", under),
                cast(Any, self.diverted("avoided", f"{elsewhere}, {case.replace('_', ' ')}", under)),
            )
            for case, under in landfills(self.impacts).items()
        }
        without = self.impacts.under(NO_METHANE, years=0.0)
        sums = NetSums(
            *cast("tuple[Any, Any, Any, Any]", (made, avoided, lost, displaced)),
            ended=end(ended),
            shared=cast(Any, self._sum(self.inventory, ("mould",), "stages", "moulds as shared")),
            bought=cast(Any, named(bought(self.inventory, self.impacts), "moulds as bought, whole", "kgCO2e")),
            seen=seen,
            other_routes=cast(Any, self.diverted("avoided", f"{elsewhere} without landfill methane", without)),
        )
        return sums.account(self.figure), seen[OTHER][1]

    def figure(self, number: Any) -> Interval:
        """Return a number of any kind as a figure."""
        return self.interval(as_node(number))

    def uses(self, made: Node) -> tuple[PaperUse, ...]:
        """Return what a kilogram of each grade does."""

        def avoided(grade: str, under: DerivedImpacts) -> Any:
            label = f"disposal avoided, {grade}" + (", no fines taken off" if under is not self.impacts else "")
            mine = partial(of_grade, grade=grade)
            return self._sum(self.inventory, (DIVERTED,), "avoided", label, of=mine, under=under)

        def chance(first: Any, second: Any) -> Any:
            pair = [("first", as_node(first)), ("second", as_node(second))]
            return over_draws(CHANCE, chance_lower, pair, unit="1", label="chance that recycling saves more")

        return tuple(paper_uses(self.inventory, self.impacts, cast(Any, made), avoided, self.figure, chance))

    def made(self) -> Node:
        return self._sum(self.inventory, STAGES, "stages", "parts made")

    def avoided(self) -> Node:
        chosen = self.results.workshop.landfill_parameters
        return self.diverted("avoided", f"disposal avoided, {chosen} landfill parameters")

    def lost_recycling(self) -> Node:
        return self.diverted("lost", "recycling that lost its fibre")

    def displaced(self, parts: Sequence[PartResult]) -> Node:
        return named(displaced_plastic(parts), "plastic really displaced", "kgCO2e")

    def at_ends(self, share: Any) -> Unseen:
        """Return what rows do at the ends of their intervals that nobody saw published, times a share. [kgCO2e]"""
        found: dict[Case, Any] = {}
        for (word, name, side), ends in unseen(self.results)[1].items():
            other = self.with_rows_at(ends)
            label = f"{name.replace('_', ' ')}, rows {WORDS[word]} at their {side} ends"
            found[word, name, side] = (centre(other.headline(name)) * share).named(label, "kgCO2e")
        return Unseen.of(found)

    def headline(self, name: str) -> Node:
        """Return one of the figures of `impact.decisions.unseen`. [kgCO2e]"""
        if name == "made":
            return self.made()
        if name == "avoided":
            return self.avoided()
        if name == "lost_recycling":
            return self.lost_recycling()
        displaced = self.displaced([self.plastic_of(part) for part in self.results.parts])
        return net_sum(self.made(), self.avoided(), self.lost_recycling(), displaced)

    def plastic_of(self, part: PartResult) -> PartResult:
        """Return a part with nothing but its good parts and its plastic part as nodes."""
        if part.plastic is None:
            return part
        good = self.inventory.where(part=part.part).sum_of(*GOOD_PARTS)
        settings = self.workshop.parts[part.part]
        footprint = plastic_case(settings, self.impacts).footprint
        displaced = None if part.displaced_draws is None else displaced_share(settings, self.values)
        return replace(part, good=good, plastic_draws=cast(Any, footprint), displaced_draws=cast(Any, displaced))

    def shares(self, parts: Sequence[str], kind: str) -> tuple[list[Line], list[Any], list[set[str]]]:
        """Return the lines of an account, what each adds without its sign, and the factor rows behind it."""
        lines = self._lines(parts, kind)
        nodes = [self.impacts.line_node(line, self.inventory.leaf(line), kind) for line in lines]
        return lines, [abs(centre(node)) for node in nodes], [factors_below(node) for node in nodes]

    def settings(self) -> Settings:
        plain = self.results.settings

        def option(value: float, name: str) -> Any:
            place = f"--{name}"
            return leaf(SETTING, value, name, "1", file="command line", place=place, evidence="", default=False)

        return replace(
            plain,
            seed=option(plain.seed, "seed"),
            draws=option(plain.draws, "draws"),
            electricity_kgco2e_per_kwh=_number(self.impacts.kwh),
            horizon_years=_number(self.workshop.horizon_years),
        )


def net_sum(made: Node, avoided: Node, lost: Node, displaced: Node) -> Node:
    """Return the net account. [kgCO2e]"""
    net = cast(Node, net_account(*cast("tuple[float, ...]", (made, avoided, lost, displaced))))
    return net.named("net account of the period")


def derived_results(results: Study) -> Study:
    """Return the results with every number as a node that holds its derivation.

    `results` are those of an assessment, narrowed or counted for a grant as they may be. `as_totals` of what is
    returned has the same shape as theirs, with a node in place of each number.
    """
    account = _Account(results)
    parts = tuple(account.part(part) for part in results.parts)
    made, avoided, lost = account.made(), account.avoided(), account.lost_recycling()
    sold = account.diverted("sold", "credit for electricity sold, within disposal avoided")
    displaced = account.displaced(parts)
    ways, other = account.net(made, avoided, lost, displaced)
    moisture = 1.0 - _number(account.impacts.part_solids)
    makeup = recipes(account.inventory)

    def share_of(part: str, binder: str) -> Any:
        recipe = makeup[part, binder]
        return binder_share(sum(recipe.binders.values()), sum(recipe.fibre.values()))

    derived = replace(
        results,
        workshop=account.workshop,
        batches=cast(int, account.inventory.sum_of(*BATCHES)),
        paper=account.paper(),
        disposal=replace(
            results.disposal, avoided=account.interval(avoided), avoided_other_set=account.interval(other),
            lost_recycling=account.interval(lost), electricity_sold=account.interval(sold),
        ),
        parts=parts,
        made=account.interval(made),
        displaced_plastic=account.interval(displaced),
        net=account.interval(net_sum(made, avoided, lost, displaced)),
        net_account=ways,
        uses_by_grade=account.uses(made),
        inventory=account.inventory,
        settings=account.settings(),
        findings=tuple(replace(one, binder_share=share_of(one.part, one.binder)) for one in results.findings),
        blends=tuple(blends(makeup, moisture, account.values, results.names.greens)),
        own_values=_own_values(results, account),
        **_shares(account),
    )  # fmt: skip
    vars(derived)["claims"] = results.claims  # sentences are of the results, and need no derivation
    if results.grant is None:
        vars(derived)["at_ends"] = account.at_ends(1.0)
        return derived
    grant = next(one for one in account.workshop.grants if one.name == results.grant.name)
    scaled = counted_for(derived, grant)
    vars(scaled)["claims"] = results.claims
    vars(scaled)["at_ends"] = account.at_ends(grant.share)
    return scaled


def _shares(account: _Account) -> dict[str, Any]:
    """Return the shares by evidence class, and those resting on rows that nobody saw published."""
    lines, added, rows = account.shares(STAGES, "stages")
    resting: dict[str, Any] = {"made": (rows, added)}
    kinds = {"avoided": "avoided", "lost_recycling": "lost"}
    for name, kind in kinds.items():
        _, sums, below = account.shares((COLLECTED.account if kind == "lost" else DIVERTED,), kind)
        resting[name] = (below, sums)
    words = {"memory_share": MEMORY, "practice_share": PRACTICE}
    shares = {name: resting_shares(resting, account.values, word) for name, word in words.items()}
    return {"evidence": class_shares(lines, added), **shares}


def _shipped_alone(factors: FactorSet) -> FactorSet:
    """Return the factors without a workshop's own rows, and with the shipped rows that these replaced."""
    rows: dict[str, list[Factor]] = {}
    for row in (*(row for row in factors if not row.is_own), *factors.shipped.values()):
        rows.setdefault(row.key, []).append(row)
    return FactorSet({key: tuple(found) for key, found in rows.items()}, factors.sources)


def _own_values(results: Study, account: _Account) -> OwnValues | None:
    """Return the own rows as leaves, and the headline figures with the shipped tables alone as nodes."""
    own = results.own_values
    if own is None:
        return None

    def as_leaf(factor: Factor | None) -> Factor | None:
        row = factor and account.values.row(Choice(factor, factor.geography))
        return replace(factor, value=centre(row)) if factor else None  # type: ignore[arg-type]

    rows = tuple(OwnValue(cast(Factor, as_leaf(one.factor)), as_leaf(one.shipped)) for one in own.rows)
    if own.with_shipped is None:
        return OwnValues(rows, None)
    shipped = assess(
        results.workshop, results.batch_records, _shipped_alone(results.factors), seed=account.seed, draws=account.draws,
        period=(results.start, results.end), all_batches=results.all_batches, names=results.names,
    )  # fmt: skip
    return OwnValues(rows, KeyFigures.of(derived_results(replace(shipped, grant=results.grant))))
