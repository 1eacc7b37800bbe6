"""Pango, the system library that sets the text of a PDF: what to install where it is missing."""

from __future__ import annotations

import contextlib
import io
import shutil
import sys

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
    try:
        with contextlib.redirect_stdout(io.StringIO()):  # the layout library prints a page of its own
            import weasyprint  # noqa: F401
    except OSError:
        return (
            f"a PDF needs the library Pango, which cannot be loaded. Install it {remedy()}. "
            "`impact report` with -o report.html and all other commands but `demo` work without it."
        )
    return None


def remedy() -> str:
    """Return how Pango is installed on this system, by the first package manager known here that it has."""
    if sys.platform in _ELSEWHERE:
        return _ELSEWHERE[sys.platform]
    for manager, words in PACKAGES.items():
        if shutil.which(manager):
            return f"with: {' '.join(words)}"
    return "with your system's package manager (version 1.44 or later)"
