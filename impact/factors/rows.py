"""The rows of a factor table: read as text, checked one by one and turned into factors, every fault named."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Annotated

from impact.base.files import SETTINGS_LIMIT, NotRegularError, read_regular
from impact.base.problems import Problem, choices
from impact.base.serial import Limits, group, named, or_null, shows
from impact.base.units import UnitError, to_canonical
from impact.core.sampling import DISTRIBUTIONS, pedigree_gsd2
from impact.factors.keys import Key, key_of, nearest_pattern, pattern_of

COLUMNS = (
    "id", "what", "value", "unit", "low", "high", "distribution", "pedigree", "boundary", "geography",
    "year", "edition", "gwp", "source", "locator", "evidence", "derived", "notes",
)  # fmt: skip
"""Columns of a factor table, one number a row."""

TEXTS = (
    "id", "what", "boundary", "geography", "year", "edition", "gwp", "source", "locator", "evidence", "derived", "notes",
)  # fmt: skip
"""Columns that a factor has as they are."""
OWN_FILES = ("factors.csv", "factors.xlsx")
"""Names that a workshop's own table may have in its folder."""

HEADER_FAULTS = ("missing-column", "unknown-column", "duplicate-column")
UNDER_NO_HEADER = "a cell under no header: put a text with commas into double quotes"

EVIDENCE_WORDS = ("seen", "secondary copy", "computed", "from memory", "own value")
"""How a value is known; `own value` is for the rows of a workshop's own table."""

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
        """Whether the row is of a workshop's own table."""
        return self.file in OWN_FILES


def _number(text: str) -> float | None:
    try:
        number = float(text)
    except ValueError:
        return None
    return number if abs(number) != float("inf") and number == number else None


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

    def fault(self, row: int, column: str, code: str, read: str, message: str, accepted: str | None = None) -> None:
        """Note an error in a cell, unless nothing is said of its column."""
        if column in self.untold:
            return
        self.problems.append(Problem(code, self.file, message, row=row, column=column, read=read, accepted=accepted))

    def read(self, row: int, cells: Mapping[str, str]) -> Factor | None:
        """Return the factor of a row, or None when the row has a fault."""
        before = len(self.problems)
        pattern = self._check_names(row, cells)
        numbers = self._numbers(row, cells)
        if pattern is None or numbers is None or len(self.problems) > before:
            return None
        scaled = self._canonical(row, cells, pattern, numbers)
        if scaled is None:
            return None
        value, low, high = scaled
        distribution = "lognormal" if cells["distribution"] == "pedigree" else cells["distribution"]
        return Factor(
            key=key_of(cells["id"]), value=value, unit=cells["unit"] if pattern.unit == "*" else pattern.unit,
            low=low, high=high, distribution=distribution, published=cells["value"], published_unit=cells["unit"],
            file=self.file, row=row, **{name: cells[name] for name in TEXTS},
        )  # fmt: skip

    def _check_names(self, row: int, cells: Mapping[str, str]) -> Key | None:
        for column in ("id", "what", "unit", "source", "locator", "geography"):
            if not cells[column]:
                self.fault(row, column, "blank", "", "is blank", "a text")
        if cells["evidence"] not in self.words:
            self.fault(
                row, "evidence", "unknown-evidence", cells["evidence"], "is no evidence word",
                choices(cells["evidence"], self.words),
            )  # fmt: skip
        accepted = (*DISTRIBUTIONS, "pedigree")
        if cells["distribution"] not in accepted:
            self.fault(
                row, "distribution", "unknown-distribution", cells["distribution"], "is no distribution",
                choices(cells["distribution"], accepted),
            )  # fmt: skip
        tail = cells["id"].split("/")[1:]
        if (tail and tail[0] != cells["geography"]) or (len(tail) > 1 and tail[1] != cells["edition"]):
            self.fault(
                row, "id", "id-mismatch", cells["id"], "does not agree with the columns geography and edition",
                f"{key_of(cells['id'])}/{cells['geography']}" + (f"/{cells['edition']}" if cells["edition"] else ""),
            )  # fmt: skip
        pattern = pattern_of(key_of(cells["id"]))
        if pattern is None and cells["id"]:
            near = nearest_pattern(key_of(cells["id"]))
            hint = f' (did you mean "{near}"?)' if near else ""
            self.fault(
                row, "id", "unknown-key", cells["id"], "is no key that the calculation asks for",
                f"a key of the patterns listed by the guide, such as electricity.life-cycle/GBR{hint}",
            )  # fmt: skip
        return pattern

    def _numbers(self, row: int, cells: Mapping[str, str]) -> tuple[float, float, float] | None:
        value = _number(cells["value"])
        if value is None:
            self.fault(row, "value", "not-a-number", cells["value"], "is no number", "a number such as 0.35")
            return None
        if cells["distribution"] == "fixed" and not cells["low"] and not cells["high"]:
            return value, value, value
        if value < 0.0 and cells["distribution"] in ("pedigree", "normal"):
            message = f"the distribution {cells['distribution']} has no values below 0"
            self.fault(row, "value", "out-of-range", cells["value"], message, "0 or above, or another distribution")
            return None
        if cells["distribution"] == "pedigree":
            gsd2 = self._pedigree(row, cells["pedigree"])
            if gsd2 is None:
                return None
            ends = sorted((value / gsd2, value * gsd2))
            return value, ends[0], ends[1]
        low, high = _number(cells["low"]), _number(cells["high"])
        for column, number in (("low", low), ("high", high)):
            if number is None:
                self.fault(row, column, "not-a-number", cells[column], "is no number", "a number; blank only if fixed")
        if low is None or high is None:
            return None
        if not low <= value <= high:
            read = f"{cells['low']} / {cells['value']} / {cells['high']}"
            self.fault(
                row, "value", "out-of-order", read, "low, value and high are not in order", "low <= value <= high"
            )
            return None
        if cells["distribution"] == "lognormal" and low <= 0.0:
            self.fault(row, "low", "out-of-range", cells["low"], "a lognormal needs a low end above 0", "above 0")
            return None
        return value, low, high

    def _pedigree(self, row: int, text: str) -> float | None:
        if text in self._spreads:
            return self._spreads[text]
        parts = text.split(";")
        numbers = [_number(part) for part in parts]
        names = [f"pedigree.{name}.{part.strip()}" for name, part in zip(SCORE_NAMES, parts, strict=False)]
        basic = numbers[-1] if numbers else None
        if len(parts) != 6 or basic is None or basic < 1.0 or any(name not in self.gsd for name in names):
            self.fault(
                row, "pedigree", "bad-pedigree", text, "is no set of pedigree scores",
                "five scores 1 to 5 and a basic uncertainty of 1 or more, such as 2;3;1;2;2;1.05",
            )  # fmt: skip
            return None
        self._spreads[text] = pedigree_gsd2([self.gsd[name] for name in names], basic)
        return self._spreads[text]

    def _canonical(
        self, row: int, cells: Mapping[str, str], pattern: Key, numbers: tuple[float, float, float]
    ) -> tuple[float, float, float] | None:
        target = cells["unit"] if pattern.unit == "*" else pattern.unit
        try:
            scale = to_canonical(1.0, cells["unit"], target)
        except UnitError as error:
            self.fault(row, "unit", "wrong-unit", cells["unit"], str(error), f"a unit such as {pattern.unit}")
            return None
        value, low, high = (number * scale for number in numbers)
        share = pattern.share or (cells["distribution"] == "beta" and low < high)
        if share and not 0.0 <= low <= high <= 1.0:
            read = f"{cells['low']} / {cells['value']} / {cells['high']}" if cells["low"] else cells["value"]
            self.fault(row, "value", "out-of-range", read, "is no share", "0 to 1")
            return None
        if low <= 0.0 and pattern.bound == "above 0":
            column = "value" if value <= 0.0 else "low"
            self.fault(
                row,
                column,
                "out-of-range",
                cells[column],
                "something is divided by this, or cannot be without it",
                pattern.bound,
            )
            return None
        if value >= 1.0 and pattern.bound == "below 1":
            self.fault(
                row, "value", "out-of-range", cells["value"], "something is divided by what this leaves", pattern.bound
            )
            return None
        return value, low, high


