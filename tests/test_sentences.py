"""Sentences that carry figures, said for readers of several languages and marks."""

from __future__ import annotations

from typing import NamedTuple

import pytest

from impact.base.catalogue import read_names
from impact.base.locale import marks
from impact.base.printing import Printer
from impact.base.quantities import fixed
from impact.base.sentences import Capital, Counted, Fact, Figure, Listed, Name, Said, Whole, joined, said


class Interval(NamedTuple):
    """An invented figure."""

    value: float
    low: float
    high: float


@pytest.mark.parametrize(
    ("country", "language", "us", "expected"),
    [
        ("GBR", "en", False, "14.0 kg (12.8 to 15.2) of newsprint, 1,234"),
        ("DEU", "en", False, "14,0 kg (12,8 to 15,2) of newsprint, 1\u202f234"),
        ("USA", "en", True, "30.9 lb (28.2 to 33.5) of newsprint, 1,234"),
        ("ESP", "es", False, "14,0 kg (12,8 a 15,2) of papel prensa, 1\u202f234"),
    ],
)
def test_say_of_a_sentence_is_in_the_reader_s_units_and_marks(
    country: str, language: str, us: bool, expected: str
) -> None:
    """Marks as Unicode CLDR gives them; the international pound is 0.45359237 kg (NIST SP 811)."""
    printer = Printer(us, country, language, marks(country, language), read_names(), fixed([("paper", 20.0)], us))
    paper = Whole(Interval(14.0, 12.8, 15.2), "paper")
    sentence = Said(
        "{kept} of {grade}, {n}", {"kept": paper, "grade": Name("grade", "newsprint"), "n": Figure(1234.0, "count")}
    )
    assert sentence.say(printer).replace("\u00a0", " ") == expected


def test_say_of_a_list_says_each_piece() -> None:
    pieces = Listed((Said("a {x}", {"x": "{braces}"}), Figure(0.5, "share")), "; ")
    assert Said("{all}.", {"all": pieces}).say(Printer(us=False)) == "a {braces}; 50\u00a0%."


@pytest.mark.parametrize(
    ("n", "expected"), [(1, "1 pupil"), (2, "2 pupils"), (1200, "1\u202f200 pupils"), (0, "0 pupils")]
)
def test_say_of_a_piece_that_bends_with_a_number(n: int, expected: str) -> None:
    assert Said("{all}", {"all": Counted("{n} pupil", "{n} pupils", n)}).say(Printer(us=False)) == expected


def test_say_of_a_plural_takes_the_forms_of_the_catalogue(monkeypatch: pytest.MonkeyPatch) -> None:
    forms = {("{n} pupil", "{n} pupils"): ("{n} alumno", "{n} alumnos")}
    monkeypatch.setattr("impact.base.language.catalogue", lambda _: forms)
    spanish = Printer(us=False, language="es")
    assert [said(Counted("{n} pupil", "{n} pupils", n), spanish) for n in (1, 2)] == ["1 alumno", "2 alumnos"]


@pytest.mark.parametrize(
    ("fact", "expected"),
    [
        (Capital(Said("the {x} of it", {"x": Name("part", "tool-tray")})), "The tool tray of it"),
        (Capital(""), ""),
        (Figure(0.0, "chance"), "<1\u00a0%"),
        (Figure(1.0, "chance"), ">99\u00a0%"),
        (Figure(0.005, "stated share"), "0.5\u00a0%"),
        (Figure(0.07, "stated share"), "7\u00a0%"),
        (Figure(0.0012, "finest share"), "0.12\u00a0%"),
        (Name("factor", "grid.kwh"), "grid.kwh"),
        (joined((Said("a."), Said("b."))), "a. b."),
    ],
)
def test_said_of_each_kind_of_fact(fact: Fact, expected: str) -> None:
    assert said(fact, Printer(us=False)) == expected


def test_text_of_a_sentence_is_in_the_words_of_its_usual_speaker() -> None:
    facts = {"kept": Figure(1.5, "stated")}
    german = Printer(us=False, written=marks("DEU", "en"))
    assert str(Said("{kept} kg", facts)) == "1.5 kg"
    assert str(Said("{kept} kg", facts, german)) == "1,5 kg"
    assert Said("{kept} kg", facts, german) == Said("{kept} kg", facts)


def test_say_without_a_fact_is_refused() -> None:
    with pytest.raises(KeyError, match="kept"):
        Said("{kept}").say(Printer(us=False))


def test_figures_of_a_report_are_rounded_to_tens_where_the_largest_asks_for_it() -> None:
    printer = Printer(us=False, written=marks("GBR", "en"), report=fixed([("account", 160_515.0)], False))
    assert (
        printer.whole(Interval(160_515.0, 7_301.0, 309_356.0), "account") == "161,000\u00a0kg CO₂e (7,000 to 309,000)"
    )
