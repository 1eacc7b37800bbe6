"""Bench and Batches without a script: weighed, timed, counted, closed, mended and undone; `check` and `totals` agree."""

from __future__ import annotations

import json
import os
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from impact.api import load
from impact.base.catalogue import read_names
from impact.base.files import OutputError
from impact.browser import journal
from impact.browser.logtable import read_table
from impact.cli.commands import main
from impact.records.demonstration import DEMO
from tests.folders import TOML, swap, write_folder
from tests.pages import Clock, Phone, phones

GRAMS = """\
batch,date,part,corrugated [g],newsprint [g],notes,binder,binder mass [g],water,blending,drying,good parts,rejects
001,2026-11-02,pot,1000,300,a,pva-glue,200,12,blender 12 min,0.5 kWh,30,2
002,2026-11-09,pot,1010,290,,pva-glue,210,12,blender 12 min,0.5 kWh,31,1
003,2026-11-16,pot,990,310,b,pva-glue,190,12,blender 12 min,0.5 kWh,29,3
004,2026-11-20,pot,1000,320,,pva-glue,200,12,blender 12 min,0.5 kWh,30,2
005,2026-11-23,pot,980,300,,pva-glue,200,12,blender 12 min,0.5 kWh,30,2
006,2026-11-26,pot,1020,280,,pva-glue,205,12,blender 12 min,0.5 kWh,30,2
"""
NAMES = read_names()
DATED = TOML.replace("date = 2026-04-01\n", "")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_folder(tmp_path / "bench", workshop=DATED, batches=GRAMS)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def phone(folder: Path, clock: Clock) -> Phone:
    return phones(folder, clock)[0]


def row(folder: Path, name: str) -> dict[str, str] | None:
    """Return the filled cells of a batch as they stand in the file."""
    return read_table(folder / "batches.csv", NAMES, None).cells_of(name)


def key_of(batch: str) -> str:
    return batch.rpartition("/")[2]


def run_of(page: str) -> str:
    return re.findall(r"/bench/runs/([^/]+)/stop", page)[-1]


def filled(phone: Phone, name: str = "", **fields: str) -> str:
    """Open a batch that lacks nothing but what a test is about; a double underscore is a blank."""
    batch = phone.opens("pot", name)
    usual = {"corrugated": "1000", "newsprint": "300", "binder": "pva-glue", "binder__mass": "200", "water": "12"}
    data = {f"f.{one.replace('__', ' ')}": text for one, text in (usual | fields).items()}
    for path, sent in (
        ("set", data),
        ("count", {"what": "good parts", "n": "30"}),
        ("count", {"what": "rejects", "n": "2"}),
    ):
        assert phone.send(f"{batch}/{path}", data=sent, follow=False).status_code == 303
    return batch


def test_batch_logged_over_two_days_becomes_one_row(phone: Phone, folder: Path, clock: Clock) -> None:
    batch = phone.opens("pot")
    page = phone.get(batch)
    assert "Batch 007" in page
    assert "Corrugated <span" in page
    phone.does(f"{batch}/set", data={"f.corrugated": "1000", "f.newsprint": "0.3 kg"})
    phone.does(f"{batch}/set", data={"f.binder": "pva-glue", "f.binder mass": "200", "f.water": "12"})
    phone.does(f"{batch}/start", pair="fan > drying")
    clock.pass_(hours=30)
    page = phone.get(batch)
    assert "Since Mon 30 Nov, 09:30" in page
    assert "30 h 0 min" in page
    phone.does(f"/bench/runs/{run_of(page)}/stop", batch=key_of(batch))
    for what in ["good parts"] * 3 + ["rejects"]:
        phone.does(f"{batch}/count", what=what)
    phone.does(f"{batch}/count", what="good parts", n="27")
    phone.does(f"{batch}/set", say="none:pressing")
    before = (folder / "batches.csv").read_text(encoding="utf-8")
    page = phone.does(f"{batch}/close")
    assert "Batch 007 is closed" in page
    after = (folder / "batches.csv").read_text(encoding="utf-8")
    assert after.startswith(before.splitlines()[0])
    assert row(folder, "007") == {
        "batch": "007", "date": "2026-11-30", "part": "pot", "corrugated": "1000", "newsprint": "0.3 kg",
        "binder": "pva-glue", "binder mass": "200", "water": "12", "pressing": "0", "drying": "fan 30 h",
        "good parts": "30", "rejects": "1",
    }  # fmt: skip
    assert CliRunner().invoke(main, ["check", str(folder)]).exit_code == 0


