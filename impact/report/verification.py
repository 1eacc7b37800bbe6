"""A PDF report made again from the records that it carries, and held to that byte for byte."""

from __future__ import annotations

import errno
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Annotated

from impact import __version__
from impact.base.figurenames import leaves
from impact.base.pictures import is_plain_name
from impact.base.problems import ProblemsError, errors, shown
from impact.base.processes import Doing, here
from impact.base.serial import document, named, one_of, or_null
from impact.report.evidence import (
    GUIDE,
    RESULTS,
    SETTINGS,
    TEMPLATE,
    WORKBOOK,
    factor_tables,
    file_of,
    from_roof,
    sums_of,
    under_roof,
)  # fmt: skip
from impact.report.html import page
from impact.report.layout.pango import absence
from impact.report.production import Product, compose_from, libraries
from impact.report.proof.carried import Carried, NoReportError, read_report
from impact.report.proof.figures import (
    NONE,
    Agreement,
    Disagreement,
    compare_files,
    compare_pages,
    compare_results,
    tied,
    written_otherwise,
)
from impact.report.proof.likeness import differences, packed_otherwise
from impact.report.proof.settings import Settings, read_settings
from impact.report.request import NothingToSayError
from impact.report.typefaces import beyond

RECORDS = ("workshop.toml", "parts.csv", "batches.csv", "factors.csv")

OF_A_VERSION = (SETTINGS, GUIDE, WORKBOOK)
"""Attached files that name the version of the program."""

WRITES_WORKBOOKS = "openpyxl"
"""The library that writes the attached workbook, in its own way in each version."""

PROVED = {
    "bytes": "made again from the records inside it, byte for byte the same file",
    "pages": "made again from the records inside it, the same file but for how it is packed: every page is the same",
    "figures": "the figures agree with the records inside it, but the pages were not proved",
    "nothing": "this is not the report that the records inside it make",
}
"""What is proved, in words."""

FULL = (errno.ENOSPC, errno.EDQUOT)
"""Faults of a disk, which say nothing of a report."""

CAUTION = "Who made the records, and whether they are true, nobody can tell from a file."


@document(
    "impact-verify/1",
    "A report made again",
    "What `impact verify --json` prints. The exit status is 0 where `proved` is bytes or pages, else 1.",
    "proved", or_null("because"), named("made_by", "version"), "verified_by", "files", "results", "pages",
    "disagreements",
)  # fmt: skip
@dataclass(frozen=True, slots=True)
class Verification:
    """What making a report again found.

    Attributes
    ----------
    proved : {"bytes", "pages", "figures", "nothing"}
        bytes: it is the file that its records make, byte for byte. pages: it is that file, but for how its streams are
        packed. figures: its figures are those of its records, and its pages were not proved. nothing: it is another report
        than its records make.
    because : str
        Why the pages were not proved, or what may be the reason of the disagreements; blank where nothing is to say.
    files : Agreement
        Attached files that are as they are made again.
    results : Agreement
        Attached results that come out of the attached records.
    pages : Agreement
        Printed figures, each with its interval, and sentences that are those results, read where they are named; none are
        compared where the template is a workshop's own, which is never run here.
    disagreements : tuple of Disagreement
        Everything that is not as it is made again.
    version : str
        Version of the program that made the report.
    """

    proved: Annotated[str, one_of(*PROVED)]
    because: str
    files: Agreement
    results: Agreement
    pages: Agreement
    disagreements: tuple[Disagreement, ...]
    version: str

    @property
    def verified_by(self) -> str:
        """Version of the program that compared it."""
        return __version__

    @property
    def holds(self) -> bool:
        """Whether every page is proved to be what the records make."""
        return self.proved in ("bytes", "pages")

    @property
    def words(self) -> str:
        """What was proved, in one sentence, and what no file proves."""
        because = f", because {self.because}" if self.because else ""
        return f"{PROVED[self.proved]}{because}. {CAUTION}"


@dataclass(frozen=True)
class _Again:
    """A report made again.

    Attributes
    ----------
    product : Product
        What was calculated, and from which files.
    pdf : bytes
        The file; blank where it cannot be laid out here.
    """

    product: Product
    pdf: bytes

    @property
    def files(self) -> Mapping[str, bytes]:
        """What it carries, by name."""
        return self.product.carried

    def paper(self, carried: Mapping[str, bytes]) -> str:
        """Return the page as HTML, with the checksums of what the other report carries."""
        sums = sums_of(carried)
        if sums == sums_of(self.files):
            return self.product.paper
        return page(self.product.report, sums, inline_fonts=False)


def verify(content: bytes, do: Doing = here) -> Verification:
    """Return whether a PDF report is the one that the records inside it make.

    Parameters
    ----------
    content : bytes
        The PDF, and nothing else.
    do : Doing
        Does a share of the work of making the report again: here, or in another process meanwhile.

    Raises
    ------
    NoReportError
        When it is no report of ours, or its settings are not those of one.
    """
    carried = read_report(content)
    settings = read_settings(carried.files)
    if settings.own_template != (TEMPLATE in carried.files):
        raise NoReportError(f"the attached {SETTINGS} says own_template = {str(settings.own_template).lower()}, "
                            f"and {'a' if TEMPLATE in carried.files else 'no'} {TEMPLATE} is attached")  # fmt: skip
    try:
        again = _made_again(_asked(settings), tuple(sorted(_inputs(carried.files))), do)
    except ProblemsError as error:
        faults = [Disagreement("file", problem.file, str(problem), "an error") for problem in errors(error.problems)]
    except NoReportError:
        raise
    except NothingToSayError as error:
        faults = [Disagreement("file", SETTINGS, f"settings that cannot be used ({error})", "those of a report")]
    except OSError as error:
        if error.errno in FULL:
            raise
        raise NoReportError(shown(str(error), 80)) from None
    except Exception as error:  # records that anybody may have written; whatever reading or calculating trips over
        reason = shown(str(error), 80) or type(error).__name__
        faults = [Disagreement("file", "records", f"what no report can be made of ({reason})", "a report")]
    else:
        return _compared(carried, again, settings)
    return Verification(
        "nothing", "; ".join(_other_version(settings)), NONE, NONE, NONE, tuple(faults), settings.version
    )


