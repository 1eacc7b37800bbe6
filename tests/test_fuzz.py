"""The collected inputs of the fuzzer, its seeds and what it once found, each handed to its reader."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tests.fuzz import targets

CORPUS = Path(__file__).parent / "fuzz" / "corpus"
INPUTS = sorted(path.name for path in CORPUS.iterdir())


@pytest.mark.parametrize("name", INPUTS)
def test_read_collected_input_is_refused_with_problems_or_accepted(name: str) -> None:
    data = (CORPUS / name).read_bytes()
    before = targets.COUNTS[name[0]]
    targets.read(name[0], data[1:])
    assert targets.COUNTS[name[0]] == before + 1


def test_read_seeds_reach_every_reader() -> None:
    assert {name[0] for name in INPUTS} == set(targets.READERS)


@pytest.mark.parametrize("letter", sorted({*targets.READERS} - {"c", "d", "e", "j", "k", "l", "m", "n", "o", "v"}))
def test_read_figure_that_is_not_finite_is_a_finding(letter: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The targets themselves notice what they are there to notice."""
    accepted = {"x": "x-small", "y": "y-small", "q": "q-small", "r": "r-small", "w": "w-full", "z": "z-small"}
    seed = (CORPUS / accepted.get(letter, f"{letter}-full")).read_bytes()[1:]

    class Results:
        def as_totals(self) -> dict[str, float]:
            return {"net_kgco2e": math.nan}

    monkeypatch.setattr("impact.api.Folder.assess", lambda *_, **__: Results())
    with pytest.raises(ValueError, match="Out of range float"):
        targets.read(letter, seed)


def test_broken_and_hostile_inputs_of_the_suite_are_distinct_and_over_250() -> None:
    """Count the inputs of three files whose every case must end in problems or in one line; `HOSTILE` is tried on each file."""
    from tests import test_broken_folders as folders
    from tests import test_hostile_reports as reports
    from tests import test_xlsxtable as workbooks

    inputs = [
        *(("workshop.toml", old, new) for old, new, *_ in folders.TOML_FAULTS),
        *(("parts.csv", row, old, new) for row, old, new, *_ in folders.PART_FAULTS),
        *(("batches.csv", row, old, new) for row, old, new, *_ in folders.BATCH_FAULTS),
        *((name, content) for content, _ in folders.HOSTILE for name in folders.FILES),
        *(("batches.xlsx", *case.values[:3]) for case in workbooks.BROKEN_CELLS),
        *(("batches.xlsx", change) for change, _ in workbooks.HOSTILE_PARTS),
        *(("report.pdf", content) for content in reports.HOSTILE.values()),
        *(("settings", content) for content in reports.BAD_SETTINGS.values()),
        *(("results", content) for content in reports.BAD_RESULTS.values()),
        *(("catalogue", content) for content in reports.BAD_CATALOGUES.values()),
    ]
    assert len(inputs) == len(set(map(repr, inputs)))
    assert len(inputs) >= 250
