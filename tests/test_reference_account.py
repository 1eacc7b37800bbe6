"""The inventory against the account worked out batch by batch with plain numbers (`tests.reference_account`)."""

from __future__ import annotations

import hashlib
import math
import random
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings

from impact.account.amounts import records_behind, take_stock
from impact.account.assessment import values_for
from impact.account.inventory import BY_PART, BY_SITE, Inventory, Line
from impact.account.paper import resolved
from impact.account.tally import tally_of
from impact.api import load
from impact.base.catalogue import read_names
from impact.records.batchtable import BatchTable
from impact.records.demonstration import DEMO
from impact.records.workshop import Drying, FateSplit, Mould, Recipe, Workshop
from tests.frames import batches, part, workshop
from tests.reference_account import UNITS, Account, Batch, Central, Key, added, reference_account, with_makeup
from tests.strategies import FolderText, put, valid_folders
from tests.workshops import tiny

CLOSE = 1e-12
"""Relative difference that the order of sums may make."""
WORKSHOPS, BATCHES = 12, 80
NAMES = read_names()
GRADES, BINDERS, DRYERS = sorted(NAMES.grades), sorted(set(NAMES.binders) - {"none"}), [None, *sorted(NAMES.dryers)]
FATES = ("landfill", "incineration", "recycling", "composting")
TEXTS = ("batch", "part", "site", "fate", "binder", "rejects_to", "trim_to")
ENERGIES = ("shredding", "binder_preparation", "blending", "pressing", "drying")
STAGE_ESTIMATES = {"shredding": "paper", "blending": "making", "pressing": "making", "drying": "making"}

EVERY_LINE = {
    *(("mass", activity, "weighed") for activity in (
        "dry fibre", "collected", "put to use", "recovered fibre in parts", "own rejects in parts", "pulped again",
    )),
    *(("mass", "returned", evidence) for evidence in ("weighed", "assumed", "estimated")),
    ("diverted", "dry paper", "weighed"), ("diverted", "paper as weighed", "weighed"),
    ("binder", "dry binder", "weighed"), ("binder", "binder as used", "weighed"), ("binder", "estimated binder", "estimated"),
    ("binder", "binder preparation", "metered"), ("binder", "binder preparation", "nameplate"),
    ("binder", "estimated binder preparation", "estimated"),
    *((stage, f"estimated {name}", "estimated") for name, stage in STAGE_ESTIMATES.items()),
    *((stage, name, evidence) for name, stage in STAGE_ESTIMATES.items() for evidence in ("metered", "nameplate")),
    ("making", "heat from the room", "estimated"), ("making", "water", "weighed"), ("making", "estimated water", "estimated"),
    ("mould", "pressings", "assumed"), ("mould", "pressings", "metered"),
    ("transport", "driving", "metered"), ("transport", "estimated driving", "estimated"),
    *(("end_of_life", f"{kind} in parts", "weighed") for kind in ("fibre", "binder")),
    *(("end_of_life", f"{kind} in losses", evidence) for kind in ("fibre", "binder") for evidence in ("weighed", "assumed", "estimated")),
    *(("count", activity, "") for activity in (
        "batches", "good parts", "rejects", "dry mass of good parts", "dry mass in", "dry mass out", "dry binder", "hours", "cost",
    )),
}  # fmt: skip
"""Account, activity and evidence class of every kind of line."""


@dataclass(frozen=True)
class Case:
    """A workshop with its batches, as a table and as plain mappings."""

    shop: Workshop
    table: BatchTable
    rows: list[Batch]
    central: Central

    @cached_property
    def accounts(self) -> list[Account]:
        """The reference account of each batch."""
        return [reference_account(row, self.shop, self.central) for row in self.rows]


# -- the two sides ---------------------------------------------------------------------------------


