"""Every command that writes, where the disk is full, the folder takes no files or another program holds the file."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner

from impact.cli.commands import main
from tests.folders import CLOSED, write_folder

WRITING = {
    "report": ("report", "{bench}", "--for", "school", "--draws", "100", "-o", "{place}/a.html", "--force"),
    "export": ("export", "{bench}", "--draws", "100", "-o", "{place}/a.xlsx", "--force"),
    "check": ("check", "{bench}", "--mark", "{place}/a.xlsx", "--force"),
    "demo": ("demo", "{place}/made"),
    "new": ("new", "{place}/made", "--country", "GBR"),
}
"""Commands that write; a new one belongs here (`test_main_commands_that_write_are_all_tried`)."""

OLD = b"as it was before"


def run(command: str, place: Path, bench: Path) -> str:
    """Run a command that must end with status 1 and one line; return that line."""
    arguments = [argument.format(bench=bench, place=place) for argument in WRITING[command]]
    result = CliRunner().invoke(main, arguments)
    assert isinstance(result.exception, SystemExit), result.exception
    assert result.exit_code == 1
    # a demo says first that its records were copied
    (line,) = result.stderr.removesuffix("\n").split("\n")
    assert line.isprintable()
    return line


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    return write_folder(tmp_path / "bench", batches=CLOSED)


def test_main_commands_that_write_are_all_tried() -> None:
    options = {"-o", "--mark", "--output"}
    writing = {
        name
        for name, command in main.commands.items()
        if any(options & {*parameter.opts} for parameter in command.params)
    }
    assert writing | {"demo", "new"} == set(WRITING)


@contextmanager
def mounted(folder: Path, options: str) -> Iterator[Path]:
    """Mount a disk of 64 kB at a folder, where the system lets us."""
    if sys.platform != "linux" or os.geteuid() != 0:
        pytest.skip("only root can mount a disk")
    folder.mkdir()
    done = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "none", folder], capture_output=True, check=False)
    if done.returncode:
        pytest.skip("this machine lets nobody mount")
    try:
        (folder / "a.html").write_bytes(OLD)
        (folder / "a.xlsx").write_bytes(OLD)
        if options:
            subprocess.run(["mount", "-o", f"remount,{options}", folder], check=True)
        yield folder
    finally:
        subprocess.run(["umount", folder], check=True)


def filled(disk: Path) -> None:
    with (disk / "ballast").open("wb", buffering=0) as stream:
        try:
            while stream.write(bytes(4096)) == 4096:
                pass
        except OSError:
            pass


def test_main_full_disk_is_one_line_and_leaves_what_was_there(tmp_path: Path, bench: Path) -> None:
    with mounted(tmp_path / "disk", "") as disk:
        filled(disk)
        before = sorted(disk.iterdir())
        for command in WRITING:
            assert run(command, disk, bench).endswith(" cannot be written: No space left on device"), command
            left = sorted(path for path in disk.iterdir() if path.name != "made")
            assert left == before, command
            assert (disk / "a.html").read_bytes() == (disk / "a.xlsx").read_bytes() == OLD


def test_main_disk_that_takes_no_writing_is_one_line(
    tmp_path: Path, bench: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("impact.cli.report._made", lambda *_, **__: (b"<html>", []))
    with mounted(tmp_path / "disk", "ro") as disk:
        for command in WRITING:
            assert run(command, disk, bench).endswith(" cannot be written: Read-only file system"), command
            assert (disk / "a.html").read_bytes() == (disk / "a.xlsx").read_bytes() == OLD


def _refuse(monkeypatch: pytest.MonkeyPatch, step: str, number: int) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    if step == "open":
        monkeypatch.setattr("impact.base.files._new_file", refuse)
    else:
        monkeypatch.setattr("impact.base.files._put", refuse)


@pytest.mark.parametrize("command", WRITING)
@pytest.mark.parametrize(
    ("step", "number"),
    [("open", errno.EACCES), ("open", errno.ENOSPC), ("name", errno.EACCES), ("name", errno.EBUSY)],
    ids=["folder without rights", "full disk", "file held by another program", "busy file"],
)
def test_main_refused_by_the_system_is_one_line_and_keeps_the_old_file(
    tmp_path: Path, bench: Path, monkeypatch: pytest.MonkeyPatch, command: str, step: str, number: int
) -> None:
    for name in ("a.html", "a.xlsx"):
        (tmp_path / name).write_bytes(OLD)
    with monkeypatch.context() as broken:
        # the full disk above is given a whole report
        broken.setattr("impact.cli.report._made", lambda *_, **__: (b"<html>", []))
        _refuse(broken, step, number)
        assert run(command, tmp_path, bench).endswith(f" cannot be written: {os.strerror(number)}")
    assert (tmp_path / "a.html").read_bytes() == (tmp_path / "a.xlsx").read_bytes() == OLD
    assert {path.name for path in tmp_path.iterdir()} <= {"a.html", "a.xlsx", "bench", "made"}


@pytest.mark.parametrize("number", [1, 2, 3])
def test_new_that_was_refused_midway_leaves_nothing_and_can_be_given_again(
    tmp_path: Path, bench: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    from impact.base import files as outputs

    calls, real = [0], outputs._put

    def refuse(temporary: Path, path: Path, *, force: bool) -> None:
        calls[0] += 1
        if calls[0] == number:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(temporary, path, force=force)

    with monkeypatch.context() as broken:
        broken.setattr("impact.base.files._put", refuse)
        run("new", tmp_path, bench)
    assert not (tmp_path / "made").exists()
    result = CliRunner().invoke(main, ["new", str(tmp_path / "made"), "--country", "GBR"])
    assert result.exit_code == 0


# -- records that another program holds -------------------------------------------------------------------------------


@pytest.mark.parametrize("file", ["workshop.toml", "parts.csv", "batches.csv"])
@pytest.mark.parametrize("command", ["report", "export", "check", "totals"])
def test_main_records_that_cannot_be_opened_are_named(
    tmp_path: Path, bench: Path, monkeypatch: pytest.MonkeyPatch, command: str, file: str
) -> None:
    real_os, real_path = os.open, Path.open

    def refuse(path: object) -> None:
        if Path(str(path)).name == file and "bench" in str(path):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))

    monkeypatch.setattr("os.open", lambda path, *rest, **more: refuse(path) or real_os(path, *rest, **more))
    monkeypatch.setattr("pathlib.Path.open", lambda path, *rest, **more: refuse(path) or real_path(path, *rest, **more))
    arguments = WRITING.get(command, ("totals", "{bench}"))[: 2 if command == "check" else None]
    result = CliRunner().invoke(main, [one.format(bench=bench, place=tmp_path) for one in arguments])
    assert result.exit_code == 1
    assert isinstance(result.exception, SystemExit), result.exception
    first = result.stderr.splitlines()[0]
    assert first.startswith(f"error: {file}: ")
    assert "Permission denied" in first
    assert not (tmp_path / "a.html").exists()
