"""The description of the factor tables after the open Data Package standard; `python -m impact.factors.datapackage` writes it."""

from __future__ import annotations

import csv
import json
import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path, PurePath
from typing import Any

from impact.base.places import factors_folder
from impact.core.sampling import DISTRIBUTIONS
from impact.factors.factorset import SHIPPED_WORDS

FILE = "datapackage.json"
Rows = Sequence[Mapping[str, str]]

ENUMS = {"evidence": SHIPPED_WORDS, "distribution": (*DISTRIBUTIONS, "pedigree")}


@cache
def _said() -> Mapping[str, Any]:
    """Return what ``datapackage.toml`` beside this module says of the tables: what each holds, what each column means."""
    return tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))


def _field(column: str, key: Sequence[str]) -> dict[str, Any]:
    said = _said()["columns"][column]
    constraints: dict[str, Any] = {}
    if said.get("required") or column in key:
        constraints["required"] = True
    if key == [column]:
        constraints["unique"] = True
    if column in ENUMS:
        constraints["enum"] = list(ENUMS[column])
    field = {"name": column, "type": said.get("type", "string"), "description": said["description"]}
    if field["type"] == "boolean":
        field |= {"trueValues": ["yes"], "falseValues": ["no"]}
    return {**field, "constraints": constraints} if constraints else field


def _schema(table: str, columns: Sequence[str]) -> dict[str, Any]:
    key = _said()["keys"].get(table, ["id"])
    schema: dict[str, Any] = {
        "fields": [_field(column, key) for column in columns],
        "missingValues": [""],
        "primaryKey": key,
    }
    if table != "sources" and "source" in columns:
        schema["foreignKeys"] = [{"fields": ["source"], "reference": {"resource": "sources", "fields": ["source"]}}]
    return schema


def _licences(rows: Rows, sources: Mapping[str, Mapping[str, str]]) -> list[dict[str, str]]:
    """Return our own licence and the open licences of the publications that the rows cite."""
    licences = _said()["licences"]
    terms = sorted({sources[row["source"]]["licence"] for row in rows if "source" in row} & set(licences))
    return [_said()["own-licence"], *({**licences[term], "title": term} for term in terms)]


def descriptor(tables: Mapping[str, Rows]) -> dict[str, Any]:
    """Return the Data Package descriptor of the factor tables [1]_.

    Parameters
    ----------
    tables : mapping of str to rows
        The rows of each table as text by column, by the name of its file; at least one row each.

    Raises
    ------
    ValueError
        When a table or a column has no description in ``datapackage.toml``, or a row's source is not in `sources.csv`.

    References
    ----------
    .. [1] Data Package standard, profiles tabular-data-package and tabular-data-resource, https://datapackage.org
    """
    said = _said()
    sources = {row["source"]: row for row in tables["sources.csv"]}
    columns = {column for rows in tables.values() for column in rows[0]}
    cited = {row["source"] for rows in tables.values() for row in rows if "source" in row}
    undescribed = sorted({*(PurePath(file).stem for file in tables), *columns} - {*said["tables"], *said["columns"]})
    if undescribed or cited - set(sources):
        lacking = f"without description: {undescribed}; not in sources.csv: {sorted(cited - set(sources))}"
        raise ValueError(f"the factor tables cannot be described; {lacking}")
    resources = [
        {
            "profile": "tabular-data-resource",
            "name": PurePath(file).stem,
            "title": PurePath(file).stem.capitalize(),
            "description": said["tables"][PurePath(file).stem],
            "path": file,
            "format": "csv",
            "mediatype": "text/csv",
            "encoding": "utf-8",
            "licenses": _licences(rows, sources),
            "schema": _schema(PurePath(file).stem, list(rows[0])),
        }
        for file, rows in sorted(tables.items())
    ]
    pages = [{"title": row["citation"], **({"path": row["page"]} if row["page"] else {})} for row in sources.values()]
    return {
        **said["package"],
        "licenses": _licences([row for rows in tables.values() for row in rows], sources),
        "contributors": said["contributors"],
        "sources": pages,
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
