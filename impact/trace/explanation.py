"""The derivation of figures as one document: numbered steps, each after its inputs, down to the leaves."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import TYPE_CHECKING, Literal, TypeAlias

from impact.base.figurenames import leaves
from impact.base.serial import Count, Draws, document, group, inlined, named, shows
from impact.core.node import Node, as_node, evaluate, first
from impact.factors.factorset import Choice, FactorSet
from impact.factors.values import End
from impact.trace.leaves import FACTOR, RECORDS, SETTING, SPREAD
from impact.trace.results import derived_results

if TYPE_CHECKING:
    from impact.study import Study

ENDS = ("value", "low", "high")
NEAREST = 5
"""Names that are told to someone who typed none of them."""

UNTOLD = "no record and no row speaks of it"
PLACE = "row of a file that a warning speaks of"


def derivations(results: Study) -> dict[str, Node]:
    """Return the derivation of every figure of some results, by its name (see `impact.base.figurenames`)."""
    found = leaves(derived_results(results).as_totals(), Node, int, float)
    given = {name: node for name, node in found.items() if node is not None}
    return {
        name: node if isinstance(node, Node) else as_node(node).named(PLACE if name.startswith("warnings.") else UNTOLD)
        for name, node in given.items()
    }


def chosen(name: str, known: Sequence[str]) -> tuple[list[str], list[str]]:
    """Return the figures to explain, and those to list, for a name as typed.

    An interval goes by its name alone: its value, low and high are explained. A name under which there is
    more than that gives a list. Both are empty when nothing has that name.
    """
    if name in known:
        return [name], []
    under = [one for one in known if one.startswith(f"{name}.")] or [one for one in known if one.startswith(name)]
    ends = [f"{name}.{end}" for end in ENDS]
    if under and set(under) <= set(ends):
        return [one for one in ends if one in under], []
    return [], under


def nearest_figures(name: str, known: Sequence[str]) -> list[str]:
    """Return the names that `chosen` would explain and that are most like a name as typed, the likest first.

    A name counts by the likest of itself and its words between dots, so that ``footprint`` finds those of the parts.
    """
    wanted = name.casefold().strip()
    by_interval = {one.rpartition(".")[0] if one.rpartition(".")[2] in ENDS else one for one in known}
    words = {word for one in by_interval for word in (one, *one.split("."))}
    matcher = SequenceMatcher(b=wanted, autojunk=False)
    likeness = {}
    for word in words:
        matcher.set_seq1(word.casefold())
        likeness[word] = 1.0 if wanted and wanted in word.casefold() else matcher.ratio()
    ranked = sorted(
        by_interval, key=lambda one: (-max(likeness[word] for word in (one, *one.split("."))), len(one), one)
    )
    return ranked[:NEAREST]


@shows(
    inlined("choice.factor"), named("locator", "choice.factor.locator"), "citation", named("wanted", "choice.wanted")
)
@dataclass(frozen=True, slots=True)
class CitedRow:
    """A row of the factor tables with its citation; `wanted` is the place asked for first."""

    choice: Choice
    citation: str


@shows()
@dataclass(frozen=True, slots=True)
class FactorLeaf:
    """A factor, or the error of an amount by its evidence class."""

    kind: Literal["factor", "error"]
    end: End
    factor: CitedRow


@shows()
@dataclass(frozen=True, slots=True)
class RecordsLeaf:
    """A sum over records; `blanks` are the rows whose central value stands in where a record is blank."""

    kind: Literal["records"]
    records: Count
    of: Count
    evidence: str
    read: str
    blanks: tuple[CitedRow, ...]


@shows()
@dataclass(frozen=True, slots=True)
class SettingLeaf:
    """A setting of the workshop, with its file and place there."""

    kind: Literal["setting"]
    file: str
    place: str
    evidence: str
    default: bool


@shows()
@dataclass(frozen=True, slots=True)
class NumberLeaf:
    """A number of the equations themselves."""

    kind: Literal["number"]


Leaf: TypeAlias = FactorLeaf | RecordsLeaf | SettingLeaf | NumberLeaf


@shows(named("as", "name"), "step")
@dataclass(frozen=True, slots=True)
class StepInput:
    """An input of a step: the name under which the operation knows it, and its step."""

    name: str
    step: Draws


@shows()
@dataclass(frozen=True, slots=True)
class Step:
    """One number. Steps stand after their inputs.

    Attributes
    ----------
    step : int
        Its number, from 1.
    label, unit : str
        What it is, and its unit.
    value : float
        The central value; of a quantile or a share of the draws, that figure.
    operation : str
        sum, product, difference (first less second), ratio (first over second), absolute, centre (the central value of an
        input), quantile, share of the draws, the full name of a function, or for a leaf what it is.
    formula, source : str or None
        Of the operation.
    inputs : tuple of StepInput
        What it is worked out from.
    leaf : object or None
        Where the number of a leaf comes from; None for a step with inputs.
    """

    step: Draws
    label: str
    value: float
    unit: str
    operation: str
    formula: str | None
    source: str | None
    inputs: tuple[StepInput, ...]
    leaf: Leaf | None


@shows()
@dataclass(frozen=True, slots=True)
class ExplainedFigure:
    """A figure by its name.

    Attributes
    ----------
    figure, unit : str
        Its name and unit.
    value : float
        As the results have it.
    recomputed : float or None
        The figure worked out again from the leaves, every factor drawn again.
    step : int or None
        The step that it is.
    """

    figure: str
    value: float
    unit: str
    recomputed: float | None
    step: int | None


@document(
    "impact-explain/1",
    "The derivation of figures",
    "What `impact explain --json` prints. Without steps: the names of figures with their values.",
    named("workshop", "results.workshop", "name", "invented"),
    group("period", named("start", "results.start"), named("end", "results.end")),
    "grant", named("settings", "results.settings", "seed", "draws", "version"), "figures", "steps",
)  # fmt: skip
@dataclass(frozen=True)
class Explanation:
    """Figures of some results with the steps that they are worked out by; without steps a list of figures."""

    results: Study
    figures: tuple[ExplainedFigure, ...]
    steps: tuple[Step, ...] = ()

    @property
    def grant(self) -> str | None:
        """Name of the grant that the accounts are counted for."""
        return self.results.grant.name if self.results.grant else None


class Steps:
    """Numbers nodes: each step once, after its inputs, however often it is used; `factors` cite the rows."""

    def __init__(self, factors: FactorSet) -> None:
        self.factors = factors
        self.found: list[Step] = []
        self._by_node: dict[int, int] = {}
        self._by_content: dict[Hashable, int] = {}

    def number(self, node: Node) -> int:
        """Return the number of a node, from 1, adding it and what is under it."""
        if id(node) not in self._by_node:
            inputs = tuple(StepInput(name, self.number(inner)) for name, inner in node.inputs)
            leaf = self._leaf(node)
            content = (node.equation, node.label, node.unit, None if inputs else node.value, inputs, str(leaf))
            if content not in self._by_content:
                self._by_content[content] = len(self.found) + 1
                self.found.append(self._step(node, inputs, leaf))
            self._by_node[id(node)] = self._by_content[content]
        return self._by_node[id(node)]

    def _step(self, node: Node, inputs: tuple[StepInput, ...], leaf: Leaf | None) -> Step:
        done = node.equation
        formula, source = done.formula or None, done.source or None
        return Step(len(self.found) + 1, node.label, node.value, node.unit, done.name, formula, source, inputs, leaf)

    def _leaf(self, node: Node) -> Leaf | None:
        """Return where the number of a leaf comes from; None for a step."""
        details = node.details
        if node.inputs:
            return None
        if node.equation in (FACTOR, SPREAD):
            row = self._cited(details["choice"])
            return FactorLeaf("factor" if node.equation is FACTOR else "error", details["end"], row)
        if node.equation is RECORDS:
            return RecordsLeaf("records", **{**details, "blanks": tuple(map(self._cited, details["blanks"]))})
        return SettingLeaf("setting", **details) if node.equation is SETTING else NumberLeaf("number")

    def _cited(self, choice: Choice) -> CitedRow:
        source = self.factors.sources.get(choice.factor.source)
        return CitedRow(choice, source.citation if source else choice.factor.source)


def explanation(results: Study, names: Sequence[str], known: dict[str, Node]) -> Explanation:
    """Return the derivation of the figures of some names; `known` are all of the results, see `derivations`."""
    steps = Steps(results.factors)
    figures = tuple(
        ExplainedFigure(name, node.value, node.unit, first(evaluate(node)), steps.number(node))
        for name, node in ((name, known[name]) for name in names)
    )
    return Explanation(results, figures, tuple(steps.found))


def listing(results: Study, known: dict[str, Node]) -> Explanation:
    """Return the names of figures with their values, without steps."""
    return Explanation(
        results, tuple(ExplainedFigure(name, node.value, node.unit, None, None) for name, node in known.items())
    )
