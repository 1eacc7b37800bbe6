"""Open batches: what was said of them so far, folded from the entries; the row that each becomes when it is closed.

A batch stays open for days. What was not said yet, "none" and "not recorded" are three things: an empty text, a 0 and
None. A run of a device is its start and its stop, two entries; it may be shared by several batches.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from impact.base.problems import counted
from impact.base.units import UnitError, parse_quantity
from impact.browser.journal import Entry
from impact.browser.logtable import Cells, LogTable
from impact.records.columns import LogColumn
from impact.records.workshop import Device

Said = str | None
"""What was said of a column: a text, 0 for none, None for not recorded; empty for nothing said yet."""

METER = "meter"
"""Start of the names of readings: ``meter.drying.before``, ``.after``, ``.shared``."""

COUNTS = ("good parts", "rejects")


@dataclass
class OpenBatch:
    """A batch that is added to.

    Attributes
    ----------
    key : str
        Key of the entry that opened it.
    fields : dict
        What was said of its columns, and of readings of meters.
    entries : list of Entry
        All that stands of it, the first opened it.
    """

    key: str
    fields: dict[str, Said]
    entries: list[Entry] = field(default_factory=list)

    @property
    def name(self) -> str:
        """Its name, as the table will have it."""
        return self.fields.get("batch") or ""

    def counted(self, what: str) -> int:
        """Return how many parts were tapped."""
        taps = (one for one in self.entries if one.kind == "count" and one.data.get("what") == what)
        return max(0, sum(int(one.data.get("n", 0)) for one in taps))

    def said(self, name: str) -> Said:
        """Return what was said of a column; of a count the taps."""
        if name in COUNTS and any(one.kind == "count" and one.data.get("what") == name for one in self.entries):
            return str(self.counted(name))
        return self.fields.get(name, "")


@dataclass
class Run:
    """A run of a device.

    Attributes
    ----------
    key : str
        Key of the entry that started it.
    device, step : str
        Which device, and for which column of the log.
    batches : list of str
        Keys of the open batches that it is for.
    start : datetime
        When it was started.
    stop : datetime or None
        When it was stopped; None while it runs.
    """

    key: str
    device: str
    step: str
    batches: list[str]
    start: datetime
    stop: datetime | None = None

    def hours(self, now: datetime) -> float:
        """Return how long it ran, so far where it runs. [h]"""
        return max(0.0, ((self.stop or now) - self.start).total_seconds() / 3600.0)


@dataclass
class Bench:
    """All that is open.

    Attributes
    ----------
    batches : dict
        Open batches by key, the newest last.
    runs : dict
        All runs by key, those of closed batches too.
    units : dict
        Units that were chosen for scales, by kind.
    discarded : set
        Keys of batches that were put away, which share no run.
    """

    batches: dict[str, OpenBatch] = field(default_factory=dict)
    runs: dict[str, Run] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    discarded: set[str] = field(default_factory=set)

    def note(self, entry: Entry) -> None:
        """Note a start or a stop with the open batches that it is for."""
        for key in entry.data["batches"]:
            if key in self.batches:
                self.batches[key].entries.append(entry)

    def running(self, batch: str | None = None) -> list[Run]:
        """Return the runs that were not stopped yet, of one batch or all."""
        return [one for one in self.runs.values() if one.stop is None and (batch is None or batch in one.batches)]

    def runs_of(self, batch: str, step: str) -> list[tuple[Run, int]]:
        """Return the finished runs of a batch for a step, each with the number of batches that share it."""
        mine = [one for one in self.runs.values() if batch in one.batches and one.step == step and one.stop]
        return [(one, len([key for key in one.batches if key not in self.discarded])) for one in mine]


def fold(entries: Iterable[Entry]) -> Bench:
    """Return what is open after entries, none of which was undone."""
    bench = Bench()
    gone: set[str] = set()
    for entry in entries:
        data = entry.data
        match entry.kind:
            case "open":
                bench.batches[entry.key] = OpenBatch(entry.key, dict(data["fields"]), [entry])
            case "set" | "count" if entry.about in bench.batches:
                batch = bench.batches[entry.about]
                batch.fields.update(data.get("fields", {}))
                batch.entries.append(entry)
            case "start":
                at = datetime.fromisoformat(data["at"])
                bench.runs[entry.key] = Run(entry.key, data["device"], data["step"], list(data["batches"]), at)
                bench.note(entry)
            case "stop" if entry.about in bench.runs:
                run = bench.runs[entry.about]
                run.stop, run.batches = datetime.fromisoformat(data["at"]), list(data["batches"])
                bench.note(entry)
            case "close" | "discard":
                gone.add(entry.about)
                bench.discarded |= {entry.about} if entry.kind == "discard" else set()
            case "unit":
                bench.units[str(data["kind"])] = str(data["unit"])
                for key, fields in data.get("fields", {}).items():
                    if key in bench.batches:
                        bench.batches[key].fields.update(fields)
    for key in gone:
        bench.batches.pop(key, None)
    bench.runs = {
        key: run for key, run in bench.runs.items() if run.stop or any(one in bench.batches for one in run.batches)
    }
    return bench


def unit_of(column: LogColumn, table: LogTable, bench: Bench, units: Mapping[str, str]) -> str:
    """Return the unit that stands beside the field of a column.

    Of a mass it is the one of the scale that was chosen, else that of the sheet, else that of new sheets.
    """
    kind = "mass" if column.kind in ("paper", "mass") else column.kind
    if kind in bench.units:
        return bench.units[kind]
    return table.unit(column.name) or (units.get(kind, "") if kind == "mass" else column.unit)


def written(text: str, unit: str, column: LogColumn, table: LogTable) -> str:
    """Return an amount as the table has it: bare where the header has the unit beside the field, else with that unit."""
    if not re.fullmatch(r"[\d.,'\s]+", text) or not unit or text.strip("0.,") == "":
        return text
    stands = table.unit(column.name) or column.unit
    return text if unit == stands else f"{text} {unit}"


def hours_told(hours: float) -> str:
    """Return a time as a cell has it: minutes below an hour, then hours; never three decimals, which could be thousands."""
    if hours < 1.0:
        return f"{max(hours * 60.0, 0.1):.1f}".removesuffix(".0") + " min"
    return f"{hours:.2f}".rstrip("0").rstrip(".") + " h"


class MeterError(ValueError):
    """Raised for readings that are no energy; the text is a sentence."""


def _decimal(text: str) -> str:
    """Return a reading with a decimal point; a meter parts no thousands, so one mark alone is that of decimals."""
    return text.replace(",", ".") if text.count(",") == 1 and "." not in text else text


def metered(batch: OpenBatch, step: str) -> str:
    """Return the energy entry of two readings of a meter, empty where there are not both.

    Raises
    ------
    MeterError
        A reading is no energy, or the second is below the first.
    """
    texts = [batch.fields.get(f"{METER}.{step}.{end}") or "" for end in ("before", "after")]
    if not all(texts):
        return ""
    try:
        before, after = (parse_quantity(_decimal(text), "energy") for text in texts)
    except UnitError as error:
        raise MeterError(f'read "{error.read}": {error.reason}. Accepted: {error.accepted}.') from None
    if after < before:
        raise MeterError(
            f'read "{texts[0]}" before and "{texts[1]}" after: a meter does not run back. Accepted: a reading after that is larger.'
        )
    shared = batch.fields.get(f"{METER}.{step}.shared") or "1"
    divisor = "" if shared == "1" else f" / {shared}"
    return f"{(after - before) * 1000.0:.1f}".removesuffix(".0") + f" Wh{divisor}"


def timed(runs: Sequence[tuple[Run, int]], devices: Mapping[str, Device], now: datetime) -> str:
    """Return the energy entry of finished runs, empty without one.

    Runs of one device that were shared alike are one time; of others the shares are added up, and of several devices
    their mean power stands with their time.
    """
    if not runs:
        return ""
    names, divisors = {run.device for run, _ in runs}, {shared for _, shared in runs}
    if len(names) == 1 and len(divisors) == 1:
        (name,), (shared,) = names, divisors
        total = sum(run.hours(now) for run, _ in runs)
        return f"{name} {hours_told(total)}" + (f" / {shared}" if shared > 1 else "")
    total = sum(run.hours(now) / shared for run, shared in runs)
    if len(names) == 1:
        return f"{names.pop()} {hours_told(total)}"
    drawn = [(devices[run.device], run.hours(now) / shared) for run, shared in runs if run.device in devices]
    watts = sum(device.power_w * device.load * hours for device, hours in drawn) / total if total else 0.0
    return f"{watts:.1f} W x {hours_told(total)}"


def energy_of(
    batch: OpenBatch, step: str, bench: Bench, devices: Mapping[str, Device], now: datetime
) -> tuple[Said, str]:
    """Return the energy entry of a step and how it is known: typed, meter, time, or nothing.

    What was typed goes before a meter, a meter before the time.
    """
    typed = batch.fields.get(step, "")
    if typed:
        return typed, "typed"
    try:
        by_meter = metered(batch, step)
    except MeterError:
        by_meter = ""
    if by_meter:
        return by_meter, "meter"
    by_time = timed(bench.runs_of(batch.key, step), devices, now)
    return (by_time, "time") if by_time else (typed, "")


def cells_of(
    batch: OpenBatch, bench: Bench, columns: Iterable[LogColumn], table: LogTable, units: Mapping[str, str],
    devices: Mapping[str, Device], now: datetime,
) -> Cells:  # fmt: skip
    """Return the filled cells of the row that an open batch becomes."""
    row: Cells = {}
    for column in columns:
        if column.kind == "energy":
            said = energy_of(batch, column.name, bench, devices, now)[0]
        else:
            said = batch.said(column.name)
        if said:
            row[column.name] = written(said, unit_of(column, table, bench, units), column, table)
    return row


def unsaid(
    batch: OpenBatch, bench: Bench, columns: Iterable[LogColumn], devices: Mapping[str, Device], now: datetime
) -> list[LogColumn]:
    """Return the columns of which nothing was said, and a blank of which costs: they would be estimated."""
    found = []
    for column in columns:
        if not (column.required or column.missing):
            continue
        said = (
            energy_of(batch, column.name, bench, devices, now)[0]
            if column.kind == "energy"
            else batch.said(column.name)
        )
        running = any(one.step == column.name for one in bench.running(batch.key))
        if said == "" and not running and not (column.name == "binder mass" and batch.fields.get("binder") == "none"):
            found.append(column)
    return found


def next_name(taken: Iterable[str]) -> str:
    """Return a name for the next batch: the last one that ends in a number, counted on; 001 where there is none."""
    names = list(taken)
    for name in reversed(names):
        found = re.fullmatch(r"(.*?)(\d{1,9})", name)
        if found:
            number, width = int(found[2]), len(found[2])
            while (made := f"{found[1]}{(number := number + 1):0{width}d}") in names:
                pass
            return made
    return "001"


def told(entry: Entry, bench: Bench) -> str:
    """Return in a few words what an entry did."""
    data = entry.data
    match entry.kind:
        case "count":
            n, what = int(data.get("n", 1)), str(data.get("what"))
            return f"+{counted(n, what.removesuffix('s'))}"
        case "set":
            said = [
                f"{name.replace(METER + '.', 'meter ')}: {_word(value)}"
                for name, value in data.get("fields", {}).items()
            ]
            return ", ".join(said)
        case "start":
            return f"{data['device']} started"
        case "stop":
            return f"{bench.runs[entry.about].device if entry.about in bench.runs else 'a device'} stopped"
        case "open":
            return "opened"
    return entry.kind


def _word(value: Said) -> str:
    return "not recorded" if value is None else value or "nothing"
