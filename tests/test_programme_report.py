"""The report of several workshops together: pages, evidence, verification. All records are invented."""

from __future__ import annotations

import io
import json
import re
import shutil
import tomllib
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from impact.api import load
from impact.base.serial import plain
from impact.cli.commands import main
from impact.programme import ProgrammeResults, read_programme
from impact.report.evidence import from_roof, under_roof
from impact.report.figurekinds import quantity_of
from impact.report.production import Narrowing, Roof, compose_from, prepare
from impact.report.programme.content import cautions_of, sayings
from impact.report.proof.carried import NoReportError
from impact.report.proof.settings import read_settings
from impact.report.request import NothingToSayError, Request
from impact.report.verification import verify
from tests.folders import CLOSED, TOML, write_folder
from tests.forging import attaching, forged
from tests.reading import texts_by_name
from tests.reports import FEW, refused
from tests.shared import shared

UK = TOML.replace('country = "USA"\nelectricity = "US-CAMX"\n', 'country = "GBR"\n')
NAMES = ("east", "north", "söuth 2")
SITES = {"east": {}, "north": {"workshop": UK}, "söuth 2": {"batches": CLOSED.replace("2026-01", "2026-02")}}


def roof(path: Path) -> Path:
    """Write three workshops into one folder; one has a name that is no plain word."""
    for name, changes in SITES.items():
        write_folder(path / name, **{"batches": CLOSED, **changes})
    return path


class Made(NamedTuple):
    pdf: bytes
    page: str
    brief: str
    files: dict[str, bytes]


@cache
def made() -> Made:
    return shared("programme-report", _made)


def _made() -> Made:
    import tempfile

    with tempfile.TemporaryDirectory() as place:
        folder = roof(Path(place) / "network")
        product = prepare(folder, Request(), FEW)
        brief = prepare(folder, Request(brief=True), FEW).content(".html").decode()
        return Made(product.content(".pdf"), product.content(".html").decode(), brief, product.carried)


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> ProgrammeResults:
    programme, problems = read_programme(roof(tmp_path_factory.mktemp("roof") / "network"))
    assert problems == []
    assert programme is not None
    return programme.assess(draws=100)


def text_of(name: str, page: str) -> str:
    """Return how a figure is printed."""
    (text,) = texts_by_name(page)[name]
    return text


def test_programme_report_is_made_again_byte_for_byte() -> None:
    found = verify(made().pdf)
    assert (found.proved, found.disagreements) == ("bytes", ())


def test_programme_report_fulfils_both_standards() -> None:
    for profile in ("ua1", "3a"):
        assert refused(made().pdf, profile) == []


def test_programme_report_carries_the_records_of_each_workshop() -> None:
    files = {one.name: one.content for one in PdfReader(io.BytesIO(made().pdf)).attachment_list}
    for name in ("east", "north", "s%C3%B6uth%202"):
        assert {f"{name}--{file}" for file in ("workshop.toml", "parts.csv", "batches.csv", "factors-used.csv")} <= {
            *files
        }
    settings = tomllib.loads(files["settings.toml"].decode())
    assert settings["programme"] == {"name": "network", "sites": list(NAMES)}
    assert f"{'north'}--workshop.toml" in files["SHA256SUMS"].decode()


def test_programme_report_that_was_altered_in_one_workshop_is_found() -> None:
    name = "north--batches.csv"
    other = made().files[name].replace(b",1200,", b",1900,", 1) if b",1200," in made().files[name] else None
    content = other or re.sub(rb"\b1\.2\b", b"1.9", made().files[name], count=1)
    assert content != made().files[name]
    found = verify(forged(made().pdf, attaching(name, content)))
    assert found.proved == "nothing"
    assert any("sites.north" in one.name or "together" in one.name for one in found.disagreements)


def test_programme_report_has_a_row_for_each_and_the_sum(results: ProgrammeResults) -> None:
    page = made().page
    assert json.loads(made().files["results.json"])["together"] == results.as_totals()["together"]
    for name in ("sites.east", "sites.north", "sites.söuth 2", "together"):
        for figure in (
            "batches",
            "good_parts",
            "paper.collected_kg.value",
            "paper.kept_from_landfill_kg.low",
            "net_kgco2e.value",
        ):
            assert text_of(f"{name}.{figure}", page)
    assert text_of("together.batches", page) == "6"
    assert page.count("<h3>") == len(NAMES)


def test_programme_report_figures_of_a_workshop_are_those_of_its_own_totals(tmp_path: Path) -> None:
    alone = load(write_folder(tmp_path / "alone", batches=CLOSED, workshop=UK)).assess(draws=100)
    document = json.loads(made().files["results.json"])
    (north,) = (site for site in document["sites"] if site["site"] == "north")
    assert north["paper"]["kept_from_landfill_kg"] == pytest.approx(plain(alone.paper.kept_from_landfill_kg))
    (parts,) = (one["parts"] for one in document["workshops"] if one["site"] == "north")
    assert [part["footprint_kgco2e"] for part in parts] == [
        pytest.approx(plain(part.footprint)) for part in alone.parts
    ]
    assert [part["chance_lower"] for part in parts] == [part.chance_lower for part in alone.parts]


def test_programme_brief_is_the_first_page_alone() -> None:
    assert "together.net_kgco2e.value" in texts_by_name(made().brief)
    assert 'id="cautions"' not in made().brief
    assert 'href="#' not in made().brief.replace('href="#main"', "")


def test_programme_sayings_are_whole_sentences_with_brackets(results: ProgrammeResults) -> None:
    found = [str(one) for one in sayings(results)]
    assert len(found) in (2, 3)
    for one in found:
        assert one.endswith("invented records).")
        assert "2026-01-05 to 2026-02-12" in one
        assert "3 workshops" in one
    assert "landfill" in found[1]