def test_next_batch_takes_over_what_the_last_one_had_and_says_so(phone: Phone, folder: Path) -> None:
    batch = filled(phone, pressing="0", transport="0", blending="blender 9 min")
    page = phone.does(f"{batch}/close")
    assert "Suggested, as in batch 007: binder pva-glue, no pressing, no transport" in page
    before = phone.send("/bench/open", part="pot", **{"as": "007"}, follow=False).headers["Location"]
    page = phone.get(before)
    assert "for blending, as in batch 007" in page
    assert page.count("As in batch 007</strong>, suggested") == 3
    page = phone.does(f"{before}/set", data={"f.binder": "corn-starch", "was.f": "", "was.binder": "pva-glue"})
    assert page.count("As in batch 007</strong>, suggested") == 2
    assert "suggested: " not in phone.get(phone.opens("pot"))  # the box was not ticked
    phone.does(f"{before}/set", data={"f.corrugated": "1000", "f.newsprint": "300", "f.binder mass": "200"})
    for what, n in (("good parts", "30"), ("rejects", "2")):
        phone.does(f"{before}/count", what=what, n=n)
    phone.does(f"{before}/close")
    found = row(folder, "008") or {}
    assert (found["binder"], found["pressing"], "blending" in found) == ("corn-starch", "0", False)


def test_pages_show_what_the_commands_print(phone: Phone, folder: Path) -> None:
    phone.does(f"{filled(phone)}/close")
    page = phone.get("/batches")
    done = CliRunner().invoke(main, ["totals", str(folder), "--json", "--period", "2026-11"])
    totals = json.loads(done.stdout)
    shown = re.search(
        r"November 2026</th><td class=\"n\">(\d+)</td><td class=\"n\">([\d.]+)</td><td class=\"n\">(\d+)", page
    )
    assert shown is not None
    assert int(shown[1]) == totals["batches"] == 7
    assert shown[2] == f"{totals['paper']['collected_kg']['value']:.2f}"
    assert int(shown[3]) == sum(part["good"] for part in totals["parts"])


def test_not_recorded_none_and_nothing_said_are_three_things(phone: Phone, folder: Path) -> None:
    batch = filled(phone)
    page = phone.get(batch)
    assert "trim" in re.search(r"Nothing was said yet of <strong>(.*?)</strong>", page)[1]  # type: ignore[index]
    page = phone.does(f"{batch}/set", say="unknown:trim")
    assert "<strong>Not recorded</strong>" in page
    assert "trim" not in re.search(r"Nothing was said yet of <strong>(.*?)</strong>", page)[1]  # type: ignore[index]
    page = phone.does(f"{batch}/set", say="none:transport")
    assert "<strong>None</strong>: nobody drove for it" in page
    phone.does(f"{batch}/close")
    found = row(folder, "007")
    assert found is not None
    assert found["transport"] == "0"
    assert "trim" not in found


def test_slip_is_asked_beside_its_field_and_mended_by_its_button(phone: Phone, folder: Path) -> None:
    batch = filled(phone, water="12000")
    page = phone.get(batch)
    assert "did you mean mL, not L?" in page
    assert 'aria-describedby="f-water-doubt-1 f-water-why"' in page
    assert 'value="put:water:12000 mL"' in page
    page = phone.does(f"{batch}/set", say="put:water:12000 mL")
    assert "did you mean" not in page
    phone.does(f"{batch}/close")
    assert (row(folder, "007") or {})["water"] == "12000 mL"


def test_grams_typed_as_kilograms_are_mended_by_a_button_and_no_column_is_spoken_of(phone: Phone) -> None:
    page = phone.get(filled(phone, corrugated="480 kg", newsprint="250"))  # 480 times what is usual: pounds are as near
    assert 'value="put:corrugated:480 g"' in page
    assert 'value="confirm:corrugated"' in page
    assert "in the column confirmed" not in page
    assert "e+0" not in page