def rows_of(table: BatchTable) -> list[Batch]:
    """Return the batches of a table as plain mappings, None for a blank."""
    columns: dict[str, list[Any]] = {}
    for name, column in table.columns.items():
        texts = hasattr(column, "coded")
        values = column.tolist() if texts or name in ("date", "row") else table.floats(name).tolist()
        columns[name] = [
            None if value == "" or (isinstance(value, float) and math.isnan(value)) else value for value in values
        ]
    return [dict(zip(columns, values, strict=True)) for values in zip(*columns.values(), strict=True)]


def key_of(line: Line) -> Key:
    assert line.unit == UNITS.get(line.activity, "kg"), line
    return line.account, line.activity, line.item, line.evidence


def accounts_of(inventory: Inventory, *by: str) -> dict[tuple[str, ...], Account]:
    """Return the account of each group of an inventory, without amounts of 0."""
    keys = [key_of(line) for line in inventory.lines]
    groups = zip(*(inventory.groups[column] for column in by), strict=True)
    return {
        group: {key: amount for key, amount in zip(keys, amounts, strict=True) if amount}
        for group, amounts in zip(groups, inventory.amounts.tolist(), strict=True)
    }


def grouped(case: Case, *by: str) -> dict[tuple[str, ...], Account]:
    """Return the reference account of each group of batches."""
    pieces: dict[tuple[str, ...], list[Account]] = {}
    for row, account in zip(case.rows, case.accounts, strict=True):
        pieces.setdefault(tuple(row[column] or "" for column in by), []).append(account)
    return {group: added(accounts) for group, accounts in pieces.items()}


def differences(found: Account, expected: Account) -> set[Key]:
    """Return the lines that stand on one side only, or whose amounts differ."""
    apart = {
        key
        for key in found.keys() & expected.keys()
        if not math.isclose(found[key], expected[key], rel_tol=CLOSE, abs_tol=0.0)
    }
    return apart | (found.keys() ^ expected.keys())


def assert_same(found: dict[tuple[str, ...], Account], expected: dict[tuple[str, ...], Account]) -> None:
    assert found.keys() == expected.keys()
    wrong = {
        (*group, *key): (found[group].get(key), expected[group].get(key))
        for group in expected
        for key in differences(found[group], expected[group])
    }
    assert wrong == {}


def assert_agrees(case: Case) -> None:
    """Check the inventory of a table by batch and by group, and that of each of its batches alone."""
    by_batch, balance = take_stock(case.table, case.shop, case.central, by=("part", "batch"))
    assert_same(accounts_of(by_batch, "batch"), grouped(case, "batch"))
    tally, _ = tally_of(case.table, case.shop, case.central, by=BY_SITE)
    assert_same(accounts_of(tally.inventory, *BY_SITE), grouped(case, *BY_SITE))
    for name, amounts in (
        ("dry mass in", balance.in_kg),
        ("dry mass out", balance.out_kg),
        ("dry binder", balance.amounts.dry_binder_kg),
        ("rejects", balance.amounts.rejects),
    ):
        expected = [account.get(("count", name, "", ""), 0.0) for account in case.accounts]
        np.testing.assert_allclose(amounts, expected, rtol=CLOSE, atol=0.0)


# -- batches ---------------------------------------------------------------------------------------


@cache
def demo() -> Case:
    return opened(DEMO)


def opened(folder: Path) -> Case:
    """Return a workshop folder with the factor values of its country."""
    read = load(folder)
    table = BatchTable.of(read.batches)
    values = values_for(read.workshop, read.factors, read.names, seed=0, draws=1)
    return Case(read.workshop, table, rows_of(table), values.central)


def unlike(key: str) -> float:
    """Return a value of a factor key between 0.02 and 0.52 that no other key has, so that no two can be mistaken."""
    return 0.02 + int.from_bytes(hashlib.blake2b(key.encode(), digest_size=6).digest(), "big") / 2.0**49


