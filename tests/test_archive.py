"""The PDF as a file for every reader and for archives: both standards by two checkers, what hangs inside, and that it repeats.

Checked against, from outside:

- PDF/UA-1 and PDF/A-3a: the rules of page-validation
- PDF/UA-1, and what the rules of a standard cannot see: outloud
- conditions of the Matterhorn Protocol 1.1 (PDF Association, 2021), quoted as MP; its numbers are from memory
"""

from __future__ import annotations

import base64
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader, PdfWriter
from pypdf.generic import BooleanObject, ContentStream, DictionaryObject, NameObject

from impact.report.layout.pdf import Attached, identifier, pdf_of
from tests.reports import refusals, refused, report

SQUARE = base64.b64encode(
    b'<svg xmlns="http://www.w3.org/2000/svg" width="100" height="50"><rect width="100" height="50" fill="#336"/></svg>'
).decode()
STYLE = """@page { size: 300pt 400pt; margin: 30pt; @bottom-right { content: "page " counter(page) } }
nav ol { columns: 2; list-style: none } nav a::after { content: leader(".") target-counter(attr(href), page) }
body, h1, figure { margin: 0 } h1 { height: 20pt; font-size: 10pt } figure { height: 60pt } figure img { width: 100px }"""
HTML = f"""<!DOCTYPE html>
<html lang="en"><head><title>A small page</title><style>{STYLE}</style></head><body>
<h1>A small page</h1>
<figure><img src="data:image/svg+xml;base64,{SQUARE}" alt="A blue square"><figcaption>Square</figcaption></figure>
<nav><h2>Contents</h2><ol><li><a href="#lists">Some lists</a></li><li><a href="#table">A table</a></li></ol></nav>
<h2 id="lists">Some lists</h2>
<ul><li>one<ol><li>inner</li></ol></li><li>two</li></ul>
<ol style="list-style-type: lower-alpha"><li>alpha</li></ol>
<dl><dt>term</dt><dd>meaning</dd></dl>
<p>See <a href="https://example.org/x">the example</a>, <a href="#table" title="The table of masses">[1]</a>.</p>
<section id="table" style="break-before: page"><h2>A table</h2><table><caption>Masses, kg</caption>
<thead><tr><th scope="col">Part</th><th scope="col">Wet</th><th scope="col">Dry</th></tr></thead>
<tbody><tr><th scope="row">pot</th><td>2</td><td>1</td></tr><tr><th scope="row">tray</th><td>3</td><td>2</td></tr>
<tr><th scope="row">lid</th><td>4</td><td>3</td></tr><tr><th scope="row">cup</th><td colspan="2">5</td></tr></tbody>
</table><h3>Note</h3><p>Numbers are made up.</p></section></body></html>"""
FILES = (
    Attached("workshop.toml", b'name = "x"\n', "application/toml", "Source", "The workshop's own records"),
    Attached("batches.csv", b"batch,part\n1,pot\n", "text/csv", "Source", "The batch records"),
    Attached("results.json", b"{}", "application/json", "Data", "All figures of the report"),
    Attached("copy.json", b"{}", "application/json", "Supplement", "The same bytes under another name"),
)


@cache
def small() -> bytes:
    return pdf_of(HTML, FILES)


def funder() -> bytes:
    return report("demo")


def findings(pdf: bytes, folder: Path) -> list[tuple[str, str]]:
    """Return what the second checker finds, as severity and rule."""
    path = folder / "checked.pdf"
    path.write_bytes(pdf)
    checker = Path(sys.executable).with_name("outloud")
    told = folder / "checked.json"  # a pipe would hold no more than what its reader has taken when the program ends
    subprocess.run([checker, "--json", told, path], capture_output=True, check=False)
    (result,) = json.loads(told.read_text(encoding="utf-8"))["results"]
    assert result["error"] is None
    assert result["stats"]["pages"] > 1
    return [(finding["severity"], finding["rule"]) for finding in result["findings"]]


@cache
def reading(pdf: bytes) -> PdfReader:
    return PdfReader(BytesIO(pdf))


def root(pdf: bytes) -> Any:
    return reading(pdf).trailer["/Root"]


def elements(element: Any, above: str = "") -> Iterator[tuple[str, Any]]:
    """Yield each element of the tag tree below one, with the kind of the element above it."""
    kids = element.get("/K", [])
    for kid in kids if isinstance(kids, list) else [kids]:
        found = kid.get_object()
        if isinstance(found, dict) and "/S" in found:
            yield above, found
            yield from elements(found, found["/S"])


def number(element: Any) -> int:
    """Return the object number of an element, the same in every reading of one file."""
    return int(element.indirect_reference.idnum)


def tagged(pdf: bytes, kind: str) -> list[Any]:
    return [element for _, element in elements(root(pdf)["/StructTreeRoot"]) if element["/S"] == kind]


