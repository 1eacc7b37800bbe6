"""The journal and the table of the pages: what is entered once is there once, whatever ends the program in between."""

from __future__ import annotations

import csv
import io
import os
import random
import sys
from collections.abc import Callable
from pathlib import Path
from types import FrameType

import pytest

from impact.base.catalogue import read_names
from impact.browser.journal import Change, ChangedError, Entry, Journal
from impact.browser.logtable import TableError, new_table, parsed, read_table

NAMES = read_names()
HEADER = "my note;date;batch;part;corrugated (g);Wasser [L];good parts"
ROWS = 'x;2026-01-05;A1;pot;900;12;30\r\n\r\n;2026-01-06;A2;"po""t; two";800;;28\r\n'
TEXT = f"{HEADER}\r\n{ROWS}"


class KilledError(BaseException):
    """Ends the work at a step, as a power cut would."""


def journal_of(folder: Path) -> Journal:
    (folder / "history").mkdir(exist_ok=True)
    return Journal(folder, lambda: read_table(folder / "batches.csv", NAMES, None))


def folder_of(path: Path, text: str = TEXT) -> Path:
    path.mkdir(exist_ok=True)
    (path / "batches.csv").write_bytes(text.encode())
    return path


def entry(key: str, name: str, cells: dict[str, str] | None, before: dict[str, str] | None = None) -> Entry:
    return Entry(key, "2026-11-30T09:30:00", "edit", name, change=Change(name, before, cells))


def rows_of(folder: Path, delimiter: str = ";") -> list[list[str]]:
    text = (folder / "batches.csv").read_bytes().decode()
    return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("end", ["\r\n", "\n"])
@pytest.mark.parametrize("delimiter", [";", ",", "\t"])
def test_table_that_is_not_changed_keeps_its_bytes(tmp_path: Path, codec: str, end: str, delimiter: str) -> None:
    text = TEXT.replace("\r\n", end).replace(";", delimiter).replace("x", "é")
    path = tmp_path / "batches.csv"
    path.write_bytes(text.encode(codec))
    table = read_table(path, NAMES, None)
    assert table.content() == text.encode(codec)
    assert table.names[1:5] == ["date", "batch", "part", "corrugated"]
    assert table.unit("corrugated") == "g"


def test_table_changed_row_leaves_the_others_byte_by_byte() -> None:
    table = parsed(TEXT, NAMES)
    cells = table.cells_of("A2")
    assert cells is not None
    table.put("A2", {**cells, "corrugated": "1,5 kg"})
    first, second, third, fourth = TEXT.splitlines(keepends=True)
    assert table.content().decode() == first + second + third + fourth.replace("800", "1,5 kg")


def test_table_own_columns_their_order_and_units_are_kept_by_a_new_row() -> None:
    table = parsed(TEXT, NAMES)
    table.put("A3", {"batch": "A3", "date": "2026-01-07", "corrugated": "700"})
    assert table.content().decode() == TEXT + ";2026-01-07;A3;;700;;\r\n"


def test_table_column_that_it_lacks_is_added_at_the_right() -> None:
    table = parsed(TEXT.replace("\r\n", "\n").removesuffix("\n"), NAMES)
    table.put("A3", {"batch": "A3", "confirmed": "corrugated"})
    rows = list(csv.reader(io.StringIO(table.content().decode()), delimiter=";"))
    assert rows[0] == [*HEADER.split(";"), "confirmed"]
    assert [len(row) for row in rows] == [8, 8, 0, 8, 8]
    assert parsed(table.content().decode(), NAMES).cells_of("A3") == {"batch": "A3", "confirmed": "corrugated"}


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "@SUM(A1)", "-x"])
def test_table_text_is_no_formula_and_reads_as_it_was(text: str) -> None:
    table = parsed("batch,notes\n", NAMES)
    table.put("A1", {"batch": "A1", "notes": text})
    assert table.content().decode() == f"batch,notes\nA1, {text}\n"
    assert parsed(table.content().decode(), NAMES).cells_of("A1") == {"batch": "A1", "notes": text}


