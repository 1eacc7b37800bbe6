"""Ways to forge a PDF report, each a function on the opened file; for tests of what the verification says of them."""

from __future__ import annotations

import io
import re
import zlib
from collections.abc import Callable
from typing import Any

import pikepdf
from pikepdf import Array, Dictionary, Name

from impact.report.evidence import SUMS, sums_file, sums_of

Forgery = Callable[[pikepdf.Pdf], None]


def forged(report: bytes, *changes: Forgery) -> bytes:
    """Return a report after some changes, saved by another program than made it."""
    with pikepdf.open(io.BytesIO(report)) as pdf:
        for change in changes:
            change(pdf)
        out = io.BytesIO()
        pdf.save(out)
    return out.getvalue()


def files_of(pdf: pikepdf.Pdf) -> dict[str, bytes]:
    """Return the attached files."""
    return {name: one.get_file().read_bytes() for name, one in pdf.attachments.items()}


def attaching(name: str, content: bytes | Callable[[bytes], bytes], *, sums: bool = True) -> Forgery:
    """Return a change of an attached file, with the checksums written anew."""

    def change(pdf: pikepdf.Pdf) -> None:
        files = files_of(pdf)
        new = content(files[name]) if callable(content) else content
        assert new != files.get(name)
        pdf.attachments[name] = pikepdf.AttachedFileSpec(pdf, new, filename=name)
        if sums:
            listed = [line.partition("  ")[2] for line in files[SUMS].decode().splitlines()]
            rest = {one: new if one == name else files[one] for one in dict.fromkeys((*listed, name)) if one != SUMS}
            pdf.attachments[SUMS] = pikepdf.AttachedFileSpec(pdf, sums_file(sums_of(rest)), filename=SUMS)

    return change


def swapping(old: bytes, new: bytes) -> Callable[[bytes], bytes]:
    """Return a replacement in a file that has what is replaced."""

    def change(content: bytes) -> bytes:
        assert old in content
        return content.replace(old, new, 1)

    return change


def _codes(font: Any) -> dict[str, str]:
    """Return the letters of a font by their codes, four hexadecimal digits each."""
    pairs = re.findall(r"<([0-9A-Fa-f]{4})> <([0-9A-Fa-f]{4})>", font.ToUnicode.read_bytes().decode("latin-1"))
    return {code.lower(): chr(int(letter, 16)) for code, letter in pairs}


def writing(old: str, new: str, number: int = 0) -> Forgery:
    """Return a change of the text that is drawn on a page, in the report's own typeface."""

    def change(pdf: pikepdf.Pdf) -> None:
        page = pdf.pages[number]
        codes: dict[str, str] = {}
        lines = list(pikepdf.parse_content_stream(page))
        for place, line in enumerate(lines):
            if str(line.operator) == "Tf":
                codes = _codes(page.Resources.Font[str(line.operands[0])])
            if str(line.operator) == "TJ":
                pieces = [bytes(one).hex() for one in line.operands[0] if isinstance(one, pikepdf.String)]
                text = "".join(codes.get(piece[at : at + 4], "?") for piece in pieces for at in range(0, len(piece), 4))
                known = {letter: code for code, letter in codes.items()}
                if old in text and {*new} <= {*known}:
                    codes_of = "".join(known[letter] for letter in text.replace(old, new, 1))
                    lines[place] = pikepdf.ContentStreamInstruction(
                        [Array([pikepdf.String(bytes.fromhex(codes_of))])], pikepdf.Operator("TJ")
                    )
                    break
        else:
            raise AssertionError(f"{old} is not drawn there in one piece, or {new} has letters that its font lacks")
        page.Contents = pdf.make_stream(pikepdf.unparse_content_stream(lines))

    return change


def helvetica(pdf: pikepdf.Pdf) -> Any:
    """Return a font that every reader has."""
    return pdf.make_indirect(Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name.Helvetica))


def painting(drawn: str, number: int = 0) -> Forgery:
    """Return a change that draws more over a page; ``/F`` is a font."""

    def change(pdf: pikepdf.Pdf) -> None:
        page = pdf.pages[number]
        if "/Font" not in page.Resources:
            page.Resources.Font = Dictionary()
        page.Resources.Font["/F"] = helvetica(pdf)
        page.contents_add(b"q 1 0 0 1 0 0 cm\n" + drawn.encode() + b"\nQ")

    return change


def text_at(x: float, y: float, text: str) -> str:
    """Return what draws a text at a place. [pt]"""
    return f"BT /F 10 Tf {x} {y} Td ({text}) Tj ET"


BOX = "1 1 1 rg 60 600 200 40 re f"


def whitened(pdf: pikepdf.Pdf) -> None:
    """Draw all that is true in white, and something else beside."""
    page = pdf.pages[0]
    page.contents_add(b"1 1 1 rg", prepend=True)
    painting(f"0 g {text_at(300, 500, '9,000 kg')}")(pdf)


