"""HTML of ours to a PDF for readers and archives; nothing is fetched, two runs give the same bytes."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from impact.fonts import font_faces


class RenderError(Exception):
    """Raised when a report cannot be made; the text is the one line to print."""


@dataclass(frozen=True, slots=True)
class Attached:
    name: str
    content: bytes
    media_type: str
    relationship: str
    description: str


def pdf_of(html: str, attachments: Sequence[Attached] = ()) -> bytes:
    """Return the PDF of an HTML page of ours; only the package's own fonts and data in the page are read.

    Raises
    ------
    RenderError
        When the layout library's system parts are missing.
    """
    try:
        from weasyprint import HTML
        from weasyprint.urls import URLFetcher
    except OSError:
        raise RenderError(
            "the layout library Pango is missing; install it with the system's package manager "
            "(Debian and Ubuntu: libpango-1.0-0 libpangoft2-1.0-0; Fedora: pango; macOS: brew install pango)"
        ) from None
    allowed = {path.resolve() for _, _, path in font_faces()}

    class OwnFilesOnly(URLFetcher):  # type: ignore[misc]
        """Refuses everything but data in the page and our own font files."""

        def fetch(self, url: str, headers: Any = None) -> Any:
            from urllib.parse import unquote, urlsplit

            parts = urlsplit(url)
            own = parts.scheme == "file" and Path(unquote(parts.path)).resolve() in allowed
            if parts.scheme != "data" and not own:
                raise ValueError(f"reports fetch nothing: {url}")
            return super().fetch(url, headers)

    document = HTML(string=html, url_fetcher=OwnFilesOnly())
    from weasyprint import Attachment

    files = [
        Attachment(string=one.content, name=one.name, description=one.description, relationship=one.relationship)
        for one in attachments
    ]
    pdf: bytes = document.write_pdf(pdf_variant="pdf/ua-1", pdf_identifier=identifier(html), attachments=files)
    return pdf


def identifier(html: str) -> bytes:
    """Return the identifier of a page's PDF: of what it says, not of where the fonts are installed."""
    for _, _, path in font_faces():
        html = html.replace(path.as_uri(), path.name)
    return hashlib.sha256(html.encode()).hexdigest()[:32].encode()
