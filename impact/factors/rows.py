"""The rows of a factor table: read as text, checked one by one and turned into factors, every fault named."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import isfinite
from pathlib import Path, PurePath
from typing import Annotated

from impact.base.files import SETTINGS_LIMIT, NotRegularError, read_regular
from impact.base.problems import Problem, ProblemsError, choices
from impact.base.serial import Limits, group, named, or_null, shows
from impact.base.units import LARGEST, SMALLEST, UnitError, to_canonical
from impact.core.sampling import DISTRIBUTIONS, pedigree_gsd2
from impact.factors.keys import Key, key_of, nearest_pattern, pattern_of

COLUMNS = (
    "id", "what", "value", "unit", "low", "high", "distribution", "pedigree", "boundary", "geography",
    "year", "edition", "gwp", "source", "locator", "evidence", "derived", "notes",
)  # fmt: skip
"""Columns of a factor table, one number a row."""

TEXTS = tuple(name for name in COLUMNS if name not in ("value", "unit", "low", "high", "distribution", "pedigree"))
"""Columns that a factor has as they are."""

OWN_FILES = ("factors.csv", "factors.xlsx")
"""Names that a workshop's own table may have in its folder."""

SETTINGS = "workshop.toml"
"""File whose settings of binders become rows."""

HEADER_FAULTS = ("missing-column", "unknown-column", "duplicate-column")
UNDER_NO_HEADER = "a cell under no header: put a text with commas into double quotes"

MEMORY, PRACTICE = "from memory", "common practice"
EVIDENCE_WORDS = ("seen", "secondary copy", "computed", PRACTICE, MEMORY, "own value")
"""How a value is known, see `impact.factors`; `own value` is for the rows of a workshop's own table."""

SCORE_NAMES = ("reliability", "completeness", "temporal", "geographical", "technological")


@shows(
    "id", "key", "kind", "what", "value", "low", "high", "unit", "distribution",
    group("published", named("value", "published"), named("unit", "published_unit")), "geography", or_null("year"),
    or_null("edition"), or_null("gwp"), "evidence", named("source_id", "source"), "file", "row",
)  # fmt: skip
@dataclass(frozen=True, slots=True)
class Factor:
    """One number with its origin.

    Attributes
    ----------
    id, key : str
        Unique id, and the key under which the calculation asks for it.
    value, low, high : float
        Central value and 95 % interval, in the key's canonical unit.
    unit : str
        Canonical unit.
    published, published_unit : str
        Value and unit as the table has them.
    distribution : str
        See `impact.core.sampling.draw`.
    geography, edition, year, boundary, gwp, source, locator, evidence, derived, notes, what : str
        As in the table.
    file, row : str, int
        Where the row stands.
    """

    id: str
    key: str
    what: str
    value: float
    unit: str
    low: float
    high: float
    distribution: str
    published: str
    published_unit: str
    boundary: str
    geography: str
    year: str
    edition: str
    gwp: str
    source: str
    locator: str
    evidence: str
    derived: str
    notes: str
    file: str
    row: Annotated[int, Limits(minimum=2)]

    @property
    def kind(self) -> str:
        """Name of the table without its ending."""
        return PurePath(self.file).stem

    @property
    def is_own(self) -> bool:
        """Whether the row is of a workshop's own table, or made from its settings."""
        return self.file in (*OWN_FILES, SETTINGS)


def _number(text: str) -> float | None:
    try:
        number = float(text)
    except ValueError:
        return None
    return number if isfinite(number) else None


