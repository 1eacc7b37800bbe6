"""Without Pango: what needs it says what to install and writes nothing; all else works."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from impact.records.demonstration import DEMO
from impact.report.layout import pango
from tests.reports import small
from tests.shared import shared

ROOT = Path(__file__).resolve().parent.parent
APT = "sudo apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
FEW = ("--draws", "100")
NEEDLESS = [
    ("check", DEMO),
    ("totals", DEMO, *FEW),
    ("explain", DEMO, "parts.tool-tray.footprint_kgco2e", *FEW),
    ("export", DEMO, "-o", "a.xlsx", *FEW),
    ("breakeven", DEMO, "--part", "tool-tray", *FEW),
    ("binders", DEMO, "--part", "tool-tray", *FEW),
    ("forecast", DEMO, "--part", "tool-tray", "--sessions", "8", "--people", "10", *FEW),
    ("factors", "list"),
    ("new", "bench", "--country", "USA"),
    ("report", DEMO, "-o", "a.html", *FEW),
    ("report", DEMO, "--for", "school", "-o", "school.html", *FEW),
    ("report", DEMO, "--for", "binder", "-o", "binder.html", *FEW),
]

linux = pytest.mark.skipif(sys.platform != "linux", reason="the loader of libraries of Linux")


# Runs commands one after the other in one process, in which Pango cannot be loaded; gives status, output and faults of each.
ALL = """
import json, sys
from click.testing import CliRunner
from impact.cli.commands import main

found = [CliRunner().invoke(main, arguments) for arguments in json.load(sys.stdin)]
json.dump([[done.exit_code, done.output, repr(done.exception)] for done in found], sys.stdout)
"""


def without_pango(place: Path) -> Path:
    """Return a folder with, in `libraries`, a Pango that the system finds first and cannot load, and apt-get in `bin`."""
    for name in ("libraries/libpango-1.0.so.0", "bin/apt-get"):
        path = place / name
        path.parent.mkdir()
        path.write_text("#!/bin/sh\n", encoding="utf-8")
        path.chmod(0o755)
    (place / "here").mkdir()
    return place


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    return without_pango(tmp_path)


def run(command: Sequence[str | Path], bare: Path, given: str | None = None) -> subprocess.CompletedProcess[str]:
    """Run Python where Pango cannot be loaded, in the empty folder `here`."""
    environment = {
        **os.environ, "PYTHONPATH": str(ROOT), "LD_LIBRARY_PATH": str(bare / "libraries"), "PATH": str(bare / "bin"),
    }  # fmt: skip
    return subprocess.run(
        [sys.executable, *map(str, command)],
        cwd=bare / "here", env=environment, input=given, capture_output=True, text=True, check=False,
    )  # fmt: skip


def outcomes() -> list[tuple[int, str, str]]:
    """Return status, output and fault of each command that needs no Pango."""
    with TemporaryDirectory() as name:
        place = without_pango(Path(name))
        given = json.dumps([list(map(str, arguments)) for arguments in NEEDLESS])
        done = run(("-c", ALL), place, given)
    assert done.returncode == 0, done.stderr
    return [tuple(one) for one in json.loads(done.stdout)]


@linux
@pytest.mark.parametrize(
    "number", range(len(NEEDLESS)), ids=lambda number: " ".join(map(str, NEEDLESS[number][:1] + NEEDLESS[number][2:4]))
)
def test_command_without_pango_that_makes_no_pdf_works(number: int) -> None:
    status, output, fault = shared("commands-without-pango", outcomes)[number]
    assert (status, "Pango" in output) == (0, False), output + fault


@linux
def test_verify_without_pango_compares_figures_and_proves_no_page(bare: Path) -> None:
    (bare / "here" / "small.pdf").write_bytes(small())
    done = run(("-m", "impact", "verify", "small.pdf"), bare)
    assert (done.returncode, done.stderr) == (1, "")
    assert "the pages were not proved, because they cannot be laid out here without the library Pango" in done.stdout


@linux
def test_process_without_pango_that_makes_no_pdf_works(bare: Path) -> None:
    done = run(("-m", "impact", *NEEDLESS[-1]), bare)
    assert (done.returncode, "Pango" in done.stdout + done.stderr) == (0, False), done.stderr


@linux
@pytest.mark.parametrize(
    "arguments", [("report", DEMO, "--grant", "none"), ("report", DEMO, "--for", "school"), ("demo", "try-it")]
)
def test_command_without_pango_that_makes_a_pdf_names_the_package_and_writes_nothing(
    bare: Path, arguments: tuple[str | Path, ...]
) -> None:
    done = run(("-m", "impact", *arguments), bare)
    line = (
        f"Error: a PDF needs the library Pango, which cannot be loaded. Install it with: {APT}. "
        "`impact report` with -o report.html and all other commands but `demo` work without it.\n"
    )
    assert (done.returncode, done.stdout, done.stderr) == (1, "", line)
    assert list((bare / "here").iterdir()) == []


@linux
def test_pdf_of_without_pango_raises_the_same_line(bare: Path) -> None:
    code = (
        "from impact.report.layout.pdf import RenderError, pdf_of\n"
        "try: pdf_of('<p>a</p>')\n"
        "except RenderError as error: print(error)"
    )
    done = run(("-c", code), bare)
    assert done.stdout.count("\n") == 1
    assert APT in done.stdout


COUNTED = """
import subprocess
from impact.report.layout import pango