def test_doubts_of_a_closed_batch_are_those_of_check(phone: Phone, folder: Path) -> None:
    (folder / "batches.csv").write_text(
        swap(GRAMS, "1010,290,,pva-glue,210,12", "1010,290,,pva-glue,210,12000"), encoding="utf-8"
    )
    document = json.loads(CliRunner().invoke(main, ["check", str(folder), "--json"]).stdout)
    (told,) = [one["message"] for one in document["problems"] if one["column"] == "water"]
    page = phone.get("/batches")
    assert told in page
    assert page.index(">002<") < page.index(">006<")  # the worst first
    page = phone.get("/batches/row?batch=002")
    assert told.removesuffix("Fine if it was so") in page
    mark = re.search(r'name="mark" value="(\w+)"', page)[1]  # type: ignore[index]
    page = phone.does("/batches/row", batch="002", mark=mark, say="confirm:water")
    assert "Confirmed as right: water" in page
    assert (row(folder, "002") or {})["confirmed"] == "water"
    assert CliRunner().invoke(main, ["check", str(folder)]).output.strip() == "no problems found"


def test_close_what_has_to_be_settled_stays_open(phone: Phone, folder: Path) -> None:
    batch = filled(phone, drying="fna 30 h")
    answer = phone.send(f"{batch}/close")
    assert answer.status_code == 409
    assert "has to be settled" in answer.text
    assert "put:drying:fan 30 h" in answer.text
    assert row(folder, "007") is None
    phone.does(f"{batch}/set", say="put:drying:fan 30 h")
    phone.does(f"{batch}/close")
    assert (row(folder, "007") or {})["drying"] == "fan 30 h"


def test_close_what_is_still_to_say_is_named(phone: Phone) -> None:
    batch = phone.opens("pot")
    phone.does(f"{batch}/start", pair="fan > drying")
    answer = phone.send(f"{batch}/close")
    assert answer.status_code == 409
    assert "fan still runs; stop it first" in answer.text
    assert "still to say: binder, good parts" in answer.text


def test_run_shared_by_two_batches_is_split(phone: Phone, folder: Path, clock: Clock) -> None:
    first, second = filled(phone, "A"), filled(phone, "B")
    page = phone.does(f"{first}/start", pair="fan > drying")
    clock.pass_(hours=10)
    phone.does(f"/bench/runs/{run_of(page)}/stop", batch=[key_of(first), key_of(second)])
    page = phone.does(f"{first}/start", pair="fan > drying")
    clock.pass_(minutes=90)
    phone.does(f"/bench/runs/{run_of(page)}/stop", batch=key_of(first))
    for one in (first, second):
        phone.does(f"{one}/close")
    assert (row(folder, "A") or {})["drying"] == "fan 6.5 h"
    assert (row(folder, "B") or {})["drying"] == "fan 10 h / 2"


def test_run_over_midnight_and_a_new_server_is_a_fact_of_the_folder(folder: Path, clock: Clock) -> None:
    batch = (one := phones(folder, clock)[0]).opens("pot")
    one.does(f"{batch}/start", pair="fan > drying")
    clock.pass_(hours=20)
    again = phones(folder, clock)[0]
    page = again.get("/bench")
    assert "20 h 0 min" in page
    page = again.does(f"/bench/runs/{run_of(page)}/stop", batch=key_of(batch), at="2026-12-01T03:30")
    assert "fan 18 h (from the time)" in page


@pytest.mark.parametrize("at", ["2026-11-30T08:00", "2026-12-30T08:00", "soon"])
def test_stop_outside_the_run_is_refused(phone: Phone, clock: Clock, at: str) -> None:
    batch = phone.opens("pot")
    page = phone.does(f"{batch}/start", pair="fan > drying")
    clock.pass_(hours=5)
    answer = phone.send(f"/bench/runs/{run_of(page)}/stop", batch=key_of(batch), at=at)
    assert answer.status_code == 400
    assert "Accepted: a time" in answer.text


