"""Workshop folders at the edges of what a report has to hold, each small and quick. All names and records are invented.

`EDGES` says what stands in each folder and `WRITERS` what writes it; `pages` and `report` give the reports of one, made
once in a run.
"""

from __future__ import annotations

import csv
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cache, partial
from io import StringIO
from pathlib import Path

from impact.api import load
from impact.report.context import compose
from impact.report.html import page
from impact.report.kinds import KINDS
from impact.report.production import Narrowing, Product, prepare
from impact.report.request import NothingToSayError, Request
from impact.study import Study
from tests.shared import shared

FEW = Narrowing(draws=100)

OF_PLASTIC = ("plastic polymer", "plastic process", "plastic mass", "plastic service life", "equivalence")
"""Columns of parts.csv that are blank where a part stands in for none."""

PART = {
    "part": "caddy", "mould": "press", "mass": "40 g", "volume": "90 mL", "service life": "1 year", "wet use": "no",
    "plastic polymer": "PP", "plastic process": "injection-moulding", "plastic mass": "20 g",
    "plastic service life": "3 years", "equivalence": "measured", "displacement": "0.5",
}  # fmt: skip
"""A part as its row has it."""

BATCH = {
    "date": "2026-01-05", "part": "caddy", "corrugated": "1.2 kg", "newsprint": "300 g", "binder": "pva-glue",
    "binder mass": "0.2 kg", "water": "12 L", "shredding": "0 kWh", "blending": "0.1 kWh", "pressing": "0 kWh",
    "drying": "0.5 kWh", "good parts": "36", "rejects": "2", "rejects to": "landfill", "trim": "20 g",
    "transport": "5 km", "hours": "3 h", "people": "4",
}  # fmt: skip
"""A batch as its row has it; the name of the batch comes from its place."""

BARE = {"date": "2026-01-05", "part": "caddy", "corrugated": "1.2 kg", "newsprint": "300 g", "binder": "none", "good parts": "36"}  # fmt: skip
"""A batch of which nothing but paper and parts is on record."""


@dataclass(frozen=True)
class Records:
    """What stands in a folder: settings of the workshop, more of ``workshop.toml``, parts and batches."""

    name: str = "Bench of the edge"
    country: str = "USA"
    settings: str = ""
    more: str = ""
    parts: Sequence[Mapping[str, str]] = (PART,)
    batches: Sequence[Mapping[str, str]] = field(default_factory=lambda: batches(3))


def batches(count: int, **changes: str) -> list[dict[str, str]]:
    """Return batches, one a week, with other cells than those of `BATCH`."""
    named = {name.replace("_", " "): cell for name, cell in changes.items()}
    first = date(2026, 1, 5)
    return [{**BATCH, **named, "date": (first + timedelta(days=7 * week)).isoformat()} for week in range(count)]


def part(name: str = "caddy", **changes: str) -> dict[str, str]:
    """Return a part with other cells than those of `PART`."""
    return {**PART, "part": name, **{column.replace("_", " "): cell for column, cell in changes.items()}}


def without_plastic(name: str = "caddy") -> dict[str, str]:
    """Return a part that stands in for no plastic one: its columns are not there."""
    return {column: cell for column, cell in part(name).items() if column not in (*OF_PLASTIC, "displacement")}


def write(records: Records, folder: Path) -> Path:
    """Write the records into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    moulds = "".join(
        f'[moulds.{mould}]\nmaterial = "PLA"\nmass = "310 g"\npressings = 60000\n\n'
        for mould in dict.fromkeys(row["mould"] for row in records.parts)
    )
    toml = (
        f'[workshop]\nname = "{records.name}"\ncountry = "{records.country}"\ninvented = true\ndate = 2100-01-01\n'
        f"{records.settings}\n{moulds}{records.more}"
    )
    (folder / "workshop.toml").write_text(toml, encoding="utf-8")
    numbered = [{"batch": f"{place:04}", **row} for place, row in enumerate(records.batches, 1)]
    for name, rows in (("parts.csv", records.parts), ("batches.csv", numbered)):
        (folder / name).write_text(_table(rows), encoding="utf-8")
    return folder


def _table(rows: Iterable[Mapping[str, str]]) -> str:
    rows = list(rows)
    stream = StringIO()
    columns = list(dict.fromkeys(column for row in rows for column in row))
    writer = csv.DictWriter(stream, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return stream.getvalue()


def _of_parts(parts: Sequence[Mapping[str, str]], each: int = 1) -> list[dict[str, str]]:
    """Return batches of each part, one after the other."""
    made = batches(each * len(parts))
    return [{**row, "part": parts[place % len(parts)]["part"]} for place, row in enumerate(made)]


LONG = [part(f"holder for the small things of bench number {place} by the window") for place in range(7)]
"""Parts with names of 60 letters and more."""

MANY = [part(f"shape-{place:02}", plastic_polymer=("PP", "ABS", "PLA")[place % 3]) for place in range(40)]

SCRIPTS = {
    "greek": ("Χάρτινο εργαστήριο", "θήκη μολυβιών", "Αθήνα"),
    "cyrillic": ("Бумажная мастерская", "подставка", "Київ"),
    "japanese": ("紙の工房", "鉛筆立て", "京都"),
    "arabic": ("ورشة الورق", "علبة أقلام", "القاهرة"),
    "emoji": ("Paper 🎁 Bench", "caddy 🌱", "attic 🏠"),
}
"""Names of workshop, part and site by script."""


def _in_script(script: str) -> Records:
    name, item, site = SCRIPTS[script]
    grant = f'[[grants]]\nname = "{name}"\nshare = 0.5\nstart = 2026-01-01\nend = 2026-12-31\n'
    return Records(name=name, more=grant, parts=[part(item)], batches=batches(6, part=item, site=site))


GRANTS = """[[grants]]
name = "Spring fund"
share = 0.4
start = 2026-01-01
end = 2026-12-31

