"""What the template of a report gets: the results, each figure tied to its name, and what one kind of report adds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from impact.base.figurenames import leaves
from impact.base.locale import paper_size
from impact.base.printing import Printer
from impact.report.document import totals_document
from impact.report.request import Request
from impact.report.ties import Ties
from impact.study import Study


class Content(Protocol):
    """What one kind of report adds to the totals."""

    @property
    def figures(self) -> Mapping[str, Any]:
        """Figures beside the totals, as plain values."""
        ...

    def data(self, printer: Printer, tie: Ties) -> dict[str, Any]:
        """Return the data of the template."""
        ...


@dataclass(frozen=True)
class Report:
    """A report before it is laid out.

    Attributes
    ----------
    request : Request
        What was asked for.
    results : Study
        The assessment.
    document : mapping
        Every figure and sentence of the report as JSON values.
    content : Content
        What this kind of report adds.
    """

    request: Request
    results: Study
    document: Mapping[str, Any]
    content: Content

    def context(self, sums: Mapping[str, str]) -> dict[str, Any]:
        """Return the data of the template, with the checksums of what is attached, by file."""
        workshop = self.results.workshop
        printer = Printer.of(workshop, self.request.language)
        tie = Ties(leaves(self.document), printer)
        return {
            "request": self.request,
            "results": self.results,
            "document": self.document,
            "workshop": workshop,
            "p": printer,
            "f": tie,
            "page_size": paper_size(workshop.country),
            "sums": sums,
            **self.content.data(printer, tie),
        }


def content_of(results: Study, request: Request) -> Content:
    """Return what the kind of report that is asked for adds."""
    if request.reader == "school":
        from impact.report.school.content import School

        return School(results, request)
    if request.reader == "binder":
        from impact.report.binder.content import BinderChoice

        return BinderChoice(results, request)
    from impact.report.funder.content import Funder

    return Funder(results, request)


def compose(results: Study, request: Request) -> Report:
    """Return a report: everything calculated, nothing laid out."""
    content = content_of(results, request)
    return Report(request, results, {**totals_document(results), **content.figures}, content)
