"""Without Pango: what needs it says what to install and writes nothing; all else works."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from impact.records.demonstration import DEMO
from impact.report import pango
from tests.reports import small

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
    ("verify", "small.pdf"),
    ("report", DEMO, "-o", "a.html", *FEW),
    ("report", DEMO, "--for", "school", "-o", "school.html", *FEW),
    ("report", DEMO, "--for", "binder", "-o", "binder.html", *FEW),
]

linux = pytest.mark.skipif(sys.platform != "linux", reason="the loader of libraries of Linux")


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    """Return a folder with, in `libraries`, a Pango that the system finds first and cannot load, and apt-get in `bin`."""
    for name in ("libraries/libpango-1.0.so.0", "bin/apt-get"):
        path = tmp_path / name
        path.parent.mkdir()
        path.write_text("#!/bin/sh\n", encoding="utf-8")
        path.chmod(0o755)
    return tmp_path


def run(*arguments: str | Path, bare: Path) -> subprocess.CompletedProcess[str]:
    """Run a command where Pango cannot be loaded, in the empty folder `here`."""
    (bare / "here").mkdir(exist_ok=True)
    environment = {
        **os.environ, "PYTHONPATH": str(ROOT), "LD_LIBRARY_PATH": str(bare / "libraries"), "PATH": str(bare / "bin"),
    }  # fmt: skip
    command = [sys.executable, "-m", "impact", *map(str, arguments)]
    return subprocess.run(command, cwd=bare / "here", env=environment, capture_output=True, text=True, check=False)


@linux
@pytest.mark.parametrize(
    "arguments", NEEDLESS, ids=lambda arguments: " ".join(map(str, arguments[:1] + arguments[2:4]))
)
def test_command_without_pango_that_makes_no_pdf_works(bare: Path, arguments: tuple[str | Path, ...]) -> None:
    if arguments[0] == "verify":
        (bare / "here").mkdir()
        (bare / "here" / "small.pdf").write_bytes(small())
    done = run(*arguments, bare=bare)
    assert (done.returncode, "Pango" in done.stdout + done.stderr) == (0, False), done.stderr


@linux
@pytest.mark.parametrize("arguments", [("report", DEMO), ("report", DEMO, "--for", "school"), ("demo", "try-it")])
def test_command_without_pango_that_makes_a_pdf_names_the_package_and_writes_nothing(
    bare: Path, arguments: tuple[str | Path, ...]
) -> None:
    done = run(*arguments, bare=bare)
    line = (
        f"Error: a PDF needs the library Pango, which cannot be loaded. Install it with: {APT}. "
        "`impact report` with -o report.html and all other commands but `demo` work without it.\n"
    )
    assert (done.returncode, done.stdout, done.stderr) == (1, "", line)
    assert list((bare / "here").iterdir()) == []


@linux
def test_pdf_of_without_pango_raises_the_same_line(bare: Path) -> None:
    code = (
        "from impact.report.pdf import RenderError, pdf_of\n"
        "try: pdf_of('<p>a</p>')\n"
        "except RenderError as error: print(error)"
    )
    environment = {**os.environ, "LD_LIBRARY_PATH": str(bare / "libraries"), "PATH": str(bare / "bin")}
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, env=environment, capture_output=True, text=True)
    assert done.stdout.count("\n") == 1
    assert APT in done.stdout


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
    monkeypatch.setattr("impact.report.pango.sys.platform", platform)
    assert pango.remedy().startswith(words)
    assert words.rpartition(": ")[2] in (ROOT / "README.md").read_text(encoding="utf-8")


def test_absence_where_pango_is_there_is_none() -> None:
    assert pango.absence() is None
