"""Reports for tests: of results, without the files that a report carries, and a small one with them."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

from impact.report.archive import pdf_of
from impact.report.context import compose
from impact.report.production import Narrowing, produce
from impact.report.render import page
from impact.report.request import Request
from impact.results import Results
from tests.folders import BATCHES, swap, write_folder

FEW = Narrowing(draws=100)


@cache
def small() -> bytes:
    """Return the report of a small invented workshop, with everything that it carries."""
    with tempfile.TemporaryDirectory() as place:
        folder = write_folder(Path(place), batches=swap(BATCHES, "0.5 kWh,30,2", "0.5 kWh,36,2"))
        return produce(folder, Request(), FEW, suffix=".pdf")


def html_of(results: Results, request: Request | None = None) -> str:
    """Return a report as a page that stands alone."""
    return page(compose(results, request or Request()), {}, inline_fonts=True)


def pdf_of_results(results: Results, request: Request | None = None) -> bytes:
    """Return a report as a PDF that carries nothing."""
    return pdf_of(page(compose(results, request or Request()), {}, inline_fonts=False))
