"""A workbook (Office Open XML, ECMA-376) opened with care: what is read of the archive, and nothing else.

Only the list of sheets, the texts, the number formats and the cells are read. Macros, links to other files, pictures
and comments are never opened, formulas are never worked out, and a document type, which may hold entities, is refused.
"""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from xml.parsers import expat

from impact.tables.numberformats import NumberFormat, built_in_format, format_of

FILE_LIMIT = 50_000_000
"""Most that a workbook may hold as stored. [bytes]"""

UNPACKED_LIMIT = 400_000_000
"""Most that the parts read may hold when unpacked. [bytes]"""

ENTRIES_LIMIT = 2_000
"""Most files in the archive."""

RATIO_LIMIT = 250.0
"""Most that a part of over `RATIO_FROM` may shrink by packing; tables with many like rows shrink to a hundredth."""

RATIO_FROM = 5_000_000
"""Size of a part from which its ratio is looked at. [bytes]"""

TEXT_LIMIT = 32_767
"""Most characters in one cell, as spreadsheet programs have it."""

CHUNK = 1 << 16
_OLD_OFFICE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
Attributes = dict[str, str]


class WorkbookError(Exception):
    """Raised for what is no readable workbook; carries the code of the problem and a reason."""

    def __init__(self, code: str, reason: str) -> None:
        self.code = code
        self.reason = reason
        super().__init__(reason)


@dataclass(frozen=True, slots=True)
class SheetEntry:
    """One sheet in the list of a workbook: its name, the part with its cells, and whether it is hidden."""

    name: str
    part: str
    hidden: bool


@dataclass
class Workbook:
    """An open workbook.

    Attributes
    ----------
    archive : ZipFile
        The archive.
    sheets : list of SheetEntry
        Sheets that hold cells, in their order.
    strings : list of str
        Texts that cells refer to by number.
    formats : list of NumberFormat
        Number formats that cells refer to by number.
    from_1904 : bool
        Whether days are counted from 1904.
    unpacked : int
        Size of the parts read so far. [bytes]
    """

    archive: zipfile.ZipFile
    sheets: list[SheetEntry] = field(default_factory=list)
    strings: list[str] = field(default_factory=list)
    formats: list[NumberFormat] = field(default_factory=list)
    from_1904: bool = False
    unpacked: int = 0

    def parse(
        self,
        part: str,
        start: Callable[[str, Attributes], None],
        end: Callable[[str], None] | None = None,
        text: Callable[[str], None] | None = None,
    ) -> None:
        """Read one part and call `start`, `end` and `text` for what it holds.

        Raises
        ------
        WorkbookError
            The part is missing, too large, packed too tightly, encrypted or no well-formed XML.
        """
        info = self._checked(part)
        parser = expat.ParserCreate()
        parser.buffer_text = True
        parser.StartDoctypeDeclHandler = _refuse_document_type
        parser.StartElementHandler = start
        if end is not None:
            parser.EndElementHandler = end
        if text is not None:
            parser.CharacterDataHandler = text
        with _faults(f"its part {part} is damaged"), self.archive.open(info) as stream:
            while chunk := stream.read(CHUNK):
                parser.Parse(chunk, False)
            parser.Parse(b"", True)

    def _checked(self, part: str) -> zipfile.ZipInfo:
        try:
            info = self.archive.getinfo(part)
        except KeyError:
            raise WorkbookError("bad-workbook", f"its part {part} is missing") from None
        if info.flag_bits & 1:
            raise WorkbookError("encrypted-file", "the workbook is protected by a password")
        self.unpacked += info.file_size
        if self.unpacked > UNPACKED_LIMIT:
            raise WorkbookError("too-large", f"the workbook unpacks to more than {UNPACKED_LIMIT / 1e6:g} MB")
        if info.file_size > RATIO_FROM and info.file_size > RATIO_LIMIT * max(info.compress_size, 1):
            raise WorkbookError("too-large", f"its part {part} unpacks to more than {RATIO_LIMIT:g} times its size")
        return info

    def check_all(self) -> None:
        """Look at every part of the archive as at those that are read, for a library that reads them all.

        Raises
        ------
        WorkbookError
            As in `parse`.
        """
        self.unpacked = 0
        for part in self.archive.namelist():
            if part.endswith((".xml", ".rels", ".vml")):
                self.parse(part, lambda *_: None)
            else:
                self._checked(part)


@contextmanager
def _faults(reason: str) -> Iterator[None]:
    """Turn every fault of the archive or its XML into a `WorkbookError`."""
    try:
        yield
    except (zipfile.BadZipFile, zlib.error, expat.ExpatError, EOFError, OSError, ValueError, LookupError) as error:
        raise WorkbookError("bad-workbook", reason) from error
    except (NotImplementedError, RuntimeError) as error:
        raise WorkbookError("bad-workbook", f"{reason}: {error}") from None


def _refuse_document_type(*_: object) -> None:
    raise WorkbookError("document-type", "its XML declares a document type, which workbooks never do")


def local(name: str) -> str:
    """Return the name of an element without its prefix."""
    return name.rpartition(":")[2] if ":" in name else name


