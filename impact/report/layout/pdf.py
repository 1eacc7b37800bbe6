"""HTML of ours to a PDF for every reader and for archives; nothing is fetched, two runs give the same bytes.

The file declares and fulfils two standards at once: PDF/UA-1 (ISO 14289-1:2014, accessible) and PDF/A-3a
(ISO 19005-3:2012, archivable, with files attached). The layout library writes the second; `tagging` mends the tags,
and this module adds the declaration of the first and sets right what is said of the attached files.
"""

from __future__ import annotations

import hashlib
import re
import zlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from typing import Any

from impact.base.processes import unsearched
from impact.base.progress import laying_out
from impact.report.faces import font_faces
from impact.report.layout.columns import even_columns
from impact.report.layout.lines import lines_broken_once, lines_set_once
from impact.report.layout.pango import absence
from impact.report.layout.references import references_found_at_once
from impact.report.layout.styles import plain_values_at_once
from impact.report.layout.texts import Kinds, texts_set_up_once
from impact.report.layout.wording import whole_words
from impact.report.typefaces import spelled

SAME_VIEW: tuple[dict[str, str], ...] = (
    {}, {"PageLayout": "/SinglePage"}, {"PageMode": "/UseNone"}, {"PageLayout": "/SinglePage", "PageMode": "/UseNone"},
)  # fmt: skip
"""Ways to say nothing of how the file is shown (ISO 32000-1, table 28). One in a hundred files is written a second time with
the next of them, because the stream of its objects, which the writer packs last, ends like a line; see `_pack`."""

ONE_COLUMN = "div, dl, ol, ul { columns: auto !important }"

RELATIONSHIPS = ("Source", "Data", "Alternative", "Supplement", "Unspecified")
# Attached files carry no time of their own; every one gets the first that a ZIP archive can hold, so that bytes repeat.
UNDATED = datetime(1980, 1, 1, tzinfo=UTC)
# PDF/A knows no `pdfuaid` properties unless the file itself describes them (ISO 19005-3, 6.6.2.3).
DECLARATION = """<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/" pdfuaid:part="1"/>
<rdf:Description rdf:about="" xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
 xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#" xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA identification</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name>
<pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>The part of ISO 14289 to which the file conforms</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description></rdf:RDF>"""


class RenderError(Exception):
    """Raised when a report cannot be made; the text is the one line to print."""


@dataclass(frozen=True)
class Attached:
    """One file inside a PDF, with what it is to the document.

    Parameters
    ----------
    name : str
        File name in ASCII, without folders.
    content : bytes
        What the file holds.
    media_type : str
        Type after RFC 6838, such as "text/csv".
    relationship : str
        One of `RELATIONSHIPS` (ISO 19005-3, annex E, from memory): Source, what the document was made from; Data, what its
        tables and charts show; Alternative, the same in another form; Supplement, more on the subject.
    description : str
        What it is, for a person.

    Raises
    ------
    ValueError
        When one of them is not as said here.
    """

    name: str
    content: bytes
    media_type: str
    relationship: str
    description: str

    def __post_init__(self) -> None:
        if not re.fullmatch(r"[!-.0-\[\]-~]+", self.name):
            raise ValueError(f"name is {self.name!r}; accepted: printable ASCII without spaces and slashes")
        if not re.fullmatch(r"[a-z]+/[a-z0-9.+-]+", self.media_type):
            raise ValueError(f"media type is {self.media_type!r}; accepted: a type such as text/csv")
        if self.relationship not in RELATIONSHIPS:
            raise ValueError(f"relationship is {self.relationship!r}; accepted: {', '.join(RELATIONSHIPS)}")
        if not self.description.strip():
            raise ValueError(f"{self.name} has no description; accepted: what it is, for a person")


def pdf_of(html: str, attachments: Sequence[Attached] = ()) -> bytes:
    """Return the PDF of an HTML page of ours; only data in the page, the package's own fonts and the system's are read.

    A letter that none of these fonts holds is printed by its name, see `impact.report.typefaces`.

    The page owes its part to both standards: a language, a title, headings without a skipped level, column headers in
    `thead`, and an `alt` for each picture.

    Parameters
    ----------
    html : str
        The page.
    attachments : sequence of Attached
        Files to put inside; their order does not matter.

    Raises
    ------
    RenderError
        When the layout library's system parts are missing.
    ValueError
        When two attached files have one name.
    """
    missing = absence()
    if missing is not None:
        raise RenderError(missing)
    from weasyprint import HTML, Attachment
    from weasyprint.urls import URLFetcher

    from impact.report.layout.tagging import mend

    html = spelled(html)
    allowed = {path.resolve() for _, _, path in font_faces()}
    files = _in_order(attachments)

    class OwnFilesOnly(URLFetcher):  # type: ignore[misc]
        """Refuses everything but data in the page and our own font files."""

        def fetch(self, url: str, headers: Any = None) -> Any:
            from urllib.parse import unquote, urlsplit

            parts = urlsplit(url)
            own = parts.scheme == "file" and Path(unquote(parts.path)).resolve() in allowed
            if parts.scheme != "data" and not own:
                raise ValueError(f"reports fetch nothing: {url}")
            return super().fetch(url, headers)

    def written(viewing: Mapping[str, str], html: str) -> bytes:
        def finish(document: Any, pdf: Any) -> None:
            mend(document, pdf)
            _associate(pdf, files)
            _declare(pdf)
            _store_pictures(pdf)
            _pack(pdf)
            pdf.catalog.update(viewing)

        kinds = Kinds()
        with (
            laying_out(),
            unsearched(),
            _fonts() as fonts,
            plain_values_at_once(),
            whole_words(),
            texts_set_up_once(kinds),
            lines_broken_once(kinds),
            lines_set_once(),
            even_columns(),
            references_found_at_once(),
        ):
            content: bytes = HTML(string=html, url_fetcher=OwnFilesOnly()).write_pdf(
                font_config=fonts,
                pdf_variant="pdf/a-3a",
                pdf_identifier=identifier(html, files),
                finisher=finish,
                attachments=[
                    Attachment(
                        file_obj=BytesIO(file.content),
                        name=file.name,
                        description=file.description,
                        created=UNDATED,
                        modified=UNDATED,
                    )
                    for file in files
                ],
            )
        return content

    pdf = b""
    for viewing in SAME_VIEW:
        try:
            pdf = written(viewing, html)
        except AttributeError:  # the layout library finds no break in some columns: then the page has none
            html = html.replace("</style>", f"{ONE_COLUMN}</style>", 1)
            pdf = written(viewing, html)
        if not re.search(rb"[\r\n]\nendstream", pdf):
            break
    return pdf


