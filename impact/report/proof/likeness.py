"""One PDF held to another: packed otherwise and the same in all else, or where they differ, in the terms of a reader.

`packed_otherwise` proves something: it accounts for every byte of both files, so that no reader of PDFs, however it looks
for its way into a file, finds anything in one that is not in the other. `differences` proves nothing. It follows the
references from the catalogue and says in words where a person finds what differs.
"""

from __future__ import annotations

import hashlib
import io
import re
import zlib
from collections.abc import Iterator, Mapping
from contextlib import closing
from typing import Any

from impact.base.problems import shown
from impact.report.proof.figures import Disagreement

_STREAM = re.compile(rb"/Length (\d{1,10})>>\nstream\n")
_END = b"\nendstream\nendobj\n"
_START = re.compile(rb"(\d+) 0 obj\n<<[^\n]*\Z", re.DOTALL)
_TABLE = re.compile(rb"/Type /XRef/Index \[0 \d+\]/W \[1 (\d) (\d)\]/")
_TAIL = re.compile(rb"startxref\n(\d{1,10})\n%%EOF\n")
_WRITTEN_ID = re.compile(rb"(/ID \[\([0-9a-f]{32}\)) \([0-9a-f]{32}\)\]")
"""The second half of the identifier is a hash of the packed objects."""


class _Parts:
    """A file as the writer of our PDFs lays it: objects one behind the other, each with a stream, and the table of places.

    Attributes
    ----------
    heads : list of bytes
        What stands before each stream, without its length.
    streams : list of bytes
        What each holds, unpacked.
    starts : list of int
        Where each object begins. [byte]
    tail : int
        Where the table of places begins, by the end of the file. [byte]

    Raises
    ------
    ValueError
        When a byte of the file has no place in this order.
    """

    def __init__(self, content: bytes, most: int) -> None:
        self.heads: list[bytes] = []
        self.streams: list[bytes] = []
        self.starts: list[int] = []
        place = 0
        while (found := _STREAM.search(content, place)) is not None:
            head, end = content[place : found.start()], found.end() + int(found[1])
            begins = _START.search(head)
            if begins is None or content[end : end + len(_END)] != _END:
                raise ValueError("objects are not as they are written")
            self.starts.append(place + begins.start())
            stream = content[found.end() : end]
            self.streams.append(_unpacked(stream, most) if b"/Filter /FlateDecode" in head else stream)
            most -= len(self.streams[-1])
            self.heads.append(_WRITTEN_ID.sub(rb"\1", head))
            place = end + len(_END)
        tail = _TAIL.fullmatch(content, place)
        if tail is None:
            raise ValueError("the end is not as it is written")
        self.tail = int(tail[1])

    def places(self) -> Iterator[tuple[int, ...]]:
        """Yield the entries of the table of places: kind, place, number within or generation (ISO 32000-1, 7.5.8.3)."""
        form = _TABLE.search(self.heads[-1])
        if form is None or self.tail != self.starts[-1]:
            raise ValueError("there is no table of places")
        widths = (1, int(form[1]), int(form[2]))
        table, size = self.streams[-1], sum(widths)
        if len(table) % size:
            raise ValueError("the table of places is not whole")
        for row in range(0, len(table), size):
            cells, at = [], row
            for width in widths:
                cells.append(int.from_bytes(table[at : at + width], "big"))
                at += width
            yield tuple(cells)


def _unpacked(stream: bytes, most: int) -> bytes:
    """Return what a packed stream holds, and be sure that nothing else is in it."""
    packer = zlib.decompressobj()
    content = packer.decompress(stream, max(most, 1))
    if not packer.eof or packer.unused_data:
        raise ValueError("a stream is not packed as a whole")
    return content


def packed_otherwise(carried: bytes, made: bytes) -> bool:
    """Return whether two files are the same but for how their streams are packed, every byte accounted for.

    Another version of the library that packs gives other bytes, which unpack to the same. The lengths of streams, the places
    of objects and the hash of the packed objects follow from them.
    """
    try:
        ours = _Parts(made, 10 * len(made) + 100_000_000)
        theirs = _Parts(carried, sum(map(len, ours.streams)) + 1)
        if theirs.heads != ours.heads or theirs.streams[:-1] != ours.streams[:-1]:
            return False
        moved = dict(zip(ours.starts, theirs.starts, strict=True))
        return [(kind, moved[place] if kind == 1 else place, within) for kind, place, within in ours.places()] == list(
            theirs.places()
        )
    except (ValueError, KeyError, IndexError, zlib.error):
        return False


