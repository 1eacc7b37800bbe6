"""Settings in the browser: changed where they stand, read before they are written; a new folder by ten questions."""

from __future__ import annotations

import csv
import re
import tomllib
from datetime import date
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from impact.api import load
from impact.base.catalogue import read_names
from impact.browser.setup.asked import QUESTIONS
from impact.browser.setup.fields import sections, split, value_of
from impact.browser.setup.partlist import PartsText
from impact.browser.setup.tomltext import Change, NoChangeError, changed
from impact.browser.setup.writer import save
from impact.cli.commands import main
from impact.records.new import Starter, settings_text
from impact.records.workshop import Workshop
from impact.records.workshop_keys import settings_of
from tests.folders import PARTS, TOML, swap, write_folder
from tests.pages import Phone, phones

NAMES = read_names()
START = settings_text(Starter("Bench", "USA", "a test"), NAMES)
TODAY = date(2026, 4, 2)
NASTY = '<script>alert(1)</script>"; rm = "\\" ../../etc/passwd {{ 7*7 }}'


def lines_changed(before: str, after: str) -> tuple[list[str], list[str]]:
    """Return the lines that are gone, and those that are new."""
    old, new = before.splitlines(), after.splitlines()
    return [line for line in old if line not in new], [line for line in new if line not in old]


# -- the text of the settings ----------------------------------------------------------------------------------------


def test_changed_value_keeps_its_comment_and_every_other_line() -> None:
    gone, new = lines_changed(START, changed(START, [Change(("equipment", "blender", "power"), "650 W")]))
    assert gone == ['power = "700 W"  # an example; from the rating plate']
    assert new == ['power = "650 W"  # an example; from the rating plate']


def test_changed_new_key_stands_behind_the_last_of_its_table() -> None:
    text = changed(START, [Change(("workshop", "part_moisture"), "6 %")])
    lines = text.splitlines()
    assert lines[lines.index('part_moisture = "6 %"') - 1].startswith("currency")
    assert lines_changed(START, text) == ([], ['part_moisture = "6 %"'])


def test_changed_new_table_stands_behind_the_notes_of_its_kin() -> None:
    text = changed(
        START, [Change(("equipment", "fan", "power"), "45 W"), Change(("equipment", "fan", "metered"), True)]
    )
    where = text.index("[equipment.fan]")
    assert (
        text.index("# metered = true  # if the power was measured") < where < text.index("# One table for each mould")
    )
    assert lines_changed(START, text) == ([], ["[equipment.fan]", 'power = "45 W"', "metered = true"])


def test_changed_table_taken_away_leaves_the_notes_of_its_neighbours() -> None:
    text = changed(START, [Change(("equipment", "blender"), None), Change(("workshop", "invented"), None)])
    gone, new = lines_changed(START, text)
    assert (new, len(gone)) == ([], 4)
    assert "# One table for each mould; parts.csv names them." in text
    assert "equipment" not in tomllib.loads(text)


def test_changed_tables_of_a_list_are_added_and_taken_away() -> None:
    two = changed(START, [Change(("grants", str(n), key), value) for n in (1, 2) for key, value in (("name", f"G{n}"), ("start", date(2026, n, 1)))])  # fmt: skip
    assert [grant["name"] for grant in tomllib.loads(two)["grants"]] == ["G1", "G2"]
    one = changed(two, [Change(("grants", "1"), None)])
    assert tomllib.loads(one)["grants"] == [{"name": "G2", "start": date(2026, 2, 1)}]


def test_changed_last_key_of_a_table_takes_the_table_along() -> None:
    with_one = changed(START, [Change(("end_of_life", "landfill"), "100 %")])
    assert "end_of_life" not in tomllib.loads(changed(with_one, [Change(("end_of_life", "landfill"), None)]))


