"""Ctrl-C at chosen moments, told by the program's own way and not by the clock: one line, status 1, nothing left behind."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from impact.base.processes import processors
from impact.records.demonstration import DEMO
from tests.folders import CLOSED, TOML, swap, write_folder

ROOT = Path(__file__).resolve().parent.parent

# Comes in at the door and interrupts itself in the n-th call of a function: there, or in a finaliser that runs there,
# which Python lets no fault out of.
CODE = """
import os, signal, sys

signal.signal(signal.SIGINT, signal.default_int_handler)  # ignored where a shell runs the tests in the background

file, function, left, where = sys.argv[1], sys.argv[2], int(sys.argv[3]), sys.argv[4]
del sys.argv[1:5]

class Dying:
    def __del__(self):
        os.killpg(0, signal.SIGINT)  # as a terminal does

def follow(frame, event, argument):
    global left
    code = frame.f_code
    if code.co_name == function and code.co_filename.endswith(file):
        left -= 1
        if left == 0:
            sys.settrace(None)
            os.write(1, b"<interrupted>")
            if where == "finaliser":
                Dying()
            else:
                os.killpg(0, signal.SIGINT)

import impact.__main__

sys.settrace(follow)
impact.__main__.main()
"""

IMPORT = ("<frozen importlib._bootstrap>", "_find_and_load")
MOMENTS = {
    "the first import": (*IMPORT, 1),
    "an import of the commands": (*IMPORT, 40),
    "our first module": ("impact/cli/commands.py", "<module>", 1),
    "before the commands start": ("impact/cli/terminal.py", "_set_libraries", 1),
    "an import of a command": (*IMPORT, 200),
    "a large library": ("numpy/__init__.py", "<module>", 1),
    "reading the settings": ("impact/records/workshop_file.py", "<module>", 1),
    "reading the batches": ("impact/tables/csv.py", "blocks", 1),
    "calculating": ("impact/api.py", "assess", 1),
    "drawing": ("impact/core/sampling.py", "draw", 1),
    "the text": ("impact/cli/totals_text.py", "as_text", 1),
    "the output": ("click/utils.py", "echo", 1),
    "the way out": ("threading.py", "_shutdown", 1),
}

pytestmark = pytest.mark.skipif(os.name == "nt", reason="signals of other systems")


def interrupted(moment: tuple[str, str, int], where: str, *arguments: str | Path, home: Path) -> None:
    """Run a command that interrupts itself; `home` takes its temporary files."""
    command = [sys.executable, "-c", CODE, *map(str, (*moment, where, *arguments))]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "TMPDIR": str(home)}
    done = subprocess.run(
        command, cwd=home, env=environment, capture_output=True, text=True, check=False, start_new_session=True
    )
    assert "<interrupted>" in done.stdout, f"{moment} never came: {done.stderr}"
    assert (done.returncode, done.stderr.split("\n")) == (1, ["", "Aborted!", ""])


@pytest.mark.parametrize("moment", MOMENTS)
def test_totals_interrupted_at_any_moment_shows_one_line(tmp_path: Path, moment: str) -> None:
    interrupted(MOMENTS[moment], "code", "totals", DEMO, "--draws", "100", home=tmp_path)


@pytest.mark.parametrize("moment", ["the first import", "a large library", "calculating", "the output", "the way out"])
def test_totals_interrupted_in_a_finaliser_shows_one_line(tmp_path: Path, moment: str) -> None:
    interrupted(MOMENTS[moment], "finaliser", "totals", DEMO, "--draws", "100", home=tmp_path)


OF_BINDERS = ("--for", "binder", "--part", "pot")
"""The report that is made quickest."""


@pytest.mark.parametrize(
    "moment",
    [
        ("impact/api.py", "assess", 1),
        ("impact/base/files.py", "_put", 1),
        ("impact/base/processes.py", "ask", 1),
        ("impact/report/layout/lines.py", "remembered", 1),
    ],
    ids=lambda moment: moment[1],
)
def test_report_interrupted_leaves_nothing_behind(tmp_path: Path, moment: tuple[str, str, int]) -> None:
    folder, home = write_folder(tmp_path / "bench", batches=CLOSED), tmp_path / "home"
    home.mkdir()
    target = "a.pdf" if moment[1] == "remembered" else "a.html"
    if moment[1] == "ask" and processors() == 1:
        pytest.skip("has no helper")
    interrupted(moment, "code", "report", folder, *OF_BINDERS, "-o", target, "--draws", "100", home=home)
    assert list(home.iterdir()) == []


def test_report_in_letters_of_other_fonts_says_nothing_at_its_end_and_leaves_nothing_behind(tmp_path: Path) -> None:
    toml = swap(TOML, '"Paper Bench"', '"漢字 Bench"')
    folder = write_folder(tmp_path / "bench", workshop=toml, batches=CLOSED)
    home = tmp_path / "home"
    home.mkdir()
    command = [sys.executable, "-m", "impact", "report", str(folder), *OF_BINDERS, "-o", "a.html", "--draws", "100"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "TMPDIR": str(home)}
    done = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=True)
    assert not re.search("Exception|Traceback", done.stderr)
    assert list(home.iterdir()) == []


def test_demo_interrupted_while_two_processes_make_reports_shows_one_line(tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    interrupted(("impact/report/context.py", "compose", 1), "code", "demo", tmp_path / "try", home=home)
    assert list((tmp_path / "try" / "reports").glob("*")) == []
    assert list(home.iterdir()) == []


@pytest.mark.parametrize(
    "moment",
    [
        ("distributed/deploy/local.py", "__init__", 1),
        ("impact/account/cluster.py", "_spread", 1),
        ("distributed/deploy/cluster.py", "close", 1),
    ],
    ids=lambda moment: moment[1],
)
def test_totals_of_several_processes_interrupted_shows_one_line(tmp_path: Path, moment: tuple[str, str, int]) -> None:
    folder = write_folder(tmp_path / "bench", batches=CLOSED)
    (folder / "batches").mkdir()
    (folder / "batches.csv").rename(folder / "batches" / "1.csv")
    interrupted(moment, "code", "totals", folder, "--draws", "100", "--workers", "2", home=tmp_path)


def test_module_fault_that_is_no_interrupt_keeps_its_traceback() -> None:
    code = "import impact.__main__; 1 / 0"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert done.stderr.startswith("Traceback")
    assert done.stderr.endswith("ZeroDivisionError: division by zero\n")


def test_module_fault_that_an_interrupt_led_to_is_an_interrupt() -> None:
    code = "import impact.__main__\ntry: raise KeyboardInterrupt\nexcept KeyboardInterrupt: import nowhere"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (1, "\nAborted!\n")
