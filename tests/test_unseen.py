"""What rows that nobody saw published do at the ends of their intervals.

Checked against, from outside:

- all at once: the whole assessment run again on tables in which the rows themselves hold those ends
- the choice of ends: each row alone, by whole assessments, and every combination of a few rows
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from itertools import product

import pytest

from impact.account.results import Results
from impact.account.sums import counted_for
from impact.api import load
from impact.cli.totals_text import as_text
from impact.decisions.unseen import SIDES, WORDS, WORSE, unseen
from impact.factors.factorset import FactorSet
from impact.factors.values import End
from impact.records.demonstration import DEMO
from impact.records.statements import Grant
from impact.study import Study, assess
from impact.trace.explanation import derivations
from tests.frames import batches, workshop

FILLS = ("binder.", "paper.moisture.", "part.moisture", "estimate.")
"""Keys whose central values also fill blanks of records: a changed row would change amounts as well."""


@cache
def demo() -> Study:
    return run(without_fills(load(DEMO).factors))


def without_fills(factors: FactorSet) -> FactorSet:
    """Return the rows, those that fill blanks as if they had been seen."""
    return changed(factors, lambda row: replace(row, evidence="seen") if row.key.startswith(FILLS) else row)


def changed(factors: FactorSet, change) -> FactorSet:  # type: ignore[no-untyped-def]
    rows = {key: tuple(change(row) for row in found) for key, found in factors.by_key.items()}
    return FactorSet(rows, factors.sources)


def run(factors: FactorSet) -> Study:
    folder = load(DEMO)
    return assess(folder.workshop, folder.batches, factors, draws=1)


def figure(results: Results, name: str) -> float:
    of = {"made": results.made, "net": results.net}
    disposal = {"avoided": results.disposal.avoided, "lost_recycling": results.disposal.lost_recycling}
    return (of | disposal)[name].value


def moved(name: str, ends: Mapping[str, End]) -> float:
    """Return a figure by a whole assessment on tables in which some rows hold an end of their interval."""

    def change(row):  # type: ignore[no-untyped-def]
        value = getattr(row, ends[row.id]) if row.id in ends else row.value
        return replace(row, value=value, low=min(row.low, value), high=max(row.high, value))

    return figure(run(changed(demo().factors, change)), name)


@pytest.mark.parametrize("name", WORSE)
@pytest.mark.parametrize("word", WORDS)
def test_unseen_all_rows_at_once_are_those_of_an_assessment_with_the_ends_in_the_tables(word: str, name: str) -> None:
    found, cases = unseen(demo())
    for side in SIDES:
        given = getattr(getattr(getattr(found, word), name), side)
        assert given == pytest.approx(moved(name, cases[word, name, side]), rel=1e-9)


def test_unseen_ends_lie_on_both_sides_of_the_figure() -> None:
    found, _ = unseen(demo())
    for word, name in product(WORDS, WORSE):
        ends, value = getattr(getattr(found, word), name), figure(demo(), name)
        best, worst = sorted((WORSE[name] * ends.favourable, WORSE[name] * ends.unfavourable))
        assert best <= WORSE[name] * value + 1e-9
        assert WORSE[name] * value <= worst + 1e-9
        assert WORSE[name] * ends.favourable <= WORSE[name] * ends.unfavourable


def test_unseen_chosen_end_of_each_row_is_the_worse_by_an_assessment_of_its_own() -> None:
    _, cases = unseen(demo())
    ends = cases["common_practice", "net", "unfavourable"]
    assert len(ends) >= 5
    for row in list(ends)[:6]:
        other: End = "low" if ends[row] == "high" else "high"
        assert moved("net", {row: ends[row]}) > max(moved("net", {row: other}), figure(demo(), "net"))


def test_unseen_no_combination_of_three_rows_is_worse_than_the_one_chosen() -> None:
    _, cases = unseen(demo())
    rows = list(cases["common_practice", "net", "unfavourable"])[:3]
    every = [
        moved("net", dict(zip(rows, ends, strict=True))) for ends in product(("low", "value", "high"), repeat=len(rows))
    ]
    chosen = {row: cases["common_practice", "net", "unfavourable"][row] for row in rows}
    assert moved("net", chosen) == pytest.approx(max(every), rel=1e-12)


def test_unseen_rows_are_of_their_word_and_no_error_of_an_amount() -> None:
    results = load(DEMO).assess(draws=1)
    for (word, _, _), ends in unseen(results)[1].items():
        for row in ends:
            factor = results.factors_used[row].factor
            assert factor.evidence == WORDS[word]
            assert not row.startswith("evidence.")


def test_unseen_tables_all_seen_leave_the_figures_where_they_are() -> None:
    seen = run(changed(demo().factors, lambda row: replace(row, evidence="seen")))
    found, cases = unseen(seen)
    assert set(map(len, cases.values())) == {0}
    for word, name in product(WORDS, WORSE):
        ends = getattr(getattr(found, word), name)
        assert (ends.favourable, ends.unfavourable) == pytest.approx((figure(seen, name),) * 2)
    assert set(seen.memory_share.values()) == set(seen.practice_share.values()) == {0.0}


def test_unseen_of_a_grant_is_its_share() -> None:
    whole = load(DEMO).assess(draws=20)
    grant = Grant("city", whole.start, whole.end, share=0.25)
    part = counted_for(replace(whole, workshop=replace(whole.workshop, grants=(grant,))), grant)
    for name in WORSE:
        of_whole, of_part = (getattr(one.at_ends.from_memory, name) for one in (whole, part))
        assert of_part.unfavourable == pytest.approx(0.25 * of_whole.unfavourable)
    figures = {name: node.value for name, node in derivations(part).items() if name.startswith("at_ends.")}
    assert figures["at_ends.from_memory.net.favourable"] == pytest.approx(part.at_ends.from_memory.net.favourable)
    assert len(figures) == len(WORDS) * len(WORSE) * len(SIDES)


def test_unseen_workshop_of_one_batch_without_plastic_has_a_net_of_its_own() -> None:
    found = assess(workshop(), batches([{"paper.office_kg": 0.2, "good_parts": 3.0}]), load(DEMO).factors, draws=1)
    moves = found.at_ends.common_practice
    assert moves.net.unfavourable >= found.net.value >= moves.net.favourable


def test_totals_text_prints_the_ends_beside_the_shares() -> None:
    results = load(DEMO).assess(draws=200)
    made = results.at_ends.from_memory.made
    line = next(
        line
        for line in as_text(results, everything=True).splitlines()
        if line.startswith("parts made   ") and "%" in line
    )
    assert f"{made.favourable:.4g} to {made.unfavourable:.4g}" in line
    assert f"{results.memory_share['made']:.0%}" in line