# -- both standards -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("profile", ["ua1", "3a"])
@pytest.mark.parametrize(
    "found",
    [lambda profile: refused(small(), profile), lambda profile: refusals("demo", "funder", profile)],
    ids=["small", "funder"],
)
def test_pdf_of_both_standards_are_fulfilled(found: Callable[[str], list[str]], profile: str) -> None:
    assert found(profile) == []


def test_pdf_of_small_page_second_checker_finds_at_most_that_bullets_are_painted_late(tmp_path: Path) -> None:
    # The layout library paints the marks of lists last on a page; readers follow the tags, where they stand in place.
    assert set(findings(small(), tmp_path)) <= {("warning", "ORD-001")}


def test_pdf_of_funder_report_second_checker_finds_no_error(tmp_path: Path) -> None:
    assert [rule for severity, rule in findings(funder(), tmp_path) if severity == "error"] == []


def test_pdf_of_both_standards_are_declared_in_one_description() -> None:
    packet = root(small())["/Metadata"].get_data().decode()
    assert packet.count("<rdf:RDF") == 1
    assert re.findall(r'(pdf\w+):(part|conformance)="(\w+)"', packet) == [
        ("pdfaid", "part", "3"),
        ("pdfaid", "conformance", "A"),
        ("pdfuaid", "part", "1"),
    ]


@pytest.mark.parametrize("made", [small, funder], ids=["small", "funder"])
def test_pdf_of_syntax_is_sound(made: Callable[[], bytes], tmp_path: Path) -> None:
    if not shutil.which("qpdf") and not os.environ.get("CI"):
        pytest.skip("qpdf is not installed")
    (tmp_path / "made.pdf").write_bytes(made())
    subprocess.run(["qpdf", "--check", tmp_path / "made.pdf"], check=True)


# -- the checkers can refuse ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        (' alt="A blue square"', "", "PDFUA1-FIGURE-ALTERNATIVE-TEXT-001"),  # MP 13-004
        (' lang="en"', "", "PDFUA1-LANGUAGE-TAG-001"),  # MP 11-001
        ("<title>A small page</title>", "", "PDFUA1-METADATA-TITLE-001"),  # MP 06-003
        ("<h3>Note</h3>", "<h4>Note</h4>", "PDFUA1-HEADING-NESTING-001"),  # MP 14-003
    ],
)
def test_pdf_of_page_that_owes_something_is_refused(old: str, new: str, rule: str) -> None:
    assert HTML.count(old) == 1
    assert rule in refused(pdf_of(HTML.replace(old, new)), "ua1")


def unembed(writer: PdfWriter) -> None:
    for item in writer._objects:
        if isinstance(item, DictionaryObject) and "/FontFile2" in item:
            del item["/FontFile2"]


def unrelate(writer: PdfWriter) -> None:
    for item in writer.root_object["/AF"]:
        del item.get_object()["/AFRelationship"]


def hide_title(writer: PdfWriter) -> None:
    writer.root_object["/ViewerPreferences"][NameObject("/DisplayDocTitle")] = BooleanObject(False)


def unscope(writer: PdfWriter) -> None:
    for item in writer._objects:
        if isinstance(item, DictionaryObject) and item.get("/S") == "/TH":
            del item["/A"]["/Scope"]
        if isinstance(item, DictionaryObject) and item.get("/S") == "/TD":
            item["/A"].pop("/Headers", None)


def untag_links(writer: PdfWriter) -> None:
    for item in writer._objects:
        if isinstance(item, DictionaryObject) and item.get("/S") == "/Link":
            item[NameObject("/S")] = NameObject("/Span")


def remove(*names: str) -> Callable[[PdfWriter], None]:
    """Return a damage: the last of these names removed from its place in the catalogue."""

    def damage(writer: PdfWriter) -> None:
        place = writer.root_object
        for name in names[:-1]:
            place = place[name]
        del place[names[-1]]

    return damage


def rewritten(damage: Callable[[PdfWriter], None]) -> bytes:
    writer = PdfWriter(clone_from=BytesIO(small()))
    damage(writer)
    written = BytesIO()
    writer.write(written)
    return written.getvalue()


@pytest.mark.parametrize("profile", ["ua1", "3a"])
def test_rewritten_without_damage_is_accepted(profile: str) -> None:
    assert refused(rewritten(lambda writer: None), profile) == []