def drawn_shop(rng: random.Random, number: int) -> Workshop:
    """Draw a workshop of three parts and two moulds; dryers, heating and recipes take turns."""
    known = (
        None,
        Recipe(solids=rng.uniform(0.1, 0.6)),
        Recipe(preparation_kwh_per_kg=0.4),
        Recipe(rng.uniform(0.1, 0.6), 0.4),
    )
    recipes = {name: known[(number + place) % len(known)] for place, name in enumerate(BINDERS)}
    return workshop(
        part("pot", mould="shell", mass_kg=rng.uniform(0.01, 0.09)),
        part("tray", mould="shell", mass_kg=rng.uniform(0.01, 0.09)),
        part("lid", mould="frame", mass_kg=rng.uniform(0.01, 0.09)),
        moulds={
            "shell": Mould("shell", "PLA", 0.3, 2.5, "metered", 100),
            "frame": Mould("frame", "PLA", 0.2, None, "estimated", 300, retired=number % 2 == 0),
        },
        part_moisture=rng.choice((None, 0.06)),
        fates={"office": FateSplit(0.2, 0.3, 0.4, 0.1)} if number % 3 == 0 else {},
        drying=Drying(DRYERS[number % len(DRYERS)], number % 4 != 0, "electricity" if number % 4 == 1 else "gas"),
        vehicle=rng.choice(sorted(NAMES.vehicles)),
        binders={name: recipe for name, recipe in recipes.items() if recipe is not None},
    )


def drawn_batch(rng: random.Random, number: int) -> dict[str, Any]:
    """Draw one batch, every amount blank, 0 or recorded."""

    def some(low: float, high: float) -> float | None:
        return rng.choice((None, 0.0, rng.uniform(low, high)))

    fresh, again = rng.choice(((True, False), (True, False), (True, True), (False, True), (False, True)))
    used = rng.sample(GRADES, rng.randint(1, 3)) if fresh else []
    row: dict[str, Any] = {
        "batch": f"{number:03}",
        "part": rng.choice(("pot", "tray", "lid")),
        "site": rng.choice(("", "school", "yard")),
        "fate": rng.choice(("", "", *FATES)),
        "binder": rng.choice(("none", *BINDERS)),
        "rejects_to": rng.choice(("", *FATES, "own rejects")),
        "trim_to": rng.choice(("", *FATES, "own rejects")),
        **{
            f"paper.{grade}_kg": rng.uniform(0.1, 2.0) if grade in used else rng.choice((None, 0.0)) for grade in GRADES
        },
        "own_rejects_kg": rng.uniform(0.05, 1.5) if again else rng.choice((None, 0.0)),
        "moisture": some(0.02, 0.2),
        "binder_kg": some(0.05, 0.5),
        "binder_solids": rng.choice((None, rng.uniform(0.05, 0.9))),
        "water_l": some(1.0, 20.0),
        "transport_km": some(0.5, 30.0),
        "part_mass_kg": rng.choice((None, rng.uniform(0.01, 0.09))),
        "good_parts": float(rng.choice((0, rng.randint(1, 40)))),
        "rejects": rng.choice((None, 0.0, float(rng.randint(1, 9)))),
        "trim_kg": some(0.01, 0.1),
        "hours": some(0.5, 8.0),
        "cost": some(0.5, 9.0),
    }
    if row["binder"] == "none":
        row |= {"binder_kg": rng.choice((None, 0.0)), "binder_solids": None}
    for name in ENERGIES:
        row[f"{name}_kwh"] = some(0.01, 3.0)
        word = "estimated" if row[f"{name}_kwh"] is None else rng.choice(("metered", "nameplate"))
        row[f"{name}_kwh_evidence"] = word
    return row


@cache
def drawn(number: int) -> Case:
    """Return a drawn workshop with batches; their blanks are filled with values that no two factor keys share."""
    rng = random.Random(number)
    shop, rows = drawn_shop(rng, number), [drawn_batch(rng, place) for place in range(BATCHES)]
    nothing = {name for name in rows[0] if name.startswith("paper.")} | {"own_rejects_kg"}
    frame = batches(
        [{name: _cell(value, 0.0 if name in nothing else math.nan) for name, value in row.items()} for row in rows]
    )
    return Case(shop, BatchTable.of(frame), [{**row, "fate": row["fate"] or None} for row in rows], unlike)