@pytest.mark.parametrize("text", ["a = [\n 1,\n 2,\n]\n", 't = """\n[x]\ny = 1\n"""\n', "[x]\ny.z = 1\n"])
def test_changed_text_of_any_shape_holds_what_is_asked_and_no_less(text: str) -> None:
    found = changed(text, [Change(("new", "key"), NASTY), Change(("new", "02"), 1), Change(("other", "2", "x"), 1)])
    assert tomllib.loads(found) == {**tomllib.loads(text), "new": {"key": NASTY, "02": 1}, "other": {"2": {"x": 1}}}


@settings(max_examples=25)
@given(
    st.lists(
        st.tuples(
            st.sampled_from([("workshop", "name"), ("moulds", "a b", "mass"), ("equipment", "blender", "load"), ("fates", "office", "evidence")]),
            st.one_of(st.none(), st.booleans(), st.integers(0, 9), st.text(max_size=20)),
        ),
        max_size=6,
    )
)  # fmt: skip
def test_changed_drawn_changes_hold_each_what_was_asked_last(changes: list[tuple[tuple[str, ...], Any]]) -> None:
    text = changed(TOML, [Change(path, value) for path, value in changes])
    found = tomllib.loads(text)
    for path, value in dict(changes).items():
        place: Any = found
        for step in path:
            place = place.get(step) if isinstance(place, dict) else None
        assert place == value


def test_changed_broken_text_is_refused_in_one_line() -> None:
    with pytest.raises(NoChangeError, match=r"workshop.toml cannot be changed here"):
        changed("[workshop\n", [Change(("workshop", "name"), "x")])


# -- the list of parts -----------------------------------------------------------------------------------------------


def test_parts_row_changes_and_others_stay(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "w")
    content = PartsText.of(folder).with_part("tray", {"mass": "60 g", "displacement": "50 %"}).decode()
    assert content.splitlines()[1] == PARTS.splitlines()[1]
    assert content.splitlines()[2] == "tray,pot,60 g,120 cm3,6 months,,PP,thermoforming,,2 years,same-volume,50 %"


def test_parts_with_semicolons_and_own_headers_keep_them(tmp_path: Path) -> None:
    odd = PARTS.replace(",", ";").replace("part;mould", "Pieza;mold", 1)
    folder = write_folder(tmp_path / "w", parts=odd)
    content = PartsText.of(folder).with_part("new one", {"mould": "pot", "mass": "1 g"}).decode()
    assert content.splitlines()[0] == odd.splitlines()[0]
    assert content.splitlines()[-1].startswith("new one;pot;1 g;")
    assert PartsText.of(folder).with_part("pot", None).decode().splitlines()[1] == odd.splitlines()[2]


# -- read before it is written ---------------------------------------------------------------------------------------


def test_save_what_the_readers_refuse_is_not_written(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "w")
    saved = save(folder, {"workshop.toml": swap(TOML, "700 W", "700").encode()}, today=TODAY)
    assert [problem.code for problem in saved.problems] == ["missing-unit"]
    assert not saved.written
    assert (folder / "workshop.toml").read_text() == TOML


def test_save_a_device_that_batches_name_cannot_go(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "w")
    text = changed(TOML, [Change(("equipment", "fan"), None)])
    saved = save(folder, {"workshop.toml": text.encode()}, today=TODAY)
    assert {problem.file for problem in saved.problems} == {"batches.csv"}
    assert not saved.written


def test_save_old_faults_elsewhere_do_not_stand_in_the_way(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "w", batches=None)
    assert save(folder, {"workshop.toml": swap(TOML, "700 W", "650 W").encode()}, today=TODAY).written
    assert "650 W" in (folder / "workshop.toml").read_text()


# -- forms -----------------------------------------------------------------------------------------------------------


def test_sections_hold_every_setting_of_the_classes_once() -> None:
    found = {(section.key, field.key) for section in sections(NAMES, us=False, moulds=[]) for field in section.fields}
    for setting in settings_of(Workshop):
        keys = [(setting.path[0], one.path[-1]) for one in settings_of(setting.table)] if setting.table else []
        assert set(keys or ([setting.path] if len(setting.path) == 2 else [])) <= found