def open_workbook(data: bytes) -> Workbook:
    """Return a workbook from the content of a file.

    Raises
    ------
    WorkbookError
        It is no workbook, protected by a password, damaged or too large.
    """
    _refuse_other_kinds(data)
    with _faults("the file is damaged"):
        archive = zipfile.ZipFile(io.BytesIO(data))
    names = archive.namelist()
    if len(names) > ENTRIES_LIMIT:
        raise WorkbookError("too-large", f"the archive holds more than {ENTRIES_LIMIT} files")
    if len(set(names)) < len(names):
        raise WorkbookError("bad-workbook", "the archive holds two files of the same name")
    workbook = Workbook(archive)
    main = _main_part(workbook)
    related = _related(workbook, main)
    with _faults("the list of its sheets is damaged"):
        _read_sheets(workbook, main, related)
        for kind, part in related.values():
            read = {"sharedStrings": _read_strings, "styles": _read_formats}.get(kind)
            if read is not None and part in archive.NameToInfo:
                read(workbook, part)
    return workbook


def _refuse_other_kinds(data: bytes) -> None:
    if data.startswith(_OLD_OFFICE):
        if _ENCRYPTED in data:
            raise WorkbookError("encrypted-file", "the workbook is protected by a password")
        raise WorkbookError("old-workbook", "this is a workbook of the old kind (.xls)")
    if not data.strip():
        raise WorkbookError("empty-file", "the file is empty")
    if not data.startswith(b"PK"):
        raise WorkbookError("bad-workbook", "this is no workbook")


def _main_part(workbook: Workbook) -> str:
    names = workbook.archive.NameToInfo
    if "mimetype" in names or "content.xml" in names:
        raise WorkbookError("other-workbook", "this is an OpenDocument file")
    found = [part for kind, part in _related(workbook, "").values() if kind == "officeDocument"]
    if not found:
        raise WorkbookError("bad-workbook", "this is an archive, but no workbook")
    if found[0].endswith(".bin"):
        raise WorkbookError("other-workbook", "this is a binary workbook (.xlsb)")
    return found[0]


def _related(workbook: Workbook, part: str) -> dict[str, tuple[str, str]]:
    """Return kind and name of the parts of this archive that a part refers to; links to the outside are left out."""
    folder, name = posixpath.split(part)
    relations = posixpath.join(folder, "_rels", f"{name}.rels")
    found: dict[str, tuple[str, str]] = {}
    if relations not in workbook.archive.NameToInfo:
        return found

    def start(element: str, attributes: Attributes) -> None:
        if local(element) == "Relationship" and attributes.get("TargetMode") != "External":
            target = posixpath.normpath(posixpath.join("/", folder, attributes.get("Target", "")))
            kind = attributes.get("Type", "").rpartition("/")[2]
            found[attributes.get("Id", "")] = (kind, target.lstrip("/"))

    workbook.parse(relations, start)
    return found


def _read_sheets(workbook: Workbook, main: str, related: dict[str, tuple[str, str]]) -> None:
    def start(element: str, attributes: Attributes) -> None:
        name = local(element)
        if name == "workbookPr":
            workbook.from_1904 = attributes.get("date1904", "0") in ("1", "true", "on")
        elif name == "sheet":
            id_ = next((value for key, value in attributes.items() if local(key) == "id" and ":" in key), "")
            kind, part = related.get(id_, ("", ""))
            if kind == "worksheet":
                hidden = attributes.get("state", "visible") != "visible"
                workbook.sheets.append(SheetEntry(attributes.get("name", ""), part, hidden))

    workbook.parse(main, start)


class TextCollector:
    """Puts the runs of a rich text together; readings printed above characters are left out."""

    def __init__(self) -> None:
        self.parts: list[str] = []
        self.inside = False
        self.phonetic = False

    def start(self, name: str) -> None:
        """Note the start of an element."""
        self.phonetic = self.phonetic or name == "rPh"
        self.inside = name == "t" and not self.phonetic

    def end(self, name: str) -> None:
        """Note the end of an element."""
        self.inside = False
        if name == "rPh":
            self.phonetic = False

    def text(self, data: str) -> None:
        """Note text."""
        if self.inside:
            self.parts.append(data)

    def take(self) -> str:
        """Return the text so far, and start anew.

        Raises
        ------
        WorkbookError
            The text is longer than a cell may hold.
        """
        whole = "".join(self.parts)
        self.parts.clear()
        return plain_text(whole)


def plain_text(text: str) -> str:
    """Return a text of a workbook with its escaped characters written out.

    Raises
    ------
    WorkbookError
        The text is longer than a cell may hold.
    """
    if len(text) > 8 * TEXT_LIMIT:
        raise WorkbookError("too-large", f"a cell holds more than {TEXT_LIMIT} characters")
    if "_x" in text:
        text = _ESCAPED.sub(lambda match: chr(int(match[1], 16)), text)
    if len(text) > TEXT_LIMIT:
        raise WorkbookError("too-large", f"a cell holds more than {TEXT_LIMIT} characters")
    return text.encode("utf-8", "replace").decode("utf-8").strip()


def _read_strings(workbook: Workbook, part: str) -> None:
    collector = TextCollector()

    def end(element: str) -> None:
        name = local(element)
        collector.end(name)
        if name == "si":
            workbook.strings.append(collector.take())

    workbook.parse(part, lambda element, _: collector.start(local(element)), end, collector.text)


def _read_formats(workbook: Workbook, part: str) -> None:
    own: dict[int, NumberFormat] = {}
    inside = False

    def start(element: str, attributes: Attributes) -> None:
        nonlocal inside
        name = local(element)
        if name == "numFmt":
            own[int(attributes["numFmtId"])] = format_of(attributes.get("formatCode", ""))
        elif name == "cellXfs":
            inside = True
        elif name == "xf" and inside:
            number = int(attributes.get("numFmtId", "0"))
            workbook.formats.append(own.get(number) or built_in_format(number))

    def end(element: str) -> None:
        nonlocal inside
        if local(element) == "cellXfs":
            inside = False

    workbook.parse(part, start, end)
