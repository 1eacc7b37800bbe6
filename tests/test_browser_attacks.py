"""The pages against whoever means harm, and against files that others wrote into: nothing is lost, nothing falls over."""

from __future__ import annotations

import json
import re
from html import unescape
from http.client import HTTPConnection
from pathlib import Path
from socket import create_connection

import pytest

from impact.base.catalogue import read_names
from impact.base.files import OutputError
from impact.browser import journal, served
from impact.browser.doubts import copy_settings
from impact.browser.journal import Journal
from impact.browser.logtable import parsed
from impact.browser.setup.partlist import PartsText
from impact.browser.setup.tomltext import Change, changed
from tests.folders import write_folder
from tests.pages import Phone, phones, serving
from tests.test_browser_bench import DATED, GRAMS, filled

NAMES = read_names()
AT = '"at":"2026-11-30T09:30:00+01:00"'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_folder(tmp_path / "bench", workshop=DATED, batches=GRAMS)


@pytest.fixture
def phone(folder: Path) -> Phone:
    return phones(folder)[0]


def rows(folder: Path) -> str:
    return (folder / "batches.csv").read_text(encoding="utf-8")


def mark_of(phone: Phone, batch: str) -> str:
    found = re.search(
        'name="mark" value="([^"]+)"', phone.client.get("/batches/row", query_string={"batch": batch}).text
    )
    assert found is not None
    return found[1]


# -- the journal -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "line",
    [
        '"abc"',
        "[1]",
        "null",
        "[" * 100_000,
        f'{{"key":["x"],{AT},"kind":"open"}}',
        f'{{"key":"k1",{AT},"kind":"open"}}',
        f'{{"key":"k1",{AT},"kind":"open","data":{{"fields":{{"batch":7}}}}}}',
        '{"key":"k1","at":"x","kind":"open","data":{"fields":{"batch":"1"}}}',
        f'{{"key":"k1",{AT},"kind":"start"}}',
        f'{{"key":"k1",{AT},"kind":"start","data":{{"device":"a","step":"b","batches":[],"at":"2026-11-30T09:00:00"}}}}',
        f'{{"key":"k1",{AT},"kind":"edit","change":{{"batch":"001","before":5,"after":7}}}}',
        f'{{"key":"k1",{AT},"kind":"unit","data":{{"kind":"mass","unit":"g","fields":{{"x":1}}}}}}',
        "\x00" * 40,
    ],
)
def test_journal_line_that_no_page_wrote_is_passed_over(tmp_path: Path, line: str) -> None:
    (tmp_path / "history").mkdir()
    good = f'{{"key":"k2",{AT},"kind":"open","data":{{"fields":{{"batch":"1"}}}}}}'
    (tmp_path / "history" / "entries.jsonl").write_text(f"{line}\n{good}\n", encoding="utf-8")
    found = Journal(tmp_path, lambda: parsed("batch\n", NAMES))
    assert found.repair() == []
    assert list(found.keys) == ["k2"]


def test_key_that_was_used_for_another_form_is_refused_and_the_same_form_counts_once(
    phone: Phone, folder: Path
) -> None:
    batch = phone.opens("pot", "Q1")
    first = {"f.corrugated": "500", "was.corrugated": ""}
    for _ in range(2):
        assert phone.send(f"{batch}/set", key="once-and-no-more", data=first, follow=False).status_code == 303
    answer = phone.send(f"{batch}/set", key="once-and-no-more", data={"f.newsprint": "300"})
    assert answer.status_code == 409
    assert "said something else" in answer.text
    assert phone.send(f"{batch}/count", key="once-and-no-more", what="rejects").status_code == 409


def test_closing_is_not_taken_back_without_its_row(phone: Phone, folder: Path) -> None:
    batch = filled(phone, "Z1")
    phone.does(f"{batch}/close")
    lines = [json.loads(line) for line in (folder / "history" / "entries.jsonl").read_text().splitlines()]
    (closing,) = [one["key"] for one in lines if one.get("kind") == "close"]
    assert phone.send(f"{batch}/undo", of=closing).status_code == 404
    assert phone.client.get(batch).status_code == 404
    assert "\nZ1," in rows(folder)


# -- the table -------------------------------------------------------------------------------------------------------


