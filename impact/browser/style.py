"""How the pages look: the colours and the typeface of the reports, in the light and in the dark."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from impact.base.places import templates_folder
from impact.report.faces import face_rule, font_faces
from impact.report.screen import dark_rules


@cache
def sheet() -> str:
    """Return the style sheet of all pages: faces, the colours that ``report.css`` names, and the rules of the pages."""
    faces = [face_rule(weight, shape, f"/typeface/{path.name}") for weight, shape, path in font_faces()]
    paper = (templates_folder() / "report.css").read_text(encoding="utf-8")
    colours = next(iter(re.findall(r"^:root \{.*\}$", paper, re.MULTILINE)))
    own = (path.read_text(encoding="utf-8") for path in sorted((templates_folder() / "browser").glob("*.css")))
    return "\n".join([*faces, colours, dark_rules(colours), *own])


def face(name: str) -> Path | None:
    """Return the file of a face of the typeface by its name, None for any other name."""
    return next((path for _, _, path in font_faces() if path.name == name), None)