class RowReader:
    """Turns the rows of one file into factors, collecting every problem.

    Parameters
    ----------
    file : str
        Name of the file, for the place of a problem.
    words : sequence of str
        Accepted evidence words.
    gsd : mapping of str to float
        Uncertainty factor of each pedigree score, by its key.
    untold : collection of str
        Columns of whose cells nothing is said, see `untold_columns`.
    """

    def __init__(self, file: str, words: Sequence[str], gsd: Mapping[str, float], untold: Collection[str] = ()) -> None:
        self.file = file
        self.words = words
        self.gsd = gsd
        self.untold = untold
        self.problems: list[Problem] = []
        self._spreads: dict[str, float] = {}

    def fault(
        self, cells: Mapping[str, str], column: str, code: str, message: str, accepted: str, *, read: str | None = None
    ) -> None:
        """Note an error in a cell of a row, unless nothing is said of its column; `read` is more than the cell alone."""
        if column not in self.untold:
            row, found = int(cells["#"]), cells[column] if read is None else read
            self.problems.append(
                Problem(code, self.file, message, row=row, column=column, read=found, accepted=accepted)
            )

    def read(self, cells: Mapping[str, str]) -> Factor | None:
        """Return the factor of a row, whose number is under "#", or None when the row has a fault."""
        before = len(self.problems)
        pattern = self._check_names(cells)
        numbers = self._numbers(cells)
        if pattern is None or numbers is None or len(self.problems) > before:
            return None
        unit = cells["unit"] if pattern.unit == "*" else pattern.unit
        scaled = self._canonical(cells, pattern, unit, numbers)
        if scaled is None:
            return None
        value, low, high = scaled
        distribution = "lognormal" if cells["distribution"] == "pedigree" else cells["distribution"]
        return Factor(
            key=key_of(cells["id"]), value=value, unit=unit, low=low, high=high, distribution=distribution,
            published=cells["value"], published_unit=cells["unit"], file=self.file, row=int(cells["#"]),
            **{name: cells[name] for name in TEXTS},
        )  # fmt: skip

    def _check_names(self, cells: Mapping[str, str]) -> Key | None:
        for column in ("id", "what", "unit", "source", "locator", "geography"):
            if not cells[column]:
                self.fault(cells, column, "blank", "is blank", "a text")
        for column, name, words in (
            ("evidence", "evidence word", self.words),
            ("distribution", "distribution", (*DISTRIBUTIONS, "pedigree")),
        ):
            if cells[column] not in words:
                self.fault(cells, column, f"unknown-{column}", f"is no {name}", choices(cells[column], words))
        key, *tail = cells["id"].split("/")
        if (tail and tail[0] != cells["geography"]) or (len(tail) > 1 and tail[1] != cells["edition"]):
            accepted = f"{key}/{cells['geography']}" + (f"/{cells['edition']}" if cells["edition"] else "")
            self.fault(cells, "id", "id-mismatch", "does not agree with the columns geography and edition", accepted)
        pattern = pattern_of(key)
        if pattern is None and cells["id"]:
            near = nearest_pattern(key)
            hint = f' (did you mean "{near}"?)' if near else ""
            accepted = f"a key of the patterns listed by the guide, such as electricity.life-cycle/GBR{hint}"
            self.fault(cells, "id", "unknown-key", "is no key that the calculation asks for", accepted)
        return pattern

    def _numbers(self, cells: Mapping[str, str]) -> tuple[float, float, float] | None:
        value, distribution = _number(cells["value"]), cells["distribution"]
        if value is None:
            self.fault(cells, "value", "not-a-number", "is no number", "a number such as 0.35")
            return None
        if distribution == "fixed" and not cells["low"] and not cells["high"]:
            return value, value, value
        if value < 0.0 and distribution in ("pedigree", "normal"):
            message = f"the distribution {distribution} has no values below 0"
            self.fault(cells, "value", "out-of-range", message, "0 or above, or another distribution")
            return None
        if distribution == "pedigree":
            gsd2 = self._pedigree(cells)
            if gsd2 is None:
                return None
            ends = sorted((value / gsd2, value * gsd2))
            return value, ends[0], ends[1]
        low, high = _number(cells["low"]), _number(cells["high"])
        for column, number in (("low", low), ("high", high)):
            if number is None:
                self.fault(cells, column, "not-a-number", "is no number", "a number; blank only if fixed")
        if low is None or high is None:
            return None
        if not low <= value <= high:
            message = "low, value and high are not in order"
            self.fault(cells, "value", "out-of-order", message, "low <= value <= high", read=_interval(cells))
            return None
        if distribution == "lognormal" and low <= 0.0:
            self.fault(cells, "low", "out-of-range", "a lognormal needs a low end above 0", "above 0")
            return None
        return value, low, high

    def _pedigree(self, cells: Mapping[str, str]) -> float | None:
        text = cells["pedigree"]
        if text in self._spreads:
            return self._spreads[text]
        parts = text.split(";")
        basic = _number(parts[-1])
        names = [f"pedigree.{name}.{part.strip()}" for name, part in zip(SCORE_NAMES, parts, strict=False)]
        if len(parts) != 6 or basic is None or basic < 1.0 or any(name not in self.gsd for name in names):
            accepted = "five scores 1 to 5 and a basic uncertainty of 1 or more, such as 2;3;1;2;2;1.05"
            self.fault(cells, "pedigree", "bad-pedigree", "is no set of pedigree scores", accepted)
            return None
        self._spreads[text] = pedigree_gsd2([self.gsd[name] for name in names], basic)
        return self._spreads[text]

    def _canonical(
        self, cells: Mapping[str, str], pattern: Key, unit: str, numbers: tuple[float, float, float]
    ) -> tuple[float, float, float] | None:
        try:
            scale = to_canonical(1.0, cells["unit"], unit)
        except UnitError as error:
            self.fault(cells, "unit", "wrong-unit", str(error), f"a unit such as {pattern.unit}")
            return None
        value, low, high = (number * scale for number in numbers)
        for column, number in (("value", value), ("low", low), ("high", high)):
            if number and not SMALLEST <= abs(number) <= LARGEST:
                column = column if cells[column] else "value"  # an end that follows from the scores
                accepted = f"0, or {SMALLEST:g} to {LARGEST:g} {unit}".removesuffix(" 1")
                self.fault(cells, column, "out-of-range", "is too small or too large to be meant", accepted)
                return None
        share = pattern.share or (cells["distribution"] == "beta" and low < high)
        if share and not 0.0 <= low <= high <= 1.0:
            read = _interval(cells) if cells["low"] else None
            self.fault(cells, "value", "out-of-range", "is no share", "0 to 1", read=read)
            return None
        if low <= 0.0 and pattern.bound == "above 0":
            message = "something is divided by this, or cannot be without it"
            self.fault(cells, "value" if value <= 0.0 else "low", "out-of-range", message, pattern.bound)
            return None
        if value >= 1.0 and pattern.bound == "below 1":
            self.fault(cells, "value", "out-of-range", "something is divided by what this leaves", pattern.bound)
            return None
        return value, low, high


