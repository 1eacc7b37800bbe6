"""The description of the factor tables: up to date, and valid by an independent reader of the standard.

Checked against, from outside:

- description of the tables: an independent reader of the Data Package standard
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import frictionless
import pytest

from impact.base.places import factors_folder
from impact.factors.datapackage import FILE, as_text, descriptor, read_tables
from impact.factors.factorset import NOT_FACTORS
from impact.factors.rows import COLUMNS


@pytest.fixture(scope="module")
def described() -> dict[str, Any]:
    return descriptor(read_tables(factors_folder()))


def test_descriptor_equals_the_file_beside_the_tables(described: dict[str, Any]) -> None:
    # If this fails, run `python -m impact.factors.datapackage`.
    assert (factors_folder() / FILE).read_text(encoding="utf-8") == as_text(described)


def test_descriptor_describes_every_table_and_column(described: dict[str, Any]) -> None:
    resources = {resource["path"]: resource for resource in described["resources"]}
    assert set(resources) == {path.name for path in factors_folder().glob("*.csv")}
    for path, resource in resources.items():
        if path not in NOT_FACTORS:
            assert [field["name"] for field in resource["schema"]["fields"]] == list(COLUMNS)
            assert resource["schema"]["primaryKey"] == ["id"]


def test_descriptor_package_carries_the_licence_of_every_open_source(described: dict[str, Any]) -> None:
    names = {licence["name"] for licence in described["licenses"]}
    assert {"MIT", "OGL-UK-3.0", "CC-BY-4.0", "other-pd"} <= names
    of_climate = next(resource for resource in described["resources"] if resource["name"] == "climate")
    assert [licence["name"] for licence in of_climate["licenses"]] == ["MIT"]


def test_descriptor_unknown_source_is_refused_by_name() -> None:
    tables = read_tables(factors_folder())
    tables["binders.csv"] = [{**tables["binders.csv"][0], "source": "NOWHERE1999"}]
    with pytest.raises(ValueError, match="NOWHERE1999"):
        descriptor(tables)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_package_and_its_tables_are_valid_by_the_standard() -> None:
    report = frictionless.Package(str(factors_folder() / FILE)).validate()
    assert report.flatten(["title", "rowNumber", "fieldName", "message"]) == []
    assert report.stats["tasks"] == len(list(factors_folder().glob("*.csv")))


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_package_row_with_unlisted_source_and_evidence_is_found_by_the_standard(
    described: dict[str, Any], tmp_path: Path
) -> None:
    wanted = {"energy", "sources"}
    some = {**described, "resources": [resource for resource in described["resources"] if resource["name"] in wanted]}
    (tmp_path / FILE).write_text(as_text(some), encoding="utf-8")
    for name in wanted:
        (tmp_path / f"{name}.csv").write_bytes((factors_folder() / f"{name}.csv").read_bytes())
    with (tmp_path / "energy.csv").open("a", encoding="utf-8") as stream:
        stream.write("heat.gas/XXX,gas,0.2,kgCO2e/kWh,,,fixed,,,XXX,2025,,,NOWHERE1999,page 1,guessed,,\n")
    found = frictionless.Package(str(tmp_path / FILE)).validate().flatten(["type", "fieldName"])
    assert sorted(kind for kind, _ in found) == ["constraint-error", "foreign-key"]
