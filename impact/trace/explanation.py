"""The derivation of figures as one document: numbered steps, each after its inputs, down to the leaves."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from difflib import SequenceMatcher
from typing import TYPE_CHECKING, Any

from impact.base.figurenames import leaves
from impact.core.node import Node, as_node, evaluate, first
from impact.factors.factorset import Choice, FactorSet
from impact.factors.views import row_dict
from impact.trace.leaves import FACTOR, RECORDS, SETTING, SPREAD
from impact.trace.results import derived_results

if TYPE_CHECKING:
    from impact.study import Study

SCHEMA = "impact-explain/1"
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


def factor_dict(choice: Choice, factors: FactorSet) -> dict[str, Any]:
    """Return a factor row with its citation, as plain data for JSON."""
    row = choice.factor
    source = factors.sources.get(row.source)
    return {
        **row_dict(row),
        "locator": row.locator,
        "citation": source.citation if source else row.source,
        "wanted": choice.wanted,
    }


class Steps:
    """Numbers nodes: each step once, after its inputs, however often it is used.

    Parameters
    ----------
    factors : FactorSet
        For the citations of the rows.
    """

    def __init__(self, factors: FactorSet) -> None:
        self.factors = factors
        self.found: list[dict[str, Any]] = []
        self._by_node: dict[int, int] = {}
        self._by_content: dict[Hashable, int] = {}

    def number(self, node: Node) -> int:
        """Return the number of a node, from 1, adding it and what is under it."""
        if id(node) not in self._by_node:
            inputs = [{"as": name, "step": self.number(inner)} for name, inner in node.inputs]
            leaf = self._leaf(node)
            content = (
                node.equation, node.label, node.unit, None if inputs else node.value,
                tuple((one["as"], one["step"]) for one in inputs), str(leaf),
            )  # fmt: skip
            if content not in self._by_content:
                self._by_content[content] = len(self.found) + 1
                self.found.append(self._step(node, inputs, leaf))
            self._by_node[id(node)] = self._by_content[content]
        return self._by_node[id(node)]

    def _step(self, node: Node, inputs: list[dict[str, Any]], leaf: dict[str, Any] | None) -> dict[str, Any]:
        return {
            "step": len(self.found) + 1,
            "label": node.label,
            "value": node.value,
            "unit": node.unit,
            "operation": node.equation.name,
            "formula": node.equation.formula or None,
            "source": node.equation.source or None,
            "inputs": inputs,
            "leaf": leaf,
        }

    def _leaf(self, node: Node) -> dict[str, Any] | None:
        """Return where the number of a leaf comes from; None for a step."""
        details = node.details
        if node.inputs:
            return None
        if node.equation in (FACTOR, SPREAD):
            row = factor_dict(details["choice"], self.factors)
            return {"kind": "factor" if node.equation is FACTOR else "error", "end": details["end"], "factor": row}
        if node.equation is RECORDS:
            blanks = [factor_dict(choice, self.factors) for choice in details["blanks"]]
            return {
                "kind": "records",
                **{key: details[key] for key in ("records", "of", "evidence", "read")},
                "blanks": blanks,
            }
        if node.equation is SETTING:
            return {"kind": "setting", **details}
        return {"kind": "number"}


def explanation(results: Study, names: Sequence[str], known: dict[str, Node]) -> dict[str, Any]:
    """Return the derivation of some figures as a document that fits the schema `impact-explain/1`.

    Parameters
    ----------
    results : Study
        The results that hold the figures.
    names : sequence of str
        Names of the figures.
    known : mapping of str to Node
        All derivations of the results, see `derivations`.
    """
    steps = Steps(results.factors)
    figures = [
        {
            "figure": name,
            "value": known[name].value,
            "unit": known[name].unit,
            "recomputed": first(evaluate(known[name])),
            "step": steps.number(known[name]),
        }
        for name in names
    ]
    return {**heading(results), "figures": figures, "steps": steps.found}


def heading(results: Study) -> dict[str, Any]:
    """Return the part of the document that says of what it is."""
    return {
        "schema": SCHEMA,
        "workshop": {"name": results.workshop.name, "invented": results.workshop.invented},
        "period": {"start": results.start.isoformat(), "end": results.end.isoformat()},
        "grant": results.grant.name if results.grant else None,
        "settings": {
            "seed": results.settings.seed,
            "draws": results.settings.draws,
            "version": results.settings.version,
        },
    }


def listing(results: Study, known: dict[str, Node]) -> dict[str, Any]:
    """Return the names of figures with their values, as a document of the same schema without steps."""
    figures = [
        {"figure": name, "value": node.value, "unit": node.unit, "recomputed": None, "step": None}
        for name, node in known.items()
    ]
    return {**heading(results), "figures": figures, "steps": []}
