"""The demo workshop that the package carries: invented records, copied to a folder of the user's."""

from __future__ import annotations

from pathlib import Path

from impact.base.files import OutputError, is_unfinished, write

DEMO = Path(__file__).resolve().parents[1] / "demo"
FILES = ("workshop.toml", "parts.csv", "batches.csv", "logo.png")
MARK = ".impact-demo"
REPORTS = "reports"


class DemoError(Exception):
    """Raised when the demo cannot be copied; the text is the one line to print."""


def copy_demo(folder: Path) -> None:
    """Copy the demo workshop to `folder`; a folder that an earlier demo made is renewed.

    The mark goes first and each file as a whole, so that a demo which was killed can be given again.

    Raises
    ------
    DemoError
        When the folder holds something else, or cannot be written.
    """
    try:
        if folder.exists() and not folder.is_dir():
            raise DemoError(f"{folder} is a file; name a folder")
        if (
            folder.is_dir()
            and not (folder / MARK).exists()
            and not all(is_unfinished(one.name) for one in folder.iterdir())
        ):
            raise DemoError(f"{folder} holds other files; name a new folder")
        folder.mkdir(parents=True, exist_ok=True)
        write(folder / MARK, b"made by `impact demo`, which may overwrite this folder\n", force=True)
        for name in FILES:
            write(folder / name, (DEMO / name).read_bytes(), force=True)
        if (folder / REPORTS).is_symlink():
            raise DemoError(f"{folder / REPORTS} is a link; a demo writes inside its folder only")
        (folder / REPORTS).mkdir(exist_ok=True)
    except OutputError as error:
        raise DemoError(str(error)) from None
    except OSError as error:
        raise DemoError(f"{folder} cannot be written: {error.strerror or error}") from None
