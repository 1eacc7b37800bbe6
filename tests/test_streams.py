"""Standard streams, signals and several programs in one folder: never a traceback, never a mixture."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from impact.api import load, read_folder
from impact.base.files import NotRegularError, read_regular
from impact.factors.own import own_factors
from impact.records.demonstration import DEMO
from tests.folders import CLOSED, FILES, TOML, swap, write_folder

ROOT = Path(__file__).resolve().parent.parent
IMPACT = [sys.executable, "-m", "impact"]
FIGURES = ("--draws", "100", "--json")

pytestmark = pytest.mark.skipif(os.name == "nt", reason="streams and signals of other systems")


def run(*arguments: str | Path, shell: str = "", **settings: str) -> subprocess.CompletedProcess[bytes]:
    """Run a command in a process of its own; `shell` is what stands behind it on the command line."""
    environment = {**os.environ, **settings}
    command = ["bash", "-c", f'"$@" {shell}', "bash", *IMPACT, *map(str, arguments)]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, check=False)
    assert b"Traceback" not in done.stderr, done.stderr.decode()
    return done


@pytest.mark.parametrize(
    "arguments", [("totals", DEMO, "--draws", "100"), ("factors", "list"), ("--help",), ("check", "--help")]
)
def test_main_reader_that_is_gone_ends_it_without_a_word_and_with_the_status_of_the_shell(
    arguments: tuple[str | Path, ...],
) -> None:
    read, written = os.pipe()
    os.close(read)
    done = subprocess.run(
        [*IMPACT, *map(str, arguments)], cwd=ROOT, stdout=written, stderr=subprocess.PIPE, check=False
    )
    os.close(written)
    assert (done.returncode, done.stderr) == (128 + signal.SIGPIPE, b"")


def test_factors_list_one_line_of_it_is_enough() -> None:
    done = run("factors", "list", shell="| head -1")
    assert (done.returncode, done.stderr, done.stdout.count(b"\n")) == (0, b"", 1)


@pytest.mark.parametrize(("encoding", "written"), [("ascii", "utf-8"), ("latin-1", "latin-1"), ("cp1252", "cp1252")])
def test_totals_terminal_of_few_letters_shows_the_numbers_of_others_and_json_stays_the_same(
    tmp_path: Path, encoding: str, written: str
) -> None:
    name = "Bänkchen 𝄞 紙"
    folder = write_folder(tmp_path, workshop=swap(TOML, "Paper Bench", name), batches=CLOSED)
    document = run("totals", folder, *FIGURES, PYTHONIOENCODING=encoding).stdout
    # a terminal that claims to know ASCII only is given UTF-8
    assert json.loads(document.decode(written))["workshop"]["name"] == name
    assert (rb"\ud834\udd1e \u7d19" in document) == (written != "utf-8")


def test_check_name_that_is_no_text_is_one_line(tmp_path: Path) -> None:
    done = run("check", os.fsdecode(os.fsencode(tmp_path) + b"/\xff"))
    assert done.returncode == 1
    assert done.stderr.startswith(rb"error: \udcff: there is no such folder")


def test_main_streams_that_came_closed_are_no_place_for_a_file(tmp_path: Path) -> None:
    code = (
        "import os, sys; from impact.cli.commands import main\n"
        "try: main(['--version'])\n"
        "finally: os._exit(os.open(sys.argv[1], os.O_CREAT | os.O_WRONLY))"
    )
    command = ["bash", "-c", '"$@" 0<&- >&- 2>&-', "bash", sys.executable, "-c", code, tmp_path / "a"]
    assert subprocess.run(command, cwd=ROOT, check=False).returncode > 2


def test_report_home_that_cannot_be_written_does_not_matter(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "bench", batches=CLOSED)
    nowhere = dict.fromkeys(("HOME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "MPLCONFIGDIR"), "/dev/null/home")
    done = run("report", folder, "--for", "binder", "-o", tmp_path / "a.pdf", "--draws", "100", **nowhere)
    assert (done.returncode, done.stderr) == (0, b"")
    assert (tmp_path / "a.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize("command", ["check", "totals", "report"])
def test_main_records_larger_than_memory_are_one_line(monkeypatch: pytest.MonkeyPatch, command: str) -> None:
    from click.testing import CliRunner

    from impact.cli.commands import main

    def refuse(_: Path, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr("impact.api.read_folder", refuse)
    result = CliRunner().invoke(main, [command, "bench"])
    assert (result.exit_code, result.output) == (1, "impact: the records do not fit in memory\n")


# -- several programs in one folder -----------------------------------------------------------------------------------


def test_commands_at_once_in_one_folder_agree_and_leave_whole_files(tmp_path: Path) -> None:
    folder, page = write_folder(tmp_path / "bench", batches=CLOSED), tmp_path / "binder.html"
    commands = [
        ("totals", folder, *FIGURES),
        ("check", folder, "--json"),
        *[("report", folder, "--for", "binder", "--draws", "100", "-o", page, "--force")] * 2,
    ]
    started = [
        subprocess.Popen([*IMPACT, *map(str, command)], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        for command in commands
    ]
    ended = [process.communicate() for process in started]
    assert [(process.returncode, said[1]) for process, said in zip(started, ended, strict=True)] == [(0, b"")] * 4
    assert json.loads(ended[0][0])["batches"] == 2
    assert page.read_text(encoding="utf-8").rstrip().endswith("</html>")
    assert {path.name for path in tmp_path.iterdir()} == {"bench", "binder.html"}
    assert {path.name for path in folder.iterdir()} == set(FILES)


def test_read_folder_of_a_demo_that_is_being_renewed_finds_it_whole(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from impact.records.demonstration import copy_demo\n"
        "copy_demo(Path(sys.argv[1])); print('ready', flush=True)\n"
        "while True: copy_demo(Path(sys.argv[1]))"
    )
    folder, whole = tmp_path / "demo", load(DEMO)
    with subprocess.Popen([sys.executable, "-c", code, folder], cwd=ROOT, stdout=subprocess.PIPE) as renewing:
        try:
            assert renewing.stdout is not None
            renewing.stdout.readline()
            for _ in range(3):
                opened, problems = read_folder(folder)
                assert opened is not None, problems
                assert opened.survey.days == whole.survey.days
                assert len(opened.batches) == len(whole.batches)
            assert renewing.poll() is None
        finally:
            renewing.kill()


# a report checks the folder and is then made from one more reading, which is the one that it carries
@pytest.mark.parametrize(
    ("command", "times"), [(("totals",), 1), (("check",), 1), (("report", "--for", "school", "-o", "a.html"), 2)]
)
def test_main_parts_and_factors_are_read_once(tmp_path: Path, command: tuple[str, ...], times: int) -> None:
    folder = write_folder(tmp_path / "bench", batches=CLOSED)
    (folder / "factors.csv").write_text("id,value,unit,source,locator\npart.moisture,0.05,1,scales,today\n")
    code = (
        "import sys; opened = []\n"
        "sys.addaudithook(lambda event, args: event == 'open' and opened.append(str(args[0])))\n"
        "from impact.cli.commands import main\n"
        "try: main(sys.argv[2:])\n"
        "finally: print('OPENED', *sorted(name for name in opened if name.startswith(sys.argv[1])))"
    )
    arguments = [command[0], folder, *command[1:], *([] if command == ("check",) else ["--draws", "100"])]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", code, *map(str, (folder, *arguments))],
        cwd=tmp_path, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    opened = [
        name for name in done.stdout.rpartition("OPENED ")[2].split() if name.endswith(("parts.csv", "factors.csv"))
    ]
    assert opened == [str(folder / name) for name in sorted(["parts.csv", "factors.csv"] * times)]


@pytest.mark.parametrize("changes", [1, 100])
def test_read_folder_batches_replaced_behind_their_header_are_read_again_or_refused(
    tmp_path: Path, changes: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The header is read before the rows; both are of one file, whatever takes its place between."""
    from impact.base.files import write
    from impact.tables.csv import CsvFile

    folder, left, real = write_folder(tmp_path, batches=CLOSED), [changes], CsvFile.blocks
    header, *rows = CLOSED.splitlines(keepends=True)
    turned = ",".join(header.rstrip("\n").split(",")[::-1]) + "\n"
    other = turned + "".join(
        ",".join(row.replace('"wet, cold day"', "x").rstrip("\n").split(",")[::-1]) + "\n" for row in rows
    )

    def replaced(file: CsvFile) -> object:
        if left[0]:
            left[0] -= 1
            write(folder / "batches.csv", other.encode(), force=True)
        return real(file)

    monkeypatch.setattr(CsvFile, "blocks", replaced)
    monkeypatch.setattr("impact.account.scan.PAUSE", 0.0)
    opened, problems = read_folder(folder)
    if changes == 1:
        assert opened is not None, problems
        assert opened.batches["batch"].tolist() == ["001", "002"]
    else:
        assert [problem.code for problem in problems] == ["changing-file"]


