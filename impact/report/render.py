"""Rendering: context and template to HTML, and on to PDF."""

from __future__ import annotations

import base64
from typing import Any

from impact.fonts import font_faces, font_family
from impact.places import templates_folder
from impact.report.archive import pdf_of
from impact.report.charts import lettering
from impact.report.context import context
from impact.results import Results


def _environment() -> Any:
    from jinja2 import FileSystemLoader, StrictUndefined, select_autoescape
    from jinja2.sandbox import SandboxedEnvironment

    return SandboxedEnvironment(
        loader=FileSystemLoader(str(templates_folder())),
        autoescape=select_autoescape(default_for_string=True, default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _picture(svg: str) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()


def _font_rules(*, inline: bool) -> str:
    rules = []
    for weight, style, path in font_faces():
        source = f"data:font/ttf;base64,{base64.b64encode(path.read_bytes()).decode()}" if inline else path.as_uri()
        rules.append(
            f"@font-face {{ font-family: '{font_family()}'; font-weight: {weight}; font-style: {style}; src: url('{source}'); }}"
        )
    return "\n".join(rules)


def _html(results: Results, reader: str, *, inline_fonts: bool) -> str:
    from markupsafe import Markup

    environment = _environment()
    environment.filters["picture"] = _picture
    style = (templates_folder() / "report.css").read_text(encoding="utf-8")
    fonts = Markup(_font_rules(inline=inline_fonts))
    with lettering(as_paths=inline_fonts):
        data = context(results, reader)
    text: str = environment.get_template(f"{reader}.html").render(**data, style=Markup(style), fonts=fonts)
    return text


def render_html(results: Results, reader: str) -> str:
    """Return a report as one self-contained HTML page.

    Parameters
    ----------
    results : Results
        An assessment.
    reader : str
        Name of the template: whom the report is for.
    """
    return _html(results, reader, inline_fonts=True)


def render_pdf(results: Results, reader: str) -> bytes:
    """Return a report as a tagged PDF with embedded fonts.

    Raises
    ------
    RenderError
        When the layout library's system parts are missing.
    """
    html = _html(results, reader, inline_fonts=False)
    return pdf_of(html)
