"""Every report of three workshops, the demo, a tiny one and one of 5,040 batches: standards, evidence, pages, exports."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from impact.cli.commands import main
from impact.report.kinds import KINDS
from tests.reports import FOLDERS, refusals, report, verified, web_page
from tests.sheets import count

SIZES = ("demo", "tiny", "large")
MOST_PAGES = {"school": 3, "binder": 2}

every_report = pytest.mark.parametrize("reader", KINDS)
every_size = pytest.mark.parametrize("size", SIZES)


@every_size
@every_report
def test_report_fulfils_both_standards(size: str, reader: str) -> None:
    for profile in ("ua1", "3a"):
        assert refusals(size, reader, profile) == []


@every_size
@every_report
def test_report_syntax_is_sound(size: str, reader: str, tmp_path: Path) -> None:
    path = tmp_path / "report.pdf"
    path.write_bytes(report(size, reader))
    done = subprocess.run(["qpdf", "--check", path], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@every_size
@every_report
def test_report_agrees_with_its_records(size: str, reader: str) -> None:
    found = verified(size, reader)
    assert found.disagreements == ()
    assert found.pages[0] == found.pages[1] > 15


@every_size
@every_report
def test_report_has_the_pages_that_it_promises(size: str, reader: str) -> None:
    pages = count(report(size, reader))
    if reader in MOST_PAGES:
        assert pages == MOST_PAGES[reader]
    else:
        assert 6 <= pages <= 28  # `tests/test_pages.py` holds each size to its own number


@every_size
@every_report
def test_report_as_a_page_is_whole(size: str, reader: str) -> None:
    page = web_page(size, reader)
    assert page.startswith("<!DOCTYPE html>")
    assert page.rstrip().endswith("</html>")
    assert page.count("<main") == 1


@pytest.mark.parametrize("size", SIZES)
def test_export_and_explain_of_each_workshop(size: str, tmp_path: Path) -> None:
    folder, target = str(FOLDERS[size](tmp_path / size)), tmp_path / "book.xlsx"
    done = CliRunner().invoke(main, ["export", folder, "-o", str(target), "--draws", "100"])
    assert done.exit_code == 0, done.output
    assert {"headline", "records", "factors", "results"} <= set(load_workbook(target, read_only=True).sheetnames)
    told = CliRunner().invoke(main, ["explain", folder, "net_kgco2e.value", "--draws", "100"])
    assert told.exit_code == 0, told.output
    assert "net_kgco2e" in told.output