def test_columns_of_one_header_and_of_none_keep_their_cells_apart() -> None:
    table = parsed("batch,notes,notes,,,part\nA1,x,y,p,q,pot,stray\nA2,,,,,pot\n", NAMES)
    cells = table.cells_of("A1")
    assert cells is not None
    assert sorted(cells.values()) == sorted(["A1", "x", "y", "p", "q", "pot", "stray"])
    table.put("A1", {**cells, "part": "cup"})
    table.put("A2", {"batch": "A2", "part": "cup"})
    assert table.content() == b"batch,notes,notes,,,part\nA1,x,y,p,q,cup,stray\nA2,,,,,cup\n"


def test_cell_beyond_the_header_does_not_slip_into_a_new_column() -> None:
    table = parsed("batch,part\nA1,pot,stray\n", NAMES)
    table.put("A2", {"batch": "A2", "confirmed": "water"})
    again = parsed(table.content().decode(), NAMES)
    assert "confirmed" not in (again.cells_of("A1") or {})
    assert "stray" in (again.cells_of("A1") or {}).values()
    assert again.cells_of("A2") == {"batch": "A2", "confirmed": "water"}


@pytest.mark.parametrize("text", ["+1+cmd|' /C calc'!A0", '-1-HYPERLINK("x")', "-2*A1", "=1"])
def test_text_that_begins_like_a_number_is_no_formula(tmp_path: Path, text: str) -> None:
    table = parsed("batch,notes\n", NAMES)
    table.put("A1", {"batch": "A1", "notes": text})
    assert f" {text[0]}" in table.content().decode()
    assert parsed(table.content().decode(), NAMES).cells_of("A1") == {"batch": "A1", "notes": text}
    parts = PartsText.of(write_folder(tmp_path / "w")).with_part(text, {"mass": "60 g"}).decode()
    assert f" {text[0]}" in parts


@pytest.mark.parametrize("text", ["-5 g", "+12,5", "-.5", "-3 %"])
def test_amount_stays_as_it_was_typed(text: str) -> None:
    table = parsed("batch;notes\n", NAMES)
    table.put("A1", {"batch": "A1", "notes": text})
    assert table.content().decode() == f"batch;notes\nA1;{text}\n"


@pytest.mark.parametrize(
    "sent",
    [
        {"say": "put:batch:002"},
        {"say": "put:batch:"},
        {"further": "batch", "further text": "002"},
        {"say": "put:notes:a\nb"},
        {"say": "put:notes:a\x00b"},
        {"say": "put:notes:" + "x" * 150_000},
    ],
)
def test_mended_row_takes_no_other_name_and_no_text_that_no_field_takes(
    phone: Phone, folder: Path, sent: dict[str, str]
) -> None:
    answer = phone.send("/batches/row", batch="001", mark=mark_of(phone, "001"), data=sent)
    assert answer.status_code == 400
    assert rows(folder) == GRAMS


def test_row_without_a_name_takes_none_that_is_taken(tmp_path: Path) -> None:
    nameless = ",2026-11-27,pot,1000,300,,pva-glue,200,12,blender 12 min,0.5 kWh,30,2\n"
    folder = write_folder(tmp_path / "w", workshop=DATED, batches=GRAMS + nameless)
    phone = phones(folder)[0]
    answer = phone.send("/batches/row", batch="", mark=mark_of(phone, ""), data={"f.batch": "001"})
    assert answer.status_code == 409
    assert rows(folder) == GRAMS + nameless


# -- links, and batches in parts -------------------------------------------------------------------------------------


def test_table_that_is_a_link_is_refused_before_an_entry_stands(phone: Phone, folder: Path) -> None:
    mark = mark_of(phone, "001")
    (folder / "batches.csv").rename(folder.parent / "real.csv")
    (folder / "batches.csv").symlink_to(folder.parent / "real.csv")
    answer = phone.send("/batches/row", batch="001", mark=mark, data={"f.notes": "b"})
    assert answer.status_code == 409
    assert "is a link" in answer.text
    assert (folder.parent / "real.csv").read_text() == GRAMS
    assert not (folder / "history" / "entries.jsonl").exists()


@pytest.mark.parametrize("name", ["history", "history/lock", "history/entries.jsonl"])
def test_journal_is_not_written_through_a_link(tmp_path: Path, name: str) -> None:
    folder = write_folder(tmp_path / "w", workshop=DATED, batches=GRAMS)
    (folder / name).parent.mkdir(exist_ok=True)
    (folder / name).symlink_to(tmp_path / "elsewhere")
    answer = phones(folder)[0].send("/bench/open", part="pot")
    assert answer.status_code == 503
    assert "is a link" in answer.text
    assert not (tmp_path / "elsewhere").exists()


