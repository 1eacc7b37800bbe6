"""Coverage-guided inputs for the readers: any bytes in place of one file are refused cleanly or give finite figures.

    make fuzz                                            ten minutes, all readers
    python tests/fuzz/readers.py -max_total_time=60 build/corpus tests/fuzz/corpus
    python tests/fuzz/readers.py FILE                    one input again

The first letter of an input names the reader (`READERS`; any other letter counts round), the rest is the content of its
file; the other files are those of `tests/folders.py`. The variable `READERS` narrows the run, as in `READERS=tf`. What
is accepted is calculated for one input in 32, chosen by its checksum, because that takes most of the time. A finding (an exception, a warning of the numbers, a figure that is not finite) is written
once per place in the code to `build/fuzz`, and the run goes on. Needs the extra `fuzz`.
"""

from __future__ import annotations

import atexit
import json
import math
import os
import shutil
import sys
import tempfile
import traceback
import warnings
import zlib
from collections import Counter
from dataclasses import replace
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import atheris

with atheris.instrument_imports(include=["impact", "tomllib"]):
    from impact.api import Folder
    from impact.batches import read_batches
    from impact.energy import Energy, parse_energy
    from impact.factors import read_factors
    from impact.names import read_names
    from impact.ownfactors import read_own_factors
    from impact.parts import read_parts
    from impact.period import PeriodError, parse_period
    from impact.problems import ProblemsError, errors
    from impact.spellings import UnitError
    from impact.totals import as_text
    from impact.units import parse_money, parse_number, parse_price, parse_quantity, parse_rate, parse_share
    from impact.workshop_toml import read_toml

from tests.folders import BATCHES, swap, write_folder

CLOSED = swap(BATCHES, "0.5 kWh,30,2", "0.5 kWh,36,2")
FOUND = Path("build/fuzz")
MEMORY = Path("/dev/shm")
"""A folder in memory, where there is one."""

HERE = Path(tempfile.mkdtemp(prefix="impact-fuzz-", dir=MEMORY if MEMORY.is_dir() else None))
READERS = {
    "t": "workshop.toml",
    "p": "parts.csv",
    "b": "batches.csv",
    "f": "factors.csv",
    "q": "batches.parquet",
    "c": "one cell",
}
DIMENSIONS = ("mass", "energy", "volume", "length", "time", "power", "life", "force", "span")
CHOSEN = os.environ.get("READERS") or "".join(READERS)
COUNTS: Counter[str] = Counter()


def _valid() -> Folder:
    folder = write_folder(HERE / "valid", batches=CLOSED)
    names = read_names()
    toml = read_toml(folder / "workshop.toml", names)
    parts, _ = read_parts(folder / "parts.csv", names, moulds=toml.mould_names)
    workshop = toml.with_parts(parts)
    batches, problems = read_batches(folder, workshop, names)
    assert workshop is not None
    assert not problems
    factors = read_factors()
    return Folder(folder, workshop, batches, factors, factors, names, ())


VALID = _valid()


def read(reader: str, content: bytes) -> Folder | None:
    """Return the valid folder with one file read from these bytes; None when they are refused or not calculated."""
    workshop, names = VALID.workshop, VALID.names
    target = HERE / reader / READERS[reader]
    if reader != "c":
        target.parent.mkdir(exist_ok=True)
        target.write_bytes(content)
    if reader == "t":
        toml = read_toml(target, names)
        if toml.workshop is None or errors(toml.problems):
            return _refused(toml.problems)
        if not is_calculated(content):
            return None
        # parts and batches name what this file defines
        parts, problems = read_parts(VALID.path / "parts.csv", names, moulds=toml.mould_names)
        workshop = toml.with_parts(parts)
        batches, more = read_batches(VALID.path, workshop, names)
        problems += more
        return _refused(problems) if errors(problems) else replace(VALID, workshop=workshop, batches=batches)
    if reader == "p":
        parts, problems = read_parts(target, names, moulds=tuple(workshop.moulds))
        if errors(problems):
            return _refused(problems)
        if not is_calculated(content):
            return None
        workshop = replace(workshop, parts=parts)
        batches, problems = read_batches(VALID.path, workshop, names)
        return _refused(problems) if errors(problems) else replace(VALID, workshop=workshop, batches=batches)
    if reader == "c":
        return read_cell(content.decode(errors="replace"))
    if reader == "f":
        factors, problems = read_own_factors(target, VALID.factors)
        return _refused(problems) if errors(problems) else replace(VALID, factors=factors)
    batches, problems = read_batches(target.parent, workshop, names)
    return _refused(problems) if errors(problems) else replace(VALID, batches=batches)


def read_cell(text: str) -> None:
    """Read one text as every kind of cell, with either decimal mark; what is read is a finite number."""
    for decimal in ".,":
        kinds = (
            *(partial(parse_quantity, text, dimension, decimal=decimal) for dimension in DIMENSIONS),
            partial(parse_number, text, decimal=decimal),
            partial(parse_share, text, decimal=decimal),
            partial(parse_money, text, "EUR", decimal=decimal),
            partial(parse_energy, text, VALID.workshop.equipment, decimal=decimal),
            partial(parse_price, text, "EUR"),
            partial(parse_rate, text, "energy"),
            partial(parse_period, text),
        )
        for kind in kinds:
            try:
                found = kind()
            except (UnitError, PeriodError):
                continue
            numbers = (found.kwh,) if isinstance(found, Energy) else (found,) if isinstance(found, float) else found[:1]
            assert all(math.isfinite(number) for number in numbers if isinstance(number, float)), (kind, found)


def is_calculated(content: bytes) -> bool:
    """Return whether an input goes on from reading to the figures."""
    return zlib.crc32(content) % 32 == 0


def _refused(problems: list[object]) -> None:
    assert problems, "refused without a word"
    assert all(map(str, problems))


def calculate(folder: Folder) -> None:
    """Go from the records to both outputs, with few draws."""
    try:
        results = folder.assess(draws=2)
    except ProblemsError as error:
        _refused(error.problems)
        return
    json.dumps(results.as_totals(), allow_nan=False)
    as_text(results)


def one_input(data: bytes) -> None:
    """Read one input; note what it brings to light."""
    if not data:
        return
    letter, content = chr(data[0]), data[1:]
    if letter not in CHOSEN:
        letter = CHOSEN[data[0] % len(CHOSEN)]
    COUNTS[letter] += 1
    if COUNTS.total() % 1000 == 0:
        print("inputs:", *(f"{READERS[letter]} {count}" for letter, count in sorted(COUNTS.items())), file=sys.stderr)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            folder = read(letter, content)
            if folder is not None and is_calculated(content):
                calculate(folder)
    except Exception as error:
        note(letter, data, error)


def note(letter: str, data: bytes, error: Exception) -> None:
    """Keep an input, once per place in our code where it fails."""
    ours = [frame for frame in traceback.extract_tb(error.__traceback__) if f"{os.sep}impact{os.sep}" in frame.filename]
    place = f"{Path(ours[-1].filename).stem}-{ours[-1].lineno}" if ours else "harness"
    name = FOUND / f"{letter}-{type(error).__name__}-{place}"
    if name.exists():
        return
    FOUND.mkdir(parents=True, exist_ok=True)
    name.write_bytes(data)
    Path(f"{name}.txt").write_text("".join(traceback.format_exception(error)), encoding="utf-8")
    print(f"finding: {name}", file=sys.stderr, flush=True)


if __name__ == "__main__":
    atexit.register(shutil.rmtree, HERE, ignore_errors=True)
    atheris.Setup(sys.argv, one_input)
    atheris.Fuzz()
