"""Plain names of factor rows: every row of every table has one, in both languages, without ids and codes."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import replace
from functools import cache

import pytest
from babel import Locale

from impact.base.catalogue import read_names
from impact.factors.factorset import read_factors
from impact.factors.keys import keys, pattern_of
from impact.factors.rownames import TOPICS, plain_name, row_names, topic_of
from impact.factors.rows import Factor

NAMES = read_names()
LANGUAGES = ("en", "es")
CODED = re.compile(r"[A-Za-z0-9]\.[A-Za-z0-9]|_|[{}/]")
"""A dot or an underscore that joins two words, an open part that nothing filled, and the stroke of an id."""


@cache
def rows() -> tuple[Factor, ...]:
    return tuple(read_factors())


@cache
def hyphenated() -> frozenset[str]:
    """Every piece of a key, and every id of the names, that hyphens join; polymers have names without them too."""
    pieces = {piece for row in rows() for piece in row.key.split(".")} | {name for _, name, _ in NAMES.words}
    return frozenset(piece for piece in pieces if "-" in piece)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_row_of_every_table_has_a_plain_name(language: str) -> None:
    assert len(rows()) > 1000
    for row in rows():
        name = plain_name(row, language)
        words = set(re.findall(r"[\w-]+", name))
        assert name[0].isupper(), row.id
        assert not CODED.search(name), (row.id, name)
        assert words.isdisjoint(hyphenated()), (row.id, name)
        assert words.isdisjoint(NAMES.countries), (row.id, name)
        assert topic_of(row) in TOPICS


@pytest.mark.parametrize("language", LANGUAGES)
def test_two_keys_never_share_a_name(language: str) -> None:
    found = defaultdict(set)
    for row in rows():
        found[plain_name(row, language)].add(row.key)
    assert {name: shared for name, shared in found.items() if len(shared) > 1} == {}


def test_names_of_the_two_languages_differ_and_have_the_same_open_parts() -> None:
    for one in row_names():
        assert set(one.words) == set(LANGUAGES)
        opened = re.findall(r"\{\w+\}", one.pattern)
        assert all(sorted(re.findall(r"\{\w+\}", text)) == sorted(set(opened)) or one.pattern.startswith("fate.{waste}.")
                   for text in one.words.values()), one.pattern  # fmt: skip
        assert one.topic in TOPICS
    assert {row.key for row in rows() if plain_name(row, "en") == plain_name(row, "es")} == set()


def test_every_pattern_of_keys_has_a_name_of_its_own_and_no_name_is_for_nothing() -> None:
    for known in keys():
        key = re.sub(r"\{\w+\}", "zinc-foam", known.pattern)
        name = plain_name(key)
        assert "zinc foam" in name.lower() or "{" not in known.pattern, key
    for one in row_names():
        assert pattern_of(re.sub(r"\{\w+\}", "zinc-foam", one.pattern)) is not None, one.pattern


@pytest.mark.parametrize(
    ("key", "language", "said"),
    [
        ("paper.recycling-yield.kraft", "en", "Kraft paper: fibre kept in recycling"),
        ("paper.recycling-yield.kraft", "es", "Papel kraft: fibra que se conserva al reciclar"),
        ("fate.kraft.recycling/USA", "en", "Kraft paper: share that would have been recycled"),
        ("polymer.resin.PE-HD/Europe/2014", "en", "High-density polyethylene: made, as resin at the plant"),
    ],
)
def test_name_of_a_row_is_that_of_its_key(key: str, language: str, said: str) -> None:
    assert plain_name(key, language) == said


def test_own_row_and_own_binder_are_named_by_the_same_patterns() -> None:
    row = next(row for row in rows() if row.key == "binder.dose.agar")
    own = replace(row, id="binder.dose.fish-glue", key="binder.dose.fish-glue", file="factors.csv")
    assert plain_name(own) == "Fish glue: usual amount per kilogram of dry fibre"
    labelled = replace(NAMES, binders={**NAMES.binders, "fish-glue": "isinglass"})
    assert plain_name(own, "es", labelled).startswith("Isinglass: ")
    assert plain_name("nobody.asks-for/this") == "Nobody, asks for"


@pytest.mark.parametrize("language", LANGUAGES)
def test_place_of_every_row_is_in_words(language: str) -> None:
    # Checked against Unicode CLDR, names of territories.
    territories = Locale(language).territories
    for geography in {row.geography for row in rows()}:
        place = NAMES.place(geography, language)
        assert place
        assert place not in NAMES.countries
        assert place not in NAMES.regions
        assert "(" not in place or geography in NAMES.countries
    assert NAMES.place("GBR", language) == territories["GB"]
    assert NAMES.place("a bench of our own", language) == "a bench of our own"
