"""Counts with their noun, in the singular where the count is one."""

from __future__ import annotations


def counted(count: float, noun: str, nouns: str | None = None) -> str:
    """Return a count and its noun: ``1 batch``, ``3 batches``.

    Parameters
    ----------
    count : float
        The count; a whole number is written without a decimal point. [-]
    noun : str
        The noun in the singular; its plural adds s, or es after ch, s and x.
    nouns : str, optional
        The plural of any other noun.
    """
    plural = nouns or noun + ("es" if noun.endswith(("ch", "s", "x")) else "s")
    return f"{count:.10g} {noun if count == 1 else plural}"
