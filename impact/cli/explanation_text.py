"""The derivation of figures as an indented tree for a terminal, with its sources as notes below."""

from __future__ import annotations

import textwrap
from collections import Counter
from typing import Any

from impact.base.printing import FIGURE, STEP
from impact.base.problems import counted
from impact.base.texttable import aligned

WIDTH = 100
INDENT = 2
ARITHMETIC = {
    "sum": "sum of {count}",
    "product": "product of {count}",
    "difference": "first less second",
    "ratio": "first over second",
    "absolute": "without its sign",
}


def unit_text(unit: str) -> str:
    """Return a unit as people write it."""
    return "" if unit == "1" else unit.replace("kgCO2", "kg CO2")


def amount(value: float, unit: str) -> str:
    """Return a value with its unit."""
    return f"{STEP(value)} {unit_text(unit)}".rstrip()


class _Tree:
    """Prints the steps under one root after the other."""

    def __init__(self, steps: list[dict[str, Any]], depth: int | None) -> None:
        self.steps = {step["step"]: step for step in steps}
        self.depth = depth
        self.lines: list[str] = []
        self.notes: dict[str, int] = {}
        self.printed: set[int] = set()
        self.rows: set[str] = set()
        self.users = Counter(self._through(one["step"]) for step in steps for one in step["inputs"])

    def _through(self, number: int) -> int:
        """Return the step to print for a step: taking the central value of something is no step of its own."""
        while self.steps[number]["operation"] == "centre":
            number = self.steps[number]["inputs"][0]["step"]
        return number

    def _note(self, text: str) -> str:
        return f"[{self.notes.setdefault(text, len(self.notes) + 1)}]"

    def put(self, level: int, text: str) -> None:
        start = " " * (INDENT * level)
        self.lines += textwrap.wrap(
            text, WIDTH, initial_indent=start, subsequent_indent=start + "    ", break_long_words=False, break_on_hyphens=False
        )  # fmt: skip

    def branch(self, number: int, level: int, known_as: str = "") -> None:
        """Print a step and what is under it; a step that was printed before is only named."""
        step = self.steps[self._through(number)]
        number = step["step"]
        name = step["label"] or known_as
        if known_as and step["label"]:
            name = f"{known_as} {name}" if known_as in ("less", "over") else f"{known_as} = {name}"
        head = f"{name}: {amount(step['value'], step['unit'])}".removeprefix(": ")
        if step["leaf"] is not None:
            self.put(level, f"{head}{self._origin(step['leaf'])}")
            for row in step["leaf"].get("blanks", ()):
                self.put(level + 1, f"where blank: {amount(row['value'], row['unit'])}; {self._row(row)}")
            return
        mark = f" (step {number})" if self.users[number] > 1 else ""
        if number in self.printed:
            self.put(level, f"{head}, as in step {number} above")
            return
        inputs = step["inputs"]
        if self.depth is not None and level >= self.depth:
            self.put(level, f"{head}{mark} = {self._how(step)} …")
            return
        self.printed.add(number)
        self.put(level, f"{head}{mark} = {self._how(step)}")
        for one in inputs:
            self.branch(one["step"], level + 1, one["as"])

    def _how(self, step: dict[str, Any]) -> str:
        if step["formula"]:
            return f"{step['formula']} {self._note(step['source'])}"
        if step["operation"] == "sum" and len(step["inputs"]) == 1:
            return "the one line of it"
        return ARITHMETIC[step["operation"]].format(count=len(step["inputs"]))

    def _origin(self, leaf: dict[str, Any]) -> str:
        """Return where the number of a leaf comes from."""
        if leaf["kind"] in ("factor", "error"):
            return f"; {self._row(leaf['factor'])}"
        if leaf["kind"] == "records":
            known = f", {leaf['evidence']}" if leaf["evidence"] else ""
            return f" = sum over {leaf['records']} of {counted(leaf['of'], 'record')}{known}: {leaf['read']}"
        if leaf["kind"] == "setting":
            known = f", {leaf['evidence']}" if leaf["evidence"] else ""
            default = ", or the program's default" if leaf["default"] else ""
            return f"; {leaf['file']}, {leaf['place']}{default}{known}"
        return ""

    def _row(self, row: dict[str, Any]) -> str:
        """Return a factor row: id, place, spread, evidence, citation; by its id alone the second time."""
        if row["id"] in self.rows:
            return f"{row['id']}, as above"
        self.rows.add(row["id"])
        place = row["geography"] + (f" {row['edition']}" if row["edition"] else "")
        spread = "fixed"
        if row["distribution"] != "fixed" and row["low"] != row["high"]:
            spread = f"{row['distribution']} {FIGURE(row['low'])} to {FIGURE(row['high'])}"
        fallback = f", in place of {row['wanted']}" if row["geography"] not in (row["wanted"], "world") else ""
        return f"{row['id']}, {place}{fallback}, {spread}, {row['evidence']} {self._note(row['citation'])} {row['locator']}"


def as_text(document: dict[str, Any], *, depth: int | None = None) -> str:
    """Return the derivation of figures as text.

    Parameters
    ----------
    document : mapping
        An `impact.trace.explanation.Explanation` as plain data.
    depth : int, optional
        Levels to print; all by default.
    """
    tree = _Tree(document["steps"], depth)
    for figure in document["figures"]:
        recomputed = amount(figure["recomputed"], figure["unit"])
        tree.lines.append(f"{figure['figure']} = {amount(figure['value'], figure['unit'])}")
        tree.lines.append(f"worked out again from the leaves below: {recomputed}")
        tree.branch(figure["step"], 1)
        tree.lines.append("")
    tree.lines.append("Sources")
    for text, number in tree.notes.items():
        tree.put(0, f"[{number}] {text}")
    return "\n".join([*title(document), *tree.lines])


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
