"""The description of the factor tables after the open Data Package standard; `python -m impact.factors.datapackage` writes it."""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping, Sequence
from pathlib import Path, PurePath
from typing import Any

from impact.base.places import factors_folder
from impact.core.sampling import DISTRIBUTIONS
from impact.factors.factorset import SHIPPED_WORDS

FILE = "datapackage.json"
Rows = Sequence[Mapping[str, str]]

TABLES = {
    "binders": "Binders: dry matter, carbon, making, preparation and default dose.",
    "catalogue": "The ids that people may write, each with its label: grades, binders, polymers, countries and the rest.",
    "claimrules": "Rules on environmental claims: what each asks of one kind of wording, by place.",
    "claims": "Figures in rules on environmental claims.",
    "climate": "Warming potentials over 100 years, by assessment report.",
    "compost": "Compost ingredients, targets, and the criteria and limits of compostability standards.",
    "disposal": "Incineration, composting and the handling of waste on its way.",
    "electricity": "Electricity by country and grid region: generation, fuel supply, network losses.",
    "energy": "Heat.",
    "equivalents": "Figures that help a lay reader.",
    "evidence": "Spread of an amount by the way in which it is known.",
    "fates": "Shares of each waste over landfill, incineration, recycling and composting, by country.",
    "landfill": "Parameters of first-order decay in landfills, and of the gas.",
    "making": "Drying, default energy and water of each step, rejects and trim.",
    "moulding": "Forming of plastics, printing of moulds, mould materials.",
    "names": "Names of the ids of the catalogue in the languages of the reports.",
    "paper": "Paper grades: moisture, carbon, degradable carbon, measured methane, making from primary and recovered fibre.",
    "pedigree": "Uncertainty factors of the pedigree scores.",
    "polymers": "Polymers: made and formed, resin, carbon, density, stiffness.",
    "safety": "Figures in safety cautions.",
    "sources": "The publications behind the rows, with their licences.",
    "transport": "Vehicles and freight.",
}
"""What each table holds; a table without an entry here is a fault that the generator reports."""

FIELDS = {
    "id": ("string", "Unique id: the key that the calculation asks for, then geography and edition where several rows share it."),
    "what": ("string", "What the number is, in words."),
    "value": ("number", "Central value, in the unit of the row."),
    "unit": ("string", "Unit of value, low and high; 1 for a share or ratio."),
    "low": ("number", "Lower end of the 95 % interval; blank when fixed or given by pedigree scores."),
    "high": ("number", "Upper end of the 95 % interval; blank when fixed or given by pedigree scores."),
    "distribution": ("string", "Distribution of the uncertainty run; pedigree: lognormal with the spread of the scores."),
    "pedigree": ("string", "Five data-quality scores 1 to 5 (reliability, completeness, temporal, geographical, technological) and the basic uncertainty."),
    "boundary": ("string", "What the number includes and leaves out."),
    "geography": ("string", "ISO 3166-1 alpha-3 country, electricity grid region, group of countries, or world."),
    "year": ("year", "Year that the value is for, or was published in."),
    "edition": ("string", "Edition of the source, where several stand side by side."),
    "gwp": ("string", "Assessment report of the warming potentials inside the value."),
    "source": ("string", "Publication: a row of sources.csv."),
    "locator": ("string", "Where in the publication: table, page, row."),
    "evidence": ("string", "How the value is known."),
    "derived": ("string", "The arithmetic, when the value is not as printed."),
    "notes": ("string", "Anything else that a user should know."),
    "wording": ("string", "Kind of wording that a rule speaks of."),
    "reference": ("string", "Publication and clause, as printed."),
    "text": ("string", "What a rule asks, in our words; a name in braces is a figure of claims.csv."),
    "kind": ("string", "Kind of name."),
    "label": ("string", "Name for people."),
    "language": ("string", "Language of the names, ISO 639-1."),
    "short": ("string", "Name for tables and charts; blank where none prints it."),
    "plain": ("string", "Name in plain words, as the report for a school has it; of a dryer a whole sentence."),
    "accepted": ("boolean", "Whether the id may be used."),
    "reason": ("string", "Why an id is not accepted."),
    "tags": ("string", "Flags, as name=value pairs between semicolons."),
    "citation": ("string", "Full citation."),
    "publisher": ("string", "Publisher."),
    "licence": ("string", "Terms under which the publication is available."),
    "page": ("string", "Address of the publication."),
}  # fmt: skip
"""Type and meaning of each column."""

LICENCES = {
    "Open Government Licence v3.0": ("OGL-UK-3.0", "https://www.nationalarchives.gov.uk/doc/open-government-licence/version/3/"),
    "Open Government Licence - Canada": ("OGL-Canada-2.0", "https://open.canada.ca/en/open-government-licence-canada"),
    "CC BY 4.0": ("CC-BY-4.0", "https://creativecommons.org/licenses/by/4.0/"),
    "CC BY 3.0 IGO": ("CC-BY-3.0-IGO", "https://creativecommons.org/licenses/by/3.0/igo/"),
    "US Government work, public domain": ("other-pd", "https://www.usa.gov/government-copyright"),
    "US federal text, public domain": ("other-pd", "https://www.usa.gov/government-copyright"),
}  # fmt: skip
"""Name and page of each open licence in sources.csv; other terms there cite single numbers and license nothing."""