def read_rows(path: Path, columns: Sequence[str]) -> tuple[list[dict[str, str]], list[Problem]]:
    """Return the rows of a shipped table as text by column; "#" is the row's number. None where the header has a fault.

    Parameters
    ----------
    path : Path
        A CSV table in UTF-8.
    columns : sequence of str
        Columns that the table has.
    """
    try:
        text = read_regular(path, limit=SETTINGS_LIMIT).decode("utf-8-sig")
        lines = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except NotRegularError as error:
        return [], [Problem(error.code, path.name, error.reason, accepted="a CSV table in UTF-8")]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        reason = "cannot be read" if isinstance(error, OSError) else f"is no CSV table in UTF-8: {error}"
        return [], [Problem("unreadable", path.name, reason, accepted="a CSV table in UTF-8")]
    header = [name.strip() for name in lines[0]] if lines else []
    problems = header_problems(path.name, header, columns, columns)
    rows = []
    blank = dict.fromkeys(columns, "")
    for number, cells in enumerate([] if problems else lines[1:], start=2):
        extra = next((cell for cell in cells[len(header) :] if cell.strip()), None)
        if extra is not None:
            problems.append(
                Problem("no-header", path.name, UNDER_NO_HEADER, row=number, read=extra, accepted="a header in row 1")
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
    missing = [
        Problem("missing-column", file, "is missing", row=1, column=name, accepted=", ".join(columns))
        for name in required
        if name not in header
    ]
    unknown = [
        Problem(
            "unknown-column", file, "is no column of this table", row=1, column=name, accepted=choices(name, columns)
        )
        for name in header
        if name not in columns
    ]
    twice = [
        Problem(
            "duplicate-column", file, "stands in the table twice", row=1, column=name, accepted=f"one column {name}"
        )
        for name in sorted({name for name in header if header.count(name) > 1})
    ]
    return missing + unknown + twice
