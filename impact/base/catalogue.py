"""The ids that people may write: grades, binders, polymers, countries and the rest of the catalogue."""

from __future__ import annotations

import csv
import io
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from impact.base.language import spelled, spoken_in
from impact.base.places import factors_folder
from impact.base.spellings import compared, fold


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
    greens : mapping
        What brings nitrogen to a compost heap.
    binder_tags, grade_tags, dryer_tags, green_tags : mapping
        Flags of each binder, grade (refused ones too), dryer and green, as the catalogue has them (``kind=synthetic``).
    words : mapping
        Short and plain name by kind, id and language, as ``names.csv`` has them.
    own : frozenset of (str, str)
        Kind and id of what the workshop names itself: its words are spelled as it wrote them.
    others : mapping
        Ids that another word stands for, by kind and word, as `compared` gives it.
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
    greens: Mapping[str, str] = field(default_factory=dict)
    editions: Mapping[str, str] = field(default_factory=dict)
    region_countries: Mapping[str, str] = field(default_factory=dict)
    country_groups: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    country_codes: Mapping[str, str] = field(default_factory=dict)
    binder_tags: Mapping[str, str] = field(default_factory=dict)
    grade_tags: Mapping[str, str] = field(default_factory=dict)
    dryer_tags: Mapping[str, str] = field(default_factory=dict)
    green_tags: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[tuple[str, str, str], tuple[str, str]] = field(default_factory=dict)
    own: frozenset[tuple[str, str]] = frozenset()
    others: Mapping[tuple[str, str], tuple[str, ...]] = field(default_factory=dict)

    def meant(self, kind: str, text: str, known: Iterable[str]) -> tuple[str, ...]:
        """Return the ids among `known` that a word stands for: none where it says nothing, several where it may be each.

        Parameters
        ----------
        kind : str
            Kind of the ids, as the catalogue has it; ``material`` is a polymer or a material of moulds.
        text : str
            An id, its label, or a word for it; case, accents, spaces and hyphens do not matter.
        known : iterable of str
            The ids that are accepted.
        """
        ids, wanted = {fold(one): one for one in known}, compared(text)
        if not wanted or fold(text) in ids:
            return (ids[fold(text)],) if wanted else ()
        kinds = [one for one in (("polymer", "mould-material") if kind == "material" else (kind,)) if one in _FIELDS]
        stood = [one for each in kinds for one in self.others.get((each, wanted), ())]
        stood = stood or [
            one for each in kinds for one, label in getattr(self, _FIELDS[each]).items() if compared(label) == wanted
        ]
        if not stood and kind == "country":
            stood = list(self._called(text, wanted))
        return tuple(one for one in ids.values() if one in stood)

    def _called(self, text: str, wanted: str) -> Iterator[str]:
        """Yield the countries of two letters, or of a name in one of the `LANGUAGES` (Unicode CLDR)."""
        from impact.base.locale import countries_called

        if len(wanted) == 2:
            yield from filter(None, (self.country_codes.get(text.strip().upper()),))
        else:
            yield from (self.country_codes[code] for code in countries_called(wanted) if code in self.country_codes)

    def short(self, kind: str, name: str, language: str) -> str:
        """Return the name of an id for tables and charts.

        Parameters
        ----------
        kind, name : str
            Kind and id, as the catalogue has them, or as ``names.csv`` has them beside it.
        language : str
            Language of the page; where it has no name, the English one stands, else the label.
        """
        return self._word(kind, name, language, 0)

    def plain(self, kind: str, name: str, language: str) -> str:
        """Return the name of an id in plain words, of a dryer a sentence; arguments as of `short`."""
        return self._word(kind, name, language, 1)

    def place(self, name: str, language: str = "en") -> str:
        """Return the name of a place: of a country by Unicode CLDR, of a grid without its code, of the world and groups in words.

        Parameters
        ----------
        name : str
            What the column geography of a factor row holds; any other text comes back as it is.
        language : str
            Language of the page.
        """
        from impact.base.locale import country_name

        if self.knows("place", name):
            return self.short("place", name, language)
        if name in self.countries:
            return country_name(name, spoken_in(language)) or self.countries[name]
        return self.regions.get(name, name).partition(" (")[0]

    def knows(self, kind: str, name: str) -> bool:
        """Return whether an id of a kind has a name: in the catalogue, or of its own."""
        return name in self._labels(kind) or (kind, name, "en") in self.words

    def _labels(self, kind: str) -> Mapping[str, str]:
        found: Mapping[str, str] = getattr(self, _FIELDS[kind]) if kind in _FIELDS else {}
        return found

    def _word(self, kind: str, name: str, language: str, place: int) -> str:
        label = self._labels(kind).get(name, name)
        pairs = [self.words.get((kind, name, spoken), ("", "")) for spoken in (spoken_in(language), "en")]
        found = (pair[place] or ("" if kind == "dryer" else pair[1]) for pair in pairs)  # a dryer's is a sentence
        word = next(filter(None, found), label)
        return word if word == name or (kind, name) in self.own else spelled(language, word)