@pytest.mark.parametrize(
    ("damage", "profile"),
    [
        (remove("/MarkInfo"), "ua1"),  # MP 01-007 and 06.2 of the standard
        (remove("/Metadata"), "ua1"),  # MP 06-001
        (remove("/ViewerPreferences"), "ua1"),  # MP 07-001
        (hide_title, "ua1"),  # MP 07-002
        (unscope, "ua1"),  # MP 15-003
        (untag_links, "ua1"),  # MP 28-011
        (unembed, "ua1"),  # MP 31-009
        (unembed, "3a"),  # ISO 19005-3, 6.2.11.4
        (remove("/OutputIntents"), "3a"),  # 6.2.4
        (unrelate, "3a"),  # 6.8
        (remove("/StructTreeRoot"), "3a"),  # 6.7
        (remove("/AF"), "3a"),  # 6.8
    ],
)
def test_damaged_file_is_refused(damage: Callable[[PdfWriter], None], profile: str) -> None:
    assert refused(rewritten(damage), profile) != []


@pytest.mark.parametrize("damage", [unscope, untag_links, remove("/Lang"), remove("/StructTreeRoot")])
def test_damaged_file_is_refused_by_the_second_checker(damage: Callable[[PdfWriter], None], tmp_path: Path) -> None:
    assert "error" in dict(findings(rewritten(damage), tmp_path))


# -- what the checkers leave open -------------------------------------------------------------------------------------


def test_header_cells_say_what_they_head() -> None:
    assert [cell["/A"]["/Scope"] for cell in tagged(small(), "/TH")] == ["/Column"] * 3 + ["/Row"] * 4


def test_header_cells_named_by_data_cells_stand_in_the_index() -> None:
    for pdf in (small(), funder()):
        index = root(pdf)["/StructTreeRoot"]["/IDTree"]["/Names"]
        assert list(index[::2]) == sorted(index[::2])
        indexed = {name: number(cell.get_object()) for name, cell in zip(index[::2], index[1::2], strict=True)}
        assert indexed == {cell["/ID"]: number(cell) for cell in tagged(pdf, "/TH")}
        named = {name for cell in tagged(pdf, "/TD") for name in cell["/A"]["/Headers"]}
        assert named
        assert named <= set(indexed)


def test_lists_say_how_they_are_numbered() -> None:
    numberings = [element["/A"]["/ListNumbering"] for element in tagged(small(), "/L")]
    assert numberings == ["/None", "/Disc", "/Decimal", "/LowerAlpha", "/None"]
    assert all("/ListNumbering" in element["/A"] for element in tagged(funder(), "/L"))


def test_list_in_columns_is_one_list() -> None:
    contents = tagged(small(), "/L")[0]
    assert [kid.get_object()["/S"] for kid in contents["/K"]] == ["/LI", "/LI"]
    assert [number(kid.get_object()["/P"]) for kid in contents["/K"]] == [number(contents)] * 2


def test_links_stand_in_one_link_element_each_and_say_where_they_lead() -> None:
    reader = reading(small())
    annotations = [note.get_object() for sheet in reader.pages for note in sheet.get("/Annots", [])]
    assert {note["/Contents"] for note in annotations} == {
        "Some lists",
        "A table",
        "the example",
        "The table of masses",
    }  # MP 28-012
    assert all(note["/F"] == 4 for note in annotations)  # printed, never hidden
    assert all(sheet["/Tabs"] == "/S" for sheet in reader.pages)  # MP 28-009
    numbers = reader.trailer["/Root"]["/StructTreeRoot"]["/ParentTree"]["/Nums"]
    above = {numbers[at]: numbers[at + 1].get_object() for at in range(0, len(numbers), 2)}
    links = [number(link) for link in tagged(small(), "/Link")]
    assert len(links) == 4
    for note in annotations:
        link = above[note["/StructParent"]]
        assert number(link) in links
        held = [kid.get_object() for kid in link["/K"]]
        assert number(note) in [
            number(kid["/Obj"].get_object()) for kid in held if isinstance(kid, dict) and "/Obj" in kid
        ]


def test_picture_stands_where_its_tag_says() -> None:
    (figure,) = tagged(small(), "/Figure")
    assert figure["/Alt"] == "A blue square"
    # Margin 30 pt, heading 20 pt high; the picture is 100 by 50 CSS pixels, that is 75 by 37.5 pt; the page 400 pt high.
    assert [float(edge) for edge in figure["/A"]["/BBox"]] == pytest.approx([30, 312.5, 105, 350])


@pytest.mark.parametrize("made", [small, funder], ids=["small", "funder"])
def test_text_is_in_the_tree_or_an_artefact(made: Callable[[], bytes]) -> None:
    reader = reading(made())
    tree = reader.trailer["/Root"]["/StructTreeRoot"]
    reached = {element.indirect_reference for _, element in elements(tree)}
    numbers = tree["/ParentTree"]["/Nums"]
    artefacts = 0
    for sheet in reader.pages:
        (above,) = (numbers[at + 1] for at in range(0, len(numbers), 2) if numbers[at] == sheet["/StructParents"])
        marks: list[int | str] = []
        for operands, operator in ContentStream(sheet["/Contents"], reader).operations:
            if operator == b"BMC":
                marks.append(operands[0])
            elif operator == b"BDC":
                marks.append(operands[1].get("/MCID", operands[0]))
            elif operator == b"EMC":
                marks.pop()
            elif operator in (b"Tj", b"TJ"):
                (mark,) = marks  # MP 01-003 to 01-005: marked once, and not both ways
                artefacts += mark == "/Artifact"
                assert mark == "/Artifact" or above.get_object()[mark].get_object().indirect_reference in reached
    assert artefacts >= len(reader.pages)  # MP 18: the number of each page


