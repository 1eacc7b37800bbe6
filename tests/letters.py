"""A page with letters beyond the report's typeface, for programs that start anew and load nothing else."""

from __future__ import annotations

from impact.report.faces import face_rule, font_faces, font_family

PENCIL = "鉛筆立て"
GIFT = "🎁"
STYLE = "".join(face_rule(weight, shape, path.as_uri()) for weight, shape, path in font_faces())
STYLE += f"html {{ font-family: '{font_family()}' }}"
PAGE = f'<html lang="en"><title>A page</title><style>{STYLE}</style><body><h1 id="{PENCIL}">{PENCIL} {GIFT}</h1></body></html>'
