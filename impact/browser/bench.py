"""Bench: the batches that are open, a card for each, weighed, timed and counted over days until they are closed."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from flask import Blueprint, redirect, render_template, request, url_for

from impact.browser.desk import (
    ENDS,
    Desk,
    card_of,
    cells_named,
    desk,
    doubts_about,
    field_of,
    last_cells,
    meters_of,
    next_free,
    pairs_of,
    require_free,
    runs_now,
    taken_over,
    taken_words,
    weighed,
    when,
)
from impact.browser.doubts import Doubt
from impact.browser.entering import (
    GROUPS,
    SELDOM,
    Answer,
    alone,
    entering,
    grades_of,
    key_of,
    known_names,
    now_text,
    text_of,
)
from impact.browser.guards import RefusedError
from impact.browser.journal import Change, Entry
from impact.browser.openbatch import COUNTS, METER, OpenBatch, Run, Said, told, unit_of
from impact.browser.pages import Page
from impact.browser.served import served
from impact.browser.takeover import told as told_workbook
from impact.browser.takeover import waiting

blueprint = Blueprint("bench", __name__)
PAGE = Page("Bench", "/bench", blueprint)

MASSES = ("g", "kg", "oz", "lb")
"""Units that a scale may show."""

EMPTY = ("no-rows", "missing-file")
"""What is wrong with a folder that holds no batch yet, and nothing to settle."""

TAKEN_BACK = ("set", "count", "start", "stop")
"""Kinds of entries that are taken back from there; what changed a row is taken back under Batches, with its row."""

UNDONE = 3
"""Entries of a batch that can be taken back from its page, the last ones."""


@blueprint.app_context_processor
def words() -> dict[str, Any]:
    """Give the templates the time that a device ran so far, in words."""
    return {"told_hours": lambda run: _told_hours(run.hours(served().now()))}


def _told_hours(hours: float) -> str:
    """Return a time so far in hours and minutes, as a clock of the page has it too."""
    minutes = int(hours * 60.0)
    return f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else f"{minutes} min"


@blueprint.get("")
def bench() -> Answer:
    """Show all open batches."""
    if waiting(served()) is not None:
        return told_workbook(served())
    found = desk()
    cards = [card_of(found, batch) for batch in reversed(found.bench.batches.values())]
    parts = list(found.reading.workshop.parts) if found.reading.workshop else []
    last, cells = last_cells(found)
    return render_template(
        "bench.html", cards=cards, parts=parts, last=cells.get("part", ""), runs=runs_now(found), name=next_free(found),
        before=last, taken=taken_words(taken_over(found, cells)),
        errors=any(one.level == "error" and one.code not in EMPTY for one in found.reading.problems),
    )  # fmt: skip


@blueprint.post("/open")
@alone
def open_batch() -> Answer:
    """Open a batch; where the form says so, with what it likely shares with the one before it."""
    found, key = desk(), key_of()
    part, name = text_of("part"), text_of("name") or next_free(found)
    parts = found.reading.workshop.parts if found.reading.workshop else {}
    if part not in parts:
        raise RefusedError(400, f'"{part}" is no part of this workshop. Accepted: {", ".join(parts)}.')
    if key not in found.served.journal.keys:
        require_free(found, name)
    fields: dict[str, Said] = {"batch": name, "part": part, "date": found.now.date().isoformat()}
    before = text_of("as")
    taken = taken_over(found, cells_named(found, before)) if before else {}
    data = {"fields": fields | taken, **({"taken": {"batch": before, "names": list(taken)}} if taken else {})}
    entry = Entry(key, now_text(found.served), "open", data=data)
    return entering(found.served, entry, url_for("bench.batch", key=key))


@blueprint.get("/<key>")
def batch(key: str) -> Answer:
    """Show one open batch."""
    found = desk()
    return _page(found, found.batch(key))


def _page(found: Desk, batch: OpenBatch, *, doubts: Iterable[Doubt] | None = None, refused: str = "") -> str:
    doubts = list(doubts_about(found, batch) if doubts is None else doubts)
    fields = {column.name: field_of(found, batch, column, doubts) for column in found.columns}
    grades = [one.name for one in grades_of(found.reading, found.table, batch.fields)]
    more = [one.name for one in found.columns if one.kind == "paper" and one.name not in (*grades, "own rejects")]
    groups = {
        name: [fields[one] for one in ((*grades, *names) if name == "paper" else names) if one not in COUNTS]
        for name, names in GROUPS.items()
    }
    seldom = {one for one in SELDOM if one not in found.table.names and not batch.fields.get(one)}
    undone = found.served.journal.undone()
    before, cells = last_cells(found, batch.key)
    last = [one for one in reversed(batch.entries[1:]) if one.key not in undone][:UNDONE]
    return render_template(
        "batch.html", batch=batch, groups=groups, seldom=seldom, more=[fields[one] for one in more], fields=fields,
        card=card_of(found, batch, doubts), runs=runs_now(found, batch.key), pairs=pairs_of(found, cells), before=before, devices=list(found.devices),
        steps=GROUPS["power"], meters=meters_of(batch), masses=MASSES, refused=refused, batches=list(found.bench.batches.values()),
        mass=unit_of(next(one for one in found.columns if one.kind == "mass"), found.table, found.bench, found.units),
        last=[(one.key, told(one, found.bench), when(one.at, found.now)) for one in last],
        stray=[one for one in doubts if one.name not in fields],
    )  # fmt: skip


@blueprint.post("/<key>/set")
@alone
def set_fields(key: str) -> Answer:
    """Keep what was typed, chosen or said of a batch; nothing that another device wrote meanwhile is written over."""
    found, entry_key = desk(), key_of()
    batch = found.batch(key)
    if entry_key in found.served.journal.keys:
        return redirect(_back(key), 303)
    changes, clashes = _typed(found, batch)
    changes |= _said(batch, request.form.get("say", ""), known_names(found.columns))
    if "batch" in changes:
        require_free(found, changes["batch"] or "")
    if not changes and clashes:
        return render_template("clash.html", batch=batch, clashes=clashes), 409
    if changes:
        entry = Entry(entry_key, now_text(found.served), "set", key, {"fields": changes})
        answer = entering(found.served, entry, _back(key))
        if clashes:
            return render_template("clash.html", batch=batch, clashes=clashes), 409
        return answer
    return redirect(_back(key), 303)


def _back(key: str) -> str:
    place = re.sub(r"[^\w-]", "", request.form.get("place", ""))
    return url_for("bench.batch", key=key, _anchor=place or None)


def _typed(found: Desk, batch: OpenBatch) -> tuple[dict[str, Said], list[tuple[str, str, str]]]:
    """Return the fields that were changed, and those that another device changed meanwhile: name, theirs, and this."""
    known = {*known_names(found.columns), *(f"{METER}.{step}.{end}" for step in GROUPS["power"] for end in ENDS)}
    changes: dict[str, Said] = {}
    clashes = []
    for sent in request.form:
        name = sent.removeprefix("f.")
        if name == sent or name not in known or name in COUNTS:
            continue
        text, was, now = text_of(sent), text_of(f"was.{name}"), batch.fields.get(name) or ""
        if text in (was, now):
            continue
        if now != was:
            clashes.append((name, now, text))
        else:
            changes[name] = text
    return changes, clashes


def _said(batch: OpenBatch, said: str, known: Iterable[str]) -> dict[str, Said]:
    """Return what a button says: ``none``, ``unknown`` or ``clear`` and a column, ``confirm`` and one, ``put`` one and a text."""
    what, _, rest = said.partition(":")
    name, _, text = rest.partition(":")
    if not what:
        return {}
    if name not in known or len(text) > 200 or not text.isprintable():
        raise RefusedError(400, "This button is not one of this page. Open the page again.")
    match what:
        case "none":
            return {name: "0"}
        case "unknown":
            return {name: None}
        case "clear":
            return {name: ""}
        case "put":
            return {name: text}
        case "confirm":
            before = [one for one in re.split(r"\s*[;,]\s*", batch.fields.get("confirmed") or "") if one]
            return {"confirmed": "; ".join(dict.fromkeys([*before, name]))}
    raise RefusedError(400, "This button is not one of this page. Open the page again.")


@blueprint.post("/<key>/count")
@alone
def count(key: str) -> Answer:
    """Count parts."""
    found, what, number = desk(), text_of("what"), text_of("n") or "1"
    found.batch(key)
    if what not in COUNTS or not re.fullmatch(r"\d{1,5}", number):
        raise RefusedError(400, f'"{number}" is no number of parts. Accepted: a whole number such as 3.')
    entry = Entry(key_of(), now_text(found.served), "count", key, {"what": what, "n": int(number)})
    return entering(found.served, entry, _to(key))


def _to(key: str) -> str:
    """Return where a form leads that stands on the overview too."""
    return url_for("bench.bench") if request.form.get("from") == "bench" else _back(key)


@blueprint.post("/<key>/start")
@alone
def start(key: str) -> Answer:
    """Start a device; when is a fact in the folder, and no counter in a page."""
    found = desk()
    found.batch(key)
    device, _, step = text_of("pair").partition(" > ")
    device, step = text_of("device") or device, text_of("step") or step
    if device not in found.devices or step not in GROUPS["power"]:
        accepted = ", ".join(found.devices) or "none; add devices under Set-up"
        raise RefusedError(400, f'"{device}" is no device of this workshop. Accepted: {accepted}.')
    data = {"device": device, "step": step, "batches": [key], "at": now_text(found.served)}
    entry = Entry(key_of(), now_text(found.served), "start", data=data)
    return entering(found.served, entry, _back(key))


@blueprint.post("/runs/<run>/stop")
@alone
def stop(run: str) -> Answer:
    """Stop a device, for the batches that shared it."""
    found, key = desk(), key_of()
    running = found.bench.runs.get(run)
    if running is None:
        raise RefusedError(404, "This run is no longer here: it was taken back, maybe on another device.")
    shared = [one for one in request.form.getlist("batch") if one in found.bench.batches]
    if running.stop is not None and key not in found.served.journal.keys:
        raise RefusedError(409, f"{running.device} was stopped already, maybe on another device.")
    if not shared:
        raise RefusedError(400, "No batch was named that this run was for. Accepted: one batch or more.")
    at = _stopped_at(running, found.now)
    data = {"at": at.isoformat(timespec="seconds"), "batches": shared}
    entry = Entry(key, now_text(found.served), "stop", run, data)
    to = shared[0] if request.form.get("from") == "bench" else request.form.get("from", shared[0])
    return entering(found.served, entry, _to(to if to in found.bench.batches else shared[0]))


def _stopped_at(run: Run, now: datetime) -> datetime:
    """Return when a run was stopped: now, or at the earlier time that was typed."""
    typed = text_of("at")
    if not typed:
        return now
    try:
        at = datetime.fromisoformat(typed)
    except ValueError:
        raise RefusedError(400, f'"{typed}" is no time. Accepted: a time such as {now:%Y-%m-%dT%H:%M}.') from None
    if at.tzinfo is None and now.tzinfo is not None:
        of_system = now.utcoffset() == now.astimezone().utcoffset()
        at = at.astimezone() if of_system else at.replace(tzinfo=now.tzinfo)
    if not run.start <= at <= now:
        raise RefusedError(
            400,
            f"The device was started at {run.start:%Y-%m-%d %H:%M}, and it is {now:%Y-%m-%d %H:%M}. Accepted: a time between.",
        )
    return at


@blueprint.post("/<key>/undo")
@alone
def undo(key: str) -> Answer:
    """Take back one entry about a batch."""
    found, of = desk(), text_of("of")
    entry = found.served.journal.keys.get(of)
    if (
        entry is None
        or entry.kind not in TAKEN_BACK
        or not (entry.about == key or entry.about in found.bench.runs or of in found.bench.runs)
    ):
        raise RefusedError(404, "There is no such entry to take back.")
    undoing = Entry(key_of(), now_text(found.served), "undo", of)
    return entering(found.served, undoing, _to(key), f"Taken back: {told(entry, found.bench)}.")


@blueprint.post("/<key>/unit")
@alone
def unit(key: str) -> Answer:
    """Choose the unit of the scale, for all masses from now on."""
    found, chosen = desk(), text_of("unit")
    if chosen not in MASSES:
        raise RefusedError(400, f'"{chosen}" is no unit of a scale here. Accepted: {", ".join(MASSES)}.')
    mass = next(one for one in found.columns if one.kind == "mass")
    before = unit_of(mass, found.table, found.bench, found.units)
    fields = weighed(found, before) if chosen != before else {}
    entry = Entry(key_of(), now_text(found.served), "unit", data={"kind": "mass", "unit": chosen, "fields": fields})
    return entering(found.served, entry, _back(key))


@blueprint.post("/<key>/close")
@alone
def close(key: str) -> Answer:
    """Close a batch: it becomes a row of the table."""
    found, entry_key = desk(), key_of()
    to = url_for("bench.bench")
    if entry_key in found.served.journal.keys:
        return redirect(to, 303)
    batch = found.batch(key)
    running = found.bench.running(key)
    needed = [one.name for one in found.columns if one.required and batch.said(one.name) in ("", None)]
    words = [f"{run.device} still runs; stop it first" for run in running]
    words += [f"still to say: {', '.join(needed)}"] if needed else []
    doubts = doubts_about(found, batch, whole=not needed)
    if any(one.is_error for one in doubts):
        words.append("what stands beside a field has to be settled or confirmed first")
    if words:
        refused = f"Not closed: {'; '.join(words)}."
        return _page(found, batch, doubts=doubts, refused=refused), 409
    cells = found.cells(batch)
    entry = Entry(entry_key, now_text(found.served), "close", key, change=Change(batch.name, None, cells))
    return entering(found.served, entry, to, f"Batch {batch.name} is closed and stands in the table, under Batches.")


@blueprint.post("/<key>/discard")
@alone
def discard(key: str) -> Answer:
    """Put an open batch away; what was said of it stays in the journal."""
    found = desk()
    name = found.batch(key).name
    entry = Entry(key_of(), now_text(found.served), "discard", key)
    return entering(
        found.served,
        entry,
        url_for("bench.bench"),
        f"Batch {name} was put away. It can be taken back under Batches.",
    )
