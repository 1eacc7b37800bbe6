"""Whole workshop folders drawn from a seed, ordinary and extreme, and the laws that their figures keep.

All figures are invented. A folder is accepted or refused with problems; what is accepted has finite figures, a text, and
keeps every law of `LAWS`. Each law compares the folder with another telling of the same records.
"""

from __future__ import annotations

import json
import random
import re
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any
from unittest import mock

import pytest

from impact.api import read_folder
from impact.base.catalogue import Names, read_names
from impact.base.problems import Problem, ProblemsError, errors
from impact.base.units import LARGEST, LEAST, SMALLEST
from impact.cli.totals_text import as_text
from impact.factors.factorset import FactorSet, read_factors
from impact.study import Study
from tests.strategies import FATES, GRADES, TOML, Row, as_csv, put

NEAR = {"rel": 1e-6, "abs": 1e-9}
"""How far two tellings of the same records may differ; amounts are written with nine digits and more."""

POLYMERS, PROCESSES = ("PP", "PS", "PLA", "PET", "PVC", "PE-HD"), ("injection-moulding", "thermoforming", "3d-printing")
SCALED = (*GRADES, "binder mass", "water", "blending", "drying", "transport", "hours", "trim", "good parts", "rejects")
"""Columns of a batch that are amounts or counts."""

AMOUNTS = ("good parts", "water", "blending", "drying", "transport", "binder mass", "part mass", *GRADES)
"""Columns that a row confirms."""


@dataclass(frozen=True)
class Drawn:
    """A drawn folder before it is written."""

    toml: str
    parts: tuple[Row, ...]
    batches: tuple[Row, ...]
    factors: str

    def files(self) -> dict[str, bytes]:
        """Return the content of each file."""
        found = {
            "workshop.toml": self.toml.encode(),
            "parts.csv": as_csv(self.parts, ",").encode(),
            "batches.csv": as_csv(self.batches, ",").encode(),
        }
        return found | ({"factors.csv": self.factors.encode()} if self.factors else {})

    def with_batches(self, batches: Sequence[Row]) -> Drawn:
        """Return the folder with other batches."""
        return replace(self, batches=tuple(batches))


@cache
def shipped() -> FactorSet:
    """Return the shipped factors."""
    return read_factors()


@cache
def names() -> Names:
    """Return the catalogue."""
    return read_names()


@contextmanager
def read_once() -> Iterator[None]:
    """Let folders be read without reading the shipped tables again."""
    with (
        mock.patch("impact.api.read_factors", return_value=shipped()),
        mock.patch("impact.api.read_names", return_value=names()),
    ):
        yield


