"""Forged reports: each is found, and the verification says where; a report as it was made is proved byte for byte."""

from __future__ import annotations

import json
import re
import resource
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from impact.cli.commands import main
from impact.report.evidence import GUIDE, RESULTS, SETTINGS, SUMS, TEMPLATE, USED, factor_tables, sums_file, sums_of
from impact.report.kinds import LANGUAGES
from impact.report.production import Product, libraries, prepare
from impact.report.proof.carried import NoReportError, read_report
from impact.report.proof.likeness import packed_otherwise
from impact.report.request import Request
from impact.report.verification import CAUTION, Verification, verify
from tests import forging
from tests.forging import BOX, Forgery, attaching, forged, painting, repacked, swapping, text_at, writing
from tests.reports import FEW, laid_out_once, report, verified
from tests.schemas import validate
from tests.workshops import tiny


@pytest.fixture(autouse=True)
def pages_laid_out_once(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Have no page laid out again that was laid out before, but where a report is proved byte for byte."""
    if "byte_for_byte" not in request.node.name:
        monkeypatch.setattr("impact.report.layout.pdf.pdf_of", laid_out_once)


def true() -> bytes:
    """Return the report that is forged here, two pages that choose a binder."""
    return report("tiny", "binder")


@cache
def product() -> Product:
    """Return the same report before it is laid out."""
    import tempfile

    with tempfile.TemporaryDirectory() as place:
        return prepare(tiny(Path(place)), Request("binder"), FEW)


@cache
def older() -> bytes:
    """Return the same report as one that older libraries made, by what it says."""
    return replace(product(), versions={**libraries(), "weasyprint": "69.0", "zlib": "1.2.11"}).content(".pdf")


def flipped(content: bytes) -> bytes:
    """Return results in which every yes is a no."""
    return content.replace(b": true", b": ?").replace(b": false", b": true").replace(b": ?", b": false")


def times_fifty(content: bytes) -> bytes:
    """Return a factor table whose first values are fifty times as large."""
    return re.sub(rb",(\d+\.\d+),kg", lambda found: b",%g,kg" % (50 * float(found[1])), content)


@cache
def first_file() -> dict[str, bytes]:
    return dict(read_report(true()).files)


DRAWN: dict[str, tuple[Forgery, str]] = {
    "less to more": (writing("Lower", "Higher"), r"page 1, .*Higher"),
    "a verdict flipped": (writing("blocked", "unknown"), r"page 1, .*unknown"),
    "kilograms to tonnes": (writing("g CO₂e", "t CO₂e"), r"page 1, .*t.?CO"),
    "another name of the workshop": (writing("Paper Bench", "Paper Branch"), r"page 1, what is drawn: .*Branch"),
    "another date": (writing("January 5, 2026", "January 5, 2025"), r"page 1, what is drawn: .*2025"),
    "row labels swapped": (forging.relabelled, r"page 1, what is drawn"),
    "a power of ten beside a figure": (painting(text_at(300, 500, "x 10")), r"page 1, what is drawn"),
    "a digit painted before a figure": (painting(text_at(58, 560, "9")), r"page 1, what is drawn"),
    "a white box over a figure": (painting(BOX), r"page 1, what is drawn"),
    "the true figure in white": (forging.whitened, r"page 1, what is drawn"),
    "a note over a page": (forging.noted, r"page 1, .*notes, links and fields"),
    "a drawing over a page": (forging.drawn_over, r"page 1, .*pictures and drawings"),
    "a field over a page": (forging.fielded, r"document: fields to fill in"),
    "shapes of digits swapped": (forging.reglyphed, r"page 1, the shapes of letters"),
    "the true page in a hidden layer": (forging.layered, r"document: layers"),
    "the true page cropped away": (forging.cropped, r"page 1, the part of the sheet that is shown"),
    "a page on its head": (forging.turned, r"page 2, the turn of the sheet"),
    "a forged page before the true ones": (forging.fronted, r"number of pages: the report has 3, its records give 2"),
    "a page that certifies": (forging.certified, r"page 3, the page itself: shows 'Certified by the office'"),
    "a chart drawn otherwise": (forging.uncharted, r"page 1, what is drawn"),
    "another title": (forging.retitled, r"document: what the file says of itself"),
    "something else read aloud": (forging.retold, r"document: what is read aloud"),
    "a program on opening": (forging.scripted, r"document: what happens when the file is opened"),
    "a place of a figure moved": (forging.moved, r"document: places of figures"),
    "a second file of batches on a page": (forging.pinned, r"page 1, .*notes, links and fields"),
}  # fmt: skip
ATTACHED: dict[str, tuple[Forgery, str]] = {
    "blocked to unknown in the results": (
        attaching(RESULTS, swapping(b'"blocked"', b'"unknown"')),
        r"results: .*'unknown'",
    ),
    "yes and no in the results": (attaching(RESULTS, flipped), r"results: .*the report has (True|False)"),
    "a figure of the results": (attaching(RESULTS, swapping(b"3.98", b"9000.0")), r"results: paper.*9000"),
    "factors times fifty": (attaching("table-paper.csv", times_fifty), r"file: table-paper.csv"),
    "a table that the program has not": (attaching("table-more.csv", b"id\n"), r"file: table-more.csv: .* a file"),
    "records that give other figures": (attaching("batches.csv", swapping(b",37,2,", b",36,2,")), r"results: "),
    "another guide": (attaching(GUIDE, b"This report was certified."), rf"file: {GUIDE}"),
    "a remark in the settings": (attaching(SETTINGS, lambda old: b"# certified\n" + old), rf"file: {SETTINGS}"),
    "another sum": (attaching(SUMS, swapping(b"a", b"b"), sums=False), rf"file: {SUMS}"),
    "one more file": (attaching("certificate.pdf", b"%PDF-1.7"), r"file: certificate.pdf: .* a file"),
    "a picture that the settings do not name": (attaching("seal.png", b"x"), r"file: seal.png: .* a file"),
}


def lines(found: Verification) -> str:
    return "\n".join(map(str, found.disagreements))


@pytest.mark.parametrize("name", [*DRAWN, *ATTACHED])
def test_verify_forgery_is_found_and_named(name: str) -> None:
    change, wanted = {**DRAWN, **ATTACHED}[name]
    found = verify(forged(true(), change))
    assert (found.proved, found.because, found.holds) == ("nothing", "", False)
    assert re.search(wanted, lines(found)), lines(found)


@pytest.mark.parametrize("name", ["less to more", "a white box over a figure", "shapes of digits swapped"])
def test_verify_forgery_that_names_older_libraries_is_not_proved(name: str) -> None:
    found = verify(forged(older(), DRAWN[name][0]))
    assert not found.holds
    assert "weasyprint 69.0, zlib 1.2.11, and here are weasyprint" in found.because


def test_verify_saved_again_says_that_no_page_differs() -> None:
    """Another program that saves the file leaves no page altered, and none is named; nothing is proved all the same."""
    found = verify(forged(true()))
    assert found.proved == "nothing"
    assert {one.where for one in found.disagreements} == {"document"}


@pytest.mark.parametrize(
    "forge",
    [
        lambda: true() + b"%more\n",
        lambda: b"\n" + true(),
        lambda: forging.updated(true(), DRAWN["less to more"][0]),
        lambda: true().replace(b"%PDF-1.7", b"%PDF-1.6"),
    ],
    ids=["behind", "before", "update", "version"],
)
def test_verify_bytes_beside_the_report_are_found(forge: Callable[[], bytes]) -> None:
    found = verify(forge())
    assert found.proved == "nothing"
    assert found.disagreements


@pytest.mark.parametrize(("workshop", "reader"), [("tiny", "funder"), ("demo", "school"), ("tiny", "binder")])
def test_verify_report_as_made_is_proved_byte_for_byte(workshop: str, reader: str) -> None:
    found = verified(workshop, reader)
    assert (found.proved, found.because, found.disagreements) == ("bytes", "", ())
    assert found.words == f"made again from the records inside it, byte for byte the same file. {CAUTION}"
    for agree, of in (found.files, found.results, found.pages):
        assert agree == of > 20


def test_verify_report_packed_otherwise_is_proved() -> None:
    assert repacked(true()) != true()
    found = verify(repacked(true()))
    assert (found.proved, found.holds, found.disagreements) == ("pages", True, ())


@pytest.mark.parametrize(
    "spoilt",
    [
        lambda: repacked(true(), spoil=lambda stream: stream + b"more"),
        lambda: repacked(true()).replace(b"\nstartxref", b"\n% more\nstartxref"),
        lambda: repacked(true()).replace(b"/Type /XRef", b"/Type /XReF"),
        lambda: repacked(forging.updated(true(), DRAWN["less to more"][0])[: len(true())]) + b"%",
        lambda: re.sub(rb"startxref\n\d+", b"startxref\n9", repacked(true())),
    ],
    ids=["behind a stream", "between objects", "another name", "behind the end", "another way in"],
)
def test_packed_otherwise_accounts_for_every_byte(spoilt: Callable[[], bytes]) -> None:
    assert packed_otherwise(repacked(true()), true())
    assert not packed_otherwise(spoilt(), true())


def test_verify_honest_report_of_an_older_library_is_proved_or_said_not_to_be() -> None:
    """Where the same bytes come out it is proved; where they do not, its pages are not, and nothing is said against it."""
    assert verify(older()).proved == "bytes"
    other = verify(forged(older()))
    assert (other.proved, other.holds) == ("figures", False)
    assert other.because.startswith("it was made with weasyprint 69.0, zlib 1.2.11, and here are weasyprint ")
    assert other.words.startswith(
        "the figures agree with the records inside it, but the pages were not proved, because it"
    )


def otherwise(**files: bytes) -> bytes:
    """Return the report of older libraries that wrote some files in another way, with its checksums."""
    made = replace(product(), versions={**libraries(), "numpy": "1.0.0"})
    carried = {**made.files(), **files}
    del carried[SUMS]
    made.__dict__["carried"] = {**carried, SUMS: sums_file(sums_of(carried))}
    return made.content(".pdf")


def nudged(content: bytes, share: float) -> bytes:
    """Return a file whose first long number is another by a share of it."""
    return re.sub(rb"\d\.\d{14,}", lambda found: repr(float(found[0]) * (1.0 + share)).encode(), content, count=1)


@pytest.mark.parametrize("name", [USED, RESULTS])
def test_verify_honest_report_of_a_library_that_counts_otherwise_in_the_last_bits_is_not_accused(name: str) -> None:
    honest = verify(otherwise(**{name: nudged(first_file()[name], 4e-16)}))
    assert (honest.proved, honest.files.agree) == ("figures", honest.files.of - 2)
    assert honest.because.startswith("it was made with numpy 1.0.0")
    forged_otherwise = verify(otherwise(**{name: nudged(first_file()[name], 1e-6)}))
    assert forged_otherwise.proved == "nothing"
    assert name in lines(forged_otherwise) or {one.where for one in forged_otherwise.disagreements} >= {"results"}


def test_verify_report_of_older_libraries_with_checksums_of_other_files_is_accused() -> None:
    made = replace(product(), versions={**libraries(), "numpy": "1.0.0"})
    made.__dict__["carried"] = {**made.files(), SUMS: made.files()[SUMS].replace(b"0", b"1", 1)}
    found = verify(made.content(".pdf"))
    assert found.proved == "nothing"
    assert f"file: {SUMS}" in lines(found)


def test_verify_report_of_altered_tables_names_them(monkeypatch: pytest.MonkeyPatch) -> None:
    """The whole program was run with other factors: everything in the file agrees with everything else in it."""
    tables = {name: times_fifty(content) if "energy" in name else content for name, content in factor_tables().items()}
    tables["table-making.csv"] = times_fifty(tables["table-making.csv"])
    assert tables != factor_tables()
    monkeypatch.setattr("impact.report.production.factor_tables", lambda: tables)
    product.cache_clear()
    found = verify(product().content(".pdf"))
    product.cache_clear()
    assert found.proved == "nothing"
    assert "file: table-making.csv" in lines(found)


def test_verify_another_version_is_named_first() -> None:
    other = attaching(SETTINGS, swapping(b'version = "0', b'version = "9'))
    found = verify(forged(true(), other))
    assert not found.holds
    assert found.because.startswith("version 9.")
    assert found.version.startswith("9.")


def own_template(pdf: object) -> None:
    attaching(TEMPLATE, b"{% include 'missing' %}{{ 1 / 0 }}")(pdf)  # type: ignore[arg-type]
    attaching(SETTINGS, swapping(b"own_template = false", b"own_template = true"))(pdf)  # type: ignore[arg-type]


def test_verify_own_template_is_never_run_and_proves_no_page() -> None:
    found = verify(forged(true(), own_template, painting(BOX)))
    assert (found.proved, found.holds, found.pages) == ("figures", False, (0, 0))
    assert "template of the workshop's own, which is never run" in found.because


@pytest.mark.parametrize("shown", ["--json", ""])
def test_verify_command_says_last_what_was_proved(tmp_path: Path, shown: str) -> None:
    path = tmp_path / "x.pdf"
    for content, status in ((true(), 0), (forged(true(), DRAWN["less to more"][0]), 1)):
        path.write_bytes(content)
        done = CliRunner().invoke(main, ["verify", str(path), *filter(None, [shown])])
        assert done.exit_code == status
        if shown:
            validate("verify", json.loads(done.stdout))
        else:
            assert done.stdout.splitlines()[-1].endswith(CAUTION)
            assert ("byte for byte" in done.stdout) == (status == 0)


def settings(old: str, new: str) -> bytes:
    """Return the attached settings with a change."""
    return swapping(old.encode(), new.encode())(first_file()[SETTINGS])


def school() -> bytes:
    """Return the settings of a report for a school."""
    return settings('reader = "binder"', 'reader = "school"')


ASKED = "[asked]\nsessions = {}\npeople = 12\nparts_per_person = 1\n"
ATTACKS: dict[str, tuple[Callable[[], bytes], str]] = {
    "a hidden template": (lambda: settings("[report]", "[report]\ntemplate = \"{{ 1 }}\""), "report.template"),
    "own template without one": (lambda: settings("own_template = false", "own_template = true"), "no template.html"),
    "a missing include": (lambda: settings("[report]", "include = \"x\"\n[report]"), "include"),
    "no end of sessions": (lambda: school().replace(b"[asked]\n", ASKED.format("1e400").encode()), "asked.sessions"),
    "too many sessions": (lambda: school().replace(b"[asked]\n", ASKED.format(10**9).encode()), "sessions = 1000000000"),
    "sessions of another kind": (lambda: settings("[asked]\n", ASKED.format(3)), "other questions"),
    "three million draws": (lambda: settings("draws = 100", "draws = 3000000"), "counted.draws"),
    "no draws": (lambda: settings("draws = 100", "draws = 0"), "counted.draws"),
    "draws in a text": (lambda: settings("draws = 100", 'draws = "100"'), "counted.draws"),
    "a seed below zero": (lambda: settings("seed = 2026", "seed = -1"), "counted.seed"),
    "a seed of thousands of digits": (lambda: settings("seed = 2026", "seed = 0x" + "f" * 9_000), "counted.seed"),
    "a language that is a path": (lambda: settings('"en"', '"../../x"'), "../../x"),
    "a reader that is a path": (lambda: settings('"binder"', '"../../../etc/passwd"'), "report.reader"),
    "a reader that is a list": (lambda: settings('"binder"', '["binder"]'), "report.reader"),
    "another column left out": (lambda: settings('["notes"]', '["notes", "rejects"]'), "report.leave_out"),
    "a part of a thousand letters": (lambda: settings("[report]", f"[report]\npart = \"{'a' * 1000}\""), "report.part"),
    "half a period": (lambda: settings("seed", 'first_day = "2026-01-01"\nseed'), "no period"),
    "a day that is none": (
        lambda: settings("seed", 'first_day = "2026-02-31"\nlast_day = "2026-03-01"\nseed'), "counted.first_day",
    ),
    "a version that names an office": (
        lambda: re.sub(rb'version = ".*"', b'version = "0.2.0, certified by the office"', first_file()[SETTINGS]), "version",
    ),
    "a library that certifies": (lambda: re.sub(rb'zlib = ".*"', b'certificate = "1.0"', first_file()[SETTINGS]), "certificate"),
    "a library of another version": (lambda: re.sub(rb'zlib = ".*"', b'zlib = "certified"', first_file()[SETTINGS]), "libraries.zlib"),
    "a key less": (lambda: settings("seed = 2026\n", ""), "counted.seed"),
    "two megabytes": (lambda: first_file()[SETTINGS] + b"#" * 2_000_000, "larger"),
}  # fmt: skip


@pytest.mark.parametrize("name", ATTACKS)
def test_verify_hostile_settings_end_in_one_line(name: str) -> None:
    content, wanted = ATTACKS[name]
    with pytest.raises(NoReportError) as caught:
        verify(forged(true(), attaching(SETTINGS, content())))
    assert wanted in str(caught.value)
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 700


ALL_OF_THEM = """
import re, resource, sys
from pathlib import Path
from click.testing import CliRunner
from impact.cli.commands import main
for path in sys.argv[1:]:
    done = CliRunner().invoke(main, ["verify", path])
    print(done.exit_code, done.stderr, end="")
status = Path("/proc/self/status")  # what the system says counts the process that this one was a copy of, too
if status.exists():
    print(1024 * int(re.search(r"VmHWM:\\s+(\\d+)", status.read_text())[1]))
else:
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""
SECONDS = 10
"""Of the processor, for all of them; far more than they take, so that a busy machine is no matter."""


def limited() -> None:
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))