began = []
start = subprocess.Popen.__init__
subprocess.Popen.__init__ = lambda *given, **named: (began.append(given[1]), start(*given, **named))[1]
print(pango.absence(), began)
"""


@linux
def test_pango_is_loaded_without_other_processes() -> None:
    done = subprocess.run([sys.executable, "-c", COUNTED], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout == "None []\n"


FAKE = """
from ctypes.util import find_library
from weasyprint import inner
if find_library("c") is None:
    raise OSError("no library of this name")
"""


@linux
def test_pango_that_only_the_search_finds_is_found(tmp_path: Path) -> None:
    (tmp_path / "weasyprint").mkdir()
    (tmp_path / "weasyprint" / "__init__.py").write_text(FAKE, encoding="utf-8")
    (tmp_path / "weasyprint" / "inner.py").write_text("", encoding="utf-8")
    code = "from impact.report.layout import pango; print(pango.absence())"
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join((str(tmp_path), str(ROOT)))}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, env=environment, capture_output=True, text=True, check=True
    )
    assert done.stdout == "None\n"


@pytest.mark.parametrize(
    ("manager", "words"),
    [
        ("apt-get", f"with: {APT}"),
        ("dnf", "with: sudo dnf install pango"),
        ("pacman", "with: sudo pacman -S pango"),
        ("apk", "with: apk add pango harfbuzz-subset fontconfig"),
        ("zypper", "with: sudo zypper install libpango-1_0-0 libharfbuzz-subset0"),
        ("brew", "with: brew install pango"),
        ("emerge", "with your system's package manager (version 1.44 or later)"),
    ],
)
def test_remedy_linux_is_that_of_its_package_manager(
    bare: Path, monkeypatch: pytest.MonkeyPatch, manager: str, words: str
) -> None:
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("PATH", str(bare / "bin"))
    (bare / "bin" / "apt-get").rename(bare / "bin" / manager)
    assert pango.remedy() == words


@pytest.mark.parametrize(
    ("platform", "words"),
    [
        ("darwin", "with Homebrew: brew install pango"),
        ("win32", "in the shell of MSYS2: pacman -S mingw-w64-ucrt-x86_64-pango"),
    ],
)
def test_remedy_other_systems_is_what_the_readme_says(
    monkeypatch: pytest.MonkeyPatch, platform: str, words: str
) -> None:
    monkeypatch.setattr("impact.report.layout.pango.sys.platform", platform)
    assert pango.remedy().startswith(words)
    assert words.rpartition(": ")[2] in (ROOT / "README.md").read_text(encoding="utf-8")


def test_absence_where_pango_is_there_is_none() -> None:
    assert pango.absence() is None
