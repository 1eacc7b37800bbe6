"""Work in another process: done, done here where it failed there, given up."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from functools import partial
from multiprocessing import active_children
from pathlib import Path

import pytest

from impact.base import processes
from impact.base.processes import helper

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(autouse=True)
def _two_processors(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(processes, "processors", lambda: 2)


def test_helper_does_jobs_one_lot_after_the_other() -> None:
    with helper("decimal") as do:
        first = do({"who": os.getpid, "sum": partial(sum, (1, 2))})()
        second = do({"who": os.getpid, "longest": partial(max, ("a", "bbb"), key=len)})()
    assert first["who"] == second["who"] != os.getpid()
    assert (first["sum"], second["longest"]) == (3, "bbb")


def test_helper_that_fails_or_is_lost_leaves_the_job_and_its_fault_here(tmp_path: Path) -> None:
    with helper() as do:
        copied = do({"copy": partial(shutil.copyfile, str(tmp_path / "one"), str(tmp_path / "two"))})
        (tmp_path / "none").write_text("", encoding="utf-8")
        with pytest.raises(FileNotFoundError):
            copied()
        assert do({"who": os.getpid})()["who"] != os.getpid()
        ended = do({"end": partial(os.kill, active_children()[0].pid or 0, 0), "who": os.getpid})
        assert ended()["who"] != os.getpid()
        active_children()[0].kill()
        assert do({"who": os.getpid})()["who"] == os.getpid()


def test_helper_is_not_given_what_cannot_be_sent() -> None:
    with helper() as do:
        assert do({"who": lambda: os.getpid()})() == {"who": os.getpid()}


def test_helper_left_early_leaves_no_process() -> None:
    before = active_children()
    with helper() as do:
        do({"sleep": partial(time.sleep, 1_000_000.0)})
    assert active_children() == before


def test_helper_is_this_process_where_there_is_one_processor(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(processes, "processors", lambda: 1)
    with helper() as do:
        assert do({"who": os.getpid})() == {"who": os.getpid()}


def test_helper_says_nothing_on_the_streams_of_its_caller() -> None:
    lines = (
        "from functools import partial",
        "from impact.base import processes",
        "processes.processors = lambda: 2",
        "with processes.helper() as do: print(do({'said': partial(print, 'heard')})())",
    )
    program = f"if __name__ == '__main__':\n    exec({chr(10).join(lines)!r})"
    found = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    assert (found.stdout, found.stderr) == ("{'said': None}\n", "")
