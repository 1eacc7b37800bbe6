"""What must hold for any whole folder, from its text to its figures, and that any broken one is refused cleanly."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from impact.account.results import Interval, Results
from impact.api import read_folder
from impact.base.catalogue import Names, read_names
from impact.base.problems import ProblemsError, errors
from impact.factors.factorset import FactorSet, read_factors
from impact.study import Study
from tests.documents import EXACT, close
from tests.drawn import assessed, check, drawn
from tests.strategies import FolderText, broken_files, put, valid_folders

DRAWN = 200
"""Folders drawn from the seeds 0 to 199; `tests/fuzz/folders.py` draws 5,000 others."""

OUTPUTS = ("made", "displaced_plastic", "net")
SLOW = (HealthCheck.too_slow, HealthCheck.data_too_large)
FOUND = tuple(phase for phase in Phase if phase is not Phase.shrink)
"""A folder is short enough to be read as found; to shrink one takes minutes."""


@cache
def factors() -> FactorSet:
    return read_factors()


@cache
def names() -> Names:
    return read_names()


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("impact.api.read_factors", lambda _: factors())
    monkeypatch.setattr("impact.api.read_names", lambda _: names())


def figures(text: FolderText) -> Results:
    """Return the results of a folder that must pass."""
    with tempfile.TemporaryDirectory() as place:
        folder, problems = read_folder(put(Path(place), text.files()))
        assert folder is not None, problems
        return folder.assess(draws=50)


def intervals(results: Results) -> Iterator[Interval]:
    yield from (results.made, results.displaced_plastic, results.net, results.disposal.avoided)
    yield from (results.disposal.avoided_other_set, results.disposal.lost_recycling)
    for part in results.parts:
        yield from (interval for interval in (part.footprint, part.difference) if interval is not None)
        if part.plastic is not None:
            yield part.plastic.footprint


def totals(results: Results) -> dict[str, Any]:
    """Return the JSON document without what names the order or the number of the batches."""
    document = json.loads(json.dumps(results.as_totals(), allow_nan=False))
    return {key: document[key] for key in ("paper", "disposal", "parts", "net_kgco2e", "made_kgco2e", "evidence")}


@settings(max_examples=6, deadline=None, phases=FOUND, suppress_health_check=SLOW)
@given(valid_folders())
def test_assess_any_valid_folder_closes_its_accounts(text: FolderText) -> None:
    results = figures(text)
    paper, disposal = results.paper, results.disposal
    collected = sum(float(row[grade] or 0) for row in text.batches for grade in row if grade in _grades(text))
    assert paper.collected_kg.value == pytest.approx(collected, **EXACT)
    # losses that went to a fate are taken off what was kept from it; those pulped again went nowhere
    returned = {
        item: kg for item, kg in results.inventory.items("mass", "returned").items() if "own rejects" not in item
    }
    fates = ("kept_from_landfill", "kept_from_incineration", "kept_from_composting", "taken_from_recycling")
    missing = paper.fines_kg.value / paper.collected_kg.value
    for grade in paper.by_grade:
        back = sum(mass for item, mass in returned.items() if item.split("|")[0] == grade.grade)
        split = sum(getattr(grade, f"{fate}_kg") for fate in fates)
        fines = missing * (grade.collected_kg - grade.taken_from_recycling_kg)  # gone to the sewer: kept from nothing
        assert split + back + fines == pytest.approx(grade.collected_kg, **EXACT)
    assert (
        paper.kept_from_landfill_kg.value
        <= paper.kept_from_landfill_gross_kg.value
        <= paper.collected_kg.value * (1 + 1e-12)
    )
    assert 0.0 <= paper.dry_fibre_kg <= paper.collected_kg.value * (1 + 1e-12)
    value = results.made.value - disposal.avoided.value + disposal.lost_recycling.value
    assert results.net.value == pytest.approx(value - results.displaced_plastic.value, **EXACT)
    for part in results.parts:
        if part.footprint is not None:
            assert sum(part.stages.values()) == pytest.approx(part.footprint.value, **EXACT)
        assert part.chance_lower is None or 0.0 <= part.chance_lower <= 1.0
    assert sum(results.evidence.values()) == pytest.approx(1.0)
    for interval in intervals(results):
        assert interval.low <= interval.median <= interval.high
    json.dumps(results.as_totals(), allow_nan=False)


def _grades(text: FolderText) -> set[str]:
    return set(text.batches[0]) & set(names().grades)


@settings(max_examples=6, deadline=None, phases=FOUND, suppress_health_check=SLOW)
@given(valid_folders(), st.randoms(use_true_random=False))
def test_assess_order_of_rows_and_zero_for_a_blank_grade_change_nothing(text: FolderText, chance: Any) -> None:
    rows = [{key: value or ("0" if key in _grades(text) else "") for key, value in row.items()} for row in text.batches]
    chance.shuffle(rows)
    order = [row["part"] for row in text.batches]
    one, two = totals(figures(text)), totals(figures(text.with_batches(rows)))
    for document in (one, two):
        document["parts"].sort(key=lambda part: order.index(part["part"]))
        document["paper"]["by_grade"].sort(key=lambda grade: grade["grade"])
    close(one, two)


@settings(max_examples=6, deadline=None, phases=FOUND, suppress_health_check=SLOW)
@given(valid_folders())
def test_assess_every_batch_twice_doubles_the_totals_and_leaves_a_part_as_it_was(text: FolderText) -> None:
    again = [{**row, "batch": f"{row['batch']}-again"} for row in text.batches]
    once, twice = figures(text), figures(text.with_batches([*text.batches, *again]))
    for name in OUTPUTS:
        for end in ("value", "low", "high"):
            assert getattr(getattr(twice, name), end) == pytest.approx(2 * getattr(getattr(once, name), end), **EXACT)
    for name in ("collected_kg", "kept_from_landfill_kg", "returned_to_landfill_kg", "put_to_use_kg", "deferred_kg"):
        assert getattr(twice.paper, name).value == pytest.approx(2 * getattr(once.paper, name).value, **EXACT)
    for single, double in zip(totals(once)["parts"], totals(twice)["parts"], strict=True):
        close({**single, "good": 2 * single["good"], "rejected": 2 * single["rejected"]}, double)


@settings(max_examples=6, deadline=None, phases=FOUND, suppress_health_check=SLOW)
@given(valid_folders())
def test_assess_blank_amount_is_estimated_and_zero_is_none(text: FolderText) -> None:
    blank, zero = (figures(text.with_batches([{**row, "drying": cell} for row in text.batches])) for cell in ("", "0"))
    assert blank.inventory.sum_of("making", "estimated drying") > 0.0
    assert zero.inventory.sum_of("making", "estimated drying") == 0.0
    if 'dryer = "room-air"' not in text.toml:  # which takes no electricity
        assert blank.made.value > zero.made.value


@settings(max_examples=5, deadline=None, phases=FOUND, suppress_health_check=SLOW)
@given(valid_folders())
def test_read_folder_batch_without_paper_is_refused(text: FolderText) -> None:
    empty = {key: "" if key in _grades(text) else value for key, value in text.batches[0].items()}
    with tempfile.TemporaryDirectory() as place:
        changed = text.with_batches([*text.batches, {**empty, "batch": "without"}])
        folder, problems = read_folder(put(Path(place), changed.files()))
    assert folder is None
    assert [(problem.code, problem.row) for problem in errors(problems)] == [("no-paper", len(text.batches) + 2)]


@pytest.mark.parametrize("first", range(0, DRAWN, 10))
def test_assess_any_drawn_folder_keeps_the_laws(first: int) -> None:
    """Order, units, a batch in two, twice the amounts, another part, sites and periods; one law for each folder, in turn."""
    accepted = [check(seed) for seed in range(first, first + 10)]
    assert sum(accepted) >= 5


def test_assess_a_share_of_gas_of_all_leaves_nothing_to_compare_sites_by() -> None:
    caught = drawn(0)
    toml = caught.toml.replace("[workshop]\n", "[workshop]\ngas_collection = 1\n").replace("landfill_site", "#")
    lines = [line for place, line in enumerate(toml.splitlines()) if place < 2 or "gas_collection" not in line]
    found = assessed(replace(caught, toml="\n".join(lines), factors=""))
    assert isinstance(found, Study)
    assert any("emit no methane" in one.text for one in found.assumptions)


@settings(max_examples=30, deadline=None, phases=FOUND, suppress_health_check=SLOW)
@given(broken_files())
def test_read_folder_any_broken_folder_is_refused_with_problems_or_calculated(files: dict[str, bytes]) -> None:
    with tempfile.TemporaryDirectory() as place:
        folder, problems = read_folder(put(Path(place), files))
    if folder is None:
        assert errors(problems)
    else:
        try:
            json.dumps(folder.assess(draws=2).as_totals(), allow_nan=False)
        except ProblemsError as error:
            problems = error.problems
            assert errors(problems)
    for problem in problems:
        assert problem.file in files
        assert str(problem).isprintable()
