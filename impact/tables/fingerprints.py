"""Fingerprints of texts: 64 bits each, so that ten million names are compared in 80 MB."""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Sequence
from typing import Any

import numpy as np

from impact.tables.texts import Texts

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


def repeated(pieces: Sequence[Fingerprints]) -> Fingerprints:
    """Return the fingerprints that occur more than once in all pieces together."""
    together = np.concatenate([np.zeros(0, dtype=np.uint64), *pieces])
    together.sort()
    return np.unique(together[1:][together[1:] == together[:-1]])