def test_verify_hostile_settings_take_ten_seconds_and_a_gigabyte_at_most_all_together(tmp_path: Path) -> None:
    """The processor's time of one process that reads them all, so that none can take more."""
    files = [tmp_path / f"{number}.pdf" for number in range(len(ATTACKS))]
    for file, (content, _) in zip(files, ATTACKS.values(), strict=True):
        file.write_bytes(forged(true(), attaching(SETTINGS, content())))
    done = subprocess.run(
        [sys.executable, "-c", ALL_OF_THEM, *map(str, files)],
        capture_output=True, text=True, preexec_fn=limited, check=True,
    )  # fmt: skip
    *lines, most = done.stdout.splitlines()
    assert len(lines) == len(ATTACKS) >= 20
    for line, file, (_, wanted) in zip(lines, files, ATTACKS.values(), strict=True):
        assert line.startswith(f"1 Error: {file}: ")
        assert wanted in line
    assert 10_000_000 < int(most) < 1_000_000_000


@pytest.mark.parametrize("language", LANGUAGES)
def test_guide_names_every_attached_file_and_the_version(language: str) -> None:
    from impact import __version__
    from impact.report.evidence import guide

    text = guide(language, __version__).decode()
    named = [name for name in first_file() if not name.startswith("table-")]
    assert [name for name in named if name not in text] == []
    assert __version__ in text
    assert "VERSION" not in text
    assert max(map(len, text.splitlines())) <= 82
    assert first_file()[GUIDE].decode().startswith("START HERE")
