"""The lines of the account: the rows that fill their blanks, that a line declared once is everywhere, that all are whole."""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import impact
from impact.account.inventory import BY_PART, DIVERTED, STAGES, Line
from impact.account.linekinds import COLLECTED, LineKind, Measure, Source
from impact.account.lines import LINES, kind_of
from impact.api import load
from impact.core.node import below
from impact.decisions.sensitivity import amount_of, factor_of
from impact.factors.factorset import Choice, read_factors
from impact.records import columns
from impact.records.columns import LogColumn, further_columns, usual_columns
from impact.records.demonstration import DEMO
from impact.study import Study, assess
from impact.trace.explanation import derivations
from impact.trace.leaves import Behind
from impact.trace.workbook import sheets
from tests.reference_account import Account, Key, added, with_makeup
from tests.test_reference_account import BATCHES, NAMES, WORKSHOPS, Case, drawn, grouped, key_of

MOVED = 1.03
CHANGED = 1e-11
"""Relative change of an amount that is more than rounding."""

# -- the rows that fill blanks ---------------------------------------------------------------------------


def asked_of(case: Case) -> dict[str, float]:
    """Return the central values that the reference account asks for."""
    asked: dict[str, float] = {}
    list(replace(case, central=lambda key: asked.setdefault(key, case.central(key))).accounts)
    return asked


def by_part(case: Case) -> dict[tuple[str, ...], Account]:
    """Return the reference account of each part, own rejects with the make-up of other batches."""
    parts, whole = grouped(case, "part"), added(case.accounts)
    pieces: dict[tuple[str, ...], list[Account]] = {}
    for group, account in grouped(case, *BY_PART).items():
        pieces.setdefault(group[:1], []).append(with_makeup(account, parts[group[:1]], whole))
    return {part: added(accounts) for part, accounts in pieces.items()}


def resting(before: Account, after: Account) -> set[Key]:
    """Return the lines whose amounts differ by more than rounding."""
    keys = before.keys() | after.keys()
    amounts = {key: (before.get(key, 0.0), after.get(key, 0.0)) for key in keys}
    return {key for key, (old, new) in amounts.items() if abs(new - old) > CHANGED * max(abs(old), abs(new))}


def moved_case(case: Case, key: str) -> Case:
    """Return the case with the central value of one factor key moved."""
    return replace(case, central=lambda one: case.central(one) * (MOVED if one == key else 1.0))


def no_row(key: str) -> Choice:
    raise AssertionError(f"the row of {key} is not needed to know that it fills a blank")


def assert_fillers_are_what_moves(case: Case) -> set[tuple[str, str]]:
    """Check for each line, of all batches and of each part, that the keys named are those that move its amount.

    Returns the activities and the keys, up to their first dot, that were named.
    """
    asked = asked_of(case)
    behind = Behind.found(case.table, case.shop, case.central, no_row, BY_PART)
    expected = by_part(case)
    moved = {key: by_part(moved_case(case, key)) for key in asked}
    seen: set[tuple[str, str]] = set()
    for part in [None, *expected]:
        there = behind if part is None else behind.where(part=part[0])
        found = {key_of(line): set(there.fillers(line)) for line, amount in there.inventory.by_line().items() if amount}
        before = _of(expected, part)
        moving = {key: resting(before, _of(accounts, part)) for key, accounts in moved.items()}
        wanted = {line: {key for key, lines in moving.items() if line in lines} for line in before}
        assert found == wanted
        seen |= {(activity, key.partition(".")[0]) for (_, activity, *_), keys in found.items() for key in keys}
    return seen


def _of(accounts: dict[tuple[str, ...], Account], part: tuple[str, ...] | None) -> Account:
    return added(list(accounts.values())) if part is None else accounts[part]


@pytest.mark.parametrize("number", range(WORKSHOPS))
def test_fillers_drawn_batches_are_the_keys_that_move_the_reference(number: int) -> None:
    assert_fillers_are_what_moves(drawn(number))


