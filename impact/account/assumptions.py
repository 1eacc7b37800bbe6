"""What the records do not say: each supposition as a sentence, with what to record to replace it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from impact.account.intensities import UnitImpacts
from impact.account.inventory import UNRECORDED, Inventory, Matrix, central_contributions
from impact.account.lines import blank_columns
from impact.account.results import Assumption
from impact.account.tally import Tally
from impact.base.problems import counted
from impact.factors.values import FATES
from impact.records import columns
from impact.records.workshop import Workshop

GLUE = "binder.footprint.pva-glue"
WEIGHTY_SHARE = 0.1
"""Share of the parts' footprint above which an unverified factor belongs on the front page."""


def assumptions(
    tally: Tally, workshop: Workshop, impacts: UnitImpacts, inventory: Inventory, stages: Matrix
) -> Iterator[Assumption]:
    """Yield every supposition behind the figures of these batches."""
    yield from _fates(tally, workshop, impacts)
    yield from _blanks(tally)
    yield from _losses(tally)
    yield from _making(tally, workshop)
    yield from _settings(workshop, impacts)
    yield from _glue(impacts, inventory, stages)
    yield from _choices(impacts)


def _percent(share: object) -> str:
    return f"{100.0 * float(np.ravel(np.asarray(share))[0]):.0f}\u00a0%"


def _fates(tally: Tally, workshop: Workshop, impacts: UnitImpacts) -> Iterator[Assumption]:
    by_table = []
    for grade in (grade for grade, is_open in tally.open_fates.items() if is_open):
        stated = workshop.fates.get(grade)
        if stated is not None and stated.evidence:
            continue
        shares = impacts.counterfactual_shares(grade, "split")
        by_table.append(f"{grade} {_percent(shares[0])} landfilled, {_percent(shares[2])} recycled")
    if by_table:
        yield Assumption(
            "fates",
            "Where no batch states it, what would have happened to the paper is assumed, not observed: "
            + "; ".join(by_table)
            + ".",
            "Look into the bins that the paper came from for two weeks, and state the shares with their evidence under [fates].",
            weighty=True,
        )
    if workshop.end_of_life is None or not workshop.end_of_life.evidence:
        mix = ", ".join(
            f"{_percent(share)} {fate}"
            for fate, share in zip(FATES, impacts.end_of_life_shares, strict=True)
            if not _percent(share).startswith("0\u00a0")
        )
        yield Assumption(
            "end-of-life", f"Where finished parts go in the end is assumed: {mix}.",
            "Ask where parts went, and state the shares with their evidence under [end_of_life].", weighty=True,
        )  # fmt: skip


def _do(count: int) -> str:
    return "does" if count == 1 else "do"


def _blanks(tally: Tally) -> Iterator[Assumption]:
    for column in blank_columns():
        count = tally.blank[column]
        if count:
            usual = column == "moisture"
            told, batches = columns.column_of(column), counted(tally.batches, "batch")
            filled = "the grade's usual value is used" if usual else "it is estimated from the factor table"
            yield Assumption(
                f"blank-{column}",
                f"{count} of {batches} {_do(count)} not record {told.missing}; {filled}.",
                f"{told.remedy[0].upper()}{told.remedy[1:]}.",
                weighty=count * 2 > tally.batches and not usual,
            )


def _losses(tally: Tally) -> Iterator[Assumption]:
    for loss, unknown in tally.no_route.items():
        if unknown:
            yield Assumption(
                f"{loss}-to", f"{counted(unknown, 'batch')} {_do(unknown)} not say where the {loss} went; landfill is assumed.",
                f"Write landfill, incineration, recycling, composting or own rejects under {loss} to.",
            )  # fmt: skip


def _making(tally: Tally, workshop: Workshop) -> Iterator[Assumption]:
    if tally.blank["drying_kwh"] and workshop.drying.dryer is None:
        yield Assumption(
            "dryer", f"No dryer is named: drying energy that was not recorded uses the row {UNRECORDED}, with a very wide interval.",
            "Name the dryer under [drying].", weighty=True,
        )  # fmt: skip
    if not workshop.drying.heated_room:
        yield Assumption(
            "room-heat", "The room in which parts dry is taken as unheated: the latent heat of their water is not counted.",
            "State heated_room = true under [drying] if the room is heated while parts dry.",
        )  # fmt: skip
    if tally.nameplate:
        yield Assumption(
            "nameplate", "Entries of power times time take the stated power as drawn all the time; motors and thermostats often draw less.",
            "Put a plug-in meter on the device, and mark it metered.",
        )  # fmt: skip


def _settings(workshop: Workshop, impacts: UnitImpacts) -> Iterator[Assumption]:
    if workshop.landfill_climate is None:
        yield Assumption(
            "climate", f"No landfill climate is stated: {impacts.climate} is assumed; over {workshop.horizon_years:g} years it matters little.",
            "State landfill_climate under [workshop].",
        )  # fmt: skip
    if workshop.gas_collection is None and workshop.landfill_site is None:
        choice = impacts.values.choose("landfill.collection")
        yield Assumption(
            "gas-collection", f"Landfill gas collection is the table's value for {choice.factor.geography}: {_percent(choice.factor.value)}.",
            "Ask the landfill operator, and state gas_collection or landfill_site under [workshop].", weighty=True,
        )  # fmt: skip


def _glue(impacts: UnitImpacts, inventory: Inventory, stages: Matrix) -> Iterator[Assumption]:
    """Yield the doubt about the making of white glue, when its shipped factor is used."""
    used = {
        factor_id
        for factor_id, choice in impacts.values.used.items()
        if choice.factor.key == GLUE and not choice.factor.is_own
    }
    if not used:
        return
    added = np.abs(central_contributions(inventory, stages))
    resting = float(added[[not used.isdisjoint(ids) for ids in stages.factors]].sum())
    share = resting / float(added.sum()) if resting else 0.0
    yield Assumption(
        "pvac-footprint",
        "No published footprint of poly(vinyl acetate) glue could be verified: its making is an estimate from its raw "
        f"materials, and makes {_percent(share)} of the parts' footprint.",
        f"Ask the maker of the glue for a declaration, and put its value under {GLUE} into factors.csv.",
        weighty=share > WEIGHTY_SHARE,
    )


def _choices(impacts: UnitImpacts) -> Iterator[Assumption]:
    near = {impacts.workshop.country, impacts.workshop.electricity}
    wider: dict[str, list[str]] = {}
    for choice in impacts.values.used.values():
        factor = choice.factor
        if factor.geography not in near and impacts.values.factors.is_regional(factor.key):
            wider.setdefault(factor.geography, []).append(factor.key)
    for place, keys in sorted(wider.items()):
        yield Assumption(
            f"fallback-{place}",
            f"The tables hold no row for {impacts.workshop.country} of {len(keys)} factors; the value for {place} is used: "
            + ", ".join(sorted(keys))
            + ".",
            "Put local values into factors.csv.",
        )
    editions = sorted(
        f"{choice.factor.id} instead of {choice.edition_missing}"
        for choice in impacts.values.used.values()
        if choice.edition_missing
    )
    if editions:
        yield Assumption(
            "edition",
            "The edition named has no row of these, so the newest is used: " + "; ".join(editions) + ".",
            "Name another edition under [editions].",
        )
