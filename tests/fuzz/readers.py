"""Coverage-guided inputs for the readers: any bytes in place of one file are refused cleanly or give finite figures.

    make fuzz                                        20,000 inputs, every reader its share of them
    make fuzz FUZZ_INPUTS=100000
    python tests/fuzz/readers.py --only xyw 5000     that many for some readers
    python tests/fuzz/readers.py FILE …              inputs once more, without the fuzzer

`targets.py` says what an input is. Counted is an input whose reader was called and came back; nothing else. A group of
readers is a process of its own with a fixed share (`SHARES`), so that slow readers get theirs. A finding is an exception, a
warning of the numbers, a figure that is not finite, `LONGEST` or `LARGEST`: it is written once per place in the code to
`build/fuzz`, and the run goes on. Needs the extra `fuzz`.

Workbooks, Parquet files and PDFs come as bytes and as what they are made of (parts, cells, columns, objects), around which
the file is made anew, so that mutations get past checksums. One run of eight minutes on 2026-11-25, `readers.py 100000`,
after every mending, with no finding:

| reader | inputs | of them accepted |
|---|---|---|
| batches.csv | 18,000 | 132 |
| parts.csv | 16,000 | 178 |
| batches.parquet, bytes and columns | 17,000 | 115 |
| batches.xlsx and parts.xlsx, bytes, parts and cells | 19,000 | 149 |
| workshop.toml | 6,000 | 11 |
| factors.csv | 5,000 | 21 |
| single cells, marks, days, encodings, countries | 9,000 | 6,135 |
| report.pdf, bytes and objects | 5,000 | 904 |
| settings, results and factor tables in a report | 5,000 | 381 |
| together | 100,000 | 8,026 |

Before it, on the same day, 246,666 inputs reached a reader, and found: a day that is none in a workbook, times in a Parquet
column other than `date`, a country in small letters, binder solids of 0. They are mended, and stand among the seeds, which
`tests/test_fuzz.py` hands to the readers in every run of the suite. Most inputs are refused: the calculation behind what is
accepted was reached by few.
"""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import random
import re
import resource
import shutil
import subprocess
import sys
import time
import traceback
import warnings
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

CORPUS = Path(__file__).parent / "corpus"
BUILD = ROOT / "build"
FOUND = BUILD / "fuzz"
SHARES = {"b": 18, "p": 16, "q": 4, "r": 13, "xy": 8, "w": 8, "z": 3, "t": 6, "f": 5, "cmnol": 9, "de": 5, "vjk": 5}
"""Of a hundred inputs, how many go to each group of readers; a group shares its part as coverage guides."""

BULKY = "xydeqjk"
LONG, SHORT = 4000, 400
"""Most bytes of an input: of readers whose least file is bulky, and of the others, where short ones are read fast."""

LONGEST = 10.0
"""Most that one input may take. [s]"""

LARGEST = 1_000_000
"""Most memory that one input may add to the process. [kB]"""


NUMBER = re.compile(rb"[0-9]+(?:[.,][0-9]+)*")
NUMBERS = (
    b"0", b"1", b"2", b"3.5", b"0.001", b"0.5", b"7", b"12", b"30", b"99", b"1000", b"1e-9", b"1e6", b"1e300", b"0.9999999",
    b"00", b"1.0000000000000001", b"2026", b"1,5", b"-0", b"100 %",
)  # fmt: skip
"""What stands for a number, and what takes its place."""

WORKERS = 4
"""Groups that run at a time."""


class TooMuchError(Exception):
    """Raised for an input that takes too long or too much memory."""


def load_targets(*, instrumented: bool) -> ModuleType:
    """Return the targets; instrumented, the calculation reports its coverage as well."""
    if not instrumented:
        return importlib.import_module("tests.fuzz.targets")
    import atheris

    with atheris.instrument_imports(include=["impact", "tomllib"]):
        for module in ("impact.account.assessment", "impact.account.comparison", "impact.account.plausibility"):
            importlib.import_module(module)
        return importlib.import_module("tests.fuzz.targets")


def one_input(targets: ModuleType, group: str, data: bytes) -> None:
    """Read one input; note what it brings to light."""
    if not data:
        return
    letter, content = chr(data[0]), data[1:]
    if letter not in group:
        letter = group[data[0] % len(group)]
    started, before = time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            targets.read(letter, content)
        taken = time.process_time() - started
        grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
        if taken > LONGEST or grown > LARGEST:
            raise TooMuchError(f"{taken:.1f} s, {grown / 1e6:.1f} GB")
    except targets.NotReachedError:
        return
    except Exception as error:
        note(letter, letter.encode() + content, error)


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


