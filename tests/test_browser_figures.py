"""Figures, what if and reports in the browser: the figures of the report, of `totals`, of `explain`, to the digit."""

from __future__ import annotations

import io
import json
import re
import tomllib
from html import unescape
from pathlib import Path
from urllib.parse import parse_qs, quote, urlsplit

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient

from impact.api import load
from impact.base.figurenames import leaves
from impact.browser.reports import EXTENSION, LARGEST_PDF
from impact.cli.commands import main
from impact.decisions.supposed import Supposed, standing, suppose
from impact.records.demonstration import copy_demo
from impact.report import verification
from impact.report.funder.decisions import KnownSteps, decisions
from impact.report.proof.figures import Agreement, Disagreement
from impact.report.request import Request
from impact.report.verification import Verification
from tests.folders import BATCHES, TOML, swap, write_folder
from tests.pages import Phone, phones
from tests.reading import figures_on
from tests.reports import plain_html_of

GRANTS = '\n[[grants]]\nname = "City & Fund"\nstart = 2026-01-01\nend = 2026-01-10\nshare = 0.5\n'
MARKED = re.compile(r'<(span|a)[^>]* id="(f\.[^"]*)"[^>]*>(.*?)</\1>', re.DOTALL)


def figures_in(page: str) -> dict[str, list[str]]:
    """Return every text that is tied to a name, by the names."""
    found: dict[str, list[str]] = {}
    for _, name, text in MARKED.findall(page):
        plain = " ".join(unescape(re.sub(r"<[^>]*>", "", text)).replace("\u00a0", " ").split())
        found.setdefault(name.partition("~")[0], []).append(plain)
    return found


def first_page_of(page: str) -> dict[str, list[str]]:
    """Return every text of each figure on the first page of a report, without its charts, as `figures_in`."""
    found: dict[str, list[str]] = {}
    for name, text in figures_on(page[page.index('<div id="summary">') :]):
        found.setdefault(f"f.{quote(name, safe='-_.')}", []).append(text.replace("\u00a0", " "))
    return found


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pages") / "demo"
    copy_demo(folder)
    return folder


@pytest.fixture(scope="module")
def phone(demo: Path) -> Phone:
    return phones(demo)[0]


@pytest.fixture(scope="module")
def figures(phone: Phone) -> str:
    return phone.client.get("/figures").text


def test_figures_are_those_of_the_first_page_of_the_report_to_the_digit(demo: Path, figures: str) -> None:
    brief = first_page_of(plain_html_of(load(demo).assess(), Request(brief=True)))
    shown = figures_in(figures)
    assert len(brief) > 30
    assert {name: texts for name, texts in brief.items() if name in shown} == {
        name: shown[name] for name in brief if name in shown
    }
    assert set(brief) - set(shown) == set()


def test_figures_are_those_of_totals(demo: Path, phone: Phone, figures: str) -> None:
    totals = leaves(json.loads(CliRunner().invoke(main, ["totals", str(demo), "--json"]).output))
    study = phone.client.application.extensions["impact-served"].study()
    assert leaves(study.as_totals()) == totals
    assert figures_in(figures)["f.paper.weighed_kg.value"] == [f"{totals['paper.weighed_kg.value']:.1f}"]


def test_figures_each_links_to_its_tree_which_is_that_of_explain(demo: Path, phone: Phone, figures: str) -> None:
    names = [
        parse_qs(urlsplit(unescape(link)).query)["of"][0] for link in re.findall(r'href="(/figures/why[^"]*)"', figures)
    ]
    assert len(names) > 40
    page = phone.get(f"/figures/why?of={names[0]}")
    told = CliRunner().invoke(main, ["explain", str(demo), names[0].removesuffix(".value")]).output
    lines = [" ".join(line.split()) for line in re.split(r"\n(?= *[^\s\d])", told)]
    words = " ".join(re.sub(r"<[^>]*>", " ", page).split())
    assert sum(line[:60] in words for line in lines) > len(lines) / 2
    assert all(phone.client.get("/figures/why", query_string={"of": name}).status_code == 200 for name in names[:3])
    assert phone.client.get("/figures/why", query_string={"of": "<script>"}).status_code == 404