@contextmanager
def _fonts() -> Iterator[Any]:
    """Give the fonts of one document, and remove their copies in a folder that passes; the library would when they are freed."""
    from weasyprint.text.fonts import FontConfiguration

    fonts = FontConfiguration()
    try:
        yield fonts
    finally:
        fonts.__del__()


def identifier(html: str, attachments: Sequence[Attached] = ()) -> bytes:
    """Return the identifier of a page's PDF: of what it says and holds, not of where the fonts are installed."""
    for _, _, path in font_faces():
        html = html.replace(path.as_uri(), path.name)
    content = hashlib.sha256(html.encode())
    for file in _in_order(attachments):
        content.update(hashlib.sha256(file.content).digest() + file.name.encode())
    return content.hexdigest()[:32].encode()


def _in_order(attachments: Sequence[Attached]) -> list[Attached]:
    """Return the files by name, the order that the table of names in a PDF asks for."""
    files = sorted(attachments, key=lambda file: file.name)
    for file, following in pairwise(files):
        if file.name == following.name:
            raise ValueError(f"two attached files are called {file.name}; accepted: one file of each name")
    return files


def _associate(pdf: Any, files: Sequence[Attached]) -> None:
    """Say of each attached file what type it is of and how it belongs to the document.

    The layout library guesses the type from the name and the machine's tables, and lists every file twice.
    """
    from pydyf import Array

    if not files:
        return
    names = pdf.objects[int(pdf.catalog["Names"]["EmbeddedFiles"].split()[0])]["Names"]
    for file, reference in zip(files, names[1::2], strict=True):
        specification = pdf.objects[int(reference.split()[0])]
        specification["AFRelationship"] = f"/{file.relationship}"
        stream = pdf.objects[int(specification["EF"]["F"].split()[0])]
        stream.extra["Subtype"] = "/" + file.media_type.replace("/", "#2f")
    pdf.catalog["AF"] = Array(names[1::2])


def _store_pictures(pdf: Any) -> None:
    """Ask of no picture to be smoothed where it is shown larger, which archives forbid (ISO 19005-3, 6.2.8.1).

    The layout library packs pictures itself; one that ends like a line is packed again, see `_pack`.
    """
    from pydyf import Array, Stream

    for thing in pdf.objects:
        if isinstance(thing, Stream) and "Interpolate" in thing.extra:
            thing.extra["Interpolate"] = "false"
            packed, times = _content_of(thing), 0
            while packed.endswith((b"\r", b"\n")):
                packed, times = zlib.compress(packed, 9), times + 1
            if times:
                thing.stream = [packed]
                thing.extra["Filter"] = Array(["/FlateDecode"] * times + [thing.extra["Filter"]])
                thing.extra["DecodeParms"] = Array(["null"] * times + [thing.extra["DecodeParms"]])


def _content_of(stream: Any) -> bytes:
    """Return what a stream holds, not packed."""
    from pydyf import Stream

    written: bytes = Stream(stream.stream).data
    return written.partition(b"\nstream\n")[2].removesuffix(b"\nendstream")


def _pack(pdf: Any) -> None:
    """Pack each stream once, and twice where its last byte, once packed, would read as part of the line end after it.

    A reader that finds the end of a stream by that line end would count one byte too few (ISO 19005-3, 6.1.7.1). The writer
    would pack each anew whenever it asks how long it is.
    """
    from pydyf import Stream

    for thing in pdf.objects:
        if isinstance(thing, Stream) and thing.compress and "Filter" not in thing.extra:
            packed, filters = zlib.compress(_content_of(thing)), ["/FlateDecode"]
            if packed.endswith((b"\r", b"\n")):
                packed, filters = zlib.compress(packed), [*filters, "/FlateDecode"]
            thing.stream = [packed]
            thing.extra["Filter"] = f"[{' '.join(filters)}]"
            thing.compress = False


def _declare(pdf: Any) -> None:
    """Declare PDF/UA-1 beside PDF/A-3a in the one RDF of the metadata, and leave the metadata readable as text."""
    from xml.etree import ElementTree

    metadata = pdf.objects[int(pdf.catalog["Metadata"].split()[0])]
    packet = ElementTree.fromstring(b"".join(metadata.stream))
    for prefix, name in re.findall(r'xmlns:(\w+)="([^"]+)"', DECLARATION):
        ElementTree.register_namespace(prefix, name)
    ElementTree.register_namespace("x", "adobe:ns:meta/")
    packet[0].extend(ElementTree.fromstring(DECLARATION))
    text = ElementTree.tostring(packet, encoding="unicode")
    head, tail = '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>', '<?xpacket end="r"?>'
    metadata.stream = ["\n".join((head, text, tail)).encode()]
    metadata.compress = False