def test_fillers_drawn_batches_are_named_for_every_kind_of_line_that_rests_on_them() -> None:
    seen = assert_fillers_are_what_moves(drawn(1))
    assert {("pulped again", "paper"), ("estimated drying", "estimate"), ("estimated drying", "paper")} <= seen
    assert {("dry binder", "binder"), ("returned", "estimate"), ("fibre in losses", "estimate")} <= seen


@pytest.mark.parametrize("number", range(WORKSHOPS))
def test_fillers_one_batch_alone_are_the_keys_that_move_the_reference(number: int) -> None:
    case = drawn(number)
    for place in range(number % 8, BATCHES, 8):
        assert_fillers_are_what_moves(replace(case, table=case.table.kept(np.array([place])), rows=[case.rows[place]]))


# -- a line that is declared once ------------------------------------------------------------------------

OIL_KGCO2E_PER_L = 3.0
OILED = LineKind(
    "making", "press oil", "L", lambda b: b.recorded("oil_l"), "press oil",
    source=Source(lambda impacts, *_: OIL_KGCO2E_PER_L * impacts.values.get("water.supply"), "the footprint of press oil"),
    measure=Measure("the press oil", "measuring the press oil"),
)  # fmt: skip
ESTIMATED = replace(
    OILED, activity="estimated press oil", unit="kg", amount=lambda b: b.without("oil_l", b.dry_fibre),
    words="dry fibre, where no press oil is recorded", evidence="estimated", blank="oil_l",
    rate=lambda impacts, *_: impacts.values.get("estimate.pressing"),
)  # fmt: skip
RECORDED_L = 0.25


@pytest.fixture
def oiled(monkeypatch: pytest.MonkeyPatch) -> tuple[Study, Study]:
    """Return the demonstration, and the same with a column of press oil in every second batch and a line for it."""
    read = load(DEMO)
    plain = assess(read.workshop, read.batches, read_factors(), draws=50)
    for place in ("lines", "amounts"):
        monkeypatch.setattr(f"impact.account.{place}.LINES", (*LINES, OILED, ESTIMATED))
    column = LogColumn(
        "press oil",
        "volume",
        "oil_l",
        "oil on the mould",
        missing="press oil",
        remedy="measure the press oil, or write 0",
    )
    monkeypatch.setattr(columns, "COLUMNS", (*columns.COLUMNS, column))
    oil = [RECORDED_L if place % 2 else np.nan for place in range(len(read.batches))]
    batches = read.batches.assign(oil_l=oil, moisture=np.nan)
    return plain, assess(read.workshop, batches, read_factors(), draws=50)


def lines_of(results: Study) -> dict[str, tuple[Line, float]]:
    return {line.activity: (line, amount) for line, amount in results.inventory.by_line().items()}


