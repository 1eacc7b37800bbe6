"""The report's typeface: its family and the files of its faces, which a package brings."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

_PACKAGE = "font_source_sans_pro"
_FACES = (
    (400, "normal", "SourceSansPro-Regular.ttf"),
    (400, "italic", "SourceSansPro-It.ttf"),
    (600, "normal", "SourceSansPro-Semibold.ttf"),
    (700, "normal", "SourceSansPro-Bold.ttf"),
)


def font_family() -> str:
    """Return the family name that the font files carry, for use in style sheets and charts."""
    return "Source Sans Pro"


def face_rule(weight: int, style: str, url: str) -> str:
    """Return the rule by which a style sheet gets one face of the typeface."""
    return f"@font-face {{ font-family: '{font_family()}'; font-weight: {weight}; font-style: {style}; src: url('{url}'); }}"


def font_faces() -> list[tuple[int, str, Path]]:
    """Return the faces of the reports' typeface.

    Returns
    -------
    list of (int, str, Path)
        Weight as CSS numbers it (400 regular, 600 semibold, 700 bold), style (``normal`` or ``italic``),
        and the font file.

    Raises
    ------
    FileNotFoundError
        If the font package is installed without one of the files.
    """
    folder = Path(str(files(_PACKAGE))) / "files"
    faces = [(weight, style, folder / name) for weight, style, name in _FACES]
    for _, _, path in faces:
        if not path.is_file():
            raise FileNotFoundError(f"{path}: this font file is missing; install font-source-sans-pro again")
    return faces
