"""The workshops whose outputs `golden.py` keeps, and the faults of records whose messages it keeps. All are invented.

`write_inputs(folder, impact)` writes them once; later comparisons read what was written then, so that a change of this
page or of the demo changes no golden file.
"""

from __future__ import annotations

import csv
import random
import re
import shutil
from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import openpyxl

ROOT = Path(__file__).resolve().parents[2]
SEED = 20261129
BATCHES = 5_000
GRADES = ("corrugated", "newsprint", "office", "boxboard", "moulded-fibre", "kraft", "magazine", "tissue", "mixed")
BINDERS = ("pva-glue", "corn-starch", "rice-paste", "wheat-paste", "potato-starch", "methyl-cellulose", "none")
ROUTES = ("landfill", "incineration", "recycling", "composting", "own rejects", "")

Impact = Callable[[Sequence[str]], None]
"""Runs one command in the folder of the inputs."""


def write_inputs(folder: Path, impact: Impact) -> None:
    """Write the folders of every workshop, and one for each fault."""
    _demo(folder / "demo")
    _readme(folder / "readme", impact)
    _large(folder / "large")
    _odd(folder / "odd")
    _example(folder / "example")
    _in_parts(folder / "large", folder / "parts")
    _programme(folder, folder / "programme")
    _broken(folder / "broken", folder / "example")


def _demo(folder: Path) -> None:
    folder.mkdir()
    for name in ("workshop.toml", "parts.csv", "batches.csv", "logo.png"):
        shutil.copyfile(ROOT / "impact" / "demo" / name, folder / name)


# -- the workshop of README.md ----------------------------------------------------------------------


def _readme_text() -> str:
    return (ROOT / "README.md").read_text(encoding="utf-8")


def _typed_cell(column: str, text: str) -> Any:
    if column == "batch":
        return text
    if column == "date":
        return datetime.fromisoformat(text)
    return float(text) if re.fullmatch(r"\d+(\.\d+)?", text) else text or None


def _readme(folder: Path, impact: Impact) -> None:
    """Follow README.md step by step, the ten batches typed into the log sheet."""
    impact(["new", folder.name, "--country", "USA", "--name", "Library Pulp Bench"])
    settings = folder / "workshop.toml"
    text = settings.read_text(encoding="utf-8").replace("# [drying]", "[drying]")
    text = text.replace('# dryer = "fan"', 'dryer = "fan"') + '\n[equipment.fan]\npower = "45 W"\n'
    settings.write_text(text, encoding="utf-8")
    table = _readme_text().split("**4. The batches.**")[1].split("\n\n")[1].splitlines()
    header, _, *rows = ([cell.strip() for cell in line.strip("|").split("|")] for line in table if line[:1] == "|")
    book = openpyxl.load_workbook(folder / "batches.xlsx")
    page = book["batches"]
    places = {str(cell.value).split(" [")[0]: cell.column for cell in page[1]}
    for number, row in enumerate(rows, 2):
        for column, cell in zip(header, row, strict=True):
            page.cell(number, places[column]).value = _typed_cell(column, cell)
    book.save(folder / "batches.xlsx")


def _example(folder: Path) -> None:
    """Write the example of a workshop folder that `impact help example` prints."""
    folder.mkdir()
    text = (ROOT / "impact" / "helptexts" / "example.txt").read_text(encoding="utf-8")
    for name, content in re.findall(r"^---- (\S+)\n(.*?)(?=^\n----|\Z)", text, re.MULTILINE | re.DOTALL):
        (folder / name).write_text(content, encoding="utf-8")


# -- a large one ------------------------------------------------------------------------------------

