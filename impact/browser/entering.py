"""What pages that write entries share: the form read, the entry added once, a row as fields with its doubts."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import wraps
from typing import TYPE_CHECKING

from flask import redirect, render_template, request
from werkzeug.wrappers import Response

from impact.base.files import OutputError
from impact.base.units import UnitError, parse_quantity
from impact.browser.doubts import Doubt
from impact.browser.guards import FIELD, RefusedError, say
from impact.browser.journal import Change, ChangedError, Entry
from impact.browser.logtable import Cells, LogTable, TableError
from impact.browser.served import Reading, Served, served
from impact.records.columns import UNITS, LogColumn, ids_of, log_columns

if TYPE_CHECKING:
    from impact.browser.openbatch import Said

Answer = Response | str | tuple[str, int]

LONGEST = 2_000
"""Most letters of a text that is typed into a field."""

GROUPS: Mapping[str, tuple[str, ...]] = {
    "paper": ("own rejects", "moisture", "fate"),
    "binder": ("binder", "binder mass", "binder solids", "water"),
    "power": ("shredding", "binder preparation", "blending", "pressing", "drying"),
    "parts": ("good parts", "rejects", "rejects to", "trim", "trim to", "part mass"),
    "more": (
        "batch",
        "part",
        "date",
        "site",
        "transport",
        "hours",
        "people",
        "cost",
        "notes",
        "test load",
        "test span",
    ),
}
"""Columns of the log by what one does: a choice of ours. The grades of paper go before the first group's."""

SELDOM = ("moisture", "fate", "binder solids", "part mass", "trim to", "test load", "test span")
"""Columns that are offered where the sheet has them, or behind a heading that opens."""


@dataclass(frozen=True)
class Field:
    """A field of a form.

    Attributes
    ----------
    column : LogColumn
        Its column.
    value : str
        What stands in it.
    state : str
        ``said``, ``none``, ``unknown`` for not recorded, or empty for nothing said yet.
    unit : str
        Unit beside it.
    derived : str
        What readings or runs come to, where nothing was typed.
    options : tuple of (str, str)
        Ids to choose from, with their labels; empty for a field to type in.
    doubts : tuple of Doubt
        What is doubted about it.
    taken : str
        Name of the batch that it was taken over from, empty once it was said anew.
    """

    column: LogColumn
    value: str
    state: str
    unit: str
    derived: str = ""
    options: tuple[tuple[str, str], ...] = ()
    doubts: tuple[Doubt, ...] = ()
    taken: str = ""

    @property
    def name(self) -> str:
        """The name of its column."""
        return self.column.name

    @property
    def id(self) -> str:
        """Its name within the page."""
        return "f-" + re.sub(r"\W+", "-", self.column.name)

    @property
    def label(self) -> str:
        """What stands above it."""
        return self.column.name[:1].upper() + self.column.name[1:]

    @property
    def iso(self) -> bool:
        """Whether a day stands in it as a field for days has it."""
        return not self.value or re.fullmatch(r"\d{4}-\d\d-\d\d", self.value) is not None

    @property
    def is_amount(self) -> bool:
        """Whether a 0 in it means none."""
        return bool(self.column.zero) and self.column.kind != "paper"

    @property
    def is_spoken(self) -> bool:
        """Whether "none" and "not recorded" are asked for, because a blank would be estimated."""
        return self.is_amount and bool(self.column.missing)

    @property
    def keys(self) -> str:
        """Which keys a phone shows."""
        if self.column.kind in ("paper", "mass", "volume", "length", "time", "money", "force", "span", "share"):
            return "decimal"
        return "numeric" if self.column.kind == "count" else "text"

    @property
    def has_error(self) -> bool:
        """Whether something has to be settled."""
        return any(one.is_error for one in self.doubts)


def units_of(reading: Reading) -> Mapping[str, str]:
    """Return the units of a new sheet of this workshop, by kind."""
    return UNITS[reading.workshop.units if reading.workshop else "metric"]


def columns_of(reading: Reading) -> list[LogColumn]:
    """Return every column that a log may have."""
    return log_columns(reading.names)


def grades_of(reading: Reading, table: LogTable, said: Iterable[str]) -> list[LogColumn]:
    """Return the columns of paper that are shown at once: those of the sheet, and those that hold something."""
    shown = {*table.names, *said}
    return [
        one for one in columns_of(reading) if one.kind == "paper" and one.name in shown and one.name != "own rejects"
    ]


def options_of(column: LogColumn, reading: Reading) -> tuple[tuple[str, str], ...]:
    """Return the ids of a column that is picked from a list."""
    parts = reading.workshop.parts if reading.workshop else {}
    found = next((ids for kind, ids in ids_of(reading.names, parts).items() if kind == column.kind), None)
    if found is None:
        return ()
    own = {"none", *(reading.workshop.binders if reading.workshop else ())} if column.kind == "binder" else set()
    first = sorted(found, key=lambda one: one not in own)
    return tuple((one, _labelled(one, found[one])) for one in first)


