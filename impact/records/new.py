"""A new workshop folder: commented settings, one example part, and a log sheet for the batches."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from string import Template

from impact.base.catalogue import Names, currency_of
from impact.base.locale import paper_size
from impact.records.workshop import Units

FOLDER = Path(__file__).resolve().parents[1] / "starter_folder"
EXAMPLE_PART = "example-tray"
EXAMPLES: Mapping[Units, Mapping[str, str]] = {
    "metric": {"mould": "300 g", "part": "60 g", "plastic": "50 g", "target": "100 kg", "paste": "kg"},
    "us": {"mould": "11 oz", "part": "2 oz", "plastic": "1.75 oz", "target": "200 lb", "paste": "lb"},
}
"""Masses of the examples in a new folder, and the unit of a binder, by the units of its log."""

FILES = ("workshop.toml", "parts.csv", "batches.xlsx")


class StarterError(Exception):
    """Raised when the folder cannot be made; the text is the one line to print."""


@dataclass(frozen=True, slots=True)
class Starter:
    """What a new folder is made from: name of the workshop, country (ISO 3166-1 alpha-3) and where that was read, units."""

    name: str
    country: str
    found_in: str
    units: Units = "metric"


def make_folder(folder: Path, settings: Starter, names: Names) -> None:
    """Make a workshop folder that lacks nothing but batches; the same settings give the same bytes.

    Raises
    ------
    StarterError
        When the folder holds something already, or cannot be written.
    """
    from impact.base.files import OutputError, write
    from impact.records.logsheet import log_sheet

    check_new(folder)
    contents = {
        "workshop.toml": settings_text(settings, names).encode(),
        "parts.csv": _filled("parts.csv", settings).encode(),
        "batches.xlsx": log_sheet(
            names, parts=[EXAMPLE_PART], units=settings.units, paper=paper_size(settings.country)
        ),
    }
    is_new, written = not folder.exists(), []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name in FILES:
            write(folder / name, contents[name])
            written.append(folder / name)
    except (OutputError, OSError) as error:
        _take_back(written, folder if is_new else None)
        if isinstance(error, OutputError):
            raise StarterError(str(error)) from None
        raise StarterError(f"{folder} cannot be written: {error.strerror or error}") from None


def _take_back(files: list[Path], folder: Path | None) -> None:
    """Remove what was written before a fault, so that the folder can be made again."""
    with contextlib.suppress(OSError):
        for file in files:
            file.unlink()
        if folder is not None:
            folder.rmdir()


def check_new(folder: Path) -> None:
    """Raise StarterError when `folder` is a file or holds anything."""
    try:
        if folder.exists() and not folder.is_dir():
            raise StarterError(f"{folder} is a file; name a new folder")
        if folder.is_dir() and any(folder.iterdir()):
            raise StarterError(f"{folder} holds files already, and nothing is overwritten; name a new folder")
    except OSError as error:
        raise StarterError(f"{folder} cannot be read: {error.strerror or error}") from None


def settings_text(settings: Starter, names: Names) -> str:
    """Return the text of ``workshop.toml``."""
    currency = currency_of(settings.country)
    return _filled(
        "workshop.toml",
        settings,
        currency=f'currency = "{currency}"' if currency else '# currency = "USD"',
        name=json.dumps(settings.name, ensure_ascii=False),
        country=settings.country,
        why=f"{names.countries[settings.country]}; from {settings.found_in}, so change it if that is wrong",
        grid=_grid(settings.country, names),
        units=settings.units,
        materials=", ".join(map(json.dumps, names.mould_materials)),
        dryers=" or ".join(", ".join(map(json.dumps, names.dryers)).rsplit(", ", 1)),
    )


def _filled(file: str, settings: Starter, **texts: str) -> str:
    """Return the text of a file of the new folder, its example masses in the units that were asked for."""
    template = Template((FOLDER / file).read_text(encoding="utf-8"))
    return template.substitute(EXAMPLES[settings.units], **texts)


def _grid(country: str, names: Names) -> str:
    """Return a note on the electricity grids of a country, with one of them as a setting that is not in use."""
    grids = [region for region, owner in names.region_countries.items() if owner == country]
    if not grids:
        return "# electricity: the grid of the country is used; the tables hold no smaller one"
    listed = "\n".join(f"#   {region}: {names.regions[region]}" for region in grids)
    note = "a grid of the country; left out, its mean. These are known:"
    return f'# electricity = "{grids[0]}"  # {note}\n{listed}'