def test_meter_goes_before_the_time_and_what_is_typed_before_both(phone: Phone, clock: Clock) -> None:
    batch = filled(phone)
    page = phone.does(f"{batch}/start", pair="fan > drying")
    clock.pass_(hours=10)
    page = phone.does(f"/bench/runs/{run_of(page)}/stop", batch=key_of(batch))
    assert "fan 10 h (from the time)" in page
    page = phone.does(f"{batch}/set", data={"f.meter.drying.before": "12,4", "f.meter.drying.after": "12.885"})
    assert "485 Wh (from the meter)" in page
    page = phone.does(f"{batch}/set", data={"f.drying": "0.5 kWh"})
    assert "(from the" not in page
    assert 'value="0.5 kWh"' in page


def test_meter_that_runs_back_is_told(phone: Phone) -> None:
    batch = filled(phone)
    page = phone.does(f"{batch}/set", data={"f.meter.drying.before": "13", "f.meter.drying.after": "12"})
    assert "a meter does not run back" in page


def test_scale_of_another_unit_changes_no_mass(phone: Phone, folder: Path) -> None:
    batch = filled(phone)
    page = phone.does(f"{batch}/unit", unit="oz")
    assert 'value="1000 g"' in page
    phone.does(f"{batch}/set", data={"f.newsprint": "10.5", "was.newsprint": "300 g"})
    phone.does(f"{batch}/close")
    found = row(folder, "007") or {}
    assert (found["corrugated"], found["newsprint"]) == ("1000 g", "10.5 oz")
    assert load(folder).batches["paper.newsprint_kg"].iloc[-1] == pytest.approx(0.29767, rel=1e-4)


def test_two_phones_count_at_once_and_nothing_is_lost(folder: Path) -> None:
    first, second = phones(folder, how_many=2)
    batch = filled(first)
    for _ in range(5):
        first.does(f"{batch}/count", what="good parts")
        second.does(f"{batch}/count", what="good parts")
    assert re.search(r'count">40<', first.get(batch))


def test_entry_sent_twice_counts_once(phone: Phone, folder: Path) -> None:
    batch = filled(phone)
    for _ in range(3):
        phone.does(f"{batch}/count", what="good parts", key="the-same-key")
    assert re.search(r'count">31<', phone.get(batch))
    for _ in range(2):
        phone.does(f"{batch}/close", key="closing-key")
    assert (folder / "batches.csv").read_text(encoding="utf-8").count("\n007,") == 1


def test_field_that_another_phone_wrote_meanwhile_shows_both(folder: Path) -> None:
    first, second = phones(folder, how_many=2)
    batch = filled(first)
    second.does(
        f"{batch}/set", data={"f.corrugated": "1100", "was.corrugated": "1000", "f.water": "13", "was.water": "12"}
    )
    answer = first.send(
        f"{batch}/set",
        data={"f.corrugated": "1200", "was.corrugated": "1000", "f.newsprint": "310", "was.newsprint": "300"},
    )
    assert answer.status_code == 409
    assert "1100" in answer.text
    assert "1200" in answer.text
    page = first.get(batch)
    assert 'value="1100"' in page
    assert 'value="310"' in page  # what did not clash is kept


def test_row_that_was_edited_meanwhile_shows_both(phone: Phone, folder: Path) -> None:
    page = phone.get("/batches/row?batch=003")
    mark = re.search(r'name="mark" value="(\w+)"', page)[1]  # type: ignore[index]
    (folder / "batches.csv").write_text(GRAMS.replace("990,310", "995,310"), encoding="utf-8")  # in a spreadsheet
    answer = phone.send("/batches/row", batch="003", mark=mark, data={"f.corrugated": "900"})
    assert answer.status_code == 409
    assert "<td>995</td><td>900</td>" in answer.text
    assert (row(folder, "003") or {})["corrugated"] == "995"
    mark = re.search(r'name="mark" value="(\w+)"', answer.text)[1]  # type: ignore[index]
    phone.does("/batches/row", batch="003", mark=mark, data={"f.corrugated": "900"})
    found = row(folder, "003") or {}
    assert found["corrugated"] == "900"
    assert found["notes"] == "b"