def _cell(value: Any, blank: float) -> Any:
    return blank if value is None else value


def every_case() -> Iterable[Case]:
    return (drawn(number) for number in range(WORKSHOPS))


def state(value: float | None) -> str:
    return "blank" if value is None else "recorded" if value else "0"


# -- what is held ----------------------------------------------------------------------------------


def test_drawn_batches_every_column_blank_0_and_recorded_every_name_used() -> None:
    pairs = [(case.shop, row) for case in every_case() for row in case.rows]
    rows = [row for _, row in pairs]
    amounts = [name for name, value in rows[0].items() if name not in TEXTS and not name.endswith("_evidence")]
    states = {(name, state(row[name])) for row in rows for name in amounts}
    without = {("binder_solids", "0"), ("part_mass_kg", "0"), ("good_parts", "blank")}
    assert states == {(name, word) for name in amounts for word in ("blank", "0", "recorded")} - without
    made_of = {
        (any(row[f"paper.{grade}_kg"] for grade in GRADES), bool(row["own_rejects_kg"]), row["binder"] != "none")
        for row in rows
    }
    assert made_of == {
        (fresh, own, glue) for fresh in (True, False) for own in (True, False) for glue in (True, False) if fresh or own
    }
    for loss, column in (("rejects", "rejects"), ("trim", "trim_kg")):
        ways = {(row[f"{loss}_to"], state(row[column])) for row in rows if row["good_parts"]}
        assert len(ways) == (len(FATES) + 2) * 3
    glued = {
        (row["binder"], state(row["binder_kg"]), row["binder_solids"] is None, recipe is None or recipe.solids is None)
        for shop, row in pairs
        if row["binder"] != "none"
        for recipe in [shop.binders.get(row["binder"])]
    }
    assert len(glued) == len(BINDERS) * 3 * 2 * 2
    assert {shop.drying.dryer for shop, _ in pairs} == set(DRYERS)
    heating = {shop.drying.heated_room and shop.drying.heating for shop, _ in pairs}
    assert heating == {False, "gas", "electricity"}
    assert {shop.part_moisture for shop, _ in pairs} == {None, 0.06}
    assert {shop.vehicle for shop, _ in pairs} == set(NAMES.vehicles)


def test_drawn_batches_bring_every_kind_of_line_and_item() -> None:
    keys = {key for case in every_case() for account in case.accounts for key in account}
    assert {(account, activity, evidence) for account, activity, _, evidence in keys} == EVERY_LINE
    items = {activity: {item for _, other, item, _ in keys if other == activity} for _, activity, _, _ in keys}
    assert items["collected"] == {f"{grade}|{fate}" for grade in GRADES for fate in (*FATES, "split")}
    for activity, made_of in (("fibre in losses", [*GRADES, "own rejects"]), ("binder in losses", BINDERS)):
        assert items[activity] == {f"{item}|{route}" for item in made_of for route in (*FATES, "own rejects")}


@pytest.mark.parametrize("number", range(WORKSHOPS))
def test_take_stock_drawn_batches_match_reference(number: int) -> None:
    assert_agrees(drawn(number))


@pytest.mark.parametrize("number", range(WORKSHOPS))
def test_take_stock_one_batch_alone_matches_reference(number: int) -> None:
    case = drawn(number)
    for place in range(number % 2, BATCHES, 2):
        inventory, _ = take_stock(case.table.kept(np.array([place])), case.shop, case.central)
        (found,) = accounts_of(inventory, *BY_PART).values()
        assert differences(found, case.accounts[place]) == set(), case.rows[place]


@pytest.mark.parametrize("number", range(WORKSHOPS))
def test_resolved_drawn_batches_match_reference(number: int) -> None:
    assert_makeup_agrees(drawn(number))


