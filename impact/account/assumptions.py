"""What the records do not say: each supposition as a sentence, with what to record to replace it.

The sentences are the rows of ``assumptions.csv`` beside this module.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache
from itertools import chain
from pathlib import Path

import numpy as np

from impact.account.intensities import UnitImpacts
from impact.account.inventory import UNRECORDED, Inventory, Matrix, central_contributions
from impact.account.lines import blank_columns
from impact.account.plastic import ROUTES
from impact.account.results import Assumption, PaperAccount, PartResult
from impact.account.tally import Tally
from impact.base.catalogue import Names
from impact.base.language import message
from impact.base.sentences import Capital, Counted, Fact, Figure, Listed, Name, Said, joined
from impact.core.node import first
from impact.factors.keys import key_of
from impact.factors.rownames import speaker_of, topic_of
from impact.factors.rows import SETTINGS, Factor, shipped_rows
from impact.factors.values import FATES, RESIDUAL
from impact.records import columns
from impact.records.workshop import Part, Workshop

TEXTS = (Path(__file__).with_name("assumptions.csv"), "code", "text", "remedy", "one")
"""The column ``one`` has the text that goes with one, where the row bends with a number."""
GLUE = "binder.footprint.pva-glue"
MANAGED_ALMOST_ALL = 0.95
"""Share of managed sites from which on the kind of landfill does not belong on the front page."""

WEIGHTY_SHARE = 0.1
"""Share of the parts' footprint above which an unverified factor belongs on the front page."""

FEW = 0.005
"""Share of the paper below which fines print as nothing."""

LISTED = 6
"""Most factors that one assumption names one by one."""

BURNT, COMPOSTED = message("burnt"), message("composted")
USUAL, ESTIMATED = message("the grade's usual value is used"), message("it is estimated from the factor table")
NO_METHANE = message("Managed sites alone would emit no methane")
TIMES = message("The methane avoided is {times} times that of managed sites alone")


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
    names: Names,
) -> Iterator[Assumption]:
    """Yield every supposition behind the figures of these batches."""
    usual = speaker_of(names, workshop.parts)
    told = chain(
        _fates(tally, workshop, impacts),
        _records(tally),
        _making(tally, workshop, impacts),
        _settings(workshop, impacts),
        _glue(impacts, inventory, stages),
        _own_binders(impacts),
        _fines(workshop, paper),
        _plastics(workshop, parts, impacts),
        _choices(impacts),
    )
    for one in told:
        yield replace(one, said=replace(one.said, usual=usual), instead=replace(one.instead, usual=usual))


def _told(code: str, *, of: str = "", n: int | None = None, weighty: bool = False, **facts: Fact) -> Assumption:
    """Return a row of the table with its facts; `of` is what its code holds, `n` the number that it bends with."""
    row = read_texts(*TEXTS)[code]
    said = Said(row["text"], facts) if n is None else joined([Counted(row["one"], row["text"], n, facts)])
    return Assumption(code.format(of=of), said, Said(row["remedy"], facts), weighty)


def _share(share: object, quantity: str = "share") -> Figure:
    return Figure(first(share), quantity)


def _sorted(facts: Mapping[str, Fact], between: str = ", ") -> Listed:
    """Return facts in the order of their names."""
    return Listed(tuple(facts[name] for name in sorted(facts)), between)


def _batches(count: float) -> Counted:
    return Counted("{n} batch", "{n} batches", count)


def _fates(tally: Tally, workshop: Workshop, impacts: UnitImpacts) -> Iterator[Assumption]:
    by_table, rest = [], set()
    for grade in (grade for grade, is_open in tally.open_fates.items() if is_open):
        stated = workshop.fates.get(grade)
        if stated is not None and stated.evidence:
            continue
        shares = impacts.counterfactual_shares(grade, "split")
        facts: dict[str, Fact] = {"landfilled": _share(shares[0]), "recycled": _share(shares[2])}
        by_table.append(
            Said("{grade} {landfilled} landfilled, {recycled} recycled", {**facts, "grade": Name("grade", grade)})
        )
        rest |= {word for word, at in ((BURNT, 1), (COMPOSTED, 3)) if first(shares[at]) >= FEW}
    if by_table:
        others = Listed(tuple(map(Said, sorted(rest))), message(" or "))
        yield _told(
            "fates", weighty=True, fates=Listed(tuple(by_table), "; "),
            rest=Said("; the rest {fates}", {"fates": others}) if rest else "",
        )  # fmt: skip
    if workshop.end_of_life is None or not workshop.end_of_life.evidence:
        ends = dict(zip(FATES, impacts.end_of_life_shares, strict=True))
        taken = {fate: share for fate, share in ends.items() if first(share) > FEW}
        mix = tuple(Listed((_share(share), Name("fate", fate)), " ") for fate, share in taken.items())
        untaken = Said("; no collection is known to take them") if "recycling" in taken else ""
        yield _told("end-of-life", weighty=True, mix=Listed(mix), untaken=untaken)
    yield from _places_of_fates(workshop.country, impacts)


