"""Attached files, attached results and printed figures held to those of the records, so that a message can name them."""

from __future__ import annotations

import csv
import json
import re
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from html import unescape
from io import BytesIO, StringIO
from itertools import chain
from math import isclose
from typing import IO, Annotated, Any, NamedTuple

from impact.base.figurenames import leaves
from impact.base.problems import shown
from impact.base.serial import Count, if_given, one_of, shows
from impact.report.evidence import RESULTS, SUMS, USED, WORKBOOK, sums_file, sums_of
from impact.report.proof.carried import Carried, squeezed
from impact.report.ties import MARK

SAME = 1e-9
"""Largest relative difference of two figures that count as the same: sums in another order differ in the last bits."""

WIDTH = 60
"""Most letters of a text that a line of a disagreement shows."""

_CODE = re.compile("</?code>")


@shows("where", "name", "carried", "found", if_given("page"))
@dataclass(frozen=True, slots=True)
class Disagreement:
    """One thing in which a report and its records disagree.

    Attributes
    ----------
    where : {"file", "results", "page", "document"}
        An attached file, the attached results, what stands on a page, what belongs to no page.
    name : str
        File, name of the figure or of all that one element holds, or what of the page or the document.
    carried, found : str
        What the report says, and what comes out of its records.
    page : int or None
        The page, from 1.
    """

    where: Annotated[str, one_of("file", "results", "page", "document")]
    name: str
    carried: str
    found: str
    page: int | None = None

    def __str__(self) -> str:
        """Return the disagreement as one line."""
        name = shown(self.name, WIDTH * 2)
        if self.page is not None:
            return f"page {self.page}, {name}: shows {_short(self.carried)}, the records give {_short(self.found)}"
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


def compare_files(
    carried: Mapping[str, bytes], made: Mapping[str, bytes], *, but: tuple[str, ...] = ()
) -> tuple[Agreement, list[Disagreement]]:
    """Return how many attached files are as they are made again, and those that are not.

    The results are named by their figures, see `compare_results`, the checksums follow from the others, and the workbook from
    the records: they are named where nothing else differs.

    Parameters
    ----------
    carried, made : mapping of str to bytes
        Files by name.
    but : tuple of str
        Files that another version of the program, or of a library, writes in another way, and that are not named.
    """
    faults = []
    for name in sorted({*made, *carried}):
        if name not in carried:
            faults.append(Disagreement("file", name, "no such file", "one"))
        elif name not in made:
            faults.append(Disagreement("file", name, "a file", "none"))
        elif made[name] != carried[name]:
            faults.append(Disagreement("file", name, "another content", "its own"))
    agreement = Agreement(len(made) - sum(fault.name in made for fault in faults), len(made))
    named = [fault for fault in faults if fault.name not in (RESULTS, SUMS, *but)]
    unlike = [fault for fault in faults if fault.name not in but]
    alone = {fault.name for fault in unlike} <= {RESULTS, SUMS, WORKBOOK}
    return agreement, unlike if alone else named


def written_otherwise(carried: Mapping[str, bytes], made: Mapping[str, bytes]) -> tuple[str, ...]:
    """Return the names of files that may differ in the last bits of their numbers and in nothing else.

    Other versions of the libraries give them. The results are among them, because they are compared figure by figure; the
    rows used and the workbook, where every cell is alike; the checksums, where they are those of the files that they stand beside.
    """
    names = [RESULTS]
    if alike(carried.get(USED, b""), made[USED]):
        names.append(USED)
    if books_alike(carried.get(WORKBOOK, b""), made.get(WORKBOOK, b"")):
        names.append(WORKBOOK)
    others = {name: carried[name] for name in made if name != SUMS and name in carried}
    if carried.get(SUMS) == sums_file(sums_of(others)):
        names.append(SUMS)
    return tuple(names)


def alike(carried: bytes, made: bytes) -> bool:
    """Return whether two tables as CSV have the same cells, numbers to the last bits."""
    try:
        tables = [list(csv.reader(StringIO(content.decode(), newline=""))) for content in (carried, made)]
    except (UnicodeDecodeError, csv.Error):
        return False
    if [len(row) for row in tables[0]] != [len(row) for row in tables[1]]:
        return False
    return all(one == other or _close(one, other) for one, other in zip(*map(chain.from_iterable, tables), strict=True))


