"""The tags of a PDF mended: what the layout library leaves out or gets wrong, set right in its objects.

Tags are the tree of headings, tables, lists and pictures that a screen reader walks (ISO 32000-1:2008, 14.7 and 14.8);
what they owe to PDF/UA-1 is in ISO 14289-1:2014, clause 7.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

POINTS_PER_PIXEL = 0.75  # 72 points and 96 CSS pixels to the inch
NUMBERINGS = ("disc", "circle", "square", "decimal", "upper-roman", "lower-roman", "upper-alpha", "lower-alpha")
"""Styles of list markers in CSS; the names in a PDF are the same in capitals, without the hyphen."""


HOLDERS = ("P", "TD", "TH", "LBody", "Lbl", "Caption", "Link", "Span", *(f"H{level}" for level in range(1, 7)))
"""Elements that may hold text themselves, with no element between (ISO 32000-1, 14.8.4.3 and 14.8.4.4)."""


def mend(document: Any, pdf: Any) -> None:
    """Mend the tags of a PDF about to be written.

    Parameters
    ----------
    document : weasyprint.Document
        The page laid out.
    pdf : pydyf.PDF
        Its objects, changed in place.
    """
    _number_lists(document, pdf)
    _join_columns(pdf)
    _join_links(pdf)
    _make_furniture_artefacts(pdf)
    for cell in _elements(pdf, "/TH"):
        group = _at(pdf, _at(pdf, cell["P"])["P"])
        cell["A"]["Scope"] = "/Column" if group["S"] == "/THead" else "/Row"
    for figure in _elements(pdf, "/Figure"):
        _place_figure(pdf, figure)
    _index_headers(pdf)
    _describe_links(document)
    _lift_spans(pdf)


def _at(pdf: Any, reference: Any) -> Any:
    return pdf.objects[int(reference.split()[0])]


def _children(pdf: Any, element: Any) -> Iterator[Any]:
    """Yield the elements right below one; numbers of marked content and annotations are left out."""
    for kid in element.get("K", ()):
        if not isinstance(kid, int) and "S" in _at(pdf, kid):
            yield _at(pdf, kid)


def _elements(pdf: Any, kind: str = "") -> list[Any]:
    """Return the elements of the tree in reading order, or those of one kind."""
    found, waiting = [], list(_children(pdf, _at(pdf, pdf.catalog["StructTreeRoot"])))
    while waiting:
        found.append(waiting.pop())
        waiting += reversed(list(_children(pdf, found[-1])))
    return [element for element in found if kind in ("", element["S"])]


def _parents(pdf: Any) -> Any:
    """Return the tree that leads from marked content and annotations back to elements, as a flat array."""
    return _at(pdf, _at(pdf, pdf.catalog["StructTreeRoot"])["ParentTree"])["Nums"]


def _number_lists(document: Any, pdf: Any) -> None:
    """Say of each list how its items are marked (ISO 32000-1, table 347).

    The library makes one element for each box of a list, page by page and in the order of the boxes.
    """
    from pydyf import Dictionary

    made = [item for item in pdf.objects if isinstance(item, Dictionary) and item.get("S") == "/L"]
    for page, reference in zip(document.pages, pdf.page_references, strict=True):
        boxes = list(_list_boxes(page._page_box))
        here = (item for item in made if item["Pg"] == reference)
        for element, box in zip(here, boxes, strict=True):
            style = "none" if box.element_tag == "dl" else box.style["list_style_type"]
            numbering = style.title().replace("-", "") if style in NUMBERINGS else "None"
            element["A"] = Dictionary({"O": "/List", "ListNumbering": f"/{numbering}"})


def _list_boxes(box: Any) -> Iterator[Any]:
    from weasyprint.formatting_structure.boxes import LineBox, TextBox
    from weasyprint.layout.absolute import AbsolutePlaceholder

    if isinstance(box, AbsolutePlaceholder):
        box = box._box
    if box.element_tag in ("ol", "ul", "dl") and not isinstance(box, LineBox | TextBox):
        yield box
    for child in getattr(box, "children", ()):
        yield from _list_boxes(child)


def _join_columns(pdf: Any) -> None:
    """Make one list of a list set in columns; the library nests a list for each column."""
    for element in _elements(pdf, "/L"):
        columns = list(_children(pdf, element))
        if not columns or any(column["S"] != "/L" for column in columns):
            continue
        for item in (item for column in columns for item in _children(pdf, column)):
            item["P"] = element.reference
        element["K"][:] = [kid for column in columns for kid in column["K"]]
        for column in columns:
            column.clear()


def _join_links(pdf: Any) -> None:
    """Make one link of a link with generated text behind it, and leave the dots of a leader out of the tree.

    The library nests a link for the text that CSS adds, and in it another for a leader.
    """
    generated = set()
    parents = _parents(pdf)
    places = {number: place for place, number in enumerate(parents) if place % 2 == 0}
    for element in _elements(pdf, "/Link"):
        link = _link_above(pdf, element)
        if link is None:
            continue
        element["S"] = "/Span"
        if _at(pdf, element["P"]).number in generated:
            _at(pdf, element["P"])["K"].remove(element.reference)
        generated.add(element.number)
        for kid in [kid for kid in element["K"] if not isinstance(kid, int) and "Obj" in _at(pdf, kid)]:
            element["K"].remove(kid)
            link["K"].append(kid)
            parents[places[_at(pdf, _at(pdf, kid)["Obj"])["StructParent"]] + 1] = link.reference


def _link_above(pdf: Any, element: Any) -> Any:
    """Return the link that an element stands in, if any."""
    while element["S"] != "/Document":
        element = _at(pdf, element["P"])
        if element["S"] == "/Link":
            return element
    return None


def _make_furniture_artefacts(pdf: Any) -> None:
    """Mark text that hangs in no tree, that is running feet, page numbers and leaders, as artefacts (ISO 14289-1, 7.8).

    The library gives such text elements of its own, which are emptied.
    """
    from pydyf import Dictionary

    parents = _parents(pdf)
    reached = {element.number for element in _elements(pdf)}
    for page in (_at(pdf, reference) for reference in pdf.page_references):
        elements = parents[2 * page["StructParents"] + 1]
        stream = _at(pdf, page["Contents"]).stream
        for place, item in enumerate(stream):
            if (
                isinstance(item, Dictionary)
                and "MCID" in item
                and _at(pdf, elements[item["MCID"]]).number not in reached
            ):
                elements[item["MCID"]] = "null"
                stream[place - 1], stream[place] = "/Artifact", Dictionary({"Type": "/Pagination"})
    for item in pdf.objects:
        if isinstance(item, Dictionary) and item.get("Type") == "/StructElem" and item.number not in reached:
            item.clear()


def _place_figure(pdf: Any, figure: Any) -> None:
    """Give a picture's place in points from the foot of the page; the library gives pixels from its head."""
    from pydyf import Array

    left, top, right, bottom = (POINTS_PER_PIXEL * edge for edge in figure["A"]["BBox"])
    height = _at(pdf, figure["Pg"])["MediaBox"][3]
    figure["A"]["BBox"] = Array((left, height - bottom, right, height - top))
    figure["A"]["Placement"] = "/Block"


