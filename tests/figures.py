"""Whether the numbers of a text come from a document."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

NUMBER = re.compile(r"-?\d+(?:[.\-]\d+)*(?:e[+-]\d+)?%?")


def _leaves(document: Any) -> Iterator[Any]:
    if isinstance(document, dict):
        for value in document.values():
            yield from _leaves(value)
    elif isinstance(document, list):
        for value in document:
            yield from _leaves(value)
    else:
        yield document


def unexplained_numbers(text: str, document: Any) -> list[str]:
    """Return the numbers of a text that are no number of the document, in kg or g, as fraction or per cent.

    Numbers inside texts of the document (dates, sentences, names) count, and so do those of the labels' own units.
    """
    known = {"95", "95%", "2"}  # the intervals' coverage, and the 2 of CO2e
    for leaf in _leaves(document):
        if isinstance(leaf, bool) or leaf is None:
            continue
        if isinstance(leaf, str):
            known.update(NUMBER.findall(leaf))
            continue
        known.update({f"{leaf:.4g}", f"{leaf * 1000.0:.4g}", f"{leaf:.0%}", f"{leaf:.1%}", f"{leaf}"})
    return [number for number in NUMBER.findall(text) if number not in known]