def assert_makeup_agrees(case: Case) -> None:
    inventory, _ = take_stock(case.table, case.shop, case.central)
    by_part, whole = grouped(case, "part"), added(case.accounts)
    expected = {
        group: with_makeup(account, by_part[group[:1]], whole) for group, account in grouped(case, *BY_PART).items()
    }
    assert_same(accounts_of(resolved(inventory), *BY_PART), expected)


def test_resolved_without_paper_in_part_or_workshop_match_reference() -> None:
    def has_paper(row: Batch) -> bool:
        return any(row[f"paper.{grade}_kg"] for grade in GRADES)

    for case in every_case():
        pulped = [not has_paper(row) and row["binder"] == "none" for row in case.rows]
        for kept in (
            [again or row["part"] == "pot" for again, row in zip(pulped, case.rows, strict=True)],
            pulped,
        ):
            places = np.flatnonzero(kept)
            rows = [case.rows[place] for place in places]
            assert_makeup_agrees(replace(case, table=case.table.kept(places), rows=rows))


@pytest.mark.parametrize("number", range(WORKSHOPS))
def test_records_behind_drawn_batches_are_those_with_an_amount(number: int) -> None:
    case = drawn(number)
    found = {
        key_of(line): marks.tolist() for line, marks in records_behind(case.table, case.shop, case.central).items()
    }
    accounts = case.accounts
    assert found == {key: [key in account for account in accounts] for key in added(accounts)}


def test_take_stock_demo_matches_reference() -> None:
    case = demo()
    assert_agrees(case)
    assert_makeup_agrees(case)


def test_assess_demo_inventory_matches_reference() -> None:
    case = demo()
    by_part, whole = grouped(case, "part"), added(case.accounts)
    expected = {group: with_makeup(one, by_part[group[:1]], whole) for group, one in grouped(case, *BY_PART).items()}
    assert_same(accounts_of(load(DEMO).assess(draws=1).inventory, *BY_PART), expected)


def test_take_stock_folder_with_every_setting_matches_reference(tmp_path: Path) -> None:
    case = opened(tiny(tmp_path / "bench"))
    assert_agrees(case)
    assert_makeup_agrees(case)


@settings(max_examples=6, deadline=None)
@given(valid_folders())
def test_take_stock_drawn_folder_matches_reference(folder: FolderText) -> None:
    with tempfile.TemporaryDirectory() as place:
        assert_agrees(opened(put(Path(place) / "bench", folder.files())))


# -- that it bites ---------------------------------------------------------------------------------


def scaled(account: Account, key: Key) -> set[Key]:
    account[key] *= 1.01
    return {key}


def nudged(account: Account, key: Key) -> set[Key]:
    account[key] *= 1.0 + 3.0 * CLOSE
    return {key}


def dropped(account: Account, key: Key) -> set[Key]:
    del account[key]
    return {key}


def of_another_class(account: Account, key: Key) -> set[Key]:
    other = (*key[:3], "guessed")
    account[other] = account.pop(key)
    return {key, other}


def of_another_item(account: Account, key: Key) -> set[Key]:
    other = (*key[:2], f"{key[2]}?", key[3])
    account[other] = account.pop(key)
    return {key, other}


def added_twice(account: Account, key: Key) -> set[Key]:
    other = (*key[:2], "twice", key[3])
    account[other] = account[key]
    return {other}


@pytest.mark.parametrize("fault", [scaled, nudged, dropped, of_another_class, of_another_item, added_twice])
def test_differences_one_faulty_line_is_the_one_told(fault: Callable[[Account, Key], set[Key]]) -> None:
    case = drawn(1)
    inventory, _ = take_stock(case.table, case.shop, case.central)
    expected = added(case.accounts)
    found = added(list(accounts_of(inventory, *BY_PART).values()))
    assert differences(found, expected) == set()
    for key in expected:
        faulty = dict(found)
        told = fault(faulty, key)
        assert differences(faulty, expected) == told