def test_programme_some_invented_records_are_said_to_be(tmp_path: Path) -> None:
    folder = roof(tmp_path / "network")
    path = folder / "north" / "workshop.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("invented = true\n", ""), encoding="utf-8")
    page = prepare(folder, Request(brief=True), FEW).content(".html").decode()
    assert "The records of east, söuth 2 are made up" in page
    assert "some of the records are invented" in page
    assert "No figure here was measured" not in page


def test_programme_cautions_of_all_stand_once(results: ProgrammeResults) -> None:
    said = [(caution.hazard, str(caution.said)) for caution, _ in cautions_of(results.sites)]
    assert len(said) == len({*said})
    assert {*said} == {(one.hazard, str(one.said)) for site in results.sites for one in site.cautions}
    assert {name for _, names in cautions_of(results.sites) for name in names} == {*NAMES}


def test_programme_figures_all_have_a_kind(results: ProgrammeResults) -> None:
    from impact.base.figurenames import leaves

    found = leaves(json.loads(made().files["results.json"]))
    kinds = {name: quantity_of(name) for name, value in found.items() if value is not None}
    assert kinds["sites.north.paper.weighed_kg.low"] == "paper"
    assert len(kinds) > 50 * len(results.sites)


def test_programme_report_narrowed_to_one_workshop_names_what_is_left_out(tmp_path: Path) -> None:
    asked = Narrowing(draws=100, period=None, site=None)
    folder = roof(tmp_path / "network")
    product = prepare(folder, Request(brief=True), Narrowing(draws=100, site="north"))
    assert [site.account.name for site in product.report.results.sites] == ["north"]  # type: ignore[union-attr]
    request, narrowing = read_settings(product.carried).request()
    assert (narrowing.roof, narrowing.site) == (Roof("network", NAMES), "north")
    again = compose_from(product.records, product.tables, request, narrowing)
    assert again.document == product.report.document
    assert asked.roof is None


def test_from_roof_takes_the_longer_name_of_two() -> None:
    files = {"a": {"batches.csv": b"1"}, "a--b": {"batches.csv": b"2", "logo.png": b"3"}, "ü/x": {"parts.csv": b"4"}}
    attached = under_roof(files)
    assert all(re.fullmatch(r"[!-~]+", name) and "/" not in name for name in attached)
    assert from_roof({**attached, "settings.toml": b""}, list(files)) == files


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"east"', '"../east"'),
        ('"east"', '".."'),
        ('"east"', '"north"'),
        ('sites = ["east", "north", "söuth 2"]', "sites = []"),
        ('reader = "funder"', 'reader = "binder"'),
        ("own_template = false", "own_template = true"),
    ],
)
def test_settings_of_a_stranger_name_folders_alone(old: str, new: str) -> None:
    text = made().files["settings.toml"].decode()
    assert old in text
    with pytest.raises(NoReportError, match=r"settings\.toml cannot be used"):
        read_settings({"settings.toml": text.replace(old, new).encode()})


def test_programme_report_of_too_many_workshops_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("impact.report.production.MOST_WORKSHOPS", 2)
    with pytest.raises(NothingToSayError, match="3 workshops; a report takes 2 at most"):
        prepare(roof(tmp_path / "network"), Request(), FEW)


def test_report_command_tells_the_problems_of_all_workshops_at_once(tmp_path: Path) -> None:
    folder = roof(tmp_path / "network")
    for name in ("east", "north"):
        path = folder / name / "batches.csv"
        path.write_text(path.read_text(encoding="utf-8").replace("pva-glue", "pva-glu"), encoding="utf-8")
    done = CliRunner().invoke(main, ["report", str(folder), "-o", str(tmp_path / "x.pdf")])
    assert done.exit_code == 1
    assert "east/batches.csv" in done.output
    assert "north/batches.csv" in done.output
    assert not (tmp_path / "x.pdf").exists()


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--for", "school"], "--for school is for one of them; --for funder takes all"),
        (["--beside", "2025"], "--beside is for one of them"),
    ],
)
def test_report_command_says_what_is_for_one_workshop(options: list[str], said: str, tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["report", str(roof(tmp_path / "network")), *options])
    assert done.exit_code == 2
    assert said in done.output


def test_report_command_counts_a_grant_of_several_workshops(tmp_path: Path) -> None:
    folder = roof(tmp_path / "network")
    shutil.rmtree(folder / "söuth 2")
    for name, share in (("east", 0.5), ("north", 1.0)):
        path = folder / name / "workshop.toml"
        grant = f'\n[[grants]]\nname = "City"\nstart = 2026-01-01\nend = 2026-06-30\nshare = {share}\n'
        path.write_text(path.read_text(encoding="utf-8") + grant, encoding="utf-8")
    target = tmp_path / "x.html"
    done = CliRunner().invoke(main, ["report", str(folder), "-o", str(target), "--brief", "--draws", "100"])
    assert done.exit_code == 0, done.output
    assert "all the work is counted; --grant NAME counts one: City" in done.output
    whole = text_of("together.paper.collected_kg.value", target.read_text(encoding="utf-8"))
    arguments = ["report", str(folder), "-o", str(target), "--brief", "--draws", "100", "--grant", "city", "--force"]
    assert CliRunner().invoke(main, arguments).exit_code == 0
    page = target.read_text(encoding="utf-8")
    assert float(text_of("together.paper.collected_kg.value", page)) == pytest.approx(float(whole) * 0.75, rel=0.01)
    assert "every mass and emission is the share that counts for it" in page
    assert "took in" not in page
