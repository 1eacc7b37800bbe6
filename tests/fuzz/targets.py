"""What an input of the fuzzer does: the first letter names a reader, the rest is the content of its file.

Every reader refuses the content with problems, or accepts it; an accepted file goes on to the figures. `tests/test_fuzz.py` runs the collected inputs in the suite.
"""

from __future__ import annotations

import atexit
import json
import math
import shutil
import tempfile
import zlib
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import get_args

import numpy as np

from impact.account.blocks import Surveyor
from impact.account.scan import survey
from impact.api import Folder
from impact.base import locale as conventions
from impact.base.catalogue import CATALOGUE, read_names
from impact.base.places import factors_folder
from impact.base.problems import Problem, ProblemsError, errors
from impact.base.spellings import UnitError
from impact.base.units import parse_money, parse_number, parse_price, parse_quantity, parse_rate, parse_share
from impact.cli.totals_text import as_text
from impact.factors.factorset import read_factors
from impact.factors.own import read_own_factors
from impact.factors.rows import OWN_FILES
from impact.records.batches import chunk_of, open_batches
from impact.records.energy import Energy, parse_energy
from impact.records.files import reading_settings
from impact.records.markedlog import MarkError, marked_log
from impact.records.parts import read_parts
from impact.records.selection import PeriodError, Selection, parse_period
from impact.records.workshop_file import read_toml
from impact.report.evidence import SETTINGS
from impact.report.kinds import LANGUAGES
from impact.report.proof.carried import NoReportError, read_report
from impact.report.proof.figures import compare_results
from impact.report.proof.settings import read_settings
from impact.tables.dates import read_days
from impact.tables.decimals import normalised, plain_amount, settle
from impact.tables.encoding import Encoding, UndecodableError, decode
from impact.tables.table import UnreadableError
from impact.tables.texts import Coded
from tests.folders import BATCHES, swap, write_folder
from tests.fuzz.shapes import parquet_of_columns, pdf_of_objects, workbook_of_cells, workbook_of_parts

MARKED = 16
"""One in so many workbooks is copied and marked."""

MEMORY = Path("/dev/shm")
"""A folder in memory, where there is one."""

HERE = Path(tempfile.mkdtemp(prefix="impact-fuzz-", dir=MEMORY if MEMORY.is_dir() else None))
atexit.register(shutil.rmtree, HERE, ignore_errors=True)
CLOSED = swap(BATCHES, "0.5 kWh,30,2", "0.5 kWh,36,2")
DIMENSIONS = ("mass", "energy", "volume", "length", "time", "power", "life", "force", "span")
RECORDS = (
    "", 'decimal = "comma"', 'decimal = "point"', 'dates = "day first"', 'dates = "month first"\ndecimal = "comma"',
    'encoding = "windows-1252"', 'encoding = "utf-16"', 'encoding = "macintosh"\ndates = "day first"\ndecimal = "comma"',
)  # fmt: skip
"""How the records are said to be kept; an input's checksum chooses."""

COUNTS: Counter[str] = Counter()
"""Inputs by reader that the reader was called with and came back from, refused or accepted."""

ACCEPTED: Counter[str] = Counter()
FIGURES: Counter[str] = Counter()
"""Inputs by reader that were accepted, and that went on to the figures."""


class NotReachedError(Exception):
    """Raised for an input of which no file can be made."""


def chosen(content: bytes, of: int) -> int:
    """Return a number below `of` that the content decides."""
    return zlib.crc32(content) % of


def said(what: object) -> None:
    """Hold that a refusal gives a reason."""
    assert what
    assert str(what)


def refused(problems: Iterable[Problem]) -> bool:
    """Return whether there are errors among problems; each says something."""
    problems = list(problems)
    assert all(map(str, problems))
    assert all(str(problem).isprintable() for problem in problems)
    return bool(errors(problems))


def _valid() -> Folder:
    from impact.api import load

    return load(write_folder(HERE / "valid", batches=CLOSED))


VALID = _valid()