_NUMBER = re.compile(rb"(-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?)")


def books_alike(carried: bytes, made: bytes) -> bool:
    """Return whether two workbooks have the same parts, numbers to the last bits; nothing is unpacked beyond the size of ours."""
    try:
        with zipfile.ZipFile(BytesIO(carried)) as one, zipfile.ZipFile(BytesIO(made)) as other:
            if one.namelist() != other.namelist():
                return False
            return all(_parts_alike(one.open(name), other.read(name)) for name in other.namelist())
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError, OSError):
        return False


def _parts_alike(stream: IO[bytes], made: bytes) -> bool:
    """Return whether a part is one of ours but for the last bits of its numbers."""
    ours, theirs = (_NUMBER.split(content) for content in (made, stream.read(2 * len(made) + 1)))
    return len(ours) == len(theirs) and all(
        one == other or (place % 2 == 1 and _close(one.decode(), other.decode()))
        for place, (one, other) in enumerate(zip(theirs, ours, strict=True))
    )


def _close(one: str, other: str) -> bool:
    try:
        return isclose(float(one), float(other), rel_tol=SAME)
    except ValueError:
        return False


def _texts(value: Any, path: str = "") -> Iterator[tuple[str, str]]:
    """Yield every text and every yes or no of a document with its path."""
    if isinstance(value, (str, bool)):
        yield path, repr(value)
    else:
        inside = value.items() if isinstance(value, Mapping) else enumerate(value, 1) if isinstance(value, list) else ()
        for key, inner in inside:
            yield from _texts(inner, f"{path}.{key}")


def compare_results(attached: bytes, made: bytes) -> tuple[Agreement, list[Disagreement]]:
    """Return how many attached figures come out again, and the figures, texts and answers that do not."""
    try:
        document = json.loads(attached)
        said = leaves(document)
        words = dict(_texts(document))
    except (ValueError, ArithmeticError, AttributeError, TypeError, RecursionError) as error:
        return NONE, [Disagreement("file", RESULTS, f"what cannot be read ({error})", "figures")]
    again = json.loads(made)
    found = leaves(again)
    faults = [
        Disagreement("results", name, _value(said, name), _value(found, name))
        for name in sorted({*said, *found})
        if name not in said or name not in found or not _same(said[name], found[name])
    ]
    agree = len(found) - sum(fault.name in found for fault in faults)
    texts = dict(_texts(again))
    for name in sorted({*words, *texts}):
        if words.get(name) != texts.get(name) and name != ".settings.version":
            faults.append(
                Disagreement("results", name[1:], words.get(name, "no such text"), texts.get(name, "no such text"))
            )
    return Agreement(agree, len(found)), faults


def _same(left: float | None, right: float | None) -> bool:
    return left is right if left is None or right is None else isclose(left, right, rel_tol=SAME)


def _value(values: Mapping[str, float | None], name: str) -> str:
    if name not in values:
        return "no such figure"
    return "null" if values[name] is None else repr(values[name])


def tied(html: str) -> dict[str, str]:
    """Return the text of every tied element of a page of ours by its id; such an element holds text alone."""
    found = re.findall(rf'<span id="({re.escape(MARK)}[^"]*)"(?: class="whole")?>((?:[^<]|</?code>)*)</span>', html)
    return {unescape(name): unescape(_CODE.sub("", text)) for name, text in found}


def compare_pages(carried: Carried, html: str) -> tuple[Agreement, list[Disagreement]]:
    """Return how many printed figures are those of a page made again, and those that are not."""
    expected = tied(html)
    printed = carried.printed(expected)
    faults = [
        Disagreement(
            "page", name.removeprefix(MARK), repr(printed[name]) if name in printed else "no such figure", repr(text),
            carried.places[name][0] + 1 if name in printed else None,
        )
        for name, text in expected.items()
        if printed.get(name) != squeezed(text)
    ]  # fmt: skip
    extra = [
        Disagreement("page", name.removeprefix(MARK), "a figure", "none", carried.places[name][0] + 1)
        for name in sorted(carried.places)
        if name not in expected
    ]
    return Agreement(len(expected) - len(faults), len(expected)), faults + extra
