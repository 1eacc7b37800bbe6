"""A small valid workshop folder for tests, and ways to break it. All its figures are invented."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from impact.base.catalogue import Names
from impact.base.problems import Problem
from impact.records.batches import read_batch_table
from impact.records.workshop import Workshop
from impact.records.workshop_file import read_workshop

NAMES = Names(
    grades={"corrugated": "Corrugated", "newsprint": "Newsprint", "office": "Office", "moulded-fibre": "Moulded fibre"},
    excluded_grades={"thermal": "its coating holds bisphenols", "laminated": "its plastic film does not pulp"},
    binders={"pva-glue": "PVA glue", "rice-paste": "Rice paste", "none": "No binder"},
    polymers={"PP": "Polypropylene", "PLA": "Polylactide"},
    processes={"injection-moulding": "Injection moulding", "thermoforming": "Thermoforming"},
    mould_materials={"aluminium": "Aluminium"},
    dryers={"fan": "Fan at room temperature", "oven": "Oven"},
    countries={"USA": "United States", "GBR": "United Kingdom"},
    regions={"US-CAMX": "California"},
    climates={"temperate-dry": "Temperate, dry", "temperate-wet": "Temperate, wet"},
    landfill_sites={"managed": "Managed site"},
    vehicles={"car": "Car", "van": "Van"},
    fates={"landfill": "", "incineration": "", "recycling": "", "composting": ""},
    region_countries={"US-CAMX": "USA"},
)

TOML = """\
[workshop]
name = "Paper Bench"
country = "USA"
electricity = "US-CAMX"
landfill_climate = "temperate-dry"
landfill_site = "managed"
gas_collection = "60 %"
currency = "USD"
units = "metric"
part_moisture = 0.06
gwp = "AR6"
landfill_parameters = "default"
horizon = "100 years"
invented = true
date = 2026-04-01

[equipment.blender]
power = "700 W"
load = 0.7

[equipment.fan]
power = "45 W"
metered = true

[moulds.pot]
material = "PLA"
mass = "310 g"
printing = "2.6 kWh"
pressings = 60
retired = false

[fates.corrugated]
landfill = 0.3
recycling = 0.7
evidence = "bin audit, two weeks"

[end_of_life]
composting = 0.5
landfill = 0.5

[drying]
dryer = "fan"
heated_room = true
heating = "gas"
pressed_solids = "35 %"

[transport]
vehicle = "car"

[binders.rice-paste]
solids = 0.16
preparation = "0.35 kWh per kg"
price = "1.10 per kg"

[editions]
GBR = "2025"

[targets]
diverted = "500 kg"
by = 2027-06-30
"""

PARTS = """\
part,mould,mass,volume,service life,wet use,plastic polymer,plastic process,plastic mass,plastic service life,equivalence,displacement
pot,pot,38 g,0.09 L,1 year,no,PP,injection-moulding,20 g,3 years,measured,0.8
tray,pot,55 g,120 cm3,6 months,,PP,thermoforming,,2 years,same-volume,
"""

BATCHES = """\
batch,date,part,corrugated,newsprint [g],own rejects,moisture,fate,binder,binder mass,binder solids,water,shredding,\
binder preparation,blending,pressing,drying,good parts,rejects,rejects to,trim,trim to,part mass,transport,hours,people,\
cost,site,notes
001,2026-01-05,pot,1.2,300,,8 %,,pva-glue,0.2,50 %,12,0.01,,blender 12 min,0,0.5 kWh,30,2,landfill,40 g,own rejects,,5,3,4,\
2.50,school,"wet, cold day"
002,2026-01-12,tray,900 g,,0.1,,landfill,none,,,9,,,700 W x 12 min / 2,,fan 8 h / 2,15,0,,,,54 g,,2.5,3,,,
"""

OWN_BINDERS = """
[binders.fish-glue]
name = "glue of the harbour"
what = "natural"
solids = 0.3
preparation = "0.05 kWh/kg"
footprint = "1.9 kgCO2e/kg"
footprint_low = "1.2 kgCO2e/kg"
footprint_high = "3 kg CO2e per kg"
source = "declaration of the maker, invented"
carbon = 0.48
nitrogen = "15 %"
allergens = "fish"
price = "4 per kg"

[binders.casein]
like = "gelatin"
allergens = "milk"

[binders.lime]
what = "mineral"
solids = 0.5
footprint = "80 gCO2e/kg"
source = "invented"
"""
"""Three binders of a workshop's own, of which the first is used in the batches below."""

CLOSED = BATCHES.replace("0.5 kWh,30,2", "0.5 kWh,36,2")
"""The batches above with masses that add up."""

OWN_BATCHES = CLOSED.replace("pva-glue,0.2,50 %", "fish-glue,0.2,")

FILES = {"workshop.toml": TOML, "parts.csv": PARTS, "batches.csv": BATCHES}


def write_folder(folder: Path, **changes: str | bytes | None) -> Path:
    """Write the valid folder; `changes` replaces a file's content, or leaves it out where None.

    A file is named by what stands before its dot: ``write_folder(path, parts="…")``.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in FILES.items():
        change = changes.get(name.split(".")[0], content)
        if isinstance(change, bytes):
            (folder / name).write_bytes(change)
        elif change is not None:
            (folder / name).write_text(change, encoding="utf-8", newline="")
    return folder


def swap(text: str, old: str, new: str) -> str:
    """Return `text` with the one place that reads `old` changed to `new`."""
    assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times"
    return text.replace(old, new)


def read_valid(folder: Path) -> Workshop:
    """Return the workshop of a valid folder."""
    workshop, problems = read_workshop(folder, NAMES)
    assert problems == []
    assert workshop is not None
    return workshop


def read_batches(
    folder: Path, workshop: Workshop | None, names: Names, *, size: int | None = None
) -> tuple[pd.DataFrame, list[Problem]]:
    """Return the batches of a folder as a data frame, with every problem."""
    table, problems = read_batch_table(folder, workshop, names, size=size)
    return table.frame(), problems


def triples(problems: list[Problem]) -> list[tuple[str, int | None, str | None, str]]:
    """Return file, row, column and code of each problem."""
    return [(problem.file, problem.row, problem.column, problem.code) for problem in problems]
