"""Sentences that carry figures, said for readers of several languages and marks."""

from __future__ import annotations

from typing import NamedTuple

import pytest

from impact.base.catalogue import read_names
from impact.base.locale import marks
from impact.base.printing import Printer
from impact.base.sentences import Figure, Listed, Name, Said, Whole


class Interval(NamedTuple):
    """An invented figure."""

    value: float
    low: float
    high: float


@pytest.mark.parametrize(
    ("country", "language", "us", "expected"),
    [
        ("GBR", "en", False, "14.0 kg (12.8 to 15.2) of newspaper, 1,234"),
        ("DEU", "en", False, "14,0 kg (12,8 to 15,2) of newspaper, 1\u202f234"),
        ("USA", "en", True, "30.9 lb (28.2 to 33.5) of newspaper, 1,234"),
        ("ESP", "es", False, "14,0 kg (12,8 a 15,2) of papel de periódico, 1\u202f234"),
    ],
)
def test_say_of_a_sentence_is_in_the_reader_s_units_and_marks(
    country: str, language: str, us: bool, expected: str
) -> None:
    """Marks as Unicode CLDR gives them; the international pound is 0.45359237 kg (NIST SP 811)."""
    printer = Printer(us, country, language, marks(country, language), read_names(), {"paper": 1})
    paper = Whole(Interval(14.0, 12.8, 15.2), "paper")
    sentence = Said(
        "{kept} of {grade}, {n}", {"kept": paper, "grade": Name("grade", "newsprint"), "n": Figure(1234.0, "count")}
    )
    assert sentence.say(printer).replace("\u00a0", " ") == expected


def test_say_of_a_list_says_each_piece() -> None:
    pieces = Listed((Said("a {x}", {"x": "{braces}"}), Figure(0.5, "share")), "; ")
    assert Said("{all}.", {"all": pieces}).say(Printer(us=False)) == "a {braces}; 50\u00a0%."


def test_say_without_a_fact_is_refused() -> None:
    with pytest.raises(KeyError, match="kept"):
        Said("{kept}").say(Printer(us=False))


def test_figures_of_a_report_are_rounded_to_tens_where_the_largest_asks_for_it() -> None:
    printer = Printer(us=False, written=marks("GBR", "en"), decimals={"account": -3})
    assert (
        printer.whole(Interval(160_515.0, 7_301.0, 309_356.0), "account") == "161,000\u00a0kg CO₂e (7,000 to 309,000)"
    )
