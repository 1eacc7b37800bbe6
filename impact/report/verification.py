"""A PDF report worked out again from the records that it carries, and compared figure by figure."""

from __future__ import annotations

import io
import json
import re
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from html import unescape
from math import isclose
from pathlib import Path
from typing import Annotated, Any, NamedTuple

from impact import __version__
from impact.base.figurenames import leaves
from impact.base.pictures import is_plain_name
from impact.base.problems import ProblemsError, errors, shown
from impact.base.serial import Count, document, named, one_of, shows
from impact.report.context import Report
from impact.report.evidence import RESULTS, SETTINGS, SUMS, TABLE_PREFIX, TEMPLATE, sums_of
from impact.report.html import page
from impact.report.production import SCHEMA, Product, compose_from, request_in
from impact.report.request import NothingToSayError
from impact.report.ties import MARK

LARGEST = 500_000_000
"""Most that all files carried by one report may hold [bytes]."""

_HYPHENS = dict.fromkeys(map(ord, "-\u00ad\ufffe\x02"))

LEFT, DOWN, ACROSS, AROUND = 1.0, 5.0, 2.0, 12.0
"""Where the first letter of an element is looked for, from the top left corner of its box, and how near. [pt]"""


class NoReportError(Exception):
    """Raised for a file that is no report of ours; the text is the one line to print."""


@contextmanager
def _no_report(reason: str) -> Iterator[None]:
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

        with _no_report("its pages cannot be read"), closing(pypdfium2.PdfDocument(self.content)) as document:
            pages = [page.get_textpage() for page in document]
            found = {}
            for name, text in expected.items():
                if name in self.places:
                    page, left, top = self.places[name]
                    index = pages[page].get_index(left + LEFT, top - DOWN, ACROSS, AROUND)
                    raw = "" if index is None else pages[page].get_text_range(index, 2 * len(text) + 8)
                    found[name] = _as_long_as(squeezed(text), raw)
            return found


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

    with _no_report("this is no PDF that can be read"):
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


def _files(reader: object) -> dict[str, bytes]:
    """Return the attached files by name."""
    files: dict[str, bytes] = {}
    for name, copies in reader.attachments.items():  # type: ignore[attr-defined]
        if len(copies) != 1:
            raise NoReportError(f"the PDF carries {len(copies)} files called {shown(name)}")
        files[name] = copies[0]
        if sum(map(len, files.values())) > LARGEST:
            raise NoReportError(f"the PDF carries more than {LARGEST / 1e6:g} MB")
    return files


RECORDS = ("workshop.toml", "parts.csv", "batches.csv", "factors.csv")
_CODE = re.compile("</?code>")
_TABLE = re.compile(rf"{TABLE_PREFIX}[a-z0-9-]+\.csv")

SAME = 1e-9
"""Largest relative difference of two figures that count as the same: sums in another order differ in the last bits."""


WIDTH = 60
"""Most letters of a text that a line of a disagreement shows."""


@shows()
@dataclass(frozen=True, slots=True)
class Disagreement:
    """One thing in which a report and its records disagree.

    Attributes
    ----------
    where : {"file", "results", "page"}
        An attached file, the attached results, a printed figure.
    name : str
        File, or name of the figure.
    carried, found : str
        What the report says, and what comes out of its records.
    """

    where: Annotated[str, one_of("file", "results", "page")]
    name: str
    carried: str
    found: str

    def __str__(self) -> str:
        """Return the disagreement as one line."""
        name = shown(self.name, WIDTH * 2)
        return f"{self.where}: {name}: the report has {_short(self.carried)}, its records give {_short(self.found)}"


def _short(text: str) -> str:
    """Return a text cut to what fits into one line with its name."""
    return shown(text, WIDTH - 1 if len(text) > WIDTH else None)


@shows("agree", "of")
class Agreement(NamedTuple):
    """How many things agree, of how many."""

    agree: Count
    of: Count