def test_fields_what_stands_in_the_file_comes_back_as_it_was() -> None:
    fields = {
        (section.key, one.key): one for section in sections(NAMES, us=False, moulds=["pot"]) for one in section.fields
    }
    content = tomllib.loads(TOML)
    for (table, key), field in fields.items():
        stands = content.get(table, {})
        if isinstance(stands, dict) and key in stands and not isinstance(stands[key], dict):
            again = value_of(field, *split(field, stands[key]))
            assert split(field, again) == split(field, stands[key]), (table, key)


# -- the page --------------------------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_folder(tmp_path / "w", workshop="# mine\n" + TOML.replace("date = 2026-04-01\n", ""))


@pytest.fixture
def phone(folder: Path) -> Phone:
    return phones(folder)[0]


def filled(page: str, form: int = 0) -> dict[str, str]:
    """Return what a form of a page would send as it stands."""
    body = re.findall(r'<form method="post".*?</form>', page, re.DOTALL)[form]
    found = {}
    for tag, name in re.findall(r'(<input [^>]*name="([^"]*)"[^>]*>)', body):
        value = re.search(r'value="([^"]*)"', tag)
        if 'type="checkbox"' not in tag:
            found[name] = unescape(value[1]) if value else ""
    for name, options in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', body, re.DOTALL):
        chosen = re.search(r'<option(?: value="([^"]*)")? selected>([^<]*)', options)
        found[name] = (chosen[1] if chosen[1] is not None else chosen[2]) if chosen else ""
    found |= {
        name: unescape(text)
        for name, text in re.findall(r'<textarea[^>]*name="([^"]*)"[^>]*>(.*?)</textarea>', body, re.DOTALL)
    }
    return {name: text for name, text in found.items() if name not in ("token", "key")}


def test_set_up_saved_as_it_stands_changes_no_byte(phone: Phone, folder: Path) -> None:
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    for key in ("workshop", "equipment", "moulds", "parts", "fates", "end_of_life", "drying", "binders", "targets"):
        answer = phone.client.get(f"/setup/{key}").text
        assert phone.does(f"/setup/{key}", data=filled(answer)) != ""
    assert {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()} == before


def test_set_up_a_device_is_added_mended_and_taken_away(phone: Phone, folder: Path) -> None:
    added = {"new": "1", "name": "press", "v.power": "1.2", "u.power": "kW", "v.metered": "yes", "do": "save"}
    assert "Saved." in phone.does("/setup/equipment", data=added)
    assert tomllib.loads((folder / "workshop.toml").read_text())["equipment"]["press"] == {
        "power": "1.2 kW",
        "metered": True,
    }
    assert phone.send("/setup/equipment", data=added).status_code == 422
    gone = {"name": "press", "do": "remove"}
    assert "Taken away." in phone.does("/setup/equipment", data=gone)
    assert (folder / "workshop.toml").read_text() == "# mine\n" + TOML.replace("date = 2026-04-01\n", "")


def test_set_up_a_refused_value_comes_back_with_its_fault_at_the_field(phone: Phone, folder: Path) -> None:
    before = (folder / "workshop.toml").read_bytes()
    typed = {**filled(phone.client.get("/setup/moulds").text), "v.mass": "31,0,0", "do": "save"}
    answer = phone.send("/setup/moulds", data=typed)
    assert answer.status_code == 422
    assert 'value="31,0,0"' in answer.text
    assert re.search(r'value="31,0,0"[^>]*aria-invalid="true"', answer.text)
    assert (folder / "workshop.toml").read_bytes() == before


def test_set_up_an_amount_that_looks_unlikely_is_asked_about_and_confirmed(phone: Phone, folder: Path) -> None:
    typed = {**filled(phone.client.get("/setup/moulds").text), "v.mass": "31", "u.mass": "kg", "do": "save"}
    answer = phone.send("/setup/moulds", data=typed)
    assert answer.status_code == 422
    assert 'name="confirm" value="moulds.pot.mass"' in answer.text
    assert "Saved." in phone.does("/setup/moulds", data={**typed, "confirm": "moulds.pot.mass"})
    assert tomllib.loads((folder / "workshop.toml").read_text())["workshop"]["confirmed"] == ["moulds.pot.mass"]


