"""Programs that some tests need, and files opened by an office program as a user opens them."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser


def found(program: str, without: str) -> str:
    """Return where a program is; skip where it is not installed, except in CI, where it has to be."""
    path = shutil.which(program)
    if path is None:
        reason = f"{program} is not installed: {without}"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    return path


def convert(source: Path, kind: str, folder: Path) -> Path:
    """Convert a workbook with the office program that is installed; skip where none is, except in CI."""
    program = found("soffice", "nothing here can open a workbook as a user does")
    command = [
        program, f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--headless", "--convert-to", kind,
        "--outdir", str(folder / "out"), str(source),
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    target = folder / "out" / f"{source.stem}.{kind.split(':')[0]}"
    assert target.exists(), done.stderr
    return target


@contextmanager
def chromium(**options: Any) -> Iterator[Browser]:
    """Start a browser that shows pages of ours; skip where none is, except in CI. `options` as of playwright's launch."""
    from playwright.sync_api import sync_playwright

    path = found("chromium", "nothing here can show a page")
    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=path, **options)
        yield started
        started.close()