def test_table_letter_that_its_encoding_lacks_is_refused_in_words(tmp_path: Path) -> None:
    path = tmp_path / "batches.csv"
    path.write_bytes("batch;notes\nA1;é\n".encode("cp1252"))
    table = read_table(path, NAMES, None)
    table.put("A2", {"batch": "A2", "notes": "紙"})
    with pytest.raises(TableError, match=r"cannot stand in batches\.csv.*UTF-8"):
        table.content()


@pytest.mark.parametrize("text", ["", "\n\nbatch\n", "  \n"])
def test_table_without_a_header_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "batches.csv"
    path.write_text(text)
    with pytest.raises(TableError):
        read_table(path, NAMES, None)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_new_table_has_the_columns_of_a_new_log(units: str) -> None:
    table = new_table(NAMES, units)
    assert table.unit("corrugated") == {"metric": "g", "us": "oz"}[units]
    assert table.batches() == []


def test_add_entry_sent_twice_counts_once(tmp_path: Path) -> None:
    journal = journal_of(folder_of(tmp_path / "w"))
    one = entry("k1", "A3", {"batch": "A3"})
    assert journal.add(one)
    content = (tmp_path / "w" / "batches.csv").read_bytes()
    assert not journal.add(one)
    assert not journal_of(tmp_path / "w").add(one)
    assert (tmp_path / "w" / "batches.csv").read_bytes() == content


def test_add_row_that_changed_meanwhile_is_not_written_over(tmp_path: Path) -> None:
    folder = folder_of(tmp_path / "w")
    journal = journal_of(folder)
    before = read_table(folder / "batches.csv", NAMES, None).cells_of("A1")
    (folder / "batches.csv").write_bytes(TEXT.replace("900", "901").encode())  # in a spreadsheet
    with pytest.raises(ChangedError) as raised:
        journal.add(entry("k1", "A1", {"batch": "A1"}, before))
    assert raised.value.now is not None
    assert raised.value.now["corrugated"] == "901"
    assert not journal.path.exists()


def test_undone_entry_gives_the_row_back_in_its_place(tmp_path: Path) -> None:
    folder = folder_of(tmp_path / "w")
    journal = journal_of(folder)
    table = read_table(folder / "batches.csv", NAMES, None)
    out = Change("A1", table.cells_of("A1"), None, table.row_of("A1"))
    journal.add(Entry("k1", "t", "remove", "A1", change=out))
    assert "A1" not in (folder / "batches.csv").read_text()
    journal.add(Entry("k2", "t", "undo", "k1", change=out.reversed))
    assert (folder / "batches.csv").read_bytes() == TEXT.encode()
    assert [one.key for one in journal.standing()] == []


def test_two_journals_of_one_folder_see_each_other(tmp_path: Path) -> None:
    folder = folder_of(tmp_path / "w")
    first, second = journal_of(folder), journal_of(folder)
    for number in range(6):
        (first, second)[number % 2].add(entry(f"k{number}", f"B{number}", {"batch": f"B{number}"}))
    assert [row[2] for row in rows_of(folder)[4:]] == [f"B{number}" for number in range(6)]
    assert len(first.entries) == 5
    first.read()
    assert len(first.entries) == 6


def test_torn_line_is_passed_over_and_the_next_entry_stands(tmp_path: Path) -> None:
    folder = folder_of(tmp_path / "w")
    journal = journal_of(folder)
    journal.add(entry("k1", "B1", {"batch": "B1"}))
    with journal.path.open("ab") as stream:
        stream.write(b'{"key": "k2", "at": "t", "ki')
    again = journal_of(folder)
    again.add(entry("k3", "B3", {"batch": "B3"}))
    fresh = journal_of(folder)
    fresh.read()
    assert [one.key for one in fresh.entries] == ["k1", "k3"]


