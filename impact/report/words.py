"""Plain words for the ids of the records and tables, in the language of a report, and the words that a reader has to type."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from impact.base.language import AMERICAN, american
from impact.factors.keys import pattern_of

if TYPE_CHECKING:
    from markupsafe import Markup

    from impact.base.printing import Printer
    from impact.factors.rows import Factor

TYPED = re.compile(
    r"""
    \[[a-z_]+(?:\.[\w-]+)?\]                                       # a table of the settings
    |\b[a-z]+(?:_[a-z]+)+\b(?:\ =\ (?:"[^"]*"|[\w.]+))?            # a setting, with its value
    |\b\w+\ =\ "[^"]*"                                             # a setting of one word with its value
    |\b[\w-]+\.(?:csv|toml|xlsx)\b(?:,?\ (?:row|line)s?\ \d+(?:–\d+)?)?     # a file of the records, with a place in it
    |(?<=\bcolumn\ )"[^"]+"|(?<=\bcolumns\ )"[^"]+"|(?<="\ and\ )"[^"]+"  # a column of it
    |\b[a-z]+(?:\.[A-Za-z0-9-]+)+                                  # a key of the factor tables
    |\bimpact\ [a-z]+(?:\ [a-z]+)?(?=\ lists\ )                    # a command
    """,
    re.VERBOSE,
)
"""What stands as code in a sentence: words that a reader types as they are."""


def typed(text: str) -> Markup:
    """Return a sentence in which what a reader types stands as code."""
    from markupsafe import Markup, escape

    found, end = Markup(""), 0
    for one in TYPED.finditer(text):
        word = one[0]
        known = "." not in word or word.startswith(("[", '"')) or ".csv" in word or ".toml" in word or ".xlsx" in word
        if known or "=" in word or pattern_of(word) is not None:
            found += escape(text[end : one.start()]) + Markup("<code>{}</code>").format(word)
            end = one.end()
    return found + escape(text[end:])


NUMBERS = re.compile(
    r"""
    "[^"]*"                                                            # what is quoted
    |\b(?:rows?|lines?|batch)\ [^\s,:;]+(?:,\ \d+(?:–\d+)?(?=[,:\ ]))*   # places and names of batches
    |\b(?!\d[\d.]*e[+-]\d)[\w.]*[A-Za-z_][\w.-]*                         # words, with the numbers in them
    |\d+(?:[-–]\d+)+                                                   # dates, runs of rows
    |(?P<number>\b\d+(?:\.\d+)?(?:e[+-]\d+)?)(?P<share>%)?(?!\w)
    """,
    re.VERBOSE,
)
"""What of a doubt is a number as a page prints it, after all that only looks like one."""

QUOTED = re.compile(r'(= "[^"]*")|"([^"]*)"')
"""What stands in straight quotes; the first group is a setting, which a reader types as it is."""

WRITTEN = r'"[^"]*"|\bbatch [^\s,:;]+'
"""What of a doubt the records wrote, or a reader has to type: what is quoted, and names of batches and parts."""

KINDS = ("binder", "grade", "dryer", "process")
"""Kinds of ids that hyphens join, and that doubts name."""


class Words:
    """Names of parts, grades, binders and the rest, as templates ask for them.

    Parameters
    ----------
    printer : Printer
        The printer of the report, which has the names.
    """

    def __init__(self, printer: Printer) -> None:
        self.printer, names = printer, printer.names
        ids = {"binder": names.binders, "grade": names.grades, "dryer": names.dryers, "process": names.processes}
        told = {name: self.of(kind, name) for kind in reversed(KINDS) for name in ids[kind] if "-" in name}
        told |= {part: self.part(part) for part in printer.parts if self.part(part) != part}
        self._ids_in_text = told

    def of(self, kind: str, name: str) -> str:
        """Return the name of an id of a kind, see `Printer.name`."""
        return self.printer.name(kind, name)

    def part(self, part: str) -> str:
        """Return a part as a reader would write it."""
        return self.of("part", part)

    def grade(self, name: str) -> str:
        """Return the name of a grade of paper."""
        return self.of("grade", name)

    def binder(self, name: str) -> str:
        """Return the name of a binder."""
        return self.of("binder", name)

    def ingredient(self, name: str) -> str:
        """Return the name of what a compost blend holds: a grade, a green or a binder."""
        kinds = ("grade", "green", "binder")
        return self.of(next(kind for kind in kinds if self.printer.names.knows(kind, name)), name)

    def place(self, name: str) -> str:
        """Return the name of a place of the factor tables."""
        return self.of("place", name)

    def row(self, row: Factor | str) -> str:
        """Return the plain name of a factor row, or of its key."""
        return self.of("factor", row if isinstance(row, str) else row.key)

    def said(self, text: str) -> str:
        """Return a doubt with the ids that hyphens join, and the parts, in plain words, and its numbers as the page has others.

        In the United States it has their spelling. What it quotes stays as it is.
        """
        spelt = self._named(self._numbered(self._spelt(text)))
        return QUOTED.sub(lambda one: one[1] or f"“{one[2]}”", spelt)

    def _spelt(self, text: str) -> str:
        if self.printer.language != AMERICAN:
            return text
        own = "".join(
            rf"|(?<![\w-]){re.escape(part)}(?![\w-])" for part in sorted(self.printer.parts, key=len, reverse=True)
        )
        pieces = re.split(f"({WRITTEN}{own})", text)
        return "".join(piece if place % 2 else american(piece) for place, piece in enumerate(pieces))

    def _numbered(self, text: str) -> str:
        """Return a text with the marks of the country in its numbers; rows, names, dates and what is quoted stay."""

        def told(one: re.Match[str]) -> str:
            number = one["number"]
            if number is None or "e-" in number:
                return one[0]
            decimals = 0 if "e+" in number else len(number.partition(".")[2])
            return self.printer.fixed(float(number), decimals) + ("\u00a0%" if one["share"] else "")

        return NUMBERS.sub(told, text)

    def _named(self, text: str) -> str:
        if not self._ids_in_text:
            return text
        ids = "|".join(map(re.escape, sorted(self._ids_in_text, key=len, reverse=True)))
        return re.sub(rf'(?<![\w."-])({ids})(?![\w"-]|\.\w)', lambda one: self._ids_in_text[one[0]], text)
