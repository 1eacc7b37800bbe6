"""The pages of a PDF and their text, for tests; by the reader that draws them, which is the quickest."""

from __future__ import annotations

from contextlib import closing

import pypdfium2


def texts(pdf: bytes) -> list[str]:
    """Return the text of each page, line by line as it can be copied."""
    with closing(pypdfium2.PdfDocument(pdf)) as document:
        return [sheet.get_textpage().get_text_range().replace("\r\n", "\n") for sheet in document]


def count(pdf: bytes) -> int:
    """Return the number of pages."""
    with closing(pypdfium2.PdfDocument(pdf)) as document:
        return len(document)