MOST_OBJECTS, MOST_BYTES, DEEPEST = 2_000_000, 300_000_000, 300
"""Most that is looked at of a file that anybody may have written: objects, unpacked bytes, and levels of one in another."""

BEFORE = 12
"""Letters shown of a line before what differs. [1]"""

_UPWARD = ("/Parent", "/P")
_PACKING = ("/Length", "/Filter", "/DecodeParms")

_OF_A_PAGE: Mapping[str, str] = {
    "/Contents": "what is drawn",
    "/Annots": "notes, links and fields over the page",
    "/Resources/Font": "the shapes of letters, or which text they stand for",
    "/Resources/XObject": "pictures and drawings",
    "/Resources/Properties": "layers",
    "/Resources": "colours, patterns and shades",
    "/MediaBox": "the size of the sheet",
    "/CropBox": "the part of the sheet that is shown",
    "/Rotate": "the turn of the sheet",
    "/StructParents": "what is read aloud",
    "/AA": "what happens when the page is opened",
}
_OF_THE_FILE: Mapping[str, str] = {
    "/OCProperties": "layers",
    "/Metadata": "what the file says of itself",
    "/Info": "what the file says of itself",
    "/Names/EmbeddedFiles": "attached files",
    "/Names/Dests": "places of figures",
    "/Dests": "places of figures",
    "/Names/JavaScript": "a program",
    "/OpenAction": "what happens when the file is opened",
    "/AA": "what happens when the file is opened or printed",
    "/AcroForm": "fields to fill in",
    "/StructTreeRoot": "what is read aloud",
    "/Outlines": "the list of contents",
    "/AF": "attached files",
}


class _Tree:
    """The objects of one file, each by a sum of all that it leads to."""

    def __init__(self, content: bytes) -> None:
        from pypdf import PdfReader

        self.reader = PdfReader(io.BytesIO(content))
        self.pages = list(self.reader.pages)
        self._numbers = {
            page.indirect_reference.idnum: number
            for number, page in enumerate(self.pages, 1)
            if page.indirect_reference is not None
        }
        self._known: dict[int, bytes] = {}
        self._objects = self._bytes = 0

    def sum_of(self, value: Any, level: int = 0) -> bytes:
        """Return a sum of a value and of all that it leads to; pages and what leads back stand for themselves."""
        from pypdf.generic import IndirectObject

        if not isinstance(value, IndirectObject):
            return self._sum(value, level)
        if value.idnum in self._numbers:
            return f"page {self._numbers[value.idnum]}".encode()
        if value.idnum not in self._known:
            self._known[value.idnum] = b"round"
            self._known[value.idnum] = self._sum(value.get_object(), level)
        return self._known[value.idnum]

    def _sum(self, value: Any, level: int) -> bytes:
        from pypdf.generic import ByteStringObject, DictionaryObject, StreamObject, TextStringObject

        self._objects += 1
        if level > DEEPEST or self._objects > MOST_OBJECTS or self._bytes > MOST_BYTES:
            raise ValueError("there is more in the file than is looked at")
        found = hashlib.sha256()
        if isinstance(value, DictionaryObject):
            left_out = (*_UPWARD, *_PACKING) if isinstance(value, StreamObject) else _UPWARD
            for name in sorted(map(str, value)):
                if name not in left_out:
                    found.update(name.encode(errors="replace") + b"\0" + self.sum_of(value.raw_get(name), level + 1))
            if isinstance(value, StreamObject):
                content = value.get_data()
                self._bytes += len(content)
                found.update(b"stream" + hashlib.sha256(content).digest())
        elif isinstance(value, list):
            for one in value:
                found.update(b"," + self.sum_of(one, level + 1))
        elif isinstance(value, (int, float)) and not isinstance(value, bool):
            found.update(b"number" + repr(round(float(value), 6)).encode())
        elif isinstance(value, (TextStringObject, ByteStringObject)):
            found.update(b"text" + value.original_bytes)
        else:
            found.update(type(value).__name__.encode() + str(value).encode(errors="replace"))
        return found.digest()

    def sums(self, holder: Any, within: tuple[str, ...] = ()) -> dict[str, bytes]:
        """Return the sums of the entries of a dictionary by name, of some entries one level down."""
        found: dict[str, bytes] = {}
        for name in sorted(map(str, holder)):
            inner = holder[name].get_object() if name in within else None
            if isinstance(inner, dict):
                rest = {key: inner.raw_get(key) for key in sorted(map(str, inner))}  # type: ignore[attr-defined]
                found |= {f"{name}{key}": self.sum_of(one) for key, one in rest.items()}
            elif name not in _UPWARD:
                found[name] = self.sum_of(holder.raw_get(name))
        return found