NONE = Agreement(0, 0)


@document(
    "impact-verify/1",
    "A report worked out again",
    "What `impact verify --json` prints. With disagreements the exit status is 1.",
    named("made_by", "version"), "verified_by", "files", "results", "pages", "disagreements",
)  # fmt: skip
@dataclass(frozen=True, slots=True)
class Verification:
    """What the comparison found.

    Attributes
    ----------
    files : Agreement
        Attached files that have the checksums listed in the report.
    results : Agreement
        Attached results that come out of the attached records.
    pages : Agreement
        Printed figures that are those results; none are compared where the template is a workshop's own, which is never
        run here.
    disagreements : tuple of Disagreement
        Everything that does not.
    version : str
        Version of the program that made the report.
    """

    files: Agreement
    results: Agreement
    pages: Agreement
    disagreements: tuple[Disagreement, ...]
    version: str

    @property
    def verified_by(self) -> str:
        """Version of the program that compared it."""
        return __version__


def verify(content: bytes) -> Verification:
    """Return how far a PDF report agrees with the records that it carries.

    Parameters
    ----------
    content : bytes
        The PDF, and nothing else.

    Raises
    ------
    NoReportError
        When it is no report of ours.
    """
    carried = read_report(content)
    settings = _settings(carried)
    files, faults = compare_sums(carried.files)
    made_by = str(settings.get("version", "an unknown version"))
    try:
        report, made = _again(carried, settings)
    except ProblemsError as error:
        faults += [Disagreement("file", problem.file, str(problem), "an error") for problem in errors(error.problems)]
    except FileNotFoundError as error:
        table = f"{TABLE_PREFIX}{Path(error.filename).name}"
        faults.append(Disagreement("file", table, "no such file", "one is needed"))
    except (KeyError, TypeError, ValueError, NothingToSayError) as error:
        faults.append(Disagreement("file", SETTINGS, f"settings that cannot be used ({error})", "those of a report"))
    else:
        faults += _file_faults(carried.files, made)
        results, unlike = _compare_results(carried.files.get(RESULTS, b""), report)
        pages, misprinted = (NONE, []) if settings.get("own_template") else _compare_pages(carried, report)
        return Verification(files, results, pages, (*faults, *unlike, *misprinted), made_by)
    return Verification(files, NONE, NONE, tuple(faults), made_by)


def _file_faults(carried: Mapping[str, bytes], made: Mapping[str, bytes]) -> Iterator[Disagreement]:
    """Yield each file that is not as it would be made again, but for results and checksums."""
    for name in sorted({*made, *carried} - {RESULTS, SUMS}):
        if name not in carried:
            yield Disagreement("file", name, "no such file", "one")
        elif name not in made:
            yield Disagreement("file", name, "a file", "none")
        elif made[name] != carried[name]:
            yield Disagreement("file", name, "another content", "its own")


def _settings(carried: Carried) -> dict[str, Any]:
    """Return the settings; refuse a file without."""
    try:
        settings = tomllib.loads(carried.files[SETTINGS].decode())
    except KeyError:
        raise NoReportError(f"the PDF carries no {SETTINGS}, so it is no report that can be verified") from None
    except (ValueError, RecursionError) as error:
        raise NoReportError(f"the attached {SETTINGS} cannot be read: {error}") from None
    if settings.get("schema") != SCHEMA:
        raise NoReportError(
            f"the attached {SETTINGS} is of the form {shown(str(settings.get('schema')), WIDTH)}; accepted: {SCHEMA}"
        )
    return settings


def _again(carried: Carried, settings: Mapping[str, Any]) -> tuple[Report, dict[str, bytes]]:
    """Return the report made again from the files that it carries, and the files that it would carry."""
    records = {name: carried.files[name] for name in RECORDS if name in carried.files}
    tables = {name: content for name, content in carried.files.items() if _TABLE.fullmatch(name)}
    request, narrowing = request_in(settings)
    pictures = {name: content for name, content in carried.files.items() if is_plain_name(name)}
    product = Product(compose_from({**records, **pictures}, tables, request, narrowing), records, tables, narrowing)
    kept = {name: carried.files[name] for name in (SETTINGS, TEMPLATE) if name in carried.files}
    return product.report, {**product.files(), **kept}


