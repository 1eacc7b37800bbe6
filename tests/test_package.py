from __future__ import annotations

import os
import subprocess
import sys
import sysconfig
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

import impact

ROOT = Path(__file__).parents[1]
DATA_FOLDERS = ["factors", "report_templates"]


def run(*command: str | Path, cwd: Path) -> str:
    """Run a command in a folder, blind to any PYTHONPATH, and return what it printed."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    done = subprocess.run(command, cwd=cwd, env=clean, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def data_files(folder: str) -> set[str]:
    """Return the files of a data folder of the checkout, as paths below the root."""
    paths = [path for path in (ROOT / folder).rglob("*") if path.is_file() and "__pycache__" not in path.parts]
    return {path.relative_to(ROOT).as_posix() for path in paths}


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the wheel and the source archive."""
    folder = tmp_path_factory.mktemp("dist")
    run(sys.executable, "-m", "hatchling", "build", "-d", folder, cwd=ROOT)
    return folder


@pytest.fixture(scope="module")
def wheel(built: Path) -> Path:
    """Return the one wheel."""
    (path,) = built.glob("*.whl")
    return path


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of programs of a new environment that has the wheel installed.

    The libraries it needs are those of the running environment, added by path; a path in a .pth file does
    not carry along the .pth files that it holds, so an installation in place stays out of sight.
    """
    home = tmp_path_factory.mktemp("environment")
    venv.create(home, with_pip=False)
    python = home / "bin" / "python"
    run(sys.executable, "-m", "pip", "--python", python, "install", "--no-deps", "--no-index", wheel, cwd=home)
    own = run(python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))", cwd=home).strip()
    (Path(own) / "libraries.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
    return home / "bin"


@pytest.mark.parametrize("folder", DATA_FOLDERS)
def test_wheel_holds_every_data_file(wheel: Path, folder: str) -> None:
    expected = {f"impact/_data/{name}" for name in data_files(folder)}
    assert expected
    with zipfile.ZipFile(wheel) as archive:
        assert expected - set(archive.namelist()) == set()


def test_wheel_holds_every_module_with_its_tables_and_the_licence(wheel: Path) -> None:
    package = ROOT / "impact"
    modules = {
        path.relative_to(ROOT).as_posix() for kind in ("py", "csv", "png") for path in package.rglob(f"*.{kind}")
    }
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
    assert modules - names == set()
    assert [name for name in names if name.endswith("licenses/LICENSE")]


def test_wheel_holds_nothing_beside_the_package(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        tops = {name.split("/")[0] for name in archive.namelist()}
    assert tops == {"impact", f"pulp_impact-{impact.__version__}.dist-info"}


@pytest.mark.parametrize("folder", DATA_FOLDERS)
def test_source_archive_holds_every_data_file(built: Path, folder: str) -> None:
    (path,) = built.glob("*.tar.gz")
    with tarfile.open(path) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    assert data_files(folder) - names == set()


def test_installed_wheel_is_what_is_imported(installed: Path, tmp_path: Path) -> None:
    where = run(installed / "python", "-c", "import impact; print(impact.__file__)", cwd=tmp_path)
    assert Path(where.strip()).is_relative_to(installed.parent)


def test_installed_command_version_is_the_package_version(installed: Path, tmp_path: Path) -> None:
    assert impact.__version__ in run(installed / "impact", "--version", cwd=tmp_path).split()


def test_installed_command_demo_writes_a_report_outside_the_checkout(installed: Path, tmp_path: Path) -> None:
    run(installed / "impact", "demo", "workshop", cwd=tmp_path)
    assert (tmp_path / "workshop" / "reports" / "funder.pdf").read_bytes().startswith(b"%PDF-")


def test_installed_command_new_makes_a_folder_outside_the_checkout(installed: Path, tmp_path: Path) -> None:
    run(installed / "impact", "new", "bench", "--country", "USA", cwd=tmp_path)
    assert (tmp_path / "bench" / "batches.xlsx").read_bytes().startswith(b"PK")