[[grants]]
name = "Autumn fund"
share = 0.25
start = 2026-01-01
end = 2026-12-31
"""

COUNTRIES = ("USA", "GBR", "DEU", "ESP", "JPN", "IND", "BRA")
"""Places whose decimal marks, units and sizes of paper differ."""

EDGES: Mapping[str, Records] = {
    "one-batch": Records(batches=batches(1)),
    "one-part": Records(batches=batches(1, good_parts="1", rejects="0", corrugated="0.05 kg", newsprint="", binder_mass="2 g", trim="0")),
    "long-names": Records(parts=LONG, batches=_of_parts(LONG)),
    "forty-parts": Records(parts=MANY, batches=_of_parts(MANY)),
    "many-batches": Records(batches=[{**row, "date": f"{2000 + place // 96}-{place // 8 % 12 + 1:02}-05"} for place, row in enumerate(batches(2000))]),
    "nothing-recorded": Records(batches=[{**BARE, "date": f"2026-01-{day:02}"} for day in range(5, 11)]),
    "no-plastic": Records(parts=[without_plastic()], batches=batches(6)),
    "some-without-plastic": Records(parts=[part(), without_plastic("marker")], batches=_of_parts([PART, without_plastic("marker")], 5)),
    "all-worse": Records(parts=[part(plastic_mass="2 g", plastic_service_life="9 years"), part("tub", plastic_mass="2 g")], batches=_of_parts([PART, part("tub")], 5)),
    "all-better": Records(parts=[part(plastic_mass="400 g", service_life="9 years", plastic_service_life="2 years")], batches=batches(6)),
    "no-good-part": Records(batches=batches(6, good_parts="0", rejects="30")),
    "some-no-good-part": Records(parts=[part(), part("tub"), part("lid")], batches=[*batches(5), *batches(2, part="tub", good_parts="0", rejects="20")]),
    "less-than-nothing": Records(
        more='[fates.corrugated]\nlandfill = 0.02\nrecycling = 0.98\nevidence = "bins"\n\n[fates.newsprint]\nlandfill = 0.02\nrecycling = 0.98\nevidence = "bins"\n',
        batches=batches(6, good_parts="8", rejects="20", confirmed="rejects"),
    ),
    "very-large": Records(batches=batches(6, corrugated="12000 kg", newsprint="3000 kg", binder_mass="2000 kg", water="120000 L", blending="1000 kWh", drying="5000 kWh", good_parts="360000", rejects="20000", trim="200 kg", people="40", confirmed="water; corrugated; newsprint; good parts; blending; drying")),
    "very-small": Records(settings='confirmed = ["parts.caddy.mass", "moulds.press.mass"]\n', parts=[part(mass="0.1 g", volume="0.25 mL", plastic_mass="0.05 g")], batches=batches(6, corrugated="0.5 g", newsprint="", binder_mass="0.05 g", water="0.01 L", blending="0.001 kWh", drying="0.001 kWh", good_parts="5", rejects="0", confirmed="corrugated; binder mass; water; blending; drying", trim="0 g", transport="0")),
    "two-grants": Records(more=GRANTS, batches=batches(6)),
    **{script: _in_script(script) for script in SCRIPTS},
    **{f"in-{country}": Records(country=country, settings='units = "us"\n' if country == "USA" else "", batches=batches(6)) for country in COUNTRIES},
}  # fmt: skip
"""What stands in each folder."""

NARROWED: Mapping[str, Narrowing] = {"two-grants": Narrowing(draws=FEW.draws, grant="Spring fund")}
"""What of the records is counted, where it is not all."""


def made(edge: str, reader: str = "funder") -> Product:
    """Return a report of an edge with what it carries, calculated and not laid out."""
    with tempfile.TemporaryDirectory() as place:
        return prepare(write(EDGES[edge], Path(place)), _request(edge, reader), NARROWED.get(edge, FEW))


def _request(edge: str, reader: str) -> Request:
    return Request(reader, part=None if reader == "funder" else EDGES[edge].parts[0]["part"])


def pages(edge: str) -> Mapping[str, str]:
    """Return the pages of an edge as the layout library gets them, by kind, or what is said where its records fill none."""
    return _Pages(edge)


@dataclass(frozen=True)
class _Pages(Mapping[str, str]):
    """The pages of an edge, each made when it is asked for."""

    edge: str

    def __getitem__(self, reader: str) -> str:
        return shared(f"edge-{self.edge}-{reader}-page", lambda: self._made(reader))

    def __iter__(self) -> Iterator[str]:
        return iter(KINDS)

    def __len__(self) -> int:
        return len(KINDS)

    def _made(self, reader: str) -> str:
        try:
            return page_of(self.edge, reader)
        except NothingToSayError as error:
            return str(error)


def page_of(edge: str, reader: str) -> str:
    """Return the page of an edge and a kind as the layout library gets it, made anew from the same results."""
    return page(compose(_results(edge), _request(edge, reader)), {}, inline_fonts=False)


@cache
def _results(edge: str) -> Study:
    with tempfile.TemporaryDirectory() as place:
        return load(write(EDGES[edge], Path(place))).assess(**NARROWED.get(edge, FEW).options())


def report(edge: str, reader: str = "funder") -> bytes:
    """Return the one PDF of an edge and a kind, as `tests.reports.report`."""
    return shared(f"edge-{edge}-{reader}", lambda: made(edge, reader).content(".pdf"))


WRITERS: Mapping[str, Callable[[Path], Path]] = {edge: partial(write, records) for edge, records in EDGES.items()}
"""What writes each folder, as `tests.reports.FOLDERS`."""
