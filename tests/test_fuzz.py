"""The collected inputs of the fuzzer, its seeds and what it once found, each handed to its reader."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tests.fuzz import targets

CORPUS = Path(__file__).parent / "fuzz" / "corpus"
INPUTS = sorted(path.name for path in CORPUS.iterdir())


@pytest.mark.parametrize("name", INPUTS)
def test_read_collected_input_is_refused_with_problems_or_accepted(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    data = (CORPUS / name).read_bytes()
    monkeypatch.setattr(targets, "CALCULATED", 1)
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

    monkeypatch.setattr(targets, "CALCULATED", 1)
    monkeypatch.setattr("impact.api.Folder.assess", lambda *_, **__: Results())
    with pytest.raises(ValueError, match="Out of range float"):
        targets.read(letter, seed)