def noted(pdf: pikepdf.Pdf) -> None:
    """Lay a note over a page."""
    look = pdf.make_stream(b"0 g BT /F 10 Tf 2 2 Td (9,000 kg) Tj ET")
    look["/Type"], look["/Subtype"], look["/BBox"] = Name.XObject, Name.Form, Array([0, 0, 100, 20])
    look["/Resources"] = Dictionary(Font=Dictionary(F=helvetica(pdf)))
    note = Dictionary(
        Type=Name.Annot, Subtype=Name.FreeText, Rect=Array([70, 600, 170, 620]), F=4,
        Contents=pikepdf.String("9,000 kg"), DA=pikepdf.String("/F 10 Tf"), AP=Dictionary(N=look),
    )  # fmt: skip
    pdf.pages[0].Annots = Array([pdf.make_indirect(note)])


def drawn_over(pdf: pikepdf.Pdf) -> None:
    """Lay a drawing over a page, as a drawing in SVG becomes."""
    look = pdf.make_stream(b"1 1 1 rg 0 0 300 40 re f 0 g BT /F 10 Tf 2 2 Td (9,000 kg) Tj ET")
    look["/Type"], look["/Subtype"], look["/BBox"] = Name.XObject, Name.Form, Array([0, 0, 300, 40])
    look["/Resources"] = Dictionary(Font=Dictionary(F=helvetica(pdf)))
    pdf.pages[0].Resources.XObject["/Over"] = look
    pdf.pages[0].contents_add(b"q 1 0 0 1 60 600 cm /Over Do Q")


def layered(pdf: pikepdf.Pdf) -> None:
    """Put the true page into a layer that is not shown, and draw another in its place."""
    group = pdf.make_indirect(Dictionary(Type=Name.OCG, Name=pikepdf.String("true")))
    pdf.Root.OCProperties = Dictionary(OCGs=Array([group]), D=Dictionary(OFF=Array([group]), Order=Array([])))
    page = pdf.pages[0]
    page.Resources.Properties = Dictionary(True_=group)
    page.contents_add(b"/OC /True_ BDC", prepend=True)
    page.contents_add(b"EMC")
    painting(text_at(70, 600, "9,000 kg"))(pdf)


def cropped(pdf: pikepdf.Pdf) -> None:
    """Show only the part of a page that says nothing against it."""
    pdf.pages[0].CropBox = Array([0, 600, 612, 792])


def turned(pdf: pikepdf.Pdf) -> None:
    """Lay a page on its head."""
    pdf.pages[1].Rotate = 180


def fronted(pdf: pikepdf.Pdf) -> None:
    """Put a forged copy of the first page before all true ones."""
    with pikepdf.open(io.BytesIO(_saved(pdf))) as copy:
        pdf.pages.insert(0, copy.pages[0])
    painting(f"{BOX} 0 g {text_at(70, 610, '9,000 kg')}")(pdf)


def _saved(pdf: pikepdf.Pdf) -> bytes:
    out = io.BytesIO()
    pdf.save(out)
    return out.getvalue()


def certified(pdf: pikepdf.Pdf) -> None:
    """Add a page that certifies the others."""
    pdf.add_blank_page()
    painting(text_at(70, 600, "Certified by the office"), len(pdf.pages) - 1)(pdf)


def reglyphed(pdf: pikepdf.Pdf) -> None:
    """Let the shapes of two digits change places in a font; text that is copied stays as it was."""
    from fontTools.ttLib import TTFont

    fonts = pdf.pages[0].Resources.Font
    for font in (fonts[name] for name in fonts):
        program = font.DescendantFonts[0].FontDescriptor.FontFile2
        face = TTFont(io.BytesIO(program.read_bytes()))
        codes = {letter: int(code, 16) for code, letter in _codes(font).items()}
        if "Semi" not in str(font.BaseFont) and "Sans-Pro" in str(font.BaseFont) and {"1", "9"} <= {*codes}:
            order = face.getGlyphOrder()
            one, nine = order[codes["1"]], order[codes["9"]]
            shapes = face["glyf"].glyphs
            shapes[one], shapes[nine] = shapes[nine], shapes[one]
            out = io.BytesIO()
            face.save(out)
            program.write(out.getvalue())
            return
    raise AssertionError("no font holds both digits")


def relabelled(pdf: pikepdf.Pdf) -> None:
    """Let the names of two rows change places."""
    for old, new in (("PVA glue", "rice paste"), ("rice paste", "PVA glue")):
        writing(old, new)(pdf)


