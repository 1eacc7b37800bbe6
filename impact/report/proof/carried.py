"""What a PDF report carries, and where its figures stand, read from a file that anybody may have written."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from itertools import islice, pairwise
from typing import TYPE_CHECKING, Any

from impact.base.files import SETTINGS_LIMIT
from impact.base.problems import shown
from impact.report.evidence import GUIDE, SETTINGS, SUMS, TEMPLATE, file_of
from impact.report.ties import MARK, WORDS

if TYPE_CHECKING:
    from pypdf import PdfReader

LARGEST = 200_000_000
"""Most that a report may hold, and that all files carried by one may hold [bytes]."""

SIZES = {
    SETTINGS: 100_000, GUIDE: 100_000, SUMS: 1_000_000, "workshop.toml": 1_000_000, TEMPLATE: SETTINGS_LIMIT,
    "parts.csv": 10_000_000,
}  # fmt: skip
"""Most that single files may hold [bytes]."""

MOST_FILES = 600
"""Most files that one report may carry. [1]"""

_HYPHENS = dict.fromkeys(map(ord, "-\u00ad\ufffe\x02"))

SAID = f"{MARK}{WORDS}"
"""Start of the id of every sentence; a name in it may be written from right to left."""

OUT_OF_ORDER = " in another order"
"""What is added to a figure whose letters stand otherwise than they are read."""

LEFT, DOWN, ACROSS, AROUND = 1.0, 5.0, 2.0, 12.0
"""Where the first letter of an element is looked for, from the top left corner of its box, and how near. [pt]"""


class NoReportError(Exception):
    """Raised for a file that is no report of ours; the text is the one line to print."""


@contextmanager
def no_report(reason: str) -> Iterator[None]:
    """Turn whatever a damaged file makes the libraries trip over into one line."""
    try:
        yield
    except NoReportError:
        raise
    except Exception as error:
        raise NoReportError(f"{reason}: {shown(str(error)) or type(error).__name__}") from None


@dataclass(frozen=True)
class Carried:
    """One PDF report.

    Attributes
    ----------
    files : mapping of str to bytes
        What it carries, by name.
    places : mapping of str to tuple of int, float, float
        Page, from 0, and the top left corner of each tied element, by its id. [pt]
    content : bytes
        The PDF.
    """

    files: Mapping[str, bytes]
    places: Mapping[str, tuple[int, float, float]]
    content: bytes

    def printed(self, expected: Mapping[str, str]) -> dict[str, str]:
        """Return the text that stands on the pages where each tied element begins.

        Parameters
        ----------
        expected : mapping of str to str
            Text that each element should hold, by id; as much is read as it is long, and one letter more where the
            number goes on.

        Returns
        -------
        dict of str to str
            Without blanks; only for the ids that have a place.

        Raises
        ------
        NoReportError
            When the pages cannot be read.
        """
        import pypdfium2

        with no_report("its pages cannot be read"), closing(pypdfium2.PdfDocument(self.content)) as document:
            pages = [page.get_textpage() for page in document]
            found = {}
            for name, text in expected.items():
                if name in self.places:
                    page, left, top = self.places[name]
                    index = pages[page].get_index(left + LEFT, top - DOWN, ACROSS, AROUND)
                    raw = "" if index is None else pages[page].get_text_range(index, 2 * len(text) + 8)
                    found[name] = _as_long_as(squeezed(text), raw)
                    if index is not None and not name.startswith(SAID) and not _in_order(pages[page], index, len(text)):
                        found[name] += OUT_OF_ORDER
            return found


def _in_order(page: Any, start: int, length: int) -> bool:
    """Return whether the letters of a figure stand as they are read, each right of the one before it or lower."""
    boxes = (page.get_charbox(place) for place in range(start, min(start + length, page.count_chars())))
    letters = [box for box in boxes if box[0] < box[2]]
    return all(one[0] <= other[0] or other[3] <= one[1] for one, other in pairwise(letters))


def squeezed(text: str) -> str:
    """Return a text without blanks of any kind, nor hyphens, which readers drop at the end of a line."""
    return "".join(text.split()).translate(_HYPHENS)


def _as_long_as(text: str, raw: str) -> str:
    """Return the letters of `raw` up to the length of `text`, and what follows at once if the number goes on."""
    taken = ""
    for place, letter in enumerate(raw):
        if len(taken) >= len(text):
            return (
                taken + letter
                if letter.isdigit() or (raw[place : place + 2][1:].isdigit() and letter in ".,")
                else taken
            )
        taken += squeezed(letter)
    return taken


def read_report(content: bytes) -> Carried:
    """Return what a PDF report holds.

    Parameters
    ----------
    content : bytes
        The file.

    Raises
    ------
    NoReportError
        When it is no PDF, is locked with a password, carries too much, or carries nothing.
    """
    from pypdf import PdfReader

    with no_report("this is no PDF that can be read"):
        reader = PdfReader(io.BytesIO(content))
        if reader.is_encrypted:
            raise NoReportError("the PDF is encrypted; a report as it was written is not")
        files = _files(reader)
        pages = {
            page.indirect_reference.idnum: number for number, page in enumerate(reader.pages) if page.indirect_reference
        }
        places = {
            name: (pages[target.raw_get("/Page").idnum], float(str(target["/Left"])), float(str(target["/Top"])))
            for name, target in reader.named_destinations.items()
            if name.startswith(MARK)
        }
    if not files:
        raise NoReportError("the PDF carries no files; only reports that carry their records can be verified")
    return Carried(files, places, content)


def _files(reader: PdfReader) -> dict[str, bytes]:
    """Return the attached files by name."""
    files: dict[str, bytes] = {}
    for one in islice(reader.attachment_list, MOST_FILES + 1):
        if one.alternative_name not in (None, one.name):
            raise NoReportError(f"the PDF carries one file under two names, {shown(one.name, 80)}")
        if one.name in files:
            raise NoReportError(f"the PDF carries more than one file called {shown(one.name, 80)}")
        files[one.name] = one.content
        most = SIZES.get(file_of(one.name), LARGEST)
        if len(files[one.name]) > most:
            raise NoReportError(f"the attached {one.name} is larger than {most / 1e6:g} MB")
        if sum(map(len, files.values())) > LARGEST or len(files) > MOST_FILES:
            raise NoReportError(f"the PDF carries more than {LARGEST / 1e6:g} MB or {MOST_FILES} files")
    return files
