"""Readability: the published formulas at given counts, and our own counts of words, sentences and syllables.

Checked against, from outside:

- reading grade and ease: formulas of Kincaid et al. 1975, Flesch 1948, Szigriszt Pazos 1993 and Amstad 1978 (secondary copies), by
  hand
"""

from __future__ import annotations

import pytest

from tests.readability import Readability, german_syllables, readability, spanish_syllables, syllables


# Worked by hand from the formulas of Kincaid et al. 1975 and Flesch 1948.
@pytest.mark.parametrize(
    ("words", "sentences", "sounds", "grade", "ease"),
    [(6, 1, 6, -1.45, 116.145), (100, 5, 150, 9.91, 59.64), (100, 8, 130, 4.63, 84.17)],
)
def test_readability_given_counts_give_the_formulas_scores(
    words: int, sentences: int, sounds: int, grade: float, ease: float
) -> None:
    found = Readability(words, sentences, sounds)
    assert found.grade == pytest.approx(grade, abs=0.0051)
    assert found.ease == pytest.approx(ease, abs=0.0051)


def test_readability_cat_sentence_is_six_words_of_one_syllable() -> None:
    found = readability("The cat sat on the mat.")
    assert found == Readability(6, 1, 6)
    assert (found.grade, found.ease) == (pytest.approx(-1.45), pytest.approx(116.145))


@pytest.mark.parametrize(
    ("word", "count"),
    [
        ("paper", 2), ("recycled", 3), ("makes", 1), ("batches", 2), ("weighed", 1), ("wanted", 2), ("tables", 2),
        ("area", 3), ("radio", 3), ("material", 4), ("social", 2), ("million", 2), ("evaluation", 5), ("quiet", 2),
        ("drying", 2), ("people", 2), ("fibre", 1), ("various", 3), ("workshop's", 2), ("the", 1), ("hmm", 1),
    ],
)  # fmt: skip
def test_syllables_of_common_words(word: str, count: int) -> None:
    assert syllables(word) == syllables(word.upper()) == count


def test_readability_figures_do_not_end_a_sentence_or_count_as_words() -> None:
    assert readability("We used 38.7 kg. It was dry! Was it?\n\nYes") == Readability(9, 4, 9)


@pytest.mark.parametrize("text", ["", "38.7 %", "… !"])
def test_readability_no_word_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="needs a word"):
        readability(text)


# Worked by hand from the formula of Szigriszt Pazos 1993 (secondary copy): 3 words, 1 sentence, 5 syllables.
def test_readability_of_a_spanish_sentence_gives_the_formulas_score() -> None:
    found = readability("El gato come.", "es")
    assert found == Readability(3, 1, 5)
    assert found.perspicuity == pytest.approx(100.0017, abs=0.0001)


@pytest.mark.parametrize(
    ("word", "count"),
    [
        ("papel", 2), ("agua", 2), ("guía", 2), ("país", 2), ("aire", 2), ("vertedero", 4), ("oír", 2), ("ciudad", 2),
        ("quien", 1), ("vergüenza", 3), ("muy", 1), ("y", 1), ("ley", 1), ("reyes", 2), ("caer", 2), ("línea", 3),
        ("buey", 1), ("averiguáis", 4), ("residuo", 3), ("almidón", 3),
    ],
)  # fmt: skip
def test_spanish_syllables_of_common_words(word: str, count: int) -> None:
    assert spanish_syllables(word) == spanish_syllables(word.upper()) == count


# Worked by hand from the formula of Amstad 1978 (secondary copies): 4 words, 1 sentence, 5 syllables.
def test_readability_of_a_german_sentence_gives_the_formulas_score() -> None:
    found = readability("Die Katze frisst Fisch.", "de")
    assert found == Readability(4, 1, 5)
    assert found.german_ease == pytest.approx(102.875, abs=0.0001)


@pytest.mark.parametrize(
    ("word", "count"),
    [
        ("Papier", 2), ("Altpapier", 3), ("Deponie", 3), ("Deponien", 4), ("Allergien", 4), ("Linie", 3), ("Leim", 1),
        ("Häuser", 2), ("Teile", 2), ("Quelle", 2), ("Simulationen", 6), ("Fußabdruck", 3), ("Wien", 1), ("Bauer", 2),
        ("zurückgeht", 3), ("Kohlenstoff", 3), ("Spiel", 1), ("neue", 2), ("Ofen", 2), ("geeignet", 3), ("pst", 1),
    ],
)  # fmt: skip
def test_german_syllables_of_common_words(word: str, count: int) -> None:
    assert german_syllables(word) == german_syllables(word.upper()) == count
