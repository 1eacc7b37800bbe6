"""How hard an English, Spanish or German text or report is to read: words per sentence, syllables per word, and the scores."""

from __future__ import annotations

import re
from dataclasses import dataclass
from html.parser import HTMLParser

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
_GERMAN_SOUND = re.compile(r"a[aiuy]|äu|e[eiuy]|o[io]|ie|[aeiouyäöü]")
_ODD = {"business": 2, "every": 2, "lion": 2, "people": 2}
_ODD_GERMAN = {"familie": 4, "folie": 3, "linie": 3}

HARDEST_GRADE = 8.0
"""Highest school grade of a report for a school in English, Flesch–Kincaid; a goal of ours."""

LEAST_PERSPICUITY = 65.0
"""Least perspicuity of a report for a school in Spanish: where "fairly easy" begins on the INFLESZ scale."""

LEAST_EASE = 70.0
"""Least ease of a report for a school in German: where "fairly easy" begins on the scale of Flesch, which Amstad kept."""

PROSE = ("p", "li", "figcaption")
"""Elements that hold sentences; headings and tables hold none and would flatter the score."""


@dataclass(frozen=True, slots=True)
class Readability:
    """Counts of a text and the scores made from them: grade and ease hold for English, perspicuity for Spanish, and
    Amstad's ease for German.

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

    @property
    def german_ease(self) -> float:
        """Reading ease of a German text, 180 − W/S − 58.5 Y/W [1]_; 60 to 70 is plain, above fairly easy. [-]

        References
        ----------
        .. [1] T. Amstad, "Wie verständlich sind unsere Zeitungen?", doctoral thesis, Universität Zürich, 1978 (secondary
           copies, which agree).
        """
        return 180.0 - self.words / self.sentences - 58.5 * self.syllables / self.words


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


def german_syllables(word: str) -> int:
    """Return the syllables of a German word, 1 or more: its vowels and diphthongs, -ien behind another syllable parted."""
    plain = word.lower().replace("qu", "q")
    if plain in _ODD_GERMAN:
        return _ODD_GERMAN[plain]
    return max(len(_GERMAN_SOUND.findall(re.sub(r"(?<=[aeiouyäöü])([^aeiouyäöü]+)ien$", r"\1i-en", plain))), 1)


def readability(text: str, language: str = "en") -> Readability:
    """Return the readability of a text in English (``en``), Spanish (``es``) or German (``de``).

    Words are runs of letters, so that figures and units of signs do not count; a sentence ends at a full
    stop, question or exclamation mark before a blank, or at an empty line.

    Raises
    ------
    ValueError
        When there is no word.
    """
    words = _WORD.findall(text)
    sentences = sum(bool(_WORD.search(piece)) for piece in _SENTENCE_END.split(text))
    return Readability(len(words), sentences, sum(map(COUNTERS[language], words)))


COUNTERS = {"en": syllables, "es": spanish_syllables, "de": german_syllables}
"""What counts the syllables of a word, by language."""


class _Prose(HTMLParser):
    """Collects the text of each element of `PROSE`, without the names in bold that stand before it and without citations."""

    def __init__(self) -> None:
        super().__init__()
        self.blocks: list[str] = []
        self.depth = 0
        self.bold = False
        self.cited: list[bool] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in PROSE:
            self.depth += 1
            self.blocks.append("")
        self.bold = self.bold or tag == "strong"
        if tag == "span":
            self.cited.append("lang" in dict(attrs))

    def handle_endtag(self, tag: str) -> None:
        if tag in PROSE:
            self.depth -= 1
        self.bold = self.bold and tag != "strong"
        if tag == "span":
            self.cited.pop()

    def handle_data(self, data: str) -> None:
        if self.depth and not self.bold and not any(self.cited):
            self.blocks[-1] += data


def prose(page: str) -> str:
    """Return the sentences of a page of ours, each paragraph and list item apart."""
    found = _Prose()
    found.feed(page)
    return "\n\n".join(" ".join(block.split()) for block in found.blocks)


@dataclass(frozen=True, slots=True)
class Reading:
    """The measure of one report; its text is the line to print."""

    language: str
    counted: Readability

    @property
    def fits(self) -> bool:
        """Whether it is as easy as a report for a school has to be."""
        if self.language == "es":
            return self.counted.perspicuity >= LEAST_PERSPICUITY
        if self.language == "de":
            return self.counted.german_ease >= LEAST_EASE
        return self.counted.grade <= HARDEST_GRADE


def reading(page: str, language: str) -> Reading:
    """Return how hard a page of ours is to read.

    Parameters
    ----------
    page : str
        The report as HTML.
    language : str
        See `impact.report.kinds.LANGUAGES`.
    """
    return Reading(language, readability(prose(page), language))