def test_batches_in_parts_that_change_are_read_again(phone: Phone, folder: Path) -> None:
    (folder / "batches").mkdir()
    (folder / "batches.csv").rename(folder / "batches" / "one.csv")
    before = phone.client.get("/figures").text
    (folder / "batches" / "one.csv").write_text(f"{GRAMS}x,2026-13-77,pot\n")
    assert phone.client.get("/figures").text != before


# -- what is told, and the server ------------------------------------------------------------------------------------


def test_what_is_told_once_is_told_by_a_page_and_not_lost_to_a_part_of_one(phone: Phone) -> None:
    phone.send("/bench/open", part="pot", name="W1", follow=False)
    batch = phone.opens("pot", "W2")
    phone.send(f"{batch}/discard", follow=False)
    assert "W2 was put away" not in unescape(phone.client.get("/figures/now").text)
    assert "W2 was put away" in phone.get("/bench")
    assert "W2 was put away" not in phone.get("/bench")


def test_connections_that_say_nothing_keep_nobody_out(folder: Path) -> None:
    with serving(folder) as (place, _):
        host, _, port = place.removeprefix("http://").rpartition(":")
        idle = [create_connection((host, int(port)), 5) for _ in range(120)]
        asking = HTTPConnection(host, int(port), timeout=20)
        asking.request("GET", "/enter")
        assert asking.getresponse().status == 200
        asking.close()
        for one in idle:
            one.close()


# -- settings of other hands -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "path", "lines"),
    [
        ('[workshop]\r\nname = "a" # c\r\n', ("workshop", "units"), ["[workshop]", 'name = "a" # c', 'units = "us"']),
        ('workshop.name = "a"\r\n', ("workshop", "units"), ['workshop.name = "a"', 'workshop.units = "us"']),
        ('[workshop]\r\nname = "a"', ("drying", "units"), ["[workshop]", 'name = "a"', "", "[drying]", 'units = "us"']),
    ],
)
def test_settings_with_line_ends_of_windows_keep_to_them(text: str, path: tuple[str, ...], lines: list[str]) -> None:
    assert changed(text, [Change(path, "us")]) == "".join(f"{one}\r\n" for one in lines)


@pytest.mark.parametrize(
    ("text", "path", "stands"),
    [
        ('equipment = { fan = { power = "60 W" } } # d\n', ("equipment", "mill", "power"), 'mill = {power = "us"}'),
        ('grants = [ { name = "g" }, { name = "h" } ] # e\n', ("grants", "2", "note"), 'name = "h", note = "us"'),
        ('[[grants]]\nname = "g"\n[[grants]]\nname = "h"\n[grants.x]\ny = 2\n', ("grants", "2", "note"), 'note = "us"'),
    ],
)
def test_settings_within_a_line_and_in_lists_are_added_to(text: str, path: tuple[str, ...], stands: str) -> None:
    assert stands in changed(text, [Change(path, "us")])


@pytest.mark.parametrize("text", ["equipment = [1, 2]\n", '[[equipment]]\nname = "x"\n', "equipment = 5\n"])
def test_settings_of_another_shape_are_refused_in_words(folder: Path, text: str) -> None:
    before = (folder / "workshop.toml").read_text()
    kept = re.sub(r"(?ms)^\[equipment\..*?(?=^\[(?!equipment)|\Z)", "", before)
    (folder / "workshop.toml").write_text(f"{kept}\n{text}" if text.startswith("[") else text + kept)
    phone = phones(folder)[0]
    answer = phone.send("/setup/equipment", new="1", name="mill", data={"v.power": "100", "u.power": "W"})
    assert answer.status_code in (409, 422)
    kept = before.replace("[workshop]\n", "[workshop]\nconfirmed = 5\n")
    (folder / "workshop.toml").write_text(kept)
    assert phone.send("/setup/workshop", data={"v.name": "Q", "confirm": "equipment.fan.power"}).status_code < 500


def test_list_of_parts_keeps_its_mark_and_its_line_ends(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "w")
    text = (folder / "parts.csv").read_text().replace("\n", "\r\n")
    (folder / "parts.csv").write_bytes(f"\ufeff{text}".encode())
    found = PartsText.of(folder).with_part("pot", {}).decode()
    assert found == f"\ufeff{text}"


