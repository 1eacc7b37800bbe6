"""The kinds of report: each a folder of this room, a template, and one entry here.

A kind ``minutes`` is the package ``impact/report/minutes`` and the template ``report_templates/minutes.html``. The module
``content`` of the package holds the class that `Kind.content` names; it takes the results and the request, and is an
`impact.report.context.Content`. Command, demo and verification read this list; nothing else names a kind.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

from impact.base.places import templates_folder
from impact.base.processes import Job, by_name


@dataclass(frozen=True, slots=True)
class Question:
    """A whole number that one kind of report is asked with, an option of the command.

    Attributes
    ----------
    name : str
        Name, of its own among all kinds; that of the option has hyphens.
    meaning : str
        What is counted.
    usual : int
        The number where none is given.
    most : int
        Largest number taken; the smallest is 1.
    """

    name: str
    meaning: str
    usual: int
    most: int = 10_000

    @property
    def option(self) -> str:
        """Return the option of the command."""
        return f"--{self.name.replace('_', '-')}"


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of report.

    Attributes
    ----------
    name : str
        Name of its package and of its template, what ``--for`` takes, and the default name of its file.
    content : str
        Class of its content in the module ``content`` of its package.
    whom : str
        Whom or what it is for, with its article.
    languages : tuple of str
        Languages that have it whole, two letters each (ISO 639-1).
    one_part : bool
        Whether it is of one part, which ``--part`` then names; else ``--part`` narrows what is counted.
    questions : tuple of Question
        What it is asked with.
    granted : bool
        Whether it is for who paid: it counts the only grant of the settings where none is asked for, and may put another
        period beside its own.
    workbook : bool
        Whether its PDF carries the workbook of `impact export`.
    """

    name: str
    content: str
    whom: str
    languages: tuple[str, ...] = ("en",)
    one_part: bool = False
    questions: tuple[Question, ...] = ()
    granted: bool = False
    workbook: bool = False

    def answers(self, given: Mapping[str, int]) -> dict[str, int]:
        """Return the number to each question, the usual one where none is given. [1]

        Raises
        ------
        ValueError
            When one is no whole number in its range.
        """
        found = {question.name: given.get(question.name, question.usual) for question in self.questions}
        for question in self.questions:
            number = found[question.name]
            if not isinstance(number, int) or not 1 <= number <= question.most:
                raise ValueError(f"{question.name} = {number!r}; accepted: a whole number from 1 to {question.most}")
        return found


TERM = (
    Question("sessions", "sessions in all", 10),
    Question("people", "people in each session", 12),
    Question("parts_per_person", "parts that each person presses in a session", 1, 1_000),
)
"""What is planned: `impact forecast` is asked the same, and takes the same where nothing is said."""

KINDS: Mapping[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("funder", "Funder", "a funder", ("en", "es"), granted=True, workbook=True),
        Kind("school", "School", "a school", ("en", "es", "de"), one_part=True, questions=TERM),
        Kind("binder", "BinderChoice", "a choice of binder", ("en", "es"), one_part=True),
    )
}
"""Every kind by its name; the first is the usual one, and ``impact demo`` makes each."""

DRAWING = ("matplotlib.figure", "matplotlib.backends.backend_svg")
"""What draws charts, and takes its time to be imported."""


def drawing(*kinds: str) -> tuple[str, ...]:
    """Return the names of the modules that some kinds of report need, their own first and what draws charts last."""
    return (*(f"{__package__}.{kind}.content" for kind in kinds), *DRAWING)


def reading(kind: str) -> list[Job]:
    """Return what reads the templates of a kind of report, one after the other."""
    folder, own = templates_folder(), f"{kind}.html"
    within = (folder / "sections").glob("*.html") if "sections/" in (folder / own).read_text(encoding="utf-8") else ()
    names = (own, "base.html", "own.html", *sorted(f"sections/{one.name}" for one in within))
    return [partial(by_name, f"{__package__}.html", "read_template", name) for name in names]


TOGETHER = "funder"
"""The kind of report that several workshops have together."""
TOGETHER_LANGUAGES: tuple[str, ...] = ("en", "es")
"""Languages that have it whole."""
MOST_WORKSHOPS = 90
"""Most workshops of one report, with five files each within the files that a verification takes. [1]"""

LANGUAGES = tuple(dict.fromkeys(language for kind in KINDS.values() for language in kind.languages))
"""Languages that a report can be written in, English first."""
