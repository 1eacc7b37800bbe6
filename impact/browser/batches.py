"""Batches: the rows of the table, worst doubt first; mended, taken out and taken back; the sums of each month."""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from flask import Blueprint, redirect, render_template, request, url_for

from impact.base.problems import Problem, errors, worst_first
from impact.browser.desk import Desk, desk, require_free, when
from impact.browser.doubts import Doubt, doubts_of
from impact.browser.entering import (
    GROUPS,
    LONGEST,
    Answer,
    Field,
    alone,
    entering,
    key_of,
    known_names,
    now_text,
    options_of,
    paper_kg,
    state_of,
    text_of,
    told_mass,
)
from impact.browser.guards import RefusedError
from impact.browser.journal import Change, Entry
from impact.browser.logtable import FILE, Cells
from impact.browser.pages import Page
from impact.browser.served import served
from impact.browser.takeover import waiting

if TYPE_CHECKING:
    from impact.records.columns import LogColumn

blueprint = Blueprint("batches", __name__)
PAGE = Page("Batches", "/batches", blueprint)

LATEST = 20
"""Changes that can be taken back from the list, the last ones."""

SHOWN = 100
"""Rows without a doubt that are listed at first."""

WORDS = {"close": "closed", "edit": "mended", "remove": "taken out", "discard": "put away", "undo": "taken back"}


@dataclass(frozen=True)
class Row:
    """A batch in the list."""

    name: str
    day: str
    part: str
    paper: str
    good: str
    rejects: str
    problems: list[Problem]

    @property
    def is_error(self) -> bool:
        """Whether something has to be settled before anything is worked out."""
        return any(one.level == "error" for one in self.problems)

    @property
    def weight(self) -> tuple[bool, float]:
        """How bad its worst doubt is."""
        return self.is_error, max((one.times for one in self.problems), default=0.0)


@dataclass(frozen=True)
class Month:
    """The sums of a month, of the batches as the figures count them."""

    name: str
    batches: int
    paper_kg: float
    good: int
    rejects: int | None


@blueprint.get("")
def batches() -> Answer:
    """List all batches."""
    if waiting(served()) is not None:
        return redirect(url_for("bench.bench"))
    found = desk()
    rows = _rows(found)
    doubted = sorted((one for one in rows if one.problems), key=lambda one: one.weight, reverse=True)
    others = [one for one in reversed(rows) if not one.problems]
    shown = len(others) if request.args.get("all") else SHOWN
    elsewhere = [one for one in worst_first(found.reading.problems) if one.file != FILE or one.row is None]
    return render_template(
        "batches.html", doubted=doubted, others=others[:shown], more=len(others[shown:]), months=_months(found), elsewhere=elsewhere,
        changes=_changes(found), open=len(found.bench.batches),
    )  # fmt: skip


def _rows(found: Desk) -> list[Row]:
    problems: dict[int, list[Problem]] = defaultdict(list)
    for one in worst_first(found.reading.problems):
        if one.file == FILE and one.row is not None and found.table.batches():
            problems[one.row].append(one)
    rows = []
    for place in range(1, len(found.table.records)):
        cells = found.table.cells(place)
        if cells:
            paper = paper_kg(cells, found.columns, found.table)
            rows.append(
                Row(
                    cells.get("batch", ""), cells.get("date", ""), cells.get("part", ""), told_mass(paper) if paper else "",
                    cells.get("good parts", ""), cells.get("rejects", ""), problems[place + 1],
                )
            )  # fmt: skip
    return rows


def _months(found: Desk) -> list[Month]:
    """Return the sums by month, the last first; none while something has to be settled."""
    if found.reading.folder is None or errors(found.reading.problems):
        return []
    frame = found.reading.folder.batches
    frame = frame.assign(paper=frame[[one for one in frame if str(one).startswith("paper.")]].sum(axis=1))
    months = []
    for month, rows in frame.groupby(frame["date"].dt.to_period("M")):
        rejects = rows["rejects"]
        months.append(
            Month(
                month.strftime("%B %Y"), len(rows), float(rows["paper"].sum()), int(rows["good_parts"].sum()),
                None if rejects.isna().any() else int(rejects.sum()),
            )
        )  # fmt: skip
    return months[::-1]


def _changes(found: Desk) -> list[tuple[Entry, str, str, bool]]:
    """Return the last entries that changed rows or put batches away: each with what it did, when, and whether it stands."""
    undone = found.served.journal.undone()
    kinds = ("close", "edit", "remove", "discard")
    last = [one for one in reversed(found.served.journal.entries) if one.kind in kinds][:LATEST]
    return [
        (one, f"{_name(one, found)} {WORDS[one.kind]}", when(one.at, found.now), one.key not in undone) for one in last
    ]


def _name(entry: Entry, found: Desk) -> str:
    if entry.change is not None:
        return entry.change.batch
    opened = found.served.journal.keys.get(entry.about)
    return str(opened.data["fields"].get("batch")) if opened else ""


def mark_of(cells: Cells) -> str:
    """Return what tells a row from itself after a change."""
    return hashlib.sha256(json.dumps(cells, sort_keys=True).encode()).hexdigest()[:32]


def _cells(found: Desk, name: str) -> Cells:
    cells = found.table.cells_of(name)
    if cells is None:
        raise RefusedError(404, f'There is no batch "{name}" in {FILE}. It may have been taken out, or renamed.')
    return cells