@pytest.mark.parametrize(
    "line", [b"[]", b"null", b'{"key": 3}', b"\xff\xfe", b'{"done": 1}', b'{"key":"a","at":"b","kind":"c","x":1}']
)
def test_line_of_another_hand_is_passed_over(tmp_path: Path, line: bytes) -> None:
    journal = journal_of(folder_of(tmp_path / "w"))
    journal.path.write_bytes(line + b"\n")
    journal.add(entry("k1", "B1", {"batch": "B1"}))
    assert [one.key for one in journal.entries] == ["k1"]


def steps(work: Callable[[], object], moment: int) -> int:
    """Do the work until it is killed at a step: a call within the modules that write, or one further down; return the steps."""
    watched = ("impact.browser.journal", "impact.browser.logtable", "impact.base.files")
    seen = 0

    def step(frame: FrameType, event: str, argument: object) -> None:
        nonlocal seen
        if any(one.f_globals.get("__name__") in watched for one in (frame, frame.f_back) if one is not None):
            seen += 1
            if seen > moment:
                sys.setprofile(None)
                raise KilledError

    sys.setprofile(step)
    try:
        work()
    except KilledError:
        pass
    finally:
        sys.setprofile(None)
    return seen


def killed_once(folder: Path, moment: int, sent: Entry) -> bool:
    """Let a program be killed in the middle of an entry, and the next one take over; return whether it was killed."""
    killed = steps(lambda: journal_of(folder).add(sent), moment) > moment
    after = journal_of(folder)
    after.repair()
    stood = sent.key in after.keys
    assert (read_table(folder / "batches.csv", NAMES, None).cells_of(sent.about) is not None) == stood
    after.add(sent)  # the phone that got no answer sends it again
    return killed


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning", "ignore::ResourceWarning")
def test_killed_in_the_middle_of_saving_loses_nothing_and_doubles_nothing(tmp_path: Path) -> None:
    folder = folder_of(tmp_path / "w")
    whole = steps(lambda: journal_of(folder).add(entry("key0", "B0", {"batch": "B0"})), 10**9)
    draw = random.Random(20261130)
    killed = 0
    for number in range(1, 101):
        name = f"B{number}"
        killed += killed_once(folder, draw.randrange(whole), entry(f"key{number}", name, {"batch": name}))
    assert killed > 90
    rows = rows_of(folder)
    assert rows[:4] == list(csv.reader(io.StringIO(TEXT, newline=""), delimiter=";"))
    assert [row[2] for row in rows[4:]] == [f"B{number}" for number in range(101)]
    assert len(journal_of(folder).repair()) == 0


def test_killed_before_the_table_is_written_at_the_next_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = folder_of(tmp_path / "w")

    def cut(*_: object) -> None:
        raise KilledError

    with monkeypatch.context() as patched:
        patched.setattr(os, "replace", cut)
        patched.setattr(Path, "replace", cut)
        with pytest.raises(KilledError):
            journal_of(folder).add(entry("k1", "B1", {"batch": "B1"}))
    assert "B1" not in (folder / "batches.csv").read_text()
    assert [one.key for one in journal_of(folder).repair()] == ["k1"]
    assert "B1" in (folder / "batches.csv").read_text()


def test_repair_leaves_what_a_spreadsheet_did_since(tmp_path: Path) -> None:
    folder = folder_of(tmp_path / "w")
    journal = journal_of(folder)
    before = read_table(folder / "batches.csv", NAMES, None).cells_of("A1")
    assert before is not None
    waiting = entry("k1", "A1", {**before, "corrugated": "950"}, before)
    journal._append(waiting.line())  # the program was stopped here
    (folder / "batches.csv").write_bytes(TEXT.replace("900", "901").encode())
    assert journal_of(folder).repair() == []
    assert "901" in (folder / "batches.csv").read_text()


def test_full_disk_is_told_and_the_table_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = folder_of(tmp_path / "w")
    journal = journal_of(folder)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        journal.add(entry("k1", "B1", {"batch": "B1"}))
    assert (folder / "batches.csv").read_bytes() == TEXT.encode()