def _index_headers(pdf: Any) -> None:
    """Write the index of header cells by which data cells name them (ISO 32000-1, 14.7.2, table 322)."""
    from pydyf import Array, Dictionary

    named = sorted((cell["ID"].string, cell) for cell in _elements(pdf, "/TH"))
    names = Array(entry for _, cell in named for entry in (cell["ID"], cell.reference))
    if named:
        _at(pdf, pdf.catalog["StructTreeRoot"])["IDTree"] = Dictionary({"Names": names})


def _describe_links(document: Any) -> None:
    """Describe each link by its title, or by its text (ISO 14289-1, 7.18.5); the library gives the bare target."""
    from pydyf import String

    for page in document.pages:
        for _, _, _, box in page.links:
            if box.link_annotation:
                pictures = (picture.get("alt", "") for picture in box.element.iter("img"))
                text = " ".join((box.element.get("title") or "".join((*box.element.itertext(), *pictures))).split())
                if text:
                    box.link_annotation["Contents"] = String(text)


def _lift_spans(pdf: Any) -> None:
    """Hang what stands in spans that say nothing on the element that they stand in.

    The library makes a span for each line and each piece of one, which are two thirds of all elements. Readers are told the same
    without them.
    """
    parents = _parents(pdf)
    pages = {reference: parents[2 * _at(pdf, reference)["StructParents"] + 1] for reference in pdf.page_references}

    def lifted(kids: Sequence[Any], holder: Any) -> Iterator[Any]:
        for kid in kids:
            element = None if isinstance(kid, int) else _at(pdf, kid)
            if element is None or not _says_nothing(pdf, element) or element["Pg"] != holder["Pg"]:
                yield kid
                continue
            for inner in lifted(element["K"], holder):
                if isinstance(inner, int):
                    pages[holder["Pg"]][inner] = holder.reference
                else:
                    _at(pdf, inner)["P"] = holder.reference
                yield inner
            element.clear()

    for element in _elements(pdf):
        if element.get("S", "").removeprefix("/") in HOLDERS:
            element["K"][:] = list(lifted(element["K"], element))


def _says_nothing(pdf: Any, element: Any) -> bool:
    """Return whether an element is a span without anything of its own, that holds text and elements alone."""
    if element.get("S") != "/Span" or set(element) - {"Type", "S", "P", "Pg", "K"}:
        return False
    return all(isinstance(kid, int) or "S" in _at(pdf, kid) for kid in element["K"])
