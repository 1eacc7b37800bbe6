"""Reports worked out again from what they carry: agreement, and every kind of alteration found."""

from __future__ import annotations

import io
import json
import re
import tomllib
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from impact.base.figurenames import figures, leaves
from impact.cli.commands import main
from impact.findings.verdicts import VERDICTS
from impact.report.evidence import GUIDE, RESULTS, SETTINGS, SUMS, USED, WORKBOOK, as_toml, factor_tables
from impact.report.proof.carried import Carried, NoReportError, read_report
from impact.report.proof.figures import compare_files
from impact.report.request import Request
from impact.report.ties import MARK
from impact.report.verification import Verification, _made_again, verify
from tests.folders import CLOSED, FILES, swap, write_folder
from tests.reports import FEW, laid_out_once, produce, report, small, verified
from tests.schemas import validate

CARRIED = sorted({*FILES, *factor_tables(), GUIDE, SETTINGS, RESULTS, USED, SUMS, WORKBOOK})


@pytest.fixture(autouse=True)
def pages_laid_out_once(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Have no page laid out again that was laid out before, but where a report is proved byte for byte."""
    if "byte_for_byte" not in request.node.name:
        monkeypatch.setattr("impact.report.layout.pdf.pdf_of", laid_out_once)


@cache
def carried() -> Carried:
    """Return what the small report carries."""
    return read_report(small())


def with_file(name: str, content: bytes | None, report: bytes | None = None) -> bytes:
    """Return a report in which one attached file is replaced, or taken out."""
    with pikepdf.open(io.BytesIO(report or small())) as pdf:
        if content is None:
            del pdf.attachments[name]
        else:
            pdf.attachments[name] = pikepdf.AttachedFileSpec(pdf, content, filename=name)
        out = io.BytesIO()
        pdf.save(out)
    return out.getvalue()


def names(found: Verification, where: str) -> set[str]:
    """Return what disagrees in one place."""
    return {one.name for one in found.disagreements if one.where == where}


def test_verify_report_as_written_agrees_in_everything() -> None:
    found = verify(small())
    assert found.disagreements == ()
    for agree, of in (found.files, found.results, found.pages):
        assert agree == of > 20
    assert found.results[1] == len(leaves(json.loads(carried().files[RESULTS])))


def test_verify_demo_agrees_and_ties_over_a_thousand_printed_figures() -> None:
    found = verified("demo")
    assert found.disagreements == ()
    assert found.pages[1] > 1000


def changed(content: bytes) -> bytes:
    """Return a file with one digit changed, the middle one; where it holds none, a letter."""
    digits, letters = (list(re.finditer(one, content)) for one in (rb"[0-9]", rb"[a-z]"))
    places = [match.start() for match in digits or letters]
    place = places[len(places) // 2]
    return content[:place] + (b"7" if content[place : place + 1] != b"7" else b"3") + content[place + 1 :]


def test_report_carries_the_records_the_settings_the_figures_and_the_factor_tables() -> None:
    assert sorted(carried().files) == CARRIED


@pytest.mark.parametrize("name", CARRIED)
def test_compare_files_finds_one_changed_digit_in_any_attached_file(name: str) -> None:
    files = dict(carried().files)
    assert compare_files(files, files) == ((len(files), len(files)), [])
    counts, faults = compare_files({**files, name: changed(files[name])}, files)
    assert counts == (len(files) - 1, len(files))
    assert [fault.name for fault in faults] == [name]


MAIN_FILES = ("batches.csv", "parts.csv", "workshop.toml", RESULTS, USED, SUMS, WORKBOOK, "table-landfill.csv")


@pytest.mark.parametrize("name", MAIN_FILES)
def test_verify_names_an_attached_file_with_one_digit_changed(name: str) -> None:
    found = verify(with_file(name, changed(carried().files[name])))
    blamed = {one.name for one in found.disagreements}
    assert name in blamed or (name in ("batches.csv", "parts.csv", "workshop.toml") and SUMS in blamed)


@pytest.fixture
def only_figures(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have the figures on the pages compared alone, as where no library lays pages out: `test_forgeries.py` has the rest."""
    monkeypatch.setattr("impact.report.verification.absence", lambda: "no library that lays out")


@pytest.mark.usefixtures("only_figures")
def test_verify_names_records_with_one_digit_changed_by_the_checksum_that_the_page_prints() -> None:
    altered = changed(carried().files["batches.csv"])
    found = verify(with_file("batches.csv", altered, report("small")))
    assert "sum.batches.csv" in names(found, "page")


@pytest.mark.parametrize("name", ["batches.csv", RESULTS, SUMS, "table-catalogue.csv", SETTINGS])
def test_verify_finds_an_attached_file_taken_out(name: str) -> None:
    without = with_file(name, None)
    if name == SETTINGS:
        with pytest.raises(NoReportError, match=SETTINGS):
            verify(without)
        return
    assert verify(without).disagreements


def test_verify_altered_records_with_new_sums_are_found_by_results_and_pages() -> None:
    files = dict(carried().files)
    files["batches.csv"] = files["batches.csv"].replace(b"36", b"37")
    assert files["batches.csv"] != carried().files["batches.csv"]
    from impact.report.evidence import sums_file, sums_of

    forged = with_file("batches.csv", files["batches.csv"])
    sums = sums_file(sums_of({name: content for name, content in files.items() if name != SUMS}))
    found = verify(with_file(SUMS, sums, forged))
    assert found.proved == "nothing"
    assert names(found, "results")
    assert names(found, "page")


def test_verify_altered_result_is_named_by_its_figure() -> None:
    document = json.loads(carried().files[RESULTS])
    document["net_kgco2e"]["value"] *= 1.0 + 1e-6
    found = verify(with_file(RESULTS, json.dumps(document).encode()))
    assert names(found, "results") == {"net_kgco2e.value"}


def test_verify_altered_page_is_named_by_its_figure() -> None:
    """A digit painted otherwise on a page: the glyphs of one tied figure are exchanged in the page's content."""
    known = carried()
    name = "f.paper.weighed_kg.value"
    number, left, top = known.places[name]
    with pikepdf.open(io.BytesIO(small())) as pdf:
        # The destination is moved to another figure, so that another number stands where this one is expected.
        other = known.places["f.net_kgco2e.value"]
        tree = pikepdf.NameTree(pdf.Root.Names.Dests)
        spot = tree[name]
        spot[2], spot[3] = other[1], other[2]
        tree[name] = spot
        out = io.BytesIO()
        pdf.save(out)
    assert (number, left, top) != other
    assert names(verify(out.getvalue()), "page") == {"paper.weighed_kg.value"}


def moved(content: bytes, name: str, other: str) -> bytes:
    """Return a report in which another element stands where one is expected."""
    spots = read_report(content).places
    with pikepdf.open(io.BytesIO(content)) as pdf:
        tree = pikepdf.NameTree(pdf.Root.Names.Dests)
        spot, there = tree[name], tree[other]
        spot[0], spot[2], spot[3] = there[0], spots[other][1], spots[other][2]
        tree[name] = spot
        out = io.BytesIO()
        pdf.save(out)
    return out.getvalue()


@pytest.mark.usefixtures("only_figures")
@pytest.mark.parametrize(
    ("name", "other"),
    [
        ("words.claims.supported.1", "words.claims.supported.2"),
        ("words.net.words", "words.assumptions.end-of-life.text"),
        ("words.parts.pot.verdict", "words.parts.tray.verdict"),
        ("paper.kept_from_landfill_kg.value+low+high", "paper.taken_from_recycling_kg.value+low+high"),
        ("net_kgco2e.low+high", "made_kgco2e.low+high"),
    ],
)
def test_verify_finds_what_says_something_else(name: str, other: str) -> None:
    found = verify(moved(report("small"), f"{MARK}{name}", f"{MARK}{other}"))
    assert names(found, "page") == {name}


def test_verify_finds_a_verdict_that_the_results_do_not_give(monkeypatch: pytest.MonkeyPatch) -> None:
    """The report at hand says what the results gave when it was made; made again, another verdict comes out."""
    words = {key: replace(one, short="better than plastic", clause="it wins") for key, one in VERDICTS.items()}
    whole = report("small")  # is made before
    _made_again.cache_clear()
    monkeypatch.setattr("impact.findings.verdicts.VERDICTS", words)
    wanted = {"what is drawn", *(f"words.parts.{part}.verdict" for part in ("pot", "tray"))}
    found = verify(whole)
    assert names(found, "page") == wanted
    assert {"'betterthanplastic'", "'itwins'"}.isdisjoint(one.carried for one in found.disagreements)


def test_verify_columns_that_tell_of_people_stay_out_as_asked(tmp_path: Path) -> None:
    sanded = swap(CLOSED, "wet, cold day", "Kim sanded the rims, cold day")
    folder = write_folder(tmp_path, batches=sanded)
    without = read_report(produce(folder, Request("binder", leave_out=("notes", "people")), FEW, suffix=".pdf"))
    assert b"Kim" not in without.files["batches.csv"]
    assert b"sanded" in without.files["batches.csv"]
    assert b"people" not in without.files["batches.csv"].splitlines()[0]
    assert verify(without.content).disagreements == ()
    kept = produce(folder, Request("school", leave_out=()), FEW, suffix=".pdf")
    assert b"Kim sanded the rims" in read_report(kept).files["batches.csv"]
    assert verify(kept).disagreements == ()


def test_verify_own_factor_table_travels_along(tmp_path: Path) -> None:
    folder = write_folder(tmp_path, batches=CLOSED)
    row = "id,what,value,unit,low,high,distribution,geography,source,locator\nbinder.footprint.pva-glue,x,9,kgCO2e/kg,8,10,normal,world,own,label\n"
    (folder / "factors.csv").write_text(row, encoding="utf-8")
    report = produce(folder, Request("binder"), FEW, suffix=".pdf")
    found = verify(report)
    assert found.disagreements == ()
    assert b"binder.footprint.pva-glue" in read_report(report).files[USED]


def test_verify_file_outside_the_folder_is_not_written(tmp_path: Path) -> None:
    with pikepdf.open(io.BytesIO(small())) as pdf:
        pdf.attachments["../../evil.csv"] = pikepdf.AttachedFileSpec(pdf, b"x", filename="../../evil.csv")
        out = io.BytesIO()
        pdf.save(out)
    assert "../../evil.csv" in {one.name for one in verify(out.getvalue()).disagreements}


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "no PDF"), (b"%PDF-1.7 nothing", "no PDF"), (b"\x00" * 4000, "no PDF")],
    ids=["empty", "header only", "zeros"],
)
def test_verify_what_is_no_report_is_one_line(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "x.pdf"
    path.write_bytes(content)
    result = CliRunner().invoke(main, ["verify", str(path)])
    assert result.exit_code == 1
    assert words in result.output
    assert len(result.output.strip().splitlines()) == 1


@pytest.mark.parametrize(
    ("name", "content"), [("batches.xlsx", b"PK\x03\x04 a workbook"), ("report.html", b"<!doctype html><p>A report")]
)
def test_verify_other_file_is_one_line_without_remarks_of_the_library(
    tmp_path: Path, name: str, content: bytes, caplog: pytest.LogCaptureFixture
) -> None:
    (tmp_path / name).write_bytes(content)
    result = CliRunner().invoke(main, ["verify", str(tmp_path / name)])
    assert result.exit_code == 1
    assert result.output.strip().endswith("only a report that was written as PDF carries its records")
    assert len(result.output.strip().splitlines()) == 1
    assert caplog.records == []


def test_verify_pdf_without_files_is_one_line(tmp_path: Path) -> None:
    path = tmp_path / "x.pdf"
    with pikepdf.new() as pdf:
        pdf.add_blank_page()
        pdf.save(path)
    result = CliRunner().invoke(main, ["verify", str(path)])
    assert result.exit_code == 1
    assert "carries no files" in result.output


def test_verify_command_prints_counts_and_ends_with_0_or_1(tmp_path: Path) -> None:
    path = tmp_path / "x.pdf"
    path.write_bytes(small())
    good = CliRunner().invoke(main, ["verify", str(path)])
    assert good.exit_code == 0
    assert len(re.findall(r"^([0-9,]+) of \1 ", good.stdout, flags=re.M)) == 3
    path.write_bytes(with_file("parts.csv", carried().files["parts.csv"].replace(b"0", b"1", 1)))
    bad = CliRunner().invoke(main, ["verify", str(path), "--json"])
    assert bad.exit_code == 1
    document = json.loads(bad.stdout)
    assert document["disagreements"]
    validate("verify", document)


def test_figures_of_results_are_those_of_totals_and_more() -> None:
    document = json.loads(carried().files[RESULTS])
    assert {"net_kgco2e.value", "periods.2026-01.corrugated"} <= set(figures(document))


_VALUES = st.one_of(st.text(), st.integers(-(2**63), 2**63 - 1), st.floats(allow_nan=False), st.booleans(), st.none())


@given(st.dictionaries(st.text(), st.one_of(_VALUES, st.lists(st.text()), st.dictionaries(st.text(), _VALUES))))
def test_as_toml_any_values_come_back_but_for_none(settings: dict[str, Any]) -> None:
    stated = {name: value for name, value in settings.items() if value is not None}
    for name, value in stated.items():
        if isinstance(value, dict):
            stated[name] = {inner: one for inner, one in value.items() if one is not None}
    assert tomllib.loads(as_toml(settings).decode()) == stated
