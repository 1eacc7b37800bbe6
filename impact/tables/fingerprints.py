"""Fingerprints of texts and of whole rows: 64 bits each, so that ten million are compared in 80 MB."""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

import numpy as np

from impact.tables.texts import Coded, Codes, Texts, Written

Fingerprints = np.ndarray[Any, np.dtype[np.uint64]]

LONGEST = 64
"""Bytes of a text up to which many are worked out at once."""

_FIRST, _SECOND = np.uint64(0x9E3779B97F4A7C15), np.uint64(0xBF58476D1CE4E5B9)

_KEPT = np.array(
    [int.from_bytes(b"\xff" * count + b"\0" * (8 - count), sys.byteorder) for count in range(9)], np.uint64
)
"""What is kept of eight bytes of which so many belong to a text."""


def fingerprints(texts: Texts) -> Fingerprints:
    """Return the fingerprint of each text that is not blank; equal texts have equal ones.

    Of ten million different texts any two share one with a chance of about 3 in a million, so whoever finds a pair
    compares the texts.
    """
    import pyarrow as pa

    array = texts.written().array
    if not len(array):
        return np.zeros(0, dtype=np.uint64)
    _, places, data = array.buffers()
    width = np.int64 if pa.types.is_large_string(array.type) else np.int32
    ends = np.frombuffer(places, dtype=width)[array.offset : array.offset + len(array) + 1]
    content = np.frombuffer(data, dtype=np.uint8) if data is not None else np.zeros(0, dtype=np.uint8)
    lengths = np.diff(ends)
    found = _of_short(content, ends[:-1], np.where(lengths > LONGEST, 0, lengths))
    for index in np.flatnonzero(lengths > LONGEST):
        digest = hashlib.blake2b(content[ends[index] : ends[index + 1]].tobytes(), digest_size=8).digest()
        found[index] = np.frombuffer(digest, dtype=np.uint64)[0]
    return found[lengths > 0]


def _of_short(
    content: np.ndarray[Any, Any], starts: np.ndarray[Any, Any], lengths: np.ndarray[Any, Any]
) -> Fingerprints:
    """Return the fingerprints of short texts, eight bytes of all of them at a time."""
    padded = np.concatenate([content, np.zeros(8, dtype=np.uint8)])
    from_here = np.ndarray((len(content) + 1,), dtype=np.uint64, buffer=padded.data, strides=(1,))
    found = lengths.astype(np.uint64)
    for place in range(0, int(lengths.max()), 8):
        left = lengths - place
        word = from_here[np.minimum(starts + place, len(content))] & _KEPT[np.clip(left, 0, 8)]
        found = np.where(left > 0, mixed(found, word), found)
    return found


def mixed(first: Fingerprints, second: Fingerprints) -> Fingerprints:
    """Return fingerprints of pairs of words of 64 bits."""
    changed = (first ^ second) * _FIRST
    changed = (changed ^ (changed >> np.uint64(32))) * _SECOND
    changed ^= changed >> np.uint64(29)
    return changed


_BLANK = np.uint64(0x94D049BB133111EB)
"""What stands for a blank number, in place of its bits, of which there are several kinds."""


def of_rows(columns: Mapping[str, Any]) -> Fingerprints:
    """Return the fingerprint of each row of some columns: of their names and what stands in them, in any order.

    A column of 0 or of blank texts adds nothing, so it may as well not be there. Of ten million different rows any two
    share a fingerprint with a chance of about 3 in a million.
    """
    found = np.zeros(len(next(iter(columns.values()))), dtype=np.uint64)
    for name, column in columns.items():
        words = _of_names(column.coded()) if isinstance(column, Coded | Written) else _of_numbers(np.asarray(column))
        words *= _weight(name)
        found += words[column.coded().codes] if isinstance(column, Coded | Written) else words
    return found


@cache
def _weight(name: str) -> np.uint64:
    """Return an odd number for the name of a column."""
    digest = hashlib.blake2b(name.encode(), digest_size=8).digest()
    return np.uint64(int.from_bytes(digest, "little") | 1)


def _of_names(column: Coded) -> Fingerprints:
    filled = np.array([bool(name) for name in column.names], dtype=bool)
    words = np.zeros(max(len(filled), 1), dtype=np.uint64)
    words[np.flatnonzero(filled)] = fingerprints(Written.of(column.names))
    return words


def _of_numbers(values: np.ndarray[Any, Any]) -> Fingerprints:
    """Return the words of numbers or days, 0 for 0."""
    if values.dtype.kind == "f":
        blank = np.isnan(values)
        words = (values.astype(np.float64) + 0.0).view(np.uint64)  # -0 is 0
        np.copyto(words, _BLANK, where=blank)
    else:
        words = values.astype(np.int64).view(np.uint64)
    words ^= words >> np.uint64(32)
    words *= _FIRST
    words ^= words >> np.uint64(32)
    return words


def first_alike(alike: Fingerprints) -> tuple[Codes, Codes]:
    """Return the places whose fingerprint stood before, in their order, and the first place of each one's fingerprint."""
    if not len(repeated([alike])):
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    order = np.argsort(alike)
    ordered = alike[order]
    same = np.append(ordered[1:] == ordered[:-1], False)
    several = same | np.append(False, same[:-1])
    order, starts = order[several], np.flatnonzero(np.append(True, ordered[1:] != ordered[:-1])[several])
    firsts = np.repeat(np.minimum.reduceat(order, starts), np.diff(np.append(starts, len(order))))
    later = order != firsts
    places, firsts = order[later], firsts[later]
    by_place = np.argsort(places)
    return places[by_place], firsts[by_place]


def repeated(pieces: Sequence[Fingerprints]) -> Fingerprints:
    """Return the fingerprints that occur more than once in all pieces together."""
    together = np.concatenate([np.zeros(0, dtype=np.uint64), *pieces])
    together.sort()
    again = together[1:][together[1:] == together[:-1]]
    found: Fingerprints = again[np.append(True, again[1:] != again[:-1])[: len(again)]]
    return found