def test_figures_change_with_a_batch_and_are_told_apart_from_those_before(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "w")
    (phone,) = phones(folder)
    page = phone.client.get("/figures").text
    seen = re.findall(r'data-mark="([^"]*)"', page)[0]
    assert phone.client.get("/figures/now", query_string={"seen": seen}).status_code == 204
    (folder / "batches.csv").write_text(swap(BATCHES, "pot,1.2,300", "pot,1.25,300"))
    after = phone.client.get("/figures/now", query_string={"seen": seen})
    assert after.status_code == 200
    assert figures_in(after.text)["f.paper.weighed_kg.value"] != figures_in(page)["f.paper.weighed_kg.value"]
    brief = first_page_of(plain_html_of(load(folder).assess(), Request(brief=True)))
    assert all(figures_in(after.text)[name] == texts for name, texts in brief.items())


def test_kept_values_give_the_same_bits_as_new_ones_after_any_change(tmp_path: Path) -> None:
    retired = swap(TOML, "retired = false", "retired = true")
    folder = write_folder(tmp_path / "w", workshop=retired)
    opened = load(folder)
    values, steps = opened.values(draws=200).kept(), KnownSteps()
    for grams in ("1.2", "1.3", "1.1"):
        (folder / "batches.csv").write_text(swap(BATCHES, "pot,1.2,300", f"pot,{grams},300"))
        opened = load(folder)
        kept, new = opened.assess(values=values), opened.assess(draws=200)
        assert kept.as_totals() == new.as_totals()
        assert list(kept.factors_used) == list(new.factors_used)
        assert leaves(kept.as_figures) == leaves(kept.as_totals())
        told = [(one.part, one.good, one.levers, one.measure) for one in steps.decisions(kept)]
        assert told == [(one.part, one.good, one.levers, one.measure) for one in decisions(new)]


def test_figures_of_the_only_grant_are_those_of_the_report(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "w", workshop=TOML + GRANTS)
    (phone,) = phones(folder)
    page = phone.client.get("/figures").text
    brief = first_page_of(plain_html_of(load(folder).assess(grant="City & Fund"), Request(brief=True)))
    assert "Counted for the grant" in unescape(page)
    assert all(figures_in(page)[name] == texts for name, texts in brief.items())
    whole = phone.get("/figures?grant=none")
    assert "Counted for the grant" not in whole
    assert phone.client.get("/figures?grant=nobody").status_code == 200


def test_figures_with_errors_say_what_is_in_the_way(tmp_path: Path) -> None:
    (phone,) = phones(write_folder(tmp_path / "w", batches=swap(BATCHES, "blender 12 min", "<b>blander</b> 12 min")))
    for path in ("/figures", "/what-if", "/reports", "/figures/flow", "/figures/why?of=net_kgco2e.value"):
        page = phone.client.get(path).text
        assert "&lt;b&gt;blander" in page
        assert "<b>blander" not in page


def test_figures_of_names_that_are_markup_stay_text(tmp_path: Path) -> None:
    nasty = '"<img src=x onerror=alert(1)>"'
    folder = write_folder(
        tmp_path / "w", workshop=swap(TOML, '"Paper Bench"', '"<b>Bench</b>"') + f"\n[report]\nwords = {nasty!r}\n"
    )
    (phone,) = phones(folder)
    for path in ("/figures", "/figures/flow", "/what-if", "/setup", "/setup/report"):
        assert "<img src=x" not in phone.client.get(path).text
        assert "<b>Bench" not in phone.client.get(path).text


def test_guests_read_figures_and_nothing_else(demo: Path) -> None:
    from impact.browser.guards import Sessions
    from impact.browser.server import application

    sessions = Sessions()
    client: FlaskClient = application(demo, hosts=["localhost"], sessions=sessions, guest=True).test_client()
    client.post("/enter", data={"code": sessions.code})
    assert client.get("/figures").status_code == 200
    assert {client.get(path).status_code for path in ("/setup", "/what-if", "/reports", "/begin")} == {403}


# -- what if ---------------------------------------------------------------------------------------------------------


def test_suppose_nothing_gives_the_results_as_they_are(demo: Path) -> None:
    study = load(demo).assess(draws=100)
    now = standing(study, "tool-tray", ["corrugated"])
    assert suppose(study, "tool-tray", Supposed(), now).net == study.net


def test_suppose_what_is_written_into_the_files_gives_the_same(tmp_path: Path) -> None:
    study = load(write_folder(tmp_path / "w")).assess(draws=100)
    supposed = Supposed(pressings=90.0, region="GBR", displacement=0.5)
    text = swap(swap(TOML, "pressings = 60", "pressings = 90"), 'electricity = "US-CAMX"', 'electricity = "GBR"')
    folder = write_folder(tmp_path / "v", workshop=text)
    (folder / "parts.csv").write_text((folder / "parts.csv").read_text().replace(",measured,0.8", ",measured,0.5"))
    found = suppose(study, "pot", supposed, standing(study, "pot", []))
    assert found.net == load(folder).assess(draws=100).net