def uncharted(pdf: pikepdf.Pdf) -> None:
    """Draw the longest run of lines of a chart elsewhere."""
    page = pdf.pages[0]
    lines = list(pikepdf.parse_content_stream(page))
    places = [place for place, line in enumerate(lines) if str(line.operator) == "l"]
    for place in places[: len(places) // 2]:
        x, y = (float(one) for one in lines[place].operands)
        lines[place] = pikepdf.ContentStreamInstruction([x + 40, y], pikepdf.Operator("l"))
    page.Contents = pdf.make_stream(pikepdf.unparse_content_stream(lines))


def pinned(pdf: pikepdf.Pdf) -> None:
    """Pin a second file of batches to a page."""
    file = pikepdf.AttachedFileSpec(pdf, b"batch,date\n1,2026-01-01\n", filename="batches.csv")
    pin = Dictionary(Type=Name.Annot, Subtype=Name.FileAttachment, Rect=Array([10, 10, 30, 30]), FS=file.obj)
    pdf.pages[0].Annots = Array([pdf.make_indirect(pin)])


def scripted(pdf: pikepdf.Pdf) -> None:
    """Have a program run when the file is opened."""
    pdf.Root.OpenAction = Dictionary(S=Name.JavaScript, JS=pikepdf.String("app.alert('9,000 kg')"))


def fielded(pdf: pikepdf.Pdf) -> None:
    """Lay a field with a value over a page."""
    field = Dictionary(
        Type=Name.Annot, Subtype=Name.Widget, FT=Name.Tx, T=pikepdf.String("kg"), V=pikepdf.String("9,000"),
        Rect=Array([70, 600, 170, 620]), F=4,
    )  # fmt: skip
    held = pdf.make_indirect(field)
    pdf.pages[0].Annots = Array([held])
    pdf.Root.AcroForm = Dictionary(Fields=Array([held]), NeedAppearances=True)


def retitled(pdf: pikepdf.Pdf) -> None:
    """Give the file another title."""
    pdf.docinfo["/Title"] = "Certified report"


def retold(pdf: pikepdf.Pdf) -> None:
    """Let the report say something else to those who listen to it."""
    pdf.Root.StructTreeRoot.K[0].Alt = pikepdf.String("9,000 kg were kept from landfill")


def moved(pdf: pikepdf.Pdf) -> None:
    """Name another place for a figure."""
    places = pikepdf.NameTree(pdf.Root.Names.Dests)
    first, second = [name for name, _ in places.items() if name.startswith("f.words")][:2]
    places[first] = Array(list(places[second]))


def updated(report: bytes, change: Forgery) -> bytes:
    """Return a report with a change written behind its end, as an update; the report itself stays in front, byte for byte."""
    from pypdf import PdfReader, PdfWriter
    from pypdf.generic import DecodedStreamObject, NameObject

    writer = PdfWriter(io.BytesIO(report), incremental=True)
    drawn = PdfReader(io.BytesIO(forged(report, change))).pages[0].get_contents()
    assert drawn is not None
    content = DecodedStreamObject()
    content.set_data(drawn.get_data())
    writer.pages[0][NameObject("/Contents")] = writer._add_object(content)
    out = io.BytesIO()
    writer.write(out)
    assert out.getvalue().startswith(report)
    return out.getvalue()


def repacked(report: bytes, *, spoil: Callable[[bytes], bytes] = lambda stream: stream) -> bytes:
    """Return a report whose streams are packed less, as another library would, with the places of objects set right."""
    stream = re.compile(rb"/Length (\d+)>>\nstream\n")
    found, places, at = bytearray(), {}, 0
    number = len(stream.findall(report))
    while (one := stream.search(report, at)) is not None:
        number -= 1
        content = report[one.end() : one.end() + int(one[1])]
        head = report[at : one.start()]
        begins = head.rindex(b" 0 obj\n")
        begins = next(place for place in range(begins, -1, -1) if place == 0 or head[place - 1 : place] == b"\n")
        places[at + begins] = len(found) + begins
        if b"/Type /XRef" in head:
            table = zlib.decompress(content)
            widths = [int(width) for width in re.search(rb"/W \[(\d) (\d) (\d)\]", head).groups()]  # type: ignore[union-attr]
            content = zlib.compress(_with_places(table, widths, places), 1)
        elif b"/Filter /FlateDecode" in head:
            content = spoil(zlib.compress(zlib.decompress(content), 1))
        found += head + b"/Length %d>>\nstream\n" % len(content) + content + b"\nendstream\nendobj\n"
        at = one.end() + int(one[1]) + len(b"\nendstream\nendobj\n")
    return bytes(found) + b"startxref\n%d\n%%%%EOF\n" % list(places.values())[-1]


def _with_places(table: bytes, widths: list[int], places: dict[int, int]) -> bytes:
    out, size = b"", sum(widths)
    for row in range(0, len(table), size):
        kind, place = table[row], int.from_bytes(table[row + 1 : row + 1 + widths[1]], "big")
        new = places[place] if kind == 1 else place
        out += table[row : row + 1] + new.to_bytes(widths[1], "big") + table[row + 1 + widths[1] : row + size]
    return out
