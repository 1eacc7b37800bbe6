"""Work in another process: done, failed, ended."""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from multiprocessing import active_children
from pathlib import Path

from impact.base.processes import beside, processors


def test_beside_does_what_it_is_given_and_tells_that_it_did(tmp_path: Path) -> None:
    (tmp_path / "one").write_text("kept", encoding="utf-8")
    with beside(shutil.copyfile, str(tmp_path / "one"), str(tmp_path / "two")) as is_done:
        assert is_done()
    assert (tmp_path / "two").read_text(encoding="utf-8") == "kept"


def test_beside_fault_is_no_fault_here(tmp_path: Path) -> None:
    with beside(shutil.copyfile, str(tmp_path / "none"), str(tmp_path / "two")) as is_done:
        assert not is_done()
    assert list(tmp_path.iterdir()) == []


def test_beside_left_early_leaves_no_process() -> None:
    before = active_children()
    with beside(time.sleep, 1_000_000.0):
        pass
    assert active_children() == before


def test_beside_says_nothing_on_the_streams_of_its_caller() -> None:
    code = "from impact.base.processes import beside\nwith beside(print, 'heard') as is_done: print(is_done())"
    program = f"if __name__ == '__main__':\n    exec({code!r})"
    found = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert (found.stdout, found.stderr) == ("True\n", "")


def test_processors_are_at_least_one() -> None:
    assert processors() >= 1
