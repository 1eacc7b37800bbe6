"""What the records do not say: each supposition as a sentence, with what to record to replace it.

The sentences are the rows of ``assumptions.csv`` beside this module.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

import numpy as np

from impact.account.intensities import UnitImpacts
from impact.account.inventory import UNRECORDED, Inventory, Matrix, central_contributions
from impact.account.lines import blank_columns
from impact.account.plastic import ROUTES
from impact.account.results import Assumption, PaperAccount, PartResult
from impact.account.tally import Tally
from impact.base.problems import counted
from impact.core.node import first
from impact.factors.rows import SETTINGS, shipped_rows
from impact.factors.values import FATES, RESIDUAL
from impact.records import columns
from impact.records.workshop import Workshop

TEXTS = (Path(__file__).with_name("assumptions.csv"), "code", "text", "remedy")
GLUE = "binder.footprint.pva-glue"
MANAGED_ALMOST_ALL = 0.95
"""Share of managed sites from which on the kind of landfill does not belong on the front page."""

WEIGHTY_SHARE = 0.1
"""Share of the parts' footprint above which an unverified factor belongs on the front page."""

FEW = 0.005
"""Share of the paper below which fines print as nothing."""


@cache
def read_texts(path: Path, *columns: str) -> dict[str, dict[str, str]]:
    """Return the rows of a table of texts that stands beside a module, by the first of its columns."""
    return {row[columns[0]]: row for row in shipped_rows(path, *columns)}


def assumptions(
    tally: Tally,
    workshop: Workshop,
    impacts: UnitImpacts,
    inventory: Inventory,
    stages: Matrix,
    paper: PaperAccount,
    parts: Sequence[PartResult],
) -> Iterator[Assumption]:
    """Yield every supposition behind the figures of these batches."""
    yield from _fates(tally, workshop, impacts)
    yield from _records(tally)
    yield from _making(tally, workshop, impacts)
    yield from _settings(workshop, impacts)
    yield from _glue(impacts, inventory, stages)
    yield from _own_binders(impacts)
    yield from _fines(workshop, paper)
    yield from _plastics(workshop, parts, impacts)
    yield from _choices(impacts)


def _told(code: str, *, weighty: bool = False, **facts: object) -> Assumption:
    """Return a row of the table with its facts filled in."""
    row = read_texts(*TEXTS)[code]
    return Assumption(code.format(**facts), row["text"].format(**facts), row["remedy"].format(**facts), weighty)


def _percent(share: object, decimals: int = 0) -> str:
    return f"{100.0 * first(share):.{decimals}f}\u00a0%"


def _fates(tally: Tally, workshop: Workshop, impacts: UnitImpacts) -> Iterator[Assumption]:
    by_table, rest = [], set()
    for grade in (grade for grade, is_open in tally.open_fates.items() if is_open):
        stated = workshop.fates.get(grade)
        if stated is not None and stated.evidence:
            continue
        shares = impacts.counterfactual_shares(grade, "split")
        by_table.append(f"{grade} {_percent(shares[0])} landfilled, {_percent(shares[2])} recycled")
        rest |= {word for word, at in (("burnt", 1), ("composted", 3)) if first(shares[at]) >= FEW}
    if by_table:
        others = f"; the rest {' or '.join(sorted(rest))}" if rest else ""
        yield _told("fates", weighty=True, fates="; ".join(by_table), rest=others)
    if workshop.end_of_life is None or not workshop.end_of_life.evidence:
        told = [f"{_percent(share)} {fate}" for fate, share in zip(FATES, impacts.end_of_life_shares, strict=True)]
        mix = ", ".join(share for share in told if not share.startswith("0\u00a0"))
        untaken = "; no collection is known to take them" if "recycling" in mix else ""
        yield _told("end-of-life", weighty=True, mix=mix, untaken=untaken)
    yield from _places_of_fates(workshop.country, impacts)


def _places_of_fates(country: str, impacts: UnitImpacts) -> Iterator[Assumption]:
    """Yield which of the fates by the tables are the country's own, and which are a wider place's."""
    own, wider = [], []
    for factor in (choice.factor for choice in impacts.values.used.values()):
        _, waste, *route = factor.key.split(".")
        if factor.key != RESIDUAL and (not factor.key.startswith("fate.") or route != ["recycling"]):
            continue
        told = "residual waste landfilled" if factor.key == RESIDUAL else f"{waste} recycled"
        if factor.geography == country:
            own.append(told)
        elif impacts.values.factors.is_regional(factor.key):
            wider.append(f"{told} ({factor.geography})")
    if own or wider:
        stands_in = f" A wider place stands in for: {', '.join(sorted(wider))}." if wider else ""
        yield _told("fates-of-place", country=country, own=", ".join(sorted(own)) or "none", wider=stands_in)


def _records(tally: Tally) -> Iterator[Assumption]:
    """Yield what stands in for blanks, and for losses of which nobody wrote where they went."""
    do = {1: "does"}
    for column in blank_columns():
        count = tally.blank[column]
        if count:
            usual = column == "moisture"
            told = columns.column_of(column)
            yield _told(
                "blank-{column}", weighty=count * 2 > tally.batches and not usual, column=column, count=count,
                batches=counted(tally.batches, "batch"), do=do.get(count, "do"), missing=told.missing,
                filled="the grade's usual value is used" if usual else "it is estimated from the factor table",
                remedy=f"{told.remedy[0].upper()}{told.remedy[1:]}",
            )  # fmt: skip
    for loss, unknown in tally.no_route.items():
        if unknown:
            yield _told("{loss}-to", loss=loss, batches=counted(unknown, "batch"), do=do.get(unknown, "do"))