def test_set_up_shares_that_do_not_add_up_are_refused(phone: Phone) -> None:
    answer = phone.send("/setup/end_of_life", data={"v.landfill": "50", "v.composting": "40"})
    assert answer.status_code == 422
    assert "the shares add up to 0.9" in answer.text


def test_set_up_a_part_is_changed_in_its_row(phone: Phone, folder: Path) -> None:
    typed = {**filled(phone.client.get("/setup/parts").text), "v.mass": "39", "do": "save"}
    assert "Saved." in phone.does("/setup/parts", data=typed)
    assert [row["mass"] for row in csv.DictReader((folder / "parts.csv").read_text().splitlines())] == ["39 g", "55 g"]


def test_set_up_grants_are_tables_of_a_list(phone: Phone, folder: Path) -> None:
    new = {"new": "1", "v.name": NASTY, "v.start": "2026-01-01", "v.end": "2026-12-31", "v.share": "50"}
    page = phone.client.post("/setup/grants", data={"token": phone.form, **new}, follow_redirects=True).text
    assert "<script>alert" not in page
    (grant,) = tomllib.loads((folder / "workshop.toml").read_text())["grants"]
    assert grant == {
        "name": " ".join(NASTY.split()),
        "start": date(2026, 1, 1),
        "end": date(2026, 12, 31),
        "share": "50 %",
    }


@pytest.mark.parametrize(
    ("key", "sent"),
    [
        ("nothing", {}),
        ("equipment", {"new": "1", "name": "../../etc", "v.power": "1", "u.power": "W"}),
        ("equipment", {"new": "1", "name": "a\nb = 1", "v.power": "1", "u.power": 'W"\n[x]'}),
        ("equipment", {"name": "not there", "v.power": "1", "u.power": "W"}),
        ("fates", {"new": "1", "name": "no grade", "v.landfill": "100"}),
        ("workshop", {"v.name": "", "v.country": NASTY}),
        ("parts", {"new": "1", "name": NASTY, "v.mould": "pot"}),
        ("report", {"v.logo": "../../etc/passwd", "v.logo_text": "x"}),
        ("editions", {"k": "GBR", "v": NASTY * 100}),
    ],
)  # fmt: skip
def test_set_up_hostile_posts_are_refused_plainly_or_kept_as_text(
    phone: Phone, folder: Path, key: str, sent: dict[str, str]
) -> None:
    before = tomllib.loads((folder / "workshop.toml").read_text())
    answer = phone.send(f"/setup/{key}", data=sent)
    assert answer.status_code in (200, 404, 409, 422)
    assert "<script>alert" not in answer.text
    assert "Traceback" not in answer.text
    after = tomllib.loads((folder / "workshop.toml").read_text())
    assert after == before or (key == "editions" and after["editions"]["GBR"] == NASTY * 100)
    assert sorted(path.name for path in folder.parent.iterdir()) == ["w"]


def test_set_up_without_the_token_of_the_form_is_refused(phone: Phone) -> None:
    assert phone.client.post("/setup/workshop", data={"v.name": "x"}).status_code == 403


# -- ten questions ---------------------------------------------------------------------------------------------------


def answered(phone: Phone, **answers: dict[str, str]) -> str:
    """Answer all questions, by default as they stand; return the page that follows."""
    page = ""
    for number, question in enumerate(QUESTIONS, 1):
        page = phone.get(f"/begin/{number}")
        page = phone.does(f"/begin/{number}", data={**filled(page), **answers.get(question.name, {}), "do": "next"})
    return page


def test_questions_are_ten_and_each_says_why() -> None:
    assert len(QUESTIONS) == 10
    assert all(question.why and question.title for question in QUESTIONS)


