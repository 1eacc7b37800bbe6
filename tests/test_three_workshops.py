"""Every report of three workshops, the demo, a tiny one and one of 5,040 batches: standards, evidence, pages, exports."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from functools import cache
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook
from pypdf import PdfReader

from impact.cli import main
from impact.commands_report import READERS
from impact.demonstration import DEMO
from impact.report.request import Reader
from tests.reports import refusals, report, verified, web_page
from tests.workshops import large, tiny

SIZES = ("demo", "tiny", "large")
MOST_PAGES = {"school": 2, "binder": 2}
HOME = TemporaryDirectory(prefix="impact-tests-")

every_report = pytest.mark.parametrize("reader", READERS)
every_size = pytest.mark.parametrize("size", SIZES)


@pytest.fixture(scope="module", autouse=True)
def _home() -> Iterator[None]:
    yield
    HOME.cleanup()


@cache
def folder(size: str) -> Path:
    """Return the folder of a workshop."""
    makers = {"tiny": tiny, "large": large}
    if size == "demo":
        return DEMO
    place = Path(HOME.name) / size
    place.mkdir()
    return makers[size](place)


@every_size
@every_report
def test_report_fulfils_both_standards(size: str, reader: Reader) -> None:
    for profile in ("ua1", "3a"):
        assert refusals(size, reader, profile) == []


@every_size
@every_report
def test_report_syntax_is_sound(size: str, reader: Reader, tmp_path: Path) -> None:
    path = tmp_path / "report.pdf"
    path.write_bytes(report(size, reader))
    done = subprocess.run(["qpdf", "--check", path], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@every_size
@every_report
def test_report_agrees_with_its_records(size: str, reader: Reader) -> None:
    found = verified(size, reader)
    assert found.disagreements == ()
    assert found.pages[0] == found.pages[1] > 20


@every_size
@every_report
def test_report_has_the_pages_that_it_promises(size: str, reader: Reader) -> None:
    pages = len(PdfReader(BytesIO(report(size, reader))).pages)
    if reader in MOST_PAGES:
        assert pages == MOST_PAGES[reader]
    elif size == "demo":
        assert 12 <= pages <= 20
    else:
        assert 8 <= pages <= 26


@every_size
@every_report
def test_report_as_a_page_is_whole(size: str, reader: Reader) -> None:
    page = web_page(size, reader)
    assert page.startswith("<!DOCTYPE html>")
    assert page.rstrip().endswith("</html>")
    assert page.count("<main") == 1


@pytest.mark.parametrize("size", SIZES)
def test_export_and_explain_of_each_workshop(size: str, tmp_path: Path) -> None:
    target = tmp_path / "book.xlsx"
    done = CliRunner().invoke(main, ["export", str(folder(size)), "-o", str(target), "--draws", "100"])
    assert done.exit_code == 0, done.output
    assert {"headline", "records", "factors", "results"} <= set(load_workbook(target, read_only=True).sheetnames)
    told = CliRunner().invoke(main, ["explain", str(folder(size)), "net_kgco2e.value", "--draws", "100"])
    assert told.exit_code == 0, told.output
    assert "net_kgco2e" in told.output