def test_what_if_shows_before_and_after_and_the_net(phone: Phone) -> None:
    before = phone.get("/what-if?part=tool-tray")
    after = phone.get(
        "/what-if?part=tool-tray&drying=50&life=2000&grade=corrugated&fate.landfill=100&fate.incineration=0&fate.recycling=0&fate.composting=0"
    )
    same = '<span class="soft">the same</span>'
    assert (before.count(same), after.count("<strong>")) == (5, 5 - after.count(same))
    assert re.search(r"Plastic part</th><td>[^<]*</td><td>" + same, after)
    assert re.search(r"Net account of the period</th><td>[^<]*</td><td><strong>", after)
    assert "Keep as settings" in after
    assert "Keep as settings" not in before


def test_what_if_before_is_what_figures_show(phone: Phone, figures: str) -> None:
    page = phone.get("/what-if/now?part=tool-tray").replace("\u00a0", " ")
    shown = figures_in(figures)
    value, low, high = (shown[f"f.parts.tool-tray.footprint_kgco2e.{end}"][0] for end in ("value", "low", "high"))
    assert f"{value} g CO₂e ({low} to {high})" in page
    value, low, high = (shown[f"f.net_kgco2e.{end}"][-1] for end in ("value", "low", "high"))
    assert f"{value} kg CO₂e ({low} to {high})" in page


@pytest.mark.parametrize(
    "asked",
    [
        "drying=-5",
        "drying=1e9",
        "life=0",
        "end.landfill=50",
        "dose=many",
        "displaced=101",
        "fate.landfill=10",
        "life=<script>",
    ],
)
def test_what_if_what_cannot_be_is_refused_at_its_field(phone: Phone, asked: str) -> None:
    page = phone.client.get(f"/what-if?part=tool-tray&{asked}").text
    assert 'aria-invalid="true"' in page
    assert "Keep as settings" not in page
    assert "<script>alert" not in page


def test_what_if_is_kept_as_settings_in_a_step_of_its_own(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "w", workshop=TOML.replace("date = 2026-04-01\n", ""))
    (phone,) = phones(folder)
    asked = {"part": "pot", "grade": "corrugated", "life": "90", "drying": "50", "displaced": "50", "grid": "GBR"}
    shares = {"fate.landfill": "100", "fate.incineration": "0", "fate.recycling": "0", "fate.composting": "0"}
    page = phone.client.get("/what-if/keep", query_string={**asked, **shares}).text
    assert "hours of drying" in page.partition("Not kept")[2]
    assert (folder / "workshop.toml").read_text() == TOML.replace("date = 2026-04-01\n", "")
    assert "Kept as settings" in phone.does("/what-if/keep", data={**asked, **shares})
    found = tomllib.loads((folder / "workshop.toml").read_text())
    assert (found["moulds"]["pot"]["pressings"], found["workshop"]["electricity"]) == (90, "GBR")
    assert found["fates"]["corrugated"] == {
        "landfill": "100 %",
        "incineration": "0 %",
        "recycling": "0 %",
        "composting": "0 %",
    }
    assert ",measured,50 %" in (folder / "parts.csv").read_text()
    assert phone.send("/what-if/keep", data=asked).status_code == 409


# -- reports ---------------------------------------------------------------------------------------------------------


def done(phone: Phone, path: str, **sent: str) -> str:
    """Start a job, wait for its end, and return its page."""
    answer = phone.client.post(path, data={"token": phone.form, **sent})
    assert answer.status_code == 303, answer.text
    where = answer.headers["Location"]
    job = phone.client.application.extensions[EXTENSION].by_key[where.rpartition("/")[2]]
    job.thread.join()
    return where


def test_report_made_here_is_that_of_the_command_byte_for_byte(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "w")
    (phone,) = phones(folder)
    where = done(phone, "/reports/make", kind="school", format=".html", part="pot", sessions="4", language="es")
    page = phone.get(where)
    assert "Download school.html" in page
    made = phone.client.get(f"{where}/file")
    assert made.headers["Content-Disposition"] == "attachment; filename=school.html"
    out = tmp_path / "by-command.html"
    command = [
        "report",
        str(folder),
        "--for",
        "school",
        "--part",
        "pot",
        "--sessions",
        "4",
        "--language",
        "es",
        "-o",
        str(out),
    ]
    assert CliRunner().invoke(main, command).exit_code == 0
    assert made.data == out.read_bytes()