def _inputs(files: Mapping[str, bytes]) -> Iterator[tuple[str, bytes]]:
    """Yield the attached files that a report is made from; all others are only compared."""
    for name, content in files.items():
        if file_of(name) in (*RECORDS, TEMPLATE) or is_plain_name(file_of(name)):
            yield name, content


def _asked(settings: Settings) -> str:
    """Return all that settings ask for, in one way of writing; by which version of the program is not asked."""
    return settings.model_copy(update={"version": __version__}).model_dump_json(by_alias=True)


@lru_cache(maxsize=2)
def _made_again(asked: str, inputs: tuple[tuple[str, bytes], ...], do: Doing) -> _Again:
    """Return the report that records make with the factor tables of this version; a template is kept and never run."""
    given, settings = dict(inputs), Settings.model_validate_json(asked)
    request, narrowing = settings.request()
    if settings.own_template:
        request = replace(request, template=_text(given[TEMPLATE]))
    tables = factor_tables()
    if narrowing.roof is not None:
        records = under_roof(from_roof(given, narrowing.roof.sites))
        report = compose_from(records, tables, request, narrowing)
    else:
        records = {name: given[name] for name in RECORDS if name in given}
        pictures = {name: content for name, content in given.items() if is_plain_name(name)}
        report = compose_from({**records, **pictures}, tables, request, narrowing, do)
    product = Product(report, records, tables, narrowing, settings.libraries, do)
    laid_out = not settings.own_template and absence() is None
    return _Again(product, product.content(".pdf") if laid_out else b"")


def _text(content: bytes) -> str:
    try:
        return content.decode()
    except UnicodeDecodeError:
        raise NoReportError(f"the attached {TEMPLATE} is no text in UTF-8") from None


def _compared(carried: Carried, again: _Again, settings: Settings) -> Verification:
    """Return how far a report is the one made again."""
    if again.pdf and carried.content == again.pdf:
        return _whole("bytes", again, settings)
    if again.pdf and packed_otherwise(carried.content, again.pdf):
        return _whole("pages", again, settings)
    because = _because(again, settings)
    aged = (*OF_A_VERSION, RESULTS) if settings.version != __version__ else ()
    otherwise = written_otherwise(carried.files, again.files) if because else ()
    if settings.libraries.get(WRITES_WORKBOOKS) != libraries()[WRITES_WORKBOOKS]:
        otherwise = (*otherwise, WORKBOOK)
    files, faults = compare_files(carried.files, again.files, but=(*aged, *otherwise))
    results, unlike = compare_results(carried.files.get(RESULTS, b""), again.files[RESULTS])
    faults += unlike
    pages = NONE
    if not settings.own_template:
        pages, misprinted = compare_pages(carried, again.paper(carried.files))
        faults += misprinted
    proved = "figures" if because and not faults else "nothing"
    drawn = differences(carried.content, again.pdf) if again.pdf else []
    return Verification(proved, because, files, results, pages, (*faults, *drawn), settings.version)


def _whole(proved: str, again: _Again, settings: Settings) -> Verification:
    """Return that everything agrees, because the file does."""
    results = len(leaves(json.loads(again.files[RESULTS])))
    files, found, pages = (Agreement(one, one) for one in (len(again.files), results, len(tied(again.product.paper))))
    return Verification(proved, "", files, found, pages, (), settings.version)


def _other_version(settings: Settings) -> list[str]:
    """Return that another version of the program made the report, where it says so."""
    if settings.version == __version__:
        return []
    return [f"version {settings.version} of the program made it and here is {__version__}: take that version"]


def _because(again: _Again, settings: Settings) -> str:
    """Return all that may make pages differ though nobody altered them; blank where nothing may."""
    reasons = _other_version(settings)
    if settings.own_template:
        reasons.append("they were laid out by a template of the workshop's own, which is never run here")
    elif not again.pdf:
        reasons.append("they cannot be laid out here without the library Pango")
    else:
        here = libraries()
        others = [
            name for name in sorted({*here, *settings.libraries}) if here.get(name) != settings.libraries.get(name)
        ]
        if others:
            theirs, ours = (_versions(others, known) for known in (settings.libraries, here))
            reasons.append(f"it was made with {theirs}, and here are {ours}")
        if WRITES_WORKBOOKS in others:
            reasons.append(f"the attached {WORKBOOK}, which another version wrote, was not compared")
        letters = "".join(sorted(beyond(again.product.paper)))
        if letters:
            reasons.append(f"some letters ({shown(letters, 20)}) come from the fonts of the machine that made it")
    return "; ".join(reasons)


def _versions(names: Iterable[str], known: Mapping[str, str]) -> str:
    return ", ".join(f"{name} {known.get(name, 'of an unknown version')}" for name in names)
