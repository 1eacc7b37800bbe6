"""Doubts of many batches: counted in arrays, put into words as far as they are listed. The programmes are invented."""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from impact.account.comparison import Beside
from impact.api import Folder, load
from impact.base import problems
from impact.base.problems import Alike, Problem, ProblemList
from impact.tables.fingerprints import first_alike, of_rows
from impact.tables.texts import Coded, Written

sys.path.append(str(Path(__file__).parent / "benchmarks"))
from programme import write_programme

NAN = float("nan")
ROWS = 3_000


def columns(**changes: Any) -> dict[str, Any]:
    given: dict[str, Any] = {
        "mass": np.array([1.5, 1.5, NAN]), "day": np.array([20000, 20000, 20001], dtype="datetime64[D]"),
        "part": Coded.of(["pot", "pot", "tray"]), "note": Written.of(["", "", "a"]), "none": np.zeros(3),
    }  # fmt: skip
    return {**given, **changes}


def test_of_rows_alike_in_all_have_one_fingerprint() -> None:
    first, second, third = of_rows(columns()).tolist()
    assert first == second != third


@pytest.mark.parametrize(
    "change",
    [
        {"mass": np.array([1.5, 2.5, NAN])},
        {"mass": np.array([1.5, 0.0, NAN])},
        {"mass": np.array([NAN, 0.0, NAN])},
        {"day": np.array([20000, 20001, 20001], dtype="datetime64[D]")},
        {"part": Coded.of(["pot", "tray", "tray"])},
        {"note": Written.of(["", "a", "a"])},
        {"none": np.array([0.0, 1.0, 0.0])},
    ],
    ids=lambda change: next(iter(change)),
)
def test_of_rows_that_differ_in_one_column_have_two(change: dict[str, Any]) -> None:
    first, second, _ = of_rows(columns(**change)).tolist()
    assert first != second


def test_of_rows_do_not_hang_on_order_codes_or_what_is_not_there() -> None:
    found = of_rows(columns()).tolist()
    other = columns(part=Coded(("", "tray", "pot"), np.array([2, 2, 1])), mass=np.array([1.5, 1.5, -NAN]))
    del other["none"]
    assert of_rows(dict(reversed(other.items()))).tolist() == found


def test_first_alike_is_what_a_dictionary_finds() -> None:
    marks = np.random.default_rng(7).integers(0, 400, 1000).astype(np.uint64)
    seen: dict[int, int] = {}
    expected = [
        (place, seen[mark]) for place, mark in enumerate(marks.tolist()) if seen.setdefault(mark, place) != place
    ]
    assert list(zip(*(one.tolist() for one in first_alike(marks)), strict=True)) == expected
    assert [len(one) for one in first_alike(np.arange(9, dtype=np.uint64))] == [0, 0]


def test_problem_list_words_only_what_it_lists(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(problems, "LISTED", 5)
    asked: list[int] = []

    def first(count: int) -> list[Problem]:
        asked.append(count)
        return [Problem("odd", "a", "m", row=row, level="warning") for row in range(count)]

    found = ProblemList()
    found.add([Alike("odd", "a", "warning", 3, first), Alike("odd", "a", "warning", 4, first)])
    found.add([Alike("odd", "b", "warning", 7, first), Problem("odd", "a", "m", row=9)])
    assert asked == [3, 2]
    counts = {(one.file, one.level): one.count for one in found.all() if one.row is None}
    assert counts == {("a", "warning"): 2, ("b", "warning"): 7}
    assert sum(one.count for one in found.all()) == 15


@pytest.mark.parametrize("kind", ["doubtful", "repetitive"])
def test_doubts_in_blocks_under_a_ceiling_are_the_first_of_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: Any
) -> None:
    folder = write_programme(tmp_path, ROWS, kind=kind).parent
    whole = load(folder).assess(draws=1).warnings
    monkeypatch.setattr("impact.records.batches.BLOCK", 50_000)
    for module in ("base.problems", "account.plausibility", "account.comparison", "account.sizes"):
        monkeypatch.setattr(f"impact.{module}.LISTED", 100)
    lean = load(folder, keep=False).assess(draws=1).warnings
    counts = [Counter[str]() for _ in range(2)]
    for count, found in zip(counts, (whole, lean), strict=True):
        for one in found:
            count[one.code] += one.count
    # the doubts about sizes that are not listed count once for a batch, whatever its quantities
    assert {code: n for code, n in counts[0].items() if "size" not in code} == {
        code: n for code, n in counts[1].items() if "size" not in code
    }
    assert counts[0]["mass-balance" if kind == "doubtful" else "batch-twice"] > 400
    for code in ("mass-balance", "date-order", "batch-twice"):
        first, told = ([one for one in found if one.code == code and one.count == 1] for found in (whole, lean))
        assert told == first[:100]


def test_doubted_sizes_are_not_read_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = write_programme(tmp_path, ROWS).parent
    text = (folder / "batches.csv").read_text().splitlines()
    cells = text[7].split(",")
    cells[14] = "5000"  # litres of water
    (folder / "batches.csv").write_text("\n".join([*text[:7], ",".join(cells), *text[8:]]) + "\n")

    def refuse(*_: object) -> None:
        raise AssertionError("the file was read again")

    opened = load(folder, keep=False)
    monkeypatch.setattr("impact.api.read_again", refuse)
    assert ("size-span", 8) in [(one.code, one.row) for one in opened.assess(draws=1).warnings]
    monkeypatch.undo()
    monkeypatch.setattr(Beside, "kept", lambda *_: None)
    assert doubted(load(folder, keep=False)) == doubted(opened)


def doubted(folder: Folder) -> list[Problem]:
    return [one for one in folder.assess(draws=1).warnings if one.code.startswith("size")]
