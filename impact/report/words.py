"""Plain words for the ids of the records and tables, in the language of a report, and the words that a reader has to type."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from impact.base.wording import shown
from impact.factors.keys import pattern_of
from impact.factors.rownames import plain_name

if TYPE_CHECKING:
    from markupsafe import Markup

    from impact.factors.rows import Factor
    from impact.study import Study

TYPED = re.compile(
    r"""
    \[[a-z_]+(?:\.[\w-]+)?\]                                       # a table of the settings
    |\b[a-z]+(?:_[a-z]+)+\b(?:\ =\ (?:"[^"]*"|[\w.]+))?            # a setting, with its value
    |\b\w+\ =\ "[^"]*"                                             # a setting of one word with its value
    |\b[\w-]+\.(?:csv|toml|xlsx)\b(?:,?\ (?:row|line)s?\ \d+)?     # a file of the records, with a place in it
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
        known = "." not in word or word.startswith("[") or ".csv" in word or ".toml" in word or ".xlsx" in word
        if known or "=" in word or pattern_of(word) is not None:
            found += escape(text[end : one.start()]) + Markup("<code>{}</code>").format(word)
            end = one.end()
    return found + escape(text[end:])


class Words:
    """Names of parts, grades, binders and the rest as a page prints them.

    Parameters
    ----------
    results : Study
        Whose parts and names they are.
    language : str
        Language of the page.
    """

    def __init__(self, results: Study, language: str) -> None:
        self.names, self.language = results.names, language
        self.parts = tuple(results.workshop.parts)
        joined = {name for kind in ("binder", "grade", "dryer", "process") for name in self._ids(kind) if "-" in name}
        self._ids_in_text = {name: self._plain(name) for name in joined} | {
            part: self.part(part) for part in self.parts if self.part(part) != part
        }

    def _ids(self, kind: str) -> tuple[str, ...]:
        names = self.names
        found = {"binder": names.binders, "grade": names.grades, "dryer": names.dryers, "process": names.processes}
        return tuple(found[kind])

    def _plain(self, name: str) -> str:
        kind = next(kind for kind in ("binder", "grade", "dryer", "process") if name in self._ids(kind))
        return self.of(kind, name)

    def part(self, part: str) -> str:
        """Return a part as a reader would write it."""
        return shown(part, self.parts)

    def of(self, kind: str, name: str) -> str:
        """Return the name of an id of a kind of the catalogue."""
        return self.names.short(kind, name, self.language)

    def grade(self, name: str) -> str:
        """Return the name of a grade of paper."""
        return self.of("grade", name)

    def binder(self, name: str) -> str:
        """Return the name of a binder."""
        return self.of("binder", name)

    def ingredient(self, name: str) -> str:
        """Return the name of what a compost blend holds: a grade, a green or a binder."""
        return self.of(next(kind for kind in ("grade", "green", "binder") if self.names.knows(kind, name)), name)

    def place(self, name: str) -> str:
        """Return the name of a place of the factor tables."""
        return self.names.place(name, self.language)

    def row(self, row: Factor | str) -> str:
        """Return the plain name of a factor row."""
        return plain_name(row, self.language, self.names)

    def said(self, text: str) -> str:
        """Return a doubt with the ids that hyphens join, and the parts, in plain words; what it quotes stays as it is."""
        if not self._ids_in_text:
            return text
        ids = "|".join(map(re.escape, sorted(self._ids_in_text, key=len, reverse=True)))
        return re.sub(rf'(?<![\w."-])({ids})(?![\w"-]|\.\w)', lambda one: self._ids_in_text[one[0]], text)