CATALOGUE, NAMES, CURRENCIES = "catalogue.csv", "names.csv", "currencies.csv"
"""The catalogue among the factor tables, the names that its ids have in each language, and what countries pay with."""

_FIELDS: Mapping[str, str] = {
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
    "green": "greens",
    "edition": "editions",
}
"""Field of `Names` of each kind in the catalogue."""

_TAGGED = ("binder", "grade", "dryer", "green")
"""Kinds of which `Names` has the flags."""


def tag(tags: str, key: str) -> str:
    """Return the value of one flag, "" where it is not given."""
    return next(iter(_tags(tags, key)), "")


def _tags(tags: str, key: str) -> tuple[str, ...]:
    pairs = (tag.strip().partition("=") for tag in tags.split(";"))
    return tuple(value.strip() for name, _, value in pairs if name.strip() == key)


def _rows(name: str, content: bytes, columns: set[str]) -> Iterator[dict[str, str]]:
    """Yield the rows of a table of names by its content; a report may carry one that was tampered with."""
    rows = csv.DictReader(io.StringIO(content.decode(), newline=""), restval="")
    try:
        if not columns <= set(rows.fieldnames or ()):
            raise ValueError(f"{name} lacks a column")
        yield from rows
    except csv.Error as error:
        raise ValueError(f"{name} cannot be read: {error}") from None


def read_names(catalogue: Path | None = None) -> Names:
    """Read the ids from the catalogue that ships with the factor tables, and their names from the table beside it.

    Parameters
    ----------
    catalogue : Path, optional
        Another catalogue file; by default ``catalogue.csv`` of the shipped factors. Without ``names.csv`` beside it, as in
        reports of before, ids go by their labels.

    Raises
    ------
    OSError
        A file cannot be read.
    ValueError
        It is no catalogue.
    """
    path = catalogue or factors_folder() / CATALOGUE
    spoken = path.with_name(NAMES)
    return _names(path.name, path.read_bytes(), spoken.read_bytes() if spoken.exists() else None)


@lru_cache(maxsize=2)
def _names(file: str, catalogue: bytes, spoken: bytes | None) -> Names:
    """Return the names of the tables of some content; a report has the shipped ones once more, in another folder."""
    found: defaultdict[str, Any] = defaultdict(dict)
    for row in _rows(file, catalogue, {"kind", "id", "label", "accepted", "reason", "tags"}):
        kind, name = row["kind"], row["id"]
        if kind in _TAGGED:
            found[f"{kind}_tags"][name] = row["tags"]
        if row["accepted"].strip().casefold() == "no":
            if kind == "grade":
                found["excluded_grades"][name] = row["reason"]
        elif kind in _FIELDS:
            found[_FIELDS[kind]][name] = row["label"]
            if kind == "region":
                found["region_countries"].update((name, country) for country in _tags(row["tags"], "country"))
            elif kind == "country":
                found["country_groups"][name] = _tags(row["tags"], "group")
                found["country_codes"].update((code, name) for code in _tags(row["tags"], "code"))
    rows = [] if spoken is None else list(_rows(NAMES, spoken, {"kind", "id", "language", "short", "plain"}))
    named = (row for row in rows if row["short"] or row["plain"])  # a row may hold other words alone
    words = {(row["kind"], row["id"], row["language"]): (row["short"], row["plain"]) for row in named}
    written = [row for row in rows if row["id"] in found[_FIELDS.get(row["kind"], "")]]  # some are for pages alone
    return Names(**{name: found[name] for name in found if name}, words=words, others=_others(written))


def _others(rows: Sequence[Mapping[str, str]]) -> dict[tuple[str, str], tuple[str, ...]]:
    """Return the ids by kind and word; a name of one id is a word for it where no row says more of it."""
    found: defaultdict[tuple[str, str], dict[str, None]] = defaultdict(dict)
    for row in rows:
        for word in row.get("words", "").split(";"):
            found[row["kind"], compared(word)][row["id"]] = None
    for row in rows:
        for name in (row["short"], row["plain"]):
            found.setdefault((row["kind"], compared(name)), {})[row["id"]] = None
    return {key: tuple(ids) for key, ids in found.items() if key[1]}


def currency_of(country: str) -> str | None:
    """Return the currency of a country (ISO 4217); None where the table has none."""
    rows = _rows(CURRENCIES, (factors_folder() / CURRENCIES).read_bytes(), {"country", "currency"})
    return next((row["currency"] for row in rows if row["country"] == country), None)