def test_leader_is_not_read_out() -> None:
    # The words of the entry, and the number of the page behind it; the dots between are one piece of text each.
    first = tagged(small(), "/Link")[0]
    read = [first, *(element for _, element in elements(first))]
    assert [sum(isinstance(kid, int) for kid in element["/K"]) for element in read] == [2]


def test_text_hangs_on_what_it_is_in_with_no_span_between() -> None:
    kinds = Counter(str(element["/S"]) for _, element in elements(root(small())["/StructTreeRoot"]))
    assert kinds["/Span"] <= 0.02 * kinds.total()
    held = sum(isinstance(kid, int) for cell in tagged(small(), "/TD") for kid in cell["/K"])
    assert held >= 0.9 * kinds["/TD"]


# -- what hangs inside --------------------------------------------------------------------------------------------------


def test_attached_files_can_be_read_and_say_what_they_are() -> None:
    assert reading(small()).attachments == {file.name: [file.content] for file in FILES}
    associated = [item.get_object() for item in root(small())["/AF"]]
    expected = sorted(FILES, key=lambda file: file.name)
    assert [item["/UF"] for item in associated] == [item["/F"] for item in associated] == [f.name for f in expected]
    for item, file in zip(associated, expected, strict=True):
        held = item["/EF"]["/F"].get_object()
        assert item["/AFRelationship"] == f"/{file.relationship}"
        assert item["/Desc"] == file.description
        assert held["/Subtype"] == f"/{file.media_type}"
        assert held["/Params"]["/Size"] == len(file.content)
        assert held["/Params"]["/CheckSum"].original_bytes == hashlib.md5(file.content).digest()
        assert held["/Params"]["/ModDate"] == held["/Params"]["/CreationDate"] == "D:19800101000000Z"
    names = root(small())["/Names"]["/EmbeddedFiles"]["/Names"]
    assert names[::2] == [file.name for file in expected]


def test_pdf_of_two_runs_give_the_same_bytes_in_any_order_of_the_files(tmp_path: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from impact.report.layout.pdf import pdf_of;"
        "from tests.test_archive import FILES, HTML; Path(sys.argv[1]).write_bytes(pdf_of(HTML, FILES[::-1]))"
    )
    kept = {name: value for name, value in os.environ.items() if name != "SOURCE_DATE_EPOCH"}
    environment = {**kept, "PYTHONPATH": str(Path(__file__).parents[1]), "PYTHONHASHSEED": "7", "TZ": "Asia/Kathmandu"}
    again = tmp_path / "again.pdf"
    subprocess.run([sys.executable, "-c", program, again], cwd=tmp_path, env=environment, check=True)
    assert again.read_bytes() == small()


def test_identifier_depends_on_what_is_attached() -> None:
    assert identifier(HTML, FILES) == identifier(HTML, FILES[::-1])
    assert len({identifier(HTML), identifier(HTML, FILES), identifier(HTML, FILES[1:])}) == 3


def test_pdf_of_two_files_of_one_name_raises() -> None:
    with pytest.raises(ValueError, match=r"two attached files are called batches\.csv"):
        pdf_of(HTML, (FILES[1], FILES[1]))


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("name", "records/x.csv", "name is 'records/x.csv'"),
        ("name", "Größe.csv", "printable ASCII"),
        ("media_type", "csv", "media type is 'csv'"),
        ("relationship", "Origin", "accepted: Source, Data"),
        ("description", " ", "has no description"),
    ],
)
def test_attached_with_a_field_amiss_raises(field: str, value: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        replace(FILES[0], **{field: value})


def test_pdf_of_many_anchors_each_has_its_place_and_both_standards_hold() -> None:
    cells = "".join(f'<p><span id="parts.pot.figure.{number}">{number}</span></p>' for number in range(1500))
    pdf = pdf_of(f'<html lang="en"><title>Anchors</title><body><h1>Anchors</h1>{cells}</body></html>')
    places = root(pdf)["/Names"]["/Dests"]["/Names"]
    assert list(places[::2]) == sorted(f"parts.pot.figure.{number}" for number in range(1500))
    assert {place[1] for place in places[1::2]} == {"/XYZ"}
    assert [refused(pdf, profile) for profile in ("ua1", "3a")] == [[], []]
