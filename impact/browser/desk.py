"""What the pages of the bench are made of: the open batches as of now, as cards and as fields with their doubts."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from impact.base.files import OutputError
from impact.browser.doubts import Doubt, doubts_of, provisional
from impact.browser.entering import (
    GROUPS,
    LATER,
    Field,
    columns_of,
    options_of,
    paper_kg,
    state_of,
    told_mass,
    units_of,
)
from impact.browser.guards import RefusedError, say
from impact.browser.logtable import Cells, LogTable, TableError
from impact.browser.openbatch import (
    METER,
    Bench,
    MeterError,
    OpenBatch,
    Run,
    Said,
    cells_of,
    energy_of,
    fold,
    metered,
    next_name,
    told,
    unit_of,
    unsaid,
)
from impact.browser.served import Reading, Served, served
from impact.browser.takeover import finish
from impact.records.columns import LogColumn

if TYPE_CHECKING:
    from impact.records.workshop import Device

REMEMBERED = 200
"""Rows that tell which device is used for which step, the last ones."""

TAKEN = ("binder", "site", "rejects to")
"""Columns that a batch takes over from the one before it."""

HABITS = (*GROUPS["power"], "trim", "transport")
"""Columns of which a batch takes over that there was none; an amount is weighed or timed anew."""

ENDS = ("before", "after", "shared")
"""What is said of a meter."""

GUESSES = {"shred": "shredding", "blend": "blending", "mix": "blending", "press": "pressing", "fan": "drying", "oven": "drying", "dry": "drying", "cabinet": "drying", "plate": "binder preparation", "cook": "binder preparation", "stove": "binder preparation"}  # fmt: skip
"""What a device is for, by a piece of its name, until the records say it."""


@dataclass(frozen=True)
class Desk:
    """All that a page of the bench is made of, as of one moment."""

    served: Served
    reading: Reading
    table: LogTable
    bench: Bench
    columns: list[LogColumn]
    now: datetime

    @property
    def units(self) -> Mapping[str, str]:
        """Units of a new sheet."""
        return units_of(self.reading)

    @property
    def devices(self) -> Mapping[str, Device]:
        """Devices of the workshop."""
        return self.reading.workshop.equipment if self.reading.workshop else {}

    def cells(self, batch: OpenBatch) -> Cells:
        """Return the row that a batch becomes."""
        return cells_of(batch, self.bench, self.columns, self.table, self.units, self.devices, self.now)

    def batch(self, key: str) -> OpenBatch:
        """Return an open batch by its key, or refuse the request."""
        found = self.bench.batches.get(key)
        if found is None:
            raise RefusedError(
                404,
                "This batch is no longer open: it was closed or put away, maybe on another device. Look under Batches.",
            )
        return found


def desk() -> Desk:
    """Return the bench as it is now; what a stopped program left is written first."""
    where = served()
    try:
        with where.writing():
            try:
                where.journal.repair()
                finish(where)
            except OutputError as error:  # the table waits, and nobody has to
                say(LATER.format(error))
            table = where.table()
            entries = list(where.journal.standing())
    except TableError as error:
        raise RefusedError(409, str(error)) from None
    except OSError as error:
        raise RefusedError(503, f"The folder cannot be written: {error.strerror or error}.") from None
    reading = where.read()
    return Desk(where, reading, table, fold(entries), columns_of(reading), where.now())


@dataclass(frozen=True)
class Card:
    """What the overview says of an open batch."""

    key: str
    name: str
    part: str
    since: str
    good: int
    rejects: int
    flow: str
    missing: list[str]
    doubts: list[Doubt]
    running: int
    tap: tuple[str, str] | None


def card_of(found: Desk, batch: OpenBatch, doubts: list[Doubt] | None = None) -> Card:
    """Return what the overview says of an open batch."""
    missing = unsaid(batch, found.bench, found.columns, found.devices, found.now)
    return Card(
        batch.key, batch.name, batch.fields.get("part") or "", when(batch.entries[0].at, found.now),
        batch.counted("good parts"), batch.counted("rejects"), flow_of(found, batch), [one.name for one in missing],
        doubts_about(found, batch) if doubts is None else doubts, len(found.bench.running(batch.key)), _last_tap(found, batch),
    )  # fmt: skip


def _last_tap(found: Desk, batch: OpenBatch) -> tuple[str, str] | None:
    """Return key and words of the last entry of a batch where that was a tap."""
    last = batch.entries[-1]
    return (last.key, told(last, found.bench)) if last.kind == "count" else None


def flow_of(found: Desk, batch: OpenBatch) -> str:
    """Return in a sentence what went in so far, and what came out."""
    cells = found.cells(batch)
    paper = paper_kg(cells, found.columns, found.table)
    workshop = found.reading.workshop
    part = workshop.parts.get(cells.get("part", "")) if workshop else None
    good = batch.counted("good parts")
    went = f"{told_mass(paper)} of paper in" if paper else "no paper yet"
    came = (
        f", {good} × {told_mass(part.mass_kg)} = {told_mass(good * part.mass_kg)} of parts out" if part and good else ""
    )
    return went + came


def doubts_about(found: Desk, batch: OpenBatch, *, whole: bool = False) -> list[Doubt]:
    """Return the doubts about what was said of a batch; `whole` looks at what it lacks too."""
    cells = found.cells(batch)
    if whole:
        return doubts_of(found.served, batch.name, cells, found.columns)
    paper = paper_kg(cells, found.columns, found.table)
    full = provisional(cells, found.reading.workshop, found.now.date().isoformat(), cells, paper)
    doubts = doubts_of(found.served, batch.name, full, found.columns)
    return [one for one in doubts if one.name in cells and (one.name != "good parts" or batch.said("rejects"))]


def when(text: str, now: datetime) -> str:
    """Return a time as people say it: the time of day, and the day where it is another."""
    at = datetime.fromisoformat(text)
    return f"{at:%H:%M}" if at.date() == now.date() else f"{at:%a %d %b, %H:%M}"


def last_cells(found: Desk, before: str = "") -> tuple[str, Cells]:
    """Return name and cells of the batch that was begun last, or last before an open one; empty without one."""
    keys = list(found.bench.batches)
    earlier = keys[: keys.index(before)] if before in keys else keys
    if earlier:
        last = found.bench.batches[earlier[-1]]
        return last.name, found.cells(last)
    names = found.table.batches()
    return (names[-1], found.table.cells_of(names[-1]) or {}) if names else ("", {})


def cells_named(found: Desk, name: str) -> Cells:
    """Return the cells of a batch by its name, open or closed; none without one."""
    is_open = next((one for one in found.bench.batches.values() if one.name == name), None)
    return found.cells(is_open) if is_open else found.table.cells_of(name) or {}


def taken_over(found: Desk, cells: Cells) -> dict[str, Said]:
    """Return what the next batch likely shares with one: its binder, its place, the way of its rejects, and what it had none of."""
    fields: dict[str, Said] = {}
    for column in found.columns:
        cell, known = cells.get(column.name, ""), {one for one, _ in options_of(column, found.reading)}
        if column.name in TAKEN and cell and cell in (known or {cell}):
            fields[column.name] = cell
    return fields | {name: "0" for name in HABITS if state_of(cells.get(name, "")) == "none"}


def taken_words(fields: Mapping[str, Said]) -> str:
    """Return what is taken over in words: ``binder corn-starch, no shredding``."""
    return ", ".join(f"no {name}" if name in HABITS else f"{name} {text}" for name, text in fields.items())


def taken_from(batch: OpenBatch, name: str) -> str:
    """Return the batch that a field was taken over from, empty once it was said anew."""
    taken = batch.entries[0].data.get("taken", {}) if batch.entries else {}
    anew = any(name in one.data.get("fields", {}) for one in batch.entries[1:] if one.kind == "set")
    return str(taken.get("batch", "")) if name in taken.get("names", ()) and not anew else ""


def next_free(found: Desk) -> str:
    """Return a name that no batch has yet."""
    return next_name([*found.table.batches(), *(batch.name for batch in found.bench.batches.values())])


def require_free(found: Desk, name: str) -> None:
    """Refuse a name that a row or an open batch has."""
    if name in found.table.batches() or any(name == one.name for one in found.bench.batches.values()):
        raise RefusedError(
            409, f'There is a batch "{name}" already. Accepted: another name, such as {next_free(found)}.'
        )


def runs_now(found: Desk, batch: str | None = None) -> list[tuple[Run, str, list[tuple[str, str, bool]]]]:
    """Return what runs, each with when it was started and the open batches that may share it."""
    return [
        (run, when(run.start.isoformat(), found.now), [(one.key, one.name, one.key in run.batches) for one in found.bench.batches.values()])
        for run in found.bench.running(batch)
    ]  # fmt: skip


def field_of(found: Desk, batch: OpenBatch, column: LogColumn, doubts: Iterable[Doubt]) -> Field:
    """Return a column of an open batch as a field."""
    said, derived = batch.said(column.name), ""
    if column.kind == "energy":
        entry, known = energy_of(batch, column.name, found.bench, found.devices, found.now)
        derived = f"{entry} (from the {known})" if known in ("meter", "time") and entry else ""
    mine = tuple(one for one in doubts if one.name == column.name)
    unit = unit_of(column, found.table, found.bench, found.units)
    value = "" if said is None or derived else said
    state = "said" if derived else state_of(said)
    return Field(
        column, value, state, unit, derived, options_of(column, found.reading), (*mine, *_meter_doubts(batch, column)),
        taken_from(batch, column.name),
    )  # fmt: skip


def _meter_doubts(batch: OpenBatch, column: LogColumn) -> tuple[Doubt, ...]:
    if column.kind != "energy":
        return ()
    try:
        metered(batch, column.name)
    except MeterError as error:
        return (Doubt(column.name, str(error), "", True, (), False),)
    return ()


def meters_of(batch: OpenBatch) -> dict[str, tuple[str, str, str]]:
    """Return the readings of each step: before, after, and how many share it."""
    return {step: tuple(batch.fields.get(f"{METER}.{step}.{end}") or "" for end in ENDS) for step in GROUPS["power"]}  # type: ignore[misc]


def pairs_of(found: Desk, last: Cells) -> list[tuple[str, str, bool]]:
    """Return which device was used for which step, by the records, else by its name; first those of the last batch, with a mark."""
    places = range(max(1, len(found.table.records) - REMEMBERED), len(found.table.records))
    usual = _pairs_in(found, last)
    pairs = dict.fromkeys([*usual, *(pair for place in places for pair in _pairs_in(found, found.table.cells(place)))])
    for device in found.devices:
        guess = next((step for piece, step in GUESSES.items() if piece in device.casefold()), None)
        if guess and all(one != device for one, _ in pairs):
            pairs[device, guess] = None
    return [(device, step, (device, step) in usual) for device, step in pairs]


def _pairs_in(found: Desk, cells: Cells) -> list[tuple[str, str]]:
    return [
        (device, step)
        for step, cell in cells.items()
        if step in GROUPS["power"]
        for device in found.devices
        if cell.casefold().startswith(device.casefold())
    ]


def weighed(found: Desk, unit: str) -> dict[str, dict[str, Said]]:
    """Return by batch the bare masses that were typed so far, with their unit, so that another scale changes none."""
    masses = [one.name for one in found.columns if one.kind in ("paper", "mass")]
    fields: dict[str, dict[str, Said]] = {}
    for key, batch in found.bench.batches.items():
        for name in masses:
            text = batch.fields.get(name) or ""
            if re.fullmatch(r"[\d.,]*[1-9][\d.,]*", text):
                fields.setdefault(key, {})[name] = f"{text} {unit}"
    return fields