LARGE_TOML = """\
# Invented data.
[workshop]
name = "Invented Programme North"
invented = true
country = "GBR"
currency = "GBP"
landfill_climate = "temperate-wet"
landfill_site = "managed"
[equipment.blender]
power = "390 W"
load = 0.8
[equipment.fan]
power = "56 W"
metered = true
[equipment.shredder]
power = "160 W"
[equipment.oven]
power = "2.1 kW"
load = 0.5
[moulds.shell]
material = "PLA"
mass = "300 g"
printing = "2.2 kWh"
pressings = 400
[moulds.plate]
material = "aluminium"
mass = "1.1 kg"
pressings = 20000
[drying]
dryer = "fan"
[fates.corrugated]
landfill = 0.35
recycling = 0.65
[fates.mixed]
landfill = 0.5
incineration = 0.5
evidence = "contract of the haulier"
[binders.corn-starch]
solids = 0.14
price = "0.30 GBP per kg"
[transport]
vehicle = "van"
[targets]
diverted = "4 t"
by = 2026-06-30
"""
LARGE_PARTS = """\
part,mould,mass,volume,service life,wet use,plastic polymer,plastic process,plastic mass,plastic service life,equivalence,displacement
tray,shell,62 g,140 mL,3 years,no,PS,thermoforming,78 g,4 years,measured,0.6
cup,shell,14 g,38 mL,18 months,no,PP,injection-moulding,10 g,2 years,measured,
divider,plate,40 g,60 mL,3 years,no,PP,injection-moulding,,3 years,equal-stiffness,0.35
corner,plate,25 g,70 mL,6 months,no,PE-LD,injection-moulding,27 g,6 months,measured,0.9
box,plate,120 g,300 mL,2 years,no,PET,thermoforming,,5 years,same-volume,0.5
stand,shell,80 g,180 mL,4 years,no,ABS,3d-printing,95 g,6 years,measured,1
"""
PART_GRAMS = {"tray": 62.0, "cup": 14.0, "divider": 40.0, "corner": 25.0, "box": 120.0, "stand": 80.0}


def _batch(dice: random.Random, part: str, binder: str) -> dict[str, str]:
    """Return the amounts of one batch whose mass balance about closes."""
    good, rejects = dice.randint(14, 40), dice.choice((0, 0, 1, 2, 4))
    grams = (good + rejects) * PART_GRAMS[part] * dice.uniform(1.04, 1.11) + 15.0
    first, second = dice.sample(GRADES, 2)
    share = dice.choice((1.0, 0.5, 0.8))
    dose = 0.0 if binder == "none" else grams * dice.uniform(0.05, 0.12)
    solids = {"pva-glue": 0.5, "none": 1.0}.get(binder, 0.14)
    energy = ("0", f"{dice.uniform(0.02, 0.3):.3f} kWh", f"blender {dice.randint(5, 20)} min", "")
    return {
        first: f"{(grams - dose) * share:.0f} g",
        second: f"{(grams - dose) * (1 - share):.0f} g" if share < 1.0 else "",
        "binder": binder,
        "binder mass": "" if binder == "none" or dice.random() < 0.1 else f"{dose / solids:.0f} g",
        "water": dice.choice(("", f"{grams / 120:.1f}")),
        "shredding": dice.choice(("0", f"shredder {dice.randint(4, 15)} min", "")),
        "binder preparation": "" if binder == "none" else dice.choice(("0", "0.2 kWh", "")),
        "blending": dice.choice(energy[1:]),
        "pressing": "0",
        "drying": dice.choice((f"{dice.uniform(1, 3):.2f}", "fan 20 h", "fan 30 h / 2", "fan 9 h", "")),
        "good parts": str(good),
        "rejects": str(rejects) if rejects or dice.random() < 0.7 else "",
        "rejects to": dice.choice(ROUTES),
        "trim": dice.choice(("0", f"{dice.randint(5, 30)} g", "")),
        "trim to": dice.choice(ROUTES),
        "part mass": dice.choice(("", f"{PART_GRAMS[part] * dice.uniform(0.96, 1.04):.1f} g")),
        "transport": dice.choice(("0", f"{dice.uniform(1, 12):.1f}", "3 mi", "")),
        "hours": dice.choice(("", "2.5", "90 min")),
        "people": dice.choice(("", "2", "8")),
        "cost": dice.choice(("", f"{dice.uniform(0.5, 6):.2f}")),
        "moisture": dice.choice(("", "8 %", "0.06")),
        "fate": dice.choice(("", "", "", "landfill", "recycling")),
    }