def mutated(data: bytes, largest: int, seed: int) -> bytes:
    """Return an input changed as the fuzzer does it, or with one number in it replaced, which leaves most files valid."""
    import atheris

    chance = random.Random(seed)
    found = list(NUMBER.finditer(data, 1))
    if not found or chance.random() < 0.6:
        return bytes(atheris.Mutate(data, largest))
    one = chance.choice(found)
    return (data[: one.start()] + chance.choice(NUMBERS) + data[one.end() :])[:largest]


def keep_counts(targets: ModuleType, group: str) -> None:
    """Write how many inputs reached each reader, were accepted, and went on to the figures."""
    counts = {name: dict(getattr(targets, name)) for name in ("COUNTS", "ACCEPTED", "FIGURES")}
    (BUILD / f"fuzz-counts-{group}.json").write_text(json.dumps(counts), encoding="utf-8")


def fuzz(group: str, inputs: int) -> None:
    """Run the fuzzer in this process until so many inputs have reached a reader of the group."""
    import atheris

    targets = load_targets(instrumented=True)

    def counted(data: bytes) -> None:
        one_input(targets, group, data)
        reached = targets.COUNTS.total()
        if reached >= inputs or (reached and reached % 500 == 0):
            keep_counts(targets, group)
        if reached >= inputs:
            shutil.rmtree(targets.HERE, ignore_errors=True)
            os._exit(0)

    corpus = BUILD / "corpus" / group
    corpus.mkdir(parents=True, exist_ok=True)
    FOUND.mkdir(parents=True, exist_ok=True)
    seeds = ",".join(str(path) for path in sorted(CORPUS.iterdir()) if path.name[0] in group)
    options = ["-timeout=120", "-rss_limit_mb=6000", f"-max_len={LONG if set(group) & set(BULKY) else SHORT}"]
    options += [f"-dict={CORPUS.parent / 'words.dict'}", f"-artifact_prefix={FOUND}/", f"-seed_inputs={seeds}"]
    atheris.Setup([sys.argv[0], *options, str(corpus)], counted, custom_mutator=mutated)
    atheris.Fuzz()


def run(shares: dict[str, int]) -> int:
    """Run each group in a process of its own, print the counts and return how many things were found."""

    def one(group: str) -> int:
        (BUILD / f"fuzz-counts-{group}.json").unlink(missing_ok=True)
        command = [sys.executable, __file__, "--group", group, str(shares[group])]
        with (BUILD / f"fuzz-{group}.log").open("wb") as log:
            return subprocess.run(command, stdout=log, stderr=log, cwd=ROOT, check=False).returncode

    BUILD.mkdir(exist_ok=True)
    with ThreadPoolExecutor(WORKERS) as pool:
        ended = dict(zip(shares, pool.map(one, shares), strict=True))
    sums: dict[str, Counter[str]] = {name: Counter() for name in ("COUNTS", "ACCEPTED", "FIGURES")}
    for group in shares:
        with contextlib.suppress(FileNotFoundError):
            for name, counts in json.loads((BUILD / f"fuzz-counts-{group}.json").read_text(encoding="utf-8")).items():
                sums[name].update(counts)
    targets = load_targets(instrumented=False)
    for letter, (name, _) in targets.READERS.items():
        if sums["COUNTS"][letter]:
            print(f"{name:28}", *(f"{sums[kind][letter]:9,} {kind.lower()}" for kind in sums))
    print(f"{sums['COUNTS'].total():,} inputs reached a reader")
    broken = [f"{group}: ended with {code}, see build/fuzz-{group}.log" for group, code in ended.items() if code]
    found = sorted(path.name for path in FOUND.iterdir() if path.suffix != ".txt") if FOUND.exists() else []
    print(*broken, *found, sep="\n")
    shutil.rmtree(targets.HERE, ignore_errors=True)
    return len(broken) + len(found)


def main(arguments: list[str]) -> int:
    """Do what the command line says."""
    match arguments:
        case ["--group", group, inputs]:
            fuzz(group, int(inputs))
        case ["--only", letters, inputs]:
            return run({letter: int(inputs) // len(letters) for letter in letters})
        case [inputs] if inputs.isdecimal():
            return run({group: int(inputs) * share // 100 for group, share in SHARES.items()})
        case files:
            targets = load_targets(instrumented=False)
            for file in files:
                data = Path(file).read_bytes()
                targets.read(chr(data[0]), data[1:])
    return 0


if __name__ == "__main__":
    sys.exit(min(main(sys.argv[1:]), 1))
