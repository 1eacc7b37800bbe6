"""PDFs that are no reports, or were tampered with: `verify` says so in one line, whatever its libraries trip over."""

from __future__ import annotations

import json
import zlib
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from impact.cli.commands import main
from impact.report.evidence import SETTINGS
from impact.report.layout.pdf import Attached, pdf_of
from impact.report.proof.carried import Carried, NoReportError, read_report, squeezed
from impact.report.proof.figures import Disagreement, compare_results
from impact.report.verification import Verification, verify
from tests.fuzz.shapes import PART, STREAM, pdf_of_objects
from tests.reports import small

SEED = (Path(__file__).parent / "fuzz" / "corpus" / "e-small").read_bytes()[1:]
PLAIN = pdf_of_objects(SEED)


def changed(old: bytes, new: bytes) -> bytes:
    assert SEED.count(old) >= 1, old
    return pdf_of_objects(SEED.replace(old, new))


def more(*objects: bytes, **changes: bytes) -> bytes:
    """Return the PDF with objects behind its nine."""
    return pdf_of_objects(PART.join([SEED.replace(changes.get("old", b""), changes.get("new", b"")), *objects]))


def packed_twice(content: bytes) -> bytes:
    return b"<</Type/EmbeddedFile/Filter[/FlateDecode/FlateDecode]/Length LENGTH>>" + STREAM + content


