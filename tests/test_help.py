"""What `impact help` prints keeps to the tables that it is made from, and those to what is read."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Annotated

import pytest
from click.testing import CliRunner, Result
from pydantic import ValidationError

import impact
from impact.base.catalogue import Names, read_names
from impact.base.figurenames import ENDS, leaves
from impact.cli.commands import main
from impact.cli.help import GENERATED, LISTS, WIDTH, topics
from impact.records import columns
from impact.records.columns import LogColumn, log_columns
from impact.records.new import FOLDER
from impact.records.parts import COLUMNS
from impact.records.workshop import Workshop
from impact.records.workshop_keys import Key, ShareAboveZero, Table, keys_of, numbers_of, read_settings, settings_of
from tests.folders import NAMES, TOML, read_valid, write_folder

DEMO = Path(impact.__file__).parent / "demo"


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["help", *arguments])


def named(topic: str) -> list[str]:
    """Return the names at the left of a topic, units taken off."""
    return [re.split(r"  | \[", line.strip())[0] for line in GENERATED[topic][1]() if re.match(r"  \S", line)]


@pytest.mark.parametrize("topic", topics())
def test_help_of_a_topic_is_plain_text_that_fits(topic: str) -> None:
    done = run(topic.upper())
    assert done.exit_code == 0
    lines = list(GENERATED[topic][1]()) if topic in GENERATED else []
    assert max(map(len, lines), default=0) <= WIDTH == 100
    assert not re.search(r"[`<>]|\*\*|\bNone\b", "".join(lines))
    assert "\n".join(lines) in done.output


def test_help_alone_lists_the_topics() -> None:
    assert re.findall(r"^  (\S+)", run().output, re.MULTILINE) == list(topics())


def test_help_of_a_wrong_topic_names_the_nearest() -> None:
    done = run("colums")
    assert done.exit_code == 2
    assert 'read "colums": there is no such topic' in done.output
    assert '(did you mean "columns"?)' in done.output


@pytest.mark.parametrize("table", keys_of(Workshop))
def test_help_settings_every_table_and_key_is_named(table: str) -> None:
    section = re.split(rf"^\[+{table}[\].]", run("settings").output, flags=re.MULTILINE)[1].split("\n[")[0]
    for key in keys_of(Workshop, (table,)):
        inner = keys_of(Workshop, (table, key))
        if inner and inner != keys_of(Workshop, (table,)):
            told = re.split(rf"^\[\[{table}[.]{key}\]", run("settings").output, flags=re.MULTILINE)[1]
            assert all(re.search(rf"^  {one} ", told.split("\n[")[0], flags=re.MULTILINE) for one in inner)
        else:
            assert re.search(rf"^  {key} ", section, flags=re.MULTILINE)


def test_settings_every_attribute_but_names_and_parts_stands_in_the_file() -> None:
    for table in (Workshop, *(one.table for one in settings_of(Workshop) if one.table)):
        elsewhere = {one.name for one in fields(table)} - {one.attribute for one in settings_of(table)}  # type: ignore[arg-type]
        assert elsewhere <= {"name", "printing_evidence", "parts", "line", "logo", "photo"}


def test_settings_say_a_unit_where_the_attribute_does() -> None:
    units = {"_kg": "kg", "_kwh": "kWh", "_w": "W", "_years": "year", "_kwh_per_kg": "kWh/kg"}
    tables: list[type[Table]] = [Workshop, *(one.table for one in settings_of(Workshop) if one.table)]
    found = {name: unit for table in tables for name, (_, unit) in numbers_of(table).items()}
    for name, unit in found.items():
        ends = [end for end in units if name.endswith(end)]
        assert unit == (units[max(ends, key=len)] if ends else "1")
    assert {"mass_kg", "power_w", "horizon_years", "preparation_kwh_per_kg", "landfill"} <= found.keys()


def test_help_columns_names_every_column_of_the_log_and_the_parts() -> None:
    assert named("columns") == [
        *(column.name for column in columns.usual_columns(read_names())),
        *(column.name for column in columns.further_columns(read_names())),
        *COLUMNS,
    ]
    assert {column.name for column in log_columns(read_names())} <= set(named("columns"))


def test_help_columns_tells_a_column_that_is_added_by_one_entry(monkeypatch: pytest.MonkeyPatch) -> None:
    soaking = LogColumn("soaking", "volume", "soaking_l", "water for soaking", "not soaked", "dry")
    monkeypatch.setattr(columns, "COLUMNS", (*columns.COLUMNS, soaking))
    assert re.search(
        r"^  soaking \[L\] +water for soaking; blank: not soaked; 0: dry$", run("columns").output, re.MULTILINE
    )


def test_help_ids_lists_every_id_of_the_catalogue() -> None:
    names, listed = read_names(), named("ids")
    known = {name for _, field in LISTS for name in getattr(names, field)}
    assert set(listed) == known
    told = {field for _, field in LISTS}
    texts = {one.name for one in fields(Names) if not one.name.endswith("_tags")}
    assert texts - told <= {
        "editions",
        "region_countries",
        "country_groups",
        "country_codes",
        "greens",
        "own",
        "words",
        "others",
    }


def test_help_spreadsheets_names_what_may_be_set() -> None:
    assert named("spreadsheets") == keys_of(Workshop, ("records",))


def test_help_figures_has_a_name_for_every_figure_of_the_totals() -> None:
    done = CliRunner().invoke(main, ["totals", str(DEMO), "--json", "--draws", "100", "--by-site"])
    known = leaves(json.loads(done.stdout), int, float)
    assert len(known) > 100
    forms = [
        re.sub(r"\b[A-Z]{2,}\b", r"[^.]+", re.escape(name.rstrip("*"))) + (r"\.(?:value|low|high)" if name[-1] == "*" else "")
        for name in named("figures")
    ]  # fmt: skip
    form = re.compile("|".join(f"(?:{one})" for one in forms))
    absent = [name for name, value in known.items() if value is not None and not form.fullmatch(name)]
    assert absent == []
    assert {"value", "low", "high"} == ENDS


@dataclass(frozen=True)
class Heap(Table):
    """A table of a file of tests: `turned` stands in a table of its own there."""

    share: Annotated[ShareAboveZero, Key("share", "share that is browns", "1")]
    turned: Annotated[ShareAboveZero | None, Key("work.turned", "share of the days", "1")] = None
    name: str = "heap"


def test_read_settings_of_a_class_gives_what_its_keys_say() -> None:
    assert read_settings(Heap, {"share": "50 %", "work": {"turned": 0.1}}, NAMES) == Heap(0.5, 0.1)
    assert read_settings(Heap, {"share": 0.5}, NAMES) == Heap(0.5)
    assert keys_of(Heap) == ["share", "work"]
    assert keys_of(Heap, ("work",)) == ["turned"]


@pytest.mark.parametrize(
    ("content", "places"),
    [
        ({}, [("share",)]),
        ({"share": 0, "name": "mine"}, [("share",), ("name",)]),
        ({"share": 1, "work": {"turned": 2, "toss": 1}}, [("work", "turned"), ("work", "toss")]),
        ({"share": 1, "work": 3}, [("work",)]),
        ([], [()]),
    ],
)
def test_read_settings_of_a_class_refuses_each_fault_in_its_place(
    content: object, places: list[tuple[str, ...]]
) -> None:
    with pytest.raises(ValidationError) as raised:
        read_settings(Heap, content, NAMES)
    assert [fault["loc"] for fault in raised.value.errors()] == places


def test_starter_settings_show_every_table_but_those_for_few() -> None:
    text = (FOLDER / "workshop.toml").read_text(encoding="utf-8")
    shown = set(re.findall(r"^(?:# )?\[+(\w+)", text, flags=re.MULTILINE))
    assert shown == set(keys_of(Workshop)) - {"transport", "records", "editions"}


def test_reading_is_part_of_the_workshop(tmp_path: Path) -> None:
    shop = read_valid(write_folder(tmp_path, workshop=TOML + '\n[records]\ndecimal = "comma"\nsheet = "log"\n'))
    assert (shop.reading.settings().decimal, shop.reading.sheet) == (",", ("log",))