def test_letter_that_the_file_cannot_hold_stays_in_the_open_batch_and_is_told_at_its_end(
    phone: Phone, folder: Path
) -> None:
    (folder / "batches.csv").write_bytes(GRAMS.replace(",a,", ",caf\u00e9,").encode("cp1252"))
    batch = filled(phone, "N1", notes="\u7d19")
    assert "\u7d19" in phone.get(batch)
    answer = phone.send(f"{batch}/close")
    assert answer.status_code == 409
    assert "Save it as UTF-8" in answer.text
    assert phone.client.get("/bench").status_code == 200


def test_copy_by_which_a_batch_is_doubted_holds_what_is_read_and_no_film(folder: Path, tmp_path: Path) -> None:
    (folder / "film.mp4").write_bytes(b"x")
    (tmp_path / "copy").mkdir()
    copy_settings(folder, tmp_path / "copy")
    assert {one.name for one in (tmp_path / "copy").iterdir()} == {
        one.name for one in folder.iterdir() if one.suffix in (".toml", ".csv") and one.stem != "batches"
    }


def test_journal_that_another_took_the_place_of_is_read_from_its_beginning(tmp_path: Path) -> None:
    (tmp_path / "history").mkdir()
    path = tmp_path / "history" / "entries.jsonl"
    line = f'{{"key":"k1",{AT},"kind":"open","data":{{"fields":{{"batch":"1"}}}}}}\n'
    path.write_text(line, encoding="utf-8")
    found = Journal(tmp_path, lambda: parsed("batch\n", NAMES))
    found.read()
    path.write_text(line.replace("k1", "another") + line.replace("k1", "k3"), encoding="utf-8")
    found.read()
    assert list(found.keys) == ["another", "k3"]
    (tmp_path / "restored").write_text(line + line.replace("k1", "k2") * 5, encoding="utf-8")
    (tmp_path / "restored").replace(path)
    found.read()
    assert list(found.keys) == ["k1", "k2"]


def test_shares_that_were_rounded_are_kept_as_they_were_shown(phone: Phone, folder: Path) -> None:
    shares = {"landfill": "33.3", "incineration": "33.3", "recycling": "33.3", "composting": "0"}
    sent = {f"end.{fate}": share for fate, share in shares.items()}
    shown = re.findall(
        r"<td[^>]*>(.*?)</td>", phone.client.get("/what-if", query_string={"part": "pot", **sent}).text, re.DOTALL
    )
    assert phone.send("/what-if/keep", part="pot", data=sent, follow=False).status_code == 303
    kept = re.findall(
        r"<td[^>]*>(.*?)</td>", phone.client.get("/what-if", query_string={"part": "pot"}).text, re.DOTALL
    )
    assert kept[0] == re.sub("<[^>]*>", "", shown[1])


def test_table_that_a_spreadsheet_holds_keeps_no_tap_and_no_field_from_the_journal(
    phone: Phone, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = filled(phone, "H1"), filled(phone, "H2")

    def held(*_: object, **__: object) -> None:
        raise OutputError("batches.csv cannot be written: held open")

    with monkeypatch.context() as patched:
        patched.setattr(journal, "write", held)
        assert phone.send(f"{first}/close").status_code == 507
        assert phone.send(f"{second}/count", what="good parts", n="4", follow=False).status_code == 303
        assert phone.send(f"{second}/set", data={"f.notes": "kept"}, follow=False).status_code == 303
        assert "held open" in phone.get("/bench")
        # what changes the table is in no journal yet: the phone has to keep it
        closing = phone.send(f"{second}/close", key="closing-of-h2")
        assert closing.status_code == 503
        assert "sent again" in closing.text
    assert phone.send(f"{second}/close", key="closing-of-h2", follow=False).status_code == 303
    table = parsed(rows(folder), NAMES)
    assert table.batches()[-2:] == ["H1", "H2"]
    assert (table.cells_of("H2") or {})["good parts"] == "34"
    assert (table.cells_of("H2") or {})["notes"] == "kept"


def test_folder_that_cannot_be_looked_into_is_no_trace(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    phone = phones(folder)[0]

    def closed(*_: object) -> bool:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(served, "is_workshop", closed)
    assert phone.client.get("/nowhere").status_code == 404
