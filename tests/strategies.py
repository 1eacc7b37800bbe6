"""Whole workshop folders for tests, valid ones and broken ones. All their figures are invented."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from hypothesis import strategies as st

Row = dict[str, str]

GRADES = ("corrugated", "newsprint", "office", "moulded-fibre", "kraft")
FATES = ("", "landfill", "incineration", "recycling", "composting")
TOML = """\
[workshop]
name = "{name}"
country = "{country}"
units = "{units}"
gwp = "{gwp}"
landfill_parameters = "{landfill}"

[equipment.blender]
power = "{power} W"

[moulds.shell]
material = "PLA"
mass = "300 g"
printing = "2.5 kWh"
pressings = {pressings}

[drying]
dryer = "{dryer}"

[fates.corrugated]
landfill = {landfilled}
incineration = {burned}
recycling = {recycled}
evidence = "looked into"
"""


@dataclass(frozen=True)
class FolderText:
    """The three files of a folder before they are written; `separator` and `mark` are those of the batches."""

    toml: str
    parts: tuple[Row, ...]
    batches: tuple[Row, ...]
    separator: str = ","

    def files(self) -> dict[str, bytes]:
        """Return the content of each file."""
        return {
            "workshop.toml": self.toml.encode(),
            "parts.csv": as_csv(self.parts, ",").encode(),
            "batches.csv": as_csv(self.batches, self.separator).encode(),
        }

    def with_batches(self, batches: Sequence[Row]) -> FolderText:
        """Return the folder with other batches."""
        return replace(self, batches=tuple(batches))


def as_csv(rows: Sequence[Row], separator: str) -> str:
    """Return rows under the columns of the first; a cell with a separator, quote or line end is quoted."""
    lines = [list(rows[0]), *(list(row.values()) for row in rows)]
    return "".join(separator.join(_quoted(cell, separator) for cell in line) + "\n" for line in lines)


def _quoted(cell: str, separator: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if set(cell) & {separator, '"', "\n", "\r"} else cell


def put(folder: Path, files: dict[str, bytes]) -> Path:
    """Write files into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in files.items():
        (folder / name).write_bytes(content)
    return folder