def test_read_regular_file_that_is_replaced_meanwhile_is_one_of_both(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from impact.base.files import write; print('ready', flush=True)\n"
        "while True:\n"
        "    for letter in (b'a', b'b'): write(Path(sys.argv[1]), letter * 2_000_000, force=True)"
    )
    target = tmp_path / "batches.csv"
    target.write_bytes(b"a" * 2_000_000)
    with subprocess.Popen([sys.executable, "-c", code, target], cwd=ROOT, stdout=subprocess.PIPE) as writer:
        assert writer.stdout is not None
        writer.stdout.readline()
        found = [read_regular(target) for _ in range(200)]
        writer.kill()
    assert {(len(content), content.count(content[:1])) for content in found} == {(2_000_000, 2_000_000)}


@pytest.mark.parametrize("changes", [1, 100])
def test_read_regular_file_written_in_place_is_read_again_or_refused(
    tmp_path: Path, changes: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    target, left, real = tmp_path / "batches.csv", [changes], os.fstat
    target.write_bytes(b"a")

    def growing(handle: int) -> os.stat_result:
        if left[0]:
            left[0] -= 1
            with target.open("ab") as stream:
                stream.write(b"a")
        return real(handle)

    monkeypatch.setattr("impact.base.files.os.fstat", growing)
    monkeypatch.setattr("impact.base.files._PAUSE", 0.0)
    if changes == 1:
        assert read_regular(target) == b"aa"
    else:
        with pytest.raises(NotRegularError, match="another program is writing this file") as caught:
            read_regular(target)
        assert caught.value.code == "changing-file"


def test_read_regular_pipe_that_takes_the_place_of_the_file_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "batches.csv"
    os.mkfifo(target)
    before = Path(__file__).lstat()
    monkeypatch.setattr("impact.base.files.Path.stat", lambda _: before)
    with pytest.raises(NotRegularError, match="this is a pipe"):
        read_regular(target)


def test_own_factors_link_that_leads_nowhere_is_a_fault(tmp_path: Path) -> None:
    from impact.factors.factorset import FactorSet

    (tmp_path / "factors.csv").symlink_to("nowhere")
    _, problems = own_factors(tmp_path, FactorSet({}, {}))
    assert [problem.code for problem in problems] == ["missing-file"]
