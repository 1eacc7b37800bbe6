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
    RESULTS,
    SETTINGS,
    SUMS,
    TABLE_PREFIX,
    TEMPLATE,
    USED,
    as_json,
    as_toml,
    attached,
    factor_tables,
    records_of,
    sums_file,
    sums_of,
    used_rows,
)  # fmt: skip
from impact.report.request import Request
from impact.report.typefaces import told

LIBRARIES = ("numpy", "pandas", "pint", "scipy", "weasyprint")
"""Libraries whose versions the settings of a report name."""

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

    def options(self) -> dict[str, Any]:
        """Return the arguments of `Folder.assess`."""
        return {name: getattr(self, name) for name in self.__slots__}


def settings_of(report: Report, narrowing: Narrowing) -> dict[str, Any]:
    """Return the settings that make a report again: the request, what was counted, seed, draws, versions."""
    from importlib.metadata import version

    settings = report.results.settings
    counted = {**narrowing.options(), "seed": settings.seed, "draws": settings.draws}
    period = counted.pop("period")
    if period is not None:
        counted |= {"first_day": period[0].isoformat(), "last_day": period[1].isoformat()}
    request = report.request
    return {
        "schema": SCHEMA,
        "version": settings.version,
        "report": {name: value for name in NAMED if (value := getattr(request, name)) not in (None, False)},
        "own_template": request.template is not None,
        "asked": request.answers,
        "counted": {name: value for name, value in counted.items() if value is not None},
        "libraries": {name: version(name) for name in LIBRARIES},
    }


def request_in(settings: Mapping[str, Any]) -> tuple[Request, Narrowing]:
    """Return what `settings_of` wrote as what it was made from.

    Raises
    ------
    KeyError, TypeError, ValueError
        When the settings are not of this form.
    """
    counted = dict(settings["counted"])
    first, last = counted.pop("first_day", None), counted.pop("last_day", None)
    period = (date.fromisoformat(first), date.fromisoformat(last)) if first and last else None
    asked = dict(settings["report"])
    numbers = settings.get("asked", settings.get("term", {}))  # reports of before name them term
    request = Request(**{**asked, "leave_out": tuple(asked["leave_out"])}, asked=dict(numbers))
    return request, Narrowing(**counted, period=period)


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
    """

    report: Report
    records: Mapping[str, bytes]
    tables: Mapping[str, bytes]
    narrowing: Narrowing

    def files(self) -> dict[str, bytes]:
        """Return every file that the PDF carries, by name, the checksums last."""
        files = {
            **self.records,
            **{one.name: one.bytes for one in self.report.results.workshop.presentation.pictures},
            SETTINGS: as_toml(settings_of(self.report, self.narrowing)),
            RESULTS: as_json(self.report.document),
            USED: used_rows(self.report.results),
            **self.tables,
        }
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
        from impact.report.pdf import pdf_of

        return self._page.encode() if suffix == ".html" else pdf_of(self._paper, attached(self._carried))

    def lacking(self, suffix: str) -> str | None:
        """Return the line that says which letters no font of this system holds, None where there are none."""
        return told(self._page) if suffix == ".html" else told(self._paper)

    @cached_property
    def _carried(self) -> dict[str, bytes]:
        """What `files` returns."""
        return self.files()

    @cached_property
    def _page(self) -> str:
        """The page that stands alone."""
        from impact.report.html import page

        return page(self.report, {}, inline_fonts=True)

    @cached_property
    def _paper(self) -> str:
        """The page as the layout library gets it."""
        from impact.report.html import page
        from impact.report.pdf import RenderError

        paper = page(self.report, sums_of(self._carried), inline_fonts=False)
        if self.report.request.template is not None and self.files() != self._carried:
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
