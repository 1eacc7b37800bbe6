"""The language of a report where none is asked for: that of the workshop's country, where the report has it.

Checked against, from outside:

- countries whose language is Spanish or German: the member list of the Asociación de Academias de la Lengua Española (from
  memory), and German as an official language of the whole country in Germany, Austria, Switzerland, Liechtenstein (from memory)
"""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from impact.base.catalogue import read_names
from impact.base.locale import language_name, languages_of
from impact.cli.commands import main
from impact.report.kinds import KINDS
from impact.report.request import Spoken, usual_language
from tests.folders import BATCHES, TOML, swap, write_folder

SPANISH = "ARG BOL CHL COL CRI CUB DOM ECU ESP GNQ GTM HND MEX NIC PAN PER PRI PRY SLV URY VEN"
"""Countries with an academy of the Spanish language whose first or second language it is: without the United States and the
Philippines."""

GERMAN = "AUT CHE DEU LIE"

ALL = ("en", "es", "de")


def test_spanish_is_the_usual_language_of_the_countries_that_speak_it_and_of_no_other() -> None:
    taken = {
        country for country in read_names().countries if usual_language([country], ALL, "a school").language == "es"
    }
    assert taken == set(SPANISH.split())


def test_german_is_the_usual_language_of_the_countries_that_speak_it() -> None:
    # Luxembourg too: of three official languages, two thirds know German, which comes first among those of the report.
    taken = {
        country for country in read_names().countries if usual_language([country], ALL, "a school").language == "de"
    }
    assert taken == {*GERMAN.split(), "LUX"}


@pytest.mark.parametrize("country", ["USA", "GBR", "IND", "CAN", "BEL", "FRA", "XYZ", ""])
def test_usual_language_elsewhere_is_english(country: str) -> None:
    assert usual_language([country], ALL, "a school").language == "en"


def test_usual_language_says_why_it_is_taken_where_another_could_be_expected() -> None:
    assert usual_language(["USA"], ALL, "a school") == Spoken("en")
    assert usual_language(["AUT"], ALL, "a school").sentence == (
        "the report is in German, an official language of the workshop's country (Austria); --language en or es takes another"
    )
    assert usual_language(["DEU"], ("en", "es"), "a funder") == Spoken(
        "en", "the report is in English: that for a funder is not translated into German (Germany)"
    )


def test_usual_language_of_several_workshops_is_the_one_that_their_countries_share() -> None:
    assert usual_language(["MEX", "ESP"], ("en", "es"), "a funder").language == "es"
    assert usual_language(["USA", "GBR"], ("en", "es"), "a funder") == Spoken("en")
    assert usual_language(["USA", "ESP"], ("en", "es"), "a funder") == Spoken(
        "en", "the report is in English: the countries of the workshops differ in language (United States, Spain)"
    )
    assert usual_language(["USA", "DEU"], ("en", "es"), "a funder") == Spoken(
        "en", "the report is in English: that for a funder is not translated into German (Germany)"
    )


def test_usual_language_is_one_that_the_kind_has() -> None:
    for kind in KINDS.values():
        for country in read_names().countries:
            assert usual_language([country], kind.languages, kind.whom).language in kind.languages


def test_languages_of_a_country_are_official_and_known_the_best_known_first() -> None:
    assert languages_of("CHE")[0] == "de"
    assert languages_of("BEL") == ("nl",)
    assert languages_of("XYZ") == ()
    assert [language_name(name) for name in ("de", "es", "zz-none")] == ["German", "Spanish", "zz-none"]


@pytest.mark.parametrize(
    ("country", "asked", "taken", "says"),
    [("AUT", (), "de", "in German"), ("AUT", ("--language", "en"), "en", None), ("USA", (), "en", None)],
)
def test_report_is_in_the_language_asked_for_else_in_that_of_the_country(
    country: str, asked: tuple[str, ...], taken: str, says: str | None, tmp_path: Path
) -> None:
    settings = swap(swap(TOML, 'country = "USA"', f'country = "{country}"'), 'electricity = "US-CAMX"\n', "")
    folder = write_folder(tmp_path / "shop", workshop=settings, batches=BATCHES)
    page = tmp_path / "school.html"
    done = CliRunner().invoke(
        main, ["report", str(folder), "--for", "school", "-o", str(page), "--draws", "100", *asked]
    )
    assert done.exit_code == 0
    assert f'<html lang="{taken}' in page.read_text(encoding="utf-8")
    assert ("the report is in" in done.stderr) == (says is not None)
    assert says is None or says in done.stderr