def test_edit_take_out_and_undo_keep_the_file(phone: Phone, folder: Path) -> None:
    page = phone.get("/batches/row?batch=003")
    mark = re.search(r'name="mark" value="(\w+)"', page)[1]  # type: ignore[index]
    phone.does("/batches/row", batch="003", mark=mark, data={"f.corrugated": "900", "f.water": ""})
    assert "water" not in (row(folder, "003") or {})
    page = phone.does("/batches/remove", batch="001")
    assert row(folder, "001") is None
    for _ in range(2):
        of = re.findall(r'name="of" value="([^"]+)"', page)[0]
        page = phone.does("/batches/undo", of=of)
    assert (folder / "batches.csv").read_text(encoding="utf-8") == GRAMS


def test_undo_of_closing_opens_the_batch_again(phone: Phone, folder: Path) -> None:
    batch = filled(phone)
    phone.does(f"{batch}/close")
    page = phone.get("/batches")
    page = phone.does("/batches/undo", of=re.findall(r'name="of" value="([^"]+)"', page)[0])
    assert "Taken back: 007 closed" in page
    assert row(folder, "007") is None
    assert 'count">30<' in phone.get(batch)


def test_undo_of_a_row_that_changed_since_is_refused(phone: Phone, folder: Path) -> None:
    phone.does(f"{filled(phone)}/close")
    page = phone.get("/batches")
    of = re.findall(r'name="of" value="([^"]+)"', page)[0]
    text = (folder / "batches.csv").read_text(encoding="utf-8")
    (folder / "batches.csv").write_text(swap(text, "2026-11-30,pot,1000", "2026-11-30,pot,1001"), encoding="utf-8")
    answer = phone.send("/batches/undo", of=of)
    assert answer.status_code == 409
    assert "was changed meanwhile" in answer.text
    assert row(folder, "007") is not None


def test_undo_of_a_tap_and_of_a_field(phone: Phone) -> None:
    batch = filled(phone)
    page = phone.does(f"{batch}/set", data={"f.trim": "40"})
    of = re.findall(r'name="of" value="([^"]+)"', page)
    page = phone.does(f"{batch}/undo", of=of[0])
    assert "Taken back: trim: 40" in page
    page = phone.does(f"{batch}/undo", of=of[1])
    assert re.search(r'count">0<.{0,40}\+1 rejects', page, re.DOTALL)


def test_undo_of_a_stop_and_of_a_start(phone: Phone, clock: Clock) -> None:
    batch = filled(phone)
    page = phone.does(f"{batch}/start", pair="fan > drying")
    clock.pass_(hours=1)
    page = phone.does(f"/bench/runs/{run_of(page)}/stop", batch=key_of(batch))
    page = phone.does(f"{batch}/undo", of=re.findall(r'name="of" value="([^"]+)"', page)[0])
    assert "Taken back: fan stopped" in page
    assert "1 h 0 min" in page
    page = phone.does(f"{batch}/undo", of=re.findall(r'name="of" value="([^"]+)"', page)[0])
    assert "data-running" not in page


def test_last_tap_is_taken_back_on_the_bench(phone: Phone) -> None:
    batch = filled(phone)
    page = phone.get("/bench")
    assert "Take back: +2 rejects" in page
    page = phone.does(f"{batch}/undo", of=re.findall(r'name="of" value="([^"]+)"', page)[0], data={"from": "bench"})
    assert "Open batches" in page
    assert "Take back: +30 good parts" in page


def test_batch_put_away_can_be_taken_back(phone: Phone) -> None:
    batch = filled(phone)
    phone.does(f"{batch}/discard")
    assert phone.send(f"{batch}/count", what="rejects").status_code == 404
    page = phone.get("/batches")
    phone.does("/batches/undo", of=re.findall(r'name="of" value="([^"]+)"', page)[0])
    assert 'count">30<' in phone.get(batch)


def test_file_edited_elsewhere_is_read_again(phone: Phone, folder: Path) -> None:
    assert ">006<" in phone.get("/batches")
    (folder / "batches.csv").write_text(
        GRAMS + "008,2026-11-28,pot,1000,300,,pva-glue,200,12,0,0,30,2\n", encoding="utf-8"
    )
    assert ">008<" in phone.get("/batches")
    assert "009" in phone.get("/bench")


def test_first_batch_of_a_folder_makes_the_table(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "new", workshop=DATED, batches=GRAMS)
    (folder / "batches.csv").unlink()
    phone = phones(folder)[0]
    phone.does(f"{filled(phone)}/close")
    header, first = (folder / "batches.csv").read_text(encoding="utf-8").splitlines()
    assert header.startswith("batch,date,part,corrugated [g]")
    assert first.startswith("001,2026-11-30,pot,1000")
    assert CliRunner().invoke(main, ["check", str(folder)]).exit_code == 0