def _places_of_fates(country: str, impacts: UnitImpacts) -> Iterator[Assumption]:
    """Yield which of the fates by the tables are the country's own, and which are a wider place's."""
    own: dict[str, Fact] = {}
    wider: dict[str, Fact] = {}
    for factor in (choice.factor for choice in impacts.values.used.values()):
        _, waste, *route = factor.key.split(".")
        if factor.key != RESIDUAL and (not factor.key.startswith("fate.") or route != ["recycling"]):
            continue
        told = Said("{grade} recycled", {"grade": Name("waste", waste)})
        told = Said("residual waste landfilled") if factor.key == RESIDUAL else told
        if factor.geography == country:
            own[str(told)] = told
        elif impacts.values.factors.is_regional(factor.key):
            wider[str(told)] = Said("{fate} ({place})", {"fate": told, "place": Name("place", factor.geography)})
    if own or wider:
        stands_in = Said(" A wider place stands in for: {fates}.", {"fates": _sorted(wider)}) if wider else ""
        place = Name("place", country)
        yield _told("fates-of-place", country=place, own=_sorted(own) if own else Said("none"), wider=stands_in)


def _records(tally: Tally) -> Iterator[Assumption]:
    """Yield what stands in for blanks, and for losses of which nobody wrote where they went."""
    for column in blank_columns():
        count = tally.blank[column]
        if count:
            usual = column == "moisture"
            told = columns.column_of(column)
            yield _told(
                "blank-{of}", of=column, n=count, weighty=count * 2 > tally.batches and not usual,
                batches=_batches(tally.batches), missing=Said(told.missing),
                filled=Said(USUAL if usual else ESTIMATED), remedy=Capital(Said(told.remedy)),
            )  # fmt: skip
    for loss, unknown in tally.no_route.items():
        if unknown:
            yield _told("{of}-to", of=loss, n=unknown, loss=Said(loss))


def _making(tally: Tally, workshop: Workshop, impacts: UnitImpacts) -> Iterator[Assumption]:
    if tally.blank["drying_kwh"] and workshop.drying.dryer is None:
        yield _told("dryer", weighty=True, row=Name("dryer", UNRECORDED))
    drawn = impacts.values.choose(f"drying.room-heat.{workshop.drying.dryer or UNRECORDED}").factor.value
    if drawn and not workshop.drying.heated_room:
        yield _told("room-heat")
    if tally.nameplate:
        yield _told("nameplate")


def _settings(workshop: Workshop, impacts: UnitImpacts) -> Iterator[Assumption]:
    if workshop.landfill_climate is None:
        climate, years = Name("climate", impacts.climate), Figure(workshop.horizon_years, "stated")
        yield _told("climate", climate=climate, years=years)
    if workshop.landfill_site is None:
        factor = impacts.values.choose("landfill.managed-share").factor
        row = "site" if factor.geography != "world" else "site-unknown"
        alone = first(impacts.emitted_by({"managed": 1.0}))
        place, share, country = Name("place", factor.geography), _share(factor.value), Name("place", workshop.country)
        change = Figure(first(impacts.emitted) / alone, "rough number") if alone else None
        times = Said(TIMES, {"times": change}) if change else Said(NO_METHANE)
        rest: Fact = (
            Said(" and the rest at sites of unknown kind. {times}", {"times": times}) if factor.value < 1.0 else ""
        )
        weighty = factor.value < MANAGED_ALMOST_ALL
        yield _told(row, weighty=weighty, place=place, share=share, country=country, times=times, rest=rest)
    if workshop.gas_collection is None and not impacts.values.has(f"landfill.collection.{workshop.landfill_site}"):
        factor = impacts.values.choose("landfill.collection").factor
        yield _told("gas-collection", weighty=True, place=Name("place", factor.geography), share=_share(factor.value))


def _fines(workshop: Workshop, paper: PaperAccount) -> Iterator[Assumption]:
    """Yield where the fibre that was not found again is taken to have gone, where the workshop does not say."""
    missing, total = paper.fines_kg.value, paper.collected_kg.value
    if workshop.fines_to is None and missing > FEW * total:
        share, more = missing / total, paper.fines_off_landfill_kg.value / total  # shares, which a grant does not scale
        printed, weighty = _share(share, "fine share"), share > WEIGHTY_SHARE
        yield _told("fines", weighty=weighty, share=printed, more=_share(more, "fine share"))


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
    yield _told("pvac-footprint", weighty=share > WEIGHTY_SHARE, share=_share(share), key=GLUE)