def _interval(cells: Mapping[str, str]) -> str:
    return f"{cells['low']} / {cells['value']} / {cells['high']}"


@cache
def shipped_rows(path: Path, *columns: str) -> tuple[dict[str, str], ...]:
    """Return the rows of a table that ships with the program, see `read_rows`.

    Raises
    ------
    ProblemsError
        When the table cannot be read or lacks a column.
    """
    rows, problems = read_rows(path, columns)
    if problems:
        raise ProblemsError(problems)
    return tuple(rows)


def read_rows(path: Path, columns: Sequence[str]) -> tuple[list[dict[str, str]], list[Problem]]:
    """Return the rows of a shipped table as text by column; "#" is the row's number. None where the header has a fault.

    Parameters
    ----------
    path : Path
        A CSV table in UTF-8.
    columns : sequence of str
        Columns that the table has.
    """
    return rows_of(path.name, content_of(path), columns)


def content_of(path: Path) -> bytes | Problem:
    """Return the content of a table, or why it cannot be read."""
    try:
        return read_regular(path, limit=SETTINGS_LIMIT)
    except NotRegularError as error:
        return Problem(error.code, path.name, error.reason, accepted="a CSV table in UTF-8")
    except OSError:
        return Problem("unreadable", path.name, "cannot be read", accepted="a CSV table in UTF-8")


def rows_of(file: str, content: bytes | Problem, columns: Sequence[str]) -> tuple[list[dict[str, str]], list[Problem]]:
    """Return the rows of a table by its name and content, see `read_rows`."""
    if isinstance(content, Problem):
        return [], [content]
    try:
        lines = list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline=""), strict=True))
    except (UnicodeDecodeError, csv.Error) as error:
        reason = f"is no CSV table in UTF-8: {error}"
        return [], [Problem("unreadable", file, reason, accepted="a CSV table in UTF-8")]
    header = [name.strip() for name in lines[0]] if lines else []
    problems = header_problems(file, header, columns, columns)
    rows = []
    blank = dict.fromkeys(columns, "")
    for number, cells in enumerate([] if problems else lines[1:], start=2):
        extra = next((cell for cell in cells[len(header) :] if cell.strip()), None)
        if extra is not None:
            problems.append(
                Problem("no-header", file, UNDER_NO_HEADER, row=number, read=extra, accepted="a header in row 1")
            )
        written = [cell.strip() for cell in cells]
        if any(written):
            rows.append({**blank, **dict(zip(header, written, strict=False)), "#": str(number)})
    return rows, problems


def untold_columns(header: Sequence[str], columns: Sequence[str], required: Sequence[str]) -> frozenset[str]:
    """Return the columns whose cells would be faulted for nothing but a fault of the header.

    They are missing or stand there twice; where a header has a name that is none, any column may be meant by it.
    """
    misnamed = any(name not in columns for name in header)
    missing = {name for name in (columns if misnamed else required) if name not in header}
    return frozenset(missing | {name for name in header if header.count(name) > 1})


def header_problems(file: str, header: Sequence[str], columns: Sequence[str], required: Sequence[str]) -> list[Problem]:
    """Return what is wrong with the header of a table: columns that are missing, unknown, or there twice."""
    twice = sorted({name for name in header if header.count(name) > 1})
    unknown = [name for name in header if name not in columns]
    found = [
        *(("missing-column", "is missing", name, ", ".join(columns)) for name in required if name not in header),
        *(("unknown-column", "is no column of this table", name, choices(name, columns)) for name in unknown),
        *(("duplicate-column", "stands in the table twice", name, f"one column {name}") for name in twice),
    ]
    return [
        Problem(code, file, message, row=1, column=name, accepted=accepted) for code, message, name, accepted in found
    ]
