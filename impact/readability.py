"""How hard an English or Spanish text is to read: words per sentence, syllables per word, and the scores made from them."""

from __future__ import annotations

import re
from dataclasses import dataclass

_LETTER = "[^\\W\\d_]"
_WORD = re.compile(rf"{_LETTER}+(?:['’]{_LETTER}+)*")
_SENTENCE_END = re.compile(r"(?<=[.!?])[\"'”’)\]]*\s+|\n{2,}")
_VOWELS = re.compile(r"[aeiouy]+")
_SPLIT_PAIRS = re.compile(
    r"(?<![ctsg])ia(?!ge)|(?<![stcgnlx])io(?!us)|(?<=[rv])iou|eo|(?<!g)ua|uou|[eoy]ing|uel(?!y)|oe(?=[mt])|ie(?=ts?$)|scie"
    r"|crea(?!tu|[mks])|(?<=[aeiou][^aeiou])ea$"
)
_SILENT_END = re.compile(
    r"[^aeiouy](?<![bcdfgkptz]l)e$"
    r"|[^aeiouydt](?<![bcdfgkptz]l)ed$"
    r"|[^aeiouyszxcg](?<![bcdfgkptz]l)(?<!ch)(?<!sh)es$"
)
_SPANISH_VOWELS = re.compile(r"[aeiouáéíóúü]+")
_SPANISH_HIATUS = re.compile(r"(?<=[aeoáéó])(?=[aeoáéó])|(?<=[aeoáéó])(?=[íú])|(?<=[íú])(?=[aeoáéó])")
_ODD = {"business": 2, "every": 2, "lion": 2, "people": 2}


@dataclass(frozen=True, slots=True)
class Readability:
    """Counts of a text and the scores made from them: grade and ease hold for English, perspicuity for Spanish.

    Attributes
    ----------
    words, sentences, syllables : int
        Counts; syllables by our own rules, which differ from other counters in some words.
    """

    words: int
    sentences: int
    syllables: int

    def __post_init__(self) -> None:
        """Raise ValueError unless there is a word, a sentence, and a syllable for each word."""
        if not 1 <= self.sentences <= self.words <= self.syllables:
            raise ValueError("a text needs a word, a sentence, a word in each sentence and a syllable in each word")

    @property
    def grade(self) -> float:
        """School grade in the United States, 0.39 W/S + 11.8 Y/W − 15.59 [1]_. [year]

        References
        ----------
        .. [1] J. P. Kincaid et al., "Derivation of new readability formulas for Navy enlisted personnel", Research
           Branch Report 8-75, Naval Technical Training Command, 1975.
        """
        return 0.39 * self.words / self.sentences + 11.8 * self.syllables / self.words - 15.59

    @property
    def ease(self) -> float:
        """Reading ease, 206.835 − 1.015 W/S − 84.6 Y/W [1]_; 100 is very easy, 0 very hard. [-]

        References
        ----------
        .. [1] R. Flesch, "A new readability yardstick", Journal of Applied Psychology 32 (1948), 221-233.
        """
        return 206.835 - 1.015 * self.words / self.sentences - 84.6 * self.syllables / self.words

    @property
    def perspicuity(self) -> float:
        """Perspicuity of a Spanish text, 206.835 − 62.3 Y/W − W/S [1]_; 55 to 65 is normal, above fairly easy [2]_. [-]

        References
        ----------
        .. [1] F. Szigriszt Pazos, "Sistemas predictivos de legibilidad del mensaje escrito: fórmula de perspicuidad",
           doctoral thesis, Universidad Complutense de Madrid, 1993 (secondary copy).
        .. [2] I. M. Barrio-Cantalejo et al., "Validación de la Escala INFLESZ para evaluar la legibilidad de los textos
           dirigidos a pacientes", Anales del Sistema Sanitario de Navarra 31 (2008), 135-152 (secondary copy).
        """
        return 206.835 - 62.3 * self.syllables / self.words - self.words / self.sentences


def syllables(word: str) -> int:
    """Return the syllables of an English word, 1 or more: groups of vowels, less silent endings, plus split pairs."""
    plain = re.sub(r"[^a-z]", "", re.sub(r"['’]s?$", "", word.casefold())).replace("qu", "q")
    if plain in _ODD:
        return _ODD[plain]
    count = len(_VOWELS.findall(plain)) + len(_SPLIT_PAIRS.findall(plain)) - len(_SILENT_END.findall(plain))
    return max(count, 1)


def spanish_syllables(word: str) -> int:
    """Return the syllables of a Spanish word, 1 or more: groups of vowels, parted where two strong or a stressed weak meet."""
    plain = re.sub(r"gu(?=[eiéí])", "g", word.casefold().replace("qu", "q"))
    plain = re.sub(r"y(?![aeiouáéíóú])", "i", plain)
    groups: list[str] = _SPANISH_VOWELS.findall(plain)
    return max(sum(1 + len(_SPANISH_HIATUS.findall(group)) for group in groups), 1)


def readability(text: str, language: str = "en") -> Readability:
    """Return the readability of a text in English (``en``) or Spanish (``es``).

    Words are runs of letters, so that figures and units of signs do not count; a sentence ends at a full
    stop, question or exclamation mark before a blank, or at an empty line.

    Raises
    ------
    ValueError
        When there is no word.
    """
    words = _WORD.findall(text)
    sentences = sum(bool(_WORD.search(piece)) for piece in _SENTENCE_END.split(text))
    return Readability(len(words), sentences, sum(map(spanish_syllables if language == "es" else syllables, words)))