def _tables() -> dict[str, bytes]:
    """Return shipped tables, the catalogue and the factors cut down to some rows."""
    shipped = {name: (factors_folder() / name).read_bytes() for name in (*TABLES.values(), "pedigree.csv")}
    for name in (TABLES["c"], TABLES["p"]):
        lines = shipped[name].splitlines(keepends=True)
        shipped[name] = b"".join([lines[0], *lines[1 :: len(lines) // 6]])
    return shipped


TABLES = {"c": "catalogue.csv", "s": "sources.csv", "p": "paper.csv"}
SOME_TABLES = _tables()
SOME_RESULTS = json.dumps({"figure": 1.5, "list": [1, None], "text": "a", "settings": {"version": "0"}}).encode()


def _home(reader: str, content: bytes) -> Path:
    """Return a folder of this reader alone, whose settings say how the records are kept."""
    number = chosen(content, len(RECORDS))
    home = HERE / f"{reader}{number}"
    if not home.exists():
        home.mkdir()
        (home / "workshop.toml").write_text(f"[records]\n{RECORDS[number]}\n", encoding="utf-8")
    return home


def _surveyed(folder: Path, **changes: object) -> Folder | None:
    """Return the valid folder with the batches of another, or None where these are refused."""
    base = replace(VALID, **changes)
    surveyor = Surveyor(base.workshop, base.names, base.factors, reading_settings(folder), Selection(), keep=True)
    found = survey(folder, surveyor, lanes=1)
    return None if refused(found.problems) else replace(base, path=folder, survey=found)


def batches(name: str, content: bytes, *, letter: str) -> Folder | None:
    """Read a file of batches."""
    home = _home(letter, content)
    (home / name).write_bytes(content)
    problems: list[Problem] = []
    try:
        file = open_batches(home, VALID.names)
        for block in file.blocks():
            table = file.table(block)
            problems += chunk_of(table, VALID.workshop, VALID.names, reading_settings(home), alone=file.alone).problems
    except UnreadableError as error:
        problems.append(error.problem)
    if name.endswith(".xlsx") and not chosen(content, MARKED):
        with suppress(MarkError):
            assert marked_log(home, problems)
    if refused(problems):
        return None
    return _surveyed(home)


def parts(name: str, content: bytes, *, letter: str) -> Folder | None:
    """Read a file of parts, and the batches that name them."""
    home = _home(letter, content)
    (home / name).write_bytes(content)
    found, problems = read_parts(home / name, VALID.names, moulds=tuple(VALID.workshop.moulds))
    if refused(problems):
        return None
    return _surveyed(VALID.path, workshop=replace(VALID.workshop, parts=found))


def settings(content: bytes) -> Folder | None:
    """Read ``workshop.toml``, and the parts and batches that name what it defines."""
    home = HERE / "t"
    home.mkdir(exist_ok=True)
    (home / "workshop.toml").write_bytes(content)
    reading_settings(home)
    toml = read_toml(home / "workshop.toml", VALID.names)
    if refused(toml.problems) or toml.workshop is None:
        assert toml.problems, "refused without a word"
        return None
    found, problems = read_parts(VALID.path / "parts.csv", VALID.names, moulds=toml.mould_names)
    return None if refused(problems) else _surveyed(VALID.path, workshop=replace(toml.workshop, parts=found))


def own_factors(content: bytes) -> Folder | None:
    """Read ``factors.csv``."""
    home = HERE / "f"
    home.mkdir(exist_ok=True)
    (home / OWN_FILES[0]).write_bytes(content)
    factors, problems = read_own_factors(home / OWN_FILES[0], VALID.shipped)
    return None if refused(problems) else replace(VALID, factors=factors)


def cell(content: bytes) -> Folder | None:
    """Read one text as every kind of cell; what is read is a finite number."""
    text = content.decode(errors="replace")
    accepted = False
    kinds: Sequence[Callable[[], object]] = (
        *(partial(parse_quantity, text, dimension) for dimension in DIMENSIONS),
        partial(parse_number, text),
        partial(parse_share, text),
        partial(parse_share, text, percent=True),
        partial(parse_money, text, "EUR"),
        partial(parse_energy, text, VALID.workshop.equipment),
        partial(parse_price, text, "EUR"),
        partial(parse_rate, text, "energy"),
        partial(parse_period, text),
    )
    for kind in kinds:
        try:
            found = kind()
        except (UnitError, PeriodError) as error:
            said(error)
            continue
        accepted = True
        numbers = (found.kwh,) if isinstance(found, Energy) else (found,) if isinstance(found, float) else found[:1]
        assert all(math.isfinite(number) for number in numbers if isinstance(number, float)), (kind, found)
    return VALID if accepted else None


def marks(content: bytes) -> Folder | None:
    """Settle the marks of a column, one cell on each line, under every setting."""
    column = sorted({text.strip() for text in content.decode(errors="replace").split("\n")})
    accepted = False
    for decimal, stated in ((".", True), (",", True), (".", False), (",", False), ("", False)):
        known, plain = settle(column, decimal, stated=stated)
        for text, is_plain in zip(column, plain, strict=True):
            if is_plain:
                assert math.isfinite(plain_amount(text))
                continue
            try:
                normalised(text, known)
            except UnitError as error:
                said(error)
            else:
                accepted = True
    return VALID if accepted else None


def days(content: bytes) -> Folder | None:
    """Read a column of days, one on each line, in every order."""
    column = Coded.of(text.strip() for text in content.decode(errors="replace").split("\n"))
    accepted = False
    for order in (None, "day first", "month first"):
        found, faults = read_days(column, order)
        assert all(message and wanted for _, (_, message, wanted) in faults)
        at_fault = {index for index, _ in faults}
        blank = np.isnat(found).tolist()
        assert all(blank[at] == (at in at_fault or not text) for at, text in enumerate(column))
        accepted |= not all(blank)
    return VALID if accepted else None


def encoded(content: bytes) -> Folder | None:
    """Read bytes in every encoding that may be named."""
    accepted = False
    for encoding in (None, *get_args(Encoding)):
        try:
            text, _ = decode(content, encoding)
        except UndecodableError as error:
            said(error)
        else:
            accepted |= bool(text)
    return VALID if accepted else None


def country(content: bytes) -> Folder | None:
    """Take the conventions of a country of any name."""
    name = content.decode(errors="replace")
    for language in LANGUAGES:
        found = conventions.marks(name, language)
        assert found.decimal != found.group
        assert conventions.long_date(VALID.survey.days[0], name, language)
    assert conventions.paper_size(name)
    return VALID if name in VALID.names.countries else None


def report(content: bytes) -> Folder | None:
    """Read a PDF report, and what is printed in its places."""
    try:
        carried = read_report(content)
        carried.printed(dict.fromkeys(carried.places, "12.5"))
    except NoReportError as error:
        said(error)
        return None
    return VALID


def attached_settings(content: bytes) -> Folder | None:
    """Read the settings that a report carries."""
    try:
        read_settings({SETTINGS: content}).request()
    except NoReportError as error:
        said(error)
        return None
    return VALID


def attached_results(content: bytes) -> Folder | None:
    """Compare the results that a report carries with others."""
    counted, faults = compare_results(content, SOME_RESULTS)
    assert all(map(str, faults))
    return VALID if counted != (0, 0) else None


def tables(content: bytes) -> Folder | None:
    """Read the factor tables that a report carries, one of which is changed."""
    home = HERE / "tables"
    home.mkdir(exist_ok=True)
    changed = TABLES.get(chr(content[0]), "paper.csv") if content else ""
    for name, rows in SOME_TABLES.items():
        (home / name).write_bytes(content[1:] if name == changed else rows)
    try:
        read_names(home / CATALOGUE)
        read_factors(home)
    except ProblemsError as error:
        said(refused(error.problems))
        return None
    except ValueError as error:  # told as settings that cannot be used
        said(error)
        return None
    return VALID


def columns(content: bytes) -> Folder | None:
    """Read a Parquet file that is written from its columns."""
    made = parquet_of_columns(content)
    if made is None:
        raise NotReachedError
    return batches("batches.parquet", made, letter="r")


READERS: dict[str, tuple[str, Callable[[bytes], Folder | None]]] = {
    "b": ("batches.csv", partial(batches, "batches.csv", letter="b")),
    "p": ("parts.csv", partial(parts, "parts.csv", letter="p")),
    "q": ("batches.parquet, bytes", partial(batches, "batches.parquet", letter="q")),
    "r": ("batches.parquet, columns", columns),
    "x": ("batches.xlsx, bytes", partial(batches, "batches.xlsx", letter="x")),
    "y": ("batches.xlsx, parts", lambda content: batches("batches.xlsx", workbook_of_parts(content), letter="y")),
    "w": ("batches.xlsx, cells", lambda it: batches("batches.xlsx", workbook_of_cells(it, "batches"), letter="w")),
    "z": ("parts.xlsx, cells", lambda content: parts("parts.xlsx", workbook_of_cells(content, "parts"), letter="z")),
    "t": ("workshop.toml", settings),
    "f": ("factors.csv", own_factors),
    "c": ("one cell", cell),
    "m": ("marks of a column", marks),
    "n": ("days of a column", days),
    "o": ("encodings", encoded),
    "l": ("conventions of a country", country),
    "d": ("report.pdf, bytes", report),
    "e": ("report.pdf, objects", lambda content: report(pdf_of_objects(content))),
    "v": ("settings in a report", attached_settings),
    "j": ("results in a report", attached_results),
    "k": ("factor tables in a report", tables),
}


def read(letter: str, content: bytes) -> None:
    """Hand content to a reader, and what it accepts, on to the figures; count how far it came.

    Raises
    ------
    NotReachedError
        No file can be made of the content.
    """
    try:
        folder = READERS[letter][1](content)
    except NotReachedError:
        raise
    except BaseException:
        COUNTS[letter] += 1
        raise
    COUNTS[letter] += 1
    ACCEPTED[letter] += folder is not None
    if folder is not None and folder is not VALID:
        calculate(folder)
        FIGURES[letter] += 1


def calculate(folder: Folder) -> None:
    """Go from the records to both outputs, with few draws."""
    try:
        results = folder.assess(draws=2)
    except ProblemsError as error:
        said(refused(error.problems))
        return
    json.dumps(results.as_totals(), allow_nan=False)
    as_text(results)