def compare_sums(files: Mapping[str, bytes]) -> tuple[Agreement, list[Disagreement]]:
    """Return how many files have the checksum that the list of sums gives, and those that have not."""
    found = {name: value for name, value in sums_of(files).items() if name != SUMS}
    lines = files.get(SUMS, b"").decode(errors="replace").splitlines()
    listed = {name: value for value, _, name in (line.partition("  ") for line in lines)}
    faults = [
        Disagreement("file", name, f"the sum {listed.get(name, 'of no such file')}", found.get(name, "no such file"))
        for name in sorted({*listed, *found})
        if listed.get(name) != found.get(name)
    ]
    return Agreement(len(found) - sum(fault.name in found for fault in faults), len(found)), faults


def _texts(value: Any, path: str = "") -> Iterator[tuple[str, str]]:
    """Yield every text of a document with its path."""
    if isinstance(value, str):
        yield path, value
    else:
        inside = value.items() if isinstance(value, Mapping) else enumerate(value, 1) if isinstance(value, list) else ()
        for key, inner in inside:
            yield from _texts(inner, f"{path}.{key}")


def _compare_results(attached: bytes, report: Report) -> tuple[Agreement, list[Disagreement]]:
    """Return how many attached figures come out again, and the figures and texts that do not."""
    try:
        document = json.loads(attached)
        said = leaves(document)
        words = dict(_texts(document))
    except (ValueError, ArithmeticError, AttributeError, TypeError, RecursionError) as error:
        return NONE, [Disagreement("file", RESULTS, f"what cannot be read ({error})", "figures")]
    again = json.loads(json.dumps(report.document))
    found = leaves(again)
    faults = [
        Disagreement("results", name, _shown(said, name), _shown(found, name))
        for name in sorted({*said, *found})
        if name not in said or name not in found or not _same(said[name], found[name])
    ]
    agree = len(found) - sum(fault.name in found for fault in faults)
    texts = dict(_texts(again))
    for name in sorted({*words, *texts}):
        if words.get(name) != texts.get(name) and name != ".settings.version":
            faults.append(Disagreement("results", name[1:], repr(words.get(name)), repr(texts.get(name))))
    return Agreement(agree, len(found)), faults


def _same(left: float | None, right: float | None) -> bool:
    return left is right if left is None or right is None else isclose(left, right, rel_tol=SAME)


def _shown(values: Mapping[str, float | None], name: str) -> str:
    if name not in values:
        return "no such figure"
    return "null" if values[name] is None else repr(values[name])


def tied(html: str) -> dict[str, str]:
    """Return the text of every tied element of a page of ours by its id; such an element holds text alone."""
    found = re.findall(rf'<span id="({re.escape(MARK)}[^"]*)">((?:[^<]|</?code>)*)</span>', html)
    return {unescape(name): unescape(_CODE.sub("", text)) for name, text in found}


def _compare_pages(carried: Carried, report: Report) -> tuple[Agreement, list[Disagreement]]:
    """Return how many printed figures are those of the records, and those that are not."""
    expected = tied(page(report, sums_of(carried.files), inline_fonts=False))
    printed = carried.printed(expected)
    faults = [
        Disagreement(
            "page", name.removeprefix(MARK), repr(printed[name]) if name in printed else "no such figure", repr(text)
        )
        for name, text in expected.items()
        if printed.get(name) != squeezed(text)
    ]
    extra = [
        Disagreement("page", name.removeprefix(MARK), "a figure", "none")
        for name in sorted(carried.places)
        if name not in expected
    ]
    return Agreement(len(expected) - len(faults), len(expected)), faults + extra
