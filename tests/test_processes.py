"""Work in another process: done there, done here where it cannot be, given up."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from functools import partial
from multiprocessing import active_children
from pathlib import Path
from typing import NoReturn

import pytest

from impact.base import processes
from impact.base.processes import helper

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(autouse=True)
def _may_have_a_helper(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(processes, "processors", lambda: 2)
    monkeypatch.setattr(processes, "_program", [True])


def until(path: str) -> None:
    """Wait for a file."""
    while not Path(path).exists():
        time.sleep(0.01)


def lost_but_in(home: int) -> str:
    """End the process at once, unless it is this one."""
    if os.getpid() != home:
        os._exit(3)
    return "here"


def passing(begun: str) -> NoReturn:
    """Hold a passing folder, say where, and go on for ever."""
    with tempfile.TemporaryDirectory(dir=Path(begun).parent) as place:
        Path(begun).write_text(place, encoding="utf-8")
        while True:
            time.sleep(0.01)


def test_helper_does_lots_of_jobs_one_after_the_other() -> None:
    with helper("decimal") as do:
        first = do({"who": os.getpid, "sum": partial(sum, (1, 2))})
        second = do({"who": os.getpid, "much": partial(bytes, 10_000_000)})
        third = do({"who": os.getpid, "same": partial(len, bytes(10_000_000))})
        assert third() == {"who": first()["who"], "same": 10_000_000}
        assert len(second()["much"]) == 10_000_000
        assert first()["sum"] == 3
        assert first()["who"] == second()["who"] != os.getpid()


def test_helper_does_what_is_for_meanwhile_and_answers_between(tmp_path: Path) -> None:
    first, last = tmp_path / "first", tmp_path / "last"
    with helper(meanwhile=[first.touch, partial(until, str(first.with_name("go on"))), last.touch]) as do:
        until(str(first))
        there = do({"there": partial(os.path.exists, str(last))})
        first.with_name("go on").touch()
        assert there() == {"there": False}  # it was asked before the last of it
        until(str(last))


def test_helper_that_fails_leaves_the_fault_to_be_told_here(tmp_path: Path) -> None:
    with helper() as do:
        copied = do({"copy": partial(shutil.copyfile, str(tmp_path / "one"), str(tmp_path / "two"))})
        for _ in range(2):
            with pytest.raises(FileNotFoundError):
                copied()
        assert do({"who": os.getpid})()["who"] != os.getpid()  # it goes on


def test_helper_that_is_lost_leaves_the_job_here() -> None:
    with helper() as do:
        assert do({"where": partial(lost_but_in, os.getpid())})() == {"where": "here"}


def test_helper_is_not_given_what_cannot_be_sent() -> None:
    with helper() as do:
        assert do({"who": lambda: os.getpid()})() == {"who": os.getpid()}
        assert do({"who": os.getpid})()["who"] != os.getpid()


def test_helper_does_not_give_what_cannot_be_sent() -> None:
    with helper() as do:
        assert do({"lock": threading.Lock})()["lock"].acquire(blocking=False)
        assert do({"who": os.getpid})()["who"] != os.getpid()


def test_helper_given_up_leaves_no_process_and_tidies_up(tmp_path: Path) -> None:
    before, begun = active_children(), tmp_path / "begun"
    with helper() as do:
        do({"go on": partial(passing, str(begun))})
        while not begun.is_file() or not begun.read_text(encoding="utf-8"):
            time.sleep(0.01)
        assert Path(begun.read_text(encoding="utf-8")).is_dir()
    assert active_children() == before
    assert [one.name for one in tmp_path.iterdir()] == ["begun"]


def test_helper_without_a_job_is_gone_at_the_end() -> None:
    before = active_children()
    with helper() as do:
        assert do({})() == {}
    assert active_children() == before


def test_helper_whose_last_answer_nobody_takes_is_gone_at_the_end() -> None:
    before = active_children()
    with helper() as do:
        do({"who": os.getpid})()
        do({"much": partial(bytes, 10_000_000)})
    assert active_children() == before


def refuse(*_: object, **__: object) -> NoReturn:
    raise OSError(11, "Resource temporarily unavailable")


@pytest.mark.parametrize(
    ("name", "value"),
    [("processors", lambda: 1), ("_program", []), ("interrupts_held", refuse)],
    ids=["one processor", "another program", "no process to be had"],
)
def test_helper_that_cannot_be_is_this_process(monkeypatch: pytest.MonkeyPatch, name: str, value: object) -> None:
    monkeypatch.setattr(processes, name, value)
    with helper() as do:
        assert do({"who": os.getpid})() == {"who": os.getpid()}


HEARD = """
if __name__ == '__main__':
    from functools import partial
    from impact.base import processes
    processes.processors = lambda: 2
    processes.settle()
    with processes.helper() as do: print(do({'said': partial(print, 'heard')})())
"""


def test_helper_says_nothing_on_the_streams_of_its_caller() -> None:
    found = subprocess.run([sys.executable, "-c", HEARD], cwd=ROOT, capture_output=True, text=True, check=True)
    assert (found.stdout, found.stderr) == ("{'said': None}\n", "")
