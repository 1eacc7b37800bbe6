"""The derivation of figures as an indented tree for a terminal, with its sources as notes below."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from typing import Any

from impact.base.texttable import aligned
from impact.trace.outline import Outline, OutlineLine, amount

WIDTH = 100
INDENT = 2


def _wrapped(lines: Iterable[OutlineLine]) -> list[str]:
    found: list[str] = []
    for line in lines:
        start = " " * (INDENT * line.depth)
        found += textwrap.wrap(
            line.text, WIDTH, initial_indent=start, subsequent_indent=start + "    ", break_long_words=False, break_on_hyphens=False
        )  # fmt: skip
    return found


def as_text(document: dict[str, Any], *, depth: int | None = None) -> str:
    """Return the derivation of figures as text.

    Parameters
    ----------
    document : mapping
        An `impact.trace.explanation.Explanation` as plain data.
    depth : int, optional
        Levels to print; all by default.
    """
    tree, lines = Outline(document["steps"], depth), []
    for figure in document["figures"]:
        recomputed = amount(figure["recomputed"], figure["unit"])
        lines.append(f"{figure['figure']} = {amount(figure['value'], figure['unit'])}")
        lines.append(f"worked out again from the leaves below: {recomputed}")
        before = len(tree.lines)
        tree.branch(figure["step"], 1)
        lines += [*_wrapped(tree.lines[before:]), ""]
    notes = [OutlineLine(0, f"[{number}] {text}") for text, number in tree.notes.items()]
    return "\n".join([*title(document), *lines, "Sources", *_wrapped(notes)])


def title(document: dict[str, Any]) -> list[str]:
    """Return the lines that say of what the figures are."""
    settings, period = document["settings"], document["period"]
    invented = " (invented records)" if document["workshop"]["invented"] else ""
    lines = [
        f"{document['workshop']['name']}, {period['start']} to {period['end']}{invented}",
        f"seed {settings['seed']}, {settings['draws']} draws; central values unless a line says otherwise",
    ]
    if document["grant"]:
        lines.append(f"counted for the grant {document['grant']}")
    return [*lines, ""]


def as_list(document: dict[str, Any]) -> str:
    """Return the names of figures with their values as text."""
    rows = [(one["figure"], amount(one["value"], one["unit"])) for one in document["figures"]]
    return "\n".join([*title(document), *aligned(rows)])
