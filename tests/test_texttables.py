"""The tables of texts: every row is said for some records, with a fact for each of its names, in one mark."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from impact.account.inventory import OWN_REJECTS
from impact.api import load
from impact.base.catalogue import read_names
from impact.base.language import extract
from impact.base.locale import marks
from impact.base.printing import Printer
from impact.base.sentences import Counted, Said
from impact.factors.factorset import read_factors
from impact.findings.compost import findings
from impact.findings.compost_rules import MakeUp
from impact.records.statements import Grant
from impact.records.workshop import Drying, FateSplit, Materials, Targets
from impact.study import assess, counted_for
from tests.folders import OWN_BATCHES, OWN_BINDERS, TOML, write_folder
from tests.frames import ENERGY, PLAIN, batches, part, workshop

IMPACT = Path(__file__).parents[1] / "impact"
TABLES = {
    "account/assumptions.csv": "one=text remedy",
    "findings/cautions.csv": "text",
    "findings/compostrules.csv": "subject statement",
    "findings/refusals.csv": "wording reason",
    "findings/sentences.csv": "statement what amount against basis",
}
"""Columns of texts, as the list for translators has them (report_templates/translations/babel.cfg)."""

DAYS = date(2026, 1, 1), date(2026, 12, 31)
GRANTS = Grant("a", *DAYS, 0.5), Grant("b", *DAYS, 0.8)
TARGETS = Targets(20.0, DAYS[1])
GLUE = {**PLAIN, "binder": "pva-glue", "binder_kg": 0.1, "binder_solids": 0.5}
UNRECORDED = dict.fromkeys(
    ("moisture", "binder_kg", "water_l", "transport_km", "rejects", "trim_kg", *(f"{name}_kwh" for name in ENERGY)),
    float("nan"),
)
LOST = {**GLUE, "rejects": 2.0, "trim_kg": 0.01, "paper.office_kg": 0.1}
GRADES = {f"paper.{grade}_kg": 0.1 for grade in ("newsprint", "boxboard", "moulded-fibre")}

CASES: list[tuple[list[Mapping[str, Any]], dict[str, Any]]] = [
    (
        [{**GLUE, "drying_kwh": 1.0, "drying_kwh_evidence": "nameplate"}],
        {
            "invented": True, "grants": GRANTS, "end_of_life": FateSplit(landfill=1.0), "targets": TARGETS,
            "drying": Drying(dryer="convection-oven"), "audience": "school", "parts": (part(wall_mm=3.0),),
        },
    ),
    (
        [{**PLAIN, "binder": "corn-starch", **UNRECORDED}],
        {"fates": {}, "landfill_climate": None, "drying": Drying(), "parts": (part(displacement=0.5),)},
    ),
    ([{**PLAIN, "binder": "corn-starch", **UNRECORDED}] * 2, {"fates": {}, "drying": Drying()}),
    (
        [{**GLUE, "binder": "methyl-cellulose"}, {**GLUE, "binder": "wheat-paste", "notes": "sanded twice"}, LOST],
        {"country": "KEN", "fates": {}, "parts": (part(wet_use=True),)},
    ),
    (
        [{**GLUE, "binder_kg": 0.004, **GRADES}],
        {"country": "DEU", "materials": Materials(inks="printed", tape_removed=False, greaseproof=True)},
    ),
    ([{**PLAIN, "good_parts": 5.0, "rejects": 4.0, "rejects_to": "landfill"}], {"fates": {"corrugated": FateSplit(recycling=1.0, evidence="bin")}}),
    ([{**PLAIN, **GRADES}, LOST, LOST], {"country": "GBR", "editions": {"GBR": "2019"}, "parts": (part(displacement=1.0),)}),
]  # fmt: skip
"""Batches and settings, all invented, that call for the rows between them."""


def pieces(value: Any) -> Iterator[Said | Counted]:
    """Yield every sentence and piece of one within results, but what they rest on, which is cited as it stands."""
    if isinstance(value, Said | Counted):
        yield value
    if is_dataclass(value):
        for field in fields(value):
            if field.name not in ("usual", "cited"):
                yield from pieces(getattr(value, field.name))
    elif isinstance(value, Mapping | list | tuple):
        for inner in value.values() if isinstance(value, Mapping) else value:
            yield from pieces(inner)


@cache
def told(country: str | None = None) -> tuple[Any, ...]:
    """Return all that is said of the cases."""
    tables, found = read_factors(), []
    for rows, settings in CASES:
        changes = dict(settings) | ({"country": country} if country else {})
        shop = workshop(*changes.pop("parts", (part(),)), **changes)
        results = assess(shop, batches(rows), tables, draws=20)
        found += [results.claims, results.cautions, results.findings, results.assumptions, results.parts]
        found += [counted_for(results, grant).claims for grant in shop.grants[:1]]
        found += [grant.sentence() for grant in shop.grants]
    return tuple(found)


def odd_recipes() -> list[Any]:
    """Return findings on what no batch of the catalogue may hold: refused paper, a mineral, many small constituents."""
    names = read_names()
    small = {f"small {number}": 0.009 for number in range(7)}
    flags = {**names.binder_tags, "clay": "kind=mineral", **dict.fromkeys(small, "kind=synthetic")}
    makeup = MakeUp({"thermal": 0.3, OWN_REJECTS: 0.3}, {"clay": 0.3, **small})
    known = replace(names, binder_tags=flags)
    return findings({("pot", "clay"): makeup}, workshop(), read_factors(), known, ("USA", "North America", "world"))


@pytest.mark.parametrize("table", TABLES)
def test_every_row_is_said_for_some_records(table: str, tmp_path: Path) -> None:
    own = load(write_folder(tmp_path, workshop=TOML + OWN_BINDERS, batches=OWN_BATCHES)).assess(draws=20)
    found = list(pieces([*told(), odd_recipes(), own.assumptions, own.cautions]))
    said = {one.text for one in found if isinstance(one, Said)}
    said |= {form for one in found if isinstance(one, Counted) for form in (one.one, one.many)}
    with (IMPACT / table).open("rb") as stream:
        rows = [message for _, _, message, _ in extract(stream, (), (), {"columns": TABLES[table]})]
    texts = {text for row in rows for text in ([row] if isinstance(row, str) else row)}
    assert len(texts) > 10
    assert texts - said == set()


def test_every_sentence_of_a_german_workshop_in_english_has_one_decimal_mark() -> None:
    """Marks of Germany by Unicode CLDR; a number within a name, as of a standard, has none."""
    printer = Printer(us=False, country="DEU", written=marks("DEU", "en"), names=read_names())
    said = [one.say(printer) for one in pieces(told("DEU")) if isinstance(one, Said)]
    assert any(re.search(r"\d,\d", text) for text in said)
    assert [text for text in said if re.search(r"\d\.\d", text)] == []
    assert [text for text in said if re.search(r"[{}]", text)] == []


def test_texts_are_the_same_for_terminal_and_json_in_every_country() -> None:
    """A neutral printer says all but claims, which are in the units and marks of the workshop."""
    assert [str(one) for one in odd_recipes()[0].reasons if re.search(r"\d,\d", one.text)] == []


def test_extract_yields_a_pair_where_a_row_bends_with_a_number() -> None:
    with (IMPACT / "account" / "assumptions.csv").open("rb") as stream:
        found = [(function, message) for _, function, message, _ in extract(stream, (), (), {"columns": "one=text"})]
    pairs = [message for function, message in found if function == "ngettext"]
    assert ("{n} batch does not say where the {loss} went; landfill is assumed.",
            "{n} batches do not say where the {loss} went; landfill is assumed.") in pairs  # fmt: skip
    assert all(isinstance(message, str) == (function == "gettext") for function, message in found)