def test_workbook_is_taken_over_once_and_kept(tmp_path: Path) -> None:
    folder = tmp_path / "made"
    assert CliRunner().invoke(main, ["new", str(folder), "--country", "GBR"]).exit_code == 0
    workbook = (folder / "batches.xlsx").read_bytes()
    phone = phones(folder)[0]
    page = phone.get("/bench")
    assert "Take over batches.xlsx" in page
    assert (folder / "batches.xlsx").exists()  # asked first
    for _ in range(2):
        page = phone.does("/takeover", key="taking-over")
    (kept,) = (folder / "history").glob("*.xlsx")
    assert kept.read_bytes() == workbook
    assert not (folder / "batches.xlsx").exists()
    assert (folder / "batches.csv").read_text(encoding="utf-8").startswith("batch,date,part,corrugated [g]")
    assert "Open a batch" in page


def test_batches_kept_otherwise_are_left_alone(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "bench", workshop=DATED, batches=GRAMS)
    shutil.copy(folder / "batches.csv", folder / "batches.xlsx")
    phone = phones(folder)[0]
    answer = phone.client.get("/bench")
    assert answer.status_code == 409
    assert "only one can be right" in answer.text


NASTY = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>{{ 7*7 }}"


def test_markup_in_every_text_stays_text(phone: Phone, folder: Path) -> None:
    batch = filled(phone, f"N {NASTY}", notes=NASTY, site=NASTY)
    pages = [phone.client.get(path).text for path in ("/bench", batch, "/batches")]
    pages.append(phone.send(f"{batch}/close").text)
    pages.append(phone.client.get("/batches/row", query_string={"batch": f"N {NASTY}"}).text)
    pages.append(phone.send("/bench/open", part=NASTY).text)
    pages.append(phone.send(f"{batch}x{NASTY}/set").text)
    pages.append(phone.client.get("/batches/row", query_string={"batch": NASTY}).text)
    for page in pages:
        assert "<script>alert" not in page
        assert "<img src=x" not in page
        assert "49" not in re.findall(r"\{\{ 7\*7 \}\}|49", page) or "{{ 7*7 }}" in page
    assert (row(folder, f"N {NASTY}") or {})["notes"] == NASTY


@pytest.mark.parametrize("name", ["../../x", "..", "/etc/passwd", "a/../b", "%2e%2e", "C:\\x", "nul\x00l", "a\u202eb"])
def test_name_is_never_a_path(phone: Phone, folder: Path, name: str) -> None:
    before = sorted(path.name for path in folder.parent.rglob("*"))
    answer = phone.send("/bench/open", part="pot", name=name)
    assert answer.status_code in (200, 400)
    assert phone.client.get("/batches/row", query_string={"batch": name}).status_code == 404
    assert phone.send("/takeover", name=name).status_code in (200, 409)
    after = sorted(path.name for path in folder.parent.rglob("*"))
    assert set(after) - set(before) <= {"history", "entries.jsonl", "lock"}


@pytest.mark.parametrize(
    ("path", "fields", "accepted"),
    [
        ("/count", {"what": "good parts", "n": "-3"}, "a whole number"),
        ("/count", {"what": "good parts", "n": "1e3"}, "a whole number"),
        ("/count", {"what": "cost", "n": "1"}, "a whole number"),
        ("/start", {"pair": "oven > drying"}, "blender, fan"),
        ("/start", {"pair": "fan > notes"}, "blender, fan"),
        ("/unit", {"unit": "stone"}, "g, kg, oz, lb"),
        ("/set", {"say": "put:history:x"}, "Open the page again"),
        ("/set", {"say": "burn:water"}, "Open the page again"),
        ("/set", {"f.notes": "x" * 3000}, "longer than"),
        ("/undo", {"of": "no such"}, "no such entry"),
    ],
)
def test_what_no_page_sends_is_refused_in_words(phone: Phone, path: str, fields: dict[str, str], accepted: str) -> None:
    batch = phone.opens("pot")
    answer = phone.send(f"{batch}{path}", data=fields)
    assert answer.status_code in (400, 404)
    assert accepted in answer.text
    assert "Traceback" not in answer.text


