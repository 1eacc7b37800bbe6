"""The demo workshop that the package carries: invented records, copied to a folder of the user's."""

from __future__ import annotations

from pathlib import Path

DEMO = Path(__file__).resolve().parent / "demo"
FILES = ("workshop.toml", "parts.csv", "batches.csv")
MARK = ".impact-demo"


class DemoError(Exception):
    """Raised when the demo cannot be copied; the text is the one line to print."""


def copy_demo(folder: Path) -> None:
    """Copy the demo workshop to `folder`; a folder that an earlier demo made is renewed.

    Raises
    ------
    DemoError
        When the folder holds something else, or cannot be written.
    """
    if folder.exists() and not folder.is_dir():
        raise DemoError(f"{folder} is a file; name a folder")
    if folder.is_dir() and any(folder.iterdir()) and not (folder / MARK).exists():
        raise DemoError(f"{folder} holds other files; name a new folder")
    try:
        (folder / "reports").mkdir(parents=True, exist_ok=True)
        (folder / MARK).write_text("made by `impact demo`, which may overwrite this folder\n", encoding="utf-8")
        for name in FILES:
            (folder / name).write_bytes((DEMO / name).read_bytes())
    except OSError as error:
        raise DemoError(f"{folder} cannot be written: {error.strerror or error}") from None