def _making(tally: Tally, workshop: Workshop, impacts: UnitImpacts) -> Iterator[Assumption]:
    if tally.blank["drying_kwh"] and workshop.drying.dryer is None:
        yield _told("dryer", weighty=True, row=UNRECORDED)
    drawn = impacts.values.choose(f"drying.room-heat.{workshop.drying.dryer or UNRECORDED}").factor.value
    if drawn and not workshop.drying.heated_room:
        yield _told("room-heat")
    if tally.nameplate:
        yield _told("nameplate")


def _settings(workshop: Workshop, impacts: UnitImpacts) -> Iterator[Assumption]:
    if workshop.landfill_climate is None:
        yield _told("climate", climate=impacts.climate, years=workshop.horizon_years)
    if workshop.landfill_site is None:
        factor = impacts.values.choose("landfill.managed-share").factor
        row = "site" if factor.geography != "world" else "site-unknown"
        alone = first(impacts.emitted_by({"managed": 1.0}))
        place, share = factor.geography, _percent(factor.value)
        weighty, unknown = factor.value < MANAGED_ALMOST_ALL, "and the rest at sites of unknown kind"
        times = (
            f"The methane avoided is {first(impacts.emitted) / alone:.2f} times that of managed sites alone"
            if alone
            else "Managed sites alone would emit no methane"
        )
        rest = f" {unknown}. {times}" if factor.value < 1.0 else ""
        yield _told(row, weighty=weighty, place=place, share=share, country=workshop.country, times=times, rest=rest)
    if workshop.gas_collection is None and not impacts.values.has(f"landfill.collection.{workshop.landfill_site}"):
        factor = impacts.values.choose("landfill.collection").factor
        yield _told("gas-collection", weighty=True, place=factor.geography, share=_percent(factor.value))


def _fines(workshop: Workshop, paper: PaperAccount) -> Iterator[Assumption]:
    """Yield where the fibre that was not found again is taken to have gone, where the workshop does not say."""
    missing, total = paper.fines_kg.value, paper.collected_kg.value
    if workshop.fines_to is None and missing > FEW * total:
        share, more = missing / total, paper.fines_off_landfill_kg.value / total  # shares, which a grant does not scale
        yield _told("fines", weighty=share > WEIGHTY_SHARE, share=_percent(share, 1), more=_percent(more, 1))


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
    yield _told("pvac-footprint", weighty=share > WEIGHTY_SHARE, share=_percent(share), key=GLUE)


def _plastics(workshop: Workshop, parts: Sequence[PartResult], impacts: UnitImpacts) -> Iterator[Assumption]:
    compared = [workshop.parts[part.part] for part in parts if part.plastic is not None]
    assumed = [part for part in compared if not (part.life_evidence and part.plastic_life_evidence)]
    if assumed:
        lives = (
            f"{one.name} {one.service_life_years:g} and {one.plastic_service_life_years:g} years" for one in assumed
        )
        row = impacts.values.choose("evidence.assumed").factor
        yield _told("service-life", lives=", ".join(lives), low=f"{row.low:g}", high=f"{row.high:g}")
    shares = [f"{part.name} {_percent(part.displacement)}" for part in compared if part.displacement]
    if [part for part in compared if part.displacement and not part.displacement_evidence]:
        yield _told("displacement", weighty=True, shares=", ".join(shares))
    formed = [part for part in parts if part.plastic is not None and part.plastic.route == ROUTES[0]]
    if formed:
        named = ", ".join(f"{part.part} ({workshop.parts[part.part].process})" for part in formed)
        keys = sorted({f"polymer.formed.{workshop.parts[part.part].polymer}" for part in formed})
        yield _told("formed-process", parts=named, keys=", ".join(keys))


def _own_binders(impacts: UnitImpacts) -> Iterator[Assumption]:
    """Yield of which rows of the workshop's own binders another binder of the tables stands in."""
    borrowed: dict[str, list[str]] = {}
    for choice in impacts.values.used.values():
        factor = choice.factor
        if factor.file == SETTINGS and factor.notes:
            borrowed.setdefault(factor.key.rpartition(".")[2], []).append(f"{factor.key} ({factor.notes})")
    for binder, keys in sorted(borrowed.items()):
        yield _told("binder-{binder}", binder=binder, keys="; ".join(sorted(keys)))


def _choices(impacts: UnitImpacts) -> Iterator[Assumption]:
    near = {impacts.workshop.country, impacts.workshop.electricity}
    wider: dict[str, list[str]] = {}
    for choice in impacts.values.used.values():
        factor = choice.factor
        if factor.geography not in near and impacts.values.factors.is_regional(factor.key):
            wider.setdefault(factor.geography, []).append(factor.key)
    for place, keys in sorted(wider.items()):
        named = ", ".join(sorted(keys))
        yield _told("fallback-{place}", place=place, country=impacts.workshop.country, count=len(keys), keys=named)
    editions = sorted(
        f"{choice.factor.id} instead of {choice.edition_missing}"
        for choice in impacts.values.used.values()
        if choice.edition_missing
    )
    if editions:
        yield _told("edition", rows="; ".join(editions))