@pytest.mark.parametrize("key", ["short", "with space!!", "x" * 65, "../../../etc"])
def test_entry_without_a_key_of_its_own_is_refused(phone: Phone, key: str) -> None:
    batch = phone.opens("pot")
    assert phone.send(f"{batch}/count", what="rejects", key=key).status_code == 400


def test_demo_is_listed_with_its_months(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    shutil.copytree(DEMO, folder)
    page = phones(folder)[0].get("/batches")
    assert page.count('class="cell"') == 80
    assert "September 2026" in page


def test_records_with_a_fault_are_listed_and_mended(phone: Phone, folder: Path) -> None:
    (folder / "batches.csv").write_text(swap(GRAMS, "004,2026-11-20,pot", "004,2026-11-20,pott"), encoding="utf-8")
    page = phone.get("/batches")
    assert "To settle" in page
    assert page.index(">004<") < page.index(">006<")
    page = phone.get("/batches/row?batch=004")
    mark = re.search(r'name="mark" value="(\w+)"', page)[1]  # type: ignore[index]
    phone.does("/batches/row", batch="004", mark=mark, say="put:part:pot")
    assert (folder / "batches.csv").read_text(encoding="utf-8") == GRAMS


def test_doubt_about_an_open_batch_is_confirmed_and_kept(phone: Phone, folder: Path) -> None:
    batch = filled(phone, water="120")
    page = phone.get(batch)
    assert 'To look at: <a href="#f-water">water</a>.' in page
    page = phone.does(f"{batch}/set", say="confirm:water")
    assert "Doubted" not in page
    phone.does(f"{batch}/close")
    assert (row(folder, "007") or {})["confirmed"] == "water"
    assert CliRunner().invoke(main, ["check", str(folder)]).output.strip() == "no problems found"


def test_table_that_cannot_be_written_is_written_later(
    phone: Phone, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    batch = filled(phone)

    def held(*_: object, **__: object) -> None:
        raise OutputError("batches.csv cannot be written: a spreadsheet holds it")

    with monkeypatch.context() as patched:
        patched.setattr(journal, "write", held)
        answer = phone.send(f"{batch}/close")
        assert answer.status_code == 507
        assert "kept in the journal" in answer.text
        assert "kept in the journal" in phone.get("/bench")
    assert row(folder, "007") is None
    assert ">007<" in phone.get("/batches")
    assert row(folder, "007") is not None


def test_journal_that_cannot_be_written_keeps_nothing_and_lets_the_phone_wait(
    phone: Phone, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    batch = filled(phone)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        assert phone.send(f"{batch}/count", what="rejects", key="counted-late").status_code == 503
    phone.does(f"{batch}/count", what="rejects", key="counted-late")
    assert re.search(r'count">3<.{0,40}\+1 rejects', phone.get(batch), re.DOTALL)


def test_takeover_stopped_before_the_workbook_is_away_is_finished(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "made"
    assert CliRunner().invoke(main, ["new", str(folder), "--country", "GBR"]).exit_code == 0
    phone = phones(folder)[0]

    def cut(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(Path, "rename", cut)
        with pytest.raises(KeyboardInterrupt):
            phone.send("/takeover")
    assert (folder / "batches.xlsx").exists()
    assert (folder / "batches.csv").exists()
    assert "Open a batch" in phones(folder)[0].get("/bench")
    assert not (folder / "batches.xlsx").exists()
    assert len(list((folder / "history").glob("batches-*.xlsx"))) == 1


def test_row_without_a_name_gets_one(phone: Phone, folder: Path) -> None:
    (folder / "batches.csv").write_text(swap(GRAMS, "005,2026", ",2026"), encoding="utf-8")
    page = phone.get("/batches")
    assert "without a name" in page
    page = phone.get("/batches/row?batch=")
    mark = re.search(r'name="mark" value="(\w+)"', page)[1]  # type: ignore[index]
    phone.does("/batches/row", batch="", mark=mark, data={"f.batch": "005"})
    assert (folder / "batches.csv").read_text(encoding="utf-8") == GRAMS
