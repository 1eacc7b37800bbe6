"""What the template of a report gets: the results, each figure tied to its name, and what one kind of report adds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from importlib import import_module
from typing import TYPE_CHECKING, Any, Protocol

from impact.base.figurenames import leaves
from impact.base.locale import paper_size
from impact.base.printing import Printer
from impact.base.processes import Doing, Job, here
from impact.factors.rownames import plain_name
from impact.report.evidence import RESULTS, USED, WORKBOOK, as_json, used_rows, workbook_of
from impact.report.figurekinds import fixed_in
from impact.report.request import Request
from impact.report.ties import Ties
from impact.report.words import Words
from impact.study import Study

if TYPE_CHECKING:
    from impact.programme import ProgrammeResults

SCHEMA = "impact-report/1"


class Content(Protocol):
    """What one kind of report adds to the totals."""

    @property
    def figures(self) -> Mapping[str, Any]:
        """Figures beside the totals, as plain values."""
        ...

    def charts(self, printer: Printer) -> Mapping[str, Job]:
        """Return what draws each chart, by its name in the template; another process can do it."""
        ...

    def data(self, printer: Printer, tie: Ties) -> dict[str, Any]:
        """Return the data of the template beside the charts."""
        ...


class Paged(Protocol):
    """A report before it is laid out: of one workshop, or of several together."""

    @property
    def request(self) -> Request:
        """What was asked for."""

    @property
    def results(self) -> Study | ProgrammeResults:
        """The assessment."""

    @property
    def document(self) -> Mapping[str, Any]:
        """Every figure and sentence of the report as JSON values."""

    @property
    def country(self) -> str:
        """The country whose spelling, marks and paper the pages have."""

    @property
    def template(self) -> str:
        """Name of its template."""

    @property
    def pictures(self) -> Mapping[str, bytes]:
        """Pictures of the workshops' own, by the names that they are attached under."""

    def derived(self) -> dict[str, bytes]:
        """Return the files that are made from the results, by the names that they are attached under."""

    def charts(self) -> Mapping[str, Job]:
        """Return what draws each chart, by its name in the template; another process can do it."""

    def context(self, sums: Mapping[str, str]) -> dict[str, Any]:
        """Return the data of the template beside the charts, with the checksums of what is attached, by file."""


@dataclass(frozen=True)
class Report:
    """A report of one workshop before it is laid out.

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

    @property
    def country(self) -> str:
        """The workshop's."""
        return self.results.workshop.country

    @property
    def template(self) -> str:
        """That of its kind."""
        return f"{self.request.reader}.html"

    @property
    def pictures(self) -> dict[str, bytes]:
        """Those of the workshop."""
        return {one.name: one.bytes for one in self.results.workshop.presentation.pictures}

    def derived(self) -> dict[str, bytes]:
        """Return the results, the rows that they use, and the workbook where this kind of report has one."""
        book = workbook_of(self.results) if self.request.kind.workbook else None
        files = {RESULTS: as_json(self.document), USED: used_rows(self.results)}
        return files if book is None else {**files, WORKBOOK: book}

    @cached_property
    def figures(self) -> tuple[dict[str, float | None], Printer]:
        """Return every figure by its name, and what prints them."""
        workshop = self.results.workshop
        values = leaves(self.document)
        names = self.results.names
        printer = replace(
            Printer.of(workshop, self.request.language, names, fixed_in(values, workshop.units == "us")),
            rows=plain_name,
            parts=tuple(workshop.parts),
        )
        return values, printer

    def known(self, printer: Printer, tie: Ties) -> dict[str, Any]:
        """Return what the template of every report knows."""
        workshop = self.results.workshop
        return {
            "request": self.request,
            "results": self.results,
            "document": self.document,
            "workshop": workshop,
            "invented": workshop.invented,
            "p": printer,
            "f": tie,
            "w": Words(printer),
            "say": tie.say,
            "page_size": paper_size(workshop.country),
        }

    def charts(self) -> Mapping[str, Job]:
        """Those of its kind."""
        return self.content.charts(self.figures[1])

    def context(self, sums: Mapping[str, str]) -> dict[str, Any]:
        """Return the data of the template beside the charts, with the checksums of what is attached, by file."""
        values, printer = self.figures
        tie = Ties(values, printer)
        return {**self.known(printer, tie), "sums": sums, **self.content.data(printer, tie)}


def compose(results: Study, request: Request, do: Doing = here) -> Report:
    """Return a report: everything calculated, nothing laid out.

    Parameters
    ----------
    results, request : Study, Request
        The assessment, and what was asked for.
    do : Doing
        Does a share of the work: here, or in another process meanwhile.

    Raises
    ------
    KeyError
        When no kind of report has the name that is asked for.
    NothingToSayError
        When the records cannot fill it.
    """
    kind = request.kind
    content: Content = getattr(import_module(f"{__package__}.{kind.name}.content"), kind.content)(results, request, do)
    return Report(request, results, {**results.as_totals(), "schema": SCHEMA, **content.figures}, content)