def test_questions_make_a_folder_that_check_takes_but_for_batches(tmp_path: Path) -> None:
    folder = tmp_path / "new"
    (phone,) = phones(folder)
    assert "A new workshop" in phone.get("/")
    page = answered(
        phone, where={"v.name": 'Ana\'s "bench"', "v.country": "DEU"}, part={"v.name": "clip", "v.mass": "12.5"},
        plastic={"v.stands": "weighed", "v.plastic mass": "9"}, mould={"v.material": "aluminium"},
        drying={"v.dryer": "fan", "v.name": "fan", "v.power": "45"},
        paper={"v.known": "known", "v.grade": "corrugated", "v.landfill": "30", "v.recycling": "70"},
    )  # fmt: skip
    assert "one open batch" in page
    assert "Still defaults" in page
    assert "001" in page
    assert "clip" in page
    said = CliRunner().invoke(main, ["check", str(folder)])
    assert said.output.splitlines() == [
        "error: batches.csv, row 1: there are no batches yet. Accepted: one row per batch.",
        "1 error, 0 warnings",
    ]
    found = tomllib.loads((folder / "workshop.toml").read_text())
    assert found["workshop"] == {"name": 'Ana\'s "bench"', "country": "DEU", "units": "metric", "currency": "EUR"}
    assert found["fates"] == {"corrugated": {"landfill": "30 %", "recycling": "70 %"}}
    assert list(found["equipment"]) == ["blender", "fan"]
    assert "# a default of the first questions" in (folder / "workshop.toml").read_text()
    (part,) = csv.DictReader((folder / "parts.csv").read_text().splitlines())
    assert (part["part"], part["mass"], part["plastic mass"], part["equivalence"]) == (
        "clip",
        "12.5 g",
        "9 g",
        "measured",
    )


def test_questions_a_batch_closed_after_them_gives_figures(tmp_path: Path) -> None:
    folder = tmp_path / "new"
    (phone,) = phones(folder)
    page = answered(phone, where={"v.country": "GBR"}, purpose={"v.purpose": "trial"})
    (batch,) = set(re.findall(r"/bench/[\w-]{12,}(?=\")", page))
    phone.sets(batch, corrugated="700", binder__mass="50")
    phone.does(f"{batch}/count", what="good parts", n="11")
    phone.does(f"{batch}/count", what="rejects", n="1")
    phone.does(f"{batch}/close")
    assert load(folder).assess(draws=10).batches == 1
    assert "0.7 kg" in phone.get("/figures").replace("\u00a0", " ").replace("700 g", "0.7 kg")
    assert "Invented data" in phone.get("/figures")


def test_questions_go_back_keep_answers_and_refuse_what_cannot_be(tmp_path: Path) -> None:
    (phone, other) = phones(tmp_path / "new", how_many=2)
    phone.does("/begin/1", data={**filled(phone.get("/begin/1")), "v.country": "GBR", "do": "next"})
    answer = phone.send("/begin/2", data={"v.name": "a.b", "v.mass": "twelve", "u.mass": "g", "do": "next"})
    assert answer.status_code == 422
    assert "without a point" in answer.text
    answer = phone.send("/begin/2", data={"v.name": "clip", "v.mass": "twelve", "u.mass": "g", "v.service life": "1", "u.service life": "years", "do": "next"})  # fmt: skip
    assert answer.status_code == 422
    assert "this is no number" in answer.text
    page = phone.does("/begin/2", data={"v.name": "clip", "v.mass": "twelve", "u.mass": "g", "do": "back"})
    assert "Question 1 of 10" in page
    assert 'value="GBR" selected' in other.get("/begin/1")
    assert not (tmp_path / "new").exists()


def test_questions_a_folder_that_holds_something_else_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "new").mkdir()
    (tmp_path / "new" / "letter.txt").write_text("dear all")
    (phone,) = phones(tmp_path / "new")
    answer = phone.client.get("/begin", follow_redirects=True)
    assert answer.status_code == 409
    assert "holds files already" in answer.text
