"""The lines of the account, each declared once: what a batch brings to it, what one unit emits, and how it is told.

Everything that knows a line reads this list: sums over batches (`impact.account.amounts`), emissions per unit, blanks
counted and assumptions told, the derivation of a figure, the cells of the workbook, what to measure next. A line that is
added here is in all of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache, partial
from typing import TYPE_CHECKING

from impact.account import linekinds as names
from impact.account.inventory import (
    DIVERTED,
    ELECTRICITY,
    OWN_REJECTS,
    SPLIT,
    STAGES,
    UNRECORDED,
    Inventory,
    Line,
    Matrix,
    matrix_of,
)  # fmt: skip
from impact.account.linekinds import Impact, LineKind, Measure, Name, Source
from impact.account.steps import Batch
from impact.base.language import message
from impact.core import Numbers
from impact.factors.values import FATES

if TYPE_CHECKING:
    from impact.account.intensities import UnitImpacts
    from impact.records.workshop import Workshop

LANDFILL = "landfill"
BURNT = FATES.index("incineration")
MEASURED = ("metered", "nameplate")
"""Evidence classes of energy that was recorded."""

# -- sources and measures that several lines share -------------------------------------------------------------


def _factor(key: str) -> Impact:
    """Return a factor by its key, in which ``{}`` is the item."""
    return lambda impacts, *parts: impacts.values.get(key.format(*parts))


def _heat(heating: str) -> Source:
    return GRID if heating == ELECTRICITY else GAS


def _end(emission: Impact) -> Source:
    remedy = message(
        "finding out where parts and rejects go settles a part of it, the rest is decay as the tables have it"
    )
    return Source(emission, message("what becomes of the parts in the end"), remedy)


GRID = Source(lambda impacts, *_: impacts.kwh, message("the grid's emission per kWh"))
MAINS = Source(
    lambda impacts, *_: impacts.values.get("water.supply") + impacts.values.get("water.treatment"),
    message("the footprint of mains water"),
)
GAS = Source(_factor("heat.gas"), message("the footprint of heating gas"))
BINDER = Source(
    lambda impacts, name: impacts.dry_binder(name), message("the footprint of one kg of {item}"), kind="binder"
)
VEHICLE = Source(
    lambda impacts, name: impacts.driving(name), message("the footprint of one km by {item}"), kind="vehicle"
)
MOULD = Source(
    lambda impacts, name: impacts.mould(impacts.workshop.moulds[name]),
    message("the making of the mould {item}"),
    message("weighing the mould and metering its printing settles a part of it"),
)

ROOM_WATER = Measure(
    message("the water that the room's heat dries off"), message("weighing parts before and after drying")
)
WATER_USED = Measure(message("the water used"), message("recording the water used"))
BINDER_MASS = Measure(
    message("the mass of the binder {item}"),
    {"weighed": message("weighing {name} more finely, with its solids"), "estimated": message("weighing {name}")},
    kind="binder",
)
DISTANCE = Measure(message("the distance driven"), message("recording the distance driven"))
MOULD_LIFE = Measure(
    message("the life of the mould {item}"), message("counting the pressings of the mould {item} until it is worn out")
)
PARTS_MASS = Measure(
    message("the dry mass of the parts"), message("weighing the parts more finely, and some of them oven-dry")
)
LOST_MASS = Measure(message("rejects and trim"), message("weighing rejects and trim and recording where they go"))
METERING = {
    "metered": message("a finer meter for {name}"),
    "nameplate": message("metering {name}, where it is now the rated power times the hours,"),
    "estimated": message("metering {name}, where nothing is recorded now,"),
}


# -- items and evidence classes ----------------------------------------------------------------------------------


def _first(workshop: Workshop, item: str, *_: str | bool) -> str:
    return item


def _fated(workshop: Workshop, grade: str, fate: str) -> str:
    return f"{grade}|{fate or SPLIT}"


def _fibre_lost(workshop: Workshop, item: str, loss: str, route: str, *_: bool) -> str:
    return f"{item}|{route or LANDFILL}"


def _binder_lost(workshop: Workshop, loss: str, binder: str, route: str, recorded: bool) -> str:
    return f"{binder}|{route or LANDFILL}"


def _loss_told(workshop: Workshop, one: str, other: str, route: str, recorded: bool) -> str:
    """Return how a loss is known: nobody wrote its amount, or where it went, or both were written."""
    if not recorded:
        return "estimated"
    return "weighed" if route else "assumed"


def _mould_life(workshop: Workshop, mould: str) -> str | None:
    if mould not in workshop.moulds:
        return None
    return "metered" if workshop.moulds[mould].retired else "assumed"


# -- the lines -----------------------------------------------------------------------------------------------------

PULP = "dry fibre and own rejects"
OUTPUT = "dry parts, rejects and trim"
SHARE = "its share of the dry pulp"
DRY_GOOD = "good parts × part mass × (1 − part moisture)"
DRY_LOST = "rejects and trim, dry"
WEIGHED = "(1 − mean moisture of the paper)"


def _energy(
    name: Name,
    driver: Callable[[Batch], Numbers],
    drives: str,
    rate: Impact,
    used_for: str,
    *,
    told: bool = True,
    item: str | Callable[..., str] = "",
    by: tuple[str, ...] = (),
) -> tuple[LineKind, LineKind]:
    """Return the lines of an electricity as recorded, and of what drives its estimate where it is blank."""
    column = f"{name.activity.replace(' ', '_')}_kwh"
    measure = Measure(used_for, METERING)
    recorded = LineKind(
        *name, "kWh", lambda b: b.recorded(column), f"{name.activity}, kWh as recorded", by=(f"{column}_evidence",),
        item=ELECTRICITY, evidence=lambda _, word: word if word in MEASURED else None, source=GRID, measure=measure,
    )  # fmt: skip
    guessed = LineKind(
        *names.estimated(name), "kg", lambda b: b.without(column, driver(b)), f"{drives}, where no energy is recorded",
        by=by, item=item, evidence="estimated", source=GRID, rate=rate, measure=measure, blank=column if told else None,
    )  # fmt: skip
    return recorded, guessed


def _binder() -> Iterator[LineKind]:
    """Yield the lines of making and preparing the binder."""
    glue = partial(LineKind, unit="kg", by=("binder",), item=_first, source=BINDER, measure=BINDER_MASS)
    yield glue(
        *names.DRY_BINDER, amount=lambda b: b.where("binder_kg", b.dry_binder * b.solids_known),
        words="binder mass × its solids, as recorded or of the workshop's recipe",
    )  # fmt: skip
    yield glue(
        *names.BINDER_AS_USED, amount=lambda b: b.recorded("binder_kg") * b.solids_by_table,
        words="binder mass, where its solids come from the tables", rate=_factor("binder.solids.{}"),
    )  # fmt: skip
    yield glue(
        *names.ESTIMATED_BINDER, amount=lambda b: b.without("binder_kg", b.dry_fibre * b.glued),
        words="dry fibre, where no binder mass is recorded", evidence="estimated", rate=_factor("binder.dose.{}"),
        blank="binder_kg",
    )  # fmt: skip
    recorded, guessed = _energy(
        names.BINDER_PREPARATION, lambda b: b.binder_used, "binder as used",
        lambda impacts, binder: impacts.preparation_kwh(binder), message("the electricity to prepare the binder"), told=False,
        by=("binder",), item=_first,
    )  # fmt: skip
    yield replace(recorded, amount=lambda b: recorded.amount(b) * b.glued)
    yield guessed


def _making() -> Iterator[LineKind]:
    """Yield the lines of shredding and making."""
    for name, driver, drives, told in (
        (Name("paper", "shredding"), lambda b: b.dry_fibre, "dry fibre", message("the electricity of shredding")),
        (Name("making", "blending"), lambda b: b.pulped, PULP, message("the electricity of blending")),
        (Name("making", "pressing"), lambda b: b.pulped, PULP, message("the electricity of pressing")),
    ):
        yield from _energy(name, driver, drives, _factor(f"estimate.{name.activity}"), told)
    yield from _energy(
        names.DRYING, lambda b: b.dried, OUTPUT, lambda impacts, dryer: impacts.drying_kwh(dryer),
        message("the electricity of drying"),
        item=lambda workshop: workshop.drying.dryer or UNRECORDED,
    )  # fmt: skip
    yield LineKind(
        "making", "heat from the room", "kg", lambda b: b.dried, OUTPUT, item=lambda workshop: workshop.drying.heating,
        evidence=lambda workshop: "estimated" if workshop.drying.heated_room else None, source=_heat,
        intensity=lambda impacts, heating: impacts.room_heat(heating, _heat(heating).emission(impacts)),
        rate=lambda impacts, heating: impacts.room_heat(heating, 1.0), measure=ROOM_WATER,
    )  # fmt: skip
    water = partial(LineKind, source=MAINS, measure=WATER_USED)
    name = Name("making", "water")
    yield water(*name, "m3", lambda b: b.recorded("water_l") / 1000.0, name.activity)
    yield water(
        *names.estimated(name), "kg", lambda b: b.without("water_l", b.pulped), f"{PULP}, where no water is recorded",
        evidence="estimated", rate=_factor("estimate.water"), blank="water_l",
    )  # fmt: skip


def _parts() -> Iterator[LineKind]:
    """Yield the lines of moulds, of the end of parts and losses, and of transport."""
    yield LineKind(
        *names.PRESSINGS, "1", lambda b: b.good + b.rejects, "good parts and rejects", by=("mould",), item=_first,
        evidence=_mould_life, source=MOULD, measure=MOULD_LIFE, blank="rejects",
        sold=lambda impacts, name: impacts.mould_sold(impacts.workshop.moulds[name]),
    )  # fmt: skip
    made = partial(LineKind, unit="kg", words=f"{DRY_GOOD} × {SHARE}", item=_first, measure=PARTS_MASS)
    yield made(
        *names.in_parts("fibre"), amount=lambda b, item: b.good_dry * b.fibre_share(item), each=("fibre",),
        source=_end(lambda impacts, item: impacts.end_of_life("fibre", item)), sold=_sold_of_parts("paper"),
    )  # fmt: skip
    yield made(
        *names.in_parts("binder"), amount=lambda b: b.good_dry * b.binder_share, by=("binder",),
        source=_end(lambda impacts, item: impacts.end_of_life("binder", item)), sold=_sold_of_parts("part"),
    )  # fmt: skip
    lost = partial(
        LineKind, unit="kg", words=f"{DRY_LOST} × {SHARE}", evidence=_loss_told, measure=LOST_MASS, blank="trim_kg",
        headline=lambda _, route: route != OWN_REJECTS,
    )  # fmt: skip
    yield lost(
        *names.in_losses("fibre"), amount=lambda b, item, loss: b.lost(loss) * b.fibre_share(item), each=("fibre", "loss"),
        by=("{route}", "{column}?"), item=_fibre_lost,
        source=_end(lambda impacts, item, route: impacts.disposed("fibre", item, route)), sold=_sold_of_losses("paper"),
    )  # fmt: skip
    yield lost(
        *names.in_losses("binder"), amount=lambda b, loss: b.lost(loss) * b.binder_share, each=("loss",),
        by=("binder", "{route}", "{column}?"), item=_binder_lost,
        source=_end(lambda impacts, item, route: impacts.disposed("binder", item, route)), sold=_sold_of_losses("part"),
    )  # fmt: skip
    driving = partial(LineKind, item=lambda workshop: workshop.vehicle, source=VEHICLE, measure=DISTANCE)
    yield driving(*names.DRIVING, "km", lambda b: b.recorded("transport_km"), names.DRIVING.account, evidence="metered")
    yield driving(
        *names.estimated(names.DRIVING), "kg", lambda b: b.without("transport_km", b.weighed),
        "paper as weighed, where no distance is recorded", evidence="estimated", rate=_factor("estimate.transport"),
        blank="transport_km",
    )  # fmt: skip


def _sold_of_parts(waste: str) -> Impact:
    return lambda impacts, item: impacts.sold_of(waste, impacts.end_of_life_shares[BURNT])


def _sold_of_losses(waste: str) -> Impact:
    return lambda impacts, item, route: impacts.sold_of(waste, 1.0 if route == FATES[BURNT] else 0.0)


def _sold_of_paper(impacts: UnitImpacts, grade: str, route: str) -> Numbers:
    return impacts.sold_of("paper", impacts.kept(impacts, grade, route)[BURNT])


def _dry_share(impacts: UnitImpacts, grade: str) -> Numbers:
    return 1.0 - impacts.values.get(f"paper.moisture.{grade}")


def _paper() -> Iterator[LineKind]:
    """Yield the lines of diverted paper, and of paper by weight, which emit nothing."""
    fated = partial(LineKind, unit="kg", each=("grade",), by=("fate",), item=_fated)
    yield fated(
        *names.DRY_PAPER, amount=lambda b, grade: b.where("moisture", b.dry(grade)),
        words="paper × (1 − moisture), where moisture is recorded",
        intensity=lambda impacts, grade, route: impacts.avoided(grade, route),
        sold=_sold_of_paper,
    )  # fmt: skip
    yield fated(
        DIVERTED, "paper as weighed", amount=lambda b, grade: b.without("moisture", b.paper(grade)),
        words="paper as weighed, where no moisture is recorded", blank="moisture",
        intensity=lambda impacts, grade, route: impacts.avoided(grade, route) * _dry_share(impacts, grade),
        sold=lambda impacts, grade, route: _sold_of_paper(impacts, grade, route) * _dry_share(impacts, grade),
    )  # fmt: skip
    yield fated(
        *names.COLLECTED, amount=lambda b, grade: b.paper(grade), words="paper as weighed",
        lost=lambda impacts, grade, route: impacts.lost_recycling(grade, route),
    )  # fmt: skip
    yield LineKind(
        *names.DRY_FIBRE, "kg", lambda b, grade: b.dry(grade), "paper × (1 − moisture)", each=("grade",), item=_first
    )
    yield LineKind(
        *names.FRESH_BINDER, "kg", lambda b: b.fresh_binder, "dry binder of batches with fresh paper", by=("binder",),
        item=_first,
    )  # fmt: skip
    fibre = partial(LineKind, unit="kg", each=("fibre",), item=_first)
    yield fibre(
        *names.PUT_TO_USE, amount=lambda b, item: b.as_weighed(b.good_dry * b.fibre_share(item)),
        words=f"{DRY_GOOD} × {SHARE} / {WEIGHED}",
    )  # fmt: skip
    yield LineKind(
        *names.RECOVERED_IN_PARTS, "kg", lambda b, grade: b.good_dry * b.fibre_share(grade), f"dry good parts × {SHARE}",
        each=("grade",), item=_first, headline=False,
    )  # fmt: skip
    yield LineKind(
        *names.PULPED_AGAIN, "kg", lambda b: b.as_weighed(b.own_rejects), f"own rejects, dry × their fibre / {WEIGHED}",
        item=OWN_REJECTS,
    )  # fmt: skip
    yield LineKind(
        *names.OWN_IN_PARTS, "kg", lambda b: b.good_dry * b.fibre_share(OWN_REJECTS),
        "dry good parts × share of own rejects in the dry pulp", headline=False,
    )  # fmt: skip
    yield LineKind(
        *names.RETURNED, "kg", lambda b, item, loss: b.as_weighed(b.lost(loss) * b.fibre_share(item)),
        f"{DRY_LOST} × {SHARE} / {WEIGHED}", each=("fibre", "loss"), by=("{route}", "{column}?"), item=_fibre_lost,
        evidence=lambda workshop, item, *known: _loss_told(workshop, item, *known),
    )  # fmt: skip


def _counts() -> Iterator[LineKind]:
    """Yield the counts, dry masses, hours and cost, which have no evidence class."""
    count = partial(LineKind, evidence="", headline=False)
    yield count(*names.BATCHES, "1", lambda b: b.records.nothing + 1.0, names.BATCHES.activity)
    yield count(*names.GOOD_PARTS, "1", lambda b: b.good, names.GOOD_PARTS.activity, headline=True)
    yield count(*names.REJECTS, "1", lambda b: b.rejects, names.REJECTS.activity)
    yield count(*names.DRY_GOOD_PARTS, "kg", lambda b: b.good_dry, DRY_GOOD)
    yield count(*names.DRY_IN, "kg", lambda b: b.dry_in, "dry fibre, dry binder and dry own rejects", headline=True)
    yield count(*names.DRY_OUT, "kg", lambda b: b.dry_out, "dry good parts, rejects and trim", headline=True)
    words = "binder mass × its solids; dose × dry fibre, where no binder mass is recorded"
    yield count("count", names.DRY_BINDER.activity, "kg", lambda b: b.dry_binder, words)
    for name, unit in (("hours", "h"), ("cost", "1")):
        yield count("count", name, unit, lambda b, name=name: b.recorded(name), name)


LINES = (*_binder(), *_making(), *_parts(), *_paper(), *_counts())
"""Every line of the account; blanks are told in this order."""


@cache
def _by_name(kinds: tuple[LineKind, ...]) -> dict[tuple[str, str], LineKind]:
    return {(kind.account, kind.activity): kind for kind in kinds}


def kind_of(line: Line) -> LineKind:
    """Return the declaration of a line.

    Raises
    ------
    ValueError
        When none is declared under its account and activity.
    """
    found = _by_name(LINES).get((line.account, line.activity))
    if found is None:
        raise ValueError(f"no line {line.activity!r} is declared in the account {line.account!r}")
    return found


def blank_columns() -> dict[str, LineKind]:
    """Return the columns whose blanks are counted and told, each with the line that stands in for them."""
    found: dict[str, LineKind] = {}
    for kind in LINES:
        if kind.blank is not None:
            found.setdefault(kind.blank, kind)
    return found


# -- what one unit emits ---------------------------------------------------------------------------------------


def stage_impact(impacts: UnitImpacts, line: Line) -> Numbers:
    """Return the emission per unit of a line of a life-cycle stage, without the error of its amount. [kgCO2e/unit]"""
    return kind_of(line).unit_impact(impacts, line.item)


def avoided_impact(impacts: UnitImpacts, line: Line) -> Numbers | None:
    """Return the disposal avoided per unit of a line of diverted paper; None for other lines. [kgCO2e/unit]"""
    intensity = kind_of(line).intensity
    if line.account != DIVERTED or intensity is None:
        return None
    return intensity(impacts, *line.item.split("|"))


def lost_impact(impacts: UnitImpacts, line: Line) -> Numbers | None:
    """Return the recycling lost per unit of a line of paper as collected; None for other lines. [kgCO2e/unit]"""
    lost = kind_of(line).lost
    return None if lost is None else lost(impacts, *line.item.split("|"))


def sold_impact(impacts: UnitImpacts, line: Line) -> Numbers | None:
    """Return the credit of electricity sold within the emission of one unit of a line; None without. [kgCO2e/unit]"""
    sold = kind_of(line).sold
    return None if sold is None else sold(impacts, *line.item.split("|"))


def stage_matrix(impacts: UnitImpacts, inventory: Inventory) -> Matrix:
    """Return the unit impacts of the life-cycle stages."""
    return matrix_of(
        impacts.worked, inventory, lambda line: stage_impact(impacts, line) if line.account in STAGES else None, "stage"
    )


def diverted_matrix(impacts: UnitImpacts, inventory: Inventory) -> Matrix:
    """Return what the paper would have emitted by landfill, fire and compost, per unit of its lines."""
    return matrix_of(impacts.worked, inventory, lambda line: avoided_impact(impacts, line), "diverted")


def lost_matrix(impacts: UnitImpacts, inventory: Inventory) -> Matrix:
    """Return what the paper taken from recycling costs, per unit of its lines."""
    return matrix_of(impacts.worked, inventory, lambda line: lost_impact(impacts, line), "lost")


def sold_matrix(impacts: UnitImpacts, inventory: Inventory) -> Matrix:
    """Return what is credited for electricity sold within the stages and within disposal avoided, per unit of their lines."""
    return matrix_of(impacts.worked, inventory, lambda line: sold_impact(impacts, line), "sold")