@blueprint.get("/row")
def row() -> Answer:
    """Show one row to mend."""
    found = desk()
    name = request.args.get("batch", "")
    return _page(found, name, _cells(found, name))


def _page(found: Desk, name: str, cells: Cells, *, before: Cells | None = None) -> str:
    doubts = doubts_of(found.served, name, cells, found.columns)
    known = {one.name: one for one in found.columns}
    shown = [one for one in found.columns if one.name in cells or one.name in found.table.names]
    fields = [
        _field(found, one, cells, doubts)
        for one in shown
        if one.name != "confirmed" and (one.name != "batch" or not name)
    ]
    return render_template(
        "row.html", name=name, fields=_grouped(fields), mark=mark_of(before or cells), before=json.dumps(before or cells),
        kept={one: cell for one, cell in cells.items() if one not in known}, confirmed=cells.get("confirmed", ""),
        stray=[one for one in doubts if one.name not in {field.name for field in fields}],
        further=[one for one in found.columns if one not in shown and one.name != "confirmed"],
    )  # fmt: skip


def _grouped(fields: Sequence[Field]) -> list[Field]:
    """Return fields in the order in which one works: what was made and when, then as on the bench."""
    order = ["date", "part", "", *(name for names in GROUPS.values() for name in names)]
    grades = order.index("")
    return sorted(fields, key=lambda one: order.index(one.name) if one.name in order else grades)


def _field(found: Desk, column: LogColumn, cells: Cells, doubts: Sequence[Doubt]) -> Field:
    value = cells.get(column.name, "")
    unit = found.table.unit(column.name) or column.unit
    mine = tuple(one for one in doubts if one.name == column.name)
    options = options_of(column, found.reading)
    if options and value and value not in dict(options):
        options = ((value, value), *options)
    return Field(column, value, state_of(value), unit, "", options, mine)


@blueprint.post("/row")
@alone
def edit() -> Answer:
    """Mend a row. One that changed meanwhile is shown beside what was typed."""
    found, key, name = desk(), key_of(), text_of("batch")
    to = url_for("batches.row", batch=name or text_of("f.batch"))
    if key in found.served.journal.keys:
        return redirect(to, 303)
    before = _cells(found, name)
    after = _typed(found, before)
    if text_of("mark") != mark_of(before):
        return _clash(name, before, after)
    if after == before:
        return redirect(to, 303)
    if not after.get("batch") or name not in ("", after["batch"]):
        raise RefusedError(400, "A batch has to keep its name.")
    if not name:
        require_free(found, after["batch"])
    entry = Entry(key, now_text(found.served), "edit", name, change=Change(name, before, after))
    return entering(found.served, entry, to, f"Batch {name} is saved as it stands here.")


def _typed(found: Desk, before: Cells) -> Cells:
    """Return the row with what the form says of its columns; a blank takes a cell out."""
    after = dict(before)
    for column in found.columns:
        sent = f"f.{column.name}"
        if sent in request.form and (column.name != "batch" or "batch" not in before):
            after[column.name] = text_of(sent)
    further, text = text_of("further"), text_of("further text")
    if text and further in {one.name for one in found.columns}:
        after[further] = text
    what, _, rest = request.form.get("say", "").partition(":")
    name, _, text = rest.partition(":")
    if what and (name not in known_names(found.columns) or len(text) > LONGEST or not text.isprintable()):
        raise RefusedError(400, "This button is not one of this page. Open the page again.")
    if what == "put":
        after[name] = text
    elif what == "confirm":
        words = [one.strip() for one in after.get("confirmed", "").replace(",", ";").split(";") if one.strip()]
        after["confirmed"] = "; ".join(dict.fromkeys([*words, name]))
    return {one: cell for one, cell in after.items() if cell}


def _clash(name: str, now: Cells, mine: Cells) -> Answer:
    rows = [
        (one, now.get(one, ""), mine.get(one, ""))
        for one in dict.fromkeys([*now, *mine])
        if now.get(one) != mine.get(one)
    ]
    return render_template("changed.html", batch=name, rows=rows, gone=False, mark=mark_of(now)), 409


@blueprint.post("/remove")
@alone
def remove() -> Answer:
    """Take a row out; the journal keeps it."""
    found, key, name = desk(), key_of(), text_of("batch")
    to = url_for("batches.batches")
    if key in found.served.journal.keys:
        return redirect(to, 303)
    before = _cells(found, name)
    change = Change(name, before, None, found.table.row_of(name))
    entry = Entry(key, now_text(found.served), "remove", name, change=change)
    return entering(found.served, entry, to, f"Batch {name} was taken out. It can be taken back below.")


@blueprint.post("/undo")
@alone
def undo() -> Answer:
    """Take back a change of a row, as long as the row is as that change left it."""
    found, key, of = desk(), key_of(), text_of("of")
    to = url_for("batches.batches")
    entry = found.served.journal.keys.get(of)
    if entry is None or entry.kind not in ("close", "edit", "remove", "discard"):
        raise RefusedError(404, "There is no such change to take back.")
    if of in found.served.journal.undone():
        return redirect(to, 303)
    change = None if entry.change is None else entry.change.reversed
    undoing = Entry(key, now_text(found.served), "undo", of, change=change)
    return entering(found.served, undoing, to, f"Taken back: {_name(entry, found)} {WORDS[entry.kind]}.")