def _plastics(workshop: Workshop, parts: Sequence[PartResult], impacts: UnitImpacts) -> Iterator[Assumption]:
    compared = [workshop.parts[part.part] for part in parts if part.plastic is not None]
    assumed = [part for part in compared if not (part.life_evidence and part.plastic_life_evidence)]
    if assumed:
        row = impacts.values.choose("evidence.assumed").factor
        low, high = Figure(row.low, "stated"), Figure(row.high, "stated")
        yield _told("service-life", lives=Listed(tuple(map(_lives, assumed))), low=low, high=high)
    shares = [
        Listed((Name("part", part.name), _share(part.displacement)), " ") for part in compared if part.displacement
    ]
    if [part for part in compared if part.displacement and not part.displacement_evidence]:
        yield _told("displacement", weighty=True, shares=Listed(tuple(shares)))
    formed = [part for part in parts if part.plastic is not None and part.plastic.route == ROUTES[0]]
    if formed:
        named = tuple(_formed(workshop.parts[part.part]) for part in formed)
        keys = sorted({f"polymer.formed.{workshop.parts[part.part].polymer}" for part in formed})
        yield _told("formed-process", parts=Listed(named), keys=", ".join(keys))


def _lives(part: Part) -> Said:
    years = {"moulded": part.service_life_years, "plastic": part.plastic_service_life_years}
    figures = {name: Figure(one, "stated") for name, one in years.items() if one is not None}
    return Said("{part} {moulded} and {plastic} years", {"part": Name("part", part.name), **figures})


def _formed(part: Part) -> Said:
    return Said("{part} ({process})", {"part": Name("part", part.name), "process": Name("process", part.process)})


def _own_binders(impacts: UnitImpacts) -> Iterator[Assumption]:
    """Yield of which rows of the workshop's own binders another binder of the tables stands in."""
    borrowed: dict[str, dict[str, Fact]] = {}
    for choice in impacts.values.used.values():
        factor = choice.factor
        if factor.file == SETTINGS and factor.notes:
            row = _stands_in(factor)
            borrowed.setdefault(factor.key.rpartition(".")[2], {})[str(row)] = row
    for binder, keys in sorted(borrowed.items()):
        yield _told("binder-{of}", of=binder, binder=Name("binder", binder), id=binder, keys=_sorted(keys, "; "))


def _stands_in(factor: Factor) -> Said:
    """Return what stands in for a row of a binder of the workshop's own: "Dose: ... (as of corn starch, by its kind)"."""
    of, stroke, why = factor.notes.removeprefix("as ").partition(", ")
    if not stroke:
        return Said("{row} ({notes})", {"row": Name("factor", factor.key), "notes": factor.notes})
    model = Name("binder", key_of(of).rpartition(".")[2])
    return Said("{row} (as of {model}, {why})", {"row": Name("factor", factor.key), "model": model, "why": Said(why)})


def _choices(impacts: UnitImpacts) -> Iterator[Assumption]:
    near = {impacts.workshop.country, impacts.workshop.electricity}
    wider: dict[str, list[str]] = {}
    for choice in impacts.values.used.values():
        factor = choice.factor
        if factor.geography not in near and impacts.values.factors.is_regional(factor.key):
            wider.setdefault(factor.geography, []).append(factor.key)
    country = Name("place", impacts.workshop.country)
    for name, keys in sorted(wider.items()):
        place = Name("place", name)
        yield _told("fallback-{of}", of=name, n=len(keys), place=place, country=country, keys=_listed(keys))
    editions = {
        choice.factor.id: _edition(choice.factor, choice.edition_missing)
        for choice in impacts.values.used.values()
        if choice.edition_missing
    }
    if editions:
        yield _told("edition", rows=_sorted(editions, "; "))


def _edition(factor: Factor, missing: str) -> Said:
    facts: dict[str, Fact] = {"row": Name("factor", factor.key), "place": Name("place", factor.geography)}
    return Said(
        "{row}: {place} {edition} instead of {missing}", {**facts, "edition": factor.edition, "missing": missing}
    )


def _listed(keys: Sequence[str]) -> Listed:
    """Return factors by name, or where they are many how many of each topic."""
    if len(keys) <= LISTED:
        return Listed(tuple(Name("factor", key) for key in sorted(keys)), "; ")
    topics = Counter(topic_of(key) for key in keys)
    told = (
        Said("{n} of {topic}", {"n": Figure(n, "count"), "topic": Said(topic)}) for topic, n in sorted(topics.items())
    )
    return Listed(tuple(told))
