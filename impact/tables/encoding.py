"""The encoding of a table kept as text: found where it is certain, likely for old Western files, else refused."""

from __future__ import annotations

import codecs
import re
from typing import Literal

Encoding = Literal[
    "utf-8", "utf-16", "windows-1250", "windows-1252", "iso-8859-1", "iso-8859-2", "iso-8859-15", "macintosh"
]
"""An encoding that a workshop may name."""

LIKELY = "windows-1252"
"""What spreadsheets of Western Europe and America write where they do not write UTF-8. (Common practice, no source.)"""

_CODECS = {"macintosh": "mac_roman"}
_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")


class UndecodableError(Exception):
    """Raised for what is no text in a known encoding; carries the first byte at fault and a reason."""

    def __init__(self, reason: str, start: int = 0) -> None:
        self.reason = reason
        self.start = start
        super().__init__(reason)


def decode(data: bytes, encoding: str | None = None) -> tuple[str, str | None]:
    """Return the text of a file's content, and the name of its encoding where that is only likely.

    The workshop may name an `Encoding`; a byte order mark, and text that is UTF-8, go before it.

    Raises
    ------
    UndecodableError
        The bytes are no text in that encoding, or in none that can be told.
    """
    marked = next((codec for mark, codec in _MARKS if data.startswith(mark)), None)
    if marked:
        return _strictly(data, marked, "what its byte order mark says"), None
    start = 0
    try:
        text = data.decode("utf-8")
        if encoding is None or "\x00" not in text:
            return text, None
    except UnicodeDecodeError as error:
        start = error.start
    if encoding is not None:
        return _strictly(data, _CODECS.get(encoding, encoding), encoding), None
    try:
        text = data.decode(LIKELY)
    except UnicodeDecodeError:
        raise UndecodableError("the text is not UTF-8", start) from None
    if _CONTROL.search(text):
        raise UndecodableError("the text is not UTF-8", start)
    return text, LIKELY


def _strictly(data: bytes, codec: str, name: str) -> str:
    try:
        return data.decode(codec)
    except UnicodeDecodeError as error:
        raise UndecodableError(f"the text is not {name}", error.start) from None