class Draw:
    """Draws the cells of one folder; `wild` is how often an amount is extreme."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(f"folder {seed}")
        self.wild = self.random.choice((0.0, 0.0, 0.05, 0.2, 0.5))

    def folder(self) -> Drawn:
        """Return a folder."""
        one = self.random
        parts = tuple(self.part(name) for name in one.choice((("pot",), ("pot", "tray, round"), ("a", "b", "紙"))))
        rows = tuple(self.batch(number, parts) for number in range(1, one.randint(1, 6) + 1))
        return Drawn(self.toml(), parts, rows, self.factors())

    def amount(self, low: float, high: float, dimension: str, unit: str = "") -> str:
        """Return an amount, at times the least or the most that is accepted, or a size between."""
        one = self.random
        value = one.uniform(low, high)
        if one.random() < self.wild:
            least = LEAST.get(dimension, SMALLEST)
            value = one.choice((least, LARGEST / 1e3, 10 ** one.uniform(-6, 9), low * 1e-3, high * 1e3))
            return f"{max(value, least):.9g}{unit}"
        return f"{value:.9f}{unit}"

    def share(self) -> str:
        """Return a share, at times at an end."""
        one = self.random
        if one.random() < self.wild:
            return one.choice(("1e-12", "1e-6", "0.999999", "1"))
        return f"{one.uniform(0.05, 0.9):.4f}"

    def toml(self) -> str:
        """Return the settings."""
        one = self.random
        landfilled = one.randint(0, 100)
        burned = one.randint(0, 100 - landfilled)
        text = TOML.format(
            name=one.choice(("Bench", "Papier & Gips <3", "{{ name }}")), country=one.choice(("USA", "GBR", "DEU", "IND", "KEN", "BRA")),
            units=one.choice(("metric", "us")), gwp=one.choice(("AR5", "AR6")), landfill=one.choice(("default", "measured")),
            power=f"{float(self.amount(10, 3000, 'power')):.6f}", pressings=one.choice((1, 60, 500, 10**9)),
            dryer=one.choice(("fan", "room-air", "dehumidifier", "convection-oven")), landfilled=landfilled / 100,
            burned=burned / 100, recycled=(100 - landfilled - burned) / 100,
        )  # fmt: skip
        more = [f'horizon = "{self.amount(20, 200, "life", " years")}"'] if one.random() < 0.3 else []
        more += [f"gas_collection = {self.share()}"] if one.random() < 0.3 else []
        more += [f"part_moisture = {one.choice((0.0, 0.06, 0.3))}"] if one.random() < 0.3 else []
        more += ['landfill_site = "managed"'] if one.random() < 0.3 else []
        more += ['landfill_climate = "temperate-dry"'] if one.random() < 0.3 else []
        more += [f'electricity = "{place}"' for place in ("US-CAMX",) if '"USA"' in text and one.random() < 0.5]
        confirmed = '"moulds.shell.mass", "equipment.blender.power", "moulds.shell.printing", '
        confirmed += ", ".join(f'"parts.{part}.mass"' for part in ("pot", "tray, round", "a", "b", "紙"))
        text = text.replace("units =", "\n".join([*more, f"confirmed = [{confirmed}]", "units ="]), 1)
        text = text.replace('mass = "300 g"', f'mass = "{self.amount(0.1, 2.0, "mass", " kg")}"')
        text = text.replace("[drying]", f"retired = {one.choice(('true', 'false'))}\n\n[drying]", 1)
        if one.random() < 0.3:
            text += f"\n[end_of_life]\n{one.choice(FATES[1:])} = 1.0\n"
        if one.random() < 0.3:
            text += f'\n[fines]\nto = "{one.choice(("next pulp", "sewer", *FATES[1:3]))}"\n'
        if one.random() < 0.3:
            text += (
                f'\n[binders.rice-paste]\nsolids = {self.share()}\nprice = "{self.amount(0.1, 9.0, "money")} per kg"\n'
            )
        if one.random() < 0.3:
            text = text.replace("[drying]\n", f"[drying]\nheated_room = true\npressed_solids = {self.share()}\n")
        return text

    def part(self, name: str) -> Row:
        """Return a row of parts.csv."""
        one = self.random
        rule = one.choice(("measured", "same-volume", "equal-stiffness"))
        return {
            "part": name,
            "mould": "shell",
            "mass": self.amount(0.02, 0.09, "mass", " kg"),
            "volume": self.amount(0.05, 0.15, "volume", " L"),
            "service life": self.amount(0.3, 3.0, "life", " years"),
            "wet use": one.choice(("", "no", "no", "yes")),
            "plastic polymer": one.choice(POLYMERS),
            "plastic process": one.choice(PROCESSES),
            "plastic mass": self.amount(0.005, 0.06, "mass", " kg") if rule == "measured" else "",
            "plastic service life": self.amount(0.3, 5.0, "life", " years"),
            "equivalence": rule,
            "displacement": one.choice(("", "0", "40 %", "1", "1e-9")),
        }

    def batch(self, number: int, parts: Sequence[Row]) -> Row:
        """Return a row of batches.csv, most of them closed in mass, and confirmed."""
        one = self.random
        part = one.choice(list(parts))
        mass = float(part["mass"].removesuffix(" kg"))
        good, rejects = one.randint(0, 30), one.randint(0, 4)
        paper = max(good + rejects, 1) * mass * one.uniform(1.15, 2.2)
        shares = [one.randint(0, 5) for _ in GRADES]
        shares = shares if any(shares) else [1] * len(GRADES)
        papers = {
            grade: f"{paper * share / sum(shares):.12g}" if share else one.choice(("", "0"))
            for grade, share in zip(GRADES, shares, strict=True)
        }
        binder = one.choice(("none", "none", "pva-glue", "corn-starch", "rice-paste"))

        def maybe(cell: str) -> str:
            return one.choice(("", cell, cell))

        return {
            "batch": f"{number:03}",
            "date": f"2026-{one.randint(1, 12):02}-{one.randint(1, 28):02}",
            "part": part["part"],
            **papers,
            "moisture": one.choice(("", "0", "5 %", "0.1")),
            "fate": one.choice(FATES),
            "binder": binder,
            "binder mass": "" if binder == "none" else maybe(self.amount(0.0, 0.1 * paper, "mass")),
            "water": maybe(self.amount(0.0, 20.0, "volume")),
            "blending": one.choice(("", "0", "blender 5 min", "390 W x 6 min / 2", self.amount(0.0, 0.5, "energy", " kWh"))),
            "drying": maybe(self.amount(0.0, 3.0, "energy", " kWh")),
            "good parts": str(good if good + rejects else 1),
            "rejects": str(rejects),
            "rejects to": one.choice(("", "landfill", "composting", "own rejects")),
            "trim": maybe(f"{0.05 * paper * one.random():.9f}"),
            "trim to": one.choice(("", "landfill", "recycling", "own rejects")),
            "part mass": maybe(f"{mass * one.uniform(0.9, 1.1):.12g} kg"),
            "binder solids": maybe(self.share()) if binder != "none" else "",
            "transport": maybe(self.amount(0.0, 20.0, "length")),
            "hours": maybe(self.amount(0.5, 8.0, "time")),
            "site": one.choice(("", "school", "Späti")),
            "confirmed": ", ".join(AMOUNTS),
        }  # fmt: skip

    def factors(self) -> str:
        """Return an own table, or none."""
        one = self.random
        if one.random() < 0.6:
            return ""
        rows = ["id,value,unit,source,locator,geography,low,high,distribution"]
        known = [factor for factor in shipped() if factor.key.split(".")[0] not in ("pedigree", "evidence")]
        for factor in one.sample(known, one.randint(1, 4)):
            value = factor.value * (10 ** one.uniform(-1, 1) if one.random() < 0.5 else 1.0)
            if one.random() < self.wild:
                value = one.choice((0.0, 1e-12, 1e-6, 1.0, 1e6, LARGEST))
            place = one.choice(("world", "DEU", "USA", factor.geography)) if "/" not in factor.id else factor.geography
            value = min(value, 1.0) if factor.high <= 1.0 and factor.unit == "1" else value
            spread = (
                f"{value / 2:.9g},{value * 2:.9g},lognormal"
                if 1e-11 < value < 0.5 and one.random() < 0.5
                else ",,fixed"
            )
            rows.append(f"{factor.id},{value:.9g},{factor.unit},invented,letter,{place},{spread}")
        return "\n".join(rows) + "\n"


def drawn(seed: int) -> Drawn:
    """Return the folder of a seed."""
    return Draw(seed).folder()


def assessed(folder: Drawn, **options: Any) -> Study | list[Problem]:
    """Return the results of a folder, or the problems that it is refused with."""
    with tempfile.TemporaryDirectory() as place, read_once():
        opened, problems = read_folder(put(Path(place), folder.files()))
        if opened is None:
            return problems
        try:
            return opened.assess(draws=2, **options)
        except ProblemsError as error:
            return list(error.problems)


def require_whole(found: Study | list[Problem]) -> None:
    """Require that a folder was refused with errors in lines of their own, or has finite figures and a text."""
    if isinstance(found, list):
        assert errors(found)
        assert all(str(problem).isprintable() for problem in found)
        assert all(problem.code != "not-finite" for problem in found), found
        return
    json.dumps(found.as_totals(), allow_nan=False)
    text = as_text(found, everything=True)
    assert not re.search(r"\b(nan|inf)\b", text), text


def additive(found: Study) -> dict[str, float]:
    """Return figures that add up over batches, with those of their draws."""
    paper, figures = found.paper, {}
    for name, one in (
        ("collected", paper.collected_kg), ("made", found.made), ("displaced", found.displaced_plastic),
        ("lost recycling", found.disposal.lost_recycling),
    ):  # fmt: skip
        figures |= {f"{name} {end}": getattr(one, end) for end in ("value",)}
    return figures | {"dry fibre": paper.dry_fibre_kg, "good": sum(part.good for part in found.parts)}


def figures(found: Study) -> dict[str, float]:
    """Return the main figures, those of each part among them."""
    main = {"net": found.net.value, "avoided": found.disposal.avoided.value, "deferred": found.paper.deferred_kg.value}
    for part in found.parts:
        main |= {f"{part.part} footprint": part.footprint.value if part.footprint else -1.0}
    return main | {name: value for name, value in additive(found).items() if name != "good"}


def near(one: dict[str, float], other: dict[str, float], times: float = 1.0) -> None:
    """Require that figures agree, those that are no figure of a part up to a factor."""
    scale = max(abs(value) for value in one.values())
    for name, value in one.items():
        expected = value if name.endswith(" footprint") else value * times
        assert other[name] == pytest.approx(expected, rel=NEAR["rel"], abs=max(NEAR["abs"], 1e-9 * scale)), name


def times(cell: str, factor: int) -> str:
    """Return a cell with its first number so many times as large; energy is a power times a time."""
    match = re.search(r"\d+(?:\.\d+)?(?:e[+-]?\d+)?", cell)
    if match is None:
        return cell
    value = float(match[0]) * factor
    return f"{cell[: match.start()]}{int(value) if match[0].isdigit() else repr(value)}{cell[match.end() :]}"


def scaled(row: Row, factor: int) -> Row:
    """Return a batch with all amounts and counts so many times as large."""
    return {name: times(cell, factor) if name in SCALED else cell for name, cell in row.items()}


def order(folder: Drawn, chance: random.Random) -> bool:
    """The order of rows changes nothing."""
    rows = list(folder.batches)
    chance.shuffle(rows)
    return same(folder, folder.with_batches(rows))


def units(folder: Drawn, chance: random.Random) -> bool:
    """Grams, kilograms and ounces say the same."""
    unit, per_kg = chance.choice((("g", 1000.0), ("oz", 1.0 / 0.028349523125), ("mg", 1e6), ("lb", 1.0 / 0.45359237)))
    rows = [
        {name: f"{float(cell) * per_kg!r} {unit}" if cell and name in (*GRADES, "binder mass") else cell for name, cell in row.items()}
        for row in folder.batches
    ]  # fmt: skip
    return same(folder, folder.with_batches(rows))


def split(folder: Drawn, chance: random.Random) -> bool:
    """A batch of twice the amounts is two batches."""
    place = chance.randrange(len(folder.batches))
    one = folder.batches[place]
    whole, twice = list(folder.batches), [*folder.batches, {**one, "batch": "again"}]
    whole[place] = scaled(one, 2)
    return same(folder.with_batches(whole), folder.with_batches(twice))


def doubled(folder: Drawn, chance: random.Random) -> bool:
    """Twice all amounts is twice the figures, and a part as it was; a retired mould weighs the same however much it made."""
    folder = replace(folder, toml=folder.toml.replace("retired = true", "retired = false"))
    return same(folder, folder.with_batches([scaled(row, 2) for row in folder.batches]), 2.0)


def another_part(folder: Drawn, chance: random.Random) -> bool:
    """A part that nobody presses changes nothing."""
    unused = {**folder.parts[0], "part": "unused", "mass": "50 g", "plastic polymer": chance.choice(POLYMERS)}
    return same(folder, replace(folder, parts=(*folder.parts, unused)))


def sites(folder: Drawn, chance: random.Random) -> bool:
    """Sites add up."""
    rows = [{**row, "site": row["site"] or "bench"} for row in folder.batches]
    return adds_up(folder.with_batches(rows), [{"site": site} for site in sorted({row["site"] for row in rows})])


def periods(folder: Drawn, chance: random.Random) -> bool:
    """Periods add up."""
    from datetime import date

    middle = chance.randint(2, 12)
    halves = ((date(2026, 1, 1), date(2026, middle - 1, 28)), (date(2026, middle, 1), date(2026, 12, 31)))
    return adds_up(folder, [{"period": half} for half in halves])


LAWS: tuple[Callable[[Drawn, random.Random], bool], ...] = (
    order, units, split, doubled, another_part, sites, periods,
)  # fmt: skip


def same(one: Drawn, other: Drawn, factor: float = 1.0) -> bool:
    """Require that two tellings give the same figures, or that one is refused; return whether the first was accepted."""
    found, again = assessed(one), assessed(other)
    require_whole(found)
    if isinstance(found, Study) and isinstance(again, Study):
        near(figures(found), figures(again), factor)
    return isinstance(found, Study)


def adds_up(folder: Drawn, ways: Sequence[dict[str, Any]]) -> bool:
    """Require that the figures of narrower runs add up to those of all, unless paper is passed on between batches.

    Return whether the folder was accepted.
    """
    found = assessed(folder)
    require_whole(found)
    passed = any("own rejects" in (row["rejects to"], row["trim to"]) for row in folder.batches)
    if not isinstance(found, Study) or passed or "retired = true" in folder.toml:  # a retired mould takes all batches
        return isinstance(found, Study)
    narrowed = [assessed(folder, **way) for way in ways]
    studies = [one for one in narrowed if isinstance(one, Study)]
    if any(isinstance(one, list) and {problem.code for problem in errors(one)} != {"no-batches"} for one in narrowed):
        return True  # a narrower run is asked about what the whole one is not
    total = {name: sum(additive(one)[name] for one in studies) for name in additive(found)}
    near(additive(found), total)
    return True


def check(seed: int) -> bool:
    """Draw a folder and hold it to one of the laws, in turn; return whether it was accepted."""
    return LAWS[seed % len(LAWS)](drawn(seed), random.Random(f"law {seed}"))