def _labelled(one: str, label: object) -> str:
    text = label if isinstance(label, str) else ""
    return f"{one} ({text})" if text and text.casefold() != one.casefold() else one


def amount(cells: Cells, column: LogColumn, table: LogTable) -> float | None:
    """Return the mass that a cell holds, None where it holds none that can be read. [kg]"""
    text = cells.get(column.name, "")
    try:
        return parse_quantity(text, "mass", table.unit(column.name)) if text else None
    except UnitError:
        return None


def paper_kg(cells: Cells, columns: Iterable[LogColumn], table: LogTable) -> float:
    """Return the paper and own rejects of a row as weighed. [kg]"""
    return sum(amount(cells, one, table) or 0.0 for one in columns if one.kind == "paper")


def state_of(said: Said) -> str:
    """Return which of the four things was said."""
    if said is None:
        return "unknown"
    return "none" if said.strip() in ("0", "0.0") else "said" if said else ""


def text_of(name: str) -> str:
    """Return a field of the form as one line, or refuse it."""
    text = " ".join(request.form.get(name, "").split())
    if len(text) > LONGEST:
        raise RefusedError(400, f"{name}: this text is longer than {LONGEST:,} letters.")
    if not text.isprintable():
        raise RefusedError(400, f"{name}: this text holds signs that cannot be shown.")
    return text


def key_of() -> str:
    """Return the key of the entry that the form sends, or refuse the form."""
    key = text_of("key")
    if not re.fullmatch(r"[A-Za-z0-9_-]{8,64}", key):
        raise RefusedError(400, "This entry has no key of its own. Open the page again and send it from there.")
    return key


def known_names(columns: Sequence[LogColumn]) -> set[str]:
    """Return the names of the columns that a form may send."""
    return {one.name for one in columns}


def now_text(where: Served) -> str:
    """Return day and time as an entry has them."""
    return where.now().isoformat(timespec="seconds")


def alone(view: Callable[..., Answer]) -> Callable[..., Answer]:
    """Let a view that writes hold the lock of the folder from what it reads to what it writes."""

    @wraps(view)
    def held(**place: str) -> Answer:
        try:
            with served().writing():
                _require_same(served())
                return view(**place)
        except (OutputError, OSError) as error:
            words = f"The folder cannot be written: {getattr(error, 'strerror', None) or error}. It can be sent again, and counts once."
            raise RefusedError(503, words) from None

    return held


def _sent() -> str:
    """Return what tells a form from another one: where it went, and all that it said but for the token."""
    said = sorted((name, text) for name, text in request.form.items(multi=True) if name != FIELD)
    return hashlib.sha256(json.dumps([request.path, said]).encode()).hexdigest()[:32]


def _require_same(where: Served) -> None:
    """Refuse a form whose key was used for another one: it would be taken for that one, and be lost unseen."""
    where.journal.read()
    known = where.journal.keys.get(key_of())
    if known is not None and known.data.get("sent", _sent()) != _sent():
        raise RefusedError(
            409,
            "This form was sent before and said something else. Nothing was written. Open the page again and send it.",
        )


def entering(where: Served, entry: Entry, to: str, words: str = "") -> Answer:
    """Add an entry, once, and lead to a page that says `words`; show both where a row changed meanwhile. Under the lock."""
    try:
        where.journal.add(replace(entry, data={**entry.data, "sent": _sent()}))
    except ChangedError as error:
        assert entry.change is not None
        return render_template("changed.html", **_both(entry.change, error.now)), 409
    except TableError as error:
        raise RefusedError(409, str(error)) from None
    except OutputError as error:
        raise RefusedError(507, LATER.format(error)) from None
    if words:
        say(words)
    return redirect(to, 303)


LATER = "{}. The entry is kept in the journal, and the table is written as soon as it can be."
"""What is said where a table cannot be written, such as one that a spreadsheet holds open."""


def _both(change: Change, now: Cells | None) -> dict[str, object]:
    """Return what a page needs to show a row as it is now, and as it was to be."""
    theirs, mine = now or {}, change.after or {}
    rows = [
        (one, theirs.get(one, ""), mine.get(one, ""))
        for one in dict.fromkeys([*theirs, *mine])
        if theirs.get(one) != mine.get(one)
    ]
    return {"batch": change.batch, "rows": rows, "gone": now is None, "mark": ""}


def told_mass(kg: float) -> str:
    """Return a mass for reading: grams below ten kilograms."""
    return f"{kg * 1000.0:,.0f} g" if kg < 10.0 else f"{kg:,.1f} kg"
