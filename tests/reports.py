"""Reports made from results for tests, without the files that a report carries."""

from __future__ import annotations

from impact.report.archive import pdf_of
from impact.report.context import compose
from impact.report.render import page
from impact.report.request import Request
from impact.results import Results


def html_of(results: Results, request: Request | None = None) -> str:
    """Return a report as a page that stands alone."""
    return page(compose(results, request or Request()), {}, inline_fonts=True)


def pdf_of_results(results: Results, request: Request | None = None) -> bytes:
    """Return a report as a PDF that carries nothing."""
    return pdf_of(page(compose(results, request or Request()), {}, inline_fonts=False))
