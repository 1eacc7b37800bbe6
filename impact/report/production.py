"""A report from a workshop folder: made from the very records that it carries, so that it can be made again from them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

from impact.base.files import fill, passing_folder
from impact.base.problems import ProblemsError
from impact.base.processes import Doing, Results, here
from impact.records.files import workshops_in
from impact.report.context import Paged, compose
from impact.report.evidence import (
    GUIDE,
    SETTINGS,
    SUMS,
    TABLE_PREFIX,
    TEMPLATE,
    as_toml,
    attached,
    factor_tables,
    from_roof,
    guide,
    records_of,
    sums_file,
    sums_of,
    under_roof,
)  # fmt: skip
from impact.report.kinds import MOST_WORKSHOPS
from impact.report.layout.pango import absence
from impact.report.request import NothingToSayError, Request
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
class Roof:
    """Several workshops under one roof: what they are called together, and the names of their folders in their order."""

    name: str
    sites: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Narrowing:
    """What of the records a report counts, and the uncertainty run; as `Folder.assess` takes them.

    `roof` names the workshops where there are several.
    """

    seed: int | None = None
    draws: int | None = None
    period: tuple[date, date] | None = None
    part: str | None = None
    site: str | None = None
    grant: str | None = None
    beside: tuple[date, date] | None = None
    roof: Roof | None = None

    def options(self) -> dict[str, Any]:
        """Return the arguments of `Folder.assess`, or of `Programme.assess` under a roof."""
        left_out = ("roof", "beside") if self.roof else ("roof",)
        return {name: getattr(self, name) for name in self.__slots__ if name not in left_out}


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


def settings_of(report: Paged, narrowing: Narrowing, versions: Mapping[str, str]) -> dict[str, Any]:
    """Return the settings that make a report again: the request, what was counted, seed, draws, versions."""
    settings = report.results.settings
    counted = {**narrowing.options(), "seed": settings.seed, "draws": settings.draws}
    for period, prefix in (("period", ""), ("beside", "beside_")):
        days = counted.pop(period, None)
        if days is not None:
            counted |= {f"{prefix}first_day": days[0].isoformat(), f"{prefix}last_day": days[1].isoformat()}
    request, roof = report.request, narrowing.roof
    return {
        "schema": SCHEMA,
        "version": settings.version,
        "report": {name: value for name in NAMED if (value := getattr(request, name)) not in (None, False)},
        "programme": roof and {"name": roof.name, "sites": list(roof.sites)},
        "own_template": request.template is not None,
        "asked": request.answers,
        "counted": {name: value for name, value in counted.items() if value is not None},
        "libraries": dict(sorted(versions.items())),
    }


def compose_from(
    records: Mapping[str, bytes], tables: Mapping[str, bytes], request: Request, narrowing: Narrowing, do: Doing = here
) -> Paged:
    """Return the report of records and factor tables that are at hand as files.

    Parameters
    ----------
    records : mapping of str to bytes
        Files of a workshop folder; under a roof of several, see `impact.report.evidence.under_roof`.
    tables : mapping of str to bytes
        Factor tables, their names with `TABLE_PREFIX`.
    request, narrowing : Request, Narrowing
        What is asked for.
    do : Doing
        Does a share of the work: here, or in another process meanwhile.

    Raises
    ------
    ProblemsError
        With every error in the records.
    """
    from impact.api import load

    with passing_folder() as place:
        folder, shelf = place / "records", place / "factors"
        fill(shelf, {name.removeprefix(TABLE_PREFIX): content for name, content in tables.items()})
        if narrowing.roof is not None:
            return _together(records, place, shelf, request, narrowing, narrowing.roof)
        fill(folder, records)
        results = load(folder, tables=shelf).assess(**narrowing.options())
    return compose(results, request, do)


def _together(
    records: Mapping[str, bytes], place: Path, shelf: Path, request: Request, narrowing: Narrowing, roof: Roof
) -> Paged:
    """Return the report of several workshops; their folders are numbered here, whatever their names."""
    from impact.programme import read_together
    from impact.report.programme.content import compose_together

    folders = {site: place / str(number) for number, site in enumerate(roof.sites, 1)}
    for site, files in from_roof(records, roof.sites).items():
        fill(folders[site], files)
    programme, problems = read_together(roof.name, folders, tables=shelf)
    if programme is None:
        raise ProblemsError(problems)
    return compose_together(programme.assess(**narrowing.options()), request)


CODES = "the code of templates"
"""What comes with the charts from another process."""


@dataclass(frozen=True)
class Product:
    """A report with the files that it was made from.

    Attributes
    ----------
    report : Report or ProgrammeReport
        Everything calculated.
    records, tables : mapping of str to bytes
        What the PDF carries, by name.
    narrowing : Narrowing
        What of the records it counts.
    versions : mapping of str to str or None
        Versions of the libraries that its settings name; None for those here, else those of a report that is made again.
    do : Doing
        Draws the charts, and reads templates: here, or in another process meanwhile.
    """

    report: Paged
    records: Mapping[str, bytes]
    tables: Mapping[str, bytes]
    narrowing: Narrowing
    versions: Mapping[str, str] | None = None
    do: Doing = here

    def files(self) -> dict[str, bytes]:
        """Return every file that the PDF carries, by name, the one to read first before all, the checksums last."""
        files = {
            GUIDE: guide(self.report.request.language, self.report.results.settings.version),
            **self.records,
            **self.report.pictures,
            SETTINGS: as_toml(settings_of(self.report, self.narrowing, self.versions or libraries())),
            **self.report.derived(),
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

        return page(self.report, {}, inline_fonts=True, drawn=self._drawn())

    def _drawn(self) -> Callable[[], Results]:
        """Return what waits for the charts; with them comes the code of templates that the other process has read."""
        from impact.report.html import codes, take_codes

        if self.do is here:
            return here(self.report.charts())
        waiting = self.do({**self.report.charts(), CODES: codes})

        def drawn() -> Results:
            found = dict(waiting())
            take_codes(found.pop(CODES))
            return found

        return drawn

    @cached_property
    def paper(self) -> str:
        """The page as the layout library gets it."""
        from impact.report.html import page
        from impact.report.layout.pdf import RenderError

        drawn = self._drawn()
        paper = page(self.report, sums_of(self.carried), inline_fonts=False, drawn=drawn)
        if self.report.request.template is not None and self.files() != self.carried:
            raise RenderError("the template changed what the report carries; a template may only read")
        return paper


def prepare(folder: Path, request: Request, narrowing: Narrowing, do: Doing = here) -> Product:
    """Return the report of a workshop folder, or of a folder of several, calculated and not yet laid out.

    Parameters
    ----------
    folder : Path
        A workshop folder without errors, or a folder of such folders.
    request, narrowing : Request, Narrowing
        What is asked for.
    do : Doing
        As of `Product`.

    Raises
    ------
    ProblemsError
        With every error in the records.
    NothingToSayError
        When the records cannot fill this kind of report.
    """
    inner, tables = workshops_in(folder), factor_tables()
    if inner:
        roof = Roof(folder.resolve().name, tuple(sorted(one.name for one in inner)))
        if len(inner) > MOST_WORKSHOPS:
            told = (
                f"{len(inner)} workshops; a report takes {MOST_WORKSHOPS} at most: put some into a folder of their own"
            )
            raise NothingToSayError(f"{folder}: {told}")
        narrowing = replace(narrowing, roof=roof)
        records = under_roof({one.name: records_of(one, leave_out=request.leave_out) for one in inner})
    else:
        records = records_of(folder, leave_out=request.leave_out)
    return Product(compose_from(records, tables, request, narrowing, do), records, tables, narrowing, do=do)
