"""Outputs while programs are killed, the disk refuses, and several programs write at once: always a whole file."""

from __future__ import annotations

import errno
import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from impact.base.files import OutputError, passing_folder, write
from impact.records.demonstration import DEMO, FILES, MARK, DemoError, copy_demo
from tests.killing import unfinished
from tests.reports import small

ROOT = Path(__file__).resolve().parent.parent
SIZE = 300_000
WHOLE = (b"a" * SIZE, b"b" * SIZE)

WRITER = f"""
import sys
from pathlib import Path
from impact.base.files import write
print("ready", flush=True)
while True:
    for letter in (b"a", b"b"):
        write(Path(sys.argv[1]), letter * {SIZE}, force=True)
"""

pytestmark = pytest.mark.skipif(os.name == "nt", reason="kills and locks of other systems")


@contextmanager
def child(code: str, *arguments: str | Path) -> Iterator[subprocess.Popen[str]]:
    """Run a program that says when it starts its work; it is killed at the end."""
    command = [sys.executable, "-c", code, *map(str, arguments)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        try:
            yield process
        finally:
            process.send_signal(signal.SIGKILL)


def killed(work: str, folder: Path) -> list[dict[str, Any]]:
    """Return what a work left after each of its kills; the last one was left to end."""
    command = [sys.executable, "-m", "tests.killing", work, str(folder)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    found: list[dict[str, Any]] = json.loads(done.stdout)
    *ended, last = [one["ended"] for one in found]
    assert set(ended) == {-signal.SIGKILL}
    assert last == 0
    return found


def test_write_killed_at_every_step_leaves_a_whole_file_and_the_next_run_tidies_up(tmp_path: Path) -> None:
    found = killed("write", tmp_path)
    assert len(found) > 50
    contents = [one["content"] for one in found]
    assert contents == sorted(contents, reverse=True)  # the old one up to some step, the new one from there on
    assert set(contents) == {"old", "new"}
    assert {one["unfinished"] for one in found[:-1]} == {0, 1}
    assert found[-1]["unfinished"] == 0
    assert [path.name for path in tmp_path.iterdir()] == ["report.pdf"]


def test_passing_folder_killed_at_every_step_is_removed_by_the_next_run(tmp_path: Path) -> None:
    found = killed("pass", tmp_path)
    assert len(found) > 20
    assert {tuple(one["left"]) for one in found} == {(), (".part",), (".files", ".part")}
    assert [one["after"] for one in found] == [[]] * len(found)
    assert found[-1]["left"] == []


def test_passing_folder_of_a_run_at_work_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with passing_folder() as first, passing_folder() as second:
        assert first.is_dir()
        assert second.is_dir()
        assert first != second
        assert first.stat().st_mode & 0o077 == 0
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("command", ["report", "verify"])
def test_report_full_temporary_directory_is_one_line_with_its_path(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    from impact.cli.commands import main
    from impact.report.verification import _made_again

    _made_again.cache_clear()  # what a test before this one verified needs no disk
    page = tmp_path / ("a.pdf" if command == "verify" else "a.html")
    if command == "verify":
        page.write_bytes(small())
    home, real = tmp_path / "full", Path.write_bytes
    home.mkdir()

    def refuse(path: Path, content: bytes) -> int:
        if home in path.parents:
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(path, content)

    monkeypatch.setattr("tempfile.tempdir", str(home))
    monkeypatch.setattr(Path, "write_bytes", refuse)
    asked = (
        ["verify", str(page)]
        if command == "verify"
        else ["report", str(DEMO), "-o", str(page), "--draws", "100", "--grant", "none"]
    )
    done = CliRunner().invoke(main, asked)
    assert done.exit_code == 1
    assert done.output.startswith(f"impact: {home}/")
    assert done.output.endswith(": No space left on device\n")
    assert done.output.count("\n") == 1
    assert list(home.iterdir()) == []


@pytest.mark.parametrize("mode", ["over", "anew"])
def test_copy_demo_killed_at_many_steps_can_be_given_again(tmp_path: Path, mode: str) -> None:
    found = killed(mode, tmp_path / "demo")
    assert len(found) > 20
    assert all(one["whole"] and one["again"] for one in found)
    assert [one["names"] for one in found] == [sorted({*FILES, MARK, "reports"})] * len(found)
    assert {one["present"] for one in found} == ({len(FILES)} if mode == "over" else set(range(len(FILES) + 1)))


def test_copy_demo_after_a_kill_before_its_mark_is_not_refused(tmp_path: Path) -> None:
    (tmp_path / f".{MARK}.0123456789ab.part").write_bytes(b"")
    copy_demo(tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {*FILES, MARK, "reports"}


def test_write_many_programs_at_once_replace_the_file_whole(tmp_path: Path) -> None:
    target = tmp_path / "report.pdf"
    target.write_bytes(WHOLE[0])
    with child(WRITER, target) as one, child(WRITER, target) as two, child(WRITER, target) as three:
        changes, before = 0, WHOLE[0]
        while changes < 50:
            found = target.read_bytes()
            assert found in WHOLE
            assert [process.poll() for process in (one, two, three)] == [None] * 3
            changes += found != before
            before = found


def test_write_many_programs_at_once_without_force_one_wins_and_the_others_say_so(tmp_path: Path) -> None:
    code = (
        "import sys, time; from pathlib import Path; from impact.base.files import write, OutputError\n"
        "print('ready', flush=True); sys.stdin.readline()\n"
        "try: write(Path(sys.argv[1]), sys.argv[2].encode())\n"
        "except OutputError as error: sys.exit(str(error))"
    )
    target = tmp_path / "report.pdf"
    command = [sys.executable, "-c", code, str(target)]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    writers = [subprocess.Popen([*command, str(number)], cwd=ROOT, text=True, **pipes) for number in range(6)]
    for writer in writers:
        assert writer.stdout.readline() == "ready\n"
    said = [writer.communicate("\n")[1] for writer in writers]
    winner = [number for number, writer in enumerate(writers) if writer.returncode == 0]
    assert [target.read_text()] == [str(number) for number in winner]
    assert sorted(said) == ["", *[f"{target} exists already; choose another name or add --force\n"] * 5]
    assert unfinished(tmp_path) == []


# -- what stands in the way -----------------------------------------------------------------------------------------


def test_write_file_that_another_run_writes_is_left_alone(tmp_path: Path) -> None:
    import fcntl

    busy, dead = (tmp_path / f".a.pdf.{digit * 12}.part" for digit in "01")
    other = tmp_path / ".b.pdf.000000000000.part"
    for path in (busy, dead, other):
        path.write_bytes(b"half")
    with busy.open("rb") as stream:
        fcntl.flock(stream, fcntl.LOCK_EX)
        write(tmp_path / "a.pdf", b"new")
    assert {path.name for path in tmp_path.iterdir()} == {"a.pdf", busy.name, other.name}


def test_write_over_the_limit_of_a_file_keeps_the_old_one(tmp_path: Path) -> None:
    target = tmp_path / "a.pdf"
    target.write_bytes(b"old")
    code = (
        "import resource, sys; from pathlib import Path; from impact.base.files import write\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
        "write(Path(sys.argv[1]), bytes(2000), force=True)"
    )
    done = subprocess.run([sys.executable, "-c", code, target], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.stderr.splitlines()[-1] == f"impact.base.files.OutputError: {target} cannot be written: File too large"
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("a.pdf", b"old")]


@pytest.mark.skipif(os.geteuid() != 0 or sys.platform != "linux", reason="only root can make a disk of 64 kB")
def test_write_full_disk_keeps_the_old_file(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "none", disk], capture_output=True, check=False)
    if mounted.returncode:
        pytest.skip("this machine lets nobody mount")
    try:
        write(disk / "a.pdf", b"old")
        with pytest.raises(OutputError, match=r"a\.pdf cannot be written: No space left on device"):
            write(disk / "a.pdf", bytes(100_000), force=True)
        assert [(path.name, path.read_bytes()) for path in disk.iterdir()] == [("a.pdf", b"old")]
        with pytest.raises(DemoError, match="No space left on device"):
            copy_demo(_filled(disk))
    finally:
        subprocess.run(["umount", disk], check=True)


def _filled(disk: Path) -> Path:
    """Leave no room on the disk but for a folder."""
    (disk / "demo").mkdir()
    with (disk / "ballast").open("wb", buffering=0) as stream:
        try:
            while stream.write(bytes(4096)) == 4096:
                pass
        except OSError:
            pass
    return disk / "demo"


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere")
def test_write_folder_without_rights_is_one_clear_line(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match="cannot be written: Permission denied"):
        write(tmp_path / "a.pdf", b"new")


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="there is no folder here that refuses everybody")
def test_write_folder_that_refuses_everybody_is_one_clear_line() -> None:
    with pytest.raises(OutputError, match=r"^/proc/a\.pdf cannot be written: "):
        write(Path("/proc/a.pdf"), b"new")


def _link(path: Path) -> None:
    (path.parent / "precious").write_bytes(b"mine")
    path.symlink_to("precious")


@pytest.mark.parametrize("force", [False, True])
@pytest.mark.parametrize(
    ("make", "kind"),
    [
        (Path.mkdir, "a folder"),
        (os.mkfifo, "a pipe"),
        (_link, "a link"),
        (lambda path: path.symlink_to("nowhere"), "a link"),
        (lambda path: path.symlink_to("/dev/null"), "a link"),
    ],
)
def test_write_no_regular_file_in_its_place_is_refused_and_left(
    tmp_path: Path, make: object, kind: str, force: bool
) -> None:
    target = tmp_path / "a.pdf"
    make(target)
    before = target.lstat()
    with pytest.raises(OutputError) as caught:
        write(target, b"new", force=force)
    assert str(caught.value) == f"{target} is {kind}; name a file"
    assert target.lstat().st_ino == before.st_ino
    assert not (tmp_path / "nowhere").exists()
    assert not (tmp_path / "precious").exists() or (tmp_path / "precious").read_bytes() == b"mine"


def test_write_device_is_refused() -> None:
    with pytest.raises(OutputError, match=r"^/dev/null is a device; name a file$"):
        write(Path("/dev/null"), b"new", force=True)


def test_write_file_that_is_replaced_keeps_its_rights_and_a_new_one_follows_the_mask(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"old")
    (tmp_path / "a").chmod(0o600)
    before = os.umask(0o027)
    try:
        write(tmp_path / "a", b"new", force=True)
        write(tmp_path / "b", b"new")
    finally:
        os.umask(before)
    assert [(tmp_path / name).stat().st_mode & 0o777 for name in "ab"] == [0o600, 0o640]


def test_copy_demo_never_writes_outside_its_folder(tmp_path: Path) -> None:
    folder, outside = tmp_path / "demo", tmp_path / "outside"
    copy_demo(folder)
    outside.mkdir()
    (folder / "reports").rmdir()
    (folder / "reports").symlink_to(outside)
    with pytest.raises(DemoError, match=r"reports is a link"):
        copy_demo(folder)
    (folder / "parts.csv").unlink()
    (folder / "parts.csv").symlink_to(outside / "parts.csv")
    with pytest.raises(DemoError, match=r"parts\.csv is a link; name a file"):
        copy_demo(folder)
    assert list(outside.iterdir()) == []