def _maybe(cells: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    return st.one_of(st.just(""), cells)


def _number(low: float, high: float, unit: str = "") -> st.SearchStrategy[str]:
    return st.floats(low, high).map(lambda value: f"{value:.4f}{unit}")


_prose = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc", "Cf", "Zl", "Zp")), max_size=12)


@st.composite
def toml_texts(draw: st.DrawFn) -> str:
    """Draw a valid ``workshop.toml``."""
    landfilled = draw(st.integers(0, 100))
    burned = draw(st.integers(0, 100 - landfilled))
    return TOML.format(
        name=draw(st.sampled_from(["Bench", "Papier & Gips <3", "紙の工房", "{{ name }}"])),
        country=draw(st.sampled_from(["USA", "GBR", "DEU", "IND", "KEN"])),
        units=draw(st.sampled_from(["metric", "us"])),
        gwp=draw(st.sampled_from(["AR5", "AR6"])),
        landfill=draw(st.sampled_from(["default", "measured"])),
        power=draw(st.integers(1, 3000)),
        pressings=draw(st.integers(1, 500)),
        dryer=draw(st.sampled_from(["fan", "room-air", "dehumidifier"])),
        landfilled=landfilled / 100,
        burned=burned / 100,
        recycled=(100 - landfilled - burned) / 100,
    )


@st.composite
def part_rows(draw: st.DrawFn, name: str) -> Row:
    """Draw a valid row of ``parts.csv``."""
    equivalence = draw(st.sampled_from(["measured", "same-volume", "equal-stiffness"]))
    return {
        "part": name,
        "mould": "shell",
        "mass": f"{draw(st.integers(20, 90))} g",
        "volume": draw(_number(0.05, 0.15, " L")),
        "service life": draw(st.sampled_from(["1 year", "6 months", "2 years"])),
        "wet use": draw(st.sampled_from(["", "no", "yes"])),
        "plastic polymer": draw(st.sampled_from(["PP", "PS", "PLA", "PET"])),
        "plastic process": draw(st.sampled_from(["injection-moulding", "thermoforming"])),
        "plastic mass": f"{draw(st.integers(5, 60))} g" if equivalence == "measured" else "",
        "plastic service life": draw(st.sampled_from(["1 year", "3 years"])),
        "equivalence": equivalence,
        "displacement": draw(st.sampled_from(["", "0", "40 %", "1"])),
    }


@st.composite
def batch_rows(draw: st.DrawFn, number: int, parts: Sequence[Row]) -> Row:
    """Draw a valid row of ``batches.csv`` whose parts hold between a third and nine tenths of its paper; its amounts are confirmed."""
    part = draw(st.sampled_from(list(parts)))
    mass_kg = float(part["mass"].removesuffix(" g")) / 1000
    good, rejects = draw(st.integers(0, 30)), draw(st.integers(0, 4))
    out_kg = max(good + rejects, 1) * mass_kg
    good = good if good + rejects else 1
    paper_kg = out_kg * draw(st.floats(1.15, 3.0))
    shares = draw(st.lists(st.integers(0, 5), min_size=len(GRADES), max_size=len(GRADES)).filter(any))
    papers = {
        grade: f"{paper_kg * share / sum(shares):.6f}" if share else draw(st.sampled_from(["", "0"]))
        for grade, share in zip(GRADES, shares, strict=True)
    }
    binder = draw(st.sampled_from(["none", "pva-glue", "corn-starch", "rice-paste"]))
    return {
        "batch": f"{number:03}",
        "date": f"2026-{draw(st.integers(1, 12)):02}-{draw(st.integers(1, 28)):02}",
        "part": part["part"],
        **papers,
        "moisture": draw(_maybe(st.sampled_from(["0", "5 %", "0.1"]))),
        "fate": draw(st.sampled_from(FATES)),
        "binder": binder,
        "binder mass": "" if binder == "none" else draw(_maybe(_number(0.0, 0.1 * paper_kg))),
        "water": draw(_maybe(_number(0.0, 20.0))),
        "blending": draw(_maybe(st.sampled_from(["0", "blender 5 min", "390 W x 6 min / 2", "0.2 MJ"]))),
        "drying": draw(_maybe(_number(0.0, 3.0, " kWh"))),
        "good parts": str(good),
        "rejects": str(rejects),
        "rejects to": draw(st.sampled_from(["", "landfill", "composting", "own rejects"])),
        "transport": draw(_maybe(_number(0.0, 20.0))),
        "site": draw(st.sampled_from(["", "school", "Späti"])),
        "notes": draw(_prose),
        "confirmed": ", ".join(("good parts", "water", "blending", "drying", "transport", *GRADES)),
    }


@st.composite
def valid_folders(draw: st.DrawFn) -> FolderText:
    """Draw a folder that must pass."""
    names = draw(st.sampled_from([("pot",), ("pot", "tray, round"), ('12" <b>lid</b>', "紙", "=SUM(A1)")]))
    parts = [draw(part_rows(name)) for name in names]
    rows = [draw(batch_rows(number, parts)) for number in range(1, draw(st.integers(1, 6)) + 1)]
    return FolderText(draw(toml_texts()), tuple(parts), tuple(rows), draw(st.sampled_from([",", ";", "\t"])))


JUNK = (
    b"", b"-1", b"0", b"nan", b"inf", b"1e308", b"1e-320", b"1,5", b"1.234,5", b'"', b"'", b"\x00", b"\xff", b"\r", b"\n", b",,",
    b"]", b"[", b"= 1", b"[workshop]", b"9999-12-31", b"0000-00-00", b"1 kg", b"5 furlongs", b"100 %", b"=cmd|' /C'!A0",
    "９".encode(), "−1".encode(), "\u202e".encode(), b"x" * 3000, b"700 W x 12 min / 0", b"700 W x 1e300 h",
)  # fmt: skip
"""What slips, programs and hostile hands leave in files."""


@st.composite
def broken_files(draw: st.DrawFn) -> dict[str, bytes]:
    """Draw the files of a folder with up to three faults, each at the level of bytes, cells, lines or files."""
    files = draw(valid_folders()).files()
    for _ in range(draw(st.integers(1, 3))):
        name = draw(st.sampled_from(sorted(files)))
        change = draw(st.sampled_from([_bytes, _cell, _line, _whole]))
        files[name] = draw(change(files[name]))
    return files


@st.composite
def _bytes(draw: st.DrawFn, content: bytes) -> bytes:
    start = draw(st.integers(0, len(content)))
    junk = draw(st.one_of(st.binary(max_size=6), st.sampled_from(JUNK)))
    return content[:start] + junk + content[start + draw(st.integers(0, 30)) :]


@st.composite
def _cell(draw: st.DrawFn, content: bytes) -> bytes:
    """Replace a cell, a key or a value."""
    mark = max(b",;\t=", key=content.count)
    cells = content.split(bytes([mark]))
    cells[draw(st.integers(0, len(cells) - 1))] = draw(st.sampled_from([*JUNK, *cells]))
    return bytes([mark]).join(cells)


@st.composite
def _line(draw: st.DrawFn, content: bytes) -> bytes:
    """Drop, double, move or cut a line."""
    lines = content.split(b"\n")
    line = lines.pop(draw(st.integers(0, len(lines) - 1)))
    kept = draw(st.sampled_from([[], [line, line], [line[: len(line) // 2]], [line]]))
    place = draw(st.integers(0, len(lines)))
    return b"\n".join([*lines[:place], *kept, *lines[place:]])


@st.composite
def _whole(draw: st.DrawFn, content: bytes) -> bytes:
    return draw(
        st.sampled_from(
            [b"", b"\n", content[: len(content) // 2], content + content, b"\xef\xbb\xbf" + content, content[::-1],
             content.replace(b"\n", b"\r\n"), content.replace(b"\n", b"\r"), content.decode(errors="replace").encode("utf-16"),
             content.replace(b",", b";"), content.upper(), b"PK\x03\x04" + content, b"PAR1" + content + b"PAR1"]
        )
    )  # fmt: skip