BOMB = zlib.compress(zlib.compress(bytes(100_000_000), 9), 9)
HOSTILE = {
    "cut": PLAIN[: len(PLAIN) // 2],
    "header alone": b"%PDF-1.7\n",
    "no root": PLAIN.replace(b"/Root 1 0 R", b""),
    "root of another kind": PLAIN.replace(b"/Root 1 0 R", b"/Root 4 0 R"),
    "root that is a number": PLAIN.replace(b"/Root 1 0 R", b"/Root 7"),
    "table of places far away": PLAIN.replace(b"startxref\n", b"startxref\n9"),
    "table of places before itself": PLAIN.replace(b"/Root 1 0 R", b"/Root 1 0 R/Prev 0"),
    "encrypted": PLAIN.replace(b"/Root 1 0 R", b"/Root 1 0 R/Encrypt<</Filter/Standard/V 1/R 2/O()/U()/P -4>>"),
    "encrypted in an unknown way": PLAIN.replace(b"/Root 1 0 R", b"/Root 1 0 R/Encrypt<</Filter/Mine>>"),
    "pages within themselves": changed(b"/Kids[3 0 R]", b"/Kids[2 0 R]"),
    "pages that are none": changed(b"/Kids[3 0 R]", b"/Kids[4 0 R 99 0 R 5]"),
    "no pages": changed(b"/Pages 2 0 R", b""),
    "names within themselves": changed(b"/EmbeddedFiles<<", b"/EmbeddedFiles<</Kids[1 0 R]"),
    "names without files": changed(b"6 0 R(b.csv)", b"7 0 R(b.csv)"),
    "names without an end": changed(b"(b.csv)8 0 R]", b"(b.csv)"),
    "a file twice": changed(b"(b.csv)", b"(a.toml)"),
    "a file that is none": changed(b"/EF<</F 7 0 R>>", b"/EF 5"),
    "a file that is itself": changed(b"/EF<</F 7 0 R>>", b"/EF<</F 6 0 R>>"),
    "an unknown filter": changed(b"/FlateDecode", b"/MineDecode"),
    "a filter without its data": changed(b"/FlateDecode", b"/LZWDecode"),
    "a predictor of no width": changed(b"/FlateDecode", b"/FlateDecode/DecodeParms<</Predictor 15/Columns -1>>"),
    "a place on no page": changed(b"[3 0 R/XYZ 70 700 0]", b"[5 0 R/XYZ 70 700 0]"),
    "a place that is no number": changed(b"/XYZ 70 700 0", b"/XYZ /A (b) 0"),
    "a place beyond all pages": changed(b"/XYZ 70 700 0", b"/XYZ 1e300 -1e300 0"),
    "an object stream of another type": more(
        b"<</Type/Catalog/N 1/First 4/Length LENGTH>>" + STREAM + b"1 0 <<>>", old=b"/Pages 2 0 R", new=b"/Pages 10 0 R"
    ),
    "a bomb": more(packed_twice(BOMB), old=b"/EF<</F 9 0 R>>", new=b"/EF<</F 10 0 R>>"),
    "nesting": changed(b"/Kids[3 0 R]", b"/Kids" + b"[" * 20_000),
    "a long number": changed(b"/Count 1", b"/Count " + b"9" * 5_000),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_verify_hostile_pdf_is_one_line(tmp_path: Path, name: str) -> None:
    (tmp_path / "a.pdf").write_bytes(HOSTILE[name])
    result = CliRunner().invoke(main, ["verify", str(tmp_path / "a.pdf")])
    assert result.exit_code == 1
    assert isinstance(result.exception, SystemExit)
    assert result.stderr.startswith(f"Error: {tmp_path / 'a.pdf'}: ")
    assert result.stderr.rstrip("\n").isprintable()


def test_printed_pages_that_another_library_cannot_read_are_one_line() -> None:
    one = Carried({}, {"f.a": (0, 70.0, 760.0)}, b"%PDF-1.7 and nothing else")
    with pytest.raises(NoReportError, match="its pages cannot be read"):
        one.printed({"f.a": "12.5"})


def test_printed_page_that_the_other_library_does_not_count_is_one_line() -> None:
    one = Carried({}, {"f.a": (3, 70.0, 760.0)}, PLAIN)
    with pytest.raises(NoReportError, match="its pages cannot be read"):
        one.printed({"f.a": "12.5"})


def test_read_report_of_the_seed_holds_files_and_places() -> None:
    """The hostile ones differ from this by what they are named after."""
    seed = read_report(PLAIN)
    assert dict(seed.files) == {"a.toml": b'a = "b"\n\n', "b.csv": b"a,b\n1,2\n"}
    assert seed.printed({"f.a": "12.5", "f.b": "1,234.5"}) == {"f.a": "12.5", "f.b": "1,234.5"}


PAGE = """<html lang="en"><head><title>t</title><style>i {{ position: relative; font-style: normal }}</style></head>
<body><h1>t</h1><p><span id="f.a">112 (<i style="left: {}px">96</i> to <i style="left: {}px">132</i>)</span></p></body></html>"""


@pytest.mark.parametrize(("right", "left", "same"), [(0, 0, True), (40, -40, False)])
def test_printed_numbers_that_change_places_within_an_element_are_seen(right: int, left: int, same: bool) -> None:
    pdf = pdf_of(PAGE.format(right, left), [Attached("a.csv", b"1", "text/csv", "Data", "a table")])
    text = "112 (96 to 132)"
    assert (read_report(pdf).printed({"f.a": text})["f.a"] == squeezed(text)) is same


DEEP = b"[" * 100_000
BAD_SETTINGS = {
    "no text": b"\xff\xfe",
    "no TOML": b"a = ",
    "nested": b"a = " + DEEP,
    "a long number": b"a = " + b"9" * 5_000,
    "another form": b'schema = "other\\u001b[31m"',
    "a form that is a list": b"schema = []",
}


@pytest.mark.parametrize("name", BAD_SETTINGS)
def test_verify_hostile_settings_are_one_line(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(NoReportError) as caught:
        verify_with(monkeypatch, SETTINGS, BAD_SETTINGS[name])
    assert str(caught.value).startswith(f"the attached {SETTINGS} ")
    assert str(caught.value).isprintable()


BAD_RESULTS = {
    "no text": b"\xff",
    "nested": DEEP,
    "nested objects": b'{"a":' * 50_000,
    "no object": b"5",
    "a long number": b'{"a": ' + b"9" * 5_000 + b"}",
    "a number beyond all": b'{"a": ' + b"9" * 400 + b"}",
    "two figures of a name": b'{"a.b": 1, "a": {"b": 2}}',
    "names that reach for the terminal": json.dumps({"a\x1b[2J\nb": 1, "c": "\x07"}).encode(),
}


@pytest.mark.parametrize("name", BAD_RESULTS)
def test_compare_results_hostile_ones_are_disagreements(name: str) -> None:
    counted, faults = compare_results(BAD_RESULTS[name], b'{"a": 1.5, "c": "words"}')
    assert counted[0] == 0
    assert faults
    assert all(str(one).isprintable() for one in faults)


CATALOGUE = "table-catalogue.csv"
BAD_CATALOGUES = {
    "empty": b"",
    "no text": b"\xff\xfe\x00",
    "a column less": b"kind,id,label,accepted,reason\ngrade,office,Office,yes,\n",
    "a short row": b"kind,id,label,accepted,reason,tags\ngrade\n",
    "a row and no more": b"kind,id,label,accepted,reason,tags\n",
    "an open quote": b'kind,id,label,accepted,reason,tags\n"grade,' + b"a" * 200_000,
    "NUL": b"kind,id,label,accepted,reason,tags\ngr\0ade,a,b,yes,,\n",
}


@cache
def carried() -> Carried:
    return read_report(small())


def verify_with(monkeypatch: pytest.MonkeyPatch, name: str, content: bytes) -> Verification:
    """Verify a report in which one attached file is another, without laying it into the PDF."""
    altered = replace(carried(), files={**carried().files, name: content}, content=carried().content + b"\n")
    monkeypatch.setattr("impact.report.verification.read_report", lambda _: altered)
    return verify(b"")


@pytest.mark.parametrize("name", BAD_CATALOGUES)
def test_verify_hostile_catalogue_is_a_disagreement(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    found = verify_with(monkeypatch, CATALOGUE, BAD_CATALOGUES[name])
    assert "file" in {one.where for one in found.disagreements}
    assert all(str(one).isprintable() for one in found.disagreements)


@pytest.mark.parametrize("table", ["sources.csv", "paper.csv", "pedigree.csv"])
@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00", b"id\n" + b"a" * 200_000, b'"'])
def test_verify_hostile_factor_table_is_a_disagreement(
    table: str, content: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = verify_with(monkeypatch, f"table-{table}", content)
    assert "file" in {one.where for one in found.disagreements}


def test_verify_attached_name_that_reaches_for_the_terminal_is_escaped(monkeypatch: pytest.MonkeyPatch) -> None:
    found = verify_with(monkeypatch, "a\x1b[2J\n\u202eb", b"x")
    assert any("\\x1b" in str(one) for one in found.disagreements)
    assert all(str(one).isprintable() for one in found.disagreements)


def test_disagreement_long_name_is_cut() -> None:
    assert len(str(Disagreement("file", "a" * 5_000, "b" * 5_000, "c"))) < 300
