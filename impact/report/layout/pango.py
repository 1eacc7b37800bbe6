"""Pango, the system library that sets the text of a PDF: what to install where it is missing."""

from __future__ import annotations

import contextlib
import io
import shutil
import sys
from ctypes import util
from functools import cache
from typing import Any

PACKAGES = {
    "apt-get": ("sudo apt-get install", "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"),
    "dnf": ("sudo dnf install", "pango"),
    "pacman": ("sudo pacman -S", "pango"),
    "apk": ("apk add", "pango harfbuzz-subset fontconfig"),
    "zypper": ("sudo zypper install", "libpango-1_0-0 libharfbuzz-subset0"),
    "brew": ("brew install", "pango"),
}
"""By package manager: the words for "install", and the packages. `make` installs these packages too."""

_ELSEWHERE = {
    "win32": "in the shell of MSYS2: pacman -S mingw-w64-ucrt-x86_64-pango",
    "darwin": "with Homebrew: brew install pango (if it is there, set DYLD_FALLBACK_LIBRARY_PATH to $(brew --prefix)/lib)",
}


def absence() -> str | None:
    """Return the line that says what to install where Pango cannot be loaded, None where it can."""
    if _is_there():
        return None
    return (
        f"a PDF needs the library Pango, which cannot be loaded. Install it {remedy()}. "
        "`impact report` with -o report.html and all other commands but `demo` work without it."
    )


@cache
def _is_there() -> bool:
    """Import the layout library, which loads Pango by one of several names; return whether it can.

    On Linux, for each name that is no name of a file, Python would have the linker and a compiler look first: forty short
    processes. They are spared where the names of files do.
    """
    finder: Any = util
    usual = util.find_library
    for search in (*([_nothing] if sys.platform == "linux" else []), usual):
        finder.find_library = search
        try:
            with contextlib.redirect_stdout(io.StringIO()):  # the layout library prints a page of its own
                import weasyprint  # noqa: F401
        except OSError:
            for name in [name for name in sys.modules if name.partition(".")[0] == "weasyprint"]:
                del sys.modules[name]  # what of it was imported before it failed
        else:
            return True
        finally:
            finder.find_library = usual
    return False


def _nothing(_name: str) -> None:
    return None


def remedy() -> str:
    """Return how Pango is installed on this system, by the first package manager known here that it has."""
    if sys.platform in _ELSEWHERE:
        return _ELSEWHERE[sys.platform]
    for manager, words in PACKAGES.items():
        if shutil.which(manager):
            return f"with: {' '.join(words)}"
    return "with your system's package manager (version 1.44 or later)"
