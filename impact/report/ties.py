"""Each figure on a page tied to its result by the name that the JSON contract gives it, and each sentence by one of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING
from urllib.parse import quote

from impact.base.language import translate
from impact.base.quantities import QUANTITIES
from impact.base.sentences import said
from impact.report.addends import ROUNDED, add_up
from impact.report.figurekinds import ends_of, quantity_of, span_of
from impact.report.words import typed

if TYPE_CHECKING:
    from markupsafe import Markup

    from impact.base.printing import Printer
    from impact.base.sentences import Fact

MARK = "f."
"""Start of the id of every element that holds a tied figure; the PDF has a named destination of the same name."""
TOGETHER = "+"
"""Between the names of figures that one element holds; after the first name they have only what is theirs alone."""
WORDS = "words."
"""Start of the name of every sentence, so that none is like that of a figure."""


class Ties:
    """Prints figures by name.

    Parameters
    ----------
    values : mapping of str to float or None
        Every figure by name; None for one that cannot be given.
    printer : Printer
        Prints each as the kind of figure that its name says; its language is that of the word between two ends.
    """

    def __init__(self, values: Mapping[str, float | None], printer: Printer) -> None:
        self.values = values
        self.printer = printer
        self._times: dict[str, int] = {}

    def mark(self, *names: str) -> str:
        """Return the id of the next element that holds figures; the second and later ones of the same carry a number.

        Several names are joined as `TOGETHER` says: ``paper.collected_kg.value+low+high``.
        """
        first, *others = (quote(name, safe="-_.") for name in names)
        name = TOGETHER.join([first, *(one.rpartition(".")[2] for one in others)])
        times = self._times[name] = self._times.get(name, 0) + 1
        return f"{MARK}{name}" + (f"~{times}" if times > 1 else "")

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

        words = typed(said(fact, self.printer))
        return Markup('<span id="{}">{}</span>').format(self.mark(f"{WORDS}{name}"), words) if name else words

    def __call__(self, name: str, *, unit: bool = False) -> Markup:
        """Return the element that holds a figure; a dash where there is none.

        Parameters
        ----------
        name : str
            As `impact.base.figurenames.leaves` has it.
        unit : bool
            Whether its unit stands behind the element; that of shares and single masses stands in every one.

        Raises
        ------
        KeyError
            When no result has this name, or no kind of figure.
        """
        from markupsafe import Markup

        return Markup('<span id="{}">{}</span>{}').format(self.mark(name), self._text(name), self._unit(name, unit))

    def _unit(self, name: str, asked: bool) -> str:
        """Return the unit that stands behind a figure, with its blank; nothing where it stands in every figure of the kind."""
        value, quantity, of = self.values[name], quantity_of(name), span_of(name, self.values)
        if not asked or value is None or QUANTITIES[quantity].bound:
            return ""
        mark = self.printer.unit(quantity, value if of is None else of.value or value)
        return mark and f"\u00a0{mark}"

    def _text(self, name: str) -> str:
        """Return a figure as it is printed, with the unit that stands in every one of its kind."""
        value, quantity = self.values[name], quantity_of(name)
        if value is None:
            return "–"
        bound, of = QUANTITIES[quantity].bound, span_of(name, self.values)
        return self.printer.figure(value, quantity, unit=bound, of=of)

    def note(self, *tables: str) -> Markup | str:
        """Return a note on rounding where some figures of `addends.SUMS` do not add up as printed, else nothing."""
        from markupsafe import Markup

        if add_up(tables, self.values, self._rounded):
            return ""
        return Markup('<p class="note">{}</p>').format(translate(self.printer.language, ROUNDED))

    def _rounded(self, name: str) -> Decimal | None:
        value = self.values[name]
        return None if value is None else self.printer.rounded(value, quantity_of(name), span_of(name, self.values))

    def ends(self, name: str, *, unit: bool = False) -> Markup:
        """Return the two ends of an interval, or one of them where both read alike, and their unit if it is asked for.

        Raises
        ------
        KeyError
            When no result of this name has ends.
        """
        names = self._ends(name)
        return self.held(names, self._between(names)) + self._unit(names[-1], unit)

    def whole(self, name: str, *, unit: bool = False) -> Markup:
        """Return a figure with its interval in brackets, which no line end parts: the layout library breaks badly there.

        It stands alone where its interval tells nothing.
        """
        middle = f"{name}.value"
        of, form = span_of(middle, self.values), f"{{}}{self._unit(middle, unit)}"
        if of is not None and not self.printer.tells(of, quantity_of(middle)):
            return self.held([middle], form, whole=True)
        names = self._ends(name)
        return self.held([middle, *names], f"{form} ({self._between(names)})", whole=True)

    def _ends(self, name: str) -> list[str]:
        """Return the names of both ends of an interval, of the first where they read alike."""
        low, high = ends_of(name, self.values) or (f"{name}.low", f"{name}.high")
        return [low] if self._text(low) == self._text(high) else [low, high]

    def _between(self, names: Sequence[str]) -> str:
        to = translate(self.printer.language, "to")
        return f" {to} ".join("{}" for _ in names)

    def held(self, names: Sequence[str], form: str, *, whole: bool = False) -> Markup:
        """Return the one element that holds several figures; the layout library takes its time for each.

        Parameters
        ----------
        names : sequence of str
            Names of the figures.
        form : str
            What stands around them, with ``{}`` for each.
        whole : bool
            Whether no line end may part them.
        """
        from markupsafe import Markup

        kept, text = Markup(' class="whole"') if whole else "", form.format(*map(self._text, names))
        return Markup('<span id="{}"{}>{}</span>').format(self.mark(*names), kept, text)
