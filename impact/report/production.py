"""A report from a workshop folder: made from the very records that it carries, so that it can be made again from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

from impact.base.files import fill, passing_folder
from impact.report.context import Report, compose
from impact.report.evidence import (
    GUIDE,
    RESULTS,
    SETTINGS,
    SUMS,
    TABLE_PREFIX,
    TEMPLATE,
    USED,
    WORKBOOK,
    as_json,
    as_toml,
    attached,
    factor_tables,
    guide,
    records_of,
    sums_file,
    sums_of,
    used_rows,
    workbook_of,
)  # fmt: skip
from impact.report.layout.pango import absence
from impact.report.request import Request
from impact.report.typefaces import told

LIBRARIES = (
    "babel", "font-source-sans-pro", "fonttools", "jinja2", "matplotlib", "numpy", "openpyxl", "pandas", "pillow", "pint",
    "pydyf", "scipy", "weasyprint",
)  # fmt: skip
"""Libraries whose versions the settings of a report name, because its bytes may change with them."""

MOST_DRAWS = 50_000
"""Most draws of a report as PDF: with more, whoever verifies it would need more than 1 GB for some five parts. [1]"""

SCHEMA = "impact-settings/1"

NAMED = ("reader", "language", "part", "leave_out", "brief")
"""What the settings of a report name of its request; ``brief`` only where it is."""


@dataclass(frozen=True, slots=True)
class Narrowing:
    """What of the records a report counts, and the uncertainty run; as `Folder.assess` takes them."""

    seed: int | None = None
    draws: int | None = None
    period: tuple[date, date] | None = None
    part: str | None = None
    site: str | None = None
    grant: str | None = None
    beside: tuple[date, date] | None = None

    def options(self) -> dict[str, Any]:
        """Return the arguments of `Folder.assess`."""
        return {name: getattr(self, name) for name in self.__slots__}


BELOW = ("pango", "python", "zlib")
"""What libraries stand on, named as well: what sets the text, the language, and what packs."""


def libraries() -> dict[str, str]:
    """Return the versions of what the bytes of a report may change with, here, by name.

    Pango is named where it is there.
    """
    from importlib.metadata import version

    return {**{name: version(name) for name in LIBRARIES}, **_below()}


def _below() -> dict[str, str]:
    """Return the versions of what libraries stand on."""
    import platform
    import zlib

    found = {"python": platform.python_version(), "zlib": zlib.ZLIB_RUNTIME_VERSION}
    if absence() is None:
        from weasyprint.text.ffi import pango

        number = pango.pango_version()  # 10000 for each first, 100 for each second number of the version
        found["pango"] = f"{number // 10_000}.{number // 100 % 100}.{number % 100}"
    return found


def settings_of(report: Report, narrowing: Narrowing, versions: Mapping[str, str]) -> dict[str, Any]:
    """Return the settings that make a report again: the request, what was counted, seed, draws, versions."""
    settings = report.results.settings
    counted = {**narrowing.options(), "seed": settings.seed, "draws": settings.draws}
    for period, prefix in (("period", ""), ("beside", "beside_")):
        days = counted.pop(period)
        if days is not None:
            counted |= {f"{prefix}first_day": days[0].isoformat(), f"{prefix}last_day": days[1].isoformat()}
    request = report.request
    return {
        "schema": SCHEMA,
        "version": settings.version,
        "report": {name: value for name in NAMED if (value := getattr(request, name)) not in (None, False)},
        "own_template": request.template is not None,
        "asked": request.answers,
        "counted": {name: value for name, value in counted.items() if value is not None},
        "libraries": dict(sorted(versions.items())),
    }


def compose_from(
    records: Mapping[str, bytes], tables: Mapping[str, bytes], request: Request, narrowing: Narrowing
) -> Report:
    """Return the report of records and factor tables that are at hand as files.

    Parameters
    ----------
    records : mapping of str to bytes
        Files of a workshop folder.
    tables : mapping of str to bytes
        Factor tables, their names with `TABLE_PREFIX`.
    request, narrowing : Request, Narrowing
        What is asked for.

    Raises
    ------
    ProblemsError
        With every error in the records.
    """
    from impact.api import load

    with passing_folder() as place:
        folder, shelf = place / "records", place / "factors"
        fill(folder, records)
        fill(shelf, {name.removeprefix(TABLE_PREFIX): content for name, content in tables.items()})
        results = load(folder, tables=shelf).assess(**narrowing.options())
    return compose(results, request)


@dataclass(frozen=True)
class Product:
    """A report with the files that it was made from.

    Attributes
    ----------
    report : Report
        Everything calculated.
    records, tables : mapping of str to bytes
        What the PDF carries, by name.
    narrowing : Narrowing
        What of the records it counts.
    versions : mapping of str to str or None
        Versions of the libraries that its settings name; None for those here, else those of a report that is made again.
    """

    report: Report
    records: Mapping[str, bytes]
    tables: Mapping[str, bytes]
    narrowing: Narrowing
    versions: Mapping[str, str] | None = None

    def files(self) -> dict[str, bytes]:
        """Return every file that the PDF carries, by name, the one to read first before all, the checksums last."""
        files = {
            GUIDE: guide(self.report.request.language, self.report.results.settings.version),
            **self.records,
            **{one.name: one.bytes for one in self.report.results.workshop.presentation.pictures},
            SETTINGS: as_toml(settings_of(self.report, self.narrowing, self.versions or libraries())),
            RESULTS: as_json(self.report.document),
            USED: used_rows(self.report.results),
            **self.tables,
        }
        book = workbook_of(self.report.results) if self.report.request.kind.workbook else None
        if book is not None:
            files[WORKBOOK] = book
        if self.report.request.template is not None:
            files[TEMPLATE] = self.report.request.template.encode()
        return {**files, SUMS: sums_file(sums_of(files))}

    def content(self, suffix: str) -> bytes:
        """Return the report as ``.pdf`` or ``.html``.

        Raises
        ------
        RenderError
            When the layout library's system parts are missing, or a template of the workshop's own cannot be used.
        """
        from impact.report.layout.pdf import pdf_of

        return self._page.encode() if suffix == ".html" else pdf_of(self.paper, attached(self.carried))

    def lacking(self, suffix: str) -> str | None:
        """Return the line that says which letters no font of this system holds, None where there are none."""
        return told(self._page) if suffix == ".html" else told(self.paper)

    @cached_property
    def carried(self) -> dict[str, bytes]:
        """What `files` returns."""
        return self.files()

    @cached_property
    def _page(self) -> str:
        """The page that stands alone."""
        from impact.report.html import page

        return page(self.report, {}, inline_fonts=True)

    @cached_property
    def paper(self) -> str:
        """The page as the layout library gets it."""
        from impact.report.html import page
        from impact.report.layout.pdf import RenderError

        paper = page(self.report, sums_of(self.carried), inline_fonts=False)
        if self.report.request.template is not None and self.files() != self.carried:
            raise RenderError("the template changed what the report carries; a template may only read")
        return paper


def prepare(folder: Path, request: Request, narrowing: Narrowing) -> Product:
    """Return the report of a workshop folder, calculated and not yet laid out.

    Parameters
    ----------
    folder : Path
        A workshop folder without errors.
    request, narrowing : Request, Narrowing
        What is asked for.

    Raises
    ------
    ProblemsError
        With every error in the records.
    NothingToSayError
        When the records cannot fill this kind of report.
    """
    records, tables = records_of(folder, leave_out=request.leave_out), factor_tables()
    return Product(compose_from(records, tables, request, narrowing), records, tables, narrowing)
