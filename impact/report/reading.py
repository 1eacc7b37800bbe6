"""How hard the sentences of a report are to read, by the measure of its language."""

from __future__ import annotations

from dataclasses import dataclass
from html.parser import HTMLParser

from impact.readability import Readability, readability

HARDEST_GRADE = 8.0
"""Highest school grade of a report for a school in English, Flesch–Kincaid; a goal of ours."""

LEAST_PERSPICUITY = 65.0
"""Least perspicuity of a report for a school in Spanish: where "fairly easy" begins on the INFLESZ scale."""

PROSE = ("p", "li", "figcaption")
"""Elements that hold sentences; headings and tables hold none and would flatter the score."""


class _Prose(HTMLParser):
    """Collects the text of each element of `PROSE`, without the names in bold that stand before it."""

    def __init__(self) -> None:
        super().__init__()
        self.blocks: list[str] = []
        self.depth = 0
        self.bold = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in PROSE:
            self.depth += 1
            self.blocks.append("")
        self.bold = self.bold or tag == "strong"

    def handle_endtag(self, tag: str) -> None:
        if tag in PROSE:
            self.depth -= 1
        self.bold = self.bold and tag != "strong"

    def handle_data(self, data: str) -> None:
        if self.depth and not self.bold:
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
        return self.counted.grade <= HARDEST_GRADE

    def __str__(self) -> str:
        """Return the score with its measure and its bound."""
        if self.language == "es":
            return f"reading ease {self.counted.perspicuity:.1f} (Szigriszt-Pazos, at least {LEAST_PERSPICUITY:.0f})"
        return f"reading grade {self.counted.grade:.1f} (Flesch–Kincaid, at most {HARDEST_GRADE:.0f})"


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
