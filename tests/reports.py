"""Reports for tests: of workshops, each made once in a run, and of results, without the files that a report carries."""

from __future__ import annotations

import logging
import tempfile
from collections.abc import Callable, Sequence
from functools import cache, partial
from hashlib import sha256
from pathlib import Path
from typing import NamedTuple
from unittest.mock import patch

from page import validate_pdf_bytes

from impact.account.results import Results
from impact.records.demonstration import DEMO
from impact.report.context import Paged, compose
from impact.report.evidence import attached
from impact.report.html import page
from impact.report.layout.pdf import Attached, pdf_of
from impact.report.production import Narrowing, prepare
from impact.report.request import Request
from impact.report.verification import Verification, verify
from tests.folders import CLOSED, TOML, swap, write_folder
from tests.shared import shared
from tests.workshops import large, tiny

FEW = Narrowing(draws=100)
GRANTED = Narrowing(draws=100, grant="Neighborhood Waste Fund")
"""The grant of the demo, which the command takes because there is no other."""


def british(folder: Path) -> Path:
    """Return a folder with two batches of a workshop in Britain; its masses add up."""
    country = swap(swap(TOML, 'country = "USA"', 'country = "GBR"'), 'electricity = "US-CAMX"\n', "")
    return write_folder(folder, workshop=country, batches=CLOSED)


FOLDERS = {"demo": lambda _: DEMO, "small": british, "tiny": tiny, "large": large}
"""Workshops, and what writes each into a folder; the demo stays where it is."""


BLANK = '<svg xmlns="http://www.w3.org/2000/svg"/>'
"""A chart that nobody looks at."""


class Log(logging.Handler):
    """Keeps every line that the layout library logs."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.lines.append(record.getMessage())


class Made(NamedTuple):
    """A report as PDF with everything that it carries, as a page that stands alone, and what the layout library said."""

    pdf: bytes
    page: str
    log: list[str]


def made(workshop: str, request: Request) -> Made:
    """Return a report, calculated once and laid out in both forms."""
    log = Log()
    logging.getLogger("weasyprint").addHandler(log)
    try:
        with tempfile.TemporaryDirectory() as place:
            counted = GRANTED if workshop == "demo" and request.kind.granted else FEW
            product = prepare(FOLDERS[workshop](Path(place)), request, counted)
        pdf = product.content(".pdf")
        shared(_name_of(product.paper, attached(product.carried)), lambda: pdf)
        return Made(pdf, product.content(".html").decode(), log.lines)
    finally:
        logging.getLogger("weasyprint").removeHandler(log)


def laid_out_once(html: str, attachments: Sequence[Attached] = ()) -> bytes:
    """Return the PDF of a page, laid out once in a run: in the place of `pdf_of` where a report is made again and again."""
    return shared(_name_of(html, attachments), lambda: pdf_of(html, attachments))


def _name_of(html: str, attachments: Sequence[Attached]) -> str:
    files = sorted((one.name, one.media_type, one.relationship, one.description, one.content) for one in attachments)
    return f"laid-out-{sha256(repr((html, files)).encode()).hexdigest()}"


def produce(folder: Path, request: Request, narrowing: Narrowing, *, suffix: str) -> bytes:
    """Return a report of a workshop folder as ``.pdf`` or ``.html``."""
    return prepare(folder, request, narrowing).content(suffix)


@cache
def the_one(workshop: str, reader: str = "funder", language: str = "en") -> Made:
    """Return the one report of this kind in a run."""
    return shared(f"{workshop}-{reader}-{language}", lambda: made(workshop, Request(reader, language)))


def _the_brief(workshop: str, reader: str) -> Made:
    return shared(f"{workshop}-{reader}-brief", lambda: made(workshop, Request(reader, brief=True)))


def brief(workshop: str, reader: str = "funder") -> bytes:
    """Return the one PDF of the first page of this kind alone."""
    return _the_brief(workshop, reader).pdf


def brief_page(workshop: str, reader: str = "funder") -> str:
    """Return the one page of the first page of this kind alone."""
    return _the_brief(workshop, reader).page


def report(workshop: str, reader: str = "funder", language: str = "en") -> bytes:
    """Return the one PDF of this kind."""
    return the_one(workshop, reader, language).pdf


def web_page(workshop: str, reader: str = "funder", language: str = "en") -> str:
    """Return the one page of this kind."""
    return the_one(workshop, reader, language).page


def verified(workshop: str, reader: str = "funder") -> Verification:
    """Return what the verification of the one PDF finds; only the demo's is laid out again for it."""

    def found() -> Verification:
        with patch("impact.report.layout.pdf.pdf_of", pdf_of if workshop == "demo" else laid_out_once):
            return verify(report(workshop, reader))

    return shared(f"{workshop}-{reader}-verified", found)


def refusals(workshop: str, reader: str, profile: str) -> list[str]:
    """Return the rules of a standard by which a checker refuses the one PDF."""
    name = f"{workshop}-{reader}-{profile}"
    return shared(name, lambda: refused(report(workshop, reader), profile))


def refused(pdf: bytes, profile: str) -> list[str]:
    """Return the rules of a standard by which a checker refuses a PDF."""
    return [failure.rule_id for failure in validate_pdf_bytes(pdf, profile=profile).failures]


def small() -> bytes:
    """Return the first page alone of the report of a small invented workshop, with everything that a report carries."""
    return brief("small")


def html_of(results: Results, request: Request | None = None) -> str:
    """Return a report as a page that stands alone."""
    return page(compose(results, request or Request()), {}, inline_fonts=True)


def plain_html_of(results: Results, request: Request | None = None) -> str:
    """Return a report as the page that the layout library gets: all its words, with blanks for the charts."""
    return undrawn(compose(results, request or Request()))


def undrawn(report: Paged) -> str:
    """Return a composed report as that page; a chart that has nothing to show is left out, as it is on every page."""
    with patch("matplotlib.figure.Figure.savefig", lambda _, stream, **__: stream.write(BLANK)):
        return page(report, {}, inline_fonts=False)


def drawn_html_of(results: Results, request: Request | None = None) -> str:
    """Return the same with its charts."""
    return page(compose(results, request or Request()), {}, inline_fonts=False)


def pdf_of_results(results: Results, request: Request | None = None) -> bytes:
    """Return a report as a PDF that carries nothing."""
    return pdf_of(drawn_html_of(results, request))


def ahead(*, thorough: bool) -> list[Callable[[], object]]:
    """Return what makes the reports that many tests ask for, the longest to make first."""
    sizes = ("tiny", "large") if thorough else ("tiny",)
    return [
        partial(report, "demo"),
        *([partial(report, "large")] if thorough else []),
        partial(brief, "small"),
        partial(report, "tiny"),
        partial(report, "demo", "binder"),
        partial(verified, "demo"),
        partial(report, "demo", "school"),
        partial(report, "small"),
        *(partial(report, workshop, reader) for workshop in sizes for reader in ("binder", "school")),
        *([partial(verified, "large")] if thorough else []),
    ]
