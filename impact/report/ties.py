"""Each figure on a page tied to its result by the name that the JSON contract gives it, and each sentence by one of its own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING
from urllib.parse import quote

from impact.base.language import translate
from impact.base.sentences import said

if TYPE_CHECKING:
    from markupsafe import Markup

    from impact.base.printing import Printer
    from impact.base.sentences import Fact

MARK = "f."
"""Start of the id of every element that holds a tied figure; the PDF has a named destination of the same name."""
WORDS = "words."
"""Start of the name of every sentence, so that none is like that of a figure."""


class Ties:
    """Prints figures by name.

    Parameters
    ----------
    values : mapping of str to float or None
        Every figure by name; None for one that cannot be given.
    printer : Printer
        Its methods are the styles; its language that of the word between two ends.
    """

    def __init__(self, values: Mapping[str, float | None], printer: Printer) -> None:
        self.values = values
        self.printer = printer
        self._times: dict[str, int] = {}

    def mark(self, name: str) -> str:
        """Return the id of the next element that holds the figure `name`; the second and later ones carry a number."""
        times = self._times[name] = self._times.get(name, 0) + 1
        return f"{MARK}{quote(name, safe='-_.')}" + (f"~{times}" if times > 1 else "")

    def say(self, fact: Fact, name: str = "") -> Markup | str:
        """Return a fact in words; with a name, the element that holds them, so that they are compared with the results.

        Parameters
        ----------
        fact : Fact
            A sentence, or a piece of one.
        name : str
            What the sentence is called; its id has `WORDS` before it.
        """
        from markupsafe import Markup

        words = said(fact, self.printer)
        return Markup('<span id="{}">{}</span>').format(self.mark(f"{WORDS}{name}"), words) if name else words

    def __call__(self, name: str, style: str = "digits", *details: int) -> Markup:
        """Return the element that holds a figure; a dash where there is none.

        Parameters
        ----------
        name : str
            As `impact.base.figurenames.leaves` has it.
        style : str
            A method of the printer.
        *details : int
            What the method takes after the number.

        Raises
        ------
        KeyError
            When no result has this name.
        """
        from markupsafe import Markup

        value = self.values[name]
        text = "–" if value is None else getattr(self.printer, style)(value, *details)
        return Markup('<span id="{}">{}</span>').format(self.mark(name), text)

    def ends(self, name: str, style: str = "digits", *details: int) -> Markup:
        """Return the two ends of an interval."""
        from markupsafe import Markup

        low, high = (self(f"{name}.{end}", style, *details) for end in ("low", "high"))
        return Markup("{} {} {}").format(low, translate(self.printer.language, "to"), high)

    def whole(self, name: str, style: str = "digits", *details: int) -> Markup:
        """Return a figure with its interval in brackets, which no line end parts: the layout library breaks badly there."""
        from markupsafe import Markup

        return Markup('<span class="whole">{} ({})</span>').format(
            self(f"{name}.value", style, *details), self.ends(name, style, *details)
        )
