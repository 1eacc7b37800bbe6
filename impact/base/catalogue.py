"""The ids that people may write: grades, binders, polymers, countries and the rest of the catalogue."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from impact.base.places import factors_folder


@dataclass(frozen=True, slots=True)
class Names:
    """Known ids, each a mapping from id to label.

    Attributes
    ----------
    grades : mapping
        Paper grades that may be pulped.
    excluded_grades : mapping
        Grades that may not be pulped; the value is the reason.
    binders, polymers, processes, mould_materials, dryers, countries, regions : mapping
        Ids of the factor tables; `countries` by ISO 3166-1 alpha-3, `regions` are electricity grids.
    climates, landfill_sites, vehicles, fates, editions : mapping
        Further ids; `editions` is empty where any source family may be named.
    region_countries : mapping
        Country of each electricity region.
    country_groups : mapping
        Groups of countries that a country belongs to, the narrowest first.
    country_codes : mapping
        Countries by their two letters (ISO 3166-1 alpha-2).
    binder_tags, grade_tags, dryer_tags : mapping
        Flags of each binder, grade (refused ones too) and dryer, as the catalogue has them (``kind=synthetic``).
    """

    grades: Mapping[str, str] = field(default_factory=dict)
    excluded_grades: Mapping[str, str] = field(default_factory=dict)
    binders: Mapping[str, str] = field(default_factory=dict)
    polymers: Mapping[str, str] = field(default_factory=dict)
    processes: Mapping[str, str] = field(default_factory=dict)
    mould_materials: Mapping[str, str] = field(default_factory=dict)
    dryers: Mapping[str, str] = field(default_factory=dict)
    countries: Mapping[str, str] = field(default_factory=dict)
    regions: Mapping[str, str] = field(default_factory=dict)
    climates: Mapping[str, str] = field(default_factory=dict)
    landfill_sites: Mapping[str, str] = field(default_factory=dict)
    vehicles: Mapping[str, str] = field(default_factory=dict)
    fates: Mapping[str, str] = field(default_factory=dict)
    editions: Mapping[str, str] = field(default_factory=dict)
    region_countries: Mapping[str, str] = field(default_factory=dict)
    country_groups: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    country_codes: Mapping[str, str] = field(default_factory=dict)
    binder_tags: Mapping[str, str] = field(default_factory=dict)
    grade_tags: Mapping[str, str] = field(default_factory=dict)
    dryer_tags: Mapping[str, str] = field(default_factory=dict)


# kind in the catalogue -> field of Names
CATALOGUE = "catalogue.csv"
"""Name of the catalogue among the factor tables."""

_FIELDS = {
    "grade": "grades",
    "binder": "binders",
    "polymer": "polymers",
    "process": "processes",
    "mould-material": "mould_materials",
    "dryer": "dryers",
    "country": "countries",
    "region": "regions",
    "climate": "climates",
    "landfill-site": "landfill_sites",
    "vehicle": "vehicles",
    "fate": "fates",
    "edition": "editions",
}

_TAGGED = {"binder": "binder_tags", "grade": "grade_tags", "dryer": "dryer_tags"}


def tag(tags: str, key: str) -> str:
    """Return the value of one flag, "" where it is not given."""
    return next(iter(_tags(tags, key)), "")


def _tags(tags: str, key: str) -> tuple[str, ...]:
    pairs = (tag.strip().partition("=") for tag in tags.split(";"))
    return tuple(value.strip() for name, _, value in pairs if name.strip() == key)


def _rows(stream: Iterable[str]) -> Iterator[dict[str, str]]:
    """Yield the rows of a catalogue; a report may carry one that was tampered with."""
    rows = csv.DictReader(stream, restval="")
    try:
        if not {"kind", "id", "label", "accepted", "reason", "tags"} <= set(rows.fieldnames or ()):
            raise ValueError(f"{CATALOGUE} lacks a column")
        yield from rows
    except csv.Error as error:
        raise ValueError(f"{CATALOGUE} cannot be read: {error}") from None


def read_names(catalogue: Path | None = None) -> Names:
    """Read the ids from the catalogue that ships with the factor tables.

    Parameters
    ----------
    catalogue : Path, optional
        Another catalogue file; by default ``catalogue.csv`` of the shipped factors.

    Raises
    ------
    OSError
        The file cannot be read.
    ValueError
        It is no catalogue.
    """
    path = catalogue or factors_folder() / CATALOGUE
    found: dict[str, dict[str, str]] = {name: {} for name in _FIELDS.values()}
    excluded: dict[str, str] = {}
    region_countries: dict[str, str] = {}
    groups: dict[str, tuple[str, ...]] = {}
    codes: dict[str, str] = {}
    tags: dict[str, dict[str, str]] = {kind: {} for kind in _TAGGED}
    with path.open(encoding="utf-8", newline="") as stream:
        for row in _rows(stream):
            kind, name = row["kind"], row["id"]
            if kind in _TAGGED:
                tags[kind][name] = row["tags"]
            if row["accepted"].strip().casefold() == "no":
                if kind == "grade":
                    excluded[name] = row["reason"]
            elif kind in _FIELDS:
                found[_FIELDS[kind]][name] = row["label"]
                if kind == "region":
                    region_countries.update((name, country) for country in _tags(row["tags"], "country"))
                elif kind == "country":
                    groups[name] = _tags(row["tags"], "group")
                    codes.update((code, name) for code in _tags(row["tags"], "code"))
    return Names(
        **found,
        excluded_grades=excluded,
        region_countries=region_countries,
        country_groups=groups,
        country_codes=codes,
        **{field_name: tags[kind] for kind, field_name in _TAGGED.items()},
    )
