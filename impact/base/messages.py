"""The texts of tables of rules among the messages for translators: `make messages` reads such tables by this."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from typing import BinaryIO

Found = tuple[int, str, str | tuple[str, str], list[str]]
"""Line, function, message (or singular and plural), comments: what Babel takes."""


def extract(stream: BinaryIO, keywords: object, comments: Sequence[str], options: Mapping[str, str]) -> Iterator[Found]:
    """Yield the messages of a table in CSV, as an extraction method of Babel.

    Parameters
    ----------
    stream : file
        The table.
    keywords, comments : object
        Not used.
    options : mapping of str to str
        ``columns``: those that hold messages, separated by blanks. ``one=many`` is a pair of singular and plural where the
        first is filled in.
    """
    rows = csv.DictReader(io.StringIO(stream.read().decode(), newline=""))
    for row in rows:
        for column in options["columns"].split():
            one, _, many = column.rpartition("=")
            if one and row[one]:
                yield rows.line_num, "ngettext", (row[one], row[many]), []
            elif row[many]:
                yield rows.line_num, "gettext", row[many], []
