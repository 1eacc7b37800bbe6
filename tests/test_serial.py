"""Plain data and schemas from types: what a class shows, under which names, and what a schema takes and refuses."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from impact.account.assessment import assess_counted as real
from impact.account.results import Interval, Results
from impact.base.serial import (
    Limits,
    NotFiniteError,
    Share,
    document,
    group,
    if_given,
    inlined,
    keyed,
    named,
    one_of,
    only,
    or_null,
    plain,
    shows,
)
from impact.cli.commands import main
from tests.folders import OWN_BATCHES, OWN_BINDERS, TOML, write_folder
from tests.jsonschemas import schema_of


@shows("name", named("kg", "mass"), or_null("note"))
@dataclass(frozen=True)
class Piece:
    """A piece.

    Attributes
    ----------
    name, note : str
        What it is called,
        and what is noted; None is no note.
    """

    name: str
    mass: float
    note: str = ""


@document(
    "impact-thing/1", "A thing", "For these tests.",
    inlined("first"), only("pieces", "name"), group("days", "start", named("last", "end")), "kind", "share", "by_name",
    "count", named("first_name", "first.name"), if_given("more"),
)  # fmt: skip
@dataclass(frozen=True)
class Thing:
    """A thing of pieces."""

    first: Piece
    pieces: Annotated[tuple[Piece, ...], Limits(minItems=1)]
    start: date
    end: date | None
    kind: Literal["a", "b"] | None
    share: Share
    by_name: Annotated[Mapping[str, float | None], keyed("x", "y")]
    more: tuple[Piece, ...] | None = None
    unsaid: object = None

    @property
    def count(self) -> Annotated[str, one_of("1", "2")]:
        """Return how many. [-]"""
        return str(len(self.pieces))


BOLT, NUT = Piece("bolt", 0.1), Piece("nut", 0.2, "old")
THING = Thing(BOLT, (BOLT, NUT), date(2026, 1, 2), None, "a", 0.5, {"x": 1.0, "y": None})
DATA = {
    "schema": "impact-thing/1", "name": "bolt", "kg": 0.1, "note": None, "pieces": [{"name": "bolt"}, {"name": "nut"}],
    "days": {"start": "2026-01-02", "last": None}, "kind": "a", "share": 0.5, "by_name": {"x": 1.0, "y": None},
    "count": "2", "first_name": "bolt",
}  # fmt: skip


def test_plain_object_has_what_its_class_shows_in_that_order() -> None:
    assert plain(THING) == DATA
    assert list(plain(THING)) == list(DATA)


def test_plain_member_that_is_given_only_sometimes_is_there_with_a_value() -> None:
    whole = plain(Thing(**{**vars(THING), "more": (NUT,)}))
    assert whole == {**DATA, "more": [{"name": "nut", "kg": 0.2, "note": "old"}]}


def test_plain_thing_that_shows_nothing_stays() -> None:
    known = object()
    assert plain({"a": (known, 1)}) == {"a": [known, 1]}


def test_schema_of_document_takes_it() -> None:
    schema = schema_of(Thing)
    Draft202012Validator.check_schema(schema)
    assert Draft202012Validator(schema).is_valid(DATA)
    assert Draft202012Validator(schema).is_valid(
        {**DATA, "more": [{"name": "nut", "kg": 0.2, "note": "old"}], "kind": None}
    )


@pytest.mark.parametrize(
    "change",
    [
        {"schema": "impact-thing/2"}, {"name": None}, {"kg": "0.1"}, {"note": 1}, {"pieces": []}, {"kind": "c"}, {"share": 1.1},
        {"pieces": [{"name": "nut", "kg": 0.2}]}, {"days": {"start": "2026-01-02"}}, {"days": None}, {"by_name": {"x": 1.0}},
        {"by_name": {"x": 1.0, "y": 1.0, "z": 1.0}}, {"count": "3"}, {"more": None}, {"unsaid": 1}, {"more": [{"name": "nut"}]},
    ],
)  # fmt: skip
def test_schema_of_document_refuses_what_the_types_refuse(change: dict[str, Any]) -> None:
    assert not Draft202012Validator(schema_of(Thing)).is_valid({**DATA, **change})


@pytest.mark.parametrize("name", DATA)
def test_schema_of_document_asks_for_every_member(name: str) -> None:
    less = {key: value for key, value in DATA.items() if key != name}
    assert not Draft202012Validator(schema_of(Thing)).is_valid(less)


def test_schema_of_document_tells_what_the_docstrings_tell() -> None:
    schema = schema_of(Thing)
    assert schema["properties"]["note"]["description"] == "What it is called, and what is noted; null is no note."
    assert schema["properties"]["count"]["description"] == "How many. [-]"
    assert (schema["$id"], schema["title"], schema["description"]) == ("impact-thing/1", "A thing", "For these tests.")


def test_schema_of_type_that_json_has_not_is_refused() -> None:
    @document("impact-odd/1", "Odd", "Odd.")
    @dataclass
    class Odd:
        value: complex

    with pytest.raises(TypeError, match="complex"):
        schema_of(Odd)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf"), np.float64("inf")])
def test_plain_figure_that_is_not_finite_is_refused_by_its_name(value: float) -> None:
    document = {"parts": [{"part": "pot"}, {"part": "tray", "footprint": {"value": 1.0, "low": value}}]}
    with pytest.raises(NotFiniteError, match=r"the figure parts\.2\.footprint\.low is no finite number") as caught:
        plain(document)
    assert "\n" not in str(caught.value)


def test_totals_figure_that_is_not_finite_is_one_line_and_no_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    infinite = Interval(value=float("inf"), low=0.0, high=float("inf"), median=0.0)

    def wrong(*arguments: Any, **options: Any) -> Results:
        return replace(real(*arguments, **options), net=infinite)

    monkeypatch.setattr("impact.api.assess_counted", wrong)
    for command in ("totals", "check"):
        folder = write_folder(tmp_path / command, batches=OWN_BATCHES, workshop=TOML + OWN_BINDERS)
        done = CliRunner().invoke(main, [command, str(folder)])
        assert done.exit_code == 1
        assert "the figure net_kgco2e.value is no finite number" in done.output
        assert "Traceback" not in done.output
