"""The command that explains what may be written: settings, columns, ids, spreadsheets, names of figures."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Callable, Iterable, Iterator

import click

from impact.base.places import helptexts_folder

WIDTH = 100
"""Most characters of a line."""

LEFT = 30
"""Characters of the names beside what they mean."""

Pairs = Iterable[tuple[str, str]]

LISTS = (
    ("paper grades: columns of the log; [fates.GRADE], [origin.GRADE]", "grades"),
    ("refused grades, with the reason", "excluded_grades"),
    ("binders: the column binder; [binders.BINDER]", "binders"),
    ("fates: the columns fate, rejects to, trim to; for losses also own rejects", "fates"),
    ("polymers: the column plastic polymer of parts.csv; material of a mould", "polymers"),
    ("further materials of a mould", "mould_materials"),
    ("processes: the column plastic process of parts.csv", "processes"),
    ("dryers: dryer of [drying]", "dryers"),
    ("vehicles: vehicle of [transport]", "vehicles"),
    ("landfill climates: landfill_climate of [workshop]", "climates"),
    ("kinds of landfill: landfill_site of [workshop]", "landfill_sites"),
    ("electricity regions: electricity of [workshop], where also any country may stand", "regions"),
    ("countries: country of [workshop]", "countries"),
)
"""What the ids of each list of `Names` are for."""


@click.command("help")
@click.argument("topic", required=False)
def help_on(topic: str | None) -> None:
    """Explain what may be written and what is meant.

    Settings, columns, ids and more; without TOPIC, the topics.

    Example: impact help settings
    """
    from impact.base.problems import choices, shown

    if topic is None:
        lines = ["impact help TOPIC explains:", *_pairs(topics().items())]
    elif topic.casefold() in topics():
        lines = list(lines_of(topic.casefold()))
    else:
        raise click.UsageError(f'read "{shown(topic)}": there is no such topic. Accepted: {choices(topic, topics())}.')
    click.echo("\n".join(lines))


def _pairs(pairs: Pairs) -> Iterator[str]:
    """Yield names with what they mean beside them; below a name that is too long for that."""
    for name, meaning in pairs:
        beside = len(name) + 4 <= LEFT
        if not beside:
            yield f"  {name}"
        first = f"  {name}".ljust(LEFT) if beside else " " * LEFT
        yield from _wrapped(meaning, first, " " * LEFT) if meaning or not beside else [first.rstrip()]


def _wrapped(text: str, first: str = "", later: str = "") -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=later, break_long_words=False, break_on_hyphens=False
    )


def settings() -> Iterator[str]:
    """Yield every table and key of ``workshop.toml``."""
    from impact.records.workshop import Workshop
    from impact.records.workshop_keys import Setting, settings_of

    def keys(found: Iterable[Setting]) -> Iterator[str]:
        return _pairs((one.path[-1], one.sentence) for one in found)

    yield from _wrapped(
        "Tables and keys of workshop.toml. All but name and country of [workshop] may be left out, and whole tables; in a "
        "table that is there, the keys marked needed. Amounts carry their unit, as text: power = \"700 W\"."
    )  # fmt: skip
    told = ""
    for setting in settings_of(Workshop):
        table = setting.table
        if table is None and len(setting.path) == 2:
            if told != setting.path[0]:
                yield from ("", f"[{setting.path[0]}]")
            yield from keys([setting])
        else:
            yield from ("", *_wrapped(f"{setting.header}  {setting.key.meaning}", later="  "))
            inner = settings_of(table) if table else ()
            yield from keys(one for one in inner if one.table is None)
            for one in (one for one in inner if one.table):
                header = f"[[{setting.path[0]}.{one.path[-1]}]]"
                yield from ("", *_wrapped(f"{header}  {one.key.meaning}", later="  "))
                yield from keys(settings_of(one.table)) if one.table else []
        told = setting.path[0]


def columns() -> Iterator[str]:
    """Yield every column of the log and of ``parts.csv``, and how cells are read."""
    from impact.base.catalogue import read_names
    from impact.records.columns import further_columns, usual_columns
    from impact.records.workshop import Part
    from impact.records.workshop_keys import settings_of

    names = read_names()
    for title, listed in (
        ("Columns of a new log, one row for each batch:", usual_columns(names)),
        ("Columns that may be added:", further_columns(names)),
    ):
        yield from (
            title,
            *_pairs((f"{one.name} [{one.unit}]" if one.unit else one.name, one.told) for one in listed),
            "",
        )
    yield "Columns of parts.csv, one row for each part:"
    yield from _pairs((one.key.name, one.sentence) for one in settings_of(Part))


def ids() -> Iterator[str]:
    """Yield every id of the catalogue by what it is for."""
    from impact.base.catalogue import read_names

    names = read_names()
    yield from _wrapped(
        "Ids may be written whatever their case, spaces and hyphens. Usual words for them are read as well, in English, "
        "Spanish and German (newspaper, cola blanca, Altpapiertonne, UK); a word that could be two ids is asked about (cardboard)."
    )
    for title, listed in LISTS:
        yield from ("", title, *_pairs(getattr(names, listed).items()))


def spreadsheets() -> Iterator[str]:
    """Yield how numbers, dates, CSV files and workbooks are read."""
    from impact.records.workshop import Reading
    from impact.records.workshop_keys import settings_of

    yield from _wrapped(
        "What can be read in one way only is read. What can be read in two ways is asked about, with both readings, unless "
        "the table [records] of workshop.toml says what is meant:"
    )
    yield from _pairs((one.path[-1], one.sentence) for one in settings_of(Reading))


def figures() -> Iterator[str]:
    """Yield the names of the figures, from the shape of the JSON document that holds them."""
    from impact.base.figurenames import patterns
    from impact.base.places import schemas_folder

    schema = json.loads((schemas_folder() / "totals.schema.json").read_text(encoding="utf-8"))
    yield from _wrapped(
        "Names of figures, for impact explain FOLDER FIGURE. They are places in the document of impact totals --json; words "
        "in capitals stand for what the entry of a list is about: parts.tool-tray.difference_kgco2e. An interval may be "
        "named whole, or by its .value, .low or .high; it is marked with *."
    )
    yield ""
    yield from _pairs(patterns(schema).items())


GENERATED: dict[str, tuple[str, Callable[[], Iterator[str]]]] = {
    "settings": ("tables and keys of workshop.toml", settings),
    "columns": ("columns of the log and of parts.csv", columns),
    "ids": ("ids of grades, binders, polymers, countries and the rest", ids),
    "spreadsheets": ("how numbers, dates, CSV files and workbooks are read", spreadsheets),
    "figures": ("names of the figures, for impact explain, and where each comes from", figures),
}
"""Topics made from the tables that the program itself works by, with what they tell."""


def topics() -> dict[str, str]:
    """Return what each topic tells: those made from tables, then those of `impact/helptexts`."""
    told = {name: summary for name, (summary, _) in GENERATED.items()}
    for path in sorted(helptexts_folder().glob("*.txt")):
        title = path.read_text(encoding="utf-8").partition("\n")[0]
        told.setdefault(path.stem, title[:1].lower() + title[1:])
    return told


def lines_of(topic: str) -> Iterator[str]:
    """Yield the lines of a topic: what is made from tables, then the text of its file."""
    made = topic in GENERATED
    if made:
        yield from GENERATED[topic][1]()
    path = helptexts_folder() / f"{topic}.txt"
    if path.exists():
        if made:
            yield ""
        yield from path.read_text(encoding="utf-8").rstrip("\n").split("\n")