def differences(carried: bytes, made: bytes) -> list[Disagreement]:
    """Return where two files that are not the same differ: page by page, then what belongs to no page.

    Where following the references finds nothing, what differs stands where no reader of PDFs that goes by the last table of
    places looks, or the file was written by another program.
    """
    found: list[Disagreement] = []
    try:
        found.extend(_differences(carried, made))
    except Exception as error:  # a file that anybody may have written; whatever its libraries trip over
        reason = shown(str(error), 80) or type(error).__name__
        found.append(Disagreement("document", "the file", f"what cannot be read further ({reason})", "a whole file"))
    rest = "bytes that no page shows, or another program wrote it again"
    return found or [Disagreement("document", "the file", rest, "none such")]


def _differences(carried: bytes, made: bytes) -> Iterator[Disagreement]:
    theirs, ours = _Tree(carried), _Tree(made)
    if len(theirs.pages) != len(ours.pages):
        yield Disagreement("document", "number of pages", str(len(theirs.pages)), str(len(ours.pages)))
    texts = [_texts(one) for one in (carried, made)]
    for number, (their, our) in enumerate(zip(theirs.pages, ours.pages, strict=False), 1):
        inside = ("/Resources",)
        names = _unlike(theirs.sums(their, inside), ours.sums(our, inside), _OF_A_PAGE)
        lines = _first_unlike(*(text[number - 1] if number <= len(text) else [] for text in texts))
        if lines is not None and names:
            yield Disagreement("page", ", ".join(names), *lines, number)
        for name in names if lines is None else ():
            yield Disagreement("page", name, "something else", "its own", number)
    for number in range(len(ours.pages) + 1, len(theirs.pages) + 1):
        first = next((line for line in texts[0][number - 1] if line), "") if number <= len(texts[0]) else ""
        yield Disagreement("page", "the page itself", repr(first) if first else "a page", "no such page", number)
    roots = [tree.sums(tree.reader.root_object, ("/Names",)) for tree in (theirs, ours)]
    for name in _unlike(roots[0], roots[1], _OF_THE_FILE):
        if name != _OF_THE_FILE["/Names/EmbeddedFiles"]:  # each is compared by itself
            yield Disagreement("document", name, "something else", "its own")
    information = (tree.sum_of(tree.reader.trailer.get("/Info")) for tree in (theirs, ours))
    if len({*information}) > 1:
        yield Disagreement("document", _OF_THE_FILE["/Info"], "something else", "its own")


def _unlike(theirs: Mapping[str, bytes], ours: Mapping[str, bytes], words: Mapping[str, str]) -> list[str]:
    """Return what the entries are in which two dictionaries differ, in words."""
    unlike = [name for name in sorted({*theirs, *ours} - {"/Pages"}) if theirs.get(name) != ours.get(name)]
    found = [words.get(name) or words.get(f"/{name.split('/')[1]}") or shown(name, 40) for name in unlike]
    return list(dict.fromkeys(found))


def _texts(content: bytes) -> list[list[str]]:
    """Return the lines of text of each page, as they can be copied."""
    import pypdfium2

    with closing(pypdfium2.PdfDocument(content)) as document:
        return [[line.strip() for line in page.get_textpage().get_text_range().splitlines()] for page in document]


def _first_unlike(theirs: list[str], ours: list[str]) -> tuple[str, str] | None:
    """Return the first line of text that is another, of both; None where all are the same."""
    if theirs == ours:
        return None
    width = max(len(theirs), len(ours))
    padded = ([*lines, *[""] * (width - len(lines))] for lines in (theirs, ours))
    left, right = next(pair for pair in zip(*padded, strict=True) if pair[0] != pair[1])
    first = next((place for place, pair in enumerate(zip(left, right, strict=False)) if pair[0] != pair[1]), 0)
    start = max(0, left.rfind(" ", 0, max(0, first - BEFORE)) + 1)
    left, right = (f"…{line[start:]}" if start else line for line in (left, right))
    return repr(left), repr(right)