OWN_LICENCE = {
    "name": "MIT",
    "path": "https://opensource.org/license/mit",
    "title": "MIT License: selection, arrangement and text of the tables",
}
REQUIRED = (
    "id", "what", "value", "unit", "distribution", "geography", "source", "locator", "evidence", "kind", "label", "citation",
    "language", "reference", "text",
)  # fmt: skip
UNIQUE = {
    "sources": ("source",),
    "catalogue": ("kind", "id"),
    "names": ("kind", "id", "language"),
    "claimrules": ("wording", "geography"),
}
ENUMS = {"evidence": SHIPPED_WORDS, "distribution": (*DISTRIBUTIONS, "pedigree")}


def _field(table: str, column: str) -> dict[str, Any]:
    kind, description = FIELDS[column]
    key = UNIQUE.get(table, ("id",))
    constraints: dict[str, Any] = {}
    if column in REQUIRED or column in key:
        constraints["required"] = True
    if key == (column,):
        constraints["unique"] = True
    if column in ENUMS:
        constraints["enum"] = list(ENUMS[column])
    field: dict[str, Any] = {"name": column, "type": kind, "description": description}
    if kind == "boolean":
        field |= {"trueValues": ["yes"], "falseValues": ["no"]}
    return {**field, "constraints": constraints} if constraints else field


def _schema(table: str, columns: Sequence[str]) -> dict[str, Any]:
    key = UNIQUE.get(table, ("id",))
    schema: dict[str, Any] = {
        "fields": [_field(table, column) for column in columns],
        "missingValues": [""],
        "primaryKey": list(key),
    }
    if table != "sources":
        resource, fields = ("sources", ["source"]) if "source" in columns else ("catalogue", ["kind", "id"])
        schema["foreignKeys"] = [{"fields": fields, "reference": {"resource": resource, "fields": fields}}]
    return schema


def _licences(rows: Rows, sources: Mapping[str, Mapping[str, str]]) -> list[dict[str, str]]:
    """Return our own licence and the open licences of the publications that the rows cite."""
    terms = sorted({sources[row["source"]]["licence"] for row in rows if "source" in row} & set(LICENCES))
    return [OWN_LICENCE, *({"name": LICENCES[term][0], "path": LICENCES[term][1], "title": term} for term in terms)]


def _sources(rows: Rows) -> list[dict[str, str]]:
    found = []
    for row in rows:
        address = {"path": row["page"]} if row["page"] else {}
        found.append({"title": row["citation"], **address})
    return found


def descriptor(tables: Mapping[str, Rows]) -> dict[str, Any]:
    """Return the Data Package descriptor of the factor tables [1]_.

    Parameters
    ----------
    tables : mapping of str to rows
        The rows of each table as text by column, by the name of its file; at least one row each.

    Raises
    ------
    ValueError
        When a table or a column has no description here, or a row cites a source that `sources.csv` lacks.

    References
    ----------
    .. [1] Data Package standard, profiles tabular-data-package and tabular-data-resource, https://datapackage.org
    """
    sources = {row["source"]: row for row in tables["sources.csv"]}
    columns = {column for rows in tables.values() for column in rows[0]}
    cited = {row["source"] for rows in tables.values() for row in rows if "source" in row}
    undescribed = sorted({*(PurePath(file).stem for file in tables), *columns} - {*TABLES, *FIELDS})
    if undescribed or cited - set(sources):
        lacking = f"without description: {undescribed}; not in sources.csv: {sorted(cited - set(sources))}"
        raise ValueError(f"the factor tables cannot be described; {lacking}")
    resources = [
        {
            "profile": "tabular-data-resource",
            "name": PurePath(file).stem,
            "title": PurePath(file).stem.capitalize(),
            "description": TABLES[PurePath(file).stem],
            "path": file,
            "format": "csv",
            "mediatype": "text/csv",
            "encoding": "utf-8",
            "licenses": _licences(rows, sources),
            "schema": _schema(PurePath(file).stem, list(rows[0])),
        }
        for file, rows in sorted(tables.items())
    ]
    everything = [row for rows in tables.values() for row in rows]
    return {
        "profile": "tabular-data-package",
        "name": "pulp-impact-factors",
        "title": "Factors for parts moulded from waste paper",
        "description": (
            "Emission factors, material data, waste routes and figures of rules, one number a row, each with its unit, "
            "interval, source and place in the source. Values stay under the terms of their sources."
        ),
        "keywords": ["emission factors", "life-cycle assessment", "waste paper", "landfill", "plastics", "electricity"],
        "licenses": _licences(everything, sources),
        "contributors": [{"title": "The pulp-impact developers", "role": "author"}],
        "sources": _sources(tables["sources.csv"]),
        "resources": resources,
    }


def read_tables(folder: Path) -> dict[str, list[dict[str, str]]]:
    """Return the rows of every table in a folder as text, by the name of the file.

    Raises
    ------
    OSError
        A table cannot be read.
    """
    tables = {}
    for path in sorted(folder.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as stream:
            tables[path.name] = list(csv.DictReader(stream))
    return tables


def as_text(described: Mapping[str, Any]) -> str:
    """Return the descriptor as the file holds it."""
    return json.dumps(described, ensure_ascii=False, indent=2) + "\n"


def main() -> None:
    """Write the descriptor beside the tables."""
    target = factors_folder() / FILE
    target.write_text(as_text(descriptor(read_tables(factors_folder()))), encoding="utf-8")
    print(f"wrote {target}")


if __name__ == "__main__":
    main()