def test_reports_offer_each_language_of_a_kind_and_that_of_the_country_first(tmp_path: Path) -> None:
    settings = swap(swap(TOML, 'country = "USA"', 'country = "AUT"'), 'electricity = "US-CAMX"\n', "")
    (phone,) = phones(write_folder(tmp_path / "w", workshop=settings))
    page = phone.get("/reports")
    offered = dict(re.findall(r'<select id="(\w+)-language".*?>(.*?)</select>', page))
    assert re.findall(r"<option[^>]*>(\w+)<", offered["school"]) == ["English", "Spanish", "German"]
    assert re.findall(r'value="(\w+)" selected', offered["school"]) == ["de"]
    assert re.findall(r'value="(\w+)" selected', offered["funder"]) == ["en"]


def test_report_that_cannot_be_made_says_why(tmp_path: Path) -> None:
    (phone,) = phones(write_folder(tmp_path / "w"))
    where = done(phone, "/reports/make", kind="binder", format=".html", part="no such part")
    page = phone.get(where)
    assert "no batch makes this part" in page
    assert phone.client.get(f"{where}/file").status_code == 404


@pytest.mark.parametrize(
    "sent",
    [
        {"kind": "../funder", "format": ".html"},
        {"kind": "funder", "format": ".exe"},
        {"kind": "funder", "format": ".html", "language": "xx"},
        {"kind": "school", "format": ".html", "sessions": "0"},
        {"kind": "school", "format": ".html", "sessions": "9" * 400},
        {"kind": "funder", "format": ".html", "grant": "nobody's"},
    ],
)
def test_reports_hostile_posts_are_refused_plainly(phone: Phone, sent: dict[str, str]) -> None:
    answer = phone.client.post("/reports/make", data={"token": phone.form, **sent})
    assert answer.status_code == 400
    assert "Traceback" not in answer.text


def test_check_says_what_verify_says_and_keeps_nothing(
    phone: Phone, demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[bytes] = []
    same, other = Agreement(3, 3), Disagreement("figure", "net_kgco2e.value", "<b>1</b>", "2")
    found = Verification("nothing", "", same, same, Agreement(1, 2), (other,), "0.0")
    monkeypatch.setattr(verification, "verify", lambda content: seen.append(content) or found)
    before = {str(path) for path in demo.rglob("*")}
    form = {"token": phone.form, "report": (io.BytesIO(b"%PDF-1.7 some"), "../../evil.pdf")}
    answer = phone.client.post("/reports/check", data=form, content_type="multipart/form-data")
    where = answer.headers["Location"]
    phone.client.application.extensions[EXTENSION].by_key[where.rpartition("/")[2]].thread.join()
    page = phone.client.get(where).text
    assert seen == [b"%PDF-1.7 some"]
    assert "This is not the report that the records inside it make." in page
    assert "Who made the records, and whether they are true, nobody can tell from a file." in page
    assert ("1 of 2" in page, "&lt;b&gt;1" in page, "<b>1" in page) == (True, True, False)
    assert {str(path) for path in demo.rglob("*") if "history" not in path.parts} <= before
    assert not list(demo.parent.parent.rglob("evil.pdf"))


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 no pdf", b"<html>"])
def test_check_what_is_no_pdf_is_refused(phone: Phone, content: bytes) -> None:
    form = {"token": phone.form, "report": (io.BytesIO(content), "x.pdf")}
    answer = phone.client.post("/reports/check", data=form, content_type="multipart/form-data")
    assert answer.status_code == 400


def test_check_a_pdf_that_is_no_report_is_told(phone: Phone) -> None:
    form = {"token": phone.form, "report": (io.BytesIO(b"%PDF-1.7\nnothing"), "x.pdf")}
    answer = phone.client.post("/reports/check", data=form, content_type="multipart/form-data")
    where = answer.headers["Location"]
    phone.client.application.extensions[EXTENSION].by_key[where.rpartition("/")[2]].thread.join()
    assert "It could not be done." in phone.get(where)


def test_check_a_file_that_is_too_large_is_refused_by_its_size_alone(phone: Phone) -> None:
    answer = phone.client.post(
        "/reports/check", data=b"x", headers={"X-Form-Token": phone.form, "Content-Type": "multipart/form-data; boundary=x"},
        environ_overrides={"CONTENT_LENGTH": str(LARGEST_PDF * 20)},
    )  # fmt: skip
    assert answer.status_code == 413


def test_jobs_that_are_not_known_are_refused(phone: Phone) -> None:
    assert phone.client.get("/reports/../../etc/passwd").status_code == 404
    assert phone.client.get("/reports/nothing/file").status_code == 404