COLUMNS = (
    "batch", "date", "part", "site", *GRADES, "own rejects", "moisture", "fate", "binder", "binder mass", "water",
    "shredding", "binder preparation", "blending", "pressing", "drying", "good parts", "rejects", "rejects to", "trim",
    "trim to", "part mass", "transport", "hours", "people", "cost", "notes",
)  # fmt: skip


def _large(folder: Path) -> None:
    folder.mkdir()
    (folder / "workshop.toml").write_text(LARGE_TOML, encoding="utf-8")
    (folder / "parts.csv").write_text(LARGE_PARTS, encoding="utf-8")
    dice = random.Random(SEED)
    with (folder / "batches.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, COLUMNS, restval="", lineterminator="\n")
        writer.writeheader()
        for number in range(BATCHES):
            part, binder = dice.choice(tuple(PART_GRAMS)), dice.choices(BINDERS, (5, 6, 2, 2, 2, 1, 2))[0]
            day = date(2022, 1, 3) + timedelta(days=number * 1600 // BATCHES)
            named = {"batch": f"N{number:04}", "date": day.isoformat(), "part": part}
            site = dice.choice(("north", "south", "harbour", "hill"))
            writer.writerow({**_batch(dice, part, binder), **named, "site": site})


def _in_parts(large: Path, folder: Path) -> None:
    """Write the large workshop once more, its batches kept in three parts."""
    shutil.copytree(large, folder, ignore=shutil.ignore_patterns("batches.csv"))
    (folder / "batches").mkdir()
    header, *lines = (large / "batches.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    for number, start in enumerate(range(0, BATCHES, 2000)):
        text = header + "".join(lines[start : start + 2000])
        (folder / "batches" / f"{number}.csv").write_text(text, encoding="utf-8")


def _programme(inputs: Path, folder: Path) -> None:
    for name in ("demo", "readme"):
        shutil.copytree(inputs / name, folder / name)


# -- an odd one -------------------------------------------------------------------------------------

ODD_TOML = """\
# Invented data.
[workshop]
name = "Odd Bench & Söhne"
country = "USA"
electricity = "US-CAMX"
landfill_climate = "tropical-wet"
gas_collection = "45 %"
currency = "USD"
units = "us"
part_moisture = "7 %"
gwp = "AR5"
landfill_parameters = "measured"
horizon = "50 years"
audience = "school"
date = 2026-12-31
[records]
decimal = "comma"
dates = "day first"
sheet = ["2025", "2026"]
[equipment."blender 2"]
power = "0.7 kW"
load = "70 %"
[equipment.fan]
power = "45 W"
metered = true
[equipment.cabinet]
power = "900 W"
load = 0.4
[moulds.bowl]
material = "plaster"
mass = "2 lb"
pressings = 40
retired = true
[moulds.flat]
material = "aluminium"
mass = "1.4 kg"
printing = 0
pressings = 5000
[moulds.printed]
material = "PLA"
mass = "11 oz"
printing = "9 MJ"
pressings = 60
[drying]
dryer = "heated-cabinet"
heated_room = true
heating = "electricity"
pressed_solids = "38 %"
[transport]
vehicle = "van"
[materials]
inks = "none"
tape_removed = false
greaseproof = true
[fates.office]
landfill = 0.2
incineration = 0.3
recycling = 0.4
composting = 0.1
evidence = "asked the janitor"
[fates.tissue]
landfill = 1
[origin.corrugated]
post_consumer = "90 %"
evidence = "picked up from households"
[origin.office]
post_consumer = 0
[end_of_life]
landfill = 0.1
incineration = 0.2
recycling = 0.3
composting = 0.4
evidence = "postcards from ten owners"
[binders.rice-paste]
solids = 0.16
preparation = "0.35 kWh per kg"
price = "0.55 USD per kg"
[binders.wheat-paste]
solids = "15 %"
[binders.pva-glue]
price = "2.40 USD per lb"
[targets]
diverted = "20 lb"
by = 2027-06-30
[[grants]]
name = "City Fund"
start = 2025-10-01
end = 2026-03-31
share = 0.5
[[grants]]
name = "Bank"
start = 2026-01-01
end = 2026-06-30
share = 0.75
"""
ODD_PARTS = """\
part;mould;mass;volume;service life;wet use;plastic polymer;plastic process;plastic mass;plastic service life;equivalence;displacement;wall
bowl;bowl;2,5 oz;150 mL;6 months;;PE-HD;thermoforming;;2,5 years;same-volume;;3,5 mm
panel;flat;55,5 g;0,12 L;2 years;no;PVC;injection-moulding;;4 years;equal-stiffness;12,5 %;2 mm
saucer;printed;48 g;110 cm3;1 year;yes;PP;injection-moulding;30 g;5 years;measured;;
clip;printed;9 g;20 mL;1,5 years;no;PLA;3d-printing;7 g;3 years;measured;1;12 mm
"""
ODD_FACTORS = """\
id,value,unit,low,high,source,locator
fibre.modulus,0.8,GPa,0.6,1.1,our own bending test,"log book, p. 12"
binder.footprint-as-sold.pva-glue,1.1,kgCO2e/kg,,,supplier's declaration,"table 2, A1 to A3"
drying.energy.heated-cabinet,1.9,kWh/kg,1.2,3.0,plug meter of one winter,sheet 3
"""
ODD_COLUMNS = (
    "batch", "date", "part", "site", "corrugated", "newsprint [g]", "office [lb]", "tissue", "kraft", "own rejects",
    "moisture", "fate", "binder", "binder mass", "binder solids", "water [US qt]", "shredding", "binder preparation",
    "blending", "pressing", "drying", "good parts", "rejects", "rejects to", "trim [oz]", "trim to", "part mass",
    "transport [mi]", "hours", "people", "cost", "test load", "test span", "notes",
)  # fmt: skip
ODD_ROWS = """\
a1;05.10.2025;bowl;attic;1,2;150;;;;;8 %;;pva-glue;200 g;50 %;12,5;0;0;blender 2 12 min;0;0,9 kWh;18;1;landfill;1,4;landfill;;0;2,5;3;4,20;42,5;100;"wet, cold day"
a2;12.10.2025;bowl;attic;900 g;;0,8;;;;;landfill;corn-starch;0,6;0,12;;;0,22 kWh;700 W x 9 min;;cabinet 3 h / 2;16;2;incineration;0;;;;;;;38;100;
a3;19.10.2025;bowl;cellar;1,3;;;;;;;;rice-paste;500 g;;11;0,01;;blender 2 13 min;0;;17;1;recycling;2;incineration;2,4 oz;3;90 min;2;;;;
a4;26.10.2025;bowl;cellar;;;2,5;;;120 g;0,07;recycling;none;;;;0;0;;;0;15;3;composting;1,5;recycling;;0;;;;;;
a5;02.11.2025;bowl;;1,1;100;;;;;;;wheat-paste;420 g;;9;;0;0,1 kWh;0;fan 28 h;16;0;;1,1;composting;;;3;4;2,10;;;dried on the rack
a6;09.11.2025;bowl;;1;;;;0,4;;;composting;potato-starch;480 g;0,13;10;0;;0,4 MJ;0;fan 30 h / 2;17;1;own rejects;0,9;own rejects;;2,5;;;;;;edges sanded by hand
b1;11.01.2026;panel;attic;;;1,2;0,2;;;;;methyl-cellulose;350 g;;8;0;0;0,08;0;0,7 kWh;13;1;own rejects;;;54,5 g;0;2;2;1,10;120,5;150;
b2;18.01.2026;panel;attic;0,5;;1;;;;9 %;incineration;pva-glue;90 g;;;;;;;;12;2;;0,5;;;1,5;;;;;;
b3;25.01.2026;panel;attic;0;0;0;0;0;700 g;;;pva-glue;30 g;;6;0;0;blender 2 8 min;0;0;12;0;;0;;;0;0;1;0;;;own rejects alone
b4;01.02.2026;panel;cellar;;300;1,1;;;;;;corn-starch;300 g;0,14;8;;0;blender 2 9 min;0;cabinet 4 h;14;1;landfill;1;;;;;;;;;
b5;08.02.2026;panel;cellar;0,75;;;;;;;;none;0;;8;0;0;0,09;0;fan 20 h;12;1;landfill;;;;0;2,5;6;;95;150;
b6;15.02.2026;panel;cellar;0,8;;;;;;;;pva-glue;80 g;;8;0;0;0,09;0;fan 20 h;0;13;landfill;0;;;0;2,5;6;1;;;the whole batch failed
c1;01.03.2026;saucer;;0,6;;;;;;;;pva-glue;60 g;;;0;0;blender 2 6 min;0;0,5 kWh;12;0;;;;;0;;;;;;
c2;08.03.2026;saucer;;0,6;;;;;;;;pva-glue;60 g;;;0;0;blender 2 6 min;0;0,5 kWh;12;1;composting;;;;0;;;;;;
d1;12.04.2026;clip;attic;;;;0,2;;;;;rice-paste;100 g;;3;0;0;0,03;0;fan 10 h;20;2;own rejects;0;;9,1 g;0;1;2;0,40;;;
d2;12.04.2026;clip;attic;;;;0,2;;;;;rice-paste;100 g;;3;0;0;0,03;0;fan 10 h;20;2;own rejects;0;;9,1 g;0;1;2;0,40;;;the same again
d3;19.04.2026;clip;attic;;;;0,21;;;;;rice-paste;110 g;;3;0;0;0,03;0;fan 40 h;21;2;recycling;0;;;0;1;2;0,45;;;
d4;10.04.2026;clip;attic;0,19;;;;;;;;pva-glue;20 g;;3;0;0;0,03;0;;19;1;incineration;0;;;;1;2;0,90;;;
d5;26.04.2026;clip;attic;0,2;;;;;;;;pva-glue;20 g;;3;0;0;blender 2 8 h;0;fan 12 h;21;0;;0;;;0;1;2;0,85;;;
d6;03.05.2026;clip;attic;0,42;;;;;;;;pva-glue;20 g;;3;0;0;0,04;0;fan 12 h;20;1;;0;;;0;1;2;0,85;;;twice too much paper
"""


def _odd(folder: Path) -> None:
    folder.mkdir()
    (folder / "workshop.toml").write_text(ODD_TOML, encoding="utf-8")
    (folder / "parts.csv").write_text(ODD_PARTS, encoding="utf-8")
    (folder / "factors.csv").write_text(ODD_FACTORS, encoding="utf-8")
    rows = list(csv.reader(ODD_ROWS.splitlines(), delimiter=";"))
    book = openpyxl.Workbook()
    for sheet in ("2025", "2026"):
        page = book.create_sheet(sheet)
        page.append(["Log of the bench", None, sheet])
        page.append(list(ODD_COLUMNS))
        for row in rows:
            if row[1].endswith(sheet):
                page.append([_odd_cell(column, cell) for column, cell in zip(ODD_COLUMNS, row, strict=True)])
    book.remove(book.active)
    book["2026"].row_dimensions[5].hidden = True
    book.save(folder / "batches.xlsx")


def _odd_cell(column: str, text: str) -> Any:
    """Return days and whole numbers as such, numbers with a decimal comma as texts."""
    if column == "date":
        return datetime.strptime(text, "%d.%m.%Y")
    return int(text) if re.fullmatch(r"0|[1-9]\d*", text) else text or None


# -- faults -----------------------------------------------------------------------------------------

FAULTS = (
    ("workshop.toml", 'name = "Library Pulp Bench"', ""),
    ("workshop.toml", 'country = "USA"', 'country = "US"'),
    ("workshop.toml", "electricity =", "electrcity ="),
    ("workshop.toml", '"US-CAMX"', '"US-CAMP"'),
    ("workshop.toml", '"temperate-dry"', '"dry"'),
    ("workshop.toml", 'currency = "USD"', 'currency = "$"'),
    ("workshop.toml", "part_moisture = 0.06", "part_moisture = 60"),
    ("workshop.toml", "invented = true", 'invented = "yes"'),
    ("workshop.toml", 'power = "700 W"', 'power = "700 kWh"'),
    ("workshop.toml", 'mass = "310 g"', 'mass = "310 gal"'),
    ("workshop.toml", "pressings = 200", "pressings = 1.5"),
    ("workshop.toml", "recycling = 0.7", "recycling = 0.8"),
    ("workshop.toml", "[fates.corrugated]", "[fates.thermal]"),
    ("workshop.toml", 'dryer = "fan"', 'dryer = "fann"'),
    ("workshop.toml", "share = 0.5", "share = 1.5"),
    ("workshop.toml", "[materials]", "[materials"),
    ("parts.csv", ",tray,62 g", ",trays,62 g"),
    ("parts.csv", "62 g", "62 ml"),
    ("parts.csv", "2 years", "2 m"),
    ("parts.csv", ",PP,", ",PPP,"),
    ("parts.csv", "measured", "same-size"),
    ("parts.csv", "48 g", ""),
    ("parts.csv", "part,mould", "parts,mould"),
    ("batches.csv", "\n002,", "\n001,"),
    ("batches.csv", "2026-01-10", "05/01/2026"),
    ("batches.csv", "2026-01-10", "2026-02-30"),
    ("batches.csv", "2026-01-10,pencil-tray", "2026-01-10,pencil-try"),
    ("batches.csv", ",1.5,", ',"1,234",'),
    ("batches.csv", ",1.5,", ",-1.5,"),
    ("batches.csv", ",1.5,", ",,"),
    ("batches.csv", "8 %", "8"),
    ("batches.csv", "pva-glue", "pva"),
    ("batches.csv", "50 %", "150 %"),
    ("batches.csv", "blender 12 min", "blander 12 min"),
    ("batches.csv", "blender 12 min", "blender 12"),
    ("batches.csv", "fan 30 h / 2", "fan 30 h / 0"),
    ("batches.csv", ",22,1,", ",22.5,1,"),
    ("batches.csv", ",22,1,own rejects", ",22,1,bin"),
    ("batches.csv", "none,,,,", "none,0.2,,,"),
    ("batches.csv", "newsprint [g]", "newsprint [kWh]"),
    ("batches.csv", "trim to", "trims to"),
    ("batches.csv", "good parts", "parts"),
    ("batches.csv", "newsprint [g]", "thermal [g]"),
    ("batches.csv", ",22,1,own rejects", ",2,1,own rejects"),
    ("factors.csv", "fibre.modulus", "fibre.modulos"),
    ("factors.csv", "0.8,GPa", "0.8,kg"),
    ("factors.csv", "0.6,1.1", "1.6,1.1"),
)  # fmt: skip
"""What stands in a file of the example, and what replaces it."""


def _broken(folder: Path, example: Path) -> None:
    """Write a folder for each fault, for each file that is missing or empty, and one with many faults."""
    for number, (name, old, new) in enumerate(FAULTS):
        place = folder / f"fault-{number:02}"
        shutil.copytree(example, place)
        text = (place / name).read_text(encoding="utf-8")
        if old not in text:
            raise SystemExit(f"{name} of the example no longer holds {old!r}; give another fault")
        (place / name).write_text(text.replace(old, new, 1), encoding="utf-8")
    for name in ("workshop.toml", "parts.csv", "batches.csv"):
        for kind, content in (("missing", None), ("empty", b""), ("binary", b"\x89PNG\r\n\x1a\n\xff\xfe\x00")):
            place = folder / f"{kind}-{name.split('.')[0]}"
            shutil.copytree(example, place)
            (place / name).unlink()
            if content is not None:
                (place / name).write_bytes(content)
    many = folder / "many"
    shutil.copytree(example, many)
    header, *rows = (example / "batches.csv").read_text(encoding="utf-8").splitlines()
    copies = [re.sub(r"^\d+", f"{number:03}", rows[number % 3]) for number in range(40)]
    text = "\n".join([header, *copies]).replace("blender", "blander").replace("pva-glue", "glue")
    (many / "batches.csv").write_text(text + "\n", encoding="utf-8")
    both = folder / "two-logs"
    shutil.copytree(example, both)
    (both / "batches.xlsx").write_bytes(b"no workbook")
    (folder / "nothing").mkdir()
