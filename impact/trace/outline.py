"""The derivation of figures as lines with their depth, in words, and its sources as notes."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from impact.base.printing import FIGURE, STEP
from impact.base.problems import counted

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


@dataclass(frozen=True, slots=True)
class OutlineLine:
    """One line of a derivation.

    Attributes
    ----------
    depth : int
        How far below the figure, from 1.
    text : str
        What it says; numbers in square brackets are of the notes.
    step : int
        Number of the step that it is, from 1; 0 for a line that says more of the one above.
    again : bool
        Whether the step stands above already, and is only named.
    """

    depth: int
    text: str
    step: int = 0
    again: bool = False


class Outline:
    """Writes the steps under one root after the other; `notes` are the sources by number.

    Parameters
    ----------
    steps : list of mapping
        Those of an `impact.trace.explanation.Explanation` as plain data.
    depth : int or None
        Levels to write; all by default.
    """

    def __init__(self, steps: list[dict[str, Any]], depth: int | None = None) -> None:
        self.steps = {step["step"]: step for step in steps}
        self.depth = depth
        self.lines: list[OutlineLine] = []
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

    def branch(self, number: int, level: int, known_as: str = "") -> None:
        """Write a step and what is under it; a step that was written before is only named."""
        step = self.steps[self._through(number)]
        number = step["step"]
        name = step["label"] or known_as
        if known_as and step["label"]:
            name = f"{known_as} {name}" if known_as in ("less", "over") else f"{known_as} = {name}"
        head = f"{name}: {amount(step['value'], step['unit'])}".removeprefix(": ")
        if step["leaf"] is not None:
            self.lines.append(OutlineLine(level, f"{head}{self._origin(step['leaf'])}", number))
            for row in step["leaf"].get("blanks", ()):
                text = f"where blank: {amount(row['value'], row['unit'])}; {self._row(row)}"
                self.lines.append(OutlineLine(level + 1, text))
            return
        mark = f" (step {number})" if self.users[number] > 1 else ""
        if number in self.printed:
            self.lines.append(OutlineLine(level, f"{head}, as in step {number} above", number, again=True))
            return
        inputs = step["inputs"]
        if self.depth is not None and level >= self.depth:
            self.lines.append(OutlineLine(level, f"{head}{mark} = {self._how(step)} …", number))
            return
        self.printed.add(number)
        self.lines.append(OutlineLine(level, f"{head}{mark} = {self._how(step)}", number))
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