def test_line_added_to_the_list_is_in_the_totals(oiled: tuple[Study, Study]) -> None:
    _, results = oiled
    (line, amount), (other, driver) = (lines_of(results)[kind.activity] for kind in (OILED, ESTIMATED))
    assert (line.account, line.unit, line.evidence, other.evidence) == ("making", "L", "weighed", "estimated")
    assert amount == pytest.approx(RECORDED_L * (results.batches // 2))
    values = results.values
    unit = OIL_KGCO2E_PER_L * values.central("water.supply")
    added = (amount + driver * values.central("estimate.pressing")) * unit
    assert added > 0.0
    assert sum(part.by_line.get(one, 0.0) for part in results.parts for one in (line, other)) == pytest.approx(added)


def test_line_added_to_the_list_is_explained(oiled: tuple[Study, Study]) -> None:
    _, results = oiled
    leaves = {
        node.label: node.details
        for node in below(derivations(results)["made_kgco2e.value"])
        if "records" in node.details
    }
    half = results.batches // 2
    recorded, driver = leaves[OILED.activity], leaves[ESTIMATED.activity]
    assert (recorded["records"], recorded["read"], recorded["blanks"]) == (half, "press oil", ())
    assert (driver["records"], driver["read"]) == (results.batches - half, ESTIMATED.words)
    grades = {choice.factor.key for choice in driver["blanks"]}
    assert grades
    assert {key.rpartition(".")[0] for key in grades} == {"paper.moisture"}


def test_line_added_to_the_list_is_in_the_workbook(oiled: tuple[Study, Study]) -> None:
    _, results = oiled
    pages = {sheet.name: sheet for sheet in sheets(results)}
    headers = list(pages["amounts"].header)
    assert {"making, press oil, weighed [L]", "making, estimated press oil, estimated [kg]"} <= set(headers)
    rows = {row[1]: row for row in pages["lines"].rows}
    assert {OILED.activity, ESTIMATED.activity} <= rows.keys()
    assert f"{OIL_KGCO2E_PER_L:g}*factors!" in rows[OILED.activity][8].text


def test_line_added_to_the_list_is_told_among_the_assumptions(oiled: tuple[Study, Study]) -> None:
    plain, results = oiled
    assert "blank-oil_l" not in {entry.code for entry in plain.assumptions}
    (told,) = [entry for entry in results.assumptions if entry.code == "blank-oil_l"]
    half = results.batches - results.batches // 2
    assert told.text.startswith(f"{half} of {results.batches} batches do not record press oil; it is estimated")
    assert told.remedy == "Measure the press oil, or write 0."


def test_line_added_to_the_list_is_something_to_measure(oiled: tuple[Study, Study]) -> None:
    line, _ = lines_of(oiled[1])[ESTIMATED.activity]
    assert (str(amount_of(line).name), str(amount_of(line).remedy)) == (
        "the press oil, not recorded",
        "measuring the press oil",
    )
    assert str(factor_of(line).name) == "the footprint of press oil"


# -- that the list is whole -------------------------------------------------------------------------------


def test_lines_have_names_of_their_own_and_every_stage_line_a_source_and_a_measure() -> None:
    assert len({(kind.account, kind.activity) for kind in LINES}) == len(LINES)
    assert {kind.account for kind in LINES} == {*STAGES, DIVERTED, "mass", "count"}
    for kind in LINES:
        assert (kind.source is not None and kind.measure is not None) == (kind.account in STAGES), kind.activity
        assert (kind.intensity is not None and kind.account not in STAGES) == (kind.account == DIVERTED), kind.activity
        assert (kind.lost is not None) == ((kind.account, kind.activity) == COLLECTED)
        assert (kind.sold is not None) == (kind.account in ("mould", "end_of_life", DIVERTED)), kind.activity
        assert kind.rate is None or kind.source is not None
        driven = kind.activity.startswith("estimated ") or kind.activity in ("binder as used", "heat from the room")
        assert (kind.rate is not None) == driven


def test_lines_blanks_told_have_words() -> None:
    assert {kind.blank for kind in LINES if kind.blank} == {
        column.canonical for column in columns.COLUMNS if column.missing
    }


PLAIN_WORDS = {"batches", "collected", "driving", "pressings", "put to use", "returned", *(
    column.name for columns in (usual_columns(NAMES), further_columns(NAMES)) for column in columns
)}  # fmt: skip
"""Activities that are words of their own: columns of the log, words of a table, facts that a sentence names."""


def test_activities_stand_in_the_list_and_nowhere_else() -> None:
    activities = {kind.activity for kind in LINES} - PLAIN_WORDS
    assert {"dry fibre", "estimated water", "fibre in losses", "pulped again"} <= activities
    found = {
        (path.name, node.value)
        for path in sorted(Path(impact.__file__).parent.rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and node.value in activities
    }
    assert {name for name, _ in found} <= {"lines.py", "linekinds.py"}


def test_kind_of_unknown_line_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="no line 'baking' is declared in the account 'making'"):
        kind_of(Line("making", "baking", "", "weighed", "kg"))


def test_amount_of_line_without_measure_is_refused_by_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("impact.account.lines.LINES", (replace(OILED, measure=None),))
    with pytest.raises(ValueError, match="'press oil'"):
        amount_of(Line("making", "press oil", "", "weighed", "L"))
