"""From the content of an input to a file: what the mutations change is text, and the file around it is made anew.

Bytes changed at random in a workbook, a Parquet file or a PDF break its checksums and offsets first, so that little behind
them is reached. Here the parts, cells, columns or objects are the input.
"""

from __future__ import annotations

import io
import re
import zipfile
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from xml.sax.saxutils import escape, quoteattr

PART = b"\x1e"
"""Between two parts of a workbook, or two objects of a PDF."""

STREAM = b"\x1d"
"""Between the dictionary and the content of a stream of a PDF."""

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
RELATION = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_CELL = re.compile(r"([a-z]?)([0-9]{0,2})\|(.*)", re.DOTALL)
_KINDS = {"s": "s", "t": "str", "b": "b", "e": "e", "d": "d", "n": "n"}


def zipped(parts: dict[str, bytes]) -> bytes:
    """Return an archive."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for name, content in parts.items():
            archive.writestr(zipfile.ZipInfo(name), content)
    return out.getvalue()


def workbook_of_parts(content: bytes) -> bytes:
    """Return a workbook whose parts are written out, each with its name on its first line."""
    parts = {}
    for part in content.split(PART):
        name, _, text = part.partition(b"\n")
        parts[name.decode("latin-1").replace("\x00", "") or "x"] = text
    return zipped(parts)


def workbook_of_cells(content: bytes, sheet: str) -> bytes:
    """Return a workbook of one sheet from its cells.

    The first line is the number formats of the styles, parted by tabs; the others are rows. A cell is ``KIND STYLE|TEXT``,
    as in ``n2|0.5`` (`_KINDS`; ``i`` inline text, ``f`` a formula without a result, ``g`` one with 1), or text alone. A
    line from ``!`` on is what stands behind or, from ``!!`` on, before the rows.
    """
    formats, *lines = content.decode("utf-8", "replace").split("\n")
    rows, before, behind, number = [], "", "", 0
    for line in lines:
        if line.startswith("!!"):
            before += line[2:]
        elif line.startswith("!"):
            behind += line[1:]
        else:
            number += 1
            cells = "".join(_cell(text, place, number) for place, text in enumerate(line.split("\t"), 1) if text)
            rows.append(f'<row r="{number}">{cells}</row>')
    codes = "".join(
        f'<numFmt numFmtId="{164 + at}" formatCode={quoteattr(_clean(code))}/>'
        for at, code in enumerate(formats.split("\t"))
    )
    styles = "".join(f'<xf numFmtId="{164 + at}"/>' for at in range(formats.count("\t") + 1))
    return zipped(
        {
            "_rels/.rels": f'<R><Relationship Id="a" Type="{RELATION}/officeDocument" Target="xl/workbook.xml"/></R>'.encode(),
            "xl/workbook.xml": f'<workbook xmlns="{MAIN}" xmlns:r="{RELATION}"><sheets><sheet name="{sheet}" r:id="s"/></sheets></workbook>'.encode(),
            "xl/_rels/workbook.xml.rels": (
                f'<R><Relationship Id="s" Type="{RELATION}/worksheet" Target="sheet.xml"/>'
                f'<Relationship Id="t" Type="{RELATION}/styles" Target="styles.xml"/></R>'
            ).encode(),
            "xl/styles.xml": f'<styleSheet xmlns="{MAIN}"><numFmts>{codes}</numFmts><cellXfs><xf/>{styles}</cellXfs></styleSheet>'.encode(),
            "xl/sheet.xml": f'<worksheet xmlns="{MAIN}">{before}<sheetData>{"".join(rows)}</sheetData>{behind}</worksheet>'.encode(),
        }
    )  # fmt: skip


def _clean(text: str) -> str:
    """Return text without the letters that XML cannot hold."""
    return "".join(
        letter for letter in text if letter >= " " and not "\ud800" <= letter <= "\udfff" and letter < "\ufffe"
    )


def _cell(text: str, column: int, row: int) -> str:
    letters = chr(64 + column) if column <= 26 else chr(64 + (column - 1) // 26) + chr(65 + (column - 1) % 26)
    place = f'r="{letters}{row}"'
    match = _CELL.fullmatch(text)
    kind, style, value = match.groups() if match else ("i", "", text)
    value, style = escape(_clean(value)), f's="{style or 0}"'
    if kind == "f":
        return f"<c {place} {style}><f>{value}</f></c>"
    if kind == "g":
        return f"<c {place} {style}><f>{value}</f><v>1</v></c>"
    if kind in _KINDS:
        return f'<c {place} {style} t="{_KINDS[kind]}"><v>{value}</v></c>'
    return f'<c {place} {style} t="inlineStr"><is><t>{value}</t></is></c>'


def parquet_of_columns(content: bytes) -> bytes | None:
    """Return a Parquet file from its columns, one on each line; None where there is none that can be written.

    A column is its name, the name of its type and its values, parted by tabs. A value that is none of the type is null.
    """
    import pyarrow as pa
    from pyarrow import parquet

    names, arrays = [], []
    lines = content.decode("utf-8", "replace").split("\n")[:60]
    height = max((line.count("\t") - 1 for line in lines), default=0)
    for line in lines:
        name, kind, *texts = [*line.split("\t"), ""]
        try:
            type_, convert = _TYPES.get(kind, _TYPES["string"])
            values = [_value(convert, text) for text in texts[:height]]
            arrays.append(pa.array(values + [None] * (height - len(values)), type_()))
            names.append(name)
        except (pa.ArrowException, OverflowError, ValueError, TypeError):
            continue
    out = io.BytesIO()
    try:
        parquet.write_table(pa.Table.from_arrays(arrays, names), out)
    except (pa.ArrowException, UnicodeEncodeError, ValueError):
        return None
    return out.getvalue()


def _value(convert: Any, text: str) -> Any:
    if text == "":
        return None
    try:
        return convert(text)
    except (ValueError, ArithmeticError, UnicodeEncodeError):
        return None


def _types() -> dict[str, Any]:
    import pyarrow as pa

    utc = datetime(1970, 1, 1, tzinfo=UTC)
    return {
        "string": (pa.string, str),
        "large": (pa.large_string, str),
        "dict": (lambda: pa.dictionary(pa.int32(), pa.string()), str),
        "int": (pa.int64, int),
        "byte": (pa.int8, int),
        "big": (pa.uint64, int),
        "float": (pa.float64, float),
        "half": (pa.float32, float),
        "bool": (pa.bool_, lambda text: text == "1"),
        "date": (pa.date32, date.fromisoformat),
        "time": (lambda: pa.time64("us"), time.fromisoformat),
        "stamp": (lambda: pa.timestamp("ns"), datetime.fromisoformat),
        "zone": (lambda: pa.timestamp("us", "Asia/Tokyo"), lambda text: utc + timedelta(seconds=int(text))),
        "span": (lambda: pa.duration("s"), lambda text: timedelta(seconds=int(text))),
        "decimal": (lambda: pa.decimal128(20, 4), Decimal),
        "bytes": (pa.binary, str.encode),
        "null": (pa.null, lambda _: None),
        "list": (lambda: pa.list_(pa.string()), str.split),
        "struct": (lambda: pa.struct([("a", pa.string())]), lambda text: {"a": text}),
    }


_TYPES = _types()


def pdf_of_objects(content: bytes) -> bytes:
    """Return a PDF from its objects, numbered from 1, the first of which is the catalogue; their lengths are put right."""
    out = b"%PDF-1.7\n"
    offsets = []
    for number, one in enumerate(content.split(PART), 1):
        offsets.append(len(out))
        head, parted, stream = one.partition(STREAM)
        if parted:
            head = head.replace(b"LENGTH", b"%d" % len(stream)) + b"\nstream\n" + stream + b"\nendstream"
        out += b"%d 0 obj\n%s\nendobj\n" % (number, head)
    start = len(out)
    out += b"xref\n0 %d\n0000000000 65535 f \n" % (len(offsets) + 1)
    out += b"".join(b"%010d 00000 n \n" % offset for offset in offsets)
    return out + b"trailer\n<</Size %d/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF\n" % (len(offsets) + 1, start)
